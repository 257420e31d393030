//! A share as a bar.

use ratatui::buffer::Buffer;
use ratatui::style::Style;
use ratatui::text::Span;

use super::text::put;

/// A bar of this width, filled to a share in thousandths; more than 1000 fills it. Any share above
/// 0 shows, and any share below 1000 leaves a gap.
pub fn gauge(width: u16, share: u32, full: Style, empty: Style) -> [Span<'static>; 2] {
    let width = u32::from(width);
    let share = share.min(1000);
    let mut filled = (width * share + 500) / 1000;
    if share > 0 && filled == 0 {
        filled = 1.min(width);
    }
    if share < 1000 && filled == width {
        filled = width.saturating_sub(1);
    }
    let bar = |sign: &str, n: u32| sign.repeat(usize::try_from(n).unwrap_or(0));
    // Thick and thin, so that it works without colours.
    [
        Span::styled(bar("━", filled), full),
        Span::styled(bar("─", width - filled), empty),
    ]
}

/// A part of a whole in thousandths; 1000 if the whole is 0.
#[must_use]
pub fn thousandths(part: u64, whole: u64) -> u32 {
    if whole == 0 {
        return 1000;
    }
    let share = part.min(whole).saturating_mul(1000) / whole;
    u32::try_from(share).unwrap_or(1000)
}

/// Draws a gauge at a position.
pub fn draw(buffer: &mut Buffer, (x, y): (u16, u16), spans: [Span<'static>; 2]) {
    let mut x = x;
    for span in spans {
        put(buffer, (x, y), &span.content, span.style);
        x += u16::try_from(span.width()).unwrap_or(0);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drawn(width: u16, share: u32) -> (usize, usize) {
        let [full, empty] = gauge(width, share, Style::new(), Style::new());
        (full.content.chars().count(), empty.content.chars().count())
    }

    #[test]
    fn tiny_share_shows_and_nearly_full_share_leaves_a_gap() {
        assert_eq!(drawn(10, 0), (0, 10));
        assert_eq!(drawn(10, 1), (1, 9));
        assert_eq!(drawn(10, 500), (5, 5));
        assert_eq!(drawn(10, 999), (9, 1));
        assert_eq!(drawn(10, 1000), (10, 0));
        assert_eq!(drawn(10, 5000), (10, 0));
        assert_eq!(drawn(0, 500), (0, 0));
        assert_eq!(thousandths(1, 3), 333);
        assert_eq!(thousandths(0, 0), 1000);
    }
}
