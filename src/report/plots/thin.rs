//! Lines with fewer points: the sheet knows whole pixels only, so that a slow curve with many points becomes a stair.

/// Distance from a line's own points below which the eye sees none, pixels.
const UNSEEN: f64 = 0.6;

/// The line without the points that lie within [`UNSEEN`] of what is left (Douglas & Peucker, Cartographica 10, 1973,
/// 112-122, from memory). `pixels` are those of one unit across and up.
pub fn fewer(line: &[(f64, f64)], pixels: [f64; 2]) -> Vec<(f64, f64)> {
    let (Some(first), Some(last)) = (line.first(), line.last()) else { return Vec::new() };
    let mut kept = vec![*first];
    between(line, pixels, &mut kept);
    if line.len() > 1 {
        kept.push(*last);
    }
    kept
}

/// Adds the points that are needed between the ends of `line`.
fn between(line: &[(f64, f64)], pixels: [f64; 2], kept: &mut Vec<(f64, f64)>) {
    let [from, .., to] = line else { return };
    let at = |point: &(f64, f64)| (point.0 * pixels[0], point.1 * pixels[1]);
    let (start, end) = (at(from), at(to));
    let (x, y) = (end.0 - start.0, end.1 - start.1);
    let square = x * x + y * y;
    // Distance from the piece between the ends, not from the line through them.
    let away = |point: &(f64, f64)| {
        let (px, py) = (at(point).0 - start.0, at(point).1 - start.1);
        let along = if square > 0.0 { ((px * x + py * y) / square).clamp(0.0, 1.0) } else { 0.0 };
        (px - along * x).hypot(py - along * y)
    };
    let farthest = (1..line.len() - 1).map(|index| (index, away(&line[index]))).max_by(|a, b| a.1.total_cmp(&b.1));
    if let Some((index, distance)) = farthest
        && distance > UNSEEN
    {
        between(&line[..=index], pixels, kept);
        kept.push(line[index]);
        between(&line[index..], pixels, kept);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_straight_line_keeps_its_ends_and_a_jump_its_corners() {
        let straight: Vec<(f64, f64)> = (0..=100).map(|x| (f64::from(x), 0.01 * f64::from(x))).collect();
        assert_eq!(fewer(&straight, [8.0, 8.0]), [straight[0], straight[100]]);
        let jump: Vec<(f64, f64)> = (0..=100).map(|x| (f64::from(x), if x < 40 { 50.0 } else { 0.0 })).collect();
        assert_eq!(fewer(&jump, [8.0, 8.0]), [jump[0], jump[39], jump[40], jump[100]]);
        assert_eq!(fewer(&jump[..1], [1.0, 1.0]), [jump[0]]);
        assert!(fewer(&[], [1.0, 1.0]).is_empty());
    }

    /// No point of the line is farther than that from what is drawn.
    #[test]
    fn nothing_that_can_be_seen_is_lost() {
        let line: Vec<(f64, f64)> =
            (0..=200).map(|i| (f64::from(i), 60.0 * libm::exp(-f64::from(i) / 30.0) + 0.05 * f64::from(i))).collect();
        let drawn = fewer(&line, [4.0, 2.0]);
        assert!(drawn.len() < 40, "{}", drawn.len());
        for point in &line {
            let piece = drawn.windows(2).find(|two| two[0].0 <= point.0 && point.0 <= two[1].0).expect("within");
            let share = (point.0 - piece[0].0) / (piece[1].0 - piece[0].0);
            let up = 2.0 * (piece[0].1 + share * (piece[1].1 - piece[0].1) - point.1).abs();
            // Upright distance times the cosine of the slope is the distance.
            let slope = 2.0 * (piece[1].1 - piece[0].1) / (4.0 * (piece[1].0 - piece[0].0));
            assert!(up / (1.0 + slope * slope).sqrt() <= UNSEEN + 1e-9, "{point:?}");
        }
    }
}
