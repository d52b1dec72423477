//! Polls that get lost: when a polled status is no longer believed.
//!
//! A status sensor that polls renews what it believes with every answer. Each poll is lost with the same probability,
//! independently of the others; where so many are lost in a row that the last answer grows older than is believed, the sensor
//! believes nothing until the next answer. Where polls come less often than that, it does so between any two of them.
//!
//! Only such gaps are events. How many runs of lost polls are too short to matter before one that is not is geometric, and so are
//! the lengths of the runs and of what lies between them; where even the shortest of them would fill the season, nothing more is
//! drawn. News of the mower has draws of its own ([`Season::announce`]): how long it takes to be heard does not tell of gaps.

use super::event::Event;
use super::season::Season;
use crate::math::random::{Source, Stream};
use crate::math::time::{Instant, Span};
use crate::scenario::sensor::{Sensor, SensorKind};

/// The polls of one status sensor.
#[derive(Clone, Debug)]
pub struct Polls {
    stream: Stream,
    poll_s: f64,
    delay_s: f64,
    stale_after_s: f64,
    loss: f64,
    /// When poll number 0 is sent, s.
    phase_s: f64,
    /// Number of the first poll of which nothing has been drawn yet.
    next: u64,
    /// The next gap, or the present one: when the last answer before it is no longer believed, and when the next one comes.
    gap: (Instant, Instant),
    /// When news was heard last.
    news: Option<Instant>,
}

/// Polls that are lost in a row.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Gap {
    /// Number of the first one.
    first: u64,
    /// How many.
    lost: u64,
}

impl Polls {
    /// Those of a sensor; none if it does not poll.
    pub fn of(sensor: &Sensor, seed: u64, season: u64) -> Option<Polls> {
        let SensorKind::Status { poll_s, loss, delay_s, stale_after_s, .. } = sensor.kind else { return None };
        if poll_s <= 0.0 {
            return None;
        }
        let mut stream = Source::new(seed, season, &format!("sensor {} polls", sensor.name)).stream(0);
        let phase_s = poll_s * stream.uniform();
        Some(Polls {
            stream,
            poll_s,
            delay_s,
            stale_after_s,
            loss: loss.min(LOST_AT_MOST),
            phase_s,
            next: 0,
            gap: NO_GAP,
            news: None,
        })
    }

    /// For how long an answer is believed.
    fn believed(&self) -> Span {
        Span::from_seconds(self.stale_after_s)
    }

    /// The next gap: when the last answer before it is no longer believed, and when the next one comes, s; none before `end_s`.
    fn gap_s(&mut self, end_s: f64) -> Option<(f64, f64)> {
        // An answer is believed for as long as the answers of so many polls.
        let enough = libm::floor(self.stale_after_s / self.poll_s) as u64;
        let last = ((end_s - self.phase_s) / self.poll_s).max(0.0) as u64;
        // A gap begins before its first lost poll: that one may lie beyond the season's end.
        let gap = next_gap(&mut self.stream, self.loss, enough, self.next, last + 2)?;
        self.next = gap.first + gap.lost + 1;
        let sent_s = |poll: f64| self.phase_s + poll * self.poll_s + self.delay_s;
        Some((sent_s(gap.first as f64 - 1.0) + self.stale_after_s, sent_s((gap.first + gap.lost) as f64)))
    }
}

/// Before the first gap is known.
const NO_GAP: (Instant, Instant) = (Instant::NEVER, Instant::NEVER);

/// So often can't a poll be lost that no answer ever came.
const LOST_AT_MOST: f64 = 0.999;

/// The first run from poll number `from` on of at least `enough` polls lost in a row, each with probability `loss`; none if it
/// begins with number `end` or later. Poll `from` may begin it.
fn next_gap(stream: &mut Stream, loss: f64, enough: u64, from: u64, end: u64) -> Option<Gap> {
    if enough == 0 {
        return Some(Gap { first: from, lost: stream.failures_before_success(1.0 - loss) })
            .filter(|gap| gap.first < end);
    }
    // A run is long enough if it goes on after its first poll for enough - 1 others.
    let long = libm::pow(loss, (enough - 1) as f64);
    let short_runs = stream.failures_before_success(long);
    // Each of them has a poll that is lost and is followed by one that is not.
    if short_runs > end.saturating_sub(from) / 2 {
        return None;
    }
    let mut first = from;
    for run in 0..=short_runs {
        first = first.saturating_add(stream.failures_before_success(loss));
        if first >= end {
            return None;
        }
        if run < short_runs {
            // Geometric, given that it is short, by inversion; and the answer after it.
            let u = stream.uniform() * (1.0 - long);
            let lost = 1 + (libm::log1p(-u) / libm::log(loss)) as u64;
            first += lost.min(enough - 1) + 1;
        }
    }
    Some(Gap { first, lost: enough + stream.failures_before_success(1.0 - loss) })
}

impl Season<'_> {
    /// Schedules the next moment at which what polled sensor `index` believes has grown too old.
    pub fn schedule_poll_gap(&mut self, index: usize) {
        let end_s = self.end.seconds();
        let now = self.now;
        let Some(polls) = &mut self.senses[index].polls else { return };
        let Some(gap) = polls.gap_s(end_s) else { return };
        let [begins, ends] = [gap.0, gap.1].map(|s| Instant::from_seconds(s).max(now));
        polls.gap = (begins, ends);
        self.queue.schedule(begins, Event::PollsLost(index as u32));
        self.queue.schedule(ends, Event::PollAnswered(index as u32));
    }

    /// The last answer that polled sensor `index` heard is too old to be believed, unless it has heard news since.
    pub fn polls_lost(&mut self, index: usize) {
        let now = self.now;
        let Some(polls) = &self.senses[index].polls else { return };
        if polls.news.is_none_or(|heard| heard + polls.believed() <= now) {
            self.forgets_status(index);
        } else {
            self.news_grows_old(index);
        }
    }

    /// A poll of sensor `index` is answered, the first after others that were not.
    pub fn poll_answered(&mut self, index: usize) {
        if !self.powered {
            // Nobody hears it; the next poll may be heard.
            let Some(polls) = &self.senses[index].polls else { return };
            let next = self.now + Span::from_seconds(polls.poll_s);
            self.queue.schedule(next, Event::PollAnswered(index as u32));
            return;
        }
        if self.network_faults == 0 {
            self.renews_status(index);
        }
        self.schedule_poll_gap(index);
    }

    /// Status sensor `index` has just heard news. Within a gap nothing renews it.
    pub fn polls_bring_news(&mut self, index: usize) {
        let now = self.now;
        let Some(polls) = &mut self.senses[index].polls else { return };
        polls.news = Some(now);
        let (begins, ends) = polls.gap;
        if begins <= now && now < ends {
            self.news_grows_old(index);
        }
    }

    /// News that polled sensor `index` heard last is believed for as long as any answer, or until the gap's end.
    fn news_grows_old(&mut self, index: usize) {
        let Some(polls) = &self.senses[index].polls else { return };
        let Some(heard) = polls.news else { return };
        let at = heard + polls.believed();
        if at < polls.gap.1 {
            self.queue.schedule(at, Event::PollsLost(index as u32));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::sensor::share_unheard;

    /// Gaps of a long series of polls, one after the other, and the number of polls.
    fn gaps(loss: f64, enough: u64, polls: u64) -> Vec<Gap> {
        let mut stream = Source::new(5, 0, "polls").stream(0);
        let mut from = 0;
        std::iter::from_fn(|| {
            let gap = next_gap(&mut stream, loss, enough, from, polls)?;
            from = gap.first + gap.lost + 1;
            Some(gap)
        })
        .collect()
    }

    /// The mean number of trials to the end of the first run of m successes of probability p is (1 - p^m) / ((1 - p) p^m)
    /// (Feller, An Introduction to Probability Theory, vol. 1, XIII.7): 4.5 standard errors of the mean of independent waits.
    #[test]
    fn runs_of_lost_polls_come_as_seldom_as_they_should() {
        for (loss, enough) in [(0.2, 1), (0.2, 2), (0.5, 5), (0.9, 12), (0.03, 3)] {
            let mut stream = Source::new(7, 0, "polls").stream(0);
            let n = 4_000;
            let waits: Vec<f64> = (0..n)
                .map(|_| {
                    let gap = next_gap(&mut stream, loss, enough, 0, u64::MAX).expect("polls without end");
                    assert!(gap.lost >= enough);
                    (gap.first + enough) as f64
                })
                .collect();
            let power = loss.powi(enough as i32);
            let wanted = (1.0 - power) / ((1.0 - loss) * power);
            let mean = waits.iter().sum::<f64>() / f64::from(n);
            let variance = waits.iter().map(|wait| (wait - mean).powi(2)).sum::<f64>() / f64::from(n - 1);
            let error = (variance / f64::from(n)).sqrt();
            assert!((mean - wanted).abs() < 4.5 * error, "{loss} {enough}: {mean} against {wanted}");
        }
    }

    /// What is believed for as long as one interval is not believed for a share of the time that is the probability of a loss: each
    /// lost poll costs one interval (renewal-reward theorem). Where it is believed for two, the second lost poll of a row and
    /// every further one do: loss^2. Where for half of one: the half, and of the other half the share of lost polls.
    #[test]
    fn the_share_of_the_time_without_belief() {
        let polls = 2_000_000;
        for (loss, intervals, wanted) in
            [(0.2, 1.0, 0.2), (0.2, 2.0, 0.04), (0.3, 0.5, 0.5 + 0.5 * 0.3), (0.5, 2.4, share_unheard(2.4, 0.5))]
        {
            assert!((share_unheard(intervals, loss) - wanted).abs() < 1e-12, "{loss} {intervals}");
            let found: f64 =
                gaps(loss, intervals as u64, polls).iter().map(|gap| (gap.lost + 1) as f64 - intervals).sum::<f64>()
                    / polls as f64;
            assert!((found - wanted).abs() < 0.002, "{loss} {intervals}: {found} against {wanted}");
        }
    }

    /// Polls that never get lost leave no gap, and gaps that would take longer than the season cost no time.
    #[test]
    fn what_never_comes_is_not_waited_for() {
        for (loss, enough) in [(0.0, 1), (0.0, 4), (0.03, 120), (0.5, 64)] {
            assert_eq!(gaps(loss, enough, 3_700_000), [], "{loss} {enough}");
        }
    }
}
