//! A card list before it is imported: which column is what, and what would come of it.

use std::sync::Arc;

use jiff::Timestamp;

use crate::exchange::{Column, Columns, Found, Warning, look_over, read_cards_as};
use crate::stash::command::import::{self, Amount, CardRow, Outcome, Terms};
use crate::stash::refusal::{Refusal, Rejected};
use crate::stash::state::State;
use crate::text;
use crate::text::files::{self, file_error};
use crate::tui::refused::on_screen;
use crate::tui::widgets::text::shown;

/// Lines that are kept to be looked at, of those understood and of those refused each.
const SHOWN: usize = 200;
/// Lines that are named when the list was imported.
const NAMED: usize = 8;

/// What would come of the list with the columns as they are taken.
#[derive(Clone, Debug)]
pub struct Judged {
    /// The first rows that are understood.
    pub rows: Vec<CardRow>,
    /// The first rows that cannot be taken, with reasons.
    pub rejected: Vec<Rejected>,
    /// The first values that were left out of rows that can, with reasons.
    pub warnings: Vec<Warning>,
    /// How many values were left out.
    pub doubts: usize,
    /// How many cannot.
    pub refused: usize,
    /// What would come of the others; `None` where there is none.
    pub outcome: Option<Outcome>,
    /// Whether the boards have too few places for all cards that would be there.
    pub crowded: bool,
}

/// A card list whose columns are matched.
#[derive(Clone, Debug)]
pub struct Matching {
    /// The file's name.
    pub file: String,
    /// The range for rows that name none; may be empty.
    pub range: String,
    /// What is in the file.
    bytes: Arc<[u8]>,
    /// Its columns as they stand.
    pub found: Found,
    /// What they are taken for.
    pub columns: Columns,
    /// Which column is chosen.
    pub at: usize,
    /// First of the lines below that is shown.
    pub top: usize,
    /// What would come of it, or what is to be said of the columns first.
    pub judged: Result<Judged, String>,
    /// Whether the file is no list with any columns, until it is put right.
    pub unreadable: bool,
    /// Where the file is, as it was given.
    pub path: String,
}

/// What a column may be taken for, in the order they are gone through: what no other column is taken
/// for comes first. `None` leaves it out.
fn choices(others: &[Option<Column>]) -> Vec<Option<Column>> {
    use Column::{
        DyeLot, Family, Hex, Hook, Lengths, Name, Note, Number, Range, Skeins, SplitCardOf, Uncut,
    };
    let wanted = [
        Number,
        Name,
        Hex,
        Range,
        Family,
        Lengths,
        Skeins,
        Uncut,
        DyeLot,
        Hook,
        Note,
        SplitCardOf,
    ];
    let (taken, free): (Vec<_>, Vec<_>) = wanted
        .map(Some)
        .into_iter()
        .partition(|choice| others.contains(choice));
    [vec![None], free, taken].concat()
}

/// What a column says of a card, for a person who sees the word for the first time.
#[must_use]
pub fn meaning(column: Option<Column>) -> &'static str {
    match column {
        None => "nothing is made of this column",
        Some(Column::Range) => "the maker's range",
        Some(Column::Number) => "as on the skein and the card; there must be one",
        Some(Column::Name) => "the colour's name",
        Some(Column::Hex) => "the colour itself in six hex digits, such as #C8102E",
        Some(Column::Family) => "the family it hangs with: blues, greens ...",
        Some(Column::Lengths) => "on the card; a skein makes 8",
        Some(Column::Skeins) => "cut onto the card; beside 'lengths' the uncut ones",
        Some(Column::Uncut) => "uncut skeins beside the card",
        Some(Column::DyeLot) => "as on the skein",
        Some(Column::Hook) => "the hook where the card hangs already, such as C07",
        Some(Column::Note) => "anything else to be kept",
        Some(Column::SplitCardOf) => "the project whose split card it is",
        // What only a key has.
        Some(_) => "",
    }
}

/// A row as it is understood, in a line.
#[must_use]
pub fn row_summary(row: &CardRow) -> String {
    let mut parts: Vec<String> = Vec::new();
    let mut say = |text: Option<String>| parts.extend(text);
    say(row.range.clone());
    say(Some(row.number.clone()));
    say(row.name.clone());
    say(row.colour.map(|colour| colour.to_string()));
    say(row.family.clone());
    say(row.amount.map(|amount| match amount {
        Amount::Lengths(1.0) => "1 length".to_owned(),
        Amount::Lengths(n) => format!("{n} lengths"),
        Amount::Skeins(1.0) => "1 skein".to_owned(),
        Amount::Skeins(n) => format!("{n} skeins"),
    }));
    say(row.uncut.map(|n| format!("{n} uncut")));
    say(row.dye_lot.as_ref().map(|lot| format!("lot {lot}")));
    say(row.hook.as_ref().map(|hook_name| format!("on {hook_name}")));
    say(row
        .split_card_of
        .as_ref()
        .map(|of| format!("split of {of}")));
    say(row.note.clone());
    parts.join(", ")
}

impl Matching {
    /// The columns of a file, guessed.
    ///
    /// # Errors
    /// Why the file is no list.
    pub fn new(
        state: &State,
        (path, range): (&str, &str),
        bytes: Vec<u8>,
        now: Timestamp,
    ) -> Result<Self, String> {
        let found = look_over(&bytes).map_err(|error| file_error(&error))?;
        let mut matching = Self {
            file: shown(path),
            range: range.to_owned(),
            bytes: bytes.into(),
            columns: found.guess.clone(),
            found,
            at: 0,
            top: 0,
            judged: Err(String::new()),
            unreadable: false,
            path: path.to_owned(),
        };
        matching.judge(state, now);
        Ok(matching)
    }

    /// Takes the chosen column for the next thing, or the one before.
    pub fn turn(&mut self, on: bool) {
        let mut others = self.columns.uses.clone();
        if self.at < others.len() {
            others.remove(self.at);
        }
        let all = choices(&others);
        let Some(place) = self.columns.uses.get_mut(self.at) else {
            return;
        };
        let now = all.iter().position(|choice| choice == place).unwrap_or(0);
        let next = if on { now + 1 } else { now + all.len() - 1 };
        *place = all.get(next % all.len()).copied().flatten();
        self.top = 0;
    }

    /// Whether a column is taken for what another is taken for.
    #[must_use]
    pub fn is_twice(&self, at: usize) -> bool {
        let meant = self.columns.uses.get(at).copied().flatten();
        let alike = self.columns.uses.iter().filter(|other| **other == meant);
        meant.is_some() && alike.count() > 1
    }

    /// Puts what is in the file now in place of what was, with the columns as they were chosen where
    /// it has as many.
    ///
    /// # Errors
    /// Why it is no list.
    pub fn read_again(
        &self,
        state: &State,
        bytes: Vec<u8>,
        now: Timestamp,
    ) -> Result<Self, String> {
        let mut again = Self::new(state, (&self.path, &self.range), bytes, now)?;
        if again.found.count() == self.found.count() {
            again.columns = self.columns.clone();
            again.at = self.at;
            again.judge(state, now);
        }
        Ok(again)
    }

    /// How much came of the list and which lines were left out, for when it was imported; `None`
    /// where nothing was left out.
    #[must_use]
    pub fn imported(&self) -> Option<String> {
        let judged = self.judged.as_ref().ok()?;
        if judged.refused == 0 && judged.doubts == 0 {
            return None;
        }
        let outcome = judged.outcome.as_ref();
        let count = outcome.map_or(0, |outcome| outcome.added + outcome.changed);
        let mut said = vec![format!("{cards} imported", cards = text::cards(count))];
        let lines = |of: &mut dyn Iterator<Item = u64>, all: usize| {
            let mut first: Vec<String> = of.take(NAMED).map(|line| line.to_string()).collect();
            if all > first.len() {
                first.push("…".to_owned());
            }
            first.join(", ")
        };
        match judged.refused {
            0 => {}
            1 => said.push(format!(
                "line {line} was left out",
                line = lines(&mut judged.rejected.iter().map(|row| row.line), 1)
            )),
            refused => said.push(format!(
                "{refused} lines were left out: {lines}",
                lines = lines(&mut judged.rejected.iter().map(|row| row.line), refused)
            )),
        }
        match judged.doubts {
            0 => {}
            1 => said.push(format!(
                "a value on line {line} could not be read",
                line = lines(&mut judged.warnings.iter().map(|told| told.line), 1)
            )),
            doubts => said.push(format!(
                "{doubts} values could not be read, on lines {lines}",
                lines = lines(&mut judged.warnings.iter().map(|told| told.line), doubts)
            )),
        }
        Some(said.join("; "))
    }

    /// Works out what would come of the list. O(size of the file).
    pub fn judge(&mut self, state: &State, now: Timestamp) {
        self.judged = self.judgement(state, now);
    }

    fn judgement(&mut self, state: &State, now: Timestamp) -> Result<Judged, String> {
        self.unreadable = false;
        let uses = &self.columns.uses;
        if let Some(at) = (0..uses.len()).find(|&at| self.is_twice(at)) {
            let title = uses[at].map_or("", Column::title);
            return Err(format!(
                "Two columns are said to be '{title}': choose one of them and change it with Left \
         and Right."
            ));
        }
        if !uses.contains(&Some(Column::Number)) {
            return Err(
                "Which column has the number on the card? Choose it with Up and Down, then Right \
         until it says 'number'."
                    .to_owned(),
            );
        }
        let list = match read_cards_as(&self.bytes, &self.columns) {
            Ok(list) => list,
            Err(error) => {
                self.unreadable = true;
                return Err(file_error(&error));
            }
        };
        let terms = Terms {
            range: Some(self.range.clone()).filter(|range| !range.is_empty()),
            ..Terms::default()
        };
        let unreadable = files::rejected(&list.rejected);
        let outcome = match import::card_list(state, &list.rows, unreadable, &terms, now) {
            Ok(outcome) => Ok(outcome),
            Err(Refusal::RowsRejected { every, .. }) => Err(every),
            Err(refusal) => return Err(on_screen(&refusal)),
        };
        let mut rejected = match &outcome {
            Ok(outcome) => outcome.rejected.clone(),
            Err(every) => every.clone(),
        };
        let mut warnings = list.warnings_beside(rejected.iter().map(|row| row.line));
        let doubts = warnings.len();
        warnings.truncate(SHOWN);
        let mut rows = list.rows;
        let lines: std::collections::HashSet<u64> = rejected.iter().map(|row| row.line).collect();
        rows.retain(|row| !lines.contains(&row.line));
        rows.truncate(SHOWN);
        let refused = rejected.len();
        rejected.truncate(SHOWN);
        let outcome = outcome.ok();
        let added = outcome.as_ref().map_or(0, |outcome| outcome.added);
        // Split cards need no hook, and nothing is said of how many a list has.
        let crowded = !uses.contains(&Some(Column::SplitCardOf)) && is_crowded(state, added);
        Ok(Judged {
            rows,
            rejected,
            warnings,
            doubts,
            refused,
            outcome,
            crowded,
        })
    }
}

/// Whether the boards, where there are some, are too small for so many more cards. O(hooks + cards).
fn is_crowded(state: &State, added: u32) -> bool {
    let places = state.hooks().map(|hook| usize::from(state.capacity(hook)));
    let cards = state.cards().filter(|kept| kept.card.parent.is_none());
    let wanted = cards.count() + usize::try_from(added).unwrap_or(usize::MAX);
    state.boards().len() > 0 && wanted > places.sum()
}
