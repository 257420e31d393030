//! What is promised of a record, attacked.

mod backup;
mod crash;
mod damage;
#[cfg(unix)]
mod folder;
mod restore;
mod salvage;
pub(super) mod samples;
mod sharing;
mod snapshot;
mod store;
