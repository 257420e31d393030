//! The example in the format's documentation.

use std::fs;

use homehook::journal::store::Store;
use homehook::model::whereabouts::Whereabouts;
use sha2::{Digest, Sha256};

use super::{Strict, file};

/// The JSON Lines block of the document.
fn example() -> String {
    let text = fs::read_to_string(file("assets/schema/README.md")).unwrap();
    let (_, rest) = text.split_once("```jsonl\n").unwrap();
    rest.split_once("```").unwrap().0.to_owned()
}

/// Computes the checksum as documented, without the program's own code.
#[test]
fn example_has_valid_checksums_and_fields() {
    let record = Strict::of("record");
    let mut previous = String::new();
    let example = example();
    assert!(example.lines().count() >= 5);
    for line in example.lines() {
        record.accepts(&serde_json::from_str(line).unwrap());
        let (body, sum) = line.rsplit_once(r#","sum":""#).unwrap();
        let digest = Sha256::digest(format!("{previous}{body}"));
        let hex: String = digest
            .iter()
            .take(8)
            .map(|byte| format!("{byte:02x}"))
            .collect();
        assert_eq!(sum, format!("{hex}\"}}"), "{line}");
        previous = hex;
    }
}

#[test]
fn example_opens_as_a_stash() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("record.jsonl"), example()).unwrap();
    let (store, _) = Store::open(folder.path()).unwrap();
    let state = store.state();
    let card = state.cards().next().unwrap();
    assert_eq!(card.card.number.as_str(), "701");
    assert!(matches!(card.place.at, Whereabouts::Ring { .. }));
}
