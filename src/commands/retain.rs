//! Erasing what is due from the command line, or only counting it. Exit code 0: done; 1: something stopped it; 2: there is
//! no such centre, or nobody has confirmed its periods.

use super::once::once;
use anyhow::Context;
use baywitness::clock::Clock;
use baywitness::keeper::{self, Ran};
use baywitness::store::keeping::{self, Begin, Kind, When};
use baywitness::store::{CentreId, Store};
use clap::Args;
use std::process::ExitCode;

/// Of which centres, and whether only to count.
#[derive(Debug, Args)]
pub struct RetainArgs {
    /// The centre's code; every centre unless told
    #[arg(long, value_parser = super::export::centre_of)]
    centre: Option<CentreId>,
    /// Count what is due, and erase nothing
    #[arg(long)]
    dry_run: bool,
    /// Of the demo's invented centre, which must not be serving just then
    #[arg(long)]
    demo: bool,
}

/// Erases what is due and prints how much of each kind.
pub fn retain(args: &RetainArgs) -> ExitCode {
    once(args.demo, async |_, store| retain_in(store, args).await)
}

async fn retain_in(store: &Store, args: &RetainArgs) -> anyhow::Result<ExitCode> {
    let clock = Clock::system();
    let all = keeper::centres(store).await?;
    let chosen: Vec<_> = all.into_iter().filter(|one| args.centre.as_ref().is_none_or(|asked| asked == one)).collect();
    if let Some(asked) = args.centre.as_ref().filter(|_| chosen.is_empty()) {
        eprintln!("baywitness: there is no centre {}", asked.as_str());
        return Ok(ExitCode::from(2));
    }
    let mut code = ExitCode::SUCCESS;
    for centre in &chosen {
        if !(if args.dry_run { count(store, &clock, centre).await? } else { erase(store, &clock, centre).await? }) {
            code = ExitCode::from(2);
        }
    }
    Ok(code)
}

/// Prints what the next run would erase, and what is held.
async fn count(store: &Store, clock: &Clock, centre: &CentreId) -> anyhow::Result<bool> {
    let now = clock.now();
    let mut tx = store.begin(centre).await?;
    let due = keeping::overview(&mut tx, centre, now, now).await?.due;
    let confirmed = keeping::periods(&mut tx, centre).await?.is_some_and(|(_, confirmed)| confirmed.is_some());
    tx.commit().await.context("the database did not answer")?;
    println!("{}: due now, nothing erased", centre.as_str());
    for one in due.iter().filter(|one| one.when == When::Now) {
        println!("  {} {}, held {}", one.kind.word(), one.free, one.held);
    }
    if !confirmed {
        println!("  nobody has confirmed the periods: nothing is erased by itself");
    }
    Ok(true)
}

/// Erases and prints the report. `false` where nobody has confirmed the periods.
async fn erase(store: &Store, clock: &Clock, centre: &CentreId) -> anyhow::Result<bool> {
    let name = centre.as_str();
    match keeper::run(store, clock, centre, Begin::Asked).await? {
        Ran::Done { run, erased } => {
            println!("{name}: run {run}");
            for kind in Kind::ALL {
                println!("  {} {}", kind.word(), erased.get(&kind).copied().unwrap_or(0));
            }
            Ok(true)
        }
        Ran::Elsewhere => {
            println!("{name}: another run goes on just now");
            Ok(true)
        }
        Ran::NotDue => {
            eprintln!("{name}: nobody has confirmed the periods, so nothing is erased");
            Ok(false)
        }
    }
}
