//! Path completion, and the file that saves settings chosen on the screen.

use std::path::{Path, is_separator};

use super::outside::at_home;
use crate::exchange::file::{NotPut, write_whole};
use crate::tui::view::shown;

/// The most completions.
const MOST: usize = 200;
/// Extensions of files that may be lists.
const ENDINGS: [&str; 5] = ["csv", "tsv", "txt", "xlsx", "ods"];

/// Folders, and files that may be lists, whose paths begin with this text, in order. Hidden ones
/// appear only if the name begins with a full stop. O(entries of the folder).
pub(super) fn beginning_with(typed: &str) -> Vec<String> {
    if typed == "~" {
        return vec!["~/".to_owned()];
    }
    let end = typed.rfind(is_separator).map_or(0, |at| at + 1);
    let (folder, start) = typed.split_at(end);
    let place = if folder.is_empty() {
        Path::new(".").to_owned()
    } else {
        at_home(folder)
    };
    let Ok(entries) = std::fs::read_dir(place) else {
        return Vec::new();
    };
    let mut found: Vec<String> = entries
        .filter_map(|entry| {
            let entry = entry.ok()?;
            let name = entry.file_name().into_string().ok()?;
            let hidden = name.starts_with('.') && !start.starts_with('.');
            if !name.starts_with(start) || hidden || shown(&name) != name {
                return None;
            }
            // Follows links, as reading will.
            let data = std::fs::metadata(entry.path()).ok()?;
            if data.is_dir() {
                return Some(format!("{folder}{name}/"));
            }
            let ending = Path::new(&name).extension()?.to_str()?;
            let list = ENDINGS.iter().any(|of| of.eq_ignore_ascii_case(ending));
            list.then(|| format!("{folder}{name}"))
        })
        .collect();
    found.sort();
    found.truncate(MOST);
    found
}

/// Writes a setting to its file atomically; an error says why it failed. No setting is ever written
/// into `stash`.
pub(super) fn keep(file: Option<&Path>, text: &str, stash: &Path) -> Result<(), String> {
    let Some(file) = file else {
        return Err("this computer has no settings folder.".to_owned());
    };
    let named = shown(&file.display().to_string());
    if file.exists() && !file.is_file() {
        return Err(format!("'{named}' isn't a file."));
    }
    let made = file.parent().map_or(Ok(()), std::fs::create_dir_all);
    let put = made.map_err(NotPut::from);
    let put = put.and_then(|()| write_whole(file, text.as_bytes(), stash));
    put.map_err(|why| match why {
        NotPut::InsideStash => format!("'{named}' is inside a stash folder."),
        NotPut::There => format!("a file is in the place of the folder of '{named}'."),
        NotPut::Failed(error) => format!("'{named}' can't be written: {error}."),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn setting_is_saved_atomically_in_a_possibly_new_folder() {
        let dir = tempfile::tempdir().unwrap();
        let stash = dir.path().join("stash");
        let file = dir.path().join("settings/homehook/screen.json");
        for text in ["one", "two"] {
            keep(Some(&file), text, &stash).unwrap();
            assert_eq!(std::fs::read_to_string(&file).unwrap(), text);
        }
        assert_eq!(
            std::fs::read_dir(file.parent().unwrap()).unwrap().count(),
            1
        );
        assert!(keep(None, "", &stash).is_err());
        assert!(keep(Some(dir.path()), "", &stash).is_err());
        assert!(keep(Some(&file.join("below.json")), "", &stash).is_err());
        assert!(keep(Some(&stash.join("screen.json")), "", &stash).is_err());
    }

    #[test]
    fn completion_offers_folders_and_lists() {
        let dir = tempfile::tempdir().unwrap();
        for name in [
            "cards.csv",
            "care.TSV",
            "cards.pdf",
            ".cash.csv",
            "other.csv",
        ] {
            std::fs::write(dir.path().join(name), "x").unwrap();
        }
        std::fs::create_dir(dir.path().join("cabinet")).unwrap();
        let at = |name: &str| dir.path().join(name).display().to_string();
        let found = |start: &str| beginning_with(&at(start));
        assert_eq!(
            found("ca"),
            [
                format!("{}/", at("cabinet")),
                at("cards.csv"),
                at("care.TSV")
            ]
        );
        assert_eq!(found(".c"), [at(".cash.csv")]);
        assert_eq!(found("zz"), Vec::<String>::new());
        assert_eq!(found("none/x"), Vec::<String>::new());
    }
}
