//! A headless browser that opens a page in a frame of a given width, lets a script use it, and says what came of it.

#![allow(dead_code)]

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::{env, fs};

/// Names under which the browser is looked for.
const NAMES: [&str; 5] = ["chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome"];

/// Notes every error of a script and every fetch that the page's policy refuses; stands before anything else in it.
const RECORDER: &str = "<script>window.failures = [];\
    addEventListener('error', (e) => failures.push(`error: ${e.message}`));\
    addEventListener('unhandledrejection', (e) => failures.push(`rejected: ${e.reason}`));\
    addEventListener('securitypolicyviolation', (e) => failures.push(`fetched: ${e.blockedURI}`));</script>";

/// What every page is looked at for; `w` is its window, `d` its document.
const SURVEY: &str = "\
    const root = d.documentElement;\
    const right = (e) => e.getBoundingClientRect().right;\
    const inside = (e) => !e.closest('.scroll, svg, pre');\
    const found = { failures: w.failures, fetched: w.performance.getEntriesByType('resource').length,\
      overflow: root.scrollWidth - root.clientWidth,\
      wide: [...d.body.querySelectorAll('*')].filter((e) => inside(e) && right(e) > root.clientWidth + 1)\
        .map((e) => `${e.tagName} ${e.textContent.slice(0, 40)}`),\
      drawings: d.querySelectorAll('svg').length, clipped: [], empty: [], faint: [],\
      paper: w.getComputedStyle(d.body).backgroundColor };\
    const parts = (color) => color.match(/[0-9.]+/g).map(Number);\
    const linear = (part) => part <= 10.31475 ? part / 3294.6 : ((part / 255 + 0.055) / 1.055) ** 2.4;\
    const luminance = (color) => { const [r, g, b] = parts(color).map(linear); return 0.2126 * r + 0.7152 * g + 0.0722 * b; };\
    const ground = (e) => { for (; e; e = e.parentElement) { const color = w.getComputedStyle(e).backgroundColor;\
      if ((parts(color)[3] ?? 1) === 1) return color; } return 'rgb(255, 255, 255)'; };\
    for (const e of d.body.querySelectorAll('*')) {\
      if (e.closest('svg, script') || ![...e.childNodes].some((node) => node.nodeType === 3 && node.data.trim())) continue;\
      const pair = [luminance(w.getComputedStyle(e).color), luminance(ground(e))].sort((a, b) => b - a);\
      const ratio = (pair[0] + 0.05) / (pair[1] + 0.05);\
      if (ratio < 4.5) found.faint.push(`${ratio.toFixed(2)} ${e.tagName} ${e.textContent.slice(0, 30)}`);\
    }\
    for (const svg of d.querySelectorAll('figure svg')) {\
      if (svg.closest('details:not([open])')) continue;\
      const sheet = svg.getBoundingClientRect();\
      for (const text of svg.querySelectorAll('text')) {\
        const box = text.getBoundingClientRect();\
        if (box.width && (box.left < sheet.left - 1 || box.right > sheet.right + 1 || box.top < sheet.top - 1\
            || box.bottom > sheet.bottom + 1)) found.clipped.push(text.textContent.trim());\
      }\
      if (svg.querySelectorAll('path, polyline, polygon, line, rect, circle').length < 4)\
        found.empty.push(svg.querySelector('title').textContent);\
    }";

/// Says that a test was skipped: past the test's captured output, so that a run without a browser is no silent success.
pub fn skipped(test: &str) {
    let words = format!("{test}: skipped, no browser was found; DOORYARD_BROWSER may name one\n");
    let _ = std::io::Write::write_all(&mut std::io::stderr(), words.as_bytes());
}

/// The browser: the one that `DOORYARD_BROWSER` names, or the first one found; none if there is none.
pub fn find() -> Option<PathBuf> {
    if let Some(named) = env::var_os("DOORYARD_BROWSER") {
        return Some(named.into());
    }
    let folders: Vec<PathBuf> = env::split_paths(&env::var_os("PATH")?).collect();
    NAMES.iter().flat_map(|name| folders.iter().map(move |folder| folder.join(name))).find(|path| path.is_file())
}

/// Whether the page is shown light or dark.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Scheme {
    /// Light.
    Light,
    /// Dark.
    Dark,
}

fn browser(path: &Path, scheme: Scheme) -> Command {
    let mut command = Command::new(path);
    command.args(["--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", "--window-size=1400,1000"]);
    let value = if scheme == Scheme::Dark { 0 } else { 1 };
    command.arg(format!("--blink-settings=preferredColorScheme={value}"));
    command.stderr(Stdio::null());
    command
}

/// Opens `page` in a frame `width` pixels wide, surveys it, runs `script` (which may add to `found`) and returns what
/// was found. `scratch` is a folder for the frame's file.
pub fn visit(path: &Path, page: &str, width: u32, scheme: Scheme, script: &str, scratch: &Path) -> serde_json::Value {
    let page = page.replacen("<head>", &format!("<head>{RECORDER}"), 1);
    let page = page.replace('&', "&amp;").replace('"', "&quot;");
    let frame = format!(
        "<!DOCTYPE html><html lang=\"en\"><title>frame</title><body>\
         <iframe width=\"{width}\" height=\"900\" srcdoc=\"{page}\"></iframe><pre id=\"found\"></pre>\
         <script>const frame = document.querySelector('iframe');\
         frame.addEventListener('load', async () => {{ const w = frame.contentWindow, d = frame.contentDocument;\
         let told; try {{ {SURVEY} {script} told = found; }} catch (e) {{ told = {{ failures: [String(e)] }}; }}\
         document.querySelector('#found').textContent = JSON.stringify(told); }});</script></body></html>"
    );
    let file = scratch.join(format!("frame-{width}-{scheme:?}.html"));
    fs::write(&file, frame).unwrap();
    let output = browser(path, scheme)
        .args(["--virtual-time-budget=20000", "--dump-dom"])
        .arg(format!("file://{}", file.display()))
        .output()
        .unwrap();
    let text = String::from_utf8_lossy(&output.stdout);
    let found = text.split_once("<pre id=\"found\">").and_then(|(_, rest)| rest.split_once("</pre>"));
    let found = found.unwrap_or_else(|| panic!("the browser showed nothing: {text}")).0;
    let found = found.replace("&lt;", "<").replace("&gt;", ">").replace("&amp;", "&");
    serde_json::from_str(&found).unwrap_or_else(|error| panic!("{error}: {found}"))
}

/// Nothing failed, nothing was fetched, nothing is too wide or cut off or empty.
pub fn assert_in_order(found: &serde_json::Value, what: &str) {
    for list in ["failures", "wide", "clipped", "empty", "faint"] {
        assert_eq!(found[list], serde_json::json!([]), "{what}: {list}");
    }
    assert_eq!(found["fetched"], 0, "{what}");
    assert_eq!(found["overflow"], 0, "{what}");
}

/// Prints a page's file to PDF; the number of bytes.
pub fn print(path: &Path, page: &Path, target: &Path) -> u64 {
    let status = browser(path, Scheme::Light)
        .arg(format!("--print-to-pdf={}", target.display()))
        .arg(format!("file://{}", page.display()))
        .stdout(Stdio::null())
        .status()
        .unwrap();
    assert!(status.success());
    fs::metadata(target).unwrap().len()
}
