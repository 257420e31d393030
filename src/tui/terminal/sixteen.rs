//! Colours for terminals that have no more than sixteen.
//!
//! The terminal library sends even those as numbers of the 256 (`38;5;9`), which older terminals do
//! not know: some read it as 'blink' (5) and bold. ECMA-48 has 30 to 37 and 40 to 47 for the first
//! eight; 90 to 97 and 100 to 107 for the bright ones are common practice.

use std::io::{self, Write};

/// A writer that turns the numbers 0 to 15 of the 256 colours into the codes of their own, where it
/// is told to.
pub(super) struct Sixteen<W> {
    to: W,
    on: bool,
    /// What came since the last flush: a code may come in pieces.
    waiting: Vec<u8>,
}

impl<W: Write> Sixteen<W> {
    /// Writes to `to`, changed if it is `on`, else as it is.
    pub fn new(to: W, on: bool) -> Self {
        Self {
            to,
            on,
            waiting: Vec::new(),
        }
    }
}

impl<W: Write> Write for Sixteen<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        if !self.on {
            return self.to.write(bytes);
        }
        self.waiting.extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        let waiting = std::mem::take(&mut self.waiting);
        self.to.write_all(&changed(&waiting))?;
        self.to.flush()
    }
}

/// The bytes with every colour code of a number below 16 turned into its own.
fn changed(bytes: &[u8]) -> Vec<u8> {
    let mut done = Vec::with_capacity(bytes.len());
    let mut rest = bytes;
    while let Some(at) = rest.windows(2).position(|pair| pair == b"\x1b[") {
        let (before, code) = rest.split_at(at + 2);
        done.extend_from_slice(before);
        let inside = |byte: &u8| byte.is_ascii_digit() || *byte == b';';
        let end = code.iter().position(|byte| !inside(byte));
        let (parameters, after) = code.split_at(end.unwrap_or(code.len()));
        if after.first() == Some(&b'm') {
            done.extend_from_slice(own(parameters).as_bytes());
        } else {
            done.extend_from_slice(parameters);
        }
        rest = after;
    }
    done.extend_from_slice(rest);
    done
}

/// The parameters of one code.
fn own(parameters: &[u8]) -> String {
    let text = String::from_utf8_lossy(parameters);
    let all: Vec<&str> = text.split(';').collect();
    let mut done = Vec::new();
    let mut rest = all.as_slice();
    while let Some((&first, more)) = rest.split_first() {
        let of_text = match (first, more) {
            ("38", ["5", n, ..]) => Some((n, 30, 90)),
            ("48", ["5", n, ..]) => Some((n, 40, 100)),
            _ => None,
        };
        if let Some((n, usual, bright)) = of_text
            && let Ok(n @ 0..=15) = n.parse::<u8>()
        {
            done.push((if n < 8 { usual + n } else { bright + n - 8 }).to_string());
            rest = &more[2..];
        } else {
            done.push(first.to_owned());
            rest = more;
        }
    }
    done.join(";")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn written(on: bool, pieces: &[&str]) -> String {
        let mut out = Sixteen::new(Vec::new(), on);
        for piece in pieces {
            out.write_all(piece.as_bytes()).unwrap();
        }
        out.flush().unwrap();
        String::from_utf8(out.to).unwrap()
    }

    #[test]
    fn the_first_sixteen_get_codes_of_their_own() {
        for (sent, arrives) in [
            ("\x1b[38;5;1mred", "\x1b[31mred"),
            ("\x1b[38;5;9;48;5;0mx", "\x1b[91;40mx"),
            ("\x1b[48;5;15m", "\x1b[107m"),
            ("\x1b[1m\x1b[38;5;7mx\x1b[39m", "\x1b[1m\x1b[37mx\x1b[39m"),
            ("\x1b[38;5;16m", "\x1b[38;5;16m"),
            ("\x1b[38;2;1;2;3m", "\x1b[38;2;1;2;3m"),
            ("\x1b[38;5;9Hx", "\x1b[38;5;9Hx"),
            ("plain \u{e9} \x1b[", "plain \u{e9} \x1b["),
            ("\x1b[m", "\x1b[m"),
        ] {
            assert_eq!(written(true, &[sent]), arrives, "{sent:?}");
            assert_eq!(written(false, &[sent]), sent);
        }
    }

    #[test]
    fn a_code_may_come_in_pieces() {
        assert_eq!(
            written(true, &["\x1b", "[38;", "5;", "1", "2mx"]),
            "\x1b[94mx"
        );
    }
}
