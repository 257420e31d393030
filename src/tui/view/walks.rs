//! Bars of walks.

/// How far a walk is, as a bar of ASCII.
pub(super) fn bar(done: usize, all: usize, width: usize) -> String {
    let room = width.saturating_sub(2).min(40);
    let full = (room * done).checked_div(all).unwrap_or(room);
    format!("[{}{}]", "=".repeat(full), " ".repeat(room - full))
}
