//! The pages and the entries endpoint: axum, one file per group of pages, thin handlers.
//!
//! A request passes [`layers::around`] (reference, security headers, errors put into words, one log line), the origin
//! check of [`origin`], the body limit, and [`layers::apart`], which runs the handler as a task of its own.

pub mod assets;
pub mod candidates;
pub mod cards;
pub mod causes;
pub mod cookies;
pub mod decide;
pub mod error;
pub mod evidence;
pub mod extract;
pub mod feedback;
pub mod form;
pub mod layers;
pub mod live;
pub mod marking;
pub mod origin;
pub mod page;
#[cfg(test)]
mod palette;
pub mod passwords;
pub mod sessions;
pub mod sheet;
pub mod show;
pub mod sign_in;
pub mod tasks;
pub mod tokens;

use crate::clock::Clock;
use crate::store::Store;
use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::middleware::{from_fn, from_fn_with_state};
use axum::routing::{get, post};
use axum::serve::ListenerExt;
use candidates::import;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;
use tower_http::compression::CompressionLayer;

/// Largest body that is taken, in bytes.
const LARGEST_BODY: usize = 256 * 1024;

/// How long open requests may go on after the service was told to stop.
const LONGEST_DRAIN: Duration = Duration::from_secs(10);

/// What handlers work with.
#[derive(Clone)]
pub struct App {
    pub store: Store,
    pub clock: Clock,
    pub settings: Arc<Settings>,
    pub passwords: passwords::Passwords,
    pub live: live::Live,
}

/// What the pages need to know of the configuration.
#[derive(Debug, Clone, Default)]
pub struct Settings {
    /// The address browsers use, where it was configured.
    pub origin: Option<origin::Origin>,
}

impl App {
    /// The application over a store.
    pub fn new(store: Store, clock: Clock, settings: Settings) -> Result<Self, passwords::PasswordError> {
        let passwords = passwords::Passwords::new()?;
        let live = live::Live::new(&store);
        Ok(Self { store, clock, settings: Arc::new(settings), passwords, live })
    }
}

/// Every route with its layers.
pub fn router(app: App) -> Router {
    Router::new()
        .route("/", get(sessions::list::show))
        .route("/sign-in", get(sign_in::show).post(sign_in::enter))
        .route("/sign-out", post(sign_in::leave))
        .route("/sessions/{id}", get(sessions::check::show))
        .route("/sessions/{id}/check", post(sessions::check::confirm))
        .route("/sessions/{id}/marking", get(marking::show))
        .route("/sessions/{id}/acts", post(marking::acts::record))
        .route(layers::ENTRIES, post(marking::entries::receive))
        .route("/sessions/{id}/decide", get(decide::show))
        .route("/sessions/{id}/decisions", post(decide::decide_one))
        .route("/sessions/{id}/ticks", post(decide::tick))
        .route("/sessions/{id}/gaps", post(decide::state_gap))
        .route("/sessions/{id}/signature", post(decide::sign))
        .route("/sessions/{id}/sheet", get(sheet::show))
        .route("/sessions/{id}/links", post(sheet::make_link))
        .route("/sessions/{id}/live", get(live::show))
        .route("/sessions/{id}/live/events", get(live::events))
        .route("/feedback", get(feedback::show))
        .route("/feedback/{centre}/{token}", get(feedback::ask).post(feedback::visit))
        // Tasks and bays.
        .route("/tasks", get(tasks::list))
        .route("/tasks/{id}/{version}", get(tasks::show))
        // Criteria and checklists.
        //
        // Candidates.
        .route("/candidates", get(candidates::list).post(candidates::edit::add))
        .route("/candidates/new", get(candidates::edit::new))
        .route("/candidates/import", get(import::start).post(import::look).layer(import::limit()))
        .route("/candidates/import/columns", post(import::read_again).layer(import::limit()))
        .route("/candidates/import/check", post(import::check).layer(import::limit()))
        .route("/candidates/import/rows", post(import::take).layer(import::limit()))
        .route("/candidates/import/left-out", post(import::left_out).layer(import::limit()))
        .route("/candidates/{id}", get(candidates::show::show).post(candidates::edit::change))
        .route("/candidates/{id}/change", get(candidates::edit::change_form))
        .route("/candidates/{id}/data", get(candidates::data::show).post(candidates::data::file))
        .route("/candidates/{id}/erasure", get(candidates::erasure::ask).post(candidates::erasure::erase))
        .route("/candidates/erasures", get(candidates::erasure::list).post(candidates::erasure::replay))
        .route("/candidates/erasures/list.json", get(candidates::erasure::list_file))
        // Planning.
        //
        // The centre, its staff, and what belongs to the person signed in.
        //
        // Exports and records.
        //
        // What is always there.
        .route("/marking/shell", get(marking::shell::show))
        .route("/marking-worker.js", get(marking::shell::worker))
        .route("/health", get(health))
        .route("/a/{hash}/{*path}", get(assets::serve))
        .fallback(nowhere)
        .layer(from_fn(layers::apart))
        .layer(DefaultBodyLimit::max(LARGEST_BODY))
        .layer(from_fn_with_state(app.clone(), layers::own_pages_only))
        .layer(from_fn_with_state(app.clone(), layers::around))
        .layer(CompressionLayer::new())
        .with_state(app)
}

/// Answers as long as the process can.
async fn health() -> &'static str {
    "ok"
}

/// Where no route leads.
async fn nowhere() -> error::WebError {
    error::WebError::Missing("page")
}

/// Serves until `shutdown` resolves, then lets open requests finish for up to ten seconds.
pub async fn serve(
    listener: tokio::net::TcpListener,
    app: App,
    shutdown: impl Future<Output = ()> + Send + 'static,
) -> std::io::Result<()> {
    // Without this the last packet of every answer waits for the browser's acknowledgement, 40 ms.
    let listener = listener.tap_io(|stream| {
        if let Err(why) = stream.set_nodelay(true) {
            tracing::debug!(%why, "a connection keeps its delay");
        }
    });
    let (told, stopping) = tokio::sync::oneshot::channel();
    let live = app.live.clone();
    let graceful = async move {
        shutdown.await;
        // Whoever watches would otherwise keep their connection open, and the service from ending.
        live.stop();
        // The receiver is gone only when serving has ended already.
        let _ = told.send(());
    };
    let service = router(app).into_make_service_with_connect_info::<SocketAddr>();
    let serving = axum::serve(listener, service).with_graceful_shutdown(graceful);
    let limit = async move {
        match stopping.await {
            Ok(()) => tokio::time::sleep(LONGEST_DRAIN).await,
            Err(_) => std::future::pending().await,
        }
    };
    tokio::select! {
        ended = serving => ended,
        () = limit => {
            tracing::warn!("requests were still open after ten seconds and were cut off");
            Ok(())
        }
    }
}
