//! How a thread of a checked key stands, in words.

use super::check::{Availability, ThreadLine};
use super::share::Source;
use super::substitute::Substitute;
use super::words::{amount_in_words, skeins_in_words};
use crate::model::ids::CardId;
use crate::model::thread::Strands;
use crate::stash::names::list;
use crate::stash::state::State;
use crate::text::one_or_many;

/// How a thread of a key stands, and where its thread is: `enough: at home on hook C07`.
#[must_use]
pub fn standing_in_words(state: &State, line: &ThreadLine<'_>) -> String {
    let mut text = alone_in_words(state, line);
    if !line.standing.is_enough() && !line.others.is_empty() {
        let others = line.others.iter().map(|&(ring, amount)| {
            format!(
                "'{}' {}",
                state.ring(ring).map_or("", |ring| ring.project.as_str()),
                amount_in_words(amount, line.put_up)
            )
        });
        text.push_str(&format!(
            " (promised elsewhere: {list})",
            list = list(others)
        ));
    }
    text
}

/// The same, without what other projects were promised.
fn alone_in_words(state: &State, line: &ThreadLine<'_>) -> String {
    let place = |card: CardId| {
        state
            .card(card)
            .map_or_else(String::new, |kept| state.place_in_words(kept))
    };
    let put_up = |card: CardId| {
        let kept = state.card(card);
        kept.map_or(line.put_up, |kept| state.put_up(&kept.card))
    };
    let from = |is: fn(Source) -> bool| {
        let promises = line.promises.iter().filter(move |p| is(p.source));
        list(promises.map(|p| {
            format!(
                "{} {}",
                amount_in_words(p.strands, put_up(p.card)),
                place(p.card)
            )
        }))
    };
    let cards = || {
        let cards = state.cards_of(line.thread.stitched());
        list(cards.map(|kept| state.place_in_words(kept)))
    };
    match line.standing {
        Availability::Done => "enough: all it needs is used".to_owned(),
        Availability::OnRing => "enough: on its ring".to_owned(),
        Availability::Home => {
            let here = line.promises.iter().filter(|p| p.source == Source::Here);
            let mut text = format!("enough: {list}", list = list(here.map(|p| place(p.card))));
            if line.promises.iter().any(|p| p.source == Source::OwnRing) {
                text.push_str(", and some on its ring");
            }
            text
        }
        Availability::Split => {
            let keyless = line
                .promises
                .iter()
                .filter_map(|promise| match promise.source {
                    Source::OtherRing(ring) => state.ring(ring).filter(|ring| ring.key.is_empty()),
                    _ => None,
                });
            let names = list(keyless.map(|ring| format!("'{}'", ring.project)));
            let unknown = if names.is_empty() {
                names
            } else {
                format!(" (what {names} needs is not known: no key)")
            };
            let where_from = from(|source| matches!(source, Source::OtherRing(_)));
            format!("enough, to split off: {where_from}{unknown}")
        }
        Availability::Short => {
            let there = from(|source| source != Source::Uncut);
            let there = if there.is_empty() {
                String::new()
            } else {
                format!(" (has {there})")
            };
            format!(
                "short by {amount}{there}{rest}",
                amount = amount_in_words(line.short, line.put_up),
                rest = rest(line)
            )
        }
        Availability::Uncounted => format!("owned: {cards}", cards = cards()),
        Availability::Lost => format!("{}{}", cards(), rest(line)),
        Availability::NotOwned => "missing, not owned".to_owned(),
    }
}

/// What uncut skeins do about a shortage.
fn rest(line: &ThreadLine<'_>) -> String {
    let skeins = skeins_in_words(line.uncut_skeins);
    let covers = one_or_many(line.uncut_skeins, "covers", "cover");
    match (line.uncut_skeins, line.lacking) {
        (0, _) => String::new(),
        (_, Strands(0)) => format!("; {skeins} uncut {covers} it"),
        (_, lacking) => format!(
            "; {amount} after {skeins} uncut",
            amount = amount_in_words(lacking, line.put_up)
        ),
    }
}

/// A colour that could stand in: how far it looks, how much of it is free, and where it is.
#[must_use]
pub fn substitute_in_words(state: &State, found: &Substitute) -> String {
    let Some(kept) = state.card(found.card) else {
        return String::new();
    };
    let enough = match found.enough {
        Some(true) => ", enough",
        Some(false) => ", not enough",
        None => "",
    };
    let warning = if found.is_far() {
        "   plainly another colour"
    } else {
        ""
    };
    format!(
        "could stand in: {card}  {name}   differs by {difference:.1}   {amount} free{enough}, \
         {place}{warning}",
        card = state.card_name(kept),
        name = kept.card.name,
        difference = found.difference,
        amount = amount_in_words(found.free, state.put_up(&kept.card)),
        place = state.place_in_words(kept)
    )
}
