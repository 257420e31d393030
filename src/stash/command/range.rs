//! Settings of ranges and their colours: kind and put-up of the thread, variegated and discontinued
//! colours, and the want list.

use std::collections::BTreeSet;

use super::count;
use super::import::ranges::range_name;
use crate::model::number::Number;
use crate::model::range::{PerleSize, PutUp, PutUpError, Range, Shade, ThreadKind};
use crate::model::ring::ColourRef;
use crate::stash::colours::shade;
use crate::stash::event::{Act, Change, Event, Mark};
use crate::stash::refusal::Refusal;
use crate::stash::state::State;

/// A kind of thread, without its size.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Stranded cotton.
    Stranded,
    /// Silk.
    Silk,
    /// Perle cotton.
    Perle,
    /// Metallic thread.
    Metallic,
    /// Wool.
    Wool,
}

impl Kind {
    /// The kind of a thread, and the size of a perle cotton.
    #[must_use]
    pub const fn of(kind: ThreadKind) -> (Self, Option<u8>) {
        match kind {
            ThreadKind::Stranded => (Self::Stranded, None),
            ThreadKind::Silk => (Self::Silk, None),
            ThreadKind::Perle { size } => (Self::Perle, Some(size.get())),
            ThreadKind::Metallic => (Self::Metallic, None),
            ThreadKind::Wool => (Self::Wool, None),
        }
    }
}

/// Changes to a put-up. `None` leaves a value unchanged or, with another kind, means the usual
/// value of that kind.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct PutUpSaid {
    /// The kind of thread.
    pub kind: Option<Kind>,
    /// The size of a perle cotton.
    pub size: Option<u8>,
    /// The length of a skein, in centimetres.
    pub skein_cm: Option<u32>,
    /// The number of strands in a length.
    pub strands: Option<u8>,
    /// Whether it is divided into strands for stitching.
    pub divided: Option<bool>,
}

impl PutUpSaid {
    /// The put-up after these changes.
    ///
    /// # Errors
    /// When no thread has such a put-up.
    pub fn over(&self, old: PutUp) -> Result<PutUp, PutUpError> {
        let (was, old_size) = Kind::of(old.kind());
        let kind = match self.kind.unwrap_or(was) {
            Kind::Perle => {
                let size = self.size.or(old_size).ok_or(PutUpError::NoSize)?;
                let size = PerleSize::new(size)?;
                ThreadKind::Perle { size }
            }
            _ if self.size.is_some() => return Err(PutUpError::SizeOfNoPerle),
            Kind::Stranded => ThreadKind::Stranded,
            Kind::Silk => ThreadKind::Silk,
            Kind::Metallic => ThreadKind::Metallic,
            Kind::Wool => ThreadKind::Wool,
        };
        let old = if kind == old.kind() {
            old
        } else {
            PutUp::usual(kind)
        };
        PutUp::new(
            kind,
            self.skein_cm.unwrap_or_else(|| old.skein_cm()),
            self.strands.unwrap_or_else(|| old.strands()),
            self.divided.unwrap_or_else(|| old.is_divisible()),
        )
    }
}

/// Sets the kind and put-up of a range's thread, adding the range if it doesn't exist. The number
/// of strands on its cards stays. `None` if nothing changes.
///
/// # Errors
/// When the range has no name, or no thread has such a put-up.
pub fn put_up(state: &State, range: &str, said: &PutUpSaid) -> Result<Option<Event>, Refusal> {
    let name = range_name(range)?;
    let before = state.find_range(name.as_str());
    let new = || Range {
        id: state.new_range_ids().draw(),
        name,
        shades: std::collections::BTreeMap::new(),
        put_up: PutUp::default(),
    };
    let mut after = before.cloned().unwrap_or_else(new);
    after.put_up = said.over(after.put_up)?;
    Ok((before != Some(&after)).then(|| Event {
        act: Act::PutUp { range: after.id },
        changes: vec![Change::Range {
            before: before.cloned(),
            after: Some(after),
        }],
    }))
}

/// The colours named `NUMBER` or `RANGE:NUMBER`, owned or not, each once.
fn colours_named(state: &State, names: &[String]) -> Result<Vec<ColourRef>, Refusal> {
    let mut seen = BTreeSet::new();
    let mut colours = Vec::with_capacity(names.len());
    for name in names {
        let (range, number) = state.find_colour(name)?;
        let colour = ColourRef::new(range, number);
        if seen.insert(colour.clone()) {
            colours.push(colour);
        }
    }
    if colours.is_empty() {
        return Err(Refusal::NoCards);
    }
    Ok(colours)
}

/// The change to a range's data on a number; `None` if nothing changes. A number without any data
/// leaves the list.
fn shade_change(
    state: &State,
    colour: &ColourRef,
    edit: impl FnOnce(&mut Shade),
) -> Option<Change> {
    let range = state.range(colour.range)?;
    let known = shade(range, &colour.number);
    let number: &Number = known.map_or(&colour.number, |(number, _)| number);
    let before = known.map(|(_, shade)| shade.clone());
    let mut after = before.clone().unwrap_or_default();
    edit(&mut after);
    let after = Some(after).filter(|after| *after != Shade::default());
    (before != after).then(|| Change::Shade {
        range: colour.range,
        number: number.clone(),
        before,
        after,
    })
}

/// The change that takes bought skeins of a colour off the want list.
pub(super) fn no_longer_wanted(state: &State, colour: &ColourRef, skeins: u32) -> Option<Change> {
    shade_change(state, colour, |shade| {
        shade.wanted = shade.wanted.saturating_sub(skeins);
    })
}

/// Marks colours as variegated or discontinued, owned or not, or removes the mark.
///
/// # Errors
/// When no colour is named, one is unknown, or nothing changes.
pub fn mark(state: &State, names: &[String], mark: Mark, set: bool) -> Result<Event, Refusal> {
    mark_colours(state, &colours_named(state, names)?, mark, set)
}

/// Like [`mark`], for known colours.
///
/// # Errors
/// When nothing changes.
pub fn mark_colours(
    state: &State,
    colours: &[ColourRef],
    mark: Mark,
    set: bool,
) -> Result<Event, Refusal> {
    let mut changes: Vec<Change> = Vec::new();
    for colour in colours {
        changes.extend(shade_change(state, colour, |shade| match mark {
            Mark::Variegated => shade.variegated = set,
            Mark::Discontinued => shade.discontinued = set,
        }));
    }
    if changes.is_empty() {
        return Err(Refusal::MarkedAlready);
    }
    let act = Act::Mark {
        colours: count(&changes),
        mark,
        set,
    };
    Ok(Event { act, changes })
}

/// Puts colours on the want list with a number of skeins of each; 0 takes them off.
///
/// # Errors
/// When no colour is named, one is unknown, or as for [`want_colours`].
pub fn want(state: &State, names: &[String], skeins: u32) -> Result<Event, Refusal> {
    want_colours(state, &colours_named(state, names)?, skeins)
}

/// Like [`want`], for known colours.
///
/// # Errors
/// When nothing changes, or a colour to take off isn't on the list.
pub fn want_colours(state: &State, colours: &[ColourRef], skeins: u32) -> Result<Event, Refusal> {
    let off = |colour: &&ColourRef| skeins == 0 && state.wanted(colour) == 0;
    let missing: Vec<&ColourRef> = colours.iter().filter(off).collect();
    if !missing.is_empty() {
        let names = missing.iter().map(|colour| colour.number.to_string());
        return Err(Refusal::NotWanted(names.collect()));
    }
    let changes: Vec<Change> = colours
        .iter()
        .filter_map(|colour| shade_change(state, colour, |shade| shade.wanted = skeins))
        .collect();
    if changes.is_empty() {
        return Err(Refusal::MarkedAlready);
    }
    let act = Act::Want {
        colours: count(&changes),
        skeins,
    };
    Ok(Event { act, changes })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stash::command::buy;
    use crate::stash::invariants;
    use crate::stash::testing::projects::stash;
    use crate::stash::testing::{add_cards, apply, at, wall};

    fn names(names: &[&str]) -> Vec<String> {
        names.iter().map(|&name| name.to_owned()).collect()
    }

    #[test]
    fn another_kind_brings_its_usual_put_up_unless_values_are_given() {
        let perle = PutUpSaid {
            kind: Some(Kind::Perle),
            size: Some(5),
            ..PutUpSaid::default()
        };
        let five = perle.over(PutUp::default()).unwrap();
        assert_eq!((five.skein_cm(), five.in_length()), (2_500, 1));
        let dyed = PutUpSaid {
            skein_cm: Some(450),
            ..PutUpSaid::default()
        };
        assert_eq!(dyed.over(PutUp::default()).unwrap().skein_cm(), 450);
        assert_eq!(dyed.over(five).unwrap().kind(), five.kind());
        let no_size = PutUpSaid {
            size: None,
            ..perle
        };
        assert_eq!(no_size.over(PutUp::default()), Err(PutUpError::NoSize));
        let size = PutUpSaid {
            kind: None,
            ..perle
        };
        assert_eq!(size.over(PutUp::default()), Err(PutUpError::SizeOfNoPerle));
        assert_eq!(size.over(five), Ok(five));
    }

    #[test]
    fn setting_the_same_put_up_again_changes_nothing() {
        let mut state = wall(1, 2, 1);
        add_cards(&mut state, &["Heath:1"]);
        let said = PutUpSaid {
            kind: Some(Kind::Silk),
            ..PutUpSaid::default()
        };
        for name in ["heath", "Moor"] {
            let event = put_up(&state, name, &said).unwrap().unwrap();
            apply(&mut state, &event);
            let range = state.find_range(name).unwrap();
            assert_eq!(range.put_up.kind(), ThreadKind::Silk);
            assert_eq!(put_up(&state, name, &said), Ok(None));
        }
        assert_eq!(state.ranges().count(), 2);
        assert_eq!(invariants::check_all(&state), []);
    }

    #[test]
    fn a_mark_is_set_and_removed_without_a_trace() {
        let mut state = stash(&[("1", 48, 0), ("2", 48, 0)]);
        let before = state.clone();
        for one in [Mark::Variegated, Mark::Discontinued] {
            let event = mark(&state, &names(&["1", "77", "1"]), one, true).unwrap();
            assert_eq!(event.changes.len(), 2);
            apply(&mut state, &event);
            let again = mark(&state, &names(&["1"]), one, true);
            assert_eq!(again, Err(Refusal::MarkedAlready));
            let event = mark(&state, &names(&["1", "77"]), one, false).unwrap();
            apply(&mut state, &event);
            assert_eq!(state, before);
        }
    }

    #[test]
    fn bought_skeins_leave_the_want_list() {
        let mut state = stash(&[("1", 48, 0)]);
        let event = want(&state, &names(&["77", "1"]), 2).unwrap();
        apply(&mut state, &event);
        let wanted = |state: &State| -> Vec<(String, u32)> {
            let list = state.want_list();
            list.map(|(colour, skeins)| (colour.number.to_string(), skeins))
                .collect()
        };
        assert_eq!(wanted(&state), [("1".to_owned(), 2), ("77".to_owned(), 2)]);
        let bought = ["77=1", "1=3"].map(|text| buy::said(&state, text).unwrap());
        let event = buy::bought(&state, &bought, at(5)).unwrap();
        apply(&mut state, &event);
        assert_eq!(wanted(&state), [("77".to_owned(), 1)]);
        assert_eq!(
            want(&state, &names(&["1"]), 0),
            Err(Refusal::NotWanted(names(&["1"])))
        );
        let event = want(&state, &names(&["77"]), 0).unwrap();
        apply(&mut state, &event);
        assert_eq!(wanted(&state), []);
        assert_eq!(invariants::check_all(&state), []);
    }
}
