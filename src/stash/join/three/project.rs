//! Rings and their keys.

use super::super::lived::Topic;
use super::super::sheet::Sheet;
use super::{Asking, every, left, spelling};
use crate::language::{one_or_many, say, word};
use crate::model::ids::CardId;
use crate::model::ring::{KeyEntry, Ring, RingState};
use crate::stash::kit::words::assumptions_in_words;
use crate::stash::state::State;

pub(super) fn rings(asking: &mut Asking<'_>, base: &State, sheet: &mut Sheet) {
    let ids = [base, asking.ours, asking.theirs].map(|of| of.rings().map(|ring| ring.id));
    for id in every(ids) {
        let (was, mine, theirs) = (base.ring(id), asking.ours.ring(id), asking.theirs.ring(id));
        let ring = match (was, mine, theirs) {
            (was, Some(mine), Some(theirs)) => Some(ring(asking, was, mine, theirs)),
            (None, mine, theirs) => mine.or(theirs).cloned(),
            (Some(was), mine, theirs) => left(was, mine.or(theirs)).cloned(),
        };
        if let Some(ring) = ring {
            sheet.rings.insert(id, ring);
        }
    }
}

fn ring(asking: &mut Asking<'_>, was: Option<&Ring>, mine: &Ring, theirs: &Ring) -> Ring {
    let topic = Topic::Ring(mine.id);
    let called = mine.project.clone();
    let blank = Ring {
        id: mine.id,
        project: mine.project.clone(),
        key: Vec::new(),
        fabric: None,
        went_out: Vec::new(),
        state: RingState::Live,
        opened: jiff::Timestamp::MIN,
    };
    let project = spelling(was.map(|was| &was.project), &mine.project, &theirs.project);
    let was = was.unwrap_or(&blank);
    let three = [was, mine, theirs];
    let went_out = |ring: &Ring, card: &CardId| ring.went_out.contains(card);
    let all = was
        .went_out
        .iter()
        .chain(&mine.went_out)
        .chain(&theirs.went_out);
    // A card that a side took out of the stash left the list with it; whether it is gone is told elsewhere,
    // and then it leaves this list too.
    let (ours, other) = (asking.ours, asking.theirs);
    let struck = |ring: &Ring, state: &State, card: &CardId| {
        !went_out(ring, card) && state.card(*card).is_some()
    };
    let mut cards: Vec<CardId> = Vec::new();
    for card in all {
        // On a ring's list for both, or new on it for one.
        let stays = match went_out(was, card) {
            true => !struck(mine, ours, card) && !struck(theirs, other, card),
            false => true,
        };
        if stays && !cards.contains(card) {
            cards.push(*card);
        }
    }
    let state = match (mine.state, theirs.state) {
        _ if mine.state == was.state || theirs.state == was.state => None,
        (
            RingState::Parked { hook, since },
            RingState::Parked {
                hook: other,
                since: then,
            },
        ) if hook == other => Some(RingState::Parked {
            hook,
            since: since.min(then),
        }),
        (RingState::Closed { at }, RingState::Closed { at: then }) => {
            Some(RingState::Closed { at: at.min(then) })
        }
        _ => None,
    };
    let state = state.unwrap_or_else(|| {
        asking.pick(
            topic,
            || say!("the ring of '{called}'", called),
            three.map(|ring| &ring.state),
            |state, of| state_in_words(state, *of),
        )
    });
    let opened = match (mine.opened == was.opened, theirs.opened == was.opened) {
        (true, _) => theirs.opened,
        (false, true) => mine.opened,
        (false, false) => mine.opened.min(theirs.opened),
    };
    Ring {
        id: mine.id,
        project,
        key: key(asking, &called.to_string(), topic, three),
        fabric: asking.pick(
            topic,
            || say!("how '{called}' is stitched", called),
            three.map(|ring| &ring.fabric),
            |_, of| {
                of.as_ref()
                    .map_or_else(|| word!("as usual").to_owned(), assumptions_in_words)
            },
        ),
        went_out: cards,
        state,
        opened,
    }
}

pub(in super::super) fn state_in_words(state: &State, of: RingState) -> String {
    match of {
        RingState::Live => word!("in use").to_owned(),
        RingState::Parked { hook, .. } => say!("parked on {hook}", hook = state.mark(hook)),
        RingState::Closed { .. } => "closed".to_owned(),
    }
}

/// Which line of its colour a line of a key is.
fn nth(key: &[KeyEntry], at: usize) -> Option<(&KeyEntry, usize)> {
    let line = key.get(at)?;
    let before = key.iter().take(at);
    Some((
        line,
        before
            .filter(|other| other.is_of(line.range, &line.number))
            .count(),
    ))
}

fn find<'a>(key: &'a [KeyEntry], like: &KeyEntry, nth: usize) -> Option<&'a KeyEntry> {
    key.iter()
        .filter(|line| line.is_of(like.range, &like.number))
        .nth(nth)
}

fn unused(line: &KeyEntry) -> KeyEntry {
    KeyEntry {
        used_cm: 0,
        ..line.clone()
    }
}

/// The lines of a key: united by colour, what was used for each added up.
fn key(asking: &mut Asking<'_>, called: &str, topic: Topic, three: [&Ring; 3]) -> Vec<KeyEntry> {
    let keys = three.map(|ring| ring.key.as_slice());
    let [was, mine, theirs] = keys;
    let bare = keys.map(|key| key.iter().map(unused).collect::<Vec<_>>());
    // Who alone wrote in the key has his lines in his order; else ours come first.
    let (first, second) = if bare[1] == bare[0] {
        (theirs, mine)
    } else {
        (mine, theirs)
    };
    let mut key = Vec::new();
    for (list, other, is_second) in [(first, second, false), (second, first, true)] {
        for at in 0..list.len() {
            let Some((line, n)) = nth(list, at) else {
                continue;
            };
            let (old, there) = (find(was, line, n), find(other, line, n));
            if is_second && there.is_some() {
                continue;
            }
            let merged = match (old, find(mine, line, n), find(theirs, line, n)) {
                (old, Some(mine), Some(theirs)) => {
                    let number = spelling(old.map(|old| &old.number), &mine.number, &theirs.number);
                    let fresh = KeyEntry::of(mine.range, number.clone());
                    let old = old.unwrap_or(&fresh);
                    let bare = |line: &KeyEntry| KeyEntry {
                        number: number.clone(),
                        ..unused(line)
                    };
                    let line = asking.pick(
                        topic,
                        || {
                            say!(
                                "the line {number} in the key of '{called}'",
                                number = mine.number,
                                called
                            )
                        },
                        [&bare(old), &bare(mine), &bare(theirs)],
                        |_, line| {
                            let stitches = crate::stash::kit::words::stitches_in_words(line);
                            say!(
                                "{stitches}, {strands} {word}",
                                stitches,
                                strands = line.strands,
                                word = one_or_many!(line.strands, "strand", "strands")
                            )
                        },
                    );
                    let used = asking.add(
                        topic,
                        || {
                            say!(
                                "what was used of {number} for '{called}'",
                                number = mine.number,
                                called
                            )
                        },
                        [old, mine, theirs]
                            .map(|line| i64::try_from(line.used_cm).unwrap_or(i64::MAX)),
                        i64::MAX,
                        |cm| say!("{cm} cm of single strand", cm),
                    );
                    Some(KeyEntry {
                        used_cm: u64::try_from(used).unwrap_or(0),
                        ..line
                    })
                }
                (None, mine, theirs) => mine.or(theirs).cloned(),
                // Struck out by one: gone, unless the other wrote in it or stitched with it.
                (Some(old), mine, theirs) => left(old, mine.or(theirs)).cloned(),
            };
            key.extend(merged);
        }
    }
    key
}
