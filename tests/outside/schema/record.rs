//! Lines of the record.

mod samples;

use std::collections::BTreeSet;

use homehook::stash::event::Event;
use serde_json::{Value, json};

use self::samples::{acts, changes, line_of, samples};
use super::{Strict, schema};

/// The kind of an act or change: a name, or the only key of an object.
pub fn kind(value: &Value) -> String {
    let key = || value.as_object().and_then(|of| of.keys().next());
    value
        .as_str()
        .or_else(|| key().map(String::as_str))
        .unwrap()
        .to_owned()
}

/// The kinds in the schema.
fn known(of: &str) -> BTreeSet<String> {
    let schema = schema("record");
    let kinds = schema["$defs"][of]["oneOf"].as_array().unwrap();
    let name = |of: &Value| match of.get("const") {
        Some(name) => kind(name),
        None => kind(&of["properties"]),
    };
    kinds.iter().map(name).collect()
}

#[test]
fn schema_describes_every_act_and_change() {
    let strict = Strict::of("record");
    samples().iter().for_each(|line| strict.accepts(line));
    let acts: BTreeSet<String> = acts()
        .iter()
        .map(|act| kind(&serde_json::to_value(act).unwrap()))
        .collect();
    assert_eq!(acts, known("act"));
    let changes: BTreeSet<String> = changes()
        .iter()
        .map(|change| kind(&serde_json::to_value(change).unwrap()))
        .collect();
    assert_eq!(changes, known("change"));
}

#[test]
fn wrong_types_and_extra_fields_are_refused_anywhere() {
    let strict = Strict::of("record");
    samples()
        .iter()
        .for_each(|line| strict.refuses_mutants(line));
}

/// The schema and the program require the same fields: both accept or both refuse a line without a
/// field.
#[test]
fn schema_and_program_require_the_same_fields() {
    let strict = Strict::of("record");
    // An absent `before` or `after` reads as nothing, but is always written.
    let written = ["before", "after"];
    for line in samples() {
        let mut paths = Vec::new();
        super::fields(&line, "", &mut paths);
        for (parent, key) in paths
            .into_iter()
            .filter(|(parent, _)| parent.starts_with("/event"))
        {
            // These are either the whole value or a key that is data.
            if parent.ends_with("/shades") || written.contains(&key.as_str()) {
                continue;
            }
            let mut less = line.clone();
            less.pointer_mut(&parent)
                .unwrap()
                .as_object_mut()
                .unwrap()
                .remove(&key);
            let reads = serde_json::from_value::<Event>(less["event"].clone()).is_ok();
            assert_eq!(
                strict.as_shipped.is_valid(&less),
                reads,
                "{parent}/{key} of {line}"
            );
        }
    }
}

#[test]
fn wrong_lines_are_refused() {
    let strict = Strict::of("record");
    let good = line_of(acts().remove(0), Vec::new());
    let header = json!({"homehook": 1, "sum": "60a9cdee4aa252ae"});
    strict.accepts(&header);
    for field in ["seq", "id", "stamp", "time", "event", "sum"] {
        let mut line = good.clone();
        line.as_object_mut().unwrap().remove(field);
        strict.refuses(&line, field);
    }
    for (at, value, why) in [
        ("/seq", json!(0), "numbers begin with 1"),
        ("/seq", json!("1"), "a number as text"),
        ("/seq", json!(1.5), "half an event"),
        ("/id", json!(7), "an id as a number"),
        ("/id", json!("9"), "too few digits"),
        ("/stamp", json!(-1), "before all time"),
        ("/time", json!("yesterday"), "no instant"),
        ("/time", json!("2026-03-01T10:32:00+01:00"), "not in UTC"),
        ("/by", json!(""), "nobody"),
        ("/by", json!("a\u{1b}[31m"), "an escape sequence"),
        ("/by", Value::Null, "is left out, not null"),
        ("/sum", json!("60A9CDEE4AA252AE"), "upper case"),
        ("/sum", json!("60a9"), "too short"),
        ("/event/act", json!("fly"), "unknown act"),
        ("/event/act/new_board/board", json!(-1), "no id"),
        (
            "/event/changes",
            json!([{"weather": {"before": 1, "after": 2}}]),
            "unknown change",
        ),
        (
            "/event/changes",
            json!([{"progress": {"before": 1}}]),
            "no after",
        ),
        ("/event/changes", Value::Null, "no list"),
    ] {
        let mut line = good.clone();
        *line.pointer_mut(at).unwrap() = value;
        strict.refuses(&line, why);
    }
    let mut more = good;
    more["weather"] = json!("fair");
    strict.refuses(&more, "a key beside the event");
    for header in [
        json!({"homehook": 2, "sum": "60a9cdee4aa252ae"}),
        json!({"homehook": 1}),
    ] {
        strict.refuses(&header, "a header of another version or without a sum");
    }
    let mut bare = header;
    bare["kept"] = json!("for later");
    strict.refuses(&bare, "a header with more");
}
