//! A stash for these tests, and what must be so of it whatever happened.

use std::fs;
use std::path::Path;
use std::sync::OnceLock;
use std::time::Duration;

use homehook::journal::keeper::Keeper;
use homehook::journal::{Access, Notice};

use crate::common::Stash;

pub const CARDS: u64 = 60;

pub fn is_long() -> bool {
    std::env::var_os("HOMEHOOK_LONG").is_some()
}

/// A board of 8 rows of 10 hooks and 60 cards, some of them out of order. The program makes it once;
/// the others are copies.
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
    stash.ok(&["import", "stock", &list]);
    stash
}

/// How many whole lines, and what stands after the last.
pub fn lines(bytes: &[u8]) -> (u64, &[u8]) {
    let end = bytes
        .iter()
        .rposition(|&byte| byte == b'\n')
        .map_or(0, |at| at + 1);
    let whole = bytes[..end].iter().filter(|&&byte| byte == b'\n').count();
    (whole as u64, &bytes[end..])
}

/// What `check` of the program says: whether all is well, and its words.
pub fn check(stash: &Stash) -> (bool, String) {
    let run = stash.run(&["check"]);
    assert!(matches!(run.code, 0 | 1), "{run:?}");
    (run.code == 0, run.out)
}

/// Opens a stash and checks that it is whole: every law kept, every line good, what broke off set
/// aside and told of. Returns who keeps it.
pub fn whole(dir: &Path, before: &[u8]) -> Keeper {
    let bytes = fs::read(dir.join("record.jsonl")).unwrap();
    assert!(bytes.starts_with(before), "what was recorded is gone");
    let (events, torn) = lines(&bytes);
    let (keeper, notices) = Keeper::open(dir, Duration::from_secs(5)).unwrap();
    assert_eq!(keeper.access(), &Access::Writer);
    assert_eq!(keeper.misfit(), None);
    assert_eq!(keeper.broken_laws(), vec![]);
    // One line is the header.
    assert_eq!(keeper.events() + 1, events);
    match &notices[..] {
        [] => assert_eq!(torn, b""),
        [
            Notice::Torn {
                kept: Some(kept), ..
            },
        ] => {
            assert_eq!(fs::read(kept).unwrap(), torn);
        }
        other => panic!("{other:?}"),
    }
    let kept = &bytes[..bytes.len() - torn.len()];
    assert_eq!(fs::read(dir.join("record.jsonl")).unwrap(), kept);
    keeper
}
