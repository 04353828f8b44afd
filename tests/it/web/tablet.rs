//! A tablet as the entries endpoint sees it.

use super::Served;
use crate::support::centre::{NOW, new_id};
use baywitness::marking::observation::Wall;
use reqwest::{Method, StatusCode};
use serde_json::{Value, json};

/// One device with its own count, clocks and page load.
pub struct Tablet {
    pub dev: &'static str,
    pub run: &'static str,
    /// The number that the next observation gets.
    pub next: u32,
    /// How far its wall clock is ahead of the service's, in milliseconds.
    pub ahead_ms: i64,
}

impl Tablet {
    pub fn new(dev: &'static str) -> Self {
        Self { dev, run: "r-1", next: 1, ahead_ms: 0 }
    }

    /// An observation made so many milliseconds into the session, which began at [`NOW`].
    pub fn seen(&mut self, at_ms: i64, act: &Value) -> Value {
        let wall = Wall(NOW.unix_timestamp() * 1_000 + at_ms + self.ahead_ms).rfc3339();
        let seq = self.next;
        self.next += 1;
        json!({"id": new_id(), "seq": seq, "at_ms": at_ms, "wall": wall, "act": act})
    }

    /// What it sends now.
    pub fn batch(&self, served: &Served, observations: &[Value]) -> Value {
        let sent = i64::try_from(served.now().unix_timestamp_nanos() / 1_000_000).unwrap() + self.ahead_ms;
        let high = self.next - 1;
        json!({"dev": self.dev, "run": self.run, "sent": sent, "rtt": 80, "high": high, "observations": observations})
    }

    pub async fn send(&self, served: &Served, cookie: &str, observations: &[Value]) -> (StatusCode, Value) {
        post(served, cookie, &self.batch(served, observations)).await
    }

    /// Sends and wants each of them accepted.
    pub async fn tell(&self, served: &Served, cookie: &str, observations: &[Value]) -> Value {
        let (status, reply) = self.send(served, cookie, observations).await;
        assert_eq!(status, StatusCode::OK, "{reply}");
        let answers = reply["answers"].as_array().unwrap();
        assert!(answers.iter().all(|answer| answer["accepted"].is_i64()), "{answers:?}");
        reply
    }
}

/// Posts a batch to the assessor's session.
pub async fn post(served: &Served, cookie: &str, batch: &Value) -> (StatusCode, Value) {
    let request = served.ask(Method::POST, &served.at("entries")).header("cookie", cookie).json(batch);
    let answer = request.send().await.unwrap();
    (answer.status(), answer.json().await.unwrap())
}

pub fn blocked() -> Value {
    json!({"kind": "view_blocked"})
}
