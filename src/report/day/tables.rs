//! `day.csv`: everything that was seen, one row for each point of each series; `events.csv`: the day's events, as a run
//! writes them.
//!
//! Columns of `day.csv`: `time` (local, RFC 3339, milliseconds), `series`, `value`, `unit`. Values have six significant
//! digits. An empty value: there is none (a mower out of sight, a sensor that says nothing); `far`: a ranger that sees no
//! target. Rows of a series are in order of time. Between the rows of a `likeliest`, a position, a temperature or a current
//! lies a straight line; weather, states and switches hold until their next row; readings and statistics stand alone.

use std::io;

use super::{Told, field};
use crate::report::csv::{EVENT_COLUMNS, Sink, event_rows, writer};

/// `day.csv`.
///
/// # Errors
/// If it can't be written.
pub fn day(told: &Told, sink: Sink) -> io::Result<()> {
    let film = &told.replay.film;
    let mut out = writer(sink);
    out.write_record(["time", "series", "value", "unit"])?;
    for series in &film.series {
        for (at, value) in &series.points {
            out.write_record([&(told.time)(*at), &series.name, &field(*value), series.unit])?;
        }
    }
    for states in [&film.mower, &film.controller] {
        for (at, state) in &states.changes {
            out.write_record([&(told.time)(*at), states.name, state, ""])?;
        }
    }
    out.flush()
}

/// `events.csv`.
///
/// # Errors
/// If it can't be written.
pub fn events(told: &Told, sink: Sink) -> io::Result<()> {
    let mut out = writer(sink);
    out.write_record(EVENT_COLUMNS)?;
    event_rows(&mut out, told.strategy(), told.replay.season, &told.replay.events, told.time)?;
    out.flush()
}
