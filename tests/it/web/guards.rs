//! What holds for every route.

use super::{Served, location, read};
use reqwest::{Method, StatusCode};
use serde_json::Value;

/// Every route that staff use, with its method.
fn staff_routes(served: &Served) -> Vec<(Method, String)> {
    let get = ["", "/marking", "/decide", "/sheet"];
    let post = ["/check", "/acts", "/decisions", "/ticks", "/signature", "/links", "/entries"];
    let of = |page: &&str| format!("/sessions/{}{page}", served.session.0);
    let mut routes: Vec<_> = get.iter().map(|page| (Method::GET, of(page))).collect();
    routes.extend(post.iter().map(|page| (Method::POST, of(page))));
    let task = served.fixture.task_id.0;
    routes.extend(["/".to_owned(), "/tasks".to_owned(), format!("/tasks/{task}/1")].map(|path| (Method::GET, path)));
    routes
}

#[tokio::test]
async fn nobody_gets_anywhere_without_a_sign_in() {
    let served = Served::new().await;
    for (method, path) in staff_routes(&served) {
        let json = path.ends_with("/entries");
        let mut request = served.ask(method, &path);
        if json {
            request = request.json(&serde_json::json!({"dev": "d", "run": "r", "sent": 0, "observations": []}));
        }
        let answer = request.send().await.unwrap();
        if json {
            assert_eq!(answer.status(), StatusCode::UNAUTHORIZED, "{path}");
            assert!(answer.json::<Value>().await.unwrap()["error"].is_string());
        } else {
            assert!(location(&answer).starts_with("/sign-in?next=/"), "{path}: {}", answer.status());
        }
    }
}

#[tokio::test]
async fn another_assessor_finds_no_such_session() {
    let served = Served::new().await;
    let theirs = served.signed_in(served.other).await;
    let mine = served.signed_in(served.assessor).await;
    served.open(&mine).await;
    let before = served.count().await;
    let forms = [
        ("/acts", vec![("acts", r#"[{"kind":"started"}]"#)]),
        ("/check", vec![]),
        ("/decisions", vec![("criterion", "key"), ("outcome", "met"), ("reason", "so")]),
        ("/ticks", vec![("criterion", "tidy"), ("outcome", "met")]),
        ("/signature", vec![("password", super::PASSWORD), ("head", "0")]),
        ("/links", vec![]),
    ];
    for (page, form) in forms {
        let path = format!("/sessions/{}{page}", served.session.0);
        assert_eq!(served.post(&path, &theirs, &form).await.status(), StatusCode::NOT_FOUND, "{path}");
    }
    for page in ["marking", "decide", "sheet"] {
        assert_eq!(served.get(&served.at(page), &theirs).await.0, StatusCode::NOT_FOUND, "{page}");
    }
    assert!(!served.get("/", &theirs).await.1.contains("Zoë Invented"));
    assert_eq!(served.count().await, before);
}

#[tokio::test]
async fn a_verifier_reads_every_session_and_marks_none() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    let verifier = served.signed_in(served.verifier).await;
    served.open(&mine).await;
    let (status, list) = served.get("/", &verifier).await;
    assert_eq!(status, StatusCode::OK);
    assert!(list.contains("Zoë Invented") && list.contains("kim (invented)"));
    assert_eq!(served.get(&served.at("decide"), &verifier).await.0, StatusCode::OK);
    assert_eq!(served.get(&served.at("marking"), &verifier).await.0, StatusCode::FORBIDDEN);
    let tap = [("acts", r#"[{"kind":"started"}]"#)];
    assert_eq!(served.post(&served.at("acts"), &verifier, &tap).await.status(), StatusCode::FORBIDDEN);
    assert_eq!(served.count().await, 1);
}

#[tokio::test]
async fn a_change_that_no_page_of_ours_asked_for_is_refused() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    served.open(&mine).await;
    let tap = [("acts", r#"[{"kind":"started"}]"#)];
    let headers: [&[(&str, &str)]; 5] = [
        &[],
        &[("sec-fetch-site", "cross-site")],
        &[("sec-fetch-site", "same-site")],
        &[("origin", "http://evil.test")],
        &[("origin", "null")],
    ];
    for with in headers {
        let mut request = served.ask_from_outside(Method::POST, &served.at("acts")).header("cookie", &mine).form(&tap);
        for (name, value) in with {
            request = request.header(*name, *value);
        }
        assert_eq!(request.send().await.unwrap().status(), StatusCode::FORBIDDEN, "{with:?}");
    }
    assert_eq!(served.count().await, 1);
}

#[tokio::test]
async fn every_answer_carries_the_guarding_headers() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    let paths = ["/", "/tasks", "/sign-in", "/nowhere", "/health", "/sessions/x", "/feedback", "/feedback/northgate/x"];
    for path in paths {
        for method in [Method::GET, Method::DELETE, Method::POST] {
            let answer = served.ask(method.clone(), path).header("cookie", &mine).send().await.unwrap();
            let header = |name: &str| answer.headers().get(name).map(|value| value.to_str().unwrap()).unwrap_or("");
            assert!(header("content-security-policy").starts_with("default-src 'none'"), "{method} {path}");
            assert_eq!(header("x-content-type-options"), "nosniff");
            assert_eq!(header("referrer-policy"), "no-referrer");
            assert_eq!(header("cache-control"), "no-store");
            assert_eq!(header("cross-origin-opener-policy"), "same-origin");
            assert!(header("x-robots-tag").contains("noindex"));
            assert!(!header("x-request-id").is_empty());
        }
    }
}

#[tokio::test]
async fn a_refusal_is_a_page_with_a_reference() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    for path in ["/nowhere", "/sessions/not-an-id", "/tasks/x/1"] {
        let (status, page) = served.get(path, &mine).await;
        assert_eq!(status, StatusCode::NOT_FOUND, "{path}");
        assert!(page.contains("Not found") && page.contains("Reference"), "{page}");
    }
    let answer = served.ask(Method::DELETE, "/tasks").header("cookie", &mine).send().await.unwrap();
    assert!(answer.headers().contains_key("allow"));
    assert_eq!(answer.status(), StatusCode::METHOD_NOT_ALLOWED);
}

#[tokio::test]
async fn a_body_over_the_limit_is_refused() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    let much = "a".repeat(256 * 1024 + 1);
    let (status, page) = read(served.post(&served.at("acts"), &mine, &[("acts", &much)]).await).await;
    assert_eq!(status, StatusCode::PAYLOAD_TOO_LARGE);
    assert!(page.contains("Too large"));
}

#[tokio::test]
async fn files_are_kept_for_ever_under_their_hash() {
    let served = Served::new().await;
    let (_, page) = served.get("/sign-in", "").await;
    let style = page.split('"').find(|part| part.ends_with("/style.css")).unwrap().to_owned();
    let answer = served.ask(Method::GET, &style).send().await.unwrap();
    assert_eq!(answer.status(), StatusCode::OK);
    assert!(answer.headers()["cache-control"].to_str().unwrap().contains("immutable"));
    assert!(answer.headers()["content-type"].to_str().unwrap().starts_with("text/css"));
    let module = style.replace("style.css", "marking.js");
    let answer = served.ask(Method::GET, &module).send().await.unwrap();
    assert!(answer.headers()["content-type"].to_str().unwrap().contains("javascript"));
    assert_eq!(served.get(&style.replace("style.css", "..%2Fsrc%2Flib.rs"), "").await.0, StatusCode::NOT_FOUND);
}
