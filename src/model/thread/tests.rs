use proptest::prelude::*;

use super::*;

fn lot(name: &str) -> Lot {
    Lot(Label::new(name).unwrap())
}

fn thread(lots: &[(&str, u32)]) -> Thread {
    let lots = lots.iter().map(|&(name, strands)| {
        let of = LotThread {
            strands: Strands(strands),
            ..LotThread::default()
        };
        (lot(name), of)
    });
    lots.collect()
}

fn drawn(lots: &[(&str, u32)], amount: u32) -> Vec<(Lot, u32)> {
    let drawn = thread(lots).draw(Strands(amount), None).unwrap();
    drawn.into_iter().map(|(lot, of)| (lot, of.0)).collect()
}

#[test]
fn the_smallest_lot_that_suffices_gives_all() {
    let lots = [("", 48), ("K7", 12), ("V1", 20), ("W2", 20)];
    assert_eq!(drawn(&lots, 12), [(lot("K7"), 12)]);
    assert_eq!(drawn(&lots, 13), [(lot("V1"), 13)]);
    assert_eq!(drawn(&lots, 48), [(lot(""), 48)]);
    assert_eq!(drawn(&lots, 0), []);
}

#[test]
fn if_no_lot_suffices_the_smallest_are_used_up_first() {
    let lots = [("", 0), ("K7", 12), ("V1", 5), ("W2", 20)];
    assert_eq!(
        drawn(&lots, 21),
        [(lot("V1"), 5), (lot("K7"), 12), (lot("W2"), 4)]
    );
    let too_much = thread(&lots).draw(Strands(38), None);
    let there = Strands(37);
    assert_eq!(too_much, Err(DrawError::TooLittle { there }));
}

#[test]
fn a_requested_lot_gives_all_or_nothing() {
    let thread = thread(&[("K7", 12), ("V1", 5)]);
    let draw = |amount, name| thread.draw(Strands(amount), Some(&lot(name)));
    assert_eq!(draw(5, "V1"), Ok(vec![(lot("V1"), Strands(5))]));
    let there = Strands(5);
    assert_eq!(draw(6, "V1"), Err(DrawError::TooLittle { there }));
    assert_eq!(draw(1, ""), Err(DrawError::NoSuchLot));
}

#[test]
fn only_a_used_up_lot_can_be_removed() {
    let mut thread = thread(&[("K7", 12), ("V1", 0)]);
    assert!(!thread.strike(&lot("K7")));
    assert!(thread.strike(&lot("V1")));
    assert!(!thread.strike(&lot("V1")));
    assert!(thread.list(lot("V1"), Label::default()).is_some());
    assert!(thread.list(lot("V1"), Label::default()).is_none());
    assert_eq!(thread.lot_names(), "K7, V1");
}

#[test]
fn a_listed_lot_is_found_regardless_of_case() {
    let thread = thread(&[("K7", 0), ("k7", 0), ("v1", 0)]);
    let listed = |name| thread.listed(&Label::new(name).unwrap()).cloned();
    assert_eq!(listed("k7"), Some(lot("k7")));
    assert_eq!(listed("V1"), Some(lot("v1")));
    assert_eq!(listed("W2"), None);
}

/// A slow reference for `Thread::draw`: one lot if any suffices, else one strand at a time.
fn slow_draw(lots: &[(Lot, u32)], amount: u32) -> Option<Vec<(Lot, u32)>> {
    if lots.iter().map(|(_, there)| u64::from(*there)).sum::<u64>() < u64::from(amount) {
        return None;
    }
    let mut alone: Vec<_> = lots.iter().filter(|(_, there)| *there >= amount).collect();
    alone.sort_by(|a, b| (a.1, &a.0).cmp(&(b.1, &b.0)));
    if amount == 0 {
        return Some(Vec::new());
    }
    if let Some((lot, _)) = alone.first() {
        return Some(vec![(lot.clone(), amount)]);
    }
    let mut left = lots.to_vec();
    let mut taken: Vec<(Lot, u32)> = Vec::new();
    for _ in 0..amount {
        // The lot already started, else the smallest with any left.
        let begun = taken.last().map(|(lot, _)| lot.clone());
        let begun = begun.filter(|lot| left.iter().any(|(of, there)| of == lot && *there > 0));
        let next = begun.unwrap_or_else(|| {
            let some = left.iter().filter(|(_, there)| *there > 0);
            some.min_by_key(|(lot, there)| (*there, lot.clone()))
                .unwrap()
                .0
                .clone()
        });
        left.iter_mut().find(|(lot, _)| *lot == next).unwrap().1 -= 1;
        match taken.iter_mut().find(|(lot, _)| *lot == next) {
            Some((_, sum)) => *sum += 1,
            None => taken.push((next, 1)),
        }
    }
    Some(taken)
}

fn some_lots() -> impl Strategy<Value = Vec<(Lot, u32)>> {
    let lots = prop::collection::btree_map("[KV]?[1-3]?", 0..12u32, 0..5);
    lots.prop_map(|lots| lots.into_iter().map(|(name, n)| (lot(&name), n)).collect())
}

fn any_thread() -> impl Strategy<Value = Thread> {
    let of = (any::<u32>(), any::<u32>(), any::<u32>(), "[a-z]{0,4}");
    prop::collection::btree_map("[A-Z]{0,2}", of, 0..4).prop_map(|lots| {
        let lots = lots
            .into_iter()
            .map(|(name, (strands, part_cm, skeins, at))| {
                let of = LotThread {
                    strands: Strands(strands),
                    part_cm,
                    skeins,
                    kept_at: Label::new(&at).unwrap(),
                };
                (lot(&name), of)
            });
        lots.collect()
    })
}

proptest! {
    #[test]
    fn drawing_agrees_with_taking_strand_by_strand(lots in some_lots(), amount in 0..40u32) {
        let thread: Thread = lots
            .iter()
            .map(|(lot, n)| (lot.clone(), LotThread { strands: Strands(*n), ..LotThread::default() }))
            .collect();
        let drawn = thread.draw(Strands(amount), None).ok();
        let drawn = drawn.map(|of| of.into_iter().map(|(lot, n)| (lot, n.0)).collect::<Vec<_>>());
        prop_assert_eq!(drawn, slow_draw(&lots, amount));
    }

    #[test]
    fn thread_reads_back_as_written(thread in any_thread()) {
        let text = serde_json::to_string(&thread).unwrap();
        prop_assert_eq!(serde_json::from_str::<Thread>(&text).unwrap(), thread);
    }
}
