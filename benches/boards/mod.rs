//! Boards for benchmarks, the same in every run.

#![allow(clippy::expect_used)]

use homehook::engine::instance::Instance;

/// Pseudorandom numbers from the SplitMix64 generator.
pub struct Numbers(pub u64);

impl Numbers {
    /// The next number below `end`.
    pub fn below(&mut self, end: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut bits = self.0;
        bits = (bits ^ (bits >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        bits = (bits ^ (bits >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((bits ^ (bits >> 31)) % end as u64) as usize
    }
}

/// `cards` cards on hooks of `cards_per_hook` places, with a sixth of the places free at random,
/// one card in twenty new and one in twenty misfiled.
pub fn board(cards: usize, cards_per_hook: usize) -> Instance {
    let mut numbers = Numbers(cards as u64);
    let hooks = (cards * 6 / 5).div_ceil(cards_per_hook);
    // Which places are used: each one has the chance of the cards still needed among the places
    // left.
    let mut used = Vec::with_capacity(cards);
    for place in 0..hooks * cards_per_hook {
        if numbers.below(hooks * cards_per_hook - place) < cards - used.len() {
            used.push(place);
        }
    }
    let mut hung: Vec<Option<usize>> = used
        .iter()
        .map(|place| Some(place / cards_per_hook))
        .collect();
    for _ in 0..cards / 40 {
        let (a, b) = (numbers.below(cards), numbers.below(cards));
        hung.swap(a, b);
    }
    for _ in 0..cards / 20 {
        let new = numbers.below(cards);
        hung[new] = None;
    }
    Instance::new(vec![cards_per_hook as u32; hooks], hung).expect("hooks that exist")
}

/// As many cards on as many hooks, but each on a random hook, as if the wall had fallen down.
pub fn anyhow(cards: usize, cards_per_hook: usize) -> Instance {
    let mut numbers = Numbers(cards as u64);
    let hooks = (cards * 6 / 5).div_ceil(cards_per_hook);
    let hung = (0..cards).map(|_| Some(numbers.below(hooks))).collect();
    Instance::new(vec![cards_per_hook as u32; hooks], hung).expect("hooks that exist")
}

/// The cards of [`board`] on hooks of 1,000 places: a line of places far longer than the row of
/// cards.
pub fn vast(cards: usize) -> Instance {
    let board = board(cards, 1);
    let capacity = vec![1000; board.capacity().len()];
    Instance::new(capacity, board.cards().to_vec()).expect("hooks that exist")
}
