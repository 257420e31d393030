//! Why a command failed, and what to type next.

use std::io;
use std::path::{Path, PathBuf};

use crate::exchange::file::NotPut;
use crate::exchange::{FileError, Unclear, WorkbookError};
use crate::journal::restore::RestoreError;
use crate::journal::salvage::WriteError;
use crate::journal::{AcceptError, CommitError, Notice, Other, ReadOnly, RecordError};
use crate::print::paper::DoesNotFit;
use crate::stash::merge::MergeError;
use crate::stash::refusal::{Refusal, Rejected};
use crate::text::files::{self, file_error};
use crate::text::refusal::sentence;
use crate::text::{capital, merge, record};
use crate::tui::ScreenError;

/// A failed command, with a message for the user.
#[derive(Debug, thiserror::Error)]
pub(crate) enum Failure {
    /// The stash refused the command.
    #[error("{}", with_advice(_0))]
    Refused(Refusal),
    /// The record couldn't be opened, or rejected a change.
    #[error("{}{}", record::record_error(.0), after_record(.0))]
    Record(RecordError),
    /// The record is damaged, or one of its events doesn't apply.
    #[error("{}{}", record::not_changed(.0), after_read_only(.0))]
    ReadOnly(ReadOnly),
    /// Another process changed the subject of the change.
    #[error("Nothing changed: another window has changed the stash. See: homehook history")]
    Overtaken(Vec<Other>),
    /// A loss can't be accepted.
    #[error("{}{}", record::accept_error(.0), after_accept(.0))]
    NotAccepted(AcceptError),
    /// Two copies can't be merged.
    #[error("{}", merge::merge_error(.0))]
    Merge(#[from] MergeError),
    /// An answer to a question that the merge doesn't ask.
    #[error("There is no question {n}, only {asked}. For the list: homehook merge COPY --dry-run")]
    NoQuestion {
        /// The number given.
        n: usize,
        /// The number of questions.
        asked: usize,
    },
    /// A file can't be read.
    #[error("{path} can't be read ({source}). Check its name.", path = path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// The system's error.
        source: io::Error,
    },
    /// A file isn't a list.
    #[error("{}: {}{}", path.display(), file_error(source), after_list(source))]
    NotAList {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        source: FileError,
    },
    /// The columns of a card list or a chart key are unclear.
    #[error("{path}: {unclear} Say which is which, such as: homehook import {list} {columns}",
        path = path.display(), unclear = files::unclear(unclear), list = match project {
            Some(project) => format!("key {file} --project {project}", file = typed(path), project = quoted(project)),
            None => format!("cards {file}", file = typed(path)),
        })]
    UnclearColumns {
        /// The file.
        path: PathBuf,
        /// The project of a chart key; `None` for a card list.
        project: Option<String>,
        /// What is unclear.
        unclear: Unclear,
        /// Sensible columns, as typed.
        columns: String,
    },
    /// A card list that looks like a chart key.
    #[error("{path}: {looks} Import it with: homehook import key {file} --project NAME. If it's a card list all the \
         same, add --as-cards", path = path.display(), looks = files::looks_like_key(titles), file = typed(path))]
    LooksLikeKey {
        /// The file.
        path: PathBuf,
        /// The titles that suggest it.
        titles: Vec<String>,
    },
    /// A chart key that looks like a card list.
    #[error("{path}: {looks} Import it with: homehook import cards {file}. If it's a chart key all the same, add \
         --as-key", path = path.display(), looks = files::looks_like_cards(titles), file = typed(path))]
    LooksLikeCards {
        /// The file.
        path: PathBuf,
        /// The titles that suggest it.
        titles: Vec<String>,
    },
    /// A file can't be written. Its previous contents are untouched.
    #[error("{path} can't be written ({source}), and nothing was put there. Choose another name or \
         make room.", path = path.display())]
    NotWritten {
        /// The file.
        path: PathBuf,
        /// The system's error.
        source: io::Error,
    },
    /// A file would be inside a stash, where only the stash may write.
    #[error("{it} is inside the stash folder, which only Homehook writes. Name a file elsewhere.", it = .0.display())]
    InsideStash(PathBuf),
    /// Salvaged events can't be written.
    #[error("{}", record::write_error(.0))]
    NotSalvaged(WriteError),
    /// A backup can't replace the record.
    #[error("{}{}", record::restore_error(.0), after_restore(.0))]
    NotRestored(RestoreError),
    /// A file exists already.
    #[error("{it} is there already and was left as it is. Name another file, or write over it with \
         --force", it = .0.display())]
    FileThere(PathBuf),
    /// A printout doesn't fit the paper.
    #[error("{}", capital(&.0.sentence()))]
    DoesNotFit(DoesNotFit),
    /// A file for a printout with the name of something else.
    #[error("Nothing printed: '{it}' isn't the name of a printout. Use .html, which a browser prints and saves as PDF, \
         or --form svg and .svg", it = .0.display())]
    WrongEnding(PathBuf),
    /// There is nothing to print.
    #[error("Nothing to print for '{it}': the stash has nothing that you asked for.", it = _0)]
    NothingToPrint(&'static str),
    /// The terminal cannot be used.
    #[error(transparent)]
    Screen(#[from] ScreenError),
    /// There is no stash to check.
    #[error("There is no stash in {it} yet. Check the folder's name.", it = .0.display())]
    NoStash(PathBuf),
    /// The system has no standard data folder.
    #[error("This computer has no usual place for data. Give a folder with --stash DIR")]
    NoDataFolder,
    /// The temporary folder of the demo can't be created.
    #[error("A throwaway folder for the demonstration can't be made ({it}).", it = _0)]
    NoTemporaryFolder(io::Error),
    /// There is no schema of that name.
    #[error("There is no schema called '{it}'. For their names: homehook schema", it = _0)]
    UnknownSchema(String),
    /// The handbook has no page on that subject.
    #[error("There is no page called '{it}'. For the subjects: homehook guide", it = _0)]
    UnknownSubject(String),
    /// The answer can't be written.
    #[error("The answer can't be written ({it}). What you asked for may be done already, see: \
         homehook history", it = _0)]
    Output(#[from] io::Error),
}

/// The advice if no list, or no sheet of a workbook, was read.
fn after_list(why: &FileError) -> &'static str {
    match why {
        FileError::Workbook(WorkbookError::NoSheet { .. }) => " Type: --sheet NAME",
        FileError::Workbook(WorkbookError::EmptySheet { others, .. }) if !others.is_empty() => {
            " Choose one with --sheet NAME"
        }
        FileError::Workbook(WorkbookError::NoSheets) => " Leave out --sheet",
        _ => "",
    }
}

/// A file's name as typed, quoted if it has spaces.
fn typed(path: &Path) -> String {
    quoted(&path.display().to_string())
}

/// A name as typed, quoted if it has spaces.
fn quoted(name: &str) -> String {
    match name.contains(char::is_whitespace) {
        true => format!("\"{name}\""),
        false => name.to_owned(),
    }
}

/// The command that shows the remedies for a damaged record.
const CHECK: &str = " Run: homehook check";

/// The advice if a record couldn't be opened, read or written.
const fn after_record(why: &RecordError) -> &'static str {
    match why {
        RecordError::Folder { .. } => " Choose another with --stash",
        RecordError::ReadOnly(_) | RecordError::Missing { .. } => CHECK,
        RecordError::NewerFormat { .. } => " For the backups: homehook check --restore",
        _ => "",
    }
}

/// The advice if a stash can't be changed.
pub(crate) const fn after_read_only(why: &ReadOnly) -> &'static str {
    match why {
        ReadOnly::Damaged(_) | ReadOnly::ApplyError { .. } => CHECK,
        ReadOnly::Protected | ReadOnly::Foreign { .. } | ReadOnly::Gone(_) => "",
    }
}

/// The advice after a finding in a record.
pub(crate) const fn after_notice(notice: &Notice) -> &'static str {
    match notice {
        Notice::Lacks { .. } => CHECK,
        _ => "",
    }
}

/// The advice if a loss can't be accepted.
const fn after_accept(why: &AcceptError) -> &'static str {
    match why {
        AcceptError::Damaged(_) => " Save the sound part first: homehook check --salvage DIR",
        AcceptError::ApplyError { .. } => CHECK,
        AcceptError::NothingLost => "",
        AcceptError::Record(error) => after_record(error),
    }
}

/// The advice if a copy didn't replace the record.
const fn after_restore(why: &RestoreError) -> &'static str {
    match why {
        RestoreError::Unreadable { .. } => " For the backups there are: homehook check --restore",
        RestoreError::Unsound { .. } => "",
        RestoreError::AnotherStash { .. } => " To put it here all the same, add --another-stash",
        RestoreError::Record(error) => after_record(error),
        RestoreError::Failed { .. } => CHECK,
    }
}

impl From<RecordError> for Failure {
    fn from(error: RecordError) -> Self {
        Self::Record(error)
    }
}

impl From<AcceptError> for Failure {
    fn from(error: AcceptError) -> Self {
        Self::NotAccepted(error)
    }
}

impl From<WriteError> for Failure {
    fn from(error: WriteError) -> Self {
        Self::NotSalvaged(error)
    }
}

impl From<RestoreError> for Failure {
    fn from(error: RestoreError) -> Self {
        Self::NotRestored(error)
    }
}

impl From<Refusal> for Failure {
    fn from(why: Refusal) -> Self {
        Self::Refused(why)
    }
}

impl From<DoesNotFit> for Failure {
    fn from(why: DoesNotFit) -> Self {
        Self::DoesNotFit(why)
    }
}

impl From<CommitError> for Failure {
    fn from(error: CommitError) -> Self {
        match error {
            CommitError::Refused(refusal) => Self::Refused(refusal),
            CommitError::Record(error) => Self::Record(error),
            CommitError::ReadOnly(why) => Self::ReadOnly(why),
            CommitError::Overtaken { others } => Self::Overtaken(others),
        }
    }
}

impl Failure {
    /// The failure for a file that wasn't written.
    pub(crate) fn not_put(path: &Path) -> impl FnOnce(NotPut) -> Self {
        |why| match why {
            NotPut::InsideStash => Self::InsideStash(path.to_owned()),
            NotPut::There => Self::FileThere(path.to_owned()),
            NotPut::Failed(source) => Self::NotWritten {
                path: path.to_owned(),
                source,
            },
        }
    }

    /// A stable word for scripts.
    #[must_use]
    pub(crate) fn code(&self) -> String {
        let word = match self {
            Self::Refused(refusal) => return refusal.to_string(),
            Self::Record(error) => error.code(),
            Self::ReadOnly(why) => why.code(),
            Self::Overtaken(_) => "overtaken",
            Self::NotAccepted(AcceptError::Record(error)) => error.code(),
            Self::NotAccepted(AcceptError::NothingLost) => "nothing_lost",
            Self::NotAccepted(_) => "read_only",
            Self::Merge(error) => return error.to_string(),
            Self::Unreadable { .. } => "unreadable",
            Self::NotAList {
                source: FileError::TooManyRows,
                ..
            } => "too_many_rows",
            Self::NotAList {
                source: FileError::Workbook(error),
                ..
            } => error.code(),
            Self::NotAList { .. } => "not_a_list",
            Self::UnclearColumns { .. } => "unclear_columns",
            Self::LooksLikeKey { .. } => "looks_like_chart_key",
            Self::LooksLikeCards { .. } => "looks_like_card_list",
            Self::NotWritten { .. } => "not_written",
            Self::InsideStash(_) => "inside_stash",
            Self::NotSalvaged(WriteError::NotEmpty(_)) => "not_empty",
            Self::NotSalvaged(WriteError::Failed { .. }) => "not_written",
            Self::NotRestored(error) => restore_code(error),
            Self::FileThere(_) => "file_there",
            Self::NoQuestion { .. } => "no_question",
            Self::DoesNotFit(_) => "does_not_fit",
            Self::WrongEnding(_) => "wrong_ending",
            Self::NothingToPrint(_) => "nothing_to_print",
            Self::Screen(_) => "no_screen",
            Self::NoStash(_) => "no_stash",
            Self::NoDataFolder => "no_data_folder",
            Self::NoTemporaryFolder(_) => "no_temporary_folder",
            Self::UnknownSchema(_) => "unknown_schema",
            Self::UnknownSubject(_) => "unknown_subject",
            Self::Output(_) => "output",
        };
        word.to_owned()
    }

    /// The rejected rows of a list, if they are the reason.
    #[must_use]
    pub(crate) fn rejected(&self) -> &[Rejected] {
        match self {
            Self::Refused(Refusal::RowsRejected { every, .. }) => every,
            _ => &[],
        }
    }

    /// Whether the reader of the output has closed it, which isn't a failure.
    #[must_use]
    pub(crate) fn is_closed_pipe(&self) -> bool {
        matches!(self, Self::Output(error) if error.kind() == io::ErrorKind::BrokenPipe)
    }
}

const fn restore_code(error: &RestoreError) -> &'static str {
    match error {
        RestoreError::Unreadable { .. } => "unreadable",
        RestoreError::Unsound { .. } => "unsound",
        RestoreError::AnotherStash { .. } => "another_stash",
        RestoreError::Record(error) => error.code(),
        RestoreError::Failed { .. } => "not_restored",
    }
}

/// The refusal as shown in the shell: what happened, and the command that helps.
#[must_use]
pub(crate) fn with_advice(refusal: &Refusal) -> String {
    match advice(refusal) {
        Some(advice) => format!("{what} {advice}", what = sentence(refusal)),
        None => sentence(refusal),
    }
}

const PUT_UP_A_BOARD: &str = "Put one up first: homehook board new NAME --rows R --columns C";

/// A sentence with the command or option that helps, without a full stop, so that it can be copied.
fn advice(refusal: &Refusal) -> Option<String> {
    Some(match refusal {
        Refusal::NoBoard => PUT_UP_A_BOARD.to_owned(),
        Refusal::SharedHookName { .. } => {
            "Give the new board hooks of its own with --prefix, such as --prefix 2-".to_owned()
        }
        Refusal::StillHanging { .. } => {
            "To put what hangs there with the cards to hang, add --unhang".to_owned()
        }
        Refusal::RingHangsThere { project, .. } => {
            format!("Take it down first: homehook ring take-down \"{project}\"")
        }
        Refusal::UnknownCard { hint: None, .. } => {
            "Look for it by a part of its number or name: homehook find TEXT".to_owned()
        }
        Refusal::NoCardsYet => "Import them: homehook import cards FILE".to_owned(),
        Refusal::SplitCardLeft { project, first, .. } => {
            format!("Rejoin the thread with its card: homehook ring rejoin \"{project}\" {first}")
        }
        Refusal::SplitCardStays {
            card,
            project,
            whole,
            place,
        } if place.is_on_ring() => format!(
            "Put {whole} away first, or rejoin them where they are: homehook ring rejoin \
             \"{project}\" \"{card}\""
        ),
        Refusal::SplitCardStays { whole, .. } => {
            format!("When {whole} turns up, mark it as found first: homehook found \"{whole}\"")
        }
        Refusal::NoSplitCard { others, .. } if others.is_empty() => {
            "See what is on the rings: homehook ring list".to_owned()
        }
        Refusal::WhichLot { .. } => {
            "Add --lot LOT, or --lot \"\" for thread of an unnamed lot".to_owned()
        }
        Refusal::NoThread => "Add --lengths N, --strands N or both".to_owned(),
        Refusal::NotCounted(_) => {
            "Give the thread used in place of a part: --lengths N, --strands N or both".to_owned()
        }
        Refusal::RehangUnderway { .. } => {
            let (go_on, end) = ("homehook rehang --go-on", "homehook rehang --give-up");
            format!("Go on with {go_on}, or end it with {end}")
        }
        Refusal::NoRehangUnderway => "Plan one: homehook rehang".to_owned(),
        Refusal::AimLost { .. } => "End it, then plan again: homehook rehang --give-up".to_owned(),
        Refusal::NoKey(project) => {
            format!("Import it: homehook import key FILE --project \"{project}\"")
        }
        Refusal::NoKeys => "Import one: homehook import key FILE --project NAME".to_owned(),
        Refusal::NotInKey { project, .. } => {
            format!("See what it has: homehook ring key \"{project}\"")
        }
        Refusal::NothingToBuy => "Name what you bought as CARD=SKEINS, such as 447=1".to_owned(),
        Refusal::NotSkeins(_) => {
            "Write CARD=SKEINS, such as 447=2 or 447=2:K7 with its dye lot, from 1 to 1000"
                .to_owned()
        }
        Refusal::PurchaseTaken { .. } => {
            "Undo that import first if it was short, or add it a second time with --again"
                .to_owned()
        }
        Refusal::HeldByFamily { family, .. } => {
            format!("Release the family: homehook release --family \"{family}\"")
        }
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn advice_is_a_separate_sentence_after_the_refusal() {
        let name = || "Fox".to_owned();
        for (refusal, expected) in [
            (
                Refusal::NoCardsYet,
                "There are no cards in the stash yet. Import them: homehook import cards FILE",
            ),
            (
                Refusal::NoKey(name()),
                "The project 'Fox' has no chart key yet. Import it: homehook import key FILE --project \
                 \"Fox\"",
            ),
            (
                Refusal::RingHangsThere {
                    project: name(),
                    hook_name: "A01".to_owned(),
                },
                "The ring 'Fox' hangs on hook A01. Take it down first: homehook ring take-down \
                 \"Fox\"",
            ),
            (
                Refusal::NotHanging(name()),
                "The ring 'Fox' isn't hanging on a hook.",
            ),
        ] {
            assert_eq!(with_advice(&refusal), expected);
        }
    }
}
