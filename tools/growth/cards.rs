//! A stash, by the number of its cards.

use std::convert::Infallible;
use std::error::Error;

use homehook::exchange::{read_cards, write_cards_csv};
use homehook::journal::store::Store;
use homehook::stash::command::board::new_board;
use homehook::stash::command::import::{KeyRow, Terms, card_list};
use homehook::stash::command::key;
use homehook::stash::projects::kit::{check, rings_in_use};
use homehook::stash::state::State;
use jiff::Timestamp;

use crate::fit::{Curve, seconds};
use crate::stashes;

const CARDS: [usize; 5] = [500, 2_000, 10_000, 32_000, 100_000];

/// Measures stashes of 500 to 100,000 cards.
pub fn measure() -> Result<(), Box<dyn Error>> {
    let asked = [
        ("a number", "417"),
        ("words", "misty heather"),
        ("a slip", "mitsy heahter"),
    ];
    let mut finds = asked.map(|(what, _)| Curve::new(format!("find {what}"), "cards"));
    let mut lists = Curve::new("read a card list", "cards");
    let mut imports = Curve::new("make an event of it", "cards");
    let mut applied = Curve::new("apply the event", "cards");
    let mut opened = Curve::new("open the stash", "cards");
    let mut from_first = Curve::new("open it without its snapshot", "cards");
    let mut kits = Curve::new("check a kit of 40 colours, 4 of them not owned", "cards");
    for cards in CARDS {
        let rows: Vec<_> = (0..cards).map(|at| stashes::row(at, None)).collect();
        let list = write_cards_csv(&rows);
        lists.add(cards, seconds(|| read_cards(list.as_bytes()))?);

        let empty = stashes::board(1, 1);
        let now = Timestamp::UNIX_EPOCH;
        let take = |state: &State| card_list(state, &rows, Vec::new(), &Terms::default(), now);
        imports.add(cards, seconds(|| take(&empty))?);
        let event = take(&empty)?.event.ok_or("nothing new")?;
        let both = seconds(|| empty.clone().apply(&event))?;
        applied.add(cards, both);

        let folder = tempfile::tempdir()?;
        let (mut store, _) = Store::open(folder.path())?;
        let up = new_board(store.state(), &stashes::measures(1, 1))?;
        store.commit(now, &up)?;
        store.commit(now, &event)?;
        let mut state = store.state().clone();
        drop(store);
        let open = || Store::open(folder.path());
        opened.add(cards, seconds(open)?);
        from_first.add(cards, seconds(|| Store::open_whole(folder.path()))?);

        for (curve, (_, text)) in finds.iter_mut().zip(asked) {
            curve.add(cards, seconds(|| Ok::<_, Infallible>(state.find(text)))?);
        }

        let key: Vec<KeyRow> = (0..40)
            .map(|line| {
                let owned = line % 10 != 9;
                let at = if owned { line * 7 } else { cards + line };
                KeyRow {
                    line: line as u64 + 2,
                    number: (at + 1).to_string(),
                    colour: Some(stashes::colour(at)),
                    strands: 2,
                    stitches: 500,
                    ..KeyRow::default()
                }
            })
            .collect();
        let keyed = key::import(&state, &key, Vec::new(), "Heron", &Terms::default(), now)?;
        state.apply(&keyed.event.ok_or("no key")?)?;
        let rings = rings_in_use(&state)?;
        kits.add(
            cards,
            seconds(|| Ok::<_, Infallible>(check(&state, &rings)))?,
        );
    }
    for curve in finds {
        curve.tell();
    }
    for curve in [lists, imports, applied, opened, from_first, kits] {
        curve.tell();
    }
    Ok(())
}
