//! What is done for projects: keys, cloth, purchases, thread used and wound.

use super::lists::key_rows;
use super::{Choice, Life, NUMBERS, OF_PROJECTS, PROJECTS, perhaps, pick};
use crate::model::ids::CardId;
use crate::model::thread::Strands;
use crate::stash::command::fabric::{self, Said};
use crate::stash::command::import::Terms;
use crate::stash::command::key::edit;
use crate::stash::command::progress::{self, Progress};
use crate::stash::command::{buy, key, ring, thread};
use crate::stash::event::Event;
use crate::stash::refusal::Refusal;

impl Life {
    /// Keys, cloth and purchases.
    pub(super) fn project_command(&self, choice: Choice) -> Result<Option<Event>, Refusal> {
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

    /// Lines of a key written, moved and struck out, and rings opened for projects.
    fn write_in_a_key(&self, n: [u16; 5]) -> Result<Option<Event>, Refusal> {
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

    /// Thread that is decanted, wound back and used.
    fn thread_command(&self, what: u8, n: [u16; 5]) -> Result<Event, Refusal> {
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
}
