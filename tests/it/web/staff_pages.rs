//! Inviting, roles, disabling, new passwords, one's own sign-ins.

use super::{PASSWORD, Served, cookie, location, read};
use reqwest::{Response, StatusCode};

const NEW: &str = "kettle under seven larches";

/// A manager, signed in.
async fn managed() -> (Served, String) {
    let served = Served::new().await;
    let manager = served.manager().await;
    let cookie = served.signed_in(manager).await;
    (served, cookie)
}

/// The path of the link that a page shows.
fn link(page: &str, kind: &str) -> String {
    let at = page.find(&format!("/{kind}/northgate/")).expect("a link");
    page[at..].chars().take(kind.len() + "//northgate/".len() + 64).collect()
}

async fn invited(served: &Served, manager: &str) -> String {
    let form = [("whom", "Zażółć <b>"), ("assessor", "on"), ("verifier", "on")];
    let (status, page) = read(served.post("/staff", manager, &form).await).await;
    assert_eq!(status, StatusCode::OK);
    assert!(page.contains("Zażółć &#60;b&#62;") && page.contains("shown once"), "{page}");
    link(&page, "invitations")
}

async fn join(served: &Served, link: &str, sign_in_name: &str) -> Response {
    let form = [("name", "Ash (invented)"), ("sign_in_name", sign_in_name), ("password", NEW)];
    served.post(link, "", &form).await
}

async fn sign_in(served: &Served, name: &str, password: &str) -> Response {
    served.post("/sign-in", "", &[("name", name), ("password", password)]).await
}

#[tokio::test]
async fn an_invitation_makes_one_person_with_its_roles() {
    let (served, manager) = managed().await;
    let link = invited(&served, &manager).await;
    assert!(served.get("/staff", &manager).await.1.contains("Links that wait"));
    // Looking changes nothing, however often.
    for _ in 0..3 {
        let (status, page) = served.get(&link, "").await;
        assert_eq!(status, StatusCode::OK);
        assert!(!page.contains("Zażółć"), "whom it is for is not told");
    }
    let answer = join(&served, &link, "Ash.N").await;
    assert_eq!((answer.status(), location(&answer).as_str()), (StatusCode::SEE_OTHER, "/"));
    let mine = cookie(&answer);
    let (status, page) = served.get("/account", &mine).await;
    assert_eq!(status, StatusCode::OK);
    assert!(page.contains("ash.n@northgate") && page.contains("Assessor, Verifier"), "{page}");
    assert_eq!(served.get("/staff", &mine).await.0, StatusCode::FORBIDDEN, "the roles are those of the invitation");

    let again = read(join(&served, &link, "twin").await).await;
    assert_eq!(again.0, StatusCode::UNPROCESSABLE_ENTITY);
    let noted = served.deeds().await;
    let whats: Vec<&str> = noted.iter().map(|(what, _)| what.as_str()).collect();
    assert_eq!(whats, ["signed_in", "invitation_used", "invited"]);
    assert!(!noted.iter().any(|(_, about)| about.contains("Za")), "{noted:?}");
    assert_eq!(sign_in(&served, "ash.n@northgate", NEW).await.status(), StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn unknown_used_withdrawn_and_expired_links_look_alike() {
    let (served, manager) = managed().await;
    let used = invited(&served, &manager).await;
    join(&served, &used, "first").await;
    let withdrawn = invited(&served, &manager).await;
    let page = served.get("/staff", &manager).await.1;
    let id = page.split("name=\"id\" value=\"").nth(1).unwrap()[..64].to_owned();
    assert!(!withdrawn.contains(&id), "what the list holds opens nothing");
    served.post("/staff/links/withdrawal", &manager, &[("id", &id)]).await;
    let unknown = format!("/invitations/northgate/{}", "0".repeat(64));
    let elsewhere = format!("/invitations/nowhere/{}", "0".repeat(64));
    let expired = invited(&served, &manager).await;
    served.wait(24 * 3600);
    let mut answers = Vec::new();
    for link in [&used, &withdrawn, &unknown, &expired, &elsewhere] {
        let (status, page) = read(join(&served, link, "late").await).await;
        let centre = if link.contains("nowhere") { "nowhere" } else { "northgate" };
        answers.push((status, page.replace(&link[1..], "LINK").replace(centre, "CENTRE")));
    }
    assert_eq!(answers[0].0, StatusCode::UNPROCESSABLE_ENTITY);
    for answer in &answers[1..] {
        assert_eq!(*answer, answers[0]);
    }
    // An invitation is no link to a new password, nor the other way round.
    let form = [("password", NEW)];
    let as_reset = expired.replace("invitations", "resets");
    assert_eq!(served.post(&as_reset, "", &form).await.status(), StatusCode::UNPROCESSABLE_ENTITY);
}

#[tokio::test]
async fn of_many_who_use_a_link_at_once_one_gets_in() {
    let (served, manager) = managed().await;
    let link = invited(&served, &manager).await;
    let names = ["p1", "p2", "p3", "p4"].map(|name| format!("{name}x"));
    let [a, b, c, d] = &names;
    let (a, b, c, d) = tokio::join!(
        join(&served, &link, a),
        join(&served, &link, b),
        join(&served, &link, c),
        join(&served, &link, d)
    );
    let in_now = [a, b, c, d].iter().filter(|answer| answer.status() == StatusCode::SEE_OTHER).count();
    assert_eq!(in_now, 1);
}

#[tokio::test]
async fn a_form_that_does_not_fit_leaves_the_link_good() {
    let (served, manager) = managed().await;
    let link = invited(&served, &manager).await;
    for (name, sign_in_name, password, fault) in [
        ("", "ash", NEW, "name-fault"),
        ("Ash", "a b", NEW, "sign_in_name-fault"),
        ("Ash", "kim", NEW, "sign_in_name-fault"),
        ("Ash", "ash", "too short", "password-fault"),
        ("Ash", "ash", "Northgate-2027!!", "password-fault"),
    ] {
        let form = [("name", name), ("sign_in_name", sign_in_name), ("password", password)];
        let (status, page) = read(served.post(&link, "", &form).await).await;
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
        assert!(page.contains(fault) && page.contains(&format!("value=\"{sign_in_name}\"")), "{fault}: {page}");
    }
    let form = [("whom", "Nobody"), ("own_password", "")];
    let (status, page) = read(served.post("/staff", &manager, &form).await).await;
    assert!(status == StatusCode::UNPROCESSABLE_ENTITY && page.contains("at least one role"));
    assert_eq!(join(&served, &link, "ash").await.status(), StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn a_role_that_is_taken_away_bites_at_the_next_request() {
    let (served, manager) = managed().await;
    let mine = served.signed_in(served.assessor).await;
    let path = format!("/staff/{}/roles", served.assessor.0);
    let gave = served.post(&path, &manager, &[("assessor", "on"), ("manager", "on")]).await;
    assert_eq!(gave.status(), StatusCode::SEE_OTHER);
    assert_eq!(served.get("/staff", &mine).await.0, StatusCode::OK);
    served.post(&path, &manager, &[("assessor", "on")]).await;
    assert_eq!(served.get("/staff", &mine).await.0, StatusCode::FORBIDDEN);
    let noted = served.deeds().await;
    assert_eq!(noted[0], ("roles_changed".into(), format!("u-{}: Assessor", served.assessor.0)));
}

#[tokio::test]
async fn whoever_is_disabled_is_out_everywhere_and_comes_back_only_when_let_in() {
    let (served, manager) = managed().await;
    let (one, other) = (served.signed_in(served.assessor).await, served.signed_in(served.assessor).await);
    let path = format!("/staff/{}/standing", served.assessor.0);
    served.post(&path, &manager, &[("standing", "disabled")]).await;
    for mine in [&one, &other] {
        assert!(
            location(&served.ask(reqwest::Method::GET, "/").header("cookie", mine).send().await.unwrap())
                .starts_with("/sign-in")
        );
    }
    assert_eq!(sign_in(&served, "kim@northgate", PASSWORD).await.status(), StatusCode::UNAUTHORIZED);
    served.post(&path, &manager, &[("standing", "enabled")]).await;
    assert_eq!(sign_in(&served, "kim@northgate", PASSWORD).await.status(), StatusCode::SEE_OTHER);
    assert_eq!(served.get("/", &one).await.0, StatusCode::SEE_OTHER, "old sign-ins stay ended");
}

#[tokio::test]
async fn the_last_manager_stays() {
    let served = Served::new().await;
    let mona = served.manager().await;
    let (number, manager) = (mona.0, served.signed_in(mona).await);
    for (page, form) in [("roles", vec![("assessor", "on")]), ("standing", vec![("standing", "disabled")])] {
        let (status, text) = read(served.post(&format!("/staff/{number}/{page}"), &manager, &form).await).await;
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{page}");
        assert!(text.contains("last manager"), "{text}");
    }
    assert_eq!(served.get("/staff", &manager).await.0, StatusCode::OK);
    // With a second one, either may go, but not both, however close together.
    let other = served.assessor.0;
    let both = [("assessor", "on"), ("manager", "on")];
    served.post(&format!("/staff/{other}/roles"), &manager, &both).await;
    let theirs = served.signed_in(served.assessor).await;
    let (one, two) = (format!("/staff/{number}/standing"), format!("/staff/{other}/standing"));
    let disabled = [("standing", "disabled")];
    tokio::join!(served.post(&one, &theirs, &disabled), served.post(&two, &manager, &disabled));
    let left: i64 = sqlx::query_scalar(
        "SELECT count(*) FROM staff WHERE disabled_at IS NULL AND 'manager' = ANY(roles) AND centre_id = 'northgate'",
    )
    .fetch_one(&mut served.fixture.db.owner().await)
    .await
    .unwrap();
    assert_eq!(left, 1);
}

#[tokio::test]
async fn a_link_to_a_new_password_works_once_within_an_hour_and_ends_the_sign_ins() {
    let (served, manager) = managed().await;
    let mine = served.signed_in(served.assessor).await;
    let path = format!("/staff/{}/link", served.assessor.0);
    let first = link(&read(served.post(&path, &manager, &[]).await).await.1, "resets");
    let second = link(&read(served.post(&path, &manager, &[]).await).await.1, "resets");
    let form = [("password", NEW)];
    assert_eq!(served.post(&first, "", &form).await.status(), 422, "a new link takes the place of the one before");
    assert_eq!(served.post(&second, "", &[("password", "kim (invented)")]).await.status(), 422, "names the person");
    assert_eq!(served.get("/", &mine).await.0, StatusCode::OK);
    assert_eq!(location(&served.post(&second, "", &form).await), "/sign-in");
    assert_eq!(served.get("/", &mine).await.0, StatusCode::SEE_OTHER, "every sign-in ended");
    assert_eq!(served.post(&second, "", &form).await.status(), 422, "used");
    assert_eq!(sign_in(&served, "kim@northgate", PASSWORD).await.status(), StatusCode::UNAUTHORIZED);
    assert_eq!(sign_in(&served, "kim@northgate", NEW).await.status(), StatusCode::SEE_OTHER);
    let third = link(&read(served.post(&path, &manager, &[]).await).await.1, "resets");
    served.wait(3600);
    assert_eq!(served.post(&third, "", &form).await.status(), 422, "an hour is over");
}

#[tokio::test]
async fn a_changed_password_ends_the_other_sign_ins_and_the_old_token() {
    let served = Served::new().await;
    let (mine, elsewhere) = (served.signed_in(served.assessor).await, served.signed_in(served.assessor).await);
    let change = |old, new| [("old_password", old), ("password", new)];
    let wrong = served.post("/account/password", &mine, &change("not that one", NEW)).await;
    assert_eq!(wrong.status(), StatusCode::FORBIDDEN);
    let weak = read(served.post("/account/password", &mine, &change(PASSWORD, "password1234")).await).await;
    assert!(weak.0 == StatusCode::UNPROCESSABLE_ENTITY && weak.1.contains("password-fault"));
    assert_eq!(served.get("/", &elsewhere).await.0, StatusCode::OK, "nothing was changed yet");
    let answer = served.post("/account/password", &mine, &change(PASSWORD, NEW)).await;
    assert_eq!(location(&answer), "/account");
    let new = cookie(&answer);
    assert_eq!(served.get("/", &new).await.0, StatusCode::OK);
    for old in [&mine, &elsewhere] {
        assert_eq!(served.get("/", old).await.0, StatusCode::SEE_OTHER);
    }
    assert_eq!(sign_in(&served, "kim@northgate", NEW).await.status(), StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn people_see_and_end_their_own_sign_ins_and_nobody_elses() {
    let served = Served::new().await;
    let agent = "Mozilla/5.0 (iPad; CPU OS 17_5 like Mac OS X) Version/17.5 Safari/604.1";
    let form = [("name", "kim@northgate"), ("password", PASSWORD)];
    let request = served.ask(reqwest::Method::POST, "/sign-in").header("user-agent", agent).form(&form);
    let ipad = cookie(&request.send().await.unwrap());
    let mine = served.signed_in(served.assessor).await;
    let theirs = served.signed_in(served.other).await;
    let page = served.get("/account", &mine).await.1;
    assert!(page.contains("Safari on an iPad") && page.contains("this browser"), "{page}");
    let ids: Vec<&str> = page.split("name=\"id\" value=\"").skip(1).map(|rest| &rest[..64]).collect();
    assert_eq!(ids.len(), 2);
    for id in &ids {
        assert_eq!(served.post("/account/sign-ins", &theirs, &[("id", id)]).await.status(), StatusCode::NOT_FOUND);
    }
    assert_eq!(served.get("/", &ipad).await.0, StatusCode::OK);
    served.post("/account/sign-ins", &mine, &[]).await;
    assert_eq!(served.get("/", &ipad).await.0, StatusCode::SEE_OTHER);
    assert_eq!(served.get("/", &mine).await.0, StatusCode::OK);
    let page = served.get("/account", &mine).await.1;
    let last = &page.split("name=\"id\" value=\"").nth(1).unwrap()[..64];
    served.post("/account/sign-ins", &mine, &[("id", last)]).await;
    assert_eq!(served.get("/", &mine).await.0, StatusCode::SEE_OTHER, "this one may be ended as well");
}

/// A colleague at an unlocked browser must not be able to do these.
#[tokio::test]
async fn after_five_minutes_changes_ask_for_the_password_again() {
    let (served, manager) = managed().await;
    served.wait(5 * 60);
    let number = served.assessor.0;
    let changes: [(String, Vec<(&str, &str)>); 5] = [
        ("/staff".into(), vec![("whom", "Ash"), ("assessor", "on")]),
        (format!("/staff/{number}/roles"), vec![("manager", "on")]),
        (format!("/staff/{number}/standing"), vec![("standing", "disabled")]),
        (format!("/staff/{number}/link"), vec![]),
        ("/centre/tablets".into(), vec![("name", "Bay 2 tablet")]),
    ];
    for (path, form) in &changes {
        let (status, page) = read(served.post(path, &manager, form).await).await;
        assert_eq!(status, StatusCode::FORBIDDEN, "{path}");
        assert!(page.contains("own_password"), "{path}");
        let wrong: Vec<_> = form.iter().copied().chain([("own_password", "not that one")]).collect();
        assert_eq!(served.post(path, &manager, &wrong).await.status(), StatusCode::FORBIDDEN, "{path}");
        served.wait(60);
    }
    assert!(served.deeds().await.is_empty(), "nothing was changed");
    let (status, page) = served.get("/staff", &manager).await;
    assert!(status == StatusCode::OK && page.contains("Your own password, again"));
    let form = [("whom", "Ash"), ("assessor", "on"), ("own_password", PASSWORD)];
    assert_eq!(served.post("/staff", &manager, &form).await.status(), StatusCode::OK);
    // Given once, it counts for the next five minutes.
    assert_eq!(served.post("/staff", &manager, &form[..2]).await.status(), StatusCode::OK);
}
