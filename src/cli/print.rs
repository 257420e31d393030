//! `homehook print`: the sheets to print, and their files.

use std::path::{Path, PathBuf};
use std::str::FromStr;

use clap::{Args, Subcommand, ValueEnum};
use jiff::Timestamp;
use jiff::tz::TimeZone;
use serde::Serialize;

use super::failure::Failure;
use super::open;
use super::output::Output;
use super::values::whole;
use crate::exchange::file::{is_inside, write_new, write_whole};
use crate::journal::store::Store;
use crate::model::board::HookRef;
use crate::model::ids::CardId;
use crate::model::whereabouts::Whereabouts;
use crate::print::board_map::{board_map, board_maps};
use crate::print::buy_list::for_projects;
use crate::print::labels::hook_labels;
use crate::print::labels::{LabelSheet, ParseSheetError, labels};
use crate::print::page::Document;
use crate::print::page::{Mm, ParseLengthError};
use crate::print::paper::{Paper, Sheet};
use crate::print::pocket::pocket;
use crate::print::ring_card::ring_card;
use crate::print::{PrintForm, html, svg_files};
use crate::stash::command::rehang::Rows;
use crate::stash::history::History;
use crate::stash::projects::kit::{rings_in_use, rings_named};
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};
use crate::text::{list, one_or_many};

/// What was printed.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct Printed {
    /// What was done, as a sentence without its full stop.
    done: String,
    /// The files.
    files: Vec<String>,
    /// How many pages there are in all.
    pages: usize,
}

/// What to print.
#[derive(Debug, Subcommand)]
pub(crate) enum PrintCommand {
    /// Print labels for cards; without a card, for all but split cards.
    Labels(LabelsArgs),
    /// Print labels for hooks in reading order; blocked ones get none.
    HookLabels(HookLabelsArgs),
    /// Print a project's ring card: its chart key, to hang on the ring.
    Ring(RingArgs),
    /// Print a map of every board, or of one.
    Board(BoardArgs),
    /// Print a page for a phone in the shop: what you own, what to buy, a tick for what you bought.
    Pocket(PocketArgs),
    /// Print a buy list with boxes to tick; without a project, for all in use.
    Buy(BuyArgs),
}

/// The paper and the file.
#[derive(Debug, Args)]
pub(crate) struct PaperArgs {
    /// a4 (210 x 297 mm) or letter (8.5 x 11 in).
    #[arg(long, value_enum, hide_possible_values = true, default_value_t = PaperArg::A4)]
    pub paper: PaperArg,
    /// The long side at the top.
    #[arg(long)]
    pub landscape: bool,
    /// html: one file for a browser to print; svg: a file for each page, FILE-1.svg and so on.
    #[arg(long, value_enum, hide_possible_values = true, default_value_t = Form::Html)]
    pub form: Form,
    /// The file; without it, labels.html and the like in this folder.
    #[arg(long, value_name = "FILE")]
    pub to: Option<PathBuf>,
    /// Write over an existing file.
    #[arg(long)]
    pub force: bool,
}

/// A paper by its name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum PaperArg {
    /// 210 x 297 mm.
    A4,
    /// 8.5 x 11 in.
    Letter,
}

/// The form of the files.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Form {
    /// One file with all pages.
    Html,
    /// A file for each page.
    Svg,
}

/// Labels of which cards.
#[derive(Debug, Args)]
pub(crate) struct LabelsArgs {
    /// NUMBER, RANGE:NUMBER or NUMBER@PROJECT.
    #[arg(value_name = "CARD")]
    pub cards: Vec<String>,
    /// The cards on a project's ring, split cards too.
    #[arg(long, value_name = "PROJECT", conflicts_with_all = ["cards", "family", "new", "changed"])]
    pub ring: Option<String>,
    /// The cards of a family.
    #[arg(long, value_name = "FAMILY", conflicts_with_all = ["cards", "new", "changed"])]
    pub family: Option<String>,
    /// The cards to hang.
    #[arg(long, conflicts_with_all = ["cards", "changed"])]
    pub new: bool,
    /// The cards whose hook the last re-hang changed.
    #[arg(long, conflicts_with = "cards")]
    pub changed: bool,
    /// A sheet of labels by its own measurements in mm, such as columns=3,rows=8,left=12. Also: width,
    /// height, top, across and down (from one label to the next). Leave out what follows from the
    /// rest. Without it, labels of 60 x 28 mm with lines to cut along.
    #[arg(long, value_name = "MEASUREMENTS")]
    pub sheet: Option<SheetArg>,
    /// Used labels at the start of the first sheet.
    #[arg(long, value_name = "N", default_value_t = 0, value_parser = whole(0..=usize::MAX))]
    pub skip: usize,
    #[command(flatten)]
    pub paper: PaperArgs,
}

/// Marks of which hooks.
#[derive(Debug, Args)]
pub(crate) struct HookLabelsArgs {
    /// Only these rows, such as A,C or A-C.
    #[arg(long, value_name = "ROWS", value_delimiter = ',')]
    pub rows: Vec<String>,
    /// Only this board.
    #[arg(long, value_name = "NAME")]
    pub board: Option<String>,
    /// Width and height of a strip, in mm.
    #[arg(long, value_name = "WxH", default_value = "18x8")]
    pub size: SizeArg,
    #[command(flatten)]
    pub paper: PaperArgs,
}

/// Which ring.
#[derive(Debug, Args)]
pub(crate) struct RingArgs {
    /// The project.
    pub project: String,
    /// Width and height of a card, in mm; a long key goes on over more cards.
    #[arg(long, value_name = "WxH", default_value = "60x90")]
    pub card: SizeArg,
    #[command(flatten)]
    pub paper: PaperArgs,
}

/// Which board.
#[derive(Debug, Args)]
pub(crate) struct BoardArgs {
    /// Only this board.
    #[arg(long, value_name = "NAME")]
    pub board: Option<String>,
    #[command(flatten)]
    pub paper: PaperArgs,
}

/// For which projects.
#[derive(Debug, Args)]
pub(crate) struct BuyArgs {
    /// The projects.
    #[arg(value_name = "PROJECT")]
    pub projects: Vec<String>,
    #[command(flatten)]
    pub paper: PaperArgs,
}

/// For which projects, and the file.
#[derive(Debug, Args)]
pub(crate) struct PocketArgs {
    /// The projects; without one, all in use. The want list is always there.
    #[arg(value_name = "PROJECT")]
    pub projects: Vec<String>,
    /// The file.
    #[arg(long, value_name = "FILE", default_value = "pocket.html")]
    pub to: PathBuf,
    /// Write over a file that is there.
    #[arg(long)]
    pub force: bool,
}

/// A width and a height.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct SizeArg(pub (Mm, Mm));

impl FromStr for SizeArg {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let (w, h) = text
            .split_once(['x', 'X'])
            .ok_or_else(|| "write width and height in mm, such as 60x90".to_owned())?;
        let length = |text: &str| {
            text.parse()
                .map_err(|wrong: ParseLengthError| wrong.sentence())
        };
        Ok(Self((length(w)?, length(h)?)))
    }
}

/// The measurements of a sheet of labels.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct SheetArg(pub LabelSheet);

impl FromStr for SheetArg {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let sheet = text.parse().map(Self);
        sheet.map_err(|wrong: ParseSheetError| wrong.sentence())
    }
}

impl PaperArgs {
    fn sheet(&self) -> Sheet {
        Sheet {
            paper: match self.paper {
                PaperArg::A4 => Paper::A4,
                PaperArg::Letter => Paper::Letter,
            },
            landscape: self.landscape,
        }
    }
}

/// Draws and writes the requested sheets.
pub(crate) fn run(command: &PrintCommand, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    let reading = open::reading(dir, output)?;
    let state = reading.state();
    let (document, paper, name) = match command {
        PrintCommand::Labels(args) => {
            let history = reading.store().map(Store::history);
            let cards = cards(state, history, args)?;
            let sheet = args.paper.sheet();
            let measured = args.sheet.as_ref().map(|sheet| &sheet.0);
            let document = labels(state, &cards, sheet, measured, args.skip)?;
            (document, &args.paper, "labels")
        }
        PrintCommand::HookLabels(args) => (labels_of(state, args)?, &args.paper, "hook-labels"),
        PrintCommand::Ring(args) => {
            let ring = state.need_ring(&args.project)?;
            let document = ring_card(state, ring, args.paper.sheet(), args.card.0)?;
            (document, &args.paper, "ring")
        }
        PrintCommand::Board(args) => (maps(state, args)?, &args.paper, "board"),
        PrintCommand::Buy(args) => (purchases(state, args)?, &args.paper, "buy"),
        PrintCommand::Pocket(args) => {
            let files = vec![(args.to.clone(), pocket_page(state, args)?)];
            return write(files, 1, args.force, dir, output);
        }
    };
    if document.pages.is_empty() {
        return Err(Failure::NothingToPrint(name));
    }
    let to = paper.to.clone();
    let may_be = |to: &Path| match (paper.form, PrintForm::named(to)) {
        (Form::Html, Some(PrintForm::Html)) | (Form::Svg, Some(PrintForm::Svg)) => true,
        // The files of single pages get their ending with their number.
        (Form::Svg, None) => to.extension().is_none(),
        (Form::Html, _) | (Form::Svg, _) => false,
    };
    if let Some(wrong) = to
        .as_deref()
        .filter(|to| !may_be(to) && !is_inside(to, dir))
    {
        return Err(Failure::WrongEnding(wrong.to_owned()));
    }
    let files = match paper.form {
        Form::Html => {
            let usual = || PathBuf::from(format!("{name}.html"));
            vec![(to.unwrap_or_else(usual), html(&document))]
        }
        Form::Svg => svg_files(&document, &to.unwrap_or_else(|| PathBuf::from(name))),
    };
    write(files, document.pages.len(), paper.force, dir, output)
}

/// The requested cards, each once.
fn cards<'a>(
    state: &'a State,
    history: Option<&History>,
    args: &LabelsArgs,
) -> Result<Vec<&'a CardState>, Refusal> {
    let whole = state.cards().filter(|kept| kept.card.parent.is_none());
    if let Some(project) = &args.ring {
        return Ok(state.cards_on(state.need_ring(project)?).collect());
    }
    if let Some(family) = &args.family {
        let id = state.find_family(family)?.id;
        return Ok(state.in_board_order(whole.filter(|kept| state.family_of(kept) == Some(id))));
    }
    if args.new {
        let new = whole.filter(|kept| kept.place.at == Whereabouts::Unhung);
        return Ok(state.in_wanted_order(new));
    }
    if args.changed {
        let changed = history.and_then(History::last_rehang).unwrap_or_default();
        let hung = |kept: &&CardState| kept.home.is_some() && changed.contains(&kept.card.id);
        return Ok(state.in_board_order(whole.filter(hung)));
    }
    if args.cards.is_empty() {
        return Ok(state.in_board_order(whole));
    }
    let mut ids: Vec<CardId> = Vec::new();
    for name in &args.cards {
        let id = state.find_card(name)?;
        if !ids.contains(&id) {
            ids.push(id);
        }
    }
    Ok(ids.iter().filter_map(|&id| state.card(id)).collect())
}

fn labels_of(state: &State, args: &HookLabelsArgs) -> Result<Document, Failure> {
    if state.boards().len() == 0 {
        return Err(Refusal::NoBoard.into());
    }
    let rows = (!args.rows.is_empty()).then(|| Rows::named(state, &args.rows));
    let rows = rows.transpose()?;
    let board = args.board.as_ref().map(|name| state.find_board(name));
    let board = board.transpose()?.map(|board| board.id);
    let wanted = |hook: &HookRef| {
        rows.as_ref().is_none_or(|rows| rows.have(*hook))
            && board.is_none_or(|board| board == hook.board)
    };
    let hooks = state.hooks().filter(wanted);
    Ok(hook_labels(state, hooks, args.paper.sheet(), args.size.0)?)
}

/// The maps of all boards in sequence, or of one board.
fn maps(state: &State, args: &BoardArgs) -> Result<Document, Refusal> {
    let sheet = args.paper.sheet();
    if let Some(name) = &args.board {
        return Ok(board_map(state, state.find_board(name)?, sheet));
    }
    board_maps(state, sheet).ok_or(Refusal::NoBoard)
}

fn purchases(state: &State, args: &BuyArgs) -> Result<Document, Failure> {
    let rings = if args.projects.is_empty() {
        rings_in_use(state)?
    } else {
        rings_named(state, &args.projects)?
    };
    let document = for_projects(state, &rings, args.paper.sheet());
    document.ok_or(Failure::NothingToPrint("buy"))
}

fn pocket_page(state: &State, args: &PocketArgs) -> Result<String, Failure> {
    let rings = match rings_named(state, &args.projects) {
        rings if !args.projects.is_empty() => rings?,
        // Without a chart key there are still the cards and the want list.
        _ => rings_in_use(state).unwrap_or_default(),
    };
    let now = Timestamp::now();
    let page = state.new_pocket_page(now);
    let made = now.to_zoned_datetime(TimeZone::system()).date();
    pocket(state, &rings, page, made).ok_or(Failure::NothingToPrint("pocket"))
}

/// Writes one or more files, or none if one of them exists already or may not be written.
fn write(
    files: Vec<(PathBuf, String)>,
    count: usize,
    force: bool,
    dir: &Path,
    output: &mut Output,
) -> Result<(), Failure> {
    if let Some((inside, _)) = files.iter().find(|(file, _)| is_inside(file, dir)) {
        return Err(Failure::InsideStash(inside.clone()));
    }
    if let Some((there, _)) = files.iter().find(|(file, _)| !force && file.exists()) {
        return Err(Failure::FileThere(there.clone()));
    }
    for (file, text) in &files {
        let put = match force {
            true => write_whole(file, text.as_bytes(), dir),
            false => write_new(file, text.as_bytes(), dir),
        };
        put.map_err(Failure::not_put(file))?;
    }
    let word = one_or_many(count, "page", "pages");
    let names = files.iter().map(|(file, _)| file.to_string_lossy());
    let names: Vec<String> = names.map(Into::into).collect();
    let answer = Printed {
        done: format!(
            "Wrote {count} {word} to {list}",
            list = list(names.iter().cloned())
        ),
        files: names,
        pages: count,
    };
    output.done(&answer.done, &answer)?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_are_parsed_as_written() {
        let size: SizeArg = "60x90.5".parse().unwrap();
        assert_eq!(size, SizeArg((Mm::whole(60), Mm::hundredths(9_050))));
        for wrong in ["60", "x", "60x", "60x-1", "60 by 90"] {
            assert!(wrong.parse::<SizeArg>().is_err(), "{wrong}");
        }
        assert_eq!(
            SizeArg(crate::print::ring_card::USUAL),
            "60x90".parse().unwrap()
        );
        assert_eq!(
            SizeArg(crate::print::labels::USUAL_HOOK_LABEL),
            "18x8".parse().unwrap()
        );
    }
}
