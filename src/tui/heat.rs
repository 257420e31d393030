//! The heat view: hooks coloured by one measure, in ten degrees.

use jiff::Timestamp;

use crate::stash::state::{CardState, State};

/// The measure that colours the board.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub enum Heat {
    /// The colour of the thread itself.
    #[default]
    Off,
    /// Thread left on the card; little is hot.
    Thread,
    /// Time the card has been away from home; long is hot.
    Away,
}

/// A degree, 0 to 9: the digit on the hook.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub struct Degree(u8);

impl Degree {
    /// Every degree, from 0 up.
    pub fn all() -> impl DoubleEndedIterator<Item = Self> {
        (0..=9).map(Self)
    }

    /// A whole number of units, capped at 9.
    fn of(units: i64) -> Self {
        Self(u8::try_from(units.clamp(0, 9)).unwrap_or(9))
    }

    /// Its digit.
    #[must_use]
    pub fn digit(self) -> char {
        char::from(b'0' + self.0)
    }
}

impl Heat {
    /// Every view, in the order the key cycles through them.
    pub const ALL: [Self; 3] = [Self::Off, Self::Thread, Self::Away];

    /// The next view.
    #[must_use]
    pub const fn next(self) -> Self {
        match self {
            Self::Off => Self::Thread,
            Self::Thread => Self::Away,
            Self::Away => Self::Off,
        }
    }

    /// The heading of the view.
    #[must_use]
    pub const fn title(self) -> &'static str {
        match self {
            Self::Off => "Thread colours",
            Self::Thread => "Heat: thread left",
            Self::Away => "Heat: time away",
        }
    }

    /// What the digits count and how the scale ends, at most 28 characters each. `None` if the view
    /// is off.
    #[must_use]
    pub fn scale(self) -> Option<[&'static str; 2]> {
        match self {
            Self::Off => None,
            Self::Thread => Some(["metres left on a card", "0 under 1 m .. 9 from 9 m on"]),
            Self::Away => Some(["weeks away from home", "0 under 1, 9 from 9; # home"]),
        }
    }

    /// A card's degree: whole metres of thread on it, or whole weeks away from home, at most 9
    /// each. `None` if the view is off, or shows cards away and this one is at home.
    #[must_use]
    pub fn degree(self, state: &State, kept: &CardState, now: Timestamp) -> Option<Degree> {
        match self {
            Self::Off => None,
            Self::Thread => {
                // Strands, each of the cut length in centimetres: 600 cm of single strand make a
                // metre of six.
                let strands = i64::from(kept.strands().0);
                let metre = 100 * i64::from(state.put_up(&kept.card).in_length());
                Some(Degree::of(strands * i64::from(kept.card.cut_cm) / metre))
            }
            Self::Away if kept.is_home() => None,
            Self::Away => {
                let hours = now.duration_since(kept.place.since).as_hours();
                Some(Degree::of(hours / (24 * 7)))
            }
        }
    }

    /// The hottest of several cards; `None` if none has a degree.
    #[must_use]
    pub fn hottest(self, state: &State, cards: &[&CardState], now: Timestamp) -> Option<Degree> {
        let degrees = cards
            .iter()
            .filter_map(|kept| self.degree(state, kept, now));
        degrees.min_by_key(|&degree| self.step(degree))
    }

    /// A degree's step on the colour scale: 0 the hottest, 9 the coolest.
    #[must_use]
    pub const fn step(self, Degree(n): Degree) -> u8 {
        match self {
            Self::Away => 9 - n,
            Self::Off | Self::Thread => n,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::thread::{Lot, LotThread, Strands};
    use crate::tui::testing::{TestApp, now};
    use crate::tui::theme::Depth;
    use jiff::SignedDuration;

    fn digit(heat: Heat, state: &State, kept: &CardState, now: Timestamp) -> Option<char> {
        heat.degree(state, kept, now).map(Degree::digit)
    }

    #[test]
    fn thread_degree_counts_whole_metres() {
        let desk = TestApp::sample(Depth::None);
        let mut kept = desk.state.cards().next().unwrap().clone();
        for (strands, cut_cm, told) in [
            (0, 100, '0'),
            (5, 100, '0'),
            (6, 100, '1'),
            (48, 100, '8'),
            (48, 50, '4'),
            (47, 50, '3'),
            (54, 100, '9'),
            (u32::MAX, u16::MAX, '9'),
        ] {
            kept.card.cut_cm = cut_cm;
            let of = LotThread {
                strands: Strands(strands),
                ..LotThread::default()
            };
            kept.thread = [(Lot::unknown(), of)].into_iter().collect();
            assert_eq!(
                digit(Heat::Thread, &desk.state, &kept, now()),
                Some(told),
                "{strands} of {cut_cm}"
            );
        }
    }

    #[test]
    fn away_degree_counts_whole_weeks() {
        let desk = TestApp::sample(Depth::None);
        let out = desk
            .state
            .cards()
            .find(|kept| kept.place.at.ring().is_some())
            .unwrap();
        let home = desk.state.cards().find(|kept| kept.is_home()).unwrap();
        let since = out.place.since;
        for (days, told) in [
            (-3, '0'),
            (0, '0'),
            (6, '0'),
            (7, '1'),
            (62, '8'),
            (63, '9'),
            (900, '9'),
        ] {
            let now = since + SignedDuration::from_hours(24 * days);
            assert_eq!(
                digit(Heat::Away, &desk.state, out, now),
                Some(told),
                "{days}"
            );
            assert_eq!(digit(Heat::Away, &desk.state, home, now), None);
            assert_eq!(digit(Heat::Off, &desk.state, out, now), None);
        }
    }

    #[test]
    fn key_cycles_through_the_views_and_scales_fit_a_panel() {
        let mut heat = Heat::Off;
        for next in [Heat::Thread, Heat::Away, Heat::Off] {
            heat = heat.next();
            assert_eq!(heat, next);
            assert!(
                heat.scale()
                    .is_none_or(|lines| lines.iter().all(|line| line.len() <= 28))
            );
        }
    }

    #[test]
    fn little_thread_and_long_away_are_hot() {
        let steps = |heat: Heat| Degree::all().map(|d| heat.step(d)).collect::<Vec<_>>();
        assert_eq!(steps(Heat::Thread), (0..=9).collect::<Vec<_>>());
        assert_eq!(steps(Heat::Away), (0..=9).rev().collect::<Vec<_>>());
    }
}
