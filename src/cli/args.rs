//! The whole command line, and the mapping of commands to functions. The arguments of each command
//! are in its own file.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Parser, Subcommand};
use jiff::civil::Date;

use super::board::{self, BoardCommand};
use super::cards::{self, EffortArgs, HangArgs, HoldArgs, ReleaseArgs, RemoveArgs};
use super::check::{self, CheckArgs};
use super::export::{self, ExportForm};
use super::failure::Failure;
use super::family::{self, FamilyCommand};
use super::history::{self, HistoryArgs};
use super::import::{self, ImportCommand};
use super::merge::{self, MergeArgs};
use super::output::Output;
use super::print::{self, PrintCommand};
use super::range::{self, RangeCommand, WantArgs};
use super::rehang::{self, RehangArgs};
use super::ring::{self, RingCommand};
use super::rollcall::{self, RollCallArgs};
use super::screen::{self, LooksArgs};
use super::thread::{self, CountArgs, CutArgs, UseArgs};
use super::values::{ByArg, day, whole};
use super::{buy, find, guide, need, open, schema};

/// Keeps a wall board of thread cards in order: find any colour, kit up a project, get every card back.
///
/// Without a command it opens the board on the whole screen.
#[derive(Debug, Parser)]
#[command(name = "homehook", version, max_term_width = 100)]
pub(crate) struct Cli {
    /// The stash folder; without it, this computer's data folder.
    #[arg(long, global = true, value_name = "DIR", env = "HOMEHOOK_STASH")]
    pub stash: Option<PathBuf>,
    /// The name to record with each change; without it, your login name. "" records none.
    // A unique id: a global argument must not share its id with an argument of any command.
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
pub(crate) enum Command {
    /// Put up, resize, block or show boards.
    #[command(subcommand)]
    Board(BoardCommand),
    /// Import a card list, range list or chart key: CSV, .xlsx or .ods.
    #[command(subcommand)]
    Import(ImportCommand),
    /// Find a colour by number, by name, or by something near.
    Find {
        /// A number, RANGE:NUMBER, or words of a name.
        #[arg(required = true, value_name = "TEXT")]
        text: Vec<String>,
    },
    /// List every card away from home, where it is and since when.
    Where,
    /// Take cards to project rings, and get every one back.
    #[command(subcommand)]
    Ring(RingCommand),
    /// Count down thread you used from a card.
    Use(UseArgs),
    /// Cut uncut thread onto its card, from a part-used skein first.
    Cut(CutArgs),
    /// Set how much thread is on a card and beside it, after counting.
    Count(CountArgs),
    /// Set what kind of thread a range is, or mark its colours.
    #[command(subcommand)]
    Range(RangeCommand),
    /// Put colours on the want list, or list it.
    Want(WantArgs),
    /// Mark cards as missing; each keeps its home.
    Missing {
        /// NUMBER, RANGE:NUMBER, or NUMBER@PROJECT for a split card.
        #[arg(required = true, value_name = "CARD")]
        cards: Vec<String>,
    },
    /// Mark cards as lent or kept in another place; each keeps its home.
    Elsewhere {
        /// NUMBER or RANGE:NUMBER.
        #[arg(required = true, value_name = "CARD")]
        cards: Vec<String>,
        /// Where they are, such as "drawer in the hall".
        #[arg(
            long = "note",
            value_name = "TEXT",
            default_value = "",
            hide_default_value = true,
            required_unless_present = "whom"
        )]
        note: String,
        /// Who borrowed them.
        #[arg(id = "whom", long = "with", value_name = "NAME")]
        whom: Option<String>,
        /// The day you expect them back, such as 2026-11-01. After it, where and board show call them overdue.
        #[arg(long, value_name = "DATE", requires = "whom", value_parser = day)]
        until: Option<Date>,
    },
    /// Mark a card as back: it hangs at home again.
    Found {
        /// NUMBER, RANGE:NUMBER, or NUMBER@PROJECT for a split card.
        #[arg(value_name = "CARD")]
        card: String,
    },
    /// Remove cards and their thread: given away, thrown out.
    Remove(RemoveArgs),
    /// List families, order them, or put cards in them.
    #[command(subcommand)]
    Family(FamilyCommand),
    /// Hang a card on a hook of your choice.
    ///
    /// The answer shows between which cards the hook is, and whether the order still holds.
    Hang(HangArgs),
    /// Hold cards on their hooks in re-hangs, or list what is held.
    Hold(HoldArgs),
    /// Let held cards move again.
    Release(ReleaseArgs),
    /// Set how many plain cards a card counts as when it moves.
    ///
    /// For a glued label or a heavy card, say. Plans with the least effort leave it where it hangs.
    Effort(EffortArgs),
    /// Plan how to get every card in order, or carry a plan out.
    Rehang(RehangArgs),
    /// List what should hang on each hook, or compare it with a list.
    Rollcall(RollCallArgs),
    /// Check whether the thread for projects will last.
    ///
    /// Without a project: all in use. Projects share the stash in the order given, and no thread is
    /// promised twice. Open projects you don't name keep what they need of the cards on their rings.
    Need {
        /// The projects; without any, all in use.
        #[arg(value_name = "PROJECT")]
        projects: Vec<String>,
    },
    /// List the skeins to buy for projects, and why.
    Buy {
        /// The projects; without any, all in use.
        #[arg(value_name = "PROJECT")]
        projects: Vec<String>,
        /// Write the list to a file too; - means standard output alone.
        #[arg(long, value_name = "FILE")]
        csv: Option<PathBuf>,
        /// Write over an existing file.
        #[arg(long, requires = "csv")]
        force: bool,
    },
    /// Record skeins you bought; a new colour gets a card.
    Bought {
        /// A project: everything on its buy list. Or CARD=SKEINS, such as 447=2, with a dye lot 447=2:K7.
        /// Without any: the buy list of all projects in use, and the want list.
        #[arg(value_name = "PROJECT|CARD=SKEINS")]
        what: Vec<String>,
        /// The dye lot of every skein without its own.
        #[arg(long, value_name = "LOT")]
        lot: Option<String>,
    },
    /// Write the stash to a file or to standard output.
    Export {
        /// csv: a card list; matches: a conversion list; both to import again. json: the whole stash.
        form: ExportForm,
        /// The file; without one, standard output.
        file: Option<PathBuf>,
        /// Write over an existing file.
        #[arg(long)]
        force: bool,
    },
    /// Print labels, ring cards, maps or buy lists (HTML, SVG).
    #[command(subcommand)]
    Print(PrintCommand),
    /// Show what happened, when and by whom, newest last.
    History(HistoryArgs),
    /// Merge another copy of this stash, such as another computer's.
    Merge(MergeArgs),
    /// Check the record, salvage a damaged one, or restore a backup.
    Check(CheckArgs),
    /// Undo the last change, or the last K.
    Undo {
        /// How many.
        #[arg(value_name = "K", default_value_t = 1, value_parser = whole(1..=u32::MAX))]
        count: u32,
    },
    /// Redo the last undone change, or the last K.
    Redo {
        /// How many.
        #[arg(value_name = "K", default_value_t = 1, value_parser = whole(1..=u32::MAX))]
        count: u32,
    },
    /// Open an invented stash in a throwaway folder.
    Demo {
        /// Print the board as lines that can be read aloud, instead of opening the screen.
        #[arg(long)]
        plain: bool,
    },
    /// Show a page of the handbook, or list its subjects.
    Guide {
        /// The subject, such as rehang.
        subject: Option<String>,
    },
    /// Print the keys of the screen; with --json, a file to change them.
    Keyboard,
    /// Print the JSON Schema of an answer or the record, or list them.
    Schema {
        /// Its name, such as find or record.
        name: Option<String>,
    },
}

/// Runs the parsed command.
pub(crate) fn run(cli: Cli, output: &mut Output) -> Result<ExitCode, Failure> {
    let command = match cli.command {
        Some(Command::Demo { plain }) => return screen::demo(plain, &cli.looks, output),
        Some(Command::Guide { subject }) => {
            guide::run(subject.as_deref(), output)?;
            return Ok(ExitCode::SUCCESS);
        }
        Some(Command::Keyboard) => {
            screen::keyboard(output)?;
            return Ok(ExitCode::SUCCESS);
        }
        Some(Command::Schema { name }) => {
            schema::run(name.as_deref(), output)?;
            return Ok(ExitCode::SUCCESS);
        }
        other => other,
    };
    let dir = open::folder(cli.stash)?;
    let Some(command) = command else {
        return screen::run(&dir, &cli.looks, output);
    };
    match command {
        Command::Board(command) => board::run(command, &dir, output)?,
        Command::Import(command) => import::run(command, &dir, output)?,
        Command::Find { text } => find::find(&text.join(" "), &dir, output)?,
        Command::Where => find::away(&dir, output)?,
        Command::Ring(command) => ring::run(command, &dir, output)?,
        Command::Use(args) => thread::use_thread(&args, &dir, output)?,
        Command::Cut(args) => thread::cut(&args, &dir, output)?,
        Command::Count(args) => thread::count(&args, &dir, output)?,
        Command::Range(command) => range::run(&command, &dir, output)?,
        Command::Want(args) => range::want(&args, &dir, output)?,
        Command::Missing { cards } => ring::missing(&cards, &dir, output)?,
        Command::Elsewhere {
            cards,
            note,
            whom,
            until,
        } => ring::elsewhere(&cards, &note, whom.as_deref(), until, &dir, output)?,
        Command::Remove(args) => cards::remove(&args, &dir, output)?,
        Command::Found { card } => ring::found(&card, &dir, output)?,
        Command::Family(command) => family::run(command, &dir, output)?,
        Command::Hang(args) => cards::hang(&args, &dir, output)?,
        Command::Hold(args) => cards::hold(&args, &dir, output)?,
        Command::Release(args) => cards::release(&args, &dir, output)?,
        Command::Effort(args) => cards::effort(&args, &dir, output)?,
        Command::Rehang(args) => rehang::run(&args, &dir, output)?,
        Command::Rollcall(args) => rollcall::run(&args, &dir, output)?,
        Command::Need { projects } => need::run(&projects, &dir, output)?,
        Command::Buy {
            projects,
            csv,
            force,
        } => buy::run(&projects, csv.as_deref(), force, &dir, output)?,
        Command::Bought { what, lot } => buy::bought(&what, lot.as_deref(), &dir, output)?,
        Command::Export { form, file, force } => {
            export::run(form, file.as_deref(), force, &dir, output)?;
        }
        Command::Print(command) => print::run(&command, &dir, output)?,
        Command::History(args) => history::run(&args, &dir, output)?,
        Command::Merge(args) => return merge::run(&args, &dir, output),
        Command::Check(args) => return check::run(&args, &dir, output),
        Command::Undo { count } => history::undo(count, &dir, output)?,
        Command::Redo { count } => history::redo(count, &dir, output)?,
        Command::Demo { .. }
        | Command::Guide { .. }
        | Command::Keyboard
        | Command::Schema { .. } => {}
    }
    Ok(ExitCode::SUCCESS)
}
