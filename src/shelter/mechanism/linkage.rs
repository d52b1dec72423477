//! A rod that swings a hinged panel: length, lever and travel over the panel's angle.
//!
//! The hinge is the origin; the panel lies along p = (sin a, -cos a), with its back towards q = (-cos a, -sin a), so
//! that opening turns it from hanging along -y towards +x. The fixed pivot F is at distance A, the panel's pivot M at
//! distance B from the hinge, g is the angle from F to M:
//!
//! ```text
//! l^2 = A^2 + B^2 - 2 A B cos g,    g = g0 + a,    lever = dl/da = A B sin g / l = M x e,   e = (M - F)/l
//! ```
//!
//! (Cosine law; the lever by virtual work.) Where the three points are in line, g = 0 or 180 degrees, the lever
//! vanishes: a toggle, beyond which the rod would have to move the other way.

use std::f64::consts::PI;

use crate::scenario::door::Rod;

/// Below this share of the shorter arm a lever counts as none: rounding in sin g near a toggle.
const NO_LEVER: f64 = 1e-9;

/// A rod's geometry, made ready.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Linkage {
    frame: (f64, f64),
    along_m: f64,
    behind_m: f64,
    /// A and B.
    arms: (f64, f64),
    /// g of the shut panel, rad, in (-pi, pi].
    shut: f64,
}

impl Linkage {
    /// The linkage of a rod.
    pub fn new(rod: &Rod) -> Linkage {
        let frame = (rod.frame_out_m, -rod.frame_along_m);
        let panel = (-rod.panel_behind_m, -rod.panel_along_m);
        let turn = libm::atan2(panel.1, panel.0) - libm::atan2(frame.1, frame.0);
        // Into (-pi, pi].
        let shut = turn - 2.0 * PI * libm::ceil((turn - PI) / (2.0 * PI));
        Linkage {
            frame,
            along_m: rod.panel_along_m,
            behind_m: rod.panel_behind_m,
            arms: (libm::hypot(frame.0, frame.1), libm::hypot(panel.0, panel.1)),
            shut,
        }
    }

    /// Length at an angle, m.
    pub fn length_m(&self, angle: f64) -> f64 {
        let (m, f) = (self.panel_pivot(angle), self.frame);
        libm::hypot(m.0 - f.0, m.1 - f.1)
    }

    /// Rate of the length with the angle, m/rad; negative if the rod shortens as the panel opens.
    pub fn lever_m(&self, angle: f64) -> f64 {
        let (m, e) = (self.panel_pivot(angle), self.direction(angle));
        m.0 * e.1 - m.1 * e.0
    }

    /// The fixed pivot.
    pub fn frame_pivot(&self) -> (f64, f64) {
        self.frame
    }

    /// The pivot on the panel at an angle.
    pub fn panel_pivot(&self, angle: f64) -> (f64, f64) {
        let (s, c) = (libm::sin(angle), libm::cos(angle));
        (self.along_m * s - self.behind_m * c, -self.along_m * c - self.behind_m * s)
    }

    /// Direction from the fixed pivot to the panel's, a unit vector; zero if they coincide.
    pub fn direction(&self, angle: f64) -> (f64, f64) {
        let (m, f) = (self.panel_pivot(angle), self.frame);
        let length = libm::hypot(m.0 - f.0, m.1 - f.1);
        if length > 0.0 { ((m.0 - f.0) / length, (m.1 - f.1) / length) } else { (0.0, 0.0) }
    }

    /// Angle of the first toggle on the way from shut to `open`, rad, shut and open included.
    pub fn toggle(&self, open: f64) -> Option<f64> {
        let degenerate = self.arms.0.min(self.arms.1) <= 0.0;
        if degenerate || self.lever_m(0.0).abs() <= NO_LEVER * self.arms.0.min(self.arms.1) {
            return Some(0.0);
        }
        // g runs upwards from its start to the next multiple of pi.
        let next = if self.shut < 0.0 { -self.shut } else { PI - self.shut };
        (next <= open + 1e-12).then_some(next)
    }

    /// Travel of the rod between shut and `open`, m; up to a toggle if there is one.
    pub fn stroke_m(&self, open: f64) -> f64 {
        let reach = self.toggle(open).unwrap_or(open).min(open);
        (self.length_m(reach) - self.length_m(0.0)).abs()
    }

    /// Angle after a travel of the rod, rad, up to `open` or a toggle.
    pub fn angle_at(&self, travel_m: f64, open: f64) -> f64 {
        let reach = self.toggle(open).unwrap_or(open).min(open);
        let (a, b) = self.arms;
        if travel_m <= 0.0 || a <= 0.0 || b <= 0.0 {
            return 0.0;
        }
        let length = self.length_m(0.0) + if self.shut >= 0.0 { travel_m } else { -travel_m };
        let cosine = ((a * a + b * b - length * length) / (2.0 * a * b)).clamp(-1.0, 1.0);
        let g = if self.shut >= 0.0 { libm::acos(cosine) } else { -libm::acos(cosine) };
        (g - self.shut).clamp(0.0, reach)
    }

    /// Whether a lever is too short to carry anything.
    pub fn is_toggle(&self, lever_m: f64) -> bool {
        lever_m.abs() <= NO_LEVER * self.arms.0.min(self.arms.1)
    }
}
