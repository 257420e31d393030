//! Cards, what is written on them and where they are.

use std::collections::BTreeMap;

use super::super::lived::Topic;
use super::super::sheet::Sheet;
use super::{Asking, every, left, spelling};
use crate::language::{say, word};
use crate::model::board::HookRef;
use crate::model::card::{Card, CardFamily, USUAL_CUT_CM};
use crate::model::ids::CardId;
use crate::model::label::Label;
use crate::model::thread::Strands;
use crate::model::touch::Touch as HowToTouch;
use crate::model::whereabouts::Place;
use crate::stash::state::{Kept, State};

pub(super) fn cards(asking: &mut Asking<'_>, base: &State, sheet: &mut Sheet) {
    let ids = [base, asking.ours, asking.theirs].map(|of| of.cards().map(|kept| kept.card.id));
    // What both used of spare cards that are gone, by the card that has their thread now.
    let mut owed: BTreeMap<CardId, i64> = BTreeMap::new();
    for id in every(ids) {
        let (was, mine, theirs) = (base.card(id), asking.ours.card(id), asking.theirs.card(id));
        let kept = match (was, mine, theirs) {
            (was, Some(mine), Some(theirs)) => Some(card(asking, was, mine, theirs)),
            (None, mine, theirs) => mine.or(theirs).cloned(),
            (Some(was), mine, theirs) => match was.card.parent {
                Some(parent) => {
                    let strands = mine.or(theirs).map_or(0, |kept| i64::from(kept.strands.0));
                    *owed.entry(parent).or_default() += strands - i64::from(was.strands.0);
                    None
                }
                None => left(was, mine.or(theirs)).cloned(),
            },
        };
        if let Some(kept) = kept {
            sheet.cards.insert(id, kept);
        }
    }
    for (parent, owed) in owed {
        let Some(kept) = sheet.cards.get_mut(&parent) else {
            continue;
        };
        let sum = i64::from(kept.strands.0).saturating_add(owed);
        if let Ok(sum) = u32::try_from(sum) {
            kept.strands = Strands(sum);
            continue;
        }
        let name = asking.card_name(parent);
        let has =
            [asking.ours, asking.theirs].map(|of| of.card(parent).map_or(0, |kept| kept.strands.0));
        let [mine, theirs] = has.map(|strands| amount(strands.into()));
        let about = say!(
            "the thread on {name}, of which a spare card was wound back",
            name
        );
        let side = asking.ask(&[Topic::Thread(parent)], about, mine, theirs);
        let strands = asking
            .of(side)
            .card(parent)
            .map_or(kept.strands, |kept| kept.strands);
        kept.strands = strands;
    }
}

fn amount(strands: i64) -> String {
    let strands = u32::try_from(strands.max(0)).unwrap_or(u32::MAX);
    crate::stash::kit::words::amount_in_words(Strands(strands))
}

/// A card that both have.
fn card(asking: &mut Asking<'_>, was: Option<&Kept>, mine: &Kept, theirs: &Kept) -> Kept {
    let id = mine.card.id;
    let name = asking.card_name(id);
    let blank = blank(mine);
    let number = spelling(
        was.map(|was| &was.card.number),
        &mine.card.number,
        &theirs.card.number,
    );
    let was = was.unwrap_or(&blank);
    let place = place(asking, &name, [was, mine, theirs]);
    let home = asking.pick(
        Topic::Home(id),
        || say!("the home of {name}", name),
        [&was.home, &mine.home, &theirs.home],
        |state, home: &Option<HookRef>| {
            home.map_or_else(
                || word!("no hook of its own").to_owned(),
                |hook| state.mark(hook),
            )
        },
    );
    let strands = asking.add(
        Topic::Thread(id),
        || say!("the thread on {name}", name),
        [was, mine, theirs].map(|kept| i64::from(kept.strands.0)),
        i64::from(u32::MAX),
        amount,
    );
    Kept {
        card: Card {
            number,
            ..written(asking, &name, [&was.card, &mine.card, &theirs.card])
        },
        place,
        home,
        strands: Strands(u32::try_from(strands).unwrap_or(u32::MAX)),
    }
}

/// Where a card is. Only another place is a change: out and back again is none.
fn place(asking: &mut Asking<'_>, name: &str, [was, mine, theirs]: [&Kept; 3]) -> Place {
    let id = mine.card.id;
    let (was, mine, theirs) = (&was.place, &mine.place, &theirs.place);
    if mine.at == theirs.at {
        return match (mine == was, theirs == was) {
            (true, _) => theirs.clone(),
            (_, true) => mine.clone(),
            _ if mine.since <= theirs.since => mine.clone(),
            _ => theirs.clone(),
        };
    }
    if mine.at == was.at {
        return theirs.clone();
    }
    if theirs.at == was.at {
        return mine.clone();
    }
    let say = |state: &State, place: &Place| {
        let kept = state.card(id).map(|kept| Kept {
            place: place.clone(),
            ..kept.clone()
        });
        kept.map_or_else(String::new, |kept| state.place_in_words(&kept))
    };
    let three = [was, mine, theirs];
    asking.pick(
        Topic::Place(id),
        || say!("where {name} is", name),
        three,
        say,
    )
}

/// A card as it is before anything is said of it.
fn blank(like: &Kept) -> Kept {
    Kept {
        card: Card {
            name: Label::default(),
            colour: None,
            family: CardFamily::Unknown,
            dye_lot: Label::default(),
            cut_cm: USUAL_CUT_CM,
            reserve: 0,
            note: Label::default(),
            touch: HowToTouch::Plain,
            ..like.card.clone()
        },
        place: Place {
            at: crate::model::whereabouts::Whereabouts::Unhung,
            since: jiff::Timestamp::MIN,
        },
        home: None,
        strands: Strands(0),
    }
}

/// What is written on a card, line by line.
fn written(asking: &mut Asking<'_>, name: &str, three: [&Card; 3]) -> Card {
    let mine = three[1];
    let topic = Topic::Written(mine.id);
    let text = |_: &State, text: &Label| format!("'{text}'");
    let about = |what: &str| say!("the {what} of {name}", what, name);
    let family = |state: &State, family: &CardFamily| {
        let family = family.id().and_then(|id| state.family(id));
        family.map_or_else(|| "none".to_owned(), |family| family.name.to_string())
    };
    let reserve = asking.add(
        topic,
        || about(word!("uncut skeins")),
        three.map(|card| i64::from(card.reserve)),
        i64::from(u32::MAX),
        |skeins| skeins.to_string(),
    );
    Card {
        id: mine.id,
        range: mine.range,
        number: mine.number.clone(),
        name: asking.pick(topic, || about("name"), three.map(|card| &card.name), text),
        colour: asking.pick(
            topic,
            || about("colour"),
            three.map(|card| &card.colour),
            |_, of| of.map_or_else(|| "none".to_owned(), |colour| colour.to_string()),
        ),
        family: asking.pick(
            topic,
            || about("family"),
            three.map(|card| &card.family),
            family,
        ),
        dye_lot: asking.pick(
            topic,
            || about(word!("dye lot")),
            three.map(|card| &card.dye_lot),
            text,
        ),
        cut_cm: asking.pick(
            topic,
            || about(word!("cut length")),
            three.map(|card| &card.cut_cm),
            |_, cm| say!("{cm} cm", cm),
        ),
        reserve: u32::try_from(reserve).unwrap_or(u32::MAX),
        note: asking.pick(topic, || about("note"), three.map(|card| &card.note), text),
        parent: mine.parent,
        touch: asking.pick(
            topic,
            || about(word!("weight or pin")),
            three.map(|card| &card.touch),
            |_, touch| match touch {
                HowToTouch::Plain => "plain".to_owned(),
                HowToTouch::Pinned => "pinned".to_owned(),
                HowToTouch::Costly(weight) => say!("counts as {weight}", weight = weight.get()),
            },
        ),
    }
}
