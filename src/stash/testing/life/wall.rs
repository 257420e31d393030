//! Random actions on boards, cards, rings and families, and re-hangs.

use super::projects::{card_rows, range_rows};
use super::{FAMILIES, HOOK_NAMES, Life, PROJECTS, TAGS, perhaps, pick, some_cards};
use crate::model::card::{Effort, WallOrder};
use crate::model::ids::CardId;
use crate::model::label::Name;
use crate::model::whereabouts::{Loan, Whereabouts};
use crate::stash::command::board::{BoardSize, Unhang};
use crate::stash::command::import::{CardRow, Terms};
use crate::stash::command::rehang::{PlanRequest, RehangPlan};
use crate::stash::command::rollcall::{Sighting, confirm, hang_home, record, report};
use crate::stash::command::{board, card, family, hang, hold, import, rehang, ring};
use crate::stash::event::Event;
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};
use crate::stash::testing::least_effort;

impl Life {
    pub(super) fn command(&self, what: u8, n: [u16; 5]) -> Result<Option<Event>, Refusal> {
        match what {
            0..=5 => self.lists(what, n),
            6..=13 => self.rings(what, n).map(Some),
            14..=15 => self.away(what, n).map(Some),
            20 if !n[1].is_multiple_of(2) => self.families(n).map(Some),
            16..=20 => self.boards(what, n).map(Some),
            21 if n[0].is_multiple_of(3) => self.history.redo().map(Some),
            21 => self.history.undo().map(Some),
            22..=27 => self.left_alone(what, n).map(Some),
            _ => Ok(None),
        }
    }

    /// Imports lists, and adds or renames single cards.
    fn lists(&self, what: u8, n: [u16; 5]) -> Result<Option<Event>, Refusal> {
        let (state, now) = (&self.state, self.now());
        match what {
            0..=4 => Ok(import::card_list(
                state,
                &card_rows(n),
                Vec::new(),
                &Terms {
                    range: None,
                    strict: n[4].is_multiple_of(8),
                    add: n[3].is_multiple_of(4),
                    again: n[4].is_multiple_of(2),
                },
                now,
            )?
            .event),
            5 if n[3] % 3 == 1 => {
                let row = card_rows(n).swap_remove(0);
                let tag = perhaps(&TAGS, n[4]).map(str::to_owned);
                card::new_card(state, CardRow { tag, ..row }, now).map(Some)
            }
            5 if n[3] % 3 == 2 => {
                let card = some_cards(state, n[0])
                    .first()
                    .copied()
                    .unwrap_or(CardId(1));
                card::retag(state, card, perhaps(&TAGS, n[4]).unwrap_or_default())
            }
            _ => Ok(import::range(state, &range_rows(n), Vec::new(), "Cove")?.event),
        }
    }

    /// Takes cards to a ring and puts them away, and opens, hangs up and closes rings.
    fn rings(&self, what: u8, n: [u16; 5]) -> Result<Event, Refusal> {
        let (state, now) = (&self.state, self.now());
        let ring = || state.need_ring(pick(&PROJECTS, n[1]));
        match what {
            6..=8 => ring::take(state, pick(&PROJECTS, n[1]), &some_cards(state, n[0]), now),
            9 => {
                let ring = ring()?;
                let on = state.cards_on(ring).map(|kept| kept.card.id);
                let some: Vec<CardId> = on.step_by(1 + usize::from(n[2] % 2)).collect();
                ring::give_back(state, ring, &some, now)
            }
            10 => ring::give_back_all(state, ring()?, now),
            11 => ring::hang_up(state, ring()?, pick(&HOOK_NAMES, n[2]), now),
            12 => ring::take_down(ring()?),
            _ => ring::close(state, ring()?, now),
        }
    }

    /// Moves cards elsewhere or removes them, and marks them as missing or found.
    fn away(&self, what: u8, n: [u16; 5]) -> Result<Event, Refusal> {
        let (state, now) = (&self.state, self.now());
        let cards = || some_cards(state, n[0]);
        match what {
            14 if n[4] % 3 == 1 => {
                let note = pick(&["with a friend", "drawer", ""], n[1]);
                let loan = n[2].is_multiple_of(2).then(|| Loan {
                    whom: Name::new("Cleo").unwrap(),
                    until: perhaps(&[jiff::civil::date(2026, 11, 1)], n[3]),
                });
                card::elsewhere(state, &cards(), note, loan, now)
            }
            14 if n[4] % 3 == 2 && n[3].is_multiple_of(2) => {
                // One at a time, or too few would be left.
                let mut going: Vec<CardId> = cards().into_iter().take(1).collect();
                if n[2].is_multiple_of(2) {
                    let split_cards = going.iter().flat_map(|&card| state.split_cards_of(card));
                    let split_cards: Vec<CardId> = split_cards.map(|kept| kept.card.id).collect();
                    going.extend(split_cards);
                }
                card::remove(state, &going, "moths")
            }
            14 => ring::missing(state, &cards(), now),
            _ => {
                let ids: Vec<CardId> = state
                    .cards()
                    .filter(|k| {
                        matches!(
                            k.place.at,
                            Whereabouts::Missing { .. } | Whereabouts::Elsewhere { .. }
                        )
                    })
                    .map(|kept| kept.card.id)
                    .collect();
                let card = ids.first().copied().unwrap_or(CardId(1));
                ring::found(state, card, now)
            }
        }
    }

    /// Changes boards and their hooks.
    fn boards(&self, what: u8, n: [u16; 5]) -> Result<Event, Refusal> {
        let (state, now) = (&self.state, self.now());
        let unhang = if n[4].is_multiple_of(2) {
            Unhang::Allowed
        } else {
            Unhang::Refused
        };
        match what {
            16 => {
                let (name, prefix) = pick(&[("wall", ""), ("shelf", "2"), ("twin", "2-")], n[0]);
                let mut board = crate::stash::testing::board(name, prefix, 2, 3, 1);
                board.cards_per_hook = u8::try_from(n[1] % 3).unwrap() + 1;
                board.rows = n[2] % 2 + 1;
                board::new_board(state, &board)
            }
            17 => {
                let to = BoardSize {
                    rows: perhaps(&[1, 2], n[0]),
                    columns: perhaps(&[1, 2, 3], n[1]),
                    cards_per_hook: perhaps(&[1, 2, 3], n[2]),
                    reading: None,
                };
                board::resize(state, pick(&["wall", "shelf"], n[3]), to, unhang, now)
            }
            18 => board::block(state, pick(&HOOK_NAMES, n[0]), "bracket", unhang, now),
            19 => board::unblock(state, pick(&HOOK_NAMES, n[0]), now),
            _ => {
                let cards_per_hook = u8::try_from(n[2] % 4).unwrap();
                board::cards_per_hook(state, pick(&HOOK_NAMES, n[0]), cards_per_hook, unhang, now)
            }
        }
    }

    /// Sorts, adds, renames and removes families, and puts cards in them.
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

    /// Sets which cards, families and hooks a re-hang should leave alone.
    fn left_alone(&self, what: u8, n: [u16; 5]) -> Result<Event, Refusal> {
        let state = &self.state;
        let cards = some_cards(state, n[0]);
        let hook_name = pick(&HOOK_NAMES, n[1]);
        let families = [pick(&FAMILIES, n[2]).to_owned()];
        match what {
            22 => hold::hold(state, &cards),
            23 if n[3].is_multiple_of(4) => hold::release_all(state),
            23 => hold::release(state, &cards),
            24 => hold::effort(state, &cards, Effort::new(n[1] % 4).ok()),
            25 if n[3].is_multiple_of(2) => hold::hold_families(state, &families),
            25 => hold::release_families(state, &families),
            26 => hold::reserve(state, hook_name),
            27 if n[4].is_multiple_of(2) => {
                let all: Vec<CardId> = state.cards().map(|kept| kept.card.id).collect();
                let card = pick(&[&all[..], &[CardId(99)]].concat(), n[0]);
                hang::hang(state, card, hook_name, self.now())
            }
            _ => hold::unreserve(state, hook_name),
        }
    }

    /// Checks some hooks where some cards hang, or hangs a card on its own hook.
    pub(super) fn look_at_the_wall(&self, n: [u16; 5]) -> Result<Event, Refusal> {
        let (state, now) = (&self.state, self.now());
        if n[4].is_multiple_of(3) {
            let astray = |kept: &&CardState| kept.home != kept.place.at.hook();
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
        if n[3].is_multiple_of(4) {
            return Ok(confirm(n[4].is_multiple_of(8), sightings));
        }
        Ok(record(&report(state, &sightings)?, now))
    }
}

impl Life {
    /// Takes a plan and does some or all of its steps.
    pub(super) fn rehang(&mut self, n: [u16; 5]) {
        if self.state.underway().is_some() && n[3].is_multiple_of(4) {
            return self.go_on(n);
        }
        let Some(plans) = self.plans() else {
            return;
        };
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
        self.assert_hung(&plan, &before);
    }

    /// The plans; if there are few cards, checks that the first in order has the least effort of
    /// all.
    fn plans(&self) -> Option<Vec<RehangPlan>> {
        let least = || least_effort(&self.state, &PlanRequest::default());
        let few = self.state.cards().len() <= 5;
        match rehang::plans(&self.state) {
            Ok(plans) => {
                if few {
                    assert_eq!(Some(plans[1].effort), least());
                }
                Some(plans)
            }
            Err(refusal) => {
                if few && !["no_board", "no_cards_yet"].contains(&refusal.to_string().as_str()) {
                    assert_eq!(least(), None, "{refusal}");
                }
                None
            }
        }
    }

    /// Checks that after all steps of a plan every card has its planned hook, and hangs there if it
    /// is at hand.
    fn assert_hung(&self, plan: &RehangPlan, before: &State) {
        let homes = plan
            .homes
            .iter()
            .map(|&(id, _)| self.state.card(id).unwrap());
        let wanted = self.state.in_wanted_order(homes.clone());
        assert!(
            wanted.iter().copied().eq(homes.clone()),
            "not the order wanted"
        );
        let strays = rehang::out_of_order(&self.state).len();
        assert!(strays <= plan.disorder.cards(), "{strays}: {plan:?}");
        let cards_per_hook: Vec<_> = homes
            .map(|kept| {
                let hook = kept.home.unwrap();
                (
                    hook.board,
                    self.state.board(hook.board).unwrap().reading_index(hook),
                )
            })
            .collect();
        if plan.disorder.cards() == 0 {
            assert!(cards_per_hook.is_sorted(), "{cards_per_hook:?}");
        }
        for &(id, hook) in &plan.homes {
            let (old, new) = (before.card(id).unwrap(), self.state.card(id).unwrap());
            assert_eq!(new.home, Some(hook));
            let away = matches!(
                old.place.at,
                Whereabouts::Ring { .. }
                    | Whereabouts::Missing { .. }
                    | Whereabouts::Elsewhere { .. }
            );
            let here = Whereabouts::Hook { hook };
            // A card that keeps its hook but hangs elsewhere isn't part of a re-hang.
            let left_alone = !plan.steps.iter().any(|step| step.card == id);
            let stays = away || left_alone;
            assert_eq!(&new.place.at, if stays { &old.place.at } else { &here });
        }
    }

    /// Continues the re-hang underway, or gives it up.
    fn go_on(&mut self, n: [u16; 5]) {
        let steps = match rehang::remaining(&self.state) {
            Ok(steps) => steps,
            Err(refusal) => {
                assert_eq!(refusal.to_string(), "aim_lost");
                Vec::new()
            }
        };
        let most = usize::from(n[1] % 8).min(steps.len());
        if most == 0 {
            let event = rehang::give_up(&self.state).unwrap();
            return self.commit(event);
        }
        // One by one, or as one event.
        if n[1] % 16 < 8 {
            for event in rehang::steps(&self.state, &steps[..most], self.now()).unwrap() {
                self.commit(event);
            }
        } else {
            let event = rehang::all(&self.state, &steps[..most], self.now()).unwrap();
            self.commit(event);
        }
        assert_eq!(self.state.underway().is_none(), most == steps.len());
        if let Some(underway) = self.state.underway() {
            assert!(underway.done >= 1);
            let left = rehang::remaining(&self.state).unwrap();
            assert!(!left.is_empty() && left.len() <= steps.len());
        }
    }
}
