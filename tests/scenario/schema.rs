//! The JSON Schema against the shipped scenarios, with a small validator of exactly the keywords it uses.

use std::fs;

use dooryard::scenario::{json_schema, starter};
use serde_json::{Value, json};

use super::files;

/// The first thing in `value` that `schema` refuses, as a path with a reason.
fn refusal(value: &Value, schema: &Value, root: &Value, path: &str) -> Option<String> {
    let rules = schema.as_object().expect("a schema is an object");
    for (rule, wanted) in rules {
        let fault = match rule.as_str() {
            "$ref" => {
                let name = wanted.as_str().and_then(|text| text.strip_prefix("#/$defs/")).expect("a local reference");
                refusal(value, &root["$defs"][name], root, path)
            }
            "anyOf" => {
                let branches = wanted.as_array().expect("a list");
                let refused = branches.iter().all(|branch| refusal(value, branch, root, path).is_some());
                refused.then(|| format!("{path}: {value} fits no branch"))
            }
            "type" => {
                let fits = match wanted.as_str().expect("a type") {
                    "object" => value.is_object(),
                    "array" => value.is_array(),
                    "string" => value.is_string(),
                    "number" => value.is_number(),
                    "integer" => value.is_i64(),
                    "boolean" => value.is_boolean(),
                    other => panic!("the schema uses the type {other}"),
                };
                (!fits).then(|| format!("{path}: {value} is no {wanted}"))
            }
            "properties" => {
                let object = value.as_object();
                object.and_then(|object| {
                    object
                        .iter()
                        .find_map(|(key, inner)| refusal(inner, wanted.get(key)?, root, &format!("{path}.{key}")))
                })
            }
            "additionalProperties" => value.as_object().and_then(|object| {
                let known = &schema["properties"];
                object
                    .keys()
                    .find(|key| known.get(key.as_str()).is_none())
                    .map(|key| format!("{path}.{key} is unknown"))
            }),
            "required" => {
                let keys = wanted.as_array().expect("a list");
                let missing = keys.iter().find(|key| value.get(key.as_str().expect("a key")).is_none());
                missing.filter(|_| value.is_object()).map(|key| format!("{path}: {key} is missing"))
            }
            "items" => value.as_array().and_then(|list| {
                list.iter().enumerate().find_map(|(at, item)| refusal(item, wanted, root, &format!("{path}[{at}]")))
            }),
            "minItems" | "maxItems" | "minLength" | "maxLength" => {
                let length = value.as_array().map(Vec::len).or_else(|| value.as_str().map(|text| text.chars().count()));
                let bound = wanted.as_u64().expect("a length") as usize;
                let fits =
                    length.is_none_or(|length| if rule.starts_with("min") { length >= bound } else { length <= bound });
                (!fits).then(|| format!("{path}: {rule}"))
            }
            "uniqueItems" => {
                let twice =
                    value.as_array().is_some_and(|list| (1..list.len()).any(|at| list[..at].contains(&list[at])));
                twice.then(|| format!("{path}: listed twice"))
            }
            "minimum" | "maximum" | "exclusiveMinimum" => {
                let bound = wanted.as_f64().expect("a number");
                let fits = value.as_f64().is_none_or(|number| match rule.as_str() {
                    "minimum" => number >= bound,
                    "maximum" => number <= bound,
                    _ => number > bound,
                });
                (!fits).then(|| format!("{path}: {value} against {rule} {wanted}"))
            }
            "enum" => {
                (!wanted.as_array().expect("a list").contains(value)).then(|| format!("{path}: {value} of {wanted}"))
            }
            "const" => (value != wanted).then(|| format!("{path}: {value} is not {wanted}")),
            "pattern" => {
                let pattern = regex::Regex::new(wanted.as_str().expect("a pattern")).expect("a valid pattern");
                value
                    .as_str()
                    .filter(|text| !pattern.is_match(text))
                    .map(|text| format!("{path}: \"{text}\" against {pattern}"))
            }
            "$schema" | "$defs" | "title" | "description" | "default" | "examples" => None,
            other => panic!("the schema uses the keyword {other}"),
        };
        if fault.is_some() {
            return fault;
        }
    }
    None
}

/// TOML as JSON, dates as text.
fn as_json(value: &toml::Value) -> Value {
    match value {
        toml::Value::Datetime(date) => json!(date.to_string()),
        toml::Value::Array(list) => Value::Array(list.iter().map(as_json).collect()),
        toml::Value::Table(table) => {
            Value::Object(table.iter().map(|(key, inner)| (key.clone(), as_json(inner))).collect())
        }
        other => serde_json::to_value(other).expect("plain"),
    }
}

fn check(text: &str) -> Option<String> {
    let schema = json_schema();
    refusal(&as_json(&toml::Value::Table(text.parse().expect("valid TOML"))), &schema, &schema, "")
}

#[test]
fn shipped_scenarios_fit_the_schema() {
    assert_eq!(check(&starter("garden")), None);
    for folder in ["scenarios", "scenarios/parts", "tests/scenario", "tests/mistakes/parts"] {
        for file in files(folder) {
            let text = fs::read_to_string(&file).expect("readable");
            assert_eq!(check(&text), None, "{}", file.display());
        }
    }
}

#[test]
fn mistakes_of_shape_do_not_fit_the_schema() {
    let shapes = [
        "bare-number",
        "choice",
        "choice-far",
        "condition-empty",
        "condition-number",
        "condition-two-forms",
        "condition-unknown-key",
        "condition-without-of",
        "date-in-quotes",
        "days",
        "entry-not-a-table",
        "exponent-zero",
        "flag-as-text",
        "hours",
        "include-not-a-list",
        "integer-out-of-range",
        "list-as-section",
        "month",
        "months",
        "no-unit",
        "number-in-quotes",
        "number-out-of-range",
        "position",
        "rule-words",
        "scenario-name",
        "section-as-list",
        "spread-incomplete",
        "status-code",
        "unknown-key",
        "unknown-section",
        "weibull-negative",
    ];
    for name in shapes {
        let text = fs::read_to_string(format!("tests/mistakes/{name}.toml")).expect("readable");
        // A date in quotes is the same as one without once it is JSON.
        assert_eq!(check(&text).is_some(), name != "date-in-quotes", "{name}");
    }
}

#[test]
fn the_schema_names_its_draft() {
    assert_eq!(json_schema()["$schema"], "https://json-schema.org/draft/2020-12/schema");
}
