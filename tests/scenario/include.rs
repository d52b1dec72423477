//! Parts: their order, what wins, and what can go wrong with them.

use std::fs;
use std::path::Path;

use dooryard::scenario::weather::Weather;
use dooryard::scenario::{Loaded, Problems, starter};

use super::load_file;

/// Writes files into a fresh folder and loads the first.
fn load_all(files: &[(&str, &str)]) -> Result<Loaded, Problems> {
    let folder = tempfile::tempdir().expect("a temporary folder");
    for (name, text) in files {
        let path = folder.path().join(name);
        fs::create_dir_all(path.parent().unwrap_or(Path::new(""))).expect("writable");
        fs::write(path, text).expect("writable");
    }
    load_file(&folder.path().join(files[0].0))
}

#[test]
fn the_including_file_wins_key_by_key_and_later_parts_over_earlier_ones() {
    let base = starter("garden");
    let files = [
        (
            "main.toml",
            "include = [\"parts/base.toml\", \"parts/heavy.toml\"]\nname = \"main\"\n[mower.approach]\nspeed = \"0.5 m/s\"\n[[sensor]]\nname = \"eye\"\nnoise = \"9 mm\"\n",
        ),
        ("parts/base.toml", &base),
        (
            "parts/heavy.toml",
            "[mower]\nmass = \"15 kg\"\n[mower.approach]\nspeed = \"0.3 m/s\"\nsideways = \"50 mm\"\n",
        ),
    ];
    let loaded = load_all(&files).unwrap_or_else(|problems| panic!("{problems}"));
    let scenario = &loaded.scenario;
    assert_eq!(scenario.name, "main");
    assert_eq!(scenario.mower.mass_kg, 15.0);
    assert_eq!(scenario.mower.approach.speed_m_s, 0.5);
    assert_eq!(scenario.mower.approach.sideways_m, 0.05);
    assert_eq!(scenario.mower.approach.from_m, 6.0);
    assert_eq!(scenario.sensors.len(), 3);
    assert_eq!(scenario.sensors[0].name, "eye");
    assert_eq!(scenario.sensors[0].errors.noise, 0.009);
    assert_eq!(scenario.sensors[0].errors.resolution, 0.001);
    let names: Vec<_> = loaded.sources.iter().map(|path| path.file_name().expect("a name").to_owned()).collect();
    assert_eq!(names, ["main.toml", "base.toml", "heavy.toml"]);
}

#[test]
fn lists_without_names_are_appended_and_conditions_are_replaced_whole() {
    let base = starter("garden");
    let files = [
        (
            "main.toml",
            "include = [\"base.toml\"]\n[[limit]]\nmetric = \"stalls\"\nat_most = 1\n[[mower.windows]]\ndays = \"weekend\"\nfrom = \"10:00\"\nto = \"11:00\"\n[[strategy]]\nname = \"eye\"\nopen = { all = [\"near\", \"leaving\"] }\n",
        ),
        ("base.toml", &base),
    ];
    let scenario = load_all(&files).unwrap_or_else(|problems| panic!("{problems}")).scenario;
    let metrics: Vec<_> = scenario.limits.iter().map(|limit| limit.metric.as_str()).collect();
    assert_eq!(metrics, ["missed_arrivals", "strandings", "stalls"]);
    assert_eq!(scenario.mower.windows.len(), 2);
    assert!(
        matches!(&scenario.strategies[0].open, dooryard::scenario::strategy::Condition::All(parts) if parts.len() == 2)
    );
}

#[test]
fn problems_in_a_part_are_shown_in_the_part() {
    let base = starter("garden").replace("\"0.4 m/s\"", "\"0.4 m\"");
    let problems = load_all(&[("main.toml", "include = [\"parts/base.toml\"]"), ("parts/base.toml", &base)])
        .expect_err("a report");
    assert_eq!(problems.list().len(), 1, "{problems}");
    assert!(problems.list()[0].file.ends_with("parts/base.toml"));
    assert_eq!(problems.list()[0].key, "mower.approach.speed");
}

#[test]
fn an_unreadable_part_hides_no_other_mistake_and_invents_none() {
    let files = [("main.toml", "include = [\"a.toml\", \"b.toml\"]\n[mower]\nmass = 3\n"), ("b.toml", "[door\n")];
    let problems = load_all(&files).expect_err("a report");
    let found: Vec<_> = problems.list().iter().map(|problem| (problem.line, problem.key.as_str())).collect();
    assert_eq!(found, [(1, "include"), (3, "mower.mass"), (1, "")], "{problems}");
}

#[test]
fn cycles_depth_and_number_of_parts_are_bounded() {
    let problems = load_all(&[("a.toml", "include = [\"b.toml\"]"), ("b.toml", "include = [\"./a.toml\"]")])
        .expect_err("a report");
    assert!(problems.list()[0].message.contains("includes itself"), "{problems}");

    let texts: Vec<(String, String)> =
        (0..20).map(|n| (format!("{n}.toml"), format!("include = [\"{}.toml\"]", n + 1))).collect();
    let files: Vec<(&str, &str)> = texts.iter().map(|file| (file.0.as_str(), file.1.as_str())).collect();
    let problems = load_all(&files).expect_err("a report");
    assert!(problems.list()[0].message.contains("deeper than 8"), "{problems}");

    // Each level includes the next ten times over: ten to the eighth files if nobody counted.
    let texts: Vec<(String, String)> = (0..8)
        .map(|n| (format!("{n}.toml"), format!("include = [{}]", format!("\"{}.toml\", ", n + 1).repeat(10))))
        .collect();
    let mut files: Vec<(&str, &str)> = texts.iter().map(|file| (file.0.as_str(), file.1.as_str())).collect();
    files.push(("8.toml", ""));
    let problems = load_all(&files).expect_err("a report");
    assert!(problems.list().iter().any(|problem| problem.message.contains("more than 64 files")), "{problems}");
}

#[test]
fn the_hash_covers_parts_and_the_observed_weather() {
    let base = starter("garden");
    let from = base.find("[weather]").expect("weather");
    let to = base.find("[mower]").expect("mower");
    let observed = format!("{}[weather]\nsource = \"observed\"\nfile = \"record.csv\"\n{}", &base[..from], &base[to..]);
    let hash = |part: &str, record: &str| {
        let files = [("main.toml", "include = [\"in/base.toml\"]"), ("in/base.toml", part), ("in/record.csv", record)];
        load_all(&files).unwrap_or_else(|problems| panic!("{problems}")).hash
    };
    let first = hash(&observed, "a");
    assert_eq!(first.len(), 64);
    assert_eq!(first, hash(&observed, "a"));
    assert_ne!(first, hash(&observed, "b"));
    assert_ne!(first, hash(&format!("{observed}\n"), "a"));
}

/// Whoever chooses another source than a part is rid of what only the part's source has, and keeps the rest of it.
#[test]
fn another_source_leaves_out_what_only_the_parts_has() {
    let base = starter("garden");
    let (head, rest) = base.split_once("[weather]").expect("weather");
    let (_, tail) = rest.split_once("[mower]").expect("a mower");
    let pulses = "[weather]\nsource = \"pulses\"\ntemperature = \"9 °C\"\ndryness = \"2 K\"\nwind = \"3 m/s\"\n\
                  [weather.rain]\nstorms = \"0.5 /d\"\ndepth = \"1 mm\"\nshape = 2.5\nscale = \"80 min\"\ncells = 0.3\n\
                  ending = 0.05\n";
    let with = |weather: &str, part: &str| {
        let head = head.replace("# include = [\"parts/visitors.toml\"]", "include = [\"part.toml\"]");
        let main = format!("{head}[weather]\n{weather}\n[mower]{tail}");
        load_all(&[("main.toml", &main), ("part.toml", part), ("record.csv", "time\n")])
    };
    let observed = "source = \"observed\"\nfile = \"record.csv\"";
    let Weather::Observed(weather) = with(observed, pulses).unwrap_or_else(|p| panic!("{p}")).scenario.weather else {
        panic!("observed")
    };
    assert_eq!(weather.rain.map(|rain| rain[0].rate_shape), Some(2.5));
    // What the part's own source does not have was never meant for any: it is told, as is a source's key without the source.
    let refused = |weather: &str, part: &str| with(weather, part).map(|_| ()).expect_err("a mistake").to_string();
    let stray = pulses.replace("dryness", "gust_factor = 1.7\ndryness");
    assert!(refused(observed, &stray).contains("`gust_factor` is not a key of weather whose source is \"observed\""));
    let unsaid = pulses.replace("source = \"pulses\"\n", "");
    assert!(refused(observed, &unsaid).contains("`dryness` is not a key of weather whose source is \"observed\""));
    // And a file's own keys have to fit its own choice.
    let own = format!("{observed}\ndryness = \"2 K\"");
    assert!(refused(&own, pulses).contains("`dryness` is not a key of weather whose source is \"observed\""));
}
