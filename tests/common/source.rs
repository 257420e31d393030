//! The source files.

use std::fs;
use std::path::{Path, PathBuf};

/// Every Rust file in a folder and its subfolders; none if the folder is missing.
pub fn files(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).into_iter().flatten() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            found.extend(files(&path));
        } else if path.extension().is_some_and(|end| end == "rs") {
            found.push(path);
        }
    }
    found
}

/// The string literals in Rust code with their runtime values: excluding tests and comments, with
/// continued lines joined.
pub fn literals(code: &str) -> Vec<String> {
    let code = code.split("\n#[cfg(test)]").next().unwrap_or(code);
    let mut found = Vec::new();
    let mut rest = code;
    while let Some(at) = rest.find(['"', '\'', '/', 'r']) {
        let (before, from) = rest.split_at(at);
        let begins_word = !before.ends_with(|c: char| c.is_alphanumeric() || c == '_');
        rest = if let Some(comment) = from.strip_prefix("//") {
            comment.split_once('\n').map_or("", |(_, after)| after)
        } else if let Some(text) = from.strip_prefix('"') {
            let end = end_of(text);
            found.push(plain(&text[..end]));
            &text[end + 1..]
        } else if begins_word && let Some((text, after)) = raw(from) {
            found.push(text.to_owned());
            after
        } else {
            &from[letter(from)..]
        };
    }
    found
}

/// The index of the quotation mark that ends a string.
fn end_of(text: &str) -> usize {
    let mut escaped = false;
    let end = text.bytes().position(|byte| {
        let ends = byte == b'"' && !escaped;
        escaped = byte == b'\\' && !escaped;
        ends
    });
    end.expect("the code compiles, so each text ends")
}

/// A raw string at the start of the code, and the code after it.
fn raw(code: &str) -> Option<(&str, &str)> {
    let hashes = code.strip_prefix('r')?;
    let text = hashes.trim_start_matches('#');
    let signs = &hashes[..hashes.len() - text.len()];
    let text = text.strip_prefix('"')?;
    text.split_once(&format!("\"{signs}"))
}

/// The length of a character literal, or of a single quotation mark.
fn letter(code: &str) -> usize {
    let one = |text: &str| text.chars().next().map_or(0, char::len_utf8);
    let Some(inside) = code.strip_prefix('\'') else {
        return one(code);
    };
    let sign = match inside.strip_prefix('\\') {
        Some(escape) if escape.starts_with("u{") => inside.find('}').map_or(1, |at| at + 1),
        Some(escape) if escape.starts_with('x') => 4,
        Some(_) => 2,
        None => one(inside),
    };
    // A lifetime has no second mark.
    let ends = inside
        .get(sign..)
        .is_some_and(|after| after.starts_with('\''));
    if ends { sign + 2 } else { 1 }
}

/// A string literal with escapes for line breaks replaced, and continued lines joined.
fn plain(text: &str) -> String {
    let mut lines = text.split("\\\n");
    let first = lines.next().unwrap_or_default().to_owned();
    let text = lines.fold(first, |text, line| text + line.trim_start());
    text.replace("\\n", "\n").replace("\\\"", "\"")
}
