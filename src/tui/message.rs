//! What comes in, and what is asked for.

use jiff::Timestamp;

use super::key::Key;
use super::looks::Wish;
use crate::stash::command::rehang::RehangPlan;
use crate::stash::event::{Act, Event};
use crate::stash::refusal::Refusal;

/// What is read in a file.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Want {
    /// A card list.
    CardList {
        /// The range for rows that name none; may be empty.
        range: String,
    },
    /// A range list.
    Range,
    /// A conversion list.
    Matches,
    /// A pattern's key.
    Key {
        /// The project.
        project: String,
        /// The range for rows that name none; may be empty.
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
    /// What was done, as a sentence without its full stop.
    pub what: String,
    /// The few cards it is about, from where to where; empty where there are none, or many.
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
    /// The button of the mouse was pressed on a cell of the screen.
    Click {
        /// Column from 0.
        column: u16,
        /// Row from 0.
        row: u16,
    },
    /// The mouse was moved with its button down.
    Drag {
        /// Column from 0.
        column: u16,
        /// Row from 0.
        row: u16,
    },
    /// The button of the mouse was let go.
    Release {
        /// Column from 0.
        column: u16,
        /// Row from 0.
        row: u16,
    },
    /// The wheel was turned, up or down.
    Wheel {
        /// Towards the top.
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
    /// A change was asked for, and it is on disk, or it is not and nothing was changed.
    Recorded(Result<Act, String>),
    /// A file was asked for.
    FileRead {
        /// Its path, as it was asked for.
        path: String,
        /// What it was asked for.
        want: Want,
        /// What is in it, or why that is not known.
        bytes: Result<Vec<u8>, String>,
    },
    /// Files were to be written: where they are, or why they are not.
    Written(Result<Vec<String>, String>),
    /// What was done was asked for: here it is, the newest first, or why not.
    LogRead(Result<Vec<PastEvent>, String>),
    /// Files were asked for: those whose paths begin as it was typed, in order; folders end with the
    /// sign between folders.
    Files {
        /// What was typed.
        typed: String,
        /// The paths.
        found: Vec<String>,
    },
    /// Plans for a re-hang are being worked out, and so many candidates are there.
    Planning(usize),
    /// Plans for a re-hang were asked for: here they are, or why there are none.
    Planned(Result<Vec<RehangPlan>, Refusal>),
    /// The moment is over in which the hooks where cards landed are lit.
    FlashOver,
    /// Something the user should be told.
    News(String),
    /// Another process has changed the stash; what it did, in words, where that is known.
    OthersChanged(Option<String>),
}

impl Message {
    /// Whether it answers something that was asked for, other than a change.
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

/// Something to be done outside.
#[derive(Clone, PartialEq, Debug)]
pub enum Effect {
    /// Put an event on disk; answered by [`Message::Recorded`].
    Commit(Event),
    /// Undo the event with this number, if it is still the last; answered by [`Message::Recorded`].
    Undo {
        /// The event.
        seq: u64,
    },
    /// Do again what the undo with this number took back, if it is still the last; answered by
    /// [`Message::Recorded`].
    Redo {
        /// The undo.
        seq: u64,
    },
    /// Read a file; answered by [`Message::FileRead`].
    ReadFile {
        /// Its path.
        path: String,
        /// What is to be read in it.
        want: Want,
    },
    /// Write files that are not there yet, all or none; answered by [`Message::Written`].
    WriteFiles(Vec<(String, String)>),
    /// Read what was done; answered by [`Message::LogRead`].
    ReadLog,
    /// Look for files whose paths begin so; answered by [`Message::Files`].
    ListFiles {
        /// What was typed.
        typed: String,
    },
    /// Show the invented stash, with this one aside until it is left.
    Demo,
    /// Work out plans for a re-hang; answered by [`Message::Planned`].
    Plan,
    /// Stop working them out; nobody waits for an answer any more.
    StopPlanning,
    /// Hooks where cards landed are lit: send [`Message::FlashOver`] in a moment.
    Flash,
    /// Announce a step of a walk, in a short sentence to be said aloud.
    Speak(String),
    /// Keep what the user wants the screen to look like, for the next time.
    KeepLooks(Wish),
    /// Take the mouse from the terminal, or give it back.
    Mouse(bool),
    /// Go to the shell until called back.
    Suspend,
    /// Leave.
    Quit,
}
