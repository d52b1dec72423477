//! Round values for the axes.

/// Two or three round values between the ends.
pub fn ticks(low: f64, high: f64) -> Vec<(f64, String)> {
    let span = high - low;
    if !(span > 0.0 && span.is_finite()) {
        return Vec::new();
    }
    let rough = span / 2.5;
    let power = 10_f64.powi(rough.log10().floor() as i32);
    let step = [1.0, 2.0, 5.0, 10.0].into_iter().map(|step| step * power).find(|step| *step >= rough).unwrap_or(span);
    let first = (low / step).ceil() as i64;
    let last = (high / step).floor() as i64;
    (first..=last)
        .map(|tick| {
            let value = tick as f64 * step;
            (value, crate::report::number::chosen(crate::report::day::rounded(value)))
        })
        .collect()
}
#[cfg(test)]
mod tests {
    use super::ticks;

    #[test]
    fn ticks_are_round_and_few() {
        let at = |low, high| ticks(low, high).into_iter().map(|(_, label)| label).collect::<Vec<_>>();
        assert_eq!(at(0.0, 100.0), ["0", "50", "100"]);
        assert_eq!(at(-0.95, 6.1), ["0", "5"]);
        assert_eq!(at(0.0, 1.08), ["0", "0.5", "1"]);
        assert!(at(3.0, 3.0).is_empty());
    }
}
