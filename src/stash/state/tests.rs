//! A stash lives through whatever a person might do to it, in any order.

use std::collections::BTreeMap;

use proptest::prelude::*;

mod ledger;

use self::ledger::Ledger;
use super::*;
use crate::model::touch::Weight;
use crate::model::whereabouts::LastSeen;
use crate::stash::change::turned;
use crate::stash::command::board::{self, Measures, Unhang};
use crate::stash::command::import::{self, Terms};
use crate::stash::command::rehang::Ask;
use crate::stash::command::{family, hang, pin, rehang, ring};
use crate::stash::event::Act;
use crate::stash::history::History;
use crate::stash::intake::{Amount, KeyRow, ShadeRow, StockRow};
use crate::stash::refusal::Refusal;
use crate::stash::testing::{assert_sound, at, least_weight};

/// What to do next, and numbers to choose from the stash at that moment with.
pub(crate) type Choice = (u8, [u16; 5]);

/// Choices from here on are about keys, cloth, purchases and looking at the wall.
const OF_PROJECTS: u8 = 100;

const RANGES: [Option<&str>; 3] = [Some("Hill"), Some("mill"), None];
const NUMBERS: [&str; 6] = ["1", "9", "10", "B5", "b5", "310"];
const MARKS: [&str; 9] = [
    "A01", "A02", "A03", "B01", "B02", "2A01", "2A02", "2B01", "C09",
];
const FAMILIES: [&str; 3] = ["warm", "cool", "reds"];
const PROJECTS: [&str; 3] = ["Harbour", "Robin", "harbour"];
const COLOURS: [&str; 3] = ["#C8102E", "#101214", "#5A2A4B"];

fn pick<T: Clone>(from: &[T], number: u16) -> T {
    from[usize::from(number) % from.len()].clone()
}

/// One of a list, or now and then nothing.
fn perhaps<T: Clone>(from: &[T], number: u16) -> Option<T> {
    (!number.is_multiple_of(3)).then(|| pick(from, number / 3))
}

/// The cards of which the bit is set.
fn some_cards(state: &State, bits: u16) -> Vec<CardId> {
    let ids = state.cards().map(|kept| kept.card.id);
    ids.zip(0..16)
        .filter(|(_, bit)| bits >> bit & 1 == 1)
        .map(|(id, _)| id)
        .collect()
}

/// Whether the state is one that can be seen: it says the same however it is asked.
fn assert_in_one_place(state: &State) {
    for kept in state.cards() {
        let id = kept.card.id;
        let hooks = state.hooks().filter(|&hook| {
            let hangs = state.hanging_on(hook).filter(|k| k.card.id == id).count();
            assert!(hangs <= 1);
            hangs == 1
        });
        let rings = state.rings().filter(|ring| {
            let on = state.cards_on(ring).filter(|k| k.card.id == id).count();
            assert!(on <= 1);
            on == 1
        });
        let (hooks, rings) = (hooks.count(), rings.count());
        let expected = match kept.place.at {
            Whereabouts::Hook { .. } => (1, 0),
            Whereabouts::Ring { .. } => (0, 1),
            _ => (0, 0),
        };
        assert_eq!((hooks, rings), expected, "{kept:?}");
    }
    let mut homes: BTreeMap<HookRef, u8> = BTreeMap::new();
    for home in state.cards().filter_map(|kept| kept.home) {
        *homes.entry(home).or_default() += 1;
    }
    for (hook, count) in homes {
        assert!(count <= state.capacity(hook), "{hook}");
    }
    let in_hand = state
        .cards()
        .filter(|kept| kept.place.at == Whereabouts::Hand);
    assert!(in_hand.count() <= 1, "more than one card in the hand");
}

fn strands(state: &State) -> BTreeMap<CardId, Strands> {
    let cards = state.cards();
    cards.map(|kept| (kept.card.id, kept.strands)).collect()
}

/// All strands there are, those of uncut skeins too.
fn all_strands(state: &State) -> u64 {
    let of = |kept: &Kept| u64::from(kept.strands.0) + u64::from(kept.card.reserve) * 48;
    state.cards().map(of).sum()
}

/// No card promises more than is on it and beside it, whichever projects are asked about.
fn assert_promises_are_kept(state: &State) {
    let rings: Vec<_> = state.rings().filter(|ring| !ring.is_closed()).collect();
    for asked in 0..=rings.len() {
        let mut promised: BTreeMap<CardId, u64> = BTreeMap::new();
        for promise in crate::stash::kit::check::check(state, &rings[..asked]).promises {
            *promised.entry(promise.card).or_default() += u64::from(promise.strands.0);
        }
        for (card, sum) in promised {
            let kept = state.card(card).unwrap();
            let there = u64::from(kept.strands.0) + u64::from(kept.card.reserve) * 48;
            assert!(sum <= there, "{kept:?}: {sum}");
        }
    }
}

#[derive(Clone, Default)]
pub(crate) struct Life {
    pub(crate) state: State,
    ledger: Ledger,
    pub(crate) history: History,
    pub(crate) events: Vec<Event>,
}

impl Life {
    fn now(&self) -> jiff::Timestamp {
        at(self.events.len().try_into().unwrap())
    }

    pub(crate) fn commit(&mut self, event: Event) {
        let before = self.state.clone();
        let json = serde_json::to_string(&event).unwrap();
        assert_eq!(serde_json::from_str::<Event>(&json).unwrap(), event);

        // With its last change made twice it fits only where that change is none.
        let mut twice = event.clone();
        twice.changes.extend(event.changes.last().cloned());
        let last = event.changes.last().cloned();
        if last
            .as_ref()
            .is_some_and(|last| last.clone().turned() != *last)
        {
            assert!(self.state.apply(&twice).is_err());
            assert_eq!(self.state, before);
            assert_sound(&self.state);
        }

        self.state.apply(&event).unwrap();
        assert_sound(&self.state);
        assert_in_one_place(&self.state);
        self.ledger.note(&before, &event, &self.state);
        match event.act {
            Act::ImportStock { .. } | Act::Join { .. } | Act::Undo { .. } | Act::Redo { .. } => {}
            Act::Bought { skeins, .. } => {
                // Nothing is added to a card that was there; a missing one is lost with its thread, and
                // has a new one in its place.
                let is_missing = |state: &State, card: CardId| {
                    let kept = state.card(card).unwrap();
                    matches!(kept.place.at, Whereabouts::Missing { .. })
                };
                let after = strands(&self.state);
                let mut lost = 0;
                for (card, had) in strands(&before) {
                    if is_missing(&before, card) && !is_missing(&self.state, card) {
                        lost += u64::from(had.0);
                        assert_eq!(after[&card], Strands(48));
                    } else {
                        assert_eq!(after[&card], had);
                    }
                }
                let there = all_strands(&before) + u64::from(skeins) * 48;
                assert_eq!(all_strands(&self.state) + lost, there);
            }
            Act::Return { wound: 1.., .. } | Act::Decant { .. } | Act::Merge { .. } => {
                assert_eq!(all_strands(&self.state), all_strands(&before));
            }
            Act::Use { strands: used, .. } => {
                let less = all_strands(&before) - all_strands(&self.state);
                assert_eq!(less, u64::from(used.0));
            }
            _ => {
                assert_eq!(strands(&self.state), strands(&before));
                assert_eq!(all_strands(&self.state), all_strands(&before));
            }
        }

        let after = self.state.clone();
        if after != before {
            assert!(self.state.apply(&event).is_err());
            assert_eq!(self.state, after);
            assert_sound(&self.state);
        }
        let back = Event {
            act: Act::Undo { seq: 0 },
            changes: turned(&event.changes),
        };
        self.state.apply(&back).unwrap();
        assert_eq!(self.state, before);
        assert_sound(&self.state);
        self.state.apply(&event).unwrap();
        assert_eq!(self.state, after);

        self.events.push(event);
        let seq = self.events.len().try_into().unwrap();
        self.history.note(seq, self.events.last().unwrap().clone());
    }

    pub(crate) fn live(&mut self, choice: Choice) {
        if choice.0 >= OF_PROJECTS {
            if let Ok(Some(event)) = self.project_command(choice) {
                self.commit(event);
            }
            return;
        }
        let (what, numbers) = choice;
        if what >= 28 {
            return self.rehang(numbers);
        }
        if let Ok(Some(event)) = self.command(what, numbers) {
            self.commit(event);
        }
    }

    fn command(&self, what: u8, n: [u16; 5]) -> Result<Option<Event>, Refusal> {
        let (state, now) = (&self.state, self.now());
        let cards = || some_cards(state, n[0]);
        let ring = || state.need_ring(pick(&PROJECTS, n[1]));
        let unhang = if n[4].is_multiple_of(2) {
            Unhang::Allowed
        } else {
            Unhang::Refused
        };
        match what {
            0..=4 => Ok(import::stock(
                state,
                &stock_rows(n),
                Vec::new(),
                &Terms {
                    range: None,
                    strict: n[4].is_multiple_of(8),
                    add: n[3].is_multiple_of(4),
                },
                now,
            )?
            .event),
            5 => Ok(import::shades(state, &shade_rows(n), Vec::new(), "Hill")?.event),
            6..=8 => ring::take(state, pick(&PROJECTS, n[1]), &cards(), now).map(Some),
            9 => {
                let ring = ring()?;
                let on = state.cards_on(ring).map(|kept| kept.card.id);
                let some: Vec<CardId> = on.step_by(1 + usize::from(n[2] % 2)).collect();
                ring::give_back(state, ring, &some, now).map(Some)
            }
            10 => ring::give_back_all(state, ring()?, now).map(Some),
            11 => ring::park(state, ring()?, pick(&MARKS, n[2]), now).map(Some),
            12 => ring::unpark(ring()?).map(Some),
            13 => ring::close(state, ring()?, now).map(Some),
            14 => ring::missing(state, &cards(), now).map(Some),
            15 => {
                let ids: Vec<CardId> = state
                    .cards()
                    .filter(|k| matches!(k.place.at, Whereabouts::Missing { .. }))
                    .map(|kept| kept.card.id)
                    .collect();
                let card = ids.first().copied().unwrap_or(CardId(1));
                ring::found(state, card, now).map(Some)
            }
            16 => {
                let (name, prefix) = pick(&[("wall", ""), ("shelf", "2"), ("twin", "2-")], n[0]);
                let mut board = crate::stash::testing::board(name, prefix, 2, 3, 1);
                board.places = u8::try_from(n[1] % 3).unwrap() + 1;
                board.rows = n[2] % 2 + 1;
                board::new_board(state, &board).map(Some)
            }
            17 => {
                let to = Measures {
                    rows: perhaps(&[1, 2], n[0]),
                    columns: perhaps(&[1, 2, 3], n[1]),
                    places: perhaps(&[1, 2, 3], n[2]),
                    reading: None,
                };
                board::resize(state, pick(&["wall", "shelf"], n[3]), to, unhang, now).map(Some)
            }
            18 => board::block(state, pick(&MARKS, n[0]), "bracket", unhang, now).map(Some),
            19 => board::unblock(state, pick(&MARKS, n[0]), now).map(Some),
            20 if n[1].is_multiple_of(2) => {
                let places = u8::try_from(n[2] % 4).unwrap();
                board::places(state, pick(&MARKS, n[0]), places, unhang, now).map(Some)
            }
            20 => self.families(n).map(Some),
            21 if n[0].is_multiple_of(3) => self.history.redo().map(Some),
            21 => self.history.undo().map(Some),
            22..=27 => self.marks(what, n).map(Some),
            _ => Ok(None),
        }
    }

    /// Orders, makes, renames and gives up families, and puts cards in them.
    fn families(&self, n: [u16; 5]) -> Result<Event, Refusal> {
        let state = &self.state;
        let name = pick(&FAMILIES, n[0]);
        match n[3] % 8 {
            0 => family::add(state, name),
            1 => family::rename(state, name, pick(&FAMILIES, n[2])),
            2 => family::remove(state, name),
            3 => family::assign(state, name, &some_cards(state, n[2])),
            4 => family::unassign(state, &some_cards(state, n[2])),
            5 => family::order_by_colour(state),
            6 => Ok(family::order_wall(state, WallOrder::Lightness)),
            _ => family::order(state, &[name.to_owned()]),
        }
    }

    /// Says of cards, families and hooks what a re-hang is to leave alone.
    fn marks(&self, what: u8, n: [u16; 5]) -> Result<Event, Refusal> {
        let state = &self.state;
        let cards = some_cards(state, n[0]);
        let mark = pick(&MARKS, n[1]);
        let families = [pick(&FAMILIES, n[2]).to_owned()];
        match what {
            22 => pin::pin(state, &cards),
            23 if n[3].is_multiple_of(4) => pin::unpin_all(state),
            23 => pin::unpin(state, &cards),
            24 => pin::weigh(state, &cards, Weight::new(n[1] % 4).ok()),
            25 if n[3].is_multiple_of(2) => pin::pin_families(state, &families),
            25 => pin::unpin_families(state, &families),
            26 => pin::keep_free(state, mark),
            27 if n[4].is_multiple_of(2) => {
                let all: Vec<CardId> = state.cards().map(|kept| kept.card.id).collect();
                let card = pick(&[&all[..], &[CardId(99)]].concat(), n[0]);
                hang::hang(state, card, mark, self.now())
            }
            _ => pin::use_again(state, mark),
        }
    }

    /// Goes on with the re-hang underway, or gives it up.
    fn go_on(&mut self, n: [u16; 5]) {
        let steps = match rehang::remaining(&self.state) {
            Ok(steps) => steps,
            Err(refusal) => {
                assert_eq!(refusal.code(), "aim_lost");
                Vec::new()
            }
        };
        let most = usize::from(n[1] % 8).min(steps.len());
        if most == 0 {
            let event = rehang::give_up(&self.state).unwrap();
            return self.commit(event);
        }
        for event in rehang::steps(&self.state, &steps[..most], self.now()).unwrap() {
            self.commit(event);
        }
        assert_eq!(self.state.underway().is_none(), most == steps.len());
        if let Some(underway) = self.state.underway() {
            assert!(underway.done >= 1);
            let left = rehang::remaining(&self.state).unwrap();
            assert!(!left.is_empty() && left.len() <= steps.len());
        }
    }

    /// Lines of a key written, moved and struck out, and rings opened for projects.
    fn write_in_a_key(&self, n: [u16; 5]) -> Result<Option<Event>, Refusal> {
        use crate::stash::command::key::edit;

        let (state, project) = (&self.state, pick(&PROJECTS, n[1]));
        let at = usize::from(n[2] % 6);
        match n[0] % 5 {
            0 => ring::open(state, project, self.now()).map(Some),
            1 => edit::strike(state, state.need_ring(project)?, at),
            2 => edit::shift(state, state.need_ring(project)?, at, usize::from(n[3] % 6)),
            _ => {
                let row = key_rows(n).into_iter().next().unwrap_or_default();
                let at = n[3].is_multiple_of(2).then_some(at);
                edit::write(state, state.need_ring(project)?, at, &row)
            }
        }
    }

    /// Keys, cloth and purchases.
    fn project_command(&self, choice: Choice) -> Result<Option<Event>, Refusal> {
        use crate::stash::command::fabric::{self, Said};
        use crate::stash::command::progress::{self, Progress};
        use crate::stash::command::{buy, key};

        let (state, now) = (&self.state, self.now());
        let (what, n) = choice;
        match what - OF_PROJECTS {
            0..=1 => Ok(key::import(
                state,
                &key_rows(n),
                Vec::new(),
                pick(&PROJECTS, n[4]),
                &Terms::default(),
                now,
            )?
            .event),
            2 => {
                let said = Said {
                    count: perhaps(&[3, 11, 14, 28], n[2]),
                    over: perhaps(&[1, 2], n[3]),
                    waste_mm: perhaps(&[0, 60, 900], n[4]),
                    ..Said::default()
                };
                fabric::set(state.need_ring(pick(&PROJECTS, n[1]))?, &said)
            }
            9 => {
                let ring = state.need_ring(pick(&PROJECTS, n[1]))?;
                let said = if n[2].is_multiple_of(3) {
                    let percent = (n[3] % 101).to_string().parse().unwrap();
                    Progress::Done {
                        colour: None,
                        percent,
                    }
                } else {
                    let amount = Strands(u32::from(n[3] % 50));
                    let colour = pick(&NUMBERS, n[4]);
                    Progress::Used { colour, amount }
                };
                progress::set(state, ring, said)
            }
            10..=11 => self.look_at_the_wall(n).map(Some),
            12.. => self.write_in_a_key(n),
            4.. => self.thread_command(what - OF_PROJECTS, n).map(Some),
            3 => {
                let projects = PROJECTS.map(str::to_owned);
                let some = usize::from(n[0]) % (PROJECTS.len() + 1);
                let words = if n[1].is_multiple_of(2) {
                    vec![format!("{}={}", pick(&NUMBERS, n[2]), n[3] % 4)]
                } else {
                    projects[..some].to_vec()
                };
                buy::bought(state, &buy::meant(state, &words)?, now).map(Some)
            }
        }
    }

    /// Some hooks are looked at, where some cards hang, or a card is hung on its own hook.
    fn look_at_the_wall(&self, n: [u16; 5]) -> Result<Event, Refusal> {
        use crate::stash::rollcall::{Sighting, hang_home, record, report};

        let (state, now) = (&self.state, self.now());
        if n[4].is_multiple_of(3) {
            let astray = |kept: &&Kept| kept.home != kept.place.at.hook();
            let card = state.cards().filter(astray).last();
            let card = card.map_or(CardId(1), |kept| kept.card.id);
            return hang_home(state, card, now);
        }
        let mut sightings: Vec<Sighting> = state
            .hooks()
            .zip(0..16)
            .filter(|(_, bit)| n[0] >> bit & 1 == 1)
            .map(|(hook, _)| Sighting {
                hook,
                cards: Vec::new(),
            })
            .collect();
        let count = sightings.len().max(1);
        for (at, card) in some_cards(state, n[1]).into_iter().enumerate() {
            if let Some(sighting) = sightings.get_mut((at + usize::from(n[2])) % count) {
                sighting.cards.push(card);
            }
        }
        Ok(record(&report(state, &sightings)?, now))
    }

    /// Thread that is decanted, wound back and used.
    fn thread_command(&self, what: u8, n: [u16; 5]) -> Result<Event, Refusal> {
        use crate::stash::command::thread;

        let (state, project) = (&self.state, pick(&PROJECTS, n[1]));
        let cards: Vec<CardId> = state.cards().map(|kept| kept.card.id).collect();
        let card = pick(&[&cards[..], &[CardId(99)]].concat(), n[0]);
        let amount = Strands(u32::from(n[2] % 30));
        match what {
            4..=5 => thread::decant(state, project, card, amount, "", self.now()),
            6 => {
                // Few cards were split, so one that was is looked for.
                let split = state.cards().find_map(|kept| kept.card.parent);
                thread::merge(state, state.need_ring(project)?, split.unwrap_or(card))
            }
            7 => thread::use_thread(state, state.find_ring(project), card, amount),
            _ => thread::use_thread(state, None, card, amount),
        }
    }

    /// Takes a plan and does some or all of its steps.
    fn rehang(&mut self, n: [u16; 5]) {
        if self.state.underway().is_some() && n[3].is_multiple_of(4) {
            return self.go_on(n);
        }
        let few = self.state.cards().len() <= 5;
        let plans = match rehang::plans(&self.state) {
            Ok(plans) => plans,
            Err(refusal) => {
                if few && !["no_board", "no_stock"].contains(&refusal.code()) {
                    let least = least_weight(&self.state, &Ask::default());
                    assert_eq!(least, None, "{refusal}");
                }
                return;
            }
        };
        if few {
            let least = least_weight(&self.state, &Ask::default());
            assert_eq!(Some(plans[0].weight), least);
        }
        let plan = pick(&plans, n[0]);
        let mut begun = false;
        if !n[3].is_multiple_of(3)
            && let Ok(event) = rehang::begin(&self.state, &plan, self.now())
        {
            self.commit(event);
            begun = true;
        }
        let steps = plan.steps.len();
        let done = if n[1].is_multiple_of(2) {
            steps
        } else {
            usize::from(n[2]) % (steps + 1)
        };
        let before = self.state.clone();
        for step in &plan.steps[..done] {
            let event = rehang::step(&self.state, step, self.now()).unwrap();
            self.commit(event);
        }
        if done < steps {
            return;
        }
        assert!(!begun || self.state.underway().is_none());
        let homes = plan
            .homes
            .iter()
            .map(|&(id, _)| self.state.card(id).unwrap());
        let wanted = self.state.in_wanted_order(homes.clone());
        assert!(
            wanted.iter().copied().eq(homes.clone()),
            "not the order wanted"
        );
        let places: Vec<_> = homes
            .map(|kept| {
                let hook = kept.home.unwrap();
                (
                    hook.board,
                    self.state.board(hook.board).unwrap().reading_index(hook),
                )
            })
            .collect();
        assert!(places.is_sorted(), "{places:?}");
        for &(id, hook) in &plan.homes {
            let (old, new) = (before.card(id).unwrap(), self.state.card(id).unwrap());
            assert_eq!(new.home, Some(hook));
            let away = matches!(
                old.place.at,
                Whereabouts::Ring { .. } | Whereabouts::Missing { .. }
            );
            let here = Whereabouts::Hook { hook };
            // A card that keeps its home and hangs elsewhere is no matter for a re-hang.
            let left_alone = !plan.steps.iter().any(|step| step.card == id);
            let stays = away || left_alone;
            assert_eq!(&new.place.at, if stays { &old.place.at } else { &here });
        }
    }
}

fn stock_rows(n: [u16; 5]) -> Vec<StockRow> {
    let count = 1 + n[0] % 4;
    (0..count)
        .map(|at| {
            // Each row reads the numbers a little further on.
            let [a, b, c, d] = [n[1], n[2], n[3], n[4]].map(|n| n.rotate_right(u32::from(at) * 3));
            StockRow {
                line: u64::from(at) + 2,
                range: pick(&RANGES, a).map(str::to_owned),
                number: pick(&NUMBERS, b).to_owned(),
                name: c.is_multiple_of(4).then(|| "lamp black".to_owned()),
                colour: perhaps(&COLOURS, c).map(|hex| hex.parse().unwrap()),
                family: d
                    .is_multiple_of(3)
                    .then(|| pick(&FAMILIES, d / 3).to_owned()),
                amount: match c % 5 {
                    0 => Some(Amount::Lengths(f64::from(d % 50) / 6.0)),
                    1 => Some(Amount::Skeins(f64::from(d % 3) / 2.0)),
                    _ => None,
                },
                reserve: d.is_multiple_of(5).then_some(2),
                hook: perhaps(&MARKS, d).map(str::to_owned),
                ..StockRow::default()
            }
        })
        .collect()
}

fn key_rows(n: [u16; 5]) -> Vec<KeyRow> {
    (0..=n[0] % 4)
        .map(|at| {
            let n = n.map(|n| n.rotate_right(u32::from(at) * 3));
            KeyRow {
                line: u64::from(at) + 2,
                range: pick(&RANGES, n[1]).map(str::to_owned),
                number: pick(&NUMBERS, n[2]).to_owned(),
                name: perhaps(&["plum jam", "moss"], n[3]).map(str::to_owned),
                colour: perhaps(&COLOURS, n[4]).map(|hex| hex.parse().unwrap()),
                strands: u8::try_from(n[3] % 4).unwrap(),
                stitches: u32::from(n[4] % 5_000),
                backstitch: u32::from(n[3] % 300),
                ..KeyRow::default()
            }
        })
        .collect()
}

fn shade_rows(n: [u16; 5]) -> Vec<ShadeRow> {
    (0..=n[0] % 3)
        .map(|at| {
            let n = n.map(|n| n.rotate_right(u32::from(at) * 3));
            ShadeRow {
                line: u64::from(at) + 2,
                number: pick(&NUMBERS, n[1]).to_owned(),
                name: perhaps(&["plum jam", "moss"], n[2])
                    .unwrap_or("")
                    .to_owned(),
                colour: perhaps(&COLOURS, n[3]).map(|hex| hex.parse().unwrap()),
                family: perhaps(&FAMILIES, n[4]).map(str::to_owned),
            }
        })
        .collect()
}

/// Anything that can happen to a stash.
pub(crate) fn a_choice() -> impl Strategy<Value = Choice> {
    let project = (OF_PROJECTS..OF_PROJECTS + 13, any::<[u16; 5]>());
    let any = (0..32u8, any::<[u16; 5]>());
    prop_oneof![5 => any, 2 => project]
}

/// A life of a stash, with so many choices after a board and some cards.
pub(crate) fn choices(most: usize) -> impl Strategy<Value = Vec<Choice>> {
    // A board and some cards first, or nothing much would come of the rest.
    let board = any::<[u16; 5]>().prop_map(|n| (16, n));
    let stock = any::<[u16; 5]>().prop_map(|n| (0, n));
    (
        board,
        prop::collection::vec(stock, 2),
        prop::collection::vec(a_choice(), 0..most),
    )
        .prop_map(|(board, stock, rest)| {
            let mut choices = vec![board];
            choices.extend(stock);
            choices.extend(rest);
            choices
        })
}

proptest! {
    #[test]
    fn a_stash_keeps_its_laws_through_any_life(choices in choices(34)) {
        let mut life = Life::default();
        for choice in choices {
            life.live(choice);
        }
        let mut replayed = State::default();
        for event in &life.events {
            replayed.apply(event).unwrap();
        }
        prop_assert_eq!(&replayed, &life.state);
        prop_assert_eq!(replayed.index(), life.state.index());

        assert_promises_are_kept(&life.state);
        let end = life.state.clone();
        let mut undone = 0;
        while let Ok(event) = life.history.undo() {
            life.commit(event);
            undone += 1;
        }
        prop_assert_eq!(&life.state, &State::default());
        for _ in 0..undone {
            let event = life.history.redo().unwrap();
            life.commit(event);
        }
        prop_assert_eq!(life.state, end);
    }
}

/// A ring with a key and every card on it, and then little but use, keys and second thoughts.
fn stitching() -> impl Strategy<Value = Vec<Choice>> {
    let any = any::<[u16; 5]>;
    let harbour = |[a, b, c, d, _]: [u16; 5]| [a, b, c, d, 0];
    let key = move || any().prop_map(move |n| (OF_PROJECTS, harbour(n)));
    let start = (
        any().prop_map(|n| (16, n)),
        prop::collection::vec(any().prop_map(|n| (0, n)), 3),
        key(),
    );
    let used = (OF_PROJECTS + 7..OF_PROJECTS + 10, any());
    let turned = any().prop_map(|n| (21, n));
    let rest = prop::collection::vec(prop_oneof![6 => used, 3 => turned, 2 => key()], 10..40);
    (start, rest).prop_map(|((board, stock, key), rest)| {
        let take = (6, [u16::MAX, 0, 0, 0, 0]);
        [vec![board], stock, vec![key, take], rest].concat()
    })
}

proptest! {
    #[test]
    fn what_a_key_used_is_the_sum_of_what_was_used_for_it(choices in stitching()) {
        let mut life = Life::default();
        for choice in choices {
            life.live(choice);
        }
    }
}

#[test]
fn an_event_of_a_card_without_a_place_is_refused_and_leaves_nothing() {
    let mut state = crate::stash::testing::wall(1, 1, 1);
    let before = state.clone();
    let event = Event {
        act: Act::OrderFamilies,
        changes: vec![Change::Thread {
            card: CardId(7),
            before: Strands(0),
            after: Strands(3),
        }],
    };
    let misfit = state.apply(&event).unwrap_err();
    assert_eq!(
        misfit.to_string(),
        "change 1 of the event does not fit: a card's place is not as the event says it was"
    );
    assert_eq!(state, before);
    assert_sound(&state);
}

#[test]
fn a_missing_card_remembers_where_it_was() {
    let mut state = crate::stash::testing::wall(1, 1, 1);
    crate::stash::testing::bring_in(&mut state, &["1@A01"]);
    let event = ring::missing(&state, &[CardId(1)], at(1)).unwrap();
    crate::stash::testing::apply(&mut state, &event);
    let hook = state.find_mark("A01").unwrap();
    assert_eq!(
        state.card(CardId(1)).unwrap().place.at,
        Whereabouts::Missing {
            last_seen: LastSeen::Hook(hook)
        }
    );
}
