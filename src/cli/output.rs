//! Standard output and standard error.

use std::io::{self, IsTerminal, Write};
use std::sync::atomic::{AtomicBool, Ordering};

use super::exit::Failure;
use crate::report::text::Setting;

/// Whether a screen reader is served (`--plain`).
static PLAIN: AtomicBool = AtomicBool::new(false);

/// From now on, all output is for a screen reader.
pub fn serve_screen_reader() {
    PLAIN.store(true, Ordering::Relaxed);
}

/// Whether all output is for a screen reader.
pub fn is_plain() -> bool {
    PLAIN.load(Ordering::Relaxed)
}

/// Whether no progress is shown (`--quiet`).
static QUIET: AtomicBool = AtomicBool::new(false);

/// From now on, no progress is shown.
pub fn be_quiet() {
    QUIET.store(true, Ordering::Relaxed);
}

/// Whether no progress is shown.
pub fn is_quiet() -> bool {
    QUIET.load(Ordering::Relaxed)
}

/// How text for standard output is set.
pub fn setting() -> Setting {
    Setting { width: width(), plain: is_plain() }
}

/// Writes `text` to standard output. A reader that went away (a closed pipe) is no failure; a full disk is.
pub fn print(text: &str) -> Result<(), Failure> {
    let mut out = io::stdout().lock();
    forgive(out.write_all(text.as_bytes()).and_then(|()| out.flush()))
}

/// Writes a line to standard error; if even that fails, there is nobody left to tell.
pub fn say(line: &str) {
    let _ = writeln!(io::stderr().lock(), "{line}");
}

/// Writes warnings to standard error, a line each.
pub fn warn(warnings: &[String]) {
    warnings.iter().for_each(|warning| say(&format!("warning: {warning}")));
}

/// Whether standard error is to be coloured: a terminal, and nothing such as `NO_COLOR` against it.
pub fn colour_on_stderr() -> bool {
    anstream::AutoStream::choice(&io::stderr()) != anstream::ColorChoice::Never
}

/// Columns of the terminal that shows standard output; 80 if it goes elsewhere.
fn width() -> usize {
    let columns = if io::stdout().is_terminal() { terminal_size::terminal_size() } else { None };
    columns.map_or(80, |(terminal_size::Width(columns), _)| usize::from(columns).clamp(60, 120))
}

fn forgive(outcome: io::Result<()>) -> Result<(), Failure> {
    match outcome {
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(()),
        Err(error) => Err(Failure::Message(format!("cannot write to standard output: {error}"))),
        Ok(()) => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_closed_pipe_is_forgiven() {
        assert_eq!(forgive(Err(io::ErrorKind::BrokenPipe.into())), Ok(()));
        assert!(forgive(Err(io::ErrorKind::StorageFull.into())).is_err());
    }
}
