//! What logs say about a sensor: readings of something that stands still, and passes with what passed.
//!
//! * [`sampling`]: sample time, missing readings, step between readings
//! * [`outliers`]: readings that belong to nothing
//! * [`correlation`]: how readings hang together, and how many independent ones they are worth
//! * [`trend`]: a straight line through them
//! * [`allan`]: the Allan deviation, which tells white noise from slow drift
//! * [`drift`]: white noise and slow drift fitted to that curve
//! * [`still`]: all of it, with a verdict
//! * [`passes`]: how well a score tells the mower from others
//! * [`threshold`]: levels that miss rarely enough, with confidence
//! * [`tolerance`]: the factor of a normal tolerance limit
//! * [`normality`]: whether values may be normal
//! * [`figures`]: the same in the words of a scenario
//! * [`feedback`]: what the interval's ends mean for a scenario's strategies

pub mod allan;
pub mod correlation;
pub mod drift;
pub mod feedback;
pub mod figures;
pub mod normality;
pub mod outliers;
pub mod passes;
pub mod sampling;
pub mod still;
pub mod threshold;
pub mod tolerance;
pub mod trend;

/// A figure with the ends of its interval, where it has one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measured {
    /// The figure.
    pub value: f64,
    /// Lower and upper end.
    pub ends: Option<(f64, f64)>,
}

impl Measured {
    /// A figure with its interval.
    pub fn between(value: f64, low: f64, high: f64) -> Measured {
        Measured { value, ends: Some((low, high)) }
    }

    /// A figure alone.
    pub fn alone(value: f64) -> Measured {
        Measured { value, ends: None }
    }

    /// Lower end; the figure itself without an interval.
    pub fn low(&self) -> f64 {
        self.ends.map_or(self.value, |ends| ends.0)
    }

    /// Upper end; the figure itself without an interval.
    pub fn high(&self) -> f64 {
        self.ends.map_or(self.value, |ends| ends.1)
    }

    /// Figure and ends, each put through `f`, which does not fall.
    pub fn map(&self, f: impl Fn(f64) -> f64) -> Measured {
        Measured { value: f(self.value), ends: self.ends.map(|(low, high)| (f(low), f(high))) }
    }
}

/// Middle value of some numbers, of two middle ones their mean; sorts them. 0 without any.
pub fn median(values: &mut [f64]) -> f64 {
    values.sort_by(f64::total_cmp);
    let n = values.len();
    match n {
        0 => 0.0,
        _ if n % 2 == 1 => values[n / 2],
        _ => 0.5 * (values[n / 2 - 1] + values[n / 2]),
    }
}
