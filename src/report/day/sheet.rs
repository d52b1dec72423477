//! `day.svg`: the whole day on one sheet, for print and for those who want a picture only.

use std::fmt::Write as _;

use super::marks::{Paper, Scale, marks};
use super::tracks::{Body, Track, tracks};
use super::{Told, words};
use crate::report::plots::{escaped, shortened};

/// Width of the sheet, of the room left of the tracks and right of them.
const WIDTH: f64 = 1_100.0;
const LEFT: f64 = 200.0;
const RIGHT: f64 = 20.0;
/// Room above a track for its title.
const TITLE: f64 = 22.0;
/// Room for the heading.
const HEAD: f64 = 64.0;
/// Colours: Okabe and Ito 2008, from memory, as in the other drawings; differences also by dash and shape.
const STYLE: &str = "text{font-family:sans-serif;fill:#212529}.q{fill:#5A646E}path{fill:none;stroke-linejoin:round}\
.grid{stroke:#D5DAE0}.frame{stroke:#5A646E}.line-0{stroke:#0072B2;stroke-width:1.3}.line-1{stroke:#D55E00;stroke-width:1.3;\
stroke-dasharray:6 2}.line-2{stroke:#009E73;stroke-width:1.3;stroke-dasharray:2 2}.line-3{stroke:#CC79A7;stroke-width:1.3;\
stroke-dasharray:8 2 2 2}.line-4{stroke:#E69F00;stroke-width:1.3;stroke-dasharray:4 1}.line-5{stroke:#56B4E9;stroke-width:1.3;\
stroke-dasharray:1 1}.ground,.band{fill:#0072B2;fill-opacity:.18}.dots{stroke:#D55E00;stroke-width:3.6;stroke-linecap:round}\
.dots-1{stroke:#009E73;stroke-width:1.8;stroke-linecap:round}.level-0{stroke:#212529;stroke-dasharray:7 3}\
.level-1{stroke:#212529;stroke-dasharray:2 3}.level-2{stroke:#009E73;stroke-dasharray:7 3}\
.level-3{stroke:#009E73;stroke-dasharray:2 3}.span{fill:#0072B2;stroke:#0072B2;stroke-width:.7}";

/// The sheet.
pub fn timeline(told: &Told) -> String {
    let tracks = tracks(told);
    let tall: f64 = tracks.iter().map(|track| f64::from(track.height()) + TITLE + 8.0).sum();
    let height = HEAD + tall + 40.0;
    let scale = (WIDTH - LEFT - RIGHT) / told.length_s();
    let x = |second: f64| LEFT + second * scale;
    let mut out = String::new();
    let (title, answer) = (told.heading(), words::answer(told));
    let _ = write!(
        out,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH} {height}\" width=\"{WIDTH}\" height=\"{height}\">\n\
         <title>{}</title>\n<desc>{}</desc>\n<style>{STYLE}</style>\n\
         <rect width=\"{WIDTH}\" height=\"{height}\" fill=\"#FFFFFE\"/>\n",
        escaped(&title),
        escaped(&answer)
    );
    let room = WIDTH as usize - 24;
    text(&mut out, 12.0, 24.0, 16, "", &shortened(&title, room, 16.0));
    text(&mut out, 12.0, 44.0, 12, "q", &shortened(&answer, room, 12.0));
    let mut top = HEAD;
    for track in &tracks {
        track_on(&mut out, told, track, top, &x);
        top += f64::from(track.height()) + TITLE + 8.0;
    }
    for hour in 0..=(told.length_s() / 3_600.0) as u32 {
        let at = x(f64::from(hour) * 3_600.0);
        let _ = writeln!(out, "<path class=\"frame\" d=\"M{at:.1} {:.1}v5\"/>", top - 2.0);
        if hour % 2 == 0 {
            let wall = (told.wall_s(f64::from(hour) * 3_600.0) / 3_600.0).round() as u64;
            text(&mut out, at, top + 17.0, 11, "q\" text-anchor=\"middle", &format!("{wall}:00"));
        }
    }
    text(&mut out, LEFT - 34.0, top + 17.0, 11, "q\" text-anchor=\"end", "local time");
    out.push_str("</svg>\n");
    out
}

fn track_on(out: &mut String, told: &Told, track: &Track, top: f64, x: &dyn Fn(f64) -> f64) {
    let height = f64::from(track.height());
    let legend: Vec<String> = track.legend.iter().map(|(look, words)| format!("{}{words}", sign(look))).collect();
    let title = &track.title;
    text(out, LEFT, top + 15.0, 12, "", title);
    // About 6.6 pixels a letter (common practice for sans-serif at 12 pixels).
    let after = LEFT + 24.0 + 6.9 * title.chars().count() as f64;
    let room = (WIDTH - RIGHT - after).max(60.0) as usize;
    text(out, after, top + 15.0, 11, "q", &shortened(&legend.join("   "), room, 11.0));
    let _ = writeln!(out, "<g transform=\"translate(0 {:.1})\">", top + TITLE);
    match &track.body {
        Body::Chart { low, high, far_and_none, ticks, .. } => {
            let scale = Scale { low: *low, high: *high, far_and_none: *far_and_none, height };
            for (value, label) in ticks {
                text(out, LEFT - 8.0, scale.y(*value) + 4.0, 11, "q\" text-anchor=\"end", label);
            }
        }
        Body::Lanes(lanes) => {
            let tall = height / lanes.len().max(1) as f64;
            for (place, lane) in lanes.iter().enumerate() {
                let label = shortened(&lane.label, LEFT as usize - 20, 11.0);
                text(out, LEFT - 8.0, tall * (place as f64 + 0.72), 11, "q\" text-anchor=\"end", &label);
            }
        }
    }
    // What lies beyond the track, the sun at night for one, is cut off.
    let (from, width) = (LEFT, WIDTH - LEFT - RIGHT);
    let _ = writeln!(
        out,
        "<svg x=\"{from}\" y=\"0\" width=\"{width}\" height=\"{height}\" viewBox=\"{from} 0 {width} {height}\">"
    );
    out.push_str(&marks(told, track, &Paper { x, height }));
    let _ = writeln!(out, "</svg>\n<path class=\"frame\" d=\"M{from} 0V{height}H{}\"/></g>", from + width);
}

/// How a look is announced in the legend, where no line can be drawn.
fn sign(look: &str) -> &'static str {
    match look {
        "dots" => "\u{25cf} ",
        "dots-1" => "\u{2022} ",
        "band" => "\u{2588} ",
        "level-0" | "level-2" => "\u{2013} \u{2013} ",
        "level-1" | "level-3" => "\u{00b7}\u{00b7}\u{00b7} ",
        "line-0" => "\u{2014} ",
        look if look.starts_with("line") => "- - ",
        _ => "",
    }
}

fn text(out: &mut String, x: f64, y: f64, size: u32, class: &str, words: &str) {
    let _ = writeln!(
        out,
        "<text x=\"{x:.1}\" y=\"{y:.1}\" font-size=\"{size}\" class=\"{class}\">{}</text>",
        escaped(words)
    );
}
