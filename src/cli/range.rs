//! `homehook range` and `want`: how thread is sold, properties of colours, and the want list.

use std::path::Path;

use clap::{Args, Subcommand, ValueEnum};
use serde::Serialize;

use super::failure::Failure;
use super::output::Output;
use super::values::{metres, whole};
use super::{change, open};
use crate::exchange::export::ColourOut;
use crate::model::range::{PutUp, Range, Shade};
use crate::model::ring::{ColourRef, KeyThread};
use crate::stash::command::range::{self, Kind, PutUpSaid};
use crate::stash::event::{Change, Mark};
use crate::stash::state::State;
use crate::text;

/// What to do with ranges.
#[derive(Debug, Subcommand)]
pub(crate) enum RangeCommand {
    /// List the ranges, their kind of thread and their marked colours.
    List,
    /// Set a range's kind of thread, skein length and strands.
    PutUp(PutUpArgs),
    /// Mark colours as variegated or discontinued, owned or not.
    Mark(MarkArgs),
}

/// How a range is sold.
#[derive(Debug, Args)]
pub(crate) struct PutUpArgs {
    /// The range.
    pub range: String,
    /// The kind of thread. A change of kind sets the usual length and strands.
    #[arg(long, value_enum, required_unless_present_any = ["size", "skein", "strands", "divided"])]
    pub kind: Option<KindArg>,
    /// The size of a perle cotton, such as 5.
    #[arg(long, value_name = "N", value_parser = whole(0..=u8::MAX))]
    pub size: Option<u8>,
    /// The length of a skein: 8m, 4.5m, 8.7yd; without a unit metres.
    #[arg(long, value_name = "LENGTH", value_parser = metres)]
    pub skein: Option<u32>,
    /// Strands of the thread.
    #[arg(long, value_name = "N", value_parser = whole(0..=u8::MAX))]
    pub strands: Option<u8>,
    /// Whether you divide it into strands to stitch.
    #[arg(long, value_enum)]
    pub divided: Option<YesNo>,
}

/// A kind of thread.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum KindArg {
    /// Stranded cotton: skeins of 8 m with six strands, if you don't say otherwise.
    Stranded,
    /// Silk.
    Silk,
    /// Perle cotton, which is not divided; say its size.
    Perle,
    /// Metallic thread.
    Metallic,
    /// Wool.
    Wool,
}

/// Yes or no.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum YesNo {
    /// It is.
    Yes,
    /// It isn't.
    No,
}

impl From<KindArg> for Kind {
    fn from(kind: KindArg) -> Self {
        match kind {
            KindArg::Stranded => Self::Stranded,
            KindArg::Silk => Self::Silk,
            KindArg::Perle => Self::Perle,
            KindArg::Metallic => Self::Metallic,
            KindArg::Wool => Self::Wool,
        }
    }
}

/// What to mark.
#[derive(Debug, Args)]
pub(crate) struct MarkArgs {
    /// NUMBER or RANGE:NUMBER.
    #[arg(required = true, value_name = "CARD")]
    pub cards: Vec<String>,
    /// Its colour changes along the thread: crosses are worked one by one, and nothing stands in for it.
    #[arg(
        long,
        required_unless_present = "discontinued",
        conflicts_with = "discontinued"
    )]
    pub variegated: bool,
    /// The maker no longer makes it: its last skein is a warning.
    #[arg(long)]
    pub discontinued: bool,
    /// Take the mark away.
    #[arg(long)]
    pub not: bool,
}

/// What is wanted.
#[derive(Debug, Args)]
pub(crate) struct WantArgs {
    /// NUMBER or RANGE:NUMBER, owned or not. Without any: show the want list.
    #[arg(value_name = "CARD")]
    pub cards: Vec<String>,
    /// How many skeins of each.
    #[arg(long, value_name = "N", default_value_t = 1, value_parser = whole(1..=1000_u32))]
    pub skeins: u32,
    /// Take them off the want list.
    #[arg(long, requires = "cards", conflicts_with = "skeins")]
    pub no_longer: bool,
}

/// A kind of thread, for scripts.
#[derive(Clone, Copy, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
enum KindOut {
    /// Stranded cotton.
    Stranded,
    /// Silk.
    Silk,
    /// Perle cotton.
    Perle,
    /// Metallic thread.
    Metallic,
    /// Wool.
    Wool,
}

/// How a thread is sold.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct PutUpOut {
    /// The kind of thread.
    kind: KindOut,
    /// The size of a perle cotton; `null` for any other.
    size: Option<u8>,
    /// How long a skein is, in metres.
    skein_m: f64,
    /// The strands it is made of.
    strands: u8,
    /// Whether it is divided into them to stitch with.
    divided: bool,
}

impl PutUpOut {
    fn of(put_up: PutUp) -> Self {
        let (kind, size) = Kind::of(put_up.kind());
        Self {
            kind: match kind {
                Kind::Stranded => KindOut::Stranded,
                Kind::Silk => KindOut::Silk,
                Kind::Perle => KindOut::Perle,
                Kind::Metallic => KindOut::Metallic,
                Kind::Wool => KindOut::Wool,
            },
            size,
            skein_m: f64::from(put_up.skein_cm()) / 100.0,
            strands: put_up.strands(),
            divided: put_up.is_divisible(),
        }
    }
}

/// A range.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct RangeOut {
    /// Its name.
    range: String,
    /// How its thread is sold.
    put_up: PutUpOut,
    /// How many colours its list has.
    colours: usize,
    /// How many cards of it there are, without split cards.
    cards: usize,
    /// The numbers that are variegated.
    variegated: Vec<String>,
    /// The numbers that are no longer made.
    discontinued: Vec<String>,
}

/// The ranges.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct RangeList {
    /// The ranges.
    ranges: Vec<RangeOut>,
}

/// How a range is sold.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct PutUpShown {
    /// The number of the event in the record; `null` where that was known already.
    event: Option<u64>,
    /// The range.
    range: RangeOut,
}

/// A colour that is wanted.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct WantedOut {
    /// The colour.
    #[serde(flatten)]
    colour: ColourOut,
    /// Its name; may be empty.
    name: String,
    /// How many skeins.
    skeins: u32,
    /// Whether there is a card of it.
    owned: bool,
    /// Whether the maker no longer makes it.
    discontinued: bool,
}

/// The want list.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct WantList {
    /// What was done, as a sentence without its full stop; `null` where nothing was.
    done: Option<String>,
    /// The number of the event in the record; likewise.
    event: Option<u64>,
    /// The colours, by range and number.
    wanted: Vec<WantedOut>,
}

impl RangeOut {
    fn of(state: &State, range: &Range) -> Self {
        let marked = |is: fn(&Shade) -> bool| {
            let shades = range.shades.iter().filter(|(_, shade)| is(shade));
            shades.map(|(number, _)| number.to_string()).collect()
        };
        let cards = state.cards().filter(|kept| kept.card.parent.is_none());
        Self {
            range: range.name.to_string(),
            put_up: PutUpOut::of(range.put_up),
            colours: range.shades.len(),
            cards: cards.filter(|kept| kept.card.range == range.id).count(),
            variegated: marked(|shade| shade.variegated),
            discontinued: marked(|shade| shade.discontinued),
        }
    }
}

pub(crate) fn run(command: &RangeCommand, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    match command {
        RangeCommand::List => list(dir, output),
        RangeCommand::PutUp(args) => put_up(args, dir, output),
        RangeCommand::Mark(args) => {
            let mark = if args.variegated {
                Mark::Variegated
            } else {
                Mark::Discontinued
            };
            change::make_and_tell(
                dir,
                output,
                |state, _| range::mark(state, &args.cards, mark, !args.not),
                |_| change::Nothing {},
            )
        }
    }
}

fn list(dir: &Path, output: &mut Output) -> Result<(), Failure> {
    let reading = open::reading(dir, output)?;
    let state = reading.state();
    if output.is_json() {
        let ranges = state.ranges().map(|range| RangeOut::of(state, range));
        output.object(&RangeList {
            ranges: ranges.collect(),
        })?;
        return Ok(());
    }
    for range in state.ranges() {
        output.line(range_line(state, range))?;
        let of = RangeOut::of(state, range);
        for (word, numbers) in [
            ("variegated", of.variegated),
            ("discontinued", of.discontinued),
        ] {
            if !numbers.is_empty() {
                output.line(format!("  {word}: {}", text::list(numbers)))?;
            }
        }
    }
    if state.ranges().next().is_none() {
        output.line("There are no ranges yet.")?;
    }
    Ok(())
}

/// `Lantern Hill: stranded cotton, 8 m skeins, 6 strands; 4 cards, 120 colours in its list`
fn range_line(state: &State, range: &Range) -> String {
    let of = RangeOut::of(state, range);
    let cards = u32::try_from(of.cards).unwrap_or(u32::MAX);
    let listed = match of.colours {
        0 => "no list".to_owned(),
        1 => "1 colour in its list".to_owned(),
        n => format!("{n} colours in its list"),
    };
    format!(
        "{name}: {put_up}; {cards}, {listed}",
        name = range.name,
        put_up = text::thread::put_up(range.put_up),
        cards = text::cards(cards)
    )
}

fn put_up(args: &PutUpArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    let said = PutUpSaid {
        kind: args.kind.map(Kind::from),
        size: args.size,
        skein_cm: args.skein,
        strands: args.strands,
        divided: args.divided.map(|divided| divided == YesNo::Yes),
    };
    let ask = |state: &State, _| range::put_up(state, &args.range, &said);
    let (writing, now, event) = change::ask(dir, output, ask)?;
    let is_new = |change: &Change| matches!(change, Change::Range { before: None, .. });
    let is_new = event
        .as_ref()
        .is_some_and(|event| event.changes.iter().any(is_new));
    let (store, seq) = writing.commit_if(now, event.as_ref(), output)?;
    let state = store.state();
    if is_new {
        let range = &args.range;
        output.note(
            "new_range",
            format!("'{range}' is a new range; undo takes it away again"),
        );
    }
    let changes = event.as_ref().map_or(&[][..], |event| &event.changes);
    if let Some(words) = text::thread::lengths_changed(state, changes) {
        output.note(
            "lengths_changed",
            format!("{words} Count them again: homehook count"),
        );
    }
    let Some(range) = state.find_range(&args.range) else {
        return Ok(());
    };
    if output.is_json() {
        output.object(&PutUpShown {
            event: seq,
            range: RangeOut::of(state, range),
        })?;
        return Ok(());
    }
    output.line(format!("{}.", range_line(state, range)))?;
    Ok(())
}

/// Adds colours to the want list, removes them, or shows the list.
pub(crate) fn want(args: &WantArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    if args.cards.is_empty() {
        let reading = open::reading(dir, output)?;
        return tell_wanted(reading.state(), None, output);
    }
    let skeins = if args.no_longer { 0 } else { args.skeins };
    let changed = change::make(dir, output, |state, _| {
        range::want(state, &args.cards, skeins)
    })?;
    let done = Some((changed.words(), changed.seq));
    tell_wanted(changed.state(), done, output)
}

fn tell_wanted(
    state: &State,
    done: Option<(String, u64)>,
    output: &mut Output,
) -> Result<(), Failure> {
    let wanted: Vec<(ColourRef, u32)> = state.want_list().collect();
    if output.is_json() {
        let wanted = wanted.iter().map(|(colour, skeins)| WantedOut {
            colour: ColourOut::of(state, colour),
            name: state
                .thread_name(&KeyThread::new(colour.clone()))
                .to_owned(),
            skeins: *skeins,
            owned: state.cards_of(colour).next().is_some(),
            discontinued: state.is_discontinued(colour),
        });
        let (done, event) = done.unzip();
        output.object(&WantList {
            done,
            event,
            wanted: wanted.collect(),
        })?;
        return Ok(());
    }
    if let Some((done, _)) = done {
        output.line(format_args!("{done}."))?;
    }
    for (colour, skeins) in &wanted {
        let thread = KeyThread::new(colour.clone());
        let owned = state.cards_of(colour).next();
        let owned = owned.map_or("not owned".to_owned(), |kept| {
            let put_up = state.put_up(&kept.card);
            format!("owned: {}", text::thread::by_lot(&kept.thread, put_up))
        });
        let scarce = text::thread::scarcity(state, colour);
        output.line(format!(
            "  {skeins} of {colour}  {name}   {owned}{scarce}",
            skeins = text::thread::skeins(*skeins),
            colour = text::thread::colour(state, colour),
            name = state.thread_name(&thread),
            scarce = scarce.map_or_else(String::new, |words| format!("   {words}"))
        ))?;
    }
    if wanted.is_empty() {
        output.line("The want list is empty.")?;
    }
    Ok(())
}
