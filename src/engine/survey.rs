//! Now and then the laws of the sensors' readings are looked at: how often would each detector go on with nobody there? Their mean
//! over the moments is what false runs are expected to come to, however rare they are, with no reading drawn for it.

use super::event::Event;
use super::season::Season;
use crate::math::random::Source;
use crate::math::time::{Instant, Span};
use crate::sensing::false_runs::Cycle;
use crate::sensing::law::Law;
use crate::world::clock::LocalClock;
use crate::world::weather::SeasonWeather;

/// Of a detector, with its run rule and with one sample less: the laws that were looked at last, and how it goes on and off.
pub type Surveyed = [Option<([Law; 2], Cycle)>; 2];

/// A moment at which the laws are looked at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moment {
    /// When.
    pub at: Instant,
    /// What a rate found there counts for, and what this is divided by in the end: 1 and 1 in dry weather, days in rain.
    pub worth: f64,
    /// See `worth`.
    pub weight: f64,
    /// Whether what takes long to work out is looked at, too.
    pub thorough: bool,
}

/// Time between two moments of dry weather, which are spread evenly from a random one on, and the fewest and most in a season.
const BETWEEN: Span = Span(4 * Span::DAY.0);
const FEWEST: i64 = 12;
const MOST: i64 = 48;

/// Moments in rain, spread evenly over its time, and as many over the integral of its intensity to this power: a few hours of heavy
/// rain bring most of the false runs, for drops are seen in proportion to its 1.2th power, and a run takes two or three of them.
const IN_RAIN: u32 = 12;
const HEAVY: i32 = 3;

/// What takes long is looked at once in so many moments of rain.
const THOROUGH_IN_RAIN: u32 = 4;

/// The moments of a season, in their order.
///
/// Those in rain are a mixture of two samples; each stands for as much time as both together leave there (Owen & Zhou, "Safe and
/// effective importance sampling", JASA 95, 2000, 135-143), so that drizzle counts no more than it should and cloudbursts no less.
pub fn moments(weather: &SeasonWeather, clock: &LocalClock, seed: u64, season: u64) -> Vec<Moment> {
    let source = Source::new(seed, season, "survey");
    let whole = clock.end().since(Instant::START);
    let count = (whole.0 / BETWEEN.0).clamp(FEWEST, MOST);
    let phase = source.stream(0).uniform();
    let dry = (0..count).map(|number| {
        let share = (number as f64 + phase) / count as f64;
        let at = Instant::START + Span((share * whole.0 as f64) as i64);
        Moment { at, worth: 1.0, weight: 1.0, thorough: number % (count / FEWEST) == 0 }
    });
    let mut all: Vec<Moment> = dry.filter(|moment| weather.at(moment.at).rain_mm_h <= 0.0).collect();
    let wet = || weather.stretches(clock).filter(|(step, length)| step.rain_mm_h > 0.0 && length.0 > 0);
    let power = |rain_mm_h: f64| rain_mm_h.powi(HEAVY);
    let days: f64 = wet().map(|(_, length)| length.hours() / 24.0).sum();
    let heavy: f64 = wet().map(|(step, length)| power(step.rain_mm_h) * length.hours() / 24.0).sum();
    if !(heavy > 0.0 && heavy.is_finite()) {
        return all;
    }
    let each = f64::from(IN_RAIN);
    let mut take = |by_time: bool, phase: f64| {
        let density = |rain_mm_h: f64| if by_time { 1.0 / days } else { power(rain_mm_h) / heavy };
        let (mut reached, mut number) = (0.0, 0);
        for (step, length) in wet() {
            let share = density(step.rain_mm_h) * length.hours() / 24.0;
            while number < IN_RAIN && (f64::from(number) + phase) / each < reached + share {
                let within = ((f64::from(number) + phase) / each - reached) / share;
                let worth = 1.0 / (each / days + each * power(step.rain_mm_h) / heavy);
                all.push(Moment {
                    at: step.from + Span(((within * length.0 as f64) as i64).clamp(1.min(length.0 - 1), length.0 - 1)),
                    worth,
                    weight: days / (2.0 * each),
                    thorough: number.is_multiple_of(THOROUGH_IN_RAIN),
                });
                number += 1;
            }
            reached += share;
        }
    };
    let mut phases = source.stream(1);
    let [by_time, by_intensity] = [phases.uniform(), phases.uniform()];
    take(true, by_time);
    take(false, by_intensity);
    all.sort_by_key(|moment| moment.at);
    all
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
        let condition = self.condition();
        let moment = self.outside.moments[number as usize];
        for index in 0..self.senses.len() {
            let detectors = &self.senses[index].detectors;
            if detectors.iter().all(|detector| self.plan.false_runs[*detector][0].is_none()) {
                continue;
            }
            let sound = self.powered && !self.senses[index].is_faulty() && self.nothing_in_view(index);
            let laws = sound.then(|| self.laws_at_rest(index));
            for place in 0..self.senses[index].detectors.len() {
                let detector = self.senses[index].detectors[place];
                let short = self.short_rule && self.strategy.open_detectors >> detector & 1 == 1;
                let Some(runs) = &self.plan.false_runs[detector][usize::from(short)] else { continue };
                if runs.is_slow() && !moment.thorough {
                    continue;
                }
                // Many moments are alike, above all for beams.
                let known = &mut self.surveyed[detector][usize::from(short)];
                let cycle = match (laws, *known) {
                    (None, _) => Cycle::default(),
                    (Some(laws), Some((before, cycle))) if before == laws => cycle,
                    (Some(laws), _) => {
                        let cycle = runs.cycle([&laws[0], &laws[1]], &mut self.survey_room);
                        *known = Some((laws, cycle));
                        cycle
                    }
                };
                self.book.record().detectors[detector].false_runs.looked_at(
                    condition,
                    cycle.per_day,
                    moment.worth,
                    moment.weight,
                );
            }
        }
        if self.strategy.noise.as_ref().is_some_and(|noise| moment.thorough || !noise.slow)
            && let Some(often) = self.openings_by_noise()
        {
            self.book.record().noise_openings.looked_at(condition, often, moment.worth, moment.weight);
        }
    }
}
