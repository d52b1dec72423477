//! The load against what the drive is rated for, and the strokes of a season against its life.
//!
//! A drive that moves the panel may still wear out in weeks: its rating is a load, and a number of strokes under it. The load of a mean
//! hour must stay within the rated force; a part of the way may be heavier as long as the whole stroke works the drive no harder than
//! its rating by its own load-life law. Peaks, also those of the strongest gust, may reach twice the rating: what makers of gears allow
//! at seldom peaks (AGMA 6013, from memory).

use super::change::{ceil_to, whole};
use super::climate::Climate;
use super::force::heavier;
use super::motor::{geared_down, larger};
use super::power::OPENINGS;
use super::set::{Set, lasts_by};
use super::{Change, Row, Side, Verdict};
use crate::scenario::Scenario;
use crate::scenario::door::Rating;
use crate::shelter::loads::Loads;
use crate::shelter::mechanism::{self, Direction, survey};
use crate::shelter::stroke::Profile;
use crate::shelter::wear::{Series, Weibull};
use crate::study::lifetime::{LAWS, rated};

/// Peak load over rated force that a drive stands now and then (AGMA 6013 for gears, from memory).
const PEAK: f64 = 2.0;
/// Room that a proposed rating leaves, as a factor.
const ROOM: f64 = 1.1;
/// Most of its stall force for which a drive of the same size is rated (common practice: a third to a half).
const OF_STALL: f64 = 0.5;
/// Seasons that nine in ten drives should last: fewer fail, fewer than the second are tight (common practice).
const SEASONS: (f64, f64) = (1.0, 5.0);

/// What a full opening and closing asks of the drive, without the start from rest.
struct Work {
    profiles: [Profile; 2],
}

impl Work {
    /// None where a stroke jams: no load is a measure of that.
    fn of(scenario: &Scenario, loads: &Loads) -> Option<Work> {
        let (door, drive) = (&scenario.door, &scenario.drive);
        let dead = |direction| !survey::dead_zones(door, drive, direction, loads).is_empty();
        if dead(Direction::Opening) || dead(Direction::Closing) {
            return None;
        }
        let opening = Profile::new(door, drive, Direction::Opening, loads, 0.0);
        let closing = Profile::new(door, drive, Direction::Closing, loads, mechanism::stroke_m(door));
        let profiles = [opening, closing];
        profiles.iter().all(|profile| profile.jam.is_none()).then_some(Work { profiles })
    }

    /// Largest load, N, a driving one included: it wears the gear as much.
    fn largest_n(&self) -> f64 {
        let panels = self.profiles.iter().flat_map(|profile| &profile.panels);
        panels.map(|panel| panel.first_n.abs().max(panel.last_n.abs())).fold(0.0, f64::max)
    }

    /// Used life of an opening and a closing together, in strokes at the rated force.
    fn strokes(&self, exponent: f64, rated_n: f64) -> f64 {
        let of = |profile: &Profile| {
            profile.damage_by_panel(exponent, rated_n).iter().sum::<f64>() / profile.length_m().max(f64::MIN_POSITIVE)
        };
        self.profiles.iter().map(of).sum()
    }

    /// The constant load that would wear as much, N.
    fn equivalent_n(&self, exponent: f64, rated_n: f64) -> f64 {
        rated_n * libm::pow(0.5 * self.strokes(exponent, rated_n), 1.0 / exponent)
    }
}

pub(super) fn rows(scenario: &Scenario, climate: &Climate, rows: &mut Vec<Row>) {
    let rows_before = rows.len();
    rows.extend(mean_row(scenario, climate));
    rows.extend(wind_row(scenario, climate));
    rows.extend(life_row(scenario, climate));
    for row in &mut rows[rows_before..] {
        if row.verdict == Verdict::Fails {
            *row = row.clone().cures(stronger(scenario, climate, row.id));
        }
    }
}

/// A row's verdict in a changed scenario.
fn mends(row: &'static str, scenario: &Scenario, climate: &Climate) -> bool {
    let asked = match row {
        "rated_load" => mean_row(scenario, climate),
        "rated_load_wind" => wind_row(scenario, climate),
        _ => life_row(scenario, climate),
    };
    asked.is_some_and(|row| !row.is_past_limit())
}

fn load_row(id: &'static str, question: &str, work: &Work, scenario: &Scenario) -> Row {
    let rated_n = scenario.drive.rated_force_n;
    Row::judged(id, question, work.largest_n(), Side::AtMost, rated_n, 0.0, "N").key("drive.rated_force")
}

fn mean_row(scenario: &Scenario, climate: &Climate) -> Option<Row> {
    let (rated_n, exponent) = (scenario.drive.rated_force_n, scenario.drive.wear.exponent);
    let work = Work::of(scenario, &climate.mean())?;
    let equivalent_n = work.equivalent_n(exponent, rated_n);
    let question = "largest load of the drive in a mean hour of the season, against its rating";
    let row = load_row("rated_load", question, &work, scenario).note(format!(
        "wind of {:.1} m/s at the door; over the whole stroke it wears the drive like {equivalent_n:.0} N (load-life exponent {exponent})",
        climate.mean_gust_m_s
    ));
    Some(if equivalent_n <= rated_n && work.largest_n() <= PEAK * rated_n {
        row.advised("only a part of the way lies above the rating, the whole wears no more than it, and gears stand seldom peaks of twice their rating (AGMA 6013, from memory)")
    } else {
        row
    })
}

fn wind_row(scenario: &Scenario, climate: &Climate) -> Option<Row> {
    let work = Work::of(scenario, &climate.windy())?;
    let question = "largest load of the drive in the strongest gust, against its rating";
    let row = load_row("rated_load_wind", question, &work, scenario)
        .note(format!("strongest gust of ten seasons: {:.0} m/s at the door", climate.gust_m_s));
    Some(if work.largest_n() <= PEAK * scenario.drive.rated_force_n {
        row.advised("the strongest gust of ten seasons is seldom, and gears stand seldom peaks of twice their rating (AGMA 6013, from memory)")
    } else {
        row
    })
}

/// Life in seasons of `OPENINGS` a day in mean weather, by the law with the shortest life, as `lifetime` has it.
fn life_row(scenario: &Scenario, climate: &Climate) -> Option<Row> {
    let drive = &scenario.drive;
    let work = Work::of(scenario, &climate.mean())?;
    let openings = OPENINGS * climate.season_d;
    // Life, and the part that uses up most of its own.
    let lives = LAWS.iter().map(|most| {
        let parts: Vec<(Weibull, f64)> = rated(scenario)
            .iter()
            .map(|(_, strokes, exponent, law)| {
                (*law, openings * work.strokes(exponent.min(*most), drive.rated_force_n) / strokes)
            })
            .collect();
        let own = |part: &(Weibull, f64)| if part.1 > 0.0 { part.0.per(part.1).b_life(0.1) } else { f64::INFINITY };
        let weakest = (0..parts.len()).min_by(|one, other| own(&parts[*one]).total_cmp(&own(&parts[*other])));
        (Series { parts }.b_life(0.1).unwrap_or(f64::INFINITY), weakest.unwrap_or(0))
    });
    let (seasons, weakest) = lives.min_by(|one, other| one.0.total_cmp(&other.0))?;
    let (name, key) = match weakest.checked_sub(1).map(|part| &drive.parts[part]) {
        None => ("the drive".to_string(), "drive.wear.rated_strokes".to_string()),
        Some(part) => (part.name.clone(), format!("drive.part.{}.{}", part.name, lasts_by(&part.rating).0)),
    };
    let question = "seasons that nine in ten drives last, at the strokes of a usual season";
    Some(
        Row::judged("life", question, seasons, Side::AtLeast, SEASONS.0, SEASONS.1 - SEASONS.0, "seasons").key(key).note(
            format!(
                "{:.0} strokes a season ({OPENINGS:.0} openings a day, common practice) in its mean wind, by the most cautious of three laws; {name} goes first; {:.0} seasons are comfortable (common practice); `lifetime` plays the seasons",
                2.0 * openings, SEASONS.1
            ),
        ),
    )
}

/// Less to lift, a drive of the same force with a higher rating, a gear, a larger motor; for the life also parts rated for more strokes.
fn stronger(scenario: &Scenario, climate: &Climate, row: &'static str) -> Vec<Vec<Change>> {
    let drive = &scenario.drive;
    let enough = |other: &Scenario| mends(row, other, climate);
    let balanced = heavier(scenario, climate, enough).map(|set| vec![set.of(row, scenario)]);
    let loads = [climate.mean(), climate.windy()];
    let hardest = if row == "rated_load_wind" { &loads[..] } else { &loads[..1] };
    let load_n =
        hardest.iter().filter_map(|loads| Work::of(scenario, loads)).map(|work| work.largest_n()).fold(0.0, f64::max);
    let rated_n = ceil_to(ROOM * load_n, 1.0);
    let rating = (rated_n > drive.rated_force_n && rated_n <= OF_STALL * drive.stall_force_n).then(|| {
        whole(&[Set::RatedForce(rated_n)], row, scenario, "another drive of the same stall force, rated for this load")
    });
    let mut cures: Vec<Vec<Change>> = balanced.into_iter().chain(rating).collect();
    if row == "life" {
        cures.push(lasting(scenario, climate));
    }
    cures.push(geared_down(scenario, row, enough));
    cures.push(larger(scenario, climate, row, enough));
    cures
}

/// Parts rated for so many strokes that none of them ends the life of the whole.
fn lasting(scenario: &Scenario, climate: &Climate) -> Vec<Change> {
    let Some(row) = life_row(scenario, climate) else { return Vec::new() };
    let Some(seasons) = row.value.filter(|seasons| *seasons > 0.0) else { return Vec::new() };
    // All of them alike: life grows as the ratings do.
    let factor = ROOM * SEASONS.0 / seasons;
    let more = |strokes: f64| ceil_to(factor * strokes, 1_000.0);
    let mut sets = vec![Set::RatedStrokes(more(scenario.drive.wear.rated_strokes))];
    sets.extend(scenario.drive.parts.iter().enumerate().map(|(place, part)| {
        let figure = match part.rating {
            Rating::Stated { strokes, .. } => more(strokes),
            // Life goes with the turns that share the wear, and with the rated current to the power of its exponent.
            Rating::Nut { turns, .. } => ceil_to(factor * turns, 1.0),
            Rating::Relay { rated_a, exponent } => ceil_to(rated_a * libm::pow(factor, 1.0 / exponent.max(0.1)), 0.5),
        };
        Set::PartLife(place, figure)
    }));
    whole(&sets, "life", scenario, "a drive and parts that are rated for more strokes")
}
