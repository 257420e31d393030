//! What a re-hang leaves alone: held cards and families, costly cards, and reserved hooks. Nothing
//! moves until the next re-hang.

use super::board::{board_of, edit};
use super::{count, kept, once};
use crate::model::board::HookRef;
use crate::model::card::{Effort, Family, MoveCost};
use crate::model::ids::CardId;
use crate::stash::event::{Act, Change, Event};
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};

/// Holds cards on the hooks they belong on. A previous effort is dropped.
///
/// # Errors
/// When no card is named, one is a split card or has no hook, or all are already held.
pub fn hold(state: &State, cards: &[CardId]) -> Result<Event, Refusal> {
    let named = no_split_cards(state, named(state, cards)?)?;
    if let Some(kept) = named.iter().find(|kept| kept.home.is_none()) {
        return Err(Refusal::NoHomeYet(state.card_name(kept)));
    }
    let changes = move_cost_changes(&named, |_| MoveCost::Held);
    if changes.is_empty() {
        return Err(Refusal::HeldAlready(names(state, &named)));
    }
    let cards = count(&changes);
    let act = Act::Hold { cards };
    Ok(Event { act, changes })
}

/// Refuses split cards: they have no hook, and re-hangs ignore them.
fn no_split_cards<'a>(
    state: &'a State,
    named: Vec<&'a CardState>,
) -> Result<Vec<&'a CardState>, Refusal> {
    let split_card = named.iter().find_map(|kept| {
        let whole = kept.card.parent.and_then(|parent| state.card(parent))?;
        Some((kept, whole))
    });
    match split_card {
        None => Ok(named),
        Some((kept, whole)) => Err(Refusal::SplitCardHasNoHook {
            card: state.card_name(kept),
            whole: state.card_name(whole),
        }),
    }
}

/// Releases held cards.
///
/// # Errors
/// When no card is named, or none of them is held itself. A card can also stay because its family
/// is held.
pub fn release(state: &State, cards: &[CardId]) -> Result<Event, Refusal> {
    let named = named(state, cards)?;
    let changes = move_cost_changes(&named, |cost| match cost {
        MoveCost::Held => MoveCost::Plain,
        other => other,
    });
    if changes.is_empty() {
        let with_family = |kept: &&&CardState| state.family_hold(kept).is_some();
        return Err(match named.iter().find(with_family) {
            Some(kept) => Refusal::HeldByFamily {
                card: state.card_name(kept),
                family: state.family_name(kept).to_owned(),
            },
            None => Refusal::NotHeld(names(state, &named)),
        });
    }
    let cards = count(&changes);
    let act = Act::Release { cards };
    Ok(Event { act, changes })
}

/// Releases every card and every family. Efforts and reserved hooks stay as they are.
///
/// # Errors
/// When nothing is held.
pub fn release_all(state: &State) -> Result<Event, Refusal> {
    let held: Vec<&CardState> = state
        .cards()
        .filter(|kept| kept.card.touch == MoveCost::Held)
        .collect();
    let mut changes = move_cost_changes(&held, |_| MoveCost::Plain);
    let cards = count(&changes);
    let before = state.families().to_vec();
    let mut after = before.clone();
    for family in &mut after {
        family.held = false;
    }
    if after != before {
        changes.push(Change::Families { before, after });
    }
    if changes.is_empty() {
        return Err(Refusal::NothingHeld);
    }
    let act = Act::Release { cards };
    Ok(Event { act, changes })
}

/// Sets how many plain cards a move of each of these cards counts as; `None` makes them plain. A
/// held card is released.
///
/// # Errors
/// When no card is named, one is a split card, or all already have that effort.
pub fn effort(state: &State, cards: &[CardId], effort: Option<Effort>) -> Result<Event, Refusal> {
    let named = no_split_cards(state, named(state, cards)?)?;
    let cost = effort.map_or(MoveCost::Plain, MoveCost::Costly);
    let changes = move_cost_changes(&named, |_| cost);
    let effort = cost.effort();
    if changes.is_empty() {
        let cards = names(state, &named);
        return Err(Refusal::EffortAlready { cards, effort });
    }
    let cards = count(&changes);
    let act = Act::Effort { cards, effort };
    Ok(Event { act, changes })
}

/// Holds families: all their cards stay on the hooks they belong on.
///
/// # Errors
/// When a name isn't a family, or all are already held.
pub fn hold_families(state: &State, families: &[String]) -> Result<Event, Refusal> {
    let (families, changes) = set_families(state, families, true)?;
    let act = Act::HoldFamilies { families };
    Ok(Event { act, changes })
}

/// Releases held families.
///
/// # Errors
/// When a name isn't a family, or none of them is held.
pub fn release_families(state: &State, families: &[String]) -> Result<Event, Refusal> {
    let (families, changes) = set_families(state, families, false)?;
    let act = Act::ReleaseFamilies { families };
    Ok(Event { act, changes })
}

/// Reserves a hook: a re-hang leaves it empty, and gives cards that belong there another hook.
///
/// # Errors
/// When there is no such hook, or it is already reserved.
pub fn reserve(state: &State, hook_name: &str) -> Result<Event, Refusal> {
    let hook = state.find_hook(hook_name)?;
    let hook_name = state.hook_name(hook);
    let changes = vec![set_reserved(state, hook, true)?];
    let act = Act::Reserve { hook: hook_name };
    Ok(Event { act, changes })
}

/// Makes a reserved hook available to re-hangs.
///
/// # Errors
/// When there is no such hook, or it isn't reserved.
pub fn unreserve(state: &State, hook_name: &str) -> Result<Event, Refusal> {
    let hook = state.find_hook(hook_name)?;
    let hook_name = state.hook_name(hook);
    let changes = vec![set_reserved(state, hook, false)?];
    let act = Act::Unreserve { hook: hook_name };
    Ok(Event { act, changes })
}

fn named<'a>(state: &'a State, cards: &[CardId]) -> Result<Vec<&'a CardState>, Refusal> {
    if cards.is_empty() {
        return Err(Refusal::NoCards);
    }
    once(cards)
        .into_iter()
        .map(|card| kept(state, card))
        .collect()
}

fn names(state: &State, cards: &[&CardState]) -> Vec<String> {
    cards.iter().map(|kept| state.card_name(kept)).collect()
}

/// The changes of the cards that get another move cost.
fn move_cost_changes(cards: &[&CardState], to: impl Fn(MoveCost) -> MoveCost) -> Vec<Change> {
    cards
        .iter()
        .filter(|kept| to(kept.card.touch) != kept.card.touch)
        .map(|kept| {
            let mut card = kept.card.clone();
            card.touch = to(card.touch);
            Change::Card {
                before: Some(kept.card.clone()),
                after: Some(card),
            }
        })
        .collect()
}

/// Holds or releases families, and counts those that change.
fn set_families(
    state: &State,
    names: &[String],
    held: bool,
) -> Result<(u32, Vec<Change>), Refusal> {
    let before = state.families().to_vec();
    let mut after = before.clone();
    for name in names {
        let id = state.find_family(name)?.id;
        if let Some(family) = after.iter_mut().find(|family| family.id == id) {
            family.held = held;
        }
    }
    let differs = |(old, new): &(&Family, &Family)| old != new;
    match before.iter().zip(&after).filter(differs).count() {
        0 if held => Err(Refusal::HeldAlready(names.to_vec())),
        0 => Err(Refusal::NotHeld(names.to_vec())),
        families => Ok((
            u32::try_from(families).unwrap_or(u32::MAX),
            vec![Change::Families { before, after }],
        )),
    }
}

fn set_reserved(state: &State, hook: HookRef, reserved: bool) -> Result<Change, Refusal> {
    let old = board_of(state, hook)?;
    if old.reserved(hook) == reserved {
        let hook_name = state.hook_name(hook);
        return Err(Refusal::Reserved {
            hook_name,
            reserved,
        });
    }
    let mut board = old.clone();
    edit(&mut board, hook, |spec| spec.reserved = reserved);
    Ok(Change::Board {
        before: Some(old.clone()),
        after: Some(board),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stash::testing::{Shown as _, add_cards, apply, at, id, read, rows, wall};

    /// Cards 1 and 2 of the reds on A01 and A02, 3 to hang, A03 and A04 free.
    fn stash() -> State {
        let mut state = wall(1, 4, 1);
        let mut list = rows(&["1@A01", "2@A02", "3"]);
        for row in &mut list {
            row.family = Some("reds".to_owned());
        }
        let event = read(&state, &list).event.unwrap();
        apply(&mut state, &event);
        state
    }

    fn ids(state: &State, names: &[&str]) -> Vec<CardId> {
        names.iter().map(|name| id(state, name)).collect()
    }

    fn reds() -> Vec<String> {
        vec!["Reds".to_owned()]
    }

    fn no(outcome: Result<Event, Refusal>) -> String {
        outcome.unwrap_err().shown()
    }

    fn stays(state: &State, name: &str) -> bool {
        state.stays(state.card(id(state, name)).unwrap())
    }

    #[test]
    fn cards_are_held_and_released() {
        let mut state = stash();
        let first = state.clone();
        assert_eq!(no(hold(&state, &[])), "Name at least one card.");
        assert_eq!(
            no(hold(&state, &ids(&state, &["1", "3"]))),
            "Card 3 has no home yet. A re-hang gives it one."
        );
        let event = hold(&state, &ids(&state, &["1", "1"])).unwrap();
        assert_eq!(event.act, Act::Hold { cards: 1 });
        apply(&mut state, &event);
        assert!(stays(&state, "1") && !stays(&state, "2"));
        assert_eq!(no(hold(&state, &ids(&state, &["1"]))), "Held already: 1.");
        // Only cards that weren't held yet count.
        let event = hold(&state, &ids(&state, &["1", "2"])).unwrap();
        assert_eq!(event.act, Act::Hold { cards: 1 });
        let event = release(&state, &ids(&state, &["1", "2"])).unwrap();
        assert_eq!(event.act, Act::Release { cards: 1 });
        apply(&mut state, &event);
        assert_eq!(state, first);
        assert_eq!(no(release(&state, &ids(&state, &["1"]))), "Not held: 1.");
    }

    #[test]
    fn a_family_holds_only_cards_with_a_hook() {
        let mut state = stash();
        let first = state.clone();
        let event = hold_families(&state, &reds()).unwrap();
        apply(&mut state, &event);
        assert_eq!(
            ["1", "2", "3"].map(|name| stays(&state, name)),
            [true, true, false]
        );
        assert_eq!(no(hold_families(&state, &reds())), "Held already: Reds.");
        assert_eq!(
            no(release(&state, &ids(&state, &["2"]))),
            "Card 2 isn't held itself, its family is. Release the family: homehook release \
             --family \"reds\""
        );
        assert_eq!(
            no(hold_families(&state, &["blues".to_owned()])),
            "There is no family 'blues'. The families are: reds."
        );
        let event = release_families(&state, &reds()).unwrap();
        apply(&mut state, &event);
        assert_eq!(state, first);
        assert_eq!(no(release_families(&state, &reds())), "Not held: Reds.");
        assert_eq!(no(release_all(&state)), "Nothing is held.");
        for event in [
            hold_families(&state, &reds()).unwrap(),
            hold(&state, &ids(&state, &["1", "2"])).unwrap(),
        ] {
            apply(&mut state, &event);
        }
        let event = release_all(&state).unwrap();
        assert_eq!(event.act, Act::Release { cards: 2 });
        apply(&mut state, &event);
        assert_eq!(state, first);
    }

    #[test]
    fn an_effort_replaces_a_hold_and_a_hold_an_effort() {
        let mut state = stash();
        let two = ids(&state, &["2"]);
        let five = Effort::new(5).unwrap();
        let touch = |state: &State| state.card(two[0]).unwrap().card.touch;
        let event = effort(&state, &two, Some(five)).unwrap();
        apply(&mut state, &event);
        assert_eq!(touch(&state), MoveCost::Costly(five));
        assert_eq!(
            no(effort(&state, &two, Some(five))),
            "Effort is 5 already: 2."
        );
        assert_eq!(no(release(&state, &two)), "Not held: 2.");
        let event = hold(&state, &two).unwrap();
        apply(&mut state, &event);
        assert_eq!(touch(&state), MoveCost::Held);
        let event = effort(&state, &two, None).unwrap();
        assert_eq!(
            event.act,
            Act::Effort {
                cards: 1,
                effort: 1
            }
        );
        apply(&mut state, &event);
        assert_eq!(touch(&state), MoveCost::Plain);
    }

    #[test]
    fn a_hold_survives_an_import_with_other_values() {
        let mut state = stash();
        let event = hold(&state, &ids(&state, &["1"])).unwrap();
        apply(&mut state, &event);
        add_cards(&mut state, &["1 rust"]);
        assert!(stays(&state, "1"));
    }

    #[test]
    fn a_hook_is_reserved_for_re_hangs_and_usable_by_hand() {
        let mut state = stash();
        let first = state.clone();
        let event = reserve(&state, "a3").unwrap();
        apply(&mut state, &event);
        let hook = state.find_hook("A03").unwrap();
        assert!(state.board(hook.board).unwrap().reserved(hook));
        assert_eq!(state.capacity(hook), 1);
        assert_eq!(no(reserve(&state, "A03")), "Hook A03 is reserved already.");
        assert_eq!(no(unreserve(&state, "A04")), "Hook A04 isn't reserved.");
        assert!(no(reserve(&state, "C09")).starts_with("There is no hook C09."));
        let event = unreserve(&state, "A03").unwrap();
        apply(&mut state, &event);
        assert_eq!(state, first);
        let event = crate::stash::command::ring::missing(&state, &ids(&state, &["1"]), at(1));
        apply(&mut state, &event.unwrap());
        // A card that is away keeps its hold and its hook.
        let event = hold(&state, &ids(&state, &["1"])).unwrap();
        apply(&mut state, &event);
        assert!(stays(&state, "1"));
    }

    #[test]
    fn a_plain_card_writes_no_move_cost() {
        let state = stash();
        let card = &state.card(id(&state, "1")).unwrap().card;
        let json = serde_json::to_string(card).unwrap();
        assert!(!json.contains("touch"), "{json}");
        assert_eq!(
            serde_json::from_str::<crate::model::card::Card>(&json).unwrap(),
            *card
        );
        let family = state.families().first().unwrap();
        let json = serde_json::to_string(family).unwrap();
        assert_eq!(json, format!(r#"{{"id":"{}","name":"reds"}}"#, family.id));
        assert_eq!(&serde_json::from_str::<Family>(&json).unwrap(), family);
        let kept = reserve(&state, "A03").unwrap();
        let json = serde_json::to_string(&kept).unwrap();
        assert!(
            json.contains(r#"{"row":0,"column":2,"reserved":true}"#),
            "{json}"
        );
        assert_eq!(serde_json::from_str::<Event>(&json).unwrap(), kept);
    }

    #[test]
    fn a_split_card_has_no_hook_to_hold() {
        let mut state = stash();
        let one = id(&state, "1");
        let strands = crate::model::thread::Strands(6);
        let event =
            crate::stash::command::thread::split(&state, "Robin", one, strands, None, "", at(1));
        apply(&mut state, &event.unwrap());
        let split_card = ids(&state, &["1@Robin"]);
        let says = "Card 1@Robin is a split card and has no hook of its own. Name 1 instead.";
        assert_eq!(no(hold(&state, &split_card)), says);
        assert_eq!(no(effort(&state, &split_card, Effort::new(5).ok())), says);
        assert_eq!(no(release(&state, &split_card)), "Not held: 1@Robin.");
    }
}
