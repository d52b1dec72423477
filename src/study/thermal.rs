//! The motor's temperature over a played season, stroke by stroke from its event log.
//!
//! A stroke heats from its beginning until the log says that it ended: with its own current while it moves, with the start
//! current where it stands and pushes until the time-out or the cut-out. Between strokes the motor cools in the air of
//! the moment.

use crate::engine::{Outside, Plan};
use crate::ledger::record::SeasonRecord;
use crate::math::time::Instant;
use crate::shelter::actuator::{Actuator, winding_ohm_20};
use crate::shelter::heat::{Heating, Winding};
use crate::shelter::loads::Loads;
use crate::shelter::mechanism::Direction;

/// A stroke of the log.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Begun {
    /// When it began.
    pub at: Instant,
    /// When it ended, failed or was turned back.
    pub until: Instant,
    /// Which way.
    pub direction: Direction,
}

/// The strokes of a season that drew current.
pub fn strokes(plan: &Plan, record: &SeasonRecord) -> Vec<Begun> {
    let mut found: Vec<Begun> = Vec::new();
    let mut running = false;
    for event in record.events.iter().filter(|event| event.who == "door") {
        let direction = match event.what.as_str() {
            "opening begins" => Some(Direction::Opening),
            "closing begins" => Some(Direction::Closing),
            "open" | "shut" | "stroke failed" | "obstruction" => None,
            _ => continue,
        };
        if let Some(last) = found.last_mut().filter(|_| running) {
            last.until = event.at;
        }
        running = direction.is_some();
        if let Some(direction) = direction {
            found.push(Begun { at: event.at, until: plan.clock.end(), direction });
        }
    }
    found
}

/// Weather at the door as it loads a stroke, without frost.
pub fn loads_at(plan: &Plan, outside: &Outside, at: Instant) -> Loads {
    let weather = outside.weather.at(at);
    Loads {
        gust_m_s: weather.gust_m_s * plan.scenario.site.wind_factor,
        temperature_c: weather.temperature_c,
        frozen: false,
    }
}

/// Heats a winding over a stroke and returns its highest temperature, degC.
pub fn heat(plan: &Plan, outside: &Outside, winding: &mut Winding, begun: &Begun) -> f64 {
    let scenario = &plan.scenario;
    let loads = loads_at(plan, outside, begun.at);
    let stroke = plan.strokes.get(begun.direction, &loads);
    let lasts_s = begun.until.since(begun.at).seconds();
    let heating = if stroke.finishes() {
        Heating {
            current_a: stroke.rms_current_a,
            resistance_20_ohm: winding_ohm_20(&scenario.drive),
            housing_w: stroke.friction_heat_j / stroke.time_s.max(1e-3),
        }
    } else {
        let line = Actuator::at(&scenario.drive, &scenario.supply, winding.winding_c);
        Heating {
            current_a: line.start_current_a(),
            resistance_20_ohm: winding_ohm_20(&scenario.drive),
            housing_w: 0.0,
        }
    };
    winding.advance(&scenario.drive.heat, &heating, lasts_s, loads.temperature_c)
}
