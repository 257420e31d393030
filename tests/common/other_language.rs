//! A language that is none: every letter of every text is another one, so that a letter of the Latin
//! alphabet on the screen is one that nobody could translate.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

/// A stock list without a Latin letter below its titles.
pub const STOCK: &str = "range,number,name,hook,skeins,colour,family\n\
    \u{3a9},1,\u{39b},A01,2,#aa0000,\u{3a6}\n\
    \u{3a9},2,\u{39b},A02,2,#00aa00,\u{3a6}\n\
    \u{3a9},3,\u{39b},,2,#0000aa,\u{3a6}\n\
    \u{3a9},310,\u{39b},A03,1,#888888,\u{3a6}\n";

/// Writes the language to a file.
pub fn write(to: &Path) {
    let list = Path::new(env!("CARGO_MANIFEST_DIR")).join("assets/language/en.json");
    let list: BTreeMap<String, String> =
        serde_json::from_str(&fs::read_to_string(list).unwrap()).unwrap();
    let other: BTreeMap<&String, String> = list.keys().map(|text| (text, said(text))).collect();
    fs::write(to, serde_json::to_string(&other).unwrap()).unwrap();
}

/// A text with Cyrillic letters for its own, but for the names of what is put in.
pub fn said(text: &str) -> String {
    let mut inside = false;
    text.chars()
        .map(|c| {
            match c {
                '{' => inside = true,
                '}' => inside = false,
                _ => {}
            }
            let from = |first: char, to: u32| char::from_u32(to + c as u32 - first as u32).unwrap();
            match c {
                'a'..='z' if !inside => from('a', 0x430),
                'A'..='Z' if !inside => from('A', 0x410),
                c => c,
            }
        })
        .collect()
}

/// The words of English in what was shown: three small letters or more, but for `known` ones.
pub fn english<'a>(shown: &'a str, known: &[&str]) -> Vec<&'a str> {
    shown
        .split(|c: char| !c.is_ascii_alphabetic())
        .filter(|word| word.chars().filter(char::is_ascii_lowercase).count() >= 3)
        .filter(|word| !known.contains(word))
        .collect()
}
