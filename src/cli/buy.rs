//! `homehook buy` and `homehook bought`.

use std::path::Path;

use jiff::Timestamp;
use serde::Serialize;
use serde_json::{Value, json};

use super::advice::with_advice;
use super::failure::Failure;
use super::need::{asked_for, project_name};
use super::output::Output;
use super::{change, export, open};
use crate::exchange::export::AmountOut;
use crate::exchange::export::CardOut;
use crate::exchange::file::Put;
use crate::exchange::{BuyRow, buy_rows, write_buy_csv};
use crate::model::ids::CardId;
use crate::model::thread::ThreadPart;
use crate::stash::change::{Amount, Change};
use crate::stash::command::{buy, rehang};
use crate::stash::kit::buy::{Purchase, buy_list};
use crate::stash::kit::check::check;
use crate::stash::state::State;
use crate::text;
use crate::text::list;

#[derive(Serialize)]
struct WhyOut {
    project: String,
    /// `null` where the key does not say how much is needed.
    short: Option<AmountOut>,
    used: AmountOut,
    /// `null` likewise.
    still_needed: Option<AmountOut>,
}

#[derive(Serialize)]
struct PurchaseOut {
    range: String,
    number: String,
    name: String,
    hex: Option<String>,
    skeins: u32,
    owned: bool,
    why: Vec<WhyOut>,
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
        Self {
            range: BuyRow::of(state, purchase).range,
            number: purchase.number.to_string(),
            name: purchase.name.clone(),
            hex: purchase.colour.map(|colour| colour.to_string()),
            skeins: purchase.skeins,
            owned: purchase.card.is_some(),
            why: why.collect(),
        }
    }
}

/// Lists what is to be bought for the projects named, or for those in use.
pub fn run(
    projects: &[String],
    csv: Option<&Path>,
    force: bool,
    dir: &Path,
    output: &mut Output,
) -> Result<(), Failure> {
    let reading = open::reading(dir, output)?;
    let state = reading.state();
    let rings = asked_for(state, projects, output)?;
    let purchases = buy_list(state, &check(state, &rings));
    let to_screen = csv.is_some_and(|file| file.as_os_str() == "-");
    if let Some(file) = csv.filter(|_| !(to_screen && output.is_json())) {
        let list = write_buy_csv(&buy_rows(state, &purchases));
        let put = export::write(file, &list, force, dir, output)?;
        if put == Put::UpToDate {
            output.note(format!(
                "{file} is up to date already",
                file = file.display()
            ));
        }
        if to_screen {
            return Ok(());
        }
    }
    let skeins = purchases
        .iter()
        .map(|purchase| purchase.skeins)
        .sum::<u32>();
    if output.is_json() {
        let names: Vec<&str> = rings.iter().map(|ring| ring.project.as_str()).collect();
        let buy = purchases.iter().map(|p| PurchaseOut::of(state, p));
        output.object(&json!({
            "projects": names,
            "skeins": skeins,
            "buy": buy.collect::<Vec<_>>(),
            "file": csv.map(|file| file.to_string_lossy()),
        }))?;
        return Ok(());
    }
    let names = list(rings.iter().map(|ring| format!("'{}'", ring.project)));
    if purchases.is_empty() {
        output.line(format!("Nothing is to be bought for {names}."))?;
        return Ok(());
    }
    output.line(format!(
        "To buy for {names}: {skeins}.",
        skeins = text::thread::skeins(skeins)
    ))?;
    for purchase in &purchases {
        output.line(format!(
            "  {skeins} of {range} {number}  {name}   {fresh}{why}",
            skeins = text::thread::skeins(purchase.skeins),
            range = BuyRow::of(state, purchase).range,
            number = purchase.number,
            name = purchase.name,
            fresh = if purchase.card.is_some() { "" } else { "new; " },
            why = BuyRow::of(state, purchase).why
        ))?;
    }
    let asked: String = projects.iter().map(|p| format!(" \"{p}\"")).collect();
    output.line(format!("When they are home: homehook bought{asked}"))?;
    Ok(())
}

/// Brings skeins home, and proposes a re-hang for those that are new.
pub fn bought(words: &[String], dir: &Path, output: &mut Output) -> Result<(), Failure> {
    let changed = change::make(dir, output, |state, now: Timestamp| {
        buy::bought(state, &buy::meant(state, words)?, now)
    })?;
    let (state, done) = (changed.state(), changed.words());
    let replaced = buy::replaced(&changed.event);
    // Each card once, whether it is new, and the skeins that came to lie beside it.
    let mut cards: Vec<(CardId, bool, u32)> = Vec::new();
    for change in &changed.event.changes {
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
    let touched = || {
        let cards = cards.iter();
        cards.filter_map(|&(card, is_new, came)| Some((is_new, came, state.card(card)?)))
    };
    if output.is_json() {
        let cards: Vec<CardOut> = touched()
            .map(|(_, _, kept)| CardOut::of(state, kept))
            .collect();
        output.object(&json!({
            "done": done,
            "event": changed.seq,
            "cards": cards,
            "rehang": proposal_json(state),
        }))?;
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
        output.line(format_args!(
            "  {}  {}: {what}",
            state.card_name(kept),
            kept.card.name
        ))?;
    }
    output.line(proposal(state))?;
    Ok(())
}

/// The uncut skeins that an amount of thread is more by.
fn uncut(part: ThreadPart, amount: Amount) -> u32 {
    let more = match (part, amount) {
        (ThreadPart::Skeins, Amount::Add { by }) => u64::try_from(by).unwrap_or(0),
        (ThreadPart::Skeins, Amount::Set { before, after }) => after.saturating_sub(before),
        _ => 0,
    };
    u32::try_from(more).unwrap_or(u32::MAX)
}

fn proposal_json(state: &State) -> Value {
    let plans = rehang::plans(state);
    match plans.as_ref().map(|plans| plans.first()) {
        Ok(Some(plan)) => json!({
            "plan": 1,
            "touched": plan.touched,
            "relabel": plan.relabel,
            "newly_hung": plan.newly_hung,
        }),
        _ => Value::Null,
    }
}

/// The first plan of a re-hang, and the command that does it.
fn proposal(state: &State) -> String {
    let plans = match rehang::plans(state) {
        Ok(plans) => plans,
        Err(why) => return format!("No re-hang can be proposed: {}.", with_advice(&why)),
    };
    match plans.first() {
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
