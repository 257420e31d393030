//! Lists that are too long to import at once.

use std::time::{Duration, Instant};

use homehook::exchange::MOST_ROWS;
use homehook::journal::store::Store;
use homehook::stash::command::import::{CardRow, Terms, card_list};
use homehook::stash::event::LONGEST_EVENT;
use homehook::stash::refusal::Refusal;
use jiff::Timestamp;

use super::{refused, stash};
use crate::common::{is_asked_for, is_long};

#[test]
fn a_list_of_too_many_rows_is_refused_at_once_with_advice() {
    let stash = stash();
    let rows: String = (0..=MOST_ROWS)
        .map(|n| format!("{n},colour {n}\n"))
        .collect();
    let list = stash.file("long.csv", format!("number,name\n{rows}"));
    let lists = [
        &["import", "cards", &list][..],
        &["import", "key", &list, "--project", "Fox"],
        &["import", "range", &list, "--range", "Sandbank"],
    ];
    // The same function reads all of them.
    for args in &lists[..if is_long() { lists.len() } else { 1 }] {
        let begun = Instant::now();
        let says = "more than 50000 rows. Split it";
        refused(&stash, args, "too many rows", says, "too_many_rows");
        // For two runs of a debug build.
        assert!(begun.elapsed() < Duration::from_secs(15), "{args:?}");
    }
}

#[test]
fn a_list_too_long_for_the_record_is_refused_with_the_parts_to_split() {
    let test = "a list that would be too long";
    if !is_asked_for(test, "half a minute", || true) {
        return;
    }
    let rows = |count: usize| -> Vec<CardRow> {
        let long = || Some("\u{1f9f5}".repeat(200));
        let rows = (0..count).map(|n| CardRow {
            line: n as u64 + 2,
            number: format!("{n:06}"),
            name: long(),
            dye_lot: long(),
            note: long(),
            ..CardRow::default()
        });
        rows.collect()
    };
    let dir = tempfile::tempdir().unwrap();
    let (store, _) = Store::open(dir.path()).unwrap();
    let now = Timestamp::now();
    let event = |store: &Store, count: usize| {
        let taken = card_list(
            store.state(),
            &rows(count),
            Vec::new(),
            &Terms::default(),
            now,
        );
        taken.map(|taken| taken.event.unwrap())
    };
    let few = event(&store, 1_000).unwrap();
    let of_one = serde_json::to_string(&few).unwrap().len() / 1_000;
    // A few more bytes per row, since later cards have longer numbers in the record.
    let too_many = LONGEST_EVENT / of_one + 10;
    assert!(too_many < MOST_ROWS);
    let refusal = event(&store, too_many).unwrap_err();
    let is_told = matches!(refusal, Refusal::ListTooLong { parts: 2, .. });
    assert!(is_told, "{refusal}");
    assert_eq!(refusal.to_string(), "list_too_long");
    assert!(event(&store, too_many / 20).is_ok());
}
