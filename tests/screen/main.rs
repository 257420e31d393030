//! The program as it is used: in a terminal, by keys.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]

mod first_minute;
mod hang;
mod harness;
mod kit;
mod paper;
mod streams;
mod terminal;
mod whole_loop;
