//! The fabric of a project, and how it is stitched.

use crate::model::assumptions::{Assumptions, Way};
use crate::model::ring::Ring;
use crate::stash::event::{Act, Event, ring_changes};
use crate::stash::refusal::Refusal;

/// Changes to the assumptions; `None` leaves a value unchanged. For units and bounds see
/// [`Assumptions`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Said {
    /// Threads or squares in an inch.
    pub count: Option<u16>,
    /// Threads a stitch goes over.
    pub over: Option<u8>,
    /// Strands in the needle.
    pub strands: Option<u8>,
    /// Strands for backstitch.
    pub backstitch_strands: Option<u8>,
    /// How a row is worked.
    pub way: Option<Way>,
    /// The longest working thread, cm.
    pub working_cm: Option<u16>,
    /// Waste of a working thread, mm.
    pub waste_mm: Option<u16>,
    /// Margin, percent.
    pub margin_percent: Option<u16>,
    /// Thickness of the fabric, tenths of a mm.
    pub fabric_tenth_mm: Option<u16>,
    /// Thread in a French knot, mm.
    pub knot_mm: Option<u16>,
}

impl Said {
    /// The assumptions after these changes. If only the count changes, a stitch goes over the usual
    /// number of threads for it, unless a different number was chosen before.
    #[must_use]
    pub fn over(&self, old: Assumptions) -> Assumptions {
        let count = self.count.unwrap_or(old.count);
        let is_usual = old.over == Assumptions::usual_over(old.count);
        let over = if is_usual && self.count.is_some() {
            Assumptions::usual_over(count)
        } else {
            old.over
        };
        Assumptions {
            count,
            over: self.over.unwrap_or(over),
            strands: self.strands.unwrap_or(old.strands),
            backstitch_strands: self.backstitch_strands.unwrap_or(old.backstitch_strands),
            way: self.way.unwrap_or(old.way),
            working_cm: self.working_cm.unwrap_or(old.working_cm),
            waste_mm: self.waste_mm.unwrap_or(old.waste_mm),
            margin_percent: self.margin_percent.unwrap_or(old.margin_percent),
            fabric_tenth_mm: self.fabric_tenth_mm.unwrap_or(old.fabric_tenth_mm),
            knot_mm: self.knot_mm.unwrap_or(old.knot_mm),
        }
    }
}

/// Sets how a project is stitched; `None` if nothing changes.
///
/// # Errors
/// When the ring is closed, or a value is out of bounds.
pub fn set(ring: &Ring, said: &Said) -> Result<Option<Event>, Refusal> {
    if ring.is_closed() {
        return Err(Refusal::RingClosed(ring.project.to_string()));
    }
    let assumed = said.over(ring.fabric.unwrap_or_default());
    assumed.check()?;
    if ring.fabric == Some(assumed) {
        return Ok(None);
    }
    let mut after = ring.clone();
    after.fabric = Some(assumed);
    Ok(Some(Event {
        act: Act::Fabric { ring: ring.id },
        changes: ring_changes(Some(ring), &after),
    }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stash::command::ring;
    use crate::stash::testing::{Shown as _, add_cards, apply, at, id, wall};
    use crate::text;

    #[test]
    fn a_fine_fabric_is_stitched_over_two_unless_set_otherwise() {
        let said = |count: u16, over: Option<u8>| Said {
            count: Some(count),
            over,
            ..Said::default()
        };
        let old = Assumptions::default();
        let over = |said: Said, old: Assumptions| said.over(old).over;
        for (count, usual) in [(14, 1), (24, 1), (25, 2), (28, 2), (40, 2)] {
            assert_eq!(over(said(count, None), old), usual, "{count}");
        }
        assert_eq!(over(said(28, Some(1)), old), 1);
        // A chosen value stays, and a default follows the count.
        let one = said(28, Some(1)).over(old);
        assert_eq!(over(said(32, None), one), 1);
        let two = said(28, None).over(old);
        assert_eq!(over(said(16, None), two), 1);
        let strands = Said {
            strands: Some(3),
            ..Said::default()
        };
        assert_eq!(over(strands, two), 2);
    }

    #[test]
    fn given_values_are_stored_and_the_others_stay() {
        let mut state = wall(1, 2, 1);
        add_cards(&mut state, &["1@A01"]);
        let event = ring::take(&state, "Robin", &[id(&state, "1")], at(1)).unwrap();
        apply(&mut state, &event);
        let said = Said {
            count: Some(28),
            over: Some(2),
            ..Said::default()
        };
        let robin = |state: &crate::stash::state::State| state.need_ring("robin").unwrap().clone();
        let event = set(&robin(&state), &said).unwrap().unwrap();
        apply(&mut state, &event);
        assert_eq!(
            text::history::act(&state, &event.act),
            "Set the fabric of the ring 'Robin'"
        );
        assert_eq!(set(&robin(&state), &said), Ok(None));
        let more = Said {
            waste_mm: Some(75),
            ..Said::default()
        };
        let event = set(&robin(&state), &more).unwrap().unwrap();
        apply(&mut state, &event);
        let assumed = robin(&state).fabric.unwrap();
        assert_eq!((assumed.count, assumed.over, assumed.waste_mm), (28, 2, 75));
        let wrong = Said {
            count: Some(0),
            ..Said::default()
        };
        assert_eq!(
            set(&robin(&state), &wrong).unwrap_err().shown(),
            "The fabric count can't be 0. Give 4 to 60."
        );
        let event = ring::give_back_all(&state, &robin(&state), at(2)).unwrap();
        apply(&mut state, &event);
        let event = ring::close(&state, &robin(&state), at(3)).unwrap();
        apply(&mut state, &event);
        assert_eq!(
            set(&robin(&state), &said).unwrap_err().to_string(),
            "ring_closed"
        );
    }
}
