//! The page of a day in a real browser: slider, buttons, keys, dragging, links, widths. Skipped where no browser is found.

mod browser_support;

use std::fs;
use std::path::Path;
use std::process::Command;

use browser_support::{Scheme, assert_in_order, find, print, skipped, visit};
use serde_json::Value;

/// Does what a reader does and writes down what came of it.
const USE: &str = r##"
const get = (id) => d.getElementById(id);
const data = JSON.parse(get("day-data").textContent);
const body = () => ({ ...d.body.dataset, panel: get("panel").getAttribute("y1"), clock: get("clock").textContent,
  box: d.querySelector(".plot svg").getAttribute("viewBox"), state: get("state").textContent });
const slide = (t) => { get("moment").value = t; get("moment").dispatchEvent(new w.Event("input")); return body(); };
const key = (name, shiftKey = false) => { get("timeline").dispatchEvent(new w.KeyboardEvent("keydown", { key: name, shiftKey })); return body(); };
const click = (act) => { d.querySelector(`[data-act=${act}]`).click(); return body(); };
found.start = body();
const door = data.series[data.scene.door];
const half = door.v.findIndex((share, place) => share < 50 && door.v[place + 1] >= 50);
const rise = (50 - door.v[half]) / (door.v[half + 1] - door.v[half]);
found.middle = door.t[half] + rise * (door.t[half + 1] - door.t[half]);
found.atHalf = slide(found.middle);
found.shut = slide(1);
found.zoomed = click("in");
found.moved = click("right");
found.all = click("all");
found.key = key("+");
found.whole = key("0");
found.right = key("ArrowRight");
found.point = key("ArrowRight", true);
found.event = key("PageDown");
found.later = click("after");
const plot = d.querySelector(".plot").getBoundingClientRect();
const point = (type, share) => d.querySelector(".plot").dispatchEvent(new w.PointerEvent(type, { bubbles: true,
  pointerType: "touch", pointerId: 1, button: 0, clientX: plot.left + 1 + share * (plot.width - 1), clientY: plot.top + 9 }));
point("pointerdown", 0.25); point("pointermove", 0.4); point("pointerup", 0.5);
found.dragged = body();
key("0");
const link = d.querySelector('tbody a[href^="#t="]');
w.location.hash = link.hash;
await new Promise((done) => setTimeout(done, 100));
found.linked = { ...body(), t: Number(link.hash.slice(3)) };
// Labels beside the tracks: whole, and none over its neighbour.
const box = (it) => it.getBoundingClientRect();
const ticks = [...d.querySelectorAll(".plot")].map((it) => [...it.querySelectorAll(".tick")].sort((a, b) => box(a).top - box(b).top));
found.cut = ticks.flat().filter((it) => it.scrollHeight > it.clientHeight + 2 || it.scrollWidth > it.clientWidth + 1
  || box(it).left < 0).map((it) => it.textContent);
found.over = ticks.flatMap((plot) => plot.slice(1).filter((it, place) => box(it).top < box(plot[place]).bottom - 2))
  .map((it) => it.textContent);
found.hours = [...d.querySelector(".axis").children].filter((it, place, all) => place > 0
  && box(it).left < box(all[place - 1]).right).map((it) => it.textContent);
found.outputs = d.querySelectorAll(".track output").length;
"##;

fn number(found: &Value, step: &str, what: &str) -> f64 {
    let value = if what.is_empty() { &found[step] } else { &found[step][what] };
    let parsed = value.as_f64().or(value.as_str().and_then(|text| text.parse().ok()));
    parsed.unwrap_or_else(|| panic!("{step} {what} is no number: {value}"))
}

#[test]
fn the_page_of_a_day_moves_and_zooms() {
    let Some(browser) = find() else {
        skipped("the_page_of_a_day_moves_and_zooms");
        return;
    };
    let place = Path::new(env!("CARGO_TARGET_TMPDIR")).join("day-page");
    let _ = fs::remove_dir_all(&place);
    fs::create_dir_all(&place).unwrap();
    for (name, season, date) in [("coast", "0", "2025-08-30"), ("hillside", "5", "2025-04-14")] {
        let scenario = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios").join(format!("{name}.toml"));
        let mut command = Command::new(env!("CARGO_BIN_EXE_dooryard"));
        command.arg("day").arg(scenario).args(["--season", season, "--date", date, "--out"]).arg(place.join(name));
        assert!(command.output().unwrap().status.success());
        let file = place.join(name).join("report.html");
        let page = fs::read_to_string(&file).unwrap();
        for (width, scheme) in [(390, Scheme::Dark), (1_280, Scheme::Light)] {
            let found = visit(&browser, &page, width, scheme, USE, &place);
            assert_in_order(&found, &format!("{name}, {width} pixels, {scheme:?}"));
            assert_used(&found);
            for list in ["cut", "over", "hours"] {
                assert_eq!(found[list], serde_json::json!([]), "{name}, {width} pixels: {list}");
            }
        }
        assert!(print(&browser, &file, &place.join(format!("{name}.pdf"))) > 20_000, "{name} on paper");
    }
}

fn assert_used(found: &Value) {
    let at = |step: &str, what: &str| number(found, step, what);
    // The slider moves the panel and the words.
    assert!((at("atHalf", "now") - at("middle", "")).abs() < 0.01);
    assert!(at("atHalf", "panel") + 5.0 < at("shut", "panel"), "the panel did not rise");
    assert_ne!(found["atHalf"]["state"], found["shut"]["state"]);
    assert_eq!(found["shut"]["clock"], "00:00:01");
    // Buttons and keys zoom and move the window.
    let span = |step: &str| at(step, "to") - at(step, "from");
    assert_eq!(span("all"), 86_400.0);
    assert!((span("zoomed") - 28_800.0).abs() < 1.0 && (span("key") - 28_800.0).abs() < 1.0);
    assert!(at("moved", "from") > at("zoomed", "from"));
    assert_ne!(found["zoomed"]["box"], found["all"]["box"]);
    assert_eq!(found["whole"]["box"], "0 0 86400 100");
    assert!((at("right", "now") - 433.0).abs() < 1.0);
    assert!(at("point", "now") > at("right", "now"));
    assert!(at("event", "now") > at("point", "now") && at("later", "now") > at("event", "now"));
    // Dragging over a quarter of the day shows that quarter.
    assert!((at("dragged", "from") - 21_600.0).abs() < 400.0 && (span("dragged") - 21_600.0).abs() < 400.0);
    // A link goes to its moment.
    assert!((at("linked", "now") - at("linked", "t")).abs() < 1e-6 && at("linked", "t") > 0.0);
    assert!(at("outputs", "") > 10.0);
}
