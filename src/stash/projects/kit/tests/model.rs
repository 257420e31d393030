//! Random stashes, and a slow model in which every strand is given away once.

use super::*;
use crate::engine::need::Stitches;
use crate::stash::event::{Act, Event, ring_changes};
use crate::stash::projects::buy_list::Purchase;
use crate::stash::projects::needs::set_used;

/// Colours with a card, some of them with several.
const CARDS: [&str; 7] = ["1", "2", "3", "4", "5", "1/b", "2/b"];
/// Colours that a chart key may name. The last has no card.
const NUMBERS: [&str; 6] = ["1", "2", "3", "4", "5", "99"];
const PROJECTS: [&str; 3] = ["Fox", "Harbour", "Robin"];

/// A random stash: strands, skeins and the ring (or missing, or on its hook) of each card, the keys
/// of the projects with what was used of each colour, and the order in which they are requested.
type Drawn = (Vec<(u32, u32, u8)>, [(Vec<LineDrawn>, Used); 3], Vec<usize>);

/// Threads as number, strands in the needle and substitute number; and full crosses. Without a
/// thread it is a notion.
type LineDrawn = (Vec<(usize, u8, Option<usize>)>, u32);

/// Strands used of each number.
type Used = [u32; 6];

fn drawn() -> impl Strategy<Value = Drawn> {
    let card = (0..60_u32, 0..3_u32, 0..6_u8);
    let number = || 0..NUMBERS.len();
    let thread = move || {
        let with = prop_oneof![3 => Just(None), 1 => number().prop_map(Some)];
        (number(), 0..4_u8, with)
    };
    let line = move || (prop::collection::vec(thread(), 0..4), 0..3_000_u32);
    let key = move || {
        let used = prop_oneof![Just(0), 0..80_u32];
        (
            prop::collection::vec(line(), 0..5),
            prop::array::uniform6(used),
        )
    };
    (
        prop::collection::vec(card, CARDS.len()),
        [key(), key(), key()],
        prop::collection::vec(0..3_usize, 1..4),
    )
}

fn line_drawn(state: &State, (threads, full): &LineDrawn) -> KeyLine {
    let mut list: Vec<KeyThread> = Vec::new();
    for &(number, strands, with) in threads {
        let mut one = thread(state, NUMBERS[number], strands);
        one.stitched_with = with
            .filter(|&with| with != number)
            .map(|with| thread(state, NUMBERS[with], 0).colour);
        if list.iter().all(|other| other.colour != one.colour) {
            list.push(one);
        }
    }
    if list.is_empty() {
        return notion("bead", *full);
    }
    line_of(&list, *full)
}

fn draw((cards, keys, _): &Drawn) -> State {
    let mut state = wall(2, 5, 1);
    let list: Vec<CardRow> = rows(&CARDS)
        .into_iter()
        .zip(cards)
        .map(|(row, &(strands, uncut, _))| {
            let (number, tag) = match row.number.split_once('/') {
                Some((number, tag)) => (number.to_owned(), Some(tag.to_owned())),
                None => (row.number.clone(), None),
            };
            CardRow {
                number,
                tag,
                amount: Some(Amount::Lengths(f64::from(strands) / 6.0)),
                uncut: Some(uncut),
                ..row
            }
        })
        .collect();
    let event = read(&state, &list).event.unwrap();
    apply(&mut state, &event);
    for (name, &(_, _, place)) in CARDS.iter().zip(cards) {
        match place {
            0..=2 => take(&mut state, PROJECTS[usize::from(place)], &[name]),
            3 => {
                let event = ring::missing(&state, &[id(&state, name)], at(4)).unwrap();
                apply(&mut state, &event);
            }
            _ => {}
        }
    }
    for (project, (key, used)) in PROJECTS.iter().zip(keys) {
        if key.is_empty() {
            continue;
        }
        if state.find_ring(project).is_none() {
            let event = ring::open(&state, project, at(9)).unwrap();
            apply(&mut state, &event);
        }
        let before = state.need_ring(project).unwrap().clone();
        let mut after = before.clone();
        after.key = key.iter().map(|line| line_drawn(&state, line)).collect();
        for (number, &strands) in NUMBERS.iter().zip(used) {
            let colour = thread(&state, number, 0).colour;
            set_used(&mut after, &colour, u64::from(strands) * 100);
        }
        let event = Event {
            act: Act::EditKey { ring: before.id },
            changes: ring_changes(Some(&before), &after),
        };
        apply(&mut state, &event);
    }
    state
}

/// The requested rings, in random order: those with a chart key.
fn asked<'a>(state: &'a State, order: &[usize]) -> Vec<&'a Ring> {
    let mut rings: Vec<&Ring> = Vec::new();
    for &at in order {
        if let Some(ring) = state.find_ring(PROJECTS[at])
            && !ring.key.is_empty()
            && !rings.contains(&ring)
        {
            rings.push(ring);
        }
    }
    rings
}

/// The number that each thread is stitched in, and the strands it still needs. Used strands are
/// handed out one by one.
fn wanted(ring: &Ring) -> Vec<(&str, u32)> {
    let mut pools: BTreeMap<&str, u32> = BTreeMap::new();
    for (colour, cm) in &ring.used {
        pools.insert(colour.number.as_str(), u32::try_from(cm / 100).unwrap());
    }
    let stitched = |thread: &KeyThread| -> String { thread.stitched().number.to_string() };
    let all: Vec<String> = ring.threads().map(stitched).collect();
    let mut wanted = Vec::new();
    for line in &ring.key {
        let threads = u8::try_from(line.threads().len()).unwrap();
        for thread in line.threads() {
            let in_needle = match (thread.strands, threads) {
                (0, 1) => 2,
                (0, _) => 1,
                (own, _) => own,
            };
            let crosses = Stitches {
                full: line.stitches().full,
                strands: in_needle,
                ..Stitches::default()
            };
            let needed = need(&crosses, &Assumptions::default(), 100).unwrap();
            let mut wants = needed.strands.0;
            let chart = thread.colour.number.as_str();
            let own = thread.stitched().number.as_str();
            let mut from = vec![own];
            if chart != own && all.iter().all(|other| other != chart) {
                from.insert(0, chart);
            }
            for number in from {
                let pool = pools.entry(number).or_default();
                while wants > 0 && *pool > 0 {
                    (wants, *pool) = (wants - 1, *pool - 1);
                }
            }
            wanted.push((own, wants));
        }
    }
    wanted
}

/// What each requested thread lacks before and after uncut skeins, strand by strand. Every strand
/// is given away once.
fn slow_model(state: &State, rings: &[&Ring]) -> Vec<Vec<(u32, u32)>> {
    let mut on_card: BTreeMap<CardId, Vec<()>> = BTreeMap::new();
    let mut uncut: BTreeMap<CardId, Vec<()>> = BTreeMap::new();
    for kept in state.cards() {
        on_card.insert(kept.card.id, vec![(); kept.strands().0 as usize]);
        uncut.insert(kept.card.id, vec![(); kept.skeins() as usize * 48]);
    }
    let mut open: BTreeMap<RingId, Vec<(&str, u32)>> =
        state.rings().map(|r| (r.id, wanted(r))).collect();
    let cards_of = |number: &str| -> Vec<&CardState> {
        let cards = state.cards();
        cards.filter(|k| k.card.number.as_str() == number).collect()
    };
    for ring in state.rings() {
        for (number, wants) in open.get_mut(&ring.id).unwrap() {
            let on_ring = cards_of(number).into_iter();
            for kept in on_ring.filter(|kept| kept.place.at.ring() == Some(ring.id)) {
                let strands = on_card.get_mut(&kept.card.id).unwrap();
                while *wants > 0 && strands.pop().is_some() {
                    *wants -= 1;
                }
            }
        }
    }
    let mut lacking = Vec::new();
    for ring in rings {
        let mut of_ring = Vec::new();
        for &(number, wanted) in &open[&ring.id] {
            let mut wants = wanted;
            for kept in cards_of(number) {
                let strands = on_card.get_mut(&kept.card.id).unwrap();
                let missing = matches!(
                    kept.place.at,
                    crate::model::whereabouts::Whereabouts::Missing { .. }
                );
                while !missing && wants > 0 && strands.pop().is_some() {
                    wants -= 1;
                }
            }
            let mut after = wants;
            for kept in cards_of(number) {
                while after > 0 && uncut.get_mut(&kept.card.id).unwrap().pop().is_some() {
                    after -= 1;
                }
            }
            of_ring.push((wants, after));
        }
        lacking.push(of_ring);
    }
    lacking
}

proptest! {
    #![proptest_config(crate::testing::one_case_in(4))]

    #[test]
    fn no_strand_is_promised_twice(drawn in drawn()) {
        let state = draw(&drawn);
        let rings = asked(&state, &drawn.2);
        let kit = check(&state, &rings);
        let mut cards: BTreeMap<CardId, (u32, u32)> = BTreeMap::new();
        for promise in &kit.promises {
            let (on_card, uncut) = cards.entry(promise.card).or_default();
            match promise.source {
                Source::Uncut => *uncut += promise.strands.0,
                _ => *on_card += promise.strands.0,
            }
        }
        for (card, (on_card, uncut)) in cards {
            let kept = state.card(card).unwrap();
            prop_assert!(on_card <= kept.strands().0);
            prop_assert!(uncut <= kept.skeins() * 48);
        }
        for project in &kit.projects {
            for line in project.threads() {
                let promised: u32 = line.promises.iter().map(|p| p.strands.0).sum();
                let needed = line.need.map_or(0, |need| need.strands.0);
                let left = line.left.map_or(0, |left| left.0);
                prop_assert_eq!(left, needed.saturating_sub(line.used.0));
                prop_assert_eq!(promised + line.lacking.0, left);
                prop_assert_eq!(line.standing == Availability::Done, needed > 0 && left == 0);
                prop_assert!(line.lacking <= line.short);
            }
        }
    }

    #[test]
    fn every_line_agrees_with_the_slow_model(drawn in drawn()) {
        let state = draw(&drawn);
        let rings = asked(&state, &drawn.2);
        let kit = check(&state, &rings);
        let found: Vec<Vec<(u32, u32)>> = kit
            .projects
            .iter()
            .map(|p| p.threads().map(|l| (l.short.0, l.lacking.0)).collect())
            .collect();
        prop_assert_eq!(found, slow_model(&state, &rings));
    }

    #[test]
    fn requesting_another_project_changes_nothing_for_earlier_ones(drawn in drawn()) {
        let state = draw(&drawn);
        let rings = asked(&state, &drawn.2);
        let all = check(&state, &rings);
        for count in 0..rings.len() {
            let fewer = check(&state, &rings[..count]);
            for (one, other) in fewer.projects.iter().zip(&all.projects) {
                for (one, other) in one.threads().zip(other.threads()) {
                    prop_assert_eq!(&one.promises, &other.promises);
                    prop_assert_eq!(one.standing, other.standing);
                }
            }
        }
    }

    #[test]
    fn after_buying_everything_there_is_nothing_to_buy(drawn in drawn()) {
        let mut state = draw(&drawn);
        let rings: Vec<RingId> = asked(&state, &drawn.2).iter().map(|ring| ring.id).collect();
        let list = |state: &State| {
            let rings: Vec<&Ring> = rings.iter().filter_map(|&id| state.ring(id)).collect();
            buy_list(state, &check(state, &rings))
        };
        // Look for cards that are only missing.
        let to_buy: Vec<buy::Skeins> = list(&state).iter()
            .filter(|purchase| !purchase.missing)
            .map(buy::Skeins::of)
            .collect();
        if to_buy.is_empty() {
            return Ok(());
        }
        let event = buy::bought(&state, &to_buy, at(20)).unwrap();
        apply(&mut state, &event);
        prop_assert!(list(&state).iter().all(|purchase| purchase.missing));
        // No skein was too many: with one less of any colour, something would be lacking.
        for (at_fault, skeins) in to_buy.iter().enumerate() {
            let mut fewer = to_buy.clone();
            fewer[at_fault].skeins = skeins.skeins - 1;
            let mut state = draw(&drawn);
            if let Ok(event) = buy::bought(&state, &fewer, at(20)) {
                apply(&mut state, &event);
            }
            let lacks = |purchase: &Purchase| {
                purchase.range == skeins.range && purchase.number.key() == skeins.number.key()
            };
            prop_assert!(list(&state).iter().any(lacks));
        }
    }
}
