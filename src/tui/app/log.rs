//! What was done, newest first.

use jiff::Timestamp;

/// Only so many of the last events are shown; `homehook history` tells them all.
pub const MOST: usize = 1000;

/// What was done, as it is shown.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Log {
    /// Events, the newest first.
    pub lines: Vec<Line>,
    /// First line shown.
    pub top: usize,
}

/// One event.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Line {
    /// Its number in the record.
    pub seq: u64,
    /// When it was written down.
    pub time: Timestamp,
    /// Who made it.
    pub by: Option<String>,
    /// What was done, as a sentence without its full stop.
    pub what: String,
    /// The few cards it is about, from where to where; empty where there are none, or many.
    pub which: String,
    /// The later event that took it back.
    pub taken_back_by: Option<u64>,
}
