//! What is written down: one act of the user and all it changed, as a list of [`Change`]s.

mod change;
mod ring;
pub mod thread;

use jiff::Timestamp;
use serde::{Deserialize, Deserializer, Serialize};
use serde_json::Value;

use crate::model::ids::{BoardId, CardId, EventId, FamilyId, ListDigest, RangeId, RingId, Stamp};
use crate::model::label::{Label, Who};
use crate::model::thread::{Lot, Strands};
use crate::model::whereabouts::Loan;

pub use self::change::{AmountChange, Change, inverse};
pub use self::ring::{edited, ring_changes, ring_changes_said, without_lists};

/// What the user did. The changes beside it say what that did to the stash.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Act {
    /// Put up a board.
    NewBoard {
        /// Which board.
        board: BoardId,
    },
    /// Gave a board other measures.
    Resize {
        /// Which board.
        board: BoardId,
    },
    /// Blocked a hook.
    Block {
        /// Its mark.
        #[serde(deserialize_with = "one_line")]
        hook: String,
    },
    /// Made a hook usable again.
    Unblock {
        /// Its mark.
        #[serde(deserialize_with = "one_line")]
        hook: String,
    },
    /// Imported a card list.
    ImportCards {
        /// New cards.
        added: u32,
        /// Cards that were changed.
        changed: u32,
        /// A digest of the list, by which it is known again.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        list: Option<ListDigest>,
    },
    /// Wrote a new card by hand.
    NewCard {
        /// Which card.
        card: CardId,
    },
    /// Changed what stands on a card.
    ChangeCard {
        /// Which card.
        card: CardId,
    },
    /// Brought in a range's range list.
    ImportRange {
        /// Which range.
        range: RangeId,
        /// Shades that are new or changed.
        shades: u32,
    },
    /// Brought in a conversion list between ranges.
    ImportMatches {
        /// Matches that are new.
        added: u32,
        /// Matches that were taken out, since the list replaced what there was.
        #[serde(default, skip_serializing_if = "is_zero")]
        removed: u32,
    },
    /// Brought in a pattern's key.
    ImportKey {
        /// Which ring.
        ring: RingId,
        /// Lines of the key.
        colours: u32,
    },
    /// Wrote in a pattern's key by hand.
    EditKey {
        /// Which ring.
        ring: RingId,
    },
    /// Said what fabric a project is stitched on, and how.
    Fabric {
        /// Which ring.
        ring: RingId,
    },
    /// Said how far a project has come.
    Progress {
        /// Which ring.
        ring: RingId,
    },
    /// Brought skeins home.
    Bought {
        /// How many skeins.
        skeins: u32,
        /// New cards.
        added: u32,
    },
    /// Put the families in another order.
    OrderFamilies,
    /// Made a family with no card in it.
    NewFamily {
        /// What it is called.
        #[serde(deserialize_with = "one_line")]
        name: String,
    },
    /// Gave a family another name.
    RenameFamily {
        /// What it was called.
        #[serde(deserialize_with = "one_line")]
        before: String,
        /// What it is called.
        #[serde(deserialize_with = "one_line")]
        after: String,
    },
    /// Gave up a family.
    RemoveFamily {
        /// What it was called.
        #[serde(deserialize_with = "one_line")]
        name: String,
    },
    /// Chose a family for cards.
    AssignFamily {
        /// What the family is called.
        #[serde(deserialize_with = "one_line")]
        name: String,
        /// How many cards.
        cards: u32,
    },
    /// Let the range or the colour of cards say their family again.
    UnassignFamily {
        /// How many cards.
        cards: u32,
    },
    /// Chose what the wall is ordered by.
    OrderWall,
    /// Held cards to their homes.
    Hold {
        /// How many cards.
        cards: u32,
    },
    /// Let held cards move again; 0 where only families were held.
    Release {
        /// How many cards.
        cards: u32,
    },
    /// Said how many plain cards touching some cards counts as.
    Effort {
        /// How many cards.
        cards: u32,
        /// What each counts as; 1 = like any other.
        effort: u16,
    },
    /// Held families to their homes.
    HoldFamilies {
        /// How many families.
        families: u32,
    },
    /// Let held families move again.
    ReleaseFamilies {
        /// How many families.
        families: u32,
    },
    /// Asked re-hangs to leave a hook empty.
    Reserve {
        /// Its mark.
        #[serde(deserialize_with = "one_line")]
        hook: String,
    },
    /// Let re-hangs use a hook again.
    Unreserve {
        /// Its mark.
        #[serde(deserialize_with = "one_line")]
        hook: String,
    },
    /// Opened a ring for a project, with no card on it.
    OpenRing {
        /// Which ring.
        ring: RingId,
    },
    /// Took cards to a project ring.
    Take {
        /// Which ring.
        ring: RingId,
        /// How many cards.
        cards: u32,
    },
    /// Hung cards back from a project ring.
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
    /// Wound the thread of split cards back onto the card they were split from.
    Rejoin {
        /// That card.
        card: CardId,
        /// How much there was left.
        strands: Strands,
    },
    /// Used thread.
    Use {
        /// Of which card.
        card: CardId,
        /// How much.
        strands: Strands,
        /// The lots it was of, as far as somebody noted them.
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
    /// Said what kind of thread a range is, and how it is sold.
    PutUp {
        /// Which range.
        range: RangeId,
    },
    /// Marked colours, or took the mark away.
    Mark {
        /// How many colours.
        colours: u32,
        /// What they are marked as.
        mark: Mark,
        /// Whether they are so since.
        set: bool,
    },
    /// Put colours on the want list, or took them off it.
    Want {
        /// How many colours.
        colours: u32,
        /// Skeins of each; 0 takes them off.
        skeins: u32,
    },
    /// Said how a project stands, in words of one's own.
    Status {
        /// Which ring.
        ring: RingId,
    },
    /// Put the projects in another order.
    OrderRings,
    /// Left a ring hanging on a hook.
    HangUp {
        /// Which ring.
        ring: RingId,
    },
    /// Took a hanging ring back into use.
    TakeDown {
        /// Which ring.
        ring: RingId,
    },
    /// Ended a project, every card accounted for.
    Close {
        /// Which ring.
        ring: RingId,
    },
    /// Declared cards missing.
    Missing {
        /// How many cards.
        cards: u32,
    },
    /// Found a card again.
    Found {
        /// Which card.
        card: CardId,
    },
    /// Said that cards are in another place than wall and rings.
    Elsewhere {
        /// How many cards.
        cards: u32,
        /// Where they are; may be empty for a loan.
        note: Label,
        /// To whom they are lent, if they are.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        loan: Option<Loan>,
    },
    /// Took cards out of the stash for good.
    Remove {
        /// How many cards.
        cards: u32,
        /// Why; may be empty.
        why: Label,
    },
    /// Checked hooks of the wall against the record.
    RollCall {
        /// Cards that hung where the record said.
        found: u32,
        /// Cards that hung elsewhere.
        misplaced: u32,
        /// Cards that did not hang where the record said, nor on another hook that was looked at.
        missing: u32,
    },
    /// Put a card back on its own hook.
    HangHome {
        /// Which card.
        card: CardId,
    },
    /// Made one step of a re-hang.
    Rehang {
        /// The card that was moved.
        card: CardId,
    },
    /// Made all steps that were left of a re-hang.
    RehangAll {
        /// Cards that were moved.
        cards: u32,
    },
    /// Began a re-hang.
    BeginRehang {
        /// Steps it is planned to take.
        steps: u32,
    },
    /// Gave up a re-hang.
    EndRehang {
        /// Cards that did not come to the homes aimed at.
        left: u32,
    },
    /// Merged another copy of the stash; see [`merge`](super::merge).
    Merge {
        /// The events of the other copy that were not here.
        facts: Vec<Fact>,
        /// What was settled between the two.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        settled: Vec<Settled>,
    },
    /// Went on with a record that had lost events, or was exchanged for another.
    AcceptLoss {
        /// How many events had been acknowledged, where that is known.
        recorded: Option<u64>,
        /// How many there were.
        found: u64,
    },
    /// Took back an earlier event.
    Undo {
        /// The sequence number of the event taken back.
        seq: u64,
    },
    /// Did again what an undo took back.
    Redo {
        /// The sequence number of the undo taken back.
        seq: u64,
    },
}

/// What a colour can be marked as.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Mark {
    /// Its colour changes along the thread.
    Variegated,
    /// The maker no longer makes it.
    Discontinued,
}

/// Text that can be shown on one line.
fn one_line<'de, D: Deserializer<'de>>(from: D) -> Result<String, D::Error> {
    Label::deserialize(from).map(String::from)
}

#[allow(clippy::trivially_copy_pass_by_ref)] // serde hands over a reference
fn is_zero(n: &u32) -> bool {
    *n == 0
}

impl Act {
    /// The events of another copy that came in with it.
    #[must_use]
    pub fn facts(&self) -> &[Fact] {
        match self {
            Self::Merge { facts, .. } => facts,
            _ => &[],
        }
    }

    /// The newest stamp of the events of another copy that came in with it; the least where none did.
    #[must_use]
    pub fn newest_stamp(&self) -> Stamp {
        let stamps = self.facts().iter().map(|fact| fact.stamp);
        stamps.max().unwrap_or_default()
    }

    /// Whether it may be the first of a stash, for which a folder is made.
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

/// One act and all it changed; one line of the record.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Event {
    /// What the user did.
    pub act: Act,
    /// What that changed, in order.
    pub changes: Vec<Change>,
}

/// The most bytes an event may have as JSON for the record to take it: a line of it has up to 64 MiB, in
/// which there is more than the event.
pub const LONGEST_EVENT: usize = (64 << 20) - (64 << 10);

impl Event {
    /// The cards it puts somewhere else.
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

    /// How many bytes it has as JSON; 0 where it has no readable form, which is the record's to refuse.
    /// O(size of the event).
    #[must_use]
    pub fn length(&self) -> usize {
        serde_json::to_string(self).map_or(0, |text| text.len())
    }
}

/// An event of another copy, the same wherever it is carried.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Fact {
    /// Which event.
    pub id: EventId,
    /// Its place in the order of the events of all copies.
    pub stamp: Stamp,
    /// When its writer's clock says it was made.
    pub time: Timestamp,
    /// Who made it, where that was written down.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<Who>,
    /// The last events its writer knew. Each stands for all that its own writer knew.
    pub after: Vec<EventId>,
    /// What was done.
    pub deed: Deed,
}

/// What was done by an event of another copy.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Deed {
    /// An act with its changes.
    Did(Event),
    /// That event was undone.
    Undid(EventId),
    /// That event was done again.
    Redid(EventId),
    /// Two copies were merged, and this was settled between them.
    Settled(Vec<Settled>),
}

/// What a field belongs to.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Thing {
    /// An event: whether it stands.
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

/// The value a merge gave to a field.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Settled {
    /// What the field belongs to.
    pub thing: Thing,
    /// Which field of it: the name it has in the record, with a part of a list after a slash.
    pub member: String,
    /// Its value.
    pub value: Value,
    /// The events whose way it is now, where that was asked.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub chosen: Vec<EventId>,
    /// The events whose way it is not.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub over: Vec<EventId>,
}
