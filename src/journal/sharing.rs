//! Several users of one folder: a writer, readers beside it, and things that should not happen.

use std::fs;
use std::path::Path;
use std::time::Duration;

use jiff::Timestamp;

use super::folder::record_in;
use super::{Access, Entry, Record, RecordError, check};

fn append(record: &mut Record<String>, event: &str) -> Result<u64, RecordError> {
    record.append(Timestamp::UNIX_EPOCH, &event.to_owned())
}

fn writer(dir: &Path) -> Record<String> {
    let opened = Record::open(dir).unwrap();
    assert_eq!(opened.access, Access::Writer);
    opened.record
}

fn reader(dir: &Path) -> (Record<String>, Vec<String>) {
    let opened = Record::open(dir).unwrap();
    let Access::Reader {
        holder: Some(holder),
    } = opened.access
    else {
        panic!("{:?}", opened.access);
    };
    assert_eq!(holder.pid, std::process::id());
    (opened.record, names(opened.entries))
}

fn names(entries: Vec<Entry<String>>) -> Vec<String> {
    entries.into_iter().map(|entry| entry.event).collect()
}

#[test]
fn a_reader_follows_the_writer_and_takes_over() {
    let dir = tempfile::tempdir().unwrap();
    let mut first = writer(dir.path());
    append(&mut first, "a").unwrap();
    let (mut second, seen) = reader(dir.path());
    assert_eq!(seen, ["a"]);
    assert!(second.poll().unwrap().is_empty());
    let refused = append(&mut second, "no").unwrap_err().to_string();
    assert!(
        refused.contains("open in another window (process "),
        "{refused}"
    );

    append(&mut first, "b").unwrap();
    append(&mut first, "c").unwrap();
    assert_eq!(names(second.poll().unwrap()), ["b", "c"]);
    assert!(matches!(
        second.become_writer(Duration::ZERO).unwrap().access,
        Access::Reader { .. }
    ));
    append(&mut first, "d").unwrap();
    drop(first);
    let caught_up = second.become_writer(Duration::ZERO).unwrap();
    assert_eq!(caught_up.access, Access::Writer);
    assert_eq!(names(caught_up.entries), ["d"]);
    assert_eq!(append(&mut second, "e").unwrap(), 5);
    assert!(
        second
            .become_writer(Duration::ZERO)
            .unwrap()
            .entries
            .is_empty()
    );
}

#[test]
fn a_reader_leaves_an_unfinished_line_alone_until_it_is_the_writer() {
    let dir = tempfile::tempdir().unwrap();
    let mut first = writer(dir.path());
    append(&mut first, "a").unwrap();
    let (mut second, _) = reader(dir.path());
    append(&mut first, "b").unwrap();
    let whole = fs::read(record_in(dir.path())).unwrap();
    let half = whole[..whole.len() - 9].to_vec();
    fs::write(record_in(dir.path()), &half).unwrap();
    // Not acknowledged yet.
    fs::remove_file(dir.path().join("record.end")).unwrap();

    assert!(second.poll().unwrap().is_empty());
    let (_, seen) = reader(dir.path());
    assert_eq!(seen, ["a"]);
    assert_eq!(check::<String>(dir.path()).unwrap().problems, []);
    assert_eq!(fs::read(record_in(dir.path())).unwrap(), half);

    // The rest arrives.
    fs::write(record_in(dir.path()), &whole).unwrap();
    assert_eq!(names(second.poll().unwrap()), ["b"]);
    // The next one never does.
    let mut torn = whole.clone();
    torn.extend_from_slice(b"{\"seq\":3");
    fs::write(record_in(dir.path()), &torn).unwrap();
    drop(first);
    assert_eq!(check::<String>(dir.path()).unwrap().problems.len(), 1);
    let caught_up = second.become_writer(Duration::ZERO).unwrap();
    assert_eq!((caught_up.entries.len(), caught_up.notices.len()), (0, 1));
    assert_eq!(fs::read(record_in(dir.path())).unwrap(), whole);
}

#[test]
fn a_reader_is_told_when_what_it_read_is_gone() {
    let dir = tempfile::tempdir().unwrap();
    let mut first = writer(dir.path());
    append(&mut first, "a").unwrap();
    let before = fs::read(record_in(dir.path())).unwrap();
    append(&mut first, "b").unwrap();
    let (mut second, _) = reader(dir.path());
    let (mut third, _) = reader(dir.path());
    drop(first);
    // As after a sync that failed once the line was already to be seen.
    fs::write(record_in(dir.path()), &before).unwrap();
    let gone = second.poll().unwrap_err();
    assert!(matches!(gone, RecordError::Overtaken { .. }), "{gone}");
    let mut first = writer(dir.path());
    append(&mut first, "another b").unwrap();
    append(&mut first, "c").unwrap();
    drop(first);
    assert!(third.poll().is_err());
    assert!(third.become_writer(Duration::ZERO).is_err());
    assert_eq!(
        names(Record::open(dir.path()).unwrap().entries),
        ["a", "another b", "c"]
    );
}

#[test]
fn a_reader_may_come_before_the_record() {
    let dir = tempfile::tempdir().unwrap();
    let first = writer(dir.path());
    let header = fs::read(record_in(dir.path())).unwrap();
    fs::remove_file(record_in(dir.path())).unwrap();
    let (mut second, seen) = reader(dir.path());
    assert!(seen.is_empty());
    assert!(second.poll().unwrap().is_empty());
    fs::write(record_in(dir.path()), header).unwrap();
    assert!(second.poll().unwrap().is_empty());
    drop(first);
    assert_eq!(
        second.become_writer(Duration::ZERO).unwrap().access,
        Access::Writer
    );
    assert_eq!(append(&mut second, "a").unwrap(), 1);
}

#[test]
fn a_second_writer_behind_a_deleted_lock_file_is_noticed() {
    let dir = tempfile::tempdir().unwrap();
    let mut first = writer(dir.path());
    append(&mut first, "a").unwrap();
    fs::remove_file(dir.path().join("lock")).unwrap();
    let mut second = writer(dir.path());
    append(&mut second, "b").unwrap();
    let refused = append(&mut first, "lost").unwrap_err();
    assert!(
        matches!(refused, RecordError::Overtaken { .. }),
        "{refused}"
    );
    append(&mut second, "c").unwrap();
    drop((first, second));
    assert_eq!(
        names(Record::open(dir.path()).unwrap().entries),
        ["a", "b", "c"]
    );
}

#[cfg(unix)]
#[test]
fn a_copy_put_in_the_record_s_place_is_not_written_past() {
    let dir = tempfile::tempdir().unwrap();
    let mut first = writer(dir.path());
    append(&mut first, "a").unwrap();
    fs::copy(record_in(dir.path()), dir.path().join("copy")).unwrap();
    fs::rename(dir.path().join("copy"), record_in(dir.path())).unwrap();
    let refused = append(&mut first, "lost").unwrap_err();
    assert!(
        matches!(refused, RecordError::Overtaken { .. }),
        "{refused}"
    );
    fs::remove_file(record_in(dir.path())).unwrap();
    assert!(append(&mut first, "lost").is_err());
}

#[test]
fn an_event_that_could_not_be_read_again_is_not_recorded() {
    let dir = tempfile::tempdir().unwrap();
    let mut record = Record::<f64>::open(dir.path()).unwrap().record;
    record.append(Timestamp::UNIX_EPOCH, &1.5).unwrap();
    // JSON has no such number and would hold `null`.
    let refused = record.append(Timestamp::UNIX_EPOCH, &f64::NAN).unwrap_err();
    assert!(
        matches!(refused, RecordError::Unrecordable { .. }),
        "{refused}"
    );
    assert_eq!(record.append(Timestamp::UNIX_EPOCH, &2.5).unwrap(), 2);
    drop(record);
    assert_eq!(Record::<f64>::open(dir.path()).unwrap().entries.len(), 2);
}

#[test]
fn an_event_longer_than_a_line_may_be_is_not_recorded() {
    let dir = tempfile::tempdir().unwrap();
    let mut record = writer(dir.path());
    let refused = append(&mut record, &"x".repeat(64 << 20)).unwrap_err();
    assert!(
        matches!(refused, RecordError::Unrecordable { .. }),
        "{refused}"
    );
    assert_eq!(append(&mut record, &"x".repeat(1 << 20)).unwrap(), 1);
    drop(record);
    assert_eq!(
        names(Record::open(dir.path()).unwrap().entries)[0].len(),
        1 << 20
    );
}
