//! Every state of a stash folder against every kind of command: its exit code, its message, and
//! every byte of the folder and its neighbours, before and after.

use std::collections::BTreeMap;
use std::fs;
use std::os::unix::fs::{MetadataExt, PermissionsExt, symlink};
use std::os::unix::net::UnixListener;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;
use std::thread;
use std::time::{Duration, Instant};

use crate::common::{Stash, is_long, program};
use crate::crash::places::{as_nobody, program_for_anybody};
use crate::crash::stash::stash;
use crate::harness::Screen;

/// The limit for a command, whatever it finds.
const LIMIT: Duration = Duration::from_secs(20);
const EVENTS: usize = 12;

/// A kind of command.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    /// Only reads.
    Read,
    /// Changes one card.
    Write,
    /// Checks the record.
    Check,
    /// Replaces the record with a copy of an earlier day.
    Restore,
    /// Writes the good events as a new stash.
    Salvage,
    /// Merges another copy.
    Merge,
    /// Is merged by another copy.
    MergedFrom,
    /// Opens the board, and changes a card there.
    Screen,
    /// Continues with the remaining events.
    Accept,
}

const KINDS: [Kind; 9] = [
    Kind::Read,
    Kind::Write,
    Kind::Check,
    Kind::Restore,
    Kind::Salvage,
    Kind::Merge,
    Kind::MergedFrom,
    Kind::Screen,
    Kind::Accept,
];

/// The effect of a command on the folder.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Effect {
    /// No byte changes.
    Nothing,
    /// Appends one line after the good lines, and updates the marker.
    Adds,
    /// Replaces the record with the copy and keeps the old record.
    Restores,
    /// Writes a sound stash elsewhere, and changes no byte here.
    Saves,
}

use Effect::{Adds, Nothing, Restores, Saves};

/// The result of a command in a state: its code, words of its message, and its effect.
type Cell = (i32, &'static str, Effect);

/// The name of a state, and the function that produces it.
type Making = (&'static str, fn(&Path));

/// A state, and a cell for every kind of command in the order of [`KINDS`].
type Row = (&'static str, fn(&Path), [Cell; 9]);

fn record(dir: &Path) -> PathBuf {
    dir.join("record.jsonl")
}

fn marker(dir: &Path) -> PathBuf {
    dir.join("record.end")
}

fn rewrite(path: &Path, change: impl FnOnce(&mut Vec<u8>)) {
    let mut bytes = fs::read(path).unwrap();
    change(&mut bytes);
    fs::write(path, bytes).unwrap();
}

fn line_end(bytes: &[u8], line: usize) -> usize {
    let ends = (1..=bytes.len()).filter(|&end| bytes[end - 1] == b'\n');
    ends.clone().nth(line - 1).unwrap()
}

fn fifo(path: &Path) {
    let made = Command::new("mkfifo").arg(path).status().unwrap();
    assert!(made.success());
}

/// A folder of the tests' own in place of the rest of the disk.
fn elsewhere(dir: &Path) -> PathBuf {
    dir.with_file_name("elsewhere")
}

/// Moves an entry out of the folder and puts the result of `put` in its place.
fn moved(path: &Path, put: impl FnOnce(&Path)) {
    let away = elsewhere(path.parent().unwrap()).join(path.file_name().unwrap());
    fs::rename(path, &away).unwrap();
    put(&away);
}

/// The record of another stash with at least as many events.
fn foreign() -> &'static [u8] {
    static BYTES: OnceLock<Vec<u8>> = OnceLock::new();
    BYTES.get_or_init(|| {
        let other = stash();
        // Created again, so that its first event differs.
        fs::remove_dir_all(other.dir()).unwrap();
        other.ok(&["board", "new", "Wall", "--rows", "2", "--columns", "5"]);
        let list = other.file("list.csv", "range,number,lengths,hook\nHeath,1,8,A01\n");
        other.ok(&["import", "cards", &list]);
        for _ in 0..EVENTS {
            other.ok(&["use", "1", "--strands", "1"]);
        }
        other.record()
    })
}

const SOUND: [Cell; 9] = [
    (0, "at home", Nothing),
    (0, "Used", Adds),
    (0, "All is well", Nothing),
    (0, "The record is now", Restores),
    (0, "A new stash", Saves),
    (0, "Merged", Adds),
    (0, "Merged", Nothing),
    (0, "1 missing", Adds),
    (1, "No change is lost", Nothing),
];

/// A record that lost acknowledged events: everything except reading waits for the user's decision.
const fn lossy(says: &'static str) -> [Cell; 9] {
    [
        (3, says, Nothing),
        (1, says, Nothing),
        (1, says, Nothing),
        (0, "The record is now", Restores),
        (0, "A new stash", Saves),
        (1, says, Nothing),
        (1, says, Nothing),
        (0, "ead-only", Nothing),
        (0, "goes on with the", Adds),
    ]
}

/// A folder with an entry that isn't a plain file.
const fn refused(says: &'static str) -> [Cell; 9] {
    let cell = (1, says, Nothing);
    [cell; 9]
}

fn rows() -> Vec<Row> {
    let mut rows: Vec<Row> = vec![
        ("sound", |_| {}, SOUND),
        (
            "with files of earlier versions and of nobody",
            |dir| {
                fs::write(dir.join("lock"), "{\"pid\":1}").unwrap();
                fs::write(dir.join("record.new"), "x").unwrap();
                fs::create_dir(dir.join("record.snapshot.new")).unwrap();
            },
            SOUND,
        ),
        (
            "cut at a line that was acknowledged",
            |dir| rewrite(&record(dir), |bytes| bytes.truncate(line_end(bytes, 9))),
            lossy("has lost changes"),
        ),
        (
            "cut inside a line that was acknowledged",
            |dir| {
                rewrite(&record(dir), |bytes| {
                    bytes.truncate(line_end(bytes, 9) - 20);
                });
            },
            lossy("has lost changes"),
        ),
        (
            "a NUL in place of the last line break",
            |dir| rewrite(&record(dir), |bytes| *bytes.last_mut().unwrap() = 0),
            lossy("has lost changes"),
        ),
        ("emptied", |dir| fs::write(record(dir), "").unwrap(), {
            let mut row = lossy("has lost changes");
            row[0] = (3, "has lost changes", Nothing);
            row
        }),
        (
            "exchanged for the record of another stash",
            |dir| fs::write(record(dir), foreign()).unwrap(),
            lossy("nother record is in the place"),
        ),
        (
            "its marker emptied",
            |dir| fs::write(marker(dir), "").unwrap(),
            lossy("can't be read, so nothing proves"),
        ),
        (
            "its marker missing",
            |dir| fs::remove_file(marker(dir)).unwrap(),
            SOUND,
        ),
        (
            "an unfinished line that was never acknowledged",
            |dir| rewrite(&record(dir), |bytes| bytes.extend(b"{\"seq\":13,\"ti")),
            {
                let mut row = SOUND;
                row[0] = (0, "breaks off in line", Nothing);
                row[1] = (0, "set aside in", Adds);
                row[2] = (1, "breaks off unfinished", Nothing);
                row[5] = (0, "set aside in", Adds);
                row
            },
        ),
        (
            "a line changed in its middle",
            |dir| {
                rewrite(&record(dir), |bytes| {
                    let at = line_end(bytes, 6) + 30;
                    bytes[at] ^= 1;
                });
            },
            {
                let mut row = lossy("line 7 of the record is damaged");
                row[2] = (1, "Line 7 of the record", Nothing);
                row[6] = (1, "is damaged in line 7", Nothing);
                row[8] = (1, "Save the sound part first", Nothing);
                row
            },
        ),
        (
            "the record missing and the marker there",
            |dir| fs::remove_file(record(dir)).unwrap(),
            {
                let mut row = refused("is gone or empty");
                row[2] = (1, "The record is missing", Nothing);
                row[3] = (0, "The record is now", Restores);
                row[6] = (1, "no record", Nothing);
                row[8] = (0, "goes on with the", Adds);
                row
            },
        ),
        (
            "nothing there but a backup",
            |dir| {
                fs::create_dir(dir.join("backups")).unwrap();
                let copy = dir.join("backups/record-2026-03-01.jsonl");
                fs::rename(record(dir), copy).unwrap();
                fs::remove_file(marker(dir)).unwrap();
            },
            {
                let mut row = refused("is gone or empty");
                row[2] = (1, "The record is gone or empty", Nothing);
                row[3] = (0, "The record is now", Restores);
                row[4] = (1, "no record", Nothing);
                row[6] = (1, "no record", Nothing);
                row[8] = (0, "goes on with the", Adds);
                row
            },
        ),
        (
            "emptied, its marker gone, and a backup there",
            |dir| {
                fs::create_dir(dir.join("backups")).unwrap();
                fs::copy(record(dir), dir.join("backups/record-2026-03-01.jsonl")).unwrap();
                fs::write(record(dir), "").unwrap();
                fs::remove_file(marker(dir)).unwrap();
            },
            {
                let mut row = refused("is gone or empty");
                row[2] = (1, "The record is gone or empty", Nothing);
                row[3] = (0, "The record is now", Restores);
                row[4] = (0, "A new stash", Saves);
                // Their side of a merge reads only the file, which is empty.
                row[6] = (1, "", Nothing);
                row[8] = (0, "goes on with the", Adds);
                row
            },
        ),
        (
            "a longer hole behind its last line than a change can leave",
            |dir| {
                let file = fs::OpenOptions::new()
                    .write(true)
                    .open(record(dir))
                    .unwrap();
                let end = file.metadata().unwrap().len();
                file.set_len(end + (80 << 20)).unwrap();
            },
            {
                let mut row = lossy("line 14 of the record is damaged");
                row[2] = (1, "Line 14 of the record", Nothing);
                // The kept record may be as long as the marker says.
                row[6] = (1, "is damaged in line 14", Nothing);
                row[8] = (1, "Save the sound part first", Nothing);
                row
            },
        ),
        (
            "a newer format",
            |dir| fs::write(record(dir), "{\"homehook\":9,\"sum\":\"x\"}\nbinary\0").unwrap(),
            {
                let mut row = refused("in format 9");
                row[3] = (0, "The record is now", Restores);
                row
            },
        ),
    ];
    let plain: [Making; 12] = [
        ("the record a link to a file elsewhere", |dir| {
            moved(&record(dir), |away| symlink(away, record(dir)).unwrap());
        }),
        ("the record a link to nothing", |dir| {
            fs::remove_file(record(dir)).unwrap();
            symlink("nowhere", record(dir)).unwrap();
        }),
        ("the record a link without end", |dir| {
            fs::remove_file(record(dir)).unwrap();
            symlink("/dev/zero", record(dir)).unwrap();
        }),
        ("the record a pipe", |dir| {
            fs::remove_file(record(dir)).unwrap();
            fifo(&record(dir));
        }),
        ("the record a socket", |dir| {
            fs::remove_file(record(dir)).unwrap();
            drop(UnixListener::bind(record(dir)).unwrap());
        }),
        ("the record a folder", |dir| {
            fs::remove_file(record(dir)).unwrap();
            fs::create_dir(record(dir)).unwrap();
        }),
        ("the marker a link to a file elsewhere", |dir| {
            moved(&marker(dir), |away| symlink(away, marker(dir)).unwrap());
        }),
        ("the marker a link to nothing", |dir| {
            fs::remove_file(marker(dir)).unwrap();
            symlink("nowhere", marker(dir)).unwrap();
        }),
        ("the marker a link without end", |dir| {
            fs::remove_file(marker(dir)).unwrap();
            symlink("/dev/zero", marker(dir)).unwrap();
        }),
        ("the marker a pipe", |dir| {
            fs::remove_file(marker(dir)).unwrap();
            fifo(&marker(dir));
        }),
        ("the marker a folder", |dir| {
            fs::remove_file(marker(dir)).unwrap();
            fs::create_dir(marker(dir)).unwrap();
        }),
        ("the marker a socket", |dir| {
            fs::remove_file(marker(dir)).unwrap();
            drop(UnixListener::bind(marker(dir)).unwrap());
        }),
    ];
    for (state, make) in plain {
        let says = match state.starts_with("the marker") {
            true => "Delete it: the next change writes it again",
            false => "Homehook uses only plain files",
        };
        rows.push((state, make, refused(says)));
    }
    // A hard link elsewhere: reading is harmless, but writing would change both.
    for (state, make) in [
        (
            "the record with a second name",
            (|dir| fs::hard_link(record(dir), elsewhere(dir).join("second")).unwrap()) as fn(&Path),
        ),
        ("the marker with a second name", |dir| {
            fs::hard_link(marker(dir), elsewhere(dir).join("second")).unwrap();
        }),
    ] {
        let mut row = SOUND;
        for at in [1, 5, 7] {
            row[at] = (1, "a hard link", Nothing);
        }
        // The board opens, and reports this on the first change.
        row[7] = (0, "a hard link", Nothing);
        if state.starts_with("the marker") {
            row[3] = (0, "The record is now", Restores);
        }
        rows.push((state, make, row));
    }
    // No other entry in the folder is needed, and none is followed.
    for (state, make) in [
        (
            "links and pipes where the program keeps other things",
            (|dir| {
                for name in [
                    "lock",
                    "record.new",
                    "record.end-new",
                    "record.snapshot.new",
                ] {
                    fs::write(elsewhere(dir).join(name), "theirs").unwrap();
                    symlink(elsewhere(dir).join(name), dir.join(name)).unwrap();
                }
                symlink(elsewhere(dir), dir.join("backups")).unwrap();
                fifo(&dir.join("record.snapshot"));
                symlink("/dev/zero", dir.join("record.torn-1")).unwrap();
                symlink("nowhere", dir.join("record.before-restore-1.jsonl")).unwrap();
            }) as fn(&Path),
        ),
        ("a snapshot without end", |dir| {
            symlink("/dev/zero", dir.join("record.snapshot")).unwrap();
        }),
        ("a snapshot that is none", |dir| {
            fs::write(dir.join("record.snapshot"), "{\"snapshot\":1}\n").unwrap();
        }),
        ("its folder reached by a link", |dir| {
            let really = dir.with_file_name("really");
            fs::rename(dir, &really).unwrap();
            symlink(really, dir).unwrap();
        }),
    ] {
        rows.push((state, make, SOUND));
    }
    rows
}

/// Maps paths to kind, mode, and content or link target.
type Tree = BTreeMap<PathBuf, (char, u32, Vec<u8>)>;

fn tree(top: &Path) -> Tree {
    let mut found = Tree::new();
    let mut open = vec![top.to_owned()];
    while let Some(dir) = open.pop() {
        for entry in fs::read_dir(dir).unwrap() {
            let path = entry.unwrap().path();
            let data = fs::symlink_metadata(&path).unwrap();
            let (kind, bytes) = if data.is_symlink() {
                let to = fs::read_link(&path).unwrap();
                ('l', to.into_os_string().into_encoded_bytes())
            } else if data.is_dir() {
                open.push(path.clone());
                ('d', Vec::new())
            } else if data.is_file() {
                ('f', fs::read(&path).unwrap())
            } else {
                ('s', Vec::new())
            };
            found.insert(path, (kind, data.mode(), bytes));
        }
    }
    found
}

/// A stash of twelve changes, a copy from when it had ten, another copy with a change of its own,
/// and a folder in place of the rest of the disk.
fn scene() -> Stash {
    static FIRST: OnceLock<(Tree, PathBuf)> = OnceLock::new();
    let (tree, top) = FIRST.get_or_init(|| {
        let stash = stash();
        let copy = stash.folder.path().join("copy.jsonl");
        let theirs = stash.folder.path().join("theirs");
        for n in 3..=EVENTS {
            if n == 11 {
                fs::copy(record(&stash.dir()), &copy).unwrap();
            }
            if n == EVENTS {
                // One more change, so that each copy has something to merge.
                fs::create_dir(&theirs).unwrap();
                for name in ["record.jsonl", "record.end"] {
                    fs::copy(stash.dir().join(name), theirs.join(name)).unwrap();
                }
            }
            stash.ok(&["use", &n.to_string(), "--strands", "1"]);
        }
        let run = crate::common::run_in(&theirs, &["use", "20", "--strands", "3"]);
        assert_eq!(run.code, 0, "{run:?}");
        fs::remove_dir_all(theirs.join("backups")).unwrap();
        fs::remove_dir_all(stash.dir().join("backups")).unwrap();
        fs::create_dir(elsewhere(&stash.dir())).unwrap();
        (tree(stash.folder.path()), stash.folder.path().to_owned())
    });
    let stash = Stash::new();
    for (path, (kind, mode, bytes)) in tree {
        let at = stash.folder.path().join(path.strip_prefix(top).unwrap());
        match kind {
            'd' => fs::create_dir_all(&at).unwrap(),
            _ => {
                fs::create_dir_all(at.parent().unwrap()).unwrap();
                fs::write(&at, bytes).unwrap();
            }
        }
        fs::set_permissions(&at, fs::Permissions::from_mode(*mode)).unwrap();
    }
    stash
}

/// Runs the program, with a time limit.
fn run(stash: &Stash, dir: &Path, args: &[&str]) -> (i32, String) {
    let (out, err) = (
        stash.folder.path().join("out"),
        stash.folder.path().join("err"),
    );
    let mut command = program();
    command.arg("--stash").arg(dir).args(args);
    command.stdout(fs::File::create(&out).unwrap());
    command.stderr(fs::File::create(&err).unwrap());
    let begun = Instant::now();
    let mut child = command.spawn().unwrap();
    let status = loop {
        if let Some(status) = child.try_wait().unwrap() {
            break status;
        }
        if begun.elapsed() > LIMIT {
            child.kill().unwrap();
            panic!("{args:?} does not end");
        }
        thread::sleep(Duration::from_millis(3));
    };
    let said = [&out, &err].map(|file| fs::read_to_string(file).unwrap());
    for file in [out, err] {
        fs::remove_file(file).unwrap();
    }
    (status.code().unwrap_or(-1), said.concat())
}

/// Opens the board on a terminal, and marks the card under the cursor as missing.
fn on_screen(dir: &Path, says: &str) -> (i32, String) {
    let mut screen = Screen::open(dir, (150, 30));
    let begun = Instant::now();
    // The position of the cursor comes at the end of a frame.
    let is_open = || {
        let text = screen.text();
        let signs = ["A01 · ", "Homehook  ", "homehook:"];
        signs.iter().any(|sign| text.contains(sign))
    };
    while !is_open() && begun.elapsed() < LIMIT {
        thread::sleep(Duration::from_millis(5));
    }
    if screen.text().contains("A01 · ") || screen.text().contains("Homehook  ") {
        screen.keys("m");
    }
    while !flat(&screen.text()).contains(says) && begun.elapsed() < LIMIT {
        thread::sleep(Duration::from_millis(5));
    }
    let said = flat(&screen.text());
    screen.keys("\x1bqq");
    let code = screen.ended().exit_code();
    (i32::try_from(code).unwrap(), said)
}

/// A screen's text as one line, since a sentence may wrap.
fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The good lines of a record, without an unfinished end.
fn good(bytes: &[u8]) -> &[u8] {
    let end = bytes
        .iter()
        .rposition(|&byte| byte == b'\n')
        .map_or(0, |at| at + 1);
    &bytes[..end]
}

fn one_cell(row: &Row, kind: Kind, (code, says, effect): Cell) {
    let (state, make, _) = row;
    let what = format!("{state}, {kind:?}");
    let stash = scene();
    let dir = stash.dir();
    make(&dir);
    let top = stash.folder.path();
    let path = |name: &str| top.join(name).display().to_string();
    let before = tree(top);
    let (ended, said) = match kind {
        Kind::Read => run(&stash, &dir, &["find", "1"]),
        Kind::Write => run(&stash, &dir, &["use", "1", "--strands", "1"]),
        Kind::Check => run(&stash, &dir, &["check"]),
        Kind::Restore => run(&stash, &dir, &["check", "--restore", &path("copy.jsonl")]),
        Kind::Salvage => run(&stash, &dir, &["check", "--salvage", &path("saved")]),
        Kind::Merge => run(&stash, &dir, &["merge", &path("theirs"), "--theirs"]),
        Kind::MergedFrom => {
            let stash_dir = dir.display().to_string();
            // The other copy lacks this change.
            run(
                &stash,
                &top.join("theirs"),
                &["merge", &stash_dir, "--mine"],
            )
        }
        Kind::Screen => on_screen(&dir, says),
        Kind::Accept => run(&stash, &dir, &["check", "--accept-loss"]),
    };
    let said = flat(&said);
    let mut after = tree(top);
    assert!(said.contains(says), "{what}: {says:?} is not in {said:?}");
    assert_eq!(ended, code, "{what}: {said}");
    assert!(!said.contains("panicked"), "{what}: {said}");
    if kind == Kind::MergedFrom {
        // Theirs may grow; here nothing does.
        let theirs = top.join("theirs");
        after.retain(|path, _| !path.starts_with(&theirs));
        let mut before = before;
        before.retain(|path, _| !path.starts_with(&theirs));
        assert_eq!(names(&after), names(&before), "{what}");
        assert!(after == before, "{what}");
        return;
    }
    let record_at = fs::canonicalize(&dir).unwrap().join("record.jsonl");
    let bytes = |tree: &Tree| tree.get(&record_at).map(|(_, _, bytes)| bytes.clone());
    match effect {
        Nothing => {
            assert_eq!(names(&after), names(&before), "{what}");
            assert!(after == before, "{what}: something was rewritten");
        }
        Adds => {
            let (was, is) = (bytes(&before).unwrap_or_default(), bytes(&after).unwrap());
            let was = good(&was);
            let header = b"{\"homehook\":1,";
            assert!(is.starts_with(was), "{what}: what was good is gone");
            let new = is[was.len()..]
                .iter()
                .filter(|&&byte| byte == b'\n')
                .count();
            let expected = if was.starts_with(header) { 1 } else { 2 };
            assert_eq!(new, expected, "{what}");
            assert_only_ours_changed(&before, &after, &what);
            let (code, said) = run(&stash, &dir, &["check"]);
            assert_eq!(code, 0, "{what}: {said}");
        }
        Restores => {
            assert_eq!(
                bytes(&after).unwrap(),
                fs::read(path("copy.jsonl")).unwrap(),
                "{what}"
            );
            if let Some(was) = bytes(&before) {
                let kept = after.iter().any(|(path, (_, _, bytes))| {
                    path.to_str().unwrap().contains("before-restore-") && *bytes == was
                });
                assert!(kept, "{what}: the record before is gone");
            }
            assert_only_ours_changed(&before, &after, &what);
            let (code, said) = run(&stash, &dir, &["check"]);
            // Where the record set aside doesn't go on from a newer backup, nothing says that the backup was passed over
            // knowingly.
            let backup = fs::read(dir.join("backups/record-2026-03-01.jsonl"));
            let was = bytes(&before).unwrap_or_default();
            let passed_over = backup.is_ok_and(|backup| !was.starts_with(&backup));
            let lacks = said.contains("holds 2 changes that the record lacks");
            assert_eq!(
                (code == 1, lacks),
                (passed_over, passed_over),
                "{what}: {said}"
            );
        }
        Saves => {
            let saved = top.join("saved");
            after.retain(|path, _| !path.starts_with(&saved));
            assert!(after == before, "{what}: something was rewritten");
            let (code, said) = run(&stash, &saved, &["check"]);
            assert_eq!(code, 0, "{what}: {said}");
        }
    }
}

fn names(tree: &Tree) -> Vec<&PathBuf> {
    tree.keys().collect()
}

/// Checks that nothing changed outside the folder, and inside only the record, its marker, an
/// outdated snapshot, and new files with the record's mode.
fn assert_only_ours_changed(before: &Tree, after: &Tree, what: &str) {
    let ours = ["record.jsonl", "record.end", "record.snapshot"];
    let mode = after
        .iter()
        .find(|(path, _)| path.ends_with("record.jsonl"))
        .map(|(_, (_, mode, _))| *mode);
    for (path, is) in after {
        let name = path.file_name().unwrap().to_str().unwrap();
        match before.get(path) {
            Some(was) if was == is => {}
            Some(_) => assert!(ours.contains(&name), "{what}: {path:?} was changed"),
            None if is.0 == 'd' => assert_eq!(name, "backups", "{what}: {path:?} is new"),
            None => {
                assert!(name.starts_with("record"), "{what}: {path:?} is new");
                assert!(!name.ends_with(".new"), "{what}: {path:?} was left");
                assert_eq!(Some(is.1), mode, "{what}: {path:?} has another mode");
            }
        }
    }
    for path in before.keys() {
        let is_ours = path.ends_with("record.snapshot");
        assert!(
            after.contains_key(path) || is_ours,
            "{what}: {path:?} is gone"
        );
    }
}

#[test]
fn every_state_of_the_folder_meets_every_kind_of_command() {
    let rows = rows();
    // The programs mostly wait for the disk, so run four rows at a time.
    thread::scope(|scope| {
        for part in rows.chunks(rows.len().div_ceil(4)) {
            scope.spawn(move || {
                for (at, row) in part.iter().enumerate() {
                    for (nth, (kind, cell)) in KINDS.into_iter().zip(row.2).enumerate() {
                        if is_long() || (at + nth).is_multiple_of(3) {
                            one_cell(row, kind, cell);
                        }
                    }
                }
            });
        }
    });
}

#[test]
fn new_files_have_the_mode_of_the_record() {
    for mode in [0o600, 0o660, 0o640] {
        let stash = scene();
        let dir = stash.dir();
        let set = |path: &Path| {
            fs::set_permissions(path, fs::Permissions::from_mode(mode)).unwrap();
        };
        set(&record(&dir));
        set(&marker(&dir));
        rewrite(&record(&dir), |bytes| bytes.extend(b"{\"seq\":13,\"ti"));
        // Sets a torn line aside, makes a backup, and then a restore keeps the record.
        stash.ok(&["use", "1", "--strands", "1"]);
        let copy = stash.folder.path().join("copy.jsonl").display().to_string();
        stash.ok(&["check", "--restore", &copy]);
        fs::remove_file(marker(&dir)).unwrap();
        // Without the marker, the backup from before the restore says that changes are lost.
        stash.ok(&["check", "--accept-loss"]);
        let saved = stash.folder.path().join("saved").display().to_string();
        stash.ok(&["check", "--salvage", &saved]);
        // If the record itself is gone, its marker gives the mode.
        fs::remove_file(record(&dir)).unwrap();
        stash.ok(&["check", "--restore", &copy]);
        fs::remove_file(record(&dir)).unwrap();
        stash.ok(&["check", "--accept-loss"]);
        let all = tree(&dir).into_iter().chain(tree(Path::new(&saved)));
        let files: Vec<_> = all.filter(|(_, (kind, ..))| *kind == 'f').collect();
        assert!(files.len() >= 7, "{files:?}");
        for (path, (_, is, _)) in files {
            assert_eq!(is & 0o777, mode, "{path:?}");
        }
    }
}

#[test]
fn a_write_protected_folder_is_read_and_never_changed() {
    let stash = scene();
    let dir = stash.dir();
    let mode = |path: &Path, mode| {
        fs::set_permissions(path, fs::Permissions::from_mode(mode)).unwrap();
    };
    let copy = program_for_anybody(&stash);
    for name in ["record.jsonl", "record.end"] {
        mode(&dir.join(name), 0o444);
    }
    mode(&dir, 0o555);
    let before = tree(stash.folder.path());
    let file = stash.folder.path().join("copy.jsonl").display().to_string();
    let theirs = stash.folder.path().join("theirs").display().to_string();
    for (args, code, says) in [
        (&["find", "1"][..], 0, "at home"),
        (
            &["use", "1", "--strands", "1"],
            1,
            "can be read but not written",
        ),
        (&["check"], 0, "All is well"),
        (&["check", "--restore", &file], 1, "Permission denied"),
        (
            &["merge", &theirs, "--theirs"],
            1,
            "can be read but not written",
        ),
        (&["check", "--accept-loss"], 1, "No change is lost"),
    ] {
        let run = as_nobody(&copy, &dir, args);
        assert_eq!(run.code, code, "{args:?}: {run:?}");
        let said = run.out + &run.err;
        assert!(said.contains(says), "{args:?}: {said}");
        assert!(tree(stash.folder.path()) == before, "{args:?}");
    }
    mode(&dir, 0o755);
}
