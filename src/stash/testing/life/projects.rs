//! Random actions for projects: chart keys, fabric, purchases, thread used and wound. Also lists
//! with random rows: cards, ranges, chart keys.

use super::{
    COLOURS, Choice, FAMILIES, HOOK_NAMES, LOTS, Life, NUMBERS, OF_PROJECTS, PROJECTS, RANGES,
    TAGS, perhaps, pick,
};
use crate::model::ids::{CardId, PurchaseId, RangeId};
use crate::model::label::{Label, Name};
use crate::model::number::Number;
use crate::model::range::{PerleSize, PutUp, Range, ThreadKind};
use crate::model::ring::{
    ColourRef, KeyLine, KeyThread, KeyWork, Needle, Notion, NotionKind, StitchCounts,
};
use crate::model::thread::{Lot, Strands, ThreadPart};
use crate::stash::command::buy::{self, Skeins};
use crate::stash::command::fabric::{self, Said};
use crate::stash::command::import::{self, Amount, CardRow, KeyRow, MatchRow, RangeRow, Terms};
use crate::stash::command::progress::{self, Progress};
use crate::stash::command::thread::{Counted, CutAmount};
use crate::stash::command::{key, range, ring, thread};
use crate::stash::event::{Act, AmountChange, Change, Event, Mark};
use crate::stash::projects::kit::{check, rings_named};
use crate::stash::projects::pull::pull;
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};

fn lot(n: u16) -> Lot {
    Lot(Label::new(pick(&LOTS, n)).unwrap())
}

impl Life {
    /// Keys, fabric and purchases.
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
                    Progress::Used {
                        colour: pick(&NUMBERS, n[4]),
                        lengths: u32::from(n[2] % 2),
                        strands: u32::from(n[3] % 50),
                    }
                };
                progress::set(state, ring, said)
            }
            10..=11 => self.look_at_the_wall(n).map(Some),
            12 => self.write_in_a_key(n),
            15 => {
                let replace = n[4].is_multiple_of(3);
                Ok(import::matches(state, &match_rows(n), Vec::new(), replace)?.event)
            }
            13.. => Ok(self.say_of_thread(n)),
            4.. => self.thread_command(what - OF_PROJECTS, n).map(Some),
            3 => self.purchase(n).map(Some),
        }
    }

    /// Skeins bought for projects, or for a colour.
    fn purchase(&self, n: [u16; 5]) -> Result<Event, Refusal> {
        let state = &self.state;
        let projects = PROJECTS.map(str::to_owned);
        let some = usize::from(n[0]) % (PROJECTS.len() + 1);
        let words = if n[1].is_multiple_of(2) {
            vec![format!("{}={}", pick(&NUMBERS, n[2]), n[3] % 4)]
        } else {
            projects[..some].to_vec()
        };
        let mut skeins = buy::meant(state, &words)?;
        for (of, n) in skeins.iter_mut().zip(&n[3..]) {
            of.lot = lot(*n);
        }
        // The same colour in another lot.
        if let Some(first) = skeins.first().filter(|_| n[4].is_multiple_of(3)) {
            let more = Skeins {
                lot: lot(n[2]),
                ..first.clone()
            };
            skeins.push(more);
        }
        buy::bought(state, &skeins, self.now())
    }

    /// Writes, moves and removes lines of a key, and opens rings for projects.
    fn write_in_a_key(&self, n: [u16; 5]) -> Result<Option<Event>, Refusal> {
        let (state, project) = (&self.state, pick(&PROJECTS, n[1]));
        let at = usize::from(n[2] % 6);
        match n[0] % 9 {
            0 => ring::open(state, project, self.now()).map(Some),
            1 => key::strike(state.need_ring(project)?, at),
            2 => key::shift(state.need_ring(project)?, at, usize::from(n[3] % 6)),
            3..=5 => {
                let at = n[3].is_multiple_of(2).then_some(at);
                key::put(state.need_ring(project)?, at, key_line(state, n))
            }
            6 => {
                let line = key_line(state, n);
                let with = line.threads().first().map(|thread| thread.colour.clone());
                let thread = usize::from(n[4] % 3);
                key::stitch_with(state.need_ring(project)?, at, thread, with)
            }
            _ => {
                let row = key_rows(n).into_iter().next().unwrap_or_default();
                let at = n[3].is_multiple_of(2).then_some(at);
                key::write(state, state.need_ring(project)?, at, &row, None)
            }
        }
    }

    /// Sets the kind of thread of a range or card, whether a shade is variegated, where the skeins
    /// of a lot are stored, and the rest of a part-used skein.
    fn say_of_thread(&self, n: [u16; 5]) -> Option<Event> {
        let perle = ThreadKind::Perle {
            size: PerleSize::new(5).unwrap(),
        };
        let kinds = [
            ThreadKind::Stranded,
            ThreadKind::Silk,
            perle,
            ThreadKind::Wool,
        ];
        let put_up = PutUp::usual(pick(&kinds, n[3]));
        let cards: Vec<&CardState> = self.state.cards().collect();
        let kept = cards.get(usize::from(n[1]) % cards.len().max(1));
        match n[0] % 12 {
            4..=8 => self.cut_or_counted(n),
            9..=11 => self.said_of_colours_and_projects(n),
            0 => self.put_up_of_a_range(put_up, n),
            1 => {
                let before = kept?.card.clone();
                let mut after = before.clone();
                after.put_up = n[4].is_multiple_of(2).then_some(put_up);
                after.variegated = n[4].is_multiple_of(3);
                let act = Act::ChangeCard { card: before.id };
                let changes = vec![Change::Card {
                    before: Some(before),
                    after: Some(after),
                }];
                Some(Event { act, changes })
            }
            _ => {
                let kept = kept?;
                let card = kept.card.id;
                let (lot, of) = kept.thread.lots().nth(usize::from(n[2] % 2))?;
                let at = Label::new(pick(&["drawer", "", "box 3"], n[3])).unwrap();
                let amount = AmountChange::plus((n[4] % 900).into());
                let changes = vec![
                    Change::Lot {
                        card,
                        lot: lot.clone(),
                        before: Some(of.kept_at.clone()),
                        after: Some(at),
                    },
                    Change::Thread {
                        card,
                        lot: lot.clone(),
                        part: ThreadPart::PartCm,
                        amount,
                    },
                ];
                let act = Act::ChangeCard { card };
                Some(Event { act, changes })
            }
        }
    }

    /// Sets the put-up of a range, and whether its shades are variegated.
    fn put_up_of_a_range(&self, put_up: PutUp, n: [u16; 5]) -> Option<Event> {
        let ranges: Vec<&Range> = self.state.ranges().collect();
        let before = *ranges.get(usize::from(n[1]) % ranges.len().max(1))?;
        let mut after = before.clone();
        after.put_up = put_up;
        let variegated = n[4].is_multiple_of(2);
        for shade in after.shades.values_mut() {
            shade.variegated = variegated;
        }
        let act = Act::ImportRange {
            range: before.id,
            shades: 0,
        };
        let changes = vec![Change::Range {
            before: Some(before.clone()),
            after: Some(after),
        }];
        Some(Event { act, changes })
    }

    /// Cuts or counts thread, or cuts it while fetching a kit, with or without a requested lot.
    fn cut_or_counted(&self, n: [u16; 5]) -> Option<Event> {
        let (state, project) = (&self.state, pick(&PROJECTS, n[1]));
        let cards: Vec<&CardState> = state.cards().collect();
        let kept = *cards.get(usize::from(n[1]) % cards.len().max(1))?;
        let card = kept.card.id;
        let lots: Vec<&Lot> = kept.thread.lots().map(|(lot, _)| lot).collect();
        let named = lots.get(usize::from(n[2] % 4)).copied();
        let many = u32::from(n[3] % 12);
        let event = match n[0] % 12 {
            4 => thread::cut(state, card, CutAmount::Lengths(many), named),
            5 => thread::cut(state, card, CutAmount::Skeins(many % 3), named),
            6 => {
                let say = |at: usize, amount: u32| n[at].is_multiple_of(2).then_some(amount);
                let counted = Counted {
                    strands: say(3, many).map(Strands),
                    part_cm: say(4, many * 50),
                    skeins: say(2, many % 4),
                };
                return thread::count(state, card, counted, named).ok()?;
            }
            _ => {
                let rings = rings_named(state, &[project.to_owned()]).ok()?;
                let pull = pull(state, check(state, &rings).projects.first()?);
                thread::fetch(state, project, &pull.take, &pull.cut, self.now())
            }
        };
        event.ok()
    }

    /// Marks and wants colours, and sets the status and the order of projects.
    fn said_of_colours_and_projects(&self, n: [u16; 5]) -> Option<Event> {
        let state = &self.state;
        let names = [
            pick(&NUMBERS, n[1]).to_owned(),
            pick(&NUMBERS, n[2]).to_owned(),
        ];
        match n[3] % 4 {
            0 => {
                let mark = pick(&[Mark::Variegated, Mark::Discontinued], n[4]);
                range::mark(state, &names, mark, n[2].is_multiple_of(2)).ok()
            }
            1 => range::want(state, &names[..1], u32::from(n[4] % 3)).ok(),
            2 => {
                let ring = state.need_ring(pick(&PROJECTS, n[1])).ok()?;
                ring::status(ring, pick(&["waiting for linen", ""], n[4])).ok()?
            }
            _ => {
                let names = PROJECTS.map(str::to_owned);
                ring::order(state, &names[usize::from(n[4] % 2)..]).ok()
            }
        }
    }

    /// Splits off, rejoins and uses thread.
    fn thread_command(&self, what: u8, n: [u16; 5]) -> Result<Event, Refusal> {
        let (state, project) = (&self.state, pick(&PROJECTS, n[1]));
        let cards: Vec<CardId> = state.cards().map(|kept| kept.card.id).collect();
        let card = pick(&[&cards[..], &[CardId(99)]].concat(), n[0]);
        let amount = Strands(u32::from(n[2] % 30));
        let named = (n[3] % 4 == 1).then(|| lot(n[4]));
        let named = named.as_ref();
        match what {
            4..=5 => thread::split(state, project, card, amount, named, "", self.now()),
            6 => {
                // Few cards have been split, so search for one.
                let split = state.cards().find_map(|kept| kept.card.parent);
                thread::merge(state, state.need_ring(project)?, split.unwrap_or(card))
            }
            7 => thread::use_thread(state, state.find_ring(project), card, amount, named),
            _ => thread::use_thread(state, None, card, amount, named),
        }
    }
}

pub(super) fn card_rows(n: [u16; 5]) -> Vec<CardRow> {
    let count = 1 + n[0] % 4;
    (0..count)
        .map(|at| {
            // Each row reads the numbers shifted a little further.
            let [a, b, c, d] = [n[1], n[2], n[3], n[4]].map(|n| n.rotate_right(u32::from(at) * 3));
            CardRow {
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
                uncut: d.is_multiple_of(5).then_some(2),
                part_cm: d.is_multiple_of(7).then_some(350),
                dye_lot: perhaps(&LOTS, a / 3).map(str::to_owned),
                hook: perhaps(&HOOK_NAMES, d).map(str::to_owned),
                tag: (a % 5 == 1).then(|| pick(&TAGS, b).to_owned()),
                purchase: (n[4] % 6 == 5).then(|| PurchaseId::first_of(u32::from(n[0] % 3))),
                ..CardRow::default()
            }
        })
        .collect()
}

/// Rows of a conversion list, some of which aren't acceptable.
fn match_rows(n: [u16; 5]) -> Vec<MatchRow> {
    (0..=n[0] % 4)
        .map(|at| {
            let n = n.map(|n| n.rotate_right(u32::from(at) * 3));
            let range =
                |n: u16| pick(&["Cove", "sandbank", "Cove", "Sandbank", "Sand"], n).to_owned();
            MatchRow {
                line: u64::from(at) + 2,
                range: Some(range(n[1])),
                number: pick(&NUMBERS, n[2]).to_owned(),
                match_range: Some(range(n[3])),
                match_number: pick(&NUMBERS, n[4]).to_owned(),
            }
        })
        .collect()
}

pub(super) fn key_rows(n: [u16; 5]) -> Vec<KeyRow> {
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

/// A line of a chart key: a notion, or one to three threads of the existing ranges.
pub(super) fn key_line(state: &State, n: [u16; 5]) -> KeyLine {
    let ranges: Vec<RangeId> = state.ranges().map(|range| range.id).collect();
    let symbol = Label::new(pick(&["x", "", "o"], n[4])).unwrap();
    let notion = || {
        let kinds = [
            NotionKind::Bead,
            NotionKind::Button,
            NotionKind::MetallicOrnament,
            NotionKind::Other,
        ];
        KeyWork::Notion(Notion {
            name: Name::new("brass star").unwrap(),
            kind: pick(&kinds, n[2]),
            pieces: u32::from(n[3] % 40),
        })
    };
    let threads: Vec<KeyThread> = (0..=n[0] % 3)
        .filter(|_| !ranges.is_empty())
        .map(|at| {
            let n = n.map(|n| n.rotate_right(u32::from(at) * 3));
            let colour = |range, number| {
                ColourRef::new(
                    pick(&ranges, range),
                    Number::new(pick(&NUMBERS, number)).unwrap(),
                )
            };
            KeyThread {
                strands: u8::try_from(n[3] % 4).unwrap(),
                stitched_with: n[4].is_multiple_of(3).then(|| colour(n[3], n[1])),
                ..KeyThread::new(colour(n[1], n[2]))
            }
        })
        .collect();
    // Threads that can't be in one needle make a notion.
    let work = match Needle::new(threads) {
        Ok(needle) if !n[1].is_multiple_of(4) => KeyWork::Threads {
            needle,
            stitches: StitchCounts {
                full: u32::from(n[4] % 5_000),
                backstitch: u32::from(n[3] % 300),
                ..StitchCounts::default()
            },
        },
        _ => notion(),
    };
    KeyLine { symbol, work }
}

pub(super) fn range_rows(n: [u16; 5]) -> Vec<RangeRow> {
    (0..=n[0] % 3)
        .map(|at| {
            let n = n.map(|n| n.rotate_right(u32::from(at) * 3));
            RangeRow {
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
