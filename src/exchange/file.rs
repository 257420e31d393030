//! Files that appear whole or not at all.

use std::io::{self, Write};
use std::path::Path;

use super::unfinished::new_file;

/// Puts bytes in a file that appears under its name whole or not at all. A pipe or a device is
/// written to as it is.
///
/// # Errors
/// When it cannot be written.
pub fn write_whole(file: &Path, bytes: &[u8]) -> io::Result<()> {
    if file.exists() && !file.is_file() {
        return std::fs::OpenOptions::new()
            .write(true)
            .open(file)?
            .write_all(bytes);
    }
    // Renaming onto a link would put the file in place of the link, not of what it points to.
    let target = file.canonicalize().unwrap_or_else(|_| file.to_owned());
    let folder = match target.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let mut new = new_file(folder)?;
    new.write_all(bytes)?;
    new.as_file().sync_all()?;
    new.persist(&target).map_err(|error| error.error)?;
    Ok(())
}

/// Puts bytes in a file that is not there yet, and appears whole or not at all.
///
/// # Errors
/// Of the kind [`io::ErrorKind::AlreadyExists`] where a file of that name is there, also one that has
/// come since it was looked for: it stays as it is. And when it cannot be written.
pub fn write_new(file: &Path, bytes: &[u8]) -> io::Result<()> {
    let folder = file
        .parent()
        .filter(|folder| !folder.as_os_str().is_empty());
    let mut new = new_file(folder.unwrap_or(Path::new(".")))?;
    new.write_all(bytes)?;
    new.as_file().sync_all()?;
    new.persist_noclobber(file).map_err(|error| error.error)?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_that_is_there_stays_unless_it_is_to_be_written_over() {
        let dir = tempfile::tempdir().unwrap();
        let file = dir.path().join("labels.html");
        write_new(&file, b"one").unwrap();
        let there = write_new(&file, b"two").unwrap_err();
        assert_eq!(there.kind(), io::ErrorKind::AlreadyExists);
        assert_eq!(std::fs::read(&file).unwrap(), b"one");
        write_whole(&file, b"two").unwrap();
        assert_eq!(std::fs::read(&file).unwrap(), b"two");
        assert_eq!(std::fs::read_dir(dir.path()).unwrap().count(), 1);
    }
}
