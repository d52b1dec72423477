//! A slider in a guide, driven off its axis: friction and the jam.
//!
//! The couple of the drive force F at offset e is carried by side reactions N = F e/b at both ends of the engaged
//! guide length b; their friction 2 mu N adds to the load. So F = load / (1 - 2 mu e/b), and from 2 mu e/b = 1 on no
//! force moves the slider. (Free body with Coulomb friction; bearing makers quote it as the "2:1 rule", b >= e/2 for
//! mu = 0.25.)

/// How near to 1 the ratio counts as locked: far below any real knowledge of a friction coefficient, only there so
/// that rounding in `2 mu e/b` does not turn a lock into a force of 1e16 N.
const ROUNDING: f64 = 1e-12;

/// The ratio 2 mu e/b; the guide locks when it reaches 1.
pub fn ratio(friction: f64, offset_m: f64, length_m: f64) -> f64 {
    let couple = 2.0 * friction * offset_m.abs();
    if couple == 0.0 {
        0.0
    } else if length_m > 0.0 {
        couple / length_m
    } else {
        f64::INFINITY
    }
}

/// Drive force against a load, N; none when the guide locks.
pub fn driven(load_n: f64, ratio: f64) -> Option<f64> {
    (ratio < 1.0 - ROUNDING).then(|| load_n / (1.0 - ratio))
}

/// Force that holds back a load that drives the slider, N. Friction helps to hold, so this never locks.
pub fn held(load_n: f64, ratio: f64) -> f64 {
    if ratio.is_finite() { load_n / (1.0 + ratio) } else { 0.0 }
}
