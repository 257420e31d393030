//! `homehook ring`, `missing` and `found`.

use std::collections::BTreeMap;
use std::path::Path;

use clap::Subcommand;
use jiff::Timestamp;
use jiff::civil::Date;
use serde::Serialize;

use super::failure::Failure;
use super::failure::with_advice;
use super::output::Output;
use super::pattern::{self, FabricArgs, ProgressArgs};
use super::pull::{self, PullArgs};
use super::thread::{self, SplitArgs};
use super::{change, open, plain};
use crate::exchange::export::{CardOut, CardRef, ColourOut, RingOut};
use crate::model::ids::RingId;
use crate::model::label::Name;
use crate::model::ring::Ring;
use crate::model::thread::{Strands, ThreadPart};
use crate::model::whereabouts::Loan;
use crate::stash::command::{card, ring};
use crate::stash::event::{Act, AmountChange, Change, Event};
use crate::stash::projects::kit::{Availability, ProjectKit, check};
use crate::stash::projects::low::low;
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};
use crate::stash::whereabouts::forgotten;
use crate::text;
use crate::text::export;

/// What became of cards and their ring.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct RingChanged {
    /// What was done, as a sentence without its full stop.
    done: String,
    /// The number of the event in the record.
    event: u64,
    /// The cards that are somewhere else now.
    moved: Vec<CardOut>,
    /// The split cards that were rejoined.
    rejoined: Vec<RejoinedOut>,
    /// The split cards that stay on the ring, and why.
    stay: Vec<StayOut>,
    /// The ring after it; `null` where it is about none.
    ring: Option<RingOut>,
}

/// A split card that was rejoined.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct RejoinedOut {
    /// The card that its thread went onto.
    onto: CardRef,
    /// Single strands that were on it, each as long as its lengths.
    strands: u32,
}

/// A split card that stays.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct StayOut {
    /// The split card.
    card: CardRef,
    /// Why it stays.
    why: String,
}

/// Every ring.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct RingList<'a> {
    /// The rings: those that are open in the order of the projects, then those that are closed.
    rings: Vec<ListedRing>,
    /// Rings that seem forgotten.
    called_out: Vec<ForgottenOut<'a>>,
}

/// A ring, how its project stands and how much of its kit is on it.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct ListedRing {
    /// The ring.
    #[serde(flatten)]
    ring: RingOut,
    /// How the project stands, in its owner's words; may be empty.
    status: String,
    /// How much of its kit is on the ring; `null` where it is closed or has no key.
    kitted: Option<KittedOut>,
}

/// How much of a kit is on its ring.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct KittedOut {
    /// Colours of which enough is on the ring, or all they need is used.
    there: usize,
    /// Colours of the key.
    colours: usize,
    /// The others.
    lacking: Vec<LackingOut>,
}

/// A colour that a kit lacks.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct LackingOut {
    /// The colour.
    #[serde(flatten)]
    colour: ColourOut,
    /// How it stands.
    status: Availability,
    /// The same in words.
    words: String,
}

impl KittedOut {
    fn of(state: &State, kit: &ProjectKit<'_>) -> Self {
        let kitted = kit.kitted(state);
        let lacking = kitted.lacking.iter().map(|line| LackingOut {
            colour: ColourOut::of(state, line.thread.stitched()),
            status: line.standing,
            words: text::thread::availability(state, line),
        });
        Self {
            there: kitted.there,
            colours: kitted.colours,
            lacking: lacking.collect(),
        }
    }
}

/// A ring that seems forgotten.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct ForgottenOut<'a> {
    /// The project.
    project: &'a str,
    /// What has gone on for long.
    what: ForgottenKind,
    /// For how many days.
    days: i64,
}

/// Why a ring seems forgotten.
#[derive(Clone, Copy, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
enum ForgottenKind {
    /// It hangs on a hook.
    Hanging,
    /// No card came to it.
    Idle,
}

/// What to do with rings.
#[derive(Debug, Subcommand)]
pub(crate) enum RingCommand {
    /// Take cards to a project's ring; a new project gets one.
    Take {
        /// The project.
        project: String,
        /// NUMBER or RANGE:NUMBER.
        #[arg(required = true, value_name = "CARD")]
        cards: Vec<String>,
    },
    /// Hang cards back, each on its home hook.
    Return {
        /// The project.
        project: String,
        /// NUMBER or RANGE:NUMBER.
        #[arg(
            value_name = "CARD",
            required_unless_present = "all",
            conflicts_with = "all"
        )]
        cards: Vec<String>,
        /// Every card on the ring.
        #[arg(long)]
        all: bool,
    },
    /// Leave a ring hanging on a hook.
    Hang {
        /// The project.
        project: String,
        /// The hook.
        hook: String,
    },
    /// Take a hanging ring back into use.
    TakeDown {
        /// The project.
        project: String,
    },
    /// End a project, every card accounted for.
    Close {
        /// The project.
        project: String,
    },
    /// Split thread of a card onto a split card for a project.
    Split(SplitArgs),
    /// Rejoin a split card with its card.
    Rejoin {
        /// The project.
        project: String,
        /// The card it came from: NUMBER or RANGE:NUMBER.
        card: String,
    },
    /// Open a ring for a project, with no card on it yet.
    Open {
        /// The project.
        project: String,
    },
    /// List the cards to fetch for a project, along the wall.
    Pull(PullArgs),
    /// Show a project's chart key.
    Key {
        /// The project.
        project: String,
    },
    /// Stitch another colour in place of one of the chart.
    Swap {
        /// The project.
        project: String,
        /// The chart's colour: NUMBER or RANGE:NUMBER.
        card: String,
        /// The colour to stitch in its place, in every line of the key.
        #[arg(long, value_name = "CARD", required_unless_present = "back")]
        with: Option<String>,
        /// Go back to the chart's colour.
        #[arg(long, conflicts_with = "with")]
        back: bool,
    },
    /// Order the projects; they share the stash in this order.
    Order {
        /// The projects, first one first; the others follow in their present order.
        #[arg(required = true, value_name = "PROJECT")]
        projects: Vec<String>,
    },
    /// Set a project's status in your own words; "" removes it.
    Status {
        /// The project.
        project: String,
        /// Such as "waiting for linen".
        words: String,
    },
    /// Set how far a project has come.
    Progress(ProgressArgs),
    /// Set a project's fabric and how you stitch on it, or show both.
    Fabric(FabricArgs),
    /// List the rings and what is on them.
    List,
}

pub(crate) fn run(command: RingCommand, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    match command {
        RingCommand::Take { project, cards } => change(dir, output, |state, now| {
            ring::take(state, &project, &state.find_cards(&cards)?, now)
        }),
        RingCommand::Return {
            project,
            cards,
            all,
        } => change(dir, output, |state, now| {
            let ring = state.need_ring(&project)?;
            if all {
                ring::give_back_all(state, ring, now)
            } else {
                ring::give_back(state, ring, &state.find_cards(&cards)?, now)
            }
        }),
        RingCommand::Hang { project, hook } => change(dir, output, |state, now| {
            ring::hang_up(state, state.need_ring(&project)?, &hook, now)
        }),
        RingCommand::TakeDown { project } => change(dir, output, |state, _| {
            ring::take_down(state.need_ring(&project)?)
        }),
        RingCommand::Close { project } => change(dir, output, |state, now| {
            ring::close(state, state.need_ring(&project)?, now)
        }),
        RingCommand::Split(args) => thread::split(&args, dir, output),
        RingCommand::Rejoin { project, card } => thread::merge(&project, &card, dir, output),
        RingCommand::Open { project } => {
            change(dir, output, |state, now| ring::open(state, &project, now))
        }
        RingCommand::Pull(args) => pull::run(&args, dir, output),
        RingCommand::Key { project } => pattern::show_key(&project, dir, output),
        RingCommand::Swap {
            project,
            card,
            with,
            ..
        } => pattern::swap(&project, &card, with.as_deref(), dir, output),
        RingCommand::Order { projects } => {
            change(dir, output, |state, _| ring::order(state, &projects))
        }
        RingCommand::Status { project, words } => change(dir, output, |state, _| {
            let event = ring::status(state.need_ring(&project)?, &words)?;
            event.ok_or(Refusal::NothingToDo)
        }),
        RingCommand::Progress(args) => pattern::progress(&args, dir, output),
        RingCommand::Fabric(args) => pattern::fabric(&args, dir, output),
        RingCommand::List => {
            let reading = open::reading(dir, output)?;
            list(reading.state(), output)
        }
    }
}

/// Marks cards as missing.
pub(crate) fn missing(cards: &[String], dir: &Path, output: &mut Output) -> Result<(), Failure> {
    change(dir, output, |state, now| {
        ring::missing(state, &state.find_cards(cards)?, now)
    })
}

/// Records that cards are in another place.
pub(crate) fn elsewhere(
    cards: &[String],
    note: &str,
    whom: Option<&str>,
    until: Option<Date>,
    dir: &Path,
    output: &mut Output,
) -> Result<(), Failure> {
    change(dir, output, |state, now| {
        let cards = state.find_cards(cards)?;
        let loan = match whom {
            Some(whom) => {
                let whom = Name::new(whom).map_err(Refusal::Whom)?;
                let until = until.or_else(|| card::lent_until(state, &cards, &whom));
                Some(Loan { whom, until })
            }
            None => None,
        };
        card::elsewhere(state, &cards, note, loan, now)
    })
}

/// Records that a card was found.
pub(crate) fn found(card: &str, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    change(dir, output, |state, now| {
        ring::found(state, state.find_card(card)?, now)
    })
}

/// Makes a change, and shows which cards it moved and the state of the ring.
fn change(
    dir: &Path,
    output: &mut Output,
    ask: impl Fn(&State, Timestamp) -> Result<Event, Refusal>,
) -> Result<(), Failure> {
    let changed = change::make(dir, output, ask)?;
    let (state, words) = (changed.state(), changed.words());
    let moved = || {
        let cards = changed
            .event
            .changes
            .iter()
            .filter_map(|change| match change {
                Change::Place { card, .. } => Some(*card),
                _ => None,
            });
        cards.filter_map(|id| state.card(id))
    };
    let ring = ring_of(&changed.event.act).and_then(|id| state.ring(id));
    // Mention split cards that stay on the ring, or they would seem to be put away.
    let put_away = ring.filter(|_| matches!(changed.event.act, Act::Return { .. }));
    let stay: Vec<(&CardState, Refusal)> = put_away
        .into_iter()
        .flat_map(|ring| ring::split_cards_that_stay(state, ring))
        .collect();
    if !output.is_json() {
        output.line(format_args!("{words}."))?;
        tell_moves(state, rejoined(state, &changed.event), moved(), output)?;
        for (_, why) in stay {
            output.note("stays", with_advice(&why));
        }
        return Ok(());
    }
    let rejoined = rejoined(state, &changed.event).map(|(whole, strands)| RejoinedOut {
        onto: CardRef::of(state, whole),
        strands: strands.0,
    });
    let stay = stay.iter().map(|(kept, why)| StayOut {
        card: CardRef::of(state, kept),
        why: with_advice(why),
    });
    output.object(&RingChanged {
        done: words,
        event: changed.seq,
        moved: moved()
            .map(|kept| CardOut::of(export(state), kept))
            .collect(),
        rejoined: rejoined.collect(),
        stay: stay.collect(),
        ring: ring.map(|ring| RingOut::of(export(state), ring)),
    })?;
    Ok(())
}

/// Writes a line for each rejoined split card, and for each moved card.
fn tell_moves<'a>(
    state: &State,
    rejoined: impl Iterator<Item = (&'a CardState, Strands)>,
    moved: impl Iterator<Item = &'a CardState>,
    output: &mut Output,
) -> Result<(), Failure> {
    for (whole, strands) in rejoined {
        output.line(format!(
            "  {amount} of a split card rejoined with {card}  {name}: {place}",
            amount = text::thread::amount(strands, state.put_up(&whole.card)),
            card = state.card_name(whole),
            name = whole.card.name,
            place = text::places::place_of(state, whole)
        ))?;
    }
    for kept in moved {
        output.line(format_args!(
            "  {}: {}{}",
            text::places::card_and_colour(state, kept),
            text::places::place_of(state, kept),
            text::places::last_seen_with(state, kept)
                .map_or_else(String::new, |with| format!(", {with}"))
        ))?;
    }
    Ok(())
}

/// The split cards rejoined by an event: the card that each rejoined, and the amount.
fn rejoined<'a>(
    state: &'a State,
    event: &'a Event,
) -> impl Iterator<Item = (&'a CardState, Strands)> {
    let strands_of = |id| {
        let lots = event.changes.iter().filter_map(|change| match change {
            Change::Thread {
                card,
                part: ThreadPart::Strands,
                amount: AmountChange::Set { before, .. },
                ..
            } if *card == id => Some(*before),
            _ => None,
        });
        let sum = lots.fold(0, u64::saturating_add);
        Strands(u32::try_from(sum).unwrap_or(u32::MAX))
    };
    event.changes.iter().filter_map(move |change| match change {
        Change::Card {
            before: Some(split_card),
            after: None,
        } => {
            let whole = state.card(split_card.parent?)?;
            Some((whole, strands_of(split_card.id)))
        }
        _ => None,
    })
}

const fn ring_of(act: &Act) -> Option<RingId> {
    match act {
        Act::OpenRing { ring }
        | Act::Take { ring, .. }
        | Act::Return { ring, .. }
        | Act::HangUp { ring }
        | Act::TakeDown { ring }
        | Act::Status { ring }
        | Act::Close { ring } => Some(*ring),
        _ => None,
    }
}

fn list(state: &State, output: &mut Output) -> Result<(), Failure> {
    let now = Timestamp::now();
    let forgotten = forgotten(state, now);
    let open = state.rings_in_order();
    let with_key: Vec<&Ring> = open.iter().copied().filter(|r| !r.key.is_empty()).collect();
    let kit = check(state, &with_key);
    let kits: BTreeMap<RingId, &ProjectKit<'_>> =
        kit.projects.iter().map(|of| (of.ring.id, of)).collect();
    let closed = state.rings().filter(|ring| ring.is_closed());
    let every: Vec<&Ring> = open.iter().copied().chain(closed).collect();
    if output.is_json() {
        let called_out = forgotten.iter().map(|one| ForgottenOut {
            project: one.ring.project.as_str(),
            what: match one.hanging {
                Some(_) => ForgottenKind::Hanging,
                None => ForgottenKind::Idle,
            },
            days: one.days,
        });
        output.object(&RingList {
            rings: every
                .iter()
                .map(|ring| ListedRing {
                    ring: RingOut::of(export(state), ring),
                    status: ring.status.to_string(),
                    kitted: kits.get(&ring.id).map(|kit| KittedOut::of(state, kit)),
                })
                .collect(),
            called_out: called_out.collect(),
        })?;
        return Ok(());
    }
    for ring in every {
        output.line(plain::ring_line(state, ring, now))?;
        if !ring.status.is_empty() {
            output.line(format_args!("  {}", ring.status))?;
        }
        if let Some(kit) = kits.get(&ring.id) {
            output.line(format!("  {}.", text::thread::kitted(state, kit)))?;
        }
        let cards: Vec<String> = state
            .cards_on(ring)
            .map(|kept| state.card_name(kept))
            .collect();
        if !cards.is_empty() {
            output.line(format_args!("  {}", cards.join(", ")))?;
        }
        for low in low(state, ring) {
            output.line(format!(
                "  Low: {low}.",
                low = text::thread::low(state, &low)
            ))?;
        }
        if let Some(one) = forgotten.iter().find(|one| one.ring.id == ring.id) {
            let what = if one.hanging.is_some() {
                "still hanging there"
            } else {
                "no card came to it"
            };
            output.line(format!(
                "  {what} for {days} days: put it away?",
                days = one.days
            ))?;
        }
    }
    if state.rings().len() == 0 {
        output.line("There are no rings yet.")?;
    }
    Ok(())
}
