//! The law of one reading: what a sensor says when asked once, given everything outside its noise.
//!
//! A reading is nothing (a dropped sample, an echo inside the blind zone), "far" (a ranger that sees no target) or a
//! number. Its law is a mixture of at most two Gaussian targets, a spurious short return, "far" and nothing; the
//! noise of successive samples is independent given the conditions. Quantisation rounds to the nearest step.
//!
//! Shortcuts ask three questions of a law: how likely is a *boring* reading (one that no detector reacts to), a
//! reading given that it is boring, and a reading given that it is not. All three are exact.

mod values;
pub mod wide;

use super::noise::Quiet;
use crate::math::normal;
use crate::math::random::Stream;

/// What a sensor says once.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Reading {
    /// No reading at all.
    Nothing,
    /// A number; rangers say `f64::INFINITY` when they see no target.
    Value(f64),
}

/// A target with Gaussian noise.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Target {
    /// Probability of reading this target.
    pub weight: f64,
    /// Mean reading, errors included.
    pub mean: f64,
    /// Standard deviation; 0 for an exact reading.
    pub sigma: f64,
}

/// Short return from something that is not there: exponential beyond `low`, cut at `high`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spurious {
    /// Probability.
    pub weight: f64,
    /// Nearest reading.
    pub low: f64,
    /// Farthest reading.
    pub high: f64,
}

/// Length scale of spurious short returns, m (common practice: drops and insects are seen close to the window).
pub const SPURIOUS_SCALE_M: f64 = 0.25;

/// The law of one reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Law {
    /// Gaussian targets; unused ones have weight 0.
    pub targets: [Target; 2],
    /// Spurious short return.
    pub spurious: Spurious,
    /// Probability of "far".
    pub far: f64,
    /// Step between readings, 0 for a continuous reading.
    pub resolution: f64,
    /// Readings below this are nothing (the blind zone of a ranger).
    pub lowest: f64,
    /// Readings above this are "far" (beyond the range of a ranger).
    pub highest: f64,
}

/// The readings that no detector reacts to: the values from `low` to `high`, both ends excluded or included as
/// said, and possibly nothing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Boring {
    /// Lower end.
    pub low: f64,
    /// Whether a reading equal to `low` is boring.
    pub low_included: bool,
    /// Upper end.
    pub high: f64,
    /// Whether a reading equal to `high` is boring.
    pub high_included: bool,
    /// Whether nothing is boring.
    pub nothing: bool,
}

impl Boring {
    /// Everything is boring.
    pub const EVERYTHING: Boring =
        Boring { low: f64::NEG_INFINITY, low_included: true, high: f64::INFINITY, high_included: true, nothing: true };

    /// Whether this reading is boring.
    pub fn contains(&self, reading: Reading) -> bool {
        match reading {
            Reading::Nothing => self.nothing,
            Reading::Value(value) => {
                (value > self.low || (self.low_included && value == self.low))
                    && (value < self.high || (self.high_included && value == self.high))
            }
        }
    }

    /// Readings boring to both.
    pub fn and(self, other: Boring) -> Boring {
        let (low, low_included) = if self.low == other.low {
            (self.low, self.low_included && other.low_included)
        } else if self.low > other.low {
            (self.low, self.low_included)
        } else {
            (other.low, other.low_included)
        };
        let (high, high_included) = if self.high == other.high {
            (self.high, self.high_included && other.high_included)
        } else if self.high < other.high {
            (self.high, self.high_included)
        } else {
            (other.high, other.high_included)
        };
        Boring { low, low_included, high, high_included, nothing: self.nothing && other.nothing }
    }
}

/// Raw values at which a reading changes its kind: below `lowest` lies the blind zone, from `highest` on "far", from `from`
/// to `to` what is boring.
#[derive(Clone, Copy)]
struct Edges {
    lowest: f64,
    highest: f64,
    from: f64,
    to: f64,
}

/// A detector level as the sensor's grid writes it: levels on the grid (up to rounding error) become the very
/// number that a reading on that grid point has, so that comparing them is exact. Other levels stay.
pub fn snap(level: f64, resolution: f64) -> f64 {
    if resolution <= 0.0 || !level.is_finite() {
        return level;
    }
    let steps = level / resolution;
    let nearest = steps.round();
    if libm::fabs(steps - nearest) < 1e-9 * libm::fmax(1.0, libm::fabs(steps)) { resolution * nearest } else { level }
}

impl Law {
    /// A law that always says nothing.
    pub const SILENT: Law = Law {
        targets: [Target { weight: 0.0, mean: 0.0, sigma: 0.0 }; 2],
        spurious: Spurious { weight: 0.0, low: 0.0, high: 0.0 },
        far: 0.0,
        resolution: 0.0,
        lowest: f64::NEG_INFINITY,
        highest: f64::INFINITY,
    };

    /// A law that says `value`, but nothing with probability `dropout`. Infinity is "far", which is no target: no interval
    /// of raw values holds it.
    pub fn exact(value: f64, dropout: f64) -> Law {
        let mut law = Law::SILENT;
        if value == f64::INFINITY {
            law.far = 1.0 - dropout;
            return law;
        }
        law.targets[0] = Target { weight: 1.0 - dropout, mean: value, sigma: 0.0 };
        law
    }

    /// The law given the noise of this sample, in standard deviations.
    pub fn at_noise(&self, value: f64) -> Law {
        let given = |target: Target| Target { mean: target.mean + target.sigma * value, sigma: 0.0, ..target };
        Law { targets: self.targets.map(given), ..*self }
    }

    /// The values of the noise, in standard deviations, at which every target that may be read reads something boring, as
    /// one interval (there may be more such values beyond it); none if there is no such interval.
    pub fn quiet_noise(&self, boring: &Boring) -> Option<Quiet> {
        let (from, to) = self.boring_raw(boring);
        // Nearer than the blind zone nothing is read, beyond the range "far" is.
        let from = if boring.nothing && from <= self.raw_lower(self.lowest, true) { f64::NEG_INFINITY } else { from };
        let far_boring = boring.high_included && boring.high == f64::INFINITY;
        let to = if far_boring && to >= self.raw_upper(self.highest, true) { f64::INFINITY } else { to };
        let mut quiet = Quiet { low: f64::NEG_INFINITY, high: f64::INFINITY };
        for target in self.targets.iter().filter(|target| target.weight > 0.0) {
            if target.sigma > 0.0 {
                quiet.low = quiet.low.max((from - target.mean) / target.sigma);
                quiet.high = quiet.high.min((to - target.mean) / target.sigma);
            } else if target.mean < from || target.mean >= to {
                return None;
            }
        }
        (from < to && quiet.low < quiet.high).then_some(quiet)
    }

    /// The values of the noise, in standard deviations, at which a target's reading passes from one side of `level` to the
    /// other (see [`Law::split`]), into the blind zone or out of range.
    pub fn noise_cuts(&self, level: f64, included: bool) -> Vec<f64> {
        let cut = if included { self.raw_lower(level, false) } else { self.raw_upper(level, false) };
        let ends = [self.raw_lower(self.lowest, true), cut, self.raw_upper(self.highest, true)];
        let targets = self.targets.iter().filter(|target| target.weight > 0.0 && target.sigma > 0.0);
        targets
            .flat_map(|target| ends.map(|end| (end - target.mean) / target.sigma))
            .filter(|cut| cut.is_finite())
            .collect()
    }

    /// The law with every target read as something boring: what is interesting does not come from the noise. Only for
    /// laws with a quiet interval ([`Law::quiet_noise`]).
    pub fn without_noise(&self, boring: &Boring) -> Law {
        let (from, to) = self.boring_raw(boring);
        let mean = match (from.is_finite(), to.is_finite()) {
            (true, true) => 0.5 * (from + to),
            (true, false) => from + 1.0,
            (false, true) => to - 1.0,
            (false, false) => 0.0,
        };
        let [first, second] = self.targets;
        let boring = Target { weight: first.weight + second.weight, mean, sigma: 0.0 };
        Law { targets: [boring, Target { weight: 0.0, ..second }], ..*self }
    }

    /// Draws one reading.
    pub fn draw(&self, stream: &mut Stream) -> Reading {
        let mut u = stream.uniform();
        for target in &self.targets {
            if u < target.weight {
                let noise = if target.sigma > 0.0 { target.sigma * stream.normal() } else { 0.0 };
                return self.report(target.mean + noise);
            }
            u -= target.weight;
        }
        if u < self.spurious.weight {
            return self.report(self.spurious_at(stream.uniform()));
        }
        u -= self.spurious.weight;
        if u < self.far { Reading::Value(f64::INFINITY) } else { Reading::Nothing }
    }

    /// Quantises and applies blind zone and range.
    pub(super) fn report(&self, raw: f64) -> Reading {
        let value = if self.resolution > 0.0 { self.resolution * (raw / self.resolution + 0.5).floor() } else { raw };
        if value < self.lowest {
            Reading::Nothing
        } else if value > self.highest {
            Reading::Value(f64::INFINITY)
        } else {
            Reading::Value(value)
        }
    }

    /// The raw values that are reported as a value within [lowest, highest] and in the boring interval:
    /// half-open [from, to). Rounding to a grid makes every such set an interval whose ends lie half-way between
    /// grid points; without a grid the ends are the interval's own (a single point has no probability).
    pub(super) fn boring_raw(&self, boring: &Boring) -> (f64, f64) {
        let Edges { from, to, .. } = self.edges(boring);
        (from, to)
    }

    fn edges(&self, boring: &Boring) -> Edges {
        let lowest = self.raw_lower(self.lowest, true);
        let highest = self.raw_upper(self.highest, true);
        let from = self.raw_lower(boring.low, boring.low_included).max(lowest);
        let to = self.raw_upper(boring.high, boring.high_included).min(highest);
        Edges { lowest, highest, from, to }
    }

    /// The same, with the interval at the far end where nothing is boring.
    fn edges_of_boring(&self, boring: &Boring) -> Edges {
        let edges = self.edges(boring);
        if edges.from < edges.to { edges } else { Edges { from: edges.highest, to: edges.highest, ..edges } }
    }

    fn raw_lower(&self, value: f64, included: bool) -> f64 {
        let q = self.resolution;
        if q <= 0.0 || value.is_infinite() {
            return if !included && q <= 0.0 { value.next_up() } else { value };
        }
        let steps = value / q;
        let nearest = steps.round();
        // A level that lies on the grid up to rounding error counts as lying on it.
        let on_grid = libm::fabs(steps - nearest) < 1e-9 * libm::fmax(1.0, libm::fabs(steps));
        let first = if on_grid { nearest + if included { 0.0 } else { 1.0 } } else { steps.ceil() };
        q * (first - 0.5)
    }

    fn raw_upper(&self, value: f64, included: bool) -> f64 {
        let q = self.resolution;
        if q <= 0.0 || value.is_infinite() {
            return if included && q <= 0.0 && value.is_finite() { value.next_up() } else { value };
        }
        let steps = value / q;
        let nearest = steps.round();
        let on_grid = libm::fabs(steps - nearest) < 1e-9 * libm::fmax(1.0, libm::fabs(steps));
        let last = if on_grid { nearest - if included { 0.0 } else { 1.0 } } else { steps.floor() };
        q * (last + 0.5)
    }

    /// Raw values between which one is reported as one of these values, on a sensor with steps of `resolution`: half-open, whatever its
    /// blind zone and range are.
    pub(super) fn raw_values(readings: &Boring, resolution: f64) -> (f64, f64) {
        let law = Law { resolution, ..Law::SILENT };
        (law.raw_lower(readings.low, readings.low_included), law.raw_upper(readings.high, readings.high_included))
    }

    /// Raw values between which one is reported at all: half-open.
    pub(super) fn raw_range(&self) -> (f64, f64) {
        (self.raw_lower(self.lowest, true), self.raw_upper(self.highest, true))
    }

    /// Adds the probability of a target at a raw value in each of these half-open stretches to where it belongs: accurate where it is
    /// tiny, but noise beyond [`NO_NOISE`] is left out. A stretch that begins where the one before it ends costs half.
    pub(super) fn add_noise_between(
        &self,
        stretches: impl Iterator<Item = ((f64, f64), usize)> + Clone,
        into: &mut [f64],
    ) {
        let (lowest, highest) = self.raw_range();
        let seen = stretches.map(|((from, to), place)| (from.max(lowest), to.min(highest), place));
        let seen = seen.filter(|(from, to, _)| to > from);
        for target in self.targets.iter().filter(|target| target.weight > 0.0) {
            if target.sigma <= 0.0 {
                seen.clone().for_each(|(from, to, place)| into[place] += target.weight * target.between(from, to));
                continue;
            }
            // The last end, on the right side of the mean the tail beyond it and on the left what lies before it.
            let (mut end, mut beyond_end) = (f64::NAN, 0.0);
            for (from, to, place) in seen.clone() {
                let [a, b] = [from, to].map(|raw| (raw - target.mean) / target.sigma);
                if a > NO_NOISE || b < -NO_NOISE {
                    continue;
                }
                let side = |z: f64| if a > 0.0 { normal::tail(z) } else { normal::cdf(z) };
                let known = from == end && (a > 0.0 || b <= 0.0);
                let [at_a, at_b] = [if known { beyond_end } else { side(a) }, side(b)];
                into[place] += target.weight * libm::fabs(at_b - at_a);
                // The next one asks on the other side if this one holds the mean.
                (end, beyond_end) = (if a > 0.0 || b <= 0.0 { to } else { f64::NAN }, at_b);
            }
        }
    }

    /// Probability of "far", values beyond the range among it.
    pub(super) fn far_probability(&self) -> f64 {
        self.far + self.beyond(self.raw_range().1, f64::INFINITY)
    }

    /// Probability that a reading is boring, summed from its parts (each part accurate in the tails).
    pub fn boring_probability(&self, boring: &Boring) -> f64 {
        1.0 - self.interesting_probability(boring)
    }

    /// Probability that a reading is not boring; accurate when it is tiny.
    pub fn interesting_probability(&self, boring: &Boring) -> f64 {
        let parts = self.interesting_parts(boring);
        parts.iter().sum::<f64>().clamp(0.0, 1.0)
    }

    /// Weights of the interesting outcomes: for each target (low side, high side), spurious (low, high), far,
    /// nothing. Outcomes outside the blind zone or range belong to `nothing` and `far`.
    fn interesting_parts(&self, boring: &Boring) -> [f64; 8] {
        let mut parts = [0.0; 8];
        let far_boring = boring.high_included && boring.high == f64::INFINITY;
        let Edges { lowest, highest, from, to } = self.edges_of_boring(boring);
        for (index, target) in self.targets.iter().enumerate() {
            if target.weight <= 0.0 {
                continue;
            }
            parts[2 * index] = target.weight * target.between(lowest, from);
            parts[2 * index + 1] = target.weight * target.between(to, highest);
        }
        if self.spurious.weight > 0.0 {
            parts[4] = self.spurious.weight * self.spurious_between(lowest, from);
            parts[5] = self.spurious.weight * self.spurious_between(to, highest);
        }
        // Tails are only worked out where they count.
        if !far_boring {
            parts[6] = self.far + self.beyond(highest, f64::INFINITY);
        }
        if !boring.nothing {
            parts[7] = self.nothing_weight() + self.beyond(f64::NEG_INFINITY, lowest);
        }
        parts
    }

    /// Probability of a raw value in [from, to).
    fn beyond(&self, from: f64, to: f64) -> f64 {
        let targets = self.targets.iter().filter(|target| target.weight > 0.0);
        let mut sum: f64 = targets.map(|target| target.weight * target.between(from, to)).sum();
        if self.spurious.weight > 0.0 {
            sum += self.spurious.weight * self.spurious_between(from, to);
        }
        sum
    }

    /// The likeliest outcome without its noise, and the standard deviation about it: a target's mean, infinity for "far", not
    /// a number for nothing. Spurious returns don't count, the nearer target wins a tie.
    pub fn likeliest(&self) -> (f64, f64) {
        let mut best = (self.nothing_weight(), (f64::NAN, 0.0));
        for (weight, outcome) in [
            (self.far, (f64::INFINITY, 0.0)),
            (self.targets[1].weight, (self.targets[1].mean, self.targets[1].sigma)),
            (self.targets[0].weight, (self.targets[0].mean, self.targets[0].sigma)),
        ] {
            if weight > 0.0 && weight >= best.0 {
                best = (weight, outcome);
            }
        }
        let (mean, sigma) = best.1;
        if mean < self.lowest {
            (f64::NAN, 0.0)
        } else if mean > self.highest {
            (f64::INFINITY, 0.0)
        } else {
            (mean, sigma)
        }
    }

    /// Probability of nothing, the blind zone not counted.
    pub fn nothing_weight(&self) -> f64 {
        (1.0 - self.targets[0].weight - self.targets[1].weight - self.spurious.weight - self.far).max(0.0)
    }

    /// Probabilities of a value on the lower side of `level`, of one on its upper side ("far" among them), and of nothing,
    /// each accurate by itself. The level belongs to the lower side if `included` says so, otherwise to the upper one.
    pub fn split(&self, level: f64, included: bool) -> (f64, f64, f64) {
        let lowest = self.raw_lower(self.lowest, true);
        let highest = self.raw_upper(self.highest, true);
        let cut = if included { self.raw_lower(level, false) } else { self.raw_upper(level, false) };
        let far_below = included && level == f64::INFINITY;
        let cut = cut.clamp(lowest, highest.max(lowest));
        let (mut below, mut above, mut nothing, mut far) = (0.0, 0.0, self.nothing_weight(), self.far);
        for target in self.targets.iter().filter(|target| target.weight > 0.0) {
            let (lower, upper) = target.sides(lowest, cut, highest);
            below += target.weight * lower;
            above += target.weight * upper;
            nothing += target.weight * target.between(f64::NEG_INFINITY, lowest);
            far += target.weight * target.between(highest, f64::INFINITY);
        }
        if self.spurious.weight > 0.0 {
            let [at_lowest, at_cut, at_highest] = [lowest, cut, highest].map(|x| self.spurious_cdf(x));
            below += self.spurious.weight * (at_cut - at_lowest);
            above += self.spurious.weight * (at_highest - at_cut);
            nothing += self.spurious.weight * at_lowest;
            far += self.spurious.weight * (1.0 - at_highest);
        }
        if far_below { (below + far, above, nothing) } else { (below, above + far, nothing) }
    }

    /// Probability of nothing, the blind zone included.
    pub fn nothing_probability(&self) -> f64 {
        self.nothing_weight() + self.beyond(f64::NEG_INFINITY, self.raw_lower(self.lowest, true))
    }

    /// Draws a reading given that it is not boring.
    ///
    /// # Panics
    /// If no interesting reading is possible: asking for one is a bug of the caller.
    pub fn draw_interesting(&self, boring: &Boring, stream: &mut Stream) -> Reading {
        let parts = self.interesting_parts(boring);
        let total: f64 = parts.iter().sum();
        assert!(total > 0.0, "an interesting reading was asked for where none is possible");
        let Edges { lowest, highest, from, to } = self.edges_of_boring(boring);
        let mut u = stream.uniform() * total;
        let mut chosen = 7;
        for (index, part) in parts.iter().enumerate() {
            if *part > 0.0 {
                chosen = index;
                if u < *part {
                    break;
                }
                u -= part;
            }
        }
        match chosen {
            0 | 2 => self.report(self.targets[chosen / 2].draw_between(lowest, from, stream)),
            1 | 3 => self.report(self.targets[chosen / 2].draw_between(to, highest, stream)),
            4 => self.report(self.draw_spurious_between(lowest, from, stream)),
            5 => self.report(self.draw_spurious_between(to, highest, stream)),
            6 => Reading::Value(f64::INFINITY),
            _ => Reading::Nothing,
        }
    }

    /// Draws a reading given that it is boring, by rejection: callers only ask where boring readings are common.
    pub fn draw_boring(&self, boring: &Boring, stream: &mut Stream) -> Reading {
        loop {
            let reading = self.draw(stream);
            if boring.contains(reading) {
                return reading;
            }
        }
    }

    fn spurious_cdf(&self, x: f64) -> f64 {
        let Spurious { low, high, .. } = self.spurious;
        if x <= low {
            0.0
        } else if x >= high {
            1.0
        } else {
            self.spurious.gone_by(x) / self.spurious.gone_by(high)
        }
    }

    fn spurious_at(&self, cdf: f64) -> f64 {
        let Spurious { low, high, .. } = self.spurious;
        let full = libm::expm1(-(high - low) / SPURIOUS_SCALE_M);
        low - SPURIOUS_SCALE_M * libm::log1p(cdf * full)
    }

    pub(super) fn spurious_between(&self, from: f64, to: f64) -> f64 {
        if to > from { self.spurious_cdf(to) - self.spurious_cdf(from) } else { 0.0 }
    }

    fn draw_spurious_between(&self, from: f64, to: f64, stream: &mut Stream) -> f64 {
        let (a, b) = (self.spurious_cdf(from), self.spurious_cdf(to));
        // Rounding may carry the value an ulp over an end; keep it inside the half-open interval.
        self.spurious_at(stream.between(a, b)).clamp(from, to.next_down())
    }
}

/// Noise beyond so many standard deviations, 1e-33 of it, is left out where many readings are told apart.
pub(super) const NO_NOISE: f64 = 12.0;

impl Spurious {
    /// Share of returns that lie nearer than this raw value, if none were too far for it.
    pub(super) fn gone_by(&self, raw: f64) -> f64 {
        if raw <= self.low { 0.0 } else { -libm::expm1(-(raw - self.low) / SPURIOUS_SCALE_M) }
    }
}

impl Target {
    /// Probability of a raw value in [from, to).
    pub(super) fn between(&self, from: f64, to: f64) -> f64 {
        if to <= from {
            return 0.0;
        }
        if self.sigma <= 0.0 {
            return if self.mean >= from && self.mean < to { 1.0 } else { 0.0 };
        }
        let a = (from - self.mean) / self.sigma;
        let b = (to - self.mean) / self.sigma;
        normal::between(a, b)
    }

    /// Probabilities of a raw value in [from, cut) and in [cut, to).
    fn sides(&self, from: f64, cut: f64, to: f64) -> (f64, f64) {
        if self.sigma > 0.0 {
            let [a, b, c] = [from, cut, to].map(|x| (x - self.mean) / self.sigma);
            // Where both ends lie so far out that rounding loses what is beyond them, one tail at the cut tells both sides.
            if a < 0.0 && c > 0.0 && normal::is_lost(a, b) && normal::is_lost(c, b) {
                return normal::both_sides(b);
            }
        }
        (self.between(from, cut), self.between(cut, to))
    }

    pub(super) fn draw_between(&self, from: f64, to: f64, stream: &mut Stream) -> f64 {
        if self.sigma <= 0.0 {
            return self.mean;
        }
        let a = (from - self.mean) / self.sigma;
        let b = (to - self.mean) / self.sigma;
        let z = if a >= 0.0 {
            normal_in(a, b, stream)
        } else if b <= 0.0 {
            -normal_in(-b, -a, stream)
        } else {
            loop {
                let z = stream.normal();
                if z >= a && z < b {
                    break z;
                }
            }
        };
        (self.mean + self.sigma * z).clamp(from, to.next_down())
    }
}

/// Standard normal given a <= z < b, for 0 <= a < b: tail sampling with rejection beyond b, or, for a thin slice,
/// uniform rejection (Robert, Statistics and Computing 5, 1995, 121-125).
fn normal_in(a: f64, b: f64, stream: &mut Stream) -> f64 {
    if (b - a) * libm::fmax(a, 1.0) > 0.7 {
        loop {
            let z = stream.normal_above(a);
            if z < b {
                return z;
            }
        }
    }
    loop {
        let z = stream.between(a, b);
        if stream.uniform() < libm::exp(0.5 * (a * a - z * z)) {
            return z;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Source;

    fn ranger() -> Law {
        Law {
            targets: [Target { weight: 0.6, mean: 2.0, sigma: 0.05 }, Target { weight: 0.2, mean: 3.9, sigma: 0.08 }],
            spurious: Spurious { weight: 0.1, low: 0.1, high: 2.0 },
            far: 0.05,
            resolution: 0.01,
            lowest: 0.1,
            highest: 4.0,
        }
    }

    /// One tail at the cut tells what each side's own integral does, each side to its own last digits, wherever the ends lie.
    #[test]
    fn both_sides_of_a_cut() {
        let target = Target { weight: 1.0, mean: 2.0, sigma: 0.05 };
        for from in [f64::NEG_INFINITY, 0.1, 1.53, 1.9] {
            for to in [2.1, 2.47, 4.0, f64::INFINITY] {
                for cut in (0..=20).map(|step| 1.9 + 0.01 * f64::from(step)) {
                    let (below, above) = target.sides(from, cut, to);
                    for (side, plain) in [(below, target.between(from, cut)), (above, target.between(cut, to))] {
                        assert!((side - plain).abs() <= 1e-14 * plain, "{from} {cut} {to}: {side} against {plain}");
                    }
                }
            }
        }
    }

    fn cases() -> Vec<Boring> {
        let open = |low: f64, high: f64| Boring { low, low_included: false, high, high_included: true, nothing: true };
        vec![
            open(1.2, f64::INFINITY),
            open(2.0, f64::INFINITY),
            Boring { high_included: false, ..open(f64::NEG_INFINITY, 1.95) },
            Boring { nothing: false, ..open(1.9, 3.85) },
            open(f64::NEG_INFINITY, 0.305),
        ]
    }

    /// Probability and conditional draws against plain draws: a chi-square-like comparison on a fixed seed, each
    /// share within 5 standard errors.
    #[test]
    fn conditional_draws_agree_with_plain_draws() {
        for resolution in [0.0, 0.01, 0.07] {
            let law = Law { resolution, ..ranger() };
            for (number, mut boring) in cases().into_iter().enumerate() {
                boring.low = snap(boring.low, resolution);
                boring.high = snap(boring.high, resolution);
                let mut stream = Source::new(3, number as u64, "law").stream(0);
                let n = 40_000;
                let p = law.interesting_probability(&boring);
                let mut hits = 0;
                let mut plain = [0_u32; 6];
                for _ in 0..n {
                    let reading = law.draw(&mut stream);
                    if !boring.contains(reading) {
                        hits += 1;
                        plain[class(reading)] += 1;
                    }
                }
                let share = f64::from(hits) / f64::from(n);
                let error = (p * (1.0 - p) / f64::from(n)).sqrt();
                assert!((share - p).abs() < 5.0 * error + 1e-12, "case {number} q {resolution}: {share} against {p}");
                let mut conditional = [0_u32; 6];
                for _ in 0..hits {
                    let reading = law.draw_interesting(&boring, &mut stream);
                    assert!(!boring.contains(reading), "case {number} q {resolution}: {reading:?} is boring");
                    conditional[class(reading)] += 1;
                }
                for (a, b) in plain.iter().zip(conditional) {
                    let spread = (f64::from(*a) + f64::from(b)).sqrt();
                    assert!(
                        (f64::from(*a) - f64::from(b)).abs() < 5.0 * spread + 1e-9,
                        "case {number}: {plain:?} {conditional:?}"
                    );
                }
                for _ in 0..100 {
                    assert!(boring.contains(law.draw_boring(&boring, &mut stream)));
                }
            }
        }
    }

    fn class(reading: Reading) -> usize {
        match reading {
            Reading::Nothing => 0,
            Reading::Value(v) if v.is_infinite() => 1,
            Reading::Value(v) if v < 0.5 => 2,
            Reading::Value(v) if v < 1.94 => 3,
            Reading::Value(v) if v < 3.0 => 4,
            Reading::Value(_) => 5,
        }
    }

    /// Far tails keep their relative accuracy: 8 sigma below the target, P = 6.2210e-16 (normal tail at 8).
    #[test]
    fn tiny_probabilities_survive() {
        let mut law = Law::SILENT;
        law.targets[0] = Target { weight: 1.0, mean: 2.0, sigma: 0.1 };
        let boring = Boring { low: 1.2, low_included: false, ..Boring::EVERYTHING };
        assert!((law.interesting_probability(&boring) / 6.220_960_574_271_786e-16 - 1.0).abs() < 1e-9);
    }

    #[test]
    fn exact_readings() {
        let mut stream = Source::new(1, 1, "x").stream(0);
        let law = Law::exact(1.0, 0.0);
        assert_eq!(law.draw(&mut stream), Reading::Value(1.0));
        let below = Boring { high: 1.0, high_included: false, ..Boring::EVERYTHING };
        assert_eq!(law.interesting_probability(&below), 1.0);
        assert_eq!(law.draw_interesting(&below, &mut stream), Reading::Value(1.0));
        assert_eq!(law.interesting_probability(&Boring { high_included: true, ..below }), 0.0);
        assert_eq!(Law::SILENT.draw(&mut stream), Reading::Nothing);
    }

    /// What repeats "far" says so with all its weight, wherever the level lies: nothing is lost.
    #[test]
    fn an_exact_far_is_far() {
        let mut stream = Source::new(1, 2, "x").stream(0);
        let far = Reading::Value(f64::INFINITY);
        for dropout in [0.0, 0.25] {
            let law = Law::exact(f64::INFINITY, dropout);
            for (level, included) in [(1.0, true), (1.0, false), (f64::INFINITY, false)] {
                assert_eq!(law.split(level, included), (0.0, 1.0 - dropout, dropout), "{level} {included}");
            }
            assert_eq!(law.split(f64::INFINITY, true), (1.0 - dropout, 0.0, dropout));
            let below = Boring { high: 2.0, ..Boring::EVERYTHING };
            assert_eq!(law.interesting_probability(&below), 1.0 - dropout);
            assert_eq!(law.draw_interesting(&below, &mut stream), far);
            assert_eq!(law.interesting_probability(&Boring { low: 2.0, ..Boring::EVERYTHING }), 0.0);
            assert_eq!(law.nothing_probability(), dropout);
            assert_eq!(law.likeliest().0, f64::INFINITY);
        }
        assert_eq!(Law::exact(f64::INFINITY, 0.0).draw(&mut stream), far);
    }
}
