//! The character between two fields.

use super::table::LONGEST_ROW;

/// What stands between two fields.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Delimiter {
    /// `,`
    Comma,
    /// `;`, usual where the comma is the decimal sign.
    Semicolon,
    /// The tab character.
    Tab,
}

impl Delimiter {
    /// In the order a tie between them is settled by: a header is likelier to have a comma in a
    /// name than a tab.
    pub const ALL: [Self; 3] = [Self::Tab, Self::Semicolon, Self::Comma];

    /// The character itself, which is ASCII.
    #[must_use]
    pub const fn byte(self) -> u8 {
        match self {
            Self::Comma => b',',
            Self::Semicolon => b';',
            Self::Tab => b'\t',
        }
    }

    /// The delimiter that stands most often in the first row of a text, quoted parts left out;
    /// a comma where there is none. O(length of the row).
    #[must_use]
    pub fn of_first_row(text: &str) -> Self {
        let mut counts = [0_usize; Self::ALL.len()];
        let mut quoted = false;
        for byte in text.bytes().take(LONGEST_ROW) {
            match byte {
                b'"' => quoted = !quoted,
                _ if quoted => {}
                b'\r' | b'\n' => break,
                _ => {
                    for (count, delimiter) in counts.iter_mut().zip(Self::ALL) {
                        *count += usize::from(byte == delimiter.byte());
                    }
                }
            }
        }
        let mut best = Self::Comma;
        let mut most = 0;
        for (count, delimiter) in counts.into_iter().zip(Self::ALL) {
            if count > most {
                (most, best) = (count, delimiter);
            }
        }
        best
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_delimiter_is_looked_for_outside_quotes() {
        for (text, found) in [
            ("number", Delimiter::Comma),
            ("number,name\na;b;c", Delimiter::Comma),
            ("number;name", Delimiter::Semicolon),
            ("number\tname, long", Delimiter::Tab),
            ("number\tname\tnote, if any", Delimiter::Tab),
            ("number;\"a, b, c\"", Delimiter::Semicolon),
            ("", Delimiter::Comma),
        ] {
            assert_eq!(Delimiter::of_first_row(text), found, "{text}");
        }
    }
}
