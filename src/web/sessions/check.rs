//! The bay check: what must lie on the table, what must be true, who the candidate is and what is read out.

use super::{Loaded, has_ended, hold_to_sign, load, may_mark, may_sign};
use crate::bay::equipment::NoticeKind;
use crate::bay::{Item, Leads, Probes, Protection, Thing};
use crate::marking::Task;
use crate::store::entries::{self, Arrival};
use crate::store::sessions as stored;
use crate::web::App;
use crate::web::error::WebError;
use crate::web::extract::{Form, Path, SignedIn};
use crate::web::page::{Page, Place, html};
use crate::web::show::{self, Drawing};
use askama::Template;
use axum::extract::State;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Deserialize;
use uuid::Uuid;

/// The bay check.
#[derive(Template)]
#[template(path = "sessions/check.html")]
struct CheckPage {
    page: Page,
    loaded: Loaded,
    planned: String,
    on_table: Vec<Laid>,
    must_hold: Vec<String>,
    drawing: Drawing,
    minutes: String,
    may_confirm: bool,
    /// Whether the form came back because something was left open.
    left_open: bool,
}

/// One thing that must lie on the table.
struct Laid {
    label: String,
    as_described: String,
}

/// What the form sends: a tick for each part of the check.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Ticks {
    bay: Option<String>,
    candidate: Option<String>,
    briefing: Option<String>,
}

/// Shows the check, or the page that the session has come to.
pub async fn show(State(app): State<App>, who: SignedIn, Path(id): Path<Uuid>) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let loaded = load(&mut tx, &who, id).await?;
    if loaded.result.is_some() {
        return Ok(Redirect::to(&loaded.at("sheet")).into_response());
    }
    if loaded.session.opened_at.is_some() {
        let ended = has_ended(&loaded.marked(&mut tx, who.centre()).await?.log);
        let mine = may_mark(&who, &loaded.session);
        return Ok(Redirect::to(&loaded.at(if ended || !mine { "decide" } else { "marking" })).into_response());
    }
    let planned = stored::local_time(&mut tx, who.centre(), loaded.session.planned_at).await?;
    tx.commit().await?;
    Ok(page(&who, loaded, show::moment(planned), false)?.into_response())
}

/// Opens the evidence, once every part is ticked.
pub async fn confirm(
    State(app): State<App>,
    who: SignedIn,
    Path(id): Path<Uuid>,
    Form(ticks): Form<Ticks>,
) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let loaded = hold_to_sign(&mut tx, &who, id).await?;
    if [&ticks.bay, &ticks.candidate, &ticks.briefing].iter().any(|tick| tick.is_none()) {
        let planned = stored::local_time(&mut tx, who.centre(), loaded.session.planned_at).await?;
        tx.commit().await?;
        let page = page(&who, loaded, show::moment(planned), true)?;
        return Ok((axum::http::StatusCode::UNPROCESSABLE_ENTITY, page).into_response());
    }
    let arrival = Arrival {
        by: who.staff.number,
        device: "page".into(),
        run: "check".into(),
        received_at: app.clock.now(),
        offset_ms: 0,
        error_ms: 0,
    };
    // Confirmed twice is confirmed: the second time nothing is written and the way is the same.
    entries::open(&mut tx, who.centre(), loaded.session.id, &arrival).await?;
    tx.commit().await?;
    Ok(Redirect::to(&loaded.at("marking")).into_response())
}

fn page(
    who: &SignedIn,
    loaded: Loaded,
    planned: String,
    left_open: bool,
) -> Result<axum::response::Html<String>, WebError> {
    let on_table = loaded.task.bay.table.iter().map(laid).collect();
    let page = CheckPage {
        page: Page::at(&who.staff, Place::Sessions),
        planned,
        on_table,
        must_hold: must_hold(&loaded.task),
        drawing: Drawing::of_task(&loaded.task.bay),
        minutes: minutes(&loaded.task),
        may_confirm: may_sign(who, &loaded.session),
        left_open,
        loaded,
    };
    html(&page)
}

fn laid(item: &Item) -> Laid {
    Laid { label: item.label.clone(), as_described: as_described(&item.thing) }
}

/// An item in the words of the table, so that what lies there can be compared with the task.
fn as_described(thing: &Thing) -> String {
    match thing {
        Thing::VoltageIndicator(probes) => format!("Voltage indicator: {}", probes_described(probes)),
        Thing::Multimeter(probes) => format!("Multimeter: {}", probes_described(probes)),
        Thing::NonContactIndicator => "Non-contact indicator".into(),
        Thing::ProvingUnit { output_volts, works } => {
            format!("Proving unit, {output_volts} V, {}", if *works { "works" } else { "does not work" })
        }
        Thing::LockOff { fits } => {
            let fits: Vec<_> = fits.iter().map(crate::bay::DeviceId::as_str).collect();
            format!("Lock-off device; fits {}", if fits.is_empty() { "nothing here".into() } else { fits.join(", ") })
        }
        Thing::Padlock { key } => format!("Padlock; opened by {key}"),
        Thing::Key => "Key".into(),
        Thing::Notice { notice } => format!("Notice: {}", notice_words(*notice)),
        Thing::LeadSet => "Lead set".into(),
        Thing::Adapter => "Adapter".into(),
    }
}

fn notice_words(kind: NoticeKind) -> &'static str {
    match kind {
        NoticeKind::DoNotSwitchOn => "do not switch on",
        NoticeKind::Danger => "danger",
        NoticeKind::Testing => "testing in progress",
    }
}

fn probes_described(probes: &Probes) -> String {
    let leads = match probes.leads {
        Leads::Sound => "leads sound",
        Leads::Damaged => "a lead damaged",
    };
    let protection = match probes.protection {
        Protection::Fused => "fused",
        Protection::CurrentLimited => "current limited",
        Protection::None => "not fused",
    };
    format!(
        "bare tips {} mm, {}, {leads}, {protection}, {}, rated {} V",
        probes.exposed_tip_mm,
        if probes.finger_guards { "finger guards" } else { "no finger guards" },
        if probes.in_date { "in date" } else { "out of date" },
        probes.rated_volts,
    )
}

/// What must be true of the bay before the candidate comes in.
fn must_hold(task: &Task) -> Vec<String> {
    let bay = &task.bay;
    let off: Vec<String> = bay.setup.off.iter().map(ToString::to_string).collect();
    let but = if off.is_empty() { String::new() } else { format!(" but {}", off.join(", ")) };
    let mut holds = vec![format!("Every device on {}{but} is on, and nothing is locked off.", bay.board.label)];
    if let (Some(circuit), Some(point)) = (bay.circuit(&bay.isolate.circuit), bay.point(&bay.isolate.point)) {
        if bay.setup.planted.is_empty() {
            holds.push(format!("{} works as it should.", circuit.label));
        }
        for switch in &circuit.switches {
            let word = bay.setup.setting(&switch.id).word(switch.kind);
            holds.push(format!("{} ({}) stands at {word}.", switch.id, switch.label));
        }
        holds.push(format!("{} is closed{}.", point.label, if point.lamp { " and its lamp is in" } else { "" }));
    }
    for fault in &bay.setup.planted {
        holds.push(format!("Planted, and not for the candidate's ears: {}", fault.says(bay)));
    }
    if !bay.sources.is_empty() {
        let labels: Vec<_> = bay.sources.iter().map(|source| source.label.as_str()).collect();
        holds.push(format!("Supplies that feed the point: {}.", labels.join(", ")));
    }
    holds
}

/// The time allowed, with what was agreed on top of it.
fn minutes(task: &Task) -> String {
    let allowed = task.allowed_ms() / 60_000;
    if task.extra == crate::marking::ExtraTime::default() {
        format!("{allowed} minutes")
    } else {
        format!("{allowed} minutes ({} and the time agreed with the candidate)", task.minutes)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_item_is_described_by_all_that_decides_whether_it_suits() {
        let probes = Probes {
            exposed_tip_mm: 14.0,
            finger_guards: true,
            leads: Leads::Damaged,
            protection: Protection::None,
            in_date: false,
            rated_volts: 690,
        };
        let says = as_described(&Thing::VoltageIndicator(probes));
        for part in ["14 mm", "finger guards", "a lead damaged", "not fused", "out of date", "690 V"] {
            assert!(says.contains(part), "{part} in {says}");
        }
    }
}
