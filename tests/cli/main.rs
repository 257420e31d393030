//! The program as scripts use it: commands, their answers, and their refusals.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]

#[path = "../common/cabinet.rs"]
mod cabinet;
#[path = "../common/mod.rs"]
mod common;

mod bad_input;
mod contract;
mod conversion;
mod headless_loop;
mod kits;
mod log;
mod merge;
mod pocket;
mod project_story;
mod readme;
mod rollcall;
mod trade_story;
