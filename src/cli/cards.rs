//! `homehook hang`, `hold`, `release`, `effort` and `remove`.

use std::path::Path;

use clap::Args;
use jiff::Timestamp;
use serde::Serialize;

use super::failure::Failure;
use super::output::{DRY_RUN, Output};
use super::values::whole;
use super::{change, open};
use crate::exchange::export::{CardOut, CardRef};
use crate::model::card::{Effort, MoveCost};
use crate::model::ids::CardId;
use crate::stash::command::hang::{Hanging, Wall};
use crate::stash::command::{card, hold};
use crate::stash::event::Event;
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};
use crate::text;
use crate::text::export;

/// Which card, and where.
#[derive(Debug, Args)]
pub(crate) struct HangArgs {
    /// NUMBER or RANGE:NUMBER.
    pub card: String,
    /// The hook, such as C03.
    pub hook: String,
    /// Show what would change, and change nothing.
    #[arg(long)]
    pub dry_run: bool,
}

/// A card on a hook of one's choice.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct Hung {
    /// All there is to know, in sentences.
    done: String,
    /// The number of the event in the record; `null` after `--dry-run`.
    event: Option<u64>,
    /// The card.
    card: CardRef,
    /// The hook it belonged on.
    from: Option<String>,
    /// The hook it belongs on now.
    to: String,
    /// Whether the card itself is hung; false where it is away and only its home changes.
    hangs: bool,
    /// Whether the wall stays in order.
    keeps_order: bool,
    /// The other cards that belong on that hook.
    with: Vec<CardRef>,
    /// The nearest cards before and after that hook.
    between: Sides,
    /// The cards that the wanted order has it between.
    belongs: Sides,
    /// What else there is to know, in sentences without a full stop.
    warnings: Vec<String>,
}

/// The cards on both sides.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct Sides {
    /// The card that comes before; the hung one is after it.
    after: Option<CardRef>,
    /// The card that comes next; the hung one is before it.
    before: Option<CardRef>,
}

/// Looks up the request in the current stash.
fn asked<'a>(state: &'a State, args: &HangArgs) -> Result<Hanging<'a>, Refusal> {
    let wall = Wall::new(state, state.find_card(&args.card)?)?;
    wall.at(state.find_hook(&args.hook)?)
}

/// Hangs a card on a hook, or previews that.
pub(crate) fn hang(args: &HangArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    if args.dry_run {
        let reading = open::reading(dir, output)?;
        let state = reading.state();
        let (mut words, hung) = told(state, &asked(state, args)?);
        words.push(DRY_RUN.to_owned());
        return tell(&words, hung, output);
    }
    let ask = |state: &State, now: Timestamp| {
        let hanging = asked(state, args)?;
        Ok((hanging.event(now)?, told(state, &hanging)))
    };
    let (writing, now, (event, (words, mut hung))) = change::ask(dir, output, ask)?;
    let (_, seq) = writing.commit(now, &event, output)?;
    hung.event = Some(seq);
    tell(&words, hung, output)
}

/// The preview, in sentences and as JSON.
fn told(state: &State, hanging: &Hanging<'_>) -> (Vec<String>, Hung) {
    let card = |kept: &CardState| CardRef::of(state, kept);
    let sides = |(after, before): (Option<&CardState>, Option<&CardState>)| Sides {
        after: after.map(card),
        before: before.map(card),
    };
    let hung = Hung {
        done: String::new(),
        event: None,
        card: card(hanging.kept),
        from: hanging.kept.home.map(|hook| state.hook_name(hook)),
        to: state.hook_name(hanging.hook),
        hangs: hanging.is_moved(),
        keeps_order: hanging.keeps_order,
        with: hanging.beside.iter().map(|kept| card(kept)).collect(),
        between: sides((hanging.before, hanging.after)),
        belongs: sides(hanging.belongs),
        warnings: text::rehang::hanging_warnings(hanging),
    };
    (text::rehang::hanging(hanging), hung)
}

fn tell(words: &[String], mut hung: Hung, output: &mut Output) -> Result<(), Failure> {
    if output.is_json() {
        hung.done = words.join(" ");
        output.object(&hung)?;
        return Ok(());
    }
    for sentence in words {
        output.line(sentence)?;
    }
    Ok(())
}

/// What re-hangs leave alone.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct HoldList<'a> {
    /// The held cards, in the order of the board.
    held: Vec<HeldOut>,
    /// The names of families that are held as a whole.
    families: Vec<&'a str>,
    /// The cards that count as more than a plain one, in the order of the board.
    with_effort: Vec<HeldOut>,
    /// The reserved hooks, in reading order.
    reserved: Vec<String>,
}

/// A card that costs something to move.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct HeldOut {
    /// The card.
    card: CardRef,
    /// The hook it belongs on.
    home: Option<String>,
    /// How many plain cards touching it counts as.
    effort: u16,
}

/// What to hold.
#[derive(Debug, Args)]
pub(crate) struct HoldArgs {
    /// NUMBER or RANGE:NUMBER.
    #[arg(value_name = "CARD", conflicts_with = "families")]
    pub cards: Vec<String>,
    /// Whole families: every card with a home stays there.
    #[arg(long = "family", value_name = "NAME", num_args = 1..)]
    pub families: Vec<String>,
    /// List held cards, costly cards and reserved hooks.
    #[arg(long, conflicts_with_all = ["cards", "families"])]
    pub list: bool,
}

/// What to release.
#[derive(Debug, Args)]
#[group(required = true, multiple = false)]
pub(crate) struct ReleaseArgs {
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
pub(crate) struct EffortArgs {
    /// NUMBER or RANGE:NUMBER.
    #[arg(required = true, value_name = "CARD")]
    pub cards: Vec<String>,
    /// How many plain cards each counts as, 1 to 1000; 1 makes it plain again.
    #[arg(long = "as", value_name = "N", value_parser = whole(0..=u16::MAX))]
    pub effort: u16,
}

/// Holds cards or families, or lists the held ones.
pub(crate) fn hold(args: &HoldArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    if !args.families.is_empty() {
        return change(dir, output, |state| {
            hold::hold_families(state, &args.families)
        });
    }
    if args.cards.is_empty() {
        let reading = open::reading(dir, output)?;
        return list(reading.state(), output);
    }
    change(dir, output, |state| {
        hold::hold(state, &state.find_cards(&args.cards)?)
    })
}

/// Lets cards or families move again.
pub(crate) fn release(args: &ReleaseArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    if args.all {
        return change(dir, output, hold::release_all);
    }
    if !args.families.is_empty() {
        return change(dir, output, |state| {
            hold::release_families(state, &args.families)
        });
    }
    change(dir, output, |state| {
        hold::release(state, &state.find_cards(&args.cards)?)
    })
}

/// Sets the effort of moving cards.
pub(crate) fn effort(args: &EffortArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    change(dir, output, |state| {
        let effort = match args.effort {
            1 => None,
            effort => Some(Effort::new(effort)?),
        };
        hold::effort(state, &state.find_cards(&args.cards)?, effort)
    })
}

fn change(
    dir: &Path,
    output: &mut Output,
    ask: impl Fn(&State) -> Result<Event, Refusal>,
) -> Result<(), Failure> {
    change::make_and_tell(dir, output, |state, _| ask(state), |_| change::Nothing {})
}

fn list(state: &State, output: &mut Output) -> Result<(), Failure> {
    let with = |touch: &dyn Fn(MoveCost) -> bool| {
        let cards = state.cards().filter(|kept| touch(kept.card.touch));
        state.in_board_order(cards)
    };
    let held = with(&|touch| touch == MoveCost::Held);
    let costly = with(&|touch| matches!(touch, MoveCost::Costly(_)));
    let families: Vec<&str> = state
        .families()
        .iter()
        .filter(|family| family.held)
        .map(|family| family.name.as_str())
        .collect();
    let reserved: Vec<String> = state
        .hooks()
        .filter(|&hook| state.board(hook.board).is_some_and(|b| b.reserved(hook)))
        .map(|hook| state.hook_name(hook))
        .collect();
    if output.is_json() {
        let card = |kept: &&CardState| HeldOut {
            card: CardRef::of(state, kept),
            home: kept.home.map(|hook| state.hook_name(hook)),
            effort: kept.card.touch.effort(),
        };
        output.object(&HoldList {
            held: held.iter().map(card).collect(),
            families,
            with_effort: costly.iter().map(card).collect(),
            reserved,
        })?;
        return Ok(());
    }
    for kept in &held {
        let home = kept.home.map_or_else(
            || "held, without a home now".to_owned(),
            |hook| format!("held on {hook}", hook = state.hook_name(hook)),
        );
        output.line(format_args!("{}: {home}", state.card_name(kept)))?;
    }
    for family in &families {
        output.line(format!("{family}: the whole family is held"))?;
    }
    for kept in &costly {
        let effort = kept.card.touch.effort();
        output.line(format!(
            "{card}: counts as {effort} cards",
            card = state.card_name(kept)
        ))?;
    }
    for hook_name in &reserved {
        output.line(format!("{hook_name}: reserved"))?;
    }
    if held.is_empty() && families.is_empty() && costly.is_empty() && reserved.is_empty() {
        output.line("Nothing is held, costly or reserved.")?;
    }
    Ok(())
}

/// Which cards, and why.
#[derive(Debug, Args)]
pub(crate) struct RemoveArgs {
    /// NUMBER, RANGE:NUMBER, or NUMBER@PROJECT for a split card.
    #[arg(required = true, value_name = "CARD")]
    pub cards: Vec<String>,
    /// The reason, such as "given to a friend" or moths.
    #[arg(long, value_name = "TEXT", default_value = "")]
    pub why: String,
}

/// What was removed.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct Removed {
    /// What was done, as a sentence without its full stop.
    done: String,
    /// The number of the event in the record.
    event: u64,
    /// The cards as they were before.
    cards: Vec<CardOut>,
}

fn removal(state: &State, args: &RemoveArgs) -> Result<(Vec<CardId>, Event), Refusal> {
    let cards = state.find_cards(&args.cards)?;
    let event = card::remove(state, &cards, &args.why)?;
    Ok((cards, event))
}

/// Removes cards from the stash, and shows their thread and places.
pub(crate) fn remove(args: &RemoveArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    let ask = |state: &State, _| removal(state, args);
    let (writing, now, (cards, event)) = change::ask(dir, output, ask)?;
    let state = writing.state();
    let done = text::history::act(state, &event.act);
    let going = || cards.iter().filter_map(|&card| state.card(card));
    let lines: Vec<String> = going()
        .map(|kept| {
            format!(
                "  {card}  {name}: {amount} on it{skeins}; it was {place}",
                card = state.card_name(kept),
                name = kept.card.name,
                amount = text::thread::amount(kept.strands(), state.put_up(&kept.card)),
                skeins = text::thread::and_skeins(kept.skeins()),
                place = text::places::place_of(state, kept)
            )
        })
        .collect();
    let cards: Vec<CardOut> = going()
        .map(|kept| CardOut::of(export(state), kept))
        .collect();
    let (_, event) = writing.commit(now, &event, output)?;
    if output.is_json() {
        output.object(&Removed { done, event, cards })?;
        return Ok(());
    }
    output.line(format_args!("{done}."))?;
    for line in lines {
        output.line(line)?;
    }
    Ok(())
}
