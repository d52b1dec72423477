//! Failures that meet each other, and what they leave behind: many visitors and an object at once, two of a kind, firmware that
//! goes wrong only while it does, restarts that have a limit, a door that is open though nobody told the controller.

use dooryard::cli::wiring::metrics;
use dooryard::engine::plan::FALSE_CAUSES;
use dooryard::engine::{Options, Outside, Plan, play};
use dooryard::ledger::blame::Blamed;
use dooryard::ledger::metric::Key;
use dooryard::ledger::record::SeasonRecord;
use dooryard::scenario::load;
use dooryard::sensing::channel::Sampling;

/// Seasons of a shipped scenario with something added to it; the first strategy.
fn seasons(shipped: &str, from: &str, to: &str, added: &str, count: u64) -> Vec<SeasonRecord> {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("own.toml");
    let include = format!("{}/scenarios/{shipped}.toml", env!("CARGO_MANIFEST_DIR"));
    let text = format!("include = [{include:?}]\nname = \"own\"\n[season]\nfrom = {from}\nto = {to}\n{added}");
    std::fs::write(&path, text).expect("written");
    let scenario = load(&path, metrics()).unwrap_or_else(|trouble| panic!("{trouble}")).scenario;
    let plan = Plan::new(&scenario).expect("planned");
    let options = Options { sampling: Sampling::Exact, events: false };
    let one = |season| play(&plan, &Outside::draw(&plan, 1, season).expect("weather"), 0, 1, options);
    (0..count).map(one).collect()
}

fn june(added: &str, count: u64) -> Vec<SeasonRecord> {
    seasons("orchard", "2025-06-01", "2025-06-30", added, count)
}

fn total(records: &[SeasonRecord], key: Key) -> f64 {
    records.iter().map(|record| record.value(key)).sum()
}

#[test]
fn there_is_room_for_an_object_among_many_visitors() {
    let crowd = "[[failure]]\nmode = \"pet-inside\"\nper_day = \"40 /d\"\nlasts = { mean = \"12 h\", spread = \"1 h\" }\n\
                 [[failure]]\nmode = \"object-in-doorway\"\nrate = \"60 /yr\"\n";
    assert!(total(&june(crowd, 3), Key::DoorwayBlocked) > 0.0);
}

/// Without an episode of it nothing changes; with one, failed strokes have no end.
#[test]
fn firmware_hunts_only_while_it_does() {
    let frozen = "[[failure]]\nmode = \"frozen-door\"\nforce = \"800 N\"\n";
    let never = "[[failure]]\nmode = \"hunting\"\nrate = \"0 /yr\"\n";
    let autumn = |added: &str| seasons("hillside", "2025-10-01", "2025-11-30", added, 4);
    let (plain, idle) = (autumn(frozen), autumn(&format!("{frozen}{never}")));
    for key in [Key::Stalls, Key::StrokesFailed, Key::FaultTime, Key::Damage, Key::DoorCycles] {
        assert_eq!(total(&plain, key), total(&idle, key), "{key:?}");
    }
    assert!(total(&plain, Key::StrokesFailed) > 0.0);
    let hunted = autumn("[[failure]]\nmode = \"hunting\"\nrate = \"50 /yr\"\n");
    assert!(total(&hunted, Key::Strokes) > 2.0 * total(&plain, Key::Strokes));
}

/// A supply that sags at every stroke: after the retries the controller waits for a person; with a capacitor nothing happens.
#[test]
fn restarts_have_a_limit() {
    let sags = "[[failure]]\nmode = \"brown-out-reset\"\nshare = 1\n";
    let sagging = june(sags, 1);
    let resets = total(&sagging, Key::Resets);
    // Four tries, then half a day of rest, for thirty days.
    assert!((20.0..600.0).contains(&resets), "{resets}");
    assert!(total(&sagging, Key::FaultTime) > 100.0);
    let riding = june(&format!("{sags}[controller]\nbrown_out = \"rides through\"\n"), 1);
    assert_eq!(total(&riding, Key::Resets), 0.0);
}

/// A restart at the very beginning of a stroke leaves the door as it was, as far as its end switch knows: a controller that leaves
/// a door half-way where it is goes on.
#[test]
fn an_end_switch_has_play() {
    let stays = "[controller]\nafter_power_loss = \"stay\"\n";
    let sags = "[[failure]]\nmode = \"brown-out-reset\"\nshare = 0.05\n";
    let (plain, sagging) = (june(stays, 2), june(&format!("{sags}{stays}"), 2));
    assert!(total(&sagging, Key::Resets) > 10.0);
    for (key, more) in [(Key::MissedDepartures, 10.0), (Key::OpenTime, 40.0)] {
        let (before, after) = (total(&plain, key), total(&sagging, key));
        assert!(after < before + more, "{key:?}: {after} against {before}");
    }
}

/// Cuts of a minute now and then take little from days worked by hand; nor does a hand that is on the switch for a minute.
#[test]
fn by_hand_stays_by_hand() {
    let care = "[controller]\nmanual_at_most = \"30 d\"\n";
    let hand =
        "[[failure]]\nmode = \"manual-left-on\"\nrate = \"52 /yr\"\nlasts = { mean = \"2 d\", spread = \"1 h\" }\n";
    let cuts =
        "[[failure]]\nmode = \"power-loss\"\nrate = \"1000 /yr\"\nlasts = { mean = \"1 min\", spread = \"10 s\" }\n";
    let brief = "[[failure]]\nmode = \"manual-left-on\"\nname = \"brief\"\nrate = \"1000 /yr\"\n\
                 lasts = { mean = \"1 min\", spread = \"1 s\" }\n";
    let of = |added: &str| total(&june(&format!("{care}{added}"), 3), Key::ManualTime);
    let alone = of(hand);
    assert!(alone > 100.0, "{alone}");
    for other in [cuts, brief] {
        let together = of(&format!("{hand}{other}"));
        assert!(together > 0.9 * alone, "{together} of {alone}");
    }
}

/// A stroke that runs on beyond its time-out has failed.
#[test]
fn a_lost_position_is_bound_by_the_time_out() {
    let lost = |delay: &str| {
        let added = format!("[[failure]]\nmode = \"lost-position\"\nrate = \"365 /yr\"\ndelay = \"{delay}\"\n");
        total(&june(&added, 2), Key::StrokesFailed)
    };
    assert_eq!(lost("0.5 s"), 0.0);
    assert!(lost("60 s") > 10.0);
}

/// The louder of two noises is heard, also after a short one has passed.
#[test]
fn a_faint_noise_does_not_drown_a_loud_one_nor_a_past_one_last() {
    let noise = |name: &str, per_year: &str, lasts: &str, factor: &str| {
        format!(
            "[[fault]]\nname = \"{name}\"\nkind = \"sensor noisy\"\nsensor = \"eye\"\nper_year = \"{per_year}\"\n\
             lasts = {{ mean = \"{lasts}\", spread = \"0 s\" }}\nnoise_factor = {factor}\n"
        )
    };
    let sparks = noise("sparks", "1000 /yr", "1 s", "1000");
    let web = noise("web", "1000 /yr", "300 d", "1.001");
    let false_openings = |added: &str| total(&june(added, 2), Key::FalseOpenings);
    let (alone, both) = (false_openings(&sparks), false_openings(&format!("{sparks}{web}")));
    assert!((both - alone).abs() < 0.3 * alone + 10.0, "{both} against {alone}");
}

/// A weak echo that takes nothing hides none that takes all.
#[test]
fn two_slanted_echoes_strike_both() {
    let echo = |name: &str, range: &str| {
        format!("[[failure]]\nmode = \"soft-or-slanted-echo\"\nname = \"{name}\"\nshare = 1\nrange = {range}\n")
    };
    let missed = |added: &str| total(&seasons("hillside", "2025-06-01", "2025-06-30", added, 1), Key::MissedArrivals);
    let worst = missed(&echo("bad", "0.000001"));
    assert!(worst > 5.0, "{worst}");
    assert_eq!(missed(&format!("{}{}", echo("good", "1"), echo("bad", "0.000001"))), worst);
}

/// The door comes down on what lies there, not on what another failure would have left.
#[test]
fn an_object_has_its_own_height() {
    let object = |name: &str, rate: &str, distance: &str| {
        format!(
            "[[failure]]\nmode = \"object-in-doorway\"\nname = \"{name}\"\nrate = \"{rate}\"\ndistance = \"{distance}\"\n"
        )
    };
    let low = object("low", "1000 /yr", "0.05 m");
    let peak =
        |added: &str| june(added, 2).iter().map(|record| record.value(Key::PeakContactForce)).fold(0.0, f64::max);
    assert_eq!(peak(&low), peak(&format!("{}{low}", object("never", "0 /yr", "10 m"))));
}

/// A mower goes through a door that is open, though its switch never said so and the stroke timed out.
#[test]
fn an_open_door_is_seen_after_a_time_out() {
    let notice = "[mower.departure]\nnotice = \"9 s\"\n";
    let stuck = "[[failure]]\nmode = \"end-switch-stuck\"\nrate = \"10000 /yr\"\nlasts = { mean = \"365 d\", spread = \"0 s\" }\n";
    let given_up = |added: &str| total(&june(&format!("{notice}{added}"), 3), Key::MissedDepartures);
    let (plain, with) = (given_up(""), given_up(stuck));
    assert!(with <= plain + 4.0, "{with} against {plain}");
}

/// A switch that does not tell of its end tells a controller that starts as little: it looks for the end, and opens.
#[test]
fn a_stuck_end_switch_is_met_at_start_up() {
    let power =
        "[[failure]]\nmode = \"power-loss\"\nrate = \"700 /yr\"\nlasts = { mean = \"10 min\", spread = \"0 s\" }\n";
    let stuck =
        "[[failure]]\nmode = \"end-switch-stuck\"\nrate = \"700 /yr\"\nlasts = { mean = \"4 h\", spread = \"0 s\" }\n";
    let opened = |added: &str| {
        let cause = FALSE_CAUSES.iter().position(|cause| *cause == "after power loss").expect("a cause");
        june(added, 3).iter().map(|record| record.by_cause[Blamed::FalseOpenings][cause]).sum::<u64>()
    };
    let (told, not_told) = (opened(power), opened(&format!("{power}{stuck}")));
    assert!(not_told > 3 * told + 3, "{not_told} against {told}");
}

/// A mower whose tail is left under the panel blocks the doorway for as long as it stands there.
#[test]
fn a_mower_short_of_its_dock_blocks_the_doorway() {
    let short = |distance: &str| {
        format!(
            "[[failure]]\nmode = \"half-on-platform\"\nshare = 1\ndistance = \"{distance}\"\nlasts = {{ mean = \"10 min\", spread = \"0 s\" }}\n"
        )
    };
    let record = &june(&short("0.5 m"), 1)[0];
    let hours = record.value(Key::DoorwayBlocked);
    let stops = record.value(Key::Arrivals);
    assert!(stops > 10.0 && (hours / (stops / 6.0) - 1.0).abs() < 0.1, "{hours} h for {stops} arrivals");
    assert_eq!(june(&short("0.02 m"), 1)[0].value(Key::DoorwayBlocked), 0.0);
}
