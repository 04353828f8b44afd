//! An installation without a centre, and how one is begun.

use super::{cookie, location, read, serve_store};
use crate::support::centre::NOW;
use crate::support::db::Database;
use baywitness::store::staff::Role;
use baywitness::store::{CentreId, centres, deeds, staffing};
use baywitness::web::Settings;
use baywitness::web::begin::code::Codes;
use reqwest::{Client, Response, StatusCode};
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};

const PASSWORD: &str = "kettle under seven larches";

/// A service without a centre.
struct Empty {
    db: Database,
    codes: Codes,
    folder: PathBuf,
    base: String,
    client: Client,
    seconds: Arc<AtomicI64>,
}

impl Drop for Empty {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.folder);
    }
}

impl Empty {
    async fn new() -> Self {
        let db = Database::new().await;
        let folder = std::env::temp_dir().join(format!("bw-first-{:016x}", rand::random::<u64>()));
        let codes = Codes::new(&folder);
        let seconds = Arc::new(AtomicI64::new(0));
        let settings = Settings { codes: Some(codes.clone()), ..Settings::default() };
        let (base, _) =
            serve_store(db.store.clone(), Arc::clone(&seconds), settings, std::future::pending::<()>()).await;
        let client = Client::builder().redirect(reqwest::redirect::Policy::none()).build().unwrap();
        Self { db, codes, folder, base, client, seconds }
    }

    async fn get(&self, path: &str) -> Response {
        self.client.get(format!("{}{path}", self.base)).send().await.unwrap()
    }

    async fn post(&self, path: &str, form: &[(&str, &str)]) -> Response {
        let request = self.client.post(format!("{}{path}", self.base)).header("sec-fetch-site", "same-origin");
        request.form(form).send().await.unwrap()
    }

    async fn begin(&self, code: &str, changed: &[(&str, &str)]) -> Response {
        let mut form = vec![
            ("code", code),
            ("centre", "North Yard (invented)"),
            ("centre_code", "north-yard"),
            ("time_zone", "Europe/Dublin"),
            ("scheme", "ie"),
            ("name", "Kim O’Brien-Ní (invented)"),
            ("sign_in_name", "Kim.O"),
            ("password", PASSWORD),
        ];
        for (field, value) in changed {
            form.retain(|(name, _)| name != field);
            form.push((field, value));
        }
        self.post("/begin", &form).await
    }

    /// How many centres there are.
    async fn centres(&self) -> i64 {
        sqlx::query_scalar("SELECT count(*) FROM centres").fetch_one(&mut self.db.owner().await).await.unwrap()
    }
}

#[tokio::test]
async fn without_a_code_there_is_nothing_to_begin_and_nobody_can_sign_in() {
    let empty = Empty::new().await;
    assert_eq!(empty.get("/begin").await.status(), StatusCode::NOT_FOUND);
    assert_eq!(empty.begin("AAAA-AAAA-AAAA-AAAA", &[]).await.status(), StatusCode::NOT_FOUND);
    for (name, password) in [("admin@baywitness", "admin"), ("kim@north-yard", PASSWORD), ("manager@--", "")] {
        let answer = empty.post("/sign-in", &[("name", name), ("password", password)]).await;
        assert_eq!(answer.status(), StatusCode::UNAUTHORIZED, "{name}");
    }
    assert_eq!(empty.centres().await, 0);
}

#[tokio::test]
async fn the_code_begins_a_centre_once_and_signs_its_manager_in() {
    let empty = Empty::new().await;
    let code = empty.codes.make(NOW).unwrap();
    assert_eq!(location(&empty.get("/sign-in").await), "/begin", "an empty installation leads there");
    let (status, page) = read(empty.get("/begin").await).await;
    assert_eq!(status, StatusCode::OK);
    assert!(page.contains("can never be changed") && page.contains("Europe/London") && !page.contains(&code));

    let answer = empty.begin(&code.to_lowercase().replace('-', " "), &[]).await;
    assert_eq!((answer.status(), location(&answer).as_str()), (StatusCode::SEE_OTHER, "/centre/next-steps"));
    let mine = cookie(&answer);
    let next = empty.client.get(format!("{}/centre/next-steps", empty.base)).header("cookie", &mine);
    let (status, page) = read(next.send().await.unwrap()).await;
    assert_eq!(status, StatusCode::OK);
    for step in ["Set up your one-time codes", "/staff", "/checklists", "/tasks", "/candidates", "/plan"] {
        assert!(page.contains(step), "{step}");
    }

    let centre = CentreId::new("north-yard").unwrap();
    let mut tx = empty.db.store.begin(&centre).await.unwrap();
    let settings = centres::settings(&mut tx, &centre).await.unwrap().unwrap();
    assert_eq!((settings.time_zone.as_str(), settings.scheme), ("Europe/Dublin", centres::Scheme::Ie));
    assert!(settings.second_factor_asked, "a centre that is begun in earnest asks for it");
    let people = staffing::list(&mut tx, &centre).await.unwrap();
    assert_eq!(people.len(), 1, "nobody but the manager");
    assert_eq!((people[0].staff.sign_in_name.as_str(), &people[0].staff.roles[..]), ("kim.o", &[Role::Manager][..]));
    let noted: Vec<_> = deeds::page(&mut tx, &centre, None).await.unwrap().into_iter().map(|deed| deed.what).collect();
    assert_eq!(noted, ["signed_in", "centre_begun"]);

    assert_eq!(empty.get("/begin").await.status(), StatusCode::NOT_FOUND, "the code is used up");
    assert_eq!(empty.begin(&code, &[("centre_code", "another")]).await.status(), StatusCode::NOT_FOUND);
    assert_eq!(empty.get("/sign-in").await.status(), StatusCode::OK);
    assert_eq!(empty.centres().await, 1);
}

#[tokio::test]
async fn what_makes_no_sense_is_said_beside_its_field_and_the_code_stays_good() {
    let empty = Empty::new().await;
    let code = empty.codes.make(NOW).unwrap();
    for (field, bad, says) in [
        ("centre", " ", "Please fill this in."),
        ("centre_code", "North Yard", "2 to 32 small letters"),
        ("centre_code", "--", "2 to 32 small letters"),
        ("centre_code", "-north", "no dash at either end"),
        ("time_zone", "Europe/Nowhere", "choose a place of the list"),
        ("scheme", "xx", "Please choose one."),
        ("name", "", "Please fill this in."),
        ("sign_in_name", "kim@north-yard", "nothing after an @"),
        ("sign_in_name", "k", "2 to 64 letters"),
        ("password", "short", "shorter than 12"),
        ("password", "password123456", "first passwords"),
        ("password", "north-yard-larches", "holds the name"),
        ("password", "O'Brien's seven gulls", "holds the name"),
    ] {
        let (status, page) = read(empty.begin(&code, &[(field, bad)]).await).await;
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{field} {bad}");
        assert!(page.contains(&format!("id=\"{field}-fault\"")) && page.contains(says), "{field} {bad}: {page}");
        assert!(!page.contains(PASSWORD), "a password is never shown again");
        if field != "name" {
            assert!(page.contains("Kim O’Brien-Ní (invented)"), "what was typed is kept");
        }
        empty.seconds.fetch_add(20, Ordering::SeqCst);
    }
    assert_eq!(empty.centres().await, 0);
    assert_eq!(empty.begin(&code, &[("time_zone", "europe/new york")]).await.status(), 422);
    assert_eq!(empty.begin(&code, &[("time_zone", "america/new york")]).await.status(), StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn wrong_codes_are_refused_and_slowed_down() {
    let empty = Empty::new().await;
    let code = empty.codes.make(NOW).unwrap();
    for _ in 0..5 {
        let (status, page) = read(empty.begin("AAAA-AAAA-AAAA-AAAA", &[]).await).await;
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
        assert!(page.contains("id=\"code-fault\""));
    }
    let answer = empty.begin(&code, &[]).await;
    assert_eq!(answer.status(), StatusCode::TOO_MANY_REQUESTS);
    assert!(answer.headers().contains_key("retry-after"));
    empty.seconds.fetch_add(20, Ordering::SeqCst);
    assert_eq!(empty.begin(&code, &[]).await.status(), StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn a_code_expires() {
    let empty = Empty::new().await;
    let code = empty.codes.make(NOW).unwrap();
    empty.seconds.store(24 * 3600, Ordering::SeqCst);
    assert_eq!(empty.get("/begin").await.status(), StatusCode::NOT_FOUND);
    assert_eq!(empty.begin(&code, &[]).await.status(), StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn of_two_browsers_at_once_one_wins() {
    let empty = Empty::new().await;
    let code = empty.codes.make(NOW).unwrap();
    let (one, other) = tokio::join!(
        empty.begin(&code, &[("centre_code", "one-yard")]),
        empty.begin(&code, &[("centre_code", "other-yard")])
    );
    let mut statuses = [one.status().as_u16(), other.status().as_u16()];
    statuses.sort_unstable();
    assert!([[303, 404], [303, 409]].contains(&statuses), "{statuses:?}");
    assert_eq!(empty.centres().await, 1);
}

#[tokio::test]
async fn another_centre_is_begun_with_a_new_code_and_not_under_a_taken_one() {
    let empty = Empty::new().await;
    let first = empty.codes.make(NOW).unwrap();
    assert_eq!(empty.begin(&first, &[]).await.status(), StatusCode::SEE_OTHER);
    let second = empty.codes.make(NOW).unwrap();
    assert_eq!(empty.get("/sign-in").await.status(), StatusCode::OK, "people still sign in to the first");
    let (status, page) = read(empty.begin(&second, &[]).await).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(page.contains("There is a centre of this code already"), "{page}");
    // That cost nothing: the code is still good.
    assert_eq!(empty.begin(&second, &[("centre_code", "south-yard")]).await.status(), StatusCode::SEE_OTHER);
    assert_eq!(empty.centres().await, 2);
}
