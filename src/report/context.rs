//! What a report says besides the result itself.

use super::plots::Figure;
use crate::math::time::Instant;
use crate::scenario::Assumption;

/// Facts about the run that its result doesn't hold. Nothing in here may depend on the clock, the machine or the
/// number of threads: all files are a function of the result and of this.
#[derive(Clone, Copy)]
pub struct Context<'a> {
    /// Version of the tool.
    pub version: &'a str,
    /// All settings that shaped the result, as name and value, for `run.toml`.
    pub settings: &'a [(String, toml::Value)],
    /// The resolved scenario, defaults included, as text.
    pub resolved_scenario: &'a str,
    /// The scenario's file as it was named for the run, for commands that a report suggests; without its folder if it was
    /// named by its whole path.
    pub file: &'a str,
    /// All values of the scenario, each with where it comes from.
    pub assumptions: &'a [Assumption],
    /// Drawings that don't come from the seasons: the door's mechanism, forces, the motor on its hardest day.
    pub mechanism: &'a [Figure],
    /// What a reader should keep in mind; printed at the end.
    pub cautions: &'a [&'a str],
    /// RFC 3339 text of a moment on the season's clock.
    pub time: &'a dyn Fn(Instant) -> String,
}
