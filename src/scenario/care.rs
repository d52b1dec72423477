//! The cautious half of `[controller]`: what a controller proves before it closes, how it comes back after a loss of
//! power, how it judges its sensors, and what it does when tries are used up.
//!
//! The defaults, in [`Care::default`], are common practice throughout; each can be changed or turned off, so that its worth can be
//! measured.

use crate::math::time::Span;

/// What a sensor's condition may be judged by.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Unhealthy {
    /// It says nothing.
    pub dead: bool,
    /// It repeats one value although its noise exceeds its resolution.
    pub frozen: bool,
    /// Its noise is a multiple of the stated one.
    pub noisy: bool,
    /// Its reference (background, empty platform, shut panel) has moved.
    pub drifted: bool,
}

/// Which time a stroke's time-out is a multiple of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TimeoutOf {
    /// The computed time in calm, mild weather.
    Computed,
    /// The same, times a running mean of how much longer the last full strokes took.
    Learned,
}

/// What follows an opening stroke that timed out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OpeningTimeout {
    /// Another try after a pause, until the tries are used up.
    Retry,
    /// A person must look at once.
    Fault,
}

/// What follows a closing stroke that timed out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ClosingTimeout {
    /// The door turns back.
    Reverse,
    /// It stops, and opens after a pause.
    Stop,
}

/// What follows when closing has failed too often.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AfterRetries {
    /// The door opens and stays open for a while.
    HoldOpen,
    /// It stops where it is and waits for a person.
    Fault,
}

/// What a stroke that overloads the supply does to the controller.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BrownOut {
    /// It restarts: rules, timers and detectors begin anew.
    Resets,
    /// It has a reserve of its own: only the stroke fails.
    RidesThrough,
}

/// Whether the zero of load platforms is tracked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ZeroTracking {
    /// It stays as it was set.
    Off,
    /// Only behind a shut door with every rule at rest and nobody inside.
    Gated,
    /// Always: it swallows a parked mower in the end.
    Always,
}

/// The words that scenarios use for the variants of a choice.
macro_rules! words {
    ($($type:ident { $($variant:ident = $word:literal),* })*) => { $(
        impl $type {
            /// The words, in the order of the variants.
            pub const WORDS: &'static [&'static str] = &[$($word),*];

            /// The word of this variant.
            pub fn word(self) -> &'static str {
                match self { $($type::$variant => $word),* }
            }

            /// The variant of a word.
            pub fn named(word: &str) -> Option<$type> {
                match word { $($word => Some($type::$variant),)* _ => None }
            }
        }
    )* };
}

words! {
    TimeoutOf { Computed = "computed", Learned = "learned" }
    OpeningTimeout { Retry = "retry", Fault = "fault" }
    ClosingTimeout { Reverse = "reverse", Stop = "stop" }
    AfterRetries { HoldOpen = "hold open", Fault = "fault" }
    BrownOut { Resets = "resets", RidesThrough = "rides through" }
    ZeroTracking { Off = "off", Gated = "gated", Always = "always" }
}

impl Unhealthy {
    /// The words of the signs, in the order of the fields.
    pub const WORDS: &'static [&'static str] = &["dead", "frozen", "noisy", "drifted"];

    /// The signs as flags, in the order of [`Unhealthy::WORDS`].
    pub fn flags(self) -> [bool; 4] {
        [self.dead, self.frozen, self.noisy, self.drifted]
    }

    /// From flags in the order of [`Unhealthy::WORDS`].
    pub fn of([dead, frozen, noisy, drifted]: [bool; 4]) -> Unhealthy {
        Unhealthy { dead, frozen, noisy, drifted }
    }
}

/// The cautious half of a controller's settings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Care {
    /// Whether the doorway rule is heeded at all.
    pub interlock: bool,
    /// How long the doorway must have been clear before a closing begins.
    pub doorway_clear_for: Span,
    /// Whether the doorway's sensors must pass their self-test before each closing.
    pub self_test: bool,
    /// How long they must pass it before closing is resumed after a failure.
    pub self_test_ok_for: Span,
    /// How long the door is held open once closing has failed too often, unless a person comes.
    pub hold_open_for: Span,
    /// Closing begins no sooner than this after the mower was last seen to come in.
    pub close_after_in: Span,
    /// Closing begins no sooner than this after the mower was last seen to leave.
    pub close_after_gone: Span,
    /// Whether a closing door turns back when the opening rule speaks.
    pub turns_back: bool,
    /// Warning (light, beep) before opening begins.
    pub opening_warning: Span,
    /// Way back after an obstruction in an opening stroke, m; 0 for none.
    pub back_off_m: f64,
    /// Last part of the closing stroke in which a stop within [`SEATED_M`] of shut counts as shut, m; 0 for none.
    pub soft_seal_m: f64,
    /// What a stroke's time-out is a multiple of.
    pub timeout_of: TimeoutOf,
    /// Opening strokes that time out.
    pub opening_timeout: OpeningTimeout,
    /// Closing strokes that time out.
    pub closing_timeout: ClosingTimeout,
    /// Each further pause before a retry is this many times the last.
    pub retry_growth: f64,
    /// Longest pause before a retry.
    pub retry_at_most: Span,
    /// When closing has failed too often.
    pub after_retries: AfterRetries,
    /// Power must have been back for this long.
    pub power_stable_for: Span,
    /// How long it listens after a start before it moves anything.
    pub startup_listens: Span,
    /// The doorway must have been clear for this long before a door found half-way is opened.
    pub homing_clear_for: Span,
    /// Speed of that stroke, as a share of the usual one.
    pub homing_speed: f64,
    /// Brown-outs.
    pub brown_out: BrownOut,
    /// Longest time in manual operation.
    pub manual_at_most: Span,
    /// When somebody is reminded of it.
    pub manual_reminder: Span,
    /// What takes a sensor's vote away.
    pub unhealthy: Unhealthy,
    /// A sensor is dead no sooner than after this many sample times without a reading.
    pub dead_samples: u32,
    /// A sensor is frozen once it has repeated a value for more than this many samples; noise is judged on as many.
    pub frozen_samples: u32,
    /// A sensor is noisy beyond this multiple of its stated noise.
    pub noisy_beyond: f64,
    /// A sensor has drifted beyond this multiple of its stated noise.
    pub drifted_beyond: f64,
    /// Once the detectors that say whether the mower is in have contradicted each other for this long, s, the fallback rule
    /// may open, too; infinite for never.
    pub contradiction_after_s: f64,
    /// Once rangers of the opening rule have contradicted each other for this long, s, any one of them counts as all: any
    /// opens, and all must be clear to close; infinite for never.
    pub disagreement_after_s: f64,
    /// No closing begins while the battery holds less than this many times the energy of that closing and of the opening
    /// after it; 0: the battery is not heeded.
    pub reopening_reserve: f64,
    /// A message is not believed if its age on arrival is above this, s, or below nothing by as much, or if a newer one was
    /// believed before; infinite: every message that arrives is believed.
    pub message_at_most_s: f64,
    /// Zero tracking of load platforms.
    pub zero_tracking: ZeroTracking,
    /// Fastest change of the zero, kg/h.
    pub zero_per_hour_kg: f64,
    /// Largest change of the zero in all, kg.
    pub zero_at_most_kg: f64,
}

/// A panel that stops no farther than this from its end switch in the soft-seal zone counts as shut, m (common practice:
/// the reach of an end switch).
pub const SEATED_M: f64 = 0.005;

impl Default for Care {
    fn default() -> Care {
        Care {
            interlock: true,
            doorway_clear_for: Span::SECOND,
            self_test: true,
            self_test_ok_for: Span::from_seconds(600.0),
            hold_open_for: Span::from_seconds(6.0 * 3_600.0),
            close_after_in: Span::ZERO,
            close_after_gone: Span::ZERO,
            turns_back: true,
            opening_warning: Span::ZERO,
            back_off_m: 0.03,
            soft_seal_m: 0.025,
            timeout_of: TimeoutOf::Computed,
            opening_timeout: OpeningTimeout::Retry,
            closing_timeout: ClosingTimeout::Reverse,
            retry_growth: 6.0,
            retry_at_most: Span::from_seconds(300.0),
            after_retries: AfterRetries::HoldOpen,
            power_stable_for: Span::from_seconds(10.0),
            startup_listens: Span::SECOND,
            homing_clear_for: Span::from_seconds(10.0),
            homing_speed: 0.5,
            brown_out: BrownOut::Resets,
            manual_at_most: Span::from_seconds(12.0 * 3_600.0),
            manual_reminder: Span::from_seconds(6.0 * 3_600.0),
            unhealthy: Unhealthy { dead: true, ..Unhealthy::default() },
            dead_samples: 5,
            frozen_samples: 200,
            noisy_beyond: 3.0,
            drifted_beyond: 3.0,
            contradiction_after_s: f64::INFINITY,
            disagreement_after_s: f64::INFINITY,
            reopening_reserve: 1.0,
            message_at_most_s: f64::INFINITY,
            zero_tracking: ZeroTracking::Off,
            zero_per_hour_kg: 0.1,
            zero_at_most_kg: 2.0,
        }
    }
}
