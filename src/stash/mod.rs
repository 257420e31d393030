//! Commands become events, events become state.
