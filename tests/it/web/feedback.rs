//! The candidate's private link.

use super::{PASSWORD, Served, cookie, location, read};
use reqwest::{Method, StatusCode};

impl Served {
    /// Signs the assessor's session; answers the candidate's link, from the first slash on, and the code.
    pub async fn signed_link(&self) -> (String, String) {
        let mine = self.signed_in(self.assessor).await;
        self.short_attempt(&mine).await;
        self.decide_all(&mine).await;
        let head = self.shown_head(&mine).await;
        let form = [("password", PASSWORD), ("head", head.as_str())];
        let (status, page) = read(self.post(&self.at("signature"), &mine, &form).await).await;
        assert_eq!(status, StatusCode::OK);
        let between = |from: &str| page.split(from).nth(1).unwrap().split('<').next().unwrap().to_owned();
        let address = between("<p class=\"code wrap\"><bdi dir=\"ltr\">");
        let code = between("<p class=\"huge code\"><bdi dir=\"ltr\">");
        (address[address.find("/feedback/").unwrap()..].to_owned(), code)
    }

    /// Opens a link with its code; answers the cookie of the visit.
    pub async fn visit(&self, (path, code): &(String, String)) -> String {
        let answer = self.post(path, "", &[("code", code)]).await;
        assert_eq!(answer.status(), StatusCode::SEE_OTHER);
        cookie(&answer)
    }
}

async fn signed() -> (Served, String, String) {
    let served = Served::new().await;
    let (path, code) = served.signed_link().await;
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

/// Outcome first, then the official word, what happens next, what to change, and all the rest in the order of the design.
#[tokio::test]
async fn the_page_says_the_outcome_first_and_everything_else_after_it() {
    let served = Served::new().await;
    let link = served.signed_link().await;
    let visit = served.visit(&link).await;
    let (_, page) = served.get("/feedback", &visit).await;
    let order = [
        "<h1>You did not pass this time.</h1>",
        "automatic fail",
        "What happens next",
        "You can ask for a review until 3 March 2027.",
        "What to change first",
        "What was seen",
        "Why it matters",
        "Next time",
        "What went well",
        "What you did, minute by minute",
        "role=\"img\"",
        "Your tests, round by round",
        "What your tests would have missed",
        "Every point that was marked",
        "Ask for a review",
    ];
    let mut from = 0;
    for part in order {
        let at = page[from..].find(part).unwrap_or_else(|| panic!("{part} is not there, or too early"));
        from += at;
    }
    assert!(page.matches("class=\"sheet change\"").count() <= 3);
    for part in ["unfortunately", "well done", "safe to"] {
        assert!(!page.to_lowercase().contains(part), "{part}");
    }
    // Another session was planned for the candidate, but its time is over.
    assert!(page.contains("No new date is set yet."));
}

#[tokio::test]
async fn a_session_that_is_planned_is_the_next_date() {
    let served = Served::new().await;
    let link = served.signed_link().await;
    let mut tx = served.fixture.begin().await;
    let planned = baywitness::store::sessions::NewSession {
        id: baywitness::store::SessionId(crate::support::centre::new_id()),
        task: served.fixture.task_id,
        task_version: 1,
        candidate: served.fixture.candidate,
        assessor: served.other,
        bay: "Bay <7>".into(),
        planned_at: served.now() + time::Duration::days(12),
        extra: Default::default(),
    };
    baywitness::store::sessions::plan(&mut tx, &served.fixture.centre, &planned).await.unwrap();
    tx.commit().await.unwrap();
    let (_, page) = served.get("/feedback", &served.visit(&link).await).await;
    assert!(page.contains("Your next attempt is on 15 February 2027 at <bdi dir=\"ltr\">10:0"), "{page}");
    assert!(page.contains("<bdi>Bay &#60;7&#62;</bdi>"));
}

#[tokio::test]
async fn the_page_is_there_in_every_language_and_marks_what_is_not_in_it() {
    let served = Served::new().await;
    let link = served.signed_link().await;
    let visit = served.visit(&link).await;
    for (language, outcome, english) in [
        ("en", "You did not pass this time.", None),
        ("cy", "Ni wnaethoch basio y tro hwn.", Some("Mae rhannau o&#39;r dudalen hon yn Saesneg.")),
        ("pl", "Tym razem wynik nie jest pozytywny.", Some("Niektóre części tej strony są po angielsku.")),
        ("es", "Esta vez no has aprobado.", Some("Algunas partes de esta página están en inglés.")),
    ] {
        let (status, page) = served.get(&format!("/feedback?lang={language}"), &visit).await;
        assert_eq!(status, StatusCode::OK);
        let tag = if language == "en" { "en-GB" } else { language };
        assert!(page.contains(&format!("<html lang=\"{tag}\" dir=\"ltr\">")), "{language}");
        assert!(page.contains(&format!("<h1>{outcome}</h1>")), "{language}");
        assert!(english.is_none_or(|says| page.contains(says)), "{language}");
        assert_eq!(page.contains("<span lang=\"en-GB\" dir=\"auto\">"), language != "en", "{language}");
    }
    // A language that there is not is not taken.
    let (_, page) = served.get("/feedback?lang=xx", &visit).await;
    assert!(page.contains("<html lang=\"en-GB\""));
}
