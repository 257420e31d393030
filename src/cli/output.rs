//! The output of a command: answers, notes and errors, and the writer's name.

use std::borrow::Cow;
use std::cell::Cell;
use std::fmt;
use std::io::{self, IsTerminal, Write};
use std::path::Path;
use std::process::ExitCode;

use serde::Serialize;

use super::failure::Failure;
use crate::model::label::{Who, is_invisible};
use crate::stash::refusal::Rejected;
use crate::text::refusal::row_fault;

/// A line on standard error, for scripts.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub(crate) enum Aside<'a> {
    /// Why the command failed.
    Error(ErrorOut<'a>),
    /// Something to know beside the answer.
    Notice(NoticeOut<'a>),
}

/// A row that was not taken.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct RejectedOut {
    /// Line of the file, counted from 1.
    line: u64,
    /// A stable word for scripts.
    code: String,
    /// The same as a sentence.
    reason: String,
}

impl RejectedOut {
    /// Rows with their reasons as sentences.
    pub(crate) fn all(rows: &[Rejected]) -> Vec<Self> {
        let rows = rows.iter().map(|row| Self {
            line: row.line,
            code: row.reason.to_string(),
            reason: row_fault(&row.reason),
        });
        rows.collect()
    }
}

/// Why a command failed.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct ErrorOut<'a> {
    /// A stable word for scripts.
    code: &'a str,
    /// The same as a sentence.
    message: Cow<'a, str>,
    /// The rows that were refused, where that is why.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    rejected: Vec<RejectedOut>,
}

/// A notice beside an answer.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct NoticeOut<'a> {
    /// One word for what it is about, which stays the same when the sentence changes.
    code: &'static str,
    /// What there is to know.
    message: Cow<'a, str>,
}

/// Writes the answer as text or JSON to standard output, and notes and errors to standard error.
pub(crate) struct Output {
    json: bool,
    by: Option<Who>,
    to: io::BufWriter<io::Stdout>,
    in_part: Cell<bool>,
    /// The stash folder as given, quoted for a shell.
    stash: Option<String>,
}

impl Output {
    /// Answers as JSON or as text; `by` is the writer's name, if any.
    pub(crate) fn new(json: bool, by: Option<Who>) -> Self {
        Self {
            json,
            by,
            to: io::BufWriter::new(io::stdout()),
            in_part: Cell::new(false),
            stash: None,
        }
    }

    /// Whether the answer is JSON.
    pub(crate) const fn is_json(&self) -> bool {
        self.json
    }

    /// The writer's name to record with a change.
    pub(crate) const fn by(&self) -> Option<&Who> {
        self.by.as_ref()
    }

    /// Whether the output goes to a terminal.
    pub(crate) fn is_terminal() -> bool {
        io::stdout().is_terminal() && io::stdin().is_terminal()
    }

    /// Writes a line of text.
    pub(crate) fn line(&mut self, text: impl fmt::Display) -> io::Result<()> {
        writeln!(self.to, "{}", visible(&text.to_string()))
    }

    /// Writes text unchanged.
    pub(crate) fn raw(&mut self, text: &str) -> io::Result<()> {
        self.to.write_all(text.as_bytes())
    }

    /// Writes one JSON object on a line.
    pub(crate) fn object(&mut self, value: &impl Serialize) -> io::Result<()> {
        let text = serde_json::to_string(value)?;
        writeln!(self.to, "{}", visible_json(&text))
    }

    /// Answers with one sentence, adding its full stop, or with the object.
    pub(crate) fn done(&mut self, sentence: &str, answer: &impl Serialize) -> io::Result<()> {
        if self.json {
            self.object(answer)
        } else {
            self.line(format_args!("{sentence}."))
        }
    }

    /// Sets the stash folder that was given, so that rescue commands name it.
    pub(crate) fn set_stash(&mut self, dir: Option<&Path>) {
        self.stash = dir.map(|dir| shell_words::quote(&dir.to_string_lossy()).into_owned());
    }

    /// A text with its rescue commands for the stash folder that was given: typed as printed, they must not look after
    /// another stash.
    pub(crate) fn placed(&self, text: &str) -> String {
        let Some(stash) = &self.stash else {
            return text.to_owned();
        };
        ["check", "merge", "board show"]
            .iter()
            .fold(text.to_owned(), |text, command| {
                text.replace(
                    &format!("homehook {command}"),
                    &format!("homehook --stash {stash} {command}"),
                )
            })
    }

    /// Notes that the answer comes from the sound part of a damaged record.
    pub(crate) fn only_in_part(&self) {
        self.in_part.set(true);
    }

    /// The exit code: `code`, or 3 if that is 0 and the answer comes from the sound part of a damaged record.
    pub(crate) fn exit_code(&self, code: ExitCode) -> ExitCode {
        if code == ExitCode::SUCCESS && self.in_part.get() {
            ExitCode::from(3)
        } else {
            code
        }
    }

    /// Flushes the output.
    pub(crate) fn flush(&mut self) -> io::Result<()> {
        self.to.flush()
    }

    /// Writes a note for the user apart from the answer; `code` is its stable word for scripts.
    pub(crate) fn note(&self, code: &'static str, message: impl fmt::Display) {
        let message = self.placed(&message.to_string());
        if self.json {
            say_json(&Aside::Notice(NoticeOut {
                code,
                message: shortened(&message),
            }));
        } else {
            say(&format!("homehook: {message}"));
        }
    }

    /// Lists the rejected rows with their reasons.
    pub(crate) fn rejected(&self, rows: &[Rejected]) {
        if !self.json {
            for row in rows {
                say(&format!(
                    "homehook: line {}: {}",
                    row.line,
                    row_fault(&row.reason)
                ));
            }
        }
    }

    /// Reports why the command failed.
    pub(crate) fn failure(&self, failure: &Failure) {
        let rejected = failure.rejected();
        let message = self.placed(&failure.to_string());
        if !self.json {
            say(&format!("homehook: {message}"));
            // A single row is in the message already.
            if rejected.len() > 1 {
                self.rejected(rejected);
            }
            return;
        }
        say_json(&Aside::Error(ErrorOut {
            code: &failure.code(),
            message: shortened(&message),
            rejected: RejectedOut::all(rejected),
        }));
    }
}

/// The note that nothing was written.
pub(crate) const DRY_RUN: &str = "Dry run: nothing changed.";

/// Writes a shortened line to standard error. If even that is closed, nobody is left to tell.
pub(crate) fn say(line: &str) {
    let _ = writeln!(io::stderr().lock(), "{}", visible(&shortened(line)));
}

/// Reports an invalid command line, as text or as JSON.
pub(crate) fn usage(message: &str, json: bool) {
    if json {
        say_json(&Aside::Error(ErrorOut {
            code: "usage",
            message: shortened(message),
            rejected: Vec::new(),
        }));
    } else {
        say(&format!("homehook: {message}"));
    }
}

/// Writes an object to standard error unshortened, since it lists rejected rows one by one.
fn say_json(aside: &Aside<'_>) {
    if let Ok(text) = serde_json::to_string(aside) {
        let _ = writeln!(io::stderr().lock(), "{}", visible_json(&text));
    }
}

/// The most characters in a message: it repeats user input, which may be very long. A path may have
/// 4,096 bytes on common systems (from memory).
const LONGEST: usize = 5_000;
/// The number of characters kept from the start of a longer message, and from its end, which has
/// the advice.
const ENDS: (usize, usize) = (1_000, 500);

/// A message without its middle, if it is too long to read.
pub(crate) fn shortened(text: &str) -> Cow<'_, str> {
    let count = text.chars().count();
    if count <= LONGEST {
        return Cow::Borrowed(text);
    }
    let (head, tail) = ENDS;
    let left_out = count - head - tail;
    let mut short: String = text.chars().take(head).collect();
    short.push_str(&format!(" [{left_out} characters left out] "));
    short.extend(text.chars().skip(head + left_out));
    Cow::Owned(short)
}

/// Whether a terminal would act on a character rather than show it.
fn acts(c: char) -> bool {
    is_invisible(c) && !matches!(c, '\n' | '\t')
}

/// A text that is safe for a terminal: many answers repeat user input or file contents, which could
/// contain an escape sequence. Such characters are written as `\u{1b}`.
fn visible(text: &str) -> Cow<'_, str> {
    if !text.contains(acts) {
        return Cow::Borrowed(text);
    }
    let mut shown = String::with_capacity(text.len());
    for c in text.chars() {
        if acts(c) {
            shown.extend(c.escape_unicode());
        } else {
            shown.push(c);
        }
    }
    Cow::Owned(shown)
}

/// The same for JSON, without changing its meaning: outside strings it has no such characters.
fn visible_json(text: &str) -> Cow<'_, str> {
    if !text.contains(acts) {
        return Cow::Borrowed(text);
    }
    let mut shown = String::with_capacity(text.len());
    for c in text.chars() {
        if acts(c) {
            let mut units = [0; 2];
            for unit in c.encode_utf16(&mut units) {
                shown.push_str(&format!("\\u{unit:04x}"));
            }
        } else {
            shown.push(c);
        }
    }
    Cow::Owned(shown)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn characters_that_a_terminal_would_obey_are_escaped() {
        assert_eq!(visible("a\u{1b}[31m\u{9b}x"), "a\\u{1b}[31m\\u{9b}x");
        assert_eq!(visible("plain \u{e4}\n\tword"), "plain \u{e4}\n\tword");
        assert_eq!(visible_json("\"a\u{202e}\""), "\"a\\u202e\"");
    }

    #[test]
    fn an_endless_message_is_shown_without_its_middle() {
        let path = "p".repeat(4_096);
        let whole = format!("{path} cannot be read; check its name");
        assert_eq!(shortened(&whole), whole);
        let long = format!("no card '{}'; have you another?", "\u{e9}".repeat(1 << 20));
        let short = shortened(&long);
        assert!(short.starts_with("no card '\u{e9}") && short.ends_with("; have you another?"));
        assert!(short.contains("[1047105 characters left out]"), "{short}");
        assert!(short.chars().count() < 1_600);
    }

    proptest! {
        #[test]
        fn no_text_reaches_a_terminal_raw_and_json_keeps_its_meaning(text in any::<String>()) {
            prop_assert!(!visible(&text).contains(acts));
            let json = serde_json::to_string(&text).unwrap();
            let shown = visible_json(&json);
            prop_assert!(!shown.contains(acts));
            prop_assert_eq!(serde_json::from_str::<String>(&shown).unwrap(), text);
        }
    }
}
