//! The families of a board as regions of a map: a short code and a colour for each.

use std::collections::BTreeMap;

use unicode_segmentation::UnicodeSegmentation;

use crate::model::board::Board;
use crate::model::colour::Srgb;
use crate::model::ids::FamilyId;
use crate::stash::state::{CardState, State};

/// A family that lives on the board.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Region {
    /// Its name.
    pub name: String,
    /// Some letters of its name, unlike those of any other family of the board.
    pub code: String,
    /// The mean of its cards' colours, where any is known: a hint, not a shade.
    pub colour: Option<Srgb>,
    /// Cards that live on the board.
    pub cards: usize,
}

/// The families of a board, in the order of the wall.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Regions {
    all: Vec<Region>,
    of: BTreeMap<FamilyId, usize>,
}

/// The mean of colours, channel by channel.
fn mean(colours: &[Srgb]) -> Option<Srgb> {
    let count = u64::try_from(colours.len()).ok().filter(|&n| n > 0)?;
    let channel = |of: fn(&Srgb) -> u8| {
        let sum: u64 = colours.iter().map(|colour| u64::from(of(colour))).sum();
        u8::try_from(sum / count).unwrap_or(u8::MAX)
    };
    Some(Srgb::new(
        channel(|c| c.r),
        channel(|c| c.g),
        channel(|c| c.b),
    ))
}

impl Regions {
    /// The families that live on a board. O(hooks + cards).
    #[must_use]
    pub fn of(state: &State, board: &Board) -> Self {
        let mut cards: BTreeMap<FamilyId, Vec<&CardState>> = BTreeMap::new();
        for kept in board.hooks().flat_map(|hook| state.homes_on(hook)) {
            if let Some(family) = state.family_of(kept) {
                cards.entry(family).or_default().push(kept);
            }
        }
        let mut regions = Self::default();
        for family in state.families() {
            let Some(cards) = cards.get(&family.id) else {
                continue;
            };
            let colours: Vec<Srgb> = cards.iter().filter_map(|kept| kept.card.colour).collect();
            regions.of.insert(family.id, regions.all.len());
            let code = regions.new_code(family.name.as_str());
            regions.all.push(Region {
                name: family.name.to_string(),
                code,
                colour: mean(&colours),
                cards: cards.len(),
            });
        }
        regions
    }

    /// Three letters, with a number where they are taken.
    fn new_code(&self, name: &str) -> String {
        let code: String = name.graphemes(true).take(3).collect();
        let taken = |code: &str| self.all.iter().any(|region| region.code == code);
        let numbered = (2..).map(|number: u32| format!("{code}{number}"));
        let mut codes = std::iter::once(code.clone()).chain(numbered);
        codes.find(|code| !taken(code)).unwrap_or(code)
    }

    /// Every family of the board.
    #[must_use]
    pub fn all(&self) -> &[Region] {
        &self.all
    }

    /// The family of a card.
    #[must_use]
    pub fn of_card(&self, state: &State, kept: &CardState) -> Option<&Region> {
        let family = state.family_of(kept)?;
        self.all.get(*self.of.get(&family)?)
    }
}
