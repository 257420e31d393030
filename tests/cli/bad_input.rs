//! Bad input: a clear error, and an unchanged record. Whatever the input contains, nothing reaches
//! the terminal that it would obey.

mod arguments;
mod bytes;
mod length;
mod names;
#[cfg(unix)]
mod streams;

use crate::common::Stash;

/// A stash with card Heath 701 on A01.
fn one_card() -> Stash {
    let stash = Stash::new();
    stash.ok(&["board", "new", "Wall", "--rows", "3", "--columns", "4"]);
    let list = stash.file("first.csv", "range,number,hook\nHeath,701,A01\n");
    stash.ok(&["import", "cards", &list]);
    stash
}

/// A board of 3 rows of 4 hooks with B02 blocked, and card 701 at home on A01.
fn stash() -> Stash {
    let stash = Stash::new();
    stash.ok(&["board", "new", "Wall", "--rows", "3", "--columns", "4"]);
    stash.ok(&["board", "block", "B02", "--why", "lamp"]);
    let list = stash.file("first.csv", "number,hook\n701,A01\n");
    stash.ok(&["import", "cards", &list]);
    stash
}

struct Bad {
    what: &'static str,
    /// Header, and the row or rows that can't be imported.
    header: &'static str,
    rows: &'static str,
    /// Words that the reason must contain.
    says: &'static str,
    /// Line numbers of the refused rows, when the rows stand alone.
    lines: &'static [u64],
    /// Whether a card can do without the bad value.
    without: bool,
}

const BAD_ROWS: [Bad; 8] = [
    Bad {
        what: "a hook off the board",
        header: "number,hook",
        rows: "9,Z99",
        says: "Z99",
        lines: &[2],
        without: false,
    },
    Bad {
        what: "a blocked hook",
        header: "number,hook",
        rows: "9,B02",
        says: "blocked (lamp)",
        lines: &[2],
        without: false,
    },
    Bad {
        what: "a full hook",
        header: "number,hook",
        rows: "9,A01",
        says: "A01 is full",
        lines: &[2],
        without: false,
    },
    Bad {
        what: "a hook two rows want",
        header: "number,hook",
        rows: "9,A02\n10,A02",
        says: "A02 is full",
        lines: &[3],
        without: false,
    },
    Bad {
        what: "a number twice",
        header: "number,hook",
        rows: "9,A02\n9,A03",
        says: "already",
        lines: &[3],
        without: false,
    },
    Bad {
        what: "a colour that is none",
        header: "number,hex",
        rows: "9,#12345G",
        says: "#12345G",
        lines: &[2],
        without: true,
    },
    Bad {
        what: "less than no thread",
        header: "number,lengths",
        rows: "9,-3",
        says: "less than nothing",
        lines: &[2],
        without: true,
    },
    Bad {
        what: "two rows each with its own fault",
        header: "number,lengths,hex",
        rows: "9,many,\n,1,\n11,1,blue",
        says: "many",
        lines: &[2, 3, 4],
        without: true,
    },
];

/// The start of the container of a locked workbook, and the name of its content.
fn locked_workbook() -> Vec<u8> {
    let begin = [0xD0, 0xCF, 0x11, 0xE0, 0xA1, 0xB1, 0x1A, 0xE1];
    let name = "EncryptedPackage".bytes().flat_map(|byte| [byte, 0]);
    begin.into_iter().chain(name).collect()
}

/// Runs an import that must fail, as text and as JSON, and checks that nothing was written.
fn refused(stash: &Stash, args: &[&str], what: &str, says: &str, code: &str) -> Vec<u64> {
    let before = stash.record();
    let run = stash.run(args);
    assert_eq!((run.code, run.out.as_str()), (1, ""), "{what}: {run:?}");
    assert!(run.err.starts_with("homehook: "), "{what}: {run:?}");
    assert!(run.err.contains(says), "{what}: {run:?}");
    assert!(run.err.len() < 2_000, "{what}: an endless error");
    let json = stash.run(&[args, &["--json"]].concat());
    assert_eq!((json.code, json.out.as_str()), (1, ""), "{what}: {json:?}");
    let error = json.error();
    assert_eq!(error["code"], code, "{what}: {json:?}");
    assert!(!error["message"].as_str().unwrap().is_empty());
    let rejected = error["rejected"].as_array().cloned().unwrap_or_default();
    let lines: Vec<u64> = rejected
        .iter()
        .map(|row| row["line"].as_u64().unwrap())
        .collect();
    for line in &lines {
        assert!(
            run.err.contains(&format!("line {line}: ")),
            "{what}: {run:?}"
        );
    }
    assert_eq!(stash.record(), before, "{what}: the record changed");
    lines
}

#[test]
fn a_bad_row_is_refused_alone_and_among_good_ones() {
    let stash = stash();
    for bad in &BAD_ROWS {
        let alone = format!("{}\n{}\n", bad.header, bad.rows);
        let alone = stash.file("alone.csv", alone);
        let args = ["import", "cards", &alone, "--strict"];
        let lines = refused(&stash, &args, bad.what, bad.says, "rows_rejected");
        assert_eq!(lines, bad.lines, "{}", bad.what);
        // If every row is bad, nothing can be imported without --strict either.
        if !bad.without && bad.rows.lines().count() == bad.lines.len() {
            refused(&stash, &args[..3], bad.what, bad.says, "rows_rejected");
        }

        let commas = ",".repeat(bad.header.matches(',').count());
        let mixed = format!("{}\n700{commas}\n{}\n800{commas}\n", bad.header, bad.rows);
        let mixed = stash.file("mixed.csv", mixed);
        let args = ["import", "cards", &mixed, "--strict"];
        let lines = refused(&stash, &args, bad.what, bad.says, "rows_rejected");
        let shifted: Vec<u64> = bad.lines.iter().map(|line| line + 1).collect();
        assert_eq!(lines, shifted, "{}", bad.what);
    }
}

#[test]
fn without_strict_good_rows_are_imported_and_each_bad_one_is_reported() {
    for bad in &BAD_ROWS {
        let stash = stash();
        let commas = ",".repeat(bad.header.matches(',').count());
        let text = format!("{}\n700{commas}\n{}\n", bad.header, bad.rows);
        let list = stash.file("mixed.csv", text);
        let run = stash.run(&["import", "cards", &list]);
        assert_eq!(run.code, 0, "{}: {run:?}", bad.what);
        assert!(run.out.contains("added"), "{}: {run:?}", bad.what);
        assert_eq!(run.err.lines().count(), bad.lines.len(), "{run:?}");
        for line in bad.lines {
            let line = format!("line {}: ", line + 1);
            assert!(run.err.contains(&line), "{}: {run:?}", bad.what);
        }
        let found = stash.json(&["find", "700"]);
        assert_eq!(found["matches"][0]["whereabouts"]["kind"], "unhung");
    }
}

#[test]
fn a_file_that_is_not_a_list_is_refused_whole() {
    let stash = stash();
    let long = format!("number,note\n9,{}\n", "x".repeat(10 << 20));
    let mixed = format!("number,note\n8,\n9,{}\n10,\n", "x".repeat(10 << 20));
    let files: [(&str, Vec<u8>, &str, &str); 10] = [
        (
            "no text",
            b"\xFF\xD8\xFF\xE0\x00\x10JFIF".to_vec(),
            "line 1 isn't text",
            "not_a_list",
        ),
        (
            "damaged UTF-8 among good rows",
            b"number,name\n8,cr\xC3\xA8me\n9,gr\xC3\xBCn\n10,bl\xC3u\n".to_vec(),
            "line 4 isn't UTF-8",
            "not_a_list",
        ),
        (
            "no number column",
            b"name,hex\nred,#FF0000\n".to_vec(),
            "number of a colour",
            "unclear_columns",
        ),
        (
            "a workbook with a password",
            locked_workbook(),
            "password",
            "password",
        ),
        (
            "a packed file that was cut off",
            b"PK\x03\x04 and no more".to_vec(),
            "damaged",
            "damaged_workbook",
        ),
        ("an empty file", Vec::new(), "empty", "not_a_list"),
        (
            "a header alone",
            b"number,hook\n".to_vec(),
            "no rows",
            "not_a_list",
        ),
        (
            "a column twice",
            b"number,no\n9,9\n".to_vec(),
            "'no'",
            "unclear_columns",
        ),
        ("a line of 10 MB", long.into_bytes(), "line 2", "not_a_list"),
        (
            "a line of 10 MB among good rows",
            mixed.into_bytes(),
            "line 3",
            "not_a_list",
        ),
    ];
    for (what, bytes, says, code) in files {
        let list = stash.file("list.csv", bytes);
        refused(
            &stash,
            &["import", "cards", &list, "--strict"],
            what,
            says,
            code,
        );
        if !what.ends_with("among good rows") {
            refused(&stash, &["import", "cards", &list], what, says, code);
        }
    }
    let missing = stash.folder.path().join("nowhere.csv");
    let args = ["import", "cards", missing.to_str().unwrap()];
    refused(&stash, &args, "a missing file", "nowhere.csv", "unreadable");
    let folder = stash.folder.path().to_str().unwrap();
    refused(
        &stash,
        &["import", "cards", folder],
        "a folder",
        "can't be read",
        "unreadable",
    );
    let shades = [
        "import",
        "range",
        missing.to_str().unwrap(),
        "--range",
        "Heath",
    ];
    refused(
        &stash,
        &shades,
        "missing shades",
        "nowhere.csv",
        "unreadable",
    );
}

#[test]
fn a_bad_chart_key_is_refused_row_by_row_or_whole() {
    let stash = stash();
    let rows: [(&str, &str, &str, &[u64]); 6] = [
        ("number,stitches", "9,many", "many", &[2]),
        ("number,stitches", "9,-4", "less than nothing", &[2]),
        ("number,strands", "9,2.5", "a whole number", &[2]),
        ("number,strands", "9,13", "at most 12", &[2]),
        ("number,range", "9,Mi:ll", "colon", &[2]),
        ("number,hex,symbol", "9,#12,X\n,,O", "#12", &[2, 3]),
    ];
    for (header, rows, says, lines) in rows {
        let key = stash.file("key.csv", format!("{header}\n{rows}\n"));
        let args = ["import", "key", &key, "--project", "Fox"];
        assert_eq!(refused(&stash, &args, rows, says, "rows_rejected"), lines);
        let commas = ",".repeat(header.matches(',').count());
        let mixed = format!("{header}\n701{commas}\n{rows}\n");
        let key = stash.file("key.csv", mixed);
        let args = ["import", "key", &key, "--project", "Fox", "--strict"];
        refused(&stash, &args, rows, says, "rows_rejected");
        let taken = stash.json(&args[..5]);
        assert_eq!(taken["entries"], 1, "{rows}");
        assert_eq!(taken["rejected"].as_array().unwrap().len(), lines.len());
        stash.ok(&["undo"]);
    }
    let key = stash.file("key.csv", "symbol,stitches\nX,9\n");
    let args = ["import", "key", &key, "--project", "Fox"];
    refused(
        &stash,
        &args,
        "no number",
        "'symbol', 'stitches'",
        "unclear_columns",
    );
    let key = stash.file("key.csv", "number\n701\n");
    let args = ["import", "key", &key, "--project", " "];
    refused(
        &stash,
        &args,
        "no project",
        "name of its project",
        "no_project",
    );
}

#[test]
fn a_purchase_without_amounts_is_refused() {
    let stash = stash();
    let list = stash.file("more.csv", "number,skeins\n701,\n");
    let args = ["import", "cards", &list, "--purchase"];
    refused(
        &stash,
        &args,
        "no amount",
        "no amount to add",
        "rows_rejected",
    );
    for what in ["701=", "701=0", "701=some", "701=1001"] {
        refused(&stash, &["bought", what], what, "CARD=SKEINS", "not_skeins");
    }
    refused(&stash, &["bought", "Fox"], "no ring", "Fox", "unknown_ring");
    refused(&stash, &["need", "Fox"], "no ring", "Fox", "unknown_ring");
    refused(&stash, &["bought"], "no keys", "import key", "no_keys");
}
