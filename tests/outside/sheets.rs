//! Lists as other programs write them: workbooks and encodings.
//!
//! `rust_xlsxwriter` writes the `.xlsx` files. No light library writes `.ods`, so those are built
//! by hand from the elements of OpenDocument 1.2, and `calamine` reads each of them, too.
//! Windows-1252 is compared with the index of the WHATWG Encoding Standard
//! (`data/windows_1252_index.csv`).

use std::io::{Cursor, Write};

use calamine::{Data, Ods, Reader};
use homehook::exchange::table::{Delimiter, Rows};
use homehook::exchange::{
    Column, FileError, MOST_ROWS, MOST_UNPACKED, Plain, SheetRead, Source, WorkbookError,
    look_over, plain, read_cards, read_cards_as, read_key, read_range, read_roll_call,
};
use homehook::text::files::{file_error, to_check};
use proptest::prelude::*;
use rust_xlsxwriter::{Format, Formula, Workbook};
use zip::ZipWriter;
use zip::write::SimpleFileOptions;

use crate::common::is_long;

/// The rows of a file, as list readers receive them.
fn rows(bytes: Vec<u8>, sheet: Option<&str>) -> Vec<Vec<String>> {
    let text = plain(bytes, sheet).unwrap().text;
    let rows = Rows::new(&text, Delimiter::Comma);
    rows.map(|row| {
        row.unwrap()
            .fields
            .iter()
            .map(ToString::to_string)
            .collect()
    })
    .collect()
}

fn read(bytes: Vec<u8>) -> SheetRead {
    match plain(bytes, None).unwrap().source {
        Source::Sheet(read) => read,
        other => panic!("{other:?}"),
    }
}

fn refused(bytes: Vec<u8>) -> WorkbookError {
    match plain(bytes, None).unwrap_err() {
        FileError::Workbook(error) => error,
        other => panic!("{other:?}"),
    }
}

/// A zip file of these parts.
fn packed(parts: &[(&str, &[u8])]) -> Vec<u8> {
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, bytes) in parts {
        zip.start_file(*name, SimpleFileOptions::default()).unwrap();
        zip.write_all(bytes).unwrap();
    }
    zip.finish().unwrap().into_inner()
}

/// The parts of a zip file.
fn unpacked(bytes: &[u8]) -> Vec<(String, Vec<u8>)> {
    let mut zip = zip::ZipArchive::new(Cursor::new(bytes)).unwrap();
    let mut parts = Vec::new();
    for at in 0..zip.len() {
        let mut part = zip.by_index(at).unwrap();
        let name = part.name().unwrap().into_owned();
        let mut bytes = Vec::new();
        std::io::copy(&mut part, &mut bytes).unwrap();
        parts.push((name, bytes));
    }
    parts
}

/// A workbook with a filled first sheet.
fn workbook(fill: impl FnOnce(&mut rust_xlsxwriter::Worksheet)) -> Vec<u8> {
    let mut book = Workbook::new();
    fill(book.add_worksheet());
    book.save_to_buffer().unwrap()
}

const ODS_HEAD: &str = r#"<?xml version="1.0" encoding="UTF-8"?><office:document-content
xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0"
xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0" xmlns:style="urn:oasis:names:tc:opendocument:xmlns:style:1.0"
xmlns:calcext="urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0">"#;
const ODS_FOOT: &str = "</office:spreadsheet></office:body></office:document-content>";
const ODS_TYPE: &[u8] = b"application/vnd.oasis.opendocument.spreadsheet";
const MANIFEST: &[u8] =
    br#"<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0"/>"#;

/// A spreadsheet of these sheets, given as XML.
fn ods(sheets: &str) -> Vec<u8> {
    let content = format!("{ODS_HEAD}<office:body><office:spreadsheet>{sheets}{ODS_FOOT}");
    packed(&[
        ("mimetype", ODS_TYPE),
        ("META-INF/manifest.xml", MANIFEST),
        ("content.xml", content.as_bytes()),
    ])
}

fn text_cell(text: &str) -> String {
    format!(
        r#"<table:table-cell office:value-type="string"><text:p>{text}</text:p></table:table-cell>"#
    )
}

fn number_cell(number: &str) -> String {
    format!(
        r#"<table:table-cell office:value-type="float" office:value="{number}"><text:p>shown</text:p></table:table-cell>"#
    )
}

#[test]
fn numbers_are_read_as_written_on_a_card() {
    let bytes = workbook(|sheet| {
        for (row, number) in [447.0, 3.5, 0.1 + 0.2, 0.0, 1_234_567.0, 3.33]
            .into_iter()
            .enumerate()
        {
            sheet
                .write(u32::try_from(row).unwrap() + 1, 0, number)
                .unwrap();
        }
        sheet.write(0, 0, "number").unwrap();
        sheet.write(7, 0, "0447").unwrap();
        sheet.write(8, 0, " 9A ").unwrap();
        sheet.write(9, 0, true).unwrap();
    });
    let read: Vec<_> = rows(bytes, None).into_iter().flatten().collect();
    assert_eq!(
        read,
        [
            "number", "447", "3.5", "0.3", "0", "1234567", "3.33", "0447", " 9A ", "true"
        ]
    );
}

#[test]
fn every_kind_of_list_is_read_with_row_numbers() {
    let list = |titles: [&str; 3], cells: [&str; 3]| {
        workbook(|sheet| {
            // A list may begin anywhere on the sheet.
            for (column, (title, cell)) in titles.into_iter().zip(cells).enumerate() {
                let column = u16::try_from(column).unwrap() * 2 + 1;
                sheet.write(3, column, title).unwrap();
                sheet.write(6, column, cell).unwrap();
            }
        })
    };
    let text = |bytes| plain(bytes, None).unwrap().text;
    let cards = text(list(
        ["number", "name", "note"],
        ["447", "gr\u{fc}n, \"hell\"", "two\nlines"],
    ));
    let cards = read_cards(cards.as_bytes()).unwrap();
    assert_eq!(cards.rejected, []);
    let row = &cards.rows[0];
    assert_eq!((row.line, row.number.as_str()), (7, "447"));
    assert_eq!(row.name.as_deref(), Some("gr\u{fc}n, \"hell\""));
    assert_eq!(row.note.as_deref(), Some("two lines"));
    let key = text(list(["symbol", "number", "stitches"], ["X", "447", "120"]));
    assert_eq!(read_key(key.as_bytes()).unwrap().rows[0].stitches, 120);
    let range = text(list(
        ["number", "name", "family"],
        ["447", "slate", "blues"],
    ));
    assert_eq!(read_range(range.as_bytes()).unwrap().rows[0].name, "slate");
    let seen = text(list(["hook", "number", "range"], ["A01", "447", ""]));
    assert_eq!(read_roll_call(seen.as_bytes()).unwrap().rows[0].line, 7);
}

#[test]
fn heading_above_the_titles_is_not_a_row() {
    let bytes = workbook(|sheet| {
        sheet.write(0, 0, "My threads").unwrap();
        sheet.write(1, 0, "March").unwrap();
        sheet.write_row(3, 0, ["No.", "Name", "Skeins"]).unwrap();
        for row in 4..14 {
            sheet.write(row, 0, row).unwrap();
            sheet.write(row, 2, 1).unwrap();
            sheet.write(row, 4, "beside").unwrap();
        }
    });
    let text = plain(bytes, None).unwrap().text;
    let found = look_over(text.as_bytes(), &Column::OF_CARD_LIST).unwrap();
    assert!(found.is_by_title() || found.unclear().is_none());
    for list in [
        read_cards(text.as_bytes()).unwrap(),
        read_cards_as(text.as_bytes(), &found.guess).unwrap(),
    ] {
        assert_eq!((list.rows.len(), &list.rejected[..]), (10, &[][..]));
        assert_eq!((list.rows[0].line, list.rows[0].number.as_str()), (5, "4"));
    }
    // A row of cards isn't a heading, nor is one with unknown titles.
    let rows = |text: &str| read_cards(text.as_bytes()).map(|list| list.rows.len());
    assert_eq!(rows("number,note\n7,x\nnumber,name\n8,y\n"), Ok(3));
    assert!(rows("a,b\n7,x\n").is_err());
}

#[test]
fn first_visible_sheet_is_the_default() {
    let mut book = Workbook::new();
    for (name, number) in [("Old", 1.0), ("Cards", 2.0), ("Ma\u{df}e", 3.0)] {
        let sheet = book.add_worksheet();
        sheet.set_name(name).unwrap();
        sheet.set_hidden(name == "Old");
        sheet.set_active(name == "Cards");
        sheet.write(0, 0, "number").unwrap();
        sheet.write(1, 0, number).unwrap();
    }
    let bytes = book.save_to_buffer().unwrap();
    let number = |sheet| rows(bytes.clone(), sheet)[1][0].clone();
    assert_eq!(number(None), "2");
    assert_eq!(number(Some("Old")), "1");
    assert_eq!(number(Some("ma\u{df}e")), "3");
    let read = read(bytes.clone());
    assert_eq!(read.others, ["Old", "Ma\u{df}e"]);
    let said = to_check(&Source::Sheet(read));
    assert_eq!(
        said,
        ["Read the sheet 'Cards'. The workbook also has 'Old', 'Ma\u{df}e'."]
    );
    let error = plain(bytes, Some("Bought")).unwrap_err();
    assert_eq!(
        file_error(&error),
        "the workbook has no sheet 'Bought', only 'Old', 'Cards', 'Ma\u{df}e'."
    );
}

#[test]
fn warnings_about_a_sheet_name_the_cells() {
    let bytes = workbook(|sheet| {
        sheet
            .write_row(0, 0, ["number", "lengths", "lot", "note"])
            .unwrap();
        sheet
            .write(1, 0, Formula::new("=400+47").set_result("447"))
            .unwrap();
        // The writer gives a formula without a result the value 0, so the value is removed below.
        sheet
            .write(2, 0, Formula::new("=1+1").set_result("778899"))
            .unwrap();
        sheet.merge_range(1, 2, 2, 2, "K7", &Format::new()).unwrap();
        let date = Format::new().set_num_format("yyyy-mm-dd");
        sheet.write_with_format(1, 3, 45_000.0, &date).unwrap();
    });
    let parts = unpacked(&bytes).into_iter().map(|(name, bytes)| {
        let text = String::from_utf8(bytes).unwrap();
        (name, text.replace("<v>778899</v>", ""))
    });
    let parts: Vec<_> = parts.collect();
    let parts: Vec<_> = parts
        .iter()
        .map(|(name, text)| (name.as_str(), text.as_bytes()))
        .collect();
    let bytes = packed(&parts);
    let read_rows = rows(bytes.clone(), None);
    assert_eq!(
        read_rows[1],
        ["447", "", "K7", "2023-03-15"],
        "a column with a title alone is kept"
    );
    let read = read(bytes);
    assert_eq!(read.merged.first, ["C2:C3"]);
    assert_eq!(read.unvalued.first, ["A3"]);
    assert_eq!(read.dates.first, ["D2"]);
    let said = to_check(&Source::Sheet(read)).join("\n");
    for part in ["C2:C3", "A3", "no saved value", "D2"] {
        assert!(said.contains(part), "{said}");
    }
}

#[test]
fn too_many_rows_are_refused_with_the_limit() {
    // A hundred thousand in a long run.
    let rows = if is_long() {
        2 * MOST_ROWS
    } else {
        MOST_ROWS + 1
    };
    let bytes = workbook(|sheet| {
        sheet.write(0, 0, "number").unwrap();
        for row in 1..=u32::try_from(rows).unwrap() {
            sheet.write(row, 0, row).unwrap();
        }
    });
    let text = plain(bytes, None).unwrap().text;
    let error = read_cards(text.as_bytes()).unwrap_err();
    assert_eq!(error, FileError::TooManyRows);
    assert!(file_error(&error).contains("more than 50000 rows"));
}

/// Every cell as `calamine` reads it, for comparison.
fn read_elsewhere(bytes: Vec<u8>) -> Vec<Vec<String>> {
    let mut book: Ods<_> = Ods::new(Cursor::new(bytes)).unwrap();
    let name = book.sheet_names()[0].clone();
    let range = book.worksheet_range(&name).unwrap();
    let text = |cell: &Data| match cell {
        Data::Float(number) => number.to_string(),
        cell => cell.to_string().replace(['\n', '\t'], " "),
    };
    range
        .rows()
        .map(|row| row.iter().map(text).collect())
        .collect()
}

#[test]
fn opendocument_sheet_reads_the_same_as_with_calamine() {
    let repeated = r#"<table:table-cell table:number-columns-repeated="2" office:value-type="string"><text:p>twice</text:p></table:table-cell>"#;
    let comment = r#"<table:table-cell office:value-type="string"><office:annotation><text:p>a comment</text:p></office:annotation><text:p>a<text:s text:c="2"/>b &amp; &#x263A; <text:span>c</text:span></text:p><text:p>d</text:p></table:table-cell>"#;
    let empty = r#"<table:table-row table:number-rows-repeated="3"><table:table-cell table:number-columns-repeated="16384"/></table:table-row>"#;
    let sheet = [
        "<table:table table:name=\"Cards\"><table:table-column/><table:table-header-rows><table:table-row>",
        &text_cell("number"), &text_cell("name"), &text_cell("note"), &text_cell("more"), &text_cell("most"),
        "</table:table-row></table:table-header-rows>", empty,
        "<table:table-row>", &number_cell("447"), &text_cell("slate"), comment, repeated, "</table:table-row>",
        r#"<table:table-row table:number-rows-repeated="2">"#, &text_cell("0447"), &number_cell("2.5"), repeated,
        &number_cell("3"), "</table:table-row>", empty, "</table:table>",
    ]
    .concat();
    let bytes = ods(&sheet);
    let read: Vec<Vec<String>> = rows(bytes.clone(), None);
    let full = |rows: Vec<Vec<String>>| -> Vec<Vec<String>> {
        rows.into_iter()
            .filter(|row| row.iter().any(|cell| !cell.is_empty()))
            .collect()
    };
    assert_eq!(
        read.len(),
        7,
        "the empty rows in between keep the numbers of the others: {read:?}"
    );
    assert_eq!(
        read[4],
        ["447", "slate", "a  b & \u{263a} c d", "twice", "twice"]
    );
    assert_eq!(full(read), full(read_elsewhere(bytes)));
}

#[test]
fn opendocument_sheet_has_warnings_and_can_be_named() {
    let sheets = [
        r#"<table:table table:name="One"><table:table-row>"#, &text_cell("number"), &text_cell("lot"), "</table:table-row><table:table-row>",
        r#"<table:table-cell table:formula="of:=1+1"/>"#,
        r#"<table:table-cell table:number-rows-spanned="2" office:value-type="string"><text:p>K7</text:p></table:table-cell>"#,
        "</table:table-row><table:table-row>",
        r#"<table:table-cell table:formula="of:=1+446" office:value-type="float" office:value="447"/><table:covered-table-cell/>"#,
        r#"<table:table-cell office:value-type="date" office:date-value="2026-03-04"/>"#,
        r##"<table:table-cell calcext:value-type="error" office:value-type="string" office:string-value=""><text:p>#N/A</text:p></table:table-cell>"##,
        r#"</table:table-row></table:table><table:table table:name="Two"><table:table-row>"#, &text_cell("number"),
        "</table:table-row></table:table>",
    ]
    .concat();
    let bytes = ods(&sheets);
    let read = read(bytes.clone());
    assert_eq!(read.name, "One");
    assert_eq!(read.others, ["Two"]);
    assert_eq!(read.merged.first, ["B2:B3"]);
    assert_eq!(read.unvalued.first, ["A2"]);
    assert_eq!(read.errors.first, ["D3"]);
    assert_eq!(read.dates.first, ["C3"]);
    assert_eq!(rows(bytes.clone(), None)[2], ["447", "", "2026-03-04"]);
    assert_eq!(rows(bytes, Some("two")), [["number"]]);
}

#[test]
fn unreadable_workbook_is_refused_with_the_reason() {
    let good = workbook(|sheet| {
        sheet.write(0, 0, "number").unwrap();
    });
    assert_eq!(rows(good.clone(), None), [["number"]]);
    let empty = workbook(|_| {});
    assert!(matches!(refused(empty), WorkbookError::EmptySheet { .. }));
    assert!(matches!(
        refused(ods(r#"<table:table table:name="T"/>"#)),
        WorkbookError::EmptySheet { .. }
    ));
    assert_eq!(
        refused(packed(&[("notes.txt", b"number\n1\n")])),
        WorkbookError::NotAWorkbook
    );
    assert_eq!(
        refused(packed(&[
            ("content.xml", b"<a/>"),
            ("mimetype", b"application/vnd.oasis.opendocument.text")
        ])),
        WorkbookError::NotAWorkbook
    );
    assert_eq!(
        refused(packed(&[("xl/workbook.bin", b"x")])),
        WorkbookError::OtherFormat
    );
    // No library here locks a workbook, so this imitates one: the start of the container, and the
    // name of an encrypted entry.
    let container = [0xD0, 0xCF, 0x11, 0xE0, 0xA1, 0xB1, 0x1A, 0xE1];
    assert_eq!(refused(container.to_vec()), WorkbookError::OtherFormat);
    let name: Vec<u8> = "EncryptedPackage"
        .bytes()
        .flat_map(|byte| [byte, 0])
        .collect();
    assert_eq!(
        refused([&container[..], &[0; 600], &name].concat()),
        WorkbookError::Password
    );
    let locked = packed(&[
        ("mimetype", ODS_TYPE),
        (
            "META-INF/manifest.xml",
            b"<m><manifest:file-entry><manifest:encryption-data/></manifest:file-entry></m>",
        ),
        ("content.xml", &[7, 200, 3, 9]),
    ]);
    assert_eq!(refused(locked), WorkbookError::Password);
    for cut in [4, 30, good.len() / 2, good.len() - 10] {
        assert_eq!(
            refused(good[..cut].to_vec()),
            WorkbookError::Damaged,
            "{cut}"
        );
    }
    // XML that stops halfway, where some readers would wait for more.
    let half = format!(
        "{ODS_HEAD}<office:body><office:spreadsheet><table:table table:name=\"T\"><table:table-row>"
    );
    let half = packed(&[("mimetype", ODS_TYPE), ("content.xml", half.as_bytes())]);
    assert_eq!(refused(half), WorkbookError::Damaged);
}

#[test]
fn oversized_workbook_is_refused_whatever_size_it_declares() {
    let size = usize::try_from(MOST_UNPACKED).unwrap() + 1;
    let zeros = vec![b' '; size];
    let honest = packed(&[
        ("xl/workbook.xml", b"<workbook/>"),
        ("xl/media/a.bin", &zeros),
    ]);
    assert!(honest.len() < 4 << 20);
    assert_eq!(refused(honest.clone()), WorkbookError::TooLarge);
    // The size is in the part's own header and in the directory at the end.
    let said = u32::try_from(size).unwrap().to_le_bytes();
    let mut lying = honest;
    let places: Vec<usize> = (0..lying.len() - 4)
        .filter(|&at| lying[at..at + 4] == said)
        .collect();
    assert_eq!(places.len(), 2);
    for at in places {
        lying[at..at + 4].copy_from_slice(&1_000_u32.to_le_bytes());
    }
    // Whichever comes first: more than it declares, or more than is allowed.
    assert!(matches!(
        refused(lying),
        WorkbookError::TooLarge | WorkbookError::Damaged
    ));
}

#[test]
fn endlessly_repeated_cells_do_not_exhaust_memory() {
    let row = r#"<table:table-row table:number-rows-repeated="1048576"><table:table-cell table:number-columns-repeated="16384" office:value-type="string"><text:p>7</text:p></table:table-cell></table:table-row>"#;
    let sheet = format!(r#"<table:table table:name="T">{row}{row}</table:table>"#);
    assert_eq!(refused(ods(&sheet)), WorkbookError::TooManyCells);
    let spaces = text_cell(r#"a<text:s text:c="4000000000"/>b"#);
    let sheet = format!(
        r#"<table:table table:name="T"><table:table-row>{spaces}</table:table-row></table:table>"#
    );
    assert!(rows(ods(&sheet), None)[0][0].len() < 2_000);
    // Two cells at the far ends of a sheet, with a tenth of its rows except in a long run.
    let last = if is_long() { 1_048_575 } else { 99_999 };
    let far = workbook(|sheet| {
        sheet.write(0, 0, "number").unwrap();
        sheet.write(last, 16_383, 7).unwrap();
    });
    assert_eq!(rows(far, None)[last as usize], ["", "7"]);
}

#[test]
fn windows_1252_follows_the_encoding_standard() {
    let index = include_str!("../data/windows_1252_index.csv");
    let mut count = 0;
    for line in index.lines().skip(1) {
        let (byte, point) = line.split_once(',').unwrap();
        let byte = u8::from_str_radix(byte, 16).unwrap();
        let c = char::from_u32(u32::from_str_radix(point, 16).unwrap()).unwrap();
        let list = [b"number,name\n7,a", &[byte][..], b"b\n"].concat();
        count += 1;
        match plain(list, None) {
            Ok(Plain { text, source }) => {
                assert_eq!(text, format!("number,name\n7,a{c}b\n"), "{byte:02X}");
                let Source::Encoded { encoding, words } = &source else {
                    panic!("{source:?}");
                };
                assert_eq!(*encoding, "windows-1252");
                // Some are spaces, and one is invisible.
                assert!(!c.is_alphabetic() || words[0].contains(c), "{words:?}");
            }
            Err(error) => {
                assert!(c.is_control(), "{byte:02X}");
                assert_eq!(error, FileError::NotText { line: 2 });
            }
        }
    }
    assert_eq!(count, 128);
}

#[test]
fn utf_16_is_read_with_or_without_a_mark_and_reported() {
    let list = "number;name\r\n447;gr\u{fc}n \u{1F9F5}\r\n9;cr\u{e8}me\r\n";
    let bytes = |mark: bool, big: bool| -> Vec<u8> {
        let units = mark
            .then_some(0xFEFF)
            .into_iter()
            .chain(list.encode_utf16());
        units
            .flat_map(|unit| {
                if big {
                    unit.to_be_bytes()
                } else {
                    unit.to_le_bytes()
                }
            })
            .collect()
    };
    for (mark, big) in [(true, false), (true, true), (false, false), (false, true)] {
        let read = plain(bytes(mark, big), None).unwrap();
        assert_eq!(read.text, list);
        let encoding = if big { "UTF-16BE" } else { "UTF-16LE" };
        let said = to_check(&read.source);
        assert_eq!(
            said,
            [format!(
                "Read as {encoding}. Check these words: gr\u{fc}n, \u{1F9F5}, cr\u{e8}me. If they are wrong, save the \
                 file again as 'CSV UTF-8'."
            )]
        );
    }
    // Half a character at the end.
    let mut cut = bytes(true, false);
    cut.pop();
    assert!(matches!(plain(cut, None), Err(FileError::NotText { .. })));
}

#[test]
fn utf_8_is_read_without_a_warning() {
    for list in [
        "number,name\n7,gr\u{fc}n\n",
        "\u{feff}number\n7\n",
        "number\n7\n",
        "",
    ] {
        let read = plain(list.as_bytes().to_vec(), None).unwrap();
        assert_eq!((read.text.as_str(), &read.source), (list, &Source::Utf8));
        assert!(to_check(&read.source).is_empty());
    }
    // UTF-8 with one broken letter isn't another encoding.
    let cut = "number,name\n7,gr\u{fc}n\n8,cr\u{e8}m".as_bytes();
    let cut = [cut, &[0xC3], b"x\n"].concat();
    assert_eq!(plain(cut, None), Err(FileError::NotUtf8 { line: 3 }));
    assert!(matches!(
        plain(b"\xFF\xD8\xFF\xE0\x00\x10JFIF".to_vec(), None),
        Err(FileError::NotText { line: 1 })
    ));
}

/// A small workbook of each kind, unpacked into its parts.
fn samples() -> [Vec<(String, Vec<u8>)>; 2] {
    let xlsx = workbook(|sheet| {
        sheet.write_row(0, 0, ["number", "name"]).unwrap();
        sheet.write(1, 0, 447).unwrap();
        sheet.write(1, 1, "slate").unwrap();
        sheet
            .write(2, 0, Formula::new("=1+1").set_result("2"))
            .unwrap();
        let date = Format::new().set_num_format("yyyy-mm-dd");
        sheet.write_with_format(2, 1, 45_000.0, &date).unwrap();
        sheet
            .merge_range(3, 0, 4, 1, "all", &Format::new())
            .unwrap();
    });
    let ods = ods(&[
        r#"<table:table table:name="One"><table:table-row>"#,
        &text_cell("number"),
        &number_cell("4.5"),
        r#"</table:table-row></table:table>"#,
    ]
    .concat());
    [unpacked(&xlsx), unpacked(&ods)]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// The parts are changed and packed again, so that the archive's checksum matches.
    #[test]
    fn corrupted_workbook_never_panics(
        which in 0..2_usize,
        changes in prop::collection::vec((any::<prop::sample::Index>(), any::<prop::sample::Index>(), any::<u8>(), 0..3_u8), 1..6),
    ) {
        let mut parts = samples()[which].clone();
        for (part, place, byte, how) in changes {
            let part = part.index(parts.len());
            let bytes = &mut parts[part].1;
            if bytes.is_empty() {
                continue;
            }
            let at = place.index(bytes.len());
            match how {
                0 => bytes[at] = byte,
                1 => bytes.insert(at, b"0123456789ABZ:\"<>&"[usize::from(byte) % 18]),
                _ => bytes.truncate(at),
            }
        }
        let parts: Vec<_> = parts.iter().map(|(name, bytes)| (name.as_str(), bytes.as_slice())).collect();
        if let Err(error) = plain(packed(&parts), None) {
            prop_assert!(!file_error(&error).is_empty());
        }
    }

    #[test]
    fn arbitrary_bytes_are_read_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        if let Err(error) = plain(bytes, None) {
            prop_assert!(!file_error(&error).is_empty());
        }
    }
}
