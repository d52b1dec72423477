//! Named random streams and the samplers that draw from them.
//!
//! **Rule.** A stream belongs to (seed, season, source name, entity number): "season 7 of seed 1, source `mower`,
//! departure 31". Its generator is Xoshiro256++ (Blackman & Vigna 2019, public domain reference code; the
//! `rand_xoshiro` crate), whose 256-bit state is filled by the hash below. Who asks first, on which thread, or
//! which other streams exist therefore never changes a draw.
//!
//! **Hash.** Four 64-bit lanes start from fixed odd constants and absorb, in this order, the seed, the season, the
//! name's length, the name's bytes in little-endian groups of eight, and the entity number: each word `w` is
//! absorbed as `lane = mix(lane ^ w) + lane_constant`, `mix` being the finaliser of SplitMix64 (Steele, Lea & Flood
//! 2014). An all-zero state, which the generator cannot leave, is replaced by the lane constants.
//!
//! **Portability.** Only integer operations, IEEE 754 add/multiply/divide/sqrt and the `libm` crate are used, so
//! that the same draws come out on every platform. Changing anything here changes every result: the pinned values
//! in the tests must then change too and the changelog must say so.

use rand::Rng as _;
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng as _;

const LANES: [u64; 4] = [0x9E37_79B9_7F4A_7C15, 0xBF58_476D_1CE4_E5B9, 0x94D0_49BB_1331_11EB, 0xD6E8_FEB8_6659_FD93];

/// Finaliser of SplitMix64: a bijection of 64-bit words with full avalanche.
fn mix(mut word: u64) -> u64 {
    word = (word ^ (word >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    word = (word ^ (word >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    word ^ (word >> 31)
}

/// Everything of a stream's key but the entity number, already hashed: cheap to keep, cheap to open streams from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Source {
    lanes: [u64; 4],
}

impl Source {
    /// The source called `name` in one season of one seed.
    pub fn new(seed: u64, season: u64, name: &str) -> Source {
        let mut source = Source { lanes: LANES };
        source.absorb(seed);
        source.absorb(season);
        source.absorb(name.len() as u64);
        for group in name.as_bytes().chunks(8) {
            let mut word = [0_u8; 8];
            word[..group.len()].copy_from_slice(group);
            source.absorb(u64::from_le_bytes(word));
        }
        source
    }

    fn absorb(&mut self, word: u64) {
        for (lane, constant) in self.lanes.iter_mut().zip(LANES) {
            *lane = mix(*lane ^ word).wrapping_add(constant);
        }
    }

    /// The stream of entity `number` (a departure, a visit, a rain spell, a sample index).
    pub fn stream(&self, number: u64) -> Stream {
        let mut keyed = *self;
        keyed.absorb(number);
        if keyed.lanes == [0; 4] {
            keyed.lanes = LANES;
        }
        let mut bytes = [0_u8; 32];
        for (slot, lane) in bytes.chunks_exact_mut(8).zip(keyed.lanes) {
            slot.copy_from_slice(&lane.to_le_bytes());
        }
        Stream { generator: Xoshiro256PlusPlus::from_seed(bytes), spare_normal: None }
    }
}

/// A generator with the samplers the models need.
#[derive(Clone, Debug)]
pub struct Stream {
    generator: Xoshiro256PlusPlus,
    spare_normal: Option<f64>,
}

impl Stream {
    /// The next 64 random bits.
    pub fn bits(&mut self) -> u64 {
        self.generator.next_u64()
    }

    /// Uniform on [0, 1), on the grid of multiples of 2^-53.
    pub fn uniform(&mut self) -> f64 {
        (self.bits() >> 11) as f64 * (1.0 / (1_u64 << 53) as f64)
    }

    /// Uniform on (0, 1]: safe to take the logarithm of.
    pub fn uniform_positive(&mut self) -> f64 {
        ((self.bits() >> 11) + 1) as f64 * (1.0 / (1_u64 << 53) as f64)
    }

    /// Uniform between `low` and `high`.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }

    /// True with probability `p` (never for p <= 0, always for p >= 1).
    pub fn chance(&mut self, p: f64) -> bool {
        self.uniform() < p
    }

    /// Exponential with the given mean, by inversion.
    pub fn exponential(&mut self, mean: f64) -> f64 {
        -mean * libm::log(self.uniform_positive())
    }

    /// Standard normal, by Marsaglia's polar method (1964); draws come in pairs, the second is kept.
    pub fn normal(&mut self) -> f64 {
        if let Some(spare) = self.spare_normal.take() {
            return spare;
        }
        loop {
            let u = 2.0 * self.uniform() - 1.0;
            let v = 2.0 * self.uniform() - 1.0;
            let s = u * u + v * v;
            if s > 0.0 && s < 1.0 {
                let factor = libm::sqrt(-2.0 * libm::log(s) / s);
                self.spare_normal = Some(v * factor);
                return u * factor;
            }
        }
    }

    /// Gamma with the given shape and mean, by Marsaglia & Tsang (ACM Trans. Math. Softw. 26, 2000, 363-372); for
    /// shape < 1 by their power-of-a-uniform boost.
    pub fn gamma(&mut self, shape: f64, mean: f64) -> f64 {
        let scale = mean / shape;
        if shape < 1.0 {
            let boost = libm::pow(self.uniform_positive(), 1.0 / shape);
            return self.gamma_unit(shape + 1.0) * boost * scale;
        }
        self.gamma_unit(shape) * scale
    }

    fn gamma_unit(&mut self, shape: f64) -> f64 {
        let d = shape - 1.0 / 3.0;
        let c = 1.0 / libm::sqrt(9.0 * d);
        loop {
            let x = self.normal();
            let v = 1.0 + c * x;
            if v <= 0.0 {
                continue;
            }
            let v = v * v * v;
            let u = self.uniform_positive();
            if libm::log(u) < 0.5 * x * x + d - d * v + d * libm::log(v) {
                return d * v;
            }
        }
    }

    /// Number of failures before the first success of independent trials with success probability `p`, by
    /// inversion (exact): floor(ln U / ln(1 - p)). Saturates at `u64::MAX` for p so small that no f64 helps.
    pub fn failures_before_success(&mut self, p: f64) -> u64 {
        if p >= 1.0 {
            return 0;
        }
        if p <= 0.0 {
            return u64::MAX;
        }
        self.failures_by_log(libm::log1p(-p))
    }

    /// The same by the logarithm of the probability of a failure, which is below 0.
    pub fn failures_by_log(&mut self, log_failure: f64) -> u64 {
        let count = libm::floor(libm::log(self.uniform_positive()) / log_failure);
        if count >= u64::MAX as f64 { u64::MAX } else { count as u64 }
    }

    /// Standard normal given that it exceeds `low`. Plain rejection near the centre, Robert's exponential
    /// rejection (Statistics and Computing 5, 1995, 121-125) in the tail.
    pub fn normal_above(&mut self, low: f64) -> f64 {
        if low < 0.5 {
            loop {
                let x = self.normal();
                if x > low {
                    return x;
                }
            }
        }
        let rate = 0.5 * (low + libm::sqrt(low * low + 4.0));
        loop {
            let x = low + self.exponential(1.0 / rate);
            let gap = x - rate;
            if self.uniform() < libm::exp(-0.5 * gap * gap) {
                return x;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Pinned draws: they tie results to the generator, the hash and the samplers of this version.
    #[test]
    fn pinned_values() {
        let source = Source::new(1, 2, "rain");
        let mut stream = source.stream(3);
        let words = [stream.bits(), stream.bits()];
        let again = Source::new(1, 2, "rain").stream(3).bits();
        assert_eq!(words[0], again);
        assert_ne!(words[0], source.stream(4).bits());
        assert_ne!(words[0], Source::new(1, 3, "rain").stream(3).bits());
        assert_ne!(words[0], Source::new(1, 2, "rain ").stream(3).bits());
        assert_eq!(words, PINNED_WORDS, "the generator, its key hash, or both have changed");
    }

    const PINNED_WORDS: [u64; 2] = [7_791_978_166_409_012_703, 8_580_819_481_984_010_653];

    fn moments(mut draw: impl FnMut() -> f64) -> (f64, f64) {
        let n = 200_000;
        let (mut sum, mut square) = (0.0, 0.0);
        for _ in 0..n {
            let x = draw();
            sum += x;
            square += x * x;
        }
        let mean = sum / n as f64;
        (mean, square / n as f64 - mean * mean)
    }

    /// Sample moments against the textbook moments, 5 standard errors wide on a fixed seed.
    #[test]
    fn moments_of_the_samplers() {
        let source = Source::new(7, 0, "moments");
        let n = 200_000.0_f64;
        let mut s = source.stream(0);
        let (mean, variance) = moments(|| s.normal());
        assert!(mean.abs() < 5.0 / n.sqrt() && (variance - 1.0).abs() < 5.0 * (2.0 / n).sqrt());
        let (mean, variance) = moments(|| s.exponential(3.0));
        assert!((mean - 3.0).abs() < 5.0 * 3.0 / n.sqrt() && (variance / 9.0 - 1.0).abs() < 5.0 * (8.0 / n).sqrt());
        for shape in [0.4, 1.0, 3.5] {
            let (mean, variance) = moments(|| s.gamma(shape, 2.0));
            let exact = 4.0 / shape;
            assert!((mean - 2.0).abs() < 5.0 * (exact / n).sqrt(), "shape {shape}: mean {mean}");
            let spread = ((2.0 + 6.0 / shape) / n).sqrt();
            assert!((variance / exact - 1.0).abs() < 5.0 * spread, "shape {shape}: variance {variance}");
        }
        let (mean, _) = moments(|| s.failures_before_success(0.02) as f64);
        assert!((mean - 49.0).abs() < 5.0 * (0.98_f64.sqrt() / 0.02) / n.sqrt());
        // Mean of a normal above 2: phi(2) / (1 - Phi(2)) = 2.373216 (inverse Mills ratio).
        let (mean, variance) = moments(|| s.normal_above(2.0));
        assert!((mean - 2.373_216).abs() < 5.0 * (variance / n).sqrt());
    }
}
