//! Thread on a card and beside it, by dye lot.

use std::collections::BTreeMap;
use std::fmt;

use serde::{Deserialize, Serialize};

use super::label::Label;

/// Single strands, each as long as the card's cut length. The put-up of the thread says how many make
/// a length; see [`PutUp`](super::range::PutUp).
#[derive(
    Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Debug, Serialize, Deserialize,
)]
#[serde(transparent)]
pub struct Strands(pub u32);

/// A dye lot, as the maker prints it. The empty lot is thread whose lot nobody noted.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Lot(pub Label);

impl Lot {
    /// Thread whose lot nobody noted.
    #[must_use]
    pub fn unknown() -> Self {
        Self::default()
    }

    /// Whether nobody noted it.
    #[must_use]
    pub fn is_unknown(&self) -> bool {
        self.0.is_empty()
    }

    /// What is printed; empty where nobody noted it.
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

/// One of the amounts of a lot.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ThreadPart {
    /// Single strands on the card.
    Strands,
    /// What is left of a part-used skein, in centimetres of whole thread.
    PartCm,
    /// Uncut skeins.
    Skeins,
}

impl ThreadPart {
    /// Every part.
    pub const ALL: [Self; 3] = [Self::Strands, Self::PartCm, Self::Skeins];
}

/// What there is of one lot.
#[derive(Clone, PartialEq, Eq, Default, Debug, Serialize, Deserialize)]
pub struct LotThread {
    /// On the card, cut.
    #[serde(default, skip_serializing_if = "is_no_strand")]
    pub strands: Strands,
    /// What is left of a part-used skein, in centimetres of whole thread, all strands together.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub part_cm: u32,
    /// Uncut skeins.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub skeins: u32,
    /// Where the uncut skeins lie; may be empty.
    #[serde(default, skip_serializing_if = "Label::is_empty")]
    pub kept_at: Label,
}

#[allow(clippy::trivially_copy_pass_by_ref)] // serde hands over a reference
fn is_no_strand(strands: &Strands) -> bool {
    strands.0 == 0
}

#[allow(clippy::trivially_copy_pass_by_ref)] // serde hands over a reference
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

    /// One of its amounts, to write on.
    pub const fn amount_mut(&mut self, part: ThreadPart) -> &mut u32 {
        match part {
            ThreadPart::Strands => &mut self.strands.0,
            ThreadPart::PartCm => &mut self.part_cm,
            ThreadPart::Skeins => &mut self.skeins,
        }
    }

    /// Whether there is nothing left of it, cut or uncut.
    #[must_use]
    pub const fn is_used_up(&self) -> bool {
        self.strands.0 == 0 && self.part_cm == 0 && self.skeins == 0
    }
}

/// All thread of a card, lot by lot. A lot stays listed when it is used up: one wants to buy the same
/// lot again.
#[derive(Clone, PartialEq, Eq, Default, Debug, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Thread(BTreeMap<Lot, LotThread>);

/// The thread asked for is not there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum DrawError {
    /// The lot is not listed on the card.
    NoSuchLot,
    /// There is less, in the lot named or in all lots together.
    TooLittle {
        /// What there is.
        there: Strands,
    },
}

impl Thread {
    /// The lots in order of their names, the one nobody noted first.
    pub fn lots(&self) -> impl ExactSizeIterator<Item = (&Lot, &LotThread)> {
        self.0.iter()
    }

    /// What there is of a lot; `None` where it is not listed.
    #[must_use]
    pub fn lot(&self, lot: &Lot) -> Option<&LotThread> {
        self.0.get(lot)
    }

    /// The same, to write on.
    pub fn lot_mut(&mut self, lot: &Lot) -> Option<&mut LotThread> {
        self.0.get_mut(lot)
    }

    /// The lot that is listed under a name, whatever its capitals; exactly that name first.
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

    /// Lists a lot with nothing of it. `None` where it is listed already.
    pub fn list(&mut self, lot: Lot, kept_at: Label) -> Option<&mut LotThread> {
        match self.0.entry(lot) {
            std::collections::btree_map::Entry::Occupied(_) => None,
            std::collections::btree_map::Entry::Vacant(free) => Some(free.insert(LotThread {
                kept_at,
                ..LotThread::default()
            })),
        }
    }

    /// Strikes a lot off the list. `false` where it is not listed, or there is some left of it.
    pub fn strike(&mut self, lot: &Lot) -> bool {
        let used_up = self.0.get(lot).is_some_and(LotThread::is_used_up);
        used_up && self.0.remove(lot).is_some()
    }

    /// Strands on the card, of all lots; `u32::MAX` where there are more.
    #[must_use]
    pub fn strands(&self) -> Strands {
        Strands(self.sum(ThreadPart::Strands))
    }

    /// What is left of part-used skeins, in centimetres of whole thread; `u32::MAX` where that is more.
    #[must_use]
    pub fn part_cm(&self) -> u32 {
        self.sum(ThreadPart::PartCm)
    }

    /// Uncut skeins of all lots; `u32::MAX` where there are more.
    #[must_use]
    pub fn skeins(&self) -> u32 {
        self.sum(ThreadPart::Skeins)
    }

    /// One of the amounts, over all lots; `u32::MAX` where it is more.
    #[must_use]
    pub fn sum(&self, part: ThreadPart) -> u32 {
        let amounts = self.0.values().map(|of| of.amount(part));
        amounts.fold(0, u32::saturating_add)
    }

    /// The lots that somebody noted.
    pub fn noted_lots(&self) -> impl Iterator<Item = &Lot> {
        self.0.keys().filter(|lot| !lot.is_unknown())
    }

    /// The names of the lots that somebody noted, joined: `K7, V1`; empty where there is none.
    #[must_use]
    pub fn lot_names(&self) -> String {
        let noted = self.noted_lots();
        noted.map(Lot::as_str).collect::<Vec<_>>().join(", ")
    }

    /// Which lots an amount is taken from, and how much of each; nothing is taken yet.
    ///
    /// From the lot that is named, all of it. Where none is named, from one lot that suffices: the
    /// smallest such, so that the larger ones stay whole. Where none does, the lots are used up one
    /// after the other, smallest first, and the last gives the rest, so that as few remnants stay as
    /// may be. Of lots of the same size the first by name is taken. O(lots · log lots).
    ///
    /// # Errors
    /// When the lot named is not listed, or there is less.
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
