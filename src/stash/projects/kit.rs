//! The kit check: for each line of a chart key, whether the thread is available, and where.

use std::collections::{BTreeMap, BTreeSet};

use super::needs::{ThreadNeed, needs};
use super::supply::{
    Allocation, Source, Substitute, Supply, Want, gives_thread, part_used, substitutes,
};
use crate::engine::need::{Cut, Need};
use crate::model::assumptions::{Assumptions, Way};
use crate::model::ids::RingId;
use crate::model::range::PutUp;
use crate::model::ring::{ColourRef, KeyLine, KeyThread, Ring, RingState};
use crate::model::thread::{Lot, Strands};
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};

/// How a thread of a key stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum Availability {
    /// All it needs was used.
    Done,
    /// Enough is on the project's ring already.
    OnRing,
    /// Enough is there, on the wall, to hang or elsewhere.
    Home,
    /// Enough is there, but some of it is on another ring and has to be split off.
    Split,
    /// Owned, and not enough on the cards.
    Short,
    /// Owned; the key does not say how much is needed.
    Uncounted,
    /// Every card of it is missing.
    Lost,
    /// Not owned.
    NotOwned,
}

impl Availability {
    /// Whether there is no card to take.
    #[must_use]
    pub const fn has_no_card(self) -> bool {
        matches!(self, Self::Lost | Self::NotOwned)
    }

    /// Whether there is enough cut thread.
    #[must_use]
    pub const fn is_enough(self) -> bool {
        matches!(self, Self::Done | Self::OnRing | Self::Home | Self::Split)
    }
}

/// A checked line of a chart key.
#[derive(Debug)]
pub struct Line<'a> {
    /// The line.
    pub line: &'a KeyLine,
    /// Its threads; none for a notion, which no card can supply.
    pub threads: Vec<ThreadLine<'a>>,
}

/// A checked thread of a line.
#[derive(Debug)]
pub struct ThreadLine<'a> {
    /// The thread.
    pub thread: &'a KeyThread,
    /// What all stitches of the line need of it; `None` if the key has no counts.
    pub need: Option<Need>,
    /// The length of the strands that the need is counted in, in centimetres.
    pub cut_cm: u16,
    /// The kind and put-up of their thread.
    pub put_up: PutUp,
    /// How its crosses are worked.
    pub way: Way,
    /// What was used for it.
    pub used: Strands,
    /// What is still needed, which is the basis of the following fields. `None` in the same case as
    /// the need.
    pub left: Option<Strands>,
    /// Its availability.
    pub standing: Availability,
    /// Thread promised to it.
    pub promises: Vec<Allocation>,
    /// What the cards lack.
    pub short: Strands,
    /// Uncut skeins that help to make up for it.
    pub uncut_skeins: u32,
    /// What is still lacking after that, and has to be bought.
    pub lacking: Strands,
    /// The dye lots of the colour promised to the project, for all its lines together. With
    /// several, its stitches would mix them.
    pub lots: Vec<Lot>,
    /// Used-up lots on cards of the colour on the ring of a project that has used some of it. It
    /// was probably stitched with them so far, so the same lot should be bought again.
    pub used_up: Vec<Lot>,
    /// Of several such lots, one with enough thread to do without the others.
    pub lasting: Option<Lot>,
    /// What other projects were promised of the colour.
    pub others: Vec<(RingId, Strands)>,
    /// Possible substitutes for a colour without a card.
    pub substitutes: Vec<Substitute>,
}

/// A checked project.
#[derive(Debug)]
pub struct ProjectKit<'a> {
    /// The project's ring.
    pub ring: &'a Ring,
    /// Its assumptions.
    pub assumed: Assumptions,
    /// The lines of its key, in order.
    pub lines: Vec<Line<'a>>,
}

impl<'a> ProjectKit<'a> {
    /// Every thread of its key, line by line.
    pub fn threads(&self) -> impl Iterator<Item = &ThreadLine<'a>> {
        self.lines.iter().flat_map(|line| &line.threads)
    }
}

/// How much of a kit is on its ring.
#[derive(Debug)]
pub struct Kitted<'k, 'a> {
    /// Colours with enough on the ring, or with everything used that they need.
    pub there: usize,
    /// Colours of the key, each once.
    pub colours: usize,
    /// A thread of each other colour, in the order of the key.
    pub lacking: Vec<&'k ThreadLine<'a>>,
}

impl<'a> ProjectKit<'a> {
    /// How much of it is on the ring. A colour without stitch counts needs one card there.
    /// O(threads² + threads · log cards).
    #[must_use]
    pub fn kitted(&self, state: &State) -> Kitted<'_, 'a> {
        let ring = Some(self.ring.id);
        let is_there = |line: &ThreadLine<'_>| match line.standing {
            Availability::Done | Availability::OnRing => true,
            Availability::Uncounted => {
                let mut cards = state.cards_of(line.thread.stitched());
                cards.any(|kept| kept.place.at.ring() == ring)
            }
            _ => false,
        };
        let mut lacking: Vec<&ThreadLine<'a>> = Vec::new();
        for line in self.threads().filter(|line| !is_there(line)) {
            let same = |other: &&ThreadLine<'_>| other.thread.stitched() == line.thread.stitched();
            if !lacking.iter().any(same) {
                lacking.push(line);
            }
        }
        let colours = self.ring.colours().len();
        Kitted {
            there: colours - lacking.len(),
            colours,
            lacking,
        }
    }
}

/// Several projects checked together.
#[derive(Debug)]
pub struct Kit<'a> {
    /// The projects, in the order requested.
    pub projects: Vec<ProjectKit<'a>>,
    /// Every promise, including those to open projects that weren't requested, in order.
    pub promises: Vec<Allocation>,
}

/// The rings of projects by name, each once, in the order given.
///
/// # Errors
/// When there is none with that name, it is closed, or has no chart key.
pub fn rings_named<'a>(state: &'a State, projects: &[String]) -> Result<Vec<&'a Ring>, Refusal> {
    let mut rings: Vec<&Ring> = Vec::with_capacity(projects.len());
    for project in projects {
        let ring = state.need_ring(project)?;
        if ring.is_closed() {
            return Err(Refusal::RingClosed(ring.project.to_string()));
        }
        if ring.key.is_empty() {
            return Err(Refusal::NoKey(ring.project.to_string()));
        }
        if !rings.iter().any(|other| other.id == ring.id) {
            rings.push(ring);
        }
    }
    Ok(rings)
}

/// The rings in use with a chart key, in the order of the projects, without hanging ones.
///
/// # Errors
/// When there are none.
pub fn rings_in_use(state: &State) -> Result<Vec<&Ring>, Refusal> {
    let in_use = |ring: &&Ring| ring.state == RingState::Live && !ring.key.is_empty();
    let rings = state.rings_in_order().into_iter();
    let rings: Vec<&Ring> = rings.filter(in_use).collect();
    if rings.is_empty() {
        return Err(no_keys(state));
    }
    Ok(rings)
}

/// The hanging rings with a chart key, which [`rings_in_use`] leaves out.
pub fn hanging_with_key(state: &State) -> impl Iterator<Item = &Ring> {
    let is_hanging = |ring: &Ring| matches!(ring.state, RingState::Hanging { .. });
    let rings = state.rings();
    rings.filter(move |ring| is_hanging(ring) && !ring.key.is_empty())
}

/// Why no project can be checked: none has a chart key, or those that do are hanging.
fn no_keys(state: &State) -> Refusal {
    let hanging = hanging_with_key(state).map(|ring| ring.project.to_string());
    let hanging: Vec<String> = hanging.collect();
    if hanging.is_empty() {
        return Refusal::NoKeys;
    }
    Refusal::KeysHanging(hanging)
}

/// A thread being checked.
struct Draft<'a> {
    /// The index of its line in the key.
    at: usize,
    thread: &'a KeyThread,
    cards: Vec<&'a CardState>,
    need: ThreadNeed,
    want: Want,
    /// What later threads of the colour in the key want, in thousandths of a millimetre.
    later_um: u64,
}

impl<'a> Draft<'a> {
    fn of(
        state: &'a State,
        ring: &Ring,
        at: usize,
        thread: &'a KeyThread,
        need: ThreadNeed,
    ) -> Self {
        let strands = need.left.map_or(0, |left| left.0);
        Self {
            at,
            thread,
            cards: state.cards_of(thread.stitched()).collect(),
            need,
            want: Want {
                ring: ring.id,
                assumed: ring.fabric.unwrap_or_default(),
                of_a_strand_um: need.of_a_strand_um,
                left_um: u64::from(strands) * need.of_a_strand_um,
                promises: Vec::new(),
            },
            later_um: 0,
        }
    }

    /// The dye lots of the colour, in the order to take them. Lots that last for everything the
    /// project still wants of the colour come first, then lots it already has; then the smallest of
    /// those that last, or the largest of those that don't. Each with whether it lasts. `gives`
    /// returns what a card has of a lot. O(lots · cards of the colour + promises).
    fn lots(&self, supply: &Supply, gives: impl Fn(&CardState, &Lot) -> u64) -> Vec<(Lot, bool)> {
        let wanted = self.want.left_um.saturating_add(self.later_um);
        let mut sums: BTreeMap<&Lot, u64> = BTreeMap::new();
        for kept in &self.cards {
            for (lot, _) in kept.thread.lots() {
                let sum = sums.entry(lot).or_default();
                *sum = sum.saturating_add(gives(kept, lot));
            }
        }
        let has = |lot: &Lot| {
            let of_ring = |promise: &&Allocation| promise.ring == self.want.ring;
            let mut made = supply.made().iter().filter(of_ring);
            made.any(|made| made.lot == *lot && self.cards.iter().any(|k| k.card.id == made.card))
        };
        let mut lots: Vec<(bool, bool, u64, &Lot)> = sums
            .into_iter()
            .filter(|&(_, sum)| sum > 0)
            .map(|(lot, sum)| {
                let lasts = sum >= wanted;
                let size = if lasts { sum } else { u64::MAX - sum };
                (!lasts, !has(lot), size, lot)
            })
            .collect();
        lots.sort_unstable();
        let lots = lots.into_iter();
        lots.map(|(short, _, _, lot)| (lot.clone(), !short))
            .collect()
    }

    /// Step 1 of the sharing: thread on the project's own ring.
    fn keep_own(&mut self, supply: &mut Supply) {
        if self.want.left_um == 0 {
            return;
        }
        let own = |kept: &CardState| kept.place.at.ring() == Some(self.want.ring);
        let lots = self.lots(supply, |kept, lot| match own(kept) {
            true => supply.gives_um(&self.want, kept, lot),
            false => 0,
        });
        let ring = Some(self.want.ring);
        for (lot, _) in &lots {
            for kept in self.cards.iter().filter(|k| k.place.at.ring() == ring) {
                supply.promise(&mut self.want, kept, lot, Source::OwnRing);
            }
        }
    }

    /// Step 2: thread that isn't on this ring. Returns what the cut thread on cards lacks, in
    /// strands.
    ///
    /// A lot with enough thread, cut and uncut, gives everything; otherwise every lot gives its cut
    /// thread before any skein is cut.
    fn take(&mut self, supply: &mut Supply) -> Strands {
        if self.want.left_um == 0 {
            return Strands(0);
        }
        let lots = self.lots(supply, |kept, lot| {
            let on_ring = kept.place.at.ring() == Some(self.want.ring);
            let all = supply.gives_with_uncut_um(&self.want, kept, lot);
            let cut = supply.gives_um(&self.want, kept, lot);
            if !gives_thread(kept) || on_ring {
                all - cut
            } else {
                all
            }
        });
        let together = match lots.first() {
            Some((_, true)) => 1,
            _ => lots.len(),
        };
        for (lot, _) in &lots[..together] {
            self.take_cards(supply, lot);
        }
        for (lot, _) in &lots[..together] {
            self.take_from_rings(supply, lot);
        }
        let short = self.want.left();
        for (lot, _) in &lots {
            for kept in &self.cards {
                supply.promise(&mut self.want, kept, lot, Source::Uncut);
            }
        }
        short
    }

    /// Takes from as few cards off the rings as possible: one that lasts, else the fullest, and so
    /// on.
    fn take_cards(&mut self, supply: &mut Supply, lot: &Lot) {
        let at_hand = self.cards.iter().copied().filter(|kept| gives_thread(kept));
        let mut here: Vec<&CardState> = at_hand.filter(|k| k.place.at.ring().is_none()).collect();
        while self.want.left_um > 0 && !here.is_empty() {
            let gives = |kept: &CardState| supply.gives_um(&self.want, kept, lot);
            let lasts = here.iter().position(|k| gives(k) >= self.want.left_um);
            let next = lasts.or_else(|| {
                // The first of the fullest cards.
                let fullest = here.iter().enumerate().rev().max_by_key(|(_, k)| gives(k));
                fullest.map(|(at, _)| at)
            });
            let kept = here.remove(next.unwrap_or(0));
            supply.promise(&mut self.want, kept, lot, Source::Here);
        }
    }

    fn take_from_rings(&mut self, supply: &mut Supply, lot: &Lot) {
        let own = self.want.ring;
        for kept in &self.cards {
            if let Some(ring) = kept.place.at.ring().filter(|&ring| ring != own) {
                supply.promise(&mut self.want, kept, lot, Source::OtherRing(ring));
            }
        }
    }

    fn standing(&self, short: Strands) -> Availability {
        if self.need.is_done() {
            return Availability::Done;
        }
        if self.cards.is_empty() {
            return Availability::NotOwned;
        }
        if !self.cards.iter().any(|kept| gives_thread(kept)) {
            return Availability::Lost;
        }
        let from = |is: fn(Source) -> bool| self.want.promises.iter().any(|p| is(p.source));
        if self.need.need.is_none() {
            Availability::Uncounted
        } else if short > Strands(0) {
            Availability::Short
        } else if from(|source| matches!(source, Source::OtherRing(_))) {
            Availability::Split
        } else if from(|source| source == Source::Here) {
            Availability::Home
        } else {
            Availability::OnRing
        }
    }

    /// Uncut skeins that would be opened, using part-used ones first.
    fn uncut_skeins(&self, state: &State) -> u32 {
        let promised = self.want.promises.iter();
        let uncut = promised.filter(|promise| promise.source == Source::Uncut);
        uncut
            .filter_map(|promise| {
                let kept = self.cards.iter().find(|k| k.card.id == promise.card)?;
                let skein = self.need.put_up.strands_in_skein(kept.card.cut_cm).max(1);
                let part = part_used(state, kept, &promise.lot).0;
                let beyond = promise.strands.0.saturating_sub(part);
                Some(u32::from(part > 0).saturating_add(beyond.div_ceil(skein)))
            })
            .sum()
    }
}

fn drafts<'a>(state: &'a State, ring: &'a Ring) -> Vec<Draft<'a>> {
    let lines = ring.key.iter().enumerate().zip(needs(state, ring));
    let mut drafts: Vec<Draft<'_>> = lines
        .flat_map(|((at, line), needs)| {
            let threads = line.threads().iter().zip(needs);
            threads.map(move |(thread, need)| Draft::of(state, ring, at, thread, need))
        })
        .collect();
    let mut later: BTreeMap<&ColourRef, u64> = BTreeMap::new();
    for draft in drafts.iter_mut().rev() {
        let sum = later.entry(draft.thread.stitched()).or_default();
        draft.later_um = *sum;
        *sum = sum.saturating_add(draft.want.left_um);
    }
    drafts
}

/// What every open project keeps from the cards on its own ring, without any other promises.
/// O(lines · log cards + cards).
pub(super) fn kept_on_rings(state: &State) -> Supply {
    let mut supply = Supply::new(state);
    for ring in state.rings().filter(|ring| !ring.is_closed()) {
        for mut draft in drafts(state, ring) {
            draft.keep_own(&mut supply);
        }
    }
    supply
}

/// Checks projects together; see [the module](super) for how they share. The rings must belong to
/// this state. O(lines · cards) for colours without a card, else O(lines · log cards + cards).
#[must_use]
pub fn check<'a>(state: &'a State, rings: &[&'a Ring]) -> Kit<'a> {
    let mut supply = Supply::new(state);
    let mut asked: Vec<(&Ring, Vec<Draft<'_>>)> = rings
        .iter()
        .map(|&ring| (ring, drafts(state, ring)))
        .collect();
    for ring in state.rings().filter(|ring| !ring.is_closed()) {
        let mut others;
        let found = asked.iter_mut().find(|(other, _)| other.id == ring.id);
        let lines = match found {
            Some((_, lines)) => lines,
            None => {
                others = drafts(state, ring);
                &mut others
            }
        };
        for draft in lines {
            draft.keep_own(&mut supply);
        }
    }
    let mut shorts: Vec<Vec<Strands>> = Vec::with_capacity(asked.len());
    for (_, lines) in &mut asked {
        let short = lines.iter_mut().map(|draft| draft.take(&mut supply));
        shorts.push(short.collect());
    }
    let projects = asked
        .into_iter()
        .zip(shorts)
        .map(|((ring, drafts), shorts)| {
            let empty = |line| Line {
                line,
                threads: Vec::with_capacity(1),
            };
            let mut lines: Vec<Line<'_>> = ring.key.iter().map(empty).collect();
            for (draft, short) in drafts.into_iter().zip(shorts) {
                if let Some(line) = lines.get_mut(draft.at) {
                    line.threads
                        .push(checked(state, &supply, ring, draft, short));
                }
            }
            ProjectKit {
                ring,
                assumed: ring.fabric.unwrap_or_default(),
                lines,
            }
        })
        .collect();
    Kit {
        projects,
        promises: supply.promises(),
    }
}

fn checked<'a>(
    state: &'a State,
    supply: &Supply,
    ring: &'a Ring,
    draft: Draft<'a>,
    short: Strands,
) -> ThreadLine<'a> {
    let standing = draft.standing(short);
    let needed_um = (draft.need.left).map(|left| u64::from(left.0) * draft.need.of_a_strand_um);
    let stand_ins = if standing.has_no_card() {
        let assumed = &draft.want.assumed;
        substitutes(state, supply, ring, draft.thread, assumed, needed_um)
    } else {
        Vec::new()
    };
    let mut others: Vec<(RingId, Strands)> = Vec::new();
    for promise in supply.made() {
        let ours = draft.cards.iter().any(|k| k.card.id == promise.card);
        if !ours || promise.ring == ring.id {
            continue;
        }
        match others.iter_mut().find(|(other, _)| *other == promise.ring) {
            Some((_, sum)) => sum.0 = sum.0.saturating_add(promise.strands.0),
            None => others.push((promise.ring, promise.strands)),
        }
    }
    let lots = lots_of(supply, ring.id, &draft.cards);
    ThreadLine {
        thread: draft.thread,
        need: draft.need.need,
        cut_cm: draft.need.cut_cm,
        put_up: draft.need.put_up,
        way: draft.need.way,
        used: draft.need.used,
        left: draft.need.left,
        standing,
        short,
        uncut_skeins: draft.uncut_skeins(state),
        lacking: draft.want.left(),
        used_up: used_up(&draft, &lots),
        lasting: lasting(supply, &draft, &lots),
        lots,
        promises: draft.want.promises,
        others,
        substitutes: stand_ins,
    }
}

/// The lots of some cards promised to a project, each once, in order of their names.
fn lots_of(supply: &Supply, ring: RingId, cards: &[&CardState]) -> Vec<Lot> {
    let of_cards = |made: &&Allocation| cards.iter().any(|kept| kept.card.id == made.card);
    let made = supply.made().iter().filter(|made| made.ring == ring);
    let lots: BTreeSet<&Lot> = made.filter(of_cards).map(|made| &made.lot).collect();
    lots.into_iter().cloned().collect()
}

/// The lots of a colour used up on the project's ring, if it has used some of the colour.
fn used_up(draft: &Draft<'_>, lots: &[Lot]) -> Vec<Lot> {
    if draft.need.used == Strands(0) {
        return Vec::new();
    }
    let ring = Some(draft.want.ring);
    let cards = draft.cards.iter();
    let on_ring = cards.filter(|kept| kept.place.at.ring() == ring);
    let empty = on_ring.flat_map(|kept| {
        let lots = kept.thread.lots();
        lots.filter(|(lot, of)| !lot.is_unknown() && of.is_used_up())
    });
    let empty: BTreeSet<&Lot> = empty.map(|(lot, _)| lot).collect();
    let empty = empty.into_iter().filter(|lot| !lots.contains(lot));
    empty.cloned().collect()
}

/// Of several lots of a colour promised to a project, the smallest that would be enough alone,
/// including its unpromised rest.
fn lasting(supply: &Supply, draft: &Draft<'_>, lots: &[Lot]) -> Option<Lot> {
    if lots.len() < 2 {
        return None;
    }
    let ours = |made: &&Allocation| {
        made.ring == draft.want.ring && draft.cards.iter().any(|k| k.card.id == made.card)
    };
    let um = |made: &Allocation| {
        let kept = draft.cards.iter().find(|k| k.card.id == made.card);
        let cut = kept.and_then(|kept| Cut::of(&draft.want.assumed, kept.card.cut_cm));
        u64::from(made.strands.0) * cut.map_or(0, Cut::of_a_strand_um)
    };
    let all: u64 = supply.made().iter().filter(ours).map(um).sum();
    let has = |lot: &Lot| {
        let made = supply.made().iter().filter(ours);
        let promised: u64 = made.filter(|made| made.lot == *lot).map(um).sum();
        let free = draft.cards.iter().map(|kept| {
            let all = supply.gives_with_uncut_um(&draft.want, kept, lot);
            let cut = supply.gives_um(&draft.want, kept, lot);
            if gives_thread(kept) { all } else { all - cut }
        });
        promised.saturating_add(free.fold(0, u64::saturating_add))
    };
    let lots = lots.iter().filter(|lot| has(lot) >= all);
    lots.min_by_key(|lot| has(lot)).cloned()
}

#[cfg(test)]
mod tests;
