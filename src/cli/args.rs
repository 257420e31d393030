//! The command line as a whole. What one command takes is said beside it, in its own file.

use std::path::PathBuf;

use clap::{Parser, Subcommand};

use super::board::BoardCommand;
use super::check::CheckArgs;
use super::export::ExportForm;
use super::family::FamilyCommand;
use super::hang::HangArgs;
use super::hold::{EffortArgs, HoldArgs, ReleaseArgs};
use super::import::ImportCommand;
use super::log::LogArgs;
use super::looks::LooksArgs;
use super::merge::MergeArgs;
use super::number::whole;
use super::print::PrintCommand;
use super::rehang::RehangArgs;
use super::remove::RemoveArgs;
use super::ring::RingCommand;
use super::rollcall::RollCallArgs;
use super::thread::UseArgs;
use super::who::ByArg;

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
    /// Import a card list, a range's range list or a pattern's key (CSV).
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
        /// NUMBER, RANGE:NUMBER, or NUMBER@PROJECT for a split card.
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
        /// NUMBER, RANGE:NUMBER, or NUMBER@PROJECT for a split card.
        #[arg(value_name = "CARD")]
        card: String,
    },
    /// Take cards out of the stash for good, with the thread on them: given away, thrown out.
    Remove(RemoveArgs),
    /// List the families, put them in another order, or put cards in them.
    #[command(subcommand)]
    Family(FamilyCommand),
    /// Hang a card on a hook of your choice, in order or not, and tell between which cards that is.
    Hang(HangArgs),
    /// Pin cards to their homes, so that every re-hang leaves them; alone, list what is held.
    Hold(HoldArgs),
    /// Let held cards move again.
    Release(ReleaseArgs),
    /// Say how many plain cards touching a card counts as: its label is pasted for good, or it is
    /// heavy.
    Effort(EffortArgs),
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
        /// Write over a file that is there.
        #[arg(long, requires = "csv")]
        force: bool,
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
        /// csv: a card list that can be brought in again; json: cards, boards and rings.
        form: ExportForm,
        /// The file; without one, the text goes to the screen.
        file: Option<PathBuf>,
        /// Write over a file that is there.
        #[arg(long)]
        force: bool,
    },
    /// Print labels, hook labels, ring cards, maps of boards or what to buy, as HTML or SVG for paper.
    #[command(subcommand)]
    Print(PrintCommand),
    /// Tell what was done, when and by whom, the newest last.
    History(LogArgs),
    /// Bring in what was changed in another copy of this stash, such as on another computer.
    Merge(MergeArgs),
    /// Look the record and the stash over without changing anything; or save what is good of a
    /// damaged one, or go back to a backup.
    Check(CheckArgs),
    /// Take back the last change, or the last K.
    Undo {
        /// How many.
        #[arg(value_name = "K", default_value_t = 1, value_parser = whole(1..=u32::MAX))]
        count: u32,
    },
    /// Do again what was taken back last, or the last K.
    Redo {
        /// How many.
        #[arg(value_name = "K", default_value_t = 1, value_parser = whole(1..=u32::MAX))]
        count: u32,
    },
    /// Open an invented stash in a throwaway folder.
    Demo {
        /// Print the board instead of opening the screen.
        #[arg(long)]
        plain: bool,
    },
    /// Print the keys of the board screen; with --json, a file to begin keys of your own with.
    Keyboard,
    /// Print the JSON Schema of the record or of an answer with --json; alone, list their names.
    Schema {
        /// Its name, such as find or record.
        name: Option<String>,
    },
}
