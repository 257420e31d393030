//! Where a key holds: what its meaning depends on.

use serde::Serialize;

use crate::language::word;

/// What the keys mean depends on what is on the screen.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Scope {
    /// Wherever nothing else is meant by the key.
    Anywhere,
    /// The board.
    Board,
    /// Typing to find a colour.
    Find,
    /// Filling in a form.
    Form,
    /// The list of rings.
    Rings,
    /// The list of cards that are not at home.
    Away,
    /// The page of a project.
    Project,
    /// Fetching the kit of a project.
    Pull,
    /// What is to be bought.
    Buy,
    /// Hanging a card on another hook.
    Hang,
    /// Putting a ring's cards away.
    PutAway,
    /// A list that was read and waits for a yes.
    Intake,
    /// The first steps on an empty stash.
    Welcome,
    /// The measures of a board that is drawn.
    Measures,
    /// The hooks of a board that is drawn.
    Hooks,
    /// The columns of a stock list.
    Matching,
    /// Plans for a re-hang are being worked out.
    Planning,
    /// Choosing a plan for a re-hang.
    Plans,
    /// Doing a re-hang step by step.
    Work,
    /// Checking the wall, hook by hook.
    RollCall,
    /// Typing what else hangs on a hook.
    Seen,
    /// What a roll call found.
    Report,
    /// Hanging home what hangs wrong.
    HangHome,
    /// The list of families.
    Families,
    /// The cards of a family.
    FamilyCards,
    /// Choosing which family cards are sent to.
    SendTo,
    /// What was done.
    Log,
    /// The help.
    Help,
    /// The list of what can be done, to choose from by typing.
    Actions,
    /// A question to be answered with yes or no.
    Confirm,
}

impl Scope {
    /// Every scope, in the order of the help.
    pub const ALL: [Self; 30] = [
        Self::Welcome,
        Self::Measures,
        Self::Hooks,
        Self::Matching,
        Self::Board,
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
        Self::Help,
        Self::Anywhere,
    ];

    /// Whether characters are typed into a text here.
    #[must_use]
    pub const fn is_typed_in(self) -> bool {
        matches!(
            self,
            Self::Find | Self::Form | Self::Help | Self::Actions | Self::Seen | Self::Measures
        )
    }

    /// The heading in the help.
    #[must_use]
    pub fn title(self) -> &'static str {
        match self {
            Self::Board => word!("On the board"),
            Self::Find => word!("Finding a colour"),
            Self::Hang => word!("Hanging a card elsewhere"),
            Self::Form => word!("Filling in"),
            Self::Rings => word!("Rings"),
            Self::Project => word!("A project"),
            Self::Pull => word!("Fetching a kit"),
            Self::Buy => word!("What to buy"),
            Self::Away => word!("Cards not at home"),
            Self::PutAway => word!("Putting a ring away"),
            Self::Intake => word!("A key to bring in"),
            Self::Welcome => word!("The first steps"),
            Self::Measures => word!("Drawing a board"),
            Self::Hooks => word!("Drawing a board: its hooks"),
            Self::Matching => word!("A stock list: which column is what"),
            Self::Planning => word!("While plans are worked out"),
            Self::Plans => word!("Choosing a re-hang"),
            Self::Work => word!("Doing a re-hang"),
            Self::RollCall => word!("Roll call: checking the wall"),
            Self::Seen => word!("Roll call: what else hangs on a hook"),
            Self::Report => word!("Roll call: the report"),
            Self::HangHome => word!("Roll call: hanging cards home"),
            Self::Anywhere => word!("Anywhere"),
            Self::Actions => word!("What can be done"),
            Self::Families => word!("Families"),
            Self::FamilyCards => word!("The cards of a family"),
            Self::Log => word!("What was done"),
            Self::SendTo => word!("Sending cards to a family"),
            Self::Help => word!("This help"),
            Self::Confirm => word!("A question"),
        }
    }
}
