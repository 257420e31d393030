//! Homehook keeps a wall board of thread cards in order.
//!
//! The library has no terminal in its core. Each layer may use only those before it:
//! [`language`], [`model`], [`engine`], [`stash`], then [`journal`] and [`exchange`], then [`cli`] and [`tui`].

#![deny(missing_docs)]

pub mod cli;
pub mod engine;
pub mod exchange;
pub mod journal;
pub mod language;
pub mod model;
pub mod stash;
pub mod tui;
