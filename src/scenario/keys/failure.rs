//! `[[failure]]`.

use super::kind::{Kind, Range};
use super::mower::SHARE;
use super::{Form, Key, Need, Section};
use crate::scenario::failure::{COUNT, Figure, MODES, NAMES, Often};
use crate::scenario::measure::{DURATION, PER_YEAR};

/// What holds without a figure.
const USUAL: &str = "as usual for the mode (common practice)";

/// Modes that have a figure, that come in episodes, or that last: the keys' `only` lists, worked out from the modes so that
/// the two cannot disagree.
#[derive(Clone, Copy)]
enum Having {
    Figure(Figure),
    Episodes,
    Length,
    Sensors,
}

const fn has(index: usize, what: Having) -> bool {
    let mode = MODES[index];
    match what {
        Having::Figure(figure) => {
            let mut place = 0;
            while place < mode.figures.len() {
                if mode.figures[place].0 as usize == figure as usize {
                    return true;
                }
                place += 1;
            }
            false
        }
        Having::Episodes => matches!(mode.often, Often::Episodes { .. }),
        Having::Length => mode.lasts.is_some(),
        Having::Sensors => !matches!(mode.hits, crate::scenario::failure::Hits::Nothing),
    }
}

const fn count(what: Having) -> usize {
    let (mut index, mut found) = (0, 0);
    while index < COUNT {
        if has(index, what) {
            found += 1;
        }
        index += 1;
    }
    found
}

const fn having<const N: usize>(what: Having) -> [&'static str; N] {
    let mut list = [""; N];
    let (mut index, mut found) = (0, 0);
    while index < COUNT {
        if has(index, what) {
            list[found] = NAMES[index];
            found += 1;
        }
        index += 1;
    }
    list
}

macro_rules! only {
    ($what:expr) => {{
        const LIST: [&str; count($what)] = having($what);
        &LIST
    }};
}

macro_rules! figure {
    ($figure:ident, $range:expr, $about:literal) => {
        Key::new(
            Figure::$figure.key(),
            match Figure::$figure.measure() {
                Some(measure) => Kind::Quantity(measure, $range),
                None => Kind::Number($range),
            },
            $about,
        )
        .absent(USUAL)
        .only(only!(Having::Figure(Figure::$figure)))
    };
}

/// `[[failure]]`.
pub(super) const FAILURE: Section = Section {
    path: "failure",
    form: Form::List,
    need: Need::Optional,
    switch: "mode",
    about: "Something that goes wrong, by its mode; figures that are left out are as usual for the mode.",
    keys: &[
        Key::new("mode", Kind::Choice(&NAMES), "What goes wrong."),
        Key::new("name", Kind::Name, "Name, for the report and for the random stream.").absent("the mode's name"),
        Key::new("sensor", Kind::NameOf("sensor"), "The sensor that it hits.")
            .absent("all sensors that it can hit")
            .only(only!(Having::Sensors)),
        Key::new("rate", Kind::Quantity(&PER_YEAR, Range::within(0.0, 1e6)), "How often it comes.")
            .absent(USUAL)
            .only(only!(Having::Episodes)),
        Key::new("lasts", Kind::Spread(&DURATION, Range::above(0.0, 31_557_600.0)), "How long it lasts.")
            .absent(USUAL)
            .only(only!(Having::Length)),
        figure!(Range, Range::above(0.0, 1.0), "Share of the range that is left."),
        figure!(ShortReturns, SHARE, "Probability that a reading is a short return (of a beam: broken)."),
        figure!(Dropout, SHARE, "Probability that a sample gives no reading."),
        figure!(Bias, Range::within(-10.0, 10.0), "Offset of the range; negative reads too near."),
        figure!(NoiseFactor, Range::within(1.0, 1000.0), "Factor on the noise."),
        figure!(LossPerWeek, Range::within(0.0, 0.5), "Share of the range lost per week since the last cleaning."),
        figure!(SpuriousRain, Range::within(0.0, 1.0), "Rain coefficient of short returns, as of a sensor."),
        figure!(Reflectance, Range::above(0.0, 1.0), "Reflectance of the shell."),
        figure!(WetFactor, Range::above(0.0, 1.0), "Share of the reflectance that is left while the shell is wet."),
        figure!(Load, Range::within(0.0, 1000.0), "Load that is felt too much."),
        figure!(WeightSeen, SHARE, "Share of the weight that is felt."),
        figure!(LoadDrift, Range::within(-100.0, 100.0), "Drift of the zero with temperature."),
        figure!(Tare, Range::within(0.0, 10_000.0), "Speed of zero tracking."),
        figure!(Angle, Range::within(-90.0, 90.0), "Offset of the angle."),
        figure!(Share, SHARE, "Probability per occasion, or the share that the mode speaks of."),
        figure!(Distance, Range::within(0.0, 10.0), "The length that the mode speaks of."),
        figure!(Shift, Range::within(0.0, 0.1), "Shift of the switching point with temperature."),
        figure!(Force, Range::within(0.0, 100_000.0), "The force that the mode speaks of."),
        figure!(Delay, Range::within(0.0, 604_800.0), "The delay that the mode speaks of."),
        figure!(PerDay, Range::within(0.0, 1000.0), "How often it happens."),
        figure!(Gust, Range::within(0.0, 100.0), "Gust at the site from which it acts."),
    ],
};

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_figure_has_a_key() {
        for figure in Figure::ALL {
            assert!(FAILURE.key(figure.key()).is_some(), "{figure:?}");
        }
        // Every usual value lies in its key's range.
        for mode in MODES {
            for (figure, value) in mode.figures {
                let key = FAILURE.key(figure.key()).unwrap();
                let (Kind::Quantity(_, range) | Kind::Number(range)) = key.kind else { panic!("{figure:?}") };
                assert!(range.contains(*value), "{} {figure:?}", mode.name);
            }
        }
    }
}
