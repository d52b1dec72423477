//! One day under the lens: the same day as in its season, whatever is looked at, and the same values wherever they stand.

mod page_support;
mod support;

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use assert_cmd::Command;
use dooryard::engine::{Options, Outside, Plan, play, play_filmed};
use dooryard::ledger::film::{About, Film};
use dooryard::ledger::metric::Key;
use dooryard::ledger::record::EventRow;
use dooryard::math::time::{Instant, Span};
use dooryard::scenario::Scenario;
use dooryard::sensing::channel::Sampling;
use dooryard::shelter::mechanism;
use dooryard::study::day::{self, Find, Happened, Searched};
use dooryard::study::field::{Field, Ground, threads};
use serde_json::Value;

const SHIPPED: [&str; 3] = ["orchard", "hillside", "coast"];
const LOGGED: Options = Options { sampling: Sampling::Exact, events: true };

fn path(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios").join(format!("{name}.toml"))
}

fn shipped(name: &str) -> Scenario {
    dooryard::scenario::load(&path(name), dooryard::cli::wiring::metrics()).expect("a shipped scenario").scenario
}

fn scratch(name: &str) -> PathBuf {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join("day").join(name);
    let _ = fs::remove_dir_all(&path);
    fs::create_dir_all(&path).unwrap();
    path
}

fn dooryard(place: &Path, arguments: &[&str]) -> Command {
    let mut command = Command::cargo_bin("dooryard").unwrap();
    command.current_dir(place).args(arguments);
    command
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

/// Whoever looks on changes nothing: all that the season leaves behind is the same, for every shipped scenario and strategy.
#[test]
fn looking_changes_nothing() {
    for name in SHIPPED {
        let scenario = shipped(name);
        let plan = Plan::new(&scenario).expect("a plan");
        let outside = Outside::draw(&plan, 1, 3).expect("weather");
        for strategy in 0..scenario.strategies.len() {
            let plain = play(&plan, &outside, strategy, 1, LOGGED);
            let (filmed, film) = play_filmed(&plan, &outside, strategy, 1, LOGGED, 40 + 31 * strategy);
            assert_eq!(plain, filmed, "{name} {strategy}");
            assert!(film.about(About::Nose).is_some_and(|nose| nose.points.len() > 1));
        }
    }
}

/// The day's events are the season's rows for that day, byte for byte.
#[test]
fn events_are_those_of_the_season() {
    for (name, date) in [("orchard", "2025-06-02"), ("hillside", "2025-07-21"), ("coast", "2025-05-11")] {
        let place = scratch(name);
        let file = path(name).display().to_string();
        let run = ["run", &file, "--seasons", "1", "--first-season", "3", "--events", "-q", "--out", "all"];
        let code = dooryard(&place, &run).assert().get_output().status.code();
        assert!(matches!(code, Some(0 | 1)), "{code:?}");
        let all = text(&fs::read(place.join("all/events.csv")).unwrap());
        for strategy in &shipped(name).strategies {
            let day = ["day", &file, "--season", "3", "--date", date, "--strategy", &strategy.name, "--out", "one"];
            dooryard(&place, &day).assert().code(0);
            let mut expected = String::from("strategy,season,time,who,what,detail\n");
            let ours = format!("{},3,{date}T", strategy.name);
            all.lines().filter(|line| line.starts_with(&ours)).for_each(|line| expected += &format!("{line}\n"));
            assert!(expected.lines().count() > 2, "nothing happened in {name}, {}", strategy.name);
            let found = text(&fs::read(place.join("one/events.csv")).unwrap());
            assert!(found == expected, "{name}, {}", strategy.name);
        }
    }
}

fn filmed(name: &str, day: usize) -> (Plan, Vec<EventRow>, Film) {
    let plan = Plan::new(&shipped(name)).expect("a plan");
    let replay = day::replay(&plan, 0, 1, 3, day).expect("a day");
    (plan, replay.events, replay.film)
}

/// What was seen fits what the log says happened, and the parts' own laws.
#[test]
fn the_film_agrees_with_the_log() {
    let (plan, events, film) = filmed("coast", 57);
    let scenario = &plan.scenario;
    let series = |about| film.about(about).expect("it is filmed");
    let at = |about, at| series(about).at(at).expect("a value");
    let (mut strokes, mut doings, mut changes) = (0, 0, 0);
    for event in &events {
        let after = event.at + Span(1);
        match (event.who.as_str(), event.what.as_str()) {
            ("door", "open") => assert!((at(About::Door, event.at) - 100.0).abs() < 1e-9),
            ("door", "shut") => assert!(at(About::Door, event.at).abs() < 1e-9),
            ("door", "opening begins" | "closing begins") => {
                strokes += 1;
                assert!(at(About::Current, after) > 0.0 && at(About::Supply, after) > scenario.supply.standby_w);
            }
            ("mower", what) => {
                let state = film.mower.changes.iter().rev().find(|(since, _)| *since <= event.at);
                doings += usize::from(state.is_some_and(|(_, state)| *state == what));
            }
            (who, "detector on" | "detector off") => {
                let detector = scenario.detectors.iter().position(|detector| detector.name == who).unwrap();
                assert_eq!(at(About::On(detector), event.at), f64::from(u8::from(event.what == "detector on")));
                changes += 1;
            }
            _ => {}
        }
    }
    assert!(strokes >= 4 && doings >= 8 && changes >= 4, "{strokes} {doings} {changes}");
    // The panel's ends are where the mechanism's own geometry has them.
    let full = mechanism::stroke_m(&scenario.door);
    for (moment, share) in &series(About::Door).points {
        let pose = mechanism::pose(&scenario.door, share / 100.0 * full);
        for (place, expected) in [pose[0].0, pose[0].1, pose[1].0, pose[1].1].into_iter().enumerate() {
            let seen = at(About::Pose(place), *moment);
            // Lines leave out points within 0.2 mm, shares within 0.05 % of the stroke.
            assert!((seen - expected).abs() < 2e-4 + 5e-4 * full + 1e-9, "{seen} {expected}");
        }
    }
    // A reading is taken on its sensor's grid, and within the band that its law gives, but for a rare one.
    for (index, sensor) in scenario.sensors.iter().enumerate() {
        let Some(readings) = film.about(About::Reading(index)) else { continue };
        let grid: Vec<i64> = readings.points.iter().map(|(at, _)| at.0.rem_euclid(sensor.period.0)).collect();
        assert!(grid.windows(2).all(|two| two[0] == two[1]), "{} has no grid", sensor.name);
    }
    let eye = scenario.sensors.iter().position(|sensor| sensor.name == "eye").unwrap();
    let (mut near, mut all) = (0, 0);
    for (moment, value) in series(About::Reading(eye)).points.iter().filter(|(_, value)| value.is_finite()) {
        let (mean, sigma) = (at(About::Expected(eye), *moment), at(About::Spread(eye), *moment));
        if mean.is_finite() {
            all += 1;
            near += usize::from((value - mean).abs() <= 4.0 * sigma + 2e-3);
        }
    }
    assert!(all > 100 && near * 50 > all * 49, "{near} of {all}");
}

/// Current over time is the charge from which the stroke's solver has its energy.
#[test]
fn the_current_adds_up_to_the_strokes_energy() {
    let (plan, events, film) = filmed("hillside", 100);
    let (scenario, outside) = (&plan.scenario, Outside::draw(&plan, 1, 3).unwrap());
    let current = film.about(About::Current).expect("a current");
    let mut checked = 0;
    for (place, event) in events.iter().enumerate() {
        let direction = match (event.who.as_str(), event.what.as_str()) {
            ("door", "opening begins") => mechanism::Direction::Opening,
            ("door", "closing begins") => mechanism::Direction::Closing,
            _ => continue,
        };
        let end = events[place..].iter().find(|later| later.who == "door" && ["open", "shut"].contains(&&*later.what));
        let Some(end) = end else { continue };
        let weather = outside.weather.at(event.at);
        let loads = dooryard::shelter::loads::Loads {
            gust_m_s: weather.gust_m_s * scenario.site.wind_factor,
            temperature_c: weather.temperature_c,
            frozen: false,
        };
        let stroke = plan.strokes.get(direction, &loads);
        if (end.at.since(event.at).seconds() - stroke.time_s).abs() > 1e-3 {
            // Turned back, or under other loads.
            continue;
        }
        let mut charge = 0.0;
        let step = Span(1_000);
        let mut now = event.at + Span::from_seconds(stroke.start_s) + step;
        while now < end.at {
            charge += current.at(now).unwrap().max(0.0) * step.seconds();
            now += step;
        }
        let energy_j = scenario.supply.voltage_v * charge;
        // Looks are a fifth of a second apart; the start's peak reaches to the first look after it.
        let first_look_j = scenario.supply.voltage_v * stroke.peak_current_a * 0.2;
        assert!(
            (energy_j - stroke.energy_j).abs() < 0.02 * stroke.energy_j + first_look_j,
            "{energy_j} {}",
            stroke.energy_j
        );
        checked += 1;
    }
    assert!(checked >= 2, "{checked} strokes");
}

/// The script's data are the tables' values, and nothing is left out on either side.
#[test]
fn the_page_shows_the_values_of_the_table() {
    let place = scratch("page");
    // The clocks go forward that day.
    let file = path("coast").display().to_string();
    dooryard(&place, &["day", &file, "--season", "0", "--date", "2025-03-30"]).assert().code(0);
    let folder = place.join("output/coast/day-patient-0-2025-03-30");
    let page = text(&fs::read(folder.join("report.html")).unwrap());
    let parsed = page_support::parse(&page);
    let ids: Vec<&str> = parsed.all().iter().filter_map(|element| element.get("id")).collect();
    assert_eq!(ids.len(), ids.iter().collect::<std::collections::BTreeSet<_>>().len(), "an id stands twice");
    for drawing in parsed.named("svg").into_iter().filter(|drawing| drawing.get("aria-hidden").is_none()) {
        assert!(drawing.get("role") == Some("img") && drawing.get("aria-label").is_some_and(|label| label.len() > 10));
    }
    assert!(page.len() < 3_000_000 && !page.contains("http://") && !page.contains("https://"));
    let scripts = parsed.named("script");
    let data = scripts.iter().find(|script| script.get("id") == Some("day-data")).expect("data");
    let data: Value = serde_json::from_str(&data.text).expect("JSON");
    assert_eq!(data["length"].as_f64(), Some(23.0 * 3_600.0));
    assert_eq!(data["wall"], serde_json::json!([[0.0, 0.0], [7_200.0, 3_600.0]]));
    let mut rows: BTreeMap<String, Vec<(f64, String)>> = BTreeMap::new();
    let midnight: jiff::Timestamp = "2025-03-30T00:00:00+01:00".parse().unwrap();
    let mut table = csv::Reader::from_path(folder.join("day.csv")).unwrap();
    assert_eq!(table.headers().unwrap(), vec!["time", "series", "value", "unit"]);
    for row in table.records().map(Result::unwrap) {
        let time: jiff::Timestamp = row[0].parse().unwrap();
        let second = time.duration_since(midnight).as_millis() as f64 / 1_000.0;
        rows.entry(row[1].to_string()).or_default().push((second, row[2].to_string()));
    }
    let mut compared = 0;
    let states = data["states"].as_object().unwrap();
    let named = data["series"].as_array().unwrap().iter().map(|series| (series["name"].as_str().unwrap(), series));
    for (name, series) in named.chain(states.iter().map(|(name, states)| (name.as_str(), states))) {
        let (times, values) = (series["t"].as_array().unwrap(), series["v"].as_array().unwrap());
        let expected = rows.remove(name).unwrap_or_default();
        assert_eq!((times.len(), values.len()), (expected.len(), expected.len()), "{name}");
        for ((time, value), (second, shown)) in times.iter().zip(values).zip(&expected) {
            assert_eq!(time.as_f64(), Some(*second), "{name}");
            match value {
                Value::Null => assert_eq!(shown, "", "{name}"),
                Value::String(word) => assert_eq!(shown, word, "{name}"),
                number => assert_eq!(number.as_f64(), shown.parse().ok(), "{name}"),
            }
            compared += 1;
        }
    }
    assert!(rows.is_empty() && compared > 500, "{compared}; not on the page: {:?}", rows.keys());
    let still = text(&fs::read(folder.join("day.svg")).unwrap());
    assert!(
        still.starts_with("<svg")
            && still.contains("Sensor eye, m")
            && !still.contains("NaN")
            && !still.contains("inf")
    );
    let paths: Vec<&str> = parsed.named("path").iter().filter_map(|path| path.get("d")).collect();
    assert!(paths.len() > 50 && paths.iter().all(|d| !d.contains("NaN") && !d.contains("inf")));
}

#[test]
fn json_says_what_the_tables_say() {
    let place = scratch("json");
    let file = path("hillside").display().to_string();
    let output = dooryard(&place, &["day", &file, "--season", "5", "--date", "2025-04-14", "--json"]).assert().code(0);
    let answer: Value = serde_json::from_slice(&output.get_output().stdout).expect("JSON");
    assert_eq!(answer["layout"], "dooryard-day/1");
    assert_eq!((answer["season"].as_u64(), answer["date"].as_str()), (Some(5), Some("2025-04-14")));
    let events = fs::read(place.join("output/hillside/day-ranger-5-2025-04-14/events.csv")).unwrap();
    assert_eq!(answer["events"].as_array().unwrap().len(), csv::Reader::from_reader(&*events).records().count());
    let missed = answer["story"].as_array().unwrap().iter().filter(|it| it["what"] == "missed arrival").count();
    assert_eq!(answer["counts"]["missed_arrivals"].as_u64(), Some(missed as u64));
    let other = ["day", &file, "--season", "5", "--date", "2025-04-14", "--out", "twice"];
    dooryard(&place, &other).assert().code(0);
    for name in ["report.html", "day.csv", "day.svg", "summary.txt", "run.toml"] {
        let read = |folder: &str| fs::read(place.join(folder).join(name)).unwrap();
        assert!(read("twice") == read("output/hillside/day-ranger-5-2025-04-14"), "{name} differs from time to time");
    }
}

/// What is looked for happened on the day that is found, and not on an earlier one.
#[test]
fn a_day_is_found_by_what_happened() {
    let scenario = shipped("coast");
    let field = Field::new([(&scenario, [0].as_slice())]).expect("a field");
    let stop = std::sync::atomic::AtomicBool::new(false);
    let pool = threads(Some(2)).expect("threads");
    let ground = Ground { seed: 3, sampling: Sampling::Exact, events: false, stop: &stop, pool: &pool };
    let records = field.play(&[0], 0..6, &ground, &|| {}).unwrap().expect("not stopped").remove(0);
    let mut seen = 0;
    for what in [Find::Missed, Find::FalseOpening, Find::Contact, Find::Stranding, Find::LongestWait, Find::Wettest] {
        let all = || records.iter().flat_map(|record| record.days.iter().enumerate().map(move |day| (record, day)));
        let of = |day: &dooryard::ledger::record::Day| match what {
            Find::Missed => f64::from(day.missed),
            Find::FalseOpening => f64::from(day.false_openings),
            Find::Contact => f64::from(day.contacts),
            Find::Stranding => f64::from(day.strandings),
            Find::LongestWait => day.wait_s,
            Find::Wettest => day.rain_mm,
        };
        let found = match day::find(&field, what, 0..6, &ground, &|| {}).expect("weather") {
            Searched::Found(found) => found,
            other => {
                assert_eq!(other, Searched::Nothing);
                assert!(all().all(|(_, (_, day))| of(day) == 0.0), "{what:?} was missed");
                continue;
            }
        };
        seen += 1;
        let replay = day::replay(field.plan(0).0, 0, 3, found.season, found.day).expect("a day");
        assert!(of(&replay.counts) > 0.0, "{what:?}");
        match what {
            Find::LongestWait => {
                let longest = records.iter().map(|record| record.value(Key::WaitLongest)).fold(0.0, f64::max);
                assert!((found.amount - longest).abs() < 1e-6);
                let told = |it: &day::Incident| it.what == Happened::Waited { seconds: found.amount };
                assert!(replay.story.iter().any(told), "the wait is not in the story");
            }
            Find::Wettest => assert!(all().all(|(_, (_, day))| day.rain_mm <= found.amount)),
            _ => {
                let first = all().find(|(_, (_, day))| of(day) > 0.0).expect("it happened");
                assert_eq!((first.0.season, first.1.0), (found.season, found.day));
            }
        }
    }
    assert!(seen >= 4, "{seen}");
    stop.store(true, std::sync::atomic::Ordering::Relaxed);
    assert_eq!(day::find(&field, Find::Wettest, 0..6, &ground, &|| {}).unwrap(), Searched::Stopped);
}

#[test]
fn a_search_says_what_it_took_or_that_there_is_nothing() {
    let place = scratch("find");
    let file = path("orchard").display().to_string();
    let wet = dooryard(&place, &["day", &file, "--find", "wettest", "--seasons", "2", "-q"]).assert().code(0);
    let said = text(&wet.get_output().stdout);
    assert!(said.contains("Taken: season ") && said.contains("the wettest of seasons 0 to 1"), "{said}");
    let none = dooryard(&place, &["day", &file, "--find", "missed", "--season", "1", "-q"]).assert().code(0);
    let said = text(&none.get_output().stdout);
    assert!(said.starts_with("no missed arrival in season 1 with strategy eye"), "{said}");
}

#[test]
fn mistakes_end_with_2_and_say_what_would_do() {
    let place = scratch("mistakes");
    let file = path("coast").display().to_string();
    for (arguments, hint) in [
        (&["--season", "0", "--date", "2025-12-24"][..], "goes from 2025-03-15 to 2025-11-15"),
        (&["--season", "0", "--date", "2025-02-30"], "`2025-02-30` is not a date"),
        (&["--season", "0", "--date", "14.6.2025"], "is not a date; write it as in 2025-06-14"),
        (&["--season", "0", "--date", ""], "is not a date"),
        (&["--season", "0", "--date", "２０２５-06-14"], "is not a date"),
        (&["--season", "1000000000001", "--date", "2025-06-14"], "1000000000001 is not in 0..=1000000000000"),
        (&["--season", "-1", "--date", "2025-06-14"], "error"),
        (&["--season", "0", "--date", "2025-06-14", "--strategy", "pateint"], "did you mean `patient`?"),
        (&["--season", "0"], "--date"),
        (&["--date", "2025-06-14"], "--season"),
        (&["--find", "misses"], "missed"),
        (&["--find", "missed", "--date", "2025-06-14"], "cannot be used with"),
        (&["--find", "missed", "--seasons", "0"], "0 is not in 1.."),
    ] {
        let all: Vec<&str> = ["day", &file].iter().chain(arguments).copied().collect();
        let output = dooryard(&place, &all).assert().code(2).get_output().clone();
        assert!(output.stdout.is_empty(), "{arguments:?}");
        assert!(text(&output.stderr).contains(hint), "{arguments:?}: {}", text(&output.stderr));
    }
    assert!(!place.join("output").exists(), "something was written");
}

/// Names that would end an element, and a folder that is not ours.
#[test]
fn hostile_input_does_no_harm() {
    let place = scratch("hostile");
    let nasty = "</script><b>\\\"&'";
    let scenario =
        fs::read_to_string(path("coast")).unwrap().replace("name = \"gull\"", &format!("name = \"{nasty}\""));
    let file = place.join("nasty.toml");
    fs::write(&file, scenario).unwrap();
    let file = file.display().to_string();
    let day = ["day", &file, "--season", "0", "--date", "2025-08-30", "--out", "nasty"];
    dooryard(&place, &day).assert().code(0);
    let page = text(&fs::read(place.join("nasty/report.html")).unwrap());
    let parsed = page_support::parse(&page);
    assert!(parsed.named("b").iter().all(|bold| !bold.text.is_empty()), "a name became an element");
    let data = parsed.named("script").into_iter().find(|script| script.get("id") == Some("day-data")).unwrap();
    let data: Value = serde_json::from_str(&data.text).expect("JSON");
    let read = "</script><b>\"&'";
    assert!(data["series"].as_array().unwrap().iter().any(|it| it["name"] == format!("visitor {read} position")));
    fs::create_dir(place.join("mine")).unwrap();
    fs::write(place.join("mine/letter.txt"), "dear").unwrap();
    let mut foreign = day;
    foreign[7] = "mine";
    let output = dooryard(&place, &foreign).assert().code(2);
    assert!(text(&output.get_output().stderr).contains("letter.txt"));
    assert_eq!(fs::read_to_string(place.join("mine/letter.txt")).unwrap(), "dear");
    assert_eq!(fs::read_dir(place.join("mine")).unwrap().count(), 1);
}

/// A run beside the days that were looked at replaces its own files and leaves them alone; a stranger's folder stops it.
#[test]
fn a_run_keeps_the_days_beside_it() {
    let place = scratch("beside");
    let file = path("orchard").display().to_string();
    let day = ["day", &file, "--season", "2", "--date", "2025-07-01"];
    let run = ["run", &file, "--seasons", "1", "--strategy", "eye", "-q"];
    dooryard(&place, &day).assert().code(0);
    let kept = place.join("output/orchard/day-eye-2-2025-07-01");
    let before = fs::read(kept.join("day.csv")).unwrap();
    for _ in 0..2 {
        let code = dooryard(&place, &run).assert().get_output().status.code();
        assert!(matches!(code, Some(0 | 1)), "{code:?}");
        assert!(place.join("output/orchard/report.html").exists());
        assert!(fs::read(kept.join("day.csv")).unwrap() == before);
    }
    dooryard(&place, &day).assert().code(0);
    assert!(place.join("output/orchard/report.html").exists());
    let stranger = place.join("output/orchard/day-notes");
    fs::create_dir(&stranger).unwrap();
    fs::write(stranger.join("x"), "").unwrap();
    dooryard(&place, &run).assert().code(2);
    assert!(stranger.join("x").exists());
}

/// Noisy windows and sums need every sample: the page stays small, the table keeps all.
#[test]
fn a_day_of_every_sample_still_makes_a_page() {
    let mut scenario = shipped("coast");
    scenario.detectors[0].statistic = dooryard::scenario::strategy::Statistic::Cusum { limit: 50.0 };
    scenario.detectors[0].on = 5.99;
    scenario.sensors[0].errors.noise = 3.0;
    if let dooryard::scenario::sensor::SensorKind::OpticalRange { background_m, .. } = &mut scenario.sensors[0].kind {
        *background_m = Some(5.9);
    }
    scenario.calendar.last_day = scenario.calendar.first_day;
    let plan = Plan::new(&scenario).expect("a plan");
    let replay = day::replay(&plan, 0, 1, 0, 0).expect("a day");
    let readings = replay.film.about(About::Reading(0)).unwrap().points.len();
    assert!(readings > 500_000, "{readings}");
    let study = dooryard::report::study_file::Study {
        command: "day",
        version: "0",
        scenarios: Vec::new(),
        warnings: Vec::new(),
        seed: 1,
        settings: Vec::new(),
    };
    let told = dooryard::report::day::Told {
        replay: &replay,
        scenario: &plan.scenario,
        study: &study,
        found: None,
        warnings: &[],
        cautions: &[],
        time: &|at: Instant| at.0.to_string(),
    };
    let few = dooryard::report::day::thinned(&told).expect("too many points");
    let page = dooryard::report::day::page(&dooryard::report::day::Told { replay: &few, ..told });
    assert!(page.len() < 3_000_000, "{}", page.len());
}

/// What the days say of time by hand and in fault adds up to what the season's books say, and each such day names the
/// failure behind it.
#[test]
fn time_out_of_service_is_told() {
    let place = scratch("out-of-service");
    let include = path("orchard");
    let added = "[[failure]]\nmode = \"manual-left-on\"\nrate = \"200 /yr\"\n\
                 [[failure]]\nmode = \"network-outage\"\nrate = \"100 /yr\"\n\
                 [[failure]]\nmode = \"end-switch-stuck\"\nrate = \"1000 /yr\"\nlasts = { mean = \"3 h\", spread = \"0 s\" }\n";
    let text =
        format!("include = [{include:?}]\nname = \"own\"\n[season]\nfrom = 2025-06-01\nto = 2025-06-12\n{added}");
    let own = place.join("own.toml");
    fs::write(&own, text).unwrap();
    let scenario = dooryard::scenario::load(&own, dooryard::cli::wiring::metrics()).expect("a scenario").scenario;
    let plan = Plan::new(&scenario).expect("a plan");
    let outside = Outside::draw(&plan, 1, 0).expect("weather");
    let books = play(&plan, &outside, 0, 1, LOGGED);
    let (mut by_hand_s, mut waits_s, mut outages) = (0.0, 0.0, 0);
    for day in 0..plan.clock.days() {
        let replay = day::replay(&plan, 0, 1, 0, day).expect("a day");
        let no_network = |it: &day::Incident| it.what == Happened::Fault { name: "failure network-outage".into() };
        if replay.story.iter().any(no_network) {
            outages += 1;
            assert!(replay.failures.iter().any(|name| name == "network-outage"), "day {day}: {:?}", replay.failures);
        }
        for incident in &replay.story {
            let (sum, seconds, behind) = match incident.what {
                Happened::ByHand { seconds } => (&mut by_hand_s, seconds, "manual-left-on"),
                Happened::WaitsForPerson { seconds } => (&mut waits_s, seconds, "end-switch-stuck"),
                _ => continue,
            };
            *sum += seconds;
            assert!(replay.failures.iter().any(|name| name == behind), "day {day}: {behind}: {:?}", replay.failures);
        }
    }
    assert!(by_hand_s > 3_600.0 && waits_s > 3_600.0 && outages > 0, "{by_hand_s} s, {waits_s} s, {outages} days");
    assert!((by_hand_s / 3_600.0 - books.value(Key::ManualTime)).abs() < 1e-6);
    assert!((waits_s / 3_600.0 - books.value(Key::FaultTime)).abs() < 1e-6);
}
