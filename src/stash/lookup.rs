//! Finds hooks, boards, cards and rings by the names people use. If there is no match, the refusal
//! lists alternatives.

use super::colours::shade;
use super::find::{Found, Match, NotOwned};
use super::names::SPLIT_SIGN;
use super::refusal::{Amount, CardHint, Refusal, Run};
use super::state::{CardState, State};
use crate::model::board::{Board, HookRef};
use crate::model::card::Family;
use crate::model::ids::{CardId, RangeId};
use crate::model::number::Number;
use crate::model::ring::Ring;

impl State {
    /// The colour named `NUMBER` or `RANGE:NUMBER`. It needs no card: a number without one belongs
    /// to the range named, else to the stash's only range, else to the only range whose list or
    /// chart key has it.
    ///
    /// # Errors
    /// When the name could mean several cards, or its range is unknown.
    pub fn find_colour(&self, name: &str) -> Result<(RangeId, Number), Refusal> {
        match self.find_card(name) {
            Ok(id) => match self.card(id) {
                Some(kept) => Ok((kept.card.range, kept.card.number.clone())),
                None => Err(Refusal::NoCards),
            },
            Err(unknown @ Refusal::UnknownCard { .. }) => self.meant_colour(name).ok_or(unknown),
            Err(other) => Err(other),
        }
    }

    /// The range and number of a colour that isn't owned, if only one is possible.
    fn meant_colour(&self, name: &str) -> Option<(RangeId, Number)> {
        if let Some((range, number)) = name.split_once(':')
            && let Some(range) = self.find_range(range)
        {
            return Some((range.id, Number::new(number).ok()?));
        }
        let number = Number::new(name).ok()?;
        let listed = self.ranges();
        let listed = listed.filter(|range| shade(range, &number).is_some());
        let keys = self.rings().flat_map(Ring::threads);
        let keyed = keys.flat_map(|thread| [&thread.colour, thread.stitched()]);
        let keyed = keyed.filter(|colour| colour.number.key() == number.key());
        let mut ranges: Vec<RangeId> = listed
            .map(|range| range.id)
            .chain(keyed.map(|colour| colour.range))
            .collect();
        if ranges.is_empty() {
            ranges.extend(self.ranges().map(|range| range.id));
        }
        ranges.sort_unstable();
        ranges.dedup();
        match ranges.as_slice() {
            [one] => Some((*one, number)),
            _ => None,
        }
    }

    /// The thread on a card.
    pub(super) fn amount_on(&self, kept: &CardState) -> Amount {
        Amount {
            strands: kept.strands(),
            put_up: self.put_up(&kept.card),
        }
    }

    /// The hooks of each board, by the names of the first and the last.
    pub(super) fn hook_runs(&self) -> Vec<Run> {
        let run = |board: &Board| Run {
            board: board.name.to_string(),
            first: board.hook_name(board.hook(0, 0)),
            last: board.hook_name(board.hook(board.rows - 1, board.columns - 1)),
        };
        self.boards().map(run).collect()
    }

    /// The hook with a name.
    ///
    /// # Errors
    /// When there is no board, or no hook with that name.
    pub fn find_hook(&self, hook_name: &str) -> Result<HookRef, Refusal> {
        if self.boards().len() == 0 {
            return Err(Refusal::NoBoard);
        }
        self.boards()
            .find_map(|board| board.find_hook(hook_name))
            .ok_or_else(|| Refusal::UnknownHook {
                hook_name: hook_name.trim().chars().take(40).collect(),
                known: self.hook_runs(),
            })
    }

    /// The board with a name.
    ///
    /// # Errors
    /// When there is none.
    pub fn find_board(&self, name: &str) -> Result<&Board, Refusal> {
        if self.boards().len() == 0 {
            return Err(Refusal::NoBoard);
        }
        self.boards()
            .find(|board| board.name.same_as(name))
            .ok_or_else(|| Refusal::UnknownBoard {
                name: name.to_owned(),
                known: self.boards().map(|board| board.name.to_string()).collect(),
            })
    }

    /// The family with a name, ignoring case.
    ///
    /// # Errors
    /// When there is none.
    pub fn find_family(&self, name: &str) -> Result<&Family, Refusal> {
        let mut families = self.families().iter();
        families
            .find(|family| family.name.same_as(name))
            .ok_or_else(|| Refusal::UnknownFamily {
                name: name.trim().to_owned(),
                known: self.families().iter().map(|f| f.name.to_string()).collect(),
            })
    }

    /// The ring of a project.
    ///
    /// # Errors
    /// When there is none.
    pub fn need_ring(&self, project: &str) -> Result<&Ring, Refusal> {
        self.find_ring(project).ok_or_else(|| Refusal::UnknownRing {
            project: project.to_owned(),
            known: self.rings().map(|ring| ring.project.to_string()).collect(),
        })
    }

    /// The cards with these names, in the order given.
    ///
    /// # Errors
    /// As [`State::find_card`], for the first one not found.
    pub fn find_cards(&self, names: &[String]) -> Result<Vec<CardId>, Refusal> {
        names.iter().map(|name| self.find_card(name)).collect()
    }

    /// The card named `NUMBER`, `NUMBER/TAG`, or either after `RANGE:`, or the split card named
    /// like that with `@PROJECT` appended, ignoring case. A number alone means the card without a
    /// tag, or the only card with that number.
    ///
    /// # Errors
    /// When there is none, or more than one.
    pub fn find_card(&self, name: &str) -> Result<CardId, Refusal> {
        let mut found = self.whole_cards(name);
        if found.is_empty() {
            found = self.split_cards_called(name);
        }
        match found.as_slice() {
            [one] => Ok(one.card.id),
            [] => Err(Refusal::UnknownCard {
                name: name.trim().to_owned(),
                hint: self
                    .split_cards_hint(name)
                    .or_else(|| self.nearest_hint(name)),
            }),
            many => Err(Refusal::Ambiguous {
                name: name.trim().to_owned(),
                choices: many.iter().map(|kept| self.card_name(kept)).collect(),
            }),
        }
    }

    /// What a name that isn't a card may mean.
    #[must_use]
    pub(super) fn nearest_hint(&self, name: &str) -> Option<CardHint> {
        let is_like_it = |found: &&Found| !matches!(found.how, Match::Detail(_) | Match::Hook);
        let found = self.find(name);
        let owned = found
            .iter()
            .find(is_like_it)
            .and_then(|found| self.card(found.card));
        if let Some(kept) = owned {
            return Some(CardHint::Nearest {
                card: self.card_name(kept),
                name: kept.card.name.to_string(),
            });
        }
        let not_owned = self.find_not_owned(name);
        let by_number = |found: &NotOwned| matches!(found.how, Match::Number | Match::RangeNumber);
        let first = not_owned.first().filter(|found| by_number(found));
        first.map(|_| CardHint::OnlyInRange)
    }

    /// The split cards with the number in a name with an `@`.
    pub(super) fn split_cards_hint(&self, name: &str) -> Option<CardHint> {
        let (number, _) = name.rsplit_once(SPLIT_SIGN)?;
        let whole = self.whole_cards(number);
        let [whole] = whole.as_slice() else {
            return None;
        };
        let split_cards = self.split_cards_of(whole.card.id);
        Some(CardHint::SplitCards {
            card: self.card_name(whole),
            split_cards: split_cards.map(|kept| self.card_name(kept)).collect(),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::thread::Strands;
    use crate::stash::command::board::new_board;
    use crate::stash::command::import::{self, RangeRow};
    use crate::stash::command::{card, thread};
    use crate::stash::testing::{
        Shown as _, add_cards, apply, at, board, id, read, row, rows, wall,
    };

    fn refusal(state: &State, name: &str) -> String {
        state.find_card(name).unwrap_err().shown()
    }

    #[test]
    fn a_number_in_two_ranges_needs_its_full_name() {
        let mut state = wall(1, 1, 1);
        add_cards(
            &mut state,
            &["Cove:701", "Sandbank:701", "Sandbank:B:5", "Cove:B:5", "9"],
        );
        assert_eq!(
            refusal(&state, "701"),
            "'701' could be any of: Cove:701, Sandbank:701. Name it in full."
        );
        let kept = state.card(id(&state, " sandbank : 701 ")).unwrap();
        assert_eq!(state.card_name(kept), "Sandbank:701");
        let kept = state.card(id(&state, "sandbank:b:5")).unwrap();
        assert_eq!(state.card_name(kept), "Sandbank:B:5");
        assert_eq!(state.card_name(state.card(id(&state, "9")).unwrap()), "9");
    }

    /// Imports cards written as `RANGE:NUMBER/TAG`.
    fn tagged(state: &mut State, names: &[&str]) {
        for name in names {
            let (plain, tag) = name.rsplit_once('/').unwrap();
            let mut new = row(plain);
            new.tag = Some(tag.to_owned());
            let event = card::new_card(state, new, at(1)).unwrap();
            apply(state, &event);
        }
    }

    #[test]
    fn a_number_means_the_card_without_a_tag_or_the_only_one() {
        let mut state = wall(1, 1, 1);
        tagged(&mut state, &["Cove:701/K7"]);
        let first = id(&state, "701");
        assert_eq!(state.card_name(state.card(first).unwrap()), "701/K7");
        tagged(&mut state, &["Cove:701/9b"]);
        assert_eq!(
            refusal(&state, "701"),
            "'701' could be any of: 701/K7, 701/9b. Name it in full."
        );
        assert_eq!(state.find_card("701").unwrap_err().to_string(), "ambiguous");
        add_cards(&mut state, &["Cove:701"]);
        let plain = id(&state, "701");
        assert!(state.card(plain).unwrap().card.tag.is_empty());
        assert_eq!(id(&state, " cove : 701 / k7 "), first);
        assert_eq!(
            refusal(&state, "701/x"),
            "No card '701/x' in the stash. Look for it by a part of its number or name: homehook \
             find TEXT"
        );
    }

    #[test]
    fn a_number_with_a_slash_comes_before_a_number_with_a_tag() {
        let mut state = wall(1, 1, 1);
        tagged(&mut state, &["Cove:701/K7"]);
        add_cards(&mut state, &["Sandbank:701/k7"]);
        let (cove, sandbank) = (id(&state, "cove:701/k7"), id(&state, "701/k7"));
        assert_ne!(cove, sandbank);
        assert_eq!(state.card_name(state.card(cove).unwrap()), "Cove:701/K7");
        assert_eq!(state.card_name(state.card(sandbank).unwrap()), "701/k7");
        // Within one range they couldn't be told apart.
        let reason = |outcome: crate::stash::command::import::Outcome| {
            outcome
                .rejected
                .first()
                .map(|row| crate::text::refusal::row_fault(&row.reason))
        };
        let outcome = read(&state, &rows(&["Cove:701/k7", "Cove:9"]));
        assert_eq!(
            reason(outcome).as_deref(),
            Some("the stash already has a card written 701/K7.")
        );
        let mut row = row("Sandbank:701");
        row.tag = Some("K7".into());
        assert!(card::new_card(&state, row, at(2)).is_err());
    }

    #[test]
    fn the_split_card_of_a_tagged_card_is_named_after_both() {
        let mut state = wall(1, 1, 1);
        add_cards(&mut state, &["Cove:701"]);
        tagged(&mut state, &["Cove:701/K7"]);
        let tagged = id(&state, "701/K7");
        for card in [tagged, id(&state, "701")] {
            let event =
                thread::split(&state, "Harbour", card, Strands(6), None, "", at(3)).unwrap();
            apply(&mut state, &event);
        }
        let split = id(&state, "701/k7@harbour");
        let kept = state.card(split).unwrap();
        assert_eq!(kept.card.parent, Some(tagged));
        assert_eq!(state.card_name(kept), "701/K7@Harbour");
        assert_ne!(id(&state, "701@Harbour"), split);
        // It follows the tag of its own card.
        let event = card::retag(&state, tagged, "k8").unwrap().unwrap();
        apply(&mut state, &event);
        assert_eq!(
            state.card_name(state.card(split).unwrap()),
            "701/k8@Harbour"
        );
    }

    #[test]
    fn a_card_can_be_retagged_unless_it_would_look_like_another() {
        let mut state = wall(1, 1, 1);
        add_cards(&mut state, &["Cove:701"]);
        tagged(&mut state, &["Cove:701/K7"]);
        let (plain, tagged) = (id(&state, "701"), id(&state, "701/K7"));
        let code = |card, tag| card::retag(&state, card, tag).unwrap_err().to_string();
        assert_eq!(code(plain, "k7"), "card_there");
        assert_eq!(code(tagged, ""), "card_there");
        assert_eq!(code(plain, "a@b"), "not_a_tag");
        assert_eq!(card::retag(&state, tagged, "K7"), Ok(None));
        let event = card::retag(&state, plain, "old").unwrap().unwrap();
        apply(&mut state, &event);
        assert_eq!(id(&state, "701/old"), plain);
    }

    #[test]
    fn cards_of_one_colour_hang_side_by_side_in_order_of_their_tags() {
        let mut state = wall(1, 1, 1);
        tagged(&mut state, &["Cove:701/10", "Cove:701/9"]);
        add_cards(&mut state, &["Cove:702", "Cove:701", "Cove:9"]);
        let order = state.in_wanted_order(state.cards());
        let names: Vec<String> = order
            .into_iter()
            .map(|kept| state.card_name(kept))
            .collect();
        assert_eq!(names, ["9", "701", "701/9", "701/10", "702"]);
    }

    #[test]
    fn a_row_without_a_tag_means_the_card_without_one() {
        let mut state = wall(1, 1, 1);
        tagged(&mut state, &["Cove:701/K7"]);
        let outcome = read(&state, &rows(&["Cove:701 slate"]));
        assert_eq!((outcome.added, outcome.changed), (1, 0));
        apply(&mut state, &outcome.event.unwrap());
        assert_eq!(state.cards().len(), 2);
        let mut row = row("Cove:701 ink");
        row.tag = Some("k7".into());
        let outcome = read(&state, &[row]);
        assert_eq!((outcome.added, outcome.changed), (0, 1));
        apply(&mut state, &outcome.event.unwrap());
        let name = |name| state.card(id(&state, name)).unwrap().card.name.to_string();
        assert_eq!(
            (name("701"), name("701/K7")),
            ("slate".into(), "ink".into())
        );
    }

    #[test]
    fn an_unknown_card_suggests_the_nearest_one() {
        let mut state = wall(1, 1, 1);
        add_cards(&mut state, &["Cove:B5 moss", "Cove:12"]);
        let shade = RangeRow {
            line: 2,
            number: "77".into(),
            name: "chalk".into(),
            colour: None,
            family: None,
        };
        let event = import::range(&state, &[shade], Vec::new(), "Cove")
            .unwrap()
            .event;
        apply(&mut state, &event.unwrap());
        for (name, hint) in [
            ("mos", "Did you mean B5, moss?"),
            ("1", "Did you mean 12?"),
            ("77", "The range has it, but no card of it was imported."),
            (
                "13",
                "Look for it by a part of its number or name: homehook find TEXT",
            ),
        ] {
            assert_eq!(
                refusal(&state, name),
                format!("No card '{name}' in the stash. {hint}")
            );
        }
    }

    #[test]
    fn a_hook_name_is_found_on_the_board_that_has_it() {
        let mut state = wall(2, 3, 1);
        let event = new_board(&state, &board("shelf", "2-", 1, 2, 1)).unwrap();
        apply(&mut state, &event);
        for (text, hook_name) in [("b3", "B03"), ("2a2", "2-A02"), ("2-A02", "2-A02")] {
            assert_eq!(state.hook_name(state.find_hook(text).unwrap()), hook_name);
        }
        assert_eq!(
            state.find_hook("C01").unwrap_err().shown(),
            "There is no hook C01. 'wall' runs from A01 to B03, 'shelf' runs from 2-A01 to 2-A02."
        );
        assert_eq!(State::default().find_hook("A1"), Err(Refusal::NoBoard));
    }

    #[test]
    fn hook_names_that_read_the_same_count_as_shared() {
        let mut state = State::default();
        let event = new_board(&state, &board("wall", "a-b", 1, 2, 1)).unwrap();
        apply(&mut state, &event);
        for (prefix, shared) in [("ab", true), ("A B-", true), ("abc", false), ("", false)] {
            let outcome = new_board(&state, &board("shelf", prefix, 2, 2, 1));
            assert_eq!(
                matches!(outcome, Err(Refusal::SharedHookName { .. })),
                shared,
                "{prefix}"
            );
        }
    }
}
