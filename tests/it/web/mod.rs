//! The pages and the entries endpoint, over a real port and a real database.

mod bay_sheet;
mod block;
mod busy;
mod calendar;
mod candidates;
mod causes;
mod checklists;
mod clocks;
mod credentials;
mod criteria;
mod decide;
mod entries;
mod erasure;
mod examples;
mod exports;
mod factors;
mod feedback;
mod first_run;
mod guards;
mod import;
mod journey;
mod limits;
mod live;
mod matrix;
mod numbers;
mod planning;
mod records;
mod releases;
mod reviews;
mod second_marker;
mod session_list;
mod settings;
mod sheet;
mod sign_in;
mod staff_pages;
pub mod tablet;
mod task_editor;
mod task_files;
mod task_page;

use crate::support::centre::{Fixture, NOW, new_id};
use crate::support::db::Database;
use baywitness::clock::Clock;
use baywitness::store::sessions::{self, NewSession};
use baywitness::store::staff::{self, NewStaff, Role};
use baywitness::store::{CentreId, SessionId, StaffNo, Store, deeds, sign_ins};
use baywitness::web::origin::Origin;
use baywitness::web::tokens::Token;
use baywitness::web::{self, App, Settings, passwords};
use reqwest::header::{COOKIE, SET_COOKIE};
use reqwest::{Client, Method, RequestBuilder, Response, StatusCode};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};
use time::Duration;
use tokio::sync::oneshot;
use tokio::task::JoinHandle;

/// The password of everybody who can sign in.
pub const PASSWORD: &str = "a fairly long one";

/// A served centre: an assessor with a planned session, another assessor, a verifier.
pub struct Served {
    pub fixture: Fixture,
    pub assessor: StaffNo,
    pub other: StaffNo,
    pub verifier: StaffNo,
    /// Planned, of the assessor.
    pub session: SessionId,
    /// The data folder.
    pub data: PathBuf,
    base: String,
    client: Client,
    seconds: Arc<AtomicI64>,
}

impl Drop for Served {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.data);
    }
}

impl Served {
    pub async fn new() -> Self {
        Self::until(None, std::future::pending()).await.0
    }

    /// One that browsers reach at this address, through a proxy that ends the TLS.
    pub async fn behind(address: &str) -> Self {
        Self::until(Origin::parse(address), std::future::pending()).await.0
    }

    /// One that stops when told, and what serving it came to.
    pub async fn stoppable() -> (Self, oneshot::Sender<()>, JoinHandle<std::io::Result<()>>) {
        let (stop, told) = oneshot::channel();
        let told = async {
            let _ = told.await;
        };
        let (served, ended) = Self::until(None, told).await;
        (served, stop, ended)
    }

    async fn until(
        origin: Option<Origin>,
        stop: impl Future<Output = ()> + Send + 'static,
    ) -> (Self, JoinHandle<std::io::Result<()>>) {
        let fixture = Fixture::on(Database::new().await, "northgate").await;
        let mut tx = fixture.begin().await;
        let mut people = Vec::new();
        let hash = passwords::hash(PASSWORD).unwrap();
        for (name, role) in [("kim", Role::Assessor), ("lou", Role::Assessor), ("vera", Role::Verifier)] {
            let person = NewStaff {
                sign_in_name: name.into(),
                name: format!("{name} (invented)"),
                roles: vec![role],
                password_hash: hash.clone(),
            };
            people.push(staff::add(&mut tx, &fixture.centre, &person).await.unwrap().unwrap());
        }
        let session = SessionId(new_id());
        let planned = NewSession {
            id: session,
            task: fixture.task_id,
            task_version: 1,
            candidate: fixture.candidate,
            assessor: people[0],
            bay: "Bay 2".into(),
            planned_at: NOW,
            extra: Default::default(),
        };
        sessions::plan(&mut tx, &fixture.centre, &planned).await.unwrap();
        tx.commit().await.unwrap();
        let seconds = Arc::new(AtomicI64::new(0));
        // There only once something is kept in it.
        let data = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("served-{}", session.0));
        let settings = Settings { origin, data: Some(data.clone()), ..Settings::default() };
        let (base, ended) = serve_store(fixture.db.store.clone(), Arc::clone(&seconds), settings, stop).await;
        let client = Client::builder().redirect(reqwest::redirect::Policy::none()).build().unwrap();
        let [assessor, other, verifier] = people[..] else { panic!("three people") };
        (Self { fixture, assessor, other, verifier, session, data, base, client, seconds }, ended)
    }

    /// Lets time pass.
    pub fn wait(&self, seconds: i64) {
        self.seconds.fetch_add(seconds, Ordering::SeqCst);
    }

    pub fn now(&self) -> time::OffsetDateTime {
        NOW + Duration::seconds(self.seconds.load(Ordering::SeqCst))
    }

    /// A request as one of our pages sends it.
    pub fn ask(&self, method: Method, path: &str) -> RequestBuilder {
        self.client.request(method, format!("{}{path}", self.base)).header("sec-fetch-site", "same-origin")
    }

    /// A request as another site, or no browser at all, sends it.
    pub fn ask_from_outside(&self, method: Method, path: &str) -> RequestBuilder {
        self.client.request(method, format!("{}{path}", self.base))
    }

    /// The cookie of a sign-in of this person.
    pub async fn signed_in(&self, who: StaffNo) -> String {
        let token = Token::new();
        let centre: &CentreId = &self.fixture.centre;
        let mut tx = self.fixture.begin().await;
        sign_ins::start(&mut tx, centre, who, &token.hash(), self.now()).await.unwrap();
        tx.commit().await.unwrap();
        format!("__Host-signin={}.{}", centre.as_str(), token.hex())
    }

    pub async fn get(&self, path: &str, cookie: &str) -> (StatusCode, String) {
        read(self.ask(Method::GET, path).header(COOKIE, cookie).send().await.unwrap()).await
    }

    pub async fn post(&self, path: &str, cookie: &str, form: &[(&str, &str)]) -> Response {
        self.ask(Method::POST, path).header(COOKIE, cookie).form(form).send().await.unwrap()
    }

    /// A manager of the centre, whose sign-in name is `mona`.
    pub async fn manager(&self) -> StaffNo {
        let manager = NewStaff {
            sign_in_name: "mona".into(),
            name: "mona (invented)".into(),
            roles: vec![Role::Manager],
            password_hash: passwords::hash(PASSWORD).unwrap(),
        };
        let mut tx = self.fixture.begin().await;
        // Of the fixture's own people one is a manager as well, which would hide what holds for the last one.
        sqlx::query("UPDATE staff SET roles = '{assessor,verifier}' WHERE number = $1")
            .bind(self.fixture.assessor.0)
            .execute(&mut *tx)
            .await
            .unwrap();
        let number = staff::add(&mut tx, &self.fixture.centre, &manager).await.unwrap().unwrap();
        tx.commit().await.unwrap();
        number
    }

    /// Every deed of the centre that is on the first page: the word and what it was about, newest first.
    pub async fn deeds(&self) -> Vec<(String, String)> {
        let mut tx = self.fixture.begin().await;
        let page = deeds::page(&mut tx, &self.fixture.centre, None).await.unwrap();
        page.into_iter().map(|deed| (deed.what, deed.about)).collect()
    }

    /// The page of the assessor's session.
    pub fn at(&self, page: &str) -> String {
        format!("/sessions/{}/{page}", self.session.0)
    }

    /// Confirms the bay check of the assessor's session.
    pub async fn open(&self, cookie: &str) {
        let ticks = [("bay", "on"), ("candidate", "known"), ("briefing", "on")];
        let answer = self.post(&self.at("check"), cookie, &ticks).await;
        assert_eq!((answer.status(), location(&answer)), (StatusCode::SEE_OTHER, self.at("marking")));
    }

    /// How many entries the assessor's session holds.
    pub async fn count(&self) -> i64 {
        let mut tx = self.fixture.begin().await;
        sessions::find(&mut tx, &self.fixture.centre, self.session).await.unwrap().unwrap().count
    }
}

/// Serves a store with these settings; answers the address and how it ended.
pub async fn serve_store(
    store: Store,
    seconds: Arc<AtomicI64>,
    settings: Settings,
    stop: impl Future<Output = ()> + Send + 'static,
) -> (String, JoinHandle<std::io::Result<()>>) {
    let clock = Clock::told(move || NOW + Duration::seconds(seconds.load(Ordering::SeqCst)));
    let app = App::new(store, clock, settings).unwrap();
    let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
    let base = format!("http://{}", listener.local_addr().unwrap());
    let ended = tokio::spawn(web::serve(listener, app, stop));
    (base, ended)
}

pub async fn read(answer: Response) -> (StatusCode, String) {
    (answer.status(), answer.text().await.unwrap())
}

pub fn location(answer: &Response) -> String {
    answer.headers().get("location").map(|to| to.to_str().unwrap().to_owned()).unwrap_or_default()
}

/// The first cookie that an answer sets, as a request sends it back.
pub fn cookie(answer: &Response) -> String {
    let set = answer.headers().get(SET_COOKIE).expect("a cookie").to_str().unwrap();
    set.split(';').next().unwrap().to_owned()
}
