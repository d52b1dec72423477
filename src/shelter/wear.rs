//! Life: load-life law, damage, Weibull scatter, parts in series.
//!
//! - Load-life: a part rated for Nr strokes at the load Fr makes N(F) = Nr (Fr/F)^p (p = 3 for ball screws and ball
//!   bearings, 10/3 for roller bearings: ISO 281 and ISO 3408-5, from memory; p = 1 for sliding wear, Archard).
//! - Damage adds up linearly (Palmgren 1924, Miner 1945): D = sum of n/N; the rated life is used up at D = 1.
//! - Lives scatter by Weibull's law, R(t) = exp(-(t/scale)^shape). In damage form t is D. A rating is the life that
//!   90 % survive (B10) or the mean life; which one it is matters: at D = 0.5 and shape 2.5 the survival is 0.982 with
//!   the first and 0.877 with the second.
//! - Parts in series: the chances to survive multiply.

use statrs::function::gamma::{gamma, gamma_ur};

use super::actuator::Actuator;
use super::mechanism;
use crate::math::quadrature::Quadrature;
use crate::scenario::Scenario;
use crate::scenario::door::{Drive, Part, Rating, Supply, Wear};

/// Load of a stroke that stalls, as a share of the rated one: all that the drive can give. The winding is taken at 20 degC, the
/// temperature of catalogues.
pub fn stalled_load(drive: &Drive, supply: &Supply) -> f64 {
    Actuator::at(drive, supply, 20.0).available_n() / drive.rated_force_n
}

/// Damage of `stalls` strokes that stall at that load, each counted as a whole stroke (the strokes of a rating are full ones; one
/// that stands still under full force wears its parts at least as much).
pub fn stalled_damage(stalls: f64, load: f64, exponent: f64, rated_strokes: f64) -> f64 {
    stalls * libm::pow(load, exponent) / rated_strokes
}

/// Cycles to the rated life at a load; infinite at no load with a positive exponent.
pub fn cycles_at_load(rated_cycles: f64, rated_load_n: f64, load_n: f64, exponent: f64) -> f64 {
    rated_cycles * libm::pow(rated_load_n / load_n, exponent)
}

/// Damage of a load collective given as (cycles, cycles to the rated life).
pub fn miner_damage(collective: &[(f64, f64)]) -> f64 {
    collective.iter().map(|(cycles, life)| cycles / life).sum()
}

/// Constant load that does the same damage as a collective of (load, share of cycles). With exponent 0 every load
/// does the same damage, so there is none: not-a-number.
pub fn equivalent_load_n(collective: &[(f64, f64)], exponent: f64) -> f64 {
    if exponent == 0.0 {
        return f64::NAN;
    }
    let sum: f64 = collective.iter().map(|(load, share)| share * libm::pow(*load, exponent)).sum();
    libm::pow(sum, 1.0 / exponent)
}

/// What a rated life stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Basis {
    /// 90 % survive it.
    B10,
    /// It is the mean life.
    Mean,
}

/// Weibull's law with two parameters.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Weibull {
    /// Shape: below 1 early failures, 1 random, above 1 wear-out.
    pub shape: f64,
    /// Scale: the life that 36.8 % survive.
    pub scale: f64,
}

impl Weibull {
    /// The law in damage form for a part rated on `basis`: its variable is the damage, 1 at the rated life.
    pub fn of_damage(shape: f64, basis: Basis) -> Weibull {
        let scale = match basis {
            Basis::B10 => libm::pow(-libm::log(0.9), -1.0 / shape),
            Basis::Mean => 1.0 / gamma(1.0 + 1.0 / shape),
        };
        Weibull { shape, scale }
    }

    /// The law of a drive in damage form; its rated strokes are a B10 life.
    pub fn of_drive(wear: &Wear) -> Weibull {
        Weibull::of_damage(wear.weibull_shape, Basis::B10)
    }

    /// The law in another unit: lives of `per_unit` damage each, such as seasons.
    pub fn per(self, per_unit: f64) -> Weibull {
        Weibull { shape: self.shape, scale: self.scale / per_unit }
    }

    /// Cumulative hazard (t/scale)^shape.
    fn cumulative(&self, t: f64) -> f64 {
        libm::pow(t.max(0.0) / self.scale, self.shape)
    }

    /// Chance to survive t.
    pub fn survival(&self, t: f64) -> f64 {
        libm::exp(-self.cumulative(t))
    }

    /// Chance to fail by t, accurate when small.
    pub fn failed(&self, t: f64) -> f64 {
        -libm::expm1(-self.cumulative(t))
    }

    /// Failures per unit among survivors at t.
    pub fn hazard(&self, t: f64) -> f64 {
        self.shape / self.scale * libm::pow(t / self.scale, self.shape - 1.0)
    }

    /// Chance to survive `more` beyond `used`, having survived `used`.
    pub fn conditional_survival(&self, used: f64, more: f64) -> f64 {
        libm::exp(self.cumulative(used) - self.cumulative(used + more))
    }

    /// Life by which the share `q` has failed (q = 0.1: B10).
    pub fn b_life(&self, q: f64) -> f64 {
        self.scale * libm::pow(-libm::log1p(-q), 1.0 / self.shape)
    }

    /// Mean life.
    pub fn mean(&self) -> f64 {
        self.scale * gamma(1.0 + 1.0 / self.shape)
    }

    /// Standard deviation of the life.
    pub fn sd(&self) -> f64 {
        let first = gamma(1.0 + 1.0 / self.shape);
        self.scale * (gamma(1.0 + 2.0 / self.shape) - first * first).max(0.0).sqrt()
    }

    /// Mean life left of a part that has survived `used`: the integral of the conditional survival, an incomplete
    /// gamma function.
    pub fn mean_residual_life(&self, used: f64) -> f64 {
        let x = self.cumulative(used);
        if x == 0.0 {
            return self.mean();
        }
        self.mean() * gamma_ur(1.0 / self.shape, x) * libm::exp(x)
    }
}

/// Hours that a winding's insulation lasts at a temperature: 20 000 h at the temperature of its class (the definition of a
/// temperature index, IEC 60216, from memory), half of it for every 10 K more (Montsinger 1930).
pub fn insulation_life(celsius: f64, class_c: f64) -> f64 {
    20_000.0 * libm::exp2((class_c - celsius) / 10.0)
}

/// Sliding distance of a nut's thread per stroke, m, and the depth it wears by, mm: depth = k F slide/A (Archard 1953) with the wear
/// factor k in mm3/(N m), the force in N, lead, mean diameter and height of the thread in mm, the stroke in m, and
/// A = pi dm h z of `turns` engaged turns.
pub fn nut_wear(
    wear_mm3_n_m: f64,
    force_n: f64,
    stroke_m: f64,
    (lead_mm, mean_mm, height_mm): (f64, f64, f64),
    turns: f64,
) -> (f64, f64) {
    let around = std::f64::consts::PI * mean_mm;
    let slide_m = stroke_m / lead_mm * (around * around + lead_mm * lead_mm).sqrt();
    let area_mm2 = around * height_mm * turns;
    (slide_m, wear_mm3_n_m * force_n * slide_m / area_mm2)
}

/// Strokes until a nut has worn by a quarter of half its lead (common practice).
pub fn nut_strokes(wear_mm_per_stroke: f64, lead_mm: f64) -> f64 {
    0.25 * 0.5 * lead_mm / wear_mm_per_stroke
}

/// Operations of a relay's contacts: 100 000 at the rated current, going with (Ir/I)^m, at most the 10^7 of its mechanics (typical
/// figures of data sheets; m of 1.14 for alternating and 1.3 for direct current from a reliability engineer's account, 2 from
/// memory). The current of a motor's start counts.
pub fn relay_operations(rated_a: f64, current_a: f64, exponent: f64) -> f64 {
    (1e5 * libm::pow(rated_a / current_a, exponent)).min(1e7)
}

/// Life of a part: full strokes under the drive's rated force, the exponent of life over load, and what that life stands for.
///
/// A nut that is worn to its limit has worn for a mean life; the figures of relays in data sheets are taken as reached by nine in
/// ten (common practice). A relay switches the start current of a cold winding once a stroke, whatever the load.
pub fn rating_of(part: &Part, scenario: &Scenario) -> (f64, f64, Basis) {
    const MM: f64 = 1000.0;
    match part.rating {
        Rating::Stated { strokes, mean, exponent } => (strokes, exponent, if mean { Basis::Mean } else { Basis::B10 }),
        Rating::Nut { wear_mm3_n_m, lead_m, mean_diameter_m, thread_m, turns } => {
            let thread = (MM * lead_m, MM * mean_diameter_m, MM * thread_m);
            let stroke_m = mechanism::stroke_m(&scenario.door);
            let (_, wear_mm) = nut_wear(wear_mm3_n_m, scenario.drive.rated_force_n, stroke_m, thread, turns);
            (nut_strokes(wear_mm, MM * lead_m), 1.0, Basis::Mean)
        }
        Rating::Relay { rated_a, exponent } => {
            let start_a = Actuator::at(&scenario.drive, &scenario.supply, 20.0).start_current_a();
            (relay_operations(rated_a, start_a, exponent), 0.0, Basis::B10)
        }
    }
}

/// Parts in series, each with the damage it takes per season.
#[derive(Clone, Debug, Default)]
pub struct Series {
    /// Law in damage form, and damage per season.
    pub parts: Vec<(Weibull, f64)>,
}

impl Series {
    /// Chance that every part survives `seasons`, new at the beginning.
    pub fn survival(&self, seasons: f64) -> f64 {
        self.conditional_survival(0.0, seasons)
    }

    /// Chance that every part survives `more` seasons after `used` ones.
    pub fn conditional_survival(&self, used: f64, more: f64) -> f64 {
        self.parts.iter().map(|(law, damage)| law.per(*damage).conditional_survival(used, more)).product()
    }

    /// Mean seasons left after `used` ones, of shelters that work then; infinite if nothing wears.
    ///
    /// The integral of the conditional survival. One part has it in closed form; of several it is summed by Gauss and Legendre's
    /// rule over equal pieces, up to where one part alone leaves one in 10^15.
    pub fn mean_left(&self, used: f64) -> f64 {
        const PIECES: usize = 40;
        let worn = || self.parts.iter().filter(|(_, damage)| *damage > 0.0).map(|(law, damage)| law.per(*damage));
        match (worn().next(), worn().nth(1)) {
            (None, _) => return f64::INFINITY,
            (Some(law), None) => return law.mean_residual_life(used),
            _ => {}
        }
        // A cumulative hazard of 35 more.
        let end =
            |law: Weibull| law.scale * libm::pow(libm::pow(used / law.scale, law.shape) + 35.0, 1.0 / law.shape) - used;
        let end = worn().map(end).fold(f64::INFINITY, f64::min);
        let piece = end / PIECES as f64;
        let rule = Quadrature::legendre(8, 0.0, piece);
        (0..PIECES).map(|i| rule.integrate(|x| self.conditional_survival(used, i as f64 * piece + x))).sum()
    }

    /// Seasons by which the share `q` of such shelters has failed; none if nothing wears.
    pub fn b_life(&self, q: f64) -> Option<f64> {
        // The system fails no later than its weakest part alone.
        let lives =
            self.parts.iter().filter(|(_, damage)| *damage > 0.0).map(|(law, damage)| law.per(*damage).b_life(q));
        let mut high = lives.min_by(f64::total_cmp)?;
        let mut low = 0.0;
        for _ in 0..200 {
            let middle = 0.5 * (low + high);
            if middle <= low || middle >= high {
                break;
            }
            if self.survival(middle) > 1.0 - q {
                low = middle;
            } else {
                high = middle;
            }
        }
        Some(high)
    }
}

/// Chance that a drive survives `seasons` at `damage_per_season`, after it has used `damage_before` of its life.
pub fn chance_to_survive(wear: &Wear, damage_before: f64, damage_per_season: f64, seasons: f64) -> f64 {
    Weibull::of_drive(wear).conditional_survival(damage_before, damage_per_season * seasons)
}
