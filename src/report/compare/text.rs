//! A comparison as plain text: the answer first, then the ranking, then all differences.

use super::Told;
use crate::report::number;
use crate::report::table::{Cell, Table, hang};
use crate::report::text::{self, Setting};
use crate::report::{groups, words};
use crate::study::compare::{Choice, Comparison, Difference, Standing};
use crate::study::result::Verdict;

/// The whole report.
pub fn report(comparison: &Comparison, told: &Told, setting: Setting) -> String {
    let width = setting.room();
    let mut out = String::new();
    let paragraph = |out: &mut String, text: &str| text::paragraph(out, text, width);
    let heading = |out: &mut String, text: &str| text::heading(out, text, setting);
    paragraph(&mut out, &opening(comparison, told));
    text::warnings(&mut out, told.warnings, width);
    heading(&mut out, "Answer");
    paragraph(&mut out, &answer(comparison, told));
    heading(&mut out, "Ranking");
    out.push_str(&ranking(comparison, told).render(setting));
    for index in &comparison.ranking {
        verdicts(&mut out, &comparison.standings[*index], width);
    }
    let reference = &comparison.standings[comparison.reference];
    for standing in comparison.standings.iter().filter(|standing| !standing.differences.is_empty()) {
        heading(&mut out, &format!("{} minus {}", standing.name, reference.name));
        paragraph(&mut out, &reductions(standing));
        out.push_str(&differences(standing).render(setting));
    }
    out.push('\n');
    paragraph(&mut out, &legend(comparison, told));
    out
}

pub(in crate::report) fn opening(comparison: &Comparison, told: &Told) -> String {
    let names: Vec<&str> = told.study.scenarios.iter().map(|scenario| scenario.name.as_str()).collect();
    let early = if comparison.ended_early {
        format!(" (ended early, of {})", number::whole(comparison.seasons_asked))
    } else {
        String::new()
    };
    format!(
        "{}: {} contenders on the same {}{early}, the first is number {}, seed {}. dooryard {}.",
        names.join(", "),
        comparison.standings.len(),
        number::counted(comparison.seasons, "season"),
        told.first_season,
        told.study.seed,
        told.study.version
    )
}

pub(in crate::report) fn answer(comparison: &Comparison, told: &Told) -> String {
    let name = |index: usize| comparison.standings[index].name.as_str();
    let zone = told
        .aim
        .and_then(|aim| aim.indifference)
        .map(|zone| number::with_unit(&number::chosen(zone), told.aim.map_or("", |aim| aim.unit())));
    let zone = zone.unwrap_or_default();
    let sure = number::percent(told.confidence);
    let open = |index: usize| {
        let standing = &comparison.standings[index];
        let verdicts =
            standing.limits.iter().map(|one| one.verdict).chain(standing.risks.iter().map(|one| one.verdict));
        match words::worst(verdicts) {
            "undecided" => " Whether it meets all limits is not decided yet.",
            _ => "",
        }
    };
    match &comparison.choice {
        Choice::NoObjective => "Nothing says what is better: state [objective] in the scenario, or give --minimise or \
                                --cost. The differences below stand for themselves."
            .to_string(),
        Choice::NoneMeets => "No contender meets the limits.".to_string(),
        Choice::OnlyOne(index) => {
            format!("{} is the only one that no limit rules out.{}", name(*index), open(*index))
        }
        Choice::Best(index) => format!(
            "{} is best, with {sure} confidence: no other one that the limits allow is better by {zone} per season or \
             more.{}",
            name(*index),
            open(*index)
        ),
        Choice::NotToldApart(among) if among.len() > 1 => {
            let names: Vec<&str> = among.iter().map(|index| name(*index)).collect();
            format!(
                "None of these can be called best with {sure} confidence on {}: {}. The differences may be smaller than \
                 the {zone} per season that matter, or more seasons are needed.",
                number::counted(comparison.seasons, "season"),
                names.join(", ")
            )
        }
        Choice::NotToldApart(_) => "Too few seasons for a decision.".to_string(),
        Choice::Leads(index) if costs_the_same(comparison, *index) => {
            "Nothing tells them apart on these seasons: all cost the same.".to_string()
        }
        Choice::Leads(index) => format!(
            "{} costs least on these seasons. No indifference zone is stated (--indifference), so nothing is promised \
             about the best.{}",
            name(*index),
            open(*index)
        ),
    }
}

/// Whether everybody costs exactly what the first one does.
fn costs_the_same(comparison: &Comparison, first: usize) -> bool {
    let mean = |index: usize| comparison.standings[index].cost.map(|cost| cost.mean);
    comparison.standings.len() > 1 && (0..comparison.standings.len()).all(|index| mean(index) == mean(first))
}

pub(in crate::report) fn ranking(comparison: &Comparison, told: &Told) -> Table {
    let cost = match told.aim.and_then(|aim| aim.metric) {
        Some(key) => words::heading(key),
        None => "cost per season".to_string(),
    };
    let mut table = Table::new(&["contender", "limits", cost.as_str(), "low to high", "out after"])
        .left(1)
        .of("ranking.csv", &["contender"]);
    for index in &comparison.ranking {
        let standing = &comparison.standings[*index];
        let verdicts =
            standing.limits.iter().map(|one| one.verdict).chain(standing.risks.iter().map(|one| one.verdict));
        let left = comparison.selection.as_ref().and_then(|(among, selection)| {
            let at = among.iter().position(|other| other == index)?;
            selection.eliminated_after[at].map(|seasons| seasons.to_string())
        });
        let (worst, mean) = (words::worst(verdicts), standing.cost.map(|cost| cost.mean));
        let interval = standing.cost.and_then(|cost| cost.interval);
        let between = interval.map_or(number::WITHHELD.to_string(), |interval| {
            format!("{} to {}", number::significant(interval.low, 4), number::significant(interval.high, 4))
        });
        let out_after = Cell::new(left.clone().unwrap_or_else(|| number::WITHHELD.to_string()));
        table.keyed(
            vec![standing.name.clone()],
            vec![
                Cell::new(&standing.name),
                Cell::new(worst).field("limits", worst),
                Cell::new(number::significant_or_dash(mean, 4)).perhaps("cost", mean),
                Cell::new(between)
                    .perhaps("cost_low", interval.map(|it| it.low))
                    .perhaps("cost_high", interval.map(|it| it.high)),
                out_after.field("left_selection_after", left.unwrap_or_default()),
            ],
        );
    }
    table
}

/// Limits and risks that are not met or not decided.
fn verdicts(out: &mut String, standing: &Standing, width: usize) {
    let all = words::verdicts(&standing.limits, &standing.risks);
    for (verdict, what, why) in all.into_iter().filter(|(verdict, ..)| *verdict != Verdict::Met) {
        let first = format!("  {}, {}: ", standing.name, words::verdict(verdict));
        out.push_str(&hang(&first, &format!("{what} ({why})"), width));
    }
}

/// What the same seasons have gained.
pub(in crate::report) fn reductions(standing: &Standing) -> String {
    let told = groups::GLANCE.iter().filter_map(|key| standing.differences.get(*key as usize));
    let gains: Vec<String> = told
        .filter_map(|one| {
            let gain = one.paired.variance_reduction().filter(|gain| gain.is_finite())?;
            Some(format!("{} {}", one.paired.key.metric().title, number::significant(gain, 2)))
        })
        .collect();
    let cost = standing.cost_difference.as_ref().and_then(|one| one.paired.variance_reduction());
    let cost = cost.filter(|gain| gain.is_finite()).map(|gain| format!("objective {}", number::significant(gain, 2)));
    if gains.is_empty() && cost.is_none() {
        return "The two did the same in all seasons.".to_string();
    }
    format!(
        "Independent seasons would have to be this many times as many for the same certainty: {}.",
        cost.into_iter().chain(gains).collect::<Vec<_>>().join("; ")
    )
}

pub(in crate::report) fn differences(standing: &Standing) -> Table {
    let mut table = Table::new(&["per season", "difference", "low to high", "real?", "gain"])
        .left(3)
        .of("differences.csv", &["contender", "metric"]);
    let mut row = |name: String, metric: &str, one: &Difference| {
        let paired = &one.paired;
        // By the interval beside it, and by nothing else: Holm's procedure may reject more than intervals that hold
        // together can show, and a "yes" beside an interval that holds 0 would contradict what stands next to it.
        let real = match (one.adjusted_p, paired.interval) {
            (Some(_), Some(interval)) if interval.low > 0.0 || interval.high < 0.0 => "yes",
            // The same difference in every season leaves nothing to chance, and no interval.
            (Some(0.0), None) => "yes",
            (Some(_), _) => "can't be told",
            (None, _) => number::WITHHELD,
        };
        let interval = paired.interval.map_or(number::WITHHELD.to_string(), |interval| {
            format!("{} to {}", number::significant(interval.low, 3), number::significant(interval.high, 3))
        });
        let gain = paired.variance_reduction().filter(|gain| gain.is_finite());
        table.keyed(
            vec![standing.name.clone(), metric.to_string()],
            vec![
                Cell::new(name),
                Cell::new(number::significant(paired.difference, 3)).figure("difference", paired.difference),
                Cell::new(interval)
                    .perhaps("low", paired.interval.map(|it| it.low))
                    .perhaps("high", paired.interval.map(|it| it.high)),
                Cell::new(real),
                number::significant_or_dash(gain, 2).into(),
            ],
        );
    };
    if let Some(one) = &standing.cost_difference {
        row("objective".to_string(), "objective", one);
    }
    for (_, keys) in groups::GROUPS {
        for one in keys.iter().filter_map(|key| standing.differences.get(*key as usize)) {
            if one.paired.difference != 0.0 || one.adjusted_p.is_some() {
                row(words::heading(one.paired.key), one.paired.key.metric().key, one);
            }
        }
    }
    table
}

pub(in crate::report) fn legend(comparison: &Comparison, told: &Told) -> String {
    format!(
        "Difference (low to high): mean difference per season on the same seasons. All {} intervals hold together with \
         {} confidence (Bonferroni); real: the interval leaves out 0. Gain: variance of a difference \
         between independent seasons over that on the same seasons. Metrics without any difference are left out. Out \
         after: seasons after which the selection (Kim and Nelson) dropped a contender.{} {}",
        comparison.family,
        number::percent(told.confidence),
        if comparison.shared_out {
            " Limits are looked at more than once, so each verdict takes more confidence than the limit asks for."
        } else {
            ""
        },
        words::common_causes_of(told.study)
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ledger::metric::Key;
    use crate::study::interval::{Interval, Method};
    use crate::study::paired::PairedDifference;

    /// What stands beside an interval agrees with it, whatever a procedure without intervals says.
    #[test]
    fn real_is_what_the_interval_beside_it_shows() {
        let real = |ends: Option<(f64, f64)>, adjusted_p: Option<f64>| {
            let interval = ends.map(|(low, high)| Interval { low, high, confidence: 0.999, method: Method::StudentT });
            let paired = PairedDifference {
                key: Key::Openings,
                seasons: 4,
                means: [0.0; 2],
                difference: -83.5,
                interval,
                p_value: adjusted_p,
                correlation: None,
                variance_ratio: None,
            };
            let standing = Standing {
                name: "ranger".to_string(),
                estimates: Vec::new(),
                limits: Vec::new(),
                risks: Vec::new(),
                cost: None,
                differences: Vec::new(),
                cost_difference: Some(Difference { paired, adjusted_p }),
                on_front: false,
                seasons: Vec::new(),
            };
            differences(&standing).rows[0].cells[3].text.clone()
        };
        assert_eq!(real(Some((-168.0, 0.951)), Some(0.04)), "can't be told");
        assert_eq!(real(Some((-168.0, -0.1)), Some(0.04)), "yes");
        assert_eq!(real(Some((0.1, 3.0)), Some(0.06)), "yes");
        assert_eq!(real(None, Some(0.001)), "can't be told");
        assert_eq!(real(None, Some(0.0)), "yes");
        assert_eq!(real(Some((-1.0, 1.0)), None), number::WITHHELD);
    }
}
