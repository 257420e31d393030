//! `homehook history`, `undo` and `redo`.

use std::collections::{BTreeMap, VecDeque};
use std::path::Path;

use clap::Args;
use jiff::Timestamp;
use serde::Serialize;

use super::failure::Failure;
use super::merge::SideOut;
use super::output::Output;
use super::values::whole;
use super::{open, plain};
use crate::exchange::export::{CardOut, CardRef, LotOut, WhereaboutsOut};
use crate::journal::HistoryError;
use crate::journal::store::Store;
use crate::model::card::Card;
use crate::model::ids::{CardId, EventId};
use crate::model::whereabouts::Whereabouts;
use crate::stash::event::{Act, Fact, Settled};
use crate::stash::history::{Movement, UndoEntry};
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};
use crate::text::history::Brief;
use crate::text::{self, export};

/// What to tell of what was done.
#[derive(Debug, Args)]
pub(crate) struct HistoryArgs {
    /// Only what happened to this card: NUMBER or RANGE:NUMBER.
    pub card: Option<String>,
    /// Only the last N; without N and a card, the last 20.
    #[arg(long, value_name = "N", value_parser = whole(1..=u32::MAX))]
    pub last: Option<u32>,
}

/// The default number of events, unless a card is given.
const USUAL: usize = 20;

/// What was done.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct History {
    /// The events, the newest last.
    events: VecDeque<EventOut>,
}

/// The state of a card before or after an event.
#[derive(Clone)]
struct Look {
    card: CardRef,
    name: String,
    whereabouts: WhereaboutsOut,
    place: String,
    home: Option<String>,
    written: Card,
    brief: Brief,
    lots: Vec<LotOut>,
    thread: String,
}

impl AsRef<Brief> for Look {
    fn as_ref(&self) -> &Brief {
        &self.brief
    }
}

/// A card that came to another place.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct MoveOut {
    /// The card.
    card: CardRef,
    /// Where it was; `null` where the card is new.
    from: Option<WhereaboutsOut>,
    /// Where it came to; `null` where the card went out of the stash.
    to: Option<WhereaboutsOut>,
    /// The hook it belongs on after the event.
    home: Option<String>,
    #[serde(skip)]
    words: String,
}

/// A card that belongs on another hook.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct HomeOut {
    /// The card.
    card: CardRef,
    /// The hook it belonged on.
    from: Option<String>,
    /// The hook it belongs on after the event.
    to: Option<String>,
    #[serde(skip)]
    words: String,
}

/// One event.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct EventOut {
    /// The number of the event in the record.
    seq: u64,
    /// When it was.
    #[cfg_attr(test, schemars(with = "crate::model::schema::Instant"))]
    time: Timestamp,
    /// Who did it, where a name is kept.
    by: Option<String>,
    /// What was done, as a sentence without its full stop.
    what: String,
    /// The few cards it is about, for a person.
    #[serde(skip)]
    which: String,
    /// The number of the later event that undid this one.
    taken_back_by: Option<u64>,
    /// The cards that came to another place.
    moves: Vec<MoveOut>,
    /// The cards that belong on another hook since.
    homes: Vec<HomeOut>,
    /// The cards whose thread changed, which were there before.
    thread: Vec<WoundOut>,
    /// Changes of another copy that came in; left out where there are none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    merged: Vec<MergedOut>,
    /// What was asked between the two copies; left out where nothing was.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    settled: Vec<SettledOut>,
}

/// What became of the thread of a card.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct WoundOut {
    /// Which card.
    card: CardRef,
    /// What it had of each lot before.
    from: Vec<LotOut>,
    /// What it has of each lot since.
    to: Vec<LotOut>,
    /// The same in words.
    #[serde(skip)]
    words: String,
}

impl WoundOut {
    fn of(movement: &Movement<Look>) -> Option<Self> {
        let (from, to) = (movement.from.as_ref()?, movement.to.as_ref()?);
        (from.lots != to.lots).then(|| Self {
            card: to.card.clone(),
            from: from.lots.clone(),
            to: to.lots.clone(),
            words: format!("{}: {} -> {}", to.name, from.thread, to.thread),
        })
    }
}

/// An event of another copy.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct MergedOut {
    /// Its id, which is the same in every copy.
    #[cfg_attr(test, schemars(with = "crate::model::schema::Id"))]
    id: EventId,
    /// When it was.
    #[cfg_attr(test, schemars(with = "crate::model::schema::Instant"))]
    time: Timestamp,
    /// Who did it; left out where no name is kept.
    #[serde(skip_serializing_if = "Option::is_none")]
    by: Option<String>,
    /// What was done, as a sentence without its full stop.
    what: String,
}

/// An answer that was given between two copies.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct SettledOut {
    /// What it was about.
    about: String,
    /// What it is since.
    value: String,
    /// Whose way that was.
    answer: SideOut,
}

impl MergedOut {
    fn of(state: &State, fact: &Fact, facts: &[Fact]) -> Self {
        let find = |id| facts.iter().find(|fact| fact.id == id);
        Self {
            id: fact.id,
            time: fact.time,
            by: fact.by.clone().map(String::from),
            what: text::merge::deed(state, fact, find),
        }
    }
}

impl SettledOut {
    /// `None` if no question was asked.
    fn of(state: &State, settled: &Settled, facts: &[Fact]) -> Option<Self> {
        let asked = !settled.chosen.is_empty() || !settled.over.is_empty();
        let brought = |id: &EventId| facts.iter().any(|fact| fact.id == *id);
        let theirs = settled.chosen.iter().any(brought)
            || (settled.chosen.is_empty() && !settled.over.iter().any(brought));
        asked.then(|| Self {
            about: text::merge::field([state, state], settled.thing, &settled.member),
            value: text::merge::value([state, state], &settled.member, &settled.value),
            answer: if theirs {
                SideOut::Theirs
            } else {
                SideOut::Mine
            },
        })
    }
}

/// Shows the last events, or all that changed a card, newest last.
pub(crate) fn run(args: &HistoryArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    let reading = open::reading(dir, output)?;
    let card = match &args.card {
        None => None,
        Some(name) => {
            let id = reading.state().find_card(name)?;
            reading.state().card(id).map(|kept| kept.card.clone())
        }
    };
    let most = match (args.last, &card) {
        (Some(last), _) => last as usize,
        (None, Some(_)) => usize::MAX,
        (None, None) => USUAL,
    };
    let events = match reading.store() {
        Some(store) => gather(store, reading.state(), card.as_ref(), most)?,
        None => VecDeque::new(),
    };
    if output.is_json() {
        output.object(&History { events })?;
        return Ok(());
    }
    print(&events, card.is_some(), output)
}

/// The last `most` events, or the last of those that changed a card. Uses memory only for the
/// events returned.
fn gather(
    store: &Store,
    now: &State,
    card: Option<&Card>,
    most: usize,
) -> Result<VecDeque<EventOut>, Failure> {
    // Without a card, the first event to show is known in advance.
    let from = match card {
        Some(_) => 1,
        None => (store.events() + 1).saturating_sub(most as u64),
    };
    let mut told = VecDeque::new();
    let described = store.describe(from, text::history::act, Look::of, |entry| {
        let event = entry.summary;
        if let Some(earlier) = event.takes_back
            && let Some(earlier) = find(&mut told, earlier)
        {
            earlier.taken_back_by = Some(entry.seq);
        }
        let asked = |movement: &&Movement<Look>| card.is_none_or(|card| is_of(movement, card));
        if card.is_some() && !event.changed.iter().any(|movement| asked(&movement)) {
            return;
        }
        if told.len() == most {
            told.pop_front();
        }
        let (merged, settled) = match &entry.act {
            Act::Merge { facts, settled } => {
                let merged = facts.iter().map(|fact| MergedOut::of(now, fact, facts));
                let settled = settled.iter();
                let settled = settled.filter_map(|of| SettledOut::of(now, of, facts));
                (merged.collect(), settled.collect())
            }
            _ => (Vec::new(), Vec::new()),
        };
        let moves = event.moves.iter().filter(asked);
        let homes = event.homes.iter().filter(asked);
        let wound = event.changed.iter().filter(asked);
        told.push_back(EventOut {
            seq: entry.seq,
            time: entry.time,
            by: entry.by.map(String::from),
            moves: moves.filter_map(MoveOut::of).collect(),
            homes: homes.filter_map(HomeOut::of).collect(),
            thread: wound.filter_map(WoundOut::of).collect(),
            which: match card {
                // Its movements are shown line by line.
                Some(_) => String::new(),
                None => text::history::in_brief(&event),
            },
            what: event.what,
            taken_back_by: None,
            merged,
            settled,
        });
    });
    described.map_err(|wrong| match wrong {
        HistoryError::Record(error) => Failure::from(error),
        HistoryError::ApplyError(misfit) => Refusal::from(misfit).into(),
    })?;
    Ok(told)
}

fn print(events: &VecDeque<EventOut>, movements: bool, output: &mut Output) -> Result<(), Failure> {
    let now = Timestamp::now();
    for event in events {
        output.line(event_line(event, now))?;
        for of in &event.merged {
            let by = of.by.as_ref().map(|by| format!(", by {by}"));
            let (at, by) = (plain::at(of.time, now), by.unwrap_or_default());
            output.line(format_args!("       {at}  {}{by}", of.what))?;
        }
        for of in &event.settled {
            let whose = match of.answer {
                SideOut::Theirs => "as in the other copy",
                SideOut::Mine => "as in this copy",
            };
            output.line(format_args!("       {}: {} ({whose})", of.about, of.value))?;
        }
        if !movements {
            continue;
        }
        let moves = event.moves.iter().map(|movement| &movement.words);
        let homes = event.homes.iter().map(|home| &home.words);
        let wound = event.thread.iter().map(|of| &of.words);
        for words in moves.chain(homes).chain(wound) {
            output.line(format_args!("       {words}"))?;
        }
    }
    if events.is_empty() {
        output.line("Nothing recorded yet.")?;
    }
    Ok(())
}

/// `   12  25 Nov 14:05  Took 1 card to the ring 'Robin', by laptop (undone by change 13): 447 A01
/// -> 'Robin'`
fn event_line(event: &EventOut, now: Timestamp) -> String {
    let by = event.by.as_ref().map(|by| format!(", by {by}"));
    let undone = event
        .taken_back_by
        .map(|seq| format!(" (undone by change {seq})"));
    let colon = if event.which.is_empty() { "" } else { ": " };
    format!(
        "{:>5}  {}  {}{}{}{colon}{}",
        event.seq,
        plain::at(event.time, now),
        event.what,
        by.unwrap_or_default(),
        undone.unwrap_or_default(),
        event.which
    )
}

/// The shown event with a number; they are in order.
fn find(told: &mut VecDeque<EventOut>, seq: u64) -> Option<&mut EventOut> {
    let at = told.binary_search_by_key(&seq, |event| event.seq).ok()?;
    told.get_mut(at)
}

/// Whether a movement belongs to this card. Another card may have had the same id before.
fn is_of(movement: &Movement<Look>, card: &Card) -> bool {
    let looks = movement.from.iter().chain(&movement.to);
    movement.card == card.id
        && looks.into_iter().any(|look| {
            let then = &look.written;
            (then.range, &then.number, then.parent) == (card.range, &card.number, card.parent)
        })
}

impl Look {
    fn of(state: &State, kept: &CardState) -> Self {
        Self {
            card: CardRef::of(state, kept),
            name: state.card_name(kept),
            whereabouts: WhereaboutsOut::of(export(state), kept),
            place: text::places::place_of(state, kept),
            home: kept.home.map(|hook| state.hook_name(hook)),
            written: kept.card.clone(),
            brief: Brief::of(state, kept),
            lots: LotOut::all(state, kept),
            thread: text::thread::by_lot(&kept.thread, state.put_up(&kept.card)),
        }
    }
}

/// The name of a card after the event, or its former name if it is gone.
fn named(movement: &Movement<Look>) -> Option<&Look> {
    movement.to.as_ref().or(movement.from.as_ref())
}

impl MoveOut {
    fn of(movement: &Movement<Look>) -> Option<Self> {
        let look = named(movement)?;
        let place = |look: &Option<Look>, none: &str| {
            let place = look.as_ref().map(|look| look.place.clone());
            place.unwrap_or_else(|| none.to_owned())
        };
        let whereabouts = |look: &Option<Look>| look.as_ref().map(|look| look.whereabouts.clone());
        Some(Self {
            card: look.card.clone(),
            from: whereabouts(&movement.from),
            to: whereabouts(&movement.to),
            home: movement.to.as_ref().and_then(|look| look.home.clone()),
            words: format!(
                "{}: {} -> {}",
                look.name,
                place(&movement.from, "new"),
                place(&movement.to, "out of the stash")
            ),
        })
    }
}

impl HomeOut {
    fn of(movement: &Movement<Look>) -> Option<Self> {
        let look = named(movement)?;
        let home = |look: &Option<Look>| look.as_ref().and_then(|look| look.home.clone());
        let (from, to) = (home(&movement.from), home(&movement.to));
        let word = |home: &Option<String>| home.clone().unwrap_or_else(|| "none".to_owned());
        Some(Self {
            card: look.card.clone(),
            words: format!(
                "{name}: home {word} -> {word2}",
                name = look.name,
                word = word(&from),
                word2 = word(&to)
            ),
            from,
            to,
        })
    }
}

/// What was undone.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct Undone {
    /// The changes that were undone, the newest first.
    undone: Vec<TurnOut>,
    /// The cards that are somewhere else by it, as they are now.
    cards: Vec<CardOut>,
}

/// What was redone.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct Redone {
    /// The changes that were redone, in the order they came about.
    redone: Vec<TurnOut>,
    /// The cards that are somewhere else by it, as they are now.
    cards: Vec<CardOut>,
}

/// A change that was undone or redone.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct TurnOut {
    /// The number of the new event in the record.
    event: u64,
    /// What was undone or redone, as a sentence without its full stop.
    what: String,
}

/// The direction.
#[derive(Clone, Copy)]
enum Turn {
    Undo,
    Redo,
}

/// The changes undone or redone.
#[derive(Default)]
struct Done {
    /// The number of each event, and the change that it undid or redid, newest first.
    events: Vec<(u64, String)>,
    /// The cards it moved: their places before all of it, and the act.
    moved: BTreeMap<CardId, (Option<Whereabouts>, Act)>,
}

impl Done {
    /// Notes a change that is about to be undone or redone.
    fn note(&mut self, state: &State, past: &UndoEntry) {
        for card in past.event.moved() {
            let at = || state.card(card).map(|kept| kept.place.at.clone());
            let was = self.moved.remove(&card).map_or_else(at, |(was, _)| was);
            self.moved.insert(card, (was, past.act.clone()));
        }
    }

    /// The cards whose place has changed overall, in board order.
    fn elsewhere<'a>(&self, state: &'a State) -> Vec<&'a CardState> {
        let moved = self.moved.iter();
        let cards = moved.filter_map(|(&card, (was, _))| {
            let kept = state.card(card)?;
            (was.as_ref() != Some(&kept.place.at)).then_some(kept)
        });
        state.in_board_order(cards)
    }
}

/// Undoes the last `count` changes, or none where fewer can be undone.
pub(crate) fn undo(count: u32, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    let (mut writing, ..) = open::writing(dir, output, |_, _| Ok(()))?;
    enough(
        writing.store().history().undoable(),
        count,
        Refusal::NothingToUndo,
        Refusal::FewerToUndo,
    )?;
    let mut done = Done::default();
    for _ in 0..count {
        let Some(past) = writing.store().history().last_done().cloned() else {
            break;
        };
        // The names are known before the undo, but perhaps not after it.
        let words = text::history::act(writing.state(), &past.act);
        done.note(writing.state(), &past);
        let seq = writing.turn(|store| store.undo(Timestamp::now()), output)?;
        done.events.push((seq, words));
    }
    let store = writing.release(output);
    tell(Turn::Undo, store.state(), &done, output)
}

/// Redoes the last `count` undone changes, or none where fewer can be redone.
pub(crate) fn redo(count: u32, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    let (mut writing, ..) = open::writing(dir, output, |_, _| Ok(()))?;
    enough(
        writing.store().history().redoable(),
        count,
        Refusal::NothingToRedo,
        Refusal::FewerToRedo,
    )?;
    let mut done = Done::default();
    for _ in 0..count {
        let Some(past) = writing.store().history().last_undone().cloned() else {
            break;
        };
        done.note(writing.state(), &past);
        let seq = writing.turn(|store| store.redo(Timestamp::now()), output)?;
        done.events
            .push((seq, text::history::act(writing.state(), &past.act)));
    }
    let store = writing.release(output);
    tell(Turn::Redo, store.state(), &done, output)
}

/// Refuses if there are fewer than `count`.
fn enough(
    there: usize,
    count: u32,
    none: Refusal,
    fewer: impl Fn(usize) -> Refusal,
) -> Result<(), Refusal> {
    match there {
        0 => Err(none),
        _ if there < count as usize => Err(fewer(there)),
        _ => Ok(()),
    }
}

/// Shows the changes, newest first, and then where to put the cards, in board order.
fn tell(turn: Turn, state: &State, done: &Done, output: &mut Output) -> Result<(), Failure> {
    let cards = done.elsewhere(state);
    if output.is_json() {
        let events = done.events.iter();
        let events = events.map(|&(event, ref what)| TurnOut {
            event,
            what: what.clone(),
        });
        let events = events.collect();
        let cards = cards
            .iter()
            .map(|kept| CardOut::of(export(state), kept))
            .collect();
        match turn {
            Turn::Undo => output.object(&Undone {
                undone: events,
                cards,
            })?,
            Turn::Redo => output.object(&Redone {
                redone: events,
                cards,
            })?,
        }
        return Ok(());
    }
    let words = match turn {
        Turn::Undo => "Undone",
        Turn::Redo => "Redone",
    };
    for (_, what) in &done.events {
        output.line(format_args!("{words}: {what}."))?;
    }
    for kept in cards {
        if let Some((_, act)) = done.moved.get(&kept.card.id) {
            output.line(format_args!(
                "  {}: {}",
                text::places::card_and_colour(state, kept),
                text::places::again(state, kept, act)
            ))?;
        }
    }
    Ok(())
}
