//! Lists with rows drawn at random: cards, ranges, chart keys.

use super::{COLOURS, FAMILIES, HOOK_NAMES, LOTS, NUMBERS, RANGES, TAGS, perhaps, pick};
use crate::model::ids::RangeId;
use crate::model::label::{Label, Name};
use crate::model::number::Number;
use crate::model::ring::{
    ColourRef, KeyLine, KeyThread, KeyWork, Needle, Notion, NotionKind, StitchCounts,
};
use crate::stash::command::import::{Amount, CardRow, KeyRow, RangeRow};
use crate::stash::state::State;

pub(super) fn card_rows(n: [u16; 5]) -> Vec<CardRow> {
    let count = 1 + n[0] % 4;
    (0..count)
        .map(|at| {
            // Each row reads the numbers a little further on.
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
                dye_lot: perhaps(&LOTS, a / 3).map(str::to_owned),
                hook: perhaps(&HOOK_NAMES, d).map(str::to_owned),
                tag: (a % 5 == 1).then(|| pick(&TAGS, b).to_owned()),
                ..CardRow::default()
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

/// A line of a key: a notion, or one to three threads of the ranges there are.
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
    // Threads that cannot be in one needle make a notion.
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
