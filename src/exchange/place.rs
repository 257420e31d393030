//! Where a file would be written, and whether that is in the folder of a stash, which only the stash
//! writes in.

use std::fs::{self, File};
use std::io::Read;
use std::path::{Path, PathBuf};

/// The most links that are followed one after the other (40 on Linux, path_resolution(7)).
const MOST_LINKS: usize = 40;
/// What a record is called, and how it begins.
const RECORD: (&str, &[u8]) = ("record.jsonl", br#"{"homehook":"#);
/// The folder in that of a stash in which it keeps copies.
const BACKUPS: &str = "backups";

/// Whether a file of that name would be in the folder `stash`, below it, or in that of another stash,
/// whatever it is called and through whatever links; or is by another name a file that the stash keeps.
#[must_use]
pub fn is_inside(file: &Path, stash: &Path) -> bool {
    let place = place_of(file);
    let stash = really(stash);
    let folder = place.parent().unwrap_or(&place);
    folder.ancestors().any(|above| is_same(above, &stash))
        || folder.ancestors().take(2).any(has_record)
        || is_kept_in(&place, &stash)
}

/// Where a file of that name would be written: through links, also those to what is not there yet.
fn place_of(file: &Path) -> PathBuf {
    let mut place = std::path::absolute(file).unwrap_or_else(|_| file.to_owned());
    for _ in 0..MOST_LINKS {
        let (Some(folder), Some(name)) = (place.parent(), place.file_name()) else {
            break;
        };
        let folder = really(folder);
        place = folder.join(name);
        match fs::read_link(&place) {
            Ok(to) => place = folder.join(to),
            Err(_) => return place,
        }
    }
    really(&place)
}

/// A folder without links and other spellings, as far as it is there.
fn really(folder: &Path) -> PathBuf {
    let apart = || match (folder.parent(), folder.file_name()) {
        (Some(above), Some(name)) => really(above).join(name),
        _ => folder.to_owned(),
    };
    folder.canonicalize().unwrap_or_else(|_| apart())
}

/// What tells that two names are of one file or folder.
#[cfg(unix)]
fn identity(path: &Path) -> Option<(u64, u64)> {
    use std::os::unix::fs::MetadataExt;
    let data = fs::metadata(path).ok()?;
    Some((data.dev(), data.ino()))
}

/// What tells that two names are of one file or folder. Two hard links are not known as one.
#[cfg(not(unix))]
fn identity(path: &Path) -> Option<PathBuf> {
    path.canonicalize().ok()
}

fn is_same(one: &Path, other: &Path) -> bool {
    one == other || identity(one).is_some_and(|one| identity(other) == Some(one))
}

/// Whether a folder is that of a stash, by its record.
fn has_record(folder: &Path) -> bool {
    let (name, begin) = RECORD;
    let record = folder.join(name);
    // A pipe would be waited for.
    if !fs::metadata(&record).is_ok_and(|data| data.is_file()) {
        return false;
    }
    let mut head = vec![0; begin.len()];
    let read = File::open(record).and_then(|mut file| file.read_exact(&mut head));
    read.is_ok() && head == begin
}

/// Whether a file is one of those in the folder of a stash.
fn is_kept_in(file: &Path, stash: &Path) -> bool {
    let Some(it) = identity(file) else {
        return false;
    };
    let folders = [stash.to_owned(), stash.join(BACKUPS)];
    let kept = folders
        .iter()
        .filter_map(|folder| fs::read_dir(folder).ok());
    let mut kept = kept.flatten().flatten();
    kept.any(|kept| identity(&kept.path()).is_some_and(|kept| kept == it))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_in_the_stash_folder_is_known_by_every_name() {
        let dir = tempfile::tempdir().unwrap();
        let stash = dir.path().join("stash");
        fs::create_dir_all(stash.join("backups")).unwrap();
        fs::create_dir_all(dir.path().join("else/where")).unwrap();
        fs::write(stash.join("record.jsonl"), "{}").unwrap();
        let inside = |name: &str| is_inside(&dir.path().join(name), &stash);
        for name in [
            "stash/record.jsonl",
            "stash/new.csv",
            "stash/backups/new.csv",
            "stash/none/new.csv",
            "./stash//new.csv",
            "else/../stash/new.csv",
            "else/where/../../stash/backups/../new.csv",
        ] {
            assert!(inside(name), "{name}");
        }
        for name in ["new.csv", "stash.csv", "else/new.csv", "stash/../new.csv"] {
            assert!(!inside(name), "{name}");
        }
        // Another stash is one too.
        fs::write(dir.path().join("else/record.jsonl"), "{\"homehook\":1}").unwrap();
        assert!(inside("else/new.csv") && inside("else/where/new.csv"));
        fs::write(dir.path().join("else/record.jsonl"), "[]").unwrap();
        assert!(!inside("else/new.csv"));
        assert!(is_inside(
            Path::new("/nowhere/a/b.csv"),
            Path::new("/nowhere")
        ));
    }

    #[cfg(unix)]
    #[test]
    fn links_into_the_stash_folder_and_out_of_it_are_followed() {
        use std::os::unix::fs::symlink;
        let dir = tempfile::tempdir().unwrap();
        let path = |name: &str| dir.path().join(name);
        let stash = path("stash");
        fs::create_dir(&stash).unwrap();
        fs::write(path("stash/record.jsonl"), "{}").unwrap();
        fs::write(path("kept.jsonl"), "{}").unwrap();
        symlink(path("kept.jsonl"), path("stash/other.jsonl")).unwrap();
        symlink(&stash, path("folder")).unwrap();
        symlink("stash/record.jsonl", path("file")).unwrap();
        symlink("folder/none.csv", path("dangling")).unwrap();
        symlink("dangling", path("twice")).unwrap();
        symlink("round", path("round")).unwrap();
        fs::hard_link(path("stash/record.jsonl"), path("hard.csv")).unwrap();
        let inside = |name: &str, stash: &Path| is_inside(&path(name), stash);
        for name in [
            "folder/new.csv",
            "file",
            "dangling",
            "twice",
            "hard.csv",
            "kept.jsonl",
        ] {
            assert!(inside(name, &stash), "{name}");
            assert!(inside(name, &path("folder")), "{name}");
        }
        for name in ["round", "new.csv"] {
            assert!(!inside(name, &stash), "{name}");
        }
    }
}
