//! The pages and the entries endpoint: axum, one file per group of pages, thin handlers.
//!
//! A request passes [`layers::around`] (reference, security headers, errors put into words, one log line), the origin
//! check of [`origin`], the body limit, and [`layers::apart`], which runs the handler as a task of its own.

pub mod account;
pub mod assets;
pub mod bay_sheet;
pub mod begin;
pub mod candidates;
pub mod cards;
pub mod causes;
pub mod centre;
pub mod checklists;
pub mod cookies;
pub mod credentials;
pub mod criteria;
pub mod decide;
pub mod device;
pub mod error;
pub mod evidence;
pub mod exports;
pub mod extract;
pub mod feedback;
pub mod form;
pub mod invitations;
pub mod layers;
pub mod live;
pub mod marking;
pub mod one_time;
pub mod origin;
pub mod page;
#[cfg(test)]
mod palette;
pub mod password_rules;
pub mod passwords;
pub mod plan;
pub mod proof;
pub mod records;
pub mod releases;
pub mod reviews;
pub mod second_factor;
pub mod sessions;
pub mod sheet;
pub mod sheet_pdf;
pub mod show;
pub mod sign_in;
pub mod spoken;
pub mod staff;
pub mod task_editor;
pub mod task_files;
pub mod tasks;
pub mod timeline;
pub mod tokens;

use crate::clock::Clock;
use crate::store::Store;
use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::http::{Extensions, HeaderMap, StatusCode, Version, header};
use axum::middleware::{from_fn, from_fn_with_state};
use axum::routing::{get, post};
use axum::serve::ListenerExt;
use candidates::import;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;
use tower_http::compression::CompressionLayer;
use tower_http::compression::predicate::{DefaultPredicate, Predicate};

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
    pub exports: exports::jobs::Jobs,
}

/// What the pages need to know of the configuration.
#[derive(Debug, Clone, Default)]
pub struct Settings {
    /// The address browsers use, where it was configured.
    pub origin: Option<origin::Origin>,
    /// The data folder, where finished exports are kept for a day.
    pub data: Option<std::path::PathBuf>,
    /// Where the code is kept with which a centre is begun; without it none can be.
    pub codes: Option<begin::code::Codes>,
}

impl App {
    /// The application over a store.
    pub fn new(store: Store, clock: Clock, settings: Settings) -> Result<Self, passwords::PasswordError> {
        let passwords = passwords::Passwords::new()?;
        let live = live::Live::new(&store);
        let exports = exports::jobs::Jobs::default();
        Ok(Self { store, clock, settings: Arc::new(settings), passwords, live, exports })
    }
}

/// Every route with its layers.
pub fn router(app: App) -> Router {
    Router::new()
        .route("/", get(sessions::list::show))
        .route("/sign-in", get(sign_in::show).post(sign_in::enter))
        .route("/sign-in/code", get(second_factor::ask).post(second_factor::enter))
        .route("/sign-in/second-factor", get(second_factor::show_owed).post(second_factor::set_up_owed))
        .route("/sign-out", post(sign_in::leave))
        .route("/sessions/{id}", get(sessions::check::show))
        .route("/sessions/{id}/check", post(sessions::check::confirm))
        .route("/sessions/{id}/marking", get(marking::show))
        .route("/sessions/{id}/acts", post(marking::acts::record))
        .route(layers::ENTRIES, post(marking::entries::receive))
        .route("/sessions/{id}/decide", get(decide::show))
        .route("/sessions/{id}/decisions", post(decide::decide_one))
        .route("/sessions/{id}/ticks", post(decide::tick))
        .route("/sessions/{id}/words", post(decide::words::put))
        .route("/sessions/{id}/gaps", post(decide::state_gap))
        .route("/sessions/{id}/signature", post(decide::sign))
        .route("/sessions/{id}/sheet", get(sheet::show))
        .route("/sessions/{id}/sheet.pdf", get(sheet_pdf::show))
        .route("/sessions/{id}/links", post(sheet::make_link))
        .route("/sessions/{id}/live", get(live::show))
        .route("/sessions/{id}/live/events", get(live::events))
        .route("/sessions/{id}/release", get(releases::show).post(releases::step))
        .route("/feedback", get(feedback::show))
        .route("/feedback/review", post(feedback::ask_review))
        .route("/feedback/{centre}/{token}", get(feedback::ask).post(feedback::visit))
        // Tasks and bays.
        .route("/tasks", get(tasks::list).post(task_editor::begin::create))
        .route("/tasks/{id}/draft", post(task_editor::begin::begin))
        .route("/tasks/drafts/{id}", get(task_editor::first))
        .route("/tasks/drafts/{id}/{step}", get(task_editor::show))
        .route("/tasks/drafts/{id}/edits", post(task_editor::edit::edit))
        .route("/tasks/drafts/{id}/look", post(task_editor::edit::look))
        .route("/tasks/drafts/{id}/file", get(task_editor::publish::file))
        .route("/tasks/drafts/{id}/publish", get(task_editor::publish::show).post(task_editor::publish::publish))
        .route("/tasks/drafts/{id}/discard", post(task_editor::begin::discard))
        .route("/tasks/{id}/{version}", get(tasks::show))
        .route("/tasks/import", get(task_files::ask).post(task_files::take))
        .route("/tasks/{id}/{version}/file", get(task_files::file))
        .route("/tasks/{id}/{version}/bay-sheet", get(bay_sheet::of_task))
        .route("/sessions/{id}/bay-sheet", get(bay_sheet::of_session))
        // Criteria and checklists.
        .route("/criteria", get(criteria::list))
        .route("/criteria/new", get(criteria::write::new).post(criteria::write::add))
        .route("/criteria/take", post(criteria::take))
        .route("/criteria/own/{criterion}", get(criteria::write::show).post(criteria::write::change))
        .route("/criteria/own/{criterion}/retire", post(criteria::retire))
        .route("/criteria/own/{criterion}/bring-back", post(criteria::bring_back))
        .route("/checklists", get(checklists::list).post(checklists::create))
        .route("/checklists/import", get(checklists::files::ask).post(checklists::files::take))
        .route("/checklists/{id}", get(checklists::editor::show))
        .route("/checklists/{id}/draft", post(checklists::editor::begin))
        .route("/checklists/{id}/edits", post(checklists::editor::edit))
        .route("/checklists/{id}/discard", post(checklists::editor::discard))
        .route("/checklists/{id}/pick", get(checklists::pick::show))
        .route("/checklists/{id}/preview", get(checklists::preview::show))
        .route("/checklists/{id}/what-would-change", get(checklists::change::show))
        .route("/checklists/{id}/publish", get(checklists::publish::ask).post(checklists::publish::publish))
        .route("/checklists/{id}/differences", get(checklists::publish::differences))
        .route("/checklists/{id}/import", get(checklists::files::ask_into).post(checklists::files::take_into))
        .route("/checklists/{id}/versions/{version}", get(checklists::publish::version))
        .route("/checklists/{id}/versions/{version}/file", get(checklists::files::file))
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
        .route("/sessions/all", get(sessions::all::show))
        .route("/sessions/{id}/plan", get(plan::change::show).post(plan::change::change))
        .route("/sessions/{id}/cancel", post(plan::change::cancel))
        .route("/sessions/{id}/no-show", post(plan::change::no_show))
        .route("/plan", get(plan::day::show))
        .route("/plan/new", get(plan::new::show).post(plan::new::plan))
        .route("/plan/block", get(plan::block::show).post(plan::block::plan))
        .route("/plan/feed", get(plan::calendar::show).post(plan::calendar::make))
        .route("/plan/feed/revoke", post(plan::calendar::revoke))
        .route("/calendar/{centre}/{file}", get(plan::calendar::fetch))
        .route("/credentials/{centre}/{list}", get(credentials::list))
        //
        // The centre, its staff, and what belongs to the person signed in.
        .route("/begin", get(begin::show).post(begin::make))
        .route("/centre", get(centre::show).post(centre::change))
        .route("/centre/next-steps", get(centre::next_steps::show))
        .route("/centre/record", get(centre::record::show))
        .route("/centre/tablets", get(centre::tablets::list).post(centre::tablets::enrol))
        .route("/centre/tablets/{id}/revocation", post(centre::tablets::revoke))
        .route("/staff", get(staff::list).post(staff::invite))
        .route("/staff/links/withdrawal", post(staff::withdraw))
        .route("/staff/{number}", get(staff::person::show))
        .route("/staff/{number}/roles", post(staff::person::set_roles))
        .route("/staff/{number}/standing", post(staff::person::set_standing))
        .route("/staff/{number}/link", post(staff::person::make_link))
        .route("/staff/{number}/second-factor", post(staff::person::forget_factor))
        .route("/invitations/{centre}/{token}", get(invitations::show).post(invitations::accept))
        .route("/resets/{centre}/{token}", get(invitations::show_reset).post(invitations::reset))
        .route("/account", get(account::show))
        .route("/account/password", post(account::change_password))
        .route("/account/sign-ins", post(account::end_sign_ins))
        .route("/account/recovery-codes", post(account::recovery))
        .route("/account/second-factor", get(second_factor::show).post(second_factor::set_up_own))
        // Reviews.
        .route("/reviews", get(reviews::list))
        .route("/reviews/{id}", get(reviews::show).post(reviews::end))
        // Exports and records.
        .route("/exports", get(exports::list).post(exports::begin))
        .route("/exports/{id}", get(exports::show))
        .route("/exports/{id}/cancel", post(exports::cancel))
        .route("/exports/{id}/key", post(exports::reopen))
        .route("/exports/{id}/{what}", get(exports::fetch))
        .route("/centre/records", get(records::show))
        .route("/centre/records/due", get(records::due::show))
        .route("/centre/records/periods", get(records::periods::show).post(records::periods::set))
        .route("/centre/records/holds/{number}", get(records::hold::ask_lift).post(records::hold::lift))
        .route("/candidates/{id}/hold", get(records::hold::ask).post(records::hold::set))
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
        .layer(CompressionLayer::new().compress_when(DefaultPredicate::new().and(is_no_download)))
        .with_state(app)
}

/// Whether an answer is read and not kept. What is kept as a file goes out as it is: a part of it that is asked for again
/// would not fit one that was compressed.
fn is_no_download(_: StatusCode, _: Version, headers: &HeaderMap, _: &Extensions) -> bool {
    !headers.contains_key(header::CONTENT_DISPOSITION)
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
