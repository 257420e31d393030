//! Paper for the wall: labels, hook labels, ring cards, maps of boards and buy lists.
//!
//! A sheet is a function from the state to a [`page::Document`]: pages of items in exact hundredths of
//! a millimetre, each item with its area on the page and what is drawn in it. [`svg`] and [`html`]
//! write that down and decide nothing. Nothing is drawn beyond an item, items do not lie on one
//! another, and all lies where a printer prints ([`paper::Sheet::printable`]).

pub mod board;
mod board_cell;
pub mod buy;
pub mod hook_names;
mod html;
pub mod label_sheet;
pub mod labels;
pub mod mm;
pub mod page;
pub mod paper;
mod regions;
pub mod ring;
pub mod svg;
#[cfg(test)]
mod tests;
pub mod text;

pub use html::html;
