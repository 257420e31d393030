//! The screens, a module each: its state, what keys do there, and how it looks.

pub mod away;
pub mod card_in_hand;
pub mod find;
pub mod hang;
pub mod history;
pub mod keyboard;
pub mod palette;
pub mod put_away;
pub mod question;
pub mod rehang;
