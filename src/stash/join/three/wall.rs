//! Ranges, families and boards.

use std::collections::{BTreeMap, BTreeSet};

use super::super::identity::Thing;
use super::super::lived::Topic;
use super::super::sheet::Sheet;
use super::{Asking, every, left, spelling};
use crate::language::{say, word};
use crate::model::board::{Board, HookSpec, ReadingOrder};
use crate::model::family::Family;
use crate::model::ids::FamilyId;
use crate::model::label::{Label, fold};
use crate::model::number::Number;
use crate::model::range::{Range, Shade};
use crate::stash::state::State;

fn text(_: &State, text: &Label) -> String {
    format!("'{text}'")
}

pub(super) fn ranges(asking: &mut Asking<'_>, base: &State, sheet: &mut Sheet) {
    let ids = [base, asking.ours, asking.theirs].map(|of| of.ranges().map(|range| range.id));
    for id in every(ids) {
        let (was, mine, theirs) = (
            base.range(id),
            asking.ours.range(id),
            asking.theirs.range(id),
        );
        let range = match (was, mine, theirs) {
            (was, Some(mine), Some(theirs)) => Some(range(asking, was, mine, theirs)),
            (None, mine, theirs) => mine.or(theirs).cloned(),
            (Some(was), mine, theirs) => left(was, mine.or(theirs)).cloned(),
        };
        if let Some(range) = range {
            sheet.ranges.insert(id, range);
        }
    }
}

fn range(asking: &mut Asking<'_>, was: Option<&Range>, mine: &Range, theirs: &Range) -> Range {
    let topic = Topic::Of(Thing::Range(mine.id));
    let mut range = mine.clone();
    let called = mine.name.clone();
    range.name = spelling(was.map(|was| &was.name), &mine.name, &theirs.name);
    let known = |range: &Range| -> BTreeMap<String, (Number, Shade)> {
        let shades = range.shades.iter();
        shades
            .map(|(number, shade)| (number.key(), (number.clone(), shade.clone())))
            .collect()
    };
    let (was, mine, theirs) = (
        was.map(known).unwrap_or_default(),
        known(mine),
        known(theirs),
    );
    range.shades.clear();
    let keys: BTreeSet<&String> = mine.keys().chain(theirs.keys()).collect();
    for key in keys {
        let (was, mine, theirs) = (was.get(key), mine.get(key), theirs.get(key));
        let Some((number, _)) = mine.or(theirs) else {
            continue;
        };
        let number = match (mine, theirs) {
            (Some((mine, _)), Some((theirs, _))) => spelling(was.map(|(was, _)| was), mine, theirs),
            _ => number.clone(),
        };
        let [was, mine, theirs] = [was, mine, theirs].map(|of| of.map(|(_, shade)| shade));
        let shade = match (was, mine, theirs) {
            (was, Some(mine), Some(theirs)) => {
                let blank = Shade::default();
                let was = was.unwrap_or(&blank);
                let about = |what: &str| {
                    say!(
                        "the {what} of {number} in the range '{called}'",
                        what,
                        number,
                        called
                    )
                };
                Some(Shade {
                    name: asking.pick(
                        topic,
                        || about("name"),
                        [&was.name, &mine.name, &theirs.name],
                        text,
                    ),
                    colour: asking.pick(
                        topic,
                        || about("colour"),
                        [&was.colour, &mine.colour, &theirs.colour],
                        |_, of| of.map_or_else(|| "none".to_owned(), |colour| colour.to_string()),
                    ),
                    family: asking.pick(
                        topic,
                        || about("family"),
                        [&was.family, &mine.family, &theirs.family],
                        |state, of| {
                            let family = of.and_then(|id| state.family(id));
                            family
                                .map_or_else(|| "none".to_owned(), |family| family.name.to_string())
                        },
                    ),
                })
            }
            (None, mine, theirs) => mine.or(theirs).cloned(),
            (Some(was), mine, theirs) => left(was, mine.or(theirs)).cloned(),
        };
        range.shades.extend(shade.map(|shade| (number, shade)));
    }
    range
}

/// The families: each by itself, then their order on the wall.
pub(super) fn families(asking: &mut Asking<'_>, base: &State, sheet: &mut Sheet) {
    let (ours, theirs) = (asking.ours, asking.theirs);
    let ids = [base, ours, theirs].map(|of| of.families().iter().map(|family| family.id));
    let mut kept: Vec<Family> = Vec::new();
    for id in every(ids) {
        let (was, mine, theirs) = (base.family(id), ours.family(id), theirs.family(id));
        let family = match (was, mine, theirs) {
            (was, Some(mine), Some(theirs)) => Some(Family {
                id,
                name: match was.map(|was| &was.name) {
                    // New on both sides.
                    None if mine.name.same_as(theirs.name.as_str()) => {
                        spelling(None, &mine.name, &theirs.name)
                    }
                    // What both did again after it was taken back is new, and can be renamed since.
                    was => asking.pick(
                        Topic::Families,
                        || {
                            say!(
                                "the name of the family '{was}'",
                                was = was.unwrap_or(&mine.name)
                            )
                        },
                        [was.unwrap_or(&Label::default()), &mine.name, &theirs.name],
                        text,
                    ),
                },
                // Of two, both can only have changed to the same.
                pinned: match mine.pinned == was.is_some_and(|was| was.pinned) {
                    true => theirs.pinned,
                    false => mine.pinned,
                },
            }),
            (None, mine, theirs) => mine.or(theirs).cloned(),
            (Some(was), mine, theirs) => left(was, mine.or(theirs)).cloned(),
        };
        kept.extend(family);
    }
    // The order of those that all three know; then the others, each behind the one before it.
    let everywhere: BTreeSet<FamilyId> = (kept.iter())
        .map(|family| family.id)
        .filter(|&id| {
            [base, ours, theirs]
                .iter()
                .all(|of| of.family(id).is_some())
        })
        .collect();
    let order = |of: &State| -> Vec<FamilyId> {
        let ids = of.families().iter().map(|family| family.id);
        ids.filter(|id| everywhere.contains(id)).collect()
    };
    let (was, mine, other) = (order(base), order(ours), order(theirs));
    let mut order = asking.pick(
        Topic::Families,
        || word!("the order of the families on the wall").to_owned(),
        [&was, &mine, &other],
        |state, ids: &Vec<FamilyId>| {
            let families = ids.iter().filter_map(|&id| state.family(id));
            let names: Vec<&str> = families.map(|family| family.name.as_str()).collect();
            names.join(", ")
        },
    );
    let sides = [ours, theirs].map(State::families);
    let is_known = |family: &&Family, order: &[FamilyId]| order.contains(&family.id);
    let mut rest: Vec<&Family> = kept
        .iter()
        .filter(|family| !is_known(family, &order))
        .collect();
    rest.sort_by_key(|family| fold(family.name.as_str()));
    for family in rest {
        let side = sides
            .iter()
            .find(|side| side.iter().any(|of| of.id == family.id));
        let side = side.copied().unwrap_or_default();
        let before = side.iter().take_while(|of| of.id != family.id);
        let behind = before
            .filter_map(|of| order.iter().position(|&id| id == of.id))
            .last();
        // Where it came last it comes last, so that what each added at the end stays there.
        let is_last = side.iter().skip_while(|of| of.id != family.id).skip(1);
        let is_last = !is_last.into_iter().any(|of| order.contains(&of.id));
        let at = if is_last {
            order.len()
        } else {
            behind.map_or(0, |at| at + 1)
        };
        order.insert(at, family.id);
    }
    sheet.families = (order.iter())
        .filter_map(|id| kept.iter().find(|family| family.id == *id).cloned())
        .collect();
}

pub(super) fn boards(asking: &mut Asking<'_>, base: &State, sheet: &mut Sheet) {
    let ids = [base, asking.ours, asking.theirs].map(|of| of.boards().map(|board| board.id));
    for id in every(ids) {
        let (was, mine, theirs) = (
            base.board(id),
            asking.ours.board(id),
            asking.theirs.board(id),
        );
        let board = match (was, mine, theirs) {
            (was, Some(mine), Some(theirs)) => Some(board(asking, was, mine, theirs)),
            (None, mine, theirs) => mine.or(theirs).cloned(),
            (Some(was), mine, theirs) => left(was, mine.or(theirs)).cloned(),
        };
        if let Some(board) = board {
            sheet.boards.insert(id, board);
        }
    }
}

fn board(asking: &mut Asking<'_>, was: Option<&Board>, mine: &Board, theirs: &Board) -> Board {
    let topic = Topic::Of(Thing::Board(mine.id));
    let called = mine.name.clone();
    let about = |what: &str| say!("the {what} of the board '{called}'", what, called);
    // New on both sides: what differs is asked, as neither was first.
    let unlike = Board {
        rows: 0,
        columns: 0,
        places: 0,
        special: Default::default(),
        ..mine.clone()
    };
    let known = was;
    let was = was.unwrap_or(&unlike);
    let three = [was, mine, theirs];
    let number = |_: &State, n: &u16| n.to_string();
    let mut special = mine.special.clone();
    let hooks: BTreeSet<_> = three
        .iter()
        .flat_map(|board| board.special.keys().copied())
        .collect();
    for at in hooks {
        let spec = |board: &Board| board.special.get(&at).cloned().unwrap_or_default();
        let [was, left, right] = three.map(spec);
        let mark = mine.mark(mine.hook(at.0, at.1));
        let spec = HookSpec {
            places: asking.pick(
                topic,
                || say!("the places on hook {mark}", mark),
                [&was.places, &left.places, &right.places],
                |_, places| {
                    places.map_or_else(
                        || word!("as on the others").to_owned(),
                        |places| places.to_string(),
                    )
                },
            ),
            blocked: asking.pick(
                topic,
                || say!("whether hook {mark} is blocked", mark),
                [&was.blocked, &left.blocked, &right.blocked],
                |_, why| {
                    why.as_ref()
                        .map_or_else(|| "no".to_owned(), |why| format!("'{why}'"))
                },
            ),
            kept_free: match left.kept_free == was.kept_free {
                true => right.kept_free,
                false => left.kept_free,
            },
        };
        if spec == HookSpec::default() {
            special.remove(&at);
        } else {
            special.insert(at, spec);
        }
    }
    Board {
        id: mine.id,
        name: match known {
            Some(was) => asking.pick(
                topic,
                || about("name"),
                [&was.name, &mine.name, &theirs.name],
                text,
            ),
            None => spelling(None, &mine.name, &theirs.name),
        },
        prefix: asking
            .pick(
                topic,
                || about("prefix"),
                [
                    &known.map(|was| was.prefix.clone()),
                    &Some(mine.prefix.clone()),
                    &Some(theirs.prefix.clone()),
                ],
                |_, prefix| format!("'{}'", prefix.clone().unwrap_or_default()),
            )
            .unwrap_or_default(),
        rows: asking.pick(
            topic,
            || about("rows"),
            three.map(|board| &board.rows),
            number,
        ),
        columns: asking.pick(
            topic,
            || about("columns"),
            three.map(|board| &board.columns),
            number,
        ),
        places: asking.pick(
            topic,
            || about(word!("places on a usual hook")),
            three.map(|board| &board.places),
            |_, n| n.to_string(),
        ),
        reading: asking
            .pick(
                topic,
                || about(word!("reading order")),
                [
                    &known.map(|was| was.reading),
                    &Some(mine.reading),
                    &Some(theirs.reading),
                ],
                |_, reading| match reading {
                    Some(ReadingOrder::Columns) => word!("column by column").to_owned(),
                    Some(ReadingOrder::ThereAndBack) => word!("there and back").to_owned(),
                    Some(ReadingOrder::Rows) | None => word!("row by row").to_owned(),
                },
            )
            .unwrap_or_default(),
        special,
    }
}
