//! The recorded events: one act of the user with all its consequences, as a list of [`Change`]s.

mod change;
mod ring;
pub mod thread;

use jiff::Timestamp;
use serde::{Deserialize, Deserializer, Serialize};
use serde_json::Value;

use crate::model::board::HookRef;
use crate::model::ids::{BoardId, CardId, EventId, FamilyId, ListDigest, RangeId, RingId, Stamp};
use crate::model::label::{Label, Who};
use crate::model::thread::{Lot, Strands};
use crate::model::whereabouts::Loan;

pub use self::change::{AmountChange, Change, inverse};
pub use self::ring::{edited, ring_changes, ring_changes_said, without_lists};

/// The user's action. The event's changes hold its effect on the stash.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Act {
    /// Put up a board.
    NewBoard {
        /// Which board.
        board: BoardId,
    },
    /// Resized or edited a board.
    Resize {
        /// Which board.
        board: BoardId,
    },
    /// Blocked a hook.
    Block {
        /// Name of the hook.
        #[serde(deserialize_with = "one_line")]
        hook: String,
    },
    /// Unblocked a hook.
    Unblock {
        /// Name of the hook.
        #[serde(deserialize_with = "one_line")]
        hook: String,
    },
    /// Imported a card list.
    ImportCards {
        /// New cards.
        added: u32,
        /// Cards changed.
        changed: u32,
        /// A digest of the list, to recognise it again.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        list: Option<ListDigest>,
    },
    /// Added a new card by hand.
    NewCard {
        /// Which card.
        card: CardId,
    },
    /// Edited a card.
    ChangeCard {
        /// Which card.
        card: CardId,
    },
    /// Imported a range list.
    ImportRange {
        /// Which range.
        range: RangeId,
        /// New or changed shades.
        shades: u32,
    },
    /// Imported a conversion list between ranges.
    ImportMatches {
        /// New matches.
        added: u32,
        /// Matches removed, because the list replaced the existing ones.
        #[serde(default, skip_serializing_if = "is_zero")]
        removed: u32,
    },
    /// Imported a chart key.
    ImportKey {
        /// Which ring.
        ring: RingId,
        /// Lines of the key.
        colours: u32,
    },
    /// Edited a chart key by hand.
    EditKey {
        /// Which ring.
        ring: RingId,
    },
    /// Set a project's fabric and way of stitching.
    Fabric {
        /// Which ring.
        ring: RingId,
    },
    /// Recorded the progress of a project.
    Progress {
        /// Which ring.
        ring: RingId,
    },
    /// Recorded a purchase of skeins.
    Bought {
        /// How many skeins.
        skeins: u32,
        /// New cards.
        added: u32,
    },
    /// Reordered the families.
    OrderFamilies,
    /// Added an empty family.
    NewFamily {
        /// Its name.
        #[serde(deserialize_with = "one_line")]
        name: String,
    },
    /// Renamed a family.
    RenameFamily {
        /// The old name.
        #[serde(deserialize_with = "one_line")]
        before: String,
        /// The new name.
        #[serde(deserialize_with = "one_line")]
        after: String,
    },
    /// Removed a family.
    RemoveFamily {
        /// Its name.
        #[serde(deserialize_with = "one_line")]
        name: String,
    },
    /// Chose a family for some cards.
    AssignFamily {
        /// The name of the family.
        #[serde(deserialize_with = "one_line")]
        name: String,
        /// How many cards.
        cards: u32,
    },
    /// Let the family of cards follow their range or colour again.
    UnassignFamily {
        /// How many cards.
        cards: u32,
    },
    /// Chose the sort order of the wall.
    OrderWall,
    /// Held cards on their hooks.
    Hold {
        /// How many cards.
        cards: u32,
    },
    /// Released held cards; 0 if only families were held.
    Release {
        /// How many cards.
        cards: u32,
    },
    /// Set the effort of moving some cards.
    Effort {
        /// How many cards.
        cards: u32,
        /// How many plain cards each counts as; 1 for a plain card.
        effort: u16,
    },
    /// Held families on their hooks.
    HoldFamilies {
        /// How many families.
        families: u32,
    },
    /// Released held families.
    ReleaseFamilies {
        /// How many families.
        families: u32,
    },
    /// Reserved a hook, so that re-hangs leave it empty.
    Reserve {
        /// Name of the hook.
        #[serde(deserialize_with = "one_line")]
        hook: String,
    },
    /// Released a reserved hook for re-hangs.
    Unreserve {
        /// Name of the hook.
        #[serde(deserialize_with = "one_line")]
        hook: String,
    },
    /// Opened a ring for a project, without any cards.
    OpenRing {
        /// Which ring.
        ring: RingId,
    },
    /// Took cards onto a project ring.
    Take {
        /// Which ring.
        ring: RingId,
        /// How many cards.
        cards: u32,
    },
    /// Put cards away from a project ring.
    Return {
        /// Which ring.
        ring: RingId,
        /// How many cards.
        cards: u32,
        /// How many split cards were rejoined.
        #[serde(default, skip_serializing_if = "is_zero")]
        rejoined: u32,
    },
    /// Wound thread onto a split card on a project ring.
    Split {
        /// Which ring.
        ring: RingId,
        /// The split card.
        card: CardId,
        /// How much.
        strands: Strands,
    },
    /// Wound the thread of split cards back onto their card.
    Rejoin {
        /// The card they were split from.
        card: CardId,
        /// How much was left.
        strands: Strands,
    },
    /// Used thread.
    Use {
        /// From which card.
        card: CardId,
        /// How much.
        strands: Strands,
        /// The lots used, as far as they are known.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        lots: Vec<Lot>,
    },
    /// Cut uncut thread onto cards.
    Cut {
        /// How many cards.
        cards: u32,
    },
    /// Counted the thread of a card.
    Count {
        /// Which card.
        card: CardId,
    },
    /// Set the kind and put-up of a range's thread.
    PutUp {
        /// Which range.
        range: RangeId,
    },
    /// Marked colours, or removed the mark.
    Mark {
        /// How many colours.
        colours: u32,
        /// What they were marked as.
        mark: Mark,
        /// Whether the mark was set, not removed.
        set: bool,
    },
    /// Put colours on the want list, or took them off.
    Want {
        /// How many colours.
        colours: u32,
        /// Skeins of each; 0 to take them off.
        skeins: u32,
    },
    /// Set the status of a project, in the user's words.
    Status {
        /// Which ring.
        ring: RingId,
    },
    /// Reordered the projects.
    OrderRings,
    /// Hung up a ring on a hook.
    HangUp {
        /// Which ring.
        ring: RingId,
    },
    /// Took down a hanging ring.
    TakeDown {
        /// Which ring.
        ring: RingId,
    },
    /// Closed a ring, with every card accounted for.
    Close {
        /// Which ring.
        ring: RingId,
    },
    /// Marked cards as missing.
    Missing {
        /// How many cards.
        cards: u32,
    },
    /// Found a card again.
    Found {
        /// Which card.
        card: CardId,
    },
    /// Recorded that cards are away from the wall and the rings.
    Elsewhere {
        /// How many cards.
        cards: u32,
        /// Where they are; may be empty for a loan.
        note: Label,
        /// Who has them, if they are lent.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        loan: Option<Loan>,
    },
    /// Removed cards from the stash for good.
    Remove {
        /// How many cards.
        cards: u32,
        /// Why; may be empty.
        why: Label,
    },
    /// Compared hooks of the wall with the record.
    RollCall {
        /// Cards found where the record had them.
        found: u32,
        /// Cards found elsewhere.
        misplaced: u32,
        /// Cards found neither where the record had them nor on another hook in the roll call.
        missing: u32,
    },
    /// Confirmed a row in a roll call that isn't at its end.
    RollCallRow {
        /// Whether a new roll call begins with it.
        begins: bool,
        /// The hooks of the row, with the cards seen there.
        hooks: Vec<Sighting>,
    },
    /// Hung a card back on the hook it belongs on.
    HangHome {
        /// Which card.
        card: CardId,
    },
    /// Did one step of a re-hang.
    Rehang {
        /// The card moved.
        card: CardId,
    },
    /// Did all remaining steps of a re-hang.
    RehangAll {
        /// Cards moved.
        cards: u32,
    },
    /// Started a re-hang.
    BeginRehang {
        /// Planned steps.
        steps: u32,
    },
    /// Gave up a re-hang.
    EndRehang {
        /// Cards that didn't reach their target hooks.
        left: u32,
    },
    /// Merged another copy of the stash; see [`merge`](super::merge).
    Merge {
        /// The events of the other copy that were missing here.
        facts: Vec<Fact>,
        /// The decisions between the two copies.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        settled: Vec<Settled>,
    },
    /// Continued with a record that had lost events, or was exchanged for another.
    AcceptLoss {
        /// How many events had been acknowledged, if known.
        recorded: Option<u64>,
        /// How many were found.
        found: u64,
    },
    /// Undid an earlier event.
    Undo {
        /// The sequence number of the undone event.
        seq: u64,
    },
    /// Redid an undone event.
    Redo {
        /// The sequence number of the undo.
        seq: u64,
    },
}

/// The cards on one walked hook; none if it was empty.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Sighting {
    /// The hook.
    pub hook: HookRef,
    /// The cards seen on it.
    pub cards: Vec<CardId>,
}

/// A mark for a colour.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Mark {
    /// Its colour changes along the thread.
    Variegated,
    /// The maker no longer makes it.
    Discontinued,
}

/// Deserializes text that can be shown on one line.
fn one_line<'de, D: Deserializer<'de>>(from: D) -> Result<String, D::Error> {
    Label::deserialize(from).map(String::from)
}

#[allow(clippy::trivially_copy_pass_by_ref)] // serde passes a reference
fn is_zero(n: &u32) -> bool {
    *n == 0
}

impl Act {
    /// The events of another copy that it brought in.
    #[must_use]
    pub fn facts(&self) -> &[Fact] {
        match self {
            Self::Merge { facts, .. } => facts,
            _ => &[],
        }
    }

    /// The newest stamp of the events of another copy that it brought in; the least stamp if there
    /// are none.
    #[must_use]
    pub fn newest_stamp(&self) -> Stamp {
        let stamps = self.facts().iter().map(|fact| fact.stamp);
        stamps.max().unwrap_or_default()
    }

    /// Whether it may be the first event of a stash, and so create its folder.
    #[must_use]
    pub const fn begins_a_stash(&self) -> bool {
        matches!(
            self,
            Self::NewBoard { .. }
                | Self::ImportCards { .. }
                | Self::ImportRange { .. }
                | Self::ImportKey { .. }
                | Self::NewCard { .. }
                | Self::OpenRing { .. }
                | Self::PutUp { .. }
                | Self::Want { .. }
        )
    }
}

/// One act with all its changes; one line of the record.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Event {
    /// The user's action.
    pub act: Act,
    /// Its changes, in order.
    pub changes: Vec<Change>,
}

/// The most bytes of JSON that the record accepts for an event. A line has up to 64 MiB, and holds
/// more than the event.
pub const LONGEST_EVENT: usize = (64 << 20) - (64 << 10);

impl Event {
    /// The cards it moves to another place.
    pub fn moved(&self) -> impl Iterator<Item = CardId> {
        self.changes.iter().filter_map(|change| match change {
            Change::Place { card, .. } => Some(*card),
            _ => None,
        })
    }

    /// The cards it gives another home.
    pub fn homes(&self) -> impl Iterator<Item = CardId> {
        self.changes.iter().filter_map(|change| match change {
            Change::Home { card, .. } => Some(*card),
            _ => None,
        })
    }

    /// Its length as JSON, in bytes; 0 if it can't be serialized, which the record refuses. O(size
    /// of the event).
    #[must_use]
    pub fn length(&self) -> usize {
        serde_json::to_string(self).map_or(0, |text| text.len())
    }
}

/// An event of another copy, the same wherever it is merged.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Fact {
    /// Which event.
    pub id: EventId,
    /// Its position in the order of the events of all copies.
    pub stamp: Stamp,
    /// The time by its writer's clock.
    pub time: Timestamp,
    /// Who made it, if recorded.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<Who>,
    /// The last events its writer knew. Each stands for everything its own writer knew.
    pub after: Vec<EventId>,
    /// What it did.
    pub deed: Deed,
}

/// What an event of another copy did.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Deed {
    /// An act with its changes.
    Did(Event),
    /// An event was undone.
    Undid(EventId),
    /// An event was redone.
    Redid(EventId),
    /// Two copies were merged, with these decisions.
    Settled(Vec<Settled>),
}

/// The owner of a field.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Thing {
    /// An event, with a field for whether it is in effect.
    Event(EventId),
    /// A range.
    Range(RangeId),
    /// A family.
    Family(FamilyId),
    /// A board.
    Board(BoardId),
    /// A card.
    Card(CardId),
    /// A ring.
    Ring(RingId),
    /// The stash as a whole.
    Stash,
}

/// The value that a merge gave a field.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Settled {
    /// The owner of the field.
    pub thing: Thing,
    /// The name of the field in the record, with a slash before a part of a list.
    pub member: String,
    /// Its value.
    pub value: Value,
    /// The events whose value was chosen, if the user was asked.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub chosen: Vec<EventId>,
    /// The events whose value was not chosen.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub over: Vec<EventId>,
}
