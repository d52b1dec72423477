//! `weather show` and `weather fit` from the outside, and the way round: show, fit, show.

use assert_cmd::Command;
use std::fs;
use std::path::Path;

fn data(name: &str) -> String {
    format!("{}/tests/data/weather/{name}", env!("CARGO_MANIFEST_DIR"))
}

fn dooryard(folder: &Path, arguments: &[&str]) -> std::process::Output {
    Command::cargo_bin("dooryard").unwrap().current_dir(folder).args(arguments).output().unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// The cells of the row that begins with `name`.
fn cells(text: &str, name: &str) -> Vec<f64> {
    let line = text.lines().find(|line| line.starts_with(name)).unwrap_or_else(|| panic!("{name} in {text}"));
    let rest = line[name.len()..].split_whitespace();
    rest.map(|cell| cell.parse().unwrap_or_else(|_| panic!("{line}"))).collect()
}

/// A starter scenario whose weather comes from `part`.
fn scenario_with(folder: &Path, part: &str) {
    assert!(dooryard(folder, &["new", "hut"]).status.success());
    let starter = fs::read_to_string(folder.join("hut.toml")).unwrap();
    let (head, rest) = starter.split_once("[weather]").unwrap();
    let (_, tail) = rest.split_once("[mower]").unwrap();
    let named = head.replace("# include = [\"parts/visitors.toml\"]", &format!("include = [\"{part}\"]"));
    fs::write(folder.join("hut.toml"), format!("{named}[mower]{tail}")).unwrap();
}

/// Fitted weather shown beside its record: sixty drawn years against the one observed.
#[test]
fn show_fit_show() {
    let folder = tempfile::tempdir().unwrap();
    let record = data("nyc2013_lga_hourly.csv");
    let fit = dooryard(folder.path(), &["weather", "fit", &record, "--by", "year", "--out", "part.toml"]);
    assert!(fit.status.success(), "{}", text(&fit.stderr));
    let printed = text(&fit.stdout);
    assert!(printed.contains("rain gauge: steps of 0.254 mm"), "{printed}");
    assert!(printed.starts_with("9 of 9 rows agree"), "the answer comes first: {printed}");
    assert!(printed.contains("9 of 9 rows agree") && printed.contains("agrees within 5 %"), "{printed}");
    assert!(text(&fit.stderr).contains("no gust was reported") && text(&fit.stderr).contains("missing: rain_mm 24"));
    scenario_with(folder.path(), "part.toml");
    let shown = dooryard(folder.path(), &["weather", "show", &record, "hut.toml", "--years", "60", "--out", "plots"]);
    assert!(shown.status.success(), "{}", text(&shown.stderr));
    let printed = text(&shown.stdout);
    // The answer first: how wet and windy each is, then how the second differs from the first.
    let answer: Vec<&str> = printed.split("\n\n").next().unwrap().split_whitespace().collect();
    let answer = answer.join(" ");
    let [wet, drawn] = [0, 1].map(|which| cells(&printed, "rain in a year, mm")[which]);
    assert!(answer.contains(&format!("{wet} mm of rain in a year")) || wet >= 10_000.0, "{answer}");
    let by = 100.0 * (drawn / wet - 1.0);
    assert!(answer.contains("of the hours are wet") && answer.contains("a gust of"), "{answer}");
    let (_, against) = answer.split_once("hut against nyc2013_lga_hourly: ").unwrap_or_else(|| panic!("{answer}"));
    let more = if by < 0.0 { "less rain" } else { "more rain" };
    let rain = against.split(", ").next().unwrap();
    if by.abs() > 0.6 {
        let shown: f64 = rain.split(' ').next().unwrap().parse().unwrap_or_else(|_| panic!("{rain}"));
        assert!((shown - by.abs()).abs() < 0.8 && rain.ends_with(more), "{rain}: {by} %");
    }
    assert!(printed.contains("a gauge with steps of 0.254 mm"), "{printed}");
    // Sixty years of rain have a standard error of about 3 %, the record's wind and temperature none to speak of.
    for (name, most) in [
        ("rain in a year, mm", 0.1),
        ("share of hours wet, %", 0.1),
        // Without the record's gauge in the way of the drawn rain these were 13 % and 22 % too long.
        ("wet spell: mean, h", 0.1),
        ("dry spell: mean, h", 0.12),
        ("at least 1 mm, h/yr", 0.15),
        ("mean wind, m/s", 0.03),
        ("15 h to 16 h", 0.05),
    ] {
        let found = cells(&printed, name);
        assert!((found[1] / found[0] - 1.0).abs() < most, "{name}: {found:?}");
    }
    for name in ["months", "wet_spells", "dry_spells", "intensity", "day_wind", "gusts"] {
        let svg = fs::read_to_string(folder.path().join(format!("plots/{name}.svg"))).unwrap();
        assert!(svg.starts_with("<svg") && svg.contains("hut") && svg.trim_end().ends_with("</svg>"), "{name}");
        let table = fs::read_to_string(folder.path().join(format!("plots/{name}.csv"))).unwrap();
        assert!(table.lines().count() > 10 && table.contains("hut,"), "{name}: {table}");
    }
    // A second time over its own folder, and never over somebody else's.
    assert!(dooryard(folder.path(), &["weather", "show", "hut.toml", "--out", "plots"]).status.success());
    fs::write(folder.path().join("plots/letter.txt"), "mine").unwrap();
    assert_eq!(dooryard(folder.path(), &["weather", "show", "hut.toml", "--out", "plots"]).status.code(), Some(2));
}

/// A part fitted month by month is a part like any other: included, drawn, and of the record's own months.
#[test]
fn months_fitted_one_by_one() {
    let folder = tempfile::tempdir().unwrap();
    let record = data("nyc2013_lga_hourly.csv");
    let fit = dooryard(folder.path(), &["weather", "fit", &record, "--by", "months", "--out", "part.toml"]);
    assert!(text(&fit.stdout).starts_with("108 of 108 rows agree"), "{}", text(&fit.stdout));
    scenario_with(folder.path(), "part.toml");
    let shown = dooryard(folder.path(), &["weather", "show", &record, "hut.toml", "--years", "1000"]);
    assert!(shown.status.success(), "{}", text(&shown.stderr));
    let printed = text(&shown.stdout);
    for month in ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"] {
        // A thousand months of rain whose days vary as the record's have a standard error of about 2 %.
        let line =
            printed.lines().find(|line| line.starts_with(month)).unwrap_or_else(|| panic!("{month} in {printed}"));
        let found: Vec<f64> = line.split_whitespace().filter_map(|cell| cell.parse().ok()).collect();
        assert!((found[1] / found[0] - 1.0).abs() < 0.05, "{line}");
    }
}

/// A record's totals are those of all that was observed, and the same in show and fit: leaving out days that lack an hour
/// made 1,000 mm of the year's 975.
#[test]
fn totals_of_a_record_with_gaps() {
    let folder = tempfile::tempdir().unwrap();
    let shown = text(&dooryard(folder.path(), &["weather", "show", &data("nyc2013_lga_hourly.csv")]).stdout);
    // tests/data/weather/stats: 968.756 mm in 8,706 observed hours; here months by their own observed hours, all alike.
    assert!((cells(&shown, "rain in a year, mm")[0] - 975.0).abs() < 5.0, "{shown}");
    for (month, depth_mm, hours) in [("Jan", 64.262, 742.0), ("Feb", 80.264, 670.0), ("Nov", 70.358, 712.0)] {
        let expected = depth_mm / hours * 730.5;
        assert!((cells(&shown, month)[0] / expected - 1.0).abs() < 0.01, "{month} {expected}: {shown}");
    }
}

/// Show draws the same years for the same seed, and others for another.
#[test]
fn seeds() {
    let folder = tempfile::tempdir().unwrap();
    assert!(dooryard(folder.path(), &["new", "hut"]).status.success());
    let show = |seed: &str| text(&dooryard(folder.path(), &["weather", "show", "hut.toml", "--seed", seed]).stdout);
    assert_eq!(show("1"), show("1"));
    assert_ne!(show("1"), show("2"));
}

#[test]
fn files_that_cannot_be_used() {
    let folder = tempfile::tempdir().unwrap();
    let refused = |arguments: &[&str]| {
        let output = dooryard(folder.path(), arguments);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        text(&output.stderr)
    };
    assert!(refused(&["weather", "show", "absent.csv"]).contains("absent.csv"));
    assert!(
        refused(&["weather", "fit", &data("tmy3_five_days.csv"), "--out", "x.toml"]).contains("enough complete days")
    );
    assert!(!folder.path().join("x.toml").exists());
    fs::write(folder.path().join("part.toml"), "mine").unwrap();
    let record = data("nyc2013_lga_hourly.csv");
    assert!(refused(&["weather", "fit", &record, "--out", "part.toml"]).contains("--force"));
    assert_eq!(fs::read_to_string(folder.path().join("part.toml")).unwrap(), "mine");
    assert!(refused(&["weather", "fit", &record, "--latitude", "40"]).contains("--longitude"));
    for [latitude, longitude] in [["95", "0"], ["nan", "0"], ["40", "181"]] {
        let refused = refused(&["weather", "fit", &record, "--latitude", latitude, "--longitude", longitude]);
        assert!(refused.contains("degrees"), "{refused}");
    }
    assert!(refused(&["weather", "fit", "hut.toml"]).contains("`hut.toml` is a scenario"));
}

/// The rose of a record with directions, and the traps of a TMY3 file said before its figures.
#[test]
fn a_record_with_directions() {
    let folder = tempfile::tempdir().unwrap();
    let shown = dooryard(folder.path(), &["weather", "show", &data("tmy3_five_days.csv"), "--out", "plots"]);
    let printed = text(&shown.stdout);
    assert!(printed.contains("tenths of a millimetre") && printed.contains("TMY3: times name the end"), "{printed}");
    let rose = fs::read_to_string(folder.path().join("plots/rose.csv")).unwrap();
    let shares: f64 = rose.lines().skip(1).map(|line| line.rsplit(',').next().unwrap().parse::<f64>().unwrap()).sum();
    assert!((0.7..=1.0).contains(&shares), "all but the calms: {shares}");
}

/// Daily sums have no hours: what would need them is left out and said, not filled with days.
#[test]
fn a_record_of_days() {
    let folder = tempfile::tempdir().unwrap();
    let start: jiff::Timestamp = "2023-01-01T00:00:00Z".parse().unwrap();
    let day = |n: i64| {
        let time = start + jiff::SignedDuration::from_hours(24 * n);
        format!("{time},{},{},3,5\n", if n % 3 == 0 { 12 } else { 0 }, n % 9)
    };
    let days = "time,rain_mm,temperature_c,wind_m_s,gust_m_s\n".to_owned() + &(0..60).map(day).collect::<String>();
    fs::write(folder.path().join("days.csv"), days).unwrap();
    let shown = dooryard(folder.path(), &["weather", "show", "days.csv", "--out", "plots"]);
    assert!(shown.status.success(), "{}", text(&shown.stderr));
    let printed = text(&shown.stdout);
    assert!(printed.contains("steps of 24 h") && printed.contains("can't be told"), "{printed}");
    for name in
        ["share of hours wet, %", "at least 10 mm, h/yr", "largest hour, mm", "wet spell: mean, h", "00 h to 01 h"]
    {
        let line = printed.lines().find(|line| line.starts_with(name)).unwrap_or_else(|| panic!("{name} in {printed}"));
        assert_eq!(line[name.len()..].trim(), "-", "{line}");
    }
    assert!(printed.contains("a spread, not an interval"), "{printed}");
}

/// What a record of long steps is refused with says what to do, word for word: fit a part to hours, include it, run.
#[test]
fn long_steps_with_a_fitted_part() {
    let folder = tempfile::tempdir().unwrap();
    let record = data("nyc2013_lga_hourly.csv");
    // The airport's year in steps of three hours, from the first whole one on.
    let hours = fs::read_to_string(&record).unwrap();
    let rows: Vec<Vec<&str>> = hours.lines().skip(3).map(|line| line.split(',').collect()).collect();
    let mut steps = "time,rain_mm,temperature_c,wind_m_s,gust_m_s\n".to_owned();
    for three in rows.chunk_by(|a, b| a[0][..10] == b[0][..10] && hour(a) / 3 == hour(b) / 3).filter(|c| c.len() == 3) {
        let depths: Result<Vec<f64>, _> = three.iter().map(|row| row[1].parse::<f64>()).collect();
        let depth = depths.map_or(String::new(), |depths| format!("{:.3}", depths.iter().sum::<f64>()));
        steps.push_str(&format!("{},{depth},{}\n", three[0][0], three[0][2..].join(",")));
    }
    fs::write(folder.path().join("steps.csv"), steps).unwrap();
    scenario_with(folder.path(), "hourly.toml");
    let scenario = folder.path().join("hut.toml");
    let included = fs::read_to_string(&scenario).unwrap();
    let included =
        included.replace("from = 2025-04-01", "from = 2013-05-20").replace("to = 2025-10-31", "to = 2013-06-20");
    let observed = "[weather]\nsource = \"observed\"\nfile = \"steps.csv\"\ngaps = \"repeat\"\n[mower]\n";
    let run = |written: &str| {
        fs::write(&scenario, written).unwrap();
        dooryard(folder.path(), &["run", "hut.toml", "--seasons", "2", "--out", "out"])
    };
    let alone = included.replace("include = [\"hourly.toml\"]", "").replace("[mower]\n", observed);
    let refused = run(&alone);
    let said = text(&refused.stderr);
    assert!(refused.status.code() == Some(2) && said.contains("steps of 3 h"), "{said}");
    assert!(said.contains("Include the part that `dooryard weather fit` writes from an hourly record"), "{said}");
    let process = alone.replace("gaps =", "within_hour = \"process\"\ngaps =");
    let said = text(&run(&process).stderr);
    assert!(said.contains("needs a rain process") && said.contains("include the part that"), "{said}");
    let fit = dooryard(folder.path(), &["weather", "fit", &record, "--by", "year", "--out", "hourly.toml"]);
    assert!(fit.status.success(), "{}", text(&fit.stderr));
    for process in ["", "within_hour = \"process\"\n"] {
        let with = included.replace("[mower]\n", &observed.replace("gaps =", &format!("{process}gaps =")));
        let played = run(&with);
        assert!(matches!(played.status.code(), Some(0 | 1)), "{}", text(&played.stderr));
        fs::remove_dir_all(folder.path().join("out")).unwrap();
    }
    // The record's depths are played, not the process's, in showers that only it has.
    let show = |file: &str| text(&dooryard(folder.path(), &["weather", "show", file, "--years", "1"]).stdout);
    let (played, recorded) = (show("hut.toml"), show("steps.csv"));
    let june = |shown: &str| cells(shown, "Jun")[0];
    assert!((june(&played) / june(&recorded) - 1.0).abs() < 0.05, "{played}{recorded}");
}

fn hour(row: &[&str]) -> u32 {
    row[0][11..13].parse().unwrap()
}

/// A record in inches is shown in millimetres once the unit is said.
#[test]
fn units_on_the_command_line() {
    let folder = tempfile::tempdir().unwrap();
    let record = fs::read_to_string(data("nyc2013_lga_hourly.csv")).unwrap();
    let inches = record.lines().map(|line| {
        let fields: Vec<&str> = line.split(',').collect();
        match fields[1].parse::<f64>() {
            Ok(depth) => format!("{},{:.2},{}\n", fields[0], depth / 25.4, fields[2..].join(",")),
            Err(_) => format!("{line}\n"),
        }
    });
    fs::write(folder.path().join("inches.csv"), inches.collect::<String>()).unwrap();
    let show =
        |more: &[&str]| text(&dooryard(folder.path(), &[&["weather", "show", "inches.csv"], more].concat()).stdout);
    assert!(show(&[]).contains("--rain-unit in"));
    let said = show(&["--rain-unit", "in"]);
    let plain = text(&dooryard(folder.path(), &["weather", "show", &data("nyc2013_lga_hourly.csv")]).stdout);
    assert!(!said.contains("inches?"), "{said}");
    let names = ["rain in a year, mm", "share of hours wet, %", "dry spell: mean, h", "largest hour, mm"];
    names.iter().for_each(|name| assert_eq!(cells(&said, name), cells(&plain, name), "{name}"));
    let refused = dooryard(folder.path(), &["weather", "show", "inches.csv", "--rain-unit", "ell"]);
    assert!(refused.status.code() == Some(2) && text(&refused.stderr).contains("0.01 in"));
}

/// Every key of the weather survives printing: the resolved scenario loads to the same weather.
#[test]
fn resolved_weather_loads_again() {
    let folder = tempfile::tempdir().unwrap();
    assert!(dooryard(folder.path(), &["new", "hut"]).status.success());
    let starter = fs::read_to_string(folder.path().join("hut.toml")).unwrap();
    let (head, rest) = starter.split_once("[weather]").unwrap();
    let (_, tail) = rest.split_once("[mower]").unwrap();
    let process = "[weather.rain]\nstorms = \"0.5 /d\"\ndepth = [\"1 mm\", \"1.1 mm\", \"1 mm\", \"1 mm\", \"1 mm\", \"1 mm\", \
                   \"1 mm\", \"1 mm\", \"1 mm\", \"1 mm\", \"1 mm\", \"2 mm\"]\nshape = 2.5\nscale = \"80 min\"\ncells = 0.3\n\
                   ending = 0.05\n[weather.shift]\nrain = 1.2\nspells = 0.9\nwind = 1.1\nwarming = \"2 K\"\n";
    let observed = format!(
        "source = \"observed\"\nfile = '{}'\ngaps = \"repeat\"\nlayout = \"csv\"\ntime_label = \"end\"\nwithin_hour = \"even\"\n\
         rain_unit = \"in\"\ntemperature_unit = \"degF\"\nwind_unit = \"mph\"\nyears = \"months\"\n{process}",
        data("nyc2013_lga_hourly.csv")
    );
    let pulses = format!(
        "source = \"pulses\"\ntemperature = \"10 °C\"\ntemperature_swing = \"4 K\"\ntemperature_spread = \"3 K\"\nwind = \"3 m/s\"\n\
         clearness = 0.6\nwind_swing = 0.2\nroughness = \"30 mm\"\n{process}"
    );
    let load = |text: &str| {
        let path = folder.path().join("one.toml");
        fs::write(&path, text).unwrap();
        dooryard::cli::wiring::load(&path).map(|loaded| loaded.scenario).map_err(|failure| failure.to_string())
    };
    for weather in [&observed, &pulses] {
        let scenario = load(&format!("{head}[weather]\n{weather}\n[mower]{tail}")).unwrap();
        let again = load(&dooryard::scenario::print(&scenario)).unwrap();
        assert_eq!(scenario.weather, again.weather);
    }
    // A process in parts is refused by name; one that is not used is a warning.
    let lame = pulses.replace("cells = 0.3\n", "");
    let refused = load(&format!("{head}[weather]\n{lame}\n[mower]{tail}")).unwrap_err();
    assert!(refused.contains("[weather.rain] lacks cells"), "{refused}");
    let both = load(&starter.replace("[mower]\n", &format!("{process}[mower]\n"))).unwrap();
    assert!(matches!(both.weather, dooryard::scenario::weather::Weather::Generated(_)));
}
