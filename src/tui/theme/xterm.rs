//! The fixed colours of a 256-colour terminal, 16 to 255. The user can redefine the first sixteen.

use std::cell::RefCell;
use std::collections::HashMap;
use std::sync::LazyLock;

use crate::engine::colour::{Lab, difference_in_lab, lab};
use crate::model::colour::Srgb;

/// The levels of the 6 x 6 x 6 colour cube (from memory).
const CUBE: [u8; 6] = [0, 95, 135, 175, 215, 255];

/// The colour of an index: the cube, then 24 greys (from memory). Below 16 it is black.
pub(super) fn colour(index: u8) -> Srgb {
    let n = index.saturating_sub(16);
    if n < 216 {
        let level = |n: u8| CUBE[usize::from(n % 6)];
        Srgb::new(level(n / 36), level(n / 6), level(n))
    } else {
        let grey = 8 + (n - 216) * 10;
        Srgb::new(grey, grey, grey)
    }
}

static LABS: LazyLock<Vec<(u8, Lab)>> = LazyLock::new(|| {
    let of = |index| (index, lab(colour(index)));
    (16..=255).map(of).collect()
});

/// The nearest of the 240 by CIEDE2000; the first of several equally near ones.
fn search(wanted: Srgb) -> u8 {
    let wanted = lab(wanted);
    LABS.iter()
        .map(|&(index, lab)| (index, difference_in_lab(wanted, lab)))
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .map_or(16, |(index, _)| index)
}

thread_local! {
    /// A cache, because a board has the same few hundred colours in every frame.
    static NEAREST: RefCell<HashMap<Srgb, u8>> = RefCell::default();
}

/// The nearest of the 240 by CIEDE2000: 240 colour differences on first use, then a lookup.
pub(super) fn nearest(wanted: Srgb) -> u8 {
    NEAREST.with_borrow_mut(|known| *known.entry(wanted).or_insert_with(|| search(wanted)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::colour::difference;
    use proptest::prelude::*;

    /// The 240 colours, written out independently.
    fn all() -> Vec<(u8, Srgb)> {
        let level = |n: u8| if n == 0 { 0 } else { 55 + 40 * n };
        let mut found = Vec::new();
        for (r, g, b) in (0..216).map(|n| (n / 36, n / 6 % 6, n % 6)) {
            found.push(Srgb::new(level(r), level(g), level(b)));
        }
        found.extend((0..24).map(|n| Srgb::new(8 + 10 * n, 8 + 10 * n, 8 + 10 * n)));
        (16..=255).zip(found).collect()
    }

    #[test]
    fn each_index_is_the_nearest_to_its_own_colour() {
        assert_eq!(all().len(), 240);
        for (index, there) in all() {
            assert_eq!(colour(index), there, "{index}");
            // Some greys occur twice.
            assert_eq!(colour(nearest(there)), there, "{index}");
        }
    }

    proptest! {
        #[test]
        fn nearest_is_the_nearest_of_all_240([r, g, b] in any::<[u8; 3]>()) {
            let wanted = Srgb::new(r, g, b);
            let found = difference(wanted, colour(nearest(wanted)));
            for (index, other) in all() {
                prop_assert!(found <= difference(wanted, other) + 1e-9, "{index} is nearer");
            }
        }
    }
}
