//! What the supply must give: peak, brown-out, energy.
//!
//! The motor's power passes a converter of efficiency eta; controller and sensors draw their standby power all the
//! time, given at the load and converted with the same efficiency. (Plain energy balance.)

use crate::scenario::door::Supply;

/// Joules in a watt-hour.
const J_PER_WH: f64 = 3_600.0;

/// Power drawn from the supply, W, while the motor driver draws `motor_w`.
pub fn supply_w(supply: &Supply, motor_w: f64) -> f64 {
    (motor_w + supply.standby_w) / supply.efficiency
}

/// Whether a draw of `peak_w` from the supply drops its voltage: it gives at most its limit, and nothing in the
/// scenario stores energy to bridge the gap.
pub fn browns_out(supply: &Supply, peak_w: f64) -> bool {
    peak_w > supply.limit_w
}

/// Energy taken from the supply for `motor_j` at the motor driver, Wh, standby not counted.
pub fn motor_wh(supply: &Supply, motor_j: f64) -> f64 {
    motor_j / supply.efficiency / J_PER_WH
}

/// Energy taken from the supply by controller and sensors in `hours`, Wh.
pub fn standby_wh(supply: &Supply, hours: f64) -> f64 {
    supply.standby_w * hours / supply.efficiency
}

/// Energy taken from the supply in a day of 24 hours with `strokes` strokes of `stroke_j` each, Wh.
pub fn day_wh(supply: &Supply, strokes: f64, stroke_j: f64) -> f64 {
    motor_wh(supply, strokes * stroke_j) + standby_wh(supply, 24.0)
}
