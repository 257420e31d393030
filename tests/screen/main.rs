//! The program as it is used: in a terminal, by keys.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]

mod harness;
mod kit;
mod streams;
mod terminal;
mod whole_loop;
