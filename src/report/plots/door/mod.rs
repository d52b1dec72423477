//! Drawings of `check`: the panel with the mower to scale, the drive's force over the stroke, the motor's temperature over
//! the hardest day.

mod forces;
mod panel;
mod winding;

pub use forces::forces;
pub use panel::panel;
pub use winding::winding;

use super::{Figure, PlotError};
use crate::study::check::drawings::Drawings;

/// Width of the sheets.
const WIDTH: u32 = 900;
/// Height of the sheets with a chart.
const HEIGHT: u32 = 460;

/// All drawings of a check.
///
/// # Errors
/// If one could not be drawn.
pub fn all(drawings: &Drawings) -> Result<Vec<Figure>, PlotError> {
    Ok(vec![panel(drawings)?, forces(drawings)?, winding(drawings)?])
}

/// Takes the rounding errors of a tick away: the axis places ticks by repeated addition.
fn round(value: f64) -> f64 {
    (value * 1e6).round() / 1e6
}
