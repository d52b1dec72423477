//! The known name nearest to one that was written.

/// Similarity (Jaro-Winkler, 0 to 1) below which a suggestion would be silly; a value from experience.
const SIMILAR: f64 = 0.75;

/// The candidate most similar to `written`, the earlier one on a tie; none if no one is similar enough.
pub fn nearest<'a>(written: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let lower = written.to_lowercase();
    let mut best: Option<(f64, &str)> = None;
    for candidate in candidates {
        let similarity = strsim::jaro_winkler(&lower, &candidate.to_lowercase());
        if similarity >= SIMILAR && best.is_none_or(|(most, _)| similarity > most) {
            best = Some((similarity, candidate));
        }
    }
    best.map(|(_, candidate)| candidate)
}

/// `; did you mean ...?`, to put behind a message about a name that isn't known; empty if no one is similar enough.
pub fn hint<'a>(written: &str, candidates: impl IntoIterator<Item = &'a str>) -> String {
    nearest(written, candidates).map(|name| format!("; did you mean `{name}`?")).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slip_is_recognised_and_nonsense_is_not() {
        let known = ["radar", "beam only", "status"];
        assert_eq!(nearest("rader", known), Some("radar"));
        assert_eq!(nearest("Beam-only", known), Some("beam only"));
        assert_eq!(nearest("xyz", known), None);
    }
}
