//! Serving, for real and as a demo: settings, database, migrations, pages, and an orderly end.

use anyhow::Context;
use baywitness::clock::Clock;
use baywitness::config::{Config, LogFormat};
use baywitness::demo;
use baywitness::keeper;
use baywitness::postgres::Cluster;
use baywitness::store::migrate::{self, Connect};
use baywitness::store::{CentreId, Store, centres};
use baywitness::web::begin::code::{CODE_HOURS, Codes};
use baywitness::web::{self, App, Settings};
use std::process::ExitCode;
use tokio::net::TcpListener;
use tokio::signal::unix::{SignalKind, signal};

/// Serves until SIGTERM or SIGINT. Exit code 0 after an orderly end, 1 where something stopped it.
pub fn serve(is_demo: bool) -> ExitCode {
    match run(is_demo) {
        Ok(()) => ExitCode::SUCCESS,
        Err(why) => {
            eprintln!("baywitness: {why:#}");
            ExitCode::FAILURE
        }
    }
}

fn run(is_demo: bool) -> anyhow::Result<()> {
    let mut config = Config::from_environment()?;
    if is_demo {
        // An invented centre never lies beside a real one.
        config.data = config.data.join("demo");
    }
    start_log(config.log);
    // Started before the runtime, so that the cluster's process belongs to the main thread.
    let cluster = match &config.database {
        Some(_) => None,
        None => Some(Cluster::start(&config.data)?),
    };
    let served = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()
        .context("the runtime could not be started")
        .and_then(|runtime| runtime.block_on(serve_with(&config, cluster.as_ref(), is_demo)));
    if let Some(cluster) = cluster {
        cluster.stop()?;
    }
    served
}

async fn serve_with(config: &Config, cluster: Option<&Cluster>, is_demo: bool) -> anyhow::Result<()> {
    let connect = database(config, cluster)?;
    // Listening first: a port that is taken is said before anything is written.
    let listener =
        TcpListener::bind(config.address).await.with_context(|| format!("{} cannot be listened on", config.address))?;
    let store = migrate::open(&connect).await?;
    let clock = Clock::system();
    let address = address(config, &listener)?;
    let codes = (!is_demo).then(|| Codes::new(&config.data));
    if is_demo {
        let notes = demo::prepare(&store, &clock, &config.data).await?;
        println!("{}", notes.words(&address));
    } else {
        println!("Baywitness serves at {address}");
    }
    web::exports::jobs::tidy(&config.data, clock.now()).context("what earlier exports left cannot be tidied up")?;
    // Only where there is no centre yet; one more is begun with a code of its own.
    let first = if any_centre(&store).await? { None } else { codes.as_ref() };
    if let Some(codes) = first {
        let code = codes.make(clock.now()).context("the code for the first centre cannot be kept")?;
        println!("{}", begin_words(&address, &code));
    }
    let settings = Settings { origin: config.origin.clone(), data: Some(config.data.clone()), codes: codes.clone() };
    let keeping = tokio::spawn(keeper::daily(store.clone(), clock.clone()));
    let app = App::new(store.clone(), clock, settings)?;
    let served = web::serve(listener, app, told_to_stop()?).await;
    // A batch that is cut off is as if it had not been; the next start goes on.
    keeping.abort();
    served?;
    if let Some(codes) = first {
        codes.forget();
    }
    store.close().await;
    Ok(())
}

/// How the database is reached: the one that was named, else the private one.
pub fn database(config: &Config, cluster: Option<&Cluster>) -> anyhow::Result<Connect> {
    match (&config.database, cluster) {
        (Some(database), _) => Ok(Connect::to(database.owner.clone(), database.application.clone())),
        (None, Some(cluster)) => Ok(cluster.connect()),
        (None, None) => anyhow::bail!("there is no database to use"),
    }
}

/// Whether the installation has any centre.
async fn any_centre(store: &Store) -> anyhow::Result<bool> {
    let mut tx = store.begin(&CentreId::nobodys()).await?;
    let any = centres::any(&mut tx).await?;
    tx.commit().await.context("the database did not answer")?;
    Ok(any)
}

/// What the console says about beginning a centre.
fn begin_words(address: &str, code: &str) -> String {
    format!("\nBegin a centre at {address}/begin\nwith this code, within {CODE_HOURS} hours: {code}")
}

/// Prints a new code with which another centre is begun. Exit code 0: printed; 1: it cannot be kept.
pub fn centre_add() -> ExitCode {
    let made = || -> anyhow::Result<String> {
        let config = Config::from_environment()?;
        let code = Codes::new(&config.data).make(Clock::system().now()).context("the code cannot be kept")?;
        let address = match &config.origin {
            Some(origin) => origin.to_string(),
            None if config.address.ip().is_loopback() => format!("http://localhost:{}", config.address.port()),
            None => format!("http://{}", config.address),
        };
        Ok(begin_words(&address, &code))
    };
    match made() {
        Ok(words) => {
            println!("{}", words.trim_start());
            ExitCode::SUCCESS
        }
        Err(why) => {
            eprintln!("baywitness: {why:#}");
            ExitCode::FAILURE
        }
    }
}

/// The address a person types. A browser treats `localhost` as safe enough for cookies that only go over TLS.
fn address(config: &Config, listener: &TcpListener) -> anyhow::Result<String> {
    if let Some(origin) = &config.origin {
        return Ok(origin.to_string());
    }
    let bound = listener.local_addr().context("the address is not known")?;
    let host = if bound.ip().is_loopback() { "localhost".to_owned() } else { bound.ip().to_string() };
    Ok(format!("http://{host}:{}", bound.port()))
}

fn told_to_stop() -> anyhow::Result<impl Future<Output = ()> + Send + 'static> {
    let mut terminate = signal(SignalKind::terminate()).context("SIGTERM cannot be heard")?;
    let mut interrupt = signal(SignalKind::interrupt()).context("SIGINT cannot be heard")?;
    Ok(async move {
        tokio::select! {
            _ = terminate.recv() => {}
            _ = interrupt.recv() => {}
        }
    })
}

fn start_log(format: LogFormat) {
    let filter = tracing_subscriber::EnvFilter::try_from_default_env().unwrap_or_else(|_| "info,sqlx=warn".into());
    let lines = tracing_subscriber::fmt().with_env_filter(filter).with_writer(std::io::stderr);
    match format {
        LogFormat::Text => lines.init(),
        LogFormat::Json => lines.json().init(),
    }
}
