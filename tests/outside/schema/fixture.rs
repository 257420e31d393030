//! Records and exports written once that must stay readable forever.

use std::fs;
use std::path::Path;

use serde_json::Value;

use super::{Strict, file};
use crate::common::run_in;

/// Asserts that `new` contains everything in `old`: fields may be added, but none removed or
/// changed.
fn is_in(old: &Value, new: &Value, at: &str) {
    match (old, new) {
        (Value::Object(old), Value::Object(new)) => {
            for (key, value) in old {
                let at = format!("{at}/{key}");
                is_in(
                    value,
                    new.get(key).unwrap_or_else(|| panic!("{at} is gone")),
                    &at,
                );
            }
        }
        (Value::Array(old), Value::Array(new)) => {
            assert_eq!(old.len(), new.len(), "{at}");
            for (n, (old, new)) in old.iter().zip(new).enumerate() {
                is_in(old, new, &format!("{at}/{n}"));
            }
        }
        _ => assert_eq!(old, new, "{at}"),
    }
}

fn json(path: &Path) -> Value {
    serde_json::from_str(&fs::read_to_string(path).unwrap()).unwrap()
}

#[test]
fn version_1_record_still_gives_the_same_stash() {
    let kept = file("tests/data/record-v1");
    let folder = tempfile::tempdir().unwrap();
    for name in ["record.jsonl", "record.end"] {
        fs::copy(kept.join(name), folder.path().join(name)).unwrap();
    }
    let run = |args: &[&str]| {
        let run = run_in(folder.path(), args);
        assert_eq!((run.code, run.err.as_str()), (0, ""), "{args:?}: {run:?}");
        run.out
    };
    let check: Value = serde_json::from_str(&run(&["check", "--json"])).unwrap();
    let lines = fs::read_to_string(kept.join("record.jsonl")).unwrap();
    assert_eq!(check["ok"], true);
    assert_eq!(check["events"], lines.lines().count() - 1);
    let export: Value = serde_json::from_str(&run(&["export", "json"])).unwrap();
    is_in(&json(&kept.join("export.json")), &export, "");
    // It is still writable, and undone changes can be redone.
    run(&["undo", "3"]);
    run(&["redo", "3"]);
    let again: Value = serde_json::from_str(&run(&["export", "json"])).unwrap();
    assert_eq!(again, export);

    let record = Strict::of("record");
    let mut acts = std::collections::BTreeSet::new();
    for line in lines.lines() {
        let line: Value = serde_json::from_str(line).unwrap();
        assert!(record.as_shipped.is_valid(&line), "{line}");
        acts.extend(
            line.get("event")
                .map(|event| super::record::kind(&event["act"])),
        );
    }
    assert!(acts.len() >= 35, "{}: {acts:?}", acts.len());
    assert!(
        Strict::of("output/export")
            .as_shipped
            .is_valid(&json(&kept.join("export.json")))
    );
}
