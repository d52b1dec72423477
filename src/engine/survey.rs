//! Now and then the laws of the sensors' readings are looked at: how often would each detector go on with nobody there? Their mean
//! over the moments is what false runs are expected to come to, however rare they are, with no reading drawn for it.

use super::event::Event;
use super::season::Season;
use crate::math::random::Source;
use crate::math::time::{Instant, Span};
use crate::sensing::law::Law;

/// Of a detector, with its run rule and with one sample less: the laws that were looked at last, and how often it goes on a day.
pub type Surveyed = [Option<([Law; 2], f64)>; 2];

/// Time between two moments, which are spread evenly from a random one on, and the fewest and most in a season.
const BETWEEN: Span = Span(4 * Span::DAY.0);
const FEWEST: i64 = 12;
const MOST: i64 = 48;

impl Season<'_> {
    /// Schedules moment `number`.
    pub fn schedule_survey(&mut self, number: u32) {
        if number == 0 {
            let phase = Source::new(self.seed, self.outside.season, "survey").stream(0).uniform();
            self.survey_phase = phase;
        }
        let whole = self.end.since(Instant::START);
        let moments = (whole.0 / BETWEEN.0).clamp(FEWEST, MOST) as u32;
        if number < moments {
            let share = (f64::from(number) + self.survey_phase) / f64::from(moments);
            let at = Instant::START + Span((share * whole.0 as f64) as i64);
            self.queue.schedule(at.max(self.now), Event::Survey(number));
        }
    }

    /// Looks at the laws of all readings. A sensor that is not sound, or that somebody stands before, makes no false runs.
    pub fn survey(&mut self, number: u32) {
        self.schedule_survey(number + 1);
        let condition = self.condition();
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
                // Many moments are alike, above all for beams.
                let known = &mut self.surveyed[detector][usize::from(short)];
                let rate = match (laws, *known) {
                    (None, _) => 0.0,
                    (Some(laws), Some((before, rate))) if before == laws => rate,
                    (Some(laws), _) => {
                        let rate = runs.per_day([&laws[0], &laws[1]], &mut self.survey_masses);
                        *known = Some((laws, rate));
                        rate
                    }
                };
                let tally = &mut self.book.record().detectors[detector];
                tally.expected[condition] += rate;
                tally.moments[condition] += 1;
            }
        }
    }
}
