//! Scopes: where a key has its meaning.

use serde::Serialize;

use crate::tui::key::{Code, Key};

/// The part of the interface that decides what keys mean.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Scope {
    /// Everywhere, unless the key has another meaning there.
    Anywhere,
    /// The board.
    Board,
    /// Searching for a colour.
    Find,
    /// Typing the number of the card in hand.
    InHand,
    /// Filling in a form.
    Form,
    /// The list of rings.
    Rings,
    /// The list of cards away from home.
    Away,
    /// The page of a project.
    Project,
    /// Fetching the kit of a project.
    Pull,
    /// The buy list.
    Buy,
    /// Hanging a card on another hook.
    Hang,
    /// Putting a ring's cards away.
    PutAway,
    /// An imported list that waits for confirmation.
    Intake,
    /// The first steps on an empty stash.
    Welcome,
    /// The measures of a board being edited.
    BoardSize,
    /// The hooks of a board being edited.
    Hooks,
    /// The columns of a card list.
    Matching,
    /// Choosing what a column of a card list means.
    Meaning,
    /// Choosing whether a card list is a purchase or what is owned now.
    PurchaseOrOwned,
    /// Waiting for re-hang plans.
    Planning,
    /// Choosing a plan for a re-hang.
    Plans,
    /// Doing a re-hang step by step.
    Work,
    /// Checking the wall, hook by hook.
    RollCall,
    /// Entering what else hangs on a hook.
    Seen,
    /// The results of a roll call.
    Report,
    /// Hanging misplaced cards back home.
    HangHome,
    /// The list of families.
    Families,
    /// The cards of a family.
    FamilyCards,
    /// Choosing the family to send cards to.
    SendTo,
    /// The history.
    Log,
    /// The help.
    Help,
    /// The list of actions, with a filter to type.
    Actions,
    /// Choosing colours and signs of the screen.
    Colours,
    /// A yes-or-no question.
    Confirm,
}

impl Scope {
    /// Every scope, in the order shown in the help.
    pub const ALL: [Self; 34] = [
        Self::Welcome,
        Self::BoardSize,
        Self::Hooks,
        Self::Matching,
        Self::Meaning,
        Self::PurchaseOrOwned,
        Self::Board,
        Self::InHand,
        Self::Find,
        Self::Hang,
        Self::Rings,
        Self::Project,
        Self::Pull,
        Self::Buy,
        Self::PutAway,
        Self::Away,
        Self::Intake,
        Self::Planning,
        Self::Plans,
        Self::Work,
        Self::RollCall,
        Self::Seen,
        Self::Report,
        Self::HangHome,
        Self::Families,
        Self::FamilyCards,
        Self::SendTo,
        Self::Log,
        Self::Form,
        Self::Confirm,
        Self::Actions,
        Self::Colours,
        Self::Help,
        Self::Anywhere,
    ];

    /// Whether it is a walk, which handles cards one by one while the user's hands are full.
    #[must_use]
    pub const fn is_walk(self) -> bool {
        matches!(
            self,
            Self::Pull | Self::PutAway | Self::Work | Self::RollCall | Self::HangHome
        )
    }

    /// Whether characters are typed as text here.
    #[must_use]
    pub const fn is_typed_in(self) -> bool {
        matches!(
            self,
            Self::Find
                | Self::InHand
                | Self::Form
                | Self::Help
                | Self::Actions
                | Self::Seen
                | Self::BoardSize
                | Self::Meaning
        )
    }

    /// Whether a key types a character here, and so can't be a command: any character in a text
    /// field, and a letter where it begins the name of a card.
    #[must_use]
    pub fn types(self, key: Key) -> bool {
        let is_letter = matches!(key.code, Code::Char(c) if c.is_alphabetic());
        key.types() && (self.is_typed_in() || self == Self::PutAway && is_letter)
    }

    /// The mode's name, shown at the left of the status line.
    #[must_use]
    pub const fn chip(self) -> &'static str {
        match self {
            Self::Anywhere | Self::Board => "BOARD",
            Self::Find => "FIND",
            Self::InHand => "CARD IN HAND",
            Self::Form => "FORM",
            Self::Rings => "RINGS",
            Self::Away => "AWAY",
            Self::Project => "PROJECT",
            Self::Pull => "FETCH",
            Self::Buy => "BUY",
            Self::Hang => "HANG",
            Self::PutAway => "PUT AWAY",
            Self::Intake | Self::Matching | Self::Meaning | Self::PurchaseOrOwned => "IMPORT",
            Self::Welcome => "WELCOME",
            Self::BoardSize | Self::Hooks => "EDIT BOARD",
            Self::Planning | Self::Plans | Self::Work => "RE-HANG",
            Self::RollCall | Self::Seen | Self::Report | Self::HangHome => "ROLL CALL",
            Self::Families | Self::FamilyCards | Self::SendTo => "FAMILIES",
            Self::Log => "HISTORY",
            Self::Help => "KEYS",
            Self::Actions => "ACTIONS",
            Self::Colours => "COLOURS",
            Self::Confirm => "QUESTION",
        }
    }

    /// The handbook page about it.
    #[must_use]
    pub const fn guide(self) -> &'static str {
        match self {
            Self::Board
            | Self::Find
            | Self::InHand
            | Self::Hang
            | Self::Away
            | Self::Welcome
            | Self::BoardSize
            | Self::Hooks
            | Self::RollCall
            | Self::Seen
            | Self::Report
            | Self::HangHome => "first-steps",
            Self::Rings | Self::Project | Self::Pull | Self::Buy | Self::PutAway | Self::Intake => {
                "projects"
            }
            Self::Matching | Self::Meaning | Self::PurchaseOrOwned => "lists",
            Self::Planning
            | Self::Plans
            | Self::Work
            | Self::Families
            | Self::FamilyCards
            | Self::SendTo => "rehang",
            Self::Log => "data",
            Self::Colours => "colours",
            Self::Anywhere | Self::Form | Self::Help | Self::Actions | Self::Confirm => "keyboard",
        }
    }

    /// The heading in the help.
    #[must_use]
    pub fn title(self) -> &'static str {
        match self {
            Self::Board => "On the board",
            Self::Find => "Finding a colour",
            Self::InHand => "The card in the hand",
            Self::Hang => "Hanging a card elsewhere",
            Self::Form => "Filling in",
            Self::Rings => "Rings",
            Self::Project => "A project",
            Self::Pull => "Fetching a kit",
            Self::Buy => "What to buy",
            Self::Away => "Cards not at home",
            Self::PutAway => "Putting a ring away",
            Self::Intake => "A chart key to import",
            Self::Welcome => "The first steps",
            Self::BoardSize => "Editing a board",
            Self::Hooks => "Editing a board: its hooks",
            Self::Matching => "A list: its columns",
            Self::Meaning => "A list: what a column means",
            Self::PurchaseOrOwned => "A card list: a purchase or not",
            Self::Planning => "Waiting for plans",
            Self::Plans => "Choosing a re-hang",
            Self::Work => "Doing a re-hang",
            Self::RollCall => "Roll call: checking the wall",
            Self::Seen => "Roll call: what else hangs on a hook",
            Self::Report => "Roll call: the report",
            Self::HangHome => "Roll call: hanging cards home",
            Self::Anywhere => "Anywhere",
            Self::Actions => "Actions",
            Self::Families => "Families",
            Self::FamilyCards => "The cards of a family",
            Self::Log => "History",
            Self::SendTo => "Sending cards to a family",
            Self::Help => "This help",
            Self::Colours => "Colours of the screen",
            Self::Confirm => "A question",
        }
    }
}
