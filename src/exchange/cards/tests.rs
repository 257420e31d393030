use super::*;
use crate::exchange::table::{Fault, FaultKind};
use crate::exchange::{ColumnsError, LARGEST_FILE, MOST_ROWS};
use crate::model::colour::ParseColourError;
use proptest::prelude::*;

fn file(text: &str) -> CardFile {
    read_cards(text.as_bytes()).unwrap()
}

/// The lines and reasons of a text's rejected rows.
fn reasons(text: &str) -> Vec<(u64, RowError)> {
    let refused = file(text).rejected.into_iter();
    refused.map(|row| (row.line, row.reason)).collect()
}

fn error(bytes: &[u8]) -> FileError {
    read_cards(bytes).unwrap_err()
}

#[test]
fn a_full_row_is_read_in_any_dialect() {
    let expected = CardRow {
        line: 2,
        range: Some("Lantern Hill".into()),
        number: "701".into(),
        name: Some("lamp black, soft".into()),
        colour: Some("#101214".parse().unwrap()),
        family: Some("blacks".into()),
        amount: Some(Amount::Lengths(2.5)),
        uncut: Some(1),
        dye_lot: Some("A7".into()),
        hook: Some("C07".into()),
        note: Some("for the lighthouse".into()),
        ..CardRow::default()
    };
    for text in [
        "range,number,name,hex,family,lengths,skeins,dye lot,hook,note\n\
         Lantern Hill,701,\"lamp black, soft\",#101214,blacks,2.5,1,A7,C07,for the lighthouse",
        "\u{FEFF}Maker;NO;Name;Colour;Group;Lengths;Uncut;Lot;Mark;Remarks\r\n\
         Lantern Hill; 701;lamp black, soft;101214;blacks;2,5;1;A7;C07;\"for the\r\nlighthouse\"\r\n",
        "range\tcolour number\tname\trgb\tfamily\tlengths\tspare skeins\tdye_lot\thome\tnote\r\
         Lantern Hill\t701\tlamp black, soft\t#101214\tblacks\t2,5\t1\tA7\tC07\tfor the lighthouse\r",
    ] {
        let read = file(text);
        assert_eq!(read.rejected, []);
        assert_eq!(read.rows, std::slice::from_ref(&expected), "{text}");
    }
}

#[test]
fn the_meaning_of_skeins_depends_on_the_other_columns() {
    let amounts = |text: &str| {
        let read = file(text);
        let row = read.rows.first().map(|row| (row.amount, row.uncut));
        (row, read.rejected.len())
    };
    let cut = |skeins| Some(Amount::Skeins(skeins));
    let left = |lengths| Some(Amount::Lengths(lengths));
    for (text, expected) in [
        ("no,skeins\n1,1.5", (cut(1.5), None)),
        ("no,skeins,reserve\n1,1.5,2", (cut(1.5), Some(2))),
        ("no,lengths,skeins\n1,3,2", (left(3.0), Some(2))),
        ("no,lengths,skeins\n1,,2", (None, Some(2))),
        ("no,lengths,skeins,reserve\n1,3,,2", (left(3.0), Some(2))),
        ("no,lengths,skeins,reserve\n1,,1,2", (cut(1.0), Some(2))),
        ("no,reserve\n1,", (None, None)),
    ] {
        assert_eq!(amounts(text), (Some(expected), 0), "{text}");
    }
    // Uncut skeins must be whole numbers.
    assert_eq!(
        amounts("no,lengths,skeins\n1,3,1.5"),
        (Some((left(3.0), None)), 0)
    );
    assert_eq!(amounts("no,lengths,skeins,reserve\n1,3,1,2"), (None, 1));
}

#[test]
fn a_bad_row_is_rejected_with_its_line_and_the_rest_is_read() {
    let long = "x".repeat(1_001);
    let text = format!(
        "range,number,hex,lengths,note\n\
         A,,,,\n\
         A,1,#12345,,\n\
         A,2,,-3,\n\
         A,3,,,a\u{1b}[31m\n\
         A,4\u{202e},,,\n\
         A,5,,,{long}\n\
         A,6,,,,\n\
         A,7,,,5\" hoop\n\
         A,8,,,\"two\nlines\"\n\
         a,8,,,\n\
         B,8,,,\n"
    );
    let read = file(&text);
    let taken: Vec<_> = read.rows.iter().map(|row| row.line).collect();
    assert_eq!(taken, [3, 5, 7, 10, 13]);
    assert_eq!(read.rows[3].note.as_deref(), Some("two lines"));
    let left_out: Vec<_> = read
        .warnings
        .iter()
        .map(|of| (of.line, &*of.number, of.column, of.reason.clone()))
        .collect();
    let colour = ParseColourError("#12345".into());
    let amount = RowError::Amount {
        column: Column::Lengths,
        reason: ParseAmountError::Negative("-3".into()),
    };
    let (column, character) = (Column::Note, '\u{1b}');
    let invisible = RowError::Invisible { column, character };
    let characters = 1_001;
    assert_eq!(
        left_out,
        [
            (3, "1", Column::Hex, RowError::Colour(colour)),
            (5, "3", Column::Note, invisible),
            (7, "5", column, RowError::TooLong { column, characters }),
        ]
    );
    let fault = |line, kind| (line, RowError::Table(Fault { line, kind }));
    let (expected, found) = (5, 6);
    let (column, character) = (Column::Number, '\u{202e}');
    assert_eq!(
        reasons(&text),
        [
            (2, RowError::NoNumber),
            (4, amount),
            (6, RowError::Invisible { column, character }),
            fault(8, FaultKind::FieldCount { expected, found }),
            fault(9, FaultKind::QuoteInBareField),
            (12, RowError::Duplicate { first: 10 }),
        ]
    );
}

#[test]
fn rejecting_doubtful_rows_turns_warnings_into_rejections() {
    let mut read = file("number,hex,lengths\n1,red,two\n2,,\n,,3\n");
    assert_eq!(read.warnings.len(), 2);
    assert_eq!(read.warnings_beside([4].into_iter()).len(), 2);
    read.reject_doubtful();
    let lines: Vec<_> = read.rejected.iter().map(|row| row.line).collect();
    assert_eq!((lines, read.rows.len()), (vec![2, 4], 1));
    assert!(read.warnings.is_empty());
    let (column, reason) = (Column::Lengths, ParseAmountError::NotDigits("two".into()));
    assert_eq!(read.rejected[0].reason, RowError::Amount { column, reason });
}

#[test]
fn a_duplicate_lot_is_reported() {
    let text = "number,lengths,dye lot\n1,2,K7\n1,3,K8\n1,4,k7\n1,5,\n1,6,\n";
    assert_eq!(
        reasons(text),
        [
            (4, RowError::DuplicateLot { first: 2 }),
            (6, RowError::Duplicate { first: 5 }),
        ]
    );
}

#[test]
fn a_row_over_the_limit_is_refused() {
    let text = "number,lengths,uncut,dye lot\n1,4294967295,4294967295,K7\n\
                1,4294967296,1,K8\n1,1,4294967296,V1\n";
    let read = file(text);
    assert_eq!(read.rows[0].uncut, Some(u32::MAX));
    let lines: Vec<_> = read.rejected.iter().map(|row| row.line).collect();
    assert_eq!(
        (read.rows.len(), lines, read.warnings),
        (1, vec![3, 4], vec![])
    );
    let refused = &read.rejected[0];
    assert_eq!(refused.number.as_deref(), Some("1"));
    let reason = ParseAmountError::TooMany {
        found: "4294967296".into(),
        most: u32::MAX,
    };
    let column = Column::Lengths;
    assert_eq!(refused.reason, RowError::Amount { column, reason });
}

#[test]
fn a_rejected_row_does_not_block_a_later_one() {
    let read = file("number,hook\n1,\u{202e}\n1,A01\n");
    assert_eq!(read.rows[0].line, 3);
    assert_eq!(read.rejected[0].line, 2);
}

#[test]
fn a_short_row_has_no_values_in_the_missing_columns() {
    let read = file("number,name,hex,note\n1,soot\n2\n");
    assert_eq!((read.rejected, read.warnings), (vec![], vec![]));
    let rows: Vec<_> = read
        .rows
        .iter()
        .map(|row| (&*row.number, row.name.as_deref()))
        .collect();
    assert_eq!(rows, [("1", Some("soot")), ("2", None)]);
    assert_eq!(reasons("name,number\nsoot\n"), [(2, RowError::NoNumber)]);
}

#[test]
fn empty_rows_and_lines_are_skipped() {
    let read = file("\n\r\nnumber,name\n\n1,a\n,\n  \n\n");
    assert_eq!((read.rows.len(), read.rejected.len()), (1, 0));
    assert_eq!(read.rows[0].line, 5);
}

#[test]
fn a_file_that_is_not_a_list_is_refused_with_the_reason() {
    assert_eq!(error(b""), FileError::Empty);
    assert_eq!(error(b"\xEF\xBB\xBF\r\n\n"), FileError::Empty);
    assert_eq!(error(b"number,name\n,\n"), FileError::NoRows);
    assert_eq!(error(b"number"), FileError::NoRows);
    assert_eq!(
        error(b"number,name\r\n1,a\r\n2,gr\xFCn\r\n"),
        FileError::NotUtf8 { line: 3 }
    );
    assert!(matches!(
        error(b"name,hex\na,b"),
        FileError::Columns(ColumnsError::NoNumber { .. })
    ));
    assert!(matches!(
        error(b"no,hex,colour\n1,,"),
        FileError::Columns(ColumnsError::Twice { .. })
    ));
    let fault = |line, kind| FileError::Table(Fault { line, kind });
    assert_eq!(
        error(b"number,name\n1,a\n2,\"b\n3,c\n4,d\n"),
        fault(3, FaultKind::UnterminatedQuote)
    );
    let endless = [b"number\n".as_slice(), &vec![b'x'; 10_000_000]].concat();
    assert_eq!(error(&endless), fault(2, FaultKind::TooLong));
    let many = format!("number\n{}", "1\n".repeat(MOST_ROWS + 1));
    assert_eq!(error(many.as_bytes()), FileError::TooManyRows);
    let huge = vec![b'\n'; LARGEST_FILE + 1];
    assert!(matches!(error(&huge), FileError::TooLarge { .. }));
}

#[test]
fn formulas_are_written_as_text() {
    let row = CardRow {
        line: 2,
        number: "=1+1".into(),
        note: Some("@home, '=quoted'".into()),
        ..CardRow::default()
    };
    let text = write_cards_csv(std::slice::from_ref(&row));
    assert_eq!(
        text.lines().nth(1),
        Some(",'=1+1,,,,,,,,,,\"'@home, '=quoted'\",")
    );
    assert_eq!(file(&text).rows, [row]);
}

/// Text as the stash stores it: trimmed, no invisible characters, never empty.
fn kept() -> impl Strategy<Value = String> {
    "['=+@a-z0-9,;\"é -]{1,12}".prop_filter_map("blank", |text| {
        let text = text.trim();
        (!text.is_empty()).then(|| text.to_owned())
    })
}

fn amounts_kept() -> impl Strategy<Value = Amount> {
    prop_oneof![
        (0.0..=1_000.0).prop_map(Amount::Skeins),
        (0_u32..=1_000_000).prop_map(|parts| Amount::Lengths(f64::from(parts) / 100.0)),
    ]
}

prop_compose! {
    fn row()(
        words in prop::array::uniform7(prop::option::of(kept())),
        number in kept(),
        colour in prop::option::of(any::<[u8; 3]>()),
        amount in prop::option::of(amounts_kept()),
        uncut in prop::option::of(prop_oneof![0_u32..=1_000, any::<u32>()]),
    ) -> CardRow {
        let [range, name, family, dye_lot, hook, note, split_card_of] = words;
        let colour = colour.map(|[r, g, b]| crate::model::colour::Srgb::new(r, g, b));
        CardRow { range, number, name, colour, family, amount, uncut, dye_lot, hook, note, split_card_of, ..CardRow::default() }
    }
}

proptest! {
    #[test]
    fn written_rows_are_read_back(mut rows in prop::collection::vec(row(), 1..8)) {
        let mut seen = std::collections::HashSet::new();
        rows.retain(|row| seen.insert((
            row.range.as_deref().map(fold),
            fold(&row.number),
            row.split_card_of.as_deref().map(fold),
            row.dye_lot.as_deref().map_or_else(String::new, fold),
        )));
        for (row, line) in rows.iter_mut().zip(2..) {
            row.line = line;
        }
        let read = file(&write_cards_csv(&rows));
        prop_assert_eq!(read.rejected, []);
        prop_assert_eq!(read.rows, rows);
    }

    #[test]
    fn any_bytes_are_read_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        let _ = read_cards(&bytes);
    }

    #[test]
    fn any_table_gives_sound_rows_and_every_line_is_accounted_for(
        body in prop::collection::vec("[0-9a=',.;\" -]{0,4}(,[0-9a=',.;\" \u{1b}-]{0,4}){0,3}", 0..8)
    ) {
        let text = format!("number,lengths,hex,note\n{}", body.join("\n"));
        if let Ok(read) = read_cards(text.as_bytes()) {
            for row in &read.rows {
                prop_assert!(!row.number.is_empty());
                if let Some(Amount::Lengths(lengths)) = row.amount {
                    prop_assert!((0.0..=f64::from(u32::MAX)).contains(&lengths));
                }
            }
            let lines = read.rows.iter().map(|row| row.line);
            let mut lines: Vec<_> = lines.chain(read.rejected.iter().map(|row| row.line)).collect();
            let count = lines.len();
            lines.sort_unstable();
            lines.dedup();
            prop_assert_eq!(lines.len(), count);
            if !text.contains('"') {
                let blank = |line: &&String| line.trim_matches([',', ' ']).is_empty();
                let full = body.iter().filter(|line| !blank(line)).count();
                prop_assert_eq!(count, full);
            }
        }
    }
}

#[test]
fn metres_of_a_part_used_skein_round_trip() {
    let read = read_cards(b"number,part-used m\n1,3.5\n2,0\n3,\n4,0.07\n5,much\n").unwrap();
    let parts: Vec<Option<u32>> = read.rows.iter().map(|row| row.part_cm).collect();
    assert_eq!(parts, [Some(350), Some(0), None, Some(7), None]);
    assert_eq!(read.warnings.len(), 1);
    let again = read_cards(write_cards_csv(&read.rows).as_bytes()).unwrap();
    let again: Vec<Option<u32>> = again.rows.iter().map(|row| row.part_cm).collect();
    assert_eq!(again, parts);
}
