//! The resolved scenario as TOML in the same format, defaults filled in. Units come from the table of keys, each value
//! in the unit that shows it shortest without changing it, so that reading the text back gives an equal scenario.

mod page;
mod sensor;
mod strategy;

use super::Scenario;
use super::door::{Door, Drive, Mechanism, Supply};
use super::limits::Bound;
use super::mower::{Mower, RainHabit, Spread, Window};
use super::objective::{Goal, Objective};
use super::read::value::{DAY_WORDS, DAYS};
use super::season::Site;
use super::visitor::{Fault, FaultKind, Only, Visitor};
use super::weather::{Gaps, Generated, Weather};
use page::{Page, text};

/// The scenario as a file that loads to an equal scenario.
pub fn print(scenario: &Scenario) -> String {
    let mut page = Page::default();
    page.raw("name", text(&scenario.name));
    page.raw("about", text(&scenario.about));
    site(&mut page, &scenario.site);
    page.open("season");
    page.raw("from", scenario.calendar.first_day.to_string());
    page.raw("to", scenario.calendar.last_day.to_string());
    weather(&mut page, &scenario.weather);
    mower(&mut page, &scenario.mower);
    scenario.visitors.iter().for_each(|one| visitor(&mut page, one));
    scenario.faults.iter().for_each(|one| fault(&mut page, one, scenario));
    scenario.sensors.iter().for_each(|one| sensor::sensor(&mut page, one));
    scenario.detectors.iter().for_each(|one| strategy::detector(&mut page, one, scenario));
    scenario.strategies.iter().for_each(|one| strategy::strategy(&mut page, one, scenario));
    door(&mut page, &scenario.door);
    drive(&mut page, &scenario.drive);
    supply(&mut page, &scenario.supply);
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
    page.finish()
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

fn site(page: &mut Page, site: &Site) {
    page.open("site");
    page.number("latitude", site.latitude_deg);
    page.number("longitude", site.longitude_deg);
    page.raw("time_zone", text(&site.time_zone));
    page.number("door_faces", site.door_faces_deg);
    page.number("wind_factor", site.wind_factor);
}

fn weather(page: &mut Page, weather: &Weather) {
    page.open("weather");
    match weather {
        Weather::Observed(observed) => {
            page.raw("source", text("observed"));
            page.raw("file", text(&observed.file.to_string_lossy()));
            let gaps = match observed.gaps {
                Gaps::Refuse => "refuse",
                Gaps::Dry => "dry",
                Gaps::Repeat => "repeat",
            };
            page.raw("gaps", text(gaps));
        }
        Weather::Generated(generated) => self::generated(page, generated),
    }
}

fn generated(page: &mut Page, weather: &Generated) {
    page.raw("source", text("generated"));
    page.monthly("wet_spell", &weather.wet_spell_h);
    page.monthly("dry_spell", &weather.dry_spell_h);
    page.monthly("intensity", &weather.intensity_mm_h);
    page.number("intensity_shape", weather.intensity_shape);
    page.number("intensity_step", weather.intensity_step_h);
    page.monthly("temperature", &weather.temperature_c);
    page.monthly("temperature_swing", &weather.temperature_swing_k);
    page.number("temperature_spread", weather.temperature_spread_k);
    page.number("temperature_memory", weather.temperature_memory_h);
    page.monthly("wind", &weather.wind_m_s);
    page.number("wind_shape", weather.wind_shape);
    page.number("wind_memory", weather.wind_memory_h);
    page.number("gust_factor", weather.gust_factor);
    page.monthly("clearness", &weather.clearness);
    page.number("clearness_spread", weather.clearness_spread);
}

fn spread(page: &mut Page, key: &str, spread: Spread) {
    page.spread(key, spread.mean_s, spread.sd_s);
}

fn mower(page: &mut Page, mower: &Mower) {
    page.open("mower");
    page.number("length", mower.length_m);
    page.number("width", mower.width_m);
    page.number("height", mower.height_m);
    page.number("mass", mower.mass_kg);
    page.number("reflectance", mower.reflectance);
    spread(page, "run", mower.run);
    spread(page, "charge", mower.charge);
    page.number("lawn", mower.lawn_s);
    page.number("start_delay", mower.start_delay_s);
    page.number("unscheduled", mower.unscheduled_per_day);
    mower.windows.iter().for_each(|one| window(page, one));
    page.open("mower.approach");
    spread(page, "way_home", mower.approach.way_home);
    page.number("from", mower.approach.from_m);
    page.number("speed", mower.approach.speed_m_s);
    page.number("slow_from", mower.approach.slow_from_m);
    page.number("slow_speed", mower.approach.slow_speed_m_s);
    page.number("speed_spread", mower.approach.speed_spread);
    page.number("sideways", mower.approach.sideways_m);
    page.open("mower.departure");
    page.number("notice", mower.departure.notice_s);
    page.number("patience", mower.departure.patience_s);
    page.number("speed", mower.departure.speed_m_s);
    page.open("mower.shut_door");
    page.number("waits_at", mower.shut_door.waits_at_m);
    page.number("patience", mower.shut_door.patience_s);
    page.raw("retries", mower.shut_door.retries.to_string());
    page.number("back_off", mower.shut_door.back_off_m);
    page.raw("bumps", mower.shut_door.bumps.to_string());
    page.number("bump_force", mower.shut_door.bump_force_n);
    page.number("help_after", mower.shut_door.help_after_s);
    page.open("mower.dock");
    page.number("depth", mower.dock.depth_m);
    page.number("failure", mower.dock.failure);
    page.number("back_off", mower.dock.back_off_m);
    page.raw("attempts", mower.dock.attempts.to_string());
    page.open("mower.rain");
    let habit = match mower.rain.habit {
        RainHabit::GoHome => "go home",
        RainHabit::StayHome => "stay home",
        RainHabit::CarryOn => "carry on",
    };
    page.raw("habit", text(habit));
    page.number("reacts_after", mower.rain.reacts_after_s);
    page.number("resumes_after", mower.rain.resumes_after_s);
}

fn window(page: &mut Page, window: &Window) {
    page.open("mower.windows");
    let days = match DAY_WORDS.iter().find(|word| word.1 == window.days) {
        Some((word, _)) => text(word),
        None => {
            let days: Vec<String> =
                DAYS.iter().zip(window.days).filter(|day| day.1).map(|day| format!("\"{}\"", day.0)).collect();
            format!("[{}]", days.join(", "))
        }
    };
    page.raw("days", days);
    page.raw("from", time_of_day(window.from_s));
    page.raw("to", time_of_day(window.to_s));
}

fn time_of_day(seconds: i32) -> String {
    let (hour, minute, second) = (seconds / 3600, seconds / 60 % 60, seconds % 60);
    if second == 0 { format!("\"{hour:02}:{minute:02}\"") } else { format!("\"{hour:02}:{minute:02}:{second:02}\"") }
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

fn door(page: &mut Page, door: &Door) {
    page.open("door");
    page.number("width", door.width_m);
    page.number("height", door.height_m);
    page.number("mass", door.mass_kg);
    page.number("seal", door.seal_n);
    page.number("seal_zone", door.seal_zone_m);
    page.number("breakaway", door.breakaway);
    page.number("wind_coefficient", door.wind_coefficient);
    page.number("ice", door.ice_n);
    page.number("ice_below", door.ice_below_c);
    page.number("edge_stiffness", door.edge_stiffness_n_m);
    page.number("contact_force_limit", door.contact_force_limit_n);
    page.number("contact_energy_limit", door.contact_energy_limit_j);
    let Mechanism::VerticalLift(lift) = &door.mechanism;
    page.open("door.mechanism");
    page.raw("kind", text("vertical lift"));
    page.number("stroke", lift.stroke_m);
    page.number("counterweight", lift.counterweight_kg);
    page.raw("pulleys", lift.pulleys.to_string());
    page.number("pulley_efficiency", lift.pulley_efficiency);
    page.number("guide_friction", lift.guide_friction);
    page.number("guide_length", lift.guide_length_m);
    page.number("drive_offset", lift.drive_offset_m);
}

fn drive(page: &mut Page, drive: &Drive) {
    page.open("drive");
    page.number("nominal_voltage", drive.nominal_v);
    page.number("no_load_speed", drive.no_load_speed_m_s);
    page.number("stall_force", drive.stall_force_n);
    page.number("rated_force", drive.rated_force_n);
    page.number("no_load_current", drive.no_load_current_a);
    page.number("stall_current", drive.stall_current_a);
    page.number("current_limit", drive.current_limit_a);
    page.raw("self_locking", drive.self_locking.to_string());
    page.raw("pushes", drive.pushes.to_string());
    page.number("reflected_mass", drive.reflected_mass_kg);
    page.number("duty_factor", drive.duty_factor);
    page.number("duty_period", drive.duty_period_s);
    page.open("drive.heat");
    page.number("winding", drive.heat.winding_j_k);
    page.number("housing", drive.heat.housing_j_k);
    page.number("winding_housing", drive.heat.winding_housing_k_w);
    page.number("housing_air", drive.heat.housing_air_k_w);
    page.number("trips_at", drive.heat.trips_at_c);
    page.number("resets_at", drive.heat.resets_at_c);
    page.open("drive.wear");
    page.number("rated_strokes", drive.wear.rated_strokes);
    page.number("exponent", drive.wear.exponent);
    page.number("weibull_shape", drive.wear.weibull_shape);
}

fn supply(page: &mut Page, supply: &Supply) {
    page.open("supply");
    page.number("voltage", supply.voltage_v);
    page.number("cable", supply.cable_ohm);
    page.number("limit", supply.limit_w);
    page.number("standby", supply.standby_w);
    page.number("efficiency", supply.efficiency);
}
