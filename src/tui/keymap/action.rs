//! What keys do.

use serde::Serialize;

/// What a key does.
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
    /// The main thing to do here.
    Accept,
    /// Leave, or put off.
    Cancel,
    /// Say no.
    Decline,
    /// Next field, card or view.
    Next,
    /// Field before.
    Previous,
    /// Find a colour.
    Find,
    /// Choose a card, or let it go.
    Select,
    /// Take the chosen cards to a ring.
    Take,
    /// Show the rings.
    Rings,
    /// Show what is not at home.
    Away,
    /// Import a card list.
    Import,
    /// Import a conversion list.
    ImportMatches,
    /// Write a new card.
    NewCard,
    /// Put up a board.
    NewBoard,
    /// Draw the board anew.
    EditBoard,
    /// Block a whole row, or free it.
    BlockRow,
    /// Block a whole column, or free it.
    BlockColumn,
    /// Block the rest of a row, or free it.
    BlockRest,
    /// Say another reason.
    Reason,
    /// Show the first steps.
    FirstSteps,
    /// Show the invented stash.
    Demo,
    /// Let the first line name the columns, or not.
    Header,
    /// Complete the name of a file.
    Complete,
    /// Show plans for a re-hang.
    Rehang,
    /// Block a hook or free it.
    Block,
    /// Pin a card to its hook, or let it move again.
    Hold,
    /// Keep a hook free, or let a re-hang use it again.
    Reserve,
    /// Show what was done.
    Log,
    /// Print on paper, or write into a file.
    Print,
    /// Hang a card on another hook.
    Hang,
    /// Declare a card missing, or found.
    Missing,
    /// Say that cards are in another place.
    Elsewhere,
    /// Take cards out of the stash.
    Remove,
    /// Check the wall against the record.
    RollCall,
    /// Say what else hangs on a hook.
    Seen,
    /// Take back the last change.
    Undo,
    /// Do it again.
    Redo,
    /// Look closer.
    ZoomIn,
    /// Look from further away.
    ZoomOut,
    /// Colour the board by something else.
    Heat,
    /// Show the next board.
    OtherBoard,
    /// Done with a form, on whatever field.
    Save,
    /// Walk a ring's cards home.
    PutAway,
    /// Begin a project.
    NewProject,
    /// Show what is to be bought.
    Buy,
    /// Put a colour on the want list, or take it off.
    Want,
    /// Show the page of the handbook, or the next one.
    Guide,
    /// Cut uncut thread onto its card.
    Cut,
    /// Say how much thread was counted.
    Count,
    /// Mark a colour as variegated or discontinued, or take the mark away.
    Mark,
    /// Say what the thread of a range is: its kind, the length of a skein, the strands.
    RangeThread,
    /// Write in the line or on the card under the cursor.
    Edit,
    /// Write a new line.
    Add,
    /// Strike the line out.
    Strike,
    /// Move the line up.
    ShiftUp,
    /// Move the line down.
    ShiftDown,
    /// One length was used.
    UseLength,
    /// One strand was used.
    UseStrand,
    /// Some thread was used.
    UseSome,
    /// Say how far it has come.
    Progress,
    /// Split thread off onto a split card.
    Split,
    /// Rejoin a split card with its card.
    Rejoin,
    /// Say what fabric it is stitched on.
    Fabric,
    /// Share the stash with the other projects, or not.
    Share,
    /// One more.
    More,
    /// One less.
    Less,
    /// Park a ring, or take it down.
    HangUp,
    /// Close a ring.
    Close,
    /// Put off a card.
    Skip,
    /// Do all steps that are left.
    DoAll,
    /// Give up the re-hang underway and show new plans.
    PlanAnew,
    /// Give up the re-hang underway.
    GiveUp,
    /// Show the families, or send chosen cards to one.
    Families,
    /// Arrange the families by colour.
    ByColour,
    /// Choose all cards shown, or let them go.
    SelectAll,
    /// Send cards to a family.
    Send,
    /// Work out the family of cards anew.
    WorkOut,
    /// Let the mouse go to the terminal, or take it back.
    Mouse,
    /// Choose colours and signs of the screen.
    Colours,
    /// Show the help.
    Help,
    /// Show what can be done, to choose from by typing.
    Actions,
    /// What a question asked about is wanted. No key means it.
    Confirmed,
    /// Leave the program.
    Quit,
    /// Stop the program and go to the shell.
    Suspend,
}

impl Action {
    /// Whether it only goes from one thing to another.
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
