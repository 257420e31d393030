//! The full-screen board.
//!
//! [`app`] holds what is on it. [`update`] turns a [`message::Message`] into a new [`app::App`] and
//! a list of [`message::Effect`]s; it reads the stash and never changes it. [`view`] draws from the
//! app and the stash alone. Only [`terminal`] touches the real terminal, the clock and the files.

pub mod app;
pub mod field;
pub(crate) mod handbook;
pub mod heat;
#[cfg(test)]
mod hostile_tests;
pub mod key;
pub mod keymap;
pub mod layout;
pub mod looks;
pub mod message;
mod refused;
pub mod screens;
pub mod terminal;
#[cfg(test)]
mod testing;
pub mod theme;
mod told;
pub mod update;
pub mod view;
pub mod wall;
mod widgets;

pub(crate) use widgets::text::wrap;

pub use terminal::{Demo, ScreenError, Settings, Throwaway, run};
