//! The draft of a board: its measures, its blocked hooks, and how cards would fill it.

use std::collections::{BTreeMap, BTreeSet};

use ratatui::layout::Rect;

use crate::model::board::{Board, HookRef, ReadingOrder};
use crate::model::ids::BoardId;
use crate::model::label::Label;
use crate::model::ring::RingState;
use crate::stash::command::board::{Drawing, NewBoard};
use crate::stash::state::State;
use crate::text::capital;
use crate::text::faults::{board_error, label_error};
use crate::tui::app::Viewport;
use crate::tui::app::derived::proposed_board;
use crate::tui::field::Field;
use crate::tui::keymap::Scope;
use crate::tui::layout::{self, Grid};

/// Reasons to block a hook. The board accepts any other reason as text.
pub const REASONS: [&str; 5] = [
    "bracket",
    "no hook here",
    "out of reach",
    "too much light",
    "broken",
];

/// The name of a reading order.
#[must_use]
pub fn order_name(order: ReadingOrder) -> &'static str {
    match order {
        ReadingOrder::Rows => "row by row",
        ReadingOrder::Columns => "column by column",
        ReadingOrder::ThereAndBack => "there and back",
    }
}

/// A line of the measures.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Line {
    /// A text, by its index among the blanks.
    Text(usize),
    /// A number, by its index among the blanks.
    Number(usize),
    /// The reading order of the hooks.
    Order,
}

/// An editable measure.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Measure {
    /// Its label.
    pub label: &'static str,
    /// Its hint.
    pub hint: &'static str,
    /// Its text field.
    pub field: Field,
}

/// The draft of a board.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Plan {
    /// The existing board, if there is one.
    pub board: Option<BoardId>,
    /// Name, rows, columns and cards per hook, and for a new board the prefix.
    pub blanks: Vec<Measure>,
    /// The reading order of the hooks.
    pub reading: ReadingOrder,
    /// The current line; the one after the blanks is the order.
    pub at: usize,
    /// Whether the cursor just reached the line, so that typing replaces its text.
    pub fresh: bool,
    /// Whether the cursor is on the hooks instead of the measures.
    pub on_hooks: bool,
    /// The cursor among the hooks, and the visible part of the board.
    pub eye: Viewport,
    /// The blocked hooks, with their reasons.
    pub blocked: BTreeMap<(u16, u16), Label>,
    /// Index of the reason for newly blocked hooks.
    pub reason: usize,
    /// The current error, if any.
    pub wrong: Option<String>,
}

fn blank(label: &'static str, hint: &'static str, text: &str) -> Measure {
    Measure {
        label,
        hint,
        field: Field::with(text),
    }
}

impl Plan {
    /// A new board large enough for the cards to hang.
    #[must_use]
    pub fn new_board(state: &State) -> Self {
        let proposed = proposed_board(state);
        let NewBoard { rows, columns, .. } = proposed;
        let mut blanks = Self::size(&proposed.name, rows, columns, proposed.cards_per_hook);
        let hint = "what its hooks begin with; may be empty";
        blanks.push(blank("prefix", hint, &proposed.prefix));
        Self::with(None, blanks, proposed.reading, BTreeMap::new())
    }

    /// The draft of an existing board.
    #[must_use]
    pub fn of(board: &Board) -> Self {
        let blanks = Self::size(
            board.name.as_str(),
            board.rows,
            board.columns,
            board.cards_per_hook,
        );
        let special = board.special.iter();
        let blocked = special.filter_map(|(&at, spec)| Some((at, spec.blocked.clone()?)));
        let (id, reading) = (Some(board.id), board.reading);
        Self::with(id, blanks, reading, blocked.collect())
    }

    fn size(name: &str, rows: u16, columns: u16, cards_per_hook: u8) -> Vec<Measure> {
        vec![
            blank("name", "what you call it", name),
            blank("rows", "from top to bottom", &rows.to_string()),
            blank("columns", "hooks in a row", &columns.to_string()),
            blank(
                "per hook",
                "cards that go on one hook",
                &cards_per_hook.to_string(),
            ),
        ]
    }

    fn with(
        board: Option<BoardId>,
        blanks: Vec<Measure>,
        reading: ReadingOrder,
        blocked: BTreeMap<(u16, u16), Label>,
    ) -> Self {
        Self {
            board,
            blanks,
            reading,
            at: 0,
            fresh: true,
            on_hooks: false,
            eye: Viewport::default(),
            blocked,
            reason: 0,
            wrong: None,
        }
    }

    /// The scope of its keys.
    #[must_use]
    pub const fn scope(&self) -> Scope {
        if self.on_hooks {
            Scope::Hooks
        } else {
            Scope::BoardSize
        }
    }

    /// The kind of the current line.
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
            "" => format!("{label}: write a whole number, such as 12", label = label),
            text => format!(
                "{label}: write a whole number, such as 12, in place of '{text}'",
                label = label
            ),
        })
    }

    /// The measures and blocked hooks entered so far.
    ///
    /// # Errors
    /// When a measure isn't a number.
    pub fn drawing(&self) -> Result<Drawing, String> {
        Ok(Drawing {
            size: NewBoard {
                name: self.text("name").to_owned(),
                prefix: self.text("prefix").to_owned(),
                rows: self.number("rows")?,
                columns: self.number("columns")?,
                cards_per_hook: self.number("per hook")?,
                reading: self.reading,
            },
            blocked: self.blocked.clone(),
        })
    }

    /// The board as entered so far.
    ///
    /// # Errors
    /// Why the measures don't make a board.
    pub fn drawn(&self, state: &State) -> Result<Board, String> {
        let size = self.drawing()?.size;
        let there = self.board.and_then(|id| state.board(id));
        let label = |text: &str| Label::new(text).map_err(|wrong| capital(&label_error(&wrong)));
        let prefix = there.map(|board| board.prefix.clone());
        let board = Board {
            id: self.board.unwrap_or(BoardId(0)),
            name: label(&size.name)?,
            prefix: prefix.map_or_else(|| label(&size.prefix), Ok)?,
            rows: size.rows,
            columns: size.columns,
            cards_per_hook: size.cards_per_hook,
            reading: size.reading,
            special: BTreeMap::new(),
        };
        board
            .check()
            .map_err(|wrong| capital(&board_error(&wrong)))?;
        Ok(board)
    }

    /// Its layout on the screen in an area.
    #[must_use]
    pub fn grid(&self, state: &State, board: &Board, area: Rect) -> Grid {
        layout::whole_grid(state, board, &self.eye, area)
    }

    /// The reason for newly blocked hooks.
    #[must_use]
    pub fn reason(&self) -> &'static str {
        REASONS[self.reason % REASONS.len()]
    }

    /// Hooks of the draft that hold a card or a ring, by row and column. O(cards).
    #[must_use]
    pub fn in_use(&self, state: &State) -> BTreeSet<(u16, u16)> {
        let cards = state.cards();
        let hooks = cards.flat_map(|kept| [kept.home, kept.place.at.hook()]);
        let rings = state.rings().map(|ring| match ring.state {
            RingState::Hanging { hook, .. } => Some(hook),
            _ => None,
        });
        let here = |hook: &HookRef| Some(hook.board) == self.board;
        let hooks = hooks.chain(rings).flatten().filter(here);
        hooks.map(|hook| (hook.row, hook.column)).collect()
    }
}
