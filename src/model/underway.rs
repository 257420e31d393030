//! A re-hang that is begun and not at its end.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use super::board::HookRef;
use super::ids::CardId;

/// What a re-hang aims at, and how far it has come.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Underway {
    /// The homes aimed at, of the cards that did not have them at the beginning.
    pub homes: Vec<(CardId, HookRef)>,
    /// Steps planned at the beginning. What happens meanwhile can make them more or fewer.
    pub steps: u32,
    /// Steps done.
    pub done: u32,
    /// When it was begun.
    pub begun: Timestamp,
}
