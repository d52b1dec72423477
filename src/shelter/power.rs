//! What the supply must give: peak, brown-out, energy.
//!
//! The motor's power passes a converter of efficiency eta; controller and sensors draw their standby power all the
//! time, given at the load and converted with the same efficiency. (Plain energy balance.) When the draw exceeds the limit the
//! voltage falls, and the controller may restart: it forgets what it was holding and waiting for, and the stroke is refused.

use super::stroke::Stroke;
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

/// Whether a stroke drops the supply's voltage: its start asks for more than the limit for longer than the buffer lasts, or the
/// running motor does. The start is counted as if it drew its peak for the time it costs: cautious, because the current
/// falls as the motor speeds up.
pub fn stroke_browns_out(supply: &Supply, stroke: &Stroke) -> bool {
    let start_j = (stroke.peak_supply_w - supply.limit_w).max(0.0) * supply.efficiency * stroke.start_s;
    let running_w = supply_w(supply, supply.voltage_v * stroke.running_current_a);
    if supply.buffer_j > 0.0 {
        start_j > supply.buffer_j || browns_out(supply, running_w)
    } else {
        browns_out(supply, stroke.peak_supply_w.max(running_w))
    }
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

/// Capacitance of a buffer, F, that gives a load of `load_w` what a source of `source_w` lacks for `time_s` while its voltage falls
/// from `full_v` to `least_v`, its own resistance `esr_ohm` included: C = 2 (Pl - Ps) t / (V1^2 - V2^2), with V2 raised by the drop of
/// the load's current at V2. (Energy of a capacitor.) 0 where the source is enough, infinite where the drop leaves
/// nothing.
pub fn buffer_f(load_w: f64, source_w: f64, time_s: f64, full_v: f64, least_v: f64, esr_ohm: f64) -> f64 {
    let missing_w = load_w - source_w;
    if missing_w <= 0.0 {
        return 0.0;
    }
    let low_v = least_v + esr_ohm * load_w / least_v;
    if low_v >= full_v { f64::INFINITY } else { 2.0 * missing_w * time_s / (full_v * full_v - low_v * low_v) }
}
