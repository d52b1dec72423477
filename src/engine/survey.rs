//! Now and then the laws of the sensors' readings are looked at: how often would each detector go on with nobody there? Their mean
//! over the moments is what false runs are expected to come to, however rare they are, with no reading drawn for it.

use super::event::Event;
use super::season::Season;
use crate::math::random::Source;
use crate::math::time::{Instant, Span};
use crate::sensing::approach::Mass;

/// Moments of a season, evenly spread from a random one on.
const MOMENTS: u32 = 48;

impl Season<'_> {
    /// Schedules moment `number`.
    pub fn schedule_survey(&mut self, number: u32) {
        if number == 0 {
            let phase = Source::new(self.seed, self.outside.season, "survey").stream(0).uniform();
            self.survey_phase = phase;
        }
        if number < MOMENTS {
            let share = (f64::from(number) + self.survey_phase) / f64::from(MOMENTS);
            let whole = self.end.since(Instant::START);
            let at = Instant::START + Span((share * whole.0 as f64) as i64);
            self.queue.schedule(at.max(self.now), Event::Survey(number));
        }
    }

    /// Looks at the laws of all readings. A sensor that is not sound, or that somebody stands before, makes no false runs.
    pub fn survey(&mut self, number: u32) {
        self.schedule_survey(number + 1);
        let condition = self.condition();
        let mut mass = Mass::default();
        for index in 0..self.senses.len() {
            let detectors = &self.senses[index].detectors;
            if detectors.iter().all(|detector| self.plan.false_runs[*detector][0].is_none()) {
                continue;
            }
            let rest = self.law_at_rest(index);
            let sound = self.powered && !self.senses[index].is_faulty();
            let law = Some(rest).filter(|rest| sound && self.law_of(index, self.now) == *rest);
            for place in 0..self.senses[index].detectors.len() {
                let detector = self.senses[index].detectors[place];
                let short = self.short_rule && self.strategy.open_detectors >> detector & 1 == 1;
                let Some(runs) = &self.plan.false_runs[detector][usize::from(short)] else { continue };
                let rate = law.as_ref().map_or(0.0, |law| runs.per_day(law, &mut mass));
                let tally = &mut self.book.record().detectors[detector];
                tally.expected[condition] += rate;
                tally.moments[condition] += 1;
            }
        }
    }
}
