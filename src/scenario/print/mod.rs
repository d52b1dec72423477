//! The resolved scenario as TOML in the same format, defaults filled in. Units come from the table of keys, each value
//! in the unit that shows it shortest without changing it, so that reading the text back gives an equal scenario.

mod controller;
mod door;
mod failure;
mod mower;
mod page;
mod sensor;
mod strategy;
mod weather;

pub use sensor::kind_name;

use super::Scenario;
use super::failure::Failure;
use super::limits::Bound;
use super::mower::Spread;
use super::objective::{Goal, Objective};
use super::season::Site;
use super::visitor::{Fault, FaultKind, Only, Visitor};
use super::weather::{Air, PulseYear};
pub use failure::failures_part;
pub(super) use page::Line;
use page::{Page, text};

/// The scenario as a file that loads to an equal scenario.
pub fn print(scenario: &Scenario) -> String {
    written(scenario).finish()
}

/// The same line by line.
pub(super) fn lines(scenario: &Scenario) -> Vec<Line> {
    written(scenario).lines
}

/// The lines of one failure.
pub(super) fn failure_lines(failure: &Failure, scenario: &Scenario) -> Vec<Line> {
    let mut page = Page::default();
    failure::failure(&mut page, failure, scenario);
    page.lines
}

fn written(scenario: &Scenario) -> Page {
    let mut page = Page::default();
    page.raw("name", text(&scenario.name));
    page.raw("about", text(&scenario.about));
    site(&mut page, &scenario.site);
    page.open("season");
    page.raw("from", scenario.calendar.first_day.to_string());
    page.raw("to", scenario.calendar.last_day.to_string());
    weather::weather(&mut page, &scenario.weather);
    mower::mower(&mut page, &scenario.mower);
    scenario.visitors.iter().for_each(|one| visitor(&mut page, one));
    scenario.faults.iter().for_each(|one| fault(&mut page, one, scenario));
    scenario.failures.iter().for_each(|one| failure::failure(&mut page, one, scenario));
    scenario.sensors.iter().for_each(|one| sensor::sensor(&mut page, one));
    scenario.detectors.iter().for_each(|one| strategy::detector(&mut page, one, scenario));
    scenario.strategies.iter().for_each(|one| strategy::strategy(&mut page, one, scenario));
    door::door(&mut page, &scenario.door);
    door::drive(&mut page, &scenario.drive);
    door::supply(&mut page, &scenario.supply);
    if let Some(bus) = &scenario.bus {
        door::bus(&mut page, bus, scenario);
    }
    page.open("common_cause");
    page.number("floor", scenario.common_cause.floor);
    page.number("beta", scenario.common_cause.beta);
    for limit in &scenario.limits {
        page.open("limit");
        page.raw("metric", text(&limit.metric));
        let key = if limit.bound == Bound::AtMost { "at_most" } else { "at_least" };
        page.raw(key, limit.value.to_string());
        page.number("confidence", limit.confidence);
    }
    for risk in &scenario.risks {
        page.open("risk");
        page.raw("metric", text(&risk.metric));
        page.raw("above", risk.above.to_string());
        page.number("at_most", risk.at_most);
        page.number("confidence", risk.confidence);
    }
    if let Some(objective) = &scenario.objective {
        self::objective(&mut page, objective);
    }
    page
}

fn objective(page: &mut Page, objective: &Objective) {
    page.open("objective");
    if let Goal::Metric(metric) = &objective.goal {
        page.raw("minimise", text(metric));
    }
    if let Some(zone) = objective.indifference {
        page.raw("indifference", zone.to_string());
    }
    if let Goal::Costs(costs) = &objective.goal {
        for cost in costs {
            page.open("objective.cost");
            page.raw("metric", text(&cost.metric));
            page.number("cost", cost.cost);
        }
    }
}

/// The part of a scenario that a fit of weather gives: the whole of `[weather]`, ready to be included.
pub fn weather_part(air: &Air, rain: &PulseYear) -> String {
    weather::part(air, rain)
}

fn site(page: &mut Page, site: &Site) {
    page.open("site");
    page.number("latitude", site.latitude_deg);
    page.number("longitude", site.longitude_deg);
    page.raw("time_zone", text(&site.time_zone));
    page.number("door_faces", site.door_faces_deg);
    page.number("wind_factor", site.wind_factor);
}

fn spread(page: &mut Page, key: &str, spread: Spread) {
    page.spread(key, spread.mean_s, spread.sd_s);
}

fn visitor(page: &mut Page, visitor: &Visitor) {
    page.open("visitor");
    page.raw("name", text(&visitor.name));
    page.number("per_day", visitor.per_day);
    let hours: Vec<String> = visitor.hours.iter().map(f64::to_string).collect();
    page.raw("hours", format!("[{}]", hours.join(", ")));
    let only = match visitor.only {
        Only::Always => "always",
        Only::DoorOpen => "door open",
        Only::MowerAway => "mower away",
    };
    page.raw("only", text(only));
    page.number("length", visitor.length_m);
    page.number("width", visitor.width_m);
    page.number("height", visitor.height_m);
    page.number("mass", visitor.mass_kg);
    page.number("reflectance", visitor.reflectance);
    page.raw("soft", visitor.soft.to_string());
    page.number("speed", visitor.speed_m_s);
    page.spread("nearest", visitor.nearest_m.0, visitor.nearest_m.1);
    page.number("sideways", visitor.sideways_m);
    spread(page, "dwell", visitor.dwell);
    page.number("enters", visitor.enters);
    spread(page, "inside", visitor.inside);
}

fn fault(page: &mut Page, fault: &Fault, scenario: &Scenario) {
    page.open("fault");
    page.raw("name", text(&fault.name));
    let (kind, sensor) = match fault.kind {
        FaultKind::Power => ("power", None),
        FaultKind::Network => ("network", None),
        FaultKind::SensorStuck(sensor) => ("sensor stuck", Some(sensor)),
        FaultKind::SensorSilent(sensor) => ("sensor silent", Some(sensor)),
        FaultKind::SensorNoisy(sensor) => ("sensor noisy", Some(sensor)),
    };
    page.raw("kind", text(kind));
    if let Some(sensor) = sensor.and_then(|index| scenario.sensors.get(index)) {
        page.raw("sensor", text(&sensor.name));
    }
    page.number("per_year", fault.per_year);
    spread(page, "lasts", fault.lasts);
    if kind == "sensor noisy" {
        page.number("noise_factor", fault.noise_factor);
    }
}
