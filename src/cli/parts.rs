//! Shares of a study that are played apart and merged: part files.
//!
//! A part file is one JSON header and one JSON record per contender and season, then a checksum of all that stands before
//! it. It says which version, command, arguments, scenarios, seed and seasons it belongs to; parts that disagree in any of
//! these are never merged. Numbers are stored as the bits of their double, so that nothing is rounded.

use crate::ledger::blame::ByCause;
use std::ffi::OsString;
use std::fs;
use std::io::Read;
use std::ops::Range;
use std::path::{Path, PathBuf};
use std::str::FromStr;

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use super::exit::Failure;
use super::file;
use crate::ledger::metric::KEYS;
use crate::ledger::record::{ByNoise, Day, DetectorTally, EventRow, Histogram, Hour, SeasonRecord};
use crate::math::time::Instant;

/// First words of a part file.
const LAYOUT: &str = "dooryard-part/15";
/// What the layouts of all versions have in common.
const LAYOUTS: &str = "dooryard-part/";

/// `I/N`: this share of the seasons.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Share {
    index: u64,
    of: u64,
}

impl FromStr for Share {
    type Err = String;

    fn from_str(text: &str) -> Result<Share, String> {
        let wrong = || "write I/N, such as 2/7, with I from 1 to N".to_string();
        let (index, of) = text.split_once('/').ok_or_else(wrong)?;
        let (index, of) = (index.parse().map_err(|_| wrong())?, of.parse().map_err(|_| wrong())?);
        if of > 1_000_000 || index < 1 || index > of { Err(wrong()) } else { Ok(Share { index, of }) }
    }
}

impl Share {
    /// The seasons of this share, as even as whole seasons allow.
    pub fn seasons(self, first: u64, count: u64) -> Range<u64> {
        let edge = |part: u64| first + (u128::from(count) * u128::from(part) / u128::from(self.of)) as u64;
        edge(self.index - 1)..edge(self.index)
    }

    /// The part file in a folder.
    pub fn file(self, folder: &Path) -> PathBuf {
        let digits = self.of.to_string().len();
        folder.join(format!("part-{:0digits$}-of-{}.jsonl", self.index, self.of))
    }
}

/// What a part belongs to.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Belongs {
    layout: String,
    version: String,
    /// The command's arguments without those that differ between shares or don't shape the result.
    arguments: Vec<String>,
    /// SHA-256 of each scenario.
    scenarios: Vec<String>,
    contenders: usize,
}

#[derive(Debug, Serialize, Deserialize)]
struct Header {
    #[serde(flatten)]
    belongs: Belongs,
    first: u64,
    end: u64,
}

/// Seasons that are known already: one list per contender.
#[derive(Clone, Debug)]
pub struct Known {
    /// Number of the first season.
    pub first: u64,
    /// Records.
    pub records: Vec<Vec<SeasonRecord>>,
    belongs: Belongs,
}

impl Known {
    /// Records of some seasons.
    ///
    /// # Errors
    /// If the parts don't hold all of them.
    pub fn fetch(&self, seasons: Range<u64>) -> Result<Vec<Vec<SeasonRecord>>, Failure> {
        let missing = || {
            Failure::Message(format!(
                "the parts don't hold the seasons {} to {}",
                seasons.start,
                seasons.end.saturating_sub(1)
            ))
        };
        let from = seasons.start.checked_sub(self.first).ok_or_else(missing)? as usize;
        let to = from + (seasons.end - seasons.start) as usize;
        self.records.iter().map(|all| all.get(from..to).map(<[_]>::to_vec).ok_or_else(missing)).collect()
    }

    /// Refuses parts of other scenarios than those that are read now.
    ///
    /// # Errors
    /// If a scenario has changed since, or the number of contenders.
    pub fn check(&self, scenarios: &[&str], contenders: usize) -> Result<(), Failure> {
        if self.belongs.scenarios.iter().map(String::as_str).ne(scenarios.iter().copied()) {
            return Err(Failure::Message(
                "the scenario has changed since the parts were played (its SHA-256 differs); play them again, or merge \
                 where the scenario is as it was"
                    .to_string(),
            ));
        }
        if self.belongs.contenders != contenders {
            return Err(Failure::Message("the parts hold another number of contenders".to_string()));
        }
        Ok(())
    }

    /// The command's arguments, for reading them again.
    pub fn arguments(&self) -> &[String] {
        &self.belongs.arguments
    }
}

/// The program's arguments without those that differ between shares or don't shape the result.
pub fn shaping(arguments: impl Iterator<Item = OsString>) -> Result<Vec<String>, Failure> {
    const WITH_VALUE: [&str; 3] = ["--part", "--out", "--threads"];
    let mut kept = Vec::new();
    let mut arguments = arguments;
    while let Some(argument) = arguments.next() {
        let text = argument
            .into_string()
            .map_err(|bad| Failure::Message(format!("`{}` is not Unicode text", bad.to_string_lossy())))?;
        if WITH_VALUE.contains(&text.as_str()) {
            arguments.next();
        } else if !(WITH_VALUE.iter().any(|name| text.starts_with(&format!("{name}=")))
            || ["-q", "--quiet", "--json", "--plain"].contains(&text.as_str()))
        {
            kept.push(text);
        }
    }
    Ok(kept)
}

/// A record as it stands in a part.
#[derive(Serialize, Deserialize)]
struct Stored {
    contender: usize,
    season: u64,
    values: Vec<u64>,
    by_cause: ByCause<Vec<u64>>,
    /// Openings, false openings, arrivals, missed arrivals.
    hours: Vec<[u32; 4]>,
    histograms: [(u32, Vec<u64>); 3],
    days: Vec<StoredDay>,
    detectors: Vec<StoredDetector>,
    noise_openings: StoredByNoise,
    condition_h: [u64; 3],
    events: Vec<(i64, String, String, String)>,
}

type StoredDay = ([u64; 5], [u32; 8]);
/// What was counted, the expected rates and the weights of these.
type StoredByNoise = ([u64; 3], [u64; 3], [u64; 3]);
/// False runs, approaches not noticed, times and distances, hours blind.
type StoredDetector = (StoredByNoise, u64, [(u32, Vec<u64>); 2], u64);

fn stored(contender: usize, record: &SeasonRecord) -> Stored {
    let histogram = |histogram: &Histogram| (histogram.bin_ms, histogram.counts.clone());
    let day = |day: &Day| {
        let (amounts, counts) = day.parts();
        (amounts.map(f64::to_bits), counts)
    };
    let by_noise = |it: &ByNoise| (it.counted, it.expected.map(f64::to_bits), it.weight.map(f64::to_bits));
    let detector = |tally: &DetectorTally| {
        let histograms = [&tally.after, &tally.left].map(histogram);
        (by_noise(&tally.false_runs), tally.unnoticed, histograms, tally.blind_h.to_bits())
    };
    let event = |row: &EventRow| (row.at.0, row.who.clone(), row.what.clone(), row.detail.clone());
    Stored {
        contender,
        season: record.season,
        values: record.values.iter().map(|value| value.to_bits()).collect(),
        by_cause: record.by_cause.clone(),
        hours: record
            .hours
            .iter()
            .map(|hour| [hour.openings, hour.false_openings, hour.arrivals, hour.missed])
            .collect(),
        histograms: [&record.waits, &record.opening_strokes, &record.closing_strokes].map(histogram),
        days: record.days.iter().map(day).collect(),
        detectors: record.detectors.iter().map(detector).collect(),
        noise_openings: by_noise(&record.noise_openings),
        condition_h: record.condition_h.map(f64::to_bits),
        events: record.events.iter().map(event).collect(),
    }
}

fn restored(stored: Stored) -> Option<SeasonRecord> {
    if stored.values.len() != KEYS.len() {
        return None;
    }
    let [waits, opening_strokes, closing_strokes] =
        stored.histograms.map(|(bin_ms, counts)| Histogram { bin_ms, counts });
    let day = |(amounts, counts): StoredDay| Day::of_parts(amounts.map(f64::from_bits), counts);
    let by_noise = |(counted, expected, weight): StoredByNoise| {
        let [expected, weight] = [expected, weight].map(|it| it.map(f64::from_bits));
        ByNoise { counted, expected, weight }
    };
    let detector = |(false_runs, unnoticed, histograms, blind): StoredDetector| {
        let [after, left] = histograms.map(|(bin_ms, counts)| Histogram { bin_ms, counts });
        let false_runs = by_noise(false_runs);
        DetectorTally { false_runs, unnoticed, after, left, blind_h: f64::from_bits(blind) }
    };
    let hour =
        |[openings, false_openings, arrivals, missed]: [u32; 4]| Hour { openings, false_openings, arrivals, missed };
    let event = |(at, who, what, detail)| EventRow { at: Instant(at), who, what, detail };
    Some(SeasonRecord {
        season: stored.season,
        values: stored.values.into_iter().map(f64::from_bits).collect(),
        by_cause: stored.by_cause,
        hours: stored.hours.into_iter().map(hour).collect(),
        waits,
        opening_strokes,
        closing_strokes,
        days: stored.days.into_iter().map(day).collect(),
        detectors: stored.detectors.into_iter().map(detector).collect(),
        noise_openings: by_noise(stored.noise_openings),
        condition_h: stored.condition_h.map(f64::from_bits),
        events: stored.events.into_iter().map(event).collect(),
        handled: 0,
    })
}

/// Writes a part file, whole or not at all.
///
/// # Errors
/// If it can't be written.
pub fn write(
    path: &Path,
    scenarios: &[&str],
    seasons: Range<u64>,
    records: &[Vec<SeasonRecord>],
) -> Result<(), Failure> {
    let belongs = Belongs {
        layout: LAYOUT.to_string(),
        version: env!("CARGO_PKG_VERSION").to_string(),
        arguments: shaping(std::env::args_os().skip(1))?,
        scenarios: scenarios.iter().map(ToString::to_string).collect(),
        contenders: records.len(),
    };
    spare_others(path)?;
    let mut text = serde_json::to_string(&Header { belongs, first: seasons.start, end: seasons.end })?;
    text.push('\n');
    for (contender, list) in records.iter().enumerate() {
        for record in list {
            text.push_str(&serde_json::to_string(&stored(contender, record))?);
            text.push('\n');
        }
    }
    let sum = checksum(text.as_bytes());
    text.push_str(&sum);
    text.push('\n');
    file::write_whole(path, text.as_bytes())
}

/// Refuses to replace a file that is no part.
fn spare_others(path: &Path) -> Result<(), Failure> {
    let mut start = Vec::new();
    let there =
        fs::File::open(path).and_then(|file| file.take(1_000).read_to_end(&mut start)).is_ok_and(|read| read > 0);
    if there && !String::from_utf8_lossy(&start).contains(LAYOUTS) {
        let shown = path.display();
        return Err(Failure::Message(format!(
            "`{shown}` is no part file and is left alone; choose another folder with --out, or move it away"
        )));
    }
    Ok(())
}

fn checksum(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Reads parts and joins them; their order doesn't matter.
///
/// # Errors
/// If one can't be read, is damaged, or doesn't belong to the others; if seasons are missing or doubled.
pub fn join(paths: &[PathBuf]) -> Result<Known, Failure> {
    let mut parts = paths.iter().map(|path| read(path)).collect::<Result<Vec<_>, _>>()?;
    parts.sort_by_key(|(header, _)| header.first);
    let mut joined: Option<Known> = None;
    for ((header, records), path) in parts.into_iter().zip(paths) {
        let Some(known) = &mut joined else {
            joined = Some(Known { first: header.first, records, belongs: header.belongs });
            continue;
        };
        if known.belongs != header.belongs {
            return Err(Failure::Message(format!(
                "the parts don't belong together: {}",
                disagreement(&known.belongs, &header.belongs)
            )));
        }
        let next = known.first + known.records.first().map_or(0, Vec::len) as u64;
        if header.first != next {
            let what = if header.first < next { "doubled" } else { "missing" };
            let season = header.first.min(next);
            return Err(Failure::Message(format!("season {season} is {what} (a part near `{}`)", path.display())));
        }
        known.records.iter_mut().zip(records).for_each(|(all, more)| all.extend(more));
    }
    joined.ok_or_else(|| Failure::Message("no part is given".to_string()))
}

fn disagreement(a: &Belongs, b: &Belongs) -> String {
    if a.version != b.version {
        format!("versions {} and {}", a.version, b.version)
    } else if a.scenarios != b.scenarios {
        "different scenarios (their SHA-256 differ)".to_string()
    } else {
        format!("different arguments\n  {}\n  {}", a.arguments.join(" "), b.arguments.join(" "))
    }
}

type Part = (Header, Vec<Vec<SeasonRecord>>);

fn read(path: &Path) -> Result<Part, Failure> {
    let shown = path.display();
    let text = fs::read_to_string(path).map_err(|error| Failure::Message(format!("cannot read `{shown}`: {error}")))?;
    let damaged = || Failure::Message(format!("`{shown}` is damaged or no part file; play that part again"));
    let body = text.strip_suffix('\n').ok_or_else(damaged)?;
    let split = body.rfind('\n').ok_or_else(damaged)? + 1;
    let (body, sum) = body.split_at(split);
    if checksum(body.as_bytes()) != sum {
        return Err(damaged());
    }
    let mut lines = body.lines();
    let header: Header = lines.next().and_then(|line| serde_json::from_str(line).ok()).ok_or_else(damaged)?;
    if header.belongs.layout != LAYOUT || header.belongs.version != env!("CARGO_PKG_VERSION") {
        return Err(Failure::Message(format!(
            "`{shown}` was written by dooryard {}, this is {}",
            header.belongs.version,
            env!("CARGO_PKG_VERSION")
        )));
    }
    // More than any comparison has, and room for them does no harm.
    const MOST_CONTENDERS: usize = 100_000;
    if header.belongs.contenders > MOST_CONTENDERS {
        return Err(damaged());
    }
    let mut records: Vec<Vec<SeasonRecord>> = vec![Vec::new(); header.belongs.contenders];
    for line in lines {
        let stored: Stored = serde_json::from_str(line).map_err(|_| damaged())?;
        let list = records.get_mut(stored.contender).ok_or_else(damaged)?;
        list.push(restored(stored).ok_or_else(damaged)?);
    }
    let numbers = |list: &Vec<SeasonRecord>| list.iter().map(|record| record.season).eq(header.first..header.end);
    if !records.iter().all(numbers) {
        return Err(damaged());
    }
    Ok((header, records))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ledger::blame::Blamed;

    #[test]
    fn shares_cover_all_seasons_once() {
        for (count, of) in [(100, 7), (3, 5), (1, 1), (1_000_000_000, 3)] {
            let mut next = 12;
            for index in 1..=of {
                let seasons = Share { index, of }.seasons(12, count);
                assert_eq!(seasons.start, next);
                next = seasons.end;
            }
            assert_eq!(next, 12 + count);
        }
        for bad in ["0/3", "4/3", "1", "a/b", "1/0", "-1/2"] {
            assert!(Share::from_str(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn only_parts_are_replaced() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("part-1-of-2.jsonl");
        write(&path, &["hash"], 0..0, &[]).unwrap();
        write(&path, &["hash"], 0..0, &[]).unwrap();
        fs::write(&path, "MINE").unwrap();
        let refused = write(&path, &["hash"], 0..0, &[]).unwrap_err();
        assert!(matches!(refused, Failure::Message(words) if words.contains("no part file")));
        assert_eq!(fs::read(&path).unwrap(), b"MINE");
    }

    #[test]
    fn what_differs_between_shares_is_left_out() {
        let arguments = ["run", "x.toml", "--part", "2/7", "--out=y", "-q", "--threads", "3", "--seed", "4"];
        let kept = shaping(arguments.iter().map(OsString::from)).unwrap();
        assert_eq!(kept, ["run", "x.toml", "--seed", "4"]);
    }

    #[test]
    fn records_come_back_the_same() {
        let mut record = SeasonRecord::empty(7, 3);
        record.values[3] = 0.1 + 0.2;
        record.values[4] = f64::NAN;
        record.days[1].wait_s = 1.0 / 3.0;
        record.days[2].strandings = 4;
        record.waits.add(1.5);
        record.by_cause[Blamed::MissedDepartures] = vec![2, 0];
        record.by_cause[Blamed::Contacts] = vec![0, 3];
        record.hours[23].missed = 2;
        record.condition_h[1] = 0.1;
        let mut tally = DetectorTally {
            false_runs: ByNoise { counted: [1, 0, 7], expected: [1.0 / 7.0, 0.0, 1e-12], weight: [0.3, 0.0, 5.0] },
            unnoticed: 2,
            blind_h: 1.0 / 3.0,
            ..Default::default()
        };
        tally.left.add(2.5);
        record.detectors = vec![DetectorTally::default(), tally];
        record.noise_openings =
            ByNoise { counted: [0, 2, 0], expected: [0.0, 1.0 / 3.0, 0.0], weight: [0.0, 4.0, 1.0] };
        record.events.push(EventRow { at: Instant(5), who: "a\n".into(), what: "b".into(), detail: String::new() });
        let text = serde_json::to_string(&stored(0, &record)).unwrap();
        let back = restored(serde_json::from_str(&text).unwrap()).unwrap();
        assert_eq!(back.values[4].to_bits(), record.values[4].to_bits());
        record.values[4] = 0.0;
        assert_eq!(SeasonRecord { values: record.values.clone(), ..back }, record);
    }
}
