//! The page of a day in a browser: slider, zoom, keys, links, widths. Says "skipped" where there is no browser.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use assert_cmd::cargo::CommandCargoExt;
use serde_json::Value;

/// Names under which a browser that can work without a screen is usually found.
const BROWSERS: [&str; 5] = ["chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome"];

fn browser() -> Option<PathBuf> {
    let places = std::env::var_os("PATH")?;
    let mut all = std::env::split_paths(&places).flat_map(|folder| BROWSERS.map(|name| folder.join(name)));
    all.find(|file| file.is_file())
}

/// Collects errors before any other script runs.
const BEFORE: &str = "<head><script>window.errors = []; addEventListener('error', (event) => errors.push(event.message)); \
                      addEventListener('securitypolicyviolation', (event) => errors.push(event.blockedURI));</script>";

/// Does what a reader does and writes down what came of it.
const AFTER: &str = r##"<script>
const get = (id) => document.getElementById(id);
const data = JSON.parse(get("day-data").textContent);
const seen = {};
// A window is never as narrow as a phone; a page is.
if (innerWidth < 600) document.documentElement.style.width = "390px";
dispatchEvent(new Event("resize"));
const body = () => ({ ...document.body.dataset, panel: get("panel").getAttribute("y1"), box: document.querySelector(".plot svg").getAttribute("viewBox"),
  clock: get("clock").textContent, state: get("state").textContent, mower: get("mower").getAttribute("transform") });
const slide = (t) => { get("moment").value = t; get("moment").dispatchEvent(new Event("input")); return body(); };
const key = (name, shiftKey = false) => { get("timeline").dispatchEvent(new KeyboardEvent("keydown", { key: name, shiftKey })); return body(); };
const click = (act) => { document.querySelector(`[data-act=${act}]`).click(); return body(); };
const door = data.series[data.scene.door];
const half = door.v.findIndex((share, place) => share < 50 && door.v[place + 1] >= 50);
const rise = (50 - door.v[half]) / (door.v[half + 1] - door.v[half]);
const middle = door.t[half] + rise * (door.t[half + 1] - door.t[half]);
seen.atHalf = slide(middle);
seen.middle = middle;
seen.shut = slide(1);
seen.zoomed = click("in");
seen.moved = click("right");
seen.all = click("all");
seen.key = key("+");
seen.whole = key("0");
seen.right = key("ArrowRight");
seen.point = key("ArrowRight", true);
seen.event = key("PageDown");
const plot = document.querySelector(".plot").getBoundingClientRect();
const point = (type, share) => document.querySelector(".plot").dispatchEvent(new PointerEvent(type, {
  bubbles: true, pointerType: "touch", pointerId: 1, button: 0, clientX: plot.left + 1 + share * (plot.width - 1), clientY: plot.top + 9 }));
point("pointerdown", 0.25); point("pointermove", 0.4); point("pointerup", 0.5);
seen.dragged = body();
key("0");
const link = document.querySelector('tbody a[href^="#t="]');
location.hash = link.hash;
setTimeout(() => {
  seen.linked = { ...body(), t: Number(link.hash.slice(3)) };
  // What has a frame of its own to scroll in may be wider than the page.
  const wide = [...document.querySelectorAll("body *")].filter((it) => !it.closest("svg") && !it.parentElement.closest(".scroll, pre"));
  seen.widths = [Math.max(...wide.map((it) => it.getBoundingClientRect().right)), document.documentElement.getBoundingClientRect().width];
  // Labels beside the tracks: whole, and none over its neighbour.
  const ticks = [...document.querySelectorAll(".plot")].map((plot) => [...plot.querySelectorAll(".tick")]
    .map((tick) => ({ text: tick.textContent, cut: tick.scrollHeight > tick.clientHeight + 2 || tick.scrollWidth > tick.clientWidth + 1,
      top: tick.getBoundingClientRect().top, bottom: tick.getBoundingClientRect().bottom })));
  seen.cut = ticks.flat().filter((tick) => tick.cut).map((tick) => tick.text);
  seen.over = ticks.flatMap((plot) => plot.sort((a, b) => a.top - b.top).slice(1)
    .filter((tick, place) => tick.top < plot[place].bottom - 2).map((tick) => tick.text));
  seen.outputs = document.querySelectorAll(".track output").length;
  seen.errors = errors;
  document.body.dataset.seen = JSON.stringify(seen);
}, 50);
</script></body>"##;

fn open(browser: &Path, page: &Path, width: u32, dark: bool) -> Value {
    let profile = page.with_extension(format!("profile-{width}"));
    let mut command = Command::new(browser);
    command.args([
        "--headless",
        "--no-sandbox",
        "--disable-gpu",
        "--disable-dev-shm-usage",
        "--virtual-time-budget=3000",
    ]);
    command.arg(format!("--window-size={width},900")).arg(format!("--user-data-dir={}", profile.display()));
    if dark {
        command.arg("--blink-settings=preferredColorScheme=0");
    }
    let output =
        command.arg("--dump-dom").arg(format!("file://{}", page.display())).output().expect("the browser runs");
    let dom = String::from_utf8_lossy(&output.stdout).into_owned();
    let from = dom
        .find("data-seen=\"")
        .unwrap_or_else(|| panic!("the script did not finish: {}", &dom[dom.len().saturating_sub(500)..]));
    let text = &dom[from + 11..];
    let text = &text[..text.find('"').expect("an end")];
    serde_json::from_str(&text.replace("&quot;", "\"").replace("&amp;", "&").replace("&lt;", "<").replace("&gt;", ">"))
        .expect("JSON")
}

fn number(value: &Value) -> f64 {
    value
        .as_str()
        .and_then(|text| text.parse().ok())
        .or(value.as_f64())
        .unwrap_or_else(|| panic!("{value} is not a number"))
}

#[test]
fn the_page_moves_and_zooms() {
    let Some(browser) = browser() else {
        println!("skipped: no browser found");
        return;
    };
    let place = Path::new(env!("CARGO_TARGET_TMPDIR")).join("day-page");
    let _ = fs::remove_dir_all(&place);
    fs::create_dir_all(&place).unwrap();
    let days = [("coast", "0", "2025-08-30"), ("hillside", "5", "2025-04-14"), ("orchard", "1", "2025-10-29")];
    for (name, season, date) in days {
        let scenario = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios").join(format!("{name}.toml"));
        let mut command = Command::cargo_bin("dooryard").unwrap();
        command.arg("day").arg(scenario).args(["--season", season, "--date", date, "--out"]).arg(place.join(name));
        assert!(command.output().unwrap().status.success());
        let page = fs::read_to_string(place.join(name).join("day.html")).unwrap();
        let page = page.replacen("<head>", BEFORE, 1).replacen("</body>", AFTER, 1);
        let file = place.join(format!("{name}.html"));
        fs::write(&file, page).unwrap();
        for (width, dark) in [(390, true), (1_200, false)] {
            let seen = open(&browser, &file, width, dark);
            assert_eq!(seen["errors"], serde_json::json!([]), "{name}");
            // The slider moves the panel and the words.
            let (half, shut) = (&seen["atHalf"], &seen["shut"]);
            assert!((number(&half["now"]) - number(&seen["middle"])).abs() < 0.01);
            assert!(number(&half["panel"]) + 5.0 < number(&shut["panel"]), "the panel did not rise: {half} {shut}");
            assert_ne!(half["state"], shut["state"]);
            assert_eq!(shut["clock"], "00:00:01");
            // Buttons and keys zoom and move the window.
            let span = |step: &str| number(&seen[step]["to"]) - number(&seen[step]["from"]);
            assert_eq!(span("all"), 86_400.0);
            assert!((span("zoomed") - 28_800.0).abs() < 1.0 && (span("key") - 28_800.0).abs() < 1.0);
            assert!(number(&seen["moved"]["from"]) > number(&seen["zoomed"]["from"]));
            assert_ne!(seen["zoomed"]["box"], seen["all"]["box"]);
            assert_eq!(seen["whole"]["box"], "0 0 86400 100");
            assert!((number(&seen["right"]["now"]) - 433.0).abs() < 1.0, "{}", seen["right"]);
            assert!(number(&seen["point"]["now"]) > number(&seen["right"]["now"]));
            assert!(number(&seen["event"]["now"]) > number(&seen["point"]["now"]));
            // Dragging over a quarter of the day shows that quarter.
            assert!(
                (number(&seen["dragged"]["from"]) - 21_600.0).abs() < 400.0
                    && (span("dragged") - 21_600.0).abs() < 400.0
            );
            // A link goes to its moment.
            assert!((number(&seen["linked"]["now"]) - number(&seen["linked"]["t"])).abs() < 1e-6);
            // Nothing sticks out, nothing is cut off, nothing lies over another.
            assert!(number(&seen["widths"][1]) <= f64::from(width));
            assert!(
                number(&seen["widths"][0]) <= number(&seen["widths"][1]) + 0.5,
                "{name} at {width}: {}",
                seen["widths"]
            );
            assert_eq!(seen["cut"], serde_json::json!([]), "{name} at {width}");
            assert_eq!(seen["over"], serde_json::json!([]), "{name} at {width}");
            assert!(number(&seen["outputs"]) > 10.0);
        }
    }
}
