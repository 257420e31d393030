//! Several users of one folder: writers taking turns, concurrent readers, and other programs
//! interfering.

use std::fs;
use std::path::Path;
use std::time::Duration;

use jiff::Timestamp;

use super::{contents, folder_written, line_ends, record_in, twenty, writer};
use crate::journal::log::LogFile;
use crate::journal::{Damage, Entry, Loaded, Log, News, Notice, RecordError, check};

const NOW: Duration = Duration::ZERO;

fn append(log: &mut Log<String>, event: &str) -> Result<u64, RecordError> {
    log.append(Timestamp::UNIX_EPOCH, &event.to_owned())
}

/// Appends as a command does: locks, catches up, appends, unlocks.
fn append_once(log: &mut Log<String>, event: &str) -> Result<u64, RecordError> {
    if log.hold(NOW)? == News::Anew {
        log.load(None)?;
    }
    let appended = append(log, event);
    log.release();
    appended
}

fn reader(dir: &Path) -> (Log<String>, Vec<String>) {
    let (log, Loaded { entries, .. }) = Log::open(dir).unwrap();
    (log, names(entries))
}

fn names(entries: Vec<Entry<String>>) -> Vec<String> {
    entries.into_iter().map(|entry| entry.event).collect()
}

fn more(news: News<String>) -> Vec<String> {
    match news {
        News::More(entries) => names(entries),
        other => panic!("{other:?}"),
    }
}

#[test]
fn readers_follow_and_writers_take_turns() {
    let dir = tempfile::tempdir().unwrap();
    let (mut first, _) = reader(dir.path());
    append_once(&mut first, "a").unwrap();
    let (mut second, seen) = reader(dir.path());
    assert_eq!(seen, ["a"]);
    assert_eq!(second.look().unwrap(), News::None);
    append_once(&mut first, "b").unwrap();
    append_once(&mut first, "c").unwrap();
    assert_eq!(more(second.look().unwrap()), ["b", "c"]);
    assert_eq!(append_once(&mut second, "d").unwrap(), 4);
    assert_eq!(more(first.look().unwrap()), ["d"]);
    // While one holds the lock, the other reads but doesn't write.
    first.hold(NOW).unwrap();
    assert_eq!(append(&mut first, "e").unwrap(), 5);
    assert!(matches!(second.hold(NOW), Err(RecordError::Busy)));
    assert!(append(&mut second, "no").is_err());
    assert_eq!(more(second.look().unwrap()), ["e"]);
    first.release();
    assert_eq!(append_once(&mut second, "f").unwrap(), 6);
}

#[test]
fn reading_changes_nothing_and_takes_no_lock_in_any_state() {
    let dir = folder_written(&twenty());
    let bytes = fs::read(record_in(dir.path())).unwrap();
    let half = [&bytes[..], b"{\"seq\":21,"].concat();
    for bytes in [&bytes[..], &half, &bytes[..200], b"", b"x", b"\0\0"] {
        fs::write(record_in(dir.path()), bytes).unwrap();
        let before = contents(dir.path());
        let _held = writer_or_none(dir.path());
        let (mut log, _) = reader(dir.path());
        log.look().unwrap();
        drop(check::<String>(dir.path()));
        assert_eq!(contents(dir.path()), before);
    }
}

fn writer_or_none(dir: &Path) -> Option<Log<String>> {
    let (mut log, _) = Log::<String>::open(dir).unwrap();
    log.hold(NOW).ok().map(|_| log)
}

#[test]
fn an_unfinished_line_is_left_alone_until_the_next_append() {
    let dir = folder_written(&["a".to_owned()]);
    let whole = {
        let mut log = writer(dir.path());
        append(&mut log, "b").unwrap();
        fs::read(record_in(dir.path())).unwrap()
    };
    let half = &whole[..whole.len() - 9];
    fs::write(record_in(dir.path()), half).unwrap();
    // Not acknowledged yet.
    fs::remove_file(dir.path().join("record.end")).unwrap();
    let (mut second, seen) = reader(dir.path());
    assert_eq!(seen, ["a"]);
    assert_eq!(fs::read(record_in(dir.path())).unwrap(), half);
    // The rest arrives.
    fs::write(record_in(dir.path()), &whole).unwrap();
    assert_eq!(more(second.look().unwrap()), ["b"]);
    // The rest of the next line never arrives.
    let torn = [&whole[..], b"{\"seq\":3"].concat();
    fs::write(record_in(dir.path()), &torn).unwrap();
    assert_eq!(check::<String>(dir.path()).unwrap().problems.len(), 1);
    second.look().unwrap();
    second.hold(NOW).unwrap();
    assert_eq!(fs::read(record_in(dir.path())).unwrap(), torn);
    assert_eq!(append(&mut second, "c").unwrap(), 3);
    assert!(fs::read(record_in(dir.path())).unwrap().starts_with(&whole));
    assert_eq!(second.take_notices().len(), 1);
}

#[test]
fn a_lost_event_that_was_read_is_a_loss_until_it_comes_back() {
    let dir = tempfile::tempdir().unwrap();
    let mut first = writer(dir.path());
    append(&mut first, "a").unwrap();
    let before = fs::read(record_in(dir.path())).unwrap();
    append(&mut first, "b").unwrap();
    let after = fs::read(record_in(dir.path())).unwrap();
    first.release();
    let (mut second, _) = reader(dir.path());
    fs::write(record_in(dir.path()), &before).unwrap();
    assert_eq!(second.look().unwrap(), News::Anew);
    second.load(None).unwrap();
    let (recorded, found) = (2, 1);
    assert_eq!(
        second.damage(),
        Some(&Damage::Shortened { recorded, found })
    );
    for log in [&mut first, &mut second] {
        let refused = append_once(log, "another b").unwrap_err();
        assert!(matches!(refused, RecordError::ReadOnly(_)), "{refused:?}");
    }
    assert_eq!(fs::read(record_in(dir.path())).unwrap(), before);
    fs::write(record_in(dir.path()), &after).unwrap();
    assert_eq!(append_once(&mut first, "c").unwrap(), 3);
    assert_eq!(append_once(&mut second, "d").unwrap(), 4);
    assert_eq!(reader(dir.path()).1, ["a", "b", "c", "d"]);
}

#[test]
fn a_process_that_read_more_sees_a_loss_even_without_the_marker() {
    let dir = folder_written(&twenty());
    let (mut log, _) = reader(dir.path());
    let bytes = fs::read(record_in(dir.path())).unwrap();
    fs::write(record_in(dir.path()), &bytes[..line_ends(&bytes)[12]]).unwrap();
    fs::remove_file(dir.path().join("record.end")).unwrap();
    let refused = append_once(&mut log, "over it").unwrap_err();
    let (recorded, found) = (20, 12);
    let RecordError::ReadOnly(damage) = refused else {
        panic!("{refused:?}");
    };
    assert_eq!(damage, Damage::Shortened { recorded, found });
}

#[test]
fn a_process_remembers_what_it_read_however_often_it_looks() {
    let dir = folder_written(&twenty());
    let (mut log, _) = reader(dir.path());
    let bytes = fs::read(record_in(dir.path())).unwrap();
    let cut = &bytes[..line_ends(&bytes)[12]];
    fs::remove_file(dir.path().join("record.end")).unwrap();
    for _ in 0..3 {
        // Rewritten, so that the file's identity changes.
        fs::remove_file(record_in(dir.path())).unwrap();
        fs::write(record_in(dir.path()), cut).unwrap();
        assert_eq!(log.look().unwrap(), News::Anew);
        log.load(None).unwrap();
        let (recorded, found) = (20, 12);
        assert_eq!(log.damage(), Some(&Damage::Shortened { recorded, found }));
        assert!(append_once(&mut log, "over it").is_err());
    }
    fs::write(record_in(dir.path()), &bytes).unwrap();
    assert_eq!(append_once(&mut log, "whole again").unwrap(), 21);
}

#[test]
fn a_record_that_became_unreadable_is_not_overwritten() {
    let newer = b"{\"homehook\":9,\"sum\":\"x\"}\nbinary";
    let dir = folder_written(&twenty());
    let (mut log, _) = reader(dir.path());
    fs::write(record_in(dir.path()), newer).unwrap();
    for _ in 0..3 {
        assert_eq!(log.look().unwrap(), News::Anew);
        assert!(matches!(
            log.load(None),
            Err(RecordError::NewerFormat { .. })
        ));
        assert!(append_once(&mut log, "over it").is_err());
        // Nor by a log that wasn't loaded again as required.
        log.hold(NOW).unwrap();
        assert!(append(&mut log, "over it").is_err());
        log.release();
        assert_eq!(fs::read(record_in(dir.path())).unwrap(), newer);
    }
}

#[test]
fn a_process_that_read_this_record_notices_another_without_a_marker() {
    let dir = folder_written(&twenty());
    let (mut log, _) = reader(dir.path());
    let other = folder_written(&vec!["another".to_owned(); 25]);
    fs::copy(record_in(other.path()), record_in(dir.path())).unwrap();
    fs::remove_file(dir.path().join("record.end")).unwrap();
    let refused = append_once(&mut log, "into it").unwrap_err();
    let (recorded, found) = (20, 25);
    let RecordError::ReadOnly(damage) = refused else {
        panic!("{refused:?}");
    };
    assert_eq!(damage, Damage::Exchanged { recorded, found });
}

#[test]
fn a_concurrent_append_by_somebody_else_is_not_cut_off() {
    #[derive(Debug)]
    struct Elsewhere(fs::File);
    impl LogFile for Elsewhere {
        fn write(&mut self, at: u64, bytes: &[u8]) -> std::io::Result<usize> {
            LogFile::write(&mut self.0, at, bytes)
        }
        fn sync(&mut self) -> std::io::Result<()> {
            // The file has been moved to another folder and written to there.
            let end = self.0.metadata()?.len();
            LogFile::write(&mut self.0, end, b"theirs\n")?;
            Err(std::io::ErrorKind::StorageFull.into())
        }
        fn truncate(&mut self, len: u64) -> std::io::Result<()> {
            self.0.set_len(len)
        }
        fn length(&mut self) -> std::io::Result<u64> {
            LogFile::length(&mut self.0)
        }
    }
    let dir = folder_written(&["a".to_owned()]);
    let mut log = writer(dir.path());
    let file = fs::OpenOptions::new()
        .write(true)
        .open(record_in(dir.path()));
    log.write_through(Elsewhere(file.unwrap()));
    assert!(append(&mut log, "b").is_err());
    assert!(
        fs::read(record_in(dir.path()))
            .unwrap()
            .ends_with(b"theirs\n")
    );
}

#[test]
fn a_copy_put_in_place_of_a_held_record_is_not_written_to() {
    let dir = tempfile::tempdir().unwrap();
    let mut first = writer(dir.path());
    append(&mut first, "a").unwrap();
    fs::copy(record_in(dir.path()), dir.path().join("copy")).unwrap();
    fs::rename(dir.path().join("copy"), record_in(dir.path())).unwrap();
    let refused = append(&mut first, "lost").unwrap_err();
    assert!(
        matches!(refused, RecordError::Overtaken { .. }),
        "{refused:?}"
    );
    fs::remove_file(record_in(dir.path())).unwrap();
    assert!(append(&mut first, "lost").is_err());
    first.release();
    assert!(matches!(
        append_once(&mut first, "lost"),
        Err(RecordError::ReadOnly(Damage::Missing { recorded: Some(1) }))
    ));
    assert!(!record_in(dir.path()).exists());
}

/// Takes the record away between the sync and the acknowledgement, as in a folder that another
/// program moves: the line goes to a file that has lost its name.
#[derive(Debug)]
struct Snatching {
    file: fs::File,
    dir: std::path::PathBuf,
}

impl LogFile for Snatching {
    fn write(&mut self, at: u64, bytes: &[u8]) -> std::io::Result<usize> {
        LogFile::write(&mut self.file, at, bytes)
    }

    fn sync(&mut self) -> std::io::Result<()> {
        let _ = fs::rename(record_in(&self.dir), self.dir.join("away"));
        Ok(())
    }

    fn truncate(&mut self, len: u64) -> std::io::Result<()> {
        self.file.set_len(len)
    }

    fn length(&mut self) -> std::io::Result<u64> {
        LogFile::length(&mut self.file)
    }
}

#[test]
fn a_record_taken_away_during_a_write_acknowledges_nothing() {
    let dir = tempfile::tempdir().unwrap();
    let mut first = writer(dir.path());
    append(&mut first, "a").unwrap();
    let before = fs::read(record_in(dir.path())).unwrap();
    let file = fs::OpenOptions::new()
        .write(true)
        .open(record_in(dir.path()))
        .unwrap();
    first.write_through(Snatching {
        file,
        dir: dir.path().to_owned(),
    });
    let refused = append(&mut first, "lost").unwrap_err();
    assert!(matches!(refused, RecordError::Overtaken { .. }));
    // And if it comes back, the line isn't in it.
    fs::rename(dir.path().join("away"), record_in(dir.path())).unwrap();
    assert_eq!(fs::read(record_in(dir.path())).unwrap(), before);
    assert_eq!(check::<String>(dir.path()).unwrap().problems, []);
}

#[test]
fn a_record_copied_in_by_hand_can_be_continued_and_gets_a_marker() {
    let dir = folder_written(&twenty());
    fs::remove_file(dir.path().join("record.end")).unwrap();
    let (mut log, loaded) = Log::<String>::open(dir.path()).unwrap();
    assert_eq!(loaded.notices, [Notice::NoMarker]);
    append_once(&mut log, "more").unwrap();
    let (_, loaded) = Log::<String>::open(dir.path()).unwrap();
    assert_eq!((loaded.entries.len(), loaded.notices), (21, vec![]));
    let bytes = fs::read(record_in(dir.path())).unwrap();
    fs::write(record_in(dir.path()), &bytes[..line_ends(&bytes)[20]]).unwrap();
    assert!(
        Log::<String>::open(dir.path())
            .unwrap()
            .0
            .damage()
            .is_some()
    );
}

#[test]
fn a_failed_first_append_leaves_no_record() {
    let dir = tempfile::tempdir().unwrap();
    let mut log = Log::<f64>::at(dir.path());
    log.load(None).unwrap();
    log.hold(NOW).unwrap();
    assert!(log.append(Timestamp::UNIX_EPOCH, &f64::NAN).is_err());
    assert_eq!(contents(dir.path()).len(), 0);
    fs::create_dir(dir.path().join("record.end")).unwrap();
    assert!(log.append(Timestamp::UNIX_EPOCH, &1.5).is_err());
    assert_eq!(contents(dir.path()).len(), 0);
    fs::remove_dir(dir.path().join("record.end")).unwrap();
    assert_eq!(log.append(Timestamp::UNIX_EPOCH, &1.5).unwrap(), 1);
}

#[test]
fn an_event_that_could_not_be_read_back_is_not_recorded() {
    let dir = tempfile::tempdir().unwrap();
    let (mut log, _) = Log::<f64>::open(dir.path()).unwrap();
    log.hold(NOW).unwrap();
    log.append(Timestamp::UNIX_EPOCH, &1.5).unwrap();
    // JSON has no such number and would write `null`.
    let refused = log.append(Timestamp::UNIX_EPOCH, &f64::NAN).unwrap_err();
    assert!(
        matches!(refused, RecordError::Unrecordable { .. }),
        "{refused:?}"
    );
    assert_eq!(log.append(Timestamp::UNIX_EPOCH, &2.5).unwrap(), 2);
    let (_, loaded) = Log::<f64>::open(dir.path()).unwrap();
    assert_eq!(loaded.entries.len(), 2);
}

#[test]
fn an_event_over_the_maximum_line_length_is_not_recorded() {
    let dir = tempfile::tempdir().unwrap();
    let mut log = writer(dir.path());
    let refused = append(&mut log, &"x".repeat(64 << 20)).unwrap_err();
    assert!(
        matches!(refused, RecordError::Unrecordable { .. }),
        "{refused:?}"
    );
    assert_eq!(append(&mut log, &"x".repeat(1 << 20)).unwrap(), 1);
    assert_eq!(reader(dir.path()).1[0].len(), 1 << 20);
}
