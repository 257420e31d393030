//! The buy list: whole skeins, and the projects they are for.

use super::kit::{Availability, Kit, ThreadLine};
use super::supply::{Likeness, gives_thread};
use crate::model::card::USUAL_CUT_CM;
use crate::model::colour::Srgb;
use crate::model::ids::{CardId, RangeId, RingId};
use crate::model::number::Number;
use crate::model::range::PutUp;
use crate::model::ring::{ColourRef, KeyThread};
use crate::model::thread::{Lot, Strands};
use crate::stash::state::State;

/// A project's reason for a purchase.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Why {
    /// Which project.
    pub ring: RingId,
    /// What it still lacks after cards and uncut skeins; `None` if its key doesn't say how much it
    /// needs and there is no card of the colour.
    pub short: Option<Strands>,
    /// What was used for it and is no longer needed.
    pub used: Strands,
    /// What is still needed, before cards and skeins; `None` in the same case.
    pub still_needed: Option<Strands>,
}

impl Why {
    /// The reason given by a thread of a chart key.
    fn of(ring: RingId, line: &ThreadLine<'_>) -> Self {
        Self {
            ring,
            short: line.need.map(|_| line.lacking),
            used: line.used,
            still_needed: line.left,
        }
    }

    /// Adds another thread of the same colour.
    fn add(&mut self, other: &Self) {
        self.short = sum(self.short, other.short);
        self.still_needed = sum(self.still_needed, other.still_needed);
        self.used.0 = self.used.0.saturating_add(other.used.0);
    }
}

/// The sum of the known amounts.
fn sum(one: Option<Strands>, other: Option<Strands>) -> Option<Strands> {
    match (one, other) {
        (Some(one), Some(other)) => Some(Strands(one.0.saturating_add(other.0))),
        (one, other) => one.or(other),
    }
}

/// A colour to buy.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Purchase {
    /// The range.
    pub range: RangeId,
    /// The number.
    pub number: Number,
    /// The colour's name; may be empty.
    pub name: String,
    /// The colour, if it is known.
    pub colour: Option<Srgb>,
    /// The existing card, if any.
    pub card: Option<CardId>,
    /// The kind and put-up of its thread.
    pub put_up: PutUp,
    /// Whether missing cards of it hold everything lacking. Then look for them before buying any.
    pub missing: bool,
    /// The dye lots that projects already have of it. Buy the same, so that no project mixes lots.
    pub lots: Vec<Lot>,
    /// The cards that match it in the user's conversion lists and have unpromised thread. They
    /// could be used instead.
    pub matches: Vec<CardId>,
    /// Whole skeins.
    pub skeins: u32,
    /// Skeins on the want list, if that is included.
    pub wanted: u32,
    /// The reasons, in the order of the projects.
    pub why: Vec<Why>,
}

impl Purchase {
    /// The colour.
    #[must_use]
    pub fn of(&self) -> ColourRef {
        ColourRef::new(self.range, self.number.clone())
    }
}

/// What to buy for checked projects, by range and number. The amounts several projects lack of a
/// colour are added before rounding up to whole skeins. O(lines²) at worst.
#[must_use]
pub fn buy_list(state: &State, kit: &Kit<'_>) -> Vec<Purchase> {
    let mut list: Vec<(Purchase, Sum)> = Vec::new();
    for project in &kit.projects {
        for line in project.threads().filter(|line| is_wanted(state, line)) {
            let colour = line.thread.stitched();
            let known = list.iter_mut().find(|(p, _)| colour.is(p.range, &p.number));
            let (purchase, sum) = match known {
                Some(known) => known,
                None => {
                    list.push((nothing_of(state, line), Sum::default()));
                    let Some(new) = list.last_mut() else { continue };
                    new
                }
            };
            sum.add(line);
            let lots = line.lots.iter().chain(&line.used_up);
            for lot in lots.filter(|lot| !lot.is_unknown()) {
                if !purchase.lots.contains(lot) {
                    purchase.lots.push(lot.clone());
                }
            }
            let matching = line.substitutes.iter();
            for found in matching.filter(|found| found.likeness == Likeness::Match) {
                if !purchase.matches.contains(&found.card) {
                    purchase.matches.push(found.card);
                }
            }
            let why = Why::of(project.ring.id, line);
            match purchase.why.iter_mut().find(|known| known.ring == why.ring) {
                Some(known) => known.add(&why),
                None => purchase.why.push(why),
            }
        }
    }
    let mut list: Vec<Purchase> = list
        .into_iter()
        .map(|(purchase, sum)| {
            let missing = purchase.card.is_some() && sum.strands <= on_missing(state, &purchase);
            Purchase {
                skeins: if missing { 0 } else { sum.skeins() },
                missing,
                ..purchase
            }
        })
        .collect();
    list.sort_by(|a, b| (a.range, &a.number).cmp(&(b.range, &b.number)));
    list
}

/// A line of the list for a thread's colour, with no skeins yet.
fn nothing_of(state: &State, line: &ThreadLine<'_>) -> Purchase {
    let colour = line.thread.stitched();
    let card = state.cards_of(colour).next().map(|kept| &kept.card);
    Purchase {
        range: colour.range,
        number: card.map_or(&colour.number, |card| &card.number).clone(),
        name: state.thread_name(line.thread).to_owned(),
        colour: state.thread_colour(line.thread),
        card: card.map(|card| card.id),
        put_up: line.put_up,
        lots: Vec::new(),
        matches: Vec::new(),
        missing: false,
        skeins: 0,
        wanted: 0,
        why: Vec::new(),
    }
}

/// Adds the want list. Its skeins are wanted in any case, so they include those for projects.
/// O(list · shades wanted).
pub fn add_wanted(state: &State, list: &mut Vec<Purchase>) {
    for (colour, skeins) in state.want_list() {
        let known = list.iter_mut().find(|p| colour.is(p.range, &p.number));
        if let Some(purchase) = known {
            purchase.wanted = skeins;
            purchase.skeins = purchase.skeins.max(skeins);
            continue;
        }
        let card = state.cards_of(&colour).next().map(|kept| &kept.card);
        let thread = KeyThread::new(colour);
        let colour = &thread.colour;
        list.push(Purchase {
            range: colour.range,
            number: card.map_or(&colour.number, |card| &card.number).clone(),
            name: state.thread_name(&thread).to_owned(),
            colour: state.thread_colour(&thread),
            card: card.map(|card| card.id),
            put_up: state.colour_put_up(colour),
            missing: false,
            lots: Vec::new(),
            matches: with_thread(state, colour),
            skeins,
            wanted: skeins,
            why: Vec::new(),
        });
    }
    list.sort_by(|a, b| (a.range, &a.number).cmp(&(b.range, &b.number)));
}

/// The cards with thread that match a colour that isn't owned.
fn with_thread(state: &State, colour: &ColourRef) -> Vec<CardId> {
    if state.cards_of(colour).next().is_some() {
        return Vec::new();
    }
    let cards = state.matching_cards(colour);
    let cards = cards.filter(|kept| gives_thread(kept));
    let cards = cards.filter(|kept| kept.strands() > Strands(0) || kept.skeins() > 0);
    cards.map(|kept| kept.card.id).collect()
}

/// Strands on the missing cards of a colour.
fn on_missing(state: &State, purchase: &Purchase) -> u32 {
    let colour = ColourRef {
        range: purchase.range,
        number: purchase.number.clone(),
    };
    let missing = state
        .cards_of(&colour)
        .filter(|kept| kept.place.at.is_missing());
    missing.fold(0, |sum, kept| sum.saturating_add(kept.strands().0))
}

/// Whether a thread needs a purchase. If its need is unknown, it does when there is neither a card
/// nor a skein to cut one from.
fn is_wanted(state: &State, line: &ThreadLine<'_>) -> bool {
    let no_skein = || {
        state
            .cards_of(line.thread.stitched())
            .all(|kept| kept.skeins() == 0 && kept.thread.part_cm() == 0)
    };
    let lost = || line.standing == Availability::Lost && no_skein();
    line.lacking > Strands(0)
        || (line.need.is_none() && (line.standing == Availability::NotOwned || lost()))
}

/// What is lacking of a colour.
#[derive(Default)]
struct Sum {
    strands: u32,
    /// Strands in a skein; the fewest if projects count in different lengths.
    in_skein: Option<u32>,
}

impl Sum {
    fn add(&mut self, line: &ThreadLine<'_>) {
        self.strands = self.strands.saturating_add(line.lacking.0);
        let in_skein = line.put_up.strands_in_skein(line.cut_cm);
        self.in_skein = Some(self.in_skein.map_or(in_skein, |was| was.min(in_skein)));
    }

    /// Whole skeins, plus one if an amount needed is unknown.
    fn skeins(&self) -> u32 {
        let usual = PutUp::default().strands_in_skein(USUAL_CUT_CM);
        let in_skein = self.in_skein.unwrap_or(usual).max(1);
        self.strands.div_ceil(in_skein).max(1)
    }
}
