//! What a cone of view sees of a body: nearest distance, and how much of the cone the body fills.
//!
//! The cone is treated as a square pyramid: a horizontal wedge of half angle `a` about the axis and a vertical wedge
//! of the same half angle about the axis' elevation. Everything is done with tangents, so that a look costs no
//! trigonometric function.

use crate::scenario::sensor::Aim;

/// A body: an upright box standing on the ground.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Body {
    /// From x, to x, m.
    pub x_m: (f64, f64),
    /// From y, to y, m.
    pub y_m: (f64, f64),
    /// Height, m.
    pub height_m: f64,
    /// Diffuse reflectance, 0 to 1.
    pub reflectance: f64,
    /// Whether it echoes weakly.
    pub soft: bool,
    /// Mass, kg.
    pub mass_kg: f64,
}

/// What is seen of a body.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sight {
    /// Distance from the window to the nearest visible point, m.
    pub distance_m: f64,
    /// Share of the cone's cross-section that the body fills, 0 to 1.
    pub fill: f64,
    /// Tangent of the angle between the axis and the visible part's nearest bearing, as a share of the half cone's.
    pub off_axis: f64,
}

/// A mounted cone with its trigonometry done once.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cone {
    position: [f64; 3],
    forward: (f64, f64),
    tan_half: f64,
    slope: (f64, f64),
    reach: f64,
}

/// Closest forward distance that is looked at, m: nearer parts of a body count as being there.
const CLOSEST_M: f64 = 0.005;

impl Cone {
    /// Precomputes a mounting. Elevations are cut at 85 degrees, half cones at 80.
    pub fn new(aim: &Aim) -> Cone {
        let yaw = aim.yaw_deg.to_radians();
        let half = aim.half_cone_deg.clamp(0.05, 80.0).to_radians();
        let limit = 85.0_f64.to_radians();
        let pitch = aim.pitch_deg.to_radians();
        Cone {
            position: aim.position_m,
            forward: (libm::cos(yaw), libm::sin(yaw)),
            tan_half: libm::tan(half),
            slope: (libm::tan((pitch - half).clamp(-limit, limit)), libm::tan((pitch + half).clamp(-limit, limit))),
            // A target a little beyond the range can still be made out now and then.
            reach: 1.3 * aim.farthest_m,
        }
    }

    /// Whether a body anywhere within the given distance of the segment from `a` to `b` (x, y in m) could be seen:
    /// only the reach is asked for, so that this never says no to something visible.
    pub fn could_see(&self, a: (f64, f64), b: (f64, f64), margin_m: f64) -> bool {
        let (sx, sy) = (self.position[0], self.position[1]);
        let (dx, dy) = (b.0 - a.0, b.1 - a.1);
        let length2 = dx * dx + dy * dy;
        let t = if length2 > 0.0 { (((sx - a.0) * dx + (sy - a.1) * dy) / length2).clamp(0.0, 1.0) } else { 0.0 };
        let (px, py) = (a.0 + t * dx - sx, a.1 + t * dy - sy);
        let reach = self.reach + margin_m;
        px * px + py * py <= reach * reach
    }

    /// Looks at a body; none if no part of it is within the cone.
    pub fn look(&self, body: &Body) -> Option<Sight> {
        let (sx, sy) = (self.position[0], self.position[1]);
        let (c, s) = self.forward;
        let corners =
            [(body.x_m.0, body.y_m.0), (body.x_m.1, body.y_m.0), (body.x_m.1, body.y_m.1), (body.x_m.0, body.y_m.1)]
                .map(|(x, y)| ((x - sx) * c + (y - sy) * s, (y - sy) * c - (x - sx) * s));
        let mut nearest = f64::INFINITY;
        let mut nearest_tangent = 0.0;
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for index in 0..4 {
            let Some((p, q)) = self.clip(corners[index], corners[(index + 1) % 4]) else { continue };
            for (u, v) in [p, q] {
                low = low.min(v / u);
                high = high.max(v / u);
            }
            let (du, dv) = (q.0 - p.0, q.1 - p.1);
            let length2 = du * du + dv * dv;
            let t = if length2 > 0.0 { (-(p.0 * du + p.1 * dv) / length2).clamp(0.0, 1.0) } else { 0.0 };
            let (u, v) = (p.0 + t * du, p.1 + t * dv);
            let distance2 = u * u + v * v;
            if distance2 < nearest {
                nearest = distance2;
                nearest_tangent = v / u;
            }
        }
        if nearest.is_infinite() {
            return None;
        }
        let flat = libm::sqrt(nearest);
        let z = self.position[2];
        let bottom = (z + self.slope.0 * flat).max(0.0);
        let top = (z + self.slope.1 * flat).min(body.height_m);
        if top <= bottom {
            return None;
        }
        let rise = z.clamp(bottom, top) - z;
        let middle = if self.slope.0 + self.slope.1 == 0.0 { 0.0 } else { 0.5 * (self.slope.0 + self.slope.1) };
        let off_v = (rise / flat.max(CLOSEST_M) - middle) / self.tan_half;
        let off_h = nearest_tangent / self.tan_half;
        Some(Sight {
            distance_m: libm::sqrt(nearest + rise * rise),
            fill: ((high - low) / (2.0 * self.tan_half)).clamp(0.0, 1.0)
                * ((top - bottom) / (flat.max(CLOSEST_M) * (self.slope.1 - self.slope.0))).clamp(0.0, 1.0),
            off_axis: libm::sqrt(off_h * off_h + off_v.clamp(-1.0, 1.0) * off_v.clamp(-1.0, 1.0)).min(1.5),
        })
    }

    /// The part of an edge (forward, sideways coordinates) inside the horizontal wedge.
    fn clip(&self, p: (f64, f64), q: (f64, f64)) -> Option<((f64, f64), (f64, f64))> {
        let (mut from, mut to) = (0.0, 1.0);
        let t = self.tan_half;
        let planes =
            [(p.0 - CLOSEST_M, q.0 - CLOSEST_M), (t * p.0 - p.1, t * q.0 - q.1), (t * p.0 + p.1, t * q.0 + q.1)];
        for (a, b) in planes {
            if a < 0.0 && b < 0.0 {
                return None;
            }
            if a < 0.0 {
                from = f64::max(from, a / (a - b));
            } else if b < 0.0 {
                to = f64::min(to, a / (a - b));
            }
        }
        if from > to {
            return None;
        }
        let at = |t: f64| (p.0 + t * (q.0 - p.0), p.1 + t * (q.1 - p.1));
        let (mut a, mut b) = (at(from), at(to));
        // Rounding must not put a clipped point behind the window.
        a.0 = a.0.max(CLOSEST_M);
        b.0 = b.0.max(CLOSEST_M);
        Some((a, b))
    }

    /// Angle between the axis and a direction given as (yaw, elevation), degrees.
    pub fn angle_to(&self, yaw_deg: f64, elevation_deg: f64) -> f64 {
        let pitch = 0.5 * (libm::atan(self.slope.0) + libm::atan(self.slope.1));
        let (yaw, elevation) = (yaw_deg.to_radians(), elevation_deg.to_radians());
        let (c, s) = self.forward;
        let horizontal = c * libm::cos(yaw) + s * libm::sin(yaw);
        let cosine = libm::cos(pitch) * libm::cos(elevation) * horizontal + libm::sin(pitch) * libm::sin(elevation);
        libm::acos(cosine.clamp(-1.0, 1.0)).to_degrees()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Source;

    fn body(x: f64, y: f64, width: f64) -> Body {
        Body {
            x_m: (x, x + 0.6),
            y_m: (y - width / 2.0, y + width / 2.0),
            height_m: 0.25,
            reflectance: 0.3,
            soft: false,
            mass_kg: 10.0,
        }
    }

    fn cone(yaw: f64, half: f64) -> Cone {
        Cone::new(&Aim {
            position_m: [0.0, 0.0, 0.12],
            yaw_deg: yaw,
            pitch_deg: 0.0,
            half_cone_deg: half,
            nearest_m: 0.1,
            farthest_m: 5.0,
        })
    }

    #[test]
    fn straight_ahead() {
        let sight = cone(0.0, 13.5).look(&body(2.0, 0.0, 0.4)).unwrap();
        assert!((sight.distance_m - 2.0).abs() < 1e-12);
        // A 0.4 x 0.25 m front at 2 m in a 27 degree square cone: widths 0.9603 m; 0.4/0.9603 * 0.25/0.9603.
        let side = 2.0 * 2.0 * 13.5_f64.to_radians().tan();
        assert!((sight.fill - 0.4 / side * 0.25 / side).abs() < 1e-9);
        assert!(sight.off_axis < 1e-12);
        assert_eq!(cone(180.0, 13.5).look(&body(2.0, 0.0, 0.4)), None);
        assert_eq!(cone(0.0, 2.0).look(&body(2.0, 0.5, 0.4)), None);
    }

    /// Against brute force: a fine fan of rays, the nearest hit of each with the box.
    #[test]
    fn nearest_point_agrees_with_a_fan_of_rays() {
        let mut stream = Source::new(5, 0, "fan").stream(0);
        for _ in 0..300 {
            let (yaw, half) = (stream.between(-180.0, 180.0), stream.between(2.0, 40.0));
            let target = body(stream.between(-3.0, 3.0), stream.between(-2.0, 2.0), 0.4);
            let inside = target.x_m.0 < 0.05 && target.x_m.1 > -0.05 && target.y_m.0 < 0.05 && target.y_m.1 > -0.05;
            if inside {
                continue;
            }
            let seen = cone(yaw, half).look(&target).map(|sight| sight.distance_m);
            let mut best = f64::INFINITY;
            let rays = 4_000;
            for ray in 0..=rays {
                let angle = (yaw - half + 2.0 * half * f64::from(ray) / f64::from(rays)).to_radians();
                let (dx, dy) = (angle.cos(), angle.sin());
                let (x1, x2) = (target.x_m.0 / dx, target.x_m.1 / dx);
                let (y1, y2) = (target.y_m.0 / dy, target.y_m.1 / dy);
                let enter = x1.min(x2).max(y1.min(y2));
                let leave = x1.max(x2).min(y1.max(y2));
                if enter <= leave && leave > 0.0 {
                    best = best.min(enter.max(0.0));
                }
            }
            match seen {
                Some(distance) if best.is_finite() => {
                    assert!((distance - best).abs() < 2e-3 * best.max(1.0), "{distance} against {best}");
                }
                // A ray fan can slip past a corner that just reaches into the wedge.
                Some(_) => {}
                None => assert!(best.is_infinite(), "missed a body at {best}"),
            }
        }
    }
}
