mod model;

use std::collections::BTreeMap;

use proptest::prelude::*;

use super::*;
use crate::engine::need::need;
use crate::model::ids::CardId;
use crate::model::label::Label;
use crate::stash::command::import::{self, Amount, CardRow, MatchRow, RangeRow};
use crate::stash::command::thread::{self as thread_command, Counted};
use crate::stash::command::{buy, key, range, ring};
use crate::stash::event::{Act, Event, Mark};
use crate::stash::projects::buy_list::buy_list;
use crate::stash::projects::supply::Likeness;
use crate::stash::testing::projects::{give_key, line_of, notion, stash, take, thread, use_up};
use crate::stash::testing::{add_cards, apply, at, id, kept, read, rows, wall};

fn checked<'a>(state: &'a State, projects: &[&str]) -> Kit<'a> {
    let names: Vec<String> = projects.iter().map(|&name| name.to_owned()).collect();
    check(state, &rings_named(state, &names).unwrap())
}

/// The lines of one project: availability, what cards lack, uncut skeins, what to buy.
fn lines(kit: &Kit<'_>, at: usize) -> Vec<(Availability, u32, u32, u32)> {
    let threads = kit.projects[at].threads();
    threads
        .map(|line| {
            (
                line.standing,
                line.short.0,
                line.uncut_skeins,
                line.lacking.0,
            )
        })
        .collect()
}

#[test]
fn the_availability_of_a_line_follows_its_cards() {
    let mut state = stash(&[
        ("1", 48, 0),
        ("2", 48, 0),
        ("3", 48, 0),
        ("4", 10, 1),
        ("5", 10, 1),
        ("6", 48, 2),
        ("7", 48, 0),
        ("8", 48, 0),
    ]);
    take(&mut state, "Fox", &["2", "8"]);
    take(&mut state, "Harbour", &["3", "7"]);
    let event = ring::missing(&state, &[id(&state, "6")], at(4)).unwrap();
    apply(&mut state, &event);
    give_key(
        &mut state,
        "Harbour",
        &[
            ("1", 20),
            ("2", 20),
            ("3", 20),
            ("4", 20),
            ("5", 200),
            ("6", 60),
            ("99", 20),
            ("8", 0),
        ],
    );
    let kit = checked(&state, &["harbour"]);
    assert_eq!(
        lines(&kit, 0),
        [
            (Availability::Home, 0, 0, 0),
            (Availability::Split, 0, 0, 0),
            (Availability::OnRing, 0, 0, 0),
            (Availability::Short, 10, 1, 0),
            (Availability::Short, 190, 1, 142),
            (Availability::Lost, 60, 2, 0),
            (Availability::NotOwned, 20, 0, 20),
            (Availability::Uncounted, 0, 0, 0),
        ]
    );
    let split = &kit.projects[0].lines[1].threads[0].promises[0];
    let fox = state.need_ring("Fox").unwrap().id;
    assert_eq!(
        (split.source, split.strands),
        (Source::OtherRing(fox), Strands(20))
    );
}

#[test]
fn a_ring_that_was_not_requested_keeps_what_its_key_needs() {
    let mut state = stash(&[("1", 48, 0)]);
    take(&mut state, "Fox", &["1"]);
    give_key(&mut state, "Harbour", &[("1", 30)]);
    assert_eq!(
        lines(&checked(&state, &["Harbour"]), 0),
        [(Availability::Split, 0, 0, 0)]
    );
    give_key(&mut state, "Fox", &[("1", 40)]);
    let kit = checked(&state, &["Harbour"]);
    assert_eq!(lines(&kit, 0), [(Availability::Short, 22, 0, 22)]);
    let fox = state.need_ring("Fox").unwrap().id;
    assert_eq!(
        kit.projects[0].lines[0].threads[0].others,
        [(fox, Strands(40))]
    );
    // Whichever projects are requested, in any order, what lies with the work stays there.
    for order in [["Fox", "Harbour"], ["Harbour", "Fox"]] {
        let kit = checked(&state, &order);
        let harbour = order.iter().position(|&name| name == "Harbour").unwrap();
        assert_eq!(lines(&kit, harbour), [(Availability::Short, 22, 0, 22)]);
        assert_eq!(lines(&kit, 1 - harbour), [(Availability::OnRing, 0, 0, 0)]);
    }
    // A closed project wants nothing more.
    let fox = state.need_ring("Fox").unwrap();
    let event = ring::give_back_all(&state, fox, at(5)).unwrap();
    apply(&mut state, &event);
    let event = ring::close(&state, state.need_ring("Fox").unwrap(), at(6)).unwrap();
    apply(&mut state, &event);
    assert_eq!(
        lines(&checked(&state, &["Harbour"]), 0),
        [(Availability::Home, 0, 0, 0)]
    );
    let closed = rings_named(&state, &["fox".to_owned()]).unwrap_err();
    assert_eq!(closed.to_string(), "ring_closed");
}

#[test]
fn only_what_is_still_needed_counts() {
    let mut state = stash(&[("1", 48, 0), ("2", 10, 0)]);
    take(&mut state, "Fox", &["1", "2"]);
    give_key(&mut state, "Fox", &[("1", 40), ("2", 12), ("2", 3)]);
    give_key(&mut state, "Harbour", &[("1", 20)]);
    let checked_lines = |state: &State| lines(&checked(state, &["Fox", "Harbour"]), 0);
    assert_eq!(
        checked_lines(&state),
        [
            (Availability::OnRing, 0, 0, 0),
            (Availability::Short, 2, 0, 2),
            (Availability::Short, 3, 0, 3)
        ]
    );
    assert_eq!(
        lines(&checked(&state, &["Harbour"]), 0),
        [(Availability::Short, 12, 0, 12)]
    );
    // What was used no longer counts as needed, and becomes surplus. Of a skein of 48 strands, 8
    // are surplus anyway.
    use_up(&mut state, "1", 40);
    use_up(&mut state, "2", 9);
    let kit = checked(&state, &["Fox", "Harbour"]);
    assert_eq!(
        lines(&kit, 0),
        [
            (Availability::Done, 0, 0, 0),
            (Availability::Short, 2, 0, 2),
            (Availability::Short, 3, 0, 3)
        ]
    );
    assert_eq!(lines(&kit, 1), [(Availability::Short, 12, 0, 12)]);
    let moss = &kit.projects[0].lines[1].threads[0];
    assert_eq!((moss.used, moss.left), (Strands(9), Some(Strands(3))));
    let list = buy_list(&state, &kit);
    let why = &list[1].why[0];
    assert_eq!(
        (why.short, why.used, why.still_needed),
        (Some(Strands(5)), Strands(9), Some(Strands(6)))
    );
    // Done stays done, even without a card left to take.
    let event = ring::missing(&state, &[id(&state, "1")], at(4)).unwrap();
    apply(&mut state, &event);
    assert_eq!(checked_lines(&state)[0], (Availability::Done, 0, 0, 0));
}

#[test]
fn the_first_project_named_is_served_first() {
    let mut state = stash(&[("1", 30, 1)]);
    for project in ["Fox", "Harbour"] {
        give_key(&mut state, project, &[("1", 20), ("1", 6)]);
    }
    let kit = checked(&state, &["Harbour", "Fox", "harbour"]);
    assert_eq!(kit.projects.len(), 2);
    assert_eq!(
        lines(&kit, 0),
        [(Availability::Home, 0, 0, 0), (Availability::Home, 0, 0, 0)]
    );
    assert_eq!(
        lines(&kit, 1),
        [
            (Availability::Short, 16, 1, 0),
            (Availability::Short, 6, 1, 0)
        ]
    );
}

#[test]
fn the_nearest_colours_are_substitutes_for_a_missing_one() {
    let mut state = wall(2, 3, 1);
    let mut list = rows(&["1", "2", "3", "4", "5"]);
    for (row, hex) in list
        .iter_mut()
        .zip(["#B4233C", "#B5243D", "#101214", "#D01830", "#B4233C"])
    {
        row.colour = Some(hex.parse().unwrap());
        row.amount = Some(Amount::Lengths(2.0));
    }
    list[4].amount = Some(Amount::Lengths(0.0));
    let event = read(&state, &list).event.unwrap();
    apply(&mut state, &event);
    give_key(&mut state, "Robin", &[("1", 20), ("4", 1)]);
    let event = ring::missing(&state, &[id(&state, "1")], at(2)).unwrap();
    apply(&mut state, &event);
    let kit = checked(&state, &["Robin"]);
    let found: Vec<_> = kit.projects[0].lines[0].threads[0]
        .substitutes
        .iter()
        .map(|found| (found.card, found.enough, found.is_far()))
        .collect();
    // 4 is in the key and 5 is empty.
    assert_eq!(
        found,
        [
            (id(&state, "2"), Some(false), false),
            (id(&state, "3"), Some(false), true)
        ]
    );
    assert!(kit.projects[0].lines[1].threads[0].substitutes.is_empty());
}

/// Adds matches, each as `NUMBER=NUMBER` of the only range.
fn match_colours(state: &mut State, list: &[&str]) {
    let range = state.ranges().next().unwrap().name.to_string();
    let rows = list.iter().zip(2..).map(|(text, line)| {
        let (number, other) = text.split_once('=').unwrap();
        MatchRow {
            line,
            range: Some(range.clone()),
            number: number.to_owned(),
            match_range: Some(range.clone()),
            match_number: other.to_owned(),
        }
    });
    let rows: Vec<MatchRow> = rows.collect();
    let event = import::matches(state, &rows, Vec::new(), false)
        .unwrap()
        .event;
    apply(state, &event.unwrap());
}

#[test]
fn matches_of_a_conversion_list_come_before_the_nearest_colour() {
    let mut state = wall(2, 4, 1);
    let mut list = rows(&["2", "3", "4", "5", "6", "7"]);
    for row in &mut list {
        row.colour = Some("#B3243B".parse().unwrap());
        row.amount = Some(Amount::Lengths(2.0));
    }
    // 6 is empty; 7 is of another kind and variegated.
    list[4].amount = Some(Amount::Lengths(0.0));
    let event = read(&state, &list).event.unwrap();
    apply(&mut state, &event);
    let before = kept(&state, "7").card.clone();
    let mut after = before.clone();
    after.put_up = Some(PutUp::usual(crate::model::range::ThreadKind::Silk));
    after.variegated = true;
    let event = Event {
        act: Act::ChangeCard { card: before.id },
        changes: vec![crate::stash::event::Change::Card {
            before: Some(before),
            after: Some(after),
        }],
    };
    apply(&mut state, &event);
    give_key(&mut state, "Robin", &[("1", 20), ("4", 1)]);
    let found = |state: &State| -> Vec<(String, bool)> {
        let kit = checked(state, &["Robin"]);
        let found = kit.projects[0].lines[0].threads[0].substitutes.iter();
        found
            .map(|found| {
                let kept = state.card(found.card).unwrap();
                (
                    kept.card.number.to_string(),
                    found.likeness == Likeness::Match,
                )
            })
            .collect()
    };
    // The colour of 1 is unknown, so only a match can be its substitute.
    assert_eq!(found(&state), []);
    match_colours(&mut state, &["7=1", "1=6", "4=1", "1=3", "99=1"]);
    let both = [("3".to_owned(), true), ("7".to_owned(), true)];
    assert_eq!(found(&state), both);
    let kit = checked(&state, &["Robin"]);
    let list = buy_list(&state, &kit);
    let matches = [id(&state, "3"), id(&state, "7")];
    assert_eq!(
        (list[0].number.as_str(), list[0].matches.as_slice()),
        ("1", &matches[..])
    );
    // The nearest colours follow, each card once.
    let shade = RangeRow {
        line: 2,
        number: "1".into(),
        name: String::new(),
        colour: Some("#B3243B".parse().unwrap()),
        family: None,
    };
    let range = state.ranges().next().unwrap().name.to_string();
    let event = import::range(&state, &[shade], Vec::new(), &range)
        .unwrap()
        .event;
    apply(&mut state, &event.unwrap());
    let [three, seven] = both;
    assert_eq!(found(&state), [three, seven, ("2".to_owned(), false)]);
}

#[test]
fn what_several_projects_lack_is_bought_once_in_whole_skeins() {
    let mut state = stash(&[("1", 0, 0)]);
    add_cards(&mut state, &["2"]);
    for project in ["Fox", "Harbour"] {
        give_key(&mut state, project, &[("1", 20), ("77", 0), ("2", 1)]);
    }
    let kit = checked(&state, &["Fox", "Harbour"]);
    let list = buy_list(&state, &kit);
    let said: Vec<_> = list
        .iter()
        .map(|p| (p.number.as_str(), p.skeins, p.why.len(), p.card.is_some()))
        .collect();
    assert_eq!(said, [("1", 1, 2, true), ("77", 1, 2, false)]);
    assert_eq!(list[0].why[1].short, Some(Strands(20)));
    assert_eq!(list[1].why[0].short, None);
}

#[test]
fn a_checked_project_needs_a_key_and_a_name() {
    let mut state = stash(&[("1", 48, 0)]);
    assert_eq!(rings_in_use(&state).unwrap_err(), Refusal::NoKeys);
    take(&mut state, "Fox", &["1"]);
    let named = |name: &str| rings_named(&state, &[name.to_owned()]).unwrap_err();
    assert_eq!(named("Owl").to_string(), "unknown_ring");
    assert_eq!(named("fox"), Refusal::NoKey("Fox".to_owned()));
    assert_eq!(rings_in_use(&state).unwrap_err(), Refusal::NoKeys);
}

/// Sets the kind of thread of the only range, and whether its shades are variegated.
fn range_is(state: &mut State, put_up: PutUp, variegated: bool) {
    let before = state.ranges().next().unwrap().clone();
    let mut after = before.clone();
    after.put_up = put_up;
    for kept in state.cards() {
        let shade = crate::model::range::Shade {
            variegated,
            ..Default::default()
        };
        after.shades.insert(kept.card.number.clone(), shade);
    }
    let event = Event {
        act: Act::ImportRange {
            range: before.id,
            shades: 0,
        },
        changes: vec![crate::stash::event::Change::Range {
            before: Some(before),
            after: Some(after),
        }],
    };
    apply(state, &event);
}

#[test]
fn perle_is_needed_by_length_with_one_strand_in_the_needle() {
    let mut state = stash(&[("1", 5, 1)]);
    give_key(&mut state, "Fox", &[("1", 40)]);
    let stranded = checked(&state, &["Fox"]).projects[0].lines[0].threads[0]
        .need
        .unwrap();
    let size = crate::model::range::PerleSize::new(5).unwrap();
    let perle = PutUp::usual(crate::model::range::ThreadKind::Perle { size });
    range_is(&mut state, perle, false);
    let kit = checked(&state, &["Fox"]);
    let line = &kit.projects[0].lines[0].threads[0];
    let need = line.need.unwrap();
    // Half the strands, because one is in the needle instead of two.
    assert!(need.strands.0 * 2 <= stranded.strands.0 + 1);
    assert_eq!(need.lengths(line.put_up), need.strands.0);
    // A skein of 25 m gives 25 lengths.
    assert_eq!(need.skeins(line.put_up, 100), 1);
    let (has, skein) = (5, 25);
    assert_eq!(line.short.0, need.strands.0 - has);
    assert_eq!(line.uncut_skeins, 1);
    assert_eq!(line.lacking.0, line.short.0.saturating_sub(skein));
}

#[test]
fn variegated_thread_is_worked_one_by_one_and_needs_more() {
    let mut state = stash(&[("1", 48, 0)]);
    give_key(&mut state, "Fox", &[("1", 40)]);
    let plain = checked(&state, &["Fox"]).projects[0].lines[0].threads[0]
        .need
        .unwrap();
    range_is(&mut state, PutUp::default(), true);
    let kit = checked(&state, &["Fox"]);
    let line = &kit.projects[0].lines[0].threads[0];
    assert_eq!(line.way, Way::OneByOne);
    assert!(line.need.unwrap().metres > plain.metres);
    // The assumptions for the rest of the project are unchanged.
    assert_eq!(kit.projects[0].assumed.way, Way::ThereAndBack);
}

#[test]
fn a_part_used_skein_is_opened_before_a_new_one() {
    use crate::model::thread::{Lot, ThreadPart};
    use crate::stash::event::{AmountChange, Change};
    let mut state = stash(&[("1", 6, 2)]);
    give_key(&mut state, "Fox", &[("1", 20)]);
    let card = id(&state, "1");
    // Three lengths of a metre, and a useless rest.
    let event = Event {
        act: Act::ChangeCard { card },
        changes: vec![Change::Thread {
            card,
            lot: Lot::unknown(),
            part: ThreadPart::PartCm,
            amount: AmountChange::plus(350),
        }],
    };
    apply(&mut state, &event);
    assert_eq!(
        lines(&checked(&state, &["Fox"]), 0),
        [(Availability::Short, 14, 1, 0)]
    );
    give_key(&mut state, "Fox", &[("1", 26)]);
    assert_eq!(
        lines(&checked(&state, &["Fox"]), 0),
        [(Availability::Short, 20, 2, 0)]
    );
}

/// Appends a line to a project's chart key.
fn put(state: &mut State, project: &str, line: KeyLine) {
    let event = key::put(state.need_ring(project).unwrap(), None, line);
    apply(state, &event.unwrap().unwrap());
}

#[test]
fn each_thread_of_a_blend_needs_its_own_strands_of_its_own_card() {
    let mut state = stash(&[("1", 48, 0), ("2", 48, 0)]);
    take(&mut state, "Fox", &["1"]);
    let (one, two) = (thread(&state, "1", 1), thread(&state, "2", 2));
    put(&mut state, "Fox", line_of(&[one, two], 400));
    let kit = checked(&state, &["Fox"]);
    let threads: Vec<_> = kit.projects[0].threads().collect();
    assert_eq!(
        (threads[0].standing, threads[1].standing),
        (Availability::OnRing, Availability::Home)
    );
    let metres = |at: usize| threads[at].need.unwrap().metres;
    assert!((metres(1) - 2.0 * metres(0)).abs() < 1e-9);
    assert!(
        threads[0]
            .promises
            .iter()
            .all(|p| p.card == id(&state, "1"))
    );
    assert!(
        threads[1]
            .promises
            .iter()
            .all(|p| p.card == id(&state, "2"))
    );
}

#[test]
fn a_blend_without_strands_shares_those_of_the_needle() {
    let mut state = stash(&[("1", 48, 0), ("2", 48, 0)]);
    take(&mut state, "Fox", &["1"]);
    let both = [thread(&state, "1", 0), thread(&state, "2", 0)];
    put(&mut state, "Fox", line_of(&both, 400));
    put(&mut state, "Fox", line_of(&both[..1], 400));
    let kit = checked(&state, &["Fox"]);
    let needs: Vec<f64> = kit.projects[0]
        .threads()
        .map(|thread| thread.need.unwrap().metres)
        .collect();
    assert!((needs[0] - needs[1]).abs() < 1e-9);
    assert!((needs[2] - 2.0 * needs[0]).abs() < 1e-9);
}

#[test]
fn a_notion_is_listed_but_needs_no_thread() {
    let mut state = stash(&[("1", 48, 0)]);
    take(&mut state, "Fox", &["1"]);
    put(&mut state, "Fox", notion("seed bead", 24));
    let kit = checked(&state, &["Fox"]);
    assert_eq!(kit.projects[0].lines.len(), 1);
    assert_eq!(kit.projects[0].threads().count(), 0);
    assert_eq!(kit.promises, []);
    assert_eq!(buy_list(&state, &kit), []);
}

#[test]
fn the_substitute_of_a_chart_colour_gives_the_thread() {
    let mut state = stash(&[("1", 48, 0), ("2", 48, 0)]);
    give_key(&mut state, "Fox", &[("1", 20)]);
    let with = thread(&state, "2", 0).colour;
    let event = key::stitch_with(state.need_ring("Fox").unwrap(), 0, 0, Some(with));
    apply(&mut state, &event.unwrap().unwrap());
    let kit = checked(&state, &["Fox"]);
    assert_eq!(lines(&kit, 0), [(Availability::Home, 0, 0, 0)]);
    assert_eq!(kit.promises[0].card, id(&state, "2"));
    // It can go back to the chart's colour, too.
    let event = key::stitch_with(state.need_ring("Fox").unwrap(), 0, 0, None);
    apply(&mut state, &event.unwrap().unwrap());
    assert_eq!(checked(&state, &["Fox"]).promises[0].card, id(&state, "1"));
}

#[test]
fn of_several_cards_the_one_that_lasts_gives_or_else_as_few_as_possible() {
    let mut state = stash(&[("1", 10, 1), ("1/a", 30, 0), ("1/b", 40, 0)]);
    let gives = |state: &State| -> Vec<(String, u32)> {
        let kit = checked(state, &["Fox"]);
        let cards = kit.promises.iter().filter(|p| p.source == Source::Here);
        let named = cards.map(|p| (state.card_name(state.card(p.card).unwrap()), p.strands.0));
        named.collect()
    };
    let given = |card: &str, strands| (card.to_owned(), strands);
    give_key(&mut state, "Fox", &[("1", 8)]);
    assert_eq!(gives(&state), [given("1", 8)]);
    give_key(&mut state, "Fox", &[("1", 30)]);
    assert_eq!(gives(&state), [given("1/a", 30)]);
    give_key(&mut state, "Fox", &[("1", 48)]);
    assert_eq!(gives(&state), [given("1/b", 40), given("1", 8)]);
    give_key(&mut state, "Fox", &[("1", 90)]);
    assert_eq!(
        lines(&checked(&state, &["Fox"]), 0),
        [(Availability::Short, 10, 1, 0)]
    );
}

/// Sets the strands and uncut skeins of each lot of a card.
fn lots(state: &mut State, card: &str, list: &[(&str, u32, u32)]) {
    for &(name, strands, skeins) in list {
        let counted = Counted {
            strands: Some(Strands(strands)),
            skeins: (skeins > 0).then_some(skeins),
            part_cm: None,
        };
        let lot = Lot(Label::new(name).unwrap());
        let event = thread_command::count(state, id(state, card), counted, Some(&lot)).unwrap();
        if let Some(event) = event {
            apply(state, &event);
        }
    }
}

/// A lot, its strands, and whether they are uncut.
type Promised = (String, u32, bool);

/// The lots that the threads of a project get, strand by strand, and those it would mix.
fn dye_lots(state: &State) -> (Vec<Promised>, Vec<String>, Option<String>) {
    let kit = checked(state, &["Fox"]);
    let threads: Vec<_> = kit.projects[0].threads().collect();
    let promises = threads.iter().flat_map(|of| &of.promises);
    let promises = promises.map(|p| (p.lot.to_string(), p.strands.0, p.source == Source::Uncut));
    let last = threads.last().unwrap();
    let names = last.lots.iter().map(Lot::to_string);
    let lasting = last.lasting.as_ref().map(Lot::to_string);
    (promises.collect(), names.collect(), lasting)
}

fn lot(name: &str, strands: u32, uncut: bool) -> Promised {
    (name.to_owned(), strands, uncut)
}

#[test]
fn one_dye_lot_that_lasts_is_preferred_over_several() {
    let mut state = stash(&[("1", 0, 0)]);
    give_key(&mut state, "Fox", &[("1", 20), ("1", 10)]);
    lots(&mut state, "1", &[("K7", 12, 0), ("V1", 48, 0)]);
    // V1 lasts for both lines, so the small rest of K7 isn't used.
    let (promises, names, _) = dye_lots(&state);
    assert_eq!(promises, [lot("V1", 20, false), lot("V1", 10, false)]);
    assert_eq!(names, ["V1"]);
    // A skein of the same lot is cut instead of mixing it with another.
    lots(&mut state, "1", &[("K7", 12, 1), ("V1", 28, 0)]);
    let (promises, names, _) = dye_lots(&state);
    assert_eq!(
        promises,
        [
            lot("K7", 12, false),
            lot("K7", 8, true),
            lot("K7", 10, true)
        ]
    );
    assert_eq!(names, ["K7"]);
}

#[test]
fn lots_that_would_mix_are_named_with_one_that_lasts_alone() {
    let mut state = stash(&[("1", 0, 0)]);
    give_key(&mut state, "Fox", &[("1", 20)]);
    lots(&mut state, "1", &[("K7", 9, 0), ("V1", 12, 0)]);
    let (promises, names, lasting) = dye_lots(&state);
    assert_eq!(promises, [lot("V1", 12, false), lot("K7", 8, false)]);
    assert_eq!(
        (names.as_slice(), lasting),
        (&["K7".into(), "V1".into()][..], None)
    );
    // What lies with the work stays there, even if another lot would be enough alone.
    take(&mut state, "Fox", &["1"]);
    let event = thread_command::split(
        &state,
        "Wren",
        id(&state, "1"),
        Strands(12),
        Some(&Lot(Label::new("V1").unwrap())),
        "",
        at(5),
    );
    apply(&mut state, &event.unwrap());
    let split = state
        .split_cards_of(id(&state, "1"))
        .next()
        .unwrap()
        .card
        .id;
    let name = state.card_name(state.card(split).unwrap());
    lots(&mut state, &name, &[("V1", 40, 0)]);
    let (promises, names, lasting) = dye_lots(&state);
    assert_eq!(promises, [lot("K7", 9, false), lot("V1", 11, false)]);
    assert_eq!(names, ["K7", "V1"]);
    assert_eq!(lasting.as_deref(), Some("V1"));
    // The buy list asks for the existing lots.
    give_key(&mut state, "Fox", &[("1", 200)]);
    let list = buy_list(&state, &checked(&state, &["Fox"]));
    let asked: Vec<&str> = list[0].lots.iter().map(Lot::as_str).collect();
    assert_eq!(asked, ["K7", "V1"]);
}

#[test]
fn a_kit_is_counted_colour_by_colour() {
    let mut state = stash(&[("1", 48, 0), ("2", 48, 0), ("3", 6, 0), ("4", 48, 0)]);
    give_key(
        &mut state,
        "Fox",
        &[
            ("1", 10),
            ("2", 10),
            ("3", 20),
            ("4", 0),
            ("77", 5),
            ("1", 5),
        ],
    );
    let kitted = |state: &State| {
        let kit = checked(state, &["Fox"]);
        let kitted = kit.projects[0].kitted(state);
        let lacking = kitted.lacking.iter();
        let lacking = lacking.map(|of| of.thread.stitched().number.to_string());
        (kitted.there, kitted.colours, lacking.collect::<Vec<_>>())
    };
    let (there, colours, lacking) = kitted(&state);
    assert_eq!((there, colours), (0, 5));
    assert_eq!(lacking, ["1", "2", "3", "4", "77"]);
    take(&mut state, "Fox", &["1", "3", "4"]);
    let (there, colours, lacking) = kitted(&state);
    assert_eq!((there, colours), (2, 5));
    assert_eq!(lacking, ["2", "3", "77"]);
}

#[test]
fn variegated_thread_has_no_substitutes_and_is_none() {
    let mut state = wall(2, 3, 1);
    let mut list = rows(&["1", "2", "3"]);
    for row in &mut list {
        row.colour = Some("#B4233C".parse().unwrap());
    }
    let event = read(&state, &list).event.unwrap();
    apply(&mut state, &event);
    give_key(&mut state, "Robin", &[("1", 20)]);
    let event = ring::missing(&state, &[id(&state, "1")], at(2)).unwrap();
    apply(&mut state, &event);
    let offered = |state: &State| -> Vec<CardId> {
        let kit = checked(state, &["Robin"]);
        let found = kit.projects[0].lines[0].threads[0].substitutes.iter();
        found.map(|found| found.card).collect()
    };
    assert_eq!(offered(&state), [id(&state, "2"), id(&state, "3")]);
    let mark = |state: &mut State, name: &str| {
        let event = range::mark(state, &[name.to_owned()], Mark::Variegated, true).unwrap();
        apply(state, &event);
    };
    mark(&mut state, "2");
    assert_eq!(offered(&state), [id(&state, "3")]);
    mark(&mut state, "1");
    assert_eq!(offered(&state), []);
}

#[test]
fn a_lot_used_up_by_the_project_is_the_one_to_buy_again() {
    let mut state = stash(&[("1", 0, 0)]);
    give_key(&mut state, "Fox", &[("1", 40)]);
    lots(&mut state, "1", &[("K7", 12, 0)]);
    let event = thread_command::count(
        &state,
        id(&state, "1"),
        Counted {
            strands: Some(Strands(0)),
            ..Counted::default()
        },
        Some(&Lot::unknown()),
    );
    assert_eq!(event, Ok(None));
    take(&mut state, "Fox", &["1"]);
    use_up(&mut state, "1", 12);
    let asked = |state: &State| -> Vec<String> {
        let list = buy_list(state, &checked(state, &["Fox"]));
        list[0].lots.iter().map(Lot::to_string).collect()
    };
    assert_eq!(asked(&state), ["K7"]);
    // Thread of another lot would continue where K7 ended.
    lots(&mut state, "1", &[("V1", 10, 0)]);
    let kit = checked(&state, &["Fox"]);
    let line = &kit.projects[0].lines[0].threads[0];
    assert_eq!(
        crate::text::thread::mixed_lots(line).as_deref(),
        Some("lot K7 on its ring is used up, and lot V1 would go on")
    );
    assert_eq!(asked(&state), ["V1", "K7"]);
}
