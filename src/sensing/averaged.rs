//! How often a detector that goes by an exponentially weighted moving average goes on and off, while the law of its readings stays as it is.
//!
//! With a reading x the average goes from z to (1 - w) z + w x. It is kept to steps (Brook & Evans, Biometrika 59, 1972, 539-549): what it
//! keeps of itself is shared out between two steps so that its mean stays, and the noise of the readings is taken as much smaller as that
//! makes it scatter. The levels lie half-way between two steps, and what lands next to them is shared out as the sum up to there differs
//! from the integral. Mass is passed on until the chances of changing over in a sample, given that it has not done so yet, stay the same:
//! every number is a sum of what is not negative, so that rates are as accurate where they are tiny.
//!
//! Against the integral equation rates err by less than 1 %, down to one in 1e12 samples. Where weight and noise are so small that steps
//! would be too many, these are wider than the noise; the average scatters a little more then, and false runs by noise alone come out too
//! often.

use std::ops::Range;

use super::law::{Law, SPURIOUS_SCALE_M, Target};
use super::statistic::{Frame, Levels};
use super::window::advance;
use crate::scenario::sensor::Sensor;
use crate::scenario::strategy::{Detector, Dropped, RunRule, Sense, Statistic};

/// Least weight: what takes 8 / w samples of 6,000 steps takes a quarter of a second at this one.
const WEIGHT_LEAST: f64 = 0.02;

/// From this weight on it takes some milliseconds.
const WEIGHT_QUICK: f64 = 0.2;

/// Most steps of the average times windows of the run rules.
const CELLS_MAX: f64 = 6_000.0;

/// Steps of readings, where nothing asks for more.
const READINGS: f64 = 48.0;

/// Steps of readings in the length over which spurious returns become e times rarer.
const SPURIOUS: f64 = 6.0;

/// Steps of readings, in standard deviations of the noise, where noise matters.
const FINE: f64 = 0.35;

/// Noise matters to levels that are no farther from what is read than so many of the average's standard deviations.
const FAR_OFF: f64 = 12.0;

/// Steps lie by so many of the average's own standard deviations, made by sharing out alone, within what is read and a level.
const SHARED: f64 = 5.0;

/// Noise of so many steps or more is summed over them; less of it is shared out as if there were none.
const SUMMED: f64 = 0.7;

/// Noise smaller than this share of the sensor's own steps leaves readings on one or two of these.
const ROUNDED: f64 = 0.3;

/// Noise beyond so many standard deviations is left out: 4e-19 of it.
const NO_NOISE: f64 = 9.0;

/// Chances change by less than this share from one look to the next when they are taken to stay.
const SETTLED: f64 = 1e-5;

/// Least and most looks, one every 1/w samples or as often as the longest run rule looks back: what was at the beginning has lost e times
/// as much with each of them.
const LOOKS: [usize; 2] = [8, 400];

/// Mass below this is not followed.
const NEVER: f64 = 1e-280;

/// A detector that goes by an average.
#[derive(Clone, Debug)]
pub(super) struct Averaged {
    weight: f64,
    levels: Levels,
    dropped: Dropped,
    frame: Frame,
    modes: Vec<Mode>,
    /// Longest window of its run rules, samples.
    longest: usize,
}

/// Whether it is on, with what its window holds.
#[derive(Clone, Copy, Debug)]
struct Mode {
    on: bool,
    window: u64,
    /// What follows a sample that does not speak for a change, and one that does.
    then: [usize; 2],
}

/// Room to work in.
#[derive(Clone, Debug, Default)]
pub(super) struct Room {
    /// Chance of each reading, counted in steps of what it adds to the average.
    readings: Vec<f64>,
    /// Where some that may come lie next to each other.
    runs: Vec<Range<usize>>,
    /// Mass of each mode and step, before and after a sample.
    mass: Vec<f64>,
    next: Vec<f64>,
    /// What is kept of the average.
    kept: Vec<f64>,
    /// What a sample makes of that.
    landed: Vec<f64>,
}

/// Steps of the average: the first `u` of each, where 0 is the on level and counting goes away from the on side.
#[derive(Clone, Copy, Debug)]
struct Steps {
    /// Width, in the reading's unit; negative where the on side is above.
    width: f64,
    first: i64,
    count: usize,
    /// From here on it speaks for off.
    off: i64,
}

/// Readings by what they add to the average.
#[derive(Clone, Copy, Debug)]
struct Odds {
    /// What the first one in the list adds.
    first: i64,
    /// Chance of no reading.
    nothing: f64,
}

impl Steps {
    /// The first step, by its place, on the other side of the level that counts in a mode: the on side comes first.
    fn border(&self, mode: &Mode) -> usize {
        (if mode.on { self.off } else { 0 } - self.first).clamp(0, self.count as i64) as usize
    }
}

impl Averaged {
    /// Makes ready; none for another statistic, run rules with too many windows, or an average that changes too slowly.
    pub fn new(detector: &Detector, sensor: &Sensor) -> Option<Averaged> {
        let Statistic::Ewma { weight } = detector.statistic else { return None };
        if weight < WEIGHT_LEAST {
            return None;
        }
        let frame = Frame::of(sensor);
        let rules = [detector.rule, detector.release];
        let modes = modes(rules)?;
        let levels = Levels::of(detector, frame.resolution);
        let longest = rules.into_iter().map(|rule| rule.n).max().unwrap_or(1);
        Some(Averaged { weight, levels, dropped: detector.dropped, frame, modes, longest })
    }

    /// Whether it takes no longer than draws would.
    pub fn is_quick(&self) -> bool {
        self.weight >= WEIGHT_QUICK
    }

    /// Mean numbers of samples for which it is off and on, infinite where it never changes over.
    pub fn waits(&self, law: &Law, room: &mut Room) -> [f64; 2] {
        let steps = self.steps(law);
        let odds = self.odds(law, &steps, room);
        let count = steps.count;
        room.mass.clear();
        room.mass.resize(self.modes.len() * count, 0.0);
        // Off, and with no reading yet.
        let mut anew = [1.0, 0.0];
        let every = (libm::ceil(1.0 / self.weight) as usize).max(self.longest);
        let mut chances = [f64::NAN; 2];
        for look in 1..=LOOKS[1] {
            let mut left = [0.0; 2];
            (0..every).for_each(|_| left = self.sample(&steps, &odds, &mut anew, room));
            let [off, on] = self.shares(&room.mass, count, anew);
            // As many might have changed over as there are now, with those that have and without those that came.
            let of = [off + left[0] - left[1], on + left[1] - left[0]];
            let before = chances;
            chances = [0, 1].map(|which| if of[which] > 0.0 { left[which] / of[which] } else { 0.0 });
            let stays = |which: usize| libm::fabs(chances[which] - before[which]) <= SETTLED * chances[which];
            if look >= LOOKS[0] && stays(0) && stays(1) {
                break;
            }
        }
        chances.map(|chance| 1.0 / chance)
    }

    fn shares(&self, mass: &[f64], count: usize, anew: [f64; 2]) -> [f64; 2] {
        let mut shares = anew;
        for (mode, mass) in self.modes.iter().zip(mass.chunks(count)) {
            shares[usize::from(mode.on)] += mass.iter().sum::<f64>();
        }
        shares
    }

    /// Passes all mass on by a sample; says how much of it went from off to on and back. `anew` is what has no average, off and on.
    fn sample(&self, steps: &Steps, odds: &Odds, anew: &mut [f64; 2], room: &mut Room) -> [f64; 2] {
        let Steps { first, count, .. } = *steps;
        let Room { readings, runs, mass, next, kept, landed } = room;
        next.clear();
        next.resize(mass.len(), 0.0);
        let mut left = [0.0; 2];
        let mut begins = anew.map(|mass| mass * odds.nothing);
        for (number, mode) in self.modes.iter().enumerate() {
            let own = &mass[number * count..][..count];
            let nothing: f64 = own.iter().sum::<f64>() * odds.nothing;
            if nothing > 0.0 {
                match self.dropped {
                    Dropped::Quiet | Dropped::Hold => {
                        let to = if self.dropped == Dropped::Quiet { mode.then[0] } else { number };
                        let into = &mut next[to * count..][..count];
                        into.iter_mut().zip(own).for_each(|(into, mass)| *into += mass * odds.nothing);
                    }
                    Dropped::Reset => begins[usize::from(mode.on)] += nothing,
                }
            }
            // What each keeps of itself: between two steps.
            kept.clear();
            kept.resize(count + 1, 0.0);
            for (place, mass) in own.iter().enumerate().filter(|(_, mass)| **mass > NEVER) {
                let at = (1.0 - self.weight) * (first + place as i64) as f64 - first as f64;
                let low = libm::floor(at);
                kept[low as usize] += mass * (1.0 - (at - low));
                kept[low as usize + 1] += mass * (at - low);
            }
            landed.clear();
            landed.resize(count, 0.0);
            add_readings(kept, odds.first, (readings, runs), landed);
            let border = steps.border(mode);
            if border > 0 && border < count {
                // A sum up to a border between two steps, against the integral (Euler & Maclaurin).
                let beyond = (landed[border] - landed[border - 1]) / 24.0;
                landed[border - 1] += beyond;
                landed[border] -= beyond;
            }
            self.split(steps, mode, landed, next, &mut left);
        }
        for (on, mass) in std::mem::replace(anew, begins).into_iter().enumerate().filter(|(_, mass)| *mass > 0.0) {
            let mode = self.modes.iter().find(|mode| usize::from(mode.on) == on && mode.window == 0);
            // A first reading is the average by itself, whatever its weight would be.
            landed.clear();
            landed.resize(count, 0.0);
            for (place, chance) in readings.iter().enumerate() {
                let at = libm::round((odds.first + place as i64) as f64 / self.weight) as i64 - first;
                landed[at.clamp(0, count as i64 - 1) as usize] += mass * chance;
            }
            mode.into_iter().for_each(|mode| self.split(steps, mode, landed, next, &mut left));
        }
        std::mem::swap(mass, next);
        left
    }

    /// What landed on each step after a sample in a mode goes to the modes that follow; what changes over is added to `left`.
    fn split(&self, steps: &Steps, mode: &Mode, landed: &[f64], next: &mut [f64], left: &mut [f64; 2]) {
        let border = steps.border(mode);
        for (places, speaks) in [(0..border, !mode.on), (border..steps.count, mode.on)] {
            let to = mode.then[usize::from(speaks)];
            let into = next[to * steps.count..][places.clone()].iter_mut();
            into.zip(&landed[places.clone()]).for_each(|(into, mass)| *into += mass);
            if self.modes[to].on != mode.on {
                left[usize::from(mode.on)] += landed[places].iter().sum::<f64>();
            }
        }
    }

    /// The average's standard deviation after a long time, in those of a reading (Roberts, Technometrics 1, 1959, 239-250).
    fn share_of_noise(&self) -> f64 {
        libm::sqrt(self.weight / (2.0 - self.weight))
    }

    /// A target's noise, with what rounding to the sensor's steps adds.
    fn noise(&self, target: &Target) -> f64 {
        let own = self.frame.resolution;
        if target.sigma > ROUNDED * own { libm::hypot(target.sigma, own / libm::sqrt(12.0)) } else { 0.0 }
    }

    /// Steps of the average that fit a law.
    fn steps(&self, law: &Law) -> Steps {
        let Levels { sense, on, off } = self.levels;
        let (mut lowest, mut highest) = (on.min(off), on.max(off));
        let mut reaches = |low: f64, high: f64| (lowest, highest) = (lowest.min(low), highest.max(high));
        let targets = || law.targets.iter().filter(|target| target.weight > 0.0);
        for target in targets() {
            let noise = NO_NOISE * self.noise(target);
            reaches(target.mean - noise, target.mean + noise);
        }
        if law.spurious.weight > 0.0 {
            reaches(law.spurious.low, law.spurious.high);
        }
        if self.frame.farthest.is_finite() && law.far_probability() > 0.0 {
            reaches(self.frame.farthest, self.frame.farthest);
        }
        let range = highest - lowest;
        let own = self.share_of_noise();
        let mut reading = range / READINGS;
        if law.spurious.weight > 0.0 {
            reading = reading.min(SPURIOUS_SCALE_M / SPURIOUS);
        }
        for (target, level) in targets().flat_map(|target| [(target, on), (target, off)]) {
            let (noise, between) = (self.noise(target), libm::fabs(target.mean - level));
            let fits = if between < FAR_OFF * noise * own { FINE * noise } else { between / (SHARED * own) };
            reading = if fits > 0.0 { reading.min(fits) } else { reading };
        }
        let most = CELLS_MAX / self.modes.len() as f64;
        let mut width = (self.weight * reading).max(range / most).max(f64::MIN_POSITIVE);
        let between = libm::round(libm::fabs(off - on) / width);
        if between > 0.0 {
            width = libm::fabs(off - on) / between;
        }
        let width = if sense == Sense::Below { width } else { -width };
        let ends = [lowest, highest].map(|end| (end - on) / width);
        let first = libm::floor(ends[0].min(ends[1])) as i64 - 1;
        let last = libm::ceil(ends[0].max(ends[1])) as i64 + 1;
        Steps { width, first, count: (last - first) as usize, off: between as i64 }
    }

    /// The chances of the readings. One that lies at u + 1/2 of the average's steps adds w u to what is kept of it.
    fn odds(&self, law: &Law, steps: &Steps, room: &mut Room) -> Odds {
        let Room { readings, runs, .. } = room;
        let Steps { width, first, count, .. } = *steps;
        let on = self.levels.on;
        let adds = |raw: f64| self.weight * ((raw - on) / width - 0.5);
        let begin = libm::floor(self.weight * first as f64) as i64 - 1;
        readings.clear();
        readings.resize((self.weight * count as f64) as usize + 4, 0.0);
        let last = readings.len() - 1;
        let place = |at: f64| (libm::floor(at) as i64 - begin).clamp(0, last as i64 - 1) as usize;
        let (lowest, highest) = law.raw_range();
        let raw = |place: usize| on + width * ((begin + place as i64) as f64 / self.weight + 0.5);
        let reported = |place: usize| (lowest..highest).contains(&raw(place));
        let share = |readings: &mut [f64], value: f64, chance: f64| {
            let at = adds(value.min(self.frame.farthest));
            let low = place(at);
            let part = (at - (begin + low as i64) as f64).clamp(0.0, 1.0);
            readings[low] += chance * (1.0 - part);
            readings[low + 1] += chance * part;
        };
        for target in law.targets.iter().filter(|target| target.weight > 0.0) {
            let seen = target.weight * target.between(lowest, highest);
            let (middle, noise) = (adds(target.mean), self.weight * self.noise(target) / libm::fabs(width));
            let scatter = noise * noise - self.shared_out(middle / self.weight);
            if seen > 0.0 && scatter >= SUMMED * SUMMED {
                let beyond = NO_NOISE * libm::sqrt(scatter);
                let places = place(middle - beyond)..=place(middle + beyond);
                let density = |place: usize| {
                    let from = (begin + place as i64) as f64 - middle;
                    if reported(place) { libm::exp(-0.5 * from * from / scatter) } else { 0.0 }
                };
                let sum: f64 = places.clone().map(density).sum();
                if sum > 0.0 {
                    places.for_each(|place| readings[place] += seen * density(place) / sum);
                    continue;
                }
            }
            if seen > 0.0 {
                self.on_own_steps(law, target, |value, chance| share(readings, value, chance));
            }
        }
        let far = law.far_probability();
        if far > 0.0 {
            let farthest = if self.frame.farthest.is_finite() { self.frame.farthest } else { law.highest };
            share(readings, farthest, far);
        }
        if law.spurious.weight > 0.0 {
            // Stretches of two steps: what they scatter less than what lies in them, sharing out their means and what is kept adds again.
            let mut from = law.spurious.low;
            while from < law.spurious.high {
                let gone = (from - law.spurious.low) / SPURIOUS_SCALE_M;
                let to = (from
                    + libm::fmax(2.0 * libm::fabs(width) / self.weight, SPURIOUS_SCALE_M * (gone / 4.0 - 0.5)))
                .min(law.spurious.high);
                let (a, b) = (from.max(lowest), to.min(highest));
                if b > a {
                    share(readings, mean_between(a, b), law.spurious.weight * law.spurious_between(a, b));
                }
                from = to;
            }
        }
        runs.clear();
        for (place, _) in readings.iter().enumerate().filter(|(_, chance)| **chance > 0.0) {
            match runs.last_mut() {
                Some(run) if run.end == place => run.end += 1,
                _ => runs.push(place..place + 1),
            }
        }
        Odds { first: begin, nothing: law.nothing_probability() }
    }

    /// How much sharing out what is kept of an average adds to its scatter, in squares of a step: as much as it does about this step.
    fn shared_out(&self, about: f64) -> f64 {
        const NEAR: i64 = 32;
        let about = libm::round(about) as i64;
        let parts = (about - NEAR..=about + NEAR).map(|step| {
            let at = (1.0 - self.weight) * step as f64;
            at - libm::floor(at)
        });
        parts.map(|part| part * (1.0 - part)).sum::<f64>() / (2 * NEAR + 1) as f64
    }

    /// The readings of a target with little noise: one, or some of the sensor's own steps.
    fn on_own_steps(&self, law: &Law, target: &Target, mut tell: impl FnMut(f64, f64)) {
        let own = self.frame.resolution;
        if own <= 0.0 || target.sigma > ROUNDED * own {
            return tell(target.mean, target.weight * target.between(law.raw_range().0, law.raw_range().1));
        }
        let (lowest, highest) = law.raw_range();
        let nearest = libm::round(target.mean / own);
        for value in [-2.0, -1.0, 0.0, 1.0, 2.0].map(|step| own * (nearest + step)) {
            let (from, to) = ((value - 0.5 * own).max(lowest), (value + 0.5 * own).min(highest));
            tell(value, target.weight * target.between(from, to));
        }
    }
}

/// Mean of the spurious returns between two raw values: exponential.
fn mean_between(from: f64, to: f64) -> f64 {
    from + SPURIOUS_SCALE_M - (to - from) / libm::expm1((to - from) / SPURIOUS_SCALE_M)
}

/// Adds readings, the first of which adds so much, to what is kept: what rounding carries beyond the ends is left there.
fn add_readings(kept: &[f64], first: i64, (readings, runs): (&[f64], &[Range<usize>]), landed: &mut [f64]) {
    let count = landed.len() as i64;
    for (place, mass) in kept.iter().enumerate().filter(|(_, mass)| **mass > NEVER) {
        for run in runs {
            let begin = place as i64 + first + run.start as i64;
            let chances = &readings[run.clone()];
            if begin >= 0 && begin + chances.len() as i64 <= count {
                let into = &mut landed[begin as usize..][..chances.len()];
                into.iter_mut().zip(chances).for_each(|(into, chance)| *into += mass * chance);
            } else {
                let places = (begin..).map(|at| at.clamp(0, count - 1) as usize);
                places.zip(chances).for_each(|(at, chance)| landed[at] += mass * chance);
            }
        }
    }
}

/// Most windows of the run rules.
const MODES_MAX: usize = 60;

/// All windows of these run rules, to on and to off; the first is that of a detector that is off and has seen nothing. None if there are
/// too many.
fn modes(rules: [RunRule; 2]) -> Option<Vec<Mode>> {
    let mut modes = vec![Mode { on: false, window: 0, then: [0; 2] }];
    let mut next = 0;
    while next < modes.len() {
        let Mode { on, window, .. } = modes[next];
        for speaks in [false, true] {
            let (on, window) = match advance(rules[usize::from(on)], window, speaks) {
                Some(window) => (on, window),
                None => (!on, 0),
            };
            let known = modes.iter().position(|mode| (mode.on, mode.window) == (on, window));
            let to = known.unwrap_or(modes.len());
            if known.is_none() {
                modes.push(Mode { on, window, then: [0; 2] });
            }
            modes[next].then[usize::from(speaks)] = to;
        }
        next += 1;
        if modes.len() > MODES_MAX {
            return None;
        }
    }
    Some(modes)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Source;
    use crate::sensing::chart;
    use crate::sensing::false_runs::{FalseRuns, Room as CycleRoom};
    use crate::sensing::invented::{self, normal, ranger};
    use crate::sensing::law::Spurious;

    fn waits(detector: &Detector, sensor: &Sensor, law: &Law) -> [f64; 2] {
        Averaged::new(detector, sensor).expect("an average").waits(law, &mut Room::default())
    }

    /// Mean run lengths of one-sided EWMAs of normal readings, from the integral equation that `tests/charts.rs` holds against published
    /// tables (Crowder, Technometrics 29, 1987, 401-407; Lucas & Saccucci, Technometrics 32, 1990, 1-12). These begin at the mean; from
    /// an average that has run for long it is up to 1/w samples less, which counts where runs are short. It goes off at its mean, to begin there
    /// anew.
    #[test]
    fn averages_run_as_long_as_published() {
        let sigma = 0.03;
        for (weight, factor) in
            [(0.4, 3.054), (0.2, 3.0), (0.1, 2.7), (0.5, 4.5), (0.2, 5.0), (0.1, 5.5), (0.2, 7.0), (0.05, 4.0)]
        {
            let limit = factor * chart::ewma_sigma(weight);
            let exact = chart::ewma_mean_one_sided(weight, factor, 0.0);
            for sense in [Sense::Below, Sense::Above] {
                let level = if sense == Sense::Below { 2.0 - limit * sigma } else { 2.0 + limit * sigma };
                let detector = Detector { sense, ..invented::detector(Statistic::Ewma { weight }, (level, 2.0)) };
                let [off, _] = waits(&detector, &ranger(0.0), &normal(2.0, sigma));
                let shorter = 1.2 / weight / exact;
                let error = off / exact - 1.0;
                assert!(error < 0.01 && error > -0.01 - shorter, "{weight} {factor}: {off} against {exact}");
            }
        }
    }

    /// With a weight of one the average is the reading: a level's run rule, by mean waiting times. Those take spurious returns up to a level
    /// as they are, not in stretches.
    #[test]
    fn an_average_of_one_reading_is_a_level() {
        let mut law = normal(2.0, 0.3);
        law.targets[0].weight = 0.8;
        law.spurious = Spurious { weight: 0.05, low: 0.1, high: 1.9 };
        law.far = 0.05;
        for dropped in [Dropped::Quiet, Dropped::Hold] {
            let of = |statistic: Statistic| Detector {
                rule: RunRule { k: 3, n: 5 },
                release: RunRule { k: 2, n: 3 },
                dropped,
                ..invented::detector(statistic, (1.2, 1.4))
            };
            let runs = FalseRuns::new(&of(Statistic::Level), &ranger(0.0)).expect("a run rule");
            let level = runs.cycle([&law; 2], &mut CycleRoom::new(Source::new(1, 0, "none")));
            let [off, on] = waits(&of(Statistic::Ewma { weight: 1.0 }), &ranger(0.0), &law);
            let per_day = 864_000.0 / (off + on);
            assert!((per_day / level.per_day - 1.0).abs() < 2e-3, "{dropped:?}: {per_day} against {level:?}");
        }
    }

    /// One spurious return does not do, two must come close together: the integral over where both lie, for each number of samples between
    /// them. More than two are as much rarer as one return is.
    #[test]
    fn two_spurious_returns_are_as_rare_as_their_integral() {
        const CHANCE: f64 = 1e-6;
        const PARTS: usize = 2_000;
        let (weight, fall) = (0.3, 0.75);
        let mut law = normal(2.0, 0.0);
        law.targets[0].weight = 1.0 - CHANCE;
        law.spurious = Spurious { weight: CHANCE, low: 0.1, high: 1.9 };
        let detector = invented::detector(Statistic::Ewma { weight }, (2.0 - fall, 2.0 - 0.2 * fall));
        let [off, _] = waits(&detector, &ranger(0.0), &law);
        let below = |raw: f64| {
            -libm::expm1(-(raw.clamp(0.1, 1.9) - 0.1) / SPURIOUS_SCALE_M) / -libm::expm1(-1.8 / SPURIOUS_SCALE_M)
        };
        let mut both = 0.0;
        for between in 0..20 {
            let kept = weight * libm::pow(1.0 - weight, f64::from(between) + 1.0);
            for part in 0..PARTS {
                let [from, to] = [part, part + 1].map(|at| 0.1 + 1.8 * at as f64 / PARTS as f64);
                let first = 2.0 - 0.5 * (from + to);
                both += (below(to) - below(from)) * below(2.0 - (fall - kept * first) / weight);
            }
        }
        let exact = CHANCE * CHANCE * both;
        assert!((exact * off - 1.0).abs() < 0.01, "1 in {off} against {exact}");
    }

    /// Against detectors at work: how often they go on and for how long, within 4.5 standard errors (of batches).
    #[test]
    fn averages_agree_with_detectors_at_work() {
        let mut seen = normal(2.0, 0.2);
        seen.targets[0].weight = 0.7;
        seen.spurious = Spurious { weight: 0.12, low: 0.1, high: 1.9 };
        let mut unseen = Law { far: 0.75, ..seen };
        unseen.targets[0].weight = 0.0;
        unseen.spurious = Spurious { weight: 0.2, low: 0.1, high: 4.0 };
        let cases = [
            (seen, 0.3, (1.4, 1.5), (1, 1), Dropped::Quiet, 0.0),
            (seen, 0.1, (1.7, 1.75), (2, 3), Dropped::Hold, 0.05),
            (seen, 0.4, (1.2, 1.5), (2, 4), Dropped::Reset, 0.01),
            (unseen, 0.3, (2.5, 3.0), (1, 1), Dropped::Quiet, 0.01),
            (unseen, 0.15, (3.0, 3.2), (2, 3), Dropped::Reset, 0.0),
        ];
        for (number, (law, weight, levels, (k, n), dropped, resolution)) in cases.into_iter().enumerate() {
            let law = Law { resolution, ..law };
            let rule = RunRule { k, n };
            let detector =
                Detector { rule, release: rule, dropped, ..invented::detector(Statistic::Ewma { weight }, levels) };
            let sensor = ranger(resolution);
            let [off, on] = waits(&detector, &sensor, &law);
            let mut stream = Source::new(43, number as u64, "averaged").stream(0);
            let counted = invented::at_work(&detector, &sensor, &law, &mut stream);
            for ([mean, error], exact) in counted.into_iter().zip([1.0 / (off + on), on / (off + on)]) {
                assert!((mean - exact).abs() < 4.5 * error, "{number}: {mean} +- {error} against {exact}");
                assert!(error < 0.05 * mean, "{number}: {mean} +- {error}");
            }
        }
    }
}
