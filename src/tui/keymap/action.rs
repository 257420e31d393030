//! Actions of keys.

use serde::Serialize;

/// The action of a key.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Action {
    /// Go up.
    Up,
    /// Go down.
    Down,
    /// Go left.
    Left,
    /// Go right.
    Right,
    /// Go to the first.
    First,
    /// Go to the last.
    Last,
    /// Go up a screenful.
    PageUp,
    /// Go down a screenful.
    PageDown,
    /// Perform the main action here.
    Accept,
    /// Cancel or put off.
    Cancel,
    /// Say no.
    Decline,
    /// Next field, card or view.
    Next,
    /// Previous field.
    Previous,
    /// Find a colour.
    Find,
    /// Select or deselect a card.
    Select,
    /// Take the selected cards to a ring.
    Take,
    /// Show the rings.
    Rings,
    /// Show the cards away from home.
    Away,
    /// Import a card list.
    Import,
    /// Import a conversion list.
    ImportMatches,
    /// Create a card.
    NewCard,
    /// Create a board.
    NewBoard,
    /// Edit the board.
    EditBoard,
    /// Block or unblock a whole row.
    BlockRow,
    /// Block or unblock a whole column.
    BlockColumn,
    /// Block or unblock the rest of a row.
    BlockRest,
    /// Choose another reason.
    Reason,
    /// Show the first steps.
    FirstSteps,
    /// Open the demo stash.
    Demo,
    /// Toggle whether the first line names the columns.
    Header,
    /// Complete a file name.
    Complete,
    /// Show plans for a re-hang.
    Rehang,
    /// Block or unblock a hook.
    Block,
    /// Hold or release a card.
    Hold,
    /// Reserve a hook, or free it for re-hangs.
    Reserve,
    /// Show the history.
    Log,
    /// Print on paper or to a file.
    Print,
    /// Hang a card on another hook.
    Hang,
    /// Mark a card as missing or found.
    Missing,
    /// Record that cards are elsewhere.
    Elsewhere,
    /// Remove cards from the stash.
    Remove,
    /// Check the wall against the record.
    RollCall,
    /// Enter what else hangs on a hook.
    Seen,
    /// Undo the last change.
    Undo,
    /// Redo it.
    Redo,
    /// Zoom in.
    ZoomIn,
    /// Zoom out.
    ZoomOut,
    /// Switch the heat view.
    Heat,
    /// Show the next board.
    OtherBoard,
    /// Save a form from any field.
    Save,
    /// Put a ring's cards away, one by one.
    PutAway,
    /// Start a project.
    NewProject,
    /// Show the buy list.
    Buy,
    /// Add a colour to the want list, or remove it.
    Want,
    /// Show the handbook page, or the next one.
    Guide,
    /// Cut uncut thread onto its card.
    Cut,
    /// Enter an amount of thread counted.
    Count,
    /// Mark or unmark a colour as variegated or discontinued.
    Mark,
    /// Set the thread of a range: its kind, skein length and strands.
    RangeThread,
    /// Edit the line or card under the cursor.
    Edit,
    /// Add a line.
    Add,
    /// Delete the line.
    Strike,
    /// Move the line up.
    ShiftUp,
    /// Move the line down.
    ShiftDown,
    /// Use one length.
    UseLength,
    /// Use one strand.
    UseStrand,
    /// Use some thread.
    UseSome,
    /// Enter the progress.
    Progress,
    /// Split thread off onto a split card.
    Split,
    /// Rejoin a split card with its card.
    Rejoin,
    /// Set the fabric.
    Fabric,
    /// Toggle whether the project shares the stash with others.
    Share,
    /// One more.
    More,
    /// One less.
    Less,
    /// Hang up a ring, or take it down.
    HangUp,
    /// Close a ring.
    Close,
    /// Skip a card.
    Skip,
    /// Complete all remaining steps.
    DoAll,
    /// Abandon the current re-hang and show new plans.
    PlanAnew,
    /// Abandon the current re-hang.
    GiveUp,
    /// Show the families, or send selected cards to one.
    Families,
    /// Arrange the families by colour.
    ByColour,
    /// Select or deselect all cards shown.
    SelectAll,
    /// Send cards to a family.
    Send,
    /// Recompute the family of cards.
    WorkOut,
    /// Release the mouse to the terminal, or capture it.
    Mouse,
    /// Choose colours and signs of the screen.
    Colours,
    /// Show the help.
    Help,
    /// Show the actions, with a filter to type.
    Actions,
    /// The user confirmed a question. No key is bound to it.
    Confirmed,
    /// The user chose to begin again instead. No key is bound to it.
    BeginAgain,
    /// Quit the program.
    Quit,
    /// Suspend the program and go to the shell.
    Suspend,
}

impl Action {
    /// Whether it only moves the cursor.
    #[must_use]
    pub const fn moves(self) -> bool {
        matches!(
            self,
            Self::Up
                | Self::Down
                | Self::Left
                | Self::Right
                | Self::First
                | Self::Last
                | Self::PageUp
                | Self::PageDown
        )
    }
}
