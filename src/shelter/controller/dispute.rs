//! Sensors that ought to say the same and do not.

use crate::math::time::{Instant, Span};

/// What several detectors say that ought to say the same.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Voices {
    /// At least one of those that are asked speaks.
    pub some: bool,
    /// All of them speak.
    pub all: bool,
}

impl Voices {
    /// Of those that are asked, as bits, the ones in `on` speak.
    pub fn of(asked: u64, on: u64) -> Voices {
        let on = on & asked;
        Voices { some: on != 0, all: on == asked }
    }

    /// Whether they contradict each other; one alone contradicts nobody.
    pub fn differ(self) -> bool {
        self.some && !self.all
    }
}

/// How long they have contradicted each other.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Dispute {
    /// Since when; none while they agree.
    since: Option<Instant>,
    /// Whether it was found to have lasted too long, and whether by the last decision.
    found: bool,
    news: bool,
}

impl Dispute {
    /// Hears them at `now`; whether they have contradicted each other for `after_s` without a break (infinite: never).
    pub fn hears(&mut self, now: Instant, voices: Voices, after_s: f64) -> bool {
        if !voices.differ() || !after_s.is_finite() {
            *self = Dispute::default();
            return false;
        }
        self.since.get_or_insert(now);
        let lasts = now >= self.lasts_from(after_s);
        self.news = lasts && !self.found;
        self.found = lasts;
        lasts
    }

    /// When it will have lasted for `after_s`; never if it has, or if there is none.
    pub fn due(&self, after_s: f64) -> Instant {
        if self.found { Instant::NEVER } else { self.lasts_from(after_s) }
    }

    fn lasts_from(&self, after_s: f64) -> Instant {
        match self.since {
            Some(since) if after_s.is_finite() => since + Span::from_seconds(after_s),
            _ => Instant::NEVER,
        }
    }

    /// Whether it was found to have lasted too long, and still goes on.
    pub fn lasts(&self) -> bool {
        self.found
    }

    /// A further decision begins.
    pub fn nothing_new(&mut self) {
        self.news = false;
    }

    /// Whether the last hearing was the first to find that it has lasted too long.
    pub fn is_news(&self) -> bool {
        self.news
    }

    /// Whether they contradict each other, and that can have consequences.
    pub fn is_open(&self) -> bool {
        self.since.is_some()
    }
}
