//! The battery of a solar shelter: its charge through the season, the cut-off when it is empty, and the switching on again.
//!
//! The charge is brought up to date only when something asks for it: a stroke, a change of power, or a look that is due
//! when it could be empty at the earliest (without any sun), or charged enough at the earliest (in the brightest light). So
//! a full battery costs an event in days. What runs empty is noticed to the minute.

use super::event::Event;
use super::plan::LIGHT_STEP;
use super::queue::Ticket;
use super::season::Season;
use crate::ledger::metric::Key;
use crate::math::time::{Instant, Span};
use crate::scenario::door::{Solar, Source, Supply};
use crate::shelter::battery::{Charge, panel_w};
use crate::shelter::mechanism::Direction;
use crate::shelter::power;

/// Least time between two looks.
const LOOK_S: f64 = 60.0;

/// Brightest light there is, W/m2: a high sun between clouds that reflect (common practice).
const BRIGHTEST_W_M2: f64 = 1_400.0;

/// What is known of the battery.
#[derive(Clone, Copy, Debug)]
pub struct Charging {
    solar: Solar,
    charge: Charge,
    /// Up to when the charge holds, and in which step of the weather that is.
    at: Instant,
    weather_step: usize,
    /// Since when it has cut the shelter off.
    empty_since: Option<Instant>,
    look: Option<(Instant, Ticket)>,
    /// When it gives out under the present stroke, if it does.
    gives_out: Option<Ticket>,
}

impl Charging {
    /// A full battery, if the shelter lives on one.
    pub fn new(supply: &Supply) -> Option<Charging> {
        let Source::Solar(solar) = supply.source else { return None };
        Some(Charging {
            solar,
            charge: Charge::new(&solar),
            at: Instant::START,
            weather_step: 0,
            empty_since: None,
            look: None,
            gives_out: None,
        })
    }

    /// Share of the usable charge that is left, %.
    pub fn percent(&self) -> f64 {
        100.0 * self.charge.share()
    }

    /// Energy that it can still give, Wh.
    fn available_wh(&self) -> f64 {
        self.charge.wh * self.solar.efficiency
    }

    /// The earliest moment at which a look could find something new, the load drawing `load_w`.
    fn look_due(&self, now: Instant, load_w: f64) -> Instant {
        let (missing_wh, most_w) = match self.empty_since {
            Some(_) => {
                let enough = self.solar.restarts_at * self.solar.battery_wh * self.solar.usable;
                (enough - self.charge.wh, panel_w(&self.solar, BRIGHTEST_W_M2))
            }
            None => (self.charge.wh * self.solar.efficiency, load_w),
        };
        if most_w <= 0.0 {
            return Instant::NEVER;
        }
        // A year is as good as never, and far from the clock's end.
        let wait_s = (3_600.0 * missing_wh / most_w).clamp(LOOK_S, 366.0 * 86_400.0);
        now + Span::from_seconds(wait_s)
    }
}

impl Season<'_> {
    /// Brings the charge up to now.
    pub fn charge_to_now(&mut self) {
        self.charging = self.charged_by(self.now);
    }

    /// The charge at a moment, under the load that has held since it was last brought up to date.
    pub fn charged_by(&self, to: Instant) -> Option<Charging> {
        let mut charging = self.charging?;
        let load_w = self.standby_w();
        let steps = &self.outside.weather.steps;
        while charging.at < to {
            let light_step = charging.at.0.div_euclid(LIGHT_STEP.0);
            let mut until = to.min(Instant((light_step + 1) * LIGHT_STEP.0));
            let next = steps.get(charging.weather_step + 1).map_or(Instant::NEVER, |step| step.from);
            if next <= charging.at {
                charging.weather_step += 1;
                continue;
            }
            until = until.min(next);
            let clear_w_m2 = self.plan.sunshine_w_m2.get(light_step as usize).copied().unwrap_or(0.0);
            let gain_w = panel_w(&charging.solar, clear_w_m2 * steps[charging.weather_step].clearness);
            charging.charge.pass(until.since(charging.at).hours(), gain_w, load_w);
            charging.at = until;
        }
        Some(charging)
    }

    /// A stroke has taken `wh` from the battery.
    pub fn draw_charge(&mut self, wh: f64) {
        if self.charging.is_none() {
            return;
        }
        self.charge_to_now();
        if let Some(charging) = &mut self.charging {
            charging.charge.give(wh);
            if let Some(ticket) = charging.gives_out.take() {
                self.queue.cancel(ticket);
            }
        }
        self.schedule_look();
    }

    /// A stroke has begun that would draw `wh` in all, evenly from `start_s` after its beginning to `lasts_s`: a battery that
    /// does not hold as much gives out on the way.
    pub fn stroke_draws(&mut self, wh: f64, start_s: f64, lasts_s: f64) {
        let Some(charging) = self.charged_by(self.now) else { return };
        let holds_wh = charging.available_wh();
        if holds_wh < wh && charging.empty_since.is_none() {
            let after_s = start_s + (lasts_s - start_s).max(0.0) * holds_wh / wh;
            let ticket = self.queue.schedule(self.now + Span::from_seconds(after_s), Event::BatteryGivesOut);
            if let Some(charging) = &mut self.charging {
                charging.gives_out = Some(ticket);
            }
        }
    }

    /// The battery gives out under a stroke: the motor brakes where it is, as in any loss of power.
    pub fn battery_gives_out(&mut self) {
        self.charge_to_now();
        let Some(charging) = &mut self.charging else { return };
        charging.gives_out = None;
        charging.empty_since = Some(self.now);
        self.trace("battery", "gives out under a stroke", String::new());
        self.power_fault(true);
    }

    /// Looks whether the battery is empty, or charged enough.
    pub fn look_at_charge(&mut self) {
        self.charge_to_now();
        let load_w = self.standby_w();
        let Some(charging) = &mut self.charging else { return };
        charging.look = None;
        let share = charging.charge.share();
        match charging.empty_since {
            // A load that is off empties nothing.
            None if load_w > 0.0 && charging.charge.wh <= load_w * LOOK_S / 3_600.0 => {
                charging.empty_since = Some(self.now);
                self.trace("battery", "empty", String::new());
                self.power_fault(true);
            }
            Some(since) if share >= charging.solar.restarts_at => {
                charging.empty_since = None;
                self.book.add(Key::BatteryEmpty, self.now.since(since).hours());
                self.trace("battery", "charged again", format!("{:.0} % of its usable charge", 100.0 * share));
                self.power_fault(false);
            }
            _ => {}
        }
        self.schedule_look();
    }

    /// Whether the battery holds less than is needed to shut the door and to open it again from there, with the reserve that is
    /// asked for, in the present weather (in calm weather where that would let no stroke end).
    pub fn battery_low(&self) -> bool {
        let scenario = &self.plan.scenario;
        let reserve = scenario.strategies[self.strategy.index].controller.care.reopening_reserve;
        // Behind a shut door there is nothing to refuse.
        if reserve <= 0.0 || self.charging.is_none() || self.door.is_shut() {
            return false;
        }
        let Some(charging) = self.charged_by(self.now) else { return false };
        let energy_j = |direction| {
            let stroke = self.plan.strokes.get(direction, &self.loads(direction));
            let stroke = if stroke.finishes() { stroke } else { self.calm_stroke(direction) };
            stroke.energy_j
        };
        let both_j = energy_j(Direction::Closing) + energy_j(Direction::Opening);
        charging.available_wh() < reserve * power::motor_wh(&scenario.supply, both_j)
    }

    /// Schedules the next look, unless an earlier one is due already.
    fn schedule_look(&mut self) {
        let load_w = power::standby_wh(&self.plan.scenario.supply, 1.0);
        let Some(charging) = &mut self.charging else { return };
        let due = charging.look_due(self.now, load_w);
        if let Some((at, ticket)) = charging.look {
            if at <= due {
                return;
            }
            self.queue.cancel(ticket);
        }
        charging.look = (due < self.end).then(|| (due, self.queue.schedule(due, Event::Charge)));
    }

    /// What the shelter draws at rest, W.
    fn standby_w(&self) -> f64 {
        if self.powered { power::standby_wh(&self.plan.scenario.supply, 1.0) } else { 0.0 }
    }

    /// Books what is left to book at the season's end.
    pub fn close_charge(&mut self) {
        self.charge_to_now();
        let Some(charging) = &self.charging else { return };
        if let Some(since) = charging.empty_since {
            self.book.add(Key::BatteryEmpty, self.now.since(since).hours());
        }
        self.book.peak(Key::BatteryDrawn, 100.0 * charging.charge.deepest());
    }
}
