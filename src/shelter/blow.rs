//! The force between a moving panel and somebody it touches, over time.
//!
//! A spring (the edge) is squeezed by a mass (panel, and the rotor behind a stiff gear) that a motor drives along its straight
//! line of speed and force. With f the force on the edge above what a held load gives by itself, R = k v its rise at the speed of
//! the touch, K = v sqrt(k m) what the mass alone would reach, P the drive's stall press and D its present force:
//!
//! ```text
//! f'' = w^2 (D - f)     D = min(P (1 - f'/R), most)     w = R/K
//! ```
//!
//! Four stages, each with a closed form (the damped and the free oscillator of any text on mechanics):
//!
//! 1. A self-locking gear hides the load that it lowers: the edge takes it over at the full rate, and the motor sees nothing.
//! 2. The motor is slowed down until its own force has risen by the threshold that counts as an obstacle.
//! 3. For the reaction time it goes on, at most to the force that its current limit allows.
//! 4. It is off: what still moves is stopped by the edge, sqrt((f - W)^2 + (K f'/R)^2) + W. W is what the panel presses with by
//!    its weight; 0 behind a self-locking gear, which holds it. No brake is assumed in a gear that does not.
//!
//! A motor that never comes to the threshold goes on to its stall press; a heavy rotor swings beyond it by
//! K exp(-z acos(-z)/sqrt(1 - z^2)), z = P/2K < 1 (the overshoot of the same oscillator). A cord only lets the panel down: the
//! force rises at the full rate up to the weight, and then the panel's own motion comes on top.

/// What drives a panel into somebody. Forces are counted at the point that touches.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Blow {
    /// Rise of the force while nothing slows the panel down, N/s: stiffness times speed.
    pub rate_n_s: f64,
    /// Force that the moving mass reaches by itself, N: speed times the root of stiffness and mass.
    pub kinetic_n: f64,
    /// Force with which the panel presses without any force of its drive, N.
    pub weight_n: f64,
    /// How the drive takes part.
    pub motor: Motor,
    /// Change of the drive's force that counts as an obstacle, N; infinite if nothing does.
    pub threshold_n: f64,
    /// Time from the threshold until the motor has stopped, s.
    pub reaction_s: f64,
}

/// How a drive takes part in a blow.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Motor {
    /// It lets the panel down on something slack: a cord, a curtain.
    LetsDown,
    /// It pushes.
    Pushes {
        /// Press that its stall force adds, N.
        stall_n: f64,
        /// Press that its current limit allows, N.
        most_n: f64,
        /// Whether the weight is hidden from the motor by a self-locking gear.
        hides_weight: bool,
    },
}

/// What comes of a blow.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Met {
    /// Peak force, N.
    pub peak_n: f64,
    /// Time from the touch until the motor has stopped, s; none if the drive does not notice.
    pub felt_after_s: Option<f64>,
}

impl Blow {
    /// Peak force and the time until the motor has stopped.
    pub fn met(&self) -> Met {
        match self.motor {
            Motor::LetsDown => self.let_down(),
            Motor::Pushes { stall_n, most_n, hides_weight } => {
                let hidden = if hides_weight { self.weight_n } else { 0.0 };
                // What a motor that feels the weight presses with contains it.
                let all = |n: f64| if hides_weight { n } else { n + self.weight_n };
                let rest_n = if hides_weight { 0.0 } else { self.weight_n };
                let Met { peak_n, felt_after_s } = self.pushed(all(stall_n), all(most_n).min(all(stall_n)), rest_n);
                let taken_s = if hidden > 0.0 { hidden / self.rate_n_s } else { 0.0 };
                Met { peak_n: hidden + peak_n, felt_after_s: felt_after_s.map(|felt_s| taken_s + felt_s) }
            }
        }
    }

    fn let_down(&self) -> Met {
        let felt = self.threshold_n <= self.weight_n && self.rate_n_s > 0.0;
        let felt_after_s = felt.then(|| self.threshold_n / self.rate_n_s + self.reaction_s);
        let reached = felt_after_s.map_or(f64::INFINITY, |felt_s| self.rate_n_s * felt_s);
        // Until it has given up its whole weight the panel hangs, and stops with its cord.
        let peak_n = if reached < self.weight_n { reached } else { self.weight_n + self.kinetic_n };
        Met { peak_n, felt_after_s }
    }

    /// `rest_n`: what the panel presses with once the motor is off.
    fn pushed(&self, stall_n: f64, most_n: f64, rest_n: f64) -> Met {
        if self.rate_n_s <= 0.0 || self.kinetic_n <= 0.0 {
            return Met { peak_n: most_n, felt_after_s: None };
        }
        let omega = self.rate_n_s / self.kinetic_n;
        let slowed = Swing { from: (0.0, self.rate_n_s), rest: stall_n, omega, zeta: 0.5 * stall_n / self.kinetic_n };
        // The rate at which the drive's force has come to `force`.
        let rate_at = |force: f64| self.rate_n_s * (1.0 - force / stall_n);
        let limited = (most_n < stall_n).then(|| slowed.falls_to(rate_at(most_n)));
        let pushes_on =
            |(at, rate): (f64, f64)| Swing { from: (at, rate), rest: most_n, omega, zeta: 0.0 }.amplitude() + most_n;
        let unfelt_n = limited.map_or_else(|| slowed.peak(), |limit_s| pushes_on(slowed.at(limit_s)));
        if self.threshold_n >= most_n {
            return Met { peak_n: unfelt_n, felt_after_s: None };
        }
        let crossed_s = slowed.falls_to(rate_at(self.threshold_n));
        let felt_s = crossed_s + self.reaction_s;
        let off = match limited.filter(|limit_s| *limit_s < felt_s) {
            Some(limit_s) => {
                let pushed = Swing { from: slowed.at(limit_s), rest: most_n, omega, zeta: 0.0 };
                (felt_s - limit_s < pushed.peaks_after_s()).then(|| pushed.at(felt_s - limit_s))
            }
            None => (felt_s < slowed.peaks_after_s()).then(|| slowed.at(felt_s)),
        };
        // Switched off after the peak, it has changed nothing.
        let peak_n = off.map_or(unfelt_n, |from| rest_n + Swing { from, rest: rest_n, omega, zeta: 0.0 }.amplitude());
        Met { peak_n, felt_after_s: Some(felt_s) }
    }
}

/// An oscillator on its way: x'' + 2 zeta omega x' + omega^2 (x - rest) = 0.
#[derive(Clone, Copy, Debug)]
struct Swing {
    /// Its value and its rate at the beginning; the rate is positive.
    from: (f64, f64),
    rest: f64,
    omega: f64,
    zeta: f64,
}

/// Nearer to critical damping than this the closed forms lose their digits; beside it they differ by as little.
const CRITICAL: f64 = 1e-6;

impl Swing {
    /// Damping, kept off the critical one.
    fn damping(&self) -> f64 {
        if (self.zeta - 1.0).abs() < CRITICAL { 1.0 + CRITICAL } else { self.zeta }
    }

    /// Value and rate after a time.
    fn at(&self, seconds: f64) -> (f64, f64) {
        let (zeta, omega) = (self.damping(), self.omega);
        let (away, rate) = (self.from.0 - self.rest, self.from.1);
        let own = omega * (1.0 - zeta * zeta).abs().sqrt();
        // Cosine and sine, or their hyperbolic kin, with the decay on them.
        let (even, odd) = if zeta < 1.0 {
            let decay = libm::exp(-zeta * omega * seconds);
            (decay * libm::cos(own * seconds), decay * libm::sin(own * seconds))
        } else {
            let fast = zeta * omega + own;
            let (slow, fast) = (libm::exp(-omega * omega / fast * seconds), libm::exp(-fast * seconds));
            (0.5 * (slow + fast), 0.5 * (slow - fast))
        };
        (
            self.rest + away * even + (rate + zeta * omega * away) / own * odd,
            rate * even - (omega * omega * away + zeta * omega * rate) / own * odd,
        )
    }

    /// When its rate has fallen to a smaller one that is not negative, s; infinite if it never does.
    fn falls_to(&self, rate: f64) -> f64 {
        if rate >= self.from.1 {
            return 0.0;
        }
        let mut high = 0.1 / self.omega;
        // A rate that creeps towards zero is given up when doubling has come to where no figure is left.
        for _ in 0..200 {
            if self.at(high).1 <= rate {
                break;
            }
            high *= 2.0;
        }
        let mut low = 0.0;
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if self.at(middle).1 <= rate { high = middle } else { low = middle }
        }
        high
    }

    /// When it turns back, s; infinite if it never does.
    fn peaks_after_s(&self) -> f64 {
        if self.zeta >= 1.0 { f64::INFINITY } else { self.falls_to(0.0) }
    }

    /// How far it swings from its rest if nothing damps it.
    fn amplitude(&self) -> f64 {
        libm::hypot(self.from.0 - self.rest, self.from.1 / self.omega)
    }

    /// Its greatest value if it begins at zero with the rate that its drive would hold: the overshoot beyond its rest.
    fn peak(&self) -> f64 {
        let zeta = self.zeta;
        if zeta >= 1.0 {
            return self.rest;
        }
        let beyond = libm::exp(-zeta * libm::acos(-zeta) / (1.0 - zeta * zeta).sqrt());
        self.rest + self.from.1 / self.omega * beyond
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The same by small steps of the equations of motion.
    fn stepped(blow: &Blow) -> Met {
        let Motor::Pushes { stall_n, most_n, hides_weight } = blow.motor else { panic!("it pushes") };
        let hidden = if hides_weight { blow.weight_n } else { 0.0 };
        let total = |n: f64| if hides_weight { n } else { n + blow.weight_n };
        let (stall, most) = (total(stall_n), total(most_n));
        let omega = blow.rate_n_s / blow.kinetic_n;
        let (mut force, mut rate, mut at, mut off, mut peak) = (0.0_f64, blow.rate_n_s, 0.0, f64::INFINITY, 0.0_f64);
        let step = 2e-5;
        while rate > 1e-3 * blow.rate_n_s || (at < off && off.is_finite()) {
            let drive = |rate: f64| (stall * (1.0 - rate / blow.rate_n_s)).clamp(0.0, most);
            if off.is_infinite() && drive(rate) >= blow.threshold_n {
                off = at + blow.reaction_s;
            }
            // While the edge takes the load over, the motor goes on at its speed.
            let is_on = at < off;
            let push = |force: f64, rate: f64| {
                let held = if hides_weight { 0.0 } else { blow.weight_n };
                let drives = if is_on { drive(rate) } else { held };
                omega * omega * (drives - (force - hidden).max(0.0))
            };
            let middle = (force + 0.5 * step * rate, rate + 0.5 * step * push(force, rate));
            (force, rate) = (force + step * middle.1, rate + step * push(middle.0, middle.1));
            at += step;
            peak = peak.max(force);
            if at > 60.0 {
                break;
            }
        }
        Met { peak_n: peak, felt_after_s: off.is_finite().then_some(off) }
    }

    const ROTOR: Blow = Blow {
        rate_n_s: 360.0,
        kinetic_n: 93.0,
        weight_n: 15.0,
        motor: Motor::Pushes { stall_n: 600.0, most_n: 469.0, hides_weight: true },
        threshold_n: 60.0,
        reaction_s: 0.1,
    };

    fn blows() -> Vec<Blow> {
        let mut all = Vec::new();
        for (kinetic_n, stall_n, share) in
            [(93.0, 600.0, 0.8), (93.0, 100.0, 1.0), (200.0, 60.0, 0.7), (10.0, 300.0, 1.0), (50.0, 100.0, 1.0)]
        {
            for threshold_n in [5.0, 40.0, 90.0, 450.0, 5_000.0] {
                for (reaction_s, hides_weight) in [(0.0, true), (0.1, false), (2.0, true)] {
                    let motor = Motor::Pushes { stall_n, most_n: share * stall_n, hides_weight };
                    all.push(Blow { kinetic_n, motor, threshold_n, reaction_s, ..ROTOR });
                }
            }
        }
        all
    }

    #[test]
    fn as_small_steps_have_it() {
        for blow in blows() {
            let (met, steps) = (blow.met(), stepped(&blow));
            assert!((met.peak_n - steps.peak_n).abs() < 2e-3 * steps.peak_n, "{blow:?}: {met:?} {steps:?}");
            match (met.felt_after_s, steps.felt_after_s) {
                (Some(a), Some(b)) => assert!((a - b).abs() < 2e-3 * (1.0 + b), "{blow:?}: {a} {b}"),
                (a, b) => assert_eq!(a.is_some(), b.is_some(), "{blow:?}"),
            }
        }
    }

    /// Nothing that the drive notices is gentler than its threshold, and nothing is harder than what an unnoticed blow comes to.
    #[test]
    fn between_threshold_and_press() {
        let at = |threshold_n: f64| Blow { threshold_n, ..ROTOR }.met();
        let unfelt = at(5_000.0);
        // The press of 469 N and the weight of 15 N, and a little swing.
        assert!(unfelt.felt_after_s.is_none() && unfelt.peak_n > 484.0 && unfelt.peak_n < 484.0 + 93.0, "{unfelt:?}");
        let mut before = Met { peak_n: 0.0, felt_after_s: Some(0.0) };
        for threshold_n in [1.0, 20.0, 60.0, 150.0, 300.0, 460.0] {
            let met = at(threshold_n);
            assert!(met.peak_n >= threshold_n + 15.0 && met.peak_n <= unfelt.peak_n + 1e-9, "{threshold_n}: {met:?}");
            assert!(met.peak_n > before.peak_n && met.felt_after_s > before.felt_after_s, "{threshold_n}: {met:?}");
            before = met;
        }
    }

    /// A motor far too weak to matter leaves the mass on its spring; a mass too light to matter leaves the drive.
    #[test]
    fn its_ends() {
        let weak = Motor::Pushes { stall_n: 1e-6, most_n: 1e-6, hides_weight: true };
        let free = Blow { weight_n: 0.0, motor: weak, ..ROTOR }.met();
        assert!((free.peak_n - 93.0).abs() < 1e-3, "{free:?}");
        let light = Blow { kinetic_n: 1e-3, weight_n: 0.0, ..ROTOR };
        // R for 0.1 s on top of the threshold, a little slowed down: P (1 - exp(-R t/P)) from the threshold on.
        let by_hand = 600.0 - 540.0 * libm::exp(-36.0 / 600.0);
        assert!((light.met().peak_n - by_hand).abs() < 1e-2, "{:?} {by_hand}", light.met());
        let crossed_s = 600.0 / 360.0 * libm::log(600.0 / 540.0);
        assert!((light.met().felt_after_s.expect("felt") - crossed_s - 0.1).abs() < 1e-4);
    }

    /// Switched off, a gear that does not lock lets the panel press with all its weight, and swing beyond it: a heavy panel is no
    /// gentler for a worse gear.
    #[test]
    fn a_gear_that_does_not_lock_does_not_hold_the_panel() {
        let of = |hides_weight| {
            let motor = Motor::Pushes { stall_n: 600.0, most_n: 469.0, hides_weight };
            Blow { weight_n: 294.0, threshold_n: 10.0, motor, ..ROTOR }.met()
        };
        let (locks, falls) = (of(true), of(false));
        assert!(falls.peak_n > 294.0 && falls.peak_n > 0.9 * locks.peak_n, "{falls:?} against {locks:?}");
    }

    /// On a cord nothing presses harder than the weight, and the panel's own motion.
    #[test]
    fn on_a_cord() {
        let cord = Blow { motor: Motor::LetsDown, weight_n: 50.0, kinetic_n: 8.0, threshold_n: 20.0, ..ROTOR };
        let hangs = Blow { reaction_s: 0.05, ..cord }.met();
        assert!((hangs.peak_n - 38.0).abs() < 1e-9 && hangs.felt_after_s == Some(20.0 / 360.0 + 0.05), "{hangs:?}");
        let lies = Blow { reaction_s: 0.2, ..cord }.met();
        assert!((lies.peak_n - 58.0).abs() < 1e-9 && lies.felt_after_s.is_some(), "{lies:?}");
        let unfelt = Blow { threshold_n: 60.0, ..cord }.met();
        assert!(unfelt.felt_after_s.is_none() && (unfelt.peak_n - 58.0).abs() < 1e-9, "{unfelt:?}");
    }
}
