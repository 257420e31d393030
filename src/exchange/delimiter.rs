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

    /// The delimiter that a text says by its first line, as spreadsheets have it: `sep=;`, capitals
    /// and quotation marks around it aside. With it comes the text below that line. O(1).
    #[must_use]
    pub fn said_in(text: &str) -> Option<(Self, &str)> {
        let quoted = text.strip_prefix('"');
        let line = quoted.unwrap_or(text);
        let said = line
            .get(..4)
            .filter(|said| said.eq_ignore_ascii_case("sep="));
        let rest = line.get(said?.len()..)?;
        let delimiter = Self::ALL
            .into_iter()
            .find(|delimiter| rest.as_bytes().first() == Some(&delimiter.byte()))?;
        // It is one ASCII character.
        let rest = rest.get(1..)?;
        let rest = match quoted {
            Some(_) => rest.strip_prefix('"')?,
            None => rest,
        };
        let rest = rest.trim_start_matches(' ');
        (rest.is_empty() || rest.starts_with(['\r', '\n'])).then_some((delimiter, rest))
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
    fn the_delimiter_may_be_said_by_the_first_line() {
        for (text, found) in [
            ("sep=;\nnumber", Some((Delimiter::Semicolon, "\nnumber"))),
            ("SEP=,\r\na", Some((Delimiter::Comma, "\r\na"))),
            ("\"sep=;\" \nb", Some((Delimiter::Semicolon, "\nb"))),
            ("sep=\t", Some((Delimiter::Tab, ""))),
            ("sep=|\nnumber", None),
            ("\"sep=;\nnumber", None),
            ("sep=;name\n1;2", None),
            ("sep", None),
            ("se\u{e9}p=;", None),
        ] {
            assert_eq!(Delimiter::said_in(text), found, "{text}");
        }
    }

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
