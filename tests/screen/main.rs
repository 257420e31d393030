//! The program in use: in a terminal, with keys.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]

#[path = "../common/cabinet.rs"]
mod cabinet;
#[path = "../common/mod.rs"]
mod common;
#[path = "../common/harness.rs"]
mod harness;

mod day;
mod disk;
mod first_minute;
mod floods;
mod hang;
mod keys;
mod kit;
mod paper;
mod screens;
mod speech;
mod streams;
mod terminal;
mod trade;
mod whole_loop;
