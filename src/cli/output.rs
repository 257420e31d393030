//! Whom a command is done for, and where answers, notes and errors go.

use std::fmt;
use std::io::{self, IsTerminal, Write};

use serde::Serialize;
use serde_json::{Value, json};

use super::failure::Failure;
use crate::model::who::Who;
use crate::stash::intake::Rejected;

/// The one who gave a command, and the answer to it: text or JSON on standard output, notes and
/// errors beside it.
pub struct Output {
    json: bool,
    by: Option<Who>,
    to: io::BufWriter<io::Stdout>,
}

impl Output {
    /// Answers as JSON, or as text, to somebody who may have a name.
    pub fn new(json: bool, by: Option<Who>) -> Self {
        Self {
            json,
            by,
            to: io::BufWriter::new(io::stdout()),
        }
    }

    /// Whether the answer is to be JSON.
    pub const fn is_json(&self) -> bool {
        self.json
    }

    /// The name to write down with what is changed.
    pub const fn by(&self) -> Option<&Who> {
        self.by.as_ref()
    }

    /// Whether a person is looking at a terminal.
    pub fn is_terminal() -> bool {
        io::stdout().is_terminal() && io::stdin().is_terminal()
    }

    /// Writes a line of text.
    pub fn line(&mut self, text: impl fmt::Display) -> io::Result<()> {
        writeln!(self.to, "{text}")
    }

    /// Writes text as it is.
    pub fn raw(&mut self, text: &str) -> io::Result<()> {
        self.to.write_all(text.as_bytes())
    }

    /// Writes one JSON object and ends its line.
    pub fn object(&mut self, value: &impl Serialize) -> io::Result<()> {
        serde_json::to_writer(&mut self.to, value)?;
        self.to.write_all(b"\n")
    }

    /// Answers with one sentence: as text with its full stop, or under `done` in the object.
    pub fn done(&mut self, sentence: &str, mut object: Value) -> io::Result<()> {
        if !self.json {
            return self.line(format_args!("{sentence}."));
        }
        if let Value::Object(fields) = &mut object {
            fields.insert("done".to_owned(), Value::from(sentence));
        }
        self.object(&object)
    }

    /// Hands on what has been written so far.
    pub fn flush(&mut self) -> io::Result<()> {
        self.to.flush()
    }

    /// Says something beside the answer that the person should know of.
    pub fn note(&self, message: impl fmt::Display) {
        if self.json {
            say(&json!({"notice": {"message": message.to_string()}}).to_string());
        } else {
            say(&format!("homehook: {message}"));
        }
    }

    /// Says which rows were not taken, and why.
    pub fn rejected(&self, rows: &[Rejected]) {
        if !self.json {
            for row in rows {
                say(&format!("homehook: line {}: {}", row.line, row.reason));
            }
        }
    }

    /// Says why the command could not be carried out.
    pub fn failure(&self, failure: &Failure) {
        let rejected = failure.rejected();
        if !self.json {
            say(&format!("homehook: {failure}"));
            // One row alone is in the message already.
            if rejected.len() > 1 {
                self.rejected(rejected);
            }
            return;
        }
        let mut error = json!({"code": failure.code(), "message": failure.to_string()});
        if let (false, Value::Object(fields)) = (rejected.is_empty(), &mut error) {
            fields.insert("rejected".to_owned(), json!(rejected));
        }
        say(&json!({"error": error}).to_string());
    }
}

/// Writes a line to standard error. Where even that is closed there is nobody left to tell.
fn say(line: &str) {
    let _ = writeln!(io::stderr().lock(), "{line}");
}
