//! The record of the real program under kills, failing disks and several users at once.

mod draw;
mod faults;
mod kills;
mod places;
mod stash;
mod states;
mod together;
