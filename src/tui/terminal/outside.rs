//! What the interface asks for, done on the stash and on files.

use std::path::{Path, PathBuf};

use jiff::Timestamp;

use crate::exchange::LARGEST_FILE;
use crate::journal::keeper::{CommitError, Keeper};
use crate::stash::event::Act;
use crate::tui::message::{Effect, Message};
use crate::tui::view::shown;

/// Does what was asked for and answers.
pub(super) fn perform(keeper: &mut Keeper, effect: Effect) -> Option<Message> {
    let now = Timestamp::now();
    match effect {
        Effect::Commit(event) => {
            let done = keeper.commit(now, &event).map(|_| event.act);
            Some(recorded(done))
        }
        Effect::Undo => {
            let seq = keeper.history().last_done().map_or(0, |past| past.seq);
            Some(recorded(keeper.undo(now).map(|_| Act::Undo { seq })))
        }
        Effect::Redo => {
            let seq = keeper.history().last_undone().map_or(0, |past| past.seq);
            Some(recorded(keeper.redo(now).map(|_| Act::Redo { seq })))
        }
        Effect::ReadFile { path, want } => {
            let bytes = read(&at_home(&path));
            Some(Message::FileRead { path, want, bytes })
        }
        Effect::Plan | Effect::StopPlanning | Effect::Mouse(_) | Effect::Suspend | Effect::Quit => {
            None
        }
    }
}

fn recorded(done: Result<Act, CommitError>) -> Message {
    Message::Recorded(done.map_err(|error| error.to_string()))
}

/// A path whose `~` is the user's home folder.
fn at_home(path: &str) -> PathBuf {
    let home = directories::BaseDirs::new();
    match (path.strip_prefix("~/"), home) {
        (Some(rest), Some(dirs)) => dirs.home_dir().join(rest),
        _ => PathBuf::from(path),
    }
}

fn read(path: &Path) -> Result<Vec<u8>, String> {
    let name = shown(&path.display().to_string());
    if path.as_os_str().is_empty() {
        return Err("write where the file is, such as ~/cards.csv".to_owned());
    }
    let failed = |error: std::io::Error| format!("'{name}' cannot be read: {error}");
    let data = std::fs::metadata(path).map_err(failed)?;
    if data.is_dir() {
        return Err(format!("'{name}' is a folder; name a file in it"));
    }
    // A pipe or a device may never come to an end, and nothing else is heard until it does.
    if !data.is_file() {
        return Err(format!("'{name}' is no file with a list in it"));
    }
    if data.len() > LARGEST_FILE as u64 {
        return Err(format!("'{name}' is larger than {} MB", LARGEST_FILE >> 20));
    }
    std::fs::read(path).map_err(failed)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_file_is_told_and_not_waited_for() {
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
        refused(Path::new(&"x".repeat(1_000)), "cannot be read");
        refused(Path::new("\u{8d64}/\u{1b}[2J"), "cannot be read");
        refused(Path::new("\0"), "cannot be read");
        let large = std::fs::File::create(dir.path().join("large")).unwrap();
        large.set_len(LARGEST_FILE as u64 + 1).unwrap();
        refused(&dir.path().join("large"), "larger than");
        #[cfg(target_os = "linux")]
        for endless in ["/dev/zero", "/dev/stdin", "/proc/self/fd/0"] {
            if std::fs::metadata(endless).is_ok_and(|data| !data.is_file()) {
                refused(Path::new(endless), "is no file");
            }
        }
    }
}
