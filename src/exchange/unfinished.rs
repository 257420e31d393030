//! Files that are being written, and what is left of them where that was cut short.

use std::io;
use std::path::Path;
use std::time::{Duration, SystemTime};

/// What a new file is called until it is whole and gets its name: these around some letters drawn at
/// random, so that whoever finds one knows what it is.
const UNFINISHED: (&str, &str) = (".homehook-", ".unfinished");
/// So many letters are drawn.
const DRAWN: usize = 8;
/// An unfinished file is left over, of a program that was killed, when it is older than a day.
const LEFT_OVER: Duration = Duration::from_secs(24 * 60 * 60);

/// A new file with the rights a new file usually has here, gone when it is dropped. What runs that were
/// killed have left in the folder is cleared away first.
///
/// # Errors
/// When the folder takes no new file.
pub fn new_file(folder: &Path) -> io::Result<tempfile::NamedTempFile> {
    clear_left_over(folder, SystemTime::now());
    let mut builder = tempfile::Builder::new();
    let (before, after) = UNFINISHED;
    builder.prefix(before).suffix(after).rand_bytes(DRAWN);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        builder.permissions(std::fs::Permissions::from_mode(0o666));
    }
    builder.tempfile_in(folder)
}

/// Takes away what earlier runs that were killed have left in a folder. What cannot be looked at or
/// taken away stays: the new file matters more.
fn clear_left_over(folder: &Path, now: SystemTime) {
    for file in std::fs::read_dir(folder).into_iter().flatten().flatten() {
        let name = file.file_name();
        // The name first: looking at every file of a large folder takes long.
        if !name.to_str().is_some_and(is_unfinished) {
            continue;
        }
        // Of a link this tells of the link.
        let is_old = file.metadata().is_ok_and(|data| {
            let age = data.modified().ok().map(|then| now.duration_since(then));
            data.is_file() && matches!(age, Some(Ok(age)) if age > LEFT_OVER)
        });
        if is_old {
            let _ = std::fs::remove_file(file.path());
        }
    }
}

/// Whether a file has a name as [`new_file`] gives it.
fn is_unfinished(name: &str) -> bool {
    let (before, after) = UNFINISHED;
    let drawn = name.strip_prefix(before);
    let drawn = drawn.and_then(|name| name.strip_suffix(after));
    drawn.is_some_and(|drawn| {
        drawn.len() == DRAWN && drawn.bytes().all(|byte| byte.is_ascii_alphanumeric())
    })
}

#[cfg(test)]
mod tests {
    use std::fs::{self, File};

    use super::*;

    #[test]
    fn what_was_left_over_is_cleared_and_nothing_else_is() {
        let dir = tempfile::tempdir().unwrap();
        let now = SystemTime::now();
        let make = |name: &str, hours: u32| {
            let file = File::create(dir.path().join(name)).unwrap();
            let then = now - Duration::from_secs(3_600) * hours;
            file.set_modified(then).unwrap();
        };
        // One of the program's own, as a kill leaves it.
        let (_, path) = new_file(dir.path()).unwrap().keep().unwrap();
        let ours = path.file_name().unwrap().to_str().unwrap().to_owned();
        make(&ours, 25);
        make(".homehook-Ab3dEf9h.unfinished", 9_999);
        let staying = [
            (".homehook-Ab3dEf9i.unfinished", 23),
            (".homehook-Ab3dEf9.unfinished", 99),
            (".homehook-Ab3d-f9h.unfinished", 99),
            (".homehook-Ab3dEf9h.unfinished.csv", 99),
            ("homehook-Ab3dEf9h.unfinished", 99),
            ("stock.csv", 99),
        ];
        for (name, hours) in staying {
            make(name, hours);
        }
        fs::create_dir(dir.path().join(".homehook-AAAAAAAA.unfinished")).unwrap();
        drop(new_file(dir.path()).unwrap());
        let there = fs::read_dir(dir.path()).unwrap();
        let mut there: Vec<String> = there
            .map(|file| file.unwrap().file_name().into_string().unwrap())
            .collect();
        there.sort();
        let mut expected: Vec<&str> = staying.iter().map(|&(name, _)| name).collect();
        expected.push(".homehook-AAAAAAAA.unfinished");
        expected.sort_unstable();
        assert_eq!(there, expected);
        // A file of a time to come, by a wrong clock, is nobody's leftover.
        clear_left_over(dir.path(), now - LEFT_OVER * 9);
        assert!(dir.path().join(".homehook-Ab3dEf9i.unfinished").exists());
    }
}
