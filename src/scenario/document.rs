//! What is written in one file: TOML text to a tree of values that all remember their place.

use std::collections::BTreeMap;

use toml::de::{DeTable, DeValue};
use toml::value::Datetime;

use super::error::{Notes, Place, Trouble};

/// Largest file that is read, bytes. A scenario with every key used many times over stays under 100 kB.
pub const LARGEST_FILE: u64 = 4 * 1024 * 1024;

/// Most parts of a dotted key; the format itself needs three.
const MOST_DOTS: usize = 16;

/// A value and where it stands.
#[derive(Clone, Debug)]
pub struct Value {
    /// The value's own place.
    pub at: Place,
    /// The value.
    pub data: Data,
}

/// The kinds of value a file can contain.
#[derive(Clone, Debug)]
pub enum Data {
    /// A string.
    Text(String),
    /// A whole number, or none if it does not fit 64 bits.
    Integer(Option<i64>),
    /// A number, and how it is written; may be infinite or not a number.
    Float(f64, String),
    /// `true` or `false`.
    Flag(bool),
    /// A date, a time or both.
    Date(Datetime),
    /// A list.
    List(Vec<Value>),
    /// A table.
    Table(Table),
}

/// A table: its keys in alphabetical order, each with the place of the key and the value.
pub type Table = BTreeMap<String, (Place, Value)>;

impl Data {
    /// What this is, for messages.
    pub fn describe(&self) -> &'static str {
        match self {
            Data::Text(_) => "a text",
            Data::Integer(_) => "a whole number",
            Data::Float(..) => "a number",
            Data::Flag(_) => "true or false",
            Data::Date(_) => "a date or time",
            Data::List(_) => "a list",
            Data::Table(_) => "a table",
        }
    }
}

/// Reads the text of file number `file`. Syntax errors go to `notes`.
///
/// The answer is none if the text is so broken that reading on would only produce errors that follow from the first
/// ones. Doubled keys are the exception: they are noted and the first value stands.
pub(crate) fn parse(text: &str, file: usize, notes: &mut Notes) -> Option<Table> {
    if let Some((at, dots)) = too_many_dots(text) {
        let place = Place { file, start: at, end: at + 1 };
        notes.error(
            place,
            "",
            Trouble::new(format!("a key with more than {dots} dots")).help("keys here have two at most"),
        );
        return None;
    }
    let (table, errors) = DeTable::parse_recoverable(text);
    let mut usable = true;
    for error in errors {
        let span = error.span().unwrap_or(0..0);
        let place = Place { file, start: span.start, end: span.end };
        let message = error.message();
        let doubled = message.starts_with("duplicate key");
        usable &= doubled;
        let trouble = if doubled {
            Trouble::new("this key is given twice").help("remove one of the two")
        } else {
            Trouble::new(format!("not valid TOML: {message}"))
        };
        notes.error(place, "", trouble);
    }
    usable.then(|| convert_table(table.get_ref(), file))
}

fn convert_table(table: &DeTable<'_>, file: usize) -> Table {
    let mut converted = Table::new();
    for (key, value) in table.iter() {
        let span = key.span();
        let at = Place { file, start: span.start, end: span.end };
        let name = key.get_ref().to_string();
        let value = convert(value.get_ref(), Place { file, start: value.span().start, end: value.span().end });
        converted.insert(name, (at, value));
    }
    converted
}

fn convert(value: &DeValue<'_>, at: Place) -> Value {
    let data = match value {
        DeValue::String(text) => Data::Text(text.to_string()),
        DeValue::Integer(number) => {
            Data::Integer(i64::from_str_radix(&number.as_str().replace('_', ""), number.radix()).ok())
        }
        DeValue::Float(number) => {
            let written = number.as_str();
            Data::Float(written.replace('_', "").parse().unwrap_or(f64::NAN), written.to_owned())
        }
        DeValue::Boolean(flag) => Data::Flag(*flag),
        DeValue::Datetime(date) => Data::Date(*date),
        DeValue::Array(list) => Data::List(
            list.iter()
                .map(|item| {
                    let span = item.span();
                    convert(item.get_ref(), Place { file: at.file, start: span.start, end: span.end })
                })
                .collect(),
        ),
        DeValue::Table(table) => Data::Table(convert_table(table, at.file)),
    };
    Value { at, data }
}

/// The place of a dotted key with too many parts. Brackets are bounded by the TOML reader itself, dots are not, and
/// each dot is one more table within another, which costs stack when the tables are read and dropped.
fn too_many_dots(text: &str) -> Option<(usize, usize)> {
    let bytes = text.as_bytes();
    let (mut dots, mut at) = (0, 0);
    while at < bytes.len() {
        match bytes[at] {
            b'.' => {
                dots += 1;
                if dots > MOST_DOTS {
                    return Some((at, MOST_DOTS));
                }
            }
            b',' | b'=' | b'[' | b'{' | b'\n' => dots = 0,
            b'#' => {
                at = text[at..].find('\n').map_or(bytes.len(), |end| at + end);
                dots = 0;
                continue;
            }
            quote @ (b'"' | b'\'') => {
                at = end_of_string(bytes, at, quote);
                continue;
            }
            _ => {}
        }
        at += 1;
    }
    None
}

/// The byte after the string that begins at `at`; an unfinished one ends with its line (or the text, if it is of the
/// kind that may span lines).
fn end_of_string(bytes: &[u8], at: usize, quote: u8) -> usize {
    let long = bytes.get(at..at + 3) == Some(&[quote; 3]);
    let mut next = at + if long { 3 } else { 1 };
    while next < bytes.len() {
        match bytes[next] {
            b'\\' if quote == b'"' => next += 1,
            b'\n' if !long => return next,
            byte if byte == quote && !long => return next + 1,
            _ if long && bytes.get(next..next + 3) == Some(&[quote; 3]) => return next + 3,
            _ => {}
        }
        next += 1;
    }
    bytes.len()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn problems(text: &str) -> usize {
        let mut notes = Notes::default();
        parse(text, 0, &mut notes);
        notes.finish(vec![]).list().len()
    }

    #[test]
    fn deep_nesting_is_refused_without_harm() {
        for (open, close) in [("[", "]"), ("{a=", "}")] {
            let text = format!("a = {}1{}", open.repeat(100_000), close.repeat(100_000));
            assert!(problems(&text) > 0);
        }
        assert_eq!(problems(&format!("{}a = 1", "a.".repeat(100_000))), 1);
        assert_eq!(problems(&format!("[{}a]\nb = 1", "a.".repeat(100_000))), 1);
        assert_eq!(problems(&format!("[{}a]\nb = 1", "a . ".repeat(100_000))), 1);
    }

    #[test]
    fn dots_in_texts_comments_and_numbers_do_not_count() {
        let dots = ".".repeat(50);
        let text = format!(
            "a = \"{dots}\"\n# {dots}\nb = '{dots}'\nc = \"\"\"{dots}\n{dots}\"\"\"\nd = [{}]",
            "1.5, ".repeat(50)
        );
        assert_eq!(problems(&text), 0);
    }

    #[test]
    fn doubled_keys_are_named_once_and_reading_goes_on() {
        let mut notes = Notes::default();
        let table = parse("a = 1\na = 2\nb = 3\n", 0, &mut notes).expect("readable");
        assert!(table.contains_key("b"));
        let problems = notes.finish(vec![]);
        assert_eq!(problems.list().len(), 1);
        assert_eq!(problems.list()[0].message, "this key is given twice");
    }
}
