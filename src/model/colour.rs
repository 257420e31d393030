//! An 8-bit sRGB colour as people write it: `#RRGGBB`.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

/// A colour in sRGB (IEC 61966-2-1), eight bits a channel, gamma-encoded.
#[derive(Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Srgb {
    /// Red, 0 to 255.
    pub r: u8,
    /// Green, 0 to 255.
    pub g: u8,
    /// Blue, 0 to 255.
    pub b: u8,
}

/// The text was not a colour.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("not_a_colour")]
pub struct ParseColourError(pub String);

impl Srgb {
    /// Builds a colour from its three channels.
    #[must_use]
    pub const fn new(r: u8, g: u8, b: u8) -> Self {
        Self { r, g, b }
    }
}

impl FromStr for Srgb {
    type Err = ParseColourError;

    /// Reads `#RRGGBB`, with or without the hash sign, in either case of letters.
    fn from_str(text: &str) -> Result<Self, ParseColourError> {
        let wrong = || ParseColourError(text.chars().take(40).collect());
        let digits = text.trim();
        let digits = digits.strip_prefix('#').unwrap_or(digits);
        if digits.len() != 6 || !digits.bytes().all(|b| b.is_ascii_hexdigit()) {
            return Err(wrong());
        }
        let value = u32::from_str_radix(digits, 16).map_err(|_| wrong())?;
        let [_, r, g, b] = value.to_be_bytes();
        Ok(Self { r, g, b })
    }
}

impl TryFrom<String> for Srgb {
    type Error = ParseColourError;

    fn try_from(text: String) -> Result<Self, ParseColourError> {
        text.parse()
    }
}

impl From<Srgb> for String {
    fn from(colour: Srgb) -> Self {
        colour.to_string()
    }
}

impl fmt::Display for Srgb {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "#{:02X}{:02X}{:02X}", self.r, self.g, self.b)
    }
}

impl fmt::Debug for Srgb {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn six_hex_digits_are_read_in_either_case() {
        let red = Srgb::new(0xB4, 0x23, 0x3C);
        for text in ["#B4233C", "b4233c", " #b4233C "] {
            assert_eq!(text.parse(), Ok(red), "{text}");
        }
    }

    #[test]
    fn anything_but_six_hex_digits_is_refused() {
        for text in [
            "", "#", "#12345", "#1234567", "#GG0000", "+12345", "red", "#ÄÄÄ",
        ] {
            assert!(text.parse::<Srgb>().is_err(), "{text}");
        }
    }

    #[test]
    fn a_colour_is_shown_as_it_is_read() {
        for hex in ["#000000", "#0A0B0C", "#FFFFFF"] {
            assert_eq!(hex.parse::<Srgb>().unwrap().to_string(), hex);
        }
    }
}
