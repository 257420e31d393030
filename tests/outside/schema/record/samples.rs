//! Lines of the record with every act and every change, and everything they can hold.

use homehook::model::assumptions::Assumptions;
use homehook::model::board::{Board, HookRef, HookSpec};
use homehook::model::card::{Card, CardFamily, Effort, Family, MoveCost, Tag, WallOrder};
use homehook::model::ids::{
    BoardId, CardId, EventId, FamilyId, ListDigest, PurchaseId, RangeId, RingId, Stamp,
};
use homehook::model::label::{Label, Name, Who};
use homehook::model::matches::ColourMatch;
use homehook::model::number::Number;
use homehook::model::range::{PerleSize, PutUp, Range, Shade, ThreadKind};
use homehook::model::ring::{
    ColourRef, KeyLine, KeyThread, KeyWork, Needle, Notion, NotionKind, Ring, RingState,
    StitchCounts,
};
use homehook::model::thread::{Lot, Strands, ThreadPart};
use homehook::model::whereabouts::{LastSeen, Loan, Place, Underway, Whereabouts};
use homehook::stash::event::{
    Act, AmountChange, Change, Deed, Event, Fact, Mark, Settled, Sighting, Thing,
};
use jiff::Timestamp;
use serde_json::{Value, json};

const RING: RingId = RingId(2);
const CARD: CardId = CardId(u64::MAX);
const STRANDS: Strands = Strands(13);
const NOW: Timestamp = Timestamp::UNIX_EPOCH;

fn label(text: &str) -> Label {
    Label::new(text).unwrap()
}

fn lot() -> Lot {
    Lot(label("K7"))
}

/// Everything that a merge can record.
fn merge() -> Act {
    let settled = |thing, value| Settled {
        thing,
        member: "name".to_owned(),
        value,
        chosen: vec![EventId(1)],
        over: Vec::new(),
    };
    let settled: Vec<Settled> = [
        (Thing::Event(EventId(u64::MAX)), json!(false)),
        (Thing::Range(RangeId(1)), json!("Cove")),
        (Thing::Family(FamilyId(2)), json!(null)),
        (Thing::Board(BoardId(3)), json!({"a": [1]})),
        (Thing::Card(CARD), json!(7)),
        (Thing::Ring(RING), json!([])),
        (Thing::Stash, json!("number")),
    ]
    .into_iter()
    .map(|(thing, value)| settled(thing, value))
    .collect();
    let event = Event {
        act: Act::OrderFamilies,
        changes: Vec::new(),
    };
    let deeds = [
        Deed::Did(event),
        Deed::Undid(EventId(2)),
        Deed::Redid(EventId(2)),
        Deed::Settled(settled.clone()),
    ];
    let facts = deeds.map(|deed| Fact {
        id: EventId(9),
        stamp: Stamp::MOST,
        time: NOW,
        by: matches!(deed, Deed::Did(_)).then(|| Who::new("laptop").unwrap()),
        after: vec![EventId(8), EventId(7)],
        deed,
    });
    Act::Merge {
        facts: facts.into(),
        settled,
    }
}

/// The sample after this one; a new act doesn't compile without a place in the sequence.
#[rustfmt::skip] // one sample a line
fn next_act(act: &Act) -> Option<Act> {
    let hook_name = || "A01".to_owned();
    let name = || "reds".to_owned();
    Some(match act {
        Act::NewBoard { .. } => Act::Resize { board: BoardId(1) },
        Act::Resize { .. } => Act::Block { hook: hook_name() },
        Act::Block { .. } => Act::Unblock { hook: hook_name() },
        Act::Unblock { .. } => Act::ImportCards { added: 1, changed: 0, list: Some(ListDigest(4)) },
        Act::ImportCards { .. } => Act::ImportRange { range: RangeId(1), shades: 3 },
        Act::ImportRange { .. } => Act::ImportMatches { added: 2, removed: 0 },
        Act::ImportMatches { removed: 0, .. } => Act::ImportMatches { added: 0, removed: 1 },
        Act::ImportMatches { .. } => Act::ImportKey { ring: RING, colours: 4 },
        Act::ImportKey { .. } => Act::EditKey { ring: RING },
        Act::EditKey { .. } => Act::Fabric { ring: RING },
        Act::Fabric { .. } => Act::Progress { ring: RING },
        Act::Progress { .. } => Act::Bought { skeins: 2, added: 1 },
        Act::Bought { .. } => Act::OrderFamilies,
        Act::OrderFamilies => Act::NewFamily { name: name() },
        Act::NewFamily { .. } => Act::RenameFamily { before: name(), after: name() },
        Act::RenameFamily { .. } => Act::RemoveFamily { name: name() },
        Act::RemoveFamily { .. } => Act::AssignFamily { name: name(), cards: 1 },
        Act::AssignFamily { .. } => Act::UnassignFamily { cards: 1 },
        Act::UnassignFamily { .. } => Act::OrderWall,
        Act::OrderWall => Act::Hold { cards: 1 },
        Act::Hold { .. } => Act::Release { cards: 0 },
        Act::Release { .. } => Act::Effort { cards: 1, effort: 1 },
        Act::Effort { .. } => Act::HoldFamilies { families: 1 },
        Act::HoldFamilies { .. } => Act::ReleaseFamilies { families: 1 },
        Act::ReleaseFamilies { .. } => Act::Reserve { hook: hook_name() },
        Act::Reserve { .. } => Act::Unreserve { hook: hook_name() },
        Act::Unreserve { .. } => Act::OpenRing { ring: RING },
        Act::OpenRing { .. } => Act::Take { ring: RING, cards: 2 },
        Act::Take { .. } => Act::Return { ring: RING, cards: 2, rejoined: 1 },
        Act::Return { .. } => Act::Split { ring: RING, card: CARD, strands: STRANDS },
        Act::Split { .. } => Act::Rejoin { card: CARD, strands: STRANDS },
        Act::Rejoin { .. } => Act::Use { card: CARD, strands: STRANDS, lots: vec![] },
        Act::Use { lots, .. } if lots.is_empty() => Act::Use { card: CARD, strands: STRANDS, lots: vec![lot()] },
        Act::Use { .. } => Act::Cut { cards: 2 },
        Act::Cut { .. } => Act::Count { card: CARD },
        Act::Count { .. } => Act::PutUp { range: RangeId(1) },
        Act::PutUp { .. } => Act::Mark { colours: 1, mark: Mark::Variegated, set: true },
        Act::Mark { set: true, .. } => Act::Mark { colours: 2, mark: Mark::Discontinued, set: false },
        Act::Mark { .. } => Act::Want { colours: 2, skeins: 0 },
        Act::Want { .. } => Act::Status { ring: RING },
        Act::Status { .. } => Act::OrderRings,
        Act::OrderRings => Act::HangUp { ring: RING },
        Act::HangUp { .. } => Act::TakeDown { ring: RING },
        Act::TakeDown { .. } => Act::Close { ring: RING },
        Act::Close { .. } => Act::Missing { cards: 1 },
        Act::Missing { .. } => Act::Found { card: CARD },
        Act::Found { .. } => Act::Elsewhere { cards: 2, note: label("by post"), loan: Some(loan()) },
        Act::Elsewhere { .. } => Act::NewCard { card: CARD },
        Act::NewCard { .. } => Act::ChangeCard { card: CARD },
        Act::ChangeCard { .. } => Act::Remove { cards: 1, why: label("moths") },
        Act::Remove { .. } => Act::RollCall { found: 1, misplaced: 2, missing: 3 },
        Act::RollCall { .. } => Act::RollCallRow {
            begins: true,
            hooks: vec![Sighting { hook: hook(), cards: vec![CARD] }, Sighting { hook: hook(), cards: Vec::new() }],
        },
        Act::RollCallRow { .. } => Act::HangHome { card: CARD },
        Act::HangHome { .. } => Act::Rehang { card: CARD },
        Act::Rehang { .. } => Act::RehangAll { cards: 2 },
        Act::RehangAll { .. } => Act::BeginRehang { steps: 1 },
        Act::BeginRehang { .. } => Act::EndRehang { left: 0 },
        Act::EndRehang { .. } => merge(),
        Act::Merge { .. } => Act::AcceptLoss { recorded: Some(9), found: 7 },
        Act::AcceptLoss { recorded: Some(_), .. } => Act::AcceptLoss { recorded: None, found: 7 },
        Act::AcceptLoss { .. } => Act::Undo { seq: u64::MAX },
        Act::Undo { .. } => Act::Redo { seq: 1 },
        Act::Redo { .. } => return None,
    })
}

pub fn acts() -> Vec<Act> {
    let first = Act::NewBoard { board: BoardId(1) };
    std::iter::successors(Some(first), next_act).collect()
}

fn hook() -> HookRef {
    "0000000100000001/0.3".parse().unwrap()
}

fn range() -> Range {
    let shade = Shade {
        name: label("slate"),
        colour: Some("#102030".parse().unwrap()),
        family: Some(FamilyId(1)),
        variegated: true,
        discontinued: true,
        wanted: 2,
    };
    let shades = [("701", shade), ("B5", Shade::default())];
    let number = |text| Number::new(text).unwrap();
    Range {
        id: RangeId(1),
        name: label("Heath"),
        shades: shades
            .into_iter()
            .map(|(n, shade)| (number(n), shade))
            .collect(),
        put_up: PutUp::usual(ThreadKind::Wool),
    }
}

fn board() -> Board {
    let spec = HookSpec {
        cards_per_hook: Some(2),
        blocked: Some(label("lamp")),
        reserved: true,
    };
    Board {
        id: BoardId(1),
        name: label("Wall"),
        prefix: label("2"),
        rows: 2,
        columns: 3,
        cards_per_hook: 1,
        reading: homehook::model::board::ReadingOrder::ThereAndBack,
        special: [((0, 1), spec), ((1, 1), HookSpec::default())].into(),
    }
}

fn cards() -> Vec<Card> {
    let plain = Card::new(CARD, RangeId(1), Number::new("701").unwrap());
    let perle = PutUp::usual(ThreadKind::Perle {
        size: PerleSize::new(5).unwrap(),
    });
    let full = Card {
        tag: Tag::new("K7").unwrap(),
        name: label("slate"),
        colour: Some("#ABCDEF".parse().unwrap()),
        family: CardFamily::Chosen(FamilyId(1)),
        put_up: Some(perle),
        variegated: true,
        note: label("a gift"),
        parent: Some(CardId(1)),
        touch: MoveCost::Costly(Effort::new(5).unwrap()),
        ..plain.clone()
    };
    let held = Card {
        family: CardFamily::WorkedOut(FamilyId(2)),
        touch: MoveCost::Held,
        ..plain.clone()
    };
    vec![plain, full, held]
}

fn places() -> Vec<Place> {
    let first = Whereabouts::Hook { hook: hook() };
    let all = std::iter::successors(Some(first), next_place);
    all.map(|at| Place { at, since: NOW }).collect()
}

/// The sample after this one; a new place doesn't compile without a place in the sequence.
fn next_place(at: &Whereabouts) -> Option<Whereabouts> {
    let missing = |last_seen| Whereabouts::Missing { last_seen };
    Some(match at {
        Whereabouts::Hook { .. } => Whereabouts::Ring { ring: RING },
        Whereabouts::Ring { .. } => Whereabouts::Hand,
        Whereabouts::Hand => Whereabouts::Elsewhere {
            note: label("at a friend's"),
            loan: None,
        },
        Whereabouts::Elsewhere { loan: None, .. } => Whereabouts::Elsewhere {
            note: Label::default(),
            loan: Some(loan()),
        },
        Whereabouts::Elsewhere { .. } => Whereabouts::Unhung,
        Whereabouts::Unhung => missing(LastSeen::Hook(hook())),
        Whereabouts::Missing { last_seen } => match last_seen {
            LastSeen::Hook(_) => missing(LastSeen::Ring(RING)),
            LastSeen::Ring(_) => missing(LastSeen::Loose),
            LastSeen::Loose => return None,
        },
    })
}

fn loan() -> Loan {
    Loan {
        whom: Name::new("a friend").unwrap(),
        until: Some(jiff::civil::date(2026, 11, 1)),
    }
}

fn colour(number: &str) -> ColourRef {
    ColourRef::new(RangeId(1), Number::new(number).unwrap())
}

fn key() -> Vec<KeyLine> {
    let plain = KeyLine::of(RangeId(1), Number::new("701").unwrap());
    let first = KeyThread {
        strands: 2,
        name: label("slate"),
        hex: Some("#102030".parse().unwrap()),
        ..KeyThread::new(colour("447"))
    };
    let second = KeyThread {
        stitched_with: Some(colour("9")),
        ..KeyThread::new(colour("96"))
    };
    let blend = KeyLine {
        symbol: label("X"),
        work: KeyWork::Threads {
            needle: Needle::new(vec![first, second]).unwrap(),
            stitches: StitchCounts {
                full: 400,
                half: 1,
                quarter: 2,
                three_quarter: 3,
                backstitch: 40,
                backstitch_strands: 1,
                french_knots: 5,
            },
        },
    };
    let notion = |kind| KeyLine {
        symbol: label("o"),
        work: KeyWork::Notion(Notion {
            name: Name::new("brass star").unwrap(),
            kind,
            pieces: 24,
        }),
    };
    let kinds = [
        NotionKind::Bead,
        NotionKind::Button,
        NotionKind::MetallicOrnament,
        NotionKind::Other,
    ];
    [plain, blend]
        .into_iter()
        .chain(kinds.map(notion))
        .collect()
}

fn rings() -> Vec<Ring> {
    let (hook, since) = (hook(), NOW);
    let states = [
        RingState::Live,
        RingState::Hanging { hook, since },
        RingState::Closed { at: NOW },
    ];
    let ring = |state| Ring {
        id: RING,
        project: label("Fox"),
        key: key(),
        used: [(colour("701"), 700)].into(),
        fabric: Some(Assumptions::default()),
        went_out: vec![CARD],
        state,
        opened: NOW,
        status: label("resting"),
        place: 3,
    };
    let bare = Ring {
        key: Vec::new(),
        status: Label::default(),
        place: 0,
        fabric: None,
        went_out: Vec::new(),
        ..ring(RingState::Live)
    };
    states.map(ring).into_iter().chain([bare]).collect()
}

/// The samples of a change and the next change; a new one doesn't compile without samples.
fn after(change: &Change) -> Option<Vec<Change>> {
    let (card, ring) = (CARD, RING);
    Some(match change {
        Change::Range { .. } => {
            let mut shades = range().shades.into_iter();
            let (number, shade) = shades.next_back().unwrap();
            let change = |before, after| Change::Shade {
                range: RangeId(1),
                number: number.clone(),
                before,
                after,
            };
            vec![
                change(None, Some(shade.clone())),
                change(Some(shade.clone()), None),
            ]
        }
        Change::Shade { .. } => {
            let of = |number| ColourMatch::new(colour(number), colour("12")).unwrap();
            let change = |before, after| Change::Match { before, after };
            vec![
                change(None, Some(of("b5"))),
                change(Some(of("b5")), Some(of("B5"))),
                change(Some(of("B5")), None),
            ]
        }
        Change::Match { .. } => {
            let (id, name) = (FamilyId(1), label("reds"));
            let family = |held| Family {
                id,
                name: name.clone(),
                held,
            };
            vec![Change::Families {
                before: vec![],
                after: vec![family(true), family(false)],
            }]
        }
        Change::Families { .. } => {
            let order = |before, after| Change::Order { before, after };
            vec![
                order(WallOrder::Family, WallOrder::Number),
                order(WallOrder::Number, WallOrder::Lightness),
            ]
        }
        Change::Order { .. } => vec![Change::Board {
            before: None,
            after: Some(board()),
        }],
        Change::Board { .. } => {
            let new = |card| Change::Card {
                before: None,
                after: Some(card),
            };
            cards().into_iter().map(new).collect()
        }
        Change::Card { .. } => {
            let went = |place| Change::Place {
                card,
                before: Some(place),
                after: None,
            };
            places().into_iter().map(went).collect()
        }
        Change::Place { .. } => vec![Change::Home {
            card,
            before: None,
            after: Some(hook()),
        }],
        Change::Home { .. } => {
            let of = |lot, before, after| Change::Lot {
                card,
                lot,
                before,
                after,
            };
            vec![
                of(lot(), None, Some(label("drawer"))),
                of(Lot::unknown(), Some(Label::default()), None),
            ]
        }
        Change::Lot { .. } => {
            let amounts = [
                AmountChange::Set {
                    before: 0,
                    after: u32::MAX.into(),
                },
                AmountChange::minus(u32::MAX),
            ];
            let of = |part| {
                amounts.map(|amount| Change::Thread {
                    card,
                    lot: lot(),
                    part,
                    amount,
                })
            };
            ThreadPart::ALL.into_iter().flat_map(of).collect()
        }
        Change::Thread { .. } => {
            let was = |ring| Change::Ring {
                before: Some(ring),
                after: None,
            };
            rings().into_iter().map(was).collect()
        }
        Change::Ring { .. } => vec![Change::Key {
            ring,
            before: vec![],
            after: key(),
        }],
        Change::Key { .. } => {
            let used = |amount| Change::Used {
                ring,
                colour: colour("701"),
                amount,
            };
            vec![
                used(AmountChange::Add { by: i64::MIN }),
                used(AmountChange::Set {
                    before: 0,
                    after: 9_007_199_254_740_991,
                }),
            ]
        }
        Change::Used { .. } => {
            vec![Change::WentOut {
                ring,
                before: vec![(3, CARD)],
                after: vec![(3, CardId(1)), (4, CARD)],
            }]
        }
        Change::WentOut { .. } => {
            let (homes, begun) = (vec![(CARD, hook())], NOW);
            let underway = Underway {
                homes,
                steps: 2,
                done: 1,
                begun,
            };
            vec![Change::Underway {
                before: None,
                after: Some(underway),
            }]
        }
        Change::Underway { .. } => vec![Change::Progress {
            before: 1,
            after: 2,
        }],
        Change::Progress { .. } => vec![Change::Purchase {
            purchase: PurchaseId::first_of(7),
            before: None,
            after: Some(NOW),
        }],
        Change::Purchase { .. } => return None,
    })
}

pub fn changes() -> Vec<Change> {
    let mut all = vec![Change::Range {
        before: None,
        after: Some(range()),
    }];
    while let Some(more) = all.last().and_then(after) {
        all.extend(more);
    }
    all
}

pub fn line_of(act: Act, changes: Vec<Change>) -> Value {
    let event = Event { act, changes };
    json!({
        "seq": 1,
        "id": EventId(9),
        "stamp": Stamp::MOST,
        "time": NOW,
        "by": "laptop",
        "event": event,
        "sum": "0123456789abcdef",
    })
}

pub fn samples() -> Vec<Value> {
    let acts = acts().into_iter().map(|act| line_of(act, Vec::new()));
    let changes = changes()
        .into_iter()
        .map(|change| line_of(Act::OrderWall, vec![change]));
    acts.chain(changes).collect()
}
