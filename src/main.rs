//! The command line of Baywitness.

mod commands;

use clap::{Parser, Subcommand};
use std::path::PathBuf;
use std::process::ExitCode;

/// Witnesses and marks practical electrical isolation tasks.
#[derive(Debug, Parser)]
#[command(name = "baywitness", version, about, propagate_version = true)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Serve an invented centre to try everything with: prints the address and the sign-ins
    Demo,
    /// Serve; DATABASE_URL if it is set, else a private PostgreSQL in the data folder
    Serve,
    /// Look after centres
    Centre {
        #[command(subcommand)]
        command: CentreCommand,
    },
    /// Mark a log against its task; needs no database
    Mark {
        /// Task file, TOML or JSON
        #[arg(long, value_name = "FILE")]
        task: PathBuf,
        /// Log file, one observation a line (NDJSON)
        #[arg(long, value_name = "FILE")]
        log: PathBuf,
        /// Print the whole marking as JSON
        #[arg(long)]
        json: bool,
    },
    /// Say which hidden causes of a live point the tests would have shown
    Coverage {
        /// Task file, TOML or JSON
        #[arg(long, value_name = "FILE")]
        task: PathBuf,
        /// Log file, one observation a line (NDJSON)
        #[arg(long, value_name = "FILE")]
        log: PathBuf,
        /// Two causes at once instead of single ones
        #[arg(long)]
        pairs: bool,
        /// Print the coverage as JSON
        #[arg(long)]
        json: bool,
    },
    /// Say which tests a complete proof needs
    Plan {
        /// Task file, TOML or JSON
        #[arg(long, value_name = "FILE")]
        task: PathBuf,
        /// Print the plan as JSON
        #[arg(long)]
        json: bool,
    },
    /// Export signed results, their findings and observations, or plans
    Export(Box<commands::ExportArgs>),
    /// Erase the records whose time is over, as the service does each night
    Retain(commands::RetainArgs),
}

#[derive(Debug, Subcommand)]
enum CentreCommand {
    /// Print a one-time code with which another centre is begun in the browser
    Add,
}

fn main() -> ExitCode {
    match Cli::parse().command {
        Command::Mark { task, log, json } => commands::mark(&task, &log, json),
        Command::Coverage { task, log, pairs, json } => commands::coverage(&task, &log, pairs, json),
        Command::Plan { task, json } => commands::plan(&task, json),
        Command::Export(args) => commands::export(*args),
        Command::Retain(args) => commands::retain(&args),
        Command::Demo => commands::serve(true),
        Command::Centre { command: CentreCommand::Add } => commands::centre_add(),
        Command::Serve => commands::serve(false),
    }
}
