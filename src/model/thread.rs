//! The thread of a card, on it or uncut, by dye lot.

use std::collections::BTreeMap;
use std::fmt;

use serde::{Deserialize, Serialize};

use super::label::Label;

/// Single strands, each as long as the card's cut length. The thread's put-up says how many make a
/// length; see [`PutUp`](super::range::PutUp).
#[derive(
    Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Debug, Serialize, Deserialize,
)]
#[serde(transparent)]
pub struct Strands(pub u32);

/// A dye lot, as the maker prints it. Empty for thread of an unknown lot.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Lot(pub Label);

impl Lot {
    /// The unknown lot.
    #[must_use]
    pub fn unknown() -> Self {
        Self::default()
    }

    /// Whether the lot is unknown.
    #[must_use]
    pub fn is_unknown(&self) -> bool {
        self.0.is_empty()
    }

    /// The printed lot; empty if unknown.
    #[must_use]
    pub fn as_str(&self) -> &str {
        self.0.as_str()
    }
}

impl From<Label> for Lot {
    fn from(label: Label) -> Self {
        Self(label)
    }
}

impl fmt::Display for Lot {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl fmt::Debug for Lot {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Debug::fmt(&self.0, f)
    }
}

/// One of the amounts kept for a lot.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ThreadPart {
    /// Single strands on the card.
    Strands,
    /// The rest of part-used skeins, in centimetres of whole thread.
    PartCm,
    /// Uncut skeins.
    Skeins,
}

impl ThreadPart {
    /// Every part.
    pub const ALL: [Self; 3] = [Self::Strands, Self::PartCm, Self::Skeins];
}

/// The thread of one lot.
#[derive(Clone, PartialEq, Eq, Default, Debug, Serialize, Deserialize)]
pub struct LotThread {
    /// Cut strands on the card.
    #[serde(default, skip_serializing_if = "is_no_strand")]
    pub strands: Strands,
    /// The rest of part-used skeins, in centimetres of whole thread, all strands together.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub part_cm: u32,
    /// Uncut skeins.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub skeins: u32,
    /// Where the uncut skeins are stored; may be empty.
    #[serde(default, skip_serializing_if = "Label::is_empty")]
    pub kept_at: Label,
}

#[allow(clippy::trivially_copy_pass_by_ref)] // serde passes a reference
fn is_no_strand(strands: &Strands) -> bool {
    strands.0 == 0
}

#[allow(clippy::trivially_copy_pass_by_ref)] // serde passes a reference
fn is_zero(n: &u32) -> bool {
    *n == 0
}

impl LotThread {
    /// One of its amounts.
    #[must_use]
    pub const fn amount(&self, part: ThreadPart) -> u32 {
        match part {
            ThreadPart::Strands => self.strands.0,
            ThreadPart::PartCm => self.part_cm,
            ThreadPart::Skeins => self.skeins,
        }
    }

    /// One of its amounts, mutable.
    pub const fn amount_mut(&mut self, part: ThreadPart) -> &mut u32 {
        match part {
            ThreadPart::Strands => &mut self.strands.0,
            ThreadPart::PartCm => &mut self.part_cm,
            ThreadPart::Skeins => &mut self.skeins,
        }
    }

    /// Whether none of it is left, cut or uncut.
    #[must_use]
    pub const fn is_used_up(&self) -> bool {
        self.strands.0 == 0 && self.part_cm == 0 && self.skeins == 0
    }
}

/// All thread of a card, by lot. A used-up lot stays listed, because people like to buy the same
/// lot again.
#[derive(Clone, PartialEq, Eq, Default, Debug, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Thread(BTreeMap<Lot, LotThread>);

/// The requested thread isn't there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum DrawError {
    /// The lot is not listed on the card.
    NoSuchLot,
    /// Too little thread in the requested lot or in all lots together.
    TooLittle {
        /// The available strands.
        there: Strands,
    },
}

impl Thread {
    /// The lots in order of their names, the unknown one first.
    pub fn lots(&self) -> impl ExactSizeIterator<Item = (&Lot, &LotThread)> {
        self.0.iter()
    }

    /// The thread of a lot; `None` if the lot isn't listed.
    #[must_use]
    pub fn lot(&self, lot: &Lot) -> Option<&LotThread> {
        self.0.get(lot)
    }

    /// The thread of a lot, mutable.
    pub fn lot_mut(&mut self, lot: &Lot) -> Option<&mut LotThread> {
        self.0.get_mut(lot)
    }

    /// The listed lot with a name, ignoring case; an exact match wins.
    #[must_use]
    pub fn listed(&self, name: &Label) -> Option<&Lot> {
        let exact = self.0.keys().find(|lot| lot.0 == *name);
        exact.or_else(|| self.0.keys().find(|lot| lot.0.same_as(name.as_str())))
    }

    /// Whether no lot is listed.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Lists a lot with no thread. `None` if it is already listed.
    pub fn list(&mut self, lot: Lot, kept_at: Label) -> Option<&mut LotThread> {
        match self.0.entry(lot) {
            std::collections::btree_map::Entry::Occupied(_) => None,
            std::collections::btree_map::Entry::Vacant(free) => Some(free.insert(LotThread {
                kept_at,
                ..LotThread::default()
            })),
        }
    }

    /// Removes a lot from the list. `false` if it isn't listed, or some of it is left.
    pub fn strike(&mut self, lot: &Lot) -> bool {
        let used_up = self.0.get(lot).is_some_and(LotThread::is_used_up);
        used_up && self.0.remove(lot).is_some()
    }

    /// Strands on the card, of all lots, saturating at `u32::MAX`.
    #[must_use]
    pub fn strands(&self) -> Strands {
        Strands(self.sum(ThreadPart::Strands))
    }

    /// The rest of part-used skeins, in centimetres of whole thread, saturating at `u32::MAX`.
    #[must_use]
    pub fn part_cm(&self) -> u32 {
        self.sum(ThreadPart::PartCm)
    }

    /// Uncut skeins of all lots, saturating at `u32::MAX`.
    #[must_use]
    pub fn skeins(&self) -> u32 {
        self.sum(ThreadPart::Skeins)
    }

    /// One of the amounts, summed over all lots, saturating at `u32::MAX`.
    #[must_use]
    pub fn sum(&self, part: ThreadPart) -> u32 {
        let amounts = self.0.values().map(|of| of.amount(part));
        amounts.fold(0, u32::saturating_add)
    }

    /// The known lots.
    pub fn noted_lots(&self) -> impl Iterator<Item = &Lot> {
        self.0.keys().filter(|lot| !lot.is_unknown())
    }

    /// The names of the known lots, joined: `K7, V1`; empty if there are none.
    #[must_use]
    pub fn lot_names(&self) -> String {
        let noted = self.noted_lots();
        noted.map(Lot::as_str).collect::<Vec<_>>().join(", ")
    }

    /// Decides how much to take from which lots, without taking it.
    ///
    /// A requested lot gives it all. Otherwise the smallest lot that suffices does, so that larger
    /// ones stay whole. If none suffices, the lots are used up one by one, smallest first, and the
    /// last gives the rest. That leaves the fewest remnants. Among lots of the same size, the first
    /// by name is taken. O(lots · log lots).
    ///
    /// # Errors
    /// When the requested lot isn't listed, or there is too little thread.
    pub fn draw(
        &self,
        amount: Strands,
        lot: Option<&Lot>,
    ) -> Result<Vec<(Lot, Strands)>, DrawError> {
        if let Some(lot) = lot {
            let there = self.0.get(lot).ok_or(DrawError::NoSuchLot)?.strands;
            if there < amount {
                return Err(DrawError::TooLittle { there });
            }
            return Ok(vec![(lot.clone(), amount)]);
        }
        if amount == Strands(0) {
            return Ok(Vec::new());
        }
        let there = self.strands();
        if there < amount {
            return Err(DrawError::TooLittle { there });
        }
        let mut lots: Vec<(Strands, &Lot)> = self
            .0
            .iter()
            .filter(|(_, of)| of.strands > Strands(0))
            .map(|(lot, of)| (of.strands, lot))
            .collect();
        lots.sort_unstable();
        if let Some((_, lot)) = lots.iter().find(|(there, _)| *there >= amount) {
            return Ok(vec![((*lot).clone(), amount)]);
        }
        let mut rest = amount.0;
        let mut drawn = Vec::new();
        for (there, lot) in lots {
            let takes = rest.min(there.0);
            if takes > 0 {
                drawn.push((lot.clone(), Strands(takes)));
            }
            rest -= takes;
        }
        Ok(drawn)
    }
}

impl FromIterator<(Lot, LotThread)> for Thread {
    fn from_iter<T: IntoIterator<Item = (Lot, LotThread)>>(lots: T) -> Self {
        Self(lots.into_iter().collect())
    }
}

#[cfg(test)]
mod tests;
