//! Exit codes, failures, and what happens when the program itself is at fault.

use std::fmt;
use std::process::ExitCode;

/// How the program ends. A defect of the program (a panic) ends it with 101, Rust's own code.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Exit {
    /// Done; every acceptance limit is met, or none is stated. Also when the reader of standard output went away.
    Fine = 0,
    /// Done, but an acceptance limit of a strategy is not met or not decided, or a log can't support what was asked.
    FallsShort = 1,
    /// The command line, the scenario or the output folder can't be used; nothing was changed.
    BadInput = 2,
    /// Stopped by Ctrl-C or a termination signal; earlier results are as they were.
    Interrupted = 130,
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> ExitCode {
        ExitCode::from(exit as u8)
    }
}

/// Why a command could not do its work.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Failure {
    /// A sentence.
    Message(String),
    /// A text that is already laid out, such as a list of errors with source lines.
    Rendered(String),
}

impl fmt::Display for Failure {
    fn fmt(&self, out: &mut fmt::Formatter) -> fmt::Result {
        match self {
            Failure::Message(message) => write!(out, "error: {message}"),
            Failure::Rendered(text) => out.write_str(text.trim_end()),
        }
    }
}

impl<E: std::error::Error> From<E> for Failure {
    fn from(error: E) -> Failure {
        Failure::Message(error.to_string())
    }
}

/// Replaces the message of a panic: whoever sees it is asked to report it.
pub fn ask_for_a_report_on_panic() {
    std::panic::set_hook(Box::new(|info| {
        let place = info.location().map(|place| format!(" at {}:{}", place.file(), place.line())).unwrap_or_default();
        let payload = info.payload();
        let text = payload.downcast_ref::<&str>().copied();
        let what = text.or_else(|| payload.downcast_ref::<String>().map(String::as_str)).unwrap_or("no message");
        super::output::say(&format!(
            "dooryard {} has a defect: {what}{place}\n\
             Please report it with the lines above, the command you gave and the scenario file.",
            env!("CARGO_PKG_VERSION")
        ));
    }));
}
