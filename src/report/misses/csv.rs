//! `misses.csv`: two rows per strategy that can be worked out: with common causes, and by noise alone.

use std::io;

use super::{SHARES, Told, both};
use crate::report::csv::{Sink, writer};
use crate::report::number::{exact, exact_or_empty};

/// Writes it.
pub(super) fn misses(told: &Told, sink: Sink) -> io::Result<()> {
    let mut out = writer(sink);
    let head = [
        "strategy",
        "by",
        "chance",
        "low",
        "high",
        "standard_error",
        "per_season",
        "per_season_low",
        "per_season_high",
    ];
    let more = [
        "draws",
        "effective_draws",
        "heaviest_weight",
        "approaches",
        "seasons",
        "particles",
        "died_out",
        "off_by_steps",
    ];
    out.write_record(head.iter().chain(&more).chain(SHARES.iter().map(|(column, _)| column)))?;
    for (name, misses) in told.worked_out() {
        for (by, chance) in both(misses) {
            let (mean, ends) = misses.per_season(chance);
            let mut row = vec![name.to_string(), by.to_string(), exact(chance.mean)];
            row.extend([chance.interval.map(|it| it.low), chance.interval.map(|it| it.high)].map(exact_or_empty));
            row.extend([exact(chance.error), exact(mean)]);
            row.extend([ends.map(|it| it.0), ends.map(|it| it.1)].map(exact_or_empty));
            row.extend([chance.draws.to_string(), exact(chance.effective), exact(chance.heaviest)]);
            row.extend([misses.approaches, misses.seasons].map(|count| count.to_string()));
            row.push(misses.particles.map_or(String::new(), |count| count.to_string()));
            row.extend([misses.died_out, misses.by_steps].map(exact));
            row.extend(misses.shares.map(exact));
            out.write_record(&row)?;
        }
    }
    out.flush()
}
