//! One season: the only place where the parts meet. A pure function of (plan, strategy, seed, outside world).

use super::account::Held;
use super::approach::Outset;
use super::charge::Charging;
use super::control::state_name;
use super::door::Door;
use super::event::Event;
use super::failures::Failing;
use super::film::Filming;
use super::guests::{self, Guest};
use super::health::Votes;
use super::mower::Mower;
use super::openings::Noise;
use super::outside::Outside;
use super::plan::{Plan, Rules, StrategyPlan};
use super::queue::{Queue, Ticket};
use super::senses::{self, GUESTS_MAX, Sense, change};
use super::survey::Surveyed;
use super::watch::Watch;
use crate::ledger::blame::ByCause;
use crate::ledger::book::Book;
use crate::ledger::metric::Key;
use crate::ledger::record::{EventRow, SeasonRecord};
use crate::math::random::Source;
use crate::math::time::Instant;
use crate::scenario::sensor::StatusCode;
use crate::sensing::channel::{Channel, Sampling};
use crate::sensing::false_runs::Room;
use crate::sensing::reading::Sky;
use crate::shelter::actuator::winding_ohm_20;
use crate::shelter::controller::{Controller, State};
use crate::shelter::{mechanism, power};
use crate::world::weather::Conditions;

/// How a season is played.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Options {
    /// Which samples are drawn.
    pub sampling: Sampling,
    /// Whether the event log is kept.
    pub events: bool,
}

/// A season under way.
pub(super) struct Season<'p> {
    pub plan: &'p Plan,
    pub outside: &'p Outside,
    pub seed: u64,
    pub strategy: &'p StrategyPlan,
    pub queue: Queue<Event>,
    pub now: Instant,
    pub end: Instant,
    pub book: Book,
    pub handled: u64,
    events: bool,
    /// Who looks on, if anybody does.
    pub film: Option<&'p mut Filming>,
    // Outside.
    pub weather_step: usize,
    pub light_step: usize,
    pub sky: Sky,
    pub rain_since: Option<Instant>,
    pub rain_ended: Option<Instant>,
    // Mower and visitors.
    pub mower: Mower,
    pub guests: [Option<Guest>; GUESTS_MAX],
    /// All places from this one on are empty: most of the time, all are.
    pub guests_reach: usize,
    pub sortie_source: Source,
    pub window_source: Source,
    pub status_source: Source,
    pub message: u32,
    pub announced: StatusCode,
    // Door, sensors, controller.
    pub door: Door<'p>,
    pub senses: Vec<Sense>,
    pub channels: Vec<Channel>,
    pub heard: u64,
    pub health: Votes,
    /// Whether the detectors of the opening rule need one sample less at present.
    pub short_rule: bool,
    pub controller: Controller,
    pub rules: Rules,
    pub wake: Option<(Instant, Ticket)>,
    /// Whether the controller has been asked to open, and wanted to, since the mower is on its way home.
    pub asked: bool,
    /// When the drive to the door began; which detectors have been heard of it since, and which are on for it and still unheard.
    pub approach: Option<Instant>,
    /// What holds since the books were last written, and the blind sensors of the present moment, as bits.
    pub held: Held,
    pub blind: u64,
    /// What the survey looked at last, by detector, and room to work in.
    pub surveyed: Vec<Surveyed>,
    pub survey_room: Room,
    /// By detector: share of time for which it would be on a step of its sensor's drift after what was looked at last.
    pub on_after_step: Vec<f64>,
    /// What was worked out of openings by noise.
    pub noise: Noise,
    /// Whether every sample is drawn.
    pub every: bool,
    /// Up to when the tallies hold.
    pub tallied: Instant,
    pub noticed: u64,
    pub seen: u64,
    /// What held at the beginning of each approach that has arrived, if asked for.
    pub outsets: Option<Vec<Outset>>,
    /// The approach under way, for the expected misses.
    pub watch: Watch,
    pub powered: bool,
    pub power_faults: u32,
    pub network_faults: u32,
    /// The controller's state before its present decision.
    pub decides_from: State,
    /// When somebody last ceased to be there.
    pub vanished: Instant,
    /// The battery's charge, where there is one.
    pub charging: Option<Charging>,
    pub failing: Failing,
}

/// Plays one season of one strategy.
pub fn play(plan: &Plan, outside: &Outside, strategy: usize, seed: u64, options: Options) -> SeasonRecord {
    let mut season = Season::new(plan, outside, strategy, seed, options);
    season.begin();
    season.run();
    season.close()
}

impl<'p> Season<'p> {
    fn new(plan: &'p Plan, outside: &'p Outside, strategy: usize, seed: u64, options: Options) -> Season<'p> {
        let scenario = &plan.scenario;
        let number = outside.season;
        let strategy_plan = &plan.strategies[strategy];
        let spec = &scenario.strategies[strategy];
        let mut record = SeasonRecord::empty(number, plan.clock.days());
        record.by_cause = ByCause::of(|blamed| vec![0; plan.causes[blamed].len()]);
        let first = &outside.weather.steps[0];
        Season {
            plan,
            outside,
            seed,
            strategy: strategy_plan,
            queue: Queue::new(),
            now: Instant::START,
            end: plan.clock.end(),
            book: Book::new(record, power::standby_wh(&scenario.supply, 1.0)),
            handled: 0,
            events: options.events,
            film: None,
            weather_step: 0,
            light_step: 0,
            sky: Sky::dark(first.temperature_c),
            rain_since: None,
            rain_ended: None,
            mower: Mower::docked(-scenario.mower.dock.depth_m),
            guests: [const { None }; GUESTS_MAX],
            guests_reach: 0,
            sortie_source: Source::new(seed, number, "mower sortie"),
            window_source: Source::new(seed, number, "mower window"),
            status_source: senses::status_source(seed, number),
            message: 0,
            announced: StatusCode::Docked,
            door: Door::new(
                mechanism::stroke_m(&scenario.door),
                first.temperature_c,
                scenario.drive.duty_period_s,
                winding_ohm_20(&scenario.drive),
            ),
            senses: senses::senses(plan, strategy_plan, seed, number),
            channels: senses::channels(plan, strategy_plan, seed, number, options.sampling),
            heard: 0,
            health: Votes::default(),
            short_rule: false,
            controller: Controller::new(spec.controller),
            rules: strategy_plan.rules(scenario),
            wake: None,
            approach: None,
            held: Held::NOTHING,
            blind: 0,
            surveyed: vec![Surveyed::default(); plan.scenario.detectors.len()],
            survey_room: Room::new(Source::new(seed, number, "false runs")),
            on_after_step: vec![0.0; plan.scenario.detectors.len()],
            noise: Noise::default(),
            every: options.sampling == Sampling::Every,
            tallied: Instant::START,
            noticed: 0,
            seen: 0,
            asked: false,
            outsets: None,
            watch: Watch::default(),
            powered: true,
            power_faults: 0,
            network_faults: 0,
            decides_from: State::Shut,
            vanished: Instant(i64::MIN / 4),
            charging: Charging::new(&scenario.supply),
            failing: Failing::new(plan, seed, number),
        }
    }

    /// Plays a season for what holds at the beginning of its approaches.
    pub fn record_outsets(plan: &Plan, outside: &Outside, strategy: usize, seed: u64, options: Options) -> Vec<Outset> {
        let mut season = Season::new(plan, outside, strategy, seed, options);
        season.outsets = Some(Vec::new());
        season.begin();
        season.run();
        season.outsets.unwrap_or_default()
    }

    /// Plays a season with somebody looking on.
    pub fn play_filmed(
        plan: &'p Plan,
        outside: &'p Outside,
        strategy: usize,
        seed: u64,
        options: Options,
        filming: &'p mut Filming,
    ) -> SeasonRecord {
        let mut season = Season::new(plan, outside, strategy, seed, options);
        season.film = Some(filming);
        season.channels.iter_mut().for_each(Channel::keep_drawn);
        season.begin();
        season.run();
        season.film_on(season.end);
        season.close()
    }

    /// Schedules what is known from the start.
    fn begin(&mut self) {
        self.open_tallies();
        for day in 1..self.plan.clock.days() {
            self.queue.schedule(self.plan.clock.day_start(day), Event::Midnight(day as u32));
        }
        self.schedule_survey(0);
        self.schedule_weather(1);
        self.schedule_light(1);
        for index in 0..self.outside.outages.len() {
            let outage = self.outside.outages[index];
            self.queue.schedule(outage.from, Event::FaultBegins(index as u32));
        }
        for (index, episode) in self.outside.episodes.iter().enumerate() {
            self.queue.schedule(episode.from, Event::EpisodeBegins(index as u32));
        }
        self.schedule_visit(0);
        self.schedule_unscheduled(0);
        for index in 0..self.senses.len() {
            self.schedule_clock_edge(index, 0);
            self.schedule_false_break(index, 0);
            self.schedule_poll_gap(index);
            self.schedule_random_drift(index);
        }
        self.sky = self.sky();
        self.refresh(change::ALL);
        if self.sky.rain_mm_h > 0.0 {
            self.rain_since = Some(self.now);
            self.rain_turns(true);
        }
        self.look_at_charge();
        self.track_zeros();
        self.plan_departure();
        self.control(crate::shelter::controller::Happening::None);
        self.held = self.held_now();
    }

    /// Events and samples in their order until the season ends.
    fn run(&mut self) {
        loop {
            let event_at = self.queue.peek_time().unwrap_or(Instant::NEVER);
            let mut sample_at = Instant::NEVER;
            let mut sensor = 0;
            for (index, channel) in self.channels.iter().enumerate() {
                let at = channel.next_time();
                if at < sample_at {
                    sample_at = at;
                    sensor = index;
                }
            }
            if event_at.min(sample_at) >= self.end {
                break;
            }
            if self.film.is_some() {
                self.film_on(event_at.min(sample_at));
            }
            if event_at <= sample_at {
                let Some((at, event)) = self.queue.pop() else { break };
                assert!(at >= self.now, "event {event:?} at {} us comes after {} us", at.0, self.now.0);
                self.now = at;
                self.handled += 1;
                if !event.leaves_motion_alone() {
                    self.catch_up();
                }
                self.watch_on(at);
                self.handle(event);
                self.account();
            } else {
                self.sample(sensor);
            }
        }
    }

    fn handle(&mut self, event: Event) {
        match event {
            Event::Midnight(_) => {
                self.settle(self.now);
                self.book.next_day();
            }
            Event::Survey(number) => self.survey(number),
            Event::Weather(step) => self.weather_changes(step as usize),
            Event::Light(step) => {
                self.light_step = step as usize;
                self.sky = self.sky();
                self.refresh(change::SKY);
                self.judge_drift();
                self.schedule_light(self.light_step + 1);
            }
            Event::FaultBegins(index) => {
                let outage = self.outside.outages[index as usize];
                self.queue.schedule(outage.to, Event::FaultEnds(index));
                self.fault(index as usize, true);
                self.expect_judgement(index, true);
            }
            Event::EpisodeBegins(index) => self.episode(index as usize, true),
            Event::EpisodeEnds(index) => self.episode(index as usize, false),
            Event::FailurePasses(failure) => self.failure_passes(failure as usize),
            Event::ResetBegins(failure) => self.reset(failure as usize, true),
            Event::ResetEnds(failure) => self.reset(failure as usize, false),
            Event::Redeparture(key) => self.leaves_again(key),
            Event::FaultEnds(index) => {
                self.fault(index as usize, false);
                self.expect_judgement(index, false);
            }
            Event::Judged(index) => self.judge(index),
            Event::Edge(index) => self.edge_passes(index as usize),
            Event::Laden(index) => self.refresh_sense(index as usize),
            Event::RandomDrift(index) => self.random_drift_steps(index as usize),
            Event::ZeroStep => self.zero_step(),
            Event::VisitBegins(index) => {
                self.visit_begins(index as usize);
                self.schedule_visit(index as usize + 1);
            }
            Event::Guest(place) => self.guest_step(place as usize),
            Event::Mower => self.mower_step(),
            Event::Unscheduled(index) => {
                self.unscheduled_start(self.outside.unscheduled[index as usize].1);
                self.schedule_unscheduled(index as usize + 1);
            }
            Event::RainMinded => self.rain_minded(),
            Event::Status(index, message, age_s) => self.status_arrives(index as usize, message, age_s),
            Event::ContactToggles(index) => self.contact_toggles(index as usize),
            Event::Rattle(index) => self.rattle(index as usize),
            Event::StatusStale(index, message) => self.status_stale(index as usize, message),
            Event::PollsLost(index) => self.polls_lost(index as usize),
            Event::PollAnswered(index) => self.poll_answered(index as usize),
            Event::ClockEdge(index, edge) => self.clock_edge(index as usize, edge),
            Event::FalseBreak(index, number) => self.false_break(index as usize, number),
            Event::Heard(detector, on) => self.hear(detector as usize, on),
            Event::Charge => self.look_at_charge(),
            Event::BatteryGivesOut => self.battery_gives_out(),
            Event::Wake => self.wake_up(),
            Event::StrokeEnds => self.stroke_ends(),
            Event::StrokeFails => self.stroke_fails(),
            Event::BrownOut => self.browned_out(),
            Event::EdgeDown => self.edge_down(),
            Event::PanelMeets => self.panel_meets(),
            Event::ObstacleFelt => self.obstacle_felt(),
        }
    }

    /// Schedules the first step from `step` on that says something new (nothing here minds the dew point). A sensor that
    /// drifts from day to day looks at every step.
    fn schedule_weather(&mut self, mut step: usize) {
        let steps = &self.outside.weather.steps;
        let same = |a: &Conditions, b: &Conditions| Conditions { from: a.from, dew_point_c: a.dew_point_c, ..*b } == *a;
        while !self.plan.drifts && step > 0 && step < steps.len() && same(&steps[step - 1], &steps[step]) {
            step += 1;
        }
        if let Some(next) = steps.get(step) {
            self.queue.schedule(next.from, Event::Weather(step as u32));
        }
    }

    fn schedule_light(&mut self, step: usize) {
        if let Some(next) = self.plan.lights.get(step) {
            self.queue.schedule(next.at, Event::Light(step as u32));
        }
    }

    /// Visits lie in the order of their nearest moments; a slow walker may begin before the one listed ahead of it
    /// has, and then begins with it.
    fn schedule_visit(&mut self, index: usize) {
        if let Some(visit) = self.outside.visits.get(index) {
            let at = guests::begins(visit, self.plan.scenario.visitors[visit.visitor].speed_m_s);
            self.queue.schedule(at.max(self.now), Event::VisitBegins(index as u32));
        }
    }

    fn schedule_unscheduled(&mut self, index: usize) {
        if let Some((at, _)) = self.outside.unscheduled.get(index) {
            self.queue.schedule(*at, Event::Unscheduled(index as u32));
        }
    }

    fn weather_changes(&mut self, step: usize) {
        let rained = self.sky.rain_mm_h > 0.0;
        self.weather_step = step;
        self.sky = self.sky();
        self.refresh(change::SKY);
        let rains = self.sky.rain_mm_h > 0.0;
        if rains && !rained {
            self.rain_since = Some(self.now);
            self.rain_ended = None;
            self.trace("weather", "rain begins", String::new());
            self.rain_began();
            self.rain_turns(true);
        } else if rained && !rains {
            self.rain_since = None;
            self.rain_ended = Some(self.now);
            self.trace("weather", "rain ends", String::new());
            self.rain_turns(false);
        }
        self.gusts_rattle();
        self.judge_drift();
        self.schedule_weather(step + 1);
    }

    fn close(mut self) -> SeasonRecord {
        self.settle(self.end);
        self.now = self.end;
        self.trace("controller", state_name(self.controller.state()), "season ends");
        // A stroke that the end interrupts is accounted for up to there.
        self.halt();
        if self.mower.is_out() {
            self.book.count(Key::Unfinished);
        }
        self.close_charge();
        // A winding at rest is as warm as the air.
        let warmest =
            self.outside.weather.steps.iter().map(|step| step.temperature_c).fold(f64::NEG_INFINITY, f64::max);
        self.book.peak(Key::WindingPeak, warmest);
        let share = self.door.duty_share(&self.plan.scenario.drive);
        self.book.peak(Key::DutyWorst, 100.0 * share);
        let in_view = self.channels.iter().map(Channel::in_view).fold((0, 0.0), |a, b| (a.0 + b.0, a.1 + b.1));
        let detectors = self.senses.iter().map(|sense| sense.detectors.len()).sum();
        let handled = self.handled;
        self.close_openings();
        let mut record = self.book.close(self.end, detectors, in_view);
        record.handled = handled;
        record
    }

    /// Whether the event log is kept.
    pub fn tracing(&self) -> bool {
        self.events
    }

    /// Adds a row to the event log, if it is kept.
    pub fn trace(&mut self, who: &str, what: &str, detail: impl Into<String>) {
        if self.events {
            let row = EventRow { at: self.now, who: who.into(), what: what.into(), detail: detail.into() };
            self.book.record().events.push(row);
        }
    }
}
