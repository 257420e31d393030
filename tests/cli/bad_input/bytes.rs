//! Arbitrary bytes for everything that is read: never a panic, always an explanation.

use std::fs;

use homehook::exchange::{
    Column, FileError, ListFile, read_cards, read_key, read_range, read_roll_call,
};
use homehook::journal::store::Store;
use homehook::journal::{check, read_copy};
use homehook::stash::event::Event;
use homehook::text::files::{file_error, row_error};
use homehook::text::history;
use homehook::text::record;
use proptest::prelude::*;
use proptest::sample::{Index, select};
use sha2::{Digest, Sha256};

/// Seals the bodies of lines, which may be sealed already, and one more, as the program would: each
/// sum covers the previous sum and the body.
pub fn sealed<'a>(lines: impl Iterator<Item = &'a str>, more: Option<&'a str>) -> Vec<u8> {
    let bodies = lines.map(|line| line.rsplit_once(r#","sum":""#).unwrap().0);
    let mut record = Vec::new();
    let mut sum = String::new();
    for body in bodies.chain(more) {
        let digest = Sha256::digest(format!("{sum}{body}"));
        sum = digest[..8]
            .iter()
            .map(|byte| format!("{byte:02x}"))
            .collect();
        record.extend(format!("{body},\"sum\":\"{sum}\"}}\n").bytes());
    }
    record
}

/// Checks that a list is accepted or refused in words on one safe line, whatever it contains.
fn in_words<T>(read: Result<ListFile<T>, FileError>, bytes: &[u8]) {
    let words = match read {
        Ok(list) => {
            let lines = bytes.split(|&b| b == b'\n' || b == b'\r').count();
            assert!(list.rows.len() + list.rejected.len() <= lines);
            let reasons = list.rejected.iter().map(|row| row_error(&row.reason));
            reasons.chain(list.ignored).collect()
        }
        Err(error) => vec![file_error(&error)],
    };
    for words in words {
        assert!(!words.trim().is_empty() && words.len() < 2_000, "{words:?}");
        assert!(!words.contains(char::is_control), "{words:?}");
    }
}

fn read_all(bytes: &[u8]) {
    in_words(read_cards(bytes), bytes);
    in_words(read_range(bytes), bytes);
    in_words(read_key(bytes), bytes);
    in_words(read_roll_call(bytes), bytes);
}

/// The names of columns, and possible values for them, good and bad.
fn list() -> impl Strategy<Value = Vec<u8>> {
    let columns = Column::OF_CARD_LIST
        .into_iter()
        .chain(Column::OF_KEY)
        .map(|column| column.to_string());
    let header = prop::collection::vec(select(columns.collect::<Vec<_>>()), 1..8);
    let cell = prop_oneof![
        "[A-C][0-9]{1,3}",
        "-?[0-9]{1,30}([.,/][0-9]{1,12})?",
        "[ 0-9]{0,3}[\u{bc}\u{bd}]?( skeins| m|1/2|cm)?",
        "#[0-9A-Fa-f]{0,8}",
        "[\"',;\t\r\n=+@-]{0,6}",
        "[\u{0}-\u{1f}\u{80}-\u{9f}\u{200b}-\u{202e}\u{feff}a]{0,4}",
        any::<String>(),
    ];
    let rows = prop::collection::vec(prop::collection::vec(cell, 0..9), 0..6);
    let between = select(vec![",", ";", "\t", "\",\""]);
    let noise = prop::collection::vec((any::<Index>(), any::<u8>()), 0..3);
    (header, rows, between, noise).prop_map(|(header, rows, between, noise)| {
        let mut text = header.join(between);
        for row in rows {
            text.push('\n');
            text.push_str(&row.join(between));
        }
        let mut bytes = text.into_bytes();
        for (at, byte) in noise {
            let at = at.index(bytes.len());
            bytes[at] = byte;
        }
        bytes
    })
}

/// Reads a record in every way.
fn open(record: &[u8]) {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("record.jsonl"), record).unwrap();
    let told = |words: String| assert!(!words.trim().is_empty());
    match check::<Event>(folder.path()) {
        Ok(report) => report
            .problems
            .iter()
            .for_each(|problem| told(record::line_error(&problem.reason))),
        Err(error) => told(record::record_error(&error)),
    }
    if let Err(error) = read_copy::<Event>(folder.path()) {
        told(record::record_error(&error));
    }
    let saved = homehook::journal::salvage::look(folder.path(), history::act_and_cards);
    match saved {
        Ok(saved) => saved.left_out.iter().for_each(|left| {
            told(record::left_out(&left.what, None));
            told(record::why_left_out(&left.reason));
        }),
        Err(error) => told(record::record_error(&error)),
    }
    match Store::open(folder.path()) {
        Ok((store, notices)) => {
            notices
                .iter()
                .for_each(|notice| told(record::notice(notice)));
            store
                .broken_laws()
                .iter()
                .for_each(|broken| told(broken.to_string()));
        }
        Err(error) => told(record::record_error(&error)),
    }
}

fn sample() -> String {
    // Enough for a board, cards, a key and a ring; each case replays all of it several times.
    let path = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/tests/data/record-v1/record.jsonl"
    );
    let text = fs::read_to_string(path).unwrap();
    text.lines()
        .take(16)
        .map(|line| format!("{line}\n"))
        .collect()
}

/// A replacement for a value in a line.
fn value() -> impl Strategy<Value = String> {
    prop_oneof![
        Just("null".to_owned()),
        Just("{}".to_owned()),
        Just("[[]]".to_owned()),
        any::<i64>().prop_map(|n| n.to_string()),
        any::<u32>().prop_map(|n| n.to_string()),
        Just("1e999".to_owned()),
        Just("18446744073709551616".to_owned()),
        any::<String>().prop_map(|text| serde_json::to_string(&text).unwrap()),
    ]
}

proptest! {
    #[test]
    fn any_bytes_are_read_as_a_list_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        read_all(&bytes);
    }

    #[test]
    fn any_list_is_read_or_refused_in_words(bytes in list()) {
        read_all(&bytes);
    }
}

proptest! {
    // Each case writes a stash and opens it several times.
    #![proptest_config(ProptestConfig::with_cases(ProptestConfig::default().cases.div_ceil(4)))]

    #[test]
    fn any_bytes_are_read_as_a_record_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..300), whole: bool) {
        let mut record = if whole { sealed(sample().lines().take(3), None) } else { Vec::new() };
        record.extend(bytes);
        open(&record);
    }

    /// Replaces a number, word or list in one line, and makes all sums right again.
    #[test]
    fn any_line_with_a_right_sum_is_replayed_or_refused_in_words(
        at in any::<Index>(), part in any::<Index>(), value in value(), rest in 0..4_usize,
    ) {
        let sample = sample();
        let mut lines: Vec<String> = sample.lines().map(str::to_owned).collect();
        let n = at.index(lines.len());
        let body = lines[n].rsplit_once(",\"sum\":").unwrap().0.to_owned();
        let colons: Vec<usize> = body.match_indices("\":").map(|(at, _)| at + 2).collect();
        let from = colons[part.index(colons.len())];
        let end = body[from..].find([',', '}', ']']).map_or(body.len(), |end| from + end);
        lines[n] = format!("{}{value}{},\"sum\":\"\"}}", &body[..from], &body[end..]);
        // A value can contain the start of a sum; then it makes another line, which does no harm.
        lines.truncate(n + 1 + rest);
        open(&sealed(lines.iter().map(String::as_str), None));
    }
}

#[test]
fn deeply_nested_lists_are_refused() {
    let sample = sample();
    for (begin, end) in [("[", ""), ("[", "]"), ("{\"a\":", "")] {
        let deep = format!(
            "{{\"seq\":3,\"id\":\"00000000000000fe\",\"stamp\":3,\"time\":\"2026-03-01T10:32:00Z\",\"event\":{}{}",
            begin.repeat(100_000),
            end.repeat(100_000)
        );
        open(&sealed(sample.lines().take(3), Some(&deep)));
    }
}
