//! How far a study is: a bar on a terminal, a line now and then elsewhere, nothing if asked to be quiet. Looks at the
//! clock, hence is kept away from everything that reaches a result.

use std::fmt::Write;
use std::io::{IsTerminal, stderr};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressState, ProgressStyle};

use super::output::{is_plain, is_quiet, say};

/// Time between two lines where there is no terminal.
const LINE_EVERY: Duration = Duration::from_secs(10);

/// Shows progress.
pub enum Meter {
    /// Shows nothing.
    Quiet,
    /// A bar.
    Bar(ProgressBar),
    /// Lines; holds the start and the time of the last line.
    Lines {
        /// When the work began.
        start: Instant,
        /// When the last line was written.
        last: Mutex<Instant>,
    },
}

impl Meter {
    /// The meter that suits standard error.
    #[allow(clippy::new_without_default, reason = "it looks at the terminal")]
    pub fn new() -> Meter {
        let now = Instant::now();
        if is_quiet() {
            Meter::Quiet
        } else if stderr().is_terminal() && !is_plain() {
            let bar = ProgressBar::new(0);
            let layout = "{wide_bar} {human_pos} of {human_len} seasons, {elapsed} so far, {rate}, {eta} left";
            let rate = |state: &ProgressState, out: &mut dyn Write| {
                let _ = write!(out, "{:.1} seasons/s", state.per_sec());
            };
            let style = ProgressStyle::with_template(layout).unwrap_or_else(|_| ProgressStyle::default_bar());
            bar.set_style(style.with_key("rate", rate));
            Meter::Bar(bar)
        } else {
            Meter::Lines { start: now, last: Mutex::new(now) }
        }
    }

    /// Notes that `done` of `all` seasons are played.
    pub fn show(&self, done: u64, all: u64) {
        match self {
            Meter::Quiet => {}
            Meter::Bar(bar) => {
                bar.set_length(all);
                // Threads report as they come: never backwards.
                bar.set_position(done.max(bar.position()));
            }
            Meter::Lines { start, last } => {
                let now = Instant::now();
                let mut last = last.lock().unwrap_or_else(PoisonError::into_inner);
                if now.duration_since(*last) >= LINE_EVERY {
                    *last = now;
                    say(&line(done, all, now.duration_since(*start)));
                }
            }
        }
    }

    /// Counts up by one at each call, towards `all`.
    pub fn ticker(&self, all: u64) -> impl Fn() + Sync {
        let done = AtomicU64::new(0);
        self.show(0, all);
        move || self.show(done.fetch_add(1, Ordering::Relaxed) + 1, all)
    }

    /// Takes the bar away.
    pub fn finish(&self) {
        if let Meter::Bar(bar) = self {
            bar.finish_and_clear();
        }
    }
}

/// `120 of 200 seasons, 24 s so far, 5.0 seasons/s, about 16 s left`.
fn line(done: u64, all: u64, elapsed: Duration) -> String {
    let seconds = elapsed.as_secs_f64();
    let rate = done as f64 / seconds.max(1e-3);
    let left =
        if done == 0 { String::new() } else { format!(", about {:.0} s left", (all - done.min(all)) as f64 / rate) };
    format!("{done} of {all} seasons, {seconds:.0} s so far, {rate:.1} seasons/s{left}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_says_rate_and_time_left() {
        assert_eq!(
            line(120, 200, Duration::from_secs(24)),
            "120 of 200 seasons, 24 s so far, 5.0 seasons/s, about 16 s left"
        );
        assert_eq!(line(0, 200, Duration::from_secs(10)), "0 of 200 seasons, 10 s so far, 0.0 seasons/s");
    }
}
