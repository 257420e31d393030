//! Performs effects on the stash and on files.

use std::path::{Path, PathBuf};

use jiff::Timestamp;

use super::files;
use crate::exchange::LARGEST_FILE;
use crate::exchange::file::{NotPut, is_inside, read_beginning, write_new};
use crate::journal::store::Store;
use crate::journal::{CommitError, Other};
use crate::stash::event::Act;
use crate::text;
use crate::text::record;
use crate::tui::message::PastEvent;
use crate::tui::message::{Effect, Message};
use crate::tui::screens::history::MOST;
use crate::tui::view::shown;

/// Performs an effect and returns the answer.
pub(super) fn perform(store: &mut Store, effect: Effect) -> Option<Message> {
    let now = Timestamp::now();
    match effect {
        Effect::Commit(event) => {
            let done = store.commit(now, &event).map(|_| event.act);
            Some(recorded(store, done))
        }
        Effect::Undo { seq } => {
            let done = store.undo_event(now, seq).map(|_| Act::Undo { seq });
            Some(recorded(store, done))
        }
        Effect::Redo { seq } => {
            let done = store.redo_event(now, seq).map(|_| Act::Redo { seq });
            Some(recorded(store, done))
        }
        Effect::ReadFile { path, want } => {
            let bytes = read(&at_home(&path));
            Some(Message::FileRead { path, want, bytes })
        }
        Effect::ReadLog => Some(Message::LogRead(log(store))),
        Effect::WriteFiles(files) => Some(Message::Written(write(&files, store.dir()))),
        Effect::ListFiles { typed } => {
            let found = files::beginning_with(&typed);
            Some(Message::Files { typed, found })
        }
        Effect::Plan
        | Effect::StopPlanning
        | Effect::Demo
        | Effect::Flash
        | Effect::Speak(_)
        | Effect::KeepLooks(_)
        | Effect::Mouse(_)
        | Effect::Suspend
        | Effect::Quit => None,
    }
}

fn recorded(store: &mut Store, done: Result<Act, CommitError>) -> Message {
    let others = store.take_others();
    Message::Recorded(done.map_err(|error| {
        match error {
            CommitError::Overtaken { .. } => match others_did(store, &others) {
                Some(what) => format!("Nothing saved: {what}. Look at the board, and do it again"),
                None => {
                    "Nothing saved: another record was put in place of this one. Look at the board"
                        .to_owned()
                }
            },
            error => record::commit_error(&error),
        }
    }))
}

/// The last change of another window, in words: `another window did this (laptop): Opened a ring`.
pub(super) fn others_did(store: &Store, others: &[Other]) -> Option<String> {
    let last = others.last()?;
    let history = store.history();
    // The event that was undone says more than the undo.
    let act = match last.act {
        Act::Undo { .. } => history.last_undone().map(|past| &past.act),
        _ => None,
    };
    let what = match act {
        Some(act) => format!(
            "undid: {what}",
            what = text::history::act(store.state(), act)
        ),
        None => text::history::act(store.state(), &last.act),
    };
    let who = last.by.as_ref().map(|by| format!(" ({by})"));
    let who = who.unwrap_or_default();
    Some(match others.len() {
        1 => format!("another window did this{who}: {what}"),
        count => format!("another window made {count} changes; the last{who}: {what}"),
    })
}

/// A path with `~` expanded to the user's home folder, and without the quotation marks that
/// terminals add to dropped files.
pub(super) fn at_home(path: &str) -> PathBuf {
    let path = ['\'', '"']
        .into_iter()
        .find_map(|quote| path.strip_prefix(quote)?.strip_suffix(quote))
        .unwrap_or(path);
    let home = directories::BaseDirs::new();
    match (path.strip_prefix("~/"), home) {
        (Some(rest), Some(dirs)) => dirs.home_dir().join(rest),
        _ => PathBuf::from(path),
    }
}

/// The last events, newest first.
fn log(store: &Store) -> Result<Vec<PastEvent>, String> {
    let from = (store.events() + 1).saturating_sub(MOST as u64);
    let mut lines: Vec<PastEvent> = Vec::new();
    let described = store.describe(
        from,
        text::history::act,
        text::history::Brief::of,
        |entry| {
            if let Some(earlier) = entry.summary.takes_back
                && let Ok(at) = lines.binary_search_by_key(&earlier, |line| line.seq)
            {
                lines[at].taken_back_by = Some(entry.seq);
            }
            lines.push(PastEvent {
                seq: entry.seq,
                time: entry.time,
                by: entry.by.map(String::from),
                which: text::history::in_brief(&entry.summary),
                what: entry.summary.what,
                taken_back_by: None,
            });
        },
    );
    described.map_err(|error| record::history_error(&error))?;
    lines.reverse();
    Ok(lines)
}

/// Writes new files, all or none and none in the stash folder, and returns their paths.
fn write(files: &[(String, String)], stash: &Path) -> Result<Vec<String>, String> {
    let named = |file: &Path| shown(&file.display().to_string());
    let there = |file: &Path| {
        let name = named(file);
        format!("'{name}' is there already and was left as it is; choose another name")
    };
    let files: Vec<(PathBuf, &String)> = files
        .iter()
        .map(|(file, text)| (at_home(file), text))
        .collect();
    let inside = |file: &Path| {
        let name = named(file);
        format!(
            "'{name}' is inside the stash folder, which only Homehook writes; choose another name"
        )
    };
    if let Some((file, _)) = files.iter().find(|(file, _)| is_inside(file, stash)) {
        return Err(inside(file));
    }
    if let Some((file, _)) = files.iter().find(|(file, _)| file.exists()) {
        return Err(there(file));
    }
    let mut written = Vec::new();
    for (file, text) in &files {
        write_new(file, text.as_bytes(), stash).map_err(|why| match why {
            NotPut::InsideStash => inside(file),
            NotPut::There => there(file),
            NotPut::Failed(error) => {
                format!("'{named}' can't be written: {error}", named = named(file))
            }
        })?;
        // The full path, even for a name without a folder.
        let whole = file.canonicalize().unwrap_or_else(|_| file.clone());
        written.push(named(&whole));
    }
    Ok(written)
}

/// The message that there is no such file, with the lists in that folder.
fn not_there(path: &Path) -> String {
    const NAMED: usize = 3;
    const LISTS: [&str; 3] = ["csv", "xlsx", "ods"];
    let said = |path: &Path| shown(&path.display().to_string());
    let file = path.file_name().map_or(path, Path::new);
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder.to_owned(),
        _ => PathBuf::from("."),
    };
    let (name, Ok(folder)) = (said(file), folder.canonicalize()) else {
        return format!("there is no folder {folder}", folder = said(&folder));
    };
    let entries = std::fs::read_dir(&folder).into_iter().flatten();
    let mut lists: Vec<String> = entries
        .filter_map(|entry| entry.ok()?.file_name().into_string().ok())
        .filter(|name| {
            let ending = Path::new(name).extension();
            let ending = ending.and_then(|ending| ending.to_str());
            ending.is_some_and(|of| LISTS.iter().any(|list| of.eq_ignore_ascii_case(list)))
        })
        .map(|name| shown(&name))
        .collect();
    lists.sort();
    let more = lists.len() > NAMED;
    lists.truncate(NAMED);
    let mut lists = lists.join(", ");
    if more {
        lists.push_str(" …");
    }
    let folder = said(&folder);
    if lists.is_empty() {
        format!("there is no file {name} in {folder}")
    } else {
        format!("there is no file {name} in {folder}; there are: {lists}")
    }
}

fn read(path: &Path) -> Result<Vec<u8>, String> {
    let name = shown(&path.display().to_string());
    if path.as_os_str().is_empty() {
        return Err("write where the file is, such as ~/cards.csv".to_owned());
    }
    let failed = |error: std::io::Error| match error.kind() {
        std::io::ErrorKind::NotFound => not_there(path),
        std::io::ErrorKind::PermissionDenied => format!("you may not read '{name}'"),
        _ => format!("'{name}' can't be read: {error}"),
    };
    let data = std::fs::metadata(path).map_err(failed)?;
    if data.is_dir() {
        return Err(format!("'{name}' is a folder; name a file in it"));
    }
    // A pipe or device may never end, and would block everything else.
    if !data.is_file() {
        return Err(format!("'{name}' isn't a file with a list in it"));
    }
    // Some system files report size 0 and never end.
    let bytes = read_beginning(path, LARGEST_FILE as u64 + 1).map_err(failed)?;
    if bytes.len() > LARGEST_FILE {
        return Err(format!(
            "'{name}' is larger than {it} MB",
            it = LARGEST_FILE >> 20
        ));
    }
    Ok(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn paths_expand_tilde_and_strip_quotes() {
        for path in ["/a b/c.csv", "'/a b/c.csv'", "\"/a b/c.csv\""] {
            assert_eq!(at_home(path), PathBuf::from("/a b/c.csv"), "{path}");
        }
        assert_eq!(at_home("'c.csv"), PathBuf::from("'c.csv"));
        assert!(at_home("'~/c.csv'").ends_with("c.csv"));
        assert!(!at_home("~/c.csv").starts_with("~"));
    }

    #[test]
    fn non_file_is_refused_without_waiting() {
        let dir = tempfile::tempdir().unwrap();
        let file = dir.path().join("list.csv");
        std::fs::write(&file, "number\n").unwrap();
        assert_eq!(read(&file).unwrap(), b"number\n");
        let refused = |path: &Path, why: &str| {
            let said = read(path).unwrap_err();
            assert!(said.contains(why), "{said}");
            assert!(!said.contains(char::is_control), "{said}");
            assert!(said.chars().count() < 500, "{said}");
        };
        refused(Path::new(""), "write where the file is");
        refused(dir.path(), "is a folder");
        refused(Path::new(&"x".repeat(1_000)), "can't be read");
        refused(Path::new("\u{8d64}/\u{1b}[2J"), "there is no folder");
        refused(&dir.path().join("mine.csv"), "; there are: list.csv");
        refused(&dir.path().join("none/mine.csv"), "there is no folder");
        for name in ["a.csv", "b.CSV", "c.csv", "d.txt"] {
            std::fs::write(dir.path().join(name), "").unwrap();
        }
        refused(
            &dir.path().join("mine.csv"),
            "there is no file mine.csv in ",
        );
        refused(&dir.path().join("mine.csv"), ": a.csv, b.CSV, c.csv …");
        refused(Path::new("\0"), "can't be read");
        let large = std::fs::File::create(dir.path().join("large")).unwrap();
        large.set_len(LARGEST_FILE as u64 + 1).unwrap();
        refused(&dir.path().join("large"), "larger than");
        #[cfg(target_os = "linux")]
        for endless in ["/dev/zero", "/dev/stdin", "/proc/self/fd/0"] {
            if std::fs::metadata(endless).is_ok_and(|data| !data.is_file()) {
                refused(Path::new(endless), "isn't a file");
            }
        }
    }

    #[test]
    fn writing_into_the_stash_folder_is_refused() {
        let dir = tempfile::tempdir().unwrap();
        let stash = dir.path().join("stash");
        std::fs::create_dir(&stash).unwrap();
        let file = |name: &str| {
            let path = dir.path().join(name).to_str().unwrap().to_owned();
            (path, "home".to_owned())
        };
        let files = [file("a.csv"), file("stash/b.csv")];
        let said = write(&files, &stash).unwrap_err();
        assert!(said.contains("is inside the stash folder"), "{said}");
        assert_eq!(std::fs::read_dir(&stash).unwrap().count(), 0);
        assert_eq!(std::fs::read_dir(dir.path()).unwrap().count(), 1);
        assert_eq!(write(&files[..1], &stash).unwrap().len(), 1);
    }

    #[test]
    fn earlier_change_by_another_window_blocks_saving() {
        use crate::model::label::Who;
        use crate::stash::command::board::{Unhang, block, new_board};
        use crate::stash::testing::board;
        let dir = tempfile::tempdir().unwrap();
        let (mut ours, _) = Store::open(dir.path()).unwrap();
        let now = Timestamp::UNIX_EPOCH;
        let up = new_board(ours.state(), &board("wall", "", 2, 3, 1)).unwrap();
        ours.commit(now, &up).unwrap();
        let (mut theirs, _) = Store::open(dir.path()).unwrap();
        theirs.sign_as(Who::new("laptop").ok());
        let lamp = |store: &Store| block(store.state(), "A01", "lamp", Unhang::Refused, now);
        let stale = lamp(&ours).unwrap();
        let event = lamp(&theirs).unwrap();
        theirs.commit(now, &event).unwrap();
        let said = |store: &mut Store, effect| match perform(store, effect) {
            Some(Message::Recorded(Err(said))) => said,
            other => panic!("{other:?}"),
        };
        let refused = said(&mut ours, Effect::Commit(stale));
        for part in ["Nothing saved", "another window did this (laptop)", "A01"] {
            assert!(refused.contains(part), "{refused}");
        }
        assert_eq!(ours.state(), theirs.state());
        assert_eq!(ours.events(), 2);
        // Nor is a change undone other than the one requested.
        let second = block(theirs.state(), "A02", "lamp", Unhang::Refused, now).unwrap();
        theirs.commit(now, &second).unwrap();
        let refused = said(&mut ours, Effect::Undo { seq: 2 });
        assert!(refused.contains("A02"), "{refused}");
        assert_eq!(ours.events(), 3);
    }
}
