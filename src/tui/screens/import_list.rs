//! Which card list is imported.

use super::card_form::ranges;
use super::import::Import;
use crate::stash::state::State;
use crate::tui::app::screen::Context;
use crate::tui::message::{Effect, Want};
use crate::tui::screens::form::{Asks, Fields, Form, Input, Wrong, inputs};

/// The file, and the range for rows that name none.
#[derive(Clone, Debug)]
pub struct ImportList {
    file: Input,
    range: Input,
}

impl ImportList {
    /// The form as it opens. The range is chosen beforehand where there is only one.
    #[must_use]
    pub fn form(state: &State) -> Form<Self> {
        let mut all = state.ranges();
        let only = match (all.next(), all.next()) {
            (Some(only), None) => only.name.as_str(),
            _ => "",
        };
        Self::of("", state, only)
    }

    /// The form with a file and a range that were given before.
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
        match (line, self.file.value()) {
            (0, "") => Err(Wrong::at(
                &self.file,
                "write where the file is, such as ~/cards.csv.",
            )),
            _ => Ok(()),
        }
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
        let named = (self.file.value(), self.range.value());
        let read = Import::of(context.app, context.stash.state, named, bytes.to_vec())?;
        context.open(read);
        Ok(())
    }
}
