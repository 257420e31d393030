//! Lists that are longer than their room.

/// The lines of a list that are in view, so that the chosen one is among them.
#[must_use]
pub fn in_view(at: usize, count: usize, height: usize) -> std::ops::Range<usize> {
    let height = height.max(1);
    let first = at
        .saturating_sub(height / 2)
        .min(count.saturating_sub(height));
    first..(first + height).min(count)
}
