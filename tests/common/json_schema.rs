//! Validates JSON against a JSON Schema (draft 2020-12), as far as this repository's schemas use
//! it. Refuses unknown keywords, so that nothing is skipped.

use std::collections::BTreeMap;

use regex::Regex;
use serde_json::{Map, Value};

/// Keywords that don't affect validation.
const SILENT: [&str; 6] = [
    "$schema",
    "$defs",
    "title",
    "description",
    "default",
    "format",
];
/// Keywords whose value is a schema.
const SCHEMA: [&str; 7] = [
    "items",
    "additionalProperties",
    "propertyNames",
    "not",
    "if",
    "then",
    "else",
];
/// Keywords whose value is a list of schemas.
const LIST: [&str; 4] = ["oneOf", "anyOf", "allOf", "prefixItems"];
/// Keywords whose value has schemas by name.
const NAMED: [&str; 2] = ["properties", "$defs"];
/// The other keywords.
const PLAIN: [&str; 12] = [
    "$ref",
    "type",
    "const",
    "enum",
    "required",
    "pattern",
    "minimum",
    "maximum",
    "minLength",
    "maxLength",
    "minItems",
    "maxItems",
];

/// A schema with everything it refers to.
pub struct Schema {
    root: Value,
    patterns: BTreeMap<String, Regex>,
}

impl Schema {
    /// Accepts a schema if it knows all its keywords, and all references resolve.
    pub fn new(root: Value) -> Result<Self, String> {
        let mut patterns = BTreeMap::new();
        look_over(&root, &root, "#", &mut patterns)?;
        Ok(Self { root, patterns })
    }

    pub fn is_valid(&self, value: &Value) -> bool {
        self.validate(value).is_ok()
    }

    /// Returns the first invalid place in a value, with the reason.
    pub fn validate(&self, value: &Value) -> Result<(), String> {
        self.check(&self.root, value, "")
    }

    fn check(&self, schema: &Value, value: &Value, at: &str) -> Result<(), String> {
        let words = match schema {
            Value::Object(words) => words,
            Value::Bool(true) => return Ok(()),
            _ => return Err(format!("{at}: nothing may be here")),
        };
        let wrong = |why: &str| Err(format!("{at}: {why}: {value}"));
        for (word, of) in words {
            let right = match word.as_str() {
                "type" => match of {
                    Value::Array(kinds) => kinds.iter().any(|kind| is_of(kind, value)),
                    kind => is_of(kind, value),
                },
                "const" => same(of, value),
                "enum" => each(of).iter().any(|one| same(one, value)),
                "$ref" => {
                    self.check(target(&self.root, of)?, value, at)?;
                    true
                }
                "allOf" => {
                    for part in each(of) {
                        self.check(part, value, at)?;
                    }
                    true
                }
                "anyOf" => self.fitting(of, value) > 0,
                "oneOf" => self.fitting(of, value) == 1,
                "not" => self.check(of, value, at).is_err(),
                "if" => {
                    let then = match self.check(of, value, at) {
                        Ok(()) => words.get("then"),
                        Err(_) => words.get("else"),
                    };
                    if let Some(then) = then {
                        self.check(then, value, at)?;
                    }
                    true
                }
                "minimum" => value.as_f64().is_none_or(|n| n >= number(of)),
                "maximum" => value.as_f64().is_none_or(|n| n <= number(of)),
                "minLength" => letters(value).is_none_or(|n| n >= number(of)),
                "maxLength" => letters(value).is_none_or(|n| n <= number(of)),
                "minItems" => items(value).is_none_or(|n| n >= number(of)),
                "maxItems" => items(value).is_none_or(|n| n <= number(of)),
                "pattern" => {
                    let pattern = of.as_str().and_then(|of| self.patterns.get(of));
                    let text = value.as_str();
                    text.is_none_or(|text| pattern.is_some_and(|of| of.is_match(text)))
                }
                _ => true,
            };
            if !right {
                return wrong(word);
            }
        }
        match value {
            Value::Object(fields) => self.check_object(words, fields, at),
            Value::Array(list) => self.check_list(words, list, at),
            _ => Ok(()),
        }
    }

    fn fitting(&self, schemas: &Value, value: &Value) -> usize {
        let fits = |schema: &&Value| self.check(schema, value, "").is_ok();
        each(schemas).iter().filter(fits).count()
    }

    fn check_object(
        &self,
        words: &Map<String, Value>,
        fields: &Map<String, Value>,
        at: &str,
    ) -> Result<(), String> {
        let needed = words.get("required").map_or(&[][..], each);
        for name in needed.iter().filter_map(Value::as_str) {
            if !fields.contains_key(name) {
                return Err(format!("{at}: there is no '{name}'"));
            }
        }
        for (name, value) in fields {
            if let Some(names) = words.get("propertyNames") {
                self.check(names, &Value::from(name.as_str()), at)?;
            }
            let known = words.get("properties").and_then(|all| all.get(name));
            if let Some(schema) = known.or(words.get("additionalProperties")) {
                self.check(schema, value, &format!("{at}/{name}"))?;
            }
        }
        Ok(())
    }

    fn check_list(
        &self,
        words: &Map<String, Value>,
        list: &[Value],
        at: &str,
    ) -> Result<(), String> {
        let first = words.get("prefixItems").map_or(&[][..], each);
        for (n, value) in list.iter().enumerate() {
            if let Some(schema) = first.get(n).or(words.get("items")) {
                self.check(schema, value, &format!("{at}/{n}"))?;
            }
        }
        Ok(())
    }
}

/// Visits a part of a schema, and collects its patterns.
fn look_over(
    root: &Value,
    part: &Value,
    at: &str,
    patterns: &mut BTreeMap<String, Regex>,
) -> Result<(), String> {
    let words = match part {
        Value::Bool(_) => return Ok(()),
        Value::Object(words) => words,
        other => return Err(format!("{at}: {other} is no schema")),
    };
    for (word, value) in words {
        let at = format!("{at}/{word}");
        let known = [&SILENT[..], &SCHEMA, &LIST, &NAMED, &PLAIN];
        if !known.iter().any(|words| words.contains(&word.as_str())) {
            return Err(format!("{at}: unknown word"));
        }
        let mut below: Vec<&Value> = Vec::new();
        match word.as_str() {
            "$ref" => {
                target(root, value)?;
            }
            "pattern" => {
                let text = value.as_str().ok_or(format!("{at}: no text"))?;
                let pattern = Regex::new(text).map_err(|error| error.to_string())?;
                patterns.insert(text.to_owned(), pattern);
            }
            word if SCHEMA.contains(&word) => below.push(value),
            word if LIST.contains(&word) => {
                below.extend(value.as_array().ok_or(format!("{at}: no list"))?);
            }
            word if NAMED.contains(&word) => {
                let all = value.as_object().ok_or(format!("{at}: no object"))?;
                below.extend(all.values());
            }
            _ => {}
        }
        for part in below {
            look_over(root, part, &at, patterns)?;
        }
    }
    Ok(())
}

/// The target of a reference such as `#/$defs/card`.
fn target<'a>(root: &'a Value, reference: &Value) -> Result<&'a Value, String> {
    let path = reference.as_str().and_then(|text| text.strip_prefix('#'));
    let found = path.and_then(|path| root.pointer(path));
    found.ok_or_else(|| format!("{reference} leads nowhere"))
}

fn each(list: &Value) -> &[Value] {
    list.as_array().map_or(&[], Vec::as_slice)
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

fn letters(value: &Value) -> Option<f64> {
    value.as_str().map(|text| text.chars().count() as f64)
}

fn items(value: &Value) -> Option<f64> {
    value.as_array().map(|list| list.len() as f64)
}

/// Whether two values are equal; 1 equals 1.0.
fn same(one: &Value, other: &Value) -> bool {
    match (one, other) {
        (Value::Number(one), Value::Number(other)) => {
            one == other || one.as_f64() == other.as_f64()
        }
        _ => one == other,
    }
}

fn is_of(kind: &Value, value: &Value) -> bool {
    match kind.as_str() {
        Some("null") => value.is_null(),
        Some("boolean") => value.is_boolean(),
        Some("object") => value.is_object(),
        Some("array") => value.is_array(),
        Some("string") => value.is_string(),
        Some("number") => value.is_number(),
        // "Any number with a zero fractional part."
        Some("integer") => {
            let whole = value.as_f64().is_some_and(|n| n.fract() == 0.0);
            value.is_i64() || value.is_u64() || whole
        }
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    /// The specification of draft 2020-12 on each keyword, with a valid and an invalid value.
    #[test]
    fn each_keyword_follows_the_specification() {
        let both = |schema: Value, right: &[Value], wrong: &[Value]| {
            let schema = Schema::new(schema).unwrap();
            for value in right {
                assert_eq!(schema.validate(value), Ok(()), "{}", schema.root);
            }
            for value in wrong {
                assert!(!schema.is_valid(value), "{}: {value}", schema.root);
            }
        };
        // Core 4.3.2: boolean schemas.
        both(json!(true), &[json!(1)], &[]);
        both(json!(false), &[], &[json!(1)]);
        both(json!({"not": {}}), &[], &[json!(1), json!(null)]);
        // Validation 6.1: any instance type.
        both(
            json!({"type": "integer"}),
            &[json!(1), json!(1.0)],
            &[json!(1.5), json!("1")],
        );
        both(
            json!({"type": ["string", "null"]}),
            &[json!("a"), json!(null)],
            &[json!(1)],
        );
        both(
            json!({"enum": ["a", null]}),
            &[json!("a"), json!(null)],
            &[json!("b")],
        );
        both(
            json!({"const": 1}),
            &[json!(1), json!(1.0)],
            &[json!(2), json!("1")],
        );
        // 6.2: numbers; other types are valid.
        both(
            json!({"minimum": 1, "maximum": 3}),
            &[json!(1), json!(3), json!("a")],
            &[json!(0), json!(3.5)],
        );
        // 6.3: lengths count characters; patterns aren't anchored.
        both(
            json!({"minLength": 2, "maxLength": 2}),
            &[json!("\u{e9}\u{1f9f5}"), json!(1)],
            &[json!("a"), json!("abc")],
        );
        both(
            json!({"pattern": "a+$"}),
            &[json!("baa"), json!(1)],
            &[json!("ab")],
        );
        // 6.4: lists.
        both(
            json!({"minItems": 1, "maxItems": 2}),
            &[json!([1]), json!({})],
            &[json!([]), json!([1, 2, 3])],
        );
        // 6.5.3: required; an object without `properties` may have any.
        both(
            json!({"required": ["a"]}),
            &[json!({"a": null}), json!(1)],
            &[json!({"b": 1})],
        );
        // Core 10.2.1: allOf, anyOf, oneOf ("exactly one"), not.
        let (small, whole) = (json!({"maximum": 3}), json!({"type": "integer"}));
        both(
            json!({"allOf": [small, whole]}),
            &[json!(2)],
            &[json!(2.5), json!(4)],
        );
        both(
            json!({"anyOf": [small, whole]}),
            &[json!(2), json!(2.5), json!(4)],
            &[json!(4.5)],
        );
        both(
            json!({"oneOf": [small, whole]}),
            &[json!(2.5), json!(4)],
            &[json!(2), json!(4.5)],
        );
        // 10.2.2: a condition alone never fails.
        both(
            json!({"if": {"type": "string"}, "then": {"minLength": 1}, "else": {"minimum": 1}}),
            &[json!("a"), json!(1)],
            &[json!(""), json!(0)],
        );
        // 10.3.1: prefixItems come first, items are the rest.
        both(
            json!({"prefixItems": [{"type": "string"}], "items": {"type": "integer"}}),
            &[json!([]), json!(["a"]), json!(["a", 1])],
            &[json!([1]), json!(["a", "b"])],
        );
        // 10.3.2: additionalProperties are those not named in properties.
        both(
            json!({"properties": {"a": {"type": "string"}}, "additionalProperties": false}),
            &[json!({}), json!({"a": "b"})],
            &[json!({"a": 1}), json!({"b": 1})],
        );
        both(
            json!({"additionalProperties": {"type": "integer"}}),
            &[json!({"a": 1})],
            &[json!({"a": "b"})],
        );
        both(
            json!({"propertyNames": {"maxLength": 1}}),
            &[json!({"a": 1})],
            &[json!({"ab": 1})],
        );
        // 8.2.3.1: a reference may have sibling keywords, and may be recursive.
        both(
            json!({
                "$defs": {"list": {"type": "array", "items": {"$ref": "#/$defs/list"}}},
                "$ref": "#/$defs/list",
                "maxItems": 1
            }),
            &[json!([]), json!([[[], []]])],
            &[json!([1]), json!([[], []])],
        );
    }

    #[test]
    fn unknown_keywords_are_refused() {
        for schema in [
            json!({"maximun": 1}),
            json!({"properties": {"a": {"dependentRequired": {}}}}),
            json!({"$ref": "#/$defs/none"}),
            json!({"pattern": "("}),
            json!({"items": 1}),
        ] {
            assert!(Schema::new(schema.clone()).is_err(), "{schema}");
        }
    }
}
