//! Heat of the motor: two masses, winding and housing.
//!
//! ```text
//! Cw dTw/dt = I^2 R20 (1 + a (Tw - 20)) - (Tw - Th)/Rwh
//! Ch dTh/dt = (Tw - Th)/Rwh + P_friction - (Th - Ta)/Rha
//! ```
//!
//! (Standard two-body network of motor makers' application notes; a = 0.00393/K for copper.) At constant current
//! this is linear, so a stretch of any length is one exact step with the matrix exponential: no time step, no step
//! error. A winding's time constant is seconds, the housing's is many minutes: averaging over the duty rating's ten
//! minutes misses the peak, which is why both are tracked.

use crate::scenario::door::Heat;

/// Temperature coefficient of copper's resistance at 20 degC, 1/K (handbook value, from memory).
pub const COPPER_PER_K: f64 = 0.003_93;

/// Bisection ends when the bracket is this short relative to the time itself: far below a microsecond per hour.
const BISECTIONS: usize = 64;

/// What heats during a stretch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Heating {
    /// Current (root mean square), A.
    pub current_a: f64,
    /// Resistance of the winding at 20 degC, ohm.
    pub resistance_20_ohm: f64,
    /// Friction heat into the housing, W.
    pub housing_w: f64,
}

impl Heating {
    /// The motor is off.
    pub const OFF: Heating = Heating { current_a: 0.0, resistance_20_ohm: 0.0, housing_w: 0.0 };
}

/// Temperatures of the motor and the state of its cut-out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Winding {
    /// Winding, degC.
    pub winding_c: f64,
    /// Housing, degC.
    pub housing_c: f64,
    /// Whether the thermal cut-out is open.
    pub tripped: bool,
}

/// What happened while power was on demand with the cut-out at work.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Run {
    /// Time with current, s.
    pub on_s: f64,
    /// Times the cut-out opened.
    pub trips: u32,
    /// Highest winding temperature, degC.
    pub peak_c: f64,
}

impl Winding {
    /// A rested motor at ambient temperature.
    pub fn rested(ambient_c: f64) -> Winding {
        Winding { winding_c: ambient_c, housing_c: ambient_c, tripped: false }
    }

    /// Goes on for `span_s` and returns the highest winding temperature on the way, degC. The cut-out is not operated;
    /// see [`Winding::time_until_above`] and [`Winding::settle`].
    pub fn advance(&mut self, heat: &Heat, heating: &Heating, span_s: f64, ambient_c: f64) -> f64 {
        let motion = Motion::new(self, heat, heating, ambient_c);
        let mut peak = self.winding_c;
        if let Some(turn) = motion.turning_point_s().filter(|&turn| turn < span_s) {
            peak = peak.max(motion.at(turn).0);
        }
        (self.winding_c, self.housing_c) = motion.at(span_s.max(0.0));
        peak.max(self.winding_c)
    }

    /// Opens the cut-out at or above its trip temperature, closes it at or below its reset temperature; returns whether
    /// it opened.
    pub fn settle(&mut self, heat: &Heat) -> bool {
        // The instant of a crossing comes from a bisection, so the temperature there may miss the level by rounding.
        let hair = 1e-6;
        if self.tripped {
            self.tripped = self.winding_c > heat.resets_at_c + hair;
            return false;
        }
        self.tripped = self.winding_c >= heat.trips_at_c - hair;
        self.tripped
    }

    /// Time until the winding reaches `limit_c` from below under constant heating, s; none if that takes longer than
    /// `within_s`.
    pub fn time_until_above(
        &self,
        heat: &Heat,
        heating: &Heating,
        limit_c: f64,
        ambient_c: f64,
        within_s: f64,
    ) -> Option<f64> {
        let motion = Motion::new(self, heat, heating, ambient_c);
        motion.first(|temperature| temperature >= limit_c, within_s)
    }

    /// Time until the unheated winding has cooled to `limit_c`, s; none if the air is not colder than that.
    pub fn time_until_below(&self, heat: &Heat, limit_c: f64, ambient_c: f64) -> Option<f64> {
        if self.winding_c <= limit_c {
            return Some(0.0);
        }
        if ambient_c >= limit_c {
            return None;
        }
        let motion = Motion::new(self, heat, &Heating::OFF, ambient_c);
        // Without current both rates are negative and the slower one decides: double its time until it is enough.
        let mut horizon = 1.0 / -motion.rates.0;
        for _ in 0..64 {
            if let Some(time) = motion.first(|temperature| temperature <= limit_c, horizon) {
                return Some(time);
            }
            horizon *= 2.0;
        }
        None
    }

    /// Goes on for `span_s` with power on demand: the cut-out takes it away at its trip temperature and gives it back
    /// at its reset temperature.
    pub fn run(&mut self, heat: &Heat, heating: &Heating, span_s: f64, ambient_c: f64) -> Run {
        let mut run = Run { on_s: 0.0, trips: 0, peak_c: self.winding_c };
        let mut left_s = span_s;
        while left_s > 0.0 {
            let (applied, change_s) = if self.tripped {
                (Heating::OFF, self.time_until_below(heat, heat.resets_at_c, ambient_c))
            } else {
                (*heating, self.time_until_above(heat, heating, heat.trips_at_c, ambient_c, left_s))
            };
            let step_s = change_s.map_or(left_s, |change| change.min(left_s));
            run.peak_c = run.peak_c.max(self.advance(heat, &applied, step_s, ambient_c));
            run.on_s += if self.tripped { 0.0 } else { step_s };
            run.trips += u32::from(self.settle(heat));
            left_s -= step_s;
            if step_s <= 0.0 && change_s.is_none_or(|change| change > 0.0) {
                break;
            }
        }
        run
    }

    /// Goes on for `span_s` without current, the cut-out closing when it has cooled.
    pub fn rest(&mut self, heat: &Heat, span_s: f64, ambient_c: f64) {
        let closes = self.tripped.then(|| self.time_until_below(heat, heat.resets_at_c, ambient_c)).flatten();
        self.advance(heat, &Heating::OFF, span_s, ambient_c);
        if closes.is_some_and(|time| time <= span_s) {
            self.tripped = false;
        }
    }
}

/// The exact solution of one stretch: x(t) = x0 + integral of exp(A s) g ds with g = A x0 + b, and
/// exp(A s) by Sylvester's formula. The two rates are real and distinct, because the off-diagonal terms of A are
/// positive.
struct Motion {
    start: (f64, f64),
    /// Initial rate of change split into the two modes: (winding, housing) for each.
    modes: [(f64, f64); 2],
    /// Rates of the two modes, 1/s, the larger first.
    rates: (f64, f64),
}

impl Motion {
    fn new(from: &Winding, heat: &Heat, heating: &Heating, ambient_c: f64) -> Motion {
        let loss_w = heating.current_a * heating.current_a * heating.resistance_20_ohm;
        let (to_housing, to_air) = (1.0 / heat.winding_housing_k_w, 1.0 / heat.housing_air_k_w);
        let a11 = (loss_w * COPPER_PER_K - to_housing) / heat.winding_j_k;
        let a12 = to_housing / heat.winding_j_k;
        let a21 = to_housing / heat.housing_j_k;
        let a22 = -(to_housing + to_air) / heat.housing_j_k;
        // From the temperatures themselves, so that a motor at rest in still air stays exactly as it is.
        let flow = (from.winding_c - from.housing_c) * to_housing;
        let winding_w = loss_w * (1.0 + COPPER_PER_K * (from.winding_c - 20.0)) - flow;
        let housing_w = flow + heating.housing_w - (from.housing_c - ambient_c) * to_air;
        let g = (winding_w / heat.winding_j_k, housing_w / heat.housing_j_k);
        let half = 0.5 * (a11 - a22);
        let root = (half * half + a12 * a21).sqrt();
        let middle = 0.5 * (a11 + a22);
        let (l1, l2) = (middle + root, middle - root);
        let split = |other: f64| ((a11 - other) * g.0 + a12 * g.1, a21 * g.0 + (a22 - other) * g.1);
        let (one, two) = (split(l2), split(l1));
        let gap = l1 - l2;
        Motion {
            start: (from.winding_c, from.housing_c),
            modes: [(one.0 / gap, one.1 / gap), (-two.0 / gap, -two.1 / gap)],
            rates: (l1, l2),
        }
    }

    /// Winding and housing temperature after `time_s`.
    fn at(&self, time_s: f64) -> (f64, f64) {
        let (one, two) = (grown(self.rates.0, time_s), grown(self.rates.1, time_s));
        (
            self.start.0 + self.modes[0].0 * one + self.modes[1].0 * two,
            self.start.1 + self.modes[0].1 * one + self.modes[1].1 * two,
        )
    }

    /// When the winding temperature turns, s; two modes turn at most once.
    fn turning_point_s(&self) -> Option<f64> {
        let ratio = -self.modes[1].0 / self.modes[0].0;
        let time = libm::log(ratio) / (self.rates.0 - self.rates.1);
        (ratio > 0.0 && time > 0.0 && time.is_finite()).then_some(time)
    }

    /// The first moment up to `within_s` at which the winding temperature satisfies `there`, which must be a level's
    /// one side: found on each monotone piece by bisection.
    fn first(&self, there: impl Fn(f64) -> bool, within_s: f64) -> Option<f64> {
        if there(self.start.0) {
            return Some(0.0);
        }
        let turn = self.turning_point_s().filter(|&turn| turn < within_s);
        let mut before = 0.0;
        for end in turn.into_iter().chain([within_s]) {
            if there(self.at(end).0) {
                return Some(bisect(before, end, |time| there(self.at(time).0)));
            }
            before = end;
        }
        None
    }
}

/// Integral of exp(rate s) over 0..time. The exponent is capped where a runaway has long burnt everything, so that no
/// infinity meets a zero.
fn grown(rate: f64, time_s: f64) -> f64 {
    let exponent = (rate * time_s).min(600.0);
    if exponent == 0.0 { time_s } else { time_s * (libm::expm1(exponent) / exponent) }
}

/// The end of the bracket where `there` holds, after bisection.
fn bisect(mut low: f64, mut high: f64, there: impl Fn(f64) -> bool) -> f64 {
    for _ in 0..BISECTIONS {
        let middle = 0.5 * (low + high);
        if there(middle) {
            high = middle;
        } else {
            low = middle;
        }
    }
    high
}

/// Time for a winding to heat from `from_c` to `to_c` at constant current without losing heat, s.
pub fn adiabatic_time_constant_current_s(
    winding_j_k: f64,
    resistance_20_ohm: f64,
    current_a: f64,
    from_c: f64,
    to_c: f64,
) -> f64 {
    let factor = |temperature: f64| 1.0 + COPPER_PER_K * (temperature - 20.0);
    winding_j_k / (current_a * current_a * resistance_20_ohm * COPPER_PER_K) * libm::log(factor(to_c) / factor(from_c))
}

/// Time for a winding to heat from `from_c` to `to_c` at standstill and constant voltage without losing heat, s: the
/// current falls as the resistance rises.
pub fn adiabatic_time_constant_voltage_s(
    winding_j_k: f64,
    resistance_20_ohm: f64,
    voltage_v: f64,
    from_c: f64,
    to_c: f64,
) -> f64 {
    let (from, to) = (from_c - 20.0, to_c - 20.0);
    winding_j_k * resistance_20_ohm / (voltage_v * voltage_v)
        * ((to - from) + 0.5 * COPPER_PER_K * (to * to - from * from))
}

/// Current above which a constant current has no steady temperature, A, 1/sqrt(a R20 (Rwh + Rha)).
pub fn runaway_current_a(heat: &Heat, resistance_20_ohm: f64) -> f64 {
    1.0 / (COPPER_PER_K * resistance_20_ohm * (heat.winding_housing_k_w + heat.housing_air_k_w)).sqrt()
}
