//! How wide a text will be, guessed so that it is hardly ever wider.
//!
//! What font a printer has is not known. Per character, in hundredths of the font size: 0 for what
//! combines, 106 for what is wide in East Asian text (Unicode Standard Annex #11), 100 for the widest
//! letters, 84 for signs and 78 for other capitals, 65 for the rest. Common sans fonts keep to that;
//! no source. Whatever is wider all the same is cut at the edge of its item.

use unicode_segmentation::UnicodeSegmentation;
use unicode_width::UnicodeWidthStr;

use super::mm::Mm;

/// What stands for what was cut off.
const ELLIPSIS: &str = "…";

/// The width of one grapheme in hundredths of the font size.
fn grapheme_width(grapheme: &str) -> i32 {
    match grapheme.chars().next() {
        Some('W' | 'M' | 'm' | 'w' | '@' | '%' | '—' | '…' | 'Œ' | 'Æ') => 100,
        Some('#' | '&' | '<' | '>' | '=' | '+' | '~') => 84,
        Some(c) if c.is_ascii_uppercase() => 78,
        Some('i' | 'j' | 'l' | '.' | ',' | '\'' | ':' | ';' | '|' | '!' | ' ') => 36,
        Some(c) if c.is_ascii() => 65,
        _ => match UnicodeWidthStr::width(grapheme) {
            0 => 0,
            1 => 80,
            wide => 53_i32.saturating_mul(i32::try_from(wide).unwrap_or(i32::MAX)),
        },
    }
}

/// The width of a text in a font size.
#[must_use]
pub fn width(text: &str, size: Mm) -> Mm {
    let units = text
        .graphemes(true)
        .map(grapheme_width)
        .fold(0, i32::saturating_add);
    let wide = i64::from(units) * i64::from(size.as_hundredths()) / 100;
    Mm::hundredths(i32::try_from(wide).unwrap_or(i32::MAX))
}

/// A text made to fit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fitted {
    /// The text, perhaps cut between graphemes, with an ellipsis in place of the rest.
    pub text: String,
    /// The font size.
    pub size: Mm,
}

/// Makes a text fit a width: smaller, down to a least size, and then cut. Empty where not even one
/// grapheme and the ellipsis fit. O(text).
#[must_use]
pub fn fit(text: &str, most: Mm, least: Mm, room: Mm) -> Fitted {
    let fitted = |text: &str, size| Fitted {
        text: text.to_owned(),
        size,
    };
    if width(text, most) <= room {
        return fitted(text, most);
    }
    // A tenth of a millimetre at a time; a size is some millimetres.
    let step = Mm::hundredths(10);
    let mut size = most;
    while size > least {
        size = (size - step).max(least);
        if width(text, size) <= room {
            return fitted(text, size);
        }
    }
    let rest = room - width(ELLIPSIS, least);
    let mut end = 0;
    for (at, grapheme) in text.grapheme_indices(true) {
        let next = at + grapheme.len();
        if width(&text[..next], least) > rest {
            break;
        }
        end = next;
    }
    match text[..end].trim_end() {
        "" => fitted("", least),
        kept => fitted(&format!("{kept}{ELLIPSIS}"), least),
    }
}

/// Breaks a text into lines of a width, between words where it can be, at most so many; the last is
/// cut. O(text).
#[must_use]
pub fn lines(text: &str, size: Mm, room: Mm, most: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    let mut line = String::new();
    let mut words = text.split_whitespace().peekable();
    while let Some(word) = words.peek() {
        let longer = if line.is_empty() {
            (*word).to_owned()
        } else {
            format!("{line} {word}")
        };
        let is_last = lines.len() + 1 >= most;
        if line.is_empty() || width(&longer, size) <= room || is_last {
            line = longer;
            words.next();
        } else {
            lines.push(std::mem::take(&mut line));
        }
    }
    if !line.is_empty() && lines.len() < most {
        lines.push(line);
    }
    lines
        .iter()
        .map(|line| fit(line, size, size, room).text)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const SIZE: Mm = Mm::whole(4);

    #[test]
    fn a_text_that_fits_stays_and_others_shrink_then_lose_their_end() {
        let kept = fit("chalk", SIZE, SIZE, Mm::whole(60));
        assert_eq!((kept.text.as_str(), kept.size), ("chalk", SIZE));
        let small = fit("river slate", SIZE, Mm::whole(2), Mm::whole(20));
        assert_eq!(small.text, "river slate");
        assert!(small.size < SIZE && small.size >= Mm::whole(2));
        let cut = fit("river slate", SIZE, SIZE, Mm::whole(16));
        assert_eq!(cut.text, "river…");
        assert_eq!(fit("river", SIZE, SIZE, Mm::whole(1)).text, "");
    }

    #[test]
    fn wide_and_combining_characters_stay_whole() {
        assert_eq!(width("藍", SIZE), Mm::hundredths(424));
        assert_eq!(width("e\u{301}", SIZE), width("e", SIZE));
        let cut = fit(
            "e\u{301}e\u{301}e\u{301}e\u{301}",
            SIZE,
            SIZE,
            Mm::hundredths(950),
        );
        assert_eq!(cut.text, "e\u{301}e\u{301}…");
    }

    #[test]
    fn long_texts_go_over_lines() {
        let got = lines("bracket of the lamp", Mm::whole(2), Mm::whole(13), 2);
        assert_eq!(got, ["bracket of", "the lamp"]);
        let got = lines("bracket of the lamp", Mm::whole(2), Mm::whole(13), 1);
        assert_eq!(got, ["bracket…"]);
    }

    proptest! {
        #[test]
        fn it_fits_and_keeps_a_beginning(text in "\\PC{0,30}", room in 0..6_000_i32) {
            let room = Mm::hundredths(room);
            let got = fit(&text, SIZE, Mm::whole(2), room);
            prop_assert!(width(&got.text, got.size) <= room || got.text.is_empty());
            let start = got.text.strip_suffix(ELLIPSIS).unwrap_or(&got.text);
            prop_assert!(text.starts_with(start));
            for line in lines(&text, SIZE, room, 3) {
                prop_assert!(width(&line, SIZE) <= room);
            }
        }
    }
}
