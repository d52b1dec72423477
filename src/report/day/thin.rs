//! Fewer points for pictures, where a series has more than a picture can show.
//!
//! The day is cut into stretches; of each the first, smallest, largest and last point stay. Tables keep everything.

use super::Told;
use crate::ledger::film::Series;
use crate::math::time::Instant;
use crate::study::day::Replay;

/// Most points of a series in a picture.
pub const MOST: usize = 6_000;

/// The day with series thinned out; none if all are short enough.
pub fn thinned(told: &Told) -> Option<Replay> {
    if told.replay.film.series.iter().all(|series| series.points.len() <= MOST) {
        return None;
    }
    let mut replay = told.replay.clone();
    let (from, to) = (replay.film.from, replay.film.to);
    for series in &mut replay.film.series {
        thin(series, from, to);
    }
    Some(replay)
}

fn thin(series: &mut Series, from: Instant, to: Instant) {
    if series.points.len() <= MOST {
        return;
    }
    let stretches = MOST as i64 / 4;
    let length = to.since(from).0.max(1);
    let stretch = |at: Instant| at.since(from).0.saturating_mul(stretches) / length;
    // "No reading" counts as smallest, "far" as largest, so that both stay.
    let size = |value: f64| if value.is_nan() { f64::NEG_INFINITY } else { value };
    let mut kept = Vec::with_capacity(MOST);
    for part in series.points.chunk_by(|a, b| stretch(a.0) == stretch(b.0)) {
        let order = |a: &usize, b: &usize| size(part[*a].1).total_cmp(&size(part[*b].1));
        let least = (0..part.len()).min_by(order).unwrap_or(0);
        let most = (0..part.len()).max_by(order).unwrap_or(0);
        let mut places = vec![0, least, most, part.len() - 1];
        places.sort_unstable();
        places.dedup();
        kept.extend(places.into_iter().map(|place| part[place]));
    }
    series.points = kept;
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ledger::film::{About, Shape};

    #[test]
    fn extremes_stay() {
        let mut series = Series::new(About::Reading(0), "r", "m", Shape::Dots);
        let day = Instant::from_seconds(86_400.0);
        for sample in 0..100_000_u32 {
            let value = match sample {
                777 => -9.0,
                50_000 => f64::INFINITY,
                60_001 => f64::NAN,
                _ => f64::from(sample % 10),
            };
            series.points.push((Instant(i64::from(sample) * 864_000), value));
        }
        let all = series.points.clone();
        thin(&mut series, Instant::START, day);
        assert!(series.points.len() <= MOST && series.points.len() > MOST / 2);
        let has = |test: fn(f64) -> bool| series.points.iter().any(|(_, value)| test(*value));
        assert!(has(|v| v == -9.0) && has(f64::is_nan) && has(f64::is_infinite));
        assert!(series.points.windows(2).all(|pair| pair[0].0 < pair[1].0));
        assert!(series.points.iter().all(|point| all.iter().any(|other| other.0 == point.0)));
    }
}
