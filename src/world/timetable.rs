//! The mower's timetable: weekly windows laid over the season's days, and starts that nobody scheduled.

use super::clock::LocalClock;
use crate::math::random::Source;
use crate::math::time::{Instant, Span};
use crate::scenario::mower::Mower;

/// One mowing window of the season.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MowWindow {
    /// Its first moment.
    pub from: Instant,
    /// The first moment after it.
    pub to: Instant,
    /// Its number in the season, from 0: the key of whatever is drawn for it.
    pub number: u64,
}

/// The season's mowing windows in order. Windows are given in civil time: on a day with a change of clocks one may
/// be an hour shorter or longer. Windows that overlap or touch are merged; what lies after the season is cut off.
pub fn windows(mower: &Mower, clock: &LocalClock) -> Vec<MowWindow> {
    let mut spans: Vec<(Instant, Instant)> = Vec::new();
    for day in 0..clock.days() {
        for window in mower.windows.iter().filter(|window| window.days[clock.weekday(day)]) {
            let from = clock.instant_of(day, f64::from(window.from_s));
            let to = clock.instant_of(day, f64::from(window.to_s)).min(clock.end());
            // A window inside the hour that the clocks skip has no length.
            if from < to {
                spans.push((from, to));
            }
        }
    }
    spans.sort_unstable();
    let mut merged: Vec<MowWindow> = Vec::with_capacity(spans.len());
    for (from, to) in spans {
        match merged.last_mut() {
            Some(last) if from <= last.to => last.to = last.to.max(to),
            _ => merged.push(MowWindow { from, to, number: merged.len() as u64 }),
        }
    }
    merged
}

/// Whether `at` lies in a window that begins `lead` earlier and ends `lag` later than the timetable says: what a
/// clock in the controller knows. `windows` must be as returned by [`windows`]; the end itself is outside.
pub fn inside(windows: &[MowWindow], at: Instant, lead: Span, lag: Span) -> bool {
    // Windows neither overlap nor touch, so the last one that has begun is also the last one to end.
    let begun = windows.partition_point(|window| window.from - lead <= at);
    begun > 0 && at < windows[begun - 1].to + lag
}

/// Unscheduled starts: a Poisson process of `unscheduled_per_day` per 24 hours, uniform over the season, in order.
/// Drawn from the stream `mower unscheduled`, entity 0.
pub fn unscheduled(mower: &Mower, clock: &LocalClock, seed: u64, season: u64) -> Vec<Instant> {
    let mut starts = Vec::new();
    if mower.unscheduled_per_day.is_nan() || mower.unscheduled_per_day <= 0.0 {
        return starts;
    }
    let mut stream = Source::new(seed, season, "mower unscheduled").stream(0);
    let mean_gap_s = Span::DAY.seconds() / mower.unscheduled_per_day;
    let mut elapsed_s = 0.0;
    loop {
        elapsed_s += stream.exponential(mean_gap_s);
        let at = Instant::from_seconds(elapsed_s);
        if at >= clock.end() {
            return starts;
        }
        starts.push(at);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::mower::{Approach, Departure, Dock, RainHabit, RainManners, ShutDoor, Spread, Window};
    use crate::scenario::season::Calendar;
    use jiff::civil::{Date, date};

    fn mower(windows: Vec<Window>, unscheduled_per_day: f64) -> Mower {
        let none = Spread { mean_s: 0.0, sd_s: 0.0 };
        Mower {
            length_m: 0.6,
            width_m: 0.4,
            height_m: 0.3,
            mass_kg: 11.0,
            reflectance: 0.3,
            axles: None,
            windows,
            run: none,
            charge: none,
            lawn_s: 0.0,
            start_delay_s: 0.0,
            unscheduled_per_day,
            approach: Approach {
                way_home: Spread { mean_s: 60.0, sd_s: 0.0 },
                from_m: 6.0,
                speed_m_s: 0.4,
                slow_from_m: 3.0,
                slow_speed_m_s: 0.2,
                speed_spread: 0.0,
                sideways_m: 0.0,
            },
            departure: Departure { notice_s: 0.0, patience_s: 0.0, speed_m_s: 0.2 },
            shut_door: ShutDoor {
                waits_at_m: 0.5,
                patience_s: 60.0,
                retries: 0,
                back_off_m: 1.0,
                bumps: false,
                bump_force_n: 0.0,
                help_after_s: 0.0,
            },
            dock: Dock { depth_m: 0.8, failure: 0.0, back_off_m: 0.4, attempts: 1 },
            rain: RainManners { habit: RainHabit::CarryOn, reacts_after_s: 0.0, resumes_after_s: 0.0 },
        }
    }

    fn clock(first_day: Date, last_day: Date) -> LocalClock {
        LocalClock::new(&Calendar { first_day, last_day }, "Europe/Vienna").unwrap()
    }

    fn window(days: [bool; 7], from_h: i32, to_h: i32) -> Window {
        Window { days, from_s: from_h * 3600, to_s: to_h * 3600 }
    }

    #[test]
    fn windows_follow_the_civil_clock() {
        // Friday 28 March to Monday 31 March 2025; the clocks skip 02:00 to 03:00 on Sunday.
        let clock = clock(date(2025, 3, 28), date(2025, 3, 31));
        let weekend = [false, false, false, false, false, true, true];
        let found = windows(&mower(vec![window(weekend, 9, 17), window([true; 7], 1, 4)], 0.0), &clock);
        let labels: Vec<_> = found.iter().map(|w| (clock.label(w.from), w.to.since(w.from).hours())).collect();
        assert_eq!(labels[0], ("2025-03-28T01:00:00+01:00".to_owned(), 3.0));
        assert_eq!(labels[2], ("2025-03-29T09:00:00+01:00".to_owned(), 8.0));
        assert_eq!(labels[3], ("2025-03-30T01:00:00+01:00".to_owned(), 2.0));
        assert_eq!(labels[4], ("2025-03-30T09:00:00+02:00".to_owned(), 8.0));
        assert_eq!(found.iter().map(|w| w.number).collect::<Vec<_>>(), [0, 1, 2, 3, 4, 5]);
    }

    #[test]
    fn overlaps_merge_and_the_season_cuts() {
        let clock = clock(date(2025, 5, 1), date(2025, 5, 2));
        let every = [true; 7];
        // 8-12 and 10-14 overlap; 14-15 touches; 20-24 touches the next day's 0-2.
        let list = vec![window(every, 10, 14), window(every, 8, 12), window(every, 14, 15), window(every, 20, 24)];
        let list = [list, vec![window(every, 0, 2), window(every, 23, 30)]].concat();
        let found = windows(&mower(list, 0.0), &clock);
        let hours: Vec<_> = found.iter().map(|w| (w.from.seconds() / 3600.0, w.to.seconds() / 3600.0)).collect();
        assert_eq!(hours, [(0.0, 2.0), (8.0, 15.0), (20.0, 30.0), (32.0, 39.0), (44.0, 48.0)]);
    }

    #[test]
    fn lead_and_lag_widen_the_windows() {
        let clock = clock(date(2025, 5, 1), date(2025, 5, 2));
        let found = windows(&mower(vec![window([true; 7], 9, 11), window([true; 7], 12, 13)], 0.0), &clock);
        let at = |hour: f64| Instant::from_seconds(hour * 3600.0);
        let quarter = Span(Span::MINUTE.0 * 15);
        let asked = |hour: f64, lead: Span, lag: Span| inside(&found, at(hour), lead, lag);
        assert!(!asked(8.9, Span::ZERO, Span::ZERO) && asked(8.9, quarter, Span::ZERO));
        assert!(asked(9.0, Span::ZERO, Span::ZERO) && !asked(11.0, Span::ZERO, Span::ZERO));
        assert!(asked(11.2, Span::ZERO, quarter) && !asked(11.3, Span::ZERO, quarter));
        // Widened so far that they overlap, without a hole.
        assert!((0..=40).all(|i| asked(9.0 + 0.1 * f64::from(i), Span::HOUR, Span::HOUR)));
        assert!(!asked(14.0, Span::HOUR, Span::HOUR) && asked(33.5, Span::ZERO, Span::ZERO));
        assert!(!inside(&[], at(9.0), Span::HOUR, Span::HOUR));
    }

    /// The number of starts is Poisson: over 200 seasons its mean is within 4 standard errors of rate x time, and
    /// its variance equals its mean (index of dispersion, standard error sqrt(2/n)).
    #[test]
    fn unscheduled_starts_are_poisson() {
        let clock = clock(date(2025, 4, 1), date(2025, 6, 30));
        let robot = mower(Vec::new(), 0.2);
        let seasons = 200_u64;
        let counts: Vec<f64> = (0..seasons).map(|season| unscheduled(&robot, &clock, 1, season).len() as f64).collect();
        let mean = counts.iter().sum::<f64>() / seasons as f64;
        let exact = 0.2 * 91.0;
        assert!((mean - exact).abs() < 4.0 * (exact / seasons as f64).sqrt(), "{mean}, exact {exact}");
        let variance = counts.iter().map(|c| (c - mean).powi(2)).sum::<f64>() / (seasons - 1) as f64;
        assert!((variance / mean - 1.0).abs() < 4.0 * (2.0 / seasons as f64).sqrt(), "dispersion {}", variance / mean);
        assert!(unscheduled(&mower(Vec::new(), 0.0), &clock, 1, 0).is_empty());
    }
}
