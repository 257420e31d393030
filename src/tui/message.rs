//! Messages in, effects out.

use jiff::Timestamp;

use super::key::Key;
use super::looks::Wish;
use crate::stash::command::rehang::RehangPlan;
use crate::stash::event::{Act, Event};
use crate::stash::refusal::Refusal;

/// What to read from a file.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Want {
    /// A card list.
    CardList {
        /// The range of rows that name none; may be empty.
        range: String,
    },
    /// A range list.
    Range,
    /// A conversion list.
    Matches,
    /// A chart key.
    Key {
        /// The project.
        project: String,
        /// The range of rows that name none; may be empty.
        range: String,
    },
}

/// An event of the record, in words.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct PastEvent {
    /// Its number in the record.
    pub seq: u64,
    /// When it was recorded.
    pub time: Timestamp,
    /// Who made it.
    pub by: Option<String>,
    /// What it did, as a sentence without its full stop.
    pub what: String,
    /// The cards it changed and their moves; empty if there are none, or many.
    pub which: String,
    /// The later event that undid it.
    pub taken_back_by: Option<u64>,
}

/// Something happened.
#[derive(Clone, PartialEq, Debug)]
pub enum Message {
    /// A key was pressed.
    Key(Key),
    /// Text was pasted.
    Paste(String),
    /// The mouse button was pressed on a cell of the screen.
    Click {
        /// Column from 0.
        column: u16,
        /// Row from 0.
        row: u16,
    },
    /// The mouse was dragged.
    Drag {
        /// Column from 0.
        column: u16,
        /// Row from 0.
        row: u16,
    },
    /// The mouse button was released.
    Release {
        /// Column from 0.
        column: u16,
        /// Row from 0.
        row: u16,
    },
    /// The wheel was turned.
    Wheel {
        /// Whether it was turned up, towards the top.
        up: bool,
    },
    /// The screen has a new size.
    Resize {
        /// Columns.
        width: u16,
        /// Rows.
        height: u16,
    },
    /// Time has passed.
    Tick(Timestamp),
    /// A requested change is on disk, or failed and changed nothing.
    Recorded(Result<Act, String>),
    /// A requested file was read.
    FileRead {
        /// Its path, as requested.
        path: String,
        /// The purpose of the request.
        want: Want,
        /// Its contents, or the error.
        bytes: Result<Vec<u8>, String>,
    },
    /// The paths of the files written, or the error.
    Written(Result<Vec<String>, String>),
    /// The history, newest first, or the error.
    LogRead(Result<Vec<PastEvent>, String>),
    /// Files whose paths begin with the typed text, in order. Folders end with the path separator.
    Files {
        /// What was typed.
        typed: String,
        /// The paths.
        found: Vec<String>,
    },
    /// Planning a re-hang is in progress, with this many candidates so far.
    Planning(usize),
    /// The re-hang plans, or why there are none.
    Planned(Result<Vec<RehangPlan>, Refusal>),
    /// The highlight on hooks where cards landed is over.
    FlashOver,
    /// A notice for the user.
    News(String),
    /// Another process changed the stash. Says what it did, if known.
    OthersChanged(Option<String>),
}

impl Message {
    /// Whether it answers a request other than a change.
    #[must_use]
    pub const fn is_answer(&self) -> bool {
        matches!(
            self,
            Self::FileRead { .. }
                | Self::Written(_)
                | Self::Files { .. }
                | Self::Planning(_)
                | Self::Planned(_)
        )
    }
}

/// A request to the outside.
#[derive(Clone, PartialEq, Debug)]
pub enum Effect {
    /// Put an event on disk; answered by [`Message::Recorded`].
    Commit(Event),
    /// Undo the event with this number, if it is still the last; answered by [`Message::Recorded`].
    Undo {
        /// The event.
        seq: u64,
    },
    /// Redo what the undo with this number took back, if it is still the last; answered by
    /// [`Message::Recorded`].
    Redo {
        /// The undo.
        seq: u64,
    },
    /// Read a file; answered by [`Message::FileRead`].
    ReadFile {
        /// Its path.
        path: String,
        /// What to read from it.
        want: Want,
    },
    /// Write new files, all or none; answered by [`Message::Written`].
    WriteFiles(Vec<(String, String)>),
    /// Read the history; answered by [`Message::LogRead`].
    ReadLog,
    /// List files whose paths begin with this; answered by [`Message::Files`].
    ListFiles {
        /// What was typed.
        typed: String,
    },
    /// Show the demo stash, setting this one aside until the user leaves it.
    Demo,
    /// Work out plans for a re-hang; answered by [`Message::Planned`].
    Plan,
    /// Stop planning; nobody is waiting for an answer any more.
    StopPlanning,
    /// Highlight the hooks where cards landed, and send [`Message::FlashOver`] a moment later.
    Flash,
    /// Announce a step of a walk with a short sentence to speak.
    Speak(String),
    /// Save the user's preferences for the screen.
    KeepLooks(Wish),
    /// Capture the mouse, or release it.
    Mouse(bool),
    /// Go to the shell until resumed.
    Suspend,
    /// Quit.
    Quit,
}
