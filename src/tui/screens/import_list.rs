//! The choice of a list to import: a card list, a range list or a conversion list.

use super::card_form::ranges;
use super::sheet::List;
use crate::exchange::{plain, read_matches, read_range};
use crate::stash::command::import;
use crate::stash::state::State;
use crate::text::files::{file_error, rejected};
use crate::text::refusal::row_fault;
use crate::text::{capital, one_or_many};
use crate::tui::app::question::Then;
use crate::tui::app::screen::Context;
use crate::tui::message::{Effect, Want};
use crate::tui::refused::on_screen;
use crate::tui::screens::form::{Asks, Fields, Form, Input, Wrong, inputs};

/// The file, and the range for rows that name none.
#[derive(Clone, Debug)]
pub struct ImportList {
    file: Input,
    range: Input,
}

/// The name of the only range, or nothing if there are several.
fn only_range(state: &State) -> &str {
    let mut all = state.ranges();
    match (all.next(), all.next()) {
        (Some(only), None) => only.name.as_str(),
        _ => "",
    }
}

/// Requires a file in the first line.
fn is_named(line: usize, file: &Input, such_as: &str) -> Result<(), Wrong> {
    match (line, file.value()) {
        (0, "") => Err(Wrong::at(
            file,
            format!("write where the file is, such as {such_as}."),
        )),
        _ => Ok(()),
    }
}

impl ImportList {
    /// The form as it opens, with the only range preselected.
    #[must_use]
    pub fn form(state: &State) -> Form<Self> {
        Self::of("", state, only_range(state))
    }

    /// The form with a file and range entered earlier.
    #[must_use]
    pub fn of(file: &str, state: &State, range: &str) -> Form<Self> {
        let hint = "CSV, .xlsx or .ods; Tab completes";
        let of_rows = "for rows that name no range; may be empty";
        Form::new(Self {
            file: Input::file("file", hint).with(file),
            range: Input::choice("range", of_rows, ranges(state, range).or_none()),
        })
    }
}

impl Fields for ImportList {
    fn title(&self, _: &State) -> String {
        "Import a card list".to_owned()
    }

    inputs!(file, range);

    fn may_leave(&self, line: usize) -> Result<(), Wrong> {
        is_named(line, &self.file, "~/cards.csv")
    }

    fn done(&self, _: &mut Context<'_>) -> Result<Asks, Wrong> {
        self.may_leave(0)?;
        Ok(Asks::Effect(Effect::ReadFile {
            path: self.file.value().to_owned(),
            want: Want::CardList {
                range: self.range.value().to_owned(),
            },
        }))
    }

    fn read(&self, context: &mut Context<'_>, bytes: &[u8]) -> Result<(), String> {
        let list = List::Cards {
            path: self.file.value().to_owned(),
            range: self.range.value().to_owned(),
        };
        list.read(context, bytes)
    }
}

/// The form for a range list, which adds missing names and colours to the cards of a range.
#[derive(Clone, Debug)]
pub struct ImportRange {
    file: Input,
    range: Input,
}

impl ImportRange {
    /// The form, with the only range preselected.
    #[must_use]
    pub fn form(state: &State) -> Form<Self> {
        let hint = "a list with number, name and hex; Tab completes";
        let of = "which range it is of";
        Form::new(Self {
            file: Input::file("file", hint),
            range: Input::choice("range", of, ranges(state, only_range(state))),
        })
    }
}

impl Fields for ImportRange {
    fn title(&self, _: &State) -> String {
        "Import a range list".to_owned()
    }

    inputs!(file, range);

    fn may_leave(&self, line: usize) -> Result<(), Wrong> {
        is_named(line, &self.file, "~/range.csv")
    }

    fn done(&self, _: &mut Context<'_>) -> Result<Asks, Wrong> {
        self.may_leave(0)?;
        if self.range.value().is_empty() {
            return Err(Wrong::at(&self.range, "write which range it is of."));
        }
        Ok(Asks::Effect(Effect::ReadFile {
            path: self.file.value().to_owned(),
            want: Want::Range,
        }))
    }

    fn read(&self, context: &mut Context<'_>, bytes: &[u8]) -> Result<(), String> {
        let list = List::Range {
            path: self.file.value().to_owned(),
            range: self.range.value().to_owned(),
        };
        list.read(context, bytes)
    }
}

/// Records a range list.
///
/// # Errors
/// Why the file isn't a range list, or has no such sheet.
pub fn range_list(
    context: &mut Context<'_>,
    range: &str,
    bytes: &[u8],
    sheet: Option<&str>,
) -> Result<(), String> {
    let plain = plain(bytes.to_vec(), sheet).map_err(|error| file_error(&error))?;
    let list = read_range(plain.text.as_bytes()).map_err(|error| file_error(&error))?;
    let unreadable = rejected(&list.rejected);
    let taken = import::range(context.stash.state, &list.rows, unreadable, range);
    let taken = taken.map_err(|refusal| on_screen(&refusal))?;
    match taken.event {
        Some(event) => context.commit(Ok(event)),
        None => context.app.say("The range list says nothing new."),
    }
    Ok(())
}

/// The form for a conversion list, which matches colours of one range with those of another.
#[derive(Clone, Debug)]
pub struct ImportMatches {
    file: Input,
}

impl ImportMatches {
    /// The empty form.
    #[must_use]
    pub fn form() -> Form<Self> {
        let hint = "range, number, match range, match number; Tab completes";
        Form::new(Self {
            file: Input::file("file", hint),
        })
    }
}

impl Fields for ImportMatches {
    fn title(&self, _: &State) -> String {
        "Import a conversion list".to_owned()
    }

    inputs!(file);

    fn may_leave(&self, line: usize) -> Result<(), Wrong> {
        is_named(line, &self.file, "~/matches.csv")
    }

    fn done(&self, _: &mut Context<'_>) -> Result<Asks, Wrong> {
        self.may_leave(0)?;
        Ok(Asks::Effect(Effect::ReadFile {
            path: self.file.value().to_owned(),
            want: Want::Matches,
        }))
    }

    fn read(&self, context: &mut Context<'_>, bytes: &[u8]) -> Result<(), String> {
        let path = self.file.value().to_owned();
        List::Matches { path }.read(context, bytes)
    }
}

/// Records a conversion list. Asks first if any row can't be imported.
///
/// # Errors
/// Why the file isn't a conversion list, or has no such sheet.
pub fn conversion_list(
    context: &mut Context<'_>,
    bytes: &[u8],
    sheet: Option<&str>,
) -> Result<(), String> {
    let plain = plain(bytes.to_vec(), sheet).map_err(|error| file_error(&error))?;
    let list = read_matches(plain.text.as_bytes()).map_err(|error| file_error(&error))?;
    let unreadable = rejected(&list.rejected);
    let taken = import::matches(context.stash.state, &list.rows, unreadable, false);
    let taken = taken.map_err(|refusal| on_screen(&refusal))?;
    match (taken.event, taken.rejected.first()) {
        (None, _) => context.app.say("The conversion list says nothing new."),
        (Some(event), None) => context.commit(Ok(event)),
        (Some(event), Some(first)) => {
            let count = taken.rejected.len();
            let question = format!(
                "{count} {rows} can't be taken. Line {line}: {why} Import the others?",
                rows = one_or_many(count, "row", "rows"),
                line = first.line,
                why = capital(&row_fault(&first.reason))
            );
            context.ask_for(question, Then::Record(Box::new(event)));
        }
    }
    Ok(())
}
