//! How gladly a card is moved to another hook by a re-hang.

use serde::{Deserialize, Serialize};

/// How many plain cards touching a card counts as: 2 to 1000.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize, Deserialize)]
#[serde(try_from = "u16", into = "u16")]
pub struct Effort(u16);

/// The number cannot be an effort.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("not_an_effort")]
pub struct ParseEffortError(pub u16);

impl Effort {
    /// The most a card can count as.
    pub const MOST: u16 = 1_000;

    /// Checks a number.
    ///
    /// # Errors
    /// When it is below 2 or above [`Effort::MOST`].
    pub const fn new(effort: u16) -> Result<Self, ParseEffortError> {
        if effort < 2 || effort > Self::MOST {
            return Err(ParseEffortError(effort));
        }
        Ok(Self(effort))
    }

    /// The number.
    #[must_use]
    pub const fn get(self) -> u16 {
        self.0
    }
}

impl TryFrom<u16> for Effort {
    type Error = ParseEffortError;

    fn try_from(effort: u16) -> Result<Self, ParseEffortError> {
        Self::new(effort)
    }
}

impl From<Effort> for u16 {
    fn from(effort: Effort) -> Self {
        effort.0
    }
}

/// What a re-hang may do with a card.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum MoveCost {
    /// It moves like any other.
    #[default]
    Plain,
    /// It moves, and counts as so many plain cards: its label is pasted for good, or it is heavy.
    Costly(Effort),
    /// It stays on the hook it belongs on.
    Held,
}

impl MoveCost {
    /// Whether nothing is said of the card.
    #[must_use]
    pub const fn is_plain(&self) -> bool {
        matches!(self, Self::Plain)
    }

    /// How many plain cards touching it counts as; 1 where nothing is said.
    #[must_use]
    pub fn effort(self) -> u16 {
        match self {
            Self::Costly(effort) => effort.get(),
            Self::Plain | Self::Held => 1,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_an_effort_in_bounds_is_read() {
        for (text, touch) in [
            (r#""plain""#, Some(MoveCost::Plain)),
            (r#""held""#, Some(MoveCost::Held)),
            (r#"{"costly":2}"#, Effort::new(2).ok().map(MoveCost::Costly)),
            (
                r#"{"costly":1000}"#,
                Effort::new(1000).ok().map(MoveCost::Costly),
            ),
            (r#"{"costly":1}"#, None),
            (r#"{"costly":1001}"#, None),
        ] {
            let read = serde_json::from_str::<MoveCost>(text).ok();
            assert_eq!(read, touch, "{text}");
            if let Some(touch) = touch {
                assert_eq!(serde_json::to_string(&touch).unwrap(), text);
            }
        }
    }
}
