//! Keys that count once while they are held.
//!
//! A terminal repeats a held key: first after a moment, then quickly. So a key that repeats within
//! that moment waits as long as the next repeat would take. If another follows, the key was held;
//! if none follows, it was pressed twice.

use std::time::{Duration, Instant};

use crate::tui::key::Key;

/// The longest delay before a held key first repeats.
const FIRST: Duration = Duration::from_millis(800);
/// The longest delay between later repeats.
const NEXT: Duration = Duration::from_millis(120);

/// The state of the last key that counts once.
#[derive(Default)]
pub(super) struct Held {
    /// The key, and when it last arrived.
    key: Option<(Key, Instant)>,
    /// Whether a repeat is waiting.
    waits: bool,
}

impl Held {
    /// A key arrived that counts once or not. Returns the keys to handle now, in order.
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

    /// The repeat, if it has waited long enough to be a second press.
    pub fn due(&mut self, at: Instant) -> Option<Key> {
        let (key, when) = self.key.filter(|_| self.waits)?;
        if at.saturating_duration_since(when) < NEXT {
            return None;
        }
        self.waits = false;
        Some(key)
    }

    /// The longest time to wait for a key.
    pub fn wait(&self, most: Duration) -> Duration {
        if self.waits { most.min(NEXT) } else { most }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tui::key::Code;

    /// The times in milliseconds at which Enter is handled, if it arrives at these times.
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
    fn held_key_counts_once_and_a_second_press_counts_again() {
        assert_eq!(taken(&[0]), [0]);
        let held: Vec<u64> = [0].into_iter().chain((500..2000).step_by(33)).collect();
        assert_eq!(taken(&held), [0]);
        // Slow repeats, such as 10 a second after a third of a second.
        let held: Vec<u64> = [0].into_iter().chain((330..2000).step_by(100)).collect();
        assert_eq!(taken(&held), [0]);
        assert_eq!(taken(&[0, 1000, 2000]), [0, 1000, 2000]);
        assert_eq!(taken(&[0, 300, 600]), [0, 420, 720]);
        // A bounce.
        assert_eq!(taken(&[0, 20]), [0]);
    }

    #[test]
    fn another_key_follows_the_waiting_one() {
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
