//! The words by which scripts know refusals.

use std::fmt;

use super::Refusal;

/// The word for scripts; the sentence is made in `text`.
impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.code())
    }
}

impl std::error::Error for Refusal {}

impl Refusal {
    /// A stable word for scripts.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::NoBoard => "no_board",
            Self::UnknownBoard { .. } => "unknown_board",
            Self::BoardExists(_) => "board_exists",
            Self::SharedHookName { .. } => "shared_hook_name",
            Self::Board(_) => "not_a_board",
            Self::UnknownHook { .. } => "unknown_hook",
            Self::Blocked { .. } => "blocked",
            Self::HookFull { .. } => "hook_full",
            Self::LivesThere { .. } => "lives_there",
            Self::NotBlocked { .. } => "not_blocked",
            Self::StillHanging { .. } => "still_hanging",
            Self::RingHangsThere { .. } => "ring_hangs_there",
            Self::Number(_) => "not_a_number",
            Self::Label(_) => "not_a_label",
            Self::Tag(_) => "not_a_tag",
            Self::UnknownCard { .. } => "unknown_card",
            Self::Ambiguous { .. } => "ambiguous",
            Self::NoCards => "no_cards",
            Self::UnknownRing { .. } => "unknown_ring",
            Self::NoProject => "no_project",
            Self::RingClosed(_) => "ring_closed",
            Self::NotHanging(_) => "not_hanging",
            Self::NotHere { .. } => "not_here",
            Self::NotOnRing { .. } => "not_on_ring",
            Self::EmptyRing(_) => "empty_ring",
            Self::Unaccounted { .. } | Self::SplitCardLeft { .. } => "unaccounted",
            Self::SplitCardStays { .. } => "split_card_stays",
            Self::SplitCardHasNoHook { .. } => "split_card_has_no_hook",
            Self::SplitCard(_) => "split_card",
            Self::NoSplitCard { .. } => "no_split_card",
            Self::NoThread => "no_thread",
            Self::TooLittle { .. } => "too_little",
            Self::NoSuchLot { .. } => "no_such_lot",
            Self::TooMuch(_) => "too_much",
            Self::NotMissing { .. } => "not_missing",
            Self::CardThere { .. } => "card_there",
            Self::NoPlaceNamed => "no_place_named",
            Self::SplitCardWouldStay { .. } => "split_card_would_stay",
            Self::NoCardsYet => "no_cards_yet",
            Self::Short { .. } => "short",
            Self::HoldsClash { .. } => "holds_clash",
            Self::HoldOutOfReach { .. } => "hold_out_of_reach",
            Self::UnknownRow { .. } => "unknown_row",
            Self::RehangUnderway { .. } => "rehang_underway",
            Self::NoRehangUnderway => "no_rehang_underway",
            Self::AimLost { .. } => "aim_lost",
            Self::NothingToDo => "nothing_to_do",
            Self::UnknownPlan { .. } => "unknown_plan",
            Self::NoKey(_) => "no_key",
            Self::KeysHanging(_) => "keys_hanging",
            Self::NoKeys => "no_keys",
            Self::NotInKey { .. } => "not_in_key",
            Self::NotCounted(_) => "not_counted",
            Self::Assumed(_) => "not_assumed",
            Self::NothingToBuy => "nothing_to_buy",
            Self::NotSkeins(_) => "not_skeins",
            Self::NothingToUndo => "nothing_to_undo",
            Self::NothingToRedo => "nothing_to_redo",
            // Older scripts know this word.
            Self::UnknownFamily { .. } | Self::FamilyTwice(_) => "families",
            Self::FamilyThere(_) => "family_there",
            Self::FamilyName => "family_name",
            Self::FamilyInUse { .. } => "family_in_use",
            Self::FamilySame { .. } => "family_same",
            Self::FamilyNotChosen(_) => "family_not_chosen",
            Self::FamilyOrderSame => "family_order_same",
            Self::RangeName => "range_name",
            Self::Stopped => "stopped",
            Self::Engine(_) => "engine",
            Self::NoHomeYet(_) => "no_home",
            Self::HeldAlready(_) => "held_already",
            Self::NotHeld(_) | Self::NothingHeld => "not_held",
            Self::HeldByFamily { .. } => "held_by_family",
            Self::SeenTwice { .. } => "seen_twice",
            Self::SplitCardOnWall(_) => "split_card",
            Self::Effort(_) => "not_an_effort",
            Self::EffortAlready { .. } => "effort_already",
            Self::Reserved { reserved: true, .. } => "reserved_already",
            Self::Reserved { .. } => "not_reserved",
            Self::NoRows => "no_rows",
            Self::RowsRejected { .. } => "rows_rejected",
            Self::ListTooLong { .. } => "list_too_long",
            Self::RingOpen(_) => "ring_open",
            Self::NothingToFetch(_) => "nothing_to_fetch",
            Self::NotALine(_) => "not_a_line",
            Self::ApplyError(_) => "misfit",
        }
    }
}
