//! Recording purchases.

use jiff::Timestamp;

use super::at_home;
use super::family::Families;
use super::import::ranges::Ranges;
use super::range::no_longer_wanted;
use crate::model::card::{Card, CardFamily, Tag, USUAL_CUT_CM};
use crate::model::colour::Srgb;
use crate::model::ids::{CardId, RangeId};
use crate::model::label::Label;
use crate::model::number::Number;
use crate::model::range::PutUp;
use crate::model::ring::{ColourRef, Ring};
use crate::model::thread::{Lot, LotThread, Strands, Thread};
use crate::model::whereabouts::{Place, Whereabouts};
use crate::stash::event::thread::{added, drawn};
use crate::stash::event::{Act, Change, Event};
use crate::stash::projects::buy_list::{Purchase, add_wanted, buy_list};
use crate::stash::projects::kit::{check, rings_in_use, rings_named};
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};

/// The most skeins of a colour in one purchase.
pub const MOST_SKEINS: u32 = 1_000;

/// Skeins of one colour.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Skeins {
    /// The range.
    pub range: RangeId,
    /// The number.
    pub number: Number,
    /// Its name, used if it has neither a card nor a range list; may be empty.
    pub name: Label,
    /// Its colour, used in the same case.
    pub colour: Option<Srgb>,
    /// Their dye lot; empty if unknown.
    pub lot: Lot,
    /// How many.
    pub skeins: u32,
}

impl Skeins {
    /// The skeins of a buy list entry.
    #[must_use]
    pub fn of(purchase: &Purchase) -> Self {
        Self {
            range: purchase.range,
            number: purchase.number.clone(),
            // It was a label before.
            name: Label::new(&purchase.name).unwrap_or_default(),
            colour: purchase.colour,
            lot: Lot::unknown(),
            skeins: purchase.skeins,
        }
    }
}

/// Parses words. Each is a project, for everything it needs bought, or `CARD=SKEINS`. Without
/// words: everything the projects in use need bought, and the want list.
///
/// # Errors
/// As for [`said`] and [`rings_named`], or when no project in use has a chart key.
pub fn meant(state: &State, words: &[String]) -> Result<Vec<Skeins>, Refusal> {
    let is_project = |word: &&String| !word.contains('=') || state.find_ring(word).is_some();
    let (projects, cards): (Vec<&String>, Vec<&String>) = words.iter().partition(is_project);
    let cards = cards.into_iter().map(|word| said(state, word));
    let mut skeins = cards.collect::<Result<Vec<_>, _>>()?;
    let wanted = state.want_list().next().is_some();
    let rings = if words.is_empty() {
        match rings_in_use(state) {
            Err(_) if wanted => Vec::new(),
            rings => rings?,
        }
    } else {
        let names: Vec<String> = projects.into_iter().cloned().collect();
        rings_named(state, &names)?
    };
    let mut list = buy_list(state, &check(state, &rings));
    if words.is_empty() {
        add_wanted(state, &mut list);
    }
    let wanted = list.iter().filter(|purchase| purchase.skeins > 0);
    skeins.extend(wanted.map(Skeins::of));
    Ok(skeins)
}

/// Parses `CARD=SKEINS` or `CARD=SKEINS:LOT`: `701=2`, `Lantern Hill:701=1:K7`. The card need not
/// exist yet: a number without one belongs to the range named, else to the stash's only range, else
/// to the only range whose list or chart key has it.
///
/// # Errors
/// When the number of skeins isn't from 1 to [`MOST_SKEINS`], the name could mean several cards, or
/// its range is unknown.
pub fn said(state: &State, text: &str) -> Result<Skeins, Refusal> {
    let wrong = || Refusal::NotSkeins(text.trim().chars().take(40).collect());
    // A number may contain a '=', and so may a lot.
    let read = |(at, _): (usize, &str)| {
        let (card, said) = (&text[..at], &text[at + 1..]);
        let (count, lot) = said.split_once(':').unwrap_or((said, ""));
        Some((card, count.trim().parse::<u32>().ok()?, lot))
    };
    let (card, skeins, lot) = text.match_indices('=').find_map(read).ok_or_else(wrong)?;
    if !(1..=MOST_SKEINS).contains(&skeins) {
        return Err(wrong());
    }
    let lot = Lot(Label::new(lot)?);
    let (range, number) = state.find_colour(card)?;
    let mut keys = state.rings().flat_map(Ring::threads);
    let keyed = keys.find(|thread| thread.colour.is(range, &number));
    Ok(Skeins {
        range,
        name: keyed.map_or_else(Label::default, |thread| thread.name.clone()),
        colour: keyed.and_then(|thread| thread.hex),
        number,
        lot,
        skeins,
    })
}

/// Adds purchased skeins. If the colour has a card, they stay uncut with it. A new colour gets a
/// card to hang: its first skein is cut onto it, and any others stay uncut. If the card is missing,
/// a new one replaces it and takes over its hook, if it has one. The new card keeps the data of the
/// old one, whose cut thread counts as lost.
///
/// O(skeins · log cards).
///
/// # Errors
/// When there are none, a card would have more than can be counted, or a new card would be written
/// like another.
pub fn bought(state: &State, skeins: &[Skeins], now: Timestamp) -> Result<Event, Refusal> {
    let list = by_colour(skeins);
    if list.is_empty() {
        return Err(Refusal::NothingToBuy);
    }
    let ranges = Ranges::new(state, None)?;
    let mut families = Families::new(state);
    let mut ids = state.new_card_ids();
    let (mut total, mut new_cards) = (0_u32, 0);
    let (mut cards, mut wanted) = (Vec::new(), Vec::new());
    for (of, lots) in &list {
        let count = lots.iter().map(|(_, skeins)| *skeins);
        let count = count.fold(0, u32::saturating_add);
        total = total.saturating_add(count);
        let colour = ColourRef::new(of.range, of.number.clone());
        wanted.extend(no_longer_wanted(state, &colour, count));
        if let Some(kept) = the_card(state, of) {
            cards.extend(if kept.place.at.is_missing() {
                in_its_place(state, kept, lots, now)?
            } else {
                beside(state, kept, lots)?
            });
            continue;
        }
        // It couldn't be told apart from a card with a tag.
        if let Some(other) = state.written_alike(of.range, &of.number, &Tag::none(), None) {
            return Err(Refusal::CardThere {
                card: state.card_name(other),
                amount: state.amount_on(other),
            });
        }
        new_cards += 1;
        let id = ids.draw();
        cards.push(Change::Card {
            before: None,
            after: Some(new_card(id, of, &ranges, &mut families)),
        });
        let new = first_cut(lots, ranges.put_up(of.range), USUAL_CUT_CM);
        let came = to_hang(id, &new, now);
        cards.append(&mut came.ok_or_else(|| Refusal::TooMuch(of.number.to_string()))?);
    }
    let mut changes: Vec<Change> = families.change(state).into_iter().collect();
    changes.append(&mut wanted);
    changes.append(&mut cards);
    Ok(Event {
        act: Act::Bought {
            skeins: total,
            added: new_cards,
        },
        changes,
    })
}

/// The thread of a new card, and that it is to hang. `None` for more than can be stored.
///
/// The thread is added, so that two copies that both bought the colour have the thread of both.
fn to_hang(card: CardId, thread: &Thread, now: Timestamp) -> Option<Vec<Change>> {
    let mut changes = added(card, &Thread::default(), thread)?;
    changes.push(Change::Place {
        card,
        before: None,
        after: Some(Place {
            at: Whereabouts::Unhung,
            since: now,
        }),
    });
    Some(changes)
}

/// Skeins by lot as the thread of an empty card: all uncut except one of the first lot, which is
/// cut.
fn first_cut(lots: &[(Lot, u32)], put_up: PutUp, cut_cm: u16) -> Thread {
    let mut thread = uncut(lots);
    if let Some(of) = lots.first().and_then(|(lot, _)| thread.lot_mut(lot)) {
        of.skeins = of.skeins.saturating_sub(1);
        of.strands = put_up.cut_skein(cut_cm);
    }
    thread
}

fn uncut(lots: &[(Lot, u32)]) -> Thread {
    let lots = lots.iter().map(|(lot, skeins)| {
        let of = LotThread {
            skeins: *skeins,
            ..LotThread::default()
        };
        (lot.clone(), of)
    });
    lots.collect()
}

/// The lots as the card lists them, which may differ in case.
fn as_listed(kept: &CardState, lots: &[(Lot, u32)]) -> Vec<(Lot, u32)> {
    let listed = |lot: &Lot| kept.thread.listed(&lot.0).unwrap_or(lot).clone();
    let mut list: Vec<(Lot, u32)> = Vec::new();
    for (lot, skeins) in lots {
        let lot = listed(lot);
        match list.iter_mut().find(|(known, _)| *known == lot) {
            Some((_, sum)) => *sum = sum.saturating_add(*skeins),
            None => list.push((lot, *skeins)),
        }
    }
    list
}

/// Skeins that stay uncut with a card.
fn beside(state: &State, kept: &CardState, lots: &[(Lot, u32)]) -> Result<Vec<Change>, Refusal> {
    let more = uncut(&as_listed(kept, lots));
    let changes = added(kept.card.id, &kept.thread, &more);
    changes.ok_or_else(|| Refusal::TooMuch(state.card_name(kept)))
}

/// A new card with one skein cut onto it, replacing a missing one, whose cut thread is lost. Its
/// uncut skeins stay, and the rest of the new ones is added to them.
fn in_its_place(
    state: &State,
    kept: &CardState,
    lots: &[(Lot, u32)],
    now: Timestamp,
) -> Result<Vec<Change>, Refusal> {
    let lots = as_listed(kept, lots);
    let new = first_cut(&lots, state.put_up(&kept.card), kept.card.cut_cm);
    let came = added(kept.card.id, &kept.thread, &new);
    let came = came.ok_or_else(|| Refusal::TooMuch(state.card_name(kept)))?;
    Ok(came.into_iter().chain(lost_with(kept, now)).collect())
}

/// A new card takes the place of a missing one: the thread that was cut for that is lost, and the new one is at home or
/// to hang.
///
/// It records what was lost instead of the sum. If two copies both do this, the new thread adds up and the lost thread is
/// subtracted twice, so the merge asks to count the card.
pub(super) fn lost_with(kept: &CardState, now: Timestamp) -> Vec<Change> {
    let card = kept.card.id;
    let lost = kept
        .thread
        .lots()
        .map(|(lot, of)| (lot.clone(), of.strands));
    let lost: Vec<(Lot, Strands)> = lost.filter(|(_, strands)| strands.0 > 0).collect();
    let mut changes: Vec<Change> = drawn(card, &lost).collect();
    changes.push(Change::Place {
        card,
        before: Some(kept.place.clone()),
        after: Some(Place {
            at: at_home(kept),
            since: now,
        }),
    });
    changes
}

/// The missing cards that an event of this kind replaces by new ones.
#[must_use]
pub fn replaced(event: &Event) -> Vec<CardId> {
    let from_missing = |change: &Change| match change {
        Change::Place {
            card,
            before: Some(before),
            ..
        } if before.at.is_missing() => Some(*card),
        _ => None,
    };
    event.changes.iter().filter_map(from_missing).collect()
}

/// Each colour once, with its skeins by lot, in order of first mention.
fn by_colour(skeins: &[Skeins]) -> Vec<(&Skeins, Vec<(Lot, u32)>)> {
    let mut list: Vec<(&Skeins, Vec<(Lot, u32)>)> = Vec::new();
    for of in skeins.iter().filter(|of| of.skeins > 0) {
        let same = |(other, _): &&mut (&Skeins, _)| {
            other.range == of.range && other.number.key() == of.number.key()
        };
        let lots = match list.iter_mut().find(same) {
            Some((_, lots)) => lots,
            None => {
                list.push((of, Vec::new()));
                let Some((_, lots)) = list.last_mut() else {
                    continue;
                };
                lots
            }
        };
        match lots
            .iter_mut()
            .find(|(lot, _)| lot.0.same_as(of.lot.as_str()))
        {
            Some((_, sum)) => *sum = sum.saturating_add(of.skeins),
            None => lots.push((of.lot.clone(), of.skeins)),
        }
    }
    list
}

/// The whole card of a colour: of several, the first that isn't missing, with the one without a tag
/// first.
fn the_card<'a>(state: &'a State, of: &Skeins) -> Option<&'a CardState> {
    let colour = ColourRef::new(of.range, of.number.clone());
    let cards = state.cards_of(&colour);
    let whole = cards.filter(|kept| kept.card.parent.is_none());
    whole.min_by_key(|kept| kept.place.at.is_missing())
}

fn new_card(id: CardId, of: &Skeins, ranges: &Ranges, families: &mut Families) -> Card {
    let shade = ranges.shade(of.range, &of.number);
    let colour = shade.and_then(|shade| shade.colour).or(of.colour);
    let listed = shade.map(|shade| &shade.name).filter(|n| !n.is_empty());
    let name = listed.unwrap_or(&of.name).clone();
    // The range overrides the colour formulas.
    let family = match shade.is_some_and(|shade| shade.family.is_some()) {
        true => CardFamily::Unknown,
        false => families.worked_out(colour, &name),
    };
    Card {
        name,
        colour,
        family,
        ..Card::new(id, of.range, of.number.clone())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::thread::Strands;
    use crate::stash::command::import::{KeyRow, RangeRow};
    use crate::stash::command::{import, key, ring};
    use crate::stash::invariants;
    use crate::stash::projects::kit::Availability;
    use crate::stash::state::State;
    use crate::stash::testing::{add_cards, apply, at, id, place, wall};
    use crate::text;

    fn skeins(state: &State, text: &str) -> (RangeId, String, u32) {
        let of = said(state, text).unwrap();
        (of.range, of.number.to_string(), of.skeins)
    }

    fn code(state: &State, text: &str) -> String {
        said(state, text).unwrap_err().to_string()
    }

    /// All strands, cut or not.
    fn all_strands(state: &State) -> u32 {
        let cards = state.cards();
        cards
            .map(|kept| kept.strands().0 + kept.skeins() * 48)
            .sum()
    }

    #[test]
    fn skeins_of_an_owned_colour_stay_uncut_and_a_new_colour_gets_a_card() {
        let mut state = wall(1, 3, 1);
        add_cards(&mut state, &["Cove:701@A01 lamp black"]);
        let before = all_strands(&state);
        let list = ["701=2", "77=3", "701=1"].map(|text| said(&state, text).unwrap());
        let event = bought(&state, &list, at(5)).unwrap();
        apply(&mut state, &event);
        assert_eq!(
            text::history::act(&state, &event.act),
            "Bought 6 skeins: 1 card new"
        );
        let old = state.card(id(&state, "701")).unwrap();
        assert_eq!((old.strands(), old.skeins()), (Strands(48), 3));
        let new = state.card(id(&state, "77")).unwrap();
        assert_eq!(
            (new.strands(), new.skeins(), new.home),
            (Strands(48), 2, None)
        );
        assert_eq!(place(&state, "77"), Whereabouts::Unhung);
        assert_eq!(all_strands(&state), before + 6 * 48);
        assert_eq!(bought(&state, &[], at(6)), Err(Refusal::NothingToBuy));
    }

    #[test]
    fn a_new_colour_gets_its_data_from_the_range_list_or_else_the_chart_key() {
        let mut state = wall(1, 3, 1);
        add_cards(&mut state, &["Cove:701@A01"]);
        let shade = RangeRow {
            line: 2,
            number: "b5".into(),
            name: "moss".into(),
            colour: Some(Srgb::new(0x2E, 0x8B, 0x3A)),
            family: None,
        };
        let event = import::range(&state, &[shade], Vec::new(), "Cove")
            .unwrap()
            .event;
        apply(&mut state, &event.unwrap());
        let row = KeyRow {
            line: 2,
            number: "9".into(),
            name: Some("rush".into()),
            colour: Some(Srgb::new(0xC8, 0x10, 0x2E)),
            ..KeyRow::default()
        };
        let terms = crate::stash::command::import::Terms::default();
        let keyed = key::import(&state, &[row], Vec::new(), "Fox", &terms, at(1)).unwrap();
        apply(&mut state, &keyed.event.unwrap());
        let list = ["B5=1", "9=1"].map(|text| said(&state, text).unwrap());
        let event = bought(&state, &list, at(5)).unwrap();
        apply(&mut state, &event);
        for (card, name) in [("b5", "moss"), ("9", "rush")] {
            let kept = state.card(id(&state, card)).unwrap();
            assert_eq!(kept.card.name.as_str(), name);
            assert!(kept.card.colour.is_some());
            assert!(state.family_of(kept).is_some());
        }
    }

    #[test]
    fn words_mean_projects_or_skeins_of_a_card() {
        let mut state = wall(1, 3, 1);
        add_cards(&mut state, &["Cove:701@A01", "Moor:701", "Moor:9"]);
        let [cove, moor] = ["Cove", "Moor"].map(|name| state.find_range(name).unwrap().id);
        assert_eq!(skeins(&state, "cove:701=2"), (cove, "701".to_owned(), 2));
        assert_eq!(skeins(&state, "9 = 1"), (moor, "9".to_owned(), 1));
        assert_eq!(skeins(&state, "Moor:77=1"), (moor, "77".to_owned(), 1));
        for text in [
            "701", "701=", "701=two", "701=0", "701=1001", "701=-1", "=", "701=1.5",
        ] {
            assert_eq!(code(&state, text), "not_skeins", "{text}");
        }
        let lot = |text| said(&state, text).unwrap().lot.0.to_string();
        assert_eq!(lot("cove:701=2:K=7: a"), "K=7: a");
        assert_eq!(skeins(&state, "Moor:7=7=1"), (moor, "7=7".to_owned(), 1));
        assert_eq!(code(&state, "701=1"), "ambiguous");
        // It could be in either range.
        assert_eq!(code(&state, "77=1"), "unknown_card");
        assert_eq!(code(&state, "Fen:77=1"), "unknown_card");

        let event = ring::take(&state, "a=1", &[id(&state, "9")], at(1)).unwrap();
        apply(&mut state, &event);
        let of = |words: &[&str]| {
            let words: Vec<String> = words.iter().map(|&word| word.to_owned()).collect();
            meant(&state, &words)
        };
        assert_eq!(of(&["a=1"]).unwrap_err().to_string(), "no_key");
        assert_eq!(of(&["Fox"]).unwrap_err().to_string(), "unknown_ring");
        assert_eq!(of(&[]).unwrap_err().to_string(), "no_keys");
        assert_eq!(of(&["9=2"]).unwrap()[0].skeins, 2);
    }

    #[test]
    fn everything_a_project_lacks_is_bought_at_once() {
        let mut state = wall(1, 3, 1);
        add_cards(&mut state, &["Cove:701@A01"]);
        let rows = ["701", "77"].map(|number| KeyRow {
            line: 2,
            number: number.into(),
            stitches: 4_000,
            ..KeyRow::default()
        });
        let terms = crate::stash::command::import::Terms::default();
        let keyed = key::import(&state, &rows, Vec::new(), "Fox", &terms, at(1)).unwrap();
        apply(&mut state, &keyed.event.unwrap());
        let words = ["fox".to_owned(), "701=1".to_owned()];
        let list = meant(&state, &words).unwrap();
        let event = bought(&state, &list, at(5)).unwrap();
        apply(&mut state, &event);
        // 4,000 crosses need 119 strands and 48 exist, so two skeins; three of the other colour.
        assert_eq!(state.card(id(&state, "701")).unwrap().skeins(), 3);
        assert_eq!(state.card(id(&state, "77")).unwrap().skeins(), 2);
        let again = meant(&state, &words[..1]).unwrap();
        assert_eq!(bought(&state, &again, at(6)), Err(Refusal::NothingToBuy));
    }

    #[test]
    fn a_rebought_card_replaces_the_missing_one() {
        let mut state = wall(1, 3, 1);
        add_cards(&mut state, &["Cove:701@A01", "Cove:77"]);
        let rows = ["701", "77"].map(|number| KeyRow {
            line: 2,
            number: number.into(),
            stitches: 100,
            ..KeyRow::default()
        });
        let terms = crate::stash::command::import::Terms::default();
        let keyed = key::import(&state, &rows, Vec::new(), "Fox", &terms, at(1)).unwrap();
        apply(&mut state, &keyed.event.unwrap());
        let cards = ["701", "77"].map(|name| id(&state, name));
        let event = ring::take(&state, "Fox", &cards, at(2)).unwrap();
        apply(&mut state, &event);
        let event = ring::missing(&state, &cards, at(3)).unwrap();
        apply(&mut state, &event);
        let gone = state.clone();

        // Each holds everything needed, so nothing has to be bought before they are searched for.
        let fox = ["Fox".to_owned()];
        assert_eq!(meant(&state, &fox).unwrap(), []);
        let list = ["701=3", "77=1"].map(|word| said(&state, word).unwrap());
        let event = bought(&state, &list, at(5)).unwrap();
        let mut new = replaced(&event);
        new.sort_unstable();
        assert_eq!(new, cards);
        apply(&mut state, &event);
        assert_eq!(invariants::check_all(&state), []);
        for (card, of) in cards.into_iter().zip(&list) {
            let kept = state.card(card).unwrap();
            assert_eq!(kept.strands(), Strands(48));
            assert_eq!(kept.skeins(), of.skeins - 1);
        }
        assert!(state.card(cards[0]).unwrap().is_home());
        assert_eq!(place(&state, "77"), Whereabouts::Unhung);
        let said = |card| text::thread::replaced(&state, state.card(card).unwrap());
        assert!(said(cards[0]).ends_with("hang it on A01"));
        assert!(said(cards[1]).ends_with("it is to hang"));

        // The kit counts them, and nothing else has to be bought.
        let kit = check(&state, &rings_in_use(&state).unwrap());
        let standing = kit.projects[0].threads().map(|of| of.standing);
        assert_eq!(standing.collect::<Vec<_>>(), [Availability::Home; 2]);
        assert!(buy_list(&state, &kit).is_empty());
        assert!(gone != state);
    }

    #[test]
    fn skeins_join_their_lot_and_one_is_cut_onto_a_new_card() {
        let mut state = wall(1, 3, 1);
        add_cards(&mut state, &["Cove:701@A01 lamp black"]);
        let of = |text: &str, name: &str| Skeins {
            lot: Lot(Label::new(name).unwrap()),
            ..said(&state, text).unwrap()
        };
        let list = [
            of("701=2", "K7"),
            of("701=1", ""),
            of("77=2", "V1"),
            of("77=1", "K7"),
            of("77=1", "v1"),
            of("701=1", "K7"),
        ];
        let event = bought(&state, &list, at(5)).unwrap();
        apply(&mut state, &event);
        let lots = |state: &State, name: &str| -> Vec<(String, u32, u32)> {
            let lots = state.card(id(state, name)).unwrap().thread.clone();
            lots.lots()
                .map(|(lot, of)| (lot.to_string(), of.strands.0, of.skeins))
                .collect()
        };
        let lot = |name: &str, strands, skeins| (name.to_owned(), strands, skeins);
        assert_eq!(lots(&state, "701"), [lot("", 48, 1), lot("K7", 0, 3)]);
        assert_eq!(lots(&state, "77"), [lot("K7", 0, 1), lot("V1", 48, 2)]);
        // A missing card loses its cut thread, but not its uncut skeins.
        let gone = ring::missing(&state, &[id(&state, "701")], at(6)).unwrap();
        apply(&mut state, &gone);
        let list = [Skeins {
            lot: Lot(Label::new("W2").unwrap()),
            ..said(&state, "701=1").unwrap()
        }];
        let event = bought(&state, &list, at(7)).unwrap();
        apply(&mut state, &event);
        assert_eq!(
            lots(&state, "701"),
            [lot("", 0, 1), lot("K7", 0, 3), lot("W2", 48, 0)]
        );
    }

    #[test]
    fn skeins_go_to_the_card_without_a_tag_unless_it_is_missing() {
        let mut state = crate::stash::testing::projects::stash(&[("1", 6, 0), ("1/K7", 6, 0)]);
        let bring = |state: &mut State| {
            let skeins = [said(state, "1=2").unwrap()];
            let event = bought(state, &skeins, at(5)).unwrap();
            apply(state, &event);
            ["1", "1/K7"].map(|name| state.card(id(state, name)).unwrap().skeins())
        };
        assert_eq!(bring(&mut state), [2, 0]);
        let gone = crate::stash::command::ring::missing(&state, &[id(&state, "1")], at(6)).unwrap();
        apply(&mut state, &gone);
        assert_eq!(bring(&mut state), [2, 2]);
    }
}
