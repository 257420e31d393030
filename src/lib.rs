//! Homehook keeps a wall board of thread cards in order.
//!
//! The core of the library has no terminal. Each layer may use only earlier ones: [`model`],
//! [`engine`], [`stash`], then [`journal`] and [`exchange`], then [`text`], [`print`], and finally
//! [`cli`] and [`tui`].
//!
//! A change starts as a command, which looks at the state and returns an event. The state applies
//! the event, and a record keeps it. Start reading at [`stash`], or at [`engine::fewest_moves`] for
//! the fewest moves.
//!
//! ```
//! use homehook::exchange::read_cards;
//! use homehook::model::board::ReadingOrder;
//! use homehook::stash::command::board::{NewBoard, new_board};
//! use homehook::stash::command::{import, rehang, ring};
//! use homehook::stash::state::State;
//! use homehook::text;
//! use homehook::text::files::rejected;
//!
//! let now = jiff::Timestamp::UNIX_EPOCH;
//! let mut stash = State::default();
//! let wall = NewBoard {
//!     name: "wall".into(),
//!     prefix: String::new(),
//!     rows: 1,
//!     columns: 4,
//!     cards_per_hook: 1,
//!     reading: ReadingOrder::Rows,
//! };
//! stash.apply(&new_board(&stash, &wall)?)?;
//!
//! // Two cards hang side by side, and the number between them is bought.
//! let list = read_cards(b"number,hook\n701,A01\n447,A02\n352,\n")?;
//! let (refused, terms) = (rejected(&list.rejected), import::Terms::default());
//! let read = import::card_list(&stash, &list.rows, refused, &terms, now)?;
//! stash.apply(&read.event.ok_or("nothing new")?)?;
//!
//! // One card has to move. The plan says which, and where to.
//! let plan = rehang::plans(&stash)?.swap_remove(1);
//! assert_eq!(plan.touched, 1);
//!
//! // A card goes out on a ring, and its hook waits for it.
//! let card = stash.find_card("701")?;
//! stash.apply(&ring::take(&stash, "Harbour", &[card], now)?)?;
//! let kept = stash.card(card).ok_or("it is there")?;
//! assert_eq!(text::places::place_of(&stash, kept), "on the ring 'Harbour'");
//! assert_eq!(kept.home, Some(stash.find_hook("A01")?));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

#![deny(missing_docs)]

pub mod cli;
pub mod engine;
pub mod exchange;
pub mod journal;
pub mod model;
mod print;
pub mod stash;
#[cfg(test)]
mod testing;
pub mod text;
pub mod tui;
