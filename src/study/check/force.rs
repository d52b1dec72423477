//! Is the drive strong enough, does the panel jam, does it close by itself?

use super::causes::{ROLLING, WHEELS};
use super::change::{ceil_to, first, floor_to, whole};
use super::climate::Climate;
use super::motor::{geared_down, larger};
use super::rod::place as rod_place;
use super::set::{Set, set_in};
use super::{Change, Row, Side, Verdict};
use crate::scenario::Scenario;
use crate::scenario::door::{Door, DoubleSlider, Gear, Mechanism, PanelDrive};
use crate::shelter::loads::{self, Loads};
use crate::shelter::mechanism::survey::{self, DeadZone};
use crate::shelter::mechanism::{self, Direction, Force, Jam};
use crate::shelter::stroke;

/// Available over required force that leaves room for what was guessed (common practice).
pub(super) const SAFETY: f64 = 1.5;
/// Share of a guide's locking ratio that a proposed drive offset uses: half of it only doubles the force.
const OF_LOCK: f64 = 0.5;
/// Beyond this factor of its force the drive is taken hold of in the wrong place rather than too weak (common practice).
const FAR_MORE: f64 = 2.0;
/// Steps of 0.1 kg by which a curtain's bar may grow: 20 kg (common practice).
const HEAVIEST_BAR: u32 = 200;
/// Length below which a dead zone is a point, m.
const POINT_M: f64 = 1e-5;
/// Width of the bond of a frozen seal, m, and the share of it that holds at a time when it peels (both common practice).
const BOND: (f64, (f64, f64)) = (0.005, (0.02, 0.1));
/// How far below the coldest wet hour of ten seasons a heated seal should still be free, K (common practice).
const BELOW_COLDEST_K: f64 = 3.0;
/// Shear strength of ice on rubber (from memory) and on aluminium (AIP Advances 9, 055304, 2019: bulk water ice), kPa.
const SHEAR_KPA: (f64, f64) = (20.0, 280.0);

pub(super) fn rows(scenario: &Scenario, climate: &Climate, rows: &mut Vec<Row>) {
    let calm = climate.calm();
    let windy = climate.windy();
    for direction in [Direction::Opening, Direction::Closing] {
        jams(scenario, direction, &[("in calm air", calm), ("in the strongest gust", windy)], rows);
    }
    let gust = format!("{:.0} m/s", climate.gust_m_s);
    let (open, close) = ("force to open in calm air", "force to close in calm air");
    margin(scenario, climate, "force_opening", open, Direction::Opening, &calm, "", rows);
    margin(scenario, climate, "force_closing", close, Direction::Closing, &calm, "", rows);
    let note = format!("strongest gust of ten seasons: {gust} at the door");
    margin(
        scenario,
        climate,
        "force_opening_wind",
        "force to open in the strongest gust",
        Direction::Opening,
        &windy,
        &note,
        rows,
    );
    margin(
        scenario,
        climate,
        "force_closing_wind",
        "force to close in the strongest gust",
        Direction::Closing,
        &windy,
        &note,
        rows,
    );
    frost(scenario, climate, rows);
    by_itself(scenario, &calm, &windy, rows);
    unpowered(scenario, &calm, rows);
}

/// Least ratio of available to required force, with the winding as hot as the cut-out lets it become.
fn ratio(scenario: &Scenario, direction: Direction, loads: &Loads) -> (f64, f64) {
    let (door, drive) = (&scenario.door, &scenario.drive);
    let from = if direction == Direction::Opening { 0.0 } else { mechanism::stroke_m(door) };
    let hot = drive.heat.trips_at_c;
    let stroke = stroke::solve_with_winding(door, drive, &scenario.supply, direction, loads, from, hot);
    (stroke.least_margin, stroke.least_margin_at_m)
}

/// The least ratio of all directions, in calm air and in the strongest gust.
pub(super) fn least_ratio(scenario: &Scenario, climate: &Climate) -> f64 {
    let mut least = f64::INFINITY;
    for direction in [Direction::Opening, Direction::Closing] {
        for loads in [climate.calm(), climate.windy()] {
            least = least.min(ratio(scenario, direction, &loads).0);
        }
    }
    least
}

/// Why a drive of any strength does not move the panel under these loads, and what to change; none if it does.
pub(super) fn blocked(scenario: &Scenario, direction: Direction, loads: &Loads) -> Option<(Jam, String)> {
    let zones = survey::dead_zones(&scenario.door, &scenario.drive, direction, loads);
    let jam = zones.first().map(|zone| zone.jam).or_else(|| starting_jam(scenario, direction, loads))?;
    Some((jam, jam_key(scenario, jam)))
}

/// A panel that moves once it moves may still be locked at rest, where friction is larger.
fn starting_jam(scenario: &Scenario, direction: Direction, loads: &Loads) -> Option<Jam> {
    let from = if direction == Direction::Opening { 0.0 } else { mechanism::stroke_m(&scenario.door) };
    match mechanism::drive_force(&scenario.door, &scenario.drive, direction, from, loads, true) {
        Force::Jammed(jam) => Some(jam),
        Force::Push(_) => None,
    }
}

#[allow(clippy::too_many_arguments, reason = "one call for each case, read as a table")]
fn margin(
    scenario: &Scenario,
    climate: &Climate,
    id: &'static str,
    question: &str,
    direction: Direction,
    loads: &Loads,
    note: &str,
    rows: &mut Vec<Row>,
) {
    let (ratio, at_m) = ratio(scenario, direction, loads);
    let mut row = Row::judged(id, question, ratio, Side::AtLeast, 1.0, SAFETY - 1.0, "x").key(force_key(scenario));
    let stroke = 1000.0 * mechanism::stroke_m(&scenario.door);
    let at = 1000.0 * at_m;
    row.note = match blocked(scenario, direction, loads) {
        Some((jam, key)) if row.verdict == Verdict::Fails => {
            row.key = key;
            match jam {
                Jam::DoesNotClose | Jam::Slack => format!(
                    "the panel must be pushed at {at:.0} mm of the stroke of {stroke:.0} mm, and {}: more force does not help",
                    why_not_pushed(scenario)
                ),
                _ if ratio == 0.0 => {
                    format!("it jams at {at:.0} mm of the stroke of {stroke:.0} mm: more force does not help")
                }
                _ => format!(
                    "least at {at:.0} mm of the stroke of {stroke:.0} mm, beside a dead zone: more force helps little"
                ),
            }
        }
        _ if ratio.is_infinite() => "the load drives the panel".to_string(),
        free => {
            if row.verdict == Verdict::Fails && free.is_none() {
                row = row.cures(more_force(scenario, climate, id, direction, ratio, loads));
            }
            let place = format!(
                "least at {at:.0} mm of the stroke of {stroke:.0} mm; hot motor; 1.5 is comfortable (common practice)"
            );
            if note.is_empty() { place } else { format!("{note}; {place}") }
        }
    };
    rows.push(row);
}

/// A current limit that lets the drive be as strong as it is, another place to take hold of a double slider, a heavier counterweight,
/// the same motor geared down, a larger motor. The other place comes first where far more force would be needed.
fn more_force(
    scenario: &Scenario,
    climate: &Climate,
    id: &'static str,
    direction: Direction,
    ratio_now: f64,
    loads: &Loads,
) -> Vec<Vec<Change>> {
    let drive = &scenario.drive;
    let missing = SAFETY / ratio_now;
    let enough = |other: &Scenario| ratio(other, direction, loads).0 >= SAFETY;
    let mut cures = Vec::new();
    let needed_a = (drive.current_limit_a - drive.no_load_current_a) * missing + drive.no_load_current_a;
    if needed_a < drive.stall_current_a {
        cures.push(vec![Set::CurrentLimit(ceil_to(needed_a, 0.01)).of(id, scenario)]);
    }
    if direction == Direction::Opening && !loads.frozen {
        cures.extend(heavier(scenario, climate, enough).map(|set| vec![set.of(id, scenario)]));
    }
    cures.push(geared_down(scenario, id, enough));
    cures.push(larger(scenario, climate, id, enough));
    if let Mechanism::DoubleSlider(slider) = &scenario.door.mechanism
        && let Some(place) = drive_place(scenario, slider, &[*loads]).filter(|place| *place != slider.drive)
    {
        let at = if missing > FAR_MORE { 0 } else { cures.len() };
        cures.insert(at, vec![Set::DriveAt(place).of(id, scenario)]);
    }
    cures.push(on_wheels(scenario, id));
    cures
}

/// The lightest counterweight, in steps of 0.1 kg, with which a lift opens as asked and still closes; none if it is not too light.
pub(super) fn heavier(scenario: &Scenario, climate: &Climate, enough: impl Fn(&Scenario) -> bool) -> Option<Set> {
    let Mechanism::VerticalLift(lift) = &scenario.door.mechanism else { return None };
    // In steps of a twentieth of what there is to balance.
    let step = ceil_to((0.05 * (scenario.door.mass_kg - lift.counterweight_kg)).max(0.1), 0.1);
    let most = scenario.door.mass_kg - step;
    let steps = ((most - lift.counterweight_kg) / step).floor().max(0.0) as u32;
    let fine = |kg: f64| {
        let other = set_in(scenario, &[Set::Counterweight(kg)]);
        let closes = [climate.calm(), climate.windy()].iter().all(|loads| {
            (mechanism::can_push(&other.door, &other.drive) || !mechanism::needs_push_to_close(&other.door, loads))
                && ratio(&other, Direction::Closing, loads).0 >= 1.0
        });
        closes && enough(&other)
    };
    first(floor_to(lift.counterweight_kg, 0.1) + step, step, steps, fine)
        .filter(|kg| *kg < scenario.door.mass_kg)
        .map(Set::Counterweight)
}

/// The key that gives more force.
pub(super) fn force_key(scenario: &Scenario) -> &'static str {
    match scenario.drive.gear {
        Gear::Figures => "drive.stall_force",
        Gear::Screw(..) | Gear::Drum(..) => "drive.gear_ratio",
    }
}

fn frost(scenario: &Scenario, climate: &Climate, rows: &mut Vec<Row>) {
    let (ratio, _) = ratio(scenario, Direction::Opening, &climate.icy());
    let freezes = climate.freezes(&scenario.door);
    let met = if freezes {
        format!("ten seasons have frost on a wet seal (lowest {:.0} °C)", climate.coldest_c)
    } else {
        format!("no frost on a wet seal in ten seasons (lowest {:.0} °C), but the next may", climate.coldest_c)
    };
    let guess = if scenario.door.ice_n > 0.0 {
        format!("the {:.0} N of door.ice are a guess until measured", scenario.door.ice_n)
    } else {
        "door.ice is 0, as if ice did not hold".to_string()
    };
    let mut row =
        Row::judged("force_opening_ice", "force to break a frozen seal", ratio, Side::AtLeast, 1.0, SAFETY - 1.0, "x")
            .key("door.ice")
            .note(format!(
                "never called fine: {met}; {guess}; {}; a heated seal, a drip edge that keeps it dry or a silicone wipe mends the cause, force only the effect",
                bond(scenario)
            ))
            .at_best(Verdict::Tight);
    if row.verdict == Verdict::Fails && freezes {
        if let Some((_, key)) = blocked(scenario, Direction::Opening, &climate.icy()) {
            row.key = key;
        } else {
            let mut cures =
                more_force(scenario, climate, "force_opening_ice", Direction::Opening, ratio, &climate.icy());
            cures.push(kept_from_freezing(scenario, climate));
            row = row.cures(cures);
        }
    }
    if !freezes {
        row = row.advised("no wet seal freezes in ten seasons, and what they do not hold cannot fail the scenario");
    }
    rows.push(row);
}

/// What a bond all round this door holds.
fn bond(scenario: &Scenario) -> String {
    let door = &scenario.door;
    let (width_m, (least, most)) = BOND;
    let round_m = 2.0 * (door.width_m + door.height_m);
    let peeled = (
        loads::ice_bond_n(SHEAR_KPA.0, width_m, round_m, least),
        loads::ice_bond_n(SHEAR_KPA.1, width_m, round_m, most),
    );
    format!(
        "a bond of {:.0} mm all round it ({round_m:.1} m) holds {:.0} N on rubber, peeled little by little, to {:.0} N on aluminium, and {:.0} N where that shears at once (orders of magnitude)",
        1000.0 * width_m,
        peeled.0,
        peeled.1,
        loads::ice_bond_n(SHEAR_KPA.1, width_m, round_m, 1.0)
    )
}

/// A seal that is kept from freezing down to a little below the lowest temperature at which it was wet: by a heater, or by a drip edge
/// that keeps it dry. How hard ice holds is not the builder's to choose; whether there is any is.
fn kept_from_freezing(scenario: &Scenario, climate: &Climate) -> Vec<Change> {
    let below = floor_to(climate.coldest_wet_c - BELOW_COLDEST_K, 1.0);
    whole(
        &[Set::IceBelow(below)],
        "force_opening_ice",
        scenario,
        "a heated seal, or one that a drip edge keeps dry, so that nothing freezes above this",
    )
}

/// Dead zones in a direction.
fn jams(scenario: &Scenario, direction: Direction, cases: &[(&str, Loads)], rows: &mut Vec<Row>) {
    let (door, drive) = (&scenario.door, &scenario.drive);
    let (id, what) = match direction {
        Direction::Opening => ("jam_opening", "no jam and no dead position while opening"),
        Direction::Closing => ("jam_closing", "no jam and no dead position while closing"),
    };
    let found = cases.iter().find_map(|(when, loads)| {
        let zones = survey::dead_zones(door, drive, direction, loads);
        (!zones.is_empty()).then_some((*when, zones))
    });
    let stroke = mechanism::stroke_m(door);
    let mut row = match &found {
        None => Row::judged(id, what, 0.0, Side::AtMost, 0.0, 0.0, "m"),
        Some((_, zones)) => {
            let length: f64 = zones.iter().map(|zone| zone.to_m - zone.from_m).sum();
            let row = if length > POINT_M {
                Row::judged(id, what, length, Side::AtMost, 0.0, 0.0, "m")
            } else {
                Row::stated(id, what, Verdict::Fails)
            };
            Row { verdict: Verdict::Fails, ..row }
        }
    };
    if let Some((when, zones)) = &found {
        let places: Vec<String> = zones.iter().map(|zone| place(zone, stroke)).collect();
        row.note = format!("{when}: {}", places.join("; "));
        if zones.iter().all(|zone| zone.jam == Jam::DoesNotClose) {
            row.question = "the panel comes down without being pushed".to_string();
        }
    }
    let first = found.as_ref().and_then(|(_, zones)| zones.first());
    row = row.key(jam_key(scenario, first.map_or(Jam::Guide, |zone| zone.jam)));
    if let Some(zone) = first {
        row = row.cures(free(scenario, id, zone.jam, cases));
    }
    rows.push(row);
}

fn place(zone: &DeadZone, stroke_m: f64) -> String {
    if zone.to_m - zone.from_m <= POINT_M {
        let (at, of) = (1000.0 * zone.from_m, 1000.0 * stroke_m);
        return format!(
            "at one point, {at:.0} mm of {of:.0} mm, it {}: a dead point that nothing holds it in",
            zone.jam
        );
    }
    format!(
        "from {:.0} to {:.0} mm of {:.0} mm it {}",
        1000.0 * zone.from_m,
        1000.0 * zone.to_m,
        1000.0 * stroke_m,
        zone.jam
    )
}

/// The key that frees a panel from a jam; for a row that has none, the key that decides whether it jams.
fn jam_key(scenario: &Scenario, jam: Jam) -> String {
    let key = match (jam, &scenario.door.mechanism) {
        (Jam::DoesNotClose, Mechanism::VerticalLift(lift)) if lift.counterweight_kg > 0.0 => {
            "door.mechanism.counterweight"
        }
        (Jam::DoesNotClose, Mechanism::DoubleSlider(slider)) if slider.counterweight_kg > 0.0 => {
            "door.mechanism.counterweight"
        }
        (_, Mechanism::RollerCurtain(_)) => "door.mechanism.bar",
        (Jam::DoesNotClose, _) => "drive.pushes",
        (_, Mechanism::VerticalLift(_) | Mechanism::HorizontalSlide(_)) => "door.mechanism.drive_offset",
        (_, Mechanism::DoubleSlider(_)) => "door.mechanism.drive_at",
        (_, Mechanism::TopFlap(_) | Mechanism::SideLeaf(_)) => "door.mechanism.rod_frame_out",
    };
    key.to_string()
}

/// What may free the panel in all cases; a double slider also by wheels.
fn free(scenario: &Scenario, id: &'static str, jam: Jam, cases: &[(&str, Loads)]) -> Vec<Vec<Change>> {
    let loads: Vec<Loads> = cases.iter().map(|(_, loads)| *loads).collect();
    let set = match (jam, &scenario.door.mechanism) {
        (_, Mechanism::RollerCurtain(_)) => return vec![heavier_bar(scenario, id, &loads)],
        (_, Mechanism::TopFlap(_) | Mechanism::SideLeaf(_)) if jam != Jam::DoesNotClose => {
            return vec![rod_place(scenario, id, &loads)];
        }
        (Jam::DoesNotClose, Mechanism::VerticalLift(_) | Mechanism::DoubleSlider(_)) => {
            lighter(scenario, &loads).or(Some(Set::Pushes(true)))
        }
        (Jam::DoesNotClose, _) => Some(Set::Pushes(true)),
        (Jam::Guide, Mechanism::VerticalLift(lift)) => {
            let locks_m = lift.guide_length_m / (2.0 * lift.guide_friction * scenario.door.breakaway);
            Some(Set::DriveOffset(floor_to(OF_LOCK * locks_m, 0.001)))
        }
        (Jam::Guide, Mechanism::HorizontalSlide(slide)) => {
            let locks_m = slide.guide_length_m / (2.0 * slide.side_friction * scenario.door.breakaway);
            Some(Set::DriveOffset(floor_to(OF_LOCK * locks_m, 0.001)))
        }
        (_, Mechanism::DoubleSlider(slider)) => drive_place(scenario, slider, &loads).map(Set::DriveAt),
        _ => None,
    };
    let held = set.map(|set| vec![set.of(id, scenario)]);
    held.into_iter().chain([on_wheels(scenario, id)]).collect()
}

/// A double slider on wheels; empty for another mechanism, or one that is on wheels.
fn on_wheels(scenario: &Scenario, id: &'static str) -> Vec<Change> {
    let Mechanism::DoubleSlider(slider) = &scenario.door.mechanism else { return Vec::new() };
    let mut sets = Vec::new();
    sets.extend((slider.friction_vertical > ROLLING.1).then_some(Set::FrictionVertical(ROLLING.0)));
    sets.extend((slider.friction_horizontal > ROLLING.1).then_some(Set::FrictionHorizontal(ROLLING.0)));
    whole(&sets, id, scenario, WHEELS)
}

/// The heaviest counterweight, in steps of 0.1 kg, with which the panel comes down by itself; none where none hangs on it.
fn lighter(scenario: &Scenario, loads: &[Loads]) -> Option<Set> {
    let now_kg = match &scenario.door.mechanism {
        Mechanism::VerticalLift(lift) => lift.counterweight_kg,
        Mechanism::DoubleSlider(slider) => slider.counterweight_kg,
        _ => return None,
    };
    let comes_down = |kg: f64| {
        let other = set_in(scenario, &[Set::Counterweight(kg)]);
        loads.iter().all(|loads| !mechanism::needs_push_to_close(&other.door, loads))
    };
    let steps = (floor_to(now_kg, 0.1) / 0.1).round() as u32;
    (0..=steps)
        .rev()
        .map(|step| floor_to(f64::from(step) * 0.1, 0.1))
        .find(|kg| *kg < now_kg && comes_down(*kg))
        .map(Set::Counterweight)
}

/// The lightest bar, in steps of 0.1 kg, that pulls a curtain down; it is part of the door's mass.
fn heavier_bar(scenario: &Scenario, id: &'static str, loads: &[Loads]) -> Vec<Change> {
    let Mechanism::RollerCurtain(curtain) = &scenario.door.mechanism else { return Vec::new() };
    let sets = |bar_kg: f64| {
        let mass_kg = scenario.door.mass_kg + bar_kg - curtain.bar_kg;
        [Set::Bar(bar_kg), Set::Mass(ceil_to(mass_kg, 0.01))]
    };
    let comes_down = |bar_kg: f64| {
        let other = set_in(scenario, &sets(bar_kg));
        loads.iter().all(|loads| !mechanism::needs_push_to_close(&other.door, loads))
    };
    first(ceil_to(curtain.bar_kg + 0.1, 0.1), 0.1, HEAVIEST_BAR, comes_down)
        .map(|kg| whole(&sets(kg), id, scenario, "a heavier bar, which is part of the door's mass"))
        .unwrap_or_default()
}

/// Where to take hold of a double slider so that it moves in both directions; of several places the one that leaves the drive
/// the most force.
fn drive_place(scenario: &Scenario, slider: &DoubleSlider, loads: &[Loads]) -> Option<PanelDrive> {
    let held = |drive| {
        let mechanism = Mechanism::DoubleSlider(DoubleSlider { drive, ..*slider });
        Scenario { door: Door { mechanism, ..scenario.door.clone() }, ..scenario.clone() }
    };
    let directions = [Direction::Opening, Direction::Closing];
    let margin = |other: &Scenario| {
        let each = directions.iter().flat_map(|direction| loads.iter().map(|loads| ratio(other, *direction, loads).0));
        each.fold(f64::INFINITY, f64::min)
    };
    [PanelDrive::BothSliders, PanelDrive::HorizontalSlider, PanelDrive::VerticalSlider]
        .into_iter()
        .map(|place| (place, margin(&held(place))))
        .filter(|(_, margin)| *margin > 0.0)
        .max_by(|(_, one), (_, other)| one.total_cmp(other))
        .map(|(place, _)| place)
}

/// A drive that only pulls needs a panel that comes down by itself.
fn by_itself(scenario: &Scenario, calm: &Loads, windy: &Loads, rows: &mut Vec<Row>) {
    let door = &scenario.door;
    let needs = |loads: &Loads| mechanism::needs_push_to_close(door, loads);
    let (verdict, note) = match (needs(calm), needs(windy), mechanism::can_push(door, &scenario.drive)) {
        (false, false, _) => (Verdict::Fits, "the panel closes by its own weight, in the strongest gust too"),
        (true, _, true) | (_, true, true) => (
            Verdict::Fits,
            "the panel must be pushed shut somewhere, and the drive pushes, with the force that it takes",
        ),
        (true, _, false) => (Verdict::Fails, ""),
        (false, true, false) => (Verdict::Fails, " in the strongest gust"),
    };
    let note = match verdict {
        Verdict::Fails => {
            format!(
                "{} does not bring it shut{note}: it must be pushed, and {}",
                what_pulls_shut(scenario),
                why_not_pushed(scenario)
            )
        }
        _ => note.to_string(),
    };
    let stuck = [(calm, ""), (windy, " in the strongest gust")].into_iter().find(|(loads, _)| {
        let stroke = ratio(scenario, Direction::Closing, loads).0;
        stroke < 1.0 || blocked(scenario, Direction::Closing, loads).is_some()
    });
    if let (Verdict::Fits, Some((loads, when))) = (verdict, stuck) {
        // Whether it must be pushed or comes by itself: this drive does not bring it shut.
        let key = blocked(scenario, Direction::Closing, loads).map_or(force_key(scenario).to_string(), |(_, key)| key);
        let note = format!("it does not{when}: see the questions on closing above");
        rows.push(
            Row::stated("closes_by_itself", "the door closes with this drive", Verdict::Fails).key(key).note(note),
        );
        return;
    }
    let jam = if matches!(door.mechanism, Mechanism::RollerCurtain(_)) { Jam::Slack } else { Jam::DoesNotClose };
    let mut row = Row::stated("closes_by_itself", "the door closes with this drive", verdict).note(note);
    row = row.key(jam_key(scenario, jam));
    if verdict == Verdict::Fails {
        row = row.cures(free(scenario, "closes_by_itself", jam, &[("", *calm), ("", *windy)]));
    }
    rows.push(row);
}

/// What closes a panel that nothing pushes, by its kind.
fn what_pulls_shut(scenario: &Scenario) -> String {
    let left = |counterweight_kg: f64| {
        let mass_kg = scenario.door.mass_kg;
        if counterweight_kg > 0.0 {
            format!("what the counterweight of {counterweight_kg:.1} kg leaves of the panel's {mass_kg:.1} kg")
        } else {
            format!("the panel's weight of {mass_kg:.1} kg, with seal and guides against it,")
        }
    };
    match &scenario.door.mechanism {
        Mechanism::VerticalLift(lift) => left(lift.counterweight_kg),
        Mechanism::DoubleSlider(slider) => left(slider.counterweight_kg),
        Mechanism::RollerCurtain(curtain) => {
            format!("the curtain's weight with its bar of {:.2} kg, with seal and guides against it,", curtain.bar_kg)
        }
        Mechanism::TopFlap(flap) if flap.gas_spring.is_some() => "the flap's weight against its gas spring".to_string(),
        Mechanism::TopFlap(_) => "the flap's weight, with seal and hinge against it,".to_string(),
        Mechanism::SideLeaf(_) => "a leaf's weight".to_string(),
        Mechanism::HorizontalSlide(_) => "a sliding panel's weight".to_string(),
    }
}

/// Why the drive does not push.
fn why_not_pushed(scenario: &Scenario) -> &'static str {
    match scenario.door.mechanism {
        Mechanism::RollerCurtain(_) => "nothing pushes a curtain that hangs from its tube",
        _ => "the drive only pulls",
    }
}

/// Without power, a gear that does not hold lets go.
fn unpowered(scenario: &Scenario, calm: &Loads, rows: &mut Vec<Row>) {
    let (door, drive) = (&scenario.door, &scenario.drive);
    let steps = survey::STEPS;
    let lets_go = |direction| {
        (0..=steps).find_map(|step| {
            let at = mechanism::stroke_m(door) * step as f64 / steps as f64;
            match mechanism::asked_force(door, direction, at, calm, true) {
                Force::Push(force) if force < 0.0 => Some(at),
                _ => None,
            }
        })
    };
    let from = |at: f64| format!("from {:.0} mm on", 1000.0 * at);
    let (verdict, note) = match (drive.self_locking, lets_go(Direction::Closing), lets_go(Direction::Opening)) {
        (true, ..) => {
            (Verdict::Fits, "the gear holds the panel; plan a manual release from inside and outside".to_string())
        }
        (false, None, None) => (Verdict::Fits, "the panel stays where it is by its own friction".to_string()),
        (false, Some(at), None) => {
            (Verdict::Tight, format!("without power the panel falls shut {}: plan a brake", from(at)))
        }
        (false, None, Some(at)) => (
            Verdict::Tight,
            format!(
                "without power the panel flies open {}: its counterweight or spring is too strong; plan a brake, or take some off",
                from(at)
            ),
        ),
        (false, Some(shut), Some(open)) => (
            Verdict::Tight,
            format!("without power the panel falls shut {} and flies open {}: plan a brake", from(shut), from(open)),
        ),
    };
    rows.push(
        Row::stated("holds_unpowered", "the panel stays where it is without power", verdict)
            .key("drive.self_locking")
            .note(note),
    );
}
