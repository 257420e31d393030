//! The schemas in `assets/schema` describe the record and the answers exactly: no less, and no
//! more.

mod answers;
mod document;
mod fixture;
mod key;
mod mishaps;
mod record;

use std::fs;
use std::path::{Path, PathBuf};

use serde_json::{Value, json};

use crate::json_schema::Schema;

/// A file of this repository.
fn file(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

/// The schema of a file, without `.schema.json`.
fn schema(name: &str) -> Value {
    let path = file("assets/schema").join(format!("{name}.schema.json"));
    serde_json::from_str(&fs::read_to_string(path).unwrap()).unwrap()
}

/// The schemas let readers ignore fields that a later program adds. Here nothing is ignored, so a
/// new field needs its entry in the schema.
fn closed(schema: &mut Value) {
    if let Value::Object(fields) = schema {
        if fields.contains_key("properties") {
            fields.insert("additionalProperties".to_owned(), json!(false));
        }
        // A condition doesn't describe the other fields.
        let parts = fields.iter_mut().filter(|(key, _)| *key != "if");
        parts.for_each(|(_, part)| closed(part));
    } else if let Value::Array(parts) = schema {
        parts.iter_mut().for_each(closed);
    }
}

/// Checks values strictly against a schema.
struct Strict {
    name: String,
    as_shipped: Schema,
    closed: Schema,
}

impl Strict {
    fn of(name: &str) -> Self {
        let mut schema = schema(name);
        let as_shipped = Schema::new(schema.clone()).unwrap();
        closed(&mut schema);
        Self {
            name: name.to_owned(),
            as_shipped,
            closed: Schema::new(schema).unwrap(),
        }
    }

    fn accepts(&self, value: &Value) {
        assert!(self.as_shipped.is_valid(value), "{}: {value}", self.name);
        if let Err(error) = self.closed.validate(value) {
            panic!("{}: {error} in {value}", self.name);
        }
    }

    fn refuses(&self, value: &Value, why: &str) {
        assert!(
            !self.as_shipped.is_valid(value),
            "{}: {why}: {value}",
            self.name
        );
    }

    /// Refuses every mutant of a value: each field changed to another type, and each object with an
    /// extra field.
    fn refuses_mutants(&self, value: &Value) {
        let mut paths = Vec::new();
        fields(value, "", &mut paths);
        for (parent, key) in paths {
            let mut wrong = value.clone();
            wrong.pointer_mut(&parent).unwrap()[&key] = json!({"no": ["such", "thing"]});
            assert!(
                !self.closed.is_valid(&wrong),
                "{}: {parent}/{key} of another type",
                self.name
            );
            let mut more = value.clone();
            more.pointer_mut(&parent).unwrap()["surprise"] = json!(1);
            assert!(
                !self.closed.is_valid(&more),
                "{}: {parent}: one too many",
                self.name
            );
        }
    }
}

/// The path of every field of every object: the object, and the field's name.
fn fields(value: &Value, at: &str, found: &mut Vec<(String, String)>) {
    match value {
        Value::Object(all) => {
            for (key, inner) in all {
                // The settled value of a member may be anything.
                if key == "value" && all.contains_key("member") {
                    continue;
                }
                found.push((at.to_owned(), key.clone()));
                // `shades` maps numbers to values: its keys are data and may be anything.
                if key != "shades" {
                    fields(inner, &format!("{at}/{key}"), found);
                }
            }
        }
        Value::Array(all) => {
            for (n, inner) in all.iter().enumerate() {
                fields(inner, &format!("{at}/{n}"), found);
            }
        }
        _ => {}
    }
}
