//! The full-screen board.

pub mod key;
pub mod keymap;
