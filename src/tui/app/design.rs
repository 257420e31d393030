//! A board that is drawn on the screen: its measures, and the hooks that cannot be used.

use std::collections::{BTreeMap, BTreeSet};

use ratatui::layout::Rect;

use super::{Back, Blank, Eye, Zoom};
use crate::language::{say, text, word};
use crate::model::board::{Board, HookRef, ReadingOrder};
use crate::model::ids::BoardId;
use crate::model::label::Label;
use crate::model::ring::RingState;
use crate::stash::command::board::{Drawing, NewBoard};
use crate::stash::state::State;
use crate::tui::field::Field;
use crate::tui::keymap::Scope;
use crate::tui::layout::{self, Grid};

/// Why a hook cannot be used, to choose from; on the board any other reason can be typed.
pub const REASONS: [&str; 5] = [
    text!("bracket"),
    text!("no hook here"),
    text!("out of reach"),
    text!("too much light"),
    text!("broken"),
];

/// The name of a reading order.
#[must_use]
pub fn order_in_words(order: ReadingOrder) -> &'static str {
    match order {
        ReadingOrder::Rows => word!("row by row"),
        ReadingOrder::Columns => word!("column by column"),
        ReadingOrder::ThereAndBack => word!("there and back"),
    }
}

/// A line of the measures.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Line {
    /// A text, by its place among the blanks.
    Text(usize),
    /// A number, likewise.
    Number(usize),
    /// The order the hooks are read in.
    Order,
}

/// A board that is drawn.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Design {
    /// The board that is there already, if it is one.
    pub board: Option<BoardId>,
    /// Where it leads back to.
    pub back: Back,
    /// Name, rows, columns, places, and for a new board the prefix.
    pub blanks: Vec<Blank>,
    /// The order the hooks are read in.
    pub reading: ReadingOrder,
    /// Which line is written; the one after the blanks is the order.
    pub at: usize,
    /// Whether the line was just gone to: what is typed then takes the place of what stands there.
    pub fresh: bool,
    /// Whether hooks are marked, and no longer measures written.
    pub on_hooks: bool,
    /// The cursor among the hooks, and the part of the board in view.
    pub eye: Eye,
    /// The hooks that cannot be used, and why.
    pub blocked: BTreeMap<(u16, u16), Label>,
    /// Which of the reasons is given to hooks marked from now on.
    pub reason: usize,
    /// What is wrong, if anything.
    pub wrong: Option<String>,
}

fn blank(label: &'static str, hint: &'static str, text: &str) -> Blank {
    Blank {
        label,
        hint,
        field: Field::with(text),
    }
}

impl Design {
    /// A drawing of a new board.
    #[must_use]
    pub fn new_board(state: &State, back: Back) -> Self {
        let first = state.boards().len() == 0;
        let (name, prefix) = if first {
            (word!("wall").to_owned(), String::new())
        } else {
            let n = state.boards().len() + 1;
            (say!("wall {n}", n), format!("{n}-"))
        };
        let mut blanks = Self::measures(&name, 12, 20, 1);
        let hint = word!("what its marks begin with; may be empty");
        blanks.push(blank(text!("prefix"), hint, &prefix));
        Self::with(None, back, blanks, ReadingOrder::Rows, BTreeMap::new())
    }

    /// A drawing of a board that is there.
    #[must_use]
    pub fn of(board: &Board) -> Self {
        let blanks = Self::measures(board.name.as_str(), board.rows, board.columns, board.places);
        let special = board.special.iter();
        let blocked = special.filter_map(|(&at, spec)| Some((at, spec.blocked.clone()?)));
        let (id, reading) = (Some(board.id), board.reading);
        Self::with(id, Back::Board, blanks, reading, blocked.collect())
    }

    fn measures(name: &str, rows: u16, columns: u16, places: u8) -> Vec<Blank> {
        vec![
            blank(text!("name"), word!("what you call it"), name),
            blank(
                text!("rows"),
                word!("from top to bottom"),
                &rows.to_string(),
            ),
            blank(
                text!("columns"),
                word!("hooks in a row"),
                &columns.to_string(),
            ),
            blank(
                text!("places"),
                word!("cards that go on one hook"),
                &places.to_string(),
            ),
        ]
    }

    fn with(
        board: Option<BoardId>,
        back: Back,
        blanks: Vec<Blank>,
        reading: ReadingOrder,
        blocked: BTreeMap<(u16, u16), Label>,
    ) -> Self {
        Self {
            board,
            back,
            blanks,
            reading,
            at: 0,
            fresh: true,
            on_hooks: false,
            eye: Eye {
                board: 0,
                row: 0,
                column: 0,
                pick: 0,
                zoom: Some(Zoom::Far),
                top: 0,
                left: 0,
            },
            blocked,
            reason: 0,
            wrong: None,
        }
    }

    /// Which keys hold.
    #[must_use]
    pub const fn scope(&self) -> Scope {
        if self.on_hooks {
            Scope::Hooks
        } else {
            Scope::Measures
        }
    }

    /// What kind of line is written.
    #[must_use]
    pub fn line(&self) -> Line {
        match self.blanks.get(self.at) {
            Some(blank) if matches!(blank.label, "name" | "prefix") => Line::Text(self.at),
            Some(_) => Line::Number(self.at),
            None => Line::Order,
        }
    }

    fn text(&self, label: &str) -> &str {
        let blank = self.blanks.iter().find(|blank| blank.label == label);
        blank.map_or("", |blank| blank.field.text().trim())
    }

    fn number<T: std::str::FromStr>(&self, label: &'static str) -> Result<T, String> {
        let text = self.text(label);
        text.parse().map_err(|_| match text {
            "" => say!(
                "{label}: write a whole number, such as 12",
                label = word(label)
            ),
            text => say!(
                "{label}: write a whole number, such as 12, in place of '{text}'",
                label = word(label),
                text
            ),
        })
    }

    /// What was drawn.
    ///
    /// # Errors
    /// Which measure is no number.
    pub fn drawing(&self) -> Result<Drawing, String> {
        Ok(Drawing {
            measures: NewBoard {
                name: self.text("name").to_owned(),
                prefix: self.text("prefix").to_owned(),
                rows: self.number("rows")?,
                columns: self.number("columns")?,
                places: self.number("places")?,
                reading: self.reading,
            },
            blocked: self.blocked.clone(),
        })
    }

    /// The board as it is drawn so far.
    ///
    /// # Errors
    /// Why the measures cannot be a board.
    pub fn drawn(&self, state: &State) -> Result<Board, String> {
        let measures = self.drawing()?.measures;
        let there = self.board.and_then(|id| state.board(id));
        let label = |text: &str| Label::new(text).map_err(|wrong| wrong.to_string());
        let prefix = there.map(|board| board.prefix.clone());
        let board = Board {
            id: self.board.unwrap_or(BoardId(0)),
            name: label(&measures.name)?,
            prefix: prefix.map_or_else(|| label(&measures.prefix), Ok)?,
            rows: measures.rows,
            columns: measures.columns,
            places: measures.places,
            reading: measures.reading,
            special: BTreeMap::new(),
        };
        board.check().map_err(|wrong| wrong.to_string())?;
        Ok(board)
    }

    /// How it lies on the screen in an area.
    #[must_use]
    pub fn grid(&self, state: &State, board: &Board, area: Rect) -> Grid {
        layout::grid(state, board, &self.eye, area)
    }

    /// The reason given to hooks marked from now on.
    #[must_use]
    pub fn reason(&self) -> &'static str {
        word(REASONS[self.reason % REASONS.len()])
    }

    /// Hooks of the drawing, by row and column, that a card or a ring is on. O(cards).
    #[must_use]
    pub fn in_use(&self, state: &State) -> BTreeSet<(u16, u16)> {
        let cards = state.cards();
        let hooks = cards.flat_map(|kept| [kept.home, kept.place.at.hook()]);
        let rings = state.rings().map(|ring| match ring.state {
            RingState::Parked { hook, .. } => Some(hook),
            _ => None,
        });
        let here = |hook: &HookRef| Some(hook.board) == self.board;
        let hooks = hooks.chain(rings).flatten().filter(here);
        hooks.map(|hook| (hook.row, hook.column)).collect()
    }
}
