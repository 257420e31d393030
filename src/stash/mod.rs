//! Commands become events, events become state.

pub mod intake;
