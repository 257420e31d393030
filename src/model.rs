//! What exists: ranges, cards, boards, rings, and the small laws each keeps by itself.
//!
//! No I/O, no clock and no terminal. A time is data that somebody else measured.

pub mod assumptions;
pub mod board;
pub mod card;
pub mod colour;
pub mod ids;
pub mod label;
pub mod number;
pub mod range;
pub mod ring;
#[cfg(test)]
pub(crate) mod schema;
pub mod thread;
pub mod whereabouts;
