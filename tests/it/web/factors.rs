//! The second factor: one-time codes, recovery codes and enrolled tablets.

use super::{PASSWORD, Served, cookie, location, read};
use baywitness::store::centres;
use reqwest::{Method, Response, StatusCode};
use totp_rs::{Algorithm, Builder, Secret};

/// A centre that asks for a second factor.
async fn asking() -> Served {
    let served = Served::new().await;
    let mut tx = served.fixture.begin().await;
    let mut settings = centres::settings(&mut tx, &served.fixture.centre).await.unwrap().unwrap();
    settings.second_factor_asked = true;
    centres::change(&mut tx, &served.fixture.centre, &settings).await.unwrap();
    tx.commit().await.unwrap();
    served
}

async fn password(served: &Served, cookie: &str) -> Response {
    let form = [("name", "kim@northgate"), ("password", PASSWORD), ("next", "/tasks")];
    served.post("/sign-in", cookie, &form).await
}

/// The code that a phone with this secret shows `seconds` from now.
fn shown(served: &Served, secret: &str, seconds: i64) -> String {
    let secret = Secret::try_from_base32(secret.replace(' ', "")).unwrap();
    let phone = Builder::new().with_algorithm(Algorithm::SHA1).with_digits(6).with_step_duration(30);
    let at = (served.now().unix_timestamp() + seconds) as u64;
    phone.with_secret(secret).build_noncompliant().generate(at).to_string()
}

fn between<'p>(page: &'p str, before: &str, after: &str) -> &'p str {
    page.split_once(before).unwrap_or_else(|| panic!("{before} in {page}")).1.split_once(after).unwrap().0
}

/// Signs in for the first time and sets up codes: the cookie, the secret and the recovery codes.
async fn set_up(served: &Served) -> (String, String, Vec<String>) {
    let answer = password(served, "").await;
    assert_eq!(location(&answer), "/sign-in/second-factor?next=/tasks");
    let owing = cookie(&answer);
    let (status, page) = served.get("/sign-in/second-factor", &owing).await;
    assert!(status == StatusCode::OK && page.contains("<svg class=\"qr\""), "{page}");
    let secret = between(&page, "name=\"secret\" value=\"", "\"").to_owned();
    let code = shown(served, &secret, 0);
    let form = [("secret", secret.as_str()), ("code", &code), ("next", "/tasks")];
    let answer = served.post("/sign-in/second-factor", &owing, &form).await;
    assert_eq!(answer.status(), StatusCode::OK);
    let mine = cookie(&answer);
    let page = answer.text().await.unwrap();
    let codes = page.split("<li class=\"code\"><bdi dir=\"ltr\">").skip(1);
    let codes: Vec<String> = codes.map(|rest| rest.split_once('<').unwrap().0.to_owned()).collect();
    assert_eq!(codes.len(), 8);
    assert_eq!(
        served.get("/tasks", &owing).await.0,
        StatusCode::SEE_OTHER,
        "the token of the first step opens nothing"
    );
    (mine, secret, codes)
}

/// Password, then this code.
async fn sign_in(served: &Served, code: &str) -> Response {
    let answer = password(served, "").await;
    assert_eq!(location(&answer), "/sign-in/code?next=/tasks");
    let owing = cookie(&answer);
    assert_eq!(served.get("/tasks", &owing).await.0, StatusCode::SEE_OTHER, "the password alone opens nothing");
    served.post("/sign-in/code", &owing, &[("code", code), ("next", "/tasks")]).await
}

#[tokio::test]
async fn the_password_alone_on_an_unknown_device_opens_nothing() {
    let served = asking().await;
    let answer = password(&served, "").await;
    let owing = cookie(&answer);
    for path in ["/", "/tasks", "/account", "/account/second-factor", &served.at("marking")] {
        let answer = served.ask(Method::GET, path).header("cookie", &owing).send().await.unwrap();
        assert!(location(&answer).starts_with("/sign-in?next="), "{path}");
    }
    assert_eq!(
        location(&served.ask(Method::GET, "/sign-in/code").header("cookie", &owing).send().await.unwrap()),
        "/sign-in"
    );
    assert_eq!(served.get("/sign-in/second-factor", "").await.0, StatusCode::SEE_OTHER);
    served.wait(10 * 60);
    assert_eq!(served.get("/sign-in/second-factor", &owing).await.0, StatusCode::SEE_OTHER, "owed for too long");
}

#[tokio::test]
async fn whoever_has_no_second_factor_sets_one_up_before_anything_else() {
    let served = asking().await;
    let answer = password(&served, "").await;
    let owing = cookie(&answer);
    let page = served.get("/sign-in/second-factor", &owing).await.1;
    let secret = between(&page, "name=\"secret\" value=\"", "\"").to_owned();
    let form = [("secret", secret.as_str()), ("code", "000000"), ("next", "/tasks")];
    let (status, page) = read(served.post("/sign-in/second-factor", &owing, &form).await).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(page.contains("code-fault") && page.contains(&secret), "the secret stays the same");
    let (mine, ..) = set_up(&served).await;
    assert_eq!(served.get("/tasks", &mine).await.0, StatusCode::OK);
    // A first step that was left open does not replace what was set up meanwhile.
    let other = "A".repeat(32);
    let code = shown(&served, &other, 0);
    let form = [("secret", other.as_str()), ("code", &code)];
    assert_eq!(location(&served.post("/sign-in/second-factor", &owing, &form).await), "/sign-in?next=/");
    assert!(served.deeds().await.iter().any(|(what, _)| what == "second_factor_set_up"));
}

#[tokio::test]
async fn a_code_is_taken_once_within_a_step_either_side() {
    let served = asking().await;
    let (_, secret, _) = set_up(&served).await;
    let used = shown(&served, &secret, 0);
    assert_eq!(sign_in(&served, &used).await.status(), StatusCode::UNAUTHORIZED, "used when it was set up");
    served.wait(60);
    let code = shown(&served, &secret, 0);
    let answer = sign_in(&served, &format!(" {} {} ", &code[..3], &code[3..])).await;
    assert_eq!(location(&answer), "/tasks");
    assert_eq!(served.get("/tasks", &cookie(&answer)).await.0, StatusCode::OK);
    assert_eq!(sign_in(&served, &code).await.status(), StatusCode::UNAUTHORIZED, "in the same half minute");
    served.wait(120);
    let (early, late, far) = (shown(&served, &secret, 30), shown(&served, &secret, -30), shown(&served, &secret, 90));
    assert_eq!(sign_in(&served, &far).await.status(), StatusCode::UNAUTHORIZED, "three steps ahead");
    assert_eq!(location(&sign_in(&served, &early).await), "/tasks", "a clock that is fast");
    assert_eq!(sign_in(&served, &late).await.status(), StatusCode::UNAUTHORIZED, "older than one that was taken");
    assert_eq!(served.deeds().await.iter().filter(|(what, _)| what == "code_refused").count(), 4);
}

#[tokio::test]
async fn of_two_browsers_with_the_same_code_one_gets_in() {
    let served = asking().await;
    let (_, secret, _) = set_up(&served).await;
    served.wait(60);
    let code = shown(&served, &secret, 0);
    let (one, other) = (cookie(&password(&served, "").await), cookie(&password(&served, "").await));
    let form = [("code", code.as_str())];
    let (a, b) = tokio::join!(served.post("/sign-in/code", &one, &form), served.post("/sign-in/code", &other, &form));
    let mut statuses = [a.status().as_u16(), b.status().as_u16()];
    statuses.sort_unstable();
    assert_eq!(statuses, [303, 401]);
}

#[tokio::test]
async fn guessing_codes_is_slowed_down() {
    let served = asking().await;
    set_up(&served).await;
    let owing = cookie(&password(&served, "").await);
    for _ in 0..5 {
        let answer = served.post("/sign-in/code", &owing, &[("code", "000000")]).await;
        assert_eq!(answer.status(), StatusCode::UNAUTHORIZED);
    }
    let answer = served.post("/sign-in/code", &owing, &[("code", "000000")]).await;
    assert_eq!(answer.status(), StatusCode::TOO_MANY_REQUESTS);
}

#[tokio::test]
async fn a_recovery_code_stands_in_once() {
    let served = asking().await;
    let (mine, _, codes) = set_up(&served).await;
    let typed = codes[0].to_lowercase().replace('-', " ");
    assert_eq!(location(&sign_in(&served, &typed).await), "/tasks");
    assert_eq!(sign_in(&served, &codes[0]).await.status(), StatusCode::UNAUTHORIZED);
    assert!(served.get("/account", &mine).await.1.contains("7 recovery codes are left"));
    let (status, page) = read(served.post("/account/recovery-codes", &mine, &[]).await).await;
    assert_eq!(status, StatusCode::OK);
    let new = between(&page, "<li class=\"code\"><bdi dir=\"ltr\">", "<").to_owned();
    assert_eq!(sign_in(&served, &codes[1]).await.status(), StatusCode::UNAUTHORIZED, "those before are gone");
    assert_eq!(location(&sign_in(&served, &new).await), "/tasks");
    let rows: Vec<Vec<u8>> = sqlx::query_scalar("SELECT code_hash FROM recovery_codes")
        .fetch_all(&mut served.fixture.db.owner().await)
        .await
        .unwrap();
    assert!(rows.iter().all(|hash| hash.len() == 32));
}

#[tokio::test]
async fn a_new_password_by_link_keeps_the_second_factor_and_a_manager_can_take_it_away() {
    let served = asking().await;
    set_up(&served).await;
    let manager = served.manager().await;
    let boss = served.signed_in(manager).await;
    let path = format!("/staff/{}", served.assessor.0);
    let page = read(served.post(&format!("{path}/link"), &boss, &[]).await).await.1;
    let link = format!("/resets/northgate/{}", &page.split_once("/resets/northgate/").unwrap().1[..64]);
    served.post(&link, "", &[("password", PASSWORD)]).await;
    assert_eq!(location(&password(&served, "").await), "/sign-in/code?next=/tasks");
    served.post(&format!("{path}/second-factor"), &boss, &[]).await;
    assert_eq!(location(&password(&served, "").await), "/sign-in/second-factor?next=/tasks");
    assert_eq!(served.deeds().await[0].0, "second_factor_forgotten");
}

/// A manager enrols the browser that carries `cookie`; the tablet's cookie.
async fn enrol(served: &Served) -> (String, String) {
    let manager = served.manager().await;
    let boss = served.signed_in(manager).await;
    let answer = served.post("/centre/tablets", &boss, &[("name", "Bay 2 tablet")]).await;
    assert_eq!(location(&answer), "/centre/tablets");
    let set = answer.headers()["set-cookie"].to_str().unwrap();
    for part in ["__Host-tablet=northgate.", "HttpOnly", "Secure", "SameSite=Lax", "Path=/", "Max-Age="] {
        assert!(set.contains(part), "{part} in {set}");
    }
    (cookie(&answer), boss)
}

#[tokio::test]
async fn on_an_enrolled_tablet_the_password_is_enough_until_it_is_revoked() {
    let served = asking().await;
    let (tablet, boss) = enrol(&served).await;
    let answer = password(&served, &tablet).await;
    assert_eq!(location(&answer), "/tasks");
    let mine = answer.headers().get_all("set-cookie").iter().find(|set| set.to_str().unwrap().contains("signin"));
    let mine = mine.unwrap().to_str().unwrap().split(';').next().unwrap().to_owned();
    assert_eq!(served.get("/tasks", &mine).await.0, StatusCode::OK);
    let page = served.get("/account", &format!("{mine}; {tablet}")).await.1;
    assert!(page.contains("the centre's tablet <bdi>Bay 2 tablet</bdi>"), "{page}");

    let list = served.get("/centre/tablets", &boss).await.1;
    let id = between(&list, "/centre/tablets/", "/revocation");
    let revoked = served.post(&format!("/centre/tablets/{id}/revocation"), &boss, &[]).await;
    assert_eq!(location(&revoked), "/centre/tablets");
    // The next request of the tablet, whatever it is.
    let empty = serde_json::json!({"dev": "d", "run": "r", "sent": 0, "observations": []});
    let sent =
        served.ask(Method::POST, &served.at("entries")).header("cookie", &mine).json(&empty).send().await.unwrap();
    assert_eq!(sent.status(), StatusCode::UNAUTHORIZED);
    assert_eq!(location(&password(&served, &tablet).await), "/sign-in/second-factor?next=/tasks");
    let again = served.post(&format!("/centre/tablets/{id}/revocation"), &boss, &[]).await;
    assert_eq!(again.status(), StatusCode::NOT_FOUND);
    let whats: Vec<_> = served.deeds().await.into_iter().map(|(what, _)| what).collect();
    assert_eq!(whats[..3], ["tablet_revoked", "signed_in", "tablet_enrolled"]);
}

#[tokio::test]
async fn a_made_up_or_foreign_tablet_is_no_second_factor() {
    let served = asking().await;
    let (tablet, _) = enrol(&served).await;
    let (name, value) = tablet.split_once('=').unwrap();
    let token = value.split_once('.').unwrap().1;
    for forged in
        [format!("{name}=northgate.{}", "0".repeat(64)), format!("{name}=southgate.{token}"), format!("{name}=x")]
    {
        assert_eq!(location(&password(&served, &forged).await), "/sign-in/second-factor?next=/tasks", "{forged}");
    }
    let stored: Vec<u8> = sqlx::query_scalar("SELECT token_hash FROM tablets")
        .fetch_one(&mut served.fixture.db.owner().await)
        .await
        .unwrap();
    let stored: String = stored.iter().map(|byte| format!("{byte:02x}")).collect();
    assert_ne!(stored, token, "only the hash is stored");
}

#[tokio::test]
async fn where_the_centre_does_not_ask_codes_are_asked_of_those_who_set_them_up() {
    let served = Served::new().await;
    let mine = cookie(&password(&served, "").await);
    assert_eq!(served.get("/tasks", &mine).await.0, StatusCode::OK);
    let page = served.get("/account/second-factor", &mine).await.1;
    let secret = between(&page, "name=\"secret\" value=\"", "\"").to_owned();
    served.wait(5 * 60);
    let late = shown(&served, &secret, 0);
    let form = [("secret", secret.as_str()), ("code", late.as_str())];
    assert_eq!(served.post("/account/second-factor", &mine, &form).await.status(), StatusCode::FORBIDDEN, "not afresh");
    let form = [("secret", secret.as_str()), ("code", &late), ("own_password", PASSWORD)];
    assert_eq!(served.post("/account/second-factor", &mine, &form).await.status(), StatusCode::OK);
    assert_eq!(location(&password(&served, "").await), "/sign-in/code?next=/tasks");
}

#[tokio::test]
async fn a_one_time_code_signs_in_the_place_of_the_password_and_only_once() {
    let served = asking().await;
    let (mine, secret, _) = set_up(&served).await;
    served.short_attempt(&mine).await;
    served.decide_all(&mine).await;
    let (_, page) = served.get(&served.at("decide"), &mine).await;
    assert!(page.contains("Or a one-time code instead"), "{page}");
    let head = served.shown_head(&mine).await;
    let used = shown(&served, &secret, -60);
    let sign = |code: String| {
        let (served, mine, head) = (&served, &mine, &head);
        async move {
            read(served.post(&served.at("signature"), mine, &[("password", ""), ("code", &code), ("head", head)]).await)
                .await
        }
    };
    for (code, says) in [(String::new(), "Give your password, or a one-time code"), (used, "That code is not right")] {
        let (status, page) = sign(code).await;
        assert_eq!(status, StatusCode::FORBIDDEN);
        assert!(page.contains(says) && page.contains("signature-fault"), "{page}");
    }
    served.wait(60);
    assert_eq!(sign(shown(&served, &secret, 0)).await.0, StatusCode::OK);
}
