//! Takes a page apart, as a browser would, and holds it to the rules that every page keeps: valid, complete for those
//! who can't see it, nothing fetched, and every value that of the file it names.

#![allow(dead_code)]

use std::collections::{BTreeMap, BTreeSet};

use html5ever::tendril::TendrilSink;
use html5ever::tree_builder::TreeBuilderOpts;
use html5ever::{ParseOpts, tokenizer::TokenizerOpts};
use markup5ever_rcdom::{Handle, NodeData, RcDom};

/// An element with its attributes and all text in it.
#[derive(Clone, Debug, Default)]
pub struct Element {
    pub name: String,
    pub attributes: BTreeMap<String, String>,
    pub text: String,
    pub children: Vec<Element>,
}

impl Element {
    /// An attribute, if it is there.
    pub fn get(&self, name: &str) -> Option<&str> {
        self.attributes.get(name).map(String::as_str)
    }

    /// All elements within, itself included, in the order of the page.
    pub fn all(&self) -> Vec<&Element> {
        let mut found = vec![self];
        self.children.iter().for_each(|child| found.extend(child.all()));
        found
    }

    /// All elements of a name.
    pub fn named(&self, name: &str) -> Vec<&Element> {
        self.all().into_iter().filter(|element| element.name == name).collect()
    }
}

/// Parses a page by the HTML standard's algorithm; any parse error fails the test.
pub fn parse(page: &str) -> Element {
    let options = ParseOpts {
        tokenizer: TokenizerOpts { exact_errors: true, ..TokenizerOpts::default() },
        tree_builder: TreeBuilderOpts { exact_errors: true, ..TreeBuilderOpts::default() },
    };
    let dom = html5ever::parse_document(RcDom::default(), options).one(page);
    assert!(dom.errors.borrow().is_empty(), "the page is not valid HTML: {:?}", dom.errors.borrow());
    element(&dom.document)
}

fn element(node: &Handle) -> Element {
    let mut made = Element::default();
    if let NodeData::Element { name, attrs, .. } = &node.data {
        made.name = name.local.to_string();
        made.attributes =
            attrs.borrow().iter().map(|one| (one.name.local.to_string(), one.value.to_string())).collect();
    }
    for child in node.children.borrow().iter() {
        match &child.data {
            NodeData::Text { contents } => made.text.push_str(&contents.borrow()),
            NodeData::Element { .. } => {
                let inner = element(child);
                made.text.push_str(&inner.text);
                made.children.push(inner);
            }
            _ => {}
        }
    }
    made
}

/// The rules of every page.
pub fn assert_sound(page: &Element) {
    let all = page.all();
    assert_eq!(page.named("html").first().and_then(|html| html.get("lang")), Some("en"));
    assert!(!page.named("title")[0].text.is_empty());
    let mut ids = BTreeSet::new();
    for id in all.iter().filter_map(|element| element.get("id")) {
        assert!(ids.insert(id), "the id `{id}` stands twice");
    }
    for element in &all {
        for reference in ["aria-labelledby", "aria-describedby", "for"] {
            let targets = element.get(reference).unwrap_or_default();
            targets.split_whitespace().for_each(|id| assert!(ids.contains(id), "{reference} names `{id}`"));
        }
        if let Some(anchor) = element.get("href") {
            let within = anchor.strip_prefix('#').is_some_and(|id| ids.contains(id));
            assert!(within || is_a_day(anchor), "a link leads to `{anchor}`");
        }
    }
    assert_fetches_nothing(page);
    assert_headings(&all);
    assert_eq!(page.named("main").len(), 1);
    page.named("table").into_iter().for_each(assert_table);
    for drawing in page.named("svg") {
        assert_eq!(drawing.get("role"), Some("img"));
        assert!(drawing.named("title")[0].text.len() > 3 && drawing.named("desc")[0].text.len() > 10);
    }
}

/// Whether a link leads to a day beside the page, as `dooryard day` calls its folder: day-STRATEGY-SEASON-DATE, and the seed where
/// it is not 1.
fn is_a_day(link: &str) -> bool {
    let Some(name) = link.strip_prefix("day-").and_then(|rest| rest.strip_suffix("/report.html")) else { return false };
    let (name, seed) = name.split_once("-seed-").unwrap_or((name, "2"));
    let Some((at, date)) = name.len().checked_sub(10).and_then(|at| name.split_at_checked(at)) else { return false };
    let Some((strategy, season)) = at.strip_suffix('-').and_then(|at| at.rsplit_once('-')) else { return false };
    let plain = strategy.chars().all(|letter| letter.is_alphanumeric() || letter == '-');
    let counted = season.parse::<u64>().is_ok() && seed.parse::<u64>().is_ok_and(|seed| seed != 1);
    plain && !strategy.is_empty() && counted && date.parse::<jiff::civil::Date>().is_ok()
}

/// Attributes whose address a browser loads, opens or sends something to.
const ADDRESSES: [&str; 12] = [
    "src",
    "srcset",
    "poster",
    "data",
    "background",
    "action",
    "formaction",
    "ping",
    "manifest",
    "xlink:href",
    "cite",
    "style",
];

/// What in a script reaches out.
const REACHING: [&str; 9] = [
    "fetch(",
    "XMLHttpRequest",
    "import(",
    "importScripts",
    "WebSocket",
    "EventSource",
    "sendBeacon",
    "Worker(",
    "new Image",
];

/// A page is whole: no element, style or script of it loads anything, and its policy forbids it.
pub fn assert_fetches_nothing(page: &Element) {
    for element in page.all() {
        for (name, value) in &element.attributes {
            let within = value.starts_with('#') || value.is_empty();
            assert!(within || name == "style" || !ADDRESSES.contains(&name.as_str()), "<{}> has {name}", element.name);
            assert!(name != "href" || value.starts_with('#') || is_a_day(value), "a link leads to `{value}`");
            assert!(!value.replace("url(#", "").contains("url("), "{name} of <{}> loads `{value}`", element.name);
            let place = name.starts_with("xmlns") || !value.contains("://");
            assert!(place || ["data-csv", "data-key", "content"].contains(&name.as_str()), "{name}: `{value}`");
        }
        let loads = ["link", "img", "image", "iframe", "object", "embed", "base", "audio", "video", "source", "track"];
        assert!(!loads.contains(&element.name.as_str()), "<{}> loads something", element.name);
    }
    for style in page.named("style") {
        assert!(!style.text.contains("url(") && !style.text.contains("@import"), "the style loads something");
    }
    for script in page.named("script").into_iter().filter(|script| script.get("type") != Some("application/json")) {
        let reaches = REACHING.iter().find(|word| script.text.contains(**word));
        assert_eq!(reaches, None, "a script reaches out");
    }
    assert!(page.named("meta").iter().any(|meta| {
        meta.get("http-equiv") == Some("Content-Security-Policy")
            && meta.get("content").is_some_and(|policy| policy.starts_with("default-src 'none'"))
    }));
}

/// One first heading, and no level left out on the way down.
fn assert_headings(all: &[&Element]) {
    let level = |element: &&&Element| element.name.strip_prefix('h').and_then(|level| level.parse::<u32>().ok());
    let levels: Vec<u32> = all.iter().filter_map(|element| level(&element)).collect();
    assert_eq!(levels.iter().filter(|level| **level == 1).count(), 1);
    assert_eq!(levels[0], 1);
    assert!(levels.windows(2).all(|two| two[1] <= two[0] + 1), "a heading's level is left out: {levels:?}");
}

fn assert_table(table: &Element) {
    assert!(!table.named("caption")[0].text.is_empty());
    let headings = table.named("thead")[0].named("th");
    assert!(headings.iter().all(|heading| heading.get("scope") == Some("col")));
    for row in table.named("tbody")[0].named("tr") {
        assert_eq!(row.children.len(), headings.len(), "a row of `{}`", table.named("caption")[0].text);
        assert_eq!((row.children[0].name.as_str(), row.children[0].get("scope")), ("th", Some("row")));
    }
}

/// Holds every value of the page's tables against the file that its table names; the number of values.
pub fn assert_values_of_files(page: &Element, file: &dyn Fn(&str) -> Option<Vec<u8>>) -> usize {
    let mut compared = 0;
    for table in page.named("table") {
        let cells = table.all().into_iter().filter(|element| element.get("data-csv").is_some()).count();
        let Some(name) = table.get("data-file") else {
            assert_eq!(cells, 0, "a table shows fields of no file");
            continue;
        };
        let bytes = file(name).unwrap_or_else(|| panic!("a table shows `{name}`, which is not there"));
        let keys: Vec<&str> = table.get("data-keys").unwrap().split('|').collect();
        let rows = by_key(&bytes, &keys, name);
        for row in table.named("tr") {
            for cell in row.children.iter().filter(|cell| cell.get("data-csv").is_some()) {
                let key = cell.get("data-key").or(row.get("data-key")).expect("a row of a file has a key");
                let found = rows.get(key).unwrap_or_else(|| panic!("`{name}` has no row `{key}`"));
                for field in cell.get("data-csv").unwrap().split('\n') {
                    let (column, value) = field.split_once('=').unwrap();
                    let there = found.get(column).unwrap_or_else(|| panic!("`{name}` has no column `{column}`"));
                    assert_eq!(there, value, "{name}, {key}, {column}");
                    compared += 1;
                }
            }
        }
    }
    compared
}

/// Rows of a table file by the values of their key columns.
fn by_key(bytes: &[u8], keys: &[&str], name: &str) -> BTreeMap<String, BTreeMap<String, String>> {
    let mut rows = BTreeMap::new();
    for row in csv::Reader::from_reader(bytes).deserialize::<BTreeMap<String, String>>() {
        let row = row.unwrap();
        let key: Vec<&str> = keys
            .iter()
            .map(|key| row.get(*key).unwrap_or_else(|| panic!("`{name}` has no column `{key}`")).as_str())
            .collect();
        assert!(rows.insert(key.join("|"), row.clone()).is_none(), "`{name}` has two rows `{key:?}`");
    }
    rows
}
