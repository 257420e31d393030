//! Stashes drawn at random, and a slow model in which every strand is given away once.

use super::*;

const NUMBERS: [&str; 5] = ["1", "2", "3", "4", "5"];
const PROJECTS: [&str; 3] = ["Fox", "Harbour", "Robin"];

/// A stash drawn at random: strands, skeins and the ring (or missing, or at home) of each card, and
/// the keys of the projects as numbers with crosses.
type Drawn = (Vec<(u32, u32, u8)>, [Vec<KeyLine>; 3], Vec<usize>);

/// A number, crosses, and strands used.
type KeyLine = (usize, u32, u32);

fn drawn() -> impl Strategy<Value = Drawn> {
    let card = (0..60_u32, 0..3_u32, 0..6_u8);
    let key = || {
        let used = prop_oneof![Just(0), 0..80_u32];
        prop::collection::vec((0..NUMBERS.len() + 1, 0..3_000_u32, used), 0..5)
    };
    (
        prop::collection::vec(card, NUMBERS.len()),
        [key(), key(), key()],
        prop::collection::vec(0..3_usize, 1..4),
    )
}

fn draw((cards, keys, _): &Drawn) -> State {
    let mut state = wall(2, 5, 1);
    let list: Vec<StockRow> = rows(&NUMBERS)
        .into_iter()
        .zip(cards)
        .map(|(row, &(strands, reserve, _))| StockRow {
            amount: Some(Amount::Lengths(f64::from(strands) / 6.0)),
            reserve: Some(reserve),
            ..row
        })
        .collect();
    let event = read(&state, &list).event.unwrap();
    apply(&mut state, &event);
    for (number, &(_, _, place)) in NUMBERS.iter().zip(cards) {
        match place {
            0..=2 => take(&mut state, PROJECTS[usize::from(place)], &[number]),
            3 => {
                let event = ring::missing(&state, &[id(&state, number)], at(4)).unwrap();
                apply(&mut state, &event);
            }
            _ => {}
        }
    }
    for (project, key) in PROJECTS.iter().zip(keys) {
        let row = |(&(number, stitches, _), line): (&KeyLine, u64)| KeyRow {
            line,
            number: NUMBERS.get(number).unwrap_or(&"99").to_string(),
            stitches,
            ..KeyRow::default()
        };
        let rows: Vec<KeyRow> = key.iter().zip(2..).map(row).collect();
        if !rows.is_empty() {
            let terms = Terms::default();
            let keyed = key::import(&state, &rows, Vec::new(), project, &terms, at(9));
            apply(&mut state, &keyed.unwrap().event.unwrap());
            let before = state.need_ring(project).unwrap().clone();
            let mut after = before.clone();
            for (entry, &(_, _, used)) in after.key.iter_mut().zip(key) {
                entry.used_cm = u64::from(used) * 100;
            }
            let event = Event {
                act: Act::Progress { ring: before.id },
                changes: ring_changes(Some(&before), &after),
            };
            apply(&mut state, &event);
        }
    }
    state
}

/// The rings asked about, in the order drawn: those with a key.
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

/// What each line asked about lacks before and after uncut skeins, strand by strand: every strand
/// is a thing of its own that is given away once.
fn slow_model(state: &State, rings: &[&Ring]) -> Vec<Vec<(u32, u32)>> {
    let mut on_card: BTreeMap<CardId, Vec<()>> = BTreeMap::new();
    let mut uncut: BTreeMap<CardId, Vec<()>> = BTreeMap::new();
    for kept in state.cards() {
        on_card.insert(kept.card.id, vec![(); kept.strands().0 as usize]);
        uncut.insert(kept.card.id, vec![(); kept.skeins() as usize * 48]);
    }
    let needs = |ring: &Ring| -> Vec<u32> {
        let of = |entry: &KeyEntry| {
            let needed = need(
                &stitches(entry, state.entry_put_up(entry)),
                &Assumptions::default(),
                100,
            )
            .unwrap();
            let used = u32::try_from(entry.used_cm / 100).unwrap();
            needed.strands.0.saturating_sub(used)
        };
        ring.key.iter().map(of).collect()
    };
    let mut open: BTreeMap<RingId, Vec<u32>> = state.rings().map(|r| (r.id, needs(r))).collect();
    let card_of = |entry: &KeyEntry| state.cards().find(|k| k.card.number == entry.number);
    for ring in state.rings() {
        for (entry, wants) in ring.key.iter().zip(open.get_mut(&ring.id).unwrap()) {
            if let Some(kept) = card_of(entry)
                && kept.place.at.ring() == Some(ring.id)
            {
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
        for (entry, &wanted) in ring.key.iter().zip(&open[&ring.id]) {
            let (mut wants, mut after) = (wanted, wanted);
            if let Some(kept) = card_of(entry) {
                let strands = on_card.get_mut(&kept.card.id).unwrap();
                let missing = matches!(
                    kept.place.at,
                    crate::model::whereabouts::Whereabouts::Missing { .. }
                );
                while !missing && wants > 0 && strands.pop().is_some() {
                    wants -= 1;
                }
                after = wants;
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
    #[test]
    fn no_strand_is_promised_twice(drawn in drawn()) {
        let state = draw(&drawn);
        let rings = asked(&state, &drawn.2);
        let kit = check(&state, &rings);
        let mut cards: BTreeMap<CardId, (u32, u32)> = BTreeMap::new();
        for promise in &kit.promises {
            let (on_card, uncut) = cards.entry(promise.card).or_default();
            match promise.source {
                Source::Reserve => *uncut += promise.strands.0,
                _ => *on_card += promise.strands.0,
            }
        }
        for (card, (on_card, uncut)) in cards {
            let kept = state.card(card).unwrap();
            prop_assert!(on_card <= kept.strands().0);
            prop_assert!(uncut <= kept.skeins() * 48);
        }
        for project in &kit.projects {
            for line in &project.lines {
                let promised: u32 = line.promises.iter().map(|p| p.strands.0).sum();
                let needed = line.need.map_or(0, |need| need.strands.0);
                let left = line.left.map_or(0, |left| left.0);
                prop_assert_eq!(left, needed.saturating_sub(line.used.0));
                prop_assert_eq!(promised + line.lacking.0, left);
                prop_assert_eq!(line.standing == Standing::Done, needed > 0 && left == 0);
                prop_assert!(line.lacking <= line.short);
            }
        }
    }

    #[test]
    fn every_line_lacks_what_the_slow_model_says(drawn in drawn()) {
        let state = draw(&drawn);
        let rings = asked(&state, &drawn.2);
        let kit = check(&state, &rings);
        let found: Vec<Vec<(u32, u32)>> = kit
            .projects
            .iter()
            .map(|p| p.lines.iter().map(|l| (l.short.0, l.lacking.0)).collect())
            .collect();
        prop_assert_eq!(found, slow_model(&state, &rings));
    }

    #[test]
    fn asking_about_one_more_project_changes_nothing_for_those_before(drawn in drawn()) {
        let state = draw(&drawn);
        let rings = asked(&state, &drawn.2);
        let all = check(&state, &rings);
        for count in 0..rings.len() {
            let fewer = check(&state, &rings[..count]);
            for (one, other) in fewer.projects.iter().zip(&all.projects) {
                for (one, other) in one.lines.iter().zip(&other.lines) {
                    prop_assert_eq!(&one.promises, &other.promises);
                    prop_assert_eq!(one.standing, other.standing);
                }
            }
        }
    }

    #[test]
    fn when_all_is_bought_nothing_is_to_be_bought(drawn in drawn()) {
        let mut state = draw(&drawn);
        let rings: Vec<RingId> = asked(&state, &drawn.2).iter().map(|ring| ring.id).collect();
        let list = |state: &State| {
            let rings: Vec<&Ring> = rings.iter().filter_map(|&id| state.ring(id)).collect();
            buy_list(state, &check(state, &rings))
        };
        let to_buy: Vec<buy::Skeins> = list(&state).iter().map(buy::Skeins::of).collect();
        if to_buy.is_empty() {
            return Ok(());
        }
        let event = buy::bought(&state, &to_buy, at(20)).unwrap();
        apply(&mut state, &event);
        prop_assert_eq!(list(&state), []);
        // Nor was a skein too many: with one less of any colour something would be lacking.
        for (at_fault, skeins) in to_buy.iter().enumerate() {
            let mut fewer = to_buy.clone();
            fewer[at_fault].skeins = skeins.skeins - 1;
            let mut state = draw(&drawn);
            if let Ok(event) = buy::bought(&state, &fewer, at(20)) {
                apply(&mut state, &event);
            }
            prop_assert!(!list(&state).is_empty());
        }
    }
}
