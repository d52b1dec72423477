//! Whether a cone of view meets a box.

use crate::scenario::sensor::Aim;

/// A box with its sides along the axes: from, to of x, y, z in m.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Box3 {
    pub from: [f64; 3],
    pub to: [f64; 3],
}

impl Box3 {
    /// Distance from a point to the nearest point of the box, m.
    fn distance(&self, point: [f64; 3]) -> f64 {
        let mut square = 0.0;
        for (axis, x) in point.into_iter().enumerate() {
            let outside = (self.from[axis] - x).max(x - self.to[axis]).max(0.0);
            square += outside * outside;
        }
        libm::sqrt(square)
    }

    /// Distance from a point to the farthest corner, m.
    fn farthest(&self, point: [f64; 3]) -> f64 {
        let mut square = 0.0;
        for (axis, x) in point.into_iter().enumerate() {
            let far = (x - self.from[axis]).abs().max((self.to[axis] - x).abs());
            square += far * far;
        }
        libm::sqrt(square)
    }
}

/// Whether any point of `target` lies in the cone of view and, by the distances of its nearest and farthest points, in
/// the range of valid readings.
///
/// A cone of half angle a < 90 deg is the union of the balls round its axis points at distance t with radius t sin a
/// (elementary geometry: each ball touches the cone). So it meets a convex box exactly if
/// distance(axis point, box) - t sin a is not positive for some t; that is convex in t (a distance to a convex set
/// along a line, less a straight line), and its minimum is found by ternary search.
pub(super) fn meets(aim: &Aim, target: &Box3) -> bool {
    let (yaw, pitch, half) = (aim.yaw_deg.to_radians(), aim.pitch_deg.to_radians(), aim.half_cone_deg.to_radians());
    let axis = [libm::cos(pitch) * libm::cos(yaw), libm::cos(pitch) * libm::sin(yaw), libm::sin(pitch)];
    if target.distance(aim.position_m) > aim.farthest_m || target.farthest(aim.position_m) < aim.nearest_m {
        return false;
    }
    let gap = |t: f64| {
        let point = [0, 1, 2].map(|i| aim.position_m[i] + t * axis[i]);
        target.distance(point) - t * libm::sin(half)
    };
    // The ball that touches the cone at the farthest reading has its centre this far out.
    let (mut low, mut high) = (0.0, aim.farthest_m / libm::cos(half));
    for _ in 0..200 {
        let (left, right) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
        if gap(left) <= 0.0 || gap(right) <= 0.0 {
            return true;
        }
        if gap(left) <= gap(right) {
            high = right;
        } else {
            low = left;
        }
    }
    gap(low) <= 0.0 || gap(high) <= 0.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn aim(yaw_deg: f64, pitch_deg: f64, half_cone_deg: f64) -> Aim {
        Aim { position_m: [0.0, 0.0, 0.3], yaw_deg, pitch_deg, half_cone_deg, nearest_m: 0.1, farthest_m: 4.0 }
    }

    const LANE: Box3 = Box3 { from: [0.5, -0.2, 0.0], to: [6.0, 0.2, 0.26] };

    #[test]
    fn a_level_narrow_beam_above_the_mower_misses_it() {
        assert!(!meets(&aim(0.0, 0.0, 0.5), &LANE));
        // 0.04 m lower at 4 m: atan(0.04 / 4) = 0.57 deg.
        assert!(meets(&aim(0.0, -0.6, 0.01), &LANE));
        assert!(!meets(&aim(0.0, -0.5, 0.01), &LANE));
        assert!(meets(&aim(0.0, 0.0, 0.6), &LANE));
    }

    #[test]
    fn looking_away_misses() {
        assert!(!meets(&aim(180.0, 0.0, 7.5), &LANE));
        assert!(!meets(&aim(0.0, 45.0, 20.0), &LANE));
        assert!(!meets(&Aim { farthest_m: 0.4, ..aim(0.0, 0.0, 20.0) }, &LANE));
    }

    proptest! {
        /// Against the definition: a point of the box whose angle to the axis is within the cone.
        #[test]
        fn agrees_with_points_of_the_box(yaw in -180.0..180.0_f64, pitch in -60.0..60.0_f64, half in 1.0..40.0_f64) {
            let aim = aim(yaw, pitch, half);
            let axis = [
                pitch.to_radians().cos() * yaw.to_radians().cos(),
                pitch.to_radians().cos() * yaw.to_radians().sin(),
                pitch.to_radians().sin(),
            ];
            let mut least = f64::INFINITY;
            for i in 0..=110 { for j in 0..=8 { for k in 0..=6 {
                let q = [0.5 + 0.05 * f64::from(i), -0.2 + 0.05 * f64::from(j), 0.26 * f64::from(k) / 6.0];
                let d = [0, 1, 2].map(|n| q[n] - aim.position_m[n]);
                let range = d.iter().map(|x| x * x).sum::<f64>().sqrt();
                if range <= 4.0 {
                    let cos = d.iter().zip(axis).map(|(x, a)| x * a).sum::<f64>() / range;
                    least = least.min(cos.clamp(-1.0, 1.0).acos().to_degrees());
                }
            }}}
            // The grid misses the nearest point by at most a few degrees (0.05 m seen from 0.5 m).
            if least <= half { prop_assert!(meets(&aim, &LANE)); }
            if least > half + 6.0 { prop_assert!(!meets(&aim, &LANE)); }
        }
    }
}
