//! From checked fields to the resolved scenario.

use super::{Fields, common_cause, door, failure, limits, mower, objective, sensor, site, strategy, visitor, weather};
use crate::scenario::Scenario;
use crate::scenario::error::Source;

/// Builds the scenario. None only if a check has noted an error.
pub(crate) fn resolve(root: &Fields, sources: &[Source], metrics: &[(&str, &str)]) -> Option<Scenario> {
    let sensors = root.names("sensor");
    let detectors = root.names("detector");
    let controller = root.child("controller")?;
    let each = |name: &str| root.entries(name).iter();
    let all_sensors: Vec<_> = each("sensor").map(sensor::sensor).collect::<Option<_>>()?;
    Some(Scenario {
        name: name(root, sources)?,
        about: root.text("about")?.to_owned(),
        site: site::site(root.child("site")?)?,
        calendar: site::calendar(root.child("season")?)?,
        weather: weather::weather(root.child("weather")?, sources)?,
        mower: mower::mower(root.child("mower")?)?,
        visitors: each("visitor").map(visitor::visitor).collect::<Option<_>>()?,
        faults: each("fault").map(|fault| visitor::fault(fault, &sensors)).collect::<Option<_>>()?,
        failures: each("failure").map(|fields| failure::failure(fields, &all_sensors)).collect::<Option<_>>()?,
        sensors: all_sensors,
        detectors: each("detector").map(|fields| strategy::detector(fields, &sensors)).collect::<Option<_>>()?,
        strategies: each("strategy")
            .map(|fields| strategy::strategy(fields, &detectors, controller))
            .collect::<Option<_>>()?,
        door: door::door(root.child("door")?)?,
        drive: door::drive(root.child("drive")?)?,
        supply: door::supply(root.child("supply")?)?,
        bus: door::bus(root.child("bus")?, &sensors)?,
        common_cause: common_cause::common_cause(root.child("common_cause")?)?,
        limits: each("limit").map(|fields| limits::limit(fields, metrics)).collect::<Option<_>>()?,
        risks: each("risk").map(|fields| objective::risk(fields, metrics)).collect::<Option<_>>()?,
        objective: objective::objective(root.child("objective")?, metrics)?,
    })
}

/// The scenario's name: as given, or the file's, with what a name cannot contain replaced by `_`.
fn name(root: &Fields, sources: &[Source]) -> Option<String> {
    if root.given("name") {
        return root.text("name").map(str::to_owned);
    }
    let stem = sources.first()?.path.file_stem()?.to_string_lossy().into_owned();
    let good = |c: char| if c.is_ascii_alphanumeric() || c == '-' || c == '_' { c } else { '_' };
    Some(stem.chars().take(64).map(good).collect())
}
