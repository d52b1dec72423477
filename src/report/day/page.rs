//! `report.html` of a day. Without its script it shows the whole day and the shelter at one moment; with it the
//! timeline can be zoomed and read point by point, and the shelter moves along with the chosen moment.

use maud::{Markup, PreEscaped, html};

use super::data::{data, start};
use super::marks::{Paper, Scale, marks};
use super::scene::{Scene, swatch};
use super::tracks::{Body, Track, tracks};
use super::{Told, words};
use crate::report::page::document::{self, Document, Section};
use crate::report::page::run::assumptions;
use crate::report::page::{Cell, Table, verdict};
use crate::report::study_file::assumptions_file;

/// Height of a track in its own units; the page stretches it.
const TALL: f64 = 100.0;
/// Most events that the page lists.
const EVENTS_MOST: usize = 3_000;

/// The page.
pub fn page(told: &Told) -> String {
    let tracks = tracks(told);
    let answer = html! {
        (verdict(words::tone(told), &words::answer(told), told.found.as_slice()))
        (happened(told))
    };
    let day = html! {
        (controls(told))
        (lens(told))
        (timeline(told, &tracks))
        (document::data("day-data", &data(told, &tracks)))
    };
    let sections = vec![
        Section::new("answer", "What happened", answer),
        Section::new("day", "The day", day),
        Section::new("events", "All events", events(told)),
        Section::new("figures", "The day in figures", figures(told)),
        Section::new("read", "How to read it", how_to_read(told)),
        Section::new("assumptions", "Assumptions", rests_on(told)),
    ];
    let lead = html! {
        p { (told.replay.date) ", season " (told.replay.season) ", strategy " strong { (told.strategy()) } }
        (document::note(&format!("Seed {}. dooryard {}.", told.replay.seed, told.study.version)))
        (document::warnings(told.warnings))
    };
    Document {
        title: format!("{}: {}", told.scenario.name, told.replay.date),
        heading: format!("{}: one day", told.scenario.name),
        lead,
        sections,
        styles: &[include_str!("day.css")],
        scripts: &[include_str!("day.js")],
    }
    .render()
}

/// A link that takes the timeline to a moment.
fn moment(told: &Told, at: crate::math::time::Instant) -> Markup {
    html! { a href={ "#t=" (told.second(at)) } { (told.clock(at)) } }
}

fn happened(told: &Told) -> Markup {
    let mut table = Table::new("What happened and why", &["time", "what", "why"]).in_order().left(&[1, 2]);
    for incident in &told.replay.story {
        let (what, why) = words::incident(incident);
        table.row(vec![Cell::markup(moment(told, incident.at)), Cell::text(what), Cell::text(why)]);
    }
    html! { @if !table.is_empty() { (table.render()) } }
}

fn controls(told: &Told) -> Markup {
    let button = |act: &str, text: &str, name: &str| {
        html! { button type="button" data-act=(act) aria-label=(name) title=(name) { (text) } }
    };
    html! {
        noscript { (document::note("Without script the page shows the whole day at once, and the shelter at one moment.")) }
        div #controls .controls hidden {
            output #clock { (told.clock(start(told))) }
            input #moment type="range" min="0" max=(told.length_s()) step="any" aria-label="Moment of the day";
            div.buttons {
                (button("before", "⇤", "Event before"))
                (button("after", "⇥", "Event after"))
                (button("in", "+", "Zoom in"))
                (button("out", "−", "Zoom out"))
                (button("left", "←", "Earlier"))
                (button("right", "→", "Later"))
                (button("all", "all", "Show the whole day"))
            }
        }
    }
}

fn lens(told: &Told) -> Markup {
    let scene = Scene::new(told);
    let at = start(told);
    html! {
        h3 { "The shelter at " span #when { (told.clock(at)) } }
        figure.lens {
            (scene.render(at))
            figcaption {
                p #state { (state(told)) }
                (scene.list(at))
            }
        }
    }
}

fn state(told: &Told) -> String {
    let (film, at) = (&told.replay.film, start(told));
    let of = |states: &crate::ledger::film::States| {
        states.changes.iter().rev().find(|(since, _)| *since <= at).map_or("", |(_, state)| *state)
    };
    format!("Mower: {}. Controller: {}.", of(&film.mower), of(&film.controller))
}

fn timeline(told: &Told, tracks: &[Track]) -> Markup {
    let length = told.length_s();
    let says = "Timeline of the day. Arrow keys move the cursor, with Shift to the next recorded point; plus and minus zoom; \
                Page Up and Page Down go from event to event; 0 shows the whole day.";
    html! {
        h3 { "Timeline" }
        div #timeline .timeline tabindex="0" role="group" aria-label=(says) {
            (axis(told))
            @for (number, track) in tracks.iter().enumerate() { (one(told, number, track, length)) }
            (axis(told))
            div #cursor .cursor hidden {}
            div #selection .selection hidden {}
        }
    }
}

/// Hours below and above the tracks; the script writes finer ones.
fn axis(told: &Told) -> Markup {
    let hours: Vec<f64> = (0..=4).map(|quarter| told.length_s() * f64::from(quarter) / 4.0).collect();
    html! {
        div.axis aria-hidden="true" {
            @for second in hours {
                span style={ "left:" (format!("{:.2}", 100.0 * second / told.length_s())) "%" } {
                    @let wall = told.wall_s(second).round() as u64;
                    (format!("{}:{:02}", wall / 3_600, wall / 60 % 60))
                }
            }
        }
    }
}

fn one(told: &Told, number: usize, track: &Track, length: f64) -> Markup {
    let drawing = marks(told, track, &Paper { x: &|second| second, height: TALL });
    html! {
        div.track id={ "track-" (number) } {
            div.head { h4 { (track.title) } output {} }
            @if !track.legend.is_empty() {
                ul.legend { @for (look, words) in &track.legend { li { (swatch(look)) (words) } } }
            }
            div.plot style={ "height:" (track.height()) "px" } {
                (labels(&track.body))
                svg viewBox={ "0 0 " (length) " " (TALL) } preserveAspectRatio="none" role="img" aria-label=(track.alt) {
                    (PreEscaped(drawing))
                }
            }
        }
    }
}

/// Values or names left of a track.
fn labels(body: &Body) -> Markup {
    match body {
        Body::Chart { low, high, far_and_none, ticks, .. } => {
            let scale = Scale { low: *low, high: *high, far_and_none: *far_and_none, height: 100.0 };
            html! {
                @for (value, label) in ticks {
                    span.tick style={ "top:" (format!("{:.1}", scale.y(*value))) "%" } { (label) }
                }
            }
        }
        Body::Lanes(lanes) => {
            let tall = 100.0 / lanes.len().max(1) as f64;
            html! {
                @for (place, lane) in lanes.iter().enumerate() {
                    span.tick title=(lane.label) style={ "top:" (format!("{:.1}", tall * (place as f64 + 0.5))) "%" } {
                        (lane.label)
                    }
                }
            }
        }
    }
}

fn events(told: &Told) -> Markup {
    let mut table = Table::new("Events of the day", &["time", "who", "what", "why"]).in_order().left(&[1, 2, 3]);
    for event in told.replay.events.iter().take(EVENTS_MOST) {
        table.row(vec![
            Cell::markup(moment(told, event.at)),
            Cell::text(&event.who),
            Cell::text(&event.what),
            Cell::text(&event.detail),
        ]);
    }
    let note = match told.replay.events.len() {
        all if all > EVENTS_MOST => format!("The first {EVENTS_MOST} of {all} events; all are in events.csv."),
        _ => "The same rows are in events.csv.".to_string(),
    };
    html! { div.events { (table.render()) } (document::note(&note)) }
}

fn figures(told: &Told) -> Markup {
    let mut table = Table::new("From the season's books", &["figure", "that day"]).in_order();
    for (name, value) in words::figures(told) {
        table.row(vec![Cell::text(name), Cell::text(value)]);
    }
    table.render()
}

fn how_to_read(told: &Told) -> Markup {
    let reading = [
        "Dots are readings that were drawn. While nothing can come of them readings are skipped, and nothing is made up in \
         their place: the line there is the likeliest reading, the band two standard deviations to both sides.",
        "\"far\" is a ranger that sees no target, \"none\" a sample without a reading.",
        "Detectors and rules are shown as the controller hears them, after the sensor's latency.",
        "Sums (CUSUM, likelihood ratio) begin anew when their detector changes over.",
        "Current and temperatures are those of the drive's model: quasi-static, with wind and temperature rounded up to the \
         classes for which strokes are solved.",
        "At rest the motor is as warm as its model would find it if a stroke began at that moment.",
        "Every value of the page is in day.csv, six significant digits; of a series with very many points the page shows \
         the first, smallest, largest and last of each short stretch.",
    ];
    html! { (document::list(&reading)) (document::list(told.cautions)) }
}

fn rests_on(told: &Told) -> Markup {
    html! {
        @for (index, played) in told.study.scenarios.iter().enumerate() {
            (document::note(&format!("Scenario SHA-256: {}", played.sha256)))
            (assumptions::values(&played.assumptions, &assumptions_file(index)))
            (document::appendix("The scenario as a file", &html! { pre tabindex="0" { (played.resolved) } }))
        }
    }
}
