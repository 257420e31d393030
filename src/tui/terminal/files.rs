//! Files whose paths begin as somebody typed.

use std::path::{Path, is_separator};

use super::outside::at_home;
use crate::tui::view::shown;

/// The most paths that are offered.
const MOST: usize = 200;
/// The endings of files that may be lists.
const ENDINGS: [&str; 3] = ["csv", "tsv", "txt"];

/// The folders, and the files that may be lists, whose paths begin so, in order. Hidden ones only
/// where the name begins with a full stop. O(entries of the folder).
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
            // Through links, as they will be read.
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn folders_and_lists_are_offered_by_their_beginning() {
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
