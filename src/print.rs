//! Paper for the wall: labels, hook labels, ring cards, maps of boards and buy lists.
//!
//! A sheet is a function from the state to a [`page::Document`]: pages of items in exact hundredths of
//! a millimetre, each item with its area on the page and what is drawn in it. [`write`] puts that down
//! as SVG or HTML and decides nothing. Nothing is drawn beyond an item, items do not lie on one
//! another, and all lies where a printer prints ([`paper::Sheet::printable`]).

pub mod board_map;
pub mod buy_list;
pub mod hook_labels;
pub mod labels;
pub mod mm;
pub mod page;
pub mod paper;
pub mod ring_card;
#[cfg(test)]
mod tests;
pub mod write;
