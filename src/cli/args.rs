//! The command line.

use std::path::PathBuf;
use std::str::FromStr;

use clap::{Args, Parser, Subcommand, ValueEnum};

use super::discard::DiscardArgs;
use super::fabric::FabricArgs;
use super::hang::HangArgs;
use super::import::ColumnUse;
use super::looks::LooksArgs;
use super::merge::MergeArgs;
use super::print::PrintCommand;
use super::progress::ProgressArgs;
use super::pull::PullArgs;
use super::who::ByArg;
use crate::engine::plans::Pace;
use crate::language::word;
use crate::model::board::ReadingOrder;
use crate::model::family::WallOrder;

/// Keeps a wall board of thread cards in order: find a colour, fill a ring, get every card home.
///
/// Without a command it opens the board on the whole screen.
#[derive(Debug, Parser)]
#[command(name = "homehook", version, max_term_width = 100)]
pub struct Cli {
    /// The stash folder; the usual data folder of this computer if not given.
    #[arg(long, global = true, value_name = "DIR", env = "HOMEHOOK_STASH")]
    pub stash: Option<PathBuf>,
    /// The name to write down with each change; the one of your login if not given, and "" for
    /// none.
    // An id of its own: a global one must not be called as an argument of any command.
    #[arg(
        id = "name of who",
        long = "by",
        global = true,
        value_name = "NAME",
        env = "HOMEHOOK_BY",
        value_parser = ByArg::read
    )]
    pub by: Option<ByArg>,
    /// Answer with one JSON object, for scripts.
    #[arg(long, global = true)]
    pub json: bool,
    /// How the screen looks.
    #[command(flatten)]
    pub looks: LooksArgs,
    /// What to do.
    #[command(subcommand)]
    pub command: Option<Command>,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Put up, measure, block or show boards.
    #[command(subcommand)]
    Board(BoardCommand),
    /// Bring in a stock list, a range's shade list or a pattern's key (CSV).
    #[command(subcommand)]
    Import(ImportCommand),
    /// Find a colour by number, by name, or by something near.
    Find {
        /// A number, RANGE:NUMBER, or words of a name.
        #[arg(required = true, value_name = "TEXT")]
        text: Vec<String>,
    },
    /// List every card that is not at home, and since when; of missing ones, with which they hung.
    Where,
    /// Take cards to project rings, and get every one back.
    #[command(subcommand)]
    Ring(RingCommand),
    /// Use thread of a card, so that its count is right.
    Use(UseArgs),
    /// Declare cards missing; each keeps its home.
    Missing {
        /// NUMBER or RANGE:NUMBER.
        #[arg(required = true, value_name = "CARD")]
        cards: Vec<String>,
    },
    /// Cards are in another place than wall and rings, such as lent; each keeps its home.
    Elsewhere {
        /// NUMBER or RANGE:NUMBER.
        #[arg(required = true, value_name = "CARD")]
        cards: Vec<String>,
        /// Where they are: with Bea, drawer in the hall.
        #[arg(long = "note", value_name = "TEXT")]
        note: String,
    },
    /// A card that was missing or elsewhere is back, and hangs at home again.
    Found {
        /// NUMBER or RANGE:NUMBER.
        #[arg(value_name = "CARD")]
        card: String,
    },
    /// Take cards out of the stash for good, with the thread on them: given away, thrown out.
    Discard(DiscardArgs),
    /// List the families, put them in another order, or put cards in them.
    #[command(subcommand)]
    Family(FamilyCommand),
    /// Hang a card on a hook of your choice, in order or not, and tell between which cards that is.
    Hang(HangArgs),
    /// Pin cards to their homes, so that every re-hang leaves them; alone, list what is pinned.
    Pin(PinArgs),
    /// Let pinned cards move again.
    Unpin(UnpinArgs),
    /// Say how many plain cards touching a card counts as: its label is pasted for good, or it is
    /// heavy.
    Weigh(WeighArgs),
    /// List the ways to get every card in order on the wall, or carry one out.
    Rehang(RehangArgs),
    /// Print what should hang on each hook, to check the wall by; or hold a list of what was seen
    /// against the record.
    Rollcall(RollCallArgs),
    /// Check whether the thread for projects is there; those in use if none is named.
    ///
    /// Projects share the stash in the order given: what is promised to one is not there for the
    /// next. Open projects that are not named keep what they need of the cards on their rings.
    Need {
        /// The projects.
        #[arg(value_name = "PROJECT")]
        projects: Vec<String>,
    },
    /// List the skeins to buy for projects, and why; for those in use if none is named.
    Buy {
        /// The projects.
        #[arg(value_name = "PROJECT")]
        projects: Vec<String>,
        /// Write the list to a file too; - for standard output alone.
        #[arg(long, value_name = "FILE")]
        csv: Option<PathBuf>,
    },
    /// The skeins are home: those of a colour you have stay uncut, new colours get a card.
    Bought {
        /// A project, for all that was to be bought for it, or CARD=SKEINS such as 310=2. Without
        /// any: all that was to be bought for the projects in use.
        #[arg(value_name = "PROJECT|CARD=SKEINS")]
        what: Vec<String>,
    },
    /// Write the stash to a file, or to the screen.
    Export {
        /// csv: a stock list that can be brought in again; json: cards, boards and rings.
        form: ExportForm,
        /// The file; without one, the text goes to the screen.
        file: Option<PathBuf>,
    },
    /// Print labels, marks, ring cards, maps of boards or what to buy, as HTML or SVG for paper.
    #[command(subcommand)]
    Print(PrintCommand),
    /// Tell what was done, when and by whom, the newest last.
    Log(LogArgs),
    /// Bring in what was changed in another copy of this stash, such as on another computer.
    Merge(MergeArgs),
    /// Look the record and the stash over without changing anything; or save what is good of a
    /// damaged one, or go back to a backup.
    Check(CheckArgs),
    /// Take back the last change, or the last K.
    Undo {
        /// How many.
        #[arg(value_name = "K", default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..))]
        count: u32,
    },
    /// Do again what was taken back last, or the last K.
    Redo {
        /// How many.
        #[arg(value_name = "K", default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..))]
        count: u32,
    },
    /// Open an invented stash in a throwaway folder.
    Demo {
        /// Print the board instead of opening the screen.
        #[arg(long)]
        plain: bool,
    },
    /// Print the keys of the board screen; with --json, a file to begin keys of your own with.
    Keys,
    /// Print the JSON Schema of the record or of an answer with --json; alone, list their names.
    Schema {
        /// Its name, such as find or record.
        name: Option<String>,
    },
}

/// What to do beside looking.
#[derive(Debug, Args)]
pub struct CheckArgs {
    /// Write what is good of a damaged record as a new stash in DIR, which must be empty or not there
    /// yet, and list what is not. The damaged one stays as it is.
    #[arg(long, value_name = "DIR", conflicts_with = "restore")]
    pub salvage: Option<PathBuf>,
    /// Put the backup of a day, such as 2026-03-01, or a record in a file in the place of the record,
    /// which is set aside. Without one: list the backups.
    // Given with a value, given without, not given.
    #[allow(clippy::option_option)]
    #[arg(long, value_name = "DATE|FILE")]
    pub restore: Option<Option<String>>,
}

/// What to tell of what was done.
#[derive(Debug, Args)]
pub struct LogArgs {
    /// Only what touched this card, with each of its ways: NUMBER or RANGE:NUMBER.
    pub card: Option<String>,
    /// Only the last N; without a card the last 20 if not given.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
    pub last: Option<u32>,
}

/// The order in which the eye goes over a board.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum Reading {
    /// Row by row from the top, each from the left.
    Rows,
    /// Column by column from the left, each from the top.
    Columns,
    /// Row by row, the first from the left, the next from the right, and so on.
    ThereAndBack,
}

impl From<Reading> for ReadingOrder {
    fn from(reading: Reading) -> Self {
        match reading {
            Reading::Rows => Self::Rows,
            Reading::Columns => Self::Columns,
            Reading::ThereAndBack => Self::ThereAndBack,
        }
    }
}

/// What to do with boards.
#[derive(Debug, Subcommand)]
pub enum BoardCommand {
    /// Put up a board.
    New {
        /// Its name.
        name: String,
        /// Rows of hooks.
        #[arg(long)]
        rows: u16,
        /// Columns of hooks.
        #[arg(long)]
        columns: u16,
        /// Places on a hook.
        #[arg(long, default_value_t = 1)]
        places: u8,
        /// What its marks begin with, for a second board.
        #[arg(long, default_value = "", hide_default_value = true)]
        prefix: String,
        /// The order the hooks are read in.
        #[arg(long, value_enum, default_value_t = Reading::Rows)]
        reading: Reading,
    },
    /// Block a hook, so that nothing hangs there.
    Block {
        /// The hook.
        mark: String,
        /// The reason.
        #[arg(long, value_name = "TEXT")]
        why: String,
        /// Put cards that lose their hook in the tray.
        #[arg(long)]
        unhang: bool,
    },
    /// Make a blocked hook usable again.
    Unblock {
        /// The hook.
        mark: String,
    },
    /// Keep a hook free: a re-hang leaves it empty.
    Keep {
        /// The hook.
        mark: String,
    },
    /// Let re-hangs use a hook again that was kept free.
    Use {
        /// The hook.
        mark: String,
    },
    /// Set how many cards go on one hook.
    Places {
        /// The hook.
        mark: String,
        /// Places on it.
        places: u8,
        /// Put cards that lose their place in the tray.
        #[arg(long)]
        unhang: bool,
    },
    /// Choose what the wall is ordered by. Nothing moves until the next re-hang.
    Order {
        /// What by.
        by: OrderBy,
    },
    /// Measure a board anew.
    Resize(ResizeArgs),
    /// Show who lives on which hook.
    Show {
        /// As a picture of rows and columns instead of a list.
        #[arg(long)]
        grid: bool,
    },
}

/// What the wall is ordered by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum OrderBy {
    /// Family, then range, then number.
    Family,
    /// Range, then number.
    Number,
    /// Family, then from light to dark.
    Lightness,
}

impl From<OrderBy> for WallOrder {
    fn from(by: OrderBy) -> Self {
        match by {
            OrderBy::Family => Self::Family,
            OrderBy::Number => Self::Number,
            OrderBy::Lightness => Self::Lightness,
        }
    }
}

/// New measures of a board.
#[derive(Debug, Args)]
pub struct ResizeArgs {
    /// Its name.
    pub name: String,
    /// Rows of hooks.
    #[arg(long)]
    pub rows: Option<u16>,
    /// Columns of hooks.
    #[arg(long)]
    pub columns: Option<u16>,
    /// Places on a usual hook.
    #[arg(long)]
    pub places: Option<u8>,
    /// The order the hooks are read in.
    #[arg(long, value_enum)]
    pub reading: Option<Reading>,
    /// Put cards that lose their hook in the tray.
    #[arg(long)]
    pub unhang: bool,
}

/// What to bring in.
#[derive(Debug, Subcommand)]
pub enum ImportCommand {
    /// The colours you own. Rows without a hook come in homeless, to be hung by a re-hang.
    Stock {
        /// The CSV file; - for standard input.
        file: PathBuf,
        /// Take nothing where one row cannot be taken.
        #[arg(long)]
        strict: bool,
        /// Add lengths, skeins and reserve to what is there, as for a purchase.
        #[arg(long)]
        add: bool,
        /// The range of rows that name none.
        #[arg(long, value_name = "NAME")]
        range: Option<String>,
        /// What the columns are, whatever stands above them: number,name,-,hex; - leaves one out.
        #[arg(long, value_name = "LIST", value_delimiter = ',')]
        columns: Vec<ColumnUse>,
        /// The first line is a row like the others.
        #[arg(long, requires = "columns")]
        no_header: bool,
    },
    /// The key of a project's pattern, in place of any it had.
    Key {
        /// The CSV file; - for standard input.
        file: PathBuf,
        /// The project. Without a ring it gets one.
        #[arg(long, value_name = "NAME")]
        project: String,
        /// Take nothing where one row cannot be taken.
        #[arg(long)]
        strict: bool,
        /// The range of rows that name none.
        #[arg(long, value_name = "NAME")]
        range: Option<String>,
    },
    /// All the colours a maker's range has.
    Shades {
        /// The CSV file; - for standard input.
        file: PathBuf,
        /// The range.
        #[arg(long, value_name = "NAME")]
        range: String,
    },
}

/// What to do with rings.
#[derive(Debug, Subcommand)]
pub enum RingCommand {
    /// Take cards to a project's ring, which is opened if need be.
    Take {
        /// The project.
        project: String,
        /// NUMBER or RANGE:NUMBER.
        #[arg(required = true, value_name = "CARD")]
        cards: Vec<String>,
    },
    /// Hang cards back, each on its home hook.
    Return {
        /// The project.
        project: String,
        /// NUMBER or RANGE:NUMBER.
        #[arg(
            value_name = "CARD",
            required_unless_present = "all",
            conflicts_with = "all"
        )]
        cards: Vec<String>,
        /// Every card on the ring.
        #[arg(long)]
        all: bool,
    },
    /// Leave a ring hanging on a hook.
    Park {
        /// The project.
        project: String,
        /// The hook.
        mark: String,
    },
    /// Take a parked ring back into use.
    Unpark {
        /// The project.
        project: String,
    },
    /// End a project, every card accounted for.
    Close {
        /// The project.
        project: String,
    },
    /// Wind thread of a card onto a spare card, which goes on a project's ring; the ring is opened
    /// if need be.
    Decant(DecantArgs),
    /// Wind what is left on a spare card back onto the card it came from.
    Merge {
        /// The project.
        project: String,
        /// The card it came from: NUMBER or RANGE:NUMBER.
        card: String,
    },
    /// Open a ring for a project, with no card on it yet.
    Open {
        /// The project.
        project: String,
    },
    /// Show what to fetch for a project, along the wall, and the order of its ring.
    Pull(PullArgs),
    /// Show the key of a project's pattern.
    Key {
        /// The project.
        project: String,
    },
    /// Say how far a project has come, in place of what was known of it.
    Progress(ProgressArgs),
    /// Say what cloth a project is stitched on and how, or show what was said.
    Fabric(FabricArgs),
    /// List the rings and what is on them.
    List,
}

/// An amount of thread.
#[derive(Debug, Args)]
#[group(required = true, multiple = true)]
pub struct Amount {
    /// Whole lengths, of six strands each.
    #[arg(long, value_name = "N")]
    pub lengths: Option<u32>,
    /// Single strands, beside the whole lengths.
    #[arg(long, value_name = "N")]
    pub strands: Option<u32>,
}

/// What to decant.
#[derive(Debug, Args)]
pub struct DecantArgs {
    /// The project.
    pub project: String,
    /// The card: NUMBER or RANGE:NUMBER. It stays where it is.
    pub card: String,
    #[command(flatten)]
    pub amount: Amount,
    /// What is written on the spare card; kept as its note.
    #[arg(
        long,
        value_name = "TEXT",
        default_value = "",
        hide_default_value = true
    )]
    pub label: String,
}

/// What was used.
#[derive(Debug, Args)]
pub struct UseArgs {
    /// The card: NUMBER or RANGE:NUMBER.
    pub card: String,
    #[command(flatten)]
    pub amount: Amount,
    /// Of what is on this project's ring: a spare card of the colour, or else the card itself.
    #[arg(long)]
    pub project: Option<String>,
}

/// What to do with families.
#[derive(Debug, Subcommand)]
pub enum FamilyCommand {
    /// List the families in the order of the wall.
    List,
    /// Put the named families first, in this order; or arrange all by colour.
    Order {
        /// The families.
        #[arg(value_name = "NAME", required_unless_present = "by_colour")]
        names: Vec<String>,
        /// Whites, then round the hues by the mean colour of their cards, then greys and blacks.
        #[arg(long, alias = "by-color", conflicts_with = "names")]
        by_colour: bool,
    },
    /// Make a family with no card in it.
    Add {
        /// What to call it.
        name: String,
    },
    /// Give a family another name.
    Rename {
        /// The family.
        family: String,
        /// What to call it.
        name: String,
    },
    /// Give up a family; cards put there by hand fall back to what their range or colour says.
    Remove {
        /// The family.
        family: String,
    },
    /// Put cards in a family, whatever their range or colour says.
    Assign {
        /// The family.
        family: String,
        /// NUMBER or RANGE:NUMBER.
        #[arg(required = true, value_name = "CARD")]
        cards: Vec<String>,
    },
    /// Let the range of cards say their family again, else their colour.
    Unassign {
        /// NUMBER or RANGE:NUMBER.
        #[arg(required = true, value_name = "CARD")]
        cards: Vec<String>,
    },
}

/// What to pin.
#[derive(Debug, Args)]
pub struct PinArgs {
    /// NUMBER or RANGE:NUMBER.
    #[arg(value_name = "CARD", conflicts_with = "families")]
    pub cards: Vec<String>,
    /// Whole families: every card that has a home stays there.
    #[arg(long = "family", value_name = "NAME", num_args = 1..)]
    pub families: Vec<String>,
    /// List what is pinned, weighed and kept free.
    #[arg(long, conflicts_with_all = ["cards", "families"])]
    pub list: bool,
}

/// What to let go.
#[derive(Debug, Args)]
#[group(required = true, multiple = false)]
pub struct UnpinArgs {
    /// NUMBER or RANGE:NUMBER.
    #[arg(value_name = "CARD")]
    pub cards: Vec<String>,
    /// Whole families.
    #[arg(long = "family", value_name = "NAME", num_args = 1..)]
    pub families: Vec<String>,
    /// Every card and every family.
    #[arg(long)]
    pub all: bool,
}

/// What counts as how much.
#[derive(Debug, Args)]
pub struct WeighArgs {
    /// NUMBER or RANGE:NUMBER.
    #[arg(required = true, value_name = "CARD")]
    pub cards: Vec<String>,
    /// How many plain cards each counts as, 1 to 1000; 1 makes it plain again.
    #[arg(long = "as", value_name = "N")]
    pub weight: u16,
}

/// Which plan of a re-hang, and what is wished of it.
#[derive(Debug, Args)]
pub struct RehangArgs {
    /// Carry out plan N: every step is recorded.
    #[arg(long, value_name = "N", conflicts_with = "plan", group = "doing")]
    pub apply: Option<usize>,
    /// List the steps of plan N.
    #[arg(long, value_name = "N")]
    pub plan: Option<usize>,
    /// Go on with the re-hang that is underway.
    #[arg(
        long,
        group = "doing",
        conflicts_with_all = ["apply", "plan", "give_up", "pins", "order", "rows"]
    )]
    pub go_on: bool,
    /// Give up the re-hang that is underway; what was hung stays as it is.
    #[arg(long, conflicts_with_all = ["apply", "plan", "steps", "pins", "order", "rows"])]
    pub give_up: bool,
    /// Do only the next K steps of it, and leave the rest for --go-on.
    #[arg(long, value_name = "K", requires = "doing",
        value_parser = clap::value_parser!(u32).range(1..))]
    pub steps: Option<u32>,
    /// Cards that stay where they belong this once, beside those that are pinned.
    #[arg(long, value_name = "CARD,CARD", value_delimiter = ',')]
    pub pins: Vec<String>,
    /// The order to hang in this once: family, number, lightness, or families, which then come first.
    #[arg(long, value_name = "ORDER", value_delimiter = ',')]
    pub order: Vec<String>,
    /// Change only these rows, such as A,C or A-C; what hangs elsewhere stays.
    #[arg(long, value_name = "ROWS", value_delimiter = ',')]
    pub rows: Vec<String>,
    /// Seconds for a card, for a mark on a card that is away, to set a card aside, and to reach one
    /// hook further: what the minutes of the plans rest on.
    #[arg(long, value_name = "CARD,MARK,ASIDE,HOOK")]
    pub pace: Option<PaceArg>,
}

/// What was looked at, and what was seen.
#[derive(Debug, Args)]
pub struct RollCallArgs {
    /// What was seen: a CSV list of hook, number and range; - for standard input. A hook that was
    /// empty has a row without a number; hooks that are not in it were not looked at.
    #[arg(value_name = "FILE")]
    pub file: Option<PathBuf>,
    /// Print only these rows, such as A,C or A-C; with a list, all their hooks were looked at.
    #[arg(long, value_name = "ROWS", value_delimiter = ',')]
    pub rows: Vec<String>,
    /// Every hook was looked at: those not in the list were empty.
    #[arg(long, requires = "file", conflicts_with = "rows")]
    pub all: bool,
    /// Make the record say what was seen: misplaced cards hang there, cards not seen are missing.
    #[arg(long, requires = "file")]
    pub apply: bool,
}

/// The pace of the work, as it is written.
#[derive(Debug, Clone, Copy)]
pub struct PaceArg(pub Pace);

impl FromStr for PaceArg {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let seconds: Option<Vec<f64>> = text
            .split(',')
            .map(|part| part.trim().parse().ok())
            .collect();
        match seconds.as_deref() {
            Some(&[card, mark, aside, hook])
                if [card, mark, aside, hook]
                    .iter()
                    .all(|seconds| (0.0..=86_400.0).contains(seconds)) =>
            {
                Ok(Self(Pace {
                    card,
                    mark,
                    aside,
                    hook,
                }))
            }
            _ => Err(word!("give four numbers of seconds, such as 30,20,5,0.3").to_owned()),
        }
    }
}

/// The form of an export.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum ExportForm {
    /// A stock list.
    Csv,
    /// One JSON object.
    Json,
}
