//! How people name hooks, cards and rings, and how the program names them back.

use super::refusal::Refusal;
use super::state::{Kept, State};
use crate::language::{say, word};
use crate::model::board::{Board, HookRef};
use crate::model::family::Family;
use crate::model::ids::CardId;
use crate::model::label::fold;
use crate::model::range::Range;
use crate::model::ring::Ring;
use crate::model::whereabouts::{LastSeen, Whereabouts};

/// A mark two boards have in common, if any. O(hooks of the smaller board).
#[must_use]
pub(super) fn shared_mark(a: &Board, b: &Board) -> Option<String> {
    let hooks = |board: &Board| u32::from(board.rows) * u32::from(board.columns);
    let (small, large) = if hooks(a) <= hooks(b) { (a, b) } else { (b, a) };
    // Only marks that begin alike can be the same, as [`Board::find_mark`] reads them.
    let plain = |board: &Board| -> String {
        let typed = board.prefix.as_str().chars();
        let typed = typed.filter(|c| !c.is_whitespace() && *c != '-');
        typed.flat_map(char::to_uppercase).collect()
    };
    let (x, y) = (plain(a), plain(b));
    if !x.starts_with(&y) && !y.starts_with(&x) {
        return None;
    }
    small
        .hooks()
        .map(|hook| small.mark(hook))
        .find(|mark| large.find_mark(mark).is_some())
}

impl State {
    /// A hook's mark. For a hook of no board, its place in the record.
    #[must_use]
    pub fn mark(&self, hook: HookRef) -> String {
        self.board(hook.board)
            .map_or_else(|| hook.to_string(), |board| board.mark(hook))
    }

    /// The hook with a mark.
    ///
    /// # Errors
    /// When there is no board, or no hook with that mark.
    pub fn find_mark(&self, mark: &str) -> Result<HookRef, Refusal> {
        if self.boards().len() == 0 {
            return Err(Refusal::NoBoard);
        }
        self.boards()
            .find_map(|board| board.find_mark(mark))
            .ok_or_else(|| {
                let runs: Vec<String> = self
                    .boards()
                    .map(|board| {
                        let last = board.hook(board.rows - 1, board.columns - 1);
                        let first = board.mark(board.hook(0, 0));
                        say!(
                            "'{name}' runs from {first} to {last}",
                            name = board.name,
                            first,
                            last = board.mark(last)
                        )
                    })
                    .collect();
                Refusal::UnknownMark {
                    mark: mark.trim().chars().take(40).collect(),
                    known: runs.join(", "),
                }
            })
    }

    /// The board of a name.
    ///
    /// # Errors
    /// When there is none of that name.
    pub fn find_board(&self, name: &str) -> Result<&Board, Refusal> {
        if self.boards().len() == 0 {
            return Err(Refusal::NoBoard);
        }
        self.boards()
            .find(|board| board.name.same_as(name))
            .ok_or_else(|| Refusal::UnknownBoard {
                name: name.to_owned(),
                known: list(self.boards().map(|board| board.name.to_string())),
            })
    }

    /// The range of a name, capitals aside.
    #[must_use]
    pub fn find_range(&self, name: &str) -> Option<&Range> {
        self.ranges().find(|range| range.name.same_as(name))
    }

    /// The family of a name, capitals aside.
    ///
    /// # Errors
    /// When there is none of that name.
    pub fn find_family(&self, name: &str) -> Result<&Family, Refusal> {
        let mut families = self.families().iter();
        families
            .find(|family| family.name.same_as(name))
            .ok_or_else(|| Refusal::UnknownFamily {
                name: name.trim().to_owned(),
                known: list(self.families().iter().map(|f| f.name.to_string())),
            })
    }

    /// The ring of a project, capitals aside.
    #[must_use]
    pub fn find_ring(&self, project: &str) -> Option<&Ring> {
        self.rings().find(|ring| ring.project.same_as(project))
    }

    /// The ring of a project.
    ///
    /// # Errors
    /// When there is none.
    pub fn need_ring(&self, project: &str) -> Result<&Ring, Refusal> {
        self.find_ring(project).ok_or_else(|| {
            let known = list(self.rings().map(|ring| format!("'{}'", ring.project)));
            Refusal::UnknownRing {
                project: project.to_owned(),
                known: if known.is_empty() {
                    word!("there are no rings yet").to_owned()
                } else {
                    say!("the rings are: {known}", known)
                },
            }
        })
    }

    /// The name of a card's range.
    #[must_use]
    pub fn range_name(&self, kept: &Kept) -> &str {
        self.range(kept.card.range)
            .map_or("", |range| range.name.as_str())
    }

    /// A card's number, with its range where another range has a card of that number, or the number
    /// alone would be the `RANGE:NUMBER` of another card.
    pub(super) fn number_in_full(&self, kept: &Kept) -> String {
        let number = &kept.card.number;
        let alike = self.index().numbered(&number.key());
        let elsewhere = alike.iter().any(|&(range, _)| range != kept.card.range);
        if elsewhere || !self.cards_in_full(number.as_str()).is_empty() {
            format!("{}:{number}", self.range_name(kept))
        } else {
            number.to_string()
        }
    }

    /// What a card is called: its number, with its range where the number alone could be another card.
    /// A spare card is called `NUMBER@PROJECT`; see [`super::spares`].
    #[must_use]
    pub fn card_name(&self, kept: &Kept) -> String {
        if kept.card.parent.is_some() {
            self.spare_name(kept)
        } else {
            self.number_in_full(kept)
        }
    }

    /// The cards that are no spare cards and go by `NUMBER` or `RANGE:NUMBER`. The latter comes first:
    /// no range has a colon in its name, while a number may have one.
    pub(super) fn whole_cards(&self, name: &str) -> Vec<&Kept> {
        let found = self.cards_in_full(name);
        if found.is_empty() {
            self.cards_numbered(name).collect()
        } else {
            found
        }
    }

    /// The card that is no spare card and has the range and the number that stand around a colon.
    fn cards_in_full(&self, name: &str) -> Vec<&Kept> {
        let Some((range, number)) = name.split_once(':') else {
            return Vec::new();
        };
        let range = fold(range);
        let cards = self.cards_numbered(number);
        cards
            .filter(|kept| range == fold(self.range_name(kept)))
            .collect()
    }

    /// The cards of a number that are no spare cards.
    fn cards_numbered(&self, number: &str) -> impl Iterator<Item = &Kept> {
        let cards = self.index().numbered(&fold(number)).iter();
        cards
            .filter_map(|&(_, id)| self.card(id))
            .filter(|kept| kept.card.parent.is_none())
    }

    /// The cards that a person calls so, in the order they were named.
    ///
    /// # Errors
    /// As [`State::find_card`], for the first that cannot be found.
    pub fn find_cards(&self, names: &[String]) -> Result<Vec<CardId>, Refusal> {
        names.iter().map(|name| self.find_card(name)).collect()
    }

    /// The card that a person calls `NUMBER` or `RANGE:NUMBER`, or the spare card that is called
    /// `NUMBER@PROJECT`; capitals do not matter.
    ///
    /// # Errors
    /// When there is none, or more than one.
    pub fn find_card(&self, name: &str) -> Result<CardId, Refusal> {
        let mut found = self.whole_cards(name);
        if found.is_empty() {
            found = self.spares_called(name);
        }
        match found.as_slice() {
            [one] => Ok(one.card.id),
            [] => Err(Refusal::UnknownCard {
                name: name.trim().to_owned(),
                hint: self
                    .spares_hint(name)
                    .unwrap_or_else(|| self.nearest_hint(name)),
            }),
            many => Err(Refusal::Ambiguous {
                name: name.trim().to_owned(),
                choices: list(many.iter().map(|kept| self.card_name(kept))),
            }),
        }
    }

    /// Where a card is, in words that follow "it is".
    #[must_use]
    pub fn place_in_words(&self, kept: &Kept) -> String {
        let ring = |id| {
            self.ring(id)
                .map_or_else(String::new, |ring| format!("'{}'", ring.project))
        };
        match &kept.place.at {
            Whereabouts::Hook { hook } if kept.home == Some(*hook) => {
                say!("at home on hook {hook}", hook = self.mark(*hook))
            }
            Whereabouts::Hook { hook } => say!("on hook {hook}", hook = self.mark(*hook)),
            Whereabouts::Ring { ring: id } => {
                let parked = match self.ring(*id).map(|ring| ring.state) {
                    Some(crate::model::ring::RingState::Parked { hook, .. }) => {
                        say!(", parked on hook {hook}", hook = self.mark(hook))
                    }
                    _ => String::new(),
                };
                say!("on the ring {ring}{parked}", ring = ring(*id), parked)
            }
            Whereabouts::Hand => word!("in the hand, in the middle of a re-hang").to_owned(),
            Whereabouts::Missing { last_seen } => match last_seen {
                LastSeen::Hook(hook) => {
                    say!("missing, last seen on hook {hook}", hook = self.mark(*hook))
                }
                LastSeen::Ring(id) => {
                    say!("missing, last seen on the ring {ring}", ring = ring(*id))
                }
                LastSeen::Loose => word!("missing").to_owned(),
            },
            Whereabouts::Elsewhere { note } => say!("elsewhere: {note}", note),
            Whereabouts::Unhung => match kept.card.parent.and_then(|id| self.card(id)) {
                Some(whole) => say!(
                    "in the tray, to be wound back onto {whole}",
                    whole = self.card_name(whole)
                ),
                None => word!("in the tray, not hung yet").to_owned(),
            },
        }
    }

    /// Where a card is, as short as can be: `A01`, `'Robin'` for a ring, `tray`.
    #[must_use]
    pub fn place_in_brief(&self, kept: &Kept) -> String {
        match &kept.place.at {
            Whereabouts::Hook { hook } => self.mark(*hook),
            Whereabouts::Ring { ring } => {
                let ring = self.ring(*ring);
                let name = ring.map_or_else(String::new, |ring| format!("'{}'", ring.project));
                match ring.map(|ring| ring.state) {
                    Some(crate::model::ring::RingState::Parked { hook, .. }) => {
                        say!("{name} on {hook}", name, hook = self.mark(hook))
                    }
                    _ => name,
                }
            }
            Whereabouts::Hand => word!("hand").to_owned(),
            Whereabouts::Missing { .. } => word!("missing").to_owned(),
            Whereabouts::Elsewhere { note } => say!("elsewhere ({note})", note),
            Whereabouts::Unhung => word!("tray").to_owned(),
        }
    }

    /// The cards that went out on a ring and are neither home, nor on a ring, nor missing.
    ///
    /// A card without a home is home in the tray; not so a spare card, whose thread belongs on
    /// another card.
    pub fn unaccounted(&self, ring: &Ring) -> impl Iterator<Item = &Kept> {
        let id = ring.id;
        ring.went_out
            .iter()
            .filter_map(|&card| self.card(card))
            .filter(move |kept| match kept.place.at {
                Whereabouts::Hook { hook } => kept.home != Some(hook),
                Whereabouts::Ring { ring } => ring == id,
                Whereabouts::Missing { .. } => false,
                Whereabouts::Unhung => kept.home.is_some() || kept.card.parent.is_some(),
                Whereabouts::Hand | Whereabouts::Elsewhere { .. } => true,
            })
    }
}

/// Joins names with commas, and says how many more there are past the first ten.
pub fn list(names: impl Iterator<Item = String>) -> String {
    let names: Vec<String> = names.collect();
    let (shown, more) = names.split_at(names.len().min(10));
    let mut text = shown.join(", ");
    if !more.is_empty() {
        text.push_str(&say!(" and {count} more", count = more.len()));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stash::command::board::new_board;
    use crate::stash::command::import::shades;
    use crate::stash::intake::ShadeRow;
    use crate::stash::testing::{apply, board, bring_in, id, wall};

    fn refusal(state: &State, name: &str) -> String {
        state.find_card(name).unwrap_err().to_string()
    }

    #[test]
    fn a_number_in_two_ranges_has_to_be_named_in_full() {
        let mut state = wall(1, 1, 1);
        bring_in(
            &mut state,
            &["Hill:310", "Mill:310", "Mill:B:5", "Hill:B:5", "9"],
        );
        assert_eq!(
            refusal(&state, "310"),
            "'310' could be any of: Hill:310, Mill:310; name it in full"
        );
        let kept = state.card(id(&state, " mill : 310 ")).unwrap();
        assert_eq!(state.card_name(kept), "Mill:310");
        let kept = state.card(id(&state, "mill:b:5")).unwrap();
        assert_eq!(state.card_name(kept), "Mill:B:5");
        assert_eq!(state.card_name(state.card(id(&state, "9")).unwrap()), "9");
    }

    #[test]
    fn an_unknown_card_comes_with_the_nearest_there_is() {
        let mut state = wall(1, 1, 1);
        bring_in(&mut state, &["Hill:B5 moss", "Hill:12"]);
        let shade = ShadeRow {
            line: 2,
            number: "77".into(),
            name: "chalk".into(),
            colour: None,
            family: None,
        };
        let event = shades(&state, &[shade], Vec::new(), "Hill").unwrap().event;
        apply(&mut state, &event.unwrap());
        for (name, hint) in [
            ("mos", " (did you mean B5, moss?)"),
            ("1", " (did you mean 12?)"),
            (
                "77",
                " (the range has it, but no card of it was brought in)",
            ),
            (
                "13",
                "; to look for it by a part of its number or name: homehook find TEXT",
            ),
        ] {
            assert_eq!(
                refusal(&state, name),
                format!("no card '{name}' in the stash{hint}")
            );
        }
    }

    #[test]
    fn a_mark_is_found_on_whichever_board_has_it() {
        let mut state = wall(2, 3, 1);
        let event = new_board(&state, &board("shelf", "2-", 1, 2, 1)).unwrap();
        apply(&mut state, &event);
        for (text, mark) in [("b3", "B03"), ("2a2", "2-A02"), ("2-A02", "2-A02")] {
            assert_eq!(state.mark(state.find_mark(text).unwrap()), mark);
        }
        assert_eq!(
            state.find_mark("C01").unwrap_err().to_string(),
            "there is no hook C01; 'wall' runs from A01 to B03, 'shelf' runs from 2-A01 to 2-A02"
        );
        assert_eq!(State::default().find_mark("A1"), Err(Refusal::NoBoard));
    }

    #[test]
    fn marks_that_are_typed_alike_are_shared() {
        let mut state = State::default();
        let event = new_board(&state, &board("wall", "a-b", 1, 2, 1)).unwrap();
        apply(&mut state, &event);
        for (prefix, shared) in [("ab", true), ("A B-", true), ("abc", false), ("", false)] {
            let outcome = new_board(&state, &board("shelf", prefix, 2, 2, 1));
            assert_eq!(
                matches!(outcome, Err(Refusal::SharedMark { .. })),
                shared,
                "{prefix}"
            );
        }
    }

    #[test]
    fn a_long_list_of_names_is_cut() {
        let names = |count: u32| list((1..=count).map(|n| n.to_string()));
        assert_eq!(names(2), "1, 2");
        assert_eq!(names(12), "1, 2, 3, 4, 5, 6, 7, 8, 9, 10 and 2 more");
    }
}
