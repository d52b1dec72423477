//! JSON Schema (draft 2020-12) of the scenario format, for editors; made from the table of keys.
//!
//! No key is `required` except the `name` of list entries: a file may be a part that others complete, or take the rest
//! from parts that it includes. The loader, which sees the whole, says what is missing.

use serde_json::{Map, Value, json};

use super::keys::{Default, Form, Key, Kind, Range, Section, section};
use super::read::when::{DAY_WORDS, DAYS};

/// A number with a unit, as the reader accepts it.
const QUANTITY: &str = r"^\s*[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]+)?\s*[^\s0-9.].*$";

/// The schema of a scenario file.
pub fn json_schema() -> Value {
    let mut schema = section("").map_or(json!({}), section_schema);
    if let Some(object) = schema.as_object_mut() {
        object.insert("$schema".into(), json!("https://json-schema.org/draft/2020-12/schema"));
        object.insert("title".into(), json!("dooryard scenario"));
        object.insert("$defs".into(), json!({ "condition": condition() }));
    }
    schema
}

fn section_schema(section: &'static Section) -> Value {
    let mut properties = Map::new();
    for key in section.keys {
        properties.insert(key.name.to_owned(), key_schema(key, section));
    }
    for child in section.children() {
        let inner = section_schema(child);
        let shown = match child.form {
            Form::Table => inner,
            Form::List => json!({ "type": "array", "description": child.about, "items": inner }),
        };
        properties.insert(child.name().to_owned(), shown);
    }
    let mut schema = json!({
        "type": "object",
        "description": section.about,
        "properties": properties,
        "additionalProperties": false,
    });
    if section.form == Form::List && section.key("name").is_some_and(|key| key.default == Default::Required) {
        schema["required"] = json!(["name"]);
    }
    schema
}

fn key_schema(key: &Key, section: &Section) -> Value {
    let mut schema = kind_schema(key.kind);
    let mut about = key.about.to_owned();
    if !key.only.is_empty() {
        let what = if section.path == "detector" { "sensors of kind" } else { section.switch };
        about.push_str(&format!(" Only for {what}: {}.", key.only.join(", ")));
    }
    match key.default {
        Default::Value(text) => {
            let parsed = toml::from_str::<toml::Table>(&format!("value = {text}")).ok();
            if let Some(value) =
                parsed.and_then(|table| table.get("value").and_then(|value| serde_json::to_value(value).ok()))
            {
                schema["default"] = value;
            }
        }
        Default::Absent(words) => about.push_str(&format!(" Without it: {words}.")),
        Default::Required if !key.instead.is_empty() => about.push_str(&format!(" {}", key.demand())),
        Default::Required => {}
    }
    schema["description"] = json!(about);
    schema
}

fn number(range: Range) -> Value {
    let low = if range.above { "exclusiveMinimum" } else { "minimum" };
    json!({ "type": "number", low: range.min, "maximum": range.max })
}

fn quantity(example: &str) -> Value {
    json!({ "type": "string", "pattern": QUANTITY, "examples": [example] })
}

fn one_or_twelve(one: &Value) -> Value {
    json!({ "anyOf": [one, { "type": "array", "items": one, "minItems": 12, "maxItems": 12 }] })
}

fn kind_schema(kind: Kind) -> Value {
    match kind {
        Kind::Quantity(measure, _) => quantity(measure.example),
        Kind::QuantityOr(word, measure, _) => json!({ "anyOf": [{ "const": word }, quantity(measure.example)] }),
        Kind::Monthly(measure, _) => one_or_twelve(&quantity(measure.example)),
        Kind::MonthlyNumber(range) => one_or_twelve(&number(range)),
        Kind::Quantities(measure, count, _) => {
            json!({ "type": "array", "items": quantity(measure.example), "minItems": count, "maxItems": count })
        }
        Kind::Reading(..) => json!({ "type": "string", "pattern": QUANTITY }),
        Kind::Spread(measure, _) => json!({
            "type": "object",
            "description": "Normal. A duration is drawn anew until it lies between a tenth of and three times the mean: a spread beyond half of the \
                            mean moves the mean itself a little upwards.",
            "properties": { "mean": quantity(measure.example), "spread": quantity(measure.example) },
            "required": ["mean", "spread"],
            "additionalProperties": false,
        }),
        Kind::Number(range) => json!({ "anyOf": [number(range), { "type": "string", "pattern": r"%\s*$" }] }),
        Kind::Numbers(count, range) => {
            json!({ "type": "array", "items": number(range), "minItems": count, "maxItems": count })
        }
        Kind::Integer(min, max) => json!({ "type": "integer", "minimum": min, "maximum": max }),
        Kind::Flag => json!({ "type": "boolean" }),
        Kind::Name => json!({ "type": "string", "minLength": 1, "maxLength": 64 }),
        Kind::FolderName => json!({ "type": "string", "pattern": "^[A-Za-z0-9_-]{1,64}$" }),
        Kind::Line => json!({ "type": "string", "maxLength": 500 }),
        Kind::NameOf(_) | Kind::File | Kind::TimeZone | Kind::Metric => json!({ "type": "string", "minLength": 1 }),
        Kind::Files => json!({ "type": "array", "items": { "type": "string", "minLength": 1 } }),
        Kind::MetricValue => json!({ "anyOf": [{ "type": "number" }, { "type": "string", "pattern": QUANTITY }] }),
        Kind::Choice(choices) => json!({ "enum": choices }),
        Kind::Choices(choices) => some_of(choices),
        Kind::Days => {
            let words: Vec<&str> = DAY_WORDS.iter().map(|word| word.0).collect();
            json!({ "anyOf": [{ "enum": words }, some_of(&DAYS)] })
        }
        // A local time or date of TOML reaches a schema as text.
        Kind::TimeOfDay => json!({ "type": "string", "pattern": "^[0-9]{2}:[0-9]{2}(:[0-9]{2})?$" }),
        Kind::Date => json!({ "type": "string", "pattern": "^[0-9]{4}-[0-9]{2}-[0-9]{2}$" }),
        Kind::Rule => json!({ "type": "string", "pattern": r"^\s*[0-9]+\s+of\s+[0-9]+\s*$" }),
        Kind::Condition => json!({ "$ref": "#/$defs/condition" }),
    }
}

fn some_of(choices: &[&str]) -> Value {
    json!({ "type": "array", "items": { "enum": choices }, "minItems": 1, "uniqueItems": true })
}

fn condition() -> Value {
    let part = json!({ "$ref": "#/$defs/condition" });
    let parts = json!({ "type": "array", "items": part, "minItems": 1 });
    let duration = quantity("30 s");
    let chance = json!({ "type": "number", "minimum": 0, "maximum": 1 });
    let piece = json!({
        "type": "object",
        "properties": { "when": part, "present": chance, "absent": chance },
        "required": ["when", "present", "absent"],
        "additionalProperties": false,
    });
    let evidence = json!({ "type": "array", "items": piece, "minItems": 1 });
    let form = |properties: Value, required: Value| json!({ "type": "object", "properties": properties, "required": required, "additionalProperties": false });
    json!({
        "description": "The name of a detector, \"always\", \"never\", or a table that combines conditions.",
        "anyOf": [
            { "type": "string", "minLength": 1 },
            form(json!({ "any": parts }), json!(["any"])),
            form(json!({ "all": parts }), json!(["all"])),
            form(json!({ "not": part }), json!(["not"])),
            form(json!({ "at_least": { "type": "integer", "minimum": 1 }, "of": parts }), json!(["at_least", "of"])),
            form(json!({ "for": duration, "of": part }), json!(["for", "of"])),
            form(json!({ "lasting": duration, "of": part }), json!(["lasting", "of"])),
            form(
                json!({ "log_odds": { "type": "number" }, "prior": { "type": "number" }, "of": evidence }),
                json!(["log_odds", "of"]),
            ),
        ],
    })
}

/// Number of keys that the schema describes; for tests that compare it with the table.
#[cfg(test)]
fn count(schema: &Value) -> usize {
    let properties = schema["properties"].as_object();
    properties.map_or(0, |properties| {
        properties
            .values()
            .map(|inner| match (inner["properties"].is_object(), inner["items"]["properties"].is_object()) {
                (true, _) if inner["properties"]["mean"].is_null() => count(inner),
                (_, true) => count(&inner["items"]),
                _ => 1,
            })
            .sum()
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::keys::SECTIONS;

    #[test]
    fn the_schema_describes_every_key_of_the_table() {
        let keys: usize = SECTIONS.iter().map(|section| section.keys.len()).sum();
        assert_eq!(count(&json_schema()), keys);
    }

    #[test]
    fn every_default_is_shown() {
        let text = json_schema().to_string();
        let defaults =
            SECTIONS.iter().flat_map(|section| section.keys).filter(|key| matches!(key.default, Default::Value(_)));
        assert_eq!(text.matches("\"default\":").count(), defaults.count());
    }
}
