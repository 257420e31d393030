//! The program as it is used: in a terminal, by keys.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]

mod cost;
mod first_minute;
mod floods;
mod hang;
mod harness;
#[path = "../common/other_language.rs"]
mod in_words;
mod kit;
mod other_language;
mod paper;
mod screens;
mod streams;
mod terminal;
mod whole_loop;
