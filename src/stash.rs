//! Commands become events, events become state.
//!
//! A command ([`command`]) looks at the [`state::State`] and returns an [`event::Event`] or a
//! refusal; it changes nothing. The event is a list of [`event::Change`]s with their values before
//! and after. So it can be checked when it is applied, and undone exactly.
//! [`State::apply`](state::State::apply) serves both live changes and the replay of a record.

pub mod apply;
pub mod colours;
pub mod columns;
pub mod command;
pub mod event;
pub mod find;
pub mod history;
pub mod invariants;
mod lookup;
pub mod merge;
pub(crate) mod names;
pub mod order;
pub mod projects;
pub mod refusal;
pub mod state;
#[cfg(test)]
pub(crate) mod testing;
pub mod whereabouts;
