//! `[[failure]]` as it is resolved.

use super::Fields;
use super::mower::spread;
use crate::scenario::failure::{Failure, Mode, mode};
use crate::scenario::sensor::Sensor;

/// Names of the failures of a scenario, given or the mode's, in their order.
pub(crate) fn name(fields: &Fields) -> Option<&str> {
    if fields.given("name") { fields.text("name") } else { fields.text("mode") }
}

pub(super) fn failure(fields: &Fields, sensors: &[Sensor]) -> Option<Failure> {
    let mode: &'static Mode = mode(fields.text("mode")?)?;
    let only = match fields.given("sensor") {
        true => Some(sensors.iter().position(|sensor| Some(sensor.name.as_str()) == fields.text("sensor"))?),
        false => None,
    };
    let fits = |index: &usize| mode.hits.fits(&sensors[*index].kind) && only.is_none_or(|one| one == *index);
    let mut failure = Failure::usual(mode, (0..sensors.len()).filter(fits).collect());
    failure.name = name(fields)?.to_owned();
    failure.only = only;
    if fields.given("rate") {
        failure.per_year = fields.number("rate")?;
    }
    if fields.given("lasts") {
        failure.lasts = spread(fields, "lasts")?;
    }
    for (value, (figure, _)) in failure.figures.iter_mut().zip(mode.figures) {
        if fields.given(figure.key()) {
            *value = fields.number(figure.key())?;
        }
    }
    Some(failure)
}
