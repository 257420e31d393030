//! The full-screen board.
//!
//! [`update`] turns a [`message::Message`] into a new [`app::App`] and a list of
//! [`message::Effect`]s; it reads the stash and never changes it. [`view`] draws from the two
//! alone. Only [`terminal`] touches the real terminal, the clock and the files.

pub mod app;
pub mod design;
pub mod families;
pub mod field;
pub mod hang;
pub mod heat;
pub mod help;
#[cfg(test)]
mod hostile_tests;
pub mod key;
pub mod keymap;
pub mod layout;
pub mod log;
pub mod matching;
pub mod message;
pub mod project;
mod refused;
pub mod rehang;
pub mod rollcall;
pub mod spot;
pub mod terminal;
#[cfg(test)]
mod testing;
pub mod theme;
pub mod update;
pub mod view;
pub mod welcome;

pub use terminal::{Demo, ScreenError, Throwaway, run};
