//! Signing in and out.

use super::{PASSWORD, Served, cookie, location, read};
use baywitness::store::staff;
use reqwest::{Method, Response, StatusCode};

async fn try_in(served: &Served, name: &str, password: &str) -> Response {
    served.post("/sign-in", "", &[("name", name), ("password", password), ("next", "/tasks")]).await
}

#[tokio::test]
async fn name_and_password_lead_on_to_where_one_was_going() {
    let served = Served::new().await;
    let answer = try_in(&served, " Kim@Northgate ", PASSWORD).await;
    assert_eq!((answer.status(), location(&answer).as_str()), (StatusCode::SEE_OTHER, "/tasks"));
    let set = answer.headers()["set-cookie"].to_str().unwrap();
    for part in ["__Host-signin=northgate.", "HttpOnly", "Secure", "SameSite=Lax", "Path=/"] {
        assert!(set.contains(part), "{part} in {set}");
    }
    let (status, page) = served.get("/tasks", &cookie(&answer)).await;
    assert_eq!(status, StatusCode::OK);
    assert!(page.contains("kim (invented)") && page.contains("Stairwell"));
}

#[tokio::test]
async fn an_unknown_name_a_wrong_password_and_an_unknown_centre_look_alike() {
    let served = Served::new().await;
    let mut pages = Vec::new();
    for name in ["kim@northgate", "nobody@northgate", "kim@nowhere"] {
        let (status, page) = read(try_in(&served, name, "not that one").await).await;
        assert_eq!(status, StatusCode::UNAUTHORIZED, "{name}");
        pages.push(page.replace(name, "NAME"));
    }
    assert!(pages.iter().all(|page| *page == pages[0]));
}

#[tokio::test]
async fn guessing_is_slowed_down_and_told_how_long() {
    let served = Served::new().await;
    for _ in 0..5 {
        assert_eq!(try_in(&served, "kim@northgate", "guess").await.status(), StatusCode::UNAUTHORIZED);
    }
    let answer = try_in(&served, "kim@northgate", PASSWORD).await;
    assert_eq!(answer.status(), StatusCode::TOO_MANY_REQUESTS);
    let wait: i64 = answer.headers()["retry-after"].to_str().unwrap().parse().unwrap();
    assert!((1..=20).contains(&wait), "{wait}");
    served.wait(wait);
    assert_eq!(try_in(&served, "kim@northgate", PASSWORD).await.status(), StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn many_who_share_an_address_can_sign_in_one_after_the_other() {
    let served = Served::new().await;
    for name in ["kim", "lou", "vera", "kim", "lou", "vera", "kim"] {
        let answer = try_in(&served, &format!("{name}@northgate"), PASSWORD).await;
        assert_eq!(answer.status(), StatusCode::SEE_OTHER, "{name}");
    }
}

#[tokio::test]
async fn signing_out_ends_the_sign_in_on_the_server() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    assert_eq!(served.get("/", &mine).await.0, StatusCode::OK);
    let answer = served.post("/sign-out", &mine, &[]).await;
    assert!(answer.headers()["set-cookie"].to_str().unwrap().contains("Max-Age=0"));
    let answer = served.ask(Method::GET, "/").header("cookie", &mine).send().await.unwrap();
    assert_eq!(location(&answer), "/sign-in?next=/");
}

#[tokio::test]
async fn signing_in_again_ends_the_sign_in_before() {
    let served = Served::new().await;
    let old = cookie(&try_in(&served, "kim@northgate", PASSWORD).await);
    let form = [("name", "kim@northgate"), ("password", PASSWORD)];
    let new = cookie(&served.post("/sign-in", &old, &form).await);
    assert_ne!(old, new);
    assert_eq!(served.get("/", &new).await.0, StatusCode::OK);
    assert_eq!(served.get("/", &old).await.0, StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn a_sign_in_ends_after_an_idle_hour() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    served.wait(59 * 60);
    assert_eq!(served.get("/", &mine).await.0, StatusCode::OK);
    served.wait(61 * 60);
    assert_eq!(served.get("/", &mine).await.0, StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn the_password_is_stored_only_as_a_hash() {
    let served = Served::new().await;
    let mut tx = served.fixture.begin().await;
    let (_, stored) = staff::for_sign_in(&mut tx, &served.fixture.centre, "kim").await.unwrap().unwrap();
    assert!(stored.starts_with("$argon2id$") && !stored.contains(PASSWORD));
}
