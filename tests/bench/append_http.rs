//! Appends as a tablet sends them: one observation a request, over HTTP, to the whole service in this process.

use baywitness::clock::Clock;
use baywitness::store::{CentreId, SessionId, StaffNo, Store, sign_ins};
use baywitness::web::tokens::Token;
use baywitness::web::{self, App, Settings};
use reqwest::{Client, StatusCode};
use serde_json::{Value, json};
use uuid::Uuid;

/// Somebody who is signed in at a service that runs.
pub struct Http {
    address: String,
    cookie: String,
    client: Client,
}

impl Http {
    pub async fn serve(store: Store, centre: &CentreId, assessor: StaffNo) -> Self {
        let clock = Clock::system();
        let token = Token::new();
        let mut tx = store.begin(centre).await.expect("a transaction");
        sign_ins::start(&mut tx, centre, assessor, &token.hash(), clock.now()).await.expect("a sign-in");
        tx.commit().await.expect("the sign-in is kept");
        let app = App::new(store, clock, Settings::default()).expect("a service");
        let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.expect("a port");
        let address = format!("http://{}", listener.local_addr().expect("an address"));
        tokio::spawn(web::serve(listener, app, std::future::pending()));
        let cookie = format!("__Host-signin={}.{}", centre.as_str(), token.hex());
        Self { address, cookie, client: Client::new() }
    }

    /// Sends one observation; it is acknowledged, or the bench ends.
    pub async fn append(&self, session: SessionId, number: u64) {
        let id = Uuid::from_u128(0x9000_7000_8000_0000_0000_0000 | u128::from(number));
        let seen = json!({"id": id, "seq": 7, "at_ms": 12_345, "wall": "2027-02-03T10:00:12.345Z",
                          "act": {"kind": "view_blocked"}});
        let sent = Clock::system().now_ms();
        let batch = json!({"dev": "d-1", "run": "r-1", "sent": sent, "high": 7, "observations": [seen]});
        let post = self.client.post(format!("{}/sessions/{}/entries", self.address, session.0)).json(&batch);
        let answer = post.header("cookie", &self.cookie).header("sec-fetch-site", "same-origin").send().await;
        let answer = answer.expect("an answer");
        let (status, text) = (answer.status(), answer.text().await.expect("the whole answer"));
        assert_eq!(status, StatusCode::OK, "{text}");
        let reply: Value = serde_json::from_str(&text).expect("a reply in JSON");
        assert!(reply["answers"][0]["accepted"].is_i64(), "{text}");
    }
}
