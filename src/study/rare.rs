//! Rare misses: what no number of seasons would show, from few approaches that are chosen with care.
//!
//! The chance of an approach to go unnoticed is known exactly for given conditions ([`Approach`]); what remains is its
//! mean over the conditions, and if misses come from a few bad ones (a dark mower far to the side in the rain), a plain
//! average never meets them. So conditions are drawn from a *defensive mixture* (Hesterberg, Technometrics 37, 1995,
//! 185-194): a share of the draws as they come, the others from a law that prefers bad conditions, and every draw is
//! weighted by the ratio of the two densities. The weights are unbiased whatever the preference, and none exceeds one
//! over the defensive share. The preference is learnt from pilot draws by the cross-entropy method (Rubinstein &
//! Kroese, The Cross-Entropy Method, 2004): pilot draws are thrown away afterwards.
//!
//! Conditions are weather and light of an approach, drawn from those of seasons played, and the path: pace and sideways
//! offset (normal, as the scenario has them) and the phase of the sampling. The seasons' own weather is a sample, too: the
//! estimate is that of the weather seen, and says so by the number of approaches behind it. All arrivals count alike, also
//! those at which a message opened the door: messages are taken as silent.

use rayon::prelude::*;

use super::interval::mean::student_t;
use super::interval::{Interval, Method};
use crate::engine::approach::{Approach, Outset, Path};
use crate::engine::{Outside, Plan, PlanError};
use crate::math::random::{Source, Stream};

/// What is to be estimated.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RareSettings {
    /// Strategy, by index into the scenario's.
    pub strategy: usize,
    /// Seed.
    pub seed: u64,
    /// Seasons played for their weather.
    pub seasons: u64,
    /// Approaches worked out for the estimate, pilot draws apart.
    pub draws: u64,
    /// Share of the draws that are made as they come, above 0 and at most 1.
    pub defensive: f64,
    /// Confidence of the interval.
    pub confidence: f64,
}

/// An estimated chance of a rare event.
#[derive(Clone, Debug, PartialEq)]
pub struct RareEstimate {
    /// Chance per approach.
    pub mean: f64,
    /// Its standard error.
    pub error: f64,
    /// Interval; none where too few draws matter.
    pub interval: Option<Interval>,
    /// Effective sample size: (sum w p)^2 / sum (w p)^2, the number of equal draws that would know as much.
    pub effective: f64,
    /// Largest weight.
    pub heaviest: f64,
    /// Draws behind it.
    pub draws: u64,
}

/// Fewest effective draws for an interval: below, the normal approximation has no ground (common practice).
pub const EFFECTIVE_LEAST: f64 = 30.0;

/// Sums up weighted draws: each value is weight x chance. Its interval is given whatever it is worth.
fn weigh(values: &[f64], heaviest: f64, confidence: f64) -> RareEstimate {
    let n = values.len() as f64;
    let sum: f64 = values.iter().sum();
    let square: f64 = values.iter().map(|value| value * value).sum();
    let mean = if n > 0.0 { sum / n } else { 0.0 };
    let scatter: f64 = values.iter().map(|value| (value - mean) * (value - mean)).sum();
    let error = if n > 1.0 { libm::sqrt(scatter / (n - 1.0) / n) } else { f64::INFINITY };
    let effective = if square > 0.0 { sum * sum / square } else { 0.0 };
    let ends = |interval: Interval| Interval { low: interval.low.max(0.0), method: Method::StudentT, ..interval };
    let interval = student_t(values, confidence).map(ends);
    RareEstimate { mean, error, interval, effective, heaviest, draws: values.len() as u64 }
}

/// The same, its interval withheld where too few draws matter.
fn if_known(estimate: RareEstimate) -> RareEstimate {
    RareEstimate { interval: estimate.interval.filter(|_| estimate.effective >= EFFECTIVE_LEAST), ..estimate }
}

/// Conditions as places in a list (drawn with equal chance) and independent standard normal numbers.
#[derive(Clone, Debug, PartialEq)]
pub struct Draw<const D: usize> {
    /// Place in the list.
    pub place: usize,
    /// Standard normal numbers.
    pub z: [f64; D],
    /// Ratio of the density as it comes to the density drawn from.
    pub weight: f64,
}

/// A preference: places with unequal chances, normal numbers with other means and spreads.
#[derive(Clone, Debug, PartialEq)]
pub struct Preference<const D: usize> {
    defensive: f64,
    /// Chance of each place, and their running sums.
    chances: Vec<f64>,
    sums: Vec<f64>,
    shift: [f64; D],
    spread: [f64; D],
}

/// A tilted law keeps at least this spread, so that it does not close in on the few pilot draws it has seen.
const SPREAD_LEAST: f64 = 0.5;

impl<const D: usize> Preference<D> {
    /// No preference but for spread: what the first pilot draws are made from.
    pub fn wide(places: usize, defensive: f64, spread: f64) -> Preference<D> {
        Preference::new(vec![1.0; places], defensive, [0.0; D], [spread; D])
    }

    fn new(mut chances: Vec<f64>, defensive: f64, shift: [f64; D], spread: [f64; D]) -> Preference<D> {
        let total: f64 = chances.iter().sum();
        let mut sum = 0.0;
        let sums = chances
            .iter_mut()
            .map(|chance| {
                *chance /= total;
                sum += *chance;
                sum
            })
            .collect();
        Preference { defensive, chances, sums, shift, spread }
    }

    /// Draws conditions.
    pub fn draw(&self, stream: &mut Stream) -> Draw<D> {
        let places = self.chances.len();
        let plain = stream.chance(self.defensive);
        let u = stream.uniform();
        let place = if plain {
            ((u * places as f64) as usize).min(places - 1)
        } else {
            self.sums.partition_point(|sum| *sum <= u).min(places - 1)
        };
        let mut z = [0.0; D];
        for (i, z) in z.iter_mut().enumerate() {
            let normal = stream.normal();
            *z = if plain { normal } else { self.shift[i] + self.spread[i] * normal };
        }
        // Density of the preference over that as it comes.
        let mut log = libm::log(self.chances[place] * places as f64);
        for (i, z) in z.iter().enumerate() {
            let tilted = (z - self.shift[i]) / self.spread[i];
            log += 0.5 * (z * z - tilted * tilted) - libm::log(self.spread[i]);
        }
        let weight = 1.0 / (self.defensive + (1.0 - self.defensive) * libm::exp(log));
        Draw { place, z, weight }
    }

    /// The preference that pilot draws speak for: each place by its share of the sum of weight x chance (half of the mass
    /// stays with all places alike), the normal numbers by their weighted means and spreads.
    pub fn learn(&self, draws: &[(Draw<D>, f64)]) -> Preference<D> {
        let total: f64 = draws.iter().map(|(draw, chance)| draw.weight * chance).sum();
        if total <= 0.0 {
            return self.clone();
        }
        let places = self.chances.len();
        let mut chances = vec![0.5 / places as f64; places];
        let (mut shift, mut square) = ([0.0; D], [0.0; D]);
        for (draw, chance) in draws {
            let share = draw.weight * chance / total;
            chances[draw.place] += 0.5 * share;
            for i in 0..D {
                shift[i] += share * draw.z[i];
                square[i] += share * draw.z[i] * draw.z[i];
            }
        }
        let mut spread = [1.0; D];
        for i in 0..D {
            spread[i] = libm::sqrt((square[i] - shift[i] * shift[i]).max(0.0)).max(SPREAD_LEAST);
        }
        Preference::new(chances, self.defensive, shift, spread)
    }
}

/// Rounds of pilot draws.
const ROUNDS: u64 = 4;
/// Spread of the first of them.
const FIRST_SPREAD: f64 = 2.0;

/// Estimates the mean of `chance` over conditions, from `draws` draws and a fifth as many pilot draws in each round.
pub fn estimate<const D: usize>(
    places: usize,
    chance: impl Fn(&Draw<D>, &mut Stream) -> f64 + Sync,
    settings: &RareSettings,
) -> RareEstimate {
    let draws = drawn(places, |draw, stream| (chance(draw, stream), ()), settings);
    if_known(weigh_draws(&draws, |(chance, ())| *chance, settings.confidence).0)
}

/// Sums up draws with their chances; beside the estimate what each draw adds.
fn weigh_draws<const D: usize, C>(
    draws: &[(Draw<D>, C)],
    chance: impl Fn(&C) -> f64,
    confidence: f64,
) -> (RareEstimate, Vec<f64>) {
    let values: Vec<f64> = draws.iter().map(|(draw, found)| draw.weight * chance(found)).collect();
    let weights: Vec<f64> = draws.iter().map(|(draw, _)| draw.weight).collect();
    let heaviest = weights.iter().copied().fold(0.0, f64::max);
    let plain = weigh(&values, heaviest, confidence);
    // The slope of a few draws explains their own chance away.
    let estimate = match plain.effective >= EFFECTIVE_LEAST {
        true => {
            RareEstimate { effective: plain.effective, ..weigh(&regressed(&values, &weights), heaviest, confidence) }
        }
        false => plain,
    };
    (capped(estimate), values)
}

/// Weighted values less what their weights explain: the mean of the weights is known to be 1, so that their scatter about it
/// is taken off with the slope of the regression (control variates: Hesterberg, Technometrics 37, 1995, 185-194). A chance
/// that is the same under all conditions is then exact.
fn regressed(values: &[f64], weights: &[f64]) -> Vec<f64> {
    let n = values.len() as f64;
    let (mean, weight) = (values.iter().sum::<f64>() / n, weights.iter().sum::<f64>() / n);
    let both = values.iter().zip(weights);
    let covariance: f64 = both.map(|(value, other)| (value - mean) * (other - weight)).sum();
    let variance: f64 = weights.iter().map(|other| (other - weight) * (other - weight)).sum();
    let slope = if variance > 0.0 { covariance / variance } else { 0.0 };
    values.iter().zip(weights).map(|(value, other)| value - slope * (other - 1.0)).collect()
}

/// The same as a probability: none lies beyond 0 and 1.
fn capped(estimate: RareEstimate) -> RareEstimate {
    let ends = |it: Interval| Interval { low: it.low.clamp(0.0, 1.0), high: it.high.clamp(0.0, 1.0), ..it };
    RareEstimate { mean: estimate.mean.clamp(0.0, 1.0), interval: estimate.interval.map(ends), ..estimate }
}

/// The draws behind [`estimate`], each with its chance, by which the preference is learnt, and what else was found.
fn drawn<const D: usize, C: Send>(
    places: usize,
    chance: impl Fn(&Draw<D>, &mut Stream) -> (f64, C) + Sync,
    settings: &RareSettings,
) -> Vec<(Draw<D>, (f64, C))> {
    let source = Source::new(settings.seed, 0, "rare conditions");
    let play = |preference: &Preference<D>, first: u64, count: u64| -> Vec<(Draw<D>, (f64, C))> {
        (first..first + count)
            .into_par_iter()
            .map(|number| {
                let mut stream = source.stream(number);
                let draw = preference.draw(&mut stream);
                let found = chance(&draw, &mut stream);
                (draw, found)
            })
            .collect()
    };
    let pilots = (settings.draws / 5).max(100);
    let mut preference = Preference::wide(places, settings.defensive, FIRST_SPREAD);
    for round in 0..ROUNDS {
        let pilots = play(&preference, round << 40, pilots);
        let chances: Vec<(Draw<D>, f64)> = pilots.into_iter().map(|(draw, (chance, _))| (draw, chance)).collect();
        preference = preference.learn(&chances);
    }
    play(&preference, ROUNDS << 40, settings.draws)
}

/// Sums up draws whose chances are nowhere below `floor`. What exceeds it is estimated: the weights of a part that is
/// the same everywhere would only add their own noise. Its interval is withheld where that of the noise alone is.
fn above_floor<const D: usize>(
    draws: &[(Draw<D>, (f64, f64))],
    floor: f64,
    alone: &RareEstimate,
    confidence: f64,
) -> RareEstimate {
    let (above, _) = weigh_draws(draws, |(_, with_common)| with_common - floor, confidence);
    let interval = above.interval.filter(|_| alone.interval.is_some());
    let interval = interval.map(|it| Interval { low: floor + it.low, high: floor + it.high, ..it });
    capped(RareEstimate { mean: floor + above.mean, interval, ..above })
}

/// How rarely a strategy misses, and under which conditions.
#[derive(Clone, Debug, PartialEq)]
pub struct RareMisses {
    /// Chance per approach by the noise of the readings alone.
    pub chance: RareEstimate,
    /// The same with the causes that sensors share: the beta factor, and no approach below the floor.
    pub floored: RareEstimate,
    /// Approaches of the seasons whose weather was used: all that arrived. Messages, visitors and faults are not part of the
    /// chance, so what they did to an arrival takes none away.
    pub approaches: u64,
    /// Seasons they come from.
    pub seasons: u64,
    /// Shares of the expected misses: in rain; in bright light (10 klx and more: clear sky by day); with an offset to the
    /// side beyond two standard deviations; at a pace beyond two standard deviations.
    pub shares: [f64; 4],
}

impl RareMisses {
    /// Expected misses per season by one of its chances per approach, with the interval's ends.
    pub fn per_season(&self, chance: &RareEstimate) -> (f64, Option<(f64, f64)>) {
        let each = self.approaches as f64 / self.seasons as f64;
        (each * chance.mean, chance.interval.map(|it| (each * it.low, each * it.high)))
    }
}

/// Light above which it counts as bright, klx: some of a clear day's 100, more than any room (common practice).
const BRIGHT_KLUX: f64 = 10.0;

/// The chance of an approach to go unnoticed, over the weather of seasons and the spread of paths; none if the open rule
/// can't be worked out or nothing arrived.
///
/// # Errors
/// If the weather can't be had.
pub fn rare_misses(plan: &Plan, settings: &RareSettings) -> Result<Option<RareMisses>, PlanError> {
    let Some(approach) = Approach::new(plan, settings.strategy) else { return Ok(None) };
    let outsets = season_outsets(plan, settings)?;
    if outsets.is_empty() {
        return Ok(None);
    }
    let chance = |draw: &Draw<2>, stream: &mut Stream| {
        let path = path_of(plan, [draw.z[0], draw.z[1]], stream);
        let found = approach.unnoticed(&outsets[draw.place], &path);
        (found.alone, found.with_common)
    };
    let draws = drawn(outsets.len(), chance, settings);
    let (chance, values) = weigh_draws(&draws, |(alone, _)| *alone, settings.confidence);
    let chance = if_known(chance);
    let floored = above_floor(&draws, plan.scenario.common_cause.floor, &chance, settings.confidence);
    let total: f64 = values.iter().sum();
    let share = |holds: &dyn Fn(&Draw<2>) -> bool| {
        let part: f64 = draws.iter().zip(&values).filter(|((draw, _), _)| holds(draw)).map(|(_, value)| value).sum();
        // An empty sum is minus nought.
        if total > 0.0 { part.abs() / total } else { 0.0 }
    };
    let shares = [
        share(&|draw| outsets[draw.place].sky.rain_mm_h > 0.0),
        share(&|draw| outsets[draw.place].sky.light_klux >= BRIGHT_KLUX),
        share(&|draw| draw.z[1].abs() > 2.0),
        share(&|draw| draw.z[0].abs() > 2.0),
    ];
    Ok(Some(RareMisses { chance, floored, approaches: outsets.len() as u64, seasons: settings.seasons, shares }))
}

/// What held at the beginning of all approaches of the seasons asked for, one for each arrival.
///
/// # Errors
/// If the weather can't be had.
pub fn season_outsets(plan: &Plan, settings: &RareSettings) -> Result<Vec<Outset>, PlanError> {
    let seasons: Vec<Vec<Outset>> = (0..settings.seasons)
        .into_par_iter()
        .map(|season| {
            let outside = Outside::draw(plan, settings.seed, season)?;
            Ok(crate::engine::approach::outsets(plan, &outside, settings.strategy, settings.seed))
        })
        .collect::<Result<_, PlanError>>()?;
    Ok(seasons.concat())
}

/// The path that standard normal numbers for pace and offset stand for; the phase is drawn.
pub fn path_of(plan: &Plan, [pace, sideways]: [f64; 2], stream: &mut Stream) -> Path {
    let way = plan.scenario.mower.approach;
    Path {
        pace: (1.0 + way.speed_spread * pace).clamp(0.5, 1.5),
        sideways_m: way.sideways_m * sideways,
        phase: stream.uniform(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::normal;

    const SETTINGS: RareSettings =
        RareSettings { strategy: 0, seed: 5, seasons: 0, draws: 4_000, defensive: 0.3, confidence: 0.95 };

    /// P(Z > c) by draws, against the exact tail down to 1e-12 (values of the normal tail at 3, 4.5, 6, 7), within 4.5
    /// standard errors and with an error of some percent; a second number that does not matter is left alone.
    #[test]
    fn normal_tails() {
        for (c, tail) in [(3.0, 1.349_898e-3), (4.5, 3.397_673e-6), (6.0, 9.865_876e-10), (7.0, 1.279_813e-12)] {
            // A steep but soft step, as a miss probability is: its mean is that of a slightly wider tail.
            let soft = 0.3;
            let exact = normal::tail(c / libm::sqrt(1.0 + soft * soft));
            assert!(exact > tail);
            let got = estimate::<2>(10, |draw, _| normal::cdf((draw.z[0] - c) / soft), &SETTINGS);
            assert!((got.mean - exact).abs() < 4.5 * got.error, "{c}: {got:?} against {exact}");
            assert!(got.error < 0.1 * exact && got.effective > 200.0, "{c}: {got:?}");
            assert!(got.heaviest <= 1.0 / SETTINGS.defensive + 1e-12);
        }
    }

    /// One bad place in five hundred decides; its share is found.
    #[test]
    fn a_bad_place() {
        let chance = |draw: &Draw<1>, _: &mut Stream| {
            if draw.place == 321 { normal::tail(4.0 - draw.z[0]) } else { 1e-30 }
        };
        let got = estimate::<1>(500, chance, &SETTINGS);
        let exact = normal::tail(4.0 / std::f64::consts::SQRT_2) / 500.0;
        assert!((got.mean - exact).abs() < 4.5 * got.error, "{got:?} against {exact}");
        assert!(got.error < 0.15 * exact, "{got:?}");
    }

    /// The 95 % interval holds the truth in 93 to 97 % of repeats (1000 repeats: 4.4 standard errors of 0.7 %).
    #[test]
    fn intervals_cover() {
        let exact = normal::tail(4.0 / libm::sqrt(1.25));
        let covers = |seed: u64| {
            let settings = RareSettings { seed, draws: 300, ..SETTINGS };
            let got = estimate::<1>(1, |draw, _| normal::cdf((draw.z[0] - 4.0) / 0.5), &settings);
            got.interval.is_some_and(|interval| interval.low <= exact && exact <= interval.high)
        };
        let share = (0..1_000).filter(|seed| covers(*seed)).count() as f64 / 1_000.0;
        assert!((0.92..=0.98).contains(&share), "{share}");
    }

    /// A chance that is the same under all conditions needs no draws: weights add nothing to it, and it is never above 1.
    #[test]
    fn a_constant_chance_is_exact() {
        for chance in [1.0, 0.3] {
            let settings = RareSettings { seed: 9, ..SETTINGS };
            let got = estimate::<2>(7, |_, _| chance, &settings);
            let interval = got.interval.expect("enough draws");
            assert!((got.mean - chance).abs() < 1e-9, "{got:?}");
            assert!(interval.high <= 1.0 && interval.high - interval.low < 1e-9, "{got:?}");
        }
    }

    /// One draw that alone decides is not explained away by its weight.
    #[test]
    fn few_draws_keep_their_chance() {
        let one = |number: usize| {
            let (weight, chance) = if number == 0 { (3.0, 1e-6) } else { (1.0, 0.0) };
            (Draw { place: 0, z: [0.0], weight }, chance)
        };
        let draws: Vec<(Draw<1>, f64)> = (0..1_000).map(one).collect();
        let (got, _) = weigh_draws(&draws, |chance| *chance, 0.95);
        assert!((got.mean - 3e-9).abs() < 1e-15, "{got:?}");
    }

    #[test]
    fn few_effective_draws_support_no_interval() {
        let mut values = vec![0.0; 1_000];
        values[0] = 1.0;
        let got = if_known(weigh(&values, 1.0, 0.95));
        assert_eq!((got.effective, got.interval), (1.0, None));
        assert_eq!(weigh(&[], 0.0, 0.95).mean, 0.0);
    }
}
