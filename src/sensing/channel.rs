//! One sensor with the detectors that listen to it, and the shortcut that makes seasons cheap.
//!
//! Samples lie on the sensor's own grid of times. While the law of a reading stays the same and every detector is
//! settled, samples that no detector reacts to need not be drawn: the number of boring samples before the next
//! interesting one is geometric, and a new law may come at any time because the geometric law has no memory. What a
//! mean or a median remembers of skipped samples is drawn from its exact law (given that they were boring) when it is
//! needed. Nothing is approximated; `Sampling::Every` draws every sample instead and must agree in law.
//!
//! The stream is opened anew, keyed by sample number, whenever the law changes: two strategies that look through the
//! same sensor at the same things then see the same noise.

mod correlated;
mod passed;
mod tally;

pub(super) use tally::Tally;

use super::approach::Evidence;
use super::detector::DetectorState;
use super::law::{Boring, Law, Reading};
use super::runs::Runs;
use super::window::{Fate, Windows};
use crate::math::random::{Source, Stream};
use crate::math::time::{Instant, Span};
use crate::scenario::strategy::Dropped;

/// Which samples are drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sampling {
    /// Only those that can matter.
    Exact,
    /// Every one: the slow reference.
    Every,
}

/// Above this probability of an interesting reading, skipping costs more than it saves.
const SKIP_BELOW: f64 = 0.25;

/// How the next sample due was chosen.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Next {
    /// It is simply the next one.
    Draw,
    /// Reached by skipping under a constant law: it is known to be interesting.
    Interesting,
    /// Reached by skipping under a bound on the probability of an interesting reading: perhaps interesting.
    Candidate(f64),
    /// Reached by working out one sample after the other: it is known to be interesting, and its law is in `foreseen`.
    Foreseen,
    /// End of a stretch that was skipped: nothing is drawn, the next stretch is planned.
    Checkpoint,
    /// Perhaps the end of a run that began after sample `began` on an empty window; everything between is left open.
    Completion { runs: Runs, began: i64 },
    /// All samples from here to this one speak, and this one changes the detector over.
    Change,
    /// All samples from here to this one speak, but not this one.
    Break,
    /// Reached by skipping samples without a reading: it is known to have one. For detectors that are not settled, but to which
    /// nothing does nothing: what they hold of earlier readings stays as it is.
    Value,
    /// End of a stretch in which it was drawn which samples speak; with the last of them the detector changes over, or not.
    Tally { changes: bool },
    /// The noise, which remembers, leaves its quiet interval.
    Outside,
    /// It does not, but this sample is interesting for another reason.
    Aside,
}

impl Next {
    /// Whether runs are drawn rather than samples: a change of rules asks for another plan.
    fn is_of_runs(self) -> bool {
        matches!(self, Next::Completion { .. } | Next::Change | Next::Break | Next::Tally { .. })
    }
}

/// No reading but none is boring.
const ONLY_NOTHING: Boring = Boring { low: 0.0, high: 0.0, low_included: false, high_included: false, nothing: true };

/// Above this probability that a sample speaks, the samples that do so in a row are drawn as one number.
const ROW_ABOVE: f64 = 0.5;

/// Rules over more samples than this are not drawn as runs: their windows are too many.
const MOST_WINDOW: usize = 12;

/// Nor are medians over more readings than this: what became of them is drawn at the end of a run.
const MOST_MEDIAN: usize = 9;

/// Below this probability that a sample makes a median speak, its readings are drawn when it does rather than one by one.
const SELDOM: f64 = 0.02;

/// Where no more than this share of the samples says nothing, so many skipped samples, and so many more for each that is remembered,
/// hold as many readings as that (a tail of the binomial law far below rounding).
const SPEAKS_ENOUGH: f64 = 0.25;
const FULL_AFTER: usize = 64;
const FULL_AFTER_EACH: usize = 4;

/// Lengths of the stretches for which a bound is asked while things move, in samples, longest first.
const STRETCHES: [i64; 3] = [96, 24, 8];

/// Shorter stretches than this, in samples, are worked out rather than asked a bound for.
const WORTH_A_BOUND: i64 = 8;

/// Where a level is about to be passed, so many samples at most are worked out one after the other.
const CLOSE_BY: i64 = 8;

/// So many times in a row a guess that something will be noticed at once is believed.
const CLOSE_FOR_LONG: u32 = 2;

/// Where no bound is of use, so many samples at least are worked out before another is asked for.
const BETWEEN_BOUNDS: i64 = 8;

/// A reading that was drawn, for an observer.
#[derive(Clone, Debug, PartialEq)]
pub struct Drawn {
    /// When it was taken.
    pub at: Instant,
    /// The reading.
    pub reading: Reading,
    /// What each detector's statistic was afterwards; none where it is the reading itself or says nothing yet.
    pub statistics: Vec<Option<f64>>,
}

/// A sensor channel.
#[derive(Clone, Debug)]
pub struct Channel {
    period: Span,
    phase: Span,
    /// Sample number that is never reached: its time lies beyond every season and still fits the clock.
    never: i64,
    sampling: Sampling,
    source: Source,
    stream: Stream,
    law: Law,
    moving: bool,
    seen: bool,
    detectors: Vec<DetectorState>,
    boring: Boring,
    memory: usize,
    /// Room for the readings that are drawn when they are needed, newest first, each with the number of samples without a
    /// reading between it and the one before.
    recalled: Vec<(u64, Reading)>,
    /// Whether the boring readings may change with every sample.
    shifts: bool,
    /// First sample not yet accounted for.
    clock: i64,
    /// Next sample to draw.
    due: i64,
    next: Next,
    /// Boring samples skipped since the statistics' windows were last right.
    unseen: u64,
    /// The law of the samples before those, where what the statistics remember of them is still to be drawn: all were boring, and
    /// there were enough of them.
    earlier: Option<Law>,
    /// Samples taken while something moved in view, and how many of them said nothing (for those that were not drawn: the
    /// expected number).
    in_view: (u64, f64),
    /// Samples skipped while things moved.
    passed: passed::Passed,
    /// The length of stretch that was of use last time, as a place in [`STRETCHES`].
    stretch: usize,
    /// Readings since they were last asked for, if somebody looks on.
    drawn: Option<Vec<Drawn>>,
    /// How often in a row no bound was of use.
    in_vain: u32,
    /// How often in a row the guess was that something would be noticed at once.
    close: u32,
    /// The windows of its detector's rules (to go on, to go on with one sample less, to go off), once a run of theirs may have
    /// been complete, and scratch for their laws.
    windows: [Option<Windows>; 3],
    room: [Vec<f64>; 2],
    /// Room for what became of the samples of a median's run.
    fates: Vec<Fate>,
    /// The probability of an interesting reading under the present law, if it has been worked out.
    odds: Option<f64>,
    /// Where things move: whether `law` is that of this moment or of the last sample.
    fresh: bool,
    /// The law of the sample that is due, where one sample after the other was worked out.
    foreseen: Law,
    /// The noise, if it remembers.
    noise: Option<correlated::Remembered>,
    /// The samples that were tallied ahead, and how many the next tally may hold.
    ahead: Option<tally::Ahead>,
    reach: u32,
}

impl Channel {
    /// A channel that has seen nothing and whose law is silence. The sampling phase is drawn from the source.
    pub fn new(period: Span, source: Source, detectors: Vec<DetectorState>, sampling: Sampling) -> Channel {
        let mut stream = source.stream(0);
        let phase = Span((stream.uniform() * period.0 as f64) as i64);
        let memory = detectors.iter().map(DetectorState::memory).max().unwrap_or(0);
        let shifts = detectors.iter().any(DetectorState::shifts);
        let mut channel = Channel {
            period,
            phase,
            never: Instant::NEVER.0 / period.0,
            sampling,
            source,
            stream,
            law: Law::SILENT,
            moving: false,
            seen: false,
            detectors,
            boring: Boring::EVERYTHING,
            memory,
            recalled: Vec::new(),
            shifts,
            clock: 0,
            due: 0,
            next: Next::Draw,
            unseen: 0,
            earlier: None,
            in_view: (0, 0.0),
            passed: passed::Passed::default(),
            stretch: 0,
            drawn: None,
            in_vain: 0,
            close: 0,
            windows: [const { None }; 3],
            room: [Vec::new(), Vec::new()],
            fates: Vec::new(),
            odds: None,
            fresh: false,
            foreseen: Law::SILENT,
            noise: None,
            ahead: None,
            reach: tally::NEAREST,
        };
        channel.refresh_boring();
        channel.plan();
        channel
    }

    /// From now on keeps what is drawn, for [`Channel::take_drawn`]. Nothing else changes.
    pub fn keep_drawn(&mut self) {
        self.drawn.get_or_insert_default();
    }

    /// The readings drawn since this was last asked for, in their order; none unless they are kept.
    pub fn take_drawn(&mut self) -> Vec<Drawn> {
        self.drawn.as_mut().map(std::mem::take).unwrap_or_default()
    }

    fn keep(&mut self, sample: i64, reading: Reading) {
        let at = self.time_of(sample);
        if let Some(drawn) = &mut self.drawn {
            let statistics = self.detectors.iter().map(DetectorState::statistic).collect();
            drawn.push(Drawn { at, reading, statistics });
        }
    }

    /// Time of the next sample to draw; `Instant::NEVER` if none is due under the present law.
    pub fn next_time(&self) -> Instant {
        if self.due >= self.never { Instant::NEVER } else { self.time_of(self.due) }
    }

    /// State of detector `index` of this channel.
    pub fn is_on(&self, index: usize) -> bool {
        self.detectors[index].is_on()
    }

    /// Samples taken while something moved in view, and how many said nothing.
    pub fn in_view(&self) -> (u64, f64) {
        (self.in_view.0 + self.passed.samples, self.in_view.1 + self.passed.silent())
    }

    /// The law in force.
    pub fn law(&self) -> &Law {
        &self.law
    }

    /// The sample that was taken last and its law, where things move and it had one of its own.
    pub fn just_drawn(&self) -> Option<(i64, Law)> {
        (self.moving && self.fresh).then(|| (self.clock - 1, self.law))
    }

    /// Whether every sample has a law of its own.
    pub fn is_moving(&self) -> bool {
        self.moving
    }

    /// What detector `index` remembers as a run of hits, if that is all; after [`Channel::remember_all`].
    pub fn evidence(&self, index: usize) -> Option<Evidence> {
        self.detectors[index].evidence()
    }

    /// Number of the first sample that is not before `at`.
    pub fn first_sample(&self, at: Instant) -> i64 {
        (at.0 - self.phase.0 + self.period.0 - 1).div_euclid(self.period.0)
    }

    /// How many samples a span holds at least.
    pub fn samples_in(&self, span: Span) -> i64 {
        span.0 / self.period.0
    }

    /// When a sample is taken.
    pub fn time_of(&self, sample: i64) -> Instant {
        Instant(self.phase.0 + sample * self.period.0)
    }

    /// From `now` on readings follow `law`; samples at `now` or later are not drawn yet. `moving` says that the law
    /// changes from sample to sample, so that [`Channel::sample`] asks for it each time; `in_view` that something moves in
    /// view.
    pub fn set_law(&mut self, now: Instant, law: Law, moving: bool, in_view: bool) {
        // While things move, the law of this moment says nothing about the next: the old plan ends in any case.
        if law == self.law && !moving && !self.moving && in_view == self.seen {
            return;
        }
        let first = self.first_sample(now).max(self.clock);
        self.reveal(first);
        debug_assert!(!self.moving || self.memory == 0 || self.unseen == 0, "catch up before the motion changes");
        if self.may_recall_later() {
            self.recall_later();
        } else if self.unseen > 0 {
            let constant = self.law;
            self.recall(|_| constant);
        }
        self.stream = self.source.stream(first as u64 + 1);
        self.law = law;
        self.odds = None;
        self.moving = moving;
        self.seen = in_view;
        self.fresh = true;
        (self.in_vain, self.close) = (0, 0);
        self.reach = tally::NEAREST;
        self.plan();
    }

    /// The controller restarts at `now`: the detectors begin anew; the readings go on as they would have.
    pub fn forget(&mut self, now: Instant) {
        let first = self.first_sample(now).max(self.clock);
        self.reveal(first);
        (self.earlier, self.unseen) = (None, 0);
        self.detectors.iter_mut().for_each(DetectorState::begin_anew);
        self.in_vain = 0;
        self.refresh_boring();
        self.plan();
    }

    /// From `now` on the detectors chosen by `which` need one sample less to go on, or as many as usual. What is boring
    /// stays so, and a settled detector stays settled: a plan for single samples holds, one for runs is made anew.
    pub fn shorten(&mut self, now: Instant, which: impl Iterator<Item = bool>, shorter: bool) {
        let runs = self.next.is_of_runs();
        if runs {
            self.reveal(self.first_sample(now).max(self.clock));
        }
        for (detector, chosen) in self.detectors.iter_mut().zip(which) {
            detector.shorten(chosen && shorter);
        }
        if runs {
            self.plan();
        }
    }

    /// Accounts for all samples before `now`, so that what the detectors remember can be read as hits. To be called where
    /// skipped samples had the present law, or were caught up with. Only where hits may be left in a window is anything
    /// drawn.
    pub fn remember_all(&mut self, now: Instant) {
        self.catch_up_runs(now);
        if self.memory > 0 && self.detectors.iter().any(DetectorState::may_hold_hits) {
            let constant = self.law;
            self.catch_up(now, |_| constant);
        }
    }

    /// Accounts for all samples before `now` where runs are drawn.
    fn catch_up_runs(&mut self, now: Instant) {
        if self.next.is_of_runs() {
            self.reveal(self.first_sample(now).max(self.clock));
            self.plan();
        }
    }

    /// Accounts for the samples before number `first`, and fills in what was left open of a run.
    fn reveal(&mut self, first: i64) {
        if let Some(known) = self.noise {
            self.reveal_remembered(first, known);
        }
        let samples = (first - self.clock) as u64;
        match self.next {
            Next::Completion { runs, began } => {
                let (window, places) = runs.window_after((first - began) as u64, &mut self.stream);
                if self.memory > 0 {
                    self.skip_to(first);
                    if window == 0 && places >= self.memory as u64 && self.leaves_memory_open() {
                        return self.recall_later();
                    }
                    return self.fill_in(window, places);
                }
                self.detectors.iter_mut().for_each(|detector| detector.remember(window));
            }
            Next::Change | Next::Break => self.detectors.iter_mut().for_each(|detector| detector.spoke(samples)),
            Next::Tally { .. } => return self.reveal_tally(first),
            _ => {}
        }
        self.skip_to(first);
    }

    /// Draws the readings of a median's window that were left open: as many as have taken a place in it, those whose bit is set
    /// (newest in bit 0) among the readings that speak.
    fn fill_in(&mut self, window: u64, places: u64) {
        if let Some(earlier) = self.earlier.take().filter(|_| places < self.memory as u64) {
            self.recalled.clear();
            self.recall_earlier(&earlier);
            (0..self.recalled.len()).rev().for_each(|place| self.refill(self.recalled[place].1));
        }
        let law = self.law;
        let values = law.is_mostly_silent().then(|| law.boring_values(&self.boring));
        for age in (0..places).rev() {
            let reading = if window >> age & 1 == 1 {
                law.draw_interesting(&self.boring, &mut self.stream)
            } else if let Some(values) = &values {
                values.draw(&mut self.stream).unwrap_or(Reading::Nothing)
            } else {
                std::iter::repeat_with(|| law.draw_boring(&self.boring, &mut self.stream))
                    .find(|reading| *reading != Reading::Nothing)
                    .unwrap_or(Reading::Nothing)
            };
            self.refill(reading);
        }
        self.unseen = 0;
    }

    /// Hands the statistics a reading that was drawn for them.
    fn refill(&mut self, reading: Reading) {
        self.detectors.iter_mut().for_each(|detector| detector.refill(reading));
    }

    /// Fills in a median's window at the sample that makes its majority, that sample among it.
    fn fill_in_majority(&mut self, runs: &Runs, lag: u64) {
        let Some((rule, _)) = self.detectors[0].runs() else { return };
        let Some(windows) = &self.windows[self.detectors[0].rule_in_force()] else { return };
        windows.draw_armed(rule, runs.odds(), lag, &mut self.room[0], &mut self.stream, &mut self.fates);
        let (mut window, mut places) = (0, 0);
        for fate in self.fates.iter().filter(|fate| **fate != Fate::LeftOut) {
            window |= u64::from(*fate == Fate::Spoke) << places;
            places += 1;
        }
        self.fill_in(window, places);
        let reading = self.law.draw_interesting(&self.boring, &mut self.stream);
        self.detectors[0].refill(reading);
        self.keep(self.due, reading);
    }

    /// Draws one reading of the present law, as the value at which a stuck sensor sticks; `law_at` gives the law at a time where
    /// things move.
    pub fn last_reading(&mut self, now: Instant, law_at: impl FnOnce(Instant) -> Law) -> Reading {
        if self.noise.is_some() {
            return self.last_remembered(now);
        }
        if self.moving {
            // The law that is kept may be that of a sample long ago.
            return law_at(self.time_of(self.first_sample(now) - 1)).draw(&mut self.stream);
        }
        if self.detectors.iter().any(DetectorState::is_coded) {
            // Codes are not an interval, and have no noise.
            return self.law.draw(&mut self.stream);
        }
        self.catch_up_runs(now);
        if matches!(self.next, Next::Completion { .. }) {
            return self.law.draw_boring(&self.boring, &mut self.stream);
        }
        if self.next == Next::Value {
            return Reading::Nothing;
        }
        if self.next == Next::Interesting && self.settled() {
            self.law.draw_boring(&self.boring, &mut self.stream)
        } else {
            self.law.draw(&mut self.stream)
        }
    }

    /// Accounts for the samples before number `first`, none of which was interesting, all of the present law.
    ///
    /// Where runs are drawn, every sample counts by its law, whatever is known of it afterwards: none is drawn, so that the
    /// sum has the right mean up to the moment at which a run ends.
    fn skip_to(&mut self, first: i64) {
        let law = self.law;
        let next = self.next;
        self.pass_over(first, |channel| match next {
            Next::Value => 1.0,
            Next::Interesting => channel.nothing_if_boring(&law),
            _ => law.nothing_probability(),
        });
    }

    /// Probability that a reading of this law says nothing, given that it is boring. What is interesting is drawn, and counts
    /// as it turns out.
    fn nothing_if_boring(&self, law: &Law) -> f64 {
        self.nothing_unless(law, || self.interesting_in(law))
    }

    /// The same where the probability of an interesting reading is known, or worked out only if it is needed.
    fn nothing_unless(&self, law: &Law, interesting: impl FnOnce() -> f64) -> f64 {
        let nothing = if self.boring.nothing { law.nothing_probability() } else { 0.0 };
        if nothing <= 0.0 { 0.0 } else { (nothing / (1.0 - interesting())).min(1.0) }
    }

    /// The same; `law_at` gives the law at a time where things move.
    fn skip_by(&mut self, first: i64, law_at: &mut impl FnMut(Instant) -> Law) {
        if self.moving { self.skip_in_motion(first, law_at) } else { self.skip_to(first) }
    }

    /// Passes over the samples before number `first`; each said nothing with the probability that is given if anything is
    /// in view.
    fn pass_over(&mut self, first: i64, nothing: impl FnOnce(&mut Channel) -> f64) {
        let skipped = (first - self.clock) as u64;
        if self.seen && skipped > 0 {
            let nothing = nothing(self);
            self.in_view.0 += skipped;
            self.in_view.1 += skipped as f64 * nothing;
        }
        self.unseen += skipped;
        self.clock = first;
    }

    /// Counts a reading that was drawn, if anything is in view.
    fn count_seen(&mut self, reading: Reading) {
        if self.seen {
            self.in_view.0 += 1;
            self.in_view.1 += f64::from(u8::from(reading == Reading::Nothing));
        }
    }

    /// Skips while things move. How many of the skipped samples said nothing is estimated from a few of them.
    fn skip_in_motion(&mut self, first: i64, law_at: &mut impl FnMut(Instant) -> Law) {
        let skipped = (first - self.clock) as u64;
        if self.seen {
            let mut passed = self.passed;
            let clock = self.clock;
            passed.pass(skipped, |place| {
                let law = law_at(self.time_of(clock + place as i64));
                self.nothing_if_boring(&law)
            });
            self.passed = passed;
        }
        self.unseen += skipped;
        self.clock = first;
    }

    /// Takes the sample that is due. `law_at` gives the law at its time where things move. Returns the detectors that
    /// changed over, as bits. Where things move, [`Channel::plan_ahead`] should follow.
    pub fn sample(&mut self, mut law_at: impl FnMut(Instant) -> Law) -> u64 {
        debug_assert!(self.due < self.never, "no sample is due");
        if let Some(known) = self.noise {
            return self.sample_remembered(known, law_at);
        }
        if let Some(changed) = self.sample_of_run() {
            return changed;
        }
        self.skip_by(self.due, &mut law_at);
        let reading = match self.next {
            Next::Checkpoint => {
                self.fresh = false;
                self.plan();
                return 0;
            }
            Next::Interesting => {
                let constant = self.law;
                self.recall(|_| constant);
                let reading = self.draw_interesting();
                self.count_seen(reading);
                reading
            }
            Next::Value => {
                let constant = self.law;
                self.recall(|_| constant);
                let reading = self.law.draw_interesting(&ONLY_NOTHING, &mut self.stream);
                self.count_seen(reading);
                reading
            }
            Next::Foreseen => {
                debug_assert_eq!(self.foreseen, law_at(self.time_of(self.due)), "a law changed unsaid");
                self.becomes(self.foreseen);
                self.recall(&mut law_at);
                let reading = self.draw_interesting();
                self.count_seen(reading);
                reading
            }
            Next::Candidate(bound) => {
                self.becomes(law_at(self.time_of(self.due)));
                let p = self.odds();
                debug_assert!(
                    p <= bound * (1.0 + 1e-6) + 1e-12,
                    "an interesting reading has {p}, its bound was {bound}"
                );
                if self.stream.uniform() * bound >= p {
                    // Nothing, given that it was not interesting.
                    let law = self.law;
                    self.pass_over(self.due + 1, |channel| channel.nothing_unless(&law, || p));
                    self.plan();
                    return 0;
                }
                self.recall(&mut law_at);
                let reading = self.draw_interesting();
                self.count_seen(reading);
                reading
            }
            Next::Draw if self.moving => {
                self.recall(&mut law_at);
                self.becomes(law_at(self.time_of(self.due)));
                let reading = self.law.draw(&mut self.stream);
                self.count_seen(reading);
                reading
            }
            Next::Draw => {
                let constant = self.law;
                self.recall(|_| constant);
                let reading = self.law.draw(&mut self.stream);
                self.count_seen(reading);
                reading
            }
            Next::Completion { .. } | Next::Change | Next::Break | Next::Tally { .. } | Next::Outside | Next::Aside => {
                let reading = self.law.draw(&mut self.stream);
                self.count_seen(reading);
                reading
            }
        };
        self.take(reading)
    }

    /// The law of the sample that is due, where every sample has one of its own.
    fn becomes(&mut self, law: Law) {
        (self.law, self.fresh, self.odds) = (law, true, None);
    }

    /// Hands the reading of the sample that is due to the detectors: those that changed over, as bits.
    fn take(&mut self, reading: Reading) -> u64 {
        let mut changed = 0;
        for (index, detector) in self.detectors.iter_mut().enumerate() {
            if detector.feed(reading) {
                changed |= 1 << index;
            }
            detector.trim();
        }
        self.keep(self.due, reading);
        if changed != 0 || self.shifts {
            self.refresh_boring();
        }
        self.clock = self.due + 1;
        self.plan();
        changed
    }

    /// Takes the sample that is due if runs are drawn rather than samples.
    fn sample_of_run(&mut self) -> Option<u64> {
        let changes = match self.next {
            Next::Tally { changes } => return Some(self.sample_of_tally(changes)),
            Next::Completion { runs, began } => {
                let lag = (self.due - began) as u64;
                let p = self.completes(&runs, lag);
                debug_assert!(p <= runs.at_most() * (1.0 + 1e-9), "{p} above its bound {}", runs.at_most());
                if self.stream.uniform() * runs.at_most() >= p {
                    self.skip_to(self.due + 1);
                    self.plan_completion(runs, began);
                    return Some(0);
                }
                if self.memory > 0 {
                    self.fill_in_majority(&runs, lag);
                }
                true
            }
            Next::Change => true,
            Next::Break => {
                // A sample without a reading is left out, if that is the convention.
                let open = self.detectors[0].runs().is_some_and(|(_, dropped)| dropped == Dropped::Hold);
                let left_out = open && {
                    let nothing = self.law.nothing_probability();
                    self.stream.uniform() * (1.0 - self.odds()) < nothing
                };
                self.reveal(self.due);
                if !left_out {
                    self.detectors[0].stayed_quiet();
                }
                false
            }
            _ => return None,
        };
        self.skip_to(self.due + 1);
        if self.memory > 0 {
            self.unseen = 0;
        }
        let changes = changes && self.detectors[0].completed_a_run();
        if changes {
            self.refresh_boring();
        }
        self.plan();
        Some(u64::from(changes))
    }

    /// Probability that the sample that is due completes a run, given that none did before.
    fn completes(&mut self, runs: &Runs, lag: u64) -> f64 {
        let Some((rule, _)) = self.detectors[0].runs() else { return runs.at_most() };
        let windows = &mut self.windows[self.detectors[0].rule_in_force()];
        if windows.is_none() {
            *windows = Windows::new(rule).ok();
        }
        windows.as_ref().map_or(runs.at_most(), |windows| runs.completes(lag, windows, &mut self.room))
    }

    /// Samples of the longest rule that is drawn as a run.
    fn most_of_run(&self) -> usize {
        if self.memory > 0 { MOST_MEDIAN } else { MOST_WINDOW }
    }

    fn plan_completion(&mut self, runs: Runs, began: i64) {
        self.next = Next::Completion { runs, began };
        let gap = self.stream.failures_before_success(runs.at_most());
        self.due_after(gap);
    }

    /// The next sample due comes after `gap` others, or never.
    fn due_after(&mut self, gap: u64) {
        let room = self.never - self.clock;
        self.due = if gap >= room.max(0) as u64 { self.never } else { self.clock + gap as i64 };
    }

    /// Draws runs rather than samples, where the only detector remembers nothing but which samples spoke.
    fn plan_runs(&mut self, p: f64) -> bool {
        let [detector] = &self.detectors[..] else { return false };
        if detector.runs().is_none() {
            return false;
        }
        if p >= ROW_ABOVE && self.memory == 0 {
            let needs = detector.needs();
            if needs < 2 {
                return false;
            }
            let row = self.stream.failures_before_success(1.0 - p);
            self.next = if row >= needs { Next::Change } else { Next::Break };
            self.due = self.clock + row.min(needs - 1) as i64;
            // A row of exactly one less than needed is broken by the sample that would have completed it.
            return true;
        }
        let runs = if detector.is_clear() { self.runs(p) } else { None };
        if let Some(runs) = runs {
            self.plan_completion(runs, self.clock);
        }
        runs.is_some()
    }

    /// The law of complete runs, where it pays to draw from it rather than samples: its only detector is one of runs, and what comes
    /// of a complete one is decided by it or comes seldom.
    fn runs(&self, p: f64) -> Option<Runs> {
        let [detector] = &self.detectors[..] else { return None };
        let (rule, dropped) = detector.runs().filter(|(rule, _)| rule.n <= self.most_of_run())?;
        let nothing = if dropped == Dropped::Hold { self.law.nothing_probability() } else { 0.0 };
        let runs = Runs::new(rule, dropped, p, nothing)?;
        (detector.changes_with_a_run() || runs.at_most() < SELDOM).then_some(runs)
    }

    /// Whether samples could be skipped while things move.
    pub fn could_skip(&self) -> bool {
        self.moving && self.sampling == Sampling::Exact && self.noise.is_none() && self.settled()
    }

    /// The readings that no detector reacts to now.
    pub fn boring(&self) -> &Boring {
        &self.boring
    }

    /// Skips ahead while things move, if it can: `bound` gives an upper bound on the probability of a reading that is
    /// not boring, for every moment of the stretch from its first to its second argument; `undisturbed` is a guess for how
    /// long that may be small; `law_at` gives the law of a sample, by its number and time. At `until` laws change, at
    /// the latest: it must be told by what the sensor sees alone, or two strategies would no longer draw the same noise.
    pub fn plan_ahead(
        &mut self,
        until: Instant,
        undisturbed: impl FnOnce(&Boring) -> Option<Span>,
        mut bound: impl FnMut(Instant, Instant, &Boring) -> f64,
        law_at: impl FnMut(i64, Instant) -> Law,
    ) {
        if !self.could_skip() {
            return;
        }
        // What is likely now is hardly out of the question for a while.
        if self.fresh && self.odds() >= SKIP_BELOW {
            (self.in_vain, self.close) = (0, 0);
            return;
        }
        if let Some(span) = undisturbed(&self.boring) {
            let stretch = self.samples_in(span);
            if stretch < WORTH_A_BOUND {
                // Mostly the level is about to be passed. Where nothing comes of it for long, things are seldom made out at all.
                self.close += 1;
                if self.close <= CLOSE_FOR_LONG {
                    return self.work_out(CLOSE_BY, until, law_at);
                }
            } else {
                self.close = 0;
                let p = bound(self.time_of(self.clock), self.time_of(self.clock + stretch), &self.boring);
                if p < SKIP_BELOW && p * stretch as f64 <= 1.0 {
                    self.skip_within(stretch, p);
                    return;
                }
            }
        }
        // Begin one size above the one that served last: near a level short stretches serve, far from it long ones.
        for (place, stretch) in STRETCHES.into_iter().enumerate().skip(self.stretch.saturating_sub(1)) {
            let p = bound(self.time_of(self.clock), self.time_of(self.clock + stretch), &self.boring);
            let shortest = place + 1 == STRETCHES.len();
            if p < SKIP_BELOW && (p * stretch as f64 <= 1.0 || shortest) {
                self.stretch = place;
                self.in_vain = 0;
                self.skip_within(stretch, p);
                return;
            }
        }
        self.stretch = STRETCHES.len() - 1;
        // A sample costs less than a bound: what was in vain is tried again later and later.
        let most = BETWEEN_BOUNDS << self.in_vain.min(2);
        self.in_vain += 1;
        self.work_out(most, until, law_at);
    }

    /// Works out, one sample after the other, which is the next that is interesting, up to `most` of them: one uniform number
    /// tells, as the probability that none was falls below it at that one. What lies beyond `until` would often be worked out in
    /// vain.
    fn work_out(&mut self, most: i64, until: Instant, mut law_at: impl FnMut(i64, Instant) -> Law) {
        let most = most.min(self.first_sample(until) - self.clock).max(1);
        let reached = self.stream.uniform();
        let mut none = 1.0;
        for sample in self.clock..self.clock + most {
            let law = law_at(sample, self.time_of(sample));
            none *= 1.0 - self.interesting_in(&law);
            if none <= reached {
                (self.due, self.next, self.foreseen) = (sample, Next::Foreseen, law);
                return;
            }
        }
        (self.due, self.next) = (self.clock + most, Next::Checkpoint);
    }

    /// Skips within a stretch in which a reading is not boring with probability `p` at most.
    fn skip_within(&mut self, stretch: i64, p: f64) {
        let gap = self.stream.failures_before_success(p);
        (self.due, self.next) = if gap >= stretch as u64 {
            (self.clock + stretch, Next::Checkpoint)
        } else {
            (self.clock + gap as i64, Next::Candidate(p))
        };
    }

    fn refresh_boring(&mut self) {
        self.odds = None;
        self.boring = self.detectors.iter().map(DetectorState::boring).fold(Boring::EVERYTHING, Boring::and);
    }

    fn settled(&self) -> bool {
        self.detectors.iter().all(DetectorState::settled)
    }

    /// Chooses the next sample to draw.
    fn plan(&mut self) {
        self.next = Next::Draw;
        self.due = self.clock;
        if let Some(known) = self.noise {
            return self.plan_remembered(known);
        }
        if self.moving || self.sampling == Sampling::Every {
            return;
        }
        if !self.settled_or_silent() && self.plan_value() {
            return;
        }
        let p = self.odds();
        if self.plan_runs(p) {
            return;
        }
        let draws = !self.settled_or_silent() || p >= SKIP_BELOW;
        let tallied = (draws || self.is_worth_a_tally(p)) && self.plan_tally(p);
        if tallied || draws {
            return;
        }
        self.next = Next::Interesting;
        let gap = self.stream.failures_before_success(p);
        self.due_after(gap);
    }

    /// Skips samples without a reading, where most of them are and detectors that are not settled keep what they hold.
    fn plan_value(&mut self) -> bool {
        if !self.detectors.iter().all(|d| d.bits() == 0 && d.boring().nothing) {
            return false;
        }
        let p = self.law.interesting_probability(&ONLY_NOTHING);
        if p >= SKIP_BELOW {
            return false;
        }
        self.next = Next::Value;
        let gap = self.stream.failures_before_success(p);
        self.due_after(gap);
        true
    }

    /// A silent sensor never settles anything, but with nothing in the run windows it can't excite anything either.
    fn settled_or_silent(&self) -> bool {
        self.settled()
            || (self.law == Law::SILENT && self.boring.nothing && self.detectors.iter().all(|d| d.bits() == 0))
    }

    /// The same as [`Channel::interesting`], worked out once for each law and state of the detectors.
    fn odds(&mut self) -> f64 {
        let p = self.odds.unwrap_or_else(|| self.interesting());
        self.odds = Some(p);
        p
    }

    /// Probability of an interesting reading under the present law.
    fn interesting(&self) -> f64 {
        self.interesting_in(&self.law)
    }

    /// Probability of an interesting reading under this law.
    fn interesting_in(&self, law: &Law) -> f64 {
        let exact = law.targets.iter().all(|target| target.weight <= 0.0 || target.sigma <= 0.0);
        if exact && law.spurious.weight <= 0.0 && law.resolution <= 0.0 {
            // Exact values, far or nothing: ask the detectors themselves (status codes are not an interval).
            let ignored = |reading| self.detectors.iter().all(|d| d.ignores(reading));
            let [first, second] = law.targets;
            let nothing = 1.0 - first.weight - second.weight - law.far;
            let outcomes = [
                (first.weight, law.report(first.mean)),
                (second.weight, law.report(second.mean)),
                (law.far, Reading::Value(f64::INFINITY)),
                (nothing, Reading::Nothing),
            ];
            return outcomes.iter().filter(|(p, reading)| *p > 0.0 && !ignored(*reading)).map(|(p, _)| p).sum();
        }
        law.interesting_probability(&self.boring)
    }

    fn draw_interesting(&mut self) -> Reading {
        if self.detectors.iter().all(|detector| !detector.is_coded()) {
            return self.law.draw_interesting(&self.boring, &mut self.stream);
        }
        // Codes are not an interval: draw until one is not ignored. Rare in practice, since codes have no noise.
        loop {
            let reading = self.law.draw(&mut self.stream);
            if !self.detectors.iter().all(|detector| detector.ignores(reading)) {
                return reading;
            }
        }
    }

    /// Whether samples were skipped while things moved: to be accounted for, or remembered by a statistic.
    pub fn has_skipped_in_motion(&self) -> bool {
        self.moving && (self.due > self.clock || (self.memory > 0 && self.unseen > 0))
    }

    /// Accounts for the samples before `now` and draws what the statistics remember of them; the plan stays. To be called
    /// before anything changes that `law_at` depends on.
    pub fn catch_up(&mut self, now: Instant, mut law_at: impl FnMut(Instant) -> Law) {
        let first = self.first_sample(now).clamp(self.clock, self.due);
        self.skip_by(first, &mut law_at);
        self.recall(law_at);
    }

    /// Whether what the statistics remember of the skipped samples can wait until it is needed, though the law changes: mostly the
    /// next law lasts so long that nothing of it ever is. They were skipped by number under one law, and there were enough of them
    /// for all that is remembered.
    fn may_recall_later(&self) -> bool {
        self.memory > 0
            && self.next == Next::Interesting
            && self.settled()
            && self.leaves_memory_open()
            && self.unseen >= (FULL_AFTER + FULL_AFTER_EACH * self.memory) as u64
    }

    /// Whether what the statistics remember is nobody's business before they speak, and the present law has enough readings.
    fn leaves_memory_open(&self) -> bool {
        !self.shifts && self.noise.is_none() && self.law.nothing_probability() <= SPEAKS_ENOUGH
    }

    /// All that the statistics remember are boring readings of the present law, to be drawn when they are needed.
    fn recall_later(&mut self) {
        (self.earlier, self.unseen) = (Some(self.law), 0);
        self.detectors.iter_mut().for_each(DetectorState::hold_quiet);
    }

    /// Draws what the statistics would remember of the skipped samples: each from its own law, given that it was boring.
    fn recall(&mut self, law_at: impl FnMut(Instant) -> Law) {
        let earlier = self.earlier.take();
        if self.unseen == 0 && earlier.is_none() {
            return;
        }
        if self.memory > 0 {
            let silent = self.law == Law::SILENT || self.next == Next::Value;
            // From the newest back until every statistic remembers enough.
            let mut left = self.unseen;
            self.recalled.clear();
            if silent {
                left = 0;
            } else if self.moving || !self.law.is_mostly_silent() {
                self.recall_each(&mut left, law_at);
            } else {
                self.recall_values(&mut left);
            }
            let before = earlier.map_or(0, |law| self.recall_earlier(&law));
            self.refill_recalled(self.clock - (self.unseen - left) as i64 - before);
            if silent {
                self.detectors.iter_mut().for_each(|detector| detector.idle(self.unseen));
            }
        }
        self.unseen = 0;
    }

    /// Hands the statistics the readings that were drawn for them, the oldest of which is sample number `sample`.
    fn refill_recalled(&mut self, mut sample: i64) {
        for place in (0..self.recalled.len()).rev() {
            let (silent, reading) = self.recalled[place];
            self.refill(reading);
            self.keep(sample, reading);
            self.pass_silent(sample + 1, silent);
            sample += 1 + silent as i64;
        }
    }

    /// Draws as many of the samples before those that were skipped as are still remembered; how many that are.
    fn recall_earlier(&mut self, law: &Law) -> i64 {
        let mut values = self.recalled.iter().filter(|(_, reading)| *reading != Reading::Nothing).count();
        let mut samples = 0;
        while values <= self.memory {
            let reading = law.draw_boring(&self.boring, &mut self.stream);
            values += usize::from(reading != Reading::Nothing);
            self.recalled.push((0, reading));
            samples += 1;
        }
        samples
    }

    /// Draws the skipped samples one by one, of which there are `left`.
    fn recall_each(&mut self, left: &mut u64, mut law_at: impl FnMut(Instant) -> Law) {
        let mut values = 0;
        let mut sample = self.clock;
        while values <= self.memory && *left > 0 {
            sample -= 1;
            *left -= 1;
            let law = law_at(self.time_of(sample));
            let reading = law.draw_boring(&self.boring, &mut self.stream);
            values += usize::from(reading != Reading::Nothing);
            self.recalled.push((0, reading));
        }
    }

    /// Draws the values among the skipped samples, all of the present law, and how many samples say nothing between them.
    fn recall_values(&mut self, left: &mut u64) {
        let law = self.law;
        let values = law.boring_values(&self.boring);
        let share = values.share();
        while self.recalled.len() <= self.memory && *left > 0 {
            let silent = if share > 0.0 { self.stream.failures_before_success(share) } else { u64::MAX }.min(*left);
            *left -= silent;
            if *left == 0 {
                // Older than all values: as good as a value of nothing behind the others.
                if silent > 0 {
                    self.recalled.push((silent - 1, Reading::Nothing));
                }
            } else if let Some(reading) = values.draw(&mut self.stream) {
                *left -= 1;
                self.recalled.push((silent, reading));
            }
        }
    }

    /// Samples from number `first` on said nothing.
    fn pass_silent(&mut self, first: i64, samples: u64) {
        if samples == 0 {
            return;
        }
        self.detectors.iter_mut().for_each(|detector| detector.idle(samples));
        if self.drawn.is_some() {
            (first..first + samples as i64).for_each(|sample| self.keep(sample, Reading::Nothing));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::strategy::{Detector, Dropped, RatioTest, RunRule, Statistic};
    use crate::sensing::invented;
    use crate::sensing::law::{Spurious, Target};
    use crate::sensing::statistic::Frame;

    fn noisy(mean: f64, drop: f64) -> Law {
        let mut law = Law::SILENT;
        law.targets[0] = Target { weight: 0.96 - drop, mean, sigma: 0.1 };
        law.spurious = Spurious { weight: 0.04, low: 0.1, high: mean };
        law.resolution = 0.01;
        law.lowest = 0.1;
        law.highest = 5.0;
        law
    }

    fn detectors(statistic: Statistic, rule: RunRule, dropped: Dropped) -> Vec<DetectorState> {
        let first = Detector {
            rule,
            release: RunRule { k: 2, n: 3 },
            dropped,
            ..invented::detector(
                statistic,
                (1.2, if matches!(statistic, Statistic::ApproachRate(_)) { 0.2 } else { 1.3 }),
            )
        };
        let second = Detector {
            statistic: Statistic::Level,
            on: 0.6,
            off: 0.6,
            rule: RunRule { k: 2, n: 2 },
            dropped: Dropped::Quiet,
            ..first.clone()
        };
        let frame = Frame { resolution: 0.01, period: Span(50_000), farthest: 5.0 };
        vec![DetectorState::new(&first, &frame), DetectorState::new(&second, &frame)]
    }

    /// Plays `laws` in turn, `samples` each, and returns, per detector, the number of change-overs and the number of
    /// samples spent on (as seen at the change-overs).
    fn play(sampling: Sampling, detectors: Vec<DetectorState>, seed: u64, laws: &[Law], samples: i64) -> [f64; 4] {
        let period = Span(50_000);
        let mut channel = Channel::new(period, Source::new(seed, 0, "eye"), detectors, sampling);
        let mut result = [0.0; 4];
        let mut since = [Instant::START; 2];
        for (piece, law) in laws.iter().enumerate() {
            let start = Instant(piece as i64 * samples * period.0);
            let end = start + Span(samples * period.0);
            channel.set_law(start, *law, false, false);
            while channel.next_time() < end {
                let now = channel.next_time();
                let changed = channel.sample(|_| unreachable!("nothing moves here"));
                for d in 0..2 {
                    if changed >> d & 1 == 1 {
                        result[d] += 1.0;
                        if channel.is_on(d) {
                            since[d] = now;
                        } else {
                            result[2 + d] += now.since(since[d]).seconds();
                        }
                    }
                }
            }
        }
        result
    }

    fn ratio(at_most: f64) -> Statistic {
        let (false_alarm, false_rest) = (1e-3, 1e-2);
        Statistic::LikelihoodRatio(RatioTest {
            absent: 2.0,
            present: 1.0,
            spread: 0.15,
            false_alarm,
            false_rest,
            at_most,
        })
    }

    /// Skipping and drawing every sample agree: means over independent seeds, for several statistics, rules and
    /// conventions, with a law that changes every 700 samples. 4 outputs x 14 set-ups at 4.5 standard errors: a false
    /// alarm has probability below 4e-4 for a fresh seed.
    #[test]
    fn skipping_agrees_with_every_sample() {
        let laws: Vec<Law> = (0..30)
            .map(|i| match i % 7 {
                0 | 1 => noisy(2.0, 0.02),
                2 => noisy(1.5, 0.01),
                3 => noisy(1.0, 0.2),
                // Hardly a reading, while the windows still hold earlier ones.
                4 | 5 => {
                    let mut law = noisy(1.0, 0.95);
                    law.spurious.weight = 0.002;
                    law
                }
                _ => Law::SILENT,
            })
            .collect();
        let setups = [
            (Statistic::Level, RunRule { k: 2, n: 3 }, Dropped::Quiet),
            (Statistic::Level, RunRule { k: 3, n: 5 }, Dropped::Hold),
            (Statistic::Level, RunRule { k: 2, n: 2 }, Dropped::Reset),
            (Statistic::MovingMean(4), RunRule { k: 2, n: 3 }, Dropped::Quiet),
            (Statistic::MovingMedian(3), RunRule { k: 1, n: 1 }, Dropped::Hold),
            (Statistic::MovingMedian(5), RunRule { k: 2, n: 3 }, Dropped::Quiet),
            (Statistic::MovingMean(3), RunRule { k: 2, n: 2 }, Dropped::Reset),
            (Statistic::Ewma { weight: 0.3 }, RunRule { k: 2, n: 3 }, Dropped::Quiet),
            (Statistic::Ewma { weight: 0.6 }, RunRule { k: 1, n: 1 }, Dropped::Reset),
            (Statistic::Cusum { limit: 0.9 }, RunRule { k: 1, n: 1 }, Dropped::Quiet),
            (Statistic::Cusum { limit: 0.3 }, RunRule { k: 1, n: 1 }, Dropped::Reset),
            // One reading may decide; two must.
            (ratio(f64::INFINITY), RunRule { k: 1, n: 1 }, Dropped::Hold),
            (ratio(7.0), RunRule { k: 1, n: 1 }, Dropped::Reset),
            (ratio(5.0), RunRule { k: 1, n: 1 }, Dropped::Quiet),
        ];
        for (statistic, rule, dropped) in setups {
            agree(&laws, 700, || detectors(statistic, rule, dropped), &format!("{statistic:?} {rule:?} {dropped:?}"));
        }
    }

    /// The same for a level alone on its sensor, where runs are drawn rather than samples: false runs of rare hits, rows of
    /// frequent ones, and laws that change long before a window is full of them.
    #[test]
    fn runs_agree_with_every_sample() {
        let laws = |count: usize| -> Vec<Law> {
            let mut often = noisy(1.05, 0.1);
            often.targets[0].sigma = 0.05;
            let law = |i: usize| match i % 6 {
                0 => noisy(2.0, 0.02),
                1 => noisy(1.4, 0.01),
                2 => noisy(1.0, 0.2),
                3 => often,
                4 => Law::SILENT,
                _ => noisy(1.33, 0.1),
            };
            (0..count).map(law).collect()
        };
        for (pieces, samples) in [(30, 700), (600, 4), (300, 11)] {
            for (rule, dropped) in [
                (RunRule { k: 3, n: 6 }, Dropped::Quiet),
                (RunRule { k: 2, n: 2 }, Dropped::Quiet),
                (RunRule { k: 3, n: 4 }, Dropped::Hold),
                (RunRule { k: 5, n: 5 }, Dropped::Hold),
                (RunRule { k: 2, n: 3 }, Dropped::Reset),
            ] {
                let alone = || detectors(Statistic::Level, rule, dropped).into_iter().take(1).collect();
                agree(&laws(pieces), samples, alone, &format!("{samples} {rule:?} {dropped:?}"));
            }
        }
    }

    /// The same for medians alone on their sensor: a median speaks exactly when most of its readings do, so that its false runs
    /// are drawn as runs of readings that speak; what its window holds at the end of a run, or where a law changes, decides
    /// how soon it lets go.
    #[test]
    fn runs_of_medians_agree_with_every_sample() {
        let laws = |count: usize| -> Vec<Law> {
            let law = |i: usize| match i % 6 {
                0 | 3 => noisy(1.4, 0.02),
                1 => noisy(1.33, 0.2),
                2 => noisy(1.0, 0.2),
                4 => Law::SILENT,
                _ => noisy(1.36, 0.3),
            };
            (0..count).map(law).collect()
        };
        let once = RunRule { k: 1, n: 1 };
        for (pieces, samples) in [(30, 700), (600, 4), (300, 11)] {
            for (n, dropped, release) in [
                (3, Dropped::Quiet, once),
                (5, Dropped::Hold, once),
                (7, Dropped::Quiet, RunRule { k: 2, n: 3 }),
                (3, Dropped::Reset, once),
            ] {
                let frame = Frame { resolution: 0.01, period: Span(50_000), farthest: 5.0 };
                let median = Detector {
                    rule: once,
                    release,
                    dropped,
                    ..invented::detector(Statistic::MovingMedian(n), (1.2, 1.3))
                };
                let alone = || vec![DetectorState::new(&median, &frame)];
                agree(&laws(pieces), samples, alone, &format!("median of {n}, {samples} {dropped:?}"));
            }
        }
    }

    /// The same where samples speak seldom, so that the quiet ones between them are drawn as a number, and whether these had a
    /// reading is left open: few of them, or most, say nothing.
    #[test]
    fn seldom_tallies_agree_with_every_sample() {
        let laws = |count: usize| -> Vec<Law> {
            let law = |i: usize| match i % 6 {
                0 => noisy(1.36, 0.1),
                1 => noisy(1.33, 0.6),
                2 => noisy(1.05, 0.3),
                3 => noisy(1.4, 0.02),
                4 => noisy(1.07, 0.02),
                _ => noisy(1.6, 0.9),
            };
            (0..count).map(law).collect()
        };
        for (pieces, samples) in [(20, 1_500), (600, 5), (300, 17)] {
            for (n, rule, release, dropped) in [
                (5, RunRule { k: 2, n: 3 }, RunRule { k: 2, n: 2 }, Dropped::Quiet),
                (3, RunRule { k: 2, n: 5 }, RunRule { k: 3, n: 4 }, Dropped::Hold),
                (3, RunRule { k: 3, n: 4 }, RunRule { k: 1, n: 1 }, Dropped::Quiet),
            ] {
                let detector = alone(Statistic::MovingMedian(n), (rule, release), dropped);
                agree(&laws(pieces), samples, detector, &format!("median of {n} {rule:?}, {samples} {dropped:?}"));
            }
            let rules = (RunRule { k: 3, n: 16 }, RunRule { k: 4, n: 20 });
            let detector = alone(Statistic::Level, rules, Dropped::Hold);
            agree(&laws(pieces), samples, detector, &format!("level {rules:?}, {samples}"));
        }
    }

    /// The same where a detector does not settle: something at the edge of a cone, made out in part of the samples, before a
    /// median or a level with a rule over several samples; and laws that change long before it is decided.
    #[test]
    fn tallies_agree_with_every_sample() {
        let laws = |count: usize| -> Vec<Law> {
            let law = |i: usize| match i % 6 {
                0 | 3 => noisy(1.2, 0.05),
                1 => noisy(1.27, 0.3),
                2 => noisy(1.15, 0.02),
                4 => noisy(1.3, 0.0),
                _ => noisy(1.22, 0.6),
            };
            (0..count).map(law).collect()
        };
        for (pieces, samples) in [(20, 700), (600, 4), (300, 11)] {
            for (statistic, rule, release, dropped) in [
                (Statistic::MovingMedian(5), RunRule { k: 6, n: 8 }, RunRule { k: 10, n: 10 }, Dropped::Quiet),
                (Statistic::MovingMedian(5), RunRule { k: 2, n: 3 }, RunRule { k: 4, n: 5 }, Dropped::Hold),
                (Statistic::MovingMedian(11), RunRule { k: 1, n: 1 }, RunRule { k: 1, n: 1 }, Dropped::Quiet),
                (Statistic::Level, RunRule { k: 4, n: 6 }, RunRule { k: 5, n: 14 }, Dropped::Quiet),
                (Statistic::Level, RunRule { k: 9, n: 20 }, RunRule { k: 2, n: 30 }, Dropped::Hold),
            ] {
                let detector = alone(statistic, (rule, release), dropped);
                agree(&laws(pieces), samples, detector, &format!("{statistic:?} {rule:?}, {samples} {dropped:?}"));
            }
        }
    }

    /// A detector that is on below 1.2 m and off above 1.25 m, alone on its sensor.
    fn alone(
        statistic: Statistic,
        (rule, release): (RunRule, RunRule),
        dropped: Dropped,
    ) -> impl Fn() -> Vec<DetectorState> {
        let frame = Frame { resolution: 0.01, period: Span(50_000), farthest: 5.0 };
        let detector = Detector { rule, release, dropped, ..invented::detector(statistic, (1.2, 1.25)) };
        move || vec![DetectorState::new(&detector, &frame)]
    }

    /// The same for closing speeds: a target that stands still for long, one that is not there, both now and then
    /// disturbed. Standing within 0.12 m (3 sigma) of one place is what lets samples be skipped.
    #[test]
    fn skipping_agrees_for_a_closing_speed() {
        let still = |mean: f64, sigma: f64, drop: f64| {
            let mut law = noisy(mean, drop);
            law.targets[0].sigma = sigma;
            law.targets[0].weight = 0.99 - drop;
            law.spurious.weight = 0.01;
            law
        };
        let mut nobody = still(2.0, 0.04, 0.05);
        (nobody.far, nobody.targets[0].weight) = (nobody.targets[0].weight, 0.0);
        let laws: Vec<Law> = (0..30)
            .map(|i| match i % 6 {
                0 => still(2.0, 0.04, 0.02),
                1 => still(1.6, 0.05, 0.2),
                2 | 4 => nobody,
                3 => still(1.0, 0.04, 0.0),
                _ => Law::SILENT,
            })
            .collect();
        for (n, rule, dropped) in [
            (8, RunRule { k: 1, n: 1 }, Dropped::Quiet),
            (5, RunRule { k: 2, n: 3 }, Dropped::Hold),
            (8, RunRule { k: 2, n: 2 }, Dropped::Reset),
        ] {
            let statistic = Statistic::ApproachRate(n);
            agree(&laws, 700, || detectors(statistic, rule, dropped), &format!("{n} {rule:?} {dropped:?}"));
        }
    }

    fn agree(laws: &[Law], samples: i64, detectors: impl Fn() -> Vec<DetectorState>, what: &str) {
        let n = 120;
        let mut sums = [[[0.0; 2]; 4]; 2];
        for seed in 0..n {
            for (mode, sampling) in [Sampling::Exact, Sampling::Every].into_iter().enumerate() {
                let seed = seed + 10_000 * mode as u64;
                let result = play(sampling, detectors(), seed, laws, samples);
                for (sum, value) in sums[mode].iter_mut().zip(result) {
                    sum[0] += value;
                    sum[1] += value * value;
                }
            }
        }
        for output in 0..4 {
            let [exact, every] = [&sums[0], &sums[1]].map(|mode| {
                let [sum, square]: [f64; 2] = mode[output];
                let mean = sum / n as f64;
                (mean, (square / n as f64 - mean * mean).max(0.0) / n as f64)
            });
            let error = (exact.1 + every.1).sqrt();
            assert!(
                (exact.0 - every.0).abs() <= 4.5 * error + 1e-9,
                "{what} output {output}: exact {exact:?}, every {every:?}"
            );
        }
        // The detector under test must have something to do.
        assert!(sums[0][0][0] > 20.0 * n as f64 / 120.0, "{what}: {:?}", sums[0]);
    }

    /// Where a sample without a reading empties the window, silence is no boring reading: it is drawn rather than skipped, and
    /// must count as silent all the same. Silent samples among those in view, for something that moves and something that
    /// stands, with each convention, against the law's own probability (5 standard errors of a binomial number).
    #[test]
    fn silent_samples_in_view_are_all_counted() {
        let law = noisy(2.0, 0.1);
        let expected = law.nothing_probability();
        for dropped in [Dropped::Quiet, Dropped::Hold, Dropped::Reset] {
            for (statistic, alone) in [
                (Statistic::Level, true),
                (Statistic::Level, false),
                (Statistic::MovingMean(3), true),
                (Statistic::MovingMedian(5), true),
            ] {
                for moving in [true, false] {
                    let detectors = detectors(statistic, RunRule { k: 2, n: 3 }, dropped);
                    let detectors = detectors.into_iter().take(if alone { 1 } else { 2 }).collect();
                    let source = Source::new(8, 0, "eye");
                    let mut channel = Channel::new(Span(50_000), source, detectors, Sampling::Exact);
                    channel.set_law(Instant::START, law, moving, true);
                    let samples = 60_000;
                    while channel.next_time() < Instant(samples * 50_000) {
                        channel.sample(|_| law);
                        if moving {
                            // A bound that is no tight one, so that there are candidates to refuse.
                            channel.plan_ahead(
                                Instant::NEVER,
                                |_| None,
                                |_, _, boring| 1.3 * law.interesting_probability(boring),
                                |_, _| law,
                            );
                        }
                    }
                    let (count, silent) = channel.in_view();
                    assert!(count > samples as u64 / 2, "{count} samples");
                    let error = (expected * (1.0 - expected) / count as f64).sqrt();
                    let share = silent / count as f64;
                    assert!(
                        (share - expected).abs() < 5.0 * error,
                        "{statistic:?} {dropped:?} moving {moving}: {share} against {expected}"
                    );
                }
            }
        }
    }

    /// A median that was tallied over forty samples, of which hardly any speaks, holds readings of those forty: none of the law
    /// before is left in it, though most of them were drawn by number.
    #[test]
    fn a_tally_fills_a_median_with_its_own_readings() {
        let period = Span(50_000);
        for seed in 0..40 {
            let median =
                detectors(Statistic::MovingMedian(5), RunRule { k: 2, n: 3 }, Dropped::Quiet).into_iter().take(1);
            let mut channel = Channel::new(period, Source::new(seed, 0, "eye"), median.collect(), Sampling::Exact);
            let law = |mean: f64| Law { spurious: Spurious { weight: 0.02, low: 0.1, high: 1.1 }, ..noisy(mean, 0.3) };
            let mut tallied = false;
            for (start, mean) in [(0, 3.0), (200, 2.0), (240, 4.0)] {
                let at = Instant(start * period.0);
                while channel.next_time() < at {
                    channel.sample(|_| law(mean));
                }
                tallied |= start == 240 && matches!(channel.next, Next::Tally { .. });
                channel.set_law(at, law(mean), false, false);
            }
            let held = channel.detectors[0].statistic();
            assert!(!tallied || held.is_some_and(|held| (held - 2.0).abs() < 0.5), "seed {seed}: {held:?}");
            assert!(tallied || seed > 0, "the first seed is tallied");
        }
    }

    /// What a statistic remembers of laws that were over long ago, or just now, is drawn when it is needed. The readings are exact,
    /// so that their mean and their median tell which were remembered.
    #[test]
    fn a_window_remembers_the_laws_before() {
        let period = Span(50_000);
        let exact = |mean: f64| Law {
            targets: [Target { weight: 1.0, mean, sigma: 0.0 }, Law::SILENT.targets[1]],
            spurious: Spurious { weight: 1e-9, low: 0.1, high: 0.2 },
            ..noisy(mean, 0.0)
        };
        for (changes, last) in [
            (vec![(0, 2.0), (200, 3.0)], [2.0, 2.0, 2.0, 2.0, 2.0]),
            (vec![(0, 2.0), (200, 3.0), (203, 4.0)], [2.0, 2.0, 3.0, 3.0, 3.0]),
            (vec![(0, 2.0), (200, 3.0), (400, 4.0)], [3.0, 3.0, 3.0, 3.0, 3.0]),
            (vec![(0, 2.0), (200, 3.0), (400, 4.0), (402, 5.0)], [3.0, 3.0, 3.0, 4.0, 4.0]),
            (vec![(0, 2.0), (200, 3.0), (203, 4.0), (204, 5.0)], [2.0, 3.0, 3.0, 3.0, 4.0]),
            (vec![(0, 2.0), (20, 3.0), (22, 4.0)], [2.0, 2.0, 2.0, 3.0, 3.0]),
            (vec![(0, 2.0), (200, 1.0), (202, 3.0)], [1.0, 1.0, 2.0, 2.0, 2.0]),
        ] {
            for (statistic, wanted) in
                [(Statistic::MovingMean(5), last.iter().sum::<f64>() / 5.0), (Statistic::MovingMedian(5), last[2])]
            {
                let detectors = detectors(statistic, RunRule { k: 2, n: 3 }, Dropped::Quiet);
                let one = detectors.into_iter().take(1).collect();
                let mut channel = Channel::new(period, Source::new(3, 0, "eye"), one, Sampling::Exact);
                for (start, value) in &changes {
                    let at = Instant(start * period.0);
                    while channel.next_time() < at {
                        channel.sample(|_| unreachable!("nothing moves"));
                    }
                    channel.set_law(at, exact(*value), false, false);
                }
                let law = channel.law;
                channel.recall(|_| law);
                let found = channel.detectors[0].statistic();
                assert!(
                    found.is_some_and(|found| (found - wanted).abs() < 1e-9),
                    "{statistic:?} {changes:?}: {found:?} against {wanted}"
                );
            }
        }
    }

    /// What sticks while something comes nearer is where it was last, not where it was when a reading last mattered.
    #[test]
    fn a_sensor_that_sticks_in_motion_reads_what_it_saw_last() {
        let period = Span(50_000);
        let law_at =
            |at: Instant| Law { spurious: Law::SILENT.spurious, ..noisy(5.0 - 0.02 * (at.0 / 50_000) as f64, 0.0) };
        let detectors = detectors(Statistic::Level, RunRule { k: 2, n: 3 }, Dropped::Quiet);
        let mut channel = Channel::new(period, Source::new(3, 0, "eye"), detectors, Sampling::Exact);
        channel.set_law(Instant::START, law_at(Instant::START), true, true);
        channel.plan_ahead(Instant::NEVER, |_| None, |_, _, _| 0.0, |_, at| law_at(at));
        let now = Instant(90 * period.0);
        assert!(channel.next_time() > now, "nothing is drawn on the way");
        let reading = channel.last_reading(now, law_at);
        assert!(matches!(reading, Reading::Value(value) if (value - 3.2).abs() < 0.5), "{reading:?}");
    }

    /// Mean number of samples to a run of 2 at hit probability p is (1 + p) / p^2 (Feller, vol. 1, XIII.7).
    #[test]
    fn mean_wait_for_a_run_of_two() {
        let mut law = Law::SILENT;
        law.targets[0] = Target { weight: 0.95, mean: 3.0, sigma: 0.0 };
        law.spurious = Spurious { weight: 0.05, low: 0.1, high: 0.5 };
        let (p, n) = (0.05, 2_000);
        let mut waits = Vec::new();
        for seed in 0..n {
            let detectors = detectors(Statistic::Level, RunRule { k: 2, n: 2 }, Dropped::Quiet);
            let mut channel = Channel::new(Span(1_000), Source::new(seed, 0, "eye"), detectors, Sampling::Exact);
            channel.set_law(Instant::START, law, false, false);
            while channel.sample(|_| law) & 1 == 0 {}
            waits.push(channel.clock as f64);
        }
        let exact = (1.0 + p) / (p * p);
        let mean = waits.iter().sum::<f64>() / n as f64;
        let sd = (waits.iter().map(|w| (w - mean).powi(2)).sum::<f64>() / (n - 1) as f64).sqrt();
        assert!((mean - exact).abs() < 4.0 * sd / (n as f64).sqrt(), "{mean} against {exact}");
    }
}
