//! The record on disk: its content, what survives a fault or a kill, and what can be saved of a
//! damaged one.
//!
//! `HOMEHOOK_LONG=1` runs many more cases of each.

#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]

#[path = "../common/mod.rs"]
mod common;
#[allow(dead_code, reason = "the tests of the screen use the rest")]
#[path = "../common/harness.rs"]
mod harness;

mod crash;
mod lines;
mod salvage;
