//! What there is to know before a card is hung on another hook.

use super::list;
use super::places::place_of;
use crate::model::card::WallOrder;
use crate::model::whereabouts::Whereabouts;
use crate::stash::command::hang::Hanging;
use crate::stash::state::CardState;

/// Where it goes and between which cards: `Card 310 goes to B03, between 300 on B02 and 320 on
/// B05`; without a full stop.
#[must_use]
pub(crate) fn target(hanging: &Hanging<'_>) -> String {
    let (state, name) = (hanging.state, hanging.state.card_name(hanging.kept));
    let beside = match hanging.beside.as_slice() {
        [] => String::new(),
        cards => format!(
            " with {list}",
            list = list(cards.iter().map(|c| state.card_name(c)))
        ),
    };
    let between = between(hanging, (hanging.before, hanging.after));
    let goes = format!(
        "Card {name} goes to {hook_name}{beside}{between}",
        hook_name = hook_name(hanging)
    );
    let by_family = state.order() != WallOrder::Number && !state.families().is_empty();
    if by_family && state.family_of(hanging.kept).is_none() {
        return format!(
            "{goes}; it has no family or colour yet, so its place is after all families"
        );
    }
    goes
}

/// Whether that keeps the order, and where it belongs if not; without a full stop.
#[must_use]
pub(crate) fn order(hanging: &Hanging<'_>) -> String {
    if hanging.keeps_order {
        return "That keeps the order".to_owned();
    }
    let belongs = between(hanging, hanging.belongs);
    let belongs = belongs.trim_start_matches([',', ' ']);
    format!("That breaks the order: it belongs {belongs}")
}

/// What becomes of the mark written on the card; without a full stop.
#[must_use]
pub(crate) fn label(hanging: &Hanging<'_>) -> String {
    let hook_name = hook_name(hanging);
    if hanging.kept.home == Some(hanging.hook) {
        return format!("Its label says {hook_name} already");
    }
    if hanging.is_moved() {
        return format!("Write {hook_name} on its label");
    }
    let place = place_of(hanging.state, hanging.kept);
    let when = match hanging.kept.place.at {
        Whereabouts::Ring { .. } => "its label must say",
        _ => "when it turns up, its label must say",
    };
    format!("It is {place}: only its home changes; {when} {hook_name}")
}

/// What else the person should know, each without a full stop: of reserved hooks, holds, what
/// hangs there already, and a re-hang underway.
#[must_use]
pub(crate) fn warnings(hanging: &Hanging<'_>) -> Vec<String> {
    let (state, hook_name) = (hanging.state, hook_name(hanging));
    let mut said = Vec::new();
    let board = state.board(hanging.hook.board);
    if board.is_some_and(|board| board.reserved(hanging.hook)) {
        said.push(format!(
            "{hook_name} is reserved: a re-hang gives the card another home"
        ));
    }
    if state.stays(hanging.kept) {
        let stays = format!("It is held, and stays so on {hook_name}");
        said.push(if hanging.keeps_order {
            stays
        } else {
            format!("{stays}: out of order, re-hangs may find no way around it")
        });
    }
    let strangers: Vec<&CardState> = state
        .hanging_on(hanging.hook)
        .filter(|other| other.home != Some(hanging.hook) && other.card.id != hanging.kept.card.id)
        .collect();
    if !strangers.is_empty() {
        let names = list(strangers.iter().map(|other| state.card_name(other)));
        said.push(format!("Not its home, but there hangs {names}"));
    }
    for ring in hanging.hanging() {
        said.push(format!(
            "The ring '{project}' hangs there",
            project = ring.project
        ));
    }
    said.extend(underway(hanging));
    said
}

/// What it does to a re-hang that is underway.
fn underway(hanging: &Hanging<'_>) -> Option<String> {
    let state = hanging.state;
    let homes = &state.underway()?.homes;
    let own = homes.iter().find(|(card, _)| *card == hanging.kept.card.id);
    if let Some((_, aim)) = own.filter(|(_, aim)| *aim != hanging.hook) {
        let aim = state.hook_name(*aim);
        return Some(format!("The re-hang underway takes it from there to {aim}"));
    }
    let coming = |(card, aim): &&(_, _)| {
        *aim == hanging.hook
            && *card != hanging.kept.card.id
            && state
                .card(*card)
                .is_some_and(|kept| kept.home != Some(hanging.hook))
    };
    let leaving = |kept: &&&CardState| {
        let mut aims = homes.iter().filter(|(card, _)| *card == kept.card.id);
        aims.any(|(_, aim)| *aim != hanging.hook)
    };
    let comes = homes.iter().filter(coming).count();
    let stay = hanging.beside.len() - hanging.beside.iter().filter(leaving).count();
    let is_full = comes > 0 && comes + stay + 1 > usize::from(state.capacity(hanging.hook));
    is_full.then(|| "The re-hang underway wants that place and cannot go on then".to_owned())
}

/// All there is to know, in whole sentences.
#[must_use]
pub(crate) fn all(hanging: &Hanging<'_>) -> Vec<String> {
    let first = [target(hanging), order(hanging), label(hanging)];
    let all = first.into_iter().chain(warnings(hanging));
    all.map(|said| format!("{said}.")).collect()
}

fn hook_name(hanging: &Hanging<'_>) -> String {
    hanging.state.hook_name(hanging.hook)
}

/// `, between 300 on B02 and 320 on B05`; nothing where there is nothing on either side.
fn between(hanging: &Hanging<'_>, sides: (Option<&CardState>, Option<&CardState>)) -> String {
    let say = |kept: &CardState| {
        let home = kept.home.map(|hook| hanging.state.hook_name(hook));
        let name = hanging.state.card_name(kept);
        format!("{name} on {home}", home = home.unwrap_or_default())
    };
    match sides {
        (None, None) => String::new(),
        (Some(before), None) => format!(", after {card}", card = say(before)),
        (None, Some(after)) => format!(", before {card}", card = say(after)),
        (Some(before), Some(after)) => format!(
            ", between {card} and {other}",
            card = say(before),
            other = say(after)
        ),
    }
}
