//! Records of real events for the tests, made with the commands of the stash.

use super::format::{self, Entry, Envelope};
use crate::model::ids::{EventId, Stamp};
use crate::model::thread::Strands;
use crate::model::who::Who;
use crate::stash::command::board::{Unhang, block, new_board, unblock};
use crate::stash::command::import::{Terms, card_list};
use crate::stash::command::{family, hold, key, rehang, ring, thread};
use crate::stash::event::Event;
use crate::stash::history::History;
use crate::stash::intake::{Amount, KeyRow};
use crate::stash::refusal::Refusal;
use crate::stash::state::State;
use crate::stash::testing::{at, board, rows};

/// A stash as it comes about, event by event.
#[derive(Default)]
pub(super) struct Life {
    pub(super) state: State,
    history: History,
    pub(super) entries: Vec<Entry<Event>>,
}

const PROJECTS: [&str; 3] = ["Robin", "Harbour at d\u{fc}sk", "Mill \"Pond\""];
const NAMES: [Option<&str>; 3] = [Some("ada"), None, Some("Zo\u{eb} K.")];

impl Life {
    /// A wall with cards on it, brought in by list.
    pub(super) fn begun() -> Life {
        let mut life = Life::default();
        life.act(|state| new_board(state, &board("wall", "", 3, 4, 2)));
        let mut list = rows(&[
            "Hill:1@A01 moss",
            "Hill:2@A02 fern",
            "Hill:3@A03 slate",
            "Hill:4",
            "Hill:310 rose",
            "Moor:5@B01 rust",
        ]);
        for row in &mut list {
            row.amount = Some(Amount::Skeins(2.0));
        }
        let list = card_list(&life.state, &list, Vec::new(), &Terms::default(), at(1)).unwrap();
        life.act(|_| Ok(list.event.unwrap()));
        life
    }

    /// Sixty events of nearly every kind.
    pub(super) fn sixty() -> Life {
        let mut life = Life::begun();
        for number in 0.. {
            if life.entries.len() == 60 {
                return life;
            }
            life.step(number, u16::from(number) * 7 + 3);
        }
        life
    }

    fn act(&mut self, ask: impl FnOnce(&State) -> Result<Event, Refusal>) {
        // What the stash refuses is not recorded, as in life.
        let Ok(event) = ask(&self.state) else { return };
        self.state.apply(&event).unwrap();
        let seq = self.entries.len() as u64 + 1;
        self.history.note(seq, event.clone());
        let by = NAMES[self.entries.len() % 3].map(|name| Who::new(name).unwrap());
        let time = at(self.entries.len() as i64 * 3_600);
        self.entries.push(Entry {
            seq,
            id: EventId(seq << 40),
            stamp: Stamp(seq),
            time,
            by,
            event,
        });
    }

    /// Tries one thing, chosen by two numbers.
    pub(super) fn step(&mut self, kind: u8, number: u16) {
        let now = at(self.entries.len() as i64 * 3_600);
        let n = usize::from(number);
        let project = PROJECTS[n % 3];
        let (undo, redo) = (self.history.undo(), self.history.redo());
        let ids: Vec<_> = self.state.cards().map(|kept| kept.card.id).collect();
        // Where no card is left only what needs none can be done.
        let Some(&card) = ids.get(n / 3 % ids.len().max(1)) else {
            return self.act(|_| redo);
        };
        let hook_name = ["C01", "C02", "C03"][n % 3];
        let strands = Strands(1 + u32::from(number) % 5);
        self.act(|state| match kind % 17 {
            0 => ring::take(state, project, &[card], now),
            1 => ring::hang_up(state, state.need_ring(project)?, hook_name, now),
            2 => ring::give_back(state, state.need_ring(project)?, &[card], now),
            3 => thread::split(state, project, card, strands, None, "for \u{2713}", now),
            4 => thread::use_thread(state, None, card, strands, None),
            5 => thread::merge(state, state.need_ring(project)?, card),
            6 => ring::missing(state, &[card], now),
            7 => ring::found(state, card, now),
            8 | 16 => undo,
            9 => redo,
            10 => {
                let row = |line: u64, number: &str| KeyRow {
                    line,
                    number: number.into(),
                    stitches: 40 + u32::from(line as u16),
                    ..KeyRow::default()
                };
                let list = [row(2, "1"), row(3, "310"), row(4, &number.to_string())];
                let keyed = key::import(state, &list, Vec::new(), project, &Terms::default(), now)?;
                keyed.event.ok_or(Refusal::NothingToRedo)
            }
            11 => {
                let plans = rehang::plans(state)?;
                let steps = plans.first().map(|plan| &plan.steps);
                let step = steps.and_then(|steps| steps.first());
                rehang::step(state, step.ok_or(Refusal::NothingToRedo)?, now)
            }
            12 => {
                let text = format!("Hill:{} new", 400 + u32::from(number));
                let list = card_list(state, &rows(&[&text]), Vec::new(), &Terms::default(), now)?;
                list.event.ok_or(Refusal::NothingToRedo)
            }
            13 => block(state, hook_name, "lamp", Unhang::Refused, now),
            14 => unblock(state, hook_name, now),
            _ if n % 2 == 0 => hold::hold(state, &[card]),
            _ => family::order(state, &["warm".into(), "cool".into()]),
        });
    }

    /// The record's bytes.
    pub(super) fn bytes(&self) -> Vec<u8> {
        bytes_of(&self.entries)
    }
}

/// The bytes of a record with these events.
pub(super) fn bytes_of(entries: &[Entry<Event>]) -> Vec<u8> {
    let (mut bytes, mut sum) = format::header();
    let mut line = Vec::new();
    for entry in entries {
        let envelope = Envelope {
            id: entry.id,
            stamp: entry.stamp,
            time: entry.time,
            by: entry.by.as_ref(),
            state: None,
        };
        sum = format::compose(&mut line, sum, entry.seq, envelope, &entry.event).unwrap();
        bytes.extend_from_slice(&line);
    }
    bytes
}
