use std::fmt;
use std::fs;
use std::io;
use std::os::unix::fs::{PermissionsExt, symlink};

use crate::journal::folder::*;

fn folder(dir: &tempfile::TempDir) -> Folder {
    Folder::open(dir.path()).unwrap().unwrap()
}

fn foreign<T: fmt::Debug>(refused: io::Result<T>) -> Foreign {
    Foreign::behind(&refused.unwrap_err()).unwrap()
}

#[test]
fn only_regular_files_are_opened_and_only_those_with_one_name_to_be_changed() {
    let dir = tempfile::tempdir().unwrap();
    let outside = tempfile::NamedTempFile::new().unwrap();
    let at = |name: &str| dir.path().join(name);
    fs::write(at("plain"), "x").unwrap();
    symlink(outside.path(), at("link")).unwrap();
    symlink("nowhere", at("dangling")).unwrap();
    fs::create_dir(at("folder")).unwrap();
    fs::write(at("one"), "x").unwrap();
    fs::hard_link(at("one"), at("two")).unwrap();
    rustix::fs::mkfifoat(rustix::fs::CWD, at("pipe"), 0o600.into()).unwrap();
    symlink("/dev/zero", at("zero")).unwrap();
    let folder = folder(&dir);
    assert!(folder.read("none").unwrap().is_none());
    assert!(folder.change("plain").unwrap().is_some());
    for (name, kind) in [
        ("link", Foreign::Link),
        ("dangling", Foreign::Link),
        ("zero", Foreign::Link),
        ("folder", Foreign::Folder),
        ("pipe", Foreign::Special),
    ] {
        assert_eq!(foreign(folder.read(name)), kind, "{name}");
        assert_eq!(foreign(folder.change(name)), kind, "{name}");
    }
    assert!(folder.read("one").unwrap().is_some());
    assert_eq!(foreign(folder.change("one")), Foreign::HardLink);
    assert_eq!(foreign(folder.folder("plain")), Foreign::NotAFolder);
    assert_eq!(foreign(folder.folder("link")), Foreign::Link);
}

#[test]
fn a_file_in_the_making_has_the_records_mode_and_is_gone_unless_it_gets_its_name() {
    let dir = tempfile::tempdir().unwrap();
    let folder = folder(&dir);
    fs::write(dir.path().join(RECORD), "x").unwrap();
    for mode in [0o600, 0o660, 0o644] {
        fs::set_permissions(dir.path().join(RECORD), fs::Permissions::from_mode(mode)).unwrap();
        let mut new = folder.begin("new-", "").unwrap();
        new.fill(b"y").unwrap();
        new.place("done").unwrap();
        let made = fs::metadata(dir.path().join("done")).unwrap();
        assert_eq!(made.permissions().mode() & 0o777, mode);
    }
    drop(folder.begin("new-", "").unwrap());
    assert_eq!(folder.names().unwrap().len(), 2);
}

#[test]
fn what_is_kept_never_takes_the_place_of_anything() {
    let dir = tempfile::tempdir().unwrap();
    let folder = folder(&dir);
    fs::write(dir.path().join(RECORD), "good first").unwrap();
    symlink("nowhere", dir.path().join("piece-1")).unwrap();
    let mut record = folder.read(RECORD).unwrap().unwrap();
    for (from, name, text) in [(5, "piece-2", "first"), (0, "piece-3", "good first")] {
        let kept = folder.keep(&mut record, from, "piece-", "").unwrap();
        assert_eq!(kept, dir.path().join(name));
        assert_eq!(fs::read_to_string(kept).unwrap(), text);
    }
}

#[test]
fn folders_are_made_at_any_depth_and_go_again_when_nothing_came_of_it() {
    let dir = tempfile::tempdir().unwrap();
    let deep = dir.path().join("a/b/c");
    drop(Made::make(&deep).unwrap());
    assert!(!dir.path().join("a").exists());
    Made::make(&deep).unwrap().keep();
    drop(Made::make(&deep).unwrap());
    assert!(deep.is_dir(), "what was there before stays");
    fs::write(dir.path().join("file"), "").unwrap();
    assert!(Made::make(&dir.path().join("file/under")).is_err());
    symlink("nowhere", dir.path().join("link")).unwrap();
    assert!(Folder::open(&dir.path().join("link")).unwrap().is_none());
    let made = Made::make(&dir.path().join("link")).map(Made::keep);
    assert!(made.is_ok() && !dir.path().join("nowhere").exists());
}

#[test]
fn a_folder_that_was_exchanged_is_noticed() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("stash");
    fs::create_dir(&path).unwrap();
    let folder = Folder::open(&path).unwrap().unwrap();
    assert!(folder.is_at_its_path());
    fs::rename(&path, dir.path().join("away")).unwrap();
    assert!(!folder.is_at_its_path());
    fs::create_dir(&path).unwrap();
    assert!(!folder.is_at_its_path());
}
