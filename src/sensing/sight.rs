//! What a cone of view sees of a body: nearest distance, and how much of the cone the body fills.
//!
//! The cone is treated as a square pyramid: a horizontal wedge of half angle `a` about the axis and a vertical wedge
//! of the same half angle about the axis' elevation. Everything is done with tangents, so that a look costs no
//! trigonometric function. A window that looks steeply down (more than [`STEEP_DEG`] below the horizontal) sees the
//! tops of bodies instead of their fronts: through a square that widens downwards, at the distance of the top.

use crate::scenario::mower::{Axles, Mower};
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
    /// Where its weight rests; none if it is spread evenly along x. The nose is at the lower x.
    pub axles: Option<Axles>,
}

impl Body {
    /// The mower with its nose at `nose_m`, `sideways_m` off the middle of the way.
    pub fn of_mower(mower: &Mower, nose_m: f64, sideways_m: f64) -> Body {
        Body {
            x_m: (nose_m, nose_m + mower.length_m),
            y_m: (sideways_m - 0.5 * mower.width_m, sideways_m + 0.5 * mower.width_m),
            height_m: mower.height_m,
            reflectance: mower.reflectance,
            soft: false,
            mass_kg: mower.mass_kg,
            axles: mower.axles,
        }
    }
}

impl Body {
    /// The same body on its way to `other`, the same at another place, at this share of the way.
    fn between(&self, other: &Body, share: f64) -> Body {
        let at = |a: (f64, f64), b: (f64, f64)| (a.0 + share * (b.0 - a.0), a.1 + share * (b.1 - a.1));
        Body { x_m: at(self.x_m, other.x_m), y_m: at(self.y_m, other.y_m), ..*self }
    }

    /// The least box around the body in both places.
    pub(super) fn around(&self, other: &Body) -> Body {
        let wide = |a: (f64, f64), b: (f64, f64)| (a.0.min(b.0), a.1.max(b.1));
        Body { x_m: wide(self.x_m, other.x_m), y_m: wide(self.y_m, other.y_m), ..*self }
    }

    /// What the body covers in both places, if anything.
    pub(super) fn common(&self, other: &Body) -> Option<Body> {
        let tight = |a: (f64, f64), b: (f64, f64)| (a.0.max(b.0), a.1.min(b.1));
        let (x, y) = (tight(self.x_m, other.x_m), tight(self.y_m, other.y_m));
        (x.0 < x.1 && y.0 < y.1).then_some(Body { x_m: x, y_m: y, ..*self })
    }
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

/// What is seen of a body in the ground plane.
#[derive(Clone, Copy, Debug, PartialEq)]
struct PlanView {
    /// Distance in the ground plane to the nearest point within the wedge, m.
    flat_m: f64,
    /// Share of the wedge's width that the body fills, 0 to 1.
    fill: f64,
    /// Tangent of the bearing of the nearest point against the axis.
    tangent: f64,
    /// Tangents of the outermost bearings at which it is met; none if the window is at the body's very side.
    bearings: Option<(f64, f64)>,
}

/// Largest off-axis share that a sight reports.
pub const OFF_AXIS_MAX: f64 = 1.5;

/// A mounted cone with its trigonometry done once.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cone {
    position: [f64; 3],
    forward: (f64, f64),
    tan_half: f64,
    slope: (f64, f64),
    /// Elevation of the axis, rad.
    pitch: f64,
    reach: f64,
    /// For a window that looks steeply down: horizontal way per metre of descent along the axis, and descent per metre
    /// of axis.
    down: Option<(f64, f64)>,
    /// For a window that faces the way out: tangent of its yaw, and the largest tangent of a direction in the wedge against
    /// the way out.
    faces_out: Option<(f64, f64)>,
}

/// From this angle below the horizontal on a window looks down on tops rather than out at fronts, degrees.
pub const STEEP_DEG: f64 = 60.0;

/// Most bodies near the door at one time: the mower, ten visitors and an object.
pub const BODIES_MAX: usize = GUESTS_MAX + 2;

/// Most visitors there at one time.
pub const GUESTS_MAX: usize = 10;

/// Bounds on what is seen of a body that moves within an outer and around an inner box.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Extent {
    /// It is never seen nearer than this, m.
    pub nearest_m: f64,
    /// Where it is seen at all it is never farther than this, m; infinite if nothing is known.
    pub farthest_m: f64,
    /// It always fills at least this share of the cone.
    pub fill_least: f64,
    /// It never fills more than this share of the cone.
    pub fill_most: f64,
    /// What is seen of it never lies farther off the axis than this, as a share of the half cone's tangent.
    pub off_axis_most: f64,
}

/// Closest forward distance that is looked at, m: nearer parts of a body count as being there.
const CLOSEST_M: f64 = 0.005;

/// Largest angle against the way out of a direction in the wedge of a window that faces it, rad (80 degrees).
const FACING: f64 = 1.396_263_401_595_463_6;

/// At least as far as any point of such a wedge that lies no farther out than [`CLOSEST_M`], m: 5 mm / cos 80 degrees.
const TIP_M: f64 = 0.03;

/// Bounds on what is seen in the ground plane of a body that moves.
struct Bearings {
    /// It is never seen nearer than this, m.
    near_m: f64,
    /// Where it is seen at all it is never farther than this, m.
    far_m: f64,
    /// It always fills at least this share of the wedge.
    fill: f64,
    /// It never fills more than this share of it.
    fill_most: f64,
    /// Its nearest point is never farther off the axis, as a share of the half wedge's tangent.
    off_h: f64,
}

/// See [`Cone::faces_out`]; none if the way out is not in the wedge, or a direction in the wedge is nearly across it.
fn faces_out(yaw: f64, half: f64) -> Option<(f64, f64)> {
    let yaw = libm::atan2(libm::sin(yaw), libm::cos(yaw));
    let widest = libm::fabs(yaw) + half;
    (libm::fabs(yaw) <= half && widest <= FACING).then(|| (libm::tan(yaw), libm::tan(widest)))
}

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
            pitch,
            // A target a little beyond the range can still be made out now and then.
            reach: 1.3 * aim.farthest_m,
            down: (aim.pitch_deg <= -STEEP_DEG).then(|| (libm::cos(pitch) / libm::sin(-pitch), libm::sin(-pitch))),
            faces_out: faces_out(yaw, half),
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
        if let Some(down) = self.down {
            return self.look_down(down, body);
        }
        let plan = self.look_from_above(body)?;
        let flat = plan.flat_m;
        let z = self.position[2];
        let bottom = (z + self.slope.0 * flat).max(0.0);
        let top = (z + self.slope.1 * flat).min(body.height_m);
        if top <= bottom {
            return None;
        }
        let rise = z.clamp(bottom, top) - z;
        let middle = 0.5 * (self.slope.0 + self.slope.1);
        let off_v = ((rise / flat.max(CLOSEST_M) - middle) / self.tan_half).clamp(-1.0, 1.0);
        let off_h = plan.tangent / self.tan_half;
        Some(Sight {
            distance_m: libm::sqrt(flat * flat + rise * rise),
            fill: plan.fill * self.vertical_share(flat, body.height_m),
            off_axis: libm::sqrt(off_h * off_h + off_v * off_v).min(OFF_AXIS_MAX),
        })
    }

    /// Looks down on a body's top.
    fn look_down(&self, (drift, sine): (f64, f64), body: &Body) -> Option<Sight> {
        let descent = (self.position[2] - body.height_m).max(CLOSEST_M);
        let middle =
            (self.position[0] + self.forward.0 * drift * descent, self.position[1] + self.forward.1 * drift * descent);
        let half = self.tan_half * descent / sine;
        let overlap = |span: (f64, f64), at: f64| (span.1.min(at + half) - span.0.max(at - half)).max(0.0);
        let (along, across) = (overlap(body.x_m, middle.0), overlap(body.y_m, middle.1));
        if along <= 0.0 || across <= 0.0 {
            return None;
        }
        let beside = |span: (f64, f64), at: f64| (at - at.clamp(span.0, span.1)) / half;
        let (off_x, off_y) = (beside(body.x_m, middle.0), beside(body.y_m, middle.1));
        Some(Sight {
            distance_m: descent / sine,
            fill: along * across / (4.0 * half * half),
            off_axis: libm::hypot(off_x, off_y).min(OFF_AXIS_MAX),
        })
    }

    /// Whether a body may come into the cone on its straight way from one place to another; never says no too often.
    pub fn could_meet(&self, ends: [&Body; 2]) -> bool {
        match self.down {
            Some(down) => self.look_down(down, &ends[0].around(ends[1])).is_some(),
            None => self.meets(ends).is_some(),
        }
    }

    /// Bounds on what can be seen of a body that moves straight between the places `ends`, always stays within `outer` and
    /// always covers `inner`; none if it can't be seen at all.
    ///
    /// The moments and points at which a body that moves straight lies within the wedge form a convex set. Its distance
    /// is therefore a convex function of time, largest at one of the ends; and a bearing that meets it at both ends
    /// meets it all the way.
    pub fn extent(&self, outer: &Body, inner: Option<&Body>, ends: [&Body; 2]) -> Option<Extent> {
        if let Some(down) = self.down {
            let seen = self.look_down(down, outer)?;
            let fill_least = inner.and_then(|body| self.look_down(down, body)).map_or(0.0, |sight| sight.fill);
            // The top is always equally far down.
            let distance_m = seen.distance_m;
            return Some(Extent {
                nearest_m: distance_m,
                farthest_m: distance_m,
                fill_least,
                fill_most: seen.fill,
                off_axis_most: OFF_AXIS_MAX,
            });
        }
        let Bearings { near_m, far_m, fill, fill_most, off_h } = self.bearings(ends)?;
        let height = outer.height_m;
        let (from_m, to_m) = self.clears_view_m(height);
        // The horizontal share is least as said, the vertical one at one of the ends.
        let vertical = self.vertical_share(near_m, height).min(self.vertical_share(far_m, height));
        // A body that slides along the wedge's edge is always equally far away, but for rounding.
        let (near_m, far_m) = (near_m.max(from_m), far_m.max(near_m).min(to_m));
        if near_m > far_m {
            return None;
        }
        let off_v = self.off_middle(near_m, height).max(self.off_middle(far_m, height));
        Some(Extent {
            // Of something lower than the window the top is the nearest that can be seen.
            nearest_m: libm::hypot(near_m, (self.position[2] - height).max(0.0)),
            farthest_m: libm::hypot(far_m, self.rise_at_most(far_m, height)),
            fill_least: fill * vertical,
            fill_most: fill_most * self.vertical_share_at_most(near_m, far_m, height),
            off_axis_most: libm::hypot(off_h, off_v).min(OFF_AXIS_MAX),
        })
    }

    /// The same in the ground plane; none if the body can't be within the horizontal wedge.
    fn bearings(&self, ends: [&Body; 2]) -> Option<Bearings> {
        if let Some(passing) = self.straight_out(ends) {
            return passing;
        }
        // Only while it can be in the wedge does it matter where it is.
        let (from, to) = self.meets(ends)?;
        let part = [ends[0].between(ends[1], from), ends[0].between(ends[1], to)];
        let parts = part.each_ref();
        let near = self.look_from_above(&part[0].around(&part[1]))?;
        let always = match parts.map(|body| self.look_from_above(body)) {
            [
                Some(PlanView { flat_m: a, bearings: Some(first), .. }),
                Some(PlanView { flat_m: b, bearings: Some(last), .. }),
            ] => {
                let share = (first.1.min(last.1) - first.0.max(last.0)) / (2.0 * self.tan_half);
                Some((a.max(b), share.clamp(0.0, 1.0)))
            }
            _ => {
                part[0].common(&part[1]).and_then(|body| self.look_from_above(&body)).map(|far| (far.flat_m, far.fill))
            }
        };
        // Whatever is seen lies within the wedge and within what the body sweeps.
        let (far_m, fill) = always.unwrap_or_else(|| (self.farthest_in_wedge(&part[0].around(&part[1])), 0.0));
        let fill = if from > 0.0 || to < 1.0 { 0.0 } else { fill };
        Some(Bearings { near_m: near.flat_m, far_m, fill, fill_most: near.fill, off_h: 1.0 })
    }

    /// The part of its way from one place to another, as shares of it, on which a body may be within the horizontal wedge;
    /// none if it never is. May say too much, never too little.
    ///
    /// How far a body's nearest corner is on the wrong side of an edge of the wedge changes evenly on a straight way: it is
    /// surely outside while it is wholly on the wrong side of one of them.
    pub(super) fn meets(&self, ends: [&Body; 2]) -> Option<(f64, f64)> {
        // As a window at a body's very side counts as in it.
        let slack = 4.0 * CLOSEST_M * (1.0 + self.tan_half);
        let beyond = |body: &Body| {
            let t = self.tan_half;
            self.corners(body).iter().fold([f64::NEG_INFINITY; 3], |most, (u, v)| {
                [most[0].max(t * u - v), most[1].max(t * u + v), most[2].max(*u)]
            })
        };
        let (first, last) = (beyond(ends[0]), beyond(ends[1]));
        let (mut from, mut to) = (0.0_f64, 1.0_f64);
        for (a, b) in first.into_iter().zip(last) {
            let (a, b) = (a + slack, b + slack);
            match (a < 0.0, b < 0.0) {
                (true, true) => return None,
                (true, false) => from = from.max(a / (a - b) - 1e-9),
                (false, true) => to = to.min(a / (a - b) + 1e-9),
                (false, false) => {}
            }
        }
        (from <= to).then_some((from, to))
    }

    /// The same for a window that faces the way out and a body that always spans the line straight out of it: over, behind or
    /// before the window. None where that is not so, and then none if the body is always behind.
    ///
    /// Where it is before the window, its nearest point lies on that line, and a ray meets its face if it gets no farther
    /// aside than the body does. Where the window is in or over it, it fills the wedge.
    fn straight_out(&self, ends: [&Body; 2]) -> Option<Option<Bearings>> {
        let (turn, extreme) = self.faces_out?;
        let (sx, sy) = (self.position[0], self.position[1]);
        let aside = |body: &Body| (sy - body.y_m.0).min(body.y_m.1 - sy);
        let aside_m = aside(ends[0]).min(aside(ends[1]));
        if aside_m < 0.0 {
            return None;
        }
        let [first, last] = ends.map(|body| (body.x_m.0 - sx, body.x_m.1 - sx));
        let (front_near, front_far, back_near) = (first.0.min(last.0), first.0.max(last.0), first.1.min(last.1));
        if first.1.max(last.1) < -CLOSEST_M {
            return Some(None);
        }
        let met = if front_far <= CLOSEST_M { extreme } else { aside_m / front_far };
        let t = self.tan_half;
        // The share of the wedge between bearings that get so far to the left and right of the way out.
        let between = |left: f64, right: f64| {
            let tangent =
                |met: f64, turn: f64| if met >= extreme { t } else { ((met - turn) / (1.0 + met * turn)).min(t) };
            ((tangent(right, turn) + tangent(left, -turn)) / (2.0 * t)).clamp(0.0, 1.0)
        };
        let fill = if back_near < 0.0 { 0.0 } else { between(met, met) };
        // Its nearest face, and all the way that its sides go, fill the most.
        let fill_most = if front_near <= CLOSEST_M {
            1.0
        } else {
            let [left, right] = [|body: &Body, sy: f64| sy - body.y_m.0, |body: &Body, sy: f64| body.y_m.1 - sy]
                .map(|side| side(ends[0], sy).max(side(ends[1], sy)) / front_near);
            between(left, right)
        };
        Some(Some(Bearings {
            near_m: front_near.max(CLOSEST_M),
            far_m: front_far.max(TIP_M),
            fill,
            fill_most,
            off_h: if front_near > 2.0 * CLOSEST_M { libm::fabs(turn) / t } else { 1.0 },
        }))
    }

    /// Distances in the ground plane between which something `height_m` high stands in the cone's height: nearer the cone
    /// looks over it, farther away the cone has reached the ground. By a hair too much rather than too little.
    pub(super) fn clears_view_m(&self, height_m: f64) -> (f64, f64) {
        let (z, (low, high)) = (self.position[2], self.slope);
        let over = if height_m > z {
            0.0
        } else if low < 0.0 {
            (z - height_m) / -low
        } else {
            f64::INFINITY
        };
        let grounded = if high < 0.0 { z / -high } else { f64::INFINITY };
        (over * (1.0 - 1e-9) - 1e-9, grounded * (1.0 + 1e-9) + 1e-9)
    }

    /// Farthest point of a body within the horizontal wedge, in the ground plane, m: at a corner of the part in it.
    fn farthest_in_wedge(&self, body: &Body) -> f64 {
        let corners = self.corners(body);
        let edges = (0..4).filter_map(|index| self.clip(corners[index], corners[(index + 1) % 4]));
        // Around the window the part begins in the wedge's tip, which is nearer than any of these.
        edges.flat_map(|(p, q)| [p, q]).map(|(u, v)| libm::hypot(u, v)).fold(CLOSEST_M, f64::max)
    }

    /// How far off the middle of the cone's height what is seen of something `height_m` high lies, as a share of the half
    /// cone's tangent. The slope to it rises or falls with the distance, or stays, so that it is farthest off at one of the
    /// ends of a range.
    fn off_middle(&self, flat_m: f64, height_m: f64) -> f64 {
        let z = self.position[2];
        let flat = flat_m.max(CLOSEST_M);
        let (low, high) = self.slope;
        let slope = 0.0_f64.max(low).min(high.min((height_m - z) / flat));
        libm::fabs((slope - 0.5 * (low + high)) / self.tan_half).min(1.0)
    }

    /// Distance in the ground plane to the nearest part of a body within the cone; none if there is none, or for a window
    /// that looks down.
    pub fn flat_distance_m(&self, body: &Body) -> Option<f64> {
        if self.down.is_some() { None } else { self.look_from_above(body).map(|view| view.flat_m) }
    }

    /// Looks at a body in the ground plane only; none if it is outside the horizontal wedge.
    fn look_from_above(&self, body: &Body) -> Option<PlanView> {
        let (sx, sy) = (self.position[0], self.position[1]);
        let within = |span: (f64, f64), at: f64| at >= span.0 - CLOSEST_M && at <= span.1 + CLOSEST_M;
        if within(body.x_m, sx) && within(body.y_m, sy) {
            // The window is in or over the body, and every bearing meets it unless it is at its very side.
            let tip = CLOSEST_M * libm::sqrt(1.0 + self.tan_half * self.tan_half);
            let deep = |span: (f64, f64), at: f64| at >= span.0 + tip && at <= span.1 - tip;
            let around = deep(body.x_m, sx) && deep(body.y_m, sy);
            let bearings = around.then_some((-self.tan_half, self.tan_half));
            return Some(PlanView { flat_m: CLOSEST_M, fill: 1.0, tangent: 0.0, bearings });
        }
        let corners = self.corners(body);
        if corners.iter().all(|(u, _)| *u >= CLOSEST_M) {
            let t = self.tan_half;
            if corners.iter().all(|(u, v)| *v > t * u) || corners.iter().all(|(u, v)| *v < -t * u) {
                return None;
            }
            // All of it is ahead: its outermost bearings are those of corners.
            let (low, high) = corners.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), (u, v)| {
                let tangent = v / u;
                (low.min(tangent), high.max(tangent))
            });
            let (low, high) = (low.max(-self.tan_half), high.min(self.tan_half));
            if low > high {
                return None;
            }
            // Its nearest point is also the nearest in the wedge if it lies there.
            let (dx, dy) = (sx.clamp(body.x_m.0, body.x_m.1) - sx, sy.clamp(body.y_m.0, body.y_m.1) - sy);
            let (c, s) = self.forward;
            let (u, v) = (dx * c + dy * s, dy * c - dx * s);
            if libm::fabs(v) <= self.tan_half * u {
                let fill = ((high - low) / (2.0 * self.tan_half)).clamp(0.0, 1.0);
                let flat_m = libm::sqrt(dx * dx + dy * dy);
                return Some(PlanView { flat_m, fill, tangent: v / u, bearings: Some((low, high)) });
            }
        } else if corners.iter().all(|(u, _)| *u < CLOSEST_M) {
            return None;
        }
        let mut nearest = f64::INFINITY;
        let mut tangent = 0.0;
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
                tangent = v / u;
            }
        }
        if nearest.is_infinite() {
            return None;
        }
        let fill = ((high - low) / (2.0 * self.tan_half)).clamp(0.0, 1.0);
        Some(PlanView { flat_m: libm::sqrt(nearest), fill, tangent, bearings: Some((low, high)) })
    }

    /// The corners of a body in the ground plane, in turn: forward and sideways of the window.
    fn corners(&self, body: &Body) -> [(f64, f64); 4] {
        let ((sx, sy), (c, s)) = ((self.position[0], self.position[1]), self.forward);
        [(body.x_m.0, body.y_m.0), (body.x_m.1, body.y_m.0), (body.x_m.1, body.y_m.1), (body.x_m.0, body.y_m.1)]
            .map(|(x, y)| ((x - sx) * c + (y - sy) * s, (y - sy) * c - (x - sx) * s))
    }

    /// Largest height difference between the window and the visible point of something `height_m` high that is up to
    /// `flat_m` away, m.
    fn rise_at_most(&self, flat_m: f64, height_m: f64) -> f64 {
        (self.position[2] - height_m).max(-self.slope.1 * flat_m).max(self.slope.0 * flat_m).max(0.0)
    }

    /// Share of the cone's height that something `height_m` high fills at a distance in the ground plane. Rises with
    /// the distance at first (where the cone looks over it) and falls from then on, so that over a range of distances
    /// it is least at one of the ends.
    fn vertical_share(&self, flat_m: f64, height_m: f64) -> f64 {
        let z = self.position[2];
        let flat = flat_m.max(CLOSEST_M);
        let bottom = (z + self.slope.0 * flat).max(0.0);
        let top = (z + self.slope.1 * flat).min(height_m);
        ((top - bottom) / (flat * (self.slope.1 - self.slope.0))).clamp(0.0, 1.0)
    }

    /// The largest of these shares over a range of distances: at one of its ends, where the lower edge of the cone meets the
    /// ground or where the upper one passes the top. Between them the share rises or falls with one over the distance.
    fn vertical_share_at_most(&self, near_m: f64, far_m: f64, height_m: f64) -> f64 {
        let z = self.position[2];
        let grounded = -z / self.slope.0;
        let passed = (height_m - z) / self.slope.1;
        [near_m, far_m, grounded, passed]
            .into_iter()
            .filter(|flat| *flat >= near_m && *flat <= far_m)
            .map(|flat| self.vertical_share(flat, height_m))
            .fold(0.0, f64::max)
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
        let pitch = self.pitch;
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
            axles: None,
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
