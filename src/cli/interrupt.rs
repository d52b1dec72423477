//! Ctrl-C: the first press stops cleanly, the second at once.

use std::sync::atomic::{AtomicBool, Ordering};

use super::exit::{Exit, Failure};
use super::output::say;

static STOP: AtomicBool = AtomicBool::new(false);

/// Starts to watch for Ctrl-C and termination signals. The flag turns true when work should stop; whoever works polls
/// it between seasons.
pub fn watch() -> Result<&'static AtomicBool, Failure> {
    ctrlc::set_handler(|| {
        if STOP.swap(true, Ordering::SeqCst) {
            std::process::exit(Exit::Interrupted as i32);
        }
        say("stopping after the seasons under way; press Ctrl-C again to end at once");
    })
    .map_err(|error| Failure::Message(format!("cannot watch for Ctrl-C: {error}")))?;
    Ok(&STOP)
}
