//! The one table of keys. The footer, the help and the README's list are made from it.

pub mod custom;

use serde::Serialize;

use super::key::{Code, Key};
use crate::language::{say, word};
pub use custom::{Bound, Keymap};

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
            Self::Project => "A project",
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
            Self::Confirm => "A question",
        }
    }
}

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
    /// Bring in a stock list.
    Import,
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
    Pin,
    /// Keep a hook free, or let a re-hang use it again.
    KeepFree,
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
    Discard,
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
    /// Wind thread onto a spare card.
    Decant,
    /// Wind a spare card back.
    WindBack,
    /// Say what cloth it is stitched on.
    Fabric,
    /// Share the stash with the other projects, or not.
    Share,
    /// One more.
    More,
    /// One less.
    Less,
    /// Park a ring, or take it down.
    Park,
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
    /// Show the help.
    Help,
    /// Show what can be done, to choose from by typing.
    Actions,
    /// Leave the program.
    Quit,
    /// Stop the program and go to the shell.
    Suspend,
}

/// One line of the table.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Binding {
    /// Where it holds.
    pub scope: Scope,
    /// The keys, the one to show first.
    pub keys: &'static [Key],
    /// What it does.
    pub action: Action,
    /// One or two words for the footer, in English; empty keeps it out of the footer.
    pub hint: &'static str,
    /// What the help says, in English.
    pub help: &'static str,
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

impl Binding {
    /// One or two words for the footer, in the language that is spoken; empty where it is not to be there.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        word(self.hint)
    }

    /// What the help says, in the language that is spoken.
    #[must_use]
    pub fn help(&self) -> &'static str {
        word(self.help)
    }
}

const fn bind(
    scope: Scope,
    keys: &'static [Key],
    action: Action,
    hint: &'static str,
    help: &'static str,
) -> Binding {
    Binding {
        scope,
        keys,
        action,
        hint,
        help,
    }
}

const fn k(c: char) -> Key {
    Key::char(c)
}

const UP: Key = Key::plain(Code::Up);
const DOWN: Key = Key::plain(Code::Down);
const LEFT: Key = Key::plain(Code::Left);
const RIGHT: Key = Key::plain(Code::Right);
const ENTER: Key = Key::plain(Code::Enter);
const ESC: Key = Key::plain(Code::Esc);
const TAB: Key = Key::plain(Code::Tab);
const BACK_TAB: Key = Key::plain(Code::BackTab);
const HOME: Key = Key::plain(Code::Home);
const END: Key = Key::plain(Code::End);
const BACKSPACE: Key = Key::plain(Code::Backspace);
const PAGE_UP: Key = Key::plain(Code::PageUp);
const PAGE_DOWN: Key = Key::plain(Code::PageDown);

/// The table, most wanted first within a scope: a narrow footer keeps the first ones.
#[rustfmt::skip]
pub const BINDINGS: &[Binding] = &[
    bind(Scope::Board, &[k('/'), k('f')], Action::Find, "find", "find a colour by number or name"),
    bind(Scope::Board, &[k(' ')], Action::Select, "choose", "choose the card under the cursor, or let it go"),
    bind(Scope::Board, &[k('t')], Action::Take, "take to ring", "take the chosen cards (else the one here) to a ring"),
    bind(Scope::Board, &[k('r')], Action::Rings, "rings", "the rings: put away, park, close"),
    bind(Scope::Board, &[k('w')], Action::Away, "where", "where is everything that is not at home"),
    bind(Scope::Board, &[k('i')], Action::Import, "bring in", "bring in a stock list (CSV)"),
    bind(Scope::Board, &[k('g')], Action::Rehang, "re-hang", "plans for a re-hang, or go on with the one underway"),
    bind(Scope::Board, &[k('u')], Action::Undo, "undo", "take back the last change"),
    bind(Scope::Board, &[k('q'), Key::ctrl('c')], Action::Quit, "quit", "leave; everything is on disk already"),
    bind(Scope::Board, &[UP, k('k')], Action::Up, "", "hook above"),
    bind(Scope::Board, &[DOWN, k('j')], Action::Down, "", "hook below"),
    bind(Scope::Board, &[LEFT, k('h')], Action::Left, "", "hook to the left"),
    bind(Scope::Board, &[RIGHT, k('l')], Action::Right, "", "hook to the right"),
    bind(Scope::Board, &[HOME], Action::First, "", "first hook of the row"),
    bind(Scope::Board, &[END], Action::Last, "", "last hook of the row"),
    bind(Scope::Board, &[PAGE_UP], Action::PageUp, "", "several rows up"),
    bind(Scope::Board, &[PAGE_DOWN], Action::PageDown, "", "several rows down"),
    bind(Scope::Board, &[TAB], Action::Next, "", "next card on the same hook"),
    bind(Scope::Board, &[k('+'), k('='), k('z')], Action::ZoomIn, "closer", "look closer"),
    bind(Scope::Board, &[k('-')], Action::ZoomOut, "", "look from further away"),
    bind(Scope::Board, &[k('H')], Action::Heat, "", "heat view: by thread left, by weeks away, or off"),
    bind(Scope::Board, &[k('n')], Action::NewCard, "new card", "write a new card by hand"),
    bind(Scope::Board, &[k('c')], Action::Edit, "", "change the card: its name, colour, amount, family, note"),
    bind(Scope::Board, &[k('m')], Action::Missing, "", "declare the card missing, or found again"),
    bind(Scope::Board, &[k('a')], Action::Elsewhere, "", "say that the card is lent, or in another place"),
    bind(Scope::Board, &[k('D')], Action::Discard, "", "take the card out of the stash: given away, thrown out"),
    bind(Scope::Board, &[k('e')], Action::Hang, "", "hang the card on another hook; the mouse can drag it"),
    bind(Scope::Board, &[k('v')], Action::RollCall, "", "check the wall against the record, hook by hook"),
    bind(Scope::Board, &[k('x')], Action::Block, "", "block the hook for a reason, or free it"),
    bind(Scope::Board, &[k('p')], Action::Pin, "", "pin the card here: a re-hang leaves it; or unpin it"),
    bind(Scope::Board, &[k('o')], Action::KeepFree, "", "keep the hook free in a re-hang, or use it again"),
    bind(Scope::Board, &[k('F')], Action::Families, "", "families and their cards; or send chosen cards to one"),
    bind(Scope::Board, &[k('P')], Action::Print, "", "print labels, marks, maps, lists; or export to a file"),
    bind(Scope::Board, &[k('L')], Action::Log, "", "what was done, when and by whom"),
    bind(Scope::Board, &[k('U'), Key::ctrl('r')], Action::Redo, "", "do again what was taken back"),
    bind(Scope::Board, &[k('b')], Action::OtherBoard, "", "the next board"),
    bind(Scope::Board, &[k('B')], Action::NewBoard, "", "put up another board"),
    bind(Scope::Board, &[k('E')], Action::EditBoard, "", "draw this board anew: rows, columns, hooks not usable"),
    bind(Scope::Board, &[k('W')], Action::FirstSteps, "", "the first steps: a board, your list, hanging"),
    bind(Scope::Board, &[k('M')], Action::Mouse, "", "give the mouse to the terminal (to copy), or take it"),
    bind(Scope::Board, &[ESC], Action::Cancel, "", "let go of all chosen cards"),

    bind(Scope::Find, &[ENTER], Action::Accept, "go there", "go to the card's home on the board"),
    bind(Scope::Find, &[DOWN, Key::ctrl('n')], Action::Down, "next", "next match"),
    bind(Scope::Find, &[UP, Key::ctrl('p')], Action::Up, "", "match before"),
    bind(Scope::Find, &[TAB], Action::Select, "choose", "choose the card for a ring, and type the next"),
    bind(Scope::Find, &[ESC, Key::ctrl('c')], Action::Cancel, "back", "back to the board"),

    bind(Scope::Hang, &[ENTER, k(' ')], Action::Accept, "hang here", "hang it here; asks first where it breaks the order"),
    bind(Scope::Hang, &[TAB], Action::Next, "next that fits", "next free hook that keeps the order"),
    bind(Scope::Hang, &[BACK_TAB], Action::Previous, "", "free hook before that keeps the order"),
    bind(Scope::Hang, &[UP, k('k')], Action::Up, "", "hook above"),
    bind(Scope::Hang, &[DOWN, k('j')], Action::Down, "", "hook below"),
    bind(Scope::Hang, &[LEFT, k('h')], Action::Left, "", "hook to the left"),
    bind(Scope::Hang, &[RIGHT, k('l')], Action::Right, "", "hook to the right"),
    bind(Scope::Hang, &[HOME], Action::First, "", "first hook of the row"),
    bind(Scope::Hang, &[END], Action::Last, "", "last hook of the row"),
    bind(Scope::Hang, &[PAGE_UP], Action::PageUp, "", "several rows up"),
    bind(Scope::Hang, &[PAGE_DOWN], Action::PageDown, "", "several rows down"),
    bind(Scope::Hang, &[k('+'), k('='), k('z')], Action::ZoomIn, "closer", "look closer"),
    bind(Scope::Hang, &[k('-')], Action::ZoomOut, "further", "look from further away"),
    bind(Scope::Hang, &[k('b')], Action::OtherBoard, "other board", "the next board"),
    bind(Scope::Hang, &[ESC, k('q'), Key::ctrl('c')], Action::Cancel, "give up", "give up; the card stays as it is"),

    bind(Scope::Form, &[ENTER], Action::Accept, "go on", "next field; on the last, done"),
    bind(Scope::Form, &[Key::ctrl('s')], Action::Save, "save", "done, on whatever field"),
    bind(Scope::Form, &[DOWN], Action::Next, "next field", "next field"),
    bind(Scope::Form, &[TAB], Action::Complete, "", "complete the name of a file; elsewhere the next field"),
    bind(Scope::Form, &[BACK_TAB, UP], Action::Previous, "", "field before"),
    bind(Scope::Form, &[ESC, Key::ctrl('c')], Action::Cancel, "back", "back, nothing changed"),

    bind(Scope::Rings, &[ENTER], Action::Accept, "open", "open the project: its key, and how each colour stands"),
    bind(Scope::Rings, &[k('p')], Action::PutAway, "put away", "walk the ring's cards home, one by one"),
    bind(Scope::Rings, &[k('P')], Action::Print, "", "print the ring's card: its key and where each card is"),
    bind(Scope::Rings, &[k('n')], Action::NewProject, "new project", "begin a project, with or without its key"),
    bind(Scope::Rings, &[UP, k('k')], Action::Up, "", "ring above"),
    bind(Scope::Rings, &[DOWN, k('j')], Action::Down, "", "ring below"),
    bind(Scope::Rings, &[k('h')], Action::Park, "hang up", "leave the ring hanging on a hook, or take it down again"),
    bind(Scope::Rings, &[k('c')], Action::Close, "close", "end the project, or open one that is closed again"),
    bind(Scope::Rings, &[k('b')], Action::Buy, "buy", "what to buy for the chosen projects, or all in use"),
    bind(Scope::Rings, &[k(' ')], Action::Select, "choose", "choose the project to buy for, or let it go"),
    bind(Scope::Rings, &[k('u')], Action::Undo, "undo", "take back the last change"),
    bind(Scope::Rings, &[ESC, k('q'), k('r'), Key::ctrl('c')], Action::Cancel, "back", "back to the board"),

    bind(Scope::Project, &[k('t')], Action::Take, "fetch kit", "walk the wall and take what the key needs"),
    bind(Scope::Project, &[k('-')], Action::UseLength, "1 length used", "a length of this colour was used"),
    bind(Scope::Project, &[k(',')], Action::UseStrand, "1 strand", "a single strand of this colour was used"),
    bind(Scope::Project, &[k('b')], Action::Buy, "buy", "what to buy for this project"),
    bind(Scope::Project, &[ENTER, k('e')], Action::Edit, "change", "write in this line of the key"),
    bind(Scope::Project, &[k('a')], Action::Add, "add", "write a new line at the end of the key"),
    bind(Scope::Project, &[k('i')], Action::Import, "key", "bring the key in from a list, in place of the old one"),
    bind(Scope::Project, &[k('f')], Action::Fabric, "cloth", "say what it is stitched on, and how"),
    bind(Scope::Project, &[k('d')], Action::Decant, "decant", "wind some of this colour onto a spare card here"),
    bind(Scope::Project, &[k('w')], Action::WindBack, "wind back", "wind the spare card of this colour back onto its card"),
    bind(Scope::Project, &[k('p')], Action::PutAway, "put away", "walk the ring's cards home, one by one"),
    bind(Scope::Project, &[k('u')], Action::Undo, "undo", "take back the last change"),
    bind(Scope::Project, &[UP, k('k')], Action::Up, "", "line above"),
    bind(Scope::Project, &[DOWN, k('j')], Action::Down, "", "line below"),
    bind(Scope::Project, &[PAGE_UP], Action::PageUp, "", "several lines up"),
    bind(Scope::Project, &[PAGE_DOWN], Action::PageDown, "", "several lines down"),
    bind(Scope::Project, &[k('n')], Action::UseSome, "", "note how much of this colour was used"),
    bind(Scope::Project, &[k('%')], Action::Progress, "", "say how much of this colour, or of all, is stitched"),
    bind(Scope::Project, &[k('<'), k('K')], Action::ShiftUp, "", "move the line up: key order is ring order"),
    bind(Scope::Project, &[k('>'), k('J')], Action::ShiftDown, "", "move the line down"),
    bind(Scope::Project, &[Key::plain(Code::Delete), k('X')], Action::Strike, "", "strike the line out of the key"),
    bind(Scope::Project, &[k('s')], Action::Share, "", "share with all projects in use, or look at it alone"),
    bind(Scope::Project, &[ESC, k('q'), Key::ctrl('c')], Action::Cancel, "back", "back to the rings"),

    bind(Scope::Pull, &[ENTER, k(' ')], Action::Accept, "on the ring", "it is on the ring now, or its thread was decanted"),
    bind(Scope::Pull, &[k('s'), DOWN], Action::Skip, "later", "put this card off until the others are done"),
    bind(Scope::Pull, &[k('m')], Action::Missing, "not here", "it does not hang there: declare it missing"),
    bind(Scope::Pull, &[k('d')], Action::Decant, "decant", "leave the card, wind some of it onto a spare card"),
    bind(Scope::Pull, &[k('A')], Action::DoAll, "all taken", "all cards that are left were taken off the wall"),
    bind(Scope::Pull, &[k('u')], Action::Undo, "undo", "take back the last change"),
    bind(Scope::Pull, &[ESC, k('q'), Key::ctrl('c')], Action::Cancel, "stop", "stop here; what is on the ring stays there"),

    bind(Scope::Buy, &[ENTER], Action::Accept, "bought", "it was bought: write it down, and make room for it"),
    bind(Scope::Buy, &[UP, k('k')], Action::Up, "", "colour above"),
    bind(Scope::Buy, &[DOWN, k('j')], Action::Down, "", "colour below"),
    bind(Scope::Buy, &[k('+'), k('='), RIGHT], Action::More, "more", "a skein more"),
    bind(Scope::Buy, &[k('-'), LEFT], Action::Less, "fewer", "a skein less; none leaves the colour out"),
    bind(Scope::Buy, &[ESC, k('q'), k('b'), Key::ctrl('c')], Action::Cancel, "back", "back, nothing changed"),

    bind(Scope::PutAway, &[ENTER, k(' ')], Action::Accept, "it hangs", "the card hangs on its hook again"),
    bind(Scope::PutAway, &[k('s'), DOWN], Action::Skip, "later", "put this card off until the others are done"),
    bind(Scope::PutAway, &[k('m')], Action::Missing, "not here", "the card is not on the ring: declare it missing"),
    bind(Scope::PutAway, &[k('u')], Action::Undo, "undo", "take back the last change"),
    bind(Scope::PutAway, &[ESC, k('q'), Key::ctrl('c')], Action::Cancel, "stop", "stop here; the cards left stay on the ring"),

    bind(Scope::Away, &[ENTER], Action::Accept, "go there", "go to the card's home on the board"),
    bind(Scope::Away, &[UP, k('k')], Action::Up, "", "card above"),
    bind(Scope::Away, &[DOWN, k('j')], Action::Down, "", "card below"),
    bind(Scope::Away, &[k('m')], Action::Missing, "missing/found", "declare the card missing, or found again"),
    bind(Scope::Away, &[k('e')], Action::Hang, "hang", "choose a hook for the card"),
    bind(Scope::Away, &[k('u')], Action::Undo, "undo", "take back the last change"),
    bind(Scope::Away, &[ESC, k('q'), k('w'), Key::ctrl('c')], Action::Cancel, "back", "back to the board"),

    bind(Scope::Intake, &[ENTER, k('y')], Action::Accept, "bring in", "bring in what can be taken"),
    bind(Scope::Intake, &[UP, k('k')], Action::Up, "", "scroll up"),
    bind(Scope::Intake, &[DOWN, k('j')], Action::Down, "", "scroll down"),
    bind(Scope::Intake, &[ESC, k('n'), k('q'), Key::ctrl('c')], Action::Cancel, "leave it", "back, nothing changed"),

    bind(Scope::Welcome, &[ENTER], Action::Accept, "do this step", "do the step that is marked"),
    bind(Scope::Welcome, &[DOWN, k('j')], Action::Down, "next", "next line"),
    bind(Scope::Welcome, &[UP, k('k')], Action::Up, "", "line above"),
    bind(Scope::Welcome, &[k('d')], Action::Demo, "demo", "look at an invented stash; q there comes back"),
    bind(Scope::Welcome, &[ESC], Action::Cancel, "to the board", "to the board; W there comes back"),
    bind(Scope::Welcome, &[k('q'), Key::ctrl('c')], Action::Quit, "quit", "leave; everything is on disk already"),

    bind(Scope::Measures, &[ENTER], Action::Accept, "go on", "next line; from the last one on to the hooks"),
    bind(Scope::Measures, &[DOWN, TAB], Action::Next, "next line", "next line"),
    bind(Scope::Measures, &[UP, BACK_TAB], Action::Previous, "", "line before"),
    bind(Scope::Measures, &[RIGHT], Action::More, "one more", "one more; the next order; in a name to the right"),
    bind(Scope::Measures, &[LEFT], Action::Less, "", "one less; the order before; in a name to the left"),
    bind(Scope::Measures, &[Key::ctrl('s')], Action::Save, "finish", "the board is done"),
    bind(Scope::Measures, &[ESC, Key::ctrl('c')], Action::Cancel, "back", "back, nothing changed"),

    bind(Scope::Hooks, &[ENTER, Key::ctrl('s')], Action::Save, "finish", "the board is done"),
    bind(Scope::Hooks, &[k(' '), k('x')], Action::Block, "cannot be used", "this hook cannot be used, or can after all"),
    bind(Scope::Hooks, &[k('r')], Action::BlockRow, "block the row", "the same for the whole row"),
    bind(Scope::Hooks, &[k('c')], Action::BlockColumn, "the column", "the same for the whole column"),
    bind(Scope::Hooks, &[k('e')], Action::BlockRest, "to the row's end", "the same from here to the end of the row"),
    bind(Scope::Hooks, &[TAB], Action::Reason, "reason", "another reason for the hooks marked from now on"),
    bind(Scope::Hooks, &[ESC, BACKSPACE, k('q'), Key::ctrl('c')], Action::Cancel, "back", "back to rows and columns; the marks stay"),
    bind(Scope::Hooks, &[UP, k('k')], Action::Up, "", "hook above"),
    bind(Scope::Hooks, &[DOWN, k('j')], Action::Down, "", "hook below"),
    bind(Scope::Hooks, &[LEFT, k('h')], Action::Left, "", "hook to the left"),
    bind(Scope::Hooks, &[RIGHT, k('l')], Action::Right, "", "hook to the right"),
    bind(Scope::Hooks, &[HOME], Action::First, "", "first hook of the row"),
    bind(Scope::Hooks, &[END], Action::Last, "", "last hook of the row"),

    bind(Scope::Matching, &[ENTER, k('y')], Action::Accept, "bring in", "bring in what can be taken"),
    bind(Scope::Matching, &[RIGHT, k('l')], Action::Right, "means", "the column means the next thing"),
    bind(Scope::Matching, &[LEFT, k('h')], Action::Left, "", "the column means the thing before"),
    bind(Scope::Matching, &[DOWN, k('j')], Action::Down, "column", "next column"),
    bind(Scope::Matching, &[UP, k('k')], Action::Up, "", "column above"),
    bind(Scope::Matching, &[k('t')], Action::Header, "titles", "the first line has titles, or is a card like the rest"),
    bind(Scope::Matching, &[PAGE_DOWN], Action::PageDown, "more lines", "scroll the lines below"),
    bind(Scope::Matching, &[PAGE_UP], Action::PageUp, "", "scroll the lines back"),
    bind(Scope::Matching, &[ESC, k('q'), Key::ctrl('c')], Action::Cancel, "back", "back to the file's name, nothing brought in"),

    bind(Scope::Planning, &[ESC, k('q'), Key::ctrl('c')], Action::Cancel, "stop", "stop; nothing is changed"),

    bind(Scope::Plans, &[ENTER], Action::Accept, "start", "start the re-hang with this plan"),
    bind(Scope::Plans, &[RIGHT, k('l')], Action::Right, "next plan", "next plan: more work, mostly for more room"),
    bind(Scope::Plans, &[LEFT, k('h')], Action::Left, "", "plan before"),
    bind(Scope::Plans, &[TAB], Action::Next, "before/after", "show the wall before or after"),
    bind(Scope::Plans, &[DOWN, k('j')], Action::Down, "", "scroll the list of moves"),
    bind(Scope::Plans, &[UP, k('k')], Action::Up, "", "scroll the list of moves"),
    bind(Scope::Plans, &[ESC, k('q'), Key::ctrl('c')], Action::Cancel, "leave it", "back, nothing changed"),

    bind(Scope::Work, &[ENTER, k(' ')], Action::Accept, "done", "this step is done: write it down and show the next"),
    bind(Scope::Work, &[k('s'), DOWN], Action::Skip, "later", "put this card off: another step that can be done now"),
    bind(Scope::Work, &[k('m')], Action::Missing, "not here", "it is not there: declare it missing, or found again"),
    bind(Scope::Work, &[k('A')], Action::DoAll, "all done", "all steps that are left are done"),
    bind(Scope::Work, &[k('u')], Action::Undo, "undo", "take back the last step"),
    bind(Scope::Work, &[k('R')], Action::PlanAnew, "plan anew", "give up the rest of this plan and show new plans"),
    bind(Scope::Work, &[k('G')], Action::GiveUp, "give up", "give the re-hang up; what was hung stays as it is"),
    bind(Scope::Work, &[ESC, k('q'), Key::ctrl('c')], Action::Cancel, "stop", "stop here; g goes on, also after leaving the program"),

    bind(Scope::RollCall, &[ENTER, k(' ')], Action::Accept, "as shown", "it is as shown here: the next hook"),
    bind(Scope::RollCall, &[k('a')], Action::DoAll, "row", "it is as shown here and in the rest of the row"),
    bind(Scope::RollCall, &[k('m')], Action::Missing, "not here", "the card is not here, or is after all"),
    bind(Scope::RollCall, &[k('s')], Action::Seen, "other here", "something else hangs here too: type its number"),
    bind(Scope::RollCall, &[TAB], Action::Next, "", "next card on the same hook"),
    bind(Scope::RollCall, &[BACKSPACE], Action::Previous, "back", "back one hook, to look again"),
    bind(Scope::RollCall, &[RIGHT, k('l')], Action::Right, "", "next hook, also a free one; confirms nothing"),
    bind(Scope::RollCall, &[LEFT, k('h')], Action::Left, "", "hook before"),
    bind(Scope::RollCall, &[ESC, k('q'), Key::ctrl('c')], Action::Cancel, "stop", "stop here: the report of the hooks confirmed so far"),

    bind(Scope::Seen, &[ENTER], Action::Accept, "it hangs here", "the card of that number hangs here"),
    bind(Scope::Seen, &[ESC, Key::ctrl('c')], Action::Cancel, "back", "back to the hook"),

    bind(Scope::Report, &[ENTER], Action::Accept, "record it", "make the record say what was seen"),
    bind(Scope::Report, &[BACKSPACE], Action::Previous, "walk on", "back to the hook, to look again or go on"),
    bind(Scope::Report, &[DOWN, k('j')], Action::Down, "", "scroll down"),
    bind(Scope::Report, &[UP, k('k')], Action::Up, "", "scroll up"),
    bind(Scope::Report, &[ESC, k('q'), Key::ctrl('c')], Action::Cancel, "leave it", "back to the board, nothing recorded"),

    bind(Scope::HangHome, &[ENTER, k(' ')], Action::Accept, "it hangs", "the card hangs on its own hook now"),
    bind(Scope::HangHome, &[k('s'), DOWN], Action::Skip, "leave it", "leave this card where it hangs"),
    bind(Scope::HangHome, &[ESC, k('q'), Key::ctrl('c')], Action::Cancel, "stop", "leave all that are left where they hang"),

    bind(Scope::Families, &[ENTER], Action::Accept, "open", "open the cards of the family"),
    bind(Scope::Families, &[k('<'), k('K')], Action::ShiftUp, "up", "move the family up: nearer to the beginning of the wall"),
    bind(Scope::Families, &[k('>'), k('J')], Action::ShiftDown, "down", "move the family down"),
    bind(Scope::Families, &[k('c')], Action::ByColour, "by colour", "arrange all: whites, round the hues, greys and blacks"),
    bind(Scope::Families, &[k('n')], Action::Add, "new", "make a family"),
    bind(Scope::Families, &[k('e')], Action::Edit, "rename", "give the family another name"),
    bind(Scope::Families, &[k('p')], Action::Pin, "pin", "pin the family: a re-hang leaves its cards; or unpin it"),
    bind(Scope::Families, &[k('s')], Action::Send, "send chosen", "send the chosen cards to a family"),
    bind(Scope::Families, &[k('u')], Action::Undo, "undo", "take back the last change"),
    bind(Scope::Families, &[k('X'), Key::plain(Code::Delete)], Action::Strike, "give up", "give the family up; its cards fall back to their colour"),
    bind(Scope::Families, &[UP, k('k')], Action::Up, "", "family above"),
    bind(Scope::Families, &[DOWN, k('j')], Action::Down, "", "family below"),
    bind(Scope::Families, &[PAGE_UP], Action::PageUp, "", "several families up"),
    bind(Scope::Families, &[PAGE_DOWN], Action::PageDown, "", "several families down"),
    bind(Scope::Families, &[k('U'), Key::ctrl('r')], Action::Redo, "", "do again what was taken back"),
    bind(Scope::Families, &[ESC, k('q'), k('F'), Key::ctrl('c')], Action::Cancel, "back", "back to the board"),

    bind(Scope::FamilyCards, &[k(' ')], Action::Select, "choose", "choose the card, or let it go"),
    bind(Scope::FamilyCards, &[ENTER, k('s')], Action::Send, "send to", "send the chosen cards (else the one here) elsewhere"),
    bind(Scope::FamilyCards, &[k('a')], Action::SelectAll, "all", "choose all cards of the family, or let them go"),
    bind(Scope::FamilyCards, &[k('w')], Action::WorkOut, "work out", "let the range, else the colour, say the family again"),
    bind(Scope::FamilyCards, &[k('u')], Action::Undo, "undo", "take back the last change"),
    bind(Scope::FamilyCards, &[UP, k('k')], Action::Up, "", "card above"),
    bind(Scope::FamilyCards, &[DOWN, k('j')], Action::Down, "", "card below"),
    bind(Scope::FamilyCards, &[PAGE_UP], Action::PageUp, "", "several cards up"),
    bind(Scope::FamilyCards, &[PAGE_DOWN], Action::PageDown, "", "several cards down"),
    bind(Scope::FamilyCards, &[ESC, k('q'), Key::ctrl('c')], Action::Cancel, "back", "back to the families; what is chosen stays chosen"),

    bind(Scope::SendTo, &[ENTER], Action::Accept, "send here", "send the cards to this family"),
    bind(Scope::SendTo, &[k('n')], Action::Add, "new", "make a family first"),
    bind(Scope::SendTo, &[UP, k('k')], Action::Up, "", "family above"),
    bind(Scope::SendTo, &[DOWN, k('j')], Action::Down, "", "family below"),
    bind(Scope::SendTo, &[PAGE_UP], Action::PageUp, "", "several families up"),
    bind(Scope::SendTo, &[PAGE_DOWN], Action::PageDown, "", "several families down"),
    bind(Scope::SendTo, &[ESC, k('q'), Key::ctrl('c')], Action::Cancel, "back", "back, nothing sent"),

    bind(Scope::Log, &[DOWN, k('j')], Action::Down, "older", "scroll down, to what was done earlier"),
    bind(Scope::Log, &[UP, k('k')], Action::Up, "", "scroll up"),
    bind(Scope::Log, &[PAGE_DOWN, k(' ')], Action::PageDown, "", "a screenful down"),
    bind(Scope::Log, &[PAGE_UP], Action::PageUp, "", "a screenful up"),
    bind(Scope::Log, &[HOME], Action::First, "newest", "to what was done last"),
    bind(Scope::Log, &[END], Action::Last, "", "to the earliest shown"),
    bind(Scope::Log, &[ESC, k('q'), k('L'), Key::ctrl('c')], Action::Cancel, "back", "back to the board"),

    bind(Scope::Help, &[DOWN], Action::Down, "scroll", "scroll down; a word that is typed finds its lines"),
    bind(Scope::Help, &[UP], Action::Up, "", "scroll up"),
    bind(Scope::Help, &[PAGE_DOWN], Action::PageDown, "", "a screenful down"),
    bind(Scope::Help, &[PAGE_UP], Action::PageUp, "", "a screenful up"),
    bind(Scope::Help, &[ESC, ENTER, Key::ctrl('c')], Action::Cancel, "back", "back"),

    bind(Scope::Actions, &[ENTER], Action::Accept, "do it", "do what is chosen"),
    bind(Scope::Actions, &[DOWN, Key::ctrl('n')], Action::Down, "next", "next one"),
    bind(Scope::Actions, &[UP, Key::ctrl('p')], Action::Up, "", "the one before"),
    bind(Scope::Actions, &[ESC, Key::ctrl('c')], Action::Cancel, "back", "back, nothing done"),

    bind(Scope::Anywhere, &[k('?')], Action::Help, "help", "the help: every key and sign"),
    bind(Scope::Anywhere, &[k(':')], Action::Actions, "all", "what can be done here, to choose from by typing"),
    bind(Scope::Anywhere, &[Key::ctrl('z')], Action::Suspend, "", "go to the shell; 'fg' comes back"),

    bind(Scope::Confirm, &[k('y')], Action::Accept, "yes", "yes, do it"),
    bind(Scope::Confirm, &[k('n'), ESC, k('q'), Key::ctrl('c')], Action::Cancel, "no", "no, leave it"),
];

/// The lines of the table that hold in a scope.
pub fn in_scope(scope: Scope) -> impl Iterator<Item = &'static Binding> {
    BINDINGS
        .iter()
        .filter(move |binding| binding.scope == scope)
}

/// The table as Markdown, for the README.
#[must_use]
pub fn as_markdown() -> String {
    let mut text = String::new();
    for scope in Scope::ALL {
        text.push_str(&say!(
            "**{title}**\n\n| key | what it does |\n|---|---|\n",
            title = scope.title()
        ));
        for binding in in_scope(scope) {
            let keys: Vec<String> = binding.keys.iter().map(|key| format!("`{key}`")).collect();
            text.push_str(&format!("| {} | {} |\n", keys.join(" "), binding.help()));
        }
        text.push('\n');
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_key_means_two_things_in_one_scope() {
        for scope in Scope::ALL {
            let anywhere = in_scope(Scope::Anywhere).filter(|_| scope != Scope::Anywhere);
            let keys: Vec<Key> = in_scope(scope)
                .chain(anywhere)
                .flat_map(|b| b.keys.iter().copied())
                .collect();
            for (at, key) in keys.iter().enumerate() {
                assert!(!keys[at + 1..].contains(key), "{key} in {scope:?}");
            }
        }
    }

    #[test]
    fn every_scope_can_be_left() {
        for scope in Scope::ALL
            .into_iter()
            .filter(|&scope| scope != Scope::Anywhere)
        {
            let leaves = |b: &Binding| matches!(b.action, Action::Cancel | Action::Quit);
            assert!(in_scope(scope).any(leaves), "{scope:?}");
        }
    }

    #[test]
    fn keys_that_type_a_character_are_not_bound_where_text_is_typed() {
        for scope in Scope::ALL.into_iter().filter(|scope| scope.is_typed_in()) {
            for key in in_scope(scope).flat_map(|b| b.keys) {
                assert!(!key.types(), "{key}");
            }
        }
    }
}
