//! How often a detector goes on with nobody there, exactly: from the law of its readings, without a single one of them.
//!
//! It goes on, goes off again, and so on: one false run for each mean time there and back. Both are mean times to absorption of
//! chains over what the detector remembers ([`QuietChain`]), so that a run in a thousand years is known as well as one an
//! hour. What the median holds when it begins to go off is taken as quiet, which matters only where runs come every few seconds.

use super::approach::{Mass, Odds, QuietChain};
use super::law::{Law, snap};
use crate::scenario::sensor::{Sensor, SensorKind};
use crate::scenario::strategy::{Detector, Sense};

/// The false runs of a detector.
#[derive(Clone, Debug)]
pub struct FalseRuns {
    on: QuietChain,
    off: QuietChain,
    sense: Sense,
    off_level: f64,
    samples_per_day: f64,
}

const DAY_S: f64 = 86_400.0;

impl FalseRuns {
    /// Makes ready; none for a detector that remembers more than hits, or too many of them, for noise that remembers, and for a beam
    /// that insects break: these come and go, and no law of a single reading knows of them.
    pub fn new(detector: &Detector, sensor: &Sensor) -> Option<FalseRuns> {
        let insects = matches!(sensor.kind, SensorKind::BreakBeam { false_per_hour, .. } if false_per_hour > 0.0);
        if insects || sensor.errors.noise_correlation > 0.0 {
            return None;
        }
        let resolution = sensor.errors.resolution;
        Some(FalseRuns {
            on: QuietChain::new(detector, resolution)?,
            off: QuietChain::new(&Detector { rule: detector.release, ..detector.clone() }, resolution)?,
            sense: detector.sense,
            off_level: snap(detector.off, resolution),
            samples_per_day: DAY_S / sensor.period.seconds(),
        })
    }

    /// False runs a day while readings follow this law. `mass` is scratch.
    pub fn per_day(&self, law: &Law, mass: &mut Mass) -> f64 {
        let on = self.on.mean_wait(self.on.odds(law), mass);
        if on.is_infinite() {
            return 0.0;
        }
        self.samples_per_day / (on + self.off.mean_wait(self.off_odds(law), mass))
    }

    /// What a sample may be for a detector that is on: a hit speaks for off.
    fn off_odds(&self, law: &Law) -> Odds {
        let (below, above, nothing) = law.split(self.off_level, self.sense == Sense::Below);
        match self.sense {
            Sense::Below => Odds { hit: above, miss: below, nothing },
            Sense::Above => Odds { hit: below, miss: above, nothing },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::time::Span;
    use crate::scenario::sensor::Errors;
    use crate::scenario::strategy::{Dropped, RunRule, Statistic};
    use crate::sensing::law::{Spurious, Target};

    /// A law of which a reading is on with probability p, else well beyond the off level; `nothing` of them say nothing.
    fn law(p: f64, nothing: f64) -> Law {
        let mut law = Law::SILENT;
        law.targets[0] = Target { weight: 1.0 - p - nothing, mean: 3.0, sigma: 0.0 };
        law.spurious = Spurious { weight: p, low: 0.1, high: 0.5 };
        law
    }

    fn runs(rule: (usize, usize), release: (usize, usize), dropped: Dropped) -> FalseRuns {
        let detector = Detector {
            name: "a".into(),
            sensor: 0,
            statistic: Statistic::Level,
            sense: Sense::Below,
            on: 1.0,
            off: 1.2,
            rule: RunRule { k: rule.0, n: rule.1 },
            release: RunRule { k: release.0, n: release.1 },
            dropped,
            says: Vec::new(),
        };
        let sensor = Sensor {
            name: "eye".into(),
            kind: SensorKind::RainGauge,
            period: Span(50_000),
            latency: Span::ZERO,
            errors: Errors::NONE,
        };
        FalseRuns::new(&detector, &sensor).expect("a run rule")
    }

    /// A run of r hits in a row takes (1 - p^r) / (p^r (1 - p)) samples on average (Feller, vol. 1, XIII.7), one of the other kind
    /// 1 / (1 - p): down to a run in a hundred thousand million years. Left out, samples without a reading only stretch it.
    #[test]
    fn runs_in_a_row_follow_feller() {
        let mut mass = Mass::default();
        for (p, r) in [(0.3, 2), (0.01, 3), (1e-4, 3), (1e-6, 4), (1e-9, 2)] {
            let wait = |p: f64| (1.0 - f64::powi(p, r)) / (f64::powi(p, r) * (1.0 - p)) + 1.0 / (1.0 - p);
            let run = (r as usize, r as usize);
            for (dropped, nothing) in [(Dropped::Quiet, 0.0), (Dropped::Hold, 0.0), (Dropped::Hold, 0.4)] {
                let got = runs(run, (1, 1), dropped).per_day(&law(p * (1.0 - nothing), nothing), &mut mass);
                let exact = 20.0 * 86_400.0 * (1.0 - nothing) / wait(p);
                assert!((got / exact - 1.0).abs() < 1e-9, "{p} {r} {dropped:?} {nothing}: {got} against {exact}");
            }
        }
        assert_eq!(runs((2, 3), (1, 1), Dropped::Quiet).per_day(&law(0.0, 0.1), &mut mass), 0.0);
        assert_eq!(runs((2, 3), (1, 1), Dropped::Hold).per_day(&Law::SILENT, &mut mass), 0.0);
    }
}
