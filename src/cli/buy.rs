//! `homehook buy` and `homehook bought`.

use std::borrow::Cow;
use std::path::Path;

use jiff::Timestamp;
use serde::Serialize;

use super::failure::Failure;
use super::failure::with_advice;
use super::need::{asked_for, project_name};
use super::output::Output;
use super::{change, export, open};
use crate::exchange::export::{AmountOut, CardOut, CardRef};
use crate::exchange::file::Put;
use crate::exchange::write_buy_csv;
use crate::model::ids::CardId;
use crate::model::label::Label;
use crate::model::thread::{Lot, ThreadPart};
use crate::stash::colours::{Lookalike, lookalikes, shade};
use crate::stash::command::{buy, rehang};
use crate::stash::event::{AmountChange, Change, Event};
use crate::stash::projects::buy_list::{Purchase, add_wanted, buy_list};
use crate::stash::projects::kit::check;
use crate::stash::state::State;
use crate::text;
use crate::text::export;
use crate::text::list;
use crate::text::print::{buy_row, buy_rows};

/// What to buy.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct BuyList<'a> {
    /// The projects it is for.
    projects: Vec<&'a str>,
    /// Skeins in all.
    skeins: u32,
    /// What to buy.
    buy: Vec<PurchaseOut>,
    /// The file the list was written to; `null` where none was named.
    file: Option<Cow<'a, str>>,
}

/// A colour to buy.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct PurchaseOut {
    /// The range's name.
    range: String,
    /// The number.
    number: String,
    /// The colour's name; may be empty.
    name: String,
    /// The colour, `#RRGGBB`.
    #[cfg_attr(test, schemars(with = "Option<crate::model::schema::Hex>"))]
    hex: Option<String>,
    /// How many skeins.
    skeins: u32,
    /// Skeins on the want list, which are among them.
    wanted: u32,
    /// The dye lots to ask for: projects have thread of them already.
    lots: Vec<String>,
    /// Whether the maker no longer makes it.
    discontinued: bool,
    /// Whether a card of the colour is there already.
    owned: bool,
    /// Whether missing cards of it hold all that is lacking: they are to be looked for before anything is bought.
    missing: bool,
    /// The cards that match it by the conversion list and have thread to spare: they could be used instead.
    matches: Vec<CardRef>,
    /// Which projects it is for.
    why: Vec<WhyOut>,
}

/// Why a colour is bought.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct WhyOut {
    /// The project.
    project: String,
    /// What it lacks; `null` where the key does not say how much is needed.
    short: Option<AmountOut>,
    /// What was used of it.
    used: AmountOut,
    /// What is still needed; `null` where the key does not say.
    still_needed: Option<AmountOut>,
}

/// What was bought.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct Bought {
    /// What was done, as a sentence without its full stop.
    done: String,
    /// The number of the event in the record.
    event: u64,
    /// The cards that are new or have more uncut skeins.
    cards: Vec<CardOut>,
    /// The re-hang that would hang what is new; `null` where there is no plan.
    rehang: Option<Proposal>,
}

/// What a re-hang would do.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct Proposal {
    /// The plan's number, for `rehang --apply`.
    plan: usize,
    /// Cards on the wall that change their hook.
    touched: usize,
    /// Cards that are away and whose label changes.
    relabel: usize,
    /// Cards that get a home for the first time.
    newly_hung: usize,
}

impl PurchaseOut {
    fn of(state: &State, purchase: &Purchase) -> Self {
        let amount = |strands| AmountOut::of(strands, purchase.put_up);
        let why = purchase.why.iter().map(|why| WhyOut {
            project: project_name(state, why.ring),
            short: why.short.map(amount),
            used: amount(why.used),
            still_needed: why.still_needed.map(amount),
        });
        let matches = purchase.matches.iter().filter_map(|&id| state.card(id));
        let matches = matches.map(|kept| CardRef::of(state, kept));
        Self {
            range: buy_row(state, purchase).range,
            number: purchase.number.to_string(),
            name: purchase.name.clone(),
            hex: purchase.colour.map(|colour| colour.to_string()),
            skeins: purchase.skeins,
            wanted: purchase.wanted,
            lots: purchase.lots.iter().map(Lot::to_string).collect(),
            discontinued: state.is_discontinued(&purchase.of()),
            owned: purchase.card.is_some(),
            missing: purchase.missing,
            matches: matches.collect(),
            why: why.collect(),
        }
    }
}

/// Lists the skeins to buy for the given projects, or for those in use.
pub(crate) fn run(
    projects: &[String],
    csv: Option<&Path>,
    force: bool,
    dir: &Path,
    output: &mut Output,
) -> Result<(), Failure> {
    let reading = open::reading(dir, output)?;
    let state = reading.state();
    let wants = projects.is_empty() && state.want_list().next().is_some();
    let rings = match asked_for(state, projects, output) {
        Err(_) if wants => Vec::new(),
        rings => rings?,
    };
    let mut purchases = buy_list(state, &check(state, &rings));
    if wants {
        add_wanted(state, &mut purchases);
    }
    let to_screen = csv.is_some_and(|file| file.as_os_str() == "-");
    if let Some(file) = csv.filter(|_| !(to_screen && output.is_json())) {
        let list = write_buy_csv(&buy_rows(state, &purchases));
        let put = export::write(file, &list, force, dir, output)?;
        if put == Put::UpToDate {
            output.note(
                "up_to_date",
                format!("{file} is up to date already", file = file.display()),
            );
        }
        if to_screen {
            return Ok(());
        }
    }
    let skeins = purchases.iter().map(|purchase| purchase.skeins).sum();
    if output.is_json() {
        let buy = purchases.iter().map(|p| PurchaseOut::of(state, p));
        output.object(&BuyList {
            projects: rings.iter().map(|ring| ring.project.as_str()).collect(),
            skeins,
            buy: buy.collect(),
            file: csv.map(Path::to_string_lossy),
        })?;
        return Ok(());
    }
    let names = rings.iter().map(|ring| format!("'{}'", ring.project));
    let names = list(names.chain(wants.then(|| "the want list".to_owned())));
    if purchases.is_empty() {
        output.line(format!("Nothing to buy for {names}."))?;
        return Ok(());
    }
    output.line(format!(
        "To buy for {names}: {skeins}.",
        skeins = text::thread::skeins(skeins)
    ))?;
    tell_purchases(state, &purchases, output)?;
    let asked: String = projects.iter().map(|p| format!(" \"{p}\"")).collect();
    output.line(format!("When they are home: homehook bought{asked}"))?;
    Ok(())
}

/// Writes a line for each colour: how much to buy, or that its card is missing.
fn tell_purchases(
    state: &State,
    purchases: &[Purchase],
    output: &mut Output,
) -> Result<(), Failure> {
    for purchase in purchases {
        if purchase.missing {
            output.line(format!(
                "  Look for {range} {number}  {name}   its card is missing; {why}",
                range = buy_row(state, purchase).range,
                number = purchase.number,
                name = purchase.name,
                why = buy_row(state, purchase).why
            ))?;
            continue;
        }
        output.line(format!(
            "  {skeins} of {range} {number}  {name}   {fresh}{why}",
            skeins = text::thread::skeins(purchase.skeins),
            range = buy_row(state, purchase).range,
            number = purchase.number,
            name = purchase.name,
            fresh = if purchase.card.is_some() { "" } else { "new; " },
            why = buy_row(state, purchase).why
        ))?;
    }
    Ok(())
}

/// Records bought skeins, and proposes a re-hang for new cards.
pub(crate) fn bought(
    words: &[String],
    lot: Option<&str>,
    dir: &Path,
    output: &mut Output,
) -> Result<(), Failure> {
    let changed = change::make(dir, output, |state, now: Timestamp| {
        let mut skeins = buy::meant(state, words)?;
        if let Some(lot) = lot {
            let lot = Lot(Label::new(lot)?);
            for of in skeins.iter_mut().filter(|of| of.lot.is_unknown()) {
                of.lot = lot.clone();
            }
        }
        buy::bought(state, &skeins, now)
    })?;
    let (state, done) = (changed.state(), changed.words());
    let similar = lookalikes(state, &changed.event);
    for of in &similar {
        let words = text::lookalike(of);
        output.note("similar_number", format!("{words} If so: homehook undo"));
    }
    for card in unlisted(state, &changed.event, &similar) {
        output.note(
            "new_number",
            format!(
                "{card} is a new card, and no list has that colour. If it's a slip: homehook undo"
            ),
        );
    }
    let replaced = buy::replaced(&changed.event);
    let cards = brought_home(&changed.event);
    let touched = || {
        let cards = cards.iter();
        cards.filter_map(|&(card, is_new, came)| Some((is_new, came, state.card(card)?)))
    };
    if output.is_json() {
        let cards = touched().map(|(_, _, kept)| CardOut::of(export(state), kept));
        output.object(&Bought {
            done,
            event: changed.seq,
            cards: cards.collect(),
            rehang: Proposal::of(state),
        })?;
        return Ok(());
    }
    output.line(format_args!("{done}."))?;
    for (is_new, uncut, kept) in touched() {
        let what = match (is_new, uncut) {
            (false, uncut) if replaced.contains(&kept.card.id) => {
                let new = text::thread::replaced(state, kept);
                match uncut {
                    0 => new,
                    uncut => format!(
                        "{new}; {skeins} uncut",
                        skeins = text::thread::skeins(uncut)
                    ),
                }
            }
            (false, uncut) => format!("{skeins} uncut", skeins = text::thread::skeins(uncut)),
            (true, 0) => "1 skein cut onto a new card".to_owned(),
            (true, uncut) => format!(
                "1 skein cut onto a new card, {skeins} uncut",
                skeins = text::thread::skeins(uncut)
            ),
        };
        output.line(format!(
            "  {card}: {what}; now {thread}",
            card = text::places::card_and_colour(state, kept),
            thread = text::thread::by_lot(&kept.thread, state.put_up(&kept.card))
        ))?;
    }
    output.line(proposal(state))?;
    Ok(())
}

/// The new cards of colours that their range's list doesn't have, except those that read like others.
fn unlisted(state: &State, event: &Event, similar: &[Lookalike]) -> Vec<String> {
    let new = event.changes.iter().filter_map(|change| match change {
        Change::Card {
            before: None,
            after: Some(card),
        } => state.card(card.id),
        _ => None,
    });
    let unlisted = new.filter(|kept| {
        let range = state.range(kept.card.range);
        similar.iter().all(|of| of.new != kept.card.number)
            && range.is_none_or(|range| shade(range, &kept.card.number).is_none())
    });
    unlisted.map(|kept| state.card_name(kept)).collect()
}

/// The cards changed by a purchase, each once: whether it is new, and its additional uncut skeins.
fn brought_home(event: &Event) -> Vec<(CardId, bool, u32)> {
    let mut cards: Vec<(CardId, bool, u32)> = Vec::new();
    for change in &event.changes {
        let (card, is_new, came) = match change {
            Change::Card { before, after } => {
                let Some(after) = after else { continue };
                (after.id, before.is_none(), 0)
            }
            Change::Thread {
                card, part, amount, ..
            } => (*card, false, uncut(*part, *amount)),
            Change::Place { card, .. } => (*card, false, 0),
            _ => continue,
        };
        match cards.iter_mut().find(|(known, ..)| *known == card) {
            Some((_, _, sum)) => *sum = sum.saturating_add(came),
            None => cards.push((card, is_new, came)),
        }
    }
    cards
}

/// The number of uncut skeins that an amount grows by.
fn uncut(part: ThreadPart, amount: AmountChange) -> u32 {
    let more = match (part, amount) {
        (ThreadPart::Skeins, AmountChange::Add { by }) => u64::try_from(by).unwrap_or(0),
        (ThreadPart::Skeins, AmountChange::Set { before, after }) => after.saturating_sub(before),
        _ => 0,
    };
    u32::try_from(more).unwrap_or(u32::MAX)
}

impl Proposal {
    /// The plan with the least effort that restores the order, if there is one.
    fn of(state: &State) -> Option<Self> {
        let plans = rehang::plans(state).ok()?;
        plans.get(1).map(|plan| Self {
            plan: plan.number,
            touched: plan.touched,
            relabel: plan.relabel,
            newly_hung: plan.newly_hung,
        })
    }
}

/// Plan 1 of a re-hang, and the command that applies it.
fn proposal(state: &State) -> String {
    let plans = match rehang::plans(state) {
        Ok(plans) => plans,
        Err(why) => return format!("No re-hang can be proposed. {}", with_advice(&why)),
    };
    match plans.get(1) {
        Some(plan) if !plan.steps.is_empty() => format!(
            "A re-hang would newly hang {newly_hung}, move {touched} on the wall and rewrite \
         {relabel} that are away. To see the steps: homehook rehang. To do it: homehook \
         rehang --apply 1",
            newly_hung = plan.newly_hung,
            touched = plan.touched,
            relabel = plan.relabel
        ),
        _ => "Every card has a home, so no re-hang is needed.".to_owned(),
    }
}
