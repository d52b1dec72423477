//! `dooryard merge`.

use std::path::PathBuf;

use clap::Parser;

use super::exit::{Exit, Failure};
use super::{Cli, Command, compare, output, parts, run, sweep, what_if};

/// Merge part files into the very output that one machine would have written.
///
/// Parts are written by run, compare, sweep and what-if with --part I/N. Merge where the scenario file is: it is read again, and
/// refused if it has changed since.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The part files, all of them, in any order
    #[arg(required = true, value_name = "PART")]
    part: Vec<PathBuf>,
    /// Output folder [default: that of the command]
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Print the result as one JSON document instead of the text report
    #[arg(long)]
    json: bool,
}

/// Merges.
pub fn merge(arguments: &Arguments) -> Result<Exit, Failure> {
    let known = parts::join(&arguments.part)?;
    let mut line = vec!["dooryard".to_string()];
    line.extend(known.arguments().iter().cloned());
    if let Some(out) = &arguments.out {
        line.extend(["--out".to_string(), out.to_string_lossy().into_owned()]);
    }
    if arguments.json {
        line.push("--json".to_string());
    }
    let cli = Cli::try_parse_from(line)
        .map_err(|error| Failure::Message(format!("the arguments in the parts can't be read: {error}")))?;
    // Nothing is played.
    output::be_quiet();
    match cli.command {
        Command::Run(arguments) => run::run(&arguments, Some(&known)),
        Command::Compare(arguments) => compare::compare(&arguments, Some(&known)),
        Command::Sweep(arguments) => sweep::sweep(&arguments, Some(&known)),
        Command::WhatIf(arguments) => what_if::what_if(&arguments, Some(&known)),
        _ => Err(Failure::Message("these parts belong to a command that can't be merged".to_string())),
    }
}
