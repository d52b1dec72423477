//! Now and then the laws of the sensors' readings are looked at: how often would each detector go on with nobody there? Their mean
//! over the moments is what false runs are expected to come to, however rare they are, with no reading drawn for it.

use super::event::Event;
use super::plan::Plan;
use super::season::Season;
use super::senses::shines;
use crate::math::random::Source;
use crate::math::time::{Instant, Span};
use crate::sensing::false_runs::Cycle;
use crate::sensing::law::Law;
use crate::world::weather::{Conditions, SeasonWeather};

/// Of a detector, with its run rule and with one sample less: the laws that were looked at last, and how it goes on and off.
pub type Surveyed = [Option<([Law; 2], Cycle)>; 2];

/// A moment at which the laws are looked at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moment {
    /// When.
    pub at: Instant,
    /// For how many days a rate found there stands.
    pub worth: f64,
    /// What the sum of those rates is divided by in the end, added up over the moments of the same condition, days.
    pub weight: f64,
    /// Whether what takes long to work out is looked at, too.
    pub thorough: bool,
}

/// Time between two moments of the whole season, and the fewest and most of them.
const BETWEEN: Span = Span(4 * Span::DAY.0);
const FEWEST: i64 = 12;
const MOST: i64 = 48;

/// For so many moments of the whole season one is spread over the time of what is hard on sensors, and as many over the integral of how
/// hard it is to this power: a few hours of heavy rain, or of a low sun, bring most of the false runs. Drops are seen in
/// proportion to the 1.2th power of the intensity, the sun in proportion to its light, and a run takes two or three sightings.
const TO_ONE_HARD: i64 = 4;
const POWER: i32 = 3;

/// Drifts at which the laws are looked at at each moment, where sensors drift at random.
const DRIFTS: u32 = 16;

/// Of moments in rain one in so many is thorough.
const THOROUGH: u32 = 4;

/// The golden section's share of their distance, by which successive moments are shifted: they come to all times of day.
const GOLDEN: f64 = 0.618_033_988_749_894_9;

/// A stretch of time in which sensors have it equally hard.
#[derive(Clone, Copy)]
struct Piece {
    from: Instant,
    days: f64,
    /// Intensity of the rain, or how much sun shines into a sensor.
    hard: f64,
}

/// Stretches that are hard on sensors, with their time and the integral of their hardness to the power.
struct Hardship {
    pieces: Vec<Piece>,
    days: f64,
    integral: f64,
    /// Moments by time, and as many by hardness.
    moments: u32,
}

impl Hardship {
    fn new(pieces: Vec<Piece>, moments: u32) -> Hardship {
        let days = pieces.iter().map(|piece| piece.days).sum();
        let integral: f64 = pieces.iter().map(|piece| piece.hard.powi(POWER) * piece.days).sum();
        // Too little of it for numbers to hold is none.
        let some = integral > 0.0 && integral.is_finite();
        Hardship { pieces: if some { pieces } else { Vec::new() }, days, integral, moments }
    }

    /// Moments per day at this hardness.
    fn density(&self, hard: f64) -> f64 {
        f64::from(self.moments) * (1.0 / self.days + hard.powi(POWER) / self.integral)
    }

    /// How hard it is at a moment; 0 where it is not.
    fn at(&self, at: Instant) -> f64 {
        let next = self.pieces.partition_point(|piece| piece.from <= at);
        let piece = next.checked_sub(1).map(|place| self.pieces[place]);
        piece.filter(|piece| at.since(piece.from).hours() < 24.0 * piece.days).map_or(0.0, |piece| piece.hard)
    }

    /// Moments spread evenly over its time, or over the integral of its hardness: number, time and hardness of each.
    fn spread(&self, by_time: bool, phase: f64) -> Vec<(u32, Instant, f64)> {
        let (mut reached, mut number, mut found) = (0.0, 0, Vec::new());
        let due = |number: u32| (f64::from(number) + phase) / f64::from(self.moments);
        for Piece { from, days, hard } in &self.pieces {
            let share = if by_time { days / self.days } else { hard.powi(POWER) * days / self.integral };
            while number < self.moments && due(number) < reached + share {
                let within = (due(number) - reached) / share;
                // Not at its very ends, where something else may hold.
                let length = Span::from_seconds(86_400.0 * days);
                let after = ((within * length.0 as f64) as i64).clamp(1.min(length.0 - 1), length.0 - 1);
                found.push((number, *from + Span(after), *hard));
                number += 1;
            }
            reached += share;
        }
        found
    }
}

/// The moments of a season, in their order.
///
/// They are a mixture of samples, and each stands for as much time as all of them together leave there (Owen & Zhou, "Safe and effective
/// importance sampling", JASA 95, 2000, 135-143), so that drizzle counts no more than it should and cloudbursts no less.
pub fn moments(plan: &Plan, weather: &SeasonWeather, seed: u64, season: u64) -> Vec<Moment> {
    let clock = &plan.clock;
    let source = Source::new(seed, season, "survey");
    let whole = clock.end().since(Instant::START);
    let count = (whole.0 / BETWEEN.0).clamp(FEWEST, MOST);
    let every = (count / FEWEST) as u32;
    // Whole rounds of those that are thorough.
    let hard = ((count / TO_ONE_HARD) as u32).next_multiple_of(THOROUGH);
    let wet = weather.stretches(clock).filter(|(step, length)| step.rain_mm_h > 0.0 && length.0 > 0);
    let piece = |(step, length): (&Conditions, Span)| Piece {
        from: step.from,
        days: length.hours() / 24.0,
        hard: step.rain_mm_h,
    };
    let rain = Hardship::new(wet.map(piece).collect(), hard);
    let sun = Hardship::new(low_sun(plan, weather), hard);
    let dry = |at: Instant, sunny: f64, thorough: bool| {
        let density = count as f64 / (whole.hours() / 24.0) + if sunny > 0.0 { sun.density(sunny) } else { 0.0 };
        Moment { at, worth: 1.0 / density, weight: 1.0 / density, thorough }
    };
    let mut phases = source.stream(1);
    // Which of them are thorough changes from season to season, so that no part of the season is left out for good.
    let [turn_dry, turn_wet] = [every, THOROUGH].map(|every| (phases.uniform() * f64::from(every)) as u32);
    let phase = source.stream(0).uniform();
    let all_season = (0..count).map(|number| {
        let within = phase + GOLDEN * number as f64;
        let share = (number as f64 + within - libm::floor(within)) / count as f64;
        let at = Instant::START + Span((share * whole.0 as f64) as i64);
        dry(at, sun.at(at), number as u32 % every == turn_dry)
    });
    let mut all: Vec<Moment> = all_season.filter(|moment| weather.at(moment.at).rain_mm_h <= 0.0).collect();
    for by_time in [true, false] {
        let wet = |(number, at, rain_mm_h): (u32, Instant, f64)| Moment {
            at,
            worth: 1.0 / rain.density(rain_mm_h),
            weight: rain.days / (2.0 * f64::from(hard)),
            thorough: number % THOROUGH == turn_wet,
        };
        all.extend(rain.spread(by_time, phases.uniform()).into_iter().map(wet));
    }
    for by_time in [true, false] {
        let sunny = |(number, at, hard): (u32, Instant, f64)| dry(at, hard, number % every == turn_dry);
        all.extend(sun.spread(by_time, phases.uniform()).into_iter().map(sunny));
    }
    all.sort_by_key(|moment| moment.at);
    all
}

/// The dry stretches in which the sun shines into a sensor that it makes see things.
fn low_sun(plan: &Plan, weather: &SeasonWeather) -> Vec<Piece> {
    let mut pieces = Vec::new();
    if plan.dazzle.iter().all(|dazzle| *dazzle <= 0.0) {
        return pieces;
    }
    let ends = plan.lights.iter().skip(1).map(|light| light.at).chain([plan.clock.end()]);
    for ((light, end), dazzle) in plan.lights.iter().zip(ends).zip(&plan.dazzle).filter(|(_, dazzle)| **dazzle > 0.0) {
        let first = weather.index_at(light.at);
        for (place, step) in weather.steps.iter().enumerate().skip(first).take_while(|(_, step)| step.from < end) {
            let until = weather.steps.get(place + 1).map_or(end, |next| next.from.min(end));
            let from = step.from.max(light.at);
            let hard = dazzle * light.direct_klux * shines(step.clearness);
            if step.rain_mm_h <= 0.0 && hard > 0.0 && until > from {
                pieces.push(Piece { from, days: until.since(from).hours() / 24.0, hard });
            }
        }
    }
    pieces
}

impl Season<'_> {
    /// Schedules moment `number`.
    pub fn schedule_survey(&mut self, number: u32) {
        if let Some(moment) = self.outside.moments.get(number as usize) {
            self.queue.schedule(moment.at.max(self.now), Event::Survey(number));
        }
    }

    /// Looks at the laws of all readings. A sensor that is not sound, or that somebody stands before, makes no false runs.
    pub fn survey(&mut self, number: u32) {
        self.schedule_survey(number + 1);
        let drifts = self.senses.iter().any(|sense| sense.random_drift.is_some());
        let looks = if drifts { DRIFTS } else { 1 };
        for look in 0..looks {
            self.look_drifted(number * DRIFTS + look);
            self.look_once(number, look, looks);
        }
        self.look_as_is();
    }

    /// The same once, for the `look`th time of so many at this moment.
    fn look_once(&mut self, number: u32, look: u32, looks: u32) {
        let condition = self.condition();
        let moment = self.outside.moments[number as usize];
        // What takes long is looked at once, for all.
        let share = |slow: bool| match slow {
            true if look == 0 && moment.thorough => Some(1.0),
            true => None,
            false => Some(1.0 / f64::from(looks)),
        };
        for index in 0..self.senses.len() {
            let detectors = &self.senses[index].detectors;
            if detectors.iter().all(|detector| self.plan.false_runs[*detector][0].is_none()) {
                continue;
            }
            let sound = self.powered && !self.senses[index].is_faulty() && self.nothing_in_view(index);
            let laws = sound.then(|| self.laws_at_rest(index));
            let looked = self.senses[index].looked;
            let worth = looked.map_or(1.0, |looked| looked.worth);
            self.look_stepped(index, true);
            let after = looked.filter(|_| sound).map(|looked| (looked, self.laws_at_rest(index)));
            self.look_stepped(index, false);
            for place in 0..self.senses[index].detectors.len() {
                let detector = self.senses[index].detectors[place];
                let short = self.short_rule && self.strategy.open_detectors >> detector & 1 == 1;
                let Some(runs) = &self.plan.false_runs[detector][usize::from(short)] else { continue };
                let Some(share) = share(runs.is_slow()) else { continue };
                // Many moments are alike, above all for beams.
                let known = &mut self.surveyed[detector][usize::from(short)];
                let cycle = match (laws, *known) {
                    (None, _) => Cycle::default(),
                    // Draws get better each time.
                    (Some(laws), Some((before, cycle))) if before == laws && !runs.is_drawn() => cycle,
                    (Some(laws), _) => {
                        let cycle = runs.cycle([&laws[0], &laws[1]], &mut self.survey_room);
                        *known = Some((laws, cycle));
                        cycle
                    }
                };
                let mut per_day = cycle.per_day;
                if let Some((looked, laws)) = after {
                    if runs.is_drawn() {
                        self.survey_room.draw_again();
                    }
                    let on = runs.cycle([&laws[0], &laws[1]], &mut self.survey_room).on;
                    self.on_after_step[detector] = on;
                    per_day += looked.by_steps(cycle.on, on);
                }
                self.book.record().detectors[detector].false_runs.looked_at(
                    condition,
                    per_day,
                    share * moment.worth * worth,
                    share * moment.weight,
                );
            }
        }
        if let Ok(plan) = &self.strategy.noise
            && let Some(share) = share(plan.slow)
        {
            let (often, worth) = self.openings_by_noise(plan, number * DRIFTS + look);
            let (worth, weight) = (share * moment.worth * worth, share * moment.weight);
            self.book.record().noise_openings.looked_at(condition, often, worth, weight);
        }
    }
}
