//! Double-slider panel (elliptic trammel): one end rides a vertical rail, the other a horizontal one.
//!
//! The rails cross at O; x points into the shelter, y up. A = (0, -L cos th) is on the vertical rail and B = (L sin th, 0)
//! on the horizontal one; th is the angle of AB from the vertical, 0 for a panel that hangs shut, 90 degrees for one
//! that lies open. u = (sin th, cos th) points from A to B, n = (cos th, -sin th) is normal to it.
//!
//! Forces: weight W at lam L along u and eps L along n, wind P along n (inwards positive) at lamp L, drags SA and SB along
//! the rails against the motion, the drive D along a given direction at a given point of the panel, and the rails'
//! reactions NA (along x) and NB (along y) with Coulomb friction. Plane statics with d = +1 opening, -1 closing and
//! sA, sB the signs of the reactions:
//!
//! ```text
//! | Dx             1          -d muB sB       | |D |   | d SB - P c                               |
//! | Dy         -d muA sA           1          | |NA| = | d SA + W + P s                           |
//! | px Dy-py Dx    0       s + c d muB sB     | |NB|   | W (lam s + eps c) + lamp P - c d SB      |
//! ```
//!
//! Each of the four sign cases is solved; it counts if its reactions have the signs assumed. No case: locked, no force
//! moves the panel. Two: the friction paradox (Painleve): the panel moves from the smaller force on and jams at the
//! larger one. The geometry has two dead points: a vertical drive cannot start a hanging panel, a horizontal one
//! cannot finish a lying one; both lock within atan(mu) of it. A drive that pulls both sliders has neither.
//!
//! These are the statics alone; [`super::trammel`] puts them to work for a door.

use super::Direction;

/// Panel and rails.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Trammel {
    /// Distance AB, m.
    pub length_m: f64,
    /// Weight, N.
    pub weight_n: f64,
    /// Centre of mass along AB, as a share of the length from A (lam).
    pub mass_at: f64,
    /// Centre of mass beside AB, as a share of the length along n (eps).
    pub mass_off: f64,
    /// Wind force along n, N.
    pub wind_n: f64,
    /// Where the wind force acts, as a share of the length from A (lamp).
    pub wind_at: f64,
    /// Drag at A, N.
    pub drag_a_n: f64,
    /// Drag at B, N.
    pub drag_b_n: f64,
    /// Friction coefficient at the vertical rail.
    pub friction_a: f64,
    /// Friction coefficient at the horizontal rail.
    pub friction_b: f64,
}

/// Where and in which direction the drive pulls.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pull {
    /// Direction of a positive force, unit vector (x, y).
    pub along: (f64, f64),
    /// Point along AB, as a share of the length from A (kappa).
    pub at: f64,
    /// Point beside AB, as a share of the length along n.
    pub off: f64,
}

impl Pull {
    /// Upwards at A.
    pub const UP_AT_A: Pull = Pull { along: (0.0, 1.0), at: 0.0, off: 0.0 };
    /// Inwards at B.
    pub const INWARDS_AT_B: Pull = Pull { along: (1.0, 0.0), at: 1.0, off: 0.0 };
}

/// One state in which the panel is about to move.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Balance {
    /// Drive force along its direction, N; a negative one pulls the other way, that is, holds back.
    pub drive_n: f64,
    /// Reaction of the vertical rail, along x, N.
    pub rail_a_n: f64,
    /// Reaction of the horizontal rail, along y, N.
    pub rail_b_n: f64,
}

/// What the drive can do at an angle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Answer {
    /// No force moves the panel.
    Locked,
    /// This force moves it.
    Moves(Balance),
    /// The first force moves it, from the second on (in the sense of the motion) it jams.
    Window(Balance, Balance),
}

impl Trammel {
    /// Clear height under the lower edge, m: the travel of A.
    pub fn clear_height_m(&self, angle: f64) -> f64 {
        // 1 - cos, without cancellation at small angles.
        2.0 * self.length_m * libm::sin(0.5 * angle) * libm::sin(0.5 * angle)
    }

    /// Travel of B from the hanging panel, m.
    pub fn inward_travel_m(&self, angle: f64) -> f64 {
        self.length_m * libm::sin(angle)
    }

    /// Angle at a clear height, rad.
    pub fn angle_at_height(&self, height_m: f64) -> f64 {
        2.0 * libm::asin((0.5 * height_m / self.length_m).clamp(0.0, 0.5).sqrt())
    }

    /// Angle at a travel of B, rad.
    pub fn angle_at_travel(&self, travel_m: f64) -> f64 {
        libm::asin((travel_m / self.length_m).clamp(0.0, 1.0))
    }

    /// The generalised force Q/L without friction at the rails, by virtual work: the drive's work per radian over L.
    fn torque_per_length_n(&self, angle: f64, direction: Direction) -> f64 {
        let (s, c, d) = (libm::sin(angle), libm::cos(angle), sign(direction));
        self.weight_n * ((1.0 - self.mass_at) * s - self.mass_off * c) - self.wind_n * (self.wind_at - s * s)
            + d * (self.drag_a_n * s + self.drag_b_n * c)
    }

    /// Upward force at A without friction at the rails, N; infinite at the hanging panel.
    pub fn frictionless_up_n(&self, angle: f64, direction: Direction) -> f64 {
        self.torque_per_length_n(angle, direction) / libm::sin(angle)
    }

    /// Inward force at B without friction at the rails, N; infinite at the lying panel.
    pub fn frictionless_inwards_n(&self, angle: f64, direction: Direction) -> f64 {
        self.torque_per_length_n(angle, direction) / libm::cos(angle)
    }

    /// The balances that fit their own friction signs, by rising drive force.
    pub fn balances(&self, angle: f64, direction: Direction, pull: &Pull) -> Vec<Balance> {
        self.balances_of(angle, direction, std::slice::from_ref(pull))
    }

    /// The same for a drive that pulls several points, each with its full force (a chain has the same tension
    /// everywhere).
    pub fn balances_of(&self, angle: f64, direction: Direction, pulls: &[Pull]) -> Vec<Balance> {
        let (s, c, d) = (libm::sin(angle), libm::cos(angle), sign(direction));
        let (mut ex, mut ey, mut turn) = (0.0, 0.0, 0.0);
        for pull in pulls {
            let (px, py) = (pull.at * s + pull.off * c, pull.at * c - pull.off * s);
            ex += pull.along.0;
            ey += pull.along.1;
            turn += px * pull.along.1 - py * pull.along.0;
        }
        let right = [
            d * self.drag_b_n - self.wind_n * c,
            d * self.drag_a_n + self.weight_n + self.wind_n * s,
            self.weight_n * (self.mass_at * s + self.mass_off * c) + self.wind_at * self.wind_n - c * d * self.drag_b_n,
        ];
        let scale = right.iter().fold(0.0_f64, |most, force| most.max(force.abs()));
        let mut found: Vec<Balance> = Vec::new();
        for (sign_a, sign_b) in [(1.0, 1.0), (1.0, -1.0), (-1.0, 1.0), (-1.0, -1.0)] {
            let (fa, fb) = (d * self.friction_a * sign_a, d * self.friction_b * sign_b);
            let matrix = [[ex, 1.0, -fb], [ey, -fa, 1.0], [turn, 0.0, s + c * fb]];
            let Some([drive_n, rail_a_n, rail_b_n]) = solve(&matrix, &right) else { continue };
            // A reaction of zero belongs to both signs, and rounding may put it on the wrong side.
            let zero = 1e-9 * scale.max(drive_n.abs());
            let fits = sign_a * rail_a_n >= -zero && sign_b * rail_b_n >= -zero;
            let known = found.iter().any(|other| (other.drive_n - drive_n).abs() <= 1e-9 * scale.max(drive_n.abs()));
            if fits && !known {
                found.push(Balance { drive_n, rail_a_n, rail_b_n });
            }
        }
        found.sort_by(|one, other| one.drive_n.total_cmp(&other.drive_n));
        found
    }

    /// What a drive can do at an angle. In a window the first balance is the one that needs the smaller force in the
    /// sense of the motion; beyond the second the panel jams.
    pub fn answer(&self, angle: f64, direction: Direction, pull: &Pull) -> Answer {
        self.answer_of(angle, direction, std::slice::from_ref(pull))
    }

    /// The same for a drive that pulls several points.
    pub fn answer_of(&self, angle: f64, direction: Direction, pulls: &[Pull]) -> Answer {
        let mut found = self.balances_of(angle, direction, pulls);
        // Way of the driven points per radian, along the drive's direction: negative beyond a toggle of the drive.
        let (s, c) = (libm::sin(angle), libm::cos(angle));
        let way: f64 = pulls
            .iter()
            .map(|pull| {
                pull.along.0 * (pull.at * c - pull.off * s) + pull.along.1 * ((1.0 - pull.at) * s - pull.off * c)
            })
            .sum();
        if way * sign(direction) < 0.0 {
            found.reverse();
        }
        match found[..] {
            [] => Answer::Locked,
            [only] => Answer::Moves(only),
            [first, .., last] => Answer::Window(first, last),
        }
    }

    /// Angle up to which an upward drive at A cannot open against a seal, and below which nothing closes, rad.
    pub fn dead_at_hanging(&self) -> f64 {
        libm::atan(self.friction_b)
    }

    /// Angle from which an inward drive at B moves the panel no further, rad.
    pub fn dead_at_lying(&self) -> f64 {
        0.5 * std::f64::consts::PI - libm::atan(self.friction_a)
    }

    /// Angle at which a panel let down by the drive at A stops closing under its own weight, rad, without wind, drag or
    /// an offset of its mass; a right angle if it does not close at all.
    pub fn closes_by_weight_to(&self) -> f64 {
        let room = 1.0 - self.mass_at * (1.0 + self.friction_a * self.friction_b);
        if room > 0.0 { libm::atan(self.friction_b / room) } else { 0.5 * std::f64::consts::PI }
    }
}

fn sign(direction: Direction) -> f64 {
    match direction {
        Direction::Opening => 1.0,
        Direction::Closing => -1.0,
    }
}

/// Cramer's rule; none if the matrix is singular to rounding.
fn solve(m: &[[f64; 3]; 3], right: &[f64; 3]) -> Option<[f64; 3]> {
    let det = |m: &[[f64; 3]; 3]| {
        m[0][0] * (m[1][1] * m[2][2] - m[1][2] * m[2][1]) - m[0][1] * (m[1][0] * m[2][2] - m[1][2] * m[2][0])
            + m[0][2] * (m[1][0] * m[2][1] - m[1][1] * m[2][0])
    };
    let whole = det(m);
    // All entries are of the order of 1.
    if whole.abs() < 1e-14 {
        return None;
    }
    let with = |column: usize| {
        let mut copy = *m;
        for (row, value) in copy.iter_mut().zip(right) {
            row[column] = *value;
        }
        det(&copy) / whole
    };
    Some([with(0), with(1), with(2)])
}
