//! Thread: amounts, what a key needs, what there is of it, what runs low.

use std::collections::BTreeMap;

use super::places::place_of;
use super::{list, one_or_many};
use crate::model::assumptions::{Assumptions, Way};
use crate::model::ids::CardId;
use crate::model::range::PutUp;
use crate::model::ring::{ColourRef, KeyLine, KeyThread, NotionKind};
use crate::model::thread::Strands;
use crate::stash::command::import::AmountSaid;
use crate::stash::command::key::{Keyed, NotOwned};
use crate::stash::projects::kit::{Availability, ThreadLine, hanging_with_key};
use crate::stash::projects::low::LowLine;
use crate::stash::projects::supply::{Source, Substitute};
use crate::stash::state::{CardState, State};

/// Everything that is assumed, in one line.
#[must_use]
pub(crate) fn assumptions(assumed: &Assumptions) -> String {
    let threads = |n: u8| one_or_many(n, "thread", "threads");
    let way = match assumed.way {
        Way::ThereAndBack => "rows there and back",
        Way::OneByOne => "crosses one by one",
    };
    format!(
        "{count} count over {over} {threads}, {strands} in the needle, {strands2} for \
         backstitch, {way}; working threads up to {working_cm} cm ({inches} in), of which {tenths} cm lost \
         at start and finish; {tenths2} mm of fabric at each pass; {knot_mm} mm in a French \
         knot; {margin_percent} percent more for safety",
        count = assumed.count,
        over = assumed.over,
        threads = threads(assumed.over),
        strands = strands_of(assumed.strands),
        strands2 = strands_of(assumed.backstitch_strands),
        working_cm = assumed.working_cm,
        // The nearest whole inch of 2.54 cm.
        inches = (u32::from(assumed.working_cm) * 100 + 127) / 254,
        tenths = tenths(assumed.waste_mm),
        tenths2 = tenths(assumed.fabric_tenth_mm),
        knot_mm = assumed.knot_mm,
        margin_percent = assumed.margin_percent
    )
}

fn strands_of(n: u8) -> String {
    format!("{n} {}", one_or_many(n, "strand", "strands"))
}

/// A number of tenths: `75` is `7.5`, `100` is `10`.
fn tenths(n: u16) -> String {
    match n % 10 {
        0 => (n / 10).to_string(),
        part => format!("{}.{part}", n / 10),
    }
}

/// Uncut skeins that go with a card: ` and 2 uncut skeins`; nothing for none.
#[must_use]
pub(crate) fn and_skeins(skeins: u32) -> String {
    match skeins {
        0 => String::new(),
        n => format!(
            " and {n} uncut {skeins}",
            skeins = one_or_many(n, "skein", "skeins")
        ),
    }
}

/// An amount in lengths and loose strands: `5 lengths`, `1 length 2 strands`, `3 strands`.
#[must_use]
pub(crate) fn amount(amount: Strands, put_up: PutUp) -> String {
    lengths_and_strands(put_up.lengths(amount), put_up.loose(amount))
}

/// The thread of a card before and after a list: `2 lengths 3 strands`, with uncut skeins where those change. `None`
/// where the card is gone.
#[must_use]
pub(crate) fn before_and_after(state: &State, of: &AmountSaid) -> Option<(String, String)> {
    let put_up = state.put_up(&state.card(of.card)?.card);
    let said = |strands: Strands, skeins: u32| match (of.strands == of.strands_after, skeins) {
        _ if of.skeins == of.skeins_after => amount(strands, put_up),
        (true, 1) => "1 uncut skein".to_owned(),
        (true, n) => format!("{n} uncut skeins"),
        (false, n) => format!("{} and {n} uncut", amount(strands, put_up)),
    };
    Some((
        said(of.strands, of.skeins),
        said(of.strands_after, of.skeins_after),
    ))
}

/// A change from one amount to another: `8 -> 16 lengths`, with the unit once where both have the same alone.
#[must_use]
pub(crate) fn change(before: &str, after: &str) -> String {
    let unit = |amount: &str| -> Option<&'static str> {
        let (count, unit) = amount.split_once(' ')?;
        let units = [("length", "lengths"), ("strand", "strands")];
        let known = units
            .iter()
            .find(|(one, many)| unit == *one || unit == *many);
        known
            .map(|(_, many)| *many)
            .filter(|_| count.parse::<u32>().is_ok())
    };
    match (unit(before), before.split_once(' ')) {
        (Some(same), Some((count, _))) if unit(after) == Some(same) => {
            format!("{count} -> {after}")
        }
        _ => format!("{before} -> {after}"),
    }
}

/// Amounts of several threads together, in the same words. Loose strands of one put-up make lengths.
#[must_use]
pub(crate) fn amounts(amounts: impl Iterator<Item = (Strands, PutUp)>) -> String {
    let mut of_a_length: BTreeMap<u32, (Strands, PutUp)> = BTreeMap::new();
    for (amount, put_up) in amounts {
        let sum = of_a_length
            .entry(put_up.in_length())
            .or_insert((Strands(0), put_up));
        sum.0.0 = sum.0.0.saturating_add(amount.0);
    }
    let (mut lengths, mut loose) = (0_u32, 0_u32);
    for (amount, put_up) in of_a_length.into_values() {
        lengths = lengths.saturating_add(put_up.lengths(amount));
        loose = loose.saturating_add(put_up.loose(amount));
    }
    lengths_and_strands(lengths, loose)
}

fn lengths_and_strands(lengths: u32, loose: u32) -> String {
    let whole = |n: u32| match n {
        1 => "1 length".to_owned(),
        n => format!("{n} lengths"),
    };
    let strands = |n: u32| match n {
        1 => "1 strand".to_owned(),
        n => format!("{n} strands"),
    };
    match (lengths, loose) {
        (lengths, 0) => whole(lengths),
        (0, loose) => strands(loose),
        (lengths, loose) => format!("{} {}", whole(lengths), strands(loose)),
    }
}

/// What was used of a need and what is left of it: `2 lengths used, 3 lengths still needed`; `None`
/// where nothing was used.
#[must_use]
pub(crate) fn used(used: Strands, left: Option<Strands>, put_up: PutUp) -> Option<String> {
    if used == Strands(0) {
        return None;
    }
    let left = match left {
        None => String::new(),
        Some(Strands(0)) => ", nothing still needed".to_owned(),
        Some(left) => format!(", {amount} still needed", amount = amount(left, put_up)),
    };
    Some(format!(
        "{amount} used{left}",
        amount = amount(used, put_up)
    ))
}

/// `2 skeins`.
#[must_use]
pub(crate) fn skeins(skeins: u32) -> String {
    format!("{skeins} {}", one_or_many(skeins, "skein", "skeins"))
}

/// What a line of a key is of, as short as can be: `310`, `447+96` for a blend, the name of a notion.
#[must_use]
pub(crate) fn line_in_brief(line: &KeyLine) -> String {
    let threads = line.threads().iter();
    let numbers: Vec<&str> = threads
        .map(|thread| thread.colour.number.as_str())
        .collect();
    let notion = line.notion().map(|notion| notion.name.to_string());
    notion.unwrap_or_else(|| numbers.join("+"))
}

/// What is sewn on for a line of a key, and how many: `seed bead: bead, 24 pieces`; empty where the
/// line is stitched.
#[must_use]
pub(crate) fn notion(line: &KeyLine) -> String {
    let Some(notion) = line.notion() else {
        return String::new();
    };
    let kind = match notion.kind {
        NotionKind::Bead => "bead",
        NotionKind::Button => "button",
        NotionKind::MetallicOrnament => "metallic ornament",
        NotionKind::Other => "other",
    };
    let name = &notion.name;
    match notion.pieces {
        0 => format!("{name}: {kind}, pieces not counted"),
        pieces => format!(
            "{name}: {kind}, {pieces} {word}",
            word = one_or_many(pieces, "piece", "pieces")
        ),
    }
}

/// What a line of a key counts: `1740 full, 30 half, 120 squares of backstitch`; empty where it
/// counts nothing.
#[must_use]
pub(crate) fn stitches(line: &KeyLine) -> String {
    let entry = line.stitches();
    let counts = [
        (entry.full, "full"),
        (entry.half, "half"),
        (entry.quarter, "quarter"),
        (entry.three_quarter, "three-quarter"),
        (entry.backstitch, "squares of backstitch"),
        (entry.french_knots, "French knots"),
    ];
    let said = counts.iter().filter(|(count, _)| *count > 0);
    let said: Vec<String> = said.map(|(n, what)| format!("{n} {what}")).collect();
    said.join(", ")
}

/// How a thread of a key stands, and where its thread is: `enough: at home on hook C07`.
#[must_use]
pub(crate) fn availability(state: &State, line: &ThreadLine<'_>) -> String {
    let mut text = without_promises(state, line);
    if !line.standing.is_enough() && !line.others.is_empty() {
        let others = line.others.iter().map(|&(ring, strands)| {
            format!(
                "'{}' {}",
                state.ring(ring).map_or("", |ring| ring.project.as_str()),
                amount(strands, line.put_up)
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
fn without_promises(state: &State, line: &ThreadLine<'_>) -> String {
    let place = |card: CardId| {
        state
            .card(card)
            .map_or_else(String::new, |kept| place_of(state, kept))
    };
    let put_up = |card: CardId| {
        let kept = state.card(card);
        kept.map_or(line.put_up, |kept| state.put_up(&kept.card))
    };
    let from = |is: fn(Source) -> bool| {
        let promises = line.promises.iter().filter(move |p| is(p.source));
        list(promises.map(|p| format!("{} {}", amount(p.strands, put_up(p.card)), place(p.card))))
    };
    let cards = || {
        let cards = state.cards_of(line.thread.stitched());
        list(cards.map(|kept| place_of(state, kept)))
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
            let unknown = without_key(state, line);
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
                amount = amount(line.short, line.put_up),
                rest = rest(line)
            )
        }
        Availability::Uncounted => format!("owned: {cards}", cards = cards()),
        Availability::Lost => format!("{}{}", cards(), rest(line)),
        Availability::NotOwned => "missing, not owned".to_owned(),
    }
}

/// Of which rings that thread is promised from nobody knows what they need themselves.
fn without_key(state: &State, line: &ThreadLine<'_>) -> String {
    let keyless = line
        .promises
        .iter()
        .filter_map(|promise| match promise.source {
            Source::OtherRing(ring) => state.ring(ring).filter(|ring| ring.key.is_empty()),
            _ => None,
        });
    let names = list(keyless.map(|ring| format!("'{}'", ring.project)));
    if names.is_empty() {
        return names;
    }
    format!(" (what {names} needs is not known: no key)")
}

/// What uncut skeins do about a shortage.
fn rest(line: &ThreadLine<'_>) -> String {
    let skeins = skeins(line.uncut_skeins);
    let covers = one_or_many(line.uncut_skeins, "covers", "cover");
    match (line.uncut_skeins, line.lacking) {
        (0, _) => String::new(),
        (_, Strands(0)) => format!("; {skeins} uncut {covers} it"),
        (_, lacking) => format!(
            "; {amount} after {skeins} uncut",
            amount = amount(lacking, line.put_up)
        ),
    }
}

/// A colour that could stand in: how far it looks, how much of it is free, and where it is.
#[must_use]
pub(crate) fn substitute(state: &State, found: &Substitute) -> String {
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
        amount = amount(found.free, state.put_up(&kept.card)),
        place = place_of(state, kept)
    )
}

/// The warning as a sentence without its full stop: `310: 1 length 2 strands on the ring, about
/// 3 lengths more needed; 4 lengths at home on hook C07, 1 skein in reserve`.
#[must_use]
pub(crate) fn low(state: &State, low: &LowLine) -> String {
    let name = |id| state.card(id).map(|kept| state.card_name(kept));
    let name = name(low.card).unwrap_or_else(|| low.number.to_string());
    let left = match low.left_on_ring {
        Strands(0) => "none left".to_owned(),
        left => amount(left, low.put_up),
    };
    let needed = match low.more() {
        Some(more) if more > Strands(0) => {
            format!(
                ", about {amount} more needed",
                amount = amount(more, low.put_up)
            )
        }
        _ => ", and the key does not say how much is needed".to_owned(),
    };
    let cards = low.elsewhere.iter().filter_map(|&(card, free)| {
        let kept = state.card(card)?;
        let split_card = if kept.place.at.ring().is_some() {
            " to spare"
        } else {
            ""
        };
        let place = place_of(state, kept);
        Some(format!(
            "{}{split_card} {place}",
            amount(free, state.put_up(&kept.card))
        ))
    });
    let uncut = (low.uncut_skeins > 0)
        .then(|| format!("{skeins} uncut", skeins = skeins(low.uncut_skeins)));
    let elsewhere = list(cards.chain(uncut));
    let elsewhere = if elsewhere.is_empty() {
        "there is no more of it".to_owned()
    } else {
        elsewhere
    };
    format!("{name}: {left} on the ring{needed}; {elsewhere}")
}

/// A colour with the name of its range: `Lantern Hill 310`.
#[must_use]
pub(crate) fn colour(state: &State, colour: &ColourRef) -> String {
    let range = state.range(colour.range);
    let range = range.map_or("", |range| range.name.as_str());
    format!("{range} {}", colour.number)
}

/// The colour of a thread in the chart, and what it is stitched with in its place:
/// `Lantern Hill 310`, `Lantern Hill 310, stitched with Mill 9`.
#[must_use]
pub(crate) fn key_thread(state: &State, thread: &KeyThread) -> String {
    let name = colour(state, &thread.colour);
    match &thread.stitched_with {
        None => name,
        Some(with) => format!("{name}, stitched with {other}", other = colour(state, with)),
    }
}

/// The projects of [`hanging_with_key`]: `'Robin' and 'Wren'`; nothing where there is none.
#[must_use]
pub(crate) fn hanging_projects(state: &State) -> Option<String> {
    let hanging = list(hanging_with_key(state).map(|ring| format!("'{}'", ring.project)));
    Some(hanging).filter(|hanging| !hanging.is_empty())
}

/// That no card has a colour, and which projects need it: `not owned; needed by Robin, Wren`.
#[must_use]
pub fn not_owned(needed_by: &[String]) -> String {
    match needed_by {
        [] => "not owned".to_owned(),
        projects => format!("not owned; needed by {}", list(projects)),
    }
}

/// That a number of a key is there in another range, which may be the one that is meant.
#[must_use]
pub(crate) fn owned_elsewhere(of: &NotOwned) -> Option<String> {
    (!of.owned_in.is_empty()).then(|| {
        format!(
            "{number} of {range} is not owned; you own {number} of {ranges}",
            number = of.number,
            range = of.range,
            ranges = list(of.owned_in.iter().cloned())
        )
    })
}

/// How many colours of a key are in the stash.
#[must_use]
pub(crate) fn owned_colours(keyed: &Keyed) -> String {
    match keyed.owned {
        0 if keyed.colours == 1 => {
            "Its one colour is not in the stash: look at the number and its range.".to_owned()
        }
        _ if keyed.colours == 1 => "Its one colour is in the stash.".to_owned(),
        0 => format!(
            "None of its {colours} colours is in the stash: look at the numbers and their range.",
            colours = keyed.colours
        ),
        owned => format!(
            "{owned} of its {colours} colours {are} in the stash.",
            are = one_or_many(owned, "is", "are"),
            colours = keyed.colours
        ),
    }
}

/// That a new card has taken the place of a missing one, and where it is to be hung.
#[must_use]
pub(crate) fn replaced(state: &State, kept: &CardState) -> String {
    let card = state.card_name(kept);
    match kept.home {
        Some(home) => format!(
            "a new card of {card} takes the place of the missing one; hang it on {hook_name}",
            hook_name = state.hook_name(home)
        ),
        None => {
            format!("a new card of {card} takes the place of the missing one; it is to hang")
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_assumption_is_named() {
        let assumed = Assumptions {
            waste_mm: 75,
            ..Assumptions::default()
        };
        assert_eq!(
            assumptions(&assumed),
            "14 count over 1 thread, 2 strands in the needle, 1 strand for backstitch, rows there \
             and back; working threads up to 50 cm (20 in), of which 7.5 cm lost at start and finish; 0.5 \
             mm of fabric at each pass; 20 mm in a French knot; 10 percent more for safety"
        );
    }

    #[test]
    fn what_was_used_is_said_with_what_is_left() {
        let said =
            |spent, left: Option<u32>| used(Strands(spent), left.map(Strands), PutUp::default());
        assert_eq!(said(0, Some(3)), None);
        for (left, words) in [
            (Some(7), "2 strands used, 1 length 1 strand still needed"),
            (Some(0), "2 strands used, nothing still needed"),
            (None, "2 strands used"),
        ] {
            assert_eq!(said(2, left).as_deref(), Some(words));
        }
    }

    #[test]
    fn amounts_are_said_as_they_hang() {
        for (strands, words) in [
            (0, "0 lengths"),
            (1, "1 strand"),
            (6, "1 length"),
            (44, "7 lengths 2 strands"),
        ] {
            assert_eq!(amount(Strands(strands), PutUp::default()), words);
        }
    }
}
