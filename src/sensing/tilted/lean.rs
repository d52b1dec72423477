//! Readings that lean: each comes exp(s x) times as often as it does, and is worth as much less.

use crate::math::normal;
use crate::math::random::Stream;
use crate::sensing::law::{Law, SPURIOUS_SCALE_M, Spurious, Target};

/// Kinds of readings with a value: of two targets, spurious, and what "far" counts as.
const KINDS: usize = 4;

/// What may be read: raw values that are reported as one, with their chances among readings.
#[derive(Clone, Copy, Debug)]
pub(super) struct Parts {
    /// Raw values that are reported at all.
    range: (f64, f64),
    targets: [Target; 2],
    spurious: Spurious,
    /// Value and chance of what "far" counts as.
    farthest: (f64, f64),
    /// Chance of no reading.
    pub nothing: f64,
    /// Chance of a "far" that counts as no number, among readings.
    pub far: f64,
    /// Least and greatest of the means of what is read, and the greatest noise.
    span: (f64, f64),
    noise: f64,
}

/// How a reading is drawn.
#[derive(Clone, Copy, Debug)]
pub(super) struct Lean {
    parts: Parts,
    strength: f64,
    /// Logarithm of the mean of exp(s x).
    log_mean: f64,
    /// Chance of each kind, among readings with a value.
    kinds: [f64; KINDS],
    /// Chance of "far" in the draws, and how much more often it and others are drawn for that.
    far: f64,
    drawn: [f64; 2],
}

impl Parts {
    /// Of a law's readings.
    pub fn of(law: &Law, far_counts_as: Option<f64>) -> Parts {
        let range = law.raw_range();
        let nothing = law.nothing_probability();
        let seen = 1.0 - nothing;
        let far = if seen > 0.0 { law.far_probability() / seen } else { 0.0 };
        let mut parts = Parts {
            range,
            targets: law.targets,
            spurious: law.spurious,
            farthest: (far_counts_as.unwrap_or(law.highest), if far_counts_as.is_some() { far } else { 0.0 }),
            nothing,
            far: if far_counts_as.is_some() { 0.0 } else { far },
            span: (f64::INFINITY, f64::NEG_INFINITY),
            noise: 0.0,
        };
        // Chances among readings with a value.
        let valued = seen * (1.0 - parts.far);
        let among = |chance: f64| if valued > 0.0 { chance / valued } else { 0.0 };
        for target in &mut parts.targets {
            target.weight = among(target.weight);
        }
        parts.spurious.weight = among(law.spurious.weight);
        for kind in 0..KINDS {
            let (chance, mean) = (libm::exp(parts.log_mean_of(kind, 0.0)), parts.mean_of(kind, 0.0));
            if chance > 0.0 {
                parts.span = (parts.span.0.min(mean), parts.span.1.max(mean));
            }
        }
        let noises = parts.targets.iter().filter(|target| target.weight > 0.0).map(|target| target.sigma);
        let spurious = if parts.spurious.weight > 0.0 { SPURIOUS_SCALE_M } else { 0.0 };
        parts.noise = noises.fold(spurious, f64::max);
        parts
    }

    /// How far readings differ from each other, roughly.
    pub fn unit(&self) -> f64 {
        (self.span.1 - self.span.0).max(0.0) + self.noise
    }

    /// Draws that lean so much; `far` is the share of "far" in them if not its own. None if there are no readings.
    pub fn lean(&self, strength: f64, far: Option<f64>) -> Option<Lean> {
        if self.nothing >= 1.0 {
            return None;
        }
        let logs: [f64; KINDS] = std::array::from_fn(|kind| self.log_mean_of(kind, strength));
        let most = logs.into_iter().fold(f64::NEG_INFINITY, f64::max);
        let valued = most > f64::NEG_INFINITY;
        let far = if !valued { 1.0 } else { far.filter(|_| self.far > 0.0).unwrap_or(self.far).min(1.0) };
        let kinds = logs.map(|log| if valued { libm::exp(log - most) } else { 0.0 });
        let sum: f64 = kinds.iter().sum();
        Some(Lean {
            parts: *self,
            strength,
            log_mean: if valued { most + libm::log(sum) } else { 0.0 },
            kinds: kinds.map(|kind| if valued { kind / sum } else { 0.0 }),
            far,
            drawn: [(self.far, far), (1.0 - self.far, 1.0 - far)]
                .map(|(comes, drawn)| if comes > 0.0 { drawn / comes } else { 0.0 }),
        })
    }

    /// Mean of the readings with a value that lean so much.
    pub fn mean(&self, strength: f64) -> f64 {
        let Some(lean) = self.lean(strength, None) else { return 0.0 };
        let kinds = lean.kinds.iter().enumerate().filter(|(_, chance)| **chance > 0.0);
        kinds.map(|(kind, chance)| chance * self.mean_of(kind, strength)).sum()
    }

    /// Logarithm of a kind's chance times its mean of exp(s x).
    fn log_mean_of(&self, kind: usize, s: f64) -> f64 {
        let (from, to) = self.range;
        match kind {
            0 | 1 => {
                let target = self.targets[kind];
                let share = leaning(&target, s).between(from, to);
                let spread = s * target.sigma;
                libm::log(target.weight) + s * target.mean + 0.5 * spread * spread + libm::log(share)
            }
            2 => {
                let (from, to) = self.spurious_range();
                if self.spurious.weight <= 0.0 || to <= from {
                    return f64::NEG_INFINITY;
                }
                let all = self.spurious.gone_by(self.spurious.high) * SPURIOUS_SCALE_M;
                let (falls, length) = (1.0 / SPURIOUS_SCALE_M - s, to - from);
                // Of exp(-falls y), from the end where there is most of it.
                let (end, steep) = if falls >= 0.0 { (from, falls) } else { (to, -falls) };
                let integral = if steep * length < 1e-9 { length } else { -libm::expm1(-steep * length) / steep };
                let at_end = s * end - (end - self.spurious.low) / SPURIOUS_SCALE_M;
                libm::log(self.spurious.weight / all) + at_end + libm::log(integral)
            }
            _ if self.farthest.1 > 0.0 => libm::log(self.farthest.1) + s * self.farthest.0,
            _ => f64::NEG_INFINITY,
        }
    }

    /// Mean of a kind that leans so much.
    fn mean_of(&self, kind: usize, s: f64) -> f64 {
        let (from, to) = self.range;
        match kind {
            0 | 1 => {
                let target = leaning(&self.targets[kind], s);
                if target.sigma <= 0.0 {
                    return target.mean;
                }
                let [a, b] = [from, to].map(|raw| (raw - target.mean) / target.sigma);
                let shift = (normal::density(a) - normal::density(b)) / normal::between(a, b);
                let mean = target.mean + target.sigma * shift;
                if mean.is_finite() { mean.clamp(from, to) } else { target.mean.clamp(from, to) }
            }
            2 => {
                let (from, to) = self.spurious_range();
                let (falls, length) = (1.0 / SPURIOUS_SCALE_M - s, to - from);
                if libm::fabs(falls * length) < 1e-6 {
                    return 0.5 * (from + to);
                }
                from + 1.0 / falls - length / libm::expm1(falls * length)
            }
            _ => self.farthest.0,
        }
    }

    /// Where spurious returns are reported.
    fn spurious_range(&self) -> (f64, f64) {
        (self.spurious.low.max(self.range.0), self.spurious.high.min(self.range.1))
    }
}

impl Lean {
    /// Chance of no reading in a sample.
    pub fn nothing(&self) -> f64 {
        self.parts.nothing
    }

    /// A raw value, infinite for "far" that is no number to the statistic, and whether it is "far".
    pub fn draw(&self, stream: &mut Stream) -> (f64, bool) {
        if self.far > 0.0 && stream.chance(self.far) {
            return (f64::INFINITY, true);
        }
        let mut u = stream.uniform();
        let passed = |chance: &f64| {
            let here = u < *chance;
            u -= chance;
            here
        };
        let likeliest = || (0..KINDS).max_by(|a, b| self.kinds[*a].total_cmp(&self.kinds[*b])).unwrap_or_default();
        // Rounding may leave a rest beyond the last.
        let kind = self.kinds.iter().position(passed).unwrap_or_else(likeliest);
        let (from, to) = self.parts.range;
        match kind {
            0 | 1 => (leaning(&self.parts.targets[kind], self.strength).draw_between(from, to, stream), false),
            2 => (self.draw_spurious(stream), false),
            _ => (self.parts.farthest.0, true),
        }
    }

    /// How much more often a raw value is drawn than it comes.
    pub fn ratio(&self, raw: f64) -> f64 {
        if raw.is_infinite() { self.drawn[0] } else { libm::exp(self.strength * raw - self.log_mean) * self.drawn[1] }
    }

    fn draw_spurious(&self, stream: &mut Stream) -> f64 {
        let (from, to) = self.parts.spurious_range();
        let (falls, length) = (1.0 / SPURIOUS_SCALE_M - self.strength, to - from);
        let steep = libm::fabs(falls);
        let u = stream.uniform();
        let gone =
            if steep * length < 1e-9 { u * length } else { -libm::log1p(u * libm::expm1(-steep * length)) / steep };
        (if falls >= 0.0 { from + gone } else { to - gone }).clamp(from, to.next_down())
    }
}

/// A target whose noise leans so much: as wide, about another mean.
fn leaning(target: &Target, s: f64) -> Target {
    Target { mean: target.mean + s * target.sigma * target.sigma, ..*target }
}
