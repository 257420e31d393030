//! The screens, a module each: its state, what keys do there, and how it looks.

pub mod away;
pub mod board_editor;
pub mod buy;
pub mod card_form;
pub mod card_in_hand;
pub mod chart_key;
pub mod colours;
pub mod family_form;
pub mod find;
pub mod hang;
pub mod history;
pub mod import;
pub mod import_list;
pub mod keyboard;
pub mod leave;
pub mod palette;
pub mod print;
pub mod project;
pub mod put_away;
pub mod question;
pub mod rehang;
pub mod rings;
pub mod roll_call;
pub mod start;
pub mod take;
