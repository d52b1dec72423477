//! The command line: one file per command. Each reads its arguments, calls a study and hands the result to the reports.

pub mod calibrate;
pub mod check;
pub mod clock;
pub mod compare;
pub mod day;
pub mod exit;
pub mod file;
pub mod interrupt;
pub mod lifetime;
pub mod merge;
pub mod misses;
pub mod nearest;
pub mod new;
pub mod output;
pub mod over;
pub mod parts;
pub mod plots;
pub mod progress;
pub mod resume;
pub mod run;
pub mod schema;
pub mod sensitivity;
pub mod study;
pub mod sweep;
pub mod tune;
pub mod weather;
pub mod what_if;
pub mod wiring;

use clap::{Parser, Subcommand};

use exit::{Exit, Failure};

/// Plays seasons of a robot mower and its automatic shelter, and says what would go wrong, how often, and how sure
/// that is, before anything is built.
///
/// Exit codes: 0 fine; 1 an acceptance limit is not met or not decided, a question of `check` fails, or a log can't support what
/// is asked of it; 2 bad input or output; 130 interrupted.
#[derive(Debug, Parser)]
#[command(name = "dooryard", version, propagate_version = true, max_term_width = 100)]
struct Cli {
    /// Write for a screen reader: sentences instead of columns, no rules, no progress bar
    #[arg(long, global = true)]
    plain: bool,
    /// Show no progress
    #[arg(long, short, global = true)]
    quiet: bool,
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    Check(check::Arguments),
    Lifetime(lifetime::Arguments),
    Run(run::Arguments),
    Compare(compare::Arguments),
    Day(day::Arguments),
    Tune(tune::Arguments),
    Sweep(sweep::Arguments),
    Sensitivity(sensitivity::Arguments),
    WhatIf(what_if::Arguments),
    Misses(misses::Arguments),
    Merge(merge::Arguments),
    New(new::Arguments),
    Schema(schema::Arguments),
    Weather(weather::Arguments),
    Calibrate(calibrate::Arguments),
}

/// Parses the command line, runs the command, prints what failed.
pub fn main() -> Exit {
    exit::ask_for_a_report_on_panic();
    let cli = match Cli::try_parse() {
        Ok(cli) => cli,
        Err(error) => {
            // Help and version come as errors too, meant for standard output; a closed pipe there is no failure.
            let _ = error.print();
            return if error.use_stderr() { Exit::BadInput } else { Exit::Fine };
        }
    };
    if cli.plain {
        output::serve_screen_reader();
    }
    if cli.quiet {
        output::be_quiet();
    }
    let outcome = match cli.command {
        Command::Run(arguments) => run::run(&arguments, None),
        Command::Compare(arguments) => compare::compare(&arguments, None),
        Command::Day(arguments) => day::day(&arguments),
        Command::Tune(arguments) => tune::tune(&arguments),
        Command::Sweep(arguments) => sweep::sweep(&arguments, None),
        Command::Sensitivity(arguments) => sensitivity::sensitivity(&arguments),
        Command::WhatIf(arguments) => what_if::what_if(&arguments, None),
        Command::Misses(arguments) => misses::misses(&arguments),
        Command::Merge(arguments) => merge::merge(&arguments),
        Command::Check(arguments) => check::check(&arguments),
        Command::Lifetime(arguments) => lifetime::run_lifetime(&arguments),
        Command::New(arguments) => new::new(&arguments),
        Command::Schema(arguments) => schema::schema(&arguments),
        Command::Weather(arguments) => weather::weather(&arguments),
        Command::Calibrate(arguments) => calibrate::calibrate(&arguments),
    };
    outcome.unwrap_or_else(|failure: Failure| {
        output::say(&failure.to_string());
        Exit::BadInput
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn the_arguments_are_consistent() {
        Cli::command().debug_assert();
    }
}
