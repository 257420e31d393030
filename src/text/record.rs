//! Errors of the record, and what to do about them, in sentences.
//!
//! Errors are whole sentences: what happened, to what, what to do next. A text documented as a
//! clause starts in lower case and has no full stop, to be part of a sentence or a list. The shell
//! and the screen add their command or key.

use std::io;
use std::path::Path;

use jiff::Timestamp;

use super::faults::apply_error;
use super::{capital, one_or_many, refusal};
use crate::journal::backup::{BackupError, NoBackup};
use crate::journal::restore::{RestoreError, Unsound};
use crate::journal::salvage::{What, Why, WriteError};
use crate::journal::{
    AcceptError, CommitError, Damage, FORMAT_VERSION, Foreign, HistoryError, LineError, MAX_LINE,
    Notice, ReadOnly, RecordError, Unrecordable,
};
use crate::stash::apply::ApplyError;

const BUSY: &str = "Nothing changed: another Homehook is writing to this stash. Try again.";
/// What to do about files without write permission.
const PERMISSIONS: &str = "Check the permissions of its folder and of the files in it.";

/// What to do about an entry that isn't a plain file.
fn instead_of_foreign(path: &Path) -> &'static str {
    if path.file_name().is_some_and(|name| name == "record.end") {
        "Delete it: the next change writes it again."
    } else {
        "Homehook uses only plain files inside a stash folder: put the file itself there."
    }
}

/// Why a record couldn't be opened, read or written.
#[must_use]
pub fn record_error(error: &RecordError) -> String {
    match error {
        RecordError::Folder { path, source }
        | RecordError::Lock { path, source }
        | RecordError::Unwritable { path, source }
        | RecordError::Read { path, source }
        | RecordError::Create { path, source }
        | RecordError::NotSaved { path, source }
        | RecordError::NotSynced { path, source }
        | RecordError::NotUndone { path, source, .. } => refused_by_the_system(error, path, source),
        RecordError::Busy => BUSY.to_owned(),
        RecordError::Foreign { path, foreign: of } => format!(
            "{path} is {of}. {next}",
            next = instead_of_foreign(path),
            path = path.display(),
            of = foreign(*of)
        ),
        RecordError::ReadOnly(damage) => {
            format!("Nothing changed: {why}.", why = damage_clause(damage))
        }
        RecordError::NoRecord { path } => format!(
            "There is no record in {path}. Check the folder's name.",
            path = path.display()
        ),
        RecordError::Missing { path, recorded } => format!(
            "{path} is gone or empty, though it held {changes}.",
            path = path.display(),
            changes = recorded.map_or("changes".to_owned(), changes)
        ),
        RecordError::LossyCopy { path, damage } => format!(
            "{path} isn't complete ({why}). Take another copy of it.",
            path = path.display(),
            why = damage_clause(damage)
        ),
        RecordError::DamagedCopy { path, line, reason } => format!(
            "{path} is damaged in line {line} ({why}). Take another copy of it.",
            path = path.display(),
            why = line_error(reason)
        ),
        RecordError::NewerFormat { path, found, known } => format!(
            "{path} is in format {found}, and this Homehook reads formats up to {known}. Open it \
             with a newer Homehook; if there never was one, line 1 is damaged.",
            path = path.display()
        ),
        RecordError::Unrecordable(why) => {
            let why = unrecordable(why);
            format!("Nothing changed: the record can't take this change ({why}).")
        }
        RecordError::InDoubt { path } => format!(
            "Not saved: an earlier change failed and left {path} in doubt. Open the stash again to \
             have it checked.",
            path = path.display()
        ),
        RecordError::Overtaken { path } => format!(
            "Something else changed {path} after it was opened here, and nothing was recorded. Open \
             the stash again to see what is in it.",
            path = path.display()
        ),
    }
}

/// The same for a file operation that the system refused.
fn refused_by_the_system(error: &RecordError, path: &Path, source: &io::Error) -> String {
    let (path, why) = (path.display(), system(source));
    match error {
        RecordError::Folder { .. } => format!("The stash folder {path} can't be made ({why})."),
        RecordError::Lock { .. } => format!(
            "{path} can't be locked ({why}), so two windows could write at once. Keep the stash \
             folder on a disk of this computer."
        ),
        RecordError::Unwritable { .. } => {
            format!("Nothing changed: {path} can't be written ({why}). {PERMISSIONS}")
        }
        RecordError::Read { .. } => format!(
            "{path} can't be read ({why}). Check that the disk is there and that you may read it."
        ),
        RecordError::Create { .. } => format!(
            "A new record can't be written to {path} ({why}). Make room on the disk, or choose \
             another folder."
        ),
        RecordError::NotSaved { .. } => format!(
            "Not saved: {path} can't be written ({why}). Make room on the disk, then make the \
             change again."
        ),
        RecordError::NotSynced { .. } => format!(
            "Not saved: the disk didn't confirm {path} ({why}). Earlier changes are safe: check \
             the disk, then open the stash again."
        ),
        RecordError::NotUndone { undo, .. } => format!(
            "Not saved: {path} can't be written ({why}), and its end couldn't be put right \
             ({undo}). Check the disk, then open the stash again.",
            undo = system(undo)
        ),
        _ => format!("{path} can't be reached ({why}). Check the disk, then open the stash again."),
    }
}

/// The damage to a record as a whole, and which part of it is good.
#[must_use]
pub fn damage(damage: &Damage) -> String {
    let what = sentence(&damage_clause(damage));
    let good = match damage {
        Damage::Line { good: 0, .. } => return what,
        Damage::Line {
            reason: LineError::UnknownEvent { .. },
            good,
            ..
        } => format!("{before} can be read.", before = before(*good)),
        Damage::Line { good, .. } => format!(
            "{before} {are} good.",
            before = before(*good),
            are = one_or_many(*good, "is", "are")
        ),
        Damage::Marker { found } if *found > 0 => format!(
            "The {changes} in it {are} good.",
            changes = changes(*found),
            are = one_or_many(*found, "is", "are")
        ),
        Damage::Marker { .. }
        | Damage::Shortened { .. }
        | Damage::Exchanged { .. }
        | Damage::Missing { .. } => return what,
    };
    format!("{what} {good}")
}

fn damage_clause(damage: &Damage) -> String {
    match damage {
        Damage::Line {
            line,
            reason: reason @ LineError::UnknownEvent { .. },
            ..
        } => format!(
            "line {line} of the record holds {what}",
            what = line_error(reason)
        ),
        Damage::Line { line, reason, .. } => format!(
            "line {line} of the record is damaged ({why})",
            why = line_error(reason)
        ),
        Damage::Shortened { recorded, found } => format!(
            "the record has lost changes: {recorded} {were} recorded, and {found} {are} left",
            were = one_or_many(*recorded, "was", "were"),
            are = one_or_many(*found, "is", "are")
        ),
        Damage::Exchanged { recorded, .. } => format!(
            "another record is in the place of this stash's: change {recorded} isn't the one \
             recorded last"
        ),
        Damage::Marker { .. } => {
            "record.end can't be read, so nothing proves that the record is complete".to_owned()
        }
        Damage::Missing {
            recorded: Some(recorded),
        } => format!(
            "the record is missing, though it held {changes}",
            changes = changes(*recorded)
        ),
        Damage::Missing { recorded: None } => {
            "the record is gone or empty, though this folder held one".to_owned()
        }
    }
}

/// What is wrong with a line of the record, as a clause: `changed or moved after it was written`.
#[must_use]
pub fn line_error(error: &LineError) -> String {
    match error {
        LineError::Header => "not the first line of a Homehook record".to_owned(),
        LineError::Shape => "not in the form of a record line".to_owned(),
        LineError::Changed => "changed or moved after it was written".to_owned(),
        LineError::Sequence { expected, found } => {
            format!("numbered {found} where {expected} was due")
        }
        LineError::Stamp { stamp, after } => format!(
            "its stamp {stamp} isn't later than {after} in the previous line",
            stamp = stamp.0,
            after = after.0
        ),
        LineError::UnknownEvent { detail } => {
            format!("a change from a newer Homehook ({detail})")
        }
        LineError::TooLong => format!("longer than {most} MiB", most = MAX_LINE >> 20),
        LineError::Unfinished => "breaks off unfinished".to_owned(),
    }
}

/// A harmless finding in a record.
#[must_use]
pub fn notice(notice: &Notice) -> String {
    match notice {
        Notice::Torn {
            line,
            bytes,
            kept: Some(kept),
        } => format!(
            "The record broke off in line {line}, in the middle of a change. Its {bytes} bytes are \
             set aside in {path}.",
            path = kept.display()
        ),
        Notice::Torn { line, bytes, .. } => format!(
            "The record breaks off in line {line}, in the middle of a change ({bytes} bytes). If \
             that change isn't on the board, make it again."
        ),
        Notice::NoMarker => "record.end is missing from the stash folder, so changes cut off the \
             end of the record wouldn't show. The next change writes it again."
            .to_owned(),
        Notice::Lacks { day, changes, .. } => format!(
            "The backup of {day} holds {changes} {word} that the record lacks. A sync may have put \
             another computer's record in its place.",
            word = one_or_many(*changes, "change", "changes")
        ),
        Notice::Replaced => "Another record was put in place of this one, and it lacks changes \
             that were here. Look at the board."
            .to_owned(),
    }
}

/// The note that the stash can be read but not changed.
#[must_use]
pub fn read_only(why: &ReadOnly) -> String {
    let reason = read_only_reason(why);
    match why {
        ReadOnly::Damaged(Damage::Line { line, .. }) => format!(
            "The stash is read-only and shown as it was before line {line} of the record: {reason}"
        ),
        ReadOnly::ApplyError { seq, .. } => {
            format!("The stash is read-only and shown as it was before change {seq}: {reason}")
        }
        _ => format!("The stash is read-only: {reason}"),
    }
}

/// The refusal of a change because the stash is read-only.
#[must_use]
pub fn not_changed(why: &ReadOnly) -> String {
    format!("Nothing changed: {why}", why = read_only_reason(why))
}

/// Why the stash can't be changed, as the end of a sentence, and what to do about it.
#[must_use]
pub fn read_only_reason(why: &ReadOnly) -> String {
    match why {
        ReadOnly::Damaged(damage) => format!("{why}.", why = damage_clause(damage)),
        ReadOnly::ApplyError { seq, misfit: of } => {
            format!("{why}.", why = misfit_clause(*seq, of))
        }
        ReadOnly::Protected => format!("the stash can be read but not written. {PERMISSIONS}"),
        ReadOnly::Foreign { path, foreign: of } => format!(
            "{path} is {of}. {next}",
            next = instead_of_foreign(path),
            path = path.display(),
            of = foreign(*of)
        ),
        ReadOnly::Gone(path) => format!(
            "the stash is gone from {path}. Put its folder back.",
            path = path.display()
        ),
    }
}

/// Why a change isn't on disk.
#[must_use]
pub fn commit_error(error: &CommitError) -> String {
    match error {
        CommitError::Refused(refusal) => refusal::sentence(refusal),
        CommitError::Overtaken { .. } => {
            "Nothing saved: another window has changed the stash.".to_owned()
        }
        CommitError::Record(error) => record_error(error),
        CommitError::ReadOnly(why) => not_changed(why),
    }
}

/// Why a loss wasn't accepted.
#[must_use]
pub fn accept_error(error: &AcceptError) -> String {
    match error {
        AcceptError::NothingLost => "No change is lost, so there is nothing to accept.".to_owned(),
        AcceptError::Damaged(damage) => {
            format!("Nothing changed: {why}.", why = damage_clause(damage))
        }
        AcceptError::ApplyError { seq, misfit: of } => {
            format!("Nothing changed: {why}.", why = misfit_clause(*seq, of))
        }
        AcceptError::Record(error) => record_error(error),
    }
}

/// Why the history can't be shown.
#[must_use]
pub fn history_error(error: &HistoryError) -> String {
    match error {
        HistoryError::Record(error) => record_error(error),
        HistoryError::ApplyError(of) => {
            format!("The history can't be shown: {why}.", why = apply_error(of))
        }
    }
}

/// Why today's backup wasn't made.
#[must_use]
pub fn backup_error(error: &BackupError) -> String {
    let path = error.path.display();
    match &error.reason {
        NoBackup::Differs => {
            "No backup today: the record isn't what was read before, and is read again.".to_owned()
        }
        NoBackup::Io(source) => format!(
            "No backup today in {path}: {why}. Your changes are recorded; mend that folder, or copy the stash \
             folder yourself.",
            why = system(source)
        ),
    }
}

/// Why a copy didn't replace the record.
#[must_use]
pub fn restore_error(error: &RestoreError) -> String {
    match error {
        RestoreError::Unreadable { path, source } => format!(
            "{path} can't be read ({source}).",
            path = path.display(),
            source = system(source)
        ),
        RestoreError::Unsound { path, unsound: why } => format!(
            "{path} isn't a sound record: {why}. Nothing changed: choose another one.",
            path = path.display(),
            why = unsound(why)
        ),
        RestoreError::AnotherStash { path } => format!(
            "Nothing changed: {path} is the record of another stash.",
            path = path.display()
        ),
        RestoreError::Record(error) => record_error(error),
        RestoreError::Failed { source } => format!(
            "The copy couldn't be put in the record's place ({source}), but a whole record is there: the previous one, or the copy.",
            source = system(source)
        ),
    }
}

/// Why a file isn't a sound record, as a clause: `line 7 breaks off unfinished`.
#[must_use]
pub fn unsound(why: &Unsound) -> String {
    match why {
        Unsound::Damaged { line, reason } => {
            format!("line {line} is damaged ({why})", why = line_error(reason))
        }
        Unsound::Torn { line } => format!("line {line} breaks off unfinished"),
        Unsound::Newer { found } => {
            format!("in format {found}, and this Homehook reads formats up to {FORMAT_VERSION}")
        }
        Unsound::ApplyError { seq, misfit: of } => misfit_clause(*seq, of),
    }
}

/// Why a new stash wasn't written.
#[must_use]
pub fn write_error(error: &WriteError) -> String {
    match error {
        WriteError::NotEmpty(path) => format!(
            "{path} isn't empty. Name a folder that is, or one that isn't there yet.",
            path = path.display()
        ),
        WriteError::Failed { path, source } => format!(
            "A new stash can't be written in {path} ({source}). Make room, or name another folder.",
            path = path.display(),
            source = system(source)
        ),
    }
}

/// An item left out of a new stash, as a sentence without its full stop. Shows its time as written
/// in the record, or as formatted by `at`.
#[must_use]
pub fn left_out(what: &What<String>, at: Option<&dyn Fn(Timestamp) -> String>) -> String {
    match what {
        What::Change(told) => told.clone(),
        What::Fragment { kind, time } => {
            let time = time.as_ref().map(|time| {
                let made = time.parse().ok();
                at.zip(made)
                    .map_or_else(|| time.clone(), |(at, made)| at(made))
            });
            match (kind.as_ref().map(|kind| kind.replace('_', " ")), time) {
                (Some(kind), Some(time)) => {
                    format!("A change of the kind '{kind}', made {time}")
                }
                (Some(kind), None) => format!("A change of the kind '{kind}'"),
                (None, Some(time)) => format!("A change made {time}"),
                (None, None) => "A change".to_owned(),
            }
        }
        What::Header => "The first line of a record, which holds no change".to_owned(),
        What::FirstLine => "The first line, which holds no change".to_owned(),
        What::Empty => "An empty line".to_owned(),
        What::Unreadable => "Not readable".to_owned(),
        What::Gone { first, last } if first == last => format!("Change {first}"),
        What::Gone { first, last } => format!("Changes {first} to {last}"),
    }
}

/// Why an item was left out of a new stash, as a clause: `it belongs to another record`.
#[must_use]
pub fn why_left_out(why: &Why) -> String {
    match why {
        Why::LineError(error) => line_error(error),
        Why::Twice => "recorded twice, so taken once".to_owned(),
        Why::OtherRecord => "it belongs to another record".to_owned(),
        Why::ApplyError(of) => format!(
            "it doesn't fit without what was lost before it: {why}",
            why = apply_error(of)
        ),
        Why::NothingToTurn(seq) => {
            format!("it undoes change {seq}, which wasn't taken or isn't the last")
        }
        Why::Gone => "nothing of it is in the file".to_owned(),
        Why::TooLong => "it, or what comes after it, is too long to be read".to_owned(),
    }
}

/// The system's error, or the kind of entry found in place of a plain file.
#[must_use]
pub fn system(error: &io::Error) -> String {
    match Foreign::behind(error) {
        Some(of) => format!("it is {of}", of = foreign(of)),
        None => error.to_string(),
    }
}

const fn foreign(foreign: Foreign) -> &'static str {
    match foreign {
        Foreign::Link => "a link",
        Foreign::HardLink => "a file with a second name elsewhere (a hard link)",
        Foreign::Folder => "a folder",
        Foreign::Special => "a pipe or a device",
        Foreign::NotAFolder => "a file, not a folder",
    }
}

fn unrecordable(why: &Unrecordable) -> String {
    match why {
        Unrecordable::NoRandomNumber(error) => error.to_string(),
        Unrecordable::NoForm(error) => error.to_string(),
        Unrecordable::Line(error) => line_error(error),
    }
}

fn misfit_clause(seq: u64, of: &ApplyError) -> String {
    format!(
        "change {seq} of the record doesn't fit ({why})",
        why = apply_error(of)
    )
}

fn changes(count: u64) -> String {
    format!(
        "{count} {word}",
        word = one_or_many(count, "change", "changes")
    )
}

/// `The 5 changes before it`
fn before(good: u64) -> String {
    match good {
        1 => "The change before it".to_owned(),
        good => format!("The {good} changes before it"),
    }
}

/// A clause as a sentence.
fn sentence(clause: &str) -> String {
    capital(clause) + "."
}

#[cfg(test)]
mod tests {
    use std::path::PathBuf;

    use super::*;
    use crate::model::ids::Stamp;

    fn failed() -> io::Error {
        io::ErrorKind::StorageFull.into()
    }

    fn path() -> PathBuf {
        "stash/record.jsonl".into()
    }

    fn line_errors() -> Vec<LineError> {
        let (expected, found) = (7, 9);
        let (stamp, after) = (Stamp(1), Stamp(2));
        let detail = "unknown variant".to_owned();
        vec![
            LineError::Header,
            LineError::Shape,
            LineError::Changed,
            LineError::Sequence { expected, found },
            LineError::Stamp { stamp, after },
            LineError::UnknownEvent { detail },
            LineError::TooLong,
            LineError::Unfinished,
        ]
    }

    fn damages() -> Vec<Damage> {
        let (recorded, found) = (20, 15);
        let lines = line_errors().into_iter().flat_map(|reason| {
            [0, 1, 5].map(|good| Damage::Line {
                line: 7,
                reason: reason.clone(),
                good,
            })
        });
        let others = [
            Damage::Shortened { recorded, found },
            Damage::Exchanged { recorded, found },
            Damage::Marker { found: 0 },
            Damage::Marker { found: 1 },
            Damage::Marker { found },
            Damage::Missing { recorded: Some(1) },
            Damage::Missing { recorded: None },
        ];
        lines.chain(others).collect()
    }

    fn record_errors() -> Vec<RecordError> {
        use RecordError as E;
        let (path, source) = (path(), failed());
        let again = || (self::path(), failed());
        let mut errors = vec![
            E::Folder { path, source },
            E::Busy,
            E::NoRecord { path: self::path() },
            E::InDoubt { path: self::path() },
            E::Overtaken { path: self::path() },
            E::Unrecordable(Unrecordable::Line(LineError::TooLong)),
            E::NewerFormat {
                path: self::path(),
                found: 9,
                known: 1,
            },
            E::NotUndone {
                path: self::path(),
                source: failed(),
                undo: failed(),
            },
        ];
        let all: [fn(PathBuf, io::Error) -> E; 6] = [
            |path, source| E::Lock { path, source },
            |path, source| E::Unwritable { path, source },
            |path, source| E::Read { path, source },
            |path, source| E::Create { path, source },
            |path, source| E::NotSaved { path, source },
            |path, source| E::NotSynced { path, source },
        ];
        errors.extend(all.map(|error| {
            let (path, source) = again();
            error(path, source)
        }));
        errors.extend([Some(1), Some(20), None].map(|recorded| E::Missing {
            path: self::path(),
            recorded,
        }));
        for foreign in foreigns() {
            let path = self::path();
            errors.push(E::Foreign { path, foreign });
        }
        for damage in damages() {
            errors.push(E::ReadOnly(damage.clone()));
            let path = self::path();
            errors.push(E::LossyCopy { path, damage });
        }
        for reason in line_errors() {
            let (path, line) = (self::path(), 7);
            errors.push(E::DamagedCopy { path, line, reason });
        }
        errors
    }

    fn foreigns() -> [Foreign; 5] {
        [
            Foreign::Link,
            Foreign::HardLink,
            Foreign::Folder,
            Foreign::Special,
            Foreign::NotAFolder,
        ]
    }

    fn restore_errors() -> [RestoreError; 4] {
        let (path, source) = (path(), failed());
        [
            RestoreError::Unreadable { path, source },
            RestoreError::Unsound {
                path: self::path(),
                unsound: Unsound::Torn { line: 7 },
            },
            RestoreError::AnotherStash { path: self::path() },
            RestoreError::Failed { source: failed() },
        ]
    }

    /// All texts that are whole sentences.
    fn sentences() -> Vec<String> {
        let mut all: Vec<String> = record_errors().iter().map(record_error).collect();
        all.extend(damages().iter().map(damage));
        let kept = Some(path());
        let (line, bytes) = (7, 12);
        all.extend(
            [
                Notice::Torn { line, bytes, kept },
                Notice::Torn {
                    line,
                    bytes,
                    kept: None,
                },
                Notice::NoMarker,
            ]
            .iter()
            .map(notice),
        );
        let foreign = Foreign::HardLink;
        let path = path();
        let mut why = vec![
            ReadOnly::Protected,
            ReadOnly::Gone(path.clone()),
            ReadOnly::Foreign { path, foreign },
        ];
        why.extend(damages().into_iter().map(ReadOnly::Damaged));
        all.extend(
            why.iter()
                .flat_map(|why| [read_only(why), not_changed(why)]),
        );
        all.push(accept_error(&AcceptError::NothingLost));
        all.extend(
            damages()
                .into_iter()
                .map(|damage| accept_error(&AcceptError::Damaged(damage))),
        );
        for reason in [NoBackup::Differs, NoBackup::Io(failed())] {
            let path = self::path();
            all.push(backup_error(&BackupError { path, reason }));
        }
        all.extend(restore_errors().iter().map(restore_error));
        let (path, source) = (self::path(), failed());
        all.push(write_error(&WriteError::NotEmpty(path.clone())));
        all.push(write_error(&WriteError::Failed { path, source }));
        all
    }

    #[test]
    fn errors_are_one_or_two_whole_sentences() {
        for said in sentences() {
            let begin = said.chars().next();
            let named = said.starts_with("stash/") || said.starts_with("record.end");
            assert!(begin.is_some_and(char::is_uppercase) || named, "{said}");
            assert!(said.ends_with('.') && !said.ends_with(".."), "{said}");
            assert!(said.matches(". ").count() < 2, "{said}");
            assert!(said.matches("; ").count() < 2, "{said}");
        }
    }

    #[test]
    fn commands_of_the_shell_are_left_to_the_shell() {
        for said in sentences() {
            assert!(!said.contains("homehook "), "{said}");
            assert!(!said.contains("--"), "{said}");
        }
    }

    #[test]
    fn a_foreign_entry_is_described_even_inside_a_system_error() {
        for foreign in foreigns() {
            let said = system(&foreign.into());
            assert!(said.starts_with("it is a "), "{said}");
            assert!(!said.contains('_'), "{said}");
        }
    }

    #[test]
    fn the_time_of_a_lost_change_can_be_formatted() {
        let lost = What::Fragment {
            kind: Some("put_away".to_owned()),
            time: Some("1970-01-01T00:01:00Z".to_owned()),
        };
        assert_eq!(
            left_out(&lost, None),
            "A change of the kind 'put away', made 1970-01-01T00:01:00Z"
        );
        let seconds = |at: Timestamp| at.as_second().to_string();
        assert_eq!(
            left_out(&lost, Some(&seconds)),
            "A change of the kind 'put away', made 60"
        );
        let (first, last) = (51, 60);
        let gone = What::Gone { first, last };
        assert_eq!(left_out(&gone, Some(&seconds)), "Changes 51 to 60");
    }
}
