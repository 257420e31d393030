//! The record of the real program under kills, failing disks and several users at once.
//!
//! `HOMEHOOK_LONG=1` does many more of each.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]

#[path = "../common/mod.rs"]
mod common;
mod draw;
mod faults;
#[allow(dead_code, reason = "the tests of the screen use the rest")]
#[path = "../screen/harness.rs"]
mod harness;
mod kills;
mod places;
mod stash;
mod states;
mod together;
