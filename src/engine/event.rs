//! What can happen in a season.
//!
//! **Order.** Events come out by (time, insertion number). Samples are not events: each sensor keeps its own grid of
//! times, and a sample at time t is taken after all events at t, sensors in the scenario's order. A stretch between
//! two changes is half open: it includes its beginning and not its end.

/// An event of the season's queue.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Event {
    /// A local day begins (index).
    Midnight(u32),
    /// The laws of the readings are looked at (number).
    Survey(u32),
    /// The weather changes to this step.
    Weather(u32),
    /// The sun has moved on to this step.
    Light(u32),
    /// A fault begins (index into the season's outages).
    FaultBegins(u32),
    /// It ends.
    FaultEnds(u32),
    /// An episode of a failure begins (index into the season's episodes).
    EpisodeBegins(u32),
    /// It ends.
    EpisodeEnds(u32),
    /// A failure that came for a moment passes (index into the scenario's failures).
    FailurePasses(u32),
    /// The controller restarts by itself (index into the scenario's failures).
    ResetBegins(u32),
    /// It is back.
    ResetEnds(u32),
    /// The mower leaves again right after docking (key of the sortie).
    Redeparture(u64),
    /// A sensor's readings have shown whether a fault affects it (index into the season's outages).
    Judged(u32),
    /// The random drift of a sensor (index) takes a step.
    RandomDrift(u32),
    /// Tracked zeros take a step.
    ZeroStep,
    /// A visit begins: the visitor comes into sight.
    VisitBegins(u32),
    /// A visitor in this place of the list of guests takes its next step.
    Guest(u32),
    /// The mower takes its next step.
    Mower,
    /// An unscheduled start.
    Unscheduled(u32),
    /// It has rained long enough for the mower to mind.
    RainMinded,
    /// A status message arrives: sensor, number of the message, its true age in seconds.
    Status(u32, u32, u32),
    /// The last message of this sensor is too old: sensor, number of the message.
    StatusStale(u32, u32),
    /// So many polls of this sensor were lost that it no longer believes the last answer.
    PollsLost(u32),
    /// The next answer comes (sensor).
    PollAnswered(u32),
    /// A mowing window's widened edge passes for a clock sensor.
    ClockEdge(u32, u32),
    /// A false break of a beam begins or ends: sensor, number.
    FalseBreak(u32, u32),
    /// The contact of an end switch (index) opens or closes while it bounces.
    ContactToggles(u32),
    /// A gust rattles a shut door: end switch (index).
    Rattle(u32),
    /// Somebody comes to, or leaves, a place where a sensor (index) begins or ceases to notice.
    Edge(u32),
    /// The reading of a load platform (index) has crept by a step, or it has ceased to swing.
    Laden(u32),
    /// The controller hears of a detector: index, on or off.
    Heard(u32, bool),
    /// The battery may have run empty, or be charged enough.
    Charge,
    /// The battery gives out under a stroke.
    BatteryGivesOut,
    /// The controller wakes by itself.
    Wake,
    /// The stroke reaches its end.
    StrokeEnds,
    /// The stroke fails.
    StrokeFails,
    /// The stroke overloads the supply, and the controller restarts.
    BrownOut,
    /// The closing edge may be down on somebody.
    EdgeDown,
    /// The panel may meet somebody who stands in its way.
    PanelMeets,
    /// The drive has noticed an obstacle.
    ObstacleFelt,
}

impl Event {
    /// Whether nothing changes for a sensor that sees something move unless the controller gives a command: the controller alone
    /// hears of it, or a sensor that sees nothing move (beams go from edge to edge).
    pub fn leaves_motion_alone(self) -> bool {
        matches!(
            self,
            Event::Survey(_)
                | Event::Heard(..)
                | Event::Wake
                | Event::Edge(_)
                | Event::Status(..)
                | Event::StatusStale(..)
                | Event::PollsLost(_)
                | Event::PollAnswered(_)
        )
    }
}
