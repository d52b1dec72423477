//! How likely an interesting reading can be at all while things move: upper bounds over a stretch of time.
//!
//! While a body moves, every sample has a law of its own. Most of them are still boring: the mower is far beyond the
//! level, or stands plainly under it. If no sample of a stretch is interesting with more than probability p, samples
//! may be skipped with that p and each candidate kept with (its own probability)/p: thinning (Lewis & Shedler, Naval
//! Research Logistics Quarterly 26, 1979, 403-413). The result is exact for every valid p; a good one is only cheaper.
//!
//! The bounds are rigorous. A body that moves through a stretch always lies inside its *outer* box (everything it
//! sweeps) and always covers its *inner* box (what it covers all the time): what is nearer, larger and better visible
//! than the body follows from the outer box, what is farther and smaller from the inner one, or from both ends of its
//! way (see [`super::sight::Cone::extent`]).

use arrayvec::ArrayVec;

use super::law::{Boring, Law, Spurious, Target};
use super::reading::{Eye, Seeing, Surroundings, breaks, echo_valid, load_on, optical_valid};
use super::sight::{BODIES_MAX, Body, Extent};
use crate::math::normal;
use crate::scenario::sensor::{Aim, SensorKind, TiltOn};

/// What a body sweeps and what it always covers during a stretch.
#[derive(Clone, Copy, Debug)]
pub struct Hull {
    /// Everything the body sweeps.
    pub outer: Body,
    /// What it covers all the time; none if it moves by more than its own length.
    pub inner: Option<Body>,
    /// The body at both ends of the stretch, between which it moves straight.
    pub ends: [Body; 2],
}

impl Hull {
    /// The hull of a body that moves straight from `first` to `last` (the same body at both ends).
    pub fn between(first: &Body, last: &Body) -> Hull {
        Hull { outer: first.around(last), inner: first.common(last), ends: [*first, *last] }
    }
}

impl Eye {
    /// An upper bound on the probability that a reading is not boring, for all moments of a stretch in which bodies
    /// stay within `hulls` and everything else is as in `around`. 1 where no useful bound is known.
    pub fn interesting_at_most(&self, around: &Surroundings, hulls: &[Hull], boring: &Boring) -> f64 {
        let drop = around.seeing.drop;
        match &self.sensor.kind {
            SensorKind::OpticalRange { aim, background_m, .. } => {
                let valid = |body: &Body, fill: f64, distance: f64, _: f64| {
                    optical_valid(around.seeing.range_m, body.reflectance, fill, distance)
                };
                self.ranger_bound(around, hulls, boring, aim, *background_m, valid)
            }
            SensorKind::UltrasonicRange { aim, background_m, .. } => {
                let valid = |body: &Body, _: f64, distance: f64, off_axis: f64| {
                    echo_valid(&around.seeing, body.soft, distance, off_axis)
                };
                self.ranger_bound(around, hulls, boring, aim, *background_m, valid)
            }
            SensorKind::BreakBeam { x_m, z_m, span_m, .. } => {
                let broken = |body: &Body| breaks(body, *x_m, *z_m, *span_m);
                if around.false_break || hulls.iter().any(|hull| hull.inner.as_ref().is_some_and(broken)) {
                    return Law::exact(1.0, drop).interesting_probability(boring);
                }
                if hulls.iter().any(|hull| broken(&hull.outer)) {
                    return 1.0;
                }
                let nobody = Surroundings { bodies: &[], ..*around };
                self.law(&nobody).interesting_probability(boring)
            }
            SensorKind::PlatformLoad { span_m, area_m2, .. } => {
                let standing = area_m2 * around.water_mm + around.crept_kg;
                let load = load_between(hulls, *span_m);
                let felt = |load: f64| around.seeing.scale * (load + standing);
                let swing = around.swing_kg;
                self.analogue_bound((felt(load.0 - swing), felt(load.1 + swing)), around, boring, drop)
            }
            SensorKind::Tilt { on: TiltOn::Platform { deg_per_kg, span_m } } => {
                let load = load_between(hulls, *span_m);
                let felt = |load: f64| around.seeing.scale * deg_per_kg * load;
                self.analogue_bound((felt(load.0), felt(load.1)), around, boring, drop)
            }
            // Its noise and bias depend on how much of the body is seen: every sample is drawn while something moves.
            SensorKind::PhotonRange { .. } => 1.0,
            // Nothing that moves changes these.
            SensorKind::Tilt { on: TiltOn::Panel }
            | SensorKind::EndSwitch { .. }
            | SensorKind::RainGauge
            | SensorKind::Status { .. }
            | SensorKind::Clock { .. } => 1.0,
        }
    }

    /// Distance in the ground plane to the nearest part of a body in a ranger's wedge.
    pub fn flat_distance_m(&self, body: &Body) -> Option<f64> {
        self.cone.as_ref().and_then(|cone| cone.flat_distance_m(body))
    }

    /// The share of its way to `last` that a body at `first` can go before it comes into a ranger's wedge: 1 if it never does.
    pub fn aside_until(&self, first: &Body, last: &Body) -> Option<f64> {
        self.cone.as_ref().map(|cone| cone.meets([first, last]).map_or(1.0, |(from, _)| from))
    }

    /// How far a body at `distance_m` may still move before a ranger makes it out at all: until it stands in the cone's height,
    /// or out of the blind zone but for three standard deviations. A guess like [`Eye::quiet_way_m`].
    fn hidden_way_m(&self, around: &Surroundings, distance_m: f64, body: &Body, boring: &Boring) -> f64 {
        let (Some(cone), SensorKind::OpticalRange { aim, .. } | SensorKind::UltrasonicRange { aim, .. }) =
            (&self.cone, &self.sensor.kind)
        else {
            return 0.0;
        };
        // While the window is under or in it, it comes no farther.
        let passing_m = if distance_m < 0.01 { (aim.position_m[0] - body.x_m.0).max(0.0) } else { 0.0 };
        let over_m = cone.clears_view_m(body.height_m).0 - distance_m;
        // Where nobody is made out a wall or nothing is.
        let empty = || self.law(&Surroundings { bodies: &[], ..*around });
        if over_m > 0.0 && empty().interesting_probability(boring) < 0.1 {
            return over_m + passing_m;
        }
        let blind_m = aim.nearest_m - 3.0 * self.sigma(distance_m, around.noise_factor);
        let hidden_m = (blind_m - around.seeing.offset) / around.seeing.scale - distance_m;
        if boring.nothing && hidden_m > 0.0 { hidden_m + passing_m } else { 0.0 }
    }

    /// How far a body at `distance_m` may still move before a ranger's readings of it come within three standard
    /// deviations of one that is not boring; `towards` says which way it moves, if that is known. A guess for how long a
    /// stretch to ask a bound for, not a bound; none where there is nothing to go by.
    pub fn quiet_way_m(
        &self,
        around: &Surroundings,
        distance_m: f64,
        body: &Body,
        towards: Option<bool>,
        boring: &Boring,
    ) -> Option<f64> {
        if !matches!(self.sensor.kind, SensorKind::OpticalRange { .. } | SensorKind::UltrasonicRange { .. }) {
            return None;
        }
        let reading = around.seeing.scale * distance_m + around.seeing.offset;
        let hidden_m = self.hidden_way_m(around, distance_m, body, boring);
        if hidden_m > 0.0 {
            return Some(if towards == Some(true) { f64::INFINITY } else { hidden_m });
        }
        let reach = 3.0 * self.sigma(distance_m, around.noise_factor);
        let low = match towards {
            Some(false) if reading - boring.low >= reach => f64::INFINITY,
            _ => reading - boring.low - reach,
        };
        let high = match towards {
            Some(true) if boring.high - reading >= reach => f64::INFINITY,
            _ => boring.high - reading - reach,
        };
        Some(low.min(high).max(0.0))
    }

    /// The true quantity lies between two values; its noise is at most that of the larger.
    fn analogue_bound(&self, quantity: (f64, f64), around: &Surroundings, boring: &Boring, drop: f64) -> f64 {
        let offset = around.seeing.offset - around.zero;
        let sigma = self.sigma(quantity.0, around.noise_factor).max(self.sigma(quantity.1, around.noise_factor));
        let mut law = Law::SILENT;
        law.resolution = self.sensor.errors.resolution;
        let (from, to) = law.boring_raw(boring);
        let low = beyond(quantity.0 + offset - from, sigma);
        let high = beyond(to - quantity.1 - offset, sigma);
        ((1.0 - drop) * (low + high) + if boring.nothing { 0.0 } else { drop }).min(1.0)
    }

    fn ranger_bound(
        &self,
        around: &Surroundings,
        hulls: &[Hull],
        boring: &Boring,
        aim: &Aim,
        background_m: Option<f64>,
        valid: impl Fn(&Body, f64, f64, f64) -> f64,
    ) -> f64 {
        let Some(cone) = &self.cone else { return 1.0 };
        let mut nearest_m = f64::INFINITY;
        let mut seen = ArrayVec::<(Extent, f64), { BODIES_MAX + 1 }>::new();
        let mut valid_most = 0.0_f64;
        let front = self.front(around).map(|front| Hull::between(front, front));
        for hull in hulls.iter().chain(&front) {
            let Some(extent) = cone.extent(&hull.outer, hull.inner.as_ref(), hull.ends.each_ref()) else { continue };
            nearest_m = nearest_m.min(extent.nearest_m);
            let sure = extent.fill_least > 0.0;
            let least =
                if sure { valid(&hull.outer, extent.fill_least, extent.farthest_m, extent.off_axis_most) } else { 0.0 };
            valid_most = valid_most.max(valid(&hull.outer, extent.fill_most, extent.nearest_m, 0.0));
            seen.push((extent, least));
        }
        let (farthest_m, valid_least) = read_at_least(&seen);
        let sigma_at = |distance: f64| self.sigma(distance, around.noise_factor);
        let Seeing { short, offset, scale, .. } = around.seeing;
        let frame = Law {
            resolution: self.sensor.errors.resolution,
            lowest: aim.nearest_m,
            highest: aim.farthest_m,
            ..Law::SILENT
        };
        let (from, to) = frame.boring_raw(boring);
        let far_boring = boring.high_included && boring.high == f64::INFINITY;
        // Target: low readings are likeliest when it is near, high ones when it is far.
        let mut target = 0.0;
        if !seen.is_empty() {
            // A low reading that is interesting is below the boring ones and not in the blind zone.
            let blind = frame.boring_raw(&Boring::EVERYTHING).0;
            if from > blind {
                let low = beyond(scale * nearest_m + offset - from, sigma_at(nearest_m));
                target += low.min(beyond(blind - scale * farthest_m - offset, sigma_at(farthest_m)));
            }
            if !far_boring {
                target += if farthest_m.is_finite() {
                    beyond(to - scale * farthest_m - offset, sigma_at(farthest_m))
                } else {
                    1.0
                };
            }
        }
        // No target: background or far.
        let otherwise = match background_m {
            Some(wall) => {
                let mut law = frame;
                law.targets[0] = Target { weight: 1.0, mean: scale * wall + offset, sigma: sigma_at(wall) };
                law.interesting_probability(&Boring { nothing: true, ..*boring })
            }
            None => f64::from(u8::from(!far_boring)),
        };
        let high = nearest_m.min(background_m.unwrap_or(f64::INFINITY)).min(aim.farthest_m);
        let mut law = frame;
        law.spurious = Spurious { weight: 1.0, low: aim.nearest_m, high };
        let spurious = if short <= 0.0 {
            0.0
        } else {
            // Low ones are likeliest before what is nearest, high ones where nothing is.
            let low = law.spurious_between(f64::NEG_INFINITY, from);
            law.spurious.high = background_m.unwrap_or(f64::INFINITY).min(aim.farthest_m);
            low + law.spurious_between(to, f64::INFINITY)
        };
        let nothing = if boring.nothing { 0.0 } else { 1.0 };
        let read = target.min(1.0) * valid_most + (1.0 - valid_least) * otherwise;
        // What is a short return is nothing else; there are none before what stands in the blind zone.
        let left = if high > aim.nearest_m { 1.0 - short } else { 1.0 };
        (nothing + short * spurious.min(1.0) + left * read).min(1.0)
    }
}

/// How far away the body that is read can be, and the least probability that it is made out, of bodies that are somewhere
/// and made out with some probability at least: the one that is read is the nearest of those that are more likely made
/// out than not, or the likeliest ([`Eye::law`]).
fn read_at_least(seen: &[(Extent, f64)]) -> (f64, f64) {
    let sure = |(_, least): &&(Extent, f64)| *least >= 0.5;
    let nearest_sure_m = seen.iter().filter(sure).map(|(extent, _)| extent.farthest_m).reduce(f64::min);
    match nearest_sure_m {
        Some(farthest_m) => {
            // What may come before it is read only if it is more likely made out than not.
            let before = seen.iter().filter(|(extent, _)| extent.nearest_m <= farthest_m);
            (farthest_m, before.map(|(_, least)| least.max(0.5)).fold(1.0, f64::min))
        }
        None => {
            let farthest_m = seen.iter().map(|(extent, _)| extent.farthest_m).reduce(f64::max);
            (farthest_m.unwrap_or(f64::INFINITY), seen.iter().map(|(_, least)| *least).fold(0.0, f64::max))
        }
    }
}

/// P(sigma Z > gap): the probability of noise reaching across a gap; 1 where there is no gap, since there a smaller
/// sigma would make it likelier and `sigma` is an upper bound.
fn beyond(gap: f64, sigma: f64) -> f64 {
    if gap == f64::INFINITY {
        0.0
    } else if gap < 0.0 {
        1.0
    } else if sigma <= 0.0 {
        if gap > 0.0 { 0.0 } else { 1.0 }
    } else {
        normal::tail(gap / sigma)
    }
}

/// Least and largest load on a span: by what is always on it and what ever touches it.
fn load_between(hulls: &[Hull], span_m: (f64, f64)) -> (f64, f64) {
    hulls.iter().fold((0.0, 0.0), |(low, high), hull| {
        let length = |body: &Body| (body.x_m.1 - body.x_m.0).max(1e-6);
        let (from, to) = (span_m.0.min(span_m.1), span_m.0.max(span_m.1));
        let [first, last] = &hull.ends;
        if let Some(axles) = &first.axles {
            // An axle moves straight from one place to the other: it is always on the span if it is at both ends, and never if
            // it stays on one side of it.
            return axles.each().into_iter().fold((low, high), |(low, high), (behind_m, share)| {
                let (a, b) = (first.x_m.0 + behind_m, last.x_m.0 + behind_m);
                let (always, ever) = (a.min(b) >= from && a.max(b) <= to, a.max(b) >= from && a.min(b) <= to);
                let carried = |on: bool| if on { share * first.mass_kg } else { 0.0 };
                (low + carried(always), high + carried(ever))
            });
        }
        if hull.outer.x_m.0 >= from && hull.outer.x_m.1 <= to {
            // All of it is on the span all the time.
            return (low + hull.outer.mass_kg, high + hull.outer.mass_kg);
        }
        // Shares refer to the body's own length, which lies between those of the two boxes.
        let least = hull.inner.as_ref().map_or(0.0, |inner| {
            let over = load_on(&[*inner], span_m) * length(inner);
            over / length(&hull.outer)
        });
        let most = (load_on(&[hull.outer], span_m) * length(&hull.outer)
            / hull.inner.as_ref().map_or(1e-6, length).max(1e-6))
        .min(hull.outer.mass_kg);
        (low + least, high + most)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::{Source, Stream};
    use crate::math::time::Span;
    use crate::scenario::mower::Axles;
    use crate::scenario::sensor::{Creep, Errors, Platform, Sensor};
    use crate::sensing::reading::Sky;
    use crate::sensing::sight::Cone;

    fn sensor(stream: &mut Stream) -> Sensor {
        let aim = Aim {
            position_m: [stream.between(-0.5, 0.5), stream.between(-0.3, 0.3), stream.between(0.02, 0.6)],
            yaw_deg: stream.between(-60.0, 60.0),
            pitch_deg: if stream.chance(0.2) { stream.between(-90.0, -60.0) } else { stream.between(-25.0, 15.0) },
            half_cone_deg: stream.between(1.0, 20.0),
            nearest_m: 0.05,
            farthest_m: 5.0,
        };
        let background_m = stream.chance(0.5).then(|| stream.between(1.0, 4.9));
        let kind = match stream.bits() % 4 {
            0 => SensorKind::OpticalRange { aim, farthest_sun_m: 3.0, background_m },
            1 => SensorKind::UltrasonicRange { aim, background_m, compensated: stream.chance(0.5) },
            2 => SensorKind::BreakBeam {
                x_m: stream.between(-0.2, 1.0),
                z_m: 0.1,
                span_m: (-0.4, 0.4),
                false_per_hour: 0.0,
                false_break_s: 0.0,
            },
            _ => SensorKind::PlatformLoad {
                span_m: (-0.9, stream.between(-0.3, 0.5)),
                area_m2: 0.4,
                drained_per_hour: 0.5,
                creep: Creep::NONE,
                spring: Platform::STIFF,
            },
        };
        let errors = Errors {
            bias: stream.between(-0.05, 0.05),
            noise: if stream.chance(0.3) { 0.0 } else { stream.between(0.001, 0.2) },
            noise_growth: stream.between(0.0, 0.05),
            drift_per_k: 0.001,
            drift_per_day: 0.0,
            random_drift: 0.0,
            random_drift_s: 3_600.0,
            cleaned_every_days: f64::INFINITY,
            resolution: if stream.chance(0.5) { 0.01 } else { 0.0 },
            dropout: stream.between(0.0, 0.2),
            dropout_rain: 0.3,
            spurious: stream.between(0.0, 0.01),
            spurious_rain: 1e-4,
            noise_correlation: 0.0,
            spurious_sun: 0.1,
            output_loss_per_year: 0.0,
            age_days: 0.0,
        };
        Sensor { name: "s".into(), kind, period: Span(50_000), latency: Span::ZERO, errors }
    }

    /// A body whose side cuts the wedge's edge is seen at the same distance all the way, whatever rounding makes of both ends.
    #[test]
    fn a_body_that_slides_along_the_edge_is_seen() {
        let position_m = [0.05, 0.3, 0.18];
        let (half_cone_deg, farthest_m) = (1.5, 6.0);
        let aim = Aim { position_m, yaw_deg: -6.0, pitch_deg: 0.0, half_cone_deg, nearest_m: 0.1, farthest_m };
        let body = |from_m: f64| Body {
            x_m: (from_m, from_m + 0.55),
            y_m: (-0.276_045_958_077_821_9, 0.123_954_041_922_178_11),
            height_m: 0.25,
            reflectance: 0.07,
            soft: false,
            mass_kg: 9.0,
            axles: None,
        };
        let ends = [body(1.047_886_634_838_228_7), body(0.964_122_923_017_505_7)];
        let hull = Hull::between(&ends[0], &ends[1]);
        let cone = Cone::new(&aim);
        let extent = cone.extent(&hull.outer, hull.inner.as_ref(), ends.each_ref()).expect("seen");
        for end in &ends {
            let sight = cone.look(end).expect("seen");
            assert!(
                sight.fill <= extent.fill_most * (1.0 + 1e-9) && sight.fill >= extent.fill_least,
                "{sight:?} {extent:?}"
            );
            assert!((sight.distance_m - extent.nearest_m).abs() < 1e-9, "{sight:?} {extent:?}");
        }
    }

    /// At every moment of a stretch the true probability stays under the bound, for random sensors, bodies and ways.
    #[test]
    fn no_moment_exceeds_its_bound() {
        let mut stream = Source::new(17, 0, "bounds").stream(0);
        let mut useful = 0;
        for _ in 0..10_000 {
            // Ways straight over or towards the window are what a mower's mostly are.
            let straight = stream.chance(0.3);
            let mut sensor = sensor(&mut stream);
            if let SensorKind::OpticalRange { aim, .. } | SensorKind::UltrasonicRange { aim, .. } = &mut sensor.kind
                && straight
            {
                aim.yaw_deg = aim.half_cone_deg * stream.between(-1.0, 1.0);
                aim.position_m[1] *= 0.3;
            }
            let eye = Eye::new(&sensor).at_door(0.4);
            let digital = matches!(eye.sensor().kind, SensorKind::BreakBeam { .. });
            let boring = match (digital, stream.chance(0.5)) {
                (true, true) => Boring { high: 0.5, high_included: false, ..Boring::EVERYTHING },
                (true, false) => Boring { low: 0.5, ..Boring::EVERYTHING },
                (false, true) => Boring { low: stream.between(0.1, 4.0), low_included: false, ..Boring::EVERYTHING },
                (false, false) => Boring { high: stream.between(0.5, 6.0), ..Boring::EVERYTHING },
            };
            let axles = stream.chance(0.5);
            let box_at = |x: f64, y: f64, half: (f64, f64), height: f64| Body {
                x_m: (x - half.0, x + half.0),
                y_m: (y - half.1, y + half.1),
                height_m: height,
                reflectance: 0.3,
                soft: false,
                mass_kg: 11.0,
                axles: axles.then_some(Axles { behind_nose_m: [0.06, 0.31], rear_share: 0.7 }),
            };
            let bodies = 1 + (stream.bits() % 2) as usize;
            let ways: Vec<_> = (0..bodies)
                .map(|_| {
                    let aside = if straight { 0.2 } else { 1.5 };
                    let from = (stream.between(-1.0, 5.0), stream.between(-aside, aside));
                    let length = stream.between(0.0, 1.2);
                    let angle = if straight {
                        std::f64::consts::PI * (f64::from(u8::from(stream.chance(0.5))) + stream.between(-0.01, 0.01))
                    } else {
                        stream.between(0.0, std::f64::consts::TAU)
                    };
                    let to = (from.0 + length * angle.cos(), from.1 + length * angle.sin());
                    let half = (stream.between(0.05, 0.4), stream.between(0.05, 0.3));
                    (from, to, half, stream.between(0.1, 0.5))
                })
                .collect();
            let at = |t: f64| -> Vec<Body> {
                let middle = |a: f64, b: f64| a + t * (b - a);
                ways.iter().map(|(a, b, half, h)| box_at(middle(a.0, b.0), middle(a.1, b.1), *half, *h)).collect()
            };
            let hulls: Vec<Hull> = at(0.0).iter().zip(&at(1.0)).map(|(a, b)| Hull::between(a, b)).collect();
            let sky = Sky {
                rain_mm_h: if stream.chance(0.3) { 5.0 } else { 0.0 },
                temperature_c: stream.between(-5.0, 35.0),
                humidity: 0.6,
                dew: stream.chance(0.2),
                light_klux: stream.between(0.0, 100.0),
                direct_klux: stream.between(0.0, 60.0),
                sun: stream.chance(0.5).then(|| (stream.between(-40.0, 40.0), 10.0)),
                days: 3.0,
            };
            // A platform that has crept, and swings by no more than the bound is told.
            let mut around = Surroundings::before_shut_door(&[], sky, eye.seeing(&sky));
            // Through a dirty window things are made out now and then.
            if stream.chance(0.5) {
                around.seeing.range_m *= stream.between(0.1, 1.0);
                around.seeing.level_db -= stream.between(0.0, 60.0);
            }
            (around.crept_kg, around.swing_kg) = (stream.between(-0.2, 0.5), stream.between(0.0, 2.0));
            let bound = eye.interesting_at_most(&around, &hulls, &boring);
            useful += usize::from(bound < 0.25);
            for step in 0..=24 {
                let bodies = at(f64::from(step) / 24.0);
                let swing_kg = around.swing_kg * f64::from(step).cos();
                let now = Surroundings { bodies: &bodies, swing_kg, ..around };
                let p = eye.law(&now).interesting_probability(&boring);
                assert!(
                    p <= bound * (1.0 + 1e-9) + 1e-12,
                    "step {step}: {p} exceeds {bound}; {:?} {boring:?} {bodies:?} {hulls:?}",
                    eye.sensor()
                );
            }
        }
        assert!(useful > 1_000, "only {useful} bounds were of any use");
    }
}
