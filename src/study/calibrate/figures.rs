//! What a log's figures are in the words of a scenario: the keys of one sensor, each with its interval.

use super::Measured;
use super::drift::Drift;
use super::outliers::hidden_share;
use super::still::{Sign, Still};
use crate::scenario::keys::RANGERS;
use crate::scenario::sensor::{Errors, RANDOM_DRIFT_LEAST_S};

/// The keys that a log can fill; none where it can't.
#[derive(Clone, Debug, PartialEq)]
pub struct Figures {
    /// Time between samples, s.
    pub period_s: f64,
    /// Mean reading, in the reading's unit.
    pub at: f64,
    /// `bias`; none if the truth is not known.
    pub bias: Option<Measured>,
    /// `noise`; none for a sensor whose noise follows from its signal.
    pub noise: Option<Measured>,
    /// Whether the noise hides below the step between readings.
    pub hidden: bool,
    /// `resolution`; 0 for a continuous reading.
    pub step: f64,
    /// `dropout`.
    pub dropout: Measured,
    /// `spurious`, those that hide near the target added; none for sensors that have no such key.
    pub spurious: Option<Measured>,
    /// `drift_per_day`; none for a log of less than a day, or one that does not rise or fall.
    pub drift_per_day: Option<Measured>,
    /// `random_drift` and its time; none if the log shows none.
    pub drift: Option<Drift>,
}

const DAY_S: f64 = 86_400.0;
/// Share of the step that noise is taken to have where it hides below it: readings then move to the next step in about
/// one of twenty samples (engineering judgement).
const HIDDEN: f64 = 0.25;

/// The figures of a log of a sensor of this kind; short returns begin at `nearest`.
pub fn figures(still: &Still, kind: &str, nearest: f64) -> Figures {
    let ranger = RANGERS.contains(&kind);
    let spurious = ranger.then(|| {
        let seen = 1.0 - hidden_share(still.mean.value, still.sigma.value, nearest);
        // Where nearly all would hide, what is seen says nothing.
        still.outliers.rate_below.map(|rate| if seen > 0.05 { libm::fmin(rate / seen, 1.0) } else { rate })
    });
    let span_s = still.sampling.period_s * still.sampling.due as f64;
    let rises = span_s >= DAY_S && still.signs.iter().any(|sign| matches!(sign, Sign::Line(_)));
    let hidden = still.white.value < HIDDEN * still.step;
    let noise = still.white.map(|sigma| libm::fmax(sigma, HIDDEN * still.step));
    Figures {
        period_s: still.sampling.period_s,
        at: still.mean.value,
        bias: still.bias,
        noise: (kind != "photon range").then_some(noise),
        hidden,
        step: still.step,
        dropout: still.sampling.dropout,
        spurious,
        drift_per_day: rises.then(|| still.slope_per_s.map(|per_s| per_s * DAY_S)),
        drift: still.drift,
    }
}

/// Which value of each figure is tried.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    /// The lower end of the interval.
    Low,
    /// The figure itself.
    Middle,
    /// The upper end.
    High,
}

impl End {
    /// That of a figure.
    pub fn of(self, figure: &Measured) -> f64 {
        match self {
            End::Low => figure.low(),
            End::Middle => figure.value,
            End::High => figure.high(),
        }
    }

    fn other(self) -> End {
        match self {
            End::Low => End::High,
            End::Middle => End::Middle,
            End::High => End::Low,
        }
    }
}

/// Ends of noise (and slow drift with it), of bias, and of readings that are not of the target: their upper end is many
/// spurious and few missing ones, which makes most false runs and fewest misses.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Corner {
    /// Of noise and slow drift.
    pub noise: End,
    /// Of the bias.
    pub bias: End,
    /// Of spurious readings; missing ones take the other end.
    pub spurious: End,
}

impl Corner {
    /// The figures themselves.
    pub const MIDDLE: Corner = Corner { noise: End::Middle, bias: End::Middle, spurious: End::Middle };

    /// All eight corners and, first, the middle.
    pub fn all() -> Vec<Corner> {
        let ends = [End::Low, End::High];
        let mut all = vec![Corner::MIDDLE];
        for noise in ends {
            for bias in ends {
                all.extend(ends.map(|spurious| Corner { noise, bias, spurious }));
            }
        }
        all
    }
}

/// A sensor's errors with the figures of this corner in place of its own. A log without a random drift leaves the sensor's own: it may
/// be slower than the log is long.
///
/// Noise that grows with the reading keeps its growth as long as that leaves any at zero; one distance can't tell more.
pub fn errors(figures: &Figures, own: &Errors, corner: Corner) -> Errors {
    let mut errors = *own;
    if let Some(bias) = &figures.bias {
        errors.bias = corner.bias.of(bias);
    }
    if let Some(noise) = &figures.noise {
        let sigma = corner.noise.of(noise);
        let at_zero = sigma - own.noise_growth * libm::fabs(figures.at);
        (errors.noise, errors.noise_growth) = if at_zero > 0.0 { (at_zero, own.noise_growth) } else { (sigma, 0.0) };
    }
    if figures.step > 0.0 {
        errors.resolution = figures.step;
    }
    errors.dropout = corner.spurious.other().of(&figures.dropout);
    // What rain was said to do stays said; a sensor without a figure of its own for rain has none now.
    if own.dropout_rain == own.dropout || own.dropout_rain < errors.dropout {
        errors.dropout_rain = errors.dropout;
    }
    if let Some(spurious) = &figures.spurious {
        errors.spurious = corner.spurious.of(spurious);
    }
    if let Some(drift) = &figures.drift_per_day {
        errors.drift_per_day = drift.value;
    }
    if let Some(drift) = &figures.drift {
        errors.random_drift = corner.noise.of(&drift.slow);
        // What forgets itself sooner is played as slowly as a drift may be.
        errors.random_drift_s = drift.time_s.value.max(RANDOM_DRIFT_LEAST_S);
    }
    errors
}
