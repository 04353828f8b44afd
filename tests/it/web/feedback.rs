//! The candidate's private link.

use super::{PASSWORD, Served, cookie, location, read};
use reqwest::{Method, StatusCode};

/// A signed session, its link from the first slash on, and the code.
async fn signed() -> (Served, String, String) {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    served.short_attempt(&mine).await;
    served.decide_all(&mine).await;
    let head = served.shown_head(&mine).await;
    let form = [("password", PASSWORD), ("head", head.as_str())];
    let (status, page) = read(served.post(&served.at("signature"), &mine, &form).await).await;
    assert_eq!(status, StatusCode::OK);
    let between = |from: &str| page.split(from).nth(1).unwrap().split('<').next().unwrap().to_owned();
    let address = between("<p class=\"code wrap\"><bdi dir=\"ltr\">");
    let code = between("<p class=\"huge code\"><bdi dir=\"ltr\">");
    let path = address[address.find("/feedback/").unwrap()..].to_owned();
    (served, path, code)
}

#[tokio::test]
async fn link_and_code_together_open_the_feedback_at_an_address_without_a_secret() {
    let (served, path, code) = signed().await;
    let typed = code.to_lowercase().replace('-', " ");
    let answer = served.post(&path, "", &[("code", &typed)]).await;
    assert_eq!((answer.status(), location(&answer).as_str()), (StatusCode::SEE_OTHER, "/feedback"));
    let set = answer.headers()["set-cookie"].to_str().unwrap();
    assert!(set.starts_with("__Host-feedback=") && set.contains("HttpOnly"), "{set}");
    let visit = cookie(&answer);
    let (status, page) = served.get("/feedback", &visit).await;
    assert_eq!(status, StatusCode::OK);
    for part in
        ["You did not pass this time.", "automatic fail", "What to change first", "Next time", "Ask for a review"]
    {
        assert!(page.contains(part), "{part}");
    }
    let token = path.rsplit('/').next().unwrap();
    assert!(!page.contains(token) && !visit.contains(token));
    served.wait(31 * 60);
    assert_eq!(served.get("/feedback", &visit).await.0, StatusCode::UNAUTHORIZED);
}

#[tokio::test]
async fn opening_the_link_changes_nothing_and_shows_the_same_form_for_every_link() {
    let (served, path, code) = signed().await;
    let (_, real) = served.get(&path, "").await;
    let made_up = format!("/feedback/northgate/{}", "0".repeat(64));
    let (status, unreal) = served.get(&made_up, "").await;
    assert_eq!(status, StatusCode::OK);
    assert_eq!(real.replace(&path, "LINK"), unreal.replace(&made_up, "LINK"));
    for _ in 0..50 {
        served.ask(Method::HEAD, &path).send().await.unwrap();
    }
    assert_eq!(served.post(&path, "", &[("code", &code)]).await.status(), StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn five_wrong_codes_lock_the_link_and_look_like_any_unknown_one() {
    let (served, path, code) = signed().await;
    let made_up = format!("/feedback/northgate/{}", "1".repeat(64));
    let (status, unknown) = read(served.post(&made_up, "", &[("code", "AAAA-AAAA")]).await).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    for _ in 0..5 {
        let (status, wrong) = read(served.post(&path, "", &[("code", "AAAA-AAAA")]).await).await;
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
        assert_eq!(wrong.replace(&path, "LINK"), unknown.replace(&made_up, "LINK"));
    }
    let locked = served.post(&path, "", &[("code", &code)]).await;
    assert_eq!(locked.status(), StatusCode::UNPROCESSABLE_ENTITY);
}

#[tokio::test]
async fn a_link_that_is_no_link_opens_nothing() {
    let served = Served::new().await;
    for path in ["/feedback/northgate/short", "/feedback/UPPER/00", "/feedback/%22%3E%3Cscript%3E/x"] {
        let (status, page) = read(served.post(path, "", &[("code", "AAAA-AAAA")]).await).await;
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{path}");
        assert!(!page.contains("<script>"));
    }
    assert_eq!(served.get("/feedback", "").await.0, StatusCode::UNAUTHORIZED);
}

#[tokio::test]
async fn a_visit_is_no_sign_in() {
    let (served, path, code) = signed().await;
    let visit = cookie(&served.post(&path, "", &[("code", &code)]).await);
    let as_staff = visit.replace("__Host-feedback", "__Host-signin");
    for path in ["/".to_owned(), served.at("sheet")] {
        assert_eq!(served.get(&path, &visit).await.0, StatusCode::SEE_OTHER);
        assert_eq!(served.get(&path, &as_staff).await.0, StatusCode::SEE_OTHER);
    }
}
