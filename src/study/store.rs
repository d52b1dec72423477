//! Seasons on disk: what many seasons leave behind does not have to fit into memory.
//!
//! Records go into two temporary files in the order of the seasons, one of rows of equal length (metrics, causes, false
//! runs), which are read again and again, and one of days and events, which is read once. Both vanish with the store.
//! Durations are not in it: their histograms are added up as the seasons come.

use crate::ledger::blame::ByCause;
use std::borrow::Cow;
use std::fs::File;
use std::io::{self, BufReader, BufWriter, Read, Write};

use tempfile::NamedTempFile;

use crate::ledger::metric::KEYS;
use crate::ledger::record::{Day, DetectorTally, EventRow, SeasonRecord};
use crate::math::time::Instant;

/// The records of one strategy's seasons, in order.
#[derive(Debug)]
pub struct Store {
    rows: BufWriter<NamedTempFile>,
    diaries: BufWriter<NamedTempFile>,
    /// Causes; detectors.
    widths: Option<(ByCause<usize>, usize)>,
    seasons: u64,
    has_events: bool,
}

impl Store {
    /// An empty store in the system's folder for temporary files.
    ///
    /// # Errors
    /// If no file can be made there.
    pub fn new() -> io::Result<Store> {
        Ok(Store {
            rows: BufWriter::new(NamedTempFile::new()?),
            diaries: BufWriter::new(NamedTempFile::new()?),
            widths: None,
            seasons: 0,
            has_events: false,
        })
    }

    /// Number of seasons.
    pub fn seasons(&self) -> u64 {
        self.seasons
    }

    /// Whether any season has an event log.
    pub fn has_events(&self) -> bool {
        self.has_events
    }

    /// Appends a season.
    ///
    /// # Errors
    /// If the disk is full or fails.
    pub fn push(&mut self, record: &SeasonRecord) -> io::Result<()> {
        let widths = (ByCause::of(|blamed| record.by_cause[blamed].len()), record.detectors.len());
        debug_assert!(self.widths.is_none_or(|others| others == widths), "all seasons have the same causes");
        self.widths = Some(widths);
        self.seasons += 1;
        self.has_events |= !record.events.is_empty();
        let out = &mut self.rows;
        whole(out, record.season)?;
        record.values.iter().try_for_each(|value| whole(out, value.to_bits()))?;
        let runs = record.detectors.iter().flat_map(|tally| &tally.false_runs.counted);
        let counts = record.by_cause.iter().flatten().chain(runs).chain(&record.noise_openings.counted);
        counts.copied().try_for_each(|count| whole(out, count))?;
        let out = &mut self.diaries;
        whole(out, record.days.len() as u64)?;
        record.days.iter().try_for_each(|day| write_day(out, day))?;
        whole(out, record.events.len() as u64)?;
        for event in &record.events {
            whole(out, event.at.0 as u64)?;
            [&event.who, &event.what, &event.detail].into_iter().try_for_each(|text| {
                whole(out, text.len() as u64)?;
                out.write_all(text.as_bytes())
            })?;
        }
        Ok(())
    }

    /// No season follows.
    ///
    /// # Errors
    /// If the disk is full or fails.
    pub fn finish(&mut self) -> io::Result<()> {
        self.rows.flush()?;
        self.diaries.flush()
    }

    /// The seasons without their days, events and durations.
    ///
    /// # Errors
    /// If the files can't be read again.
    pub fn rows(&self) -> io::Result<impl Iterator<Item = io::Result<SeasonRecord>> + use<>> {
        let mut file = BufReader::new(self.rows.get_ref().reopen()?);
        let (causes, detectors) = self.widths.unwrap_or_default();
        Ok((0..self.seasons).map(move |_| {
            let mut record = SeasonRecord::empty(read(&mut file)?, 0);
            for index in 0..KEYS.len() {
                record.values[index] = f64::from_bits(read(&mut file)?);
            }
            record.by_cause = ByCause::of(|blamed| vec![0; causes[blamed]]);
            for count in record.by_cause.iter_mut().flatten() {
                *count = read(&mut file)?;
            }
            record.detectors = vec![DetectorTally::default(); detectors];
            let runs = record.detectors.iter_mut().map(|tally| &mut tally.false_runs);
            for by_noise in runs.chain([&mut record.noise_openings]) {
                for count in &mut by_noise.counted {
                    *count = read(&mut file)?;
                }
            }
            Ok(record)
        }))
    }

    /// The seasons with their days and events, still without durations.
    ///
    /// # Errors
    /// If the files can't be read again.
    pub fn diaries(&self) -> io::Result<impl Iterator<Item = io::Result<SeasonRecord>> + use<>> {
        let mut file = BufReader::new(self.diaries.get_ref().reopen()?);
        Ok(self.rows()?.map(move |row| {
            let mut record = row?;
            for _ in 0..read(&mut file)? {
                record.days.push(read_day(&mut file)?);
            }
            for _ in 0..read(&mut file)? {
                let at = Instant(read(&mut file)? as i64);
                let [who, what, detail] = [text(&mut file)?, text(&mut file)?, text(&mut file)?];
                record.events.push(EventRow { at, who, what, detail });
            }
            Ok(record)
        }))
    }
}

/// Seasons from memory or from a store.
pub type Records<'a> = Box<dyn Iterator<Item = io::Result<Cow<'a, SeasonRecord>>> + 'a>;

/// A day: which of its fields are not zero, as bits, then these.
fn write_day(out: &mut impl Write, day: &Day) -> io::Result<()> {
    let (amounts, counts) = day.parts();
    let fields: [f64; 13] = std::array::from_fn(|i| if i < 5 { amounts[i] } else { f64::from(counts[i - 5]) });
    let mask = fields.iter().rev().fold(0_u16, |mask, field| mask << 1 | u16::from(field.to_bits() != 0));
    out.write_all(&mask.to_le_bytes())?;
    fields.iter().filter(|field| field.to_bits() != 0).try_for_each(|field| whole(out, field.to_bits()))
}

fn read_day(file: &mut impl Read) -> io::Result<Day> {
    let mut mask = [0_u8; 2];
    file.read_exact(&mut mask)?;
    let mask = u16::from_le_bytes(mask);
    let mut fields = [0.0; 13];
    for (index, field) in fields.iter_mut().enumerate() {
        if mask >> index & 1 == 1 {
            *field = f64::from_bits(read(file)?);
        }
    }
    let amounts = std::array::from_fn(|index| fields[index]);
    Ok(Day::of_parts(amounts, std::array::from_fn(|index| fields[5 + index] as u32)))
}

fn whole(out: &mut impl Write, number: u64) -> io::Result<()> {
    out.write_all(&number.to_le_bytes())
}

fn read(file: &mut impl Read) -> io::Result<u64> {
    let mut bytes = [0_u8; 8];
    file.read_exact(&mut bytes)?;
    Ok(u64::from_le_bytes(bytes))
}

fn text(file: &mut BufReader<File>) -> io::Result<String> {
    let length = read(file)?;
    let mut text = String::new();
    file.take(length).read_to_string(&mut text)?;
    Ok(text)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ledger::blame::Blamed;
    use crate::ledger::record::ByNoise;

    #[test]
    fn seasons_come_back_as_they_went_in() {
        let mut store = Store::new().expect("a temporary file");
        let mut records = Vec::new();
        for season in 0..3 {
            let mut record = SeasonRecord::empty(season, 2);
            record.values[3] = 1.0 / (season as f64 + 3.0);
            record.values[5] = f64::NAN;
            record.by_cause[Blamed::FalseOpenings] = vec![season, 7];
            record.by_cause[Blamed::MissedArrivals] = vec![u64::MAX];
            record.by_cause[Blamed::MissedDepartures] = vec![season, 1, 0];
            record.by_cause[Blamed::Contacts] = vec![3, season];
            record.days[1] =
                Day { rain_mm: -0.0, strandings: 4, wait_s: 0.1 + 0.2, cycles: u32::MAX, ..Day::default() };
            let by_noise = |counted| ByNoise { counted, ..Default::default() };
            let tally = DetectorTally { false_runs: by_noise([1, season, 9]), ..Default::default() };
            record.detectors = vec![DetectorTally::default(), tally];
            record.noise_openings = by_noise([season, 0, 3]);
            if season == 1 {
                let [who, what, detail] = ["a\n", "", "\u{fc}"].map(String::from);
                record.events.push(EventRow { at: Instant(-5), who, what, detail });
            }
            store.push(&record).expect("room on the disk");
            records.push(record);
        }
        store.finish().expect("room on the disk");
        assert!(store.has_events() && store.seasons() == 3);
        let back: Vec<SeasonRecord> = store.diaries().expect("readable").map(|record| record.expect("whole")).collect();
        let rows: Vec<SeasonRecord> = store.rows().expect("readable").map(|record| record.expect("whole")).collect();
        for ((record, back), row) in records.iter().zip(&back).zip(&rows) {
            // Byte for byte: "Debug" tells not-a-number and minus zero apart from other numbers.
            assert_eq!(format!("{record:?}"), format!("{back:?}"));
            assert_eq!(format!("{:?}", record.values), format!("{:?}", row.values));
            assert!(row.days.is_empty() && row.events.is_empty());
        }
    }
}
