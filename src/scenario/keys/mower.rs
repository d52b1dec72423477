//! `[mower]` and its parts.

use super::kind::{Kind, Range};
use super::{Form, Key, Need, Section};
use crate::scenario::measure::{DURATION, FORCE, LENGTH, MASS, PER_DAY, SPEED};

/// Lengths of bodies.
pub(super) const BODY: Range = Range::above(0.0, 10.0);
/// Shares and probabilities.
pub(super) const SHARE: Range = Range::within(0.0, 1.0);
/// Up to a day.
pub(super) const DAY: Range = Range::within(0.0, 86_400.0);
/// More than nothing, up to a day.
pub(super) const SOME_OF_A_DAY: Range = Range::above(0.0, 86_400.0);
/// Slower than a centimetre in a second is no mower, and would take days to come home.
const SPEEDS: Range = Range::within(0.01, 10.0);
const WAY: Range = Range::above(0.0, 100.0);

const fn part(path: &'static str, about: &'static str, keys: &'static [Key]) -> Section {
    Section { path, form: Form::Table, need: Need::Required, switch: "", about, keys }
}

/// `[mower]`.
pub(super) const MOWER: Section = part(
    "mower",
    "The mower's body and its working day.",
    &[
        Key::new("length", Kind::Quantity(&LENGTH, BODY), "Length of the body."),
        Key::new("width", Kind::Quantity(&LENGTH, BODY), "Width of the body."),
        Key::new("height", Kind::Quantity(&LENGTH, BODY), "Height of the body."),
        Key::new("mass", Kind::Quantity(&MASS, Range::above(0.0, 1000.0)), "Mass."),
        Key::new(
            "reflectance",
            Kind::Number(Range::above(0.0, 1.0)),
            "Share of light that the shell reflects diffusely.",
        )
        .default("0.3"),
        Key::new(
            "axles",
            Kind::Quantities(&LENGTH, 2, Range::within(0.0, 10.0)),
            "Distances of its front and its rear axle behind the nose: a platform feels one after the other.",
        )
        .absent("its weight is spread evenly over its length"),
        Key::new(
            "rear_share",
            Kind::Number(SHARE),
            "Share of its mass on the rear axle, if its axles are given (common practice: 0.6 to 0.75).",
        )
        .default("0.7"),
        Key::new("run", Kind::Spread(&DURATION, SOME_OF_A_DAY), "Mowing time of one sortie."),
        Key::new("charge", Kind::Spread(&DURATION, SOME_OF_A_DAY), "Charging time between sorties."),
        Key::new(
            "lawn",
            Kind::Quantity(&DURATION, SOME_OF_A_DAY),
            "Mowing time per window after which the lawn is done.",
        ),
        Key::new(
            "start_delay",
            Kind::Quantity(&DURATION, DAY),
            "Longest delay after a window opens before the first sortie.",
        )
        .default("\"5 min\""),
        Key::new("unscheduled", Kind::Quantity(&PER_DAY, Range::within(0.0, 100.0)), "Starts outside the timetable.")
            .default("\"0 /d\""),
    ],
);

/// `windows` of the mower.
pub(super) const WINDOWS: Section = Section {
    form: Form::List,
    ..part(
        "mower.windows",
        "Times of the week in which the mower may mow.",
        &[
            Key::new("days", Kind::Days, "Days on which the window applies.").default("\"every day\""),
            Key::new("from", Kind::TimeOfDay, "Start, by the local clock."),
            Key::new("to", Kind::TimeOfDay, "End, by the local clock."),
        ],
    )
};

/// `[mower.approach]`.
pub(super) const APPROACH: Section = part(
    "mower.approach",
    "The way home: a straight drive towards the door; places are those of the nose before the door line.",
    &[
        Key::new(
            "way_home",
            Kind::Spread(&DURATION, SOME_OF_A_DAY),
            "Time from the decision to go home to the beginning of the drive towards the door.",
        )
        .default("{ mean = \"2 min\", spread = \"40 s\" }"),
        Key::new("from", Kind::Quantity(&LENGTH, WAY), "Where the drive towards the door begins."),
        Key::new("speed", Kind::Quantity(&SPEED, SPEEDS), "Speed there."),
        Key::new("slow_from", Kind::Quantity(&LENGTH, Range::within(0.0, 100.0)), "Where it slows down."),
        Key::new("slow_speed", Kind::Quantity(&SPEED, SPEEDS), "Speed from there to the dock."),
        Key::new(
            "speed_spread",
            Kind::Number(Range::within(0.0, 0.5)),
            "Standard deviation of the speed from arrival to arrival, as a share of it.",
        )
        .default("0.05"),
        Key::new(
            "sideways",
            Kind::Quantity(&LENGTH, Range::within(0.0, 10.0)),
            "Standard deviation of the sideways offset.",
        )
        .default("\"40 mm\""),
    ],
);

/// `[mower.departure]`.
pub(super) const DEPARTURE: Section = part(
    "mower.departure",
    "How it leaves.",
    &[
        Key::new("notice", Kind::Quantity(&DURATION, DAY), "Time from the decision to leave to the first movement."),
        Key::new(
            "patience",
            Kind::Quantity(&DURATION, DAY),
            "How long it waits behind a shut door before it gives up the sortie.",
        ),
        Key::new("speed", Kind::Quantity(&SPEED, SPEEDS), "Speed while leaving."),
    ],
);

/// `[mower.shut_door]`.
pub(super) const SHUT_DOOR: Section = part(
    "mower.shut_door",
    "What it does at a shut door.",
    &[
        Key::new("waits_at", Kind::Quantity(&LENGTH, WAY), "Where the nose waits."),
        Key::new("patience", Kind::Quantity(&DURATION, DAY), "How long it waits there."),
        Key::new("retries", Kind::Integer(0, 100), "How often it backs off and comes again.").default("2"),
        Key::new("back_off", Kind::Quantity(&LENGTH, Range::within(0.0, 100.0)), "How far it backs off.")
            .default("\"1 m\""),
        Key::new("bumps", Kind::Flag, "Whether it pushes against the door before each retry.").default("false"),
        Key::new("bump_force", Kind::Quantity(&FORCE, Range::within(0.0, 10_000.0)), "Force of that push.")
            .default("\"60 N\""),
        Key::new(
            "help_after",
            Kind::Quantity(&DURATION, Range::above(0.0, 2_592_000.0)),
            "Time until a person helps after it has given up.",
        ),
    ],
);

/// `[mower.dock]`.
pub(super) const DOCK: Section = part(
    "mower.dock",
    "Docking.",
    &[
        Key::new("depth", Kind::Quantity(&LENGTH, BODY), "Distance of the docked nose behind the door line."),
        Key::new("failure", Kind::Number(Range::within(0.0, 0.99)), "Probability that one docking attempt fails.")
            .default("0"),
        Key::new(
            "back_off",
            Kind::Quantity(&LENGTH, Range::within(0.0, 10.0)),
            "How far it backs up before the next attempt.",
        )
        .default("\"0.4 m\""),
        Key::new("attempts", Kind::Integer(1, 100), "Attempts before it gives up.").default("4"),
    ],
);

/// `[mower.rain]`.
pub(super) const RAIN: Section = part(
    "mower.rain",
    "What it does about rain.",
    &[
        Key::new(
            "habit",
            Kind::Choice(&["go home", "stay home", "carry on"]),
            "Whether rain brings it home, keeps it there, or neither.",
        ),
        Key::new("reacts_after", Kind::Quantity(&DURATION, DAY), "How long it must rain before the mower acts on it.")
            .default("\"1 min\""),
        Key::new(
            "resumes_after",
            Kind::Quantity(&DURATION, Range::within(0.0, 864_000.0)),
            "How long after rain it leaves again.",
        )
        .default("\"2 h\""),
    ],
);
