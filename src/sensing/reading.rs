//! From surroundings to the law of a reading, for every kind of sensor.

use super::law::{Law, Spurious, Target};
use super::physics::air::{self, sound_speed_m_s};
use super::physics::photon::{Return, Window};
use super::sight::{Body, Cone, Sight};
use crate::math::normal;
use crate::scenario::sensor::{Aim, End, Errors, FRONT_M, Photon, Sensor, SensorKind, TiltOn};

/// Weather and light as sensors feel them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sky {
    /// Rain intensity, mm/h.
    pub rain_mm_h: f64,
    /// Air temperature, degC.
    pub temperature_c: f64,
    /// Relative humidity, 0 to 1.
    pub humidity: f64,
    /// Whether dew settles on glass.
    pub dew: bool,
    /// Daylight on the level, klux.
    pub light_klux: f64,
    /// Of that the sun's own on a surface that faces it, klux; 0 while it does not shine.
    pub direct_klux: f64,
    /// Direction of the sun in the shelter's axes while it is up, behind a cloud or not: yaw from +x towards +y and elevation, degrees.
    pub sun: Option<(f64, f64)>,
    /// Days since the season began (for dirt).
    pub days: f64,
}

impl Sky {
    /// The same in a shut shelter: neither light nor rain comes in.
    pub fn indoors(self) -> Sky {
        Sky { rain_mm_h: 0.0, light_klux: 0.0, direct_klux: 0.0, sun: None, ..self }
    }

    /// A dry, calm night of this temperature on the season's first day, at half humidity.
    pub const fn dark(temperature_c: f64) -> Sky {
        Sky {
            rain_mm_h: 0.0,
            temperature_c,
            humidity: 0.5,
            dew: false,
            light_klux: 0.0,
            direct_klux: 0.0,
            sun: None,
            days: 0.0,
        }
    }
}

/// What weather and light do to one sensor: worked out once when they change, not for every sample.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Seeing {
    /// Probability that a sample gives no reading.
    pub drop: f64,
    /// Probability of a spurious short return.
    pub short: f64,
    /// Slowly varying offset, in the reading's unit.
    pub offset: f64,
    /// Optical: range to a reference target that fills the cone, m.
    pub range_m: f64,
    /// Ultrasonic: reported over true distance. Platform: felt over true load.
    pub scale: f64,
    /// Ultrasonic: absorption now, dB/m.
    pub absorption_db_m: f64,
    /// Ultrasonic: loss by rain and gain of the catalogue's range over spreading alone, dB.
    pub level_db: f64,
    /// Beam: probability that the sun or a failure breaks it. End switch: probability that it reads the contrary.
    pub blinded: f64,
    /// Photon counting: light on the scene, film on the window.
    pub window: Window,
    /// Photon counting: share of its light's output that age has left.
    pub output: f64,
}

impl Seeing {
    /// The same with readings off by so much more.
    pub fn shifted(self, by: f64) -> Seeing {
        Seeing { offset: self.offset + by, ..self }
    }
}

/// Everything a sensor can sense.
#[derive(Clone, Copy, Debug)]
pub struct Surroundings<'a> {
    /// Bodies near the door.
    pub bodies: &'a [Body],
    /// Weather and light.
    pub sky: Sky,
    /// What they do to this sensor: [`Eye::seeing`] of the same sky.
    pub seeing: Seeing,
    /// Whether the door is fully shut.
    pub door_shut: bool,
    /// Whether the door is fully open.
    pub door_open: bool,
    /// Angle of the panel from its shut pose, degrees.
    pub panel_deg: f64,
    /// Water standing on the platform, mm.
    pub water_mm: f64,
    /// Last believed status message, as its code.
    pub status: Option<u8>,
    /// Whether the local time lies in a mowing window, widened by the clock sensor's lead and lag.
    pub clock: bool,
    /// Whether something trivial (insect, leaf) breaks the beam just now.
    pub false_break: bool,
    /// Zero that is taken off a platform's readings, kg.
    pub zero: f64,
    /// What a platform's reading has crept by, kg.
    pub crept_kg: f64,
    /// What a platform swings by just now, kg; for a bound over a stretch: the most it swings by, either way.
    pub swing_kg: f64,
    /// Factor on the noise (1 unless a fault makes the sensor noisy).
    pub noise_factor: f64,
}

impl<'a> Surroundings<'a> {
    /// These bodies before a shut door, and nothing else to sense: no water, no creep, no message, no false break, no fault.
    pub fn before_shut_door(bodies: &'a [Body], sky: Sky, seeing: Seeing) -> Surroundings<'a> {
        Surroundings {
            bodies,
            sky,
            seeing,
            door_shut: true,
            door_open: false,
            panel_deg: 0.0,
            water_mm: 0.0,
            status: None,
            clock: false,
            false_break: false,
            zero: 0.0,
            crept_kg: 0.0,
            swing_kg: 0.0,
            noise_factor: 1.0,
        }
    }
}

/// A sensor ready to be asked.
#[derive(Clone, Debug)]
pub struct Eye {
    pub(super) sensor: Sensor,
    pub(super) cone: Option<Cone>,
    /// Level of an ultrasonic ranger's echo at 1 m before any loss, dB over what it just hears: the catalogue's range is taken as
    /// that of a room at 20 degC and 50 % humidity. 0 for other sensors.
    echo_db: f64,
    /// Whether it is a ranger that stands inside.
    indoors: bool,
    /// The shelter's front, if it looks out from inside.
    front: Option<Body>,
}

/// Reflectance of what a ranger looks at for which its figures hold, the middle of what makers of such sensors state them for (common
/// practice).
const LOOKED_AT_REFLECTANCE: f64 = 0.5;

/// Signal-to-noise ratio below which an optical ranger gives no target (common practice).
const OPTICAL_SNR: f64 = 5.0;
/// Reflectance to which the longest range of an optical ranger refers (common practice in data sheets: 50 %).
const OPTICAL_REFERENCE: f64 = 0.5;
/// Spread of the echo level about its mean, dB (common practice).
const ECHO_SPREAD_DB: f64 = 3.0;
/// Loss of a soft target (fur, cloth, leaves) against a hard one, dB (common practice).
const SOFT_LOSS_DB: f64 = 8.0;
/// Share of the light that the ground throws back (grass and paving; common practice: 0.2).
const GROUND_ALBEDO: f64 = 0.2;
/// Beam breaks by the sun when it stands within this angle of the beam's line, degrees (common practice).
const BEAM_SUN_DEG: f64 = 10.0;

impl Eye {
    /// Prepares a sensor.
    pub fn new(sensor: &Sensor) -> Eye {
        let echo_db = match &sensor.kind {
            SensorKind::UltrasonicRange { aim, .. } => {
                40.0 * libm::log10(aim.farthest_m) + 2.0 * absorption_db_m(20.0, 0.5) * aim.farthest_m
            }
            _ => 0.0,
        };
        let cone = sensor.kind.aim().map(Cone::new);
        Eye { sensor: sensor.clone(), cone, echo_db, indoors: false, front: None }
    }

    /// The same sensor at a shelter with a door of this height, m: behind it a shut door hides what is outside.
    pub fn at_door(self, height_m: f64) -> Eye {
        let kind = &self.sensor.kind;
        let indoors = kind.aim().is_some_and(|aim| aim.is_inside(height_m));
        let front = kind.looks_through_door(height_m).then_some(FRONT);
        Eye { indoors, front, ..self }
    }

    /// Whether it looks out from inside, so that a shut door ends its view.
    pub fn looks_through_door(&self) -> bool {
        self.front.is_some()
    }

    /// Whether it stands inside, where a shut door keeps out light and rain; of rangers alone.
    pub fn is_indoors(&self) -> bool {
        self.indoors
    }

    /// What ends its view now, other than bodies.
    pub(super) fn front(&self, around: &Surroundings) -> Option<&Body> {
        self.front.as_ref().filter(|_| around.door_shut)
    }

    /// The sensor.
    pub fn sensor(&self) -> &Sensor {
        &self.sensor
    }

    /// Whether a body moving from `a` to `b` (x, y of its middle, m), reaching `margin_m` around, could change what
    /// this sensor reads. May say yes too often, never no too often.
    pub fn could_notice(&self, a: (f64, f64), b: (f64, f64), margin_m: f64) -> bool {
        let touches = |from: f64, to: f64| a.0.min(b.0) - margin_m <= to && a.0.max(b.0) + margin_m >= from;
        match &self.sensor.kind {
            SensorKind::OpticalRange { .. } | SensorKind::PhotonRange { .. } | SensorKind::UltrasonicRange { .. } => {
                self.cone.as_ref().is_some_and(|cone| cone.could_see(a, b, margin_m))
            }
            SensorKind::BreakBeam { x_m, .. } => touches(*x_m, *x_m),
            SensorKind::PlatformLoad { span_m, .. } => touches(span_m.0, span_m.1),
            SensorKind::Tilt { on: TiltOn::Platform { span_m, .. } } => touches(span_m.0, span_m.1),
            SensorKind::Tilt { on: TiltOn::Panel }
            | SensorKind::EndSwitch { .. }
            | SensorKind::RainGauge
            | SensorKind::Status { .. }
            | SensorKind::Clock { .. } => false,
        }
    }

    /// Whether a body that moves straight from one place to another comes into this sensor's cone (no other sensor has one, so
    /// that these say yes). May say yes too often, never no too often.
    pub fn could_meet(&self, ends: [&Body; 2]) -> bool {
        self.cone.as_ref().is_none_or(|cone| cone.could_meet(ends))
    }

    /// Whether a body breaks this beam; never for other sensors.
    pub fn is_broken_by(&self, body: &Body) -> bool {
        matches!(&self.sensor.kind, SensorKind::BreakBeam { x_m, z_m, span_m, .. } if breaks(body, *x_m, *z_m, *span_m))
    }

    /// What weather and light do to this sensor.
    pub fn seeing(&self, sky: &Sky) -> Seeing {
        let errors = &self.sensor.errors;
        let mut seeing = Seeing {
            drop: errors.dropout + (errors.dropout_rain - errors.dropout).max(0.0) * (sky.rain_mm_h / 10.0).min(1.0),
            short: short_returns(errors, sky, self.glare(sky)),
            offset: self.offset(sky),
            range_m: 0.0,
            scale: 1.0,
            absorption_db_m: 0.0,
            level_db: 0.0,
            blinded: 0.0,
            window: Window { light_klux: self.scene_klux(sky), rain_mm_h: sky.rain_mm_h, dew: 0.0, dirt: 0.0 },
            output: self.output(sky),
        };
        match &self.sensor.kind {
            SensorKind::OpticalRange { aim, farthest_sun_m, .. } => {
                // The signal falls with the square of the distance, so that the range follows the root of the output.
                seeing.range_m =
                    optical_range_m(aim, *farthest_sun_m, seeing.window.light_klux) * libm::sqrt(seeing.output);
            }
            SensorKind::PhotonRange { aim, photon, dew, dirt_per_day, .. } => {
                seeing.window.dew = if sky.dew { *dew } else { 0.0 };
                seeing.window.dirt = (dirt_per_day * self.since_cleaning(sky)).min(1.0);
                let drops = photon.aged(seeing.output).rain_return(aim.half_cone_deg, aim.nearest_m, &seeing.window);
                seeing.short = 1.0 - (1.0 - seeing.short) * (1.0 - drops);
            }
            SensorKind::UltrasonicRange { compensated, .. } => {
                seeing.scale = echo_scale(*compensated, sky);
                seeing.absorption_db_m = absorption_db_m(sky.temperature_c, sky.humidity);
                let rain_db = if sky.rain_mm_h > 0.0 { 6.0 * libm::log10(1.0 + sky.rain_mm_h) } else { 0.0 };
                seeing.level_db = self.echo_db - rain_db;
            }
            // A drop or a leaf's shadow breaks a beam as it makes a ranger's short return.
            SensorKind::BreakBeam { .. } => {
                seeing.blinded = 1.0 - (1.0 - beam_sun(errors, sky)) * (1.0 - seeing.short);
            }
            _ => {}
        }
        seeing
    }

    /// The law of one reading.
    pub fn law(&self, around: &Surroundings) -> Law {
        let drop = around.seeing.drop;
        match &self.sensor.kind {
            // Where ambient light sets the noise, the signal-to-noise ratio is proportional to reflectance x filled
            // share / distance^2, and the range to the inverse fourth root of the light; the catalogue's ranges in the
            // dark and in full sun (100 klux) fix both constants.
            SensorKind::OpticalRange { aim, background_m, .. } => {
                let range = around.seeing.range_m;
                let seen = self
                    .pick(around, |body, sight| optical_valid(range, body.reflectance, sight.fill, sight.distance_m));
                self.ranger(around, aim, seen, *background_m)
            }
            SensorKind::PhotonRange { aim, photon, background, .. } => {
                self.photons(around, aim, &photon.aged(around.seeing.output), *background)
            }
            // The level falls with 40 log d (spreading) and 2 alpha d (absorption), off the axis and in rain; the
            // catalogue's range to a hard target on the axis at 20 degC fixes the constant.
            SensorKind::UltrasonicRange { aim, background_m, .. } => {
                let seen = self.pick(around, |body, sight| {
                    echo_valid(&around.seeing, body.soft, sight.distance_m, sight.off_axis)
                });
                self.ranger(around, aim, seen, *background_m)
            }
            SensorKind::BreakBeam { x_m, z_m, span_m, .. } => {
                let broken = around.false_break || around.bodies.iter().any(|b| breaks(b, *x_m, *z_m, *span_m));
                let blinded = if broken { 0.0 } else { around.seeing.blinded };
                let mut law = Law::exact(if broken { 1.0 } else { 0.0 }, drop);
                law.targets[1] = Target { weight: (1.0 - drop) * blinded, mean: 1.0, sigma: 0.0 };
                law.targets[0].weight = (1.0 - drop) * (1.0 - blinded);
                law
            }
            SensorKind::PlatformLoad { span_m, area_m2, .. } => {
                // 1 mm of water on 1 m2 is 1 kg.
                let standing = load_on(around.bodies, *span_m) + area_m2 * around.water_mm;
                let load = standing + around.crept_kg + around.swing_kg;
                let mut law = self.analogue(around.seeing.scale * load, around, drop);
                law.targets[0].mean -= around.zero;
                law
            }
            SensorKind::Tilt { on } => {
                let angle = match on {
                    TiltOn::Panel => around.panel_deg,
                    TiltOn::Platform { deg_per_kg, span_m } => {
                        around.seeing.scale * deg_per_kg * load_on(around.bodies, *span_m)
                    }
                };
                self.analogue(angle, around, drop)
            }
            SensorKind::EndSwitch { end } => {
                let made = match end {
                    End::Shut => around.door_shut,
                    End::Open => around.door_open,
                };
                let reversed = around.seeing.blinded;
                let mut law = Law::exact(if made { 1.0 } else { 0.0 }, drop);
                law.targets[0].weight *= 1.0 - reversed;
                law.targets[1] =
                    Target { weight: (1.0 - drop) * reversed, mean: if made { 0.0 } else { 1.0 }, sigma: 0.0 };
                law
            }
            SensorKind::RainGauge => self.analogue(around.sky.rain_mm_h, around, drop),
            SensorKind::Status { .. } => Law::exact(around.status.map_or(NO_BELIEF, f64::from), drop),
            SensorKind::Clock { .. } => Law::exact(if around.clock { 1.0 } else { 0.0 }, drop),
        }
    }

    /// Slowly varying offset: bias, temperature, dirt since the last cleaning.
    fn offset(&self, sky: &Sky) -> f64 {
        let errors = &self.sensor.errors;
        let since = self.since_cleaning(sky);
        errors.bias + errors.drift_per_k * (sky.temperature_c - 20.0) + errors.drift_per_day * since
    }

    /// The part of its slowly varying offset that changes: temperature and dirt.
    pub fn drift(&self, sky: &Sky) -> f64 {
        self.offset(sky) - self.sensor.errors.bias
    }

    /// Share of its light's output that age has left: the same share is lost every year, as lamps' output is extrapolated
    /// (exponential decay, IES TM-21; from memory).
    fn output(&self, sky: &Sky) -> f64 {
        let errors = &self.sensor.errors;
        if errors.output_loss_per_year <= 0.0 {
            return 1.0;
        }
        libm::pow(1.0 - errors.output_loss_per_year, (errors.age_days + sky.days) / YEAR_D)
    }

    /// Days since the last cleaning.
    pub fn since_cleaning(&self, sky: &Sky) -> f64 {
        let every = self.sensor.errors.cleaned_every_days;
        if every.is_finite() && every > 0.0 { libm::fmod(sky.days, every) } else { sky.days }
    }

    pub(super) fn sigma(&self, reading: f64, factor: f64) -> f64 {
        let errors = &self.sensor.errors;
        factor * (errors.noise + errors.noise_growth * libm::fabs(reading))
    }

    fn analogue(&self, value: f64, around: &Surroundings, drop: f64) -> Law {
        let mut law = Law::SILENT;
        law.resolution = self.sensor.errors.resolution;
        law.targets[0] = Target {
            weight: 1.0 - drop,
            mean: value + around.seeing.offset,
            sigma: self.sigma(value, around.noise_factor),
        };
        law
    }

    /// The law of a ranger that counts photons: noise, validity and bias by the signal of what it sees.
    fn photons(&self, around: &Surroundings, aim: &Aim, photon: &Photon, background: Option<(f64, f64)>) -> Law {
        let errors = &self.sensor.errors;
        let Seeing { drop, short, offset, window, .. } = around.seeing;
        let look = |body: &Body, sight: &Sight| photon.look(sight.distance_m, body.reflectance, sight.fill, &window);
        let mut seen: Option<(f64, Return)> = None;
        for body in around.bodies.iter().chain(self.front(around)) {
            let Some(sight) = self.cone.as_ref().and_then(|cone| cone.look(body)) else { continue };
            let returned = look(body, &sight);
            // As in `pick`.
            let better = match &seen {
                None => true,
                Some((nearest, other)) if returned.valid >= 0.5 && other.valid >= 0.5 => sight.distance_m < *nearest,
                Some((_, other)) => returned.valid > other.valid,
            };
            if better {
                seen = Some((sight.distance_m, returned));
            }
        }
        let mut law = Law::SILENT;
        law.resolution = errors.resolution;
        law.lowest = aim.nearest_m;
        law.highest = aim.farthest_m;
        let nearest = seen.map_or(f64::INFINITY, |(distance, _)| distance);
        let high = nearest.min(background.map_or(f64::INFINITY, |(wall, _)| wall)).min(aim.farthest_m);
        let short = if high > aim.nearest_m { short } else { 0.0 };
        law.spurious = Spurious { weight: (1.0 - drop) * short, low: aim.nearest_m, high };
        let mut rest = (1.0 - drop) * (1.0 - short);
        let wall = background.map(|(wall, reflectance)| (wall, photon.look(wall, reflectance, 1.0, &window)));
        for (target, found) in law.targets.iter_mut().zip([seen, wall]) {
            if let Some((distance, returned)) = found {
                *target = Target {
                    weight: rest * returned.valid,
                    mean: distance + returned.bias_m + offset,
                    sigma: around.noise_factor * returned.sigma_m,
                };
                rest *= 1.0 - returned.valid;
            }
        }
        law.far = rest;
        law
    }

    /// The nearest visible body, with the probability `valid` that the sensor makes it out.
    fn pick(&self, around: &Surroundings, valid: impl Fn(&Body, &Sight) -> f64) -> Option<(Sight, f64)> {
        let cone = self.cone.as_ref()?;
        let mut best: Option<(Sight, f64)> = None;
        for body in around.bodies.iter().chain(self.front(around)) {
            let Some(sight) = cone.look(body) else { continue };
            let p = valid(body, &sight);
            // The nearest body that is more likely seen than not; failing that, the likeliest.
            let better = match &best {
                None => true,
                Some((other, q)) if (p >= 0.5) == (*q >= 0.5) && p >= 0.5 => sight.distance_m < other.distance_m,
                Some((_, q)) => p > *q,
            };
            if better {
                best = Some((sight, p));
            }
        }
        best
    }

    /// The law of a ranger that makes out a target (or not) before its background.
    fn ranger(&self, around: &Surroundings, aim: &Aim, seen: Option<(Sight, f64)>, background_m: Option<f64>) -> Law {
        let errors = &self.sensor.errors;
        let Seeing { drop, short, offset, scale, .. } = around.seeing;
        let (distance, valid) = seen.map_or((f64::INFINITY, 0.0), |(sight, valid)| (sight.distance_m, valid));
        let mut law = Law::SILENT;
        law.resolution = errors.resolution;
        law.lowest = aim.nearest_m;
        law.highest = aim.farthest_m;
        let high = distance.min(background_m.unwrap_or(f64::INFINITY)).min(aim.farthest_m);
        let short = if high > aim.nearest_m { short } else { 0.0 };
        law.spurious = Spurious { weight: (1.0 - drop) * short, low: aim.nearest_m, high };
        let rest = (1.0 - drop) * (1.0 - short);
        if valid > 0.0 {
            law.targets[0] = Target {
                weight: rest * valid,
                mean: scale * distance + offset,
                sigma: self.sigma(distance, around.noise_factor),
            };
        }
        match background_m {
            Some(wall) => {
                law.targets[1] = Target {
                    weight: rest * (1.0 - valid),
                    mean: scale * wall + offset,
                    sigma: self.sigma(wall, around.noise_factor),
                };
            }
            None => law.far = rest * (1.0 - valid),
        }
        law
    }

    /// Light on what this sensor looks at: on a surface that faces its window, klux; with the sun in its cone, as much as would come to
    /// its window with that.
    ///
    /// The sun's own by the angle, of the sky's the share that such a surface faces, and what the ground throws back
    /// (isotropic sky: Liu & Jordan, Solar Energy 7, 1963, 53-74). Without a sun light is taken to come from everywhere alike.
    fn scene_klux(&self, sky: &Sky) -> f64 {
        let (Some((yaw, elevation)), Some(cone), Some(aim)) = (sky.sun, &self.cone, self.sensor.kind.aim()) else {
            return sky.light_klux;
        };
        let faces = -libm::cos(cone.angle_to(yaw, elevation).to_radians());
        let up = -libm::sin(aim.pitch_deg.to_radians());
        let diffuse_klux = (sky.light_klux - sky.direct_klux * libm::sin(elevation.to_radians())).max(0.0);
        sky.direct_klux * faces.max(0.0)
            + 0.5 * (1.0 + up) * diffuse_klux
            + 0.5 * (1.0 - up) * GROUND_ALBEDO * sky.light_klux
            + self.sun_in_cone_klux(sky)
    }

    /// Light on what this sensor looks at that would bring as much to its window as the sun does that shines into its cone, klux.
    ///
    /// A matt surface of reflectance r under E klux has a luminance of r E / pi (Lambert); filling the cone's solid angle W, it brings
    /// r E W / pi to the window. The sun brings its own E, however small it is: pi / (r W) times as much, 29 times for a cone of 27
    /// degrees and 1,300 times for one of 4.
    fn sun_in_cone_klux(&self, sky: &Sky) -> f64 {
        let Some(aim) = self.sensor.kind.aim().filter(|_| self.sun_in_cone(sky)) else { return 0.0 };
        let side = libm::sin(aim.half_cone_deg.to_radians());
        // Of a square pyramid.
        let solid_angle = 4.0 * libm::asin(side * side);
        sky.direct_klux * std::f64::consts::PI / (LOOKED_AT_REFLECTANCE * solid_angle)
    }

    /// Whether some of the sun's disc stands in the cone of an optical ranger, behind a cloud or not.
    pub fn sun_in_cone(&self, sky: &Sky) -> bool {
        let (SensorKind::OpticalRange { aim, .. } | SensorKind::PhotonRange { aim, .. }) = &self.sensor.kind else {
            return false;
        };
        let of_axis = self.cone.as_ref().zip(sky.sun).map(|(cone, (yaw, elevation))| cone.angle_to(yaw, elevation));
        of_axis.is_some_and(|angle| angle <= aim.half_cone_deg + SUN_RADIUS_DEG)
    }

    /// Probability of a spurious reading from the sun shining into the cone.
    fn glare(&self, sky: &Sky) -> f64 {
        let errors = &self.sensor.errors;
        if errors.spurious_sun <= 0.0 || !self.sun_in_cone(sky) {
            return 0.0;
        }
        (errors.spurious_sun * sky.direct_klux / 100.0).min(1.0)
    }

    /// Whether rain makes most of the spurious readings under this sky.
    pub fn rains_in(&self, sky: &Sky) -> bool {
        let short = |sky: &Sky| self.seeing(sky).short;
        sky.rain_mm_h > 0.0 && short(sky) > 2.0 * short(&Sky { rain_mm_h: 0.0, ..*sky })
    }

    /// Whether the sun shines into this sensor just now.
    pub fn dazzled(&self, sky: &Sky) -> bool {
        match self.sensor.kind {
            SensorKind::BreakBeam { .. } => beam_sun(&self.sensor.errors, sky) > 0.0,
            _ => self.glare(sky) > 0.0,
        }
    }
}

/// Reading of a status sensor whose last message is too old to be believed: a code that no message has, so that
/// detectors which waited for it let go.
const NO_BELIEF: f64 = 7.0;

/// Days of a Julian year.
const YEAR_D: f64 = 365.25;

/// Apparent radius of the sun, degrees (half of 0.53 degrees).
const SUN_RADIUS_DEG: f64 = 0.27;

fn power4(x: f64) -> f64 {
    let square = x * x;
    square * square
}

/// Probability of a spurious short return: dry, by rain drops (1 - exp(-n R^1.2), n from the drop-size distribution of
/// Marshall & Palmer 1948), by glare.
fn short_returns(errors: &Errors, sky: &Sky, glare: f64) -> f64 {
    let rain = if sky.rain_mm_h > 0.0 && errors.spurious_rain > 0.0 {
        -libm::expm1(-errors.spurious_rain * libm::pow(sky.rain_mm_h, 1.2))
    } else {
        0.0
    };
    1.0 - (1.0 - errors.spurious) * (1.0 - rain) * (1.0 - glare)
}

/// Range of an optical ranger in this light on the scene to a reference target that fills its cone, m.
fn optical_range_m(aim: &Aim, farthest_sun_m: f64, light_klux: f64) -> f64 {
    let dark = power4(1.0 / aim.farthest_m);
    let sun = power4(1.0 / farthest_sun_m.min(aim.farthest_m));
    let inverse = dark + (sun - dark) * light_klux / 100.0;
    1.0 / libm::sqrt(libm::sqrt(inverse))
}

/// Probability that an optical ranger makes a target out.
pub(super) fn optical_valid(range_m: f64, reflectance: f64, fill: f64, distance_m: f64) -> f64 {
    let ratio = range_m * range_m * reflectance / OPTICAL_REFERENCE * fill / (distance_m * distance_m).max(1e-6);
    normal::cdf(OPTICAL_SNR * (ratio - 1.0))
}

/// Probability that an ultrasonic ranger hears a target.
pub(super) fn echo_valid(seeing: &Seeing, soft: bool, distance_m: f64, off_axis: f64) -> f64 {
    let d = distance_m.max(0.01);
    let margin = seeing.level_db
        - 40.0 * libm::log10(d)
        - 2.0 * seeing.absorption_db_m * d
        - 6.0 * off_axis * off_axis
        - if soft { SOFT_LOSS_DB } else { 0.0 };
    normal::cdf(margin / ECHO_SPREAD_DB)
}

/// Reported over true distance of an ultrasonic ranger.
fn echo_scale(compensated: bool, sky: &Sky) -> f64 {
    if compensated { 1.0 } else { sound_speed_m_s(20.0) / sound_speed_m_s(sky.temperature_c) }
}

/// The front of the shelter with its door shut, to whoever looks out from inside: panel and walls as one body about the door
/// line, too wide and high for a cone to look past it (a painted board, common practice).
const FRONT: Body = Body {
    x_m: (-FRONT_M, 0.0),
    y_m: (-10.0, 10.0),
    height_m: 10.0,
    reflectance: 0.4,
    soft: false,
    mass_kg: 0.0,
    axles: None,
};

/// Absorption of the sound of an ultrasonic ranger, dB/m: 40 kHz; `humidity` from 0 to 1.
fn absorption_db_m(temperature_c: f64, humidity: f64) -> f64 {
    air::absorption_db_m(40_000.0, temperature_c, 100.0 * humidity)
}

pub(super) fn breaks(body: &Body, x_m: f64, z_m: f64, span_m: (f64, f64)) -> bool {
    body.x_m.0 <= x_m
        && body.x_m.1 >= x_m
        && body.height_m >= z_m
        && body.y_m.1 >= span_m.0.min(span_m.1)
        && body.y_m.0 <= span_m.0.max(span_m.1)
}

/// Mass resting on the stretch from `span_m.0` to `span_m.1`: of a body with axles what those on it carry, of another one its
/// mass in proportion to the share of its length over it.
pub(crate) fn load_on(bodies: &[Body], span_m: (f64, f64)) -> f64 {
    let (from, to) = (span_m.0.min(span_m.1), span_m.0.max(span_m.1));
    let share = |body: &Body| match &body.axles {
        Some(axles) => {
            let on = |behind_m: f64| (from..=to).contains(&(body.x_m.0 + behind_m));
            axles.each().iter().filter(|(behind_m, _)| on(*behind_m)).map(|(_, share)| share).sum()
        }
        None => {
            let length = (body.x_m.1 - body.x_m.0).max(1e-6);
            let over = (body.x_m.1.min(to) - body.x_m.0.max(from)).clamp(0.0, length);
            over / length
        }
    };
    bodies.iter().map(|body| body.mass_kg * share(body)).sum()
}

fn beam_sun(errors: &Errors, sky: &Sky) -> f64 {
    let Some((yaw, elevation)) = sky.sun else { return 0.0 };
    let (yaw, elevation) = (yaw.to_radians(), elevation.to_radians());
    // The beam lies along y: cosine of the angle between the sun and that line.
    let cosine = libm::fabs(libm::cos(elevation) * libm::sin(yaw));
    if cosine >= libm::cos(BEAM_SUN_DEG.to_radians()) {
        (errors.spurious_sun * sky.direct_klux / 100.0).min(1.0)
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::time::Span;

    /// A ranger of 27 degrees, dark range 4 m and 2 m at 100 klux, under a sun of 50 klux five degrees high and no other light: with
    /// its back to it and its face to it, by hand. The ground throws 0.1 of 4.4 klux at what it looks at. Behind it the sun adds 49.8 klux
    /// (cosine of five degrees); before it 28.81 times its own, for its cone fills 0.218 sr.
    #[test]
    fn a_low_sun_before_the_ranger_and_behind_it() {
        let aim = Aim {
            position_m: [0.05, 0.0, 0.15],
            yaw_deg: 0.0,
            pitch_deg: 0.0,
            half_cone_deg: 13.5,
            nearest_m: 0.1,
            farthest_m: 4.0,
        };
        let kind = SensorKind::OpticalRange { aim, farthest_sun_m: 2.0, background_m: None };
        let errors = Errors { spurious_sun: 0.0, ..Errors::NONE };
        let sensor = Sensor { name: "eye".into(), kind, period: Span::SECOND, latency: Span::ZERO, errors };
        let eye = Eye::new(&sensor);
        let level_klux = 50.0 * 5.0_f64.to_radians().sin();
        let range = |yaw: f64| {
            let sun = Some((yaw, 5.0));
            let sky = Sky { light_klux: level_klux, direct_klux: 50.0, sun, ..Sky::dark(20.0) };
            eye.seeing(&sky).range_m
        };
        let by_hand = |klux: f64| (1.0 / 256.0 + (1.0 / 16.0 - 1.0 / 256.0) * klux / 100.0).powf(-0.25);
        for (yaw, klux) in [(90.0, 0.436), (180.0, 0.436 + 49.81), (0.0, 0.436 + 50.0 * 28.81)] {
            assert!((range(yaw) / by_hand(klux) - 1.0).abs() < 2e-4, "{yaw}: {} {}", range(yaw), by_hand(klux));
        }
        // Under a thick cloud such a surface sees half of the sky, and half of the ground that a fifth comes back from.
        let cloudy = Sky { light_klux: 20.0, sun: Some((0.0, 5.0)), ..Sky::dark(20.0) };
        assert!((eye.seeing(&cloudy).range_m / by_hand(12.0) - 1.0).abs() < 1e-12);
    }

    /// Uncompensated ultrasonic error at -5 and +35 degC with 20 degC assumed: +4.56 % and -2.46 % (from the ideal-gas
    /// speed of sound; computed independently).
    #[test]
    fn sound_speed_error() {
        let error = |t: f64| sound_speed_m_s(20.0) / sound_speed_m_s(t) - 1.0;
        assert!((error(-5.0) - 0.0456).abs() < 5e-5);
        assert!((error(35.0) + 0.0246).abs() < 5e-5);
        // 343.2 m/s at 20 degC: textbook value.
        assert!((sound_speed_m_s(20.0) - 343.2).abs() < 0.1);
    }
}
