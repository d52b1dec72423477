//! `[mower]`: its body, timetable, way home, and manners.
//!
//! Positions are those of the nose (the end that enters first) on the x axis: door line at 0, outside positive, dock
//! negative. The body always covers nose to nose + length: it drives in nose first and leaves backwards.

/// A mean with a standard deviation; draws are normal, cut at a tenth and at three times the mean.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread {
    /// Mean, s.
    pub mean_s: f64,
    /// Standard deviation, s.
    pub sd_s: f64,
}

/// A weekly mowing window in local civil time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Window {
    /// Days on which it applies, Monday first.
    pub days: [bool; 7],
    /// Start, seconds after local midnight.
    pub from_s: i32,
    /// End, seconds after local midnight; later than the start.
    pub to_s: i32,
}

/// What the mower does about rain.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RainHabit {
    /// Returns when it rains and does not leave in rain.
    GoHome,
    /// Does not leave in rain, but finishes a sortie that rain interrupts.
    StayHome,
    /// Takes no notice.
    CarryOn,
}

/// The axles on which the mower's weight rests.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Axles {
    /// Distances of the front and the rear axle behind the nose, m.
    pub behind_nose_m: [f64; 2],
    /// Share of the mass that rests on the rear axle, 0 to 1.
    pub rear_share: f64,
}

impl Axles {
    /// Both axles: distance behind the nose, m, and share of the mass.
    pub fn each(&self) -> [(f64, f64); 2] {
        let [front, rear] = self.behind_nose_m;
        [(front, 1.0 - self.rear_share), (rear, self.rear_share)]
    }
}

/// The mower.
#[derive(Clone, Debug, PartialEq)]
pub struct Mower {
    /// Body length, m.
    pub length_m: f64,
    /// Body width, m.
    pub width_m: f64,
    /// Body height, m.
    pub height_m: f64,
    /// Mass, kg.
    pub mass_kg: f64,
    /// Diffuse reflectance of the shell, 0 to 1.
    pub reflectance: f64,
    /// Where its weight rests; none if it is spread evenly over its length.
    pub axles: Option<Axles>,
    /// Mowing windows.
    pub windows: Vec<Window>,
    /// Mowing time of one sortie.
    pub run: Spread,
    /// Charging time between sorties.
    pub charge: Spread,
    /// Mowing time per window after which the lawn is done, s.
    pub lawn_s: f64,
    /// Longest delay after the window opens before the first sortie (uniform), s.
    pub start_delay_s: f64,
    /// Unscheduled starts (somebody presses the button, a firmware quirk), per day, at a uniform time of day.
    pub unscheduled_per_day: f64,
    /// The way home.
    pub approach: Approach,
    /// Departure manners.
    pub departure: Departure,
    /// Manners at a shut door.
    pub shut_door: ShutDoor,
    /// Docking.
    pub dock: Dock,
    /// Rain habit.
    pub rain: RainManners,
}

/// The way home: a straight drive along x with a sideways offset drawn for each arrival.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Approach {
    /// Time from the decision to go home to the beginning of the drive towards the door.
    pub way_home: Spread,
    /// Where the drive towards the door begins (nose), m.
    pub from_m: f64,
    /// Speed there, m/s.
    pub speed_m_s: f64,
    /// Where it slows down (nose), m.
    pub slow_from_m: f64,
    /// Speed from there to the dock, m/s.
    pub slow_speed_m_s: f64,
    /// Standard deviation of the speed from arrival to arrival, as a share of it.
    pub speed_spread: f64,
    /// Standard deviation of the sideways offset, m.
    pub sideways_m: f64,
}

impl Approach {
    /// Speed as a multiple of the usual one, so many standard deviations from it: half to one and a half, for beyond that the model of
    /// a spread no longer means anything.
    pub fn pace(&self, deviations: f64) -> f64 {
        (1.0 + self.speed_spread * deviations).clamp(0.5, 1.5)
    }
}

/// Departure manners.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Departure {
    /// Time between the decision to leave (status message, motors humming) and the first movement, s.
    pub notice_s: f64,
    /// How long it waits behind a shut door before it gives the sortie up, s.
    pub patience_s: f64,
    /// Speed while leaving, m/s.
    pub speed_m_s: f64,
}

/// Manners at a shut door.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShutDoor {
    /// Where the nose waits, m; the arrival is missed if nobody has asked for the door when it gets here.
    pub waits_at_m: f64,
    /// How long it waits there, s.
    pub patience_s: f64,
    /// How often it backs off and comes again.
    pub retries: u32,
    /// How far it backs off, m.
    pub back_off_m: f64,
    /// Whether it pushes against the door (a contact) before each retry.
    pub bumps: bool,
    /// Push force, N.
    pub bump_force_n: f64,
    /// Time until a person helps after it has given up (a stranding), s.
    pub help_after_s: f64,
}

/// Docking.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dock {
    /// Distance of the docked nose behind the door line, m; more than the body's length, so that the door can shut.
    pub depth_m: f64,
    /// Probability that one docking attempt fails, 0 to 1.
    pub failure: f64,
    /// How far it backs up before the next attempt, m.
    pub back_off_m: f64,
    /// Attempts before it gives up and strands inside.
    pub attempts: u32,
}

/// Rain manners.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RainManners {
    /// The habit.
    pub habit: RainHabit,
    /// How long it must rain before the mower acts on it, s.
    pub reacts_after_s: f64,
    /// How long after rain it leaves again, s.
    pub resumes_after_s: f64,
}
