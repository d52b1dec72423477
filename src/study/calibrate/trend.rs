//! A straight line through readings, by least squares.

/// A line and what it leaves.
#[derive(Clone, Debug, PartialEq)]
pub struct Trend {
    /// Mean reading.
    pub mean: f64,
    /// Rise per second.
    pub per_s: f64,
    /// Standard error of the rise for independent readings.
    pub error_per_s: f64,
    /// What the line leaves of each reading.
    pub residuals: Vec<f64>,
    /// Standard deviation of what is left (divisor n - 2).
    pub sd: f64,
}

/// The line through `readings` at `times`: three or more, not all at one time.
pub fn trend(times: &[f64], readings: &[f64]) -> Trend {
    let n = readings.len() as f64;
    let middle = times.iter().sum::<f64>() / n;
    let mean = readings.iter().sum::<f64>() / n;
    let spread: f64 = times.iter().map(|time| (time - middle) * (time - middle)).sum();
    let together: f64 = times.iter().zip(readings).map(|(time, reading)| (time - middle) * (reading - mean)).sum();
    let per_s = together / spread;
    let left = |(time, reading): (&f64, &f64)| reading - mean - per_s * (time - middle);
    let residuals: Vec<f64> = times.iter().zip(readings).map(left).collect();
    let square: f64 = residuals.iter().map(|value| value * value).sum();
    let sd = libm::sqrt(square / (n - 2.0));
    Trend { mean, per_s, error_per_s: sd / libm::sqrt(spread), residuals, sd }
}
