//! Keys that count once while they are held.
//!
//! A terminal sends a held key again and again, after a moment first and fast then. So a key that comes back within that
//! moment is kept waiting for as long as the next would take: where one comes it was held, where none comes it was
//! pressed twice.

use std::time::{Duration, Instant};

use crate::tui::key::Key;

/// A held key begins to come again within this.
const FIRST: Duration = Duration::from_millis(800);
/// A held key that came again comes the next time within this.
const NEXT: Duration = Duration::from_millis(120);

/// What is known of the last key that counts once.
#[derive(Default)]
pub(super) struct Held {
    /// The key, and when it came last.
    key: Option<(Key, Instant)>,
    /// Whether it came again and waits.
    waits: bool,
}

impl Held {
    /// A key came, which counts once or not. Gives the keys to take now, in their order.
    pub fn came(&mut self, key: Key, at: Instant, once: bool) -> [Option<Key>; 2] {
        let Some((last, when)) = self.key else {
            return [None, self.taken(key, at, once)];
        };
        let waiting = self.waits.then_some(last);
        self.waits = false;
        if key != last {
            return [waiting, self.taken(key, at, once)];
        }
        let gap = at.saturating_duration_since(when);
        self.key = Some((key, at));
        if gap < NEXT {
            return [None, None];
        }
        if gap < FIRST {
            self.waits = true;
            return [waiting, None];
        }
        [waiting, self.taken(key, at, once)]
    }

    fn taken(&mut self, key: Key, at: Instant, once: bool) -> Option<Key> {
        self.key = once.then_some((key, at));
        Some(key)
    }

    /// The key that waited long enough to have been pressed.
    pub fn due(&mut self, at: Instant) -> Option<Key> {
        let (key, when) = self.key.filter(|_| self.waits)?;
        if at.saturating_duration_since(when) < NEXT {
            return None;
        }
        self.waits = false;
        Some(key)
    }

    /// How long to wait for a key at most.
    pub fn wait(&self, most: Duration) -> Duration {
        if self.waits { most.min(NEXT) } else { most }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tui::key::Code;

    /// The keys that are taken when the Enter key comes at some milliseconds, and when each is.
    fn taken(comes: &[u64]) -> Vec<u64> {
        let start = Instant::now();
        let (mut held, mut taken) = (Held::default(), Vec::new());
        let enter = Key::plain(Code::Enter);
        for ms in 0..3000 {
            let at = start + Duration::from_millis(ms);
            if comes.contains(&ms) {
                let now = held.came(enter, at, true);
                taken.extend(now.iter().flatten().map(|_| ms));
            }
            taken.extend(held.due(at).map(|_| ms));
        }
        taken
    }

    #[test]
    fn a_held_key_counts_once_and_one_pressed_again_counts_again() {
        assert_eq!(taken(&[0]), [0]);
        let held: Vec<u64> = [0].into_iter().chain((500..2000).step_by(33)).collect();
        assert_eq!(taken(&held), [0]);
        // Slow repeats, such as 10 a second after a third of one.
        let held: Vec<u64> = [0].into_iter().chain((330..2000).step_by(100)).collect();
        assert_eq!(taken(&held), [0]);
        assert_eq!(taken(&[0, 1000, 2000]), [0, 1000, 2000]);
        assert_eq!(taken(&[0, 300, 600]), [0, 420, 720]);
        // It bounced.
        assert_eq!(taken(&[0, 20]), [0]);
    }

    #[test]
    fn another_key_comes_after_the_one_that_waits() {
        let start = Instant::now();
        let mut held = Held::default();
        let (enter, m) = (Key::plain(Code::Enter), Key::char('m'));
        assert_eq!(held.came(enter, start, true), [None, Some(enter)]);
        let later = start + Duration::from_millis(300);
        assert_eq!(held.came(enter, later, true), [None, None]);
        assert_eq!(held.came(m, later, false), [Some(enter), Some(m)]);
        assert_eq!(held.came(m, later, false), [None, Some(m)]);
        assert_eq!(held.due(later + FIRST), None);
    }
}
