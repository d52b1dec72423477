//! Straight motion at constant speed, and standing still.

use arrayvec::ArrayVec;

use crate::math::time::{Instant, Span};

/// A stretch of motion in the ground plane.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Motion {
    began: Instant,
    x_m: f64,
    y_m: f64,
    vx_m_s: f64,
    vy_m_s: f64,
    lasts: Span,
}

impl Motion {
    /// Standing at (x, y).
    pub fn standing(at: Instant, x_m: f64, y_m: f64) -> Motion {
        Motion { began: at, x_m, y_m, vx_m_s: 0.0, vy_m_s: 0.0, lasts: Span::ZERO }
    }

    /// From one point to another at `speed_m_s`, beginning at `at`.
    pub fn straight(at: Instant, from: (f64, f64), to: (f64, f64), speed_m_s: f64) -> Motion {
        let length = libm::hypot(to.0 - from.0, to.1 - from.1);
        if length <= 0.0 || speed_m_s <= 0.0 {
            return Motion::standing(at, to.0, to.1);
        }
        let seconds = length / speed_m_s;
        Motion {
            began: at,
            x_m: from.0,
            y_m: from.1,
            vx_m_s: (to.0 - from.0) / seconds,
            vy_m_s: (to.1 - from.1) / seconds,
            lasts: Span::from_seconds(seconds),
        }
    }

    /// Position at a moment; beyond its end it stands there.
    pub fn at(&self, now: Instant) -> (f64, f64) {
        let seconds = now.since(self.began).seconds().clamp(0.0, self.lasts.seconds());
        (self.x_m + self.vx_m_s * seconds, self.y_m + self.vy_m_s * seconds)
    }

    /// When it passes a line of constant x, to the microsecond; none if it never does.
    pub fn passes_x(&self, x_m: f64) -> Option<Instant> {
        self.passes((x_m - self.x_m) / self.vx_m_s)
    }

    /// When it passes a line of constant y.
    pub fn passes_y(&self, y_m: f64) -> Option<Instant> {
        self.passes((y_m - self.y_m) / self.vy_m_s)
    }

    fn passes(&self, seconds: f64) -> Option<Instant> {
        // Standing still gives no number or infinity.
        (seconds >= 0.0 && seconds <= self.lasts.seconds()).then(|| self.began + Span::from_seconds(seconds))
    }

    /// Where it begins.
    pub fn start(&self) -> (f64, f64) {
        (self.x_m, self.y_m)
    }

    /// Where it ends.
    pub fn end(&self) -> (f64, f64) {
        self.at(self.ends())
    }

    /// When it ends.
    pub fn ends(&self) -> Instant {
        self.began + self.lasts
    }

    /// How fast.
    pub fn speed_m_s(&self) -> f64 {
        libm::hypot(self.vx_m_s, self.vy_m_s)
    }

    /// Whether it has held since before `since`, with nothing moving from then on.
    pub fn is_still_since(&self, since: Instant) -> bool {
        self.began < since && !(self.moves() && self.ends() >= since)
    }

    /// Whether it moves at all.
    pub fn moves(&self) -> bool {
        self.lasts.0 > 0
    }
}

/// Where somebody came from: the last few motions before the present one.
#[derive(Clone, Debug, Default)]
pub struct Trail {
    motions: ArrayVec<Motion, 3>,
}

impl Trail {
    /// A motion is over, before its time or at its end.
    pub fn leaves(&mut self, motion: Motion) {
        if self.motions.is_full() {
            self.motions.remove(0);
        }
        self.motions.push(motion);
    }

    /// Position at a moment of the present motion or, as far as it is known, before it.
    #[inline]
    pub fn at(&self, present: &Motion, at: Instant) -> (f64, f64) {
        if at >= present.began { present.at(at) } else { self.before(present, at) }
    }

    /// Only those who ask what is remembered look so far back.
    #[cold]
    fn before(&self, present: &Motion, at: Instant) -> (f64, f64) {
        self.motions.iter().rev().find(|motion| motion.began <= at).unwrap_or(present).at(at)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn goes_and_stays() {
        let motion = Motion::straight(Instant::from_seconds(10.0), (3.0, 0.0), (0.0, 4.0), 0.5);
        assert_eq!(motion.ends(), Instant::from_seconds(20.0));
        let (x, y) = motion.at(Instant::from_seconds(15.0));
        assert!((x - 1.5).abs() < 1e-12 && (y - 2.0).abs() < 1e-12);
        let (x, y) = motion.at(Instant::from_seconds(99.0));
        assert!(x.abs() < 1e-12 && (y - 4.0).abs() < 1e-12);
        assert!(!Motion::standing(Instant::START, 1.0, 2.0).moves());
    }

    #[test]
    fn a_trail_leads_back() {
        let s = Instant::from_seconds;
        let coming = Motion::straight(s(0.0), (10.0, 0.0), (0.0, 0.0), 1.0);
        let stands = Motion::standing(s(4.0), 6.0, 0.0);
        let going = Motion::straight(s(5.0), (6.0, 0.0), (6.0, 3.0), 1.0);
        let mut trail = Trail::default();
        assert_eq!(trail.at(&coming, s(-1.0)), (10.0, 0.0));
        trail.leaves(coming);
        trail.leaves(stands);
        let at = |seconds| trail.at(&going, s(seconds));
        assert_eq!([at(1.0), at(4.5), at(6.0)], [(9.0, 0.0), (6.0, 0.0), (6.0, 1.0)]);
        assert!(stands.is_still_since(s(4.1)) && !stands.is_still_since(s(4.0)) && !coming.is_still_since(s(9.0)));
    }
}
