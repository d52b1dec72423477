//! Whether all text and lines of the style can be read: the ratios of WCAG 2.1, level AA, from the very colours of the
//! style sheet, light, dark and on paper.

use std::collections::BTreeMap;

use plotters::style::RGBColor;

use super::document::STYLE;
use crate::report::plots::contrast;

/// The colours of each `:root` block, in the order of the sheet: light, dark, paper.
fn blocks() -> Vec<BTreeMap<String, RGBColor>> {
    let colours = |block: &str| -> BTreeMap<String, RGBColor> {
        let block = block.split('}').next().unwrap_or_default();
        let variable = |entry: &str| {
            let (name, value) = entry.trim().split_once(':')?;
            let digits = value.trim().strip_prefix('#')?;
            let part = |at: usize| u8::from_str_radix(digits.get(at..at + 2)?, 16).ok();
            Some((name.trim().strip_prefix("--")?.to_string(), RGBColor(part(0)?, part(2)?, part(4)?)))
        };
        block.split(';').filter_map(variable).collect()
    };
    STYLE.split(":root {").skip(1).map(colours).collect()
}

/// Text needs 4.5 to 1 (success criterion 1.4.3). The series' colours also write labels.
#[test]
fn text_can_be_read() {
    let blocks = blocks();
    assert_eq!(blocks.len(), 3);
    for (index, block) in blocks.iter().enumerate() {
        let mut pairs = Vec::new();
        for text in ["ink", "quiet", "accent", "good", "bad", "open"] {
            pairs.extend(["paper", "card", "wash"].map(|ground| (text.to_string(), ground.to_string())));
        }
        pairs.extend((1..=6).map(|index| (format!("series-{index}"), "card".to_string())));
        pairs.extend(["good", "bad", "open"].map(|tone| (tone.to_string(), format!("{tone}-wash"))));
        pairs.push(("ink".to_string(), "open-wash".to_string()));
        for (text, ground) in pairs {
            let ratio = contrast(block[&text], block[&ground]);
            assert!(ratio >= 4.5, "block {index}: {text} on {ground} has {ratio:.2} to 1");
        }
    }
}

/// No colour of the style stands outside the blocks that are checked.
#[test]
fn all_colours_are_named() {
    let outside: String =
        STYLE.lines().filter(|line| !line.trim_start().starts_with("--") && !line.contains("figure svg [")).collect();
    assert!(!outside.contains('#') && !outside.contains("rgb("), "{outside}");
}
