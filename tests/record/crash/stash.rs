//! A stash for these tests, and the conditions it must always meet.

use std::fs;
use std::path::Path;
use std::sync::OnceLock;

use homehook::journal::Notice;
use homehook::journal::store::Store;

use crate::common::Stash;

pub const CARDS: u64 = 60;

/// A board of 8 rows of 10 hooks and 60 cards, some of them out of order. The program creates it
/// once; the others are copies.
pub fn stash() -> Stash {
    static FIRST: OnceLock<[Vec<u8>; 2]> = OnceLock::new();
    const FILES: [&str; 2] = ["record.jsonl", "record.end"];
    let first = FIRST.get_or_init(|| {
        let stash = made();
        FILES.map(|name| fs::read(stash.dir().join(name)).unwrap())
    });
    let stash = Stash::new();
    fs::create_dir(stash.dir()).unwrap();
    for (name, bytes) in FILES.into_iter().zip(first) {
        fs::write(stash.dir().join(name), bytes).unwrap();
    }
    stash
}

fn made() -> Stash {
    let stash = Stash::new();
    stash.ok(&["board", "new", "Wall", "--rows", "8", "--columns", "10"]);
    let rows = (0..CARDS).map(|i| {
        let row = char::from(b'A' + u8::try_from(i / 10).unwrap());
        format!("Heath,{},8,{row}{:02}\n", i * 7 % CARDS + 1, i % 10 + 1)
    });
    let text = format!("range,number,lengths,hook\n{}", rows.collect::<String>());
    let list = stash.file("stock.csv", text);
    stash.ok(&["import", "cards", &list]);
    stash
}

/// The number of complete lines, and the bytes after the last.
pub fn lines(bytes: &[u8]) -> (u64, &[u8]) {
    let end = bytes
        .iter()
        .rposition(|&byte| byte == b'\n')
        .map_or(0, |at| at + 1);
    let whole = bytes[..end].iter().filter(|&&byte| byte == b'\n').count();
    (whole as u64, &bytes[end..])
}

/// The result of the program's `check`: whether all is well, and its output.
pub fn check(stash: &Stash) -> (bool, String) {
    let run = stash.run(&["check"]);
    assert!(matches!(run.code, 0 | 1), "{run:?}");
    (run.code == 0, run.out)
}

/// Opens a stash and checks that it is intact: every invariant holds, every line is good, and an
/// unfinished end is reported and left alone. Returns the store.
pub fn whole(dir: &Path, before: &[u8]) -> Store {
    let bytes = fs::read(dir.join("record.jsonl")).unwrap();
    assert!(bytes.starts_with(before), "what was recorded is gone");
    let (events, torn) = lines(&bytes);
    let (store, notices) = Store::open(dir).unwrap();
    assert_eq!(store.unsound(), None);
    assert_eq!(store.broken_laws(), vec![]);
    // One line is the header.
    assert_eq!(store.events() + 1, events);
    // A kill may come before the first marker is written.
    let broke_off = notices.iter().filter(|notice| **notice != Notice::NoMarker);
    match &broke_off.collect::<Vec<_>>()[..] {
        [] => assert_eq!(torn, b""),
        [Notice::Torn { bytes, .. }] => assert_eq!(*bytes, torn.len() as u64),
        other => panic!("{other:?}"),
    }
    assert_eq!(fs::read(dir.join("record.jsonl")).unwrap(), bytes);
    store
}
