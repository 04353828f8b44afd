//! What every request passes on its way in and every answer on its way out.

use super::App;
use super::error::{Failure, WebError};
use super::origin::{self, Origin};
use super::page::{ErrorPage, Page, html};
use axum::body::Body;
use axum::extract::{MatchedPath, Request, State};
use axum::http::{HeaderValue, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Redirect, Response};
use std::sync::Arc;
use tracing::Instrument;

/// The route that speaks JSON, also when it refuses.
pub const ENTRIES: &str = "/sessions/{id}/entries";

/// What our pages may load and do: our own files and nothing else, no inline script or style, no frames, no other base.
/// Parts of pages that arrive later pass the one named Trusted Types policy.
const CONTENT_POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; \
     connect-src 'self'; worker-src 'self'; manifest-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'; \
     object-src 'none'; require-trusted-types-for 'script'; trusted-types fragment";

/// Runs the handler as a task of its own, so that a visitor who hangs up cannot leave a database transaction half begun
/// (transact-rs/sqlx #4393), and so that a panic ends this request only.
pub async fn apart(request: Request, next: Next) -> Response {
    match tokio::spawn(next.run(request).in_current_span()).await {
        Ok(response) => response,
        Err(why) if why.is_panic() => WebError::ours("the handler panicked").into_response(),
        Err(_) => WebError::ours("the handler was broken off").into_response(),
    }
}

/// Refuses changes that did not come from our own pages.
pub async fn own_pages_only(State(app): State<App>, request: Request, next: Next) -> Response {
    match origin::check(app.settings.origin.as_ref(), request.method(), request.headers()) {
        Ok(()) => next.run(request).await,
        Err(why) => why.into_response(),
    }
}

/// What the answer needs to know of the request that is about to be consumed.
struct Asked {
    reference: String,
    method: Method,
    /// The route's pattern, never the address itself: addresses of feedback links are secrets.
    route: String,
    next: String,
    origin: Option<Origin>,
}

/// Gives every request a reference and one line in the log, every failure its words, every answer its headers.
pub async fn around(State(app): State<App>, request: Request, next: Next) -> Response {
    let route = request.extensions().get::<MatchedPath>().map_or("(none)", MatchedPath::as_str).to_owned();
    let asked = Asked {
        reference: reference(),
        method: request.method().clone(),
        next: next_after_sign_in(request.method(), request.uri().path()),
        origin: Origin::of_request(app.settings.origin.as_ref(), request.headers()),
        route,
    };
    let began = app.clock.now();
    let span =
        tracing::info_span!("request", reference = %asked.reference, method = %asked.method, route = %asked.route);
    let response = next.run(request).instrument(span.clone()).await;
    let _in_span = span.enter();
    let mut response = put_into_words(&asked, response);
    let took = app.clock.now() - began;
    tracing::info!(status = response.status().as_u16(), ms = took.whole_milliseconds() as i64, "answered");
    guard(&asked, &mut response);
    response
}

/// A short name for a request that a person can read out over the telephone.
fn reference() -> String {
    let number: u64 = rand::random();
    format!("{:04x}-{:04x}-{:04x}", number & 0xffff, (number >> 16) & 0xffff, (number >> 32) & 0xffff)
}

/// Where to go on after signing in: where a page was asked for, there; where a change was sent, to its session.
fn next_after_sign_in(method: &Method, path: &str) -> String {
    if matches!(*method, Method::GET | Method::HEAD) {
        return path.to_owned();
    }
    let mut parts = path.split('/').skip(1);
    match (parts.next(), parts.next()) {
        (Some("sessions"), Some(id)) => format!("/sessions/{id}"),
        _ => "/".to_owned(),
    }
}

/// Turns a failure into a redirect, JSON or a page, and logs our own faults.
fn put_into_words(asked: &Asked, response: Response) -> Response {
    let failure = response.extensions().get::<Failure>().map(|failure| Arc::clone(&failure.0));
    let why = match failure {
        Some(why) => why,
        None => match bare_refusal(response.status()) {
            Some(why) if asked.route != "/a/{hash}/{*path}" => Arc::new(why),
            _ => return response,
        },
    };
    note(&why);
    if asked.route == ENTRIES {
        return in_json(asked, &why);
    }
    if matches!(*why, WebError::SignIn) {
        let next = super::show::percent(&asked.next);
        return Redirect::to(&format!("/sign-in?next={next}")).into_response();
    }
    let mut worded = in_html(asked, &why);
    if let Some(allow) = response.headers().get(header::ALLOW) {
        worded.headers_mut().insert(header::ALLOW, allow.clone());
    }
    worded
}

/// A refusal by the framework itself, before any handler of ours.
fn bare_refusal(status: StatusCode) -> Option<WebError> {
    match status {
        StatusCode::METHOD_NOT_ALLOWED => Some(WebError::NotAllowed),
        StatusCode::PAYLOAD_TOO_LARGE => Some(WebError::TooLarge),
        StatusCode::NOT_FOUND => Some(WebError::Missing("page")),
        status if status.is_server_error() => Some(WebError::ours("an answer without words")),
        _ => None,
    }
}

/// One line for what is our fault or the database's, with its causes.
fn note(why: &WebError) {
    match why {
        WebError::Ours(source) => tracing::error!(cause = %causes(source.as_ref()), "a request failed"),
        WebError::Busy(source) => tracing::warn!(cause = %causes(source), "the database did not answer"),
        _ => {}
    }
}

fn causes(error: &dyn std::error::Error) -> String {
    let mut says = error.to_string();
    let mut source = error.source();
    while let Some(cause) = source {
        says = format!("{says}: {cause}");
        source = cause.source();
    }
    says.escape_debug().to_string()
}

fn in_json(asked: &Asked, why: &WebError) -> Response {
    let (_, says) = why.words();
    let body = serde_json::json!({ "error": says, "reference": asked.reference }).to_string();
    let mut response = Response::new(Body::from(body));
    *response.status_mut() = why.status();
    response.headers_mut().insert(header::CONTENT_TYPE, HeaderValue::from_static("application/json"));
    wait(why, &mut response);
    response
}

fn in_html(asked: &Asked, why: &WebError) -> Response {
    let (heading, says) = why.words();
    let page = ErrorPage { page: Page::of_nobody(), heading, says, reference: asked.reference.clone() };
    let mut response = match html(&page) {
        Ok(page) => page.into_response(),
        Err(_) => heading.into_response(),
    };
    *response.status_mut() = why.status();
    wait(why, &mut response);
    response
}

fn wait(why: &WebError, response: &mut Response) {
    if let Some(seconds) = why.retry_after() {
        response.headers_mut().insert(header::RETRY_AFTER, HeaderValue::from(seconds));
    }
}

/// The headers that every answer carries.
fn guard(asked: &Asked, response: &mut Response) {
    let trustworthy = asked.origin.as_ref().is_some_and(Origin::is_trustworthy);
    let headers = response.headers_mut();
    let mut set = |name: header::HeaderName, value: &'static str| {
        headers.insert(name, HeaderValue::from_static(value));
    };
    set(header::CONTENT_SECURITY_POLICY, CONTENT_POLICY);
    set(header::X_CONTENT_TYPE_OPTIONS, "nosniff");
    // With `no-referrer` browsers send `Origin: null` with our forms. Where they also send `Sec-Fetch-Site` that does no
    // harm; on a plain local network the origin check would have nothing to go by, so there the host alone is sent.
    set(header::REFERRER_POLICY, if trustworthy { "no-referrer" } else { "strict-origin" });
    set(header::HeaderName::from_static("cross-origin-opener-policy"), "same-origin");
    set(header::HeaderName::from_static("cross-origin-resource-policy"), "same-origin");
    set(header::HeaderName::from_static("permissions-policy"), "camera=(), geolocation=(), microphone=()");
    set(header::HeaderName::from_static("x-robots-tag"), "noindex, nofollow");
    if asked.origin.as_ref().is_some_and(Origin::is_https) {
        set(header::STRICT_TRANSPORT_SECURITY, "max-age=31536000; includeSubDomains");
    }
    headers.entry(header::CACHE_CONTROL).or_insert(HeaderValue::from_static("no-store"));
    if let Ok(reference) = HeaderValue::from_str(&asked.reference) {
        headers.insert(header::HeaderName::from_static("x-request-id"), reference);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn after_signing_in_one_goes_on_where_one_was() {
        assert_eq!(next_after_sign_in(&Method::GET, "/tasks"), "/tasks");
        assert_eq!(next_after_sign_in(&Method::POST, "/sessions/7/acts"), "/sessions/7");
        assert_eq!(next_after_sign_in(&Method::POST, "/sign-out"), "/");
    }

    #[test]
    fn the_content_policy_allows_nothing_inline() {
        assert!(!CONTENT_POLICY.contains("unsafe") && !CONTENT_POLICY.contains("data:"));
        assert!(CONTENT_POLICY.starts_with("default-src 'none';"));
    }
}
