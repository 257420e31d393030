//! Building blocks of screens.

pub(super) mod ascii;
pub(super) mod cell;
pub(super) mod chooser;
pub(super) mod digits;
pub(super) mod gauge;
pub(super) mod list;
pub(super) mod pane;
pub(super) mod text;
pub(super) mod window;
