//! Lists that are brought in, whatever they are of: read, taken in, and told of.

use std::io::{self, Read};
use std::path::Path;

use jiff::Timestamp;

use super::change;
use super::failure::Failure;
use super::output::Output;
use crate::exchange::file::read_beginning;
use crate::exchange::{FileError, LARGEST_FILE};
use crate::journal::store::Store;
use crate::stash::event::Event;
use crate::stash::refusal::Refusal;
use crate::stash::state::State;
use crate::text::one_or_many;

/// The bytes of a file, or of standard input for `-`, one more than a list may have at most.
pub fn read(path: &Path) -> Result<Vec<u8>, Failure> {
    let most = LARGEST_FILE as u64 + 1;
    let read = if path.as_os_str() == "-" {
        let mut bytes = Vec::new();
        let read = io::stdin().lock().take(most).read_to_end(&mut bytes);
        read.map(|_| bytes)
    } else {
        // A pipe too, which somebody named who fills it.
        read_beginning(path, most)
    };
    read.map_err(|source| Failure::Unreadable {
        path: path.to_owned(),
        source,
    })
}

/// Of a file that is no list.
pub fn not_a(path: &Path) -> impl FnOnce(FileError) -> Failure {
    |source| Failure::NotAList {
        path: path.to_owned(),
        source,
    }
}

/// Takes a list in, and records what came of it, if anything did.
pub fn take_in<T>(
    dir: &Path,
    output: &Output,
    take: impl Fn(&State, Timestamp) -> Result<T, Refusal>,
    event: impl FnOnce(&T) -> Option<&Event>,
) -> Result<(Store, T), Failure> {
    let (writing, now, taken) = change::ask(dir, output, take)?;
    let (store, _) = writing.commit_if(now, event(&taken), output)?;
    Ok((store, taken))
}

/// Says which columns nothing was made of.
pub fn tell_ignored(ignored: &[String], output: &Output) {
    if !ignored.is_empty() {
        output.note(format!(
            "{these} not understood and left out: {columns}",
            these = one_or_many(ignored.len(), "this column was", "these columns were"),
            columns = ignored.join(", ")
        ));
    }
}

/// `1 row`, `2 rows`.
pub fn rows(count: usize) -> String {
    format!("{count} {}", one_or_many(count, "row", "rows"))
}
