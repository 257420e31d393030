//! Commands: each looks at the state and answers with an event, or says why not.

pub mod board;
pub mod buy;
pub mod fabric;
mod families;
pub mod family;
pub mod hang;
pub mod hold;
pub mod import;
pub mod key;
pub mod leave;
pub mod progress;
pub mod rehang;
pub mod ring;
mod split_card;
pub mod thread;
