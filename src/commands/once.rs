//! A command that works on the stored data once and ends.

use super::serve::database;
use anyhow::Context;
use baywitness::config::Config;
use baywitness::postgres::Cluster;
use baywitness::store::{Store, migrate};
use std::process::ExitCode;

/// Does `work` on the store that the environment names, or on that of the demo, and says on standard error what stopped it.
/// The private cluster, where there is one, runs as long.
pub(super) fn once(demo: bool, work: impl AsyncFnOnce(&Config, &Store) -> anyhow::Result<ExitCode>) -> ExitCode {
    run(demo, work).unwrap_or_else(|why| {
        eprintln!("baywitness: {why:#}");
        ExitCode::FAILURE
    })
}

fn run(demo: bool, work: impl AsyncFnOnce(&Config, &Store) -> anyhow::Result<ExitCode>) -> anyhow::Result<ExitCode> {
    let mut config = Config::from_environment()?;
    if demo {
        config.data = config.data.join("demo");
    }
    let cluster = match &config.database {
        Some(_) => None,
        None => Some(Cluster::start(&config.data)?),
    };
    let done = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()
        .context("the runtime could not be started")
        .and_then(|runtime| {
            runtime.block_on(async {
                let store = migrate::open(&database(&config, cluster.as_ref())?).await?;
                let done = work(&config, &store).await;
                store.close().await;
                done
            })
        });
    if let Some(cluster) = cluster {
        cluster.stop()?;
    }
    done
}
