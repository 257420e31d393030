//! Backups of a stash that stays open for several days.

use std::io;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::Sender;
use std::thread::{self, JoinHandle};

use jiff::civil::Date;

use crate::journal::backup::NoBackup;
use crate::journal::store::Store;
use crate::text::record;
use crate::tui::message::Message;

/// Makes each day's backup in the background, before the first change of that day.
pub(super) struct Backups {
    to: Sender<io::Result<Message>>,
    /// The last day with a backup or an attempt; a failure is reported once a day.
    last: Option<Date>,
    job: Option<JoinHandle<()>>,
    /// The record turned out not to be what was read.
    differs: Arc<AtomicBool>,
}

impl Backups {
    /// Starts with the first change. Merely viewing a stash makes no backup.
    pub fn new(to: Sender<io::Result<Message>>) -> Self {
        Self {
            to,
            last: None,
            job: None,
            differs: Arc::default(),
        }
    }

    /// Whether a backup found that the record isn't what was read, since this was last asked.
    pub fn take_differs(&self) -> bool {
        self.differs.swap(false, Ordering::Relaxed)
    }

    /// A change is about to be made on this day; the backup holds the record before it. Costs a
    /// comparison of dates, except for the first change of a day.
    pub fn before_change(&mut self, store: &Store, today: Date) {
        if self.last.is_some_and(|last| today <= last) {
            return;
        }
        self.last = Some(today);
        let Some(due) = store.backup_due(today) else {
            return;
        };
        self.wait();
        let (to, differs) = (self.to.clone(), Arc::clone(&self.differs));
        self.job = Some(thread::spawn(move || {
            if let Err(error) = due.make() {
                differs.store(matches!(error.reason, NoBackup::Differs), Ordering::Relaxed);
                // If the program has ended, nobody is listening.
                let _ = to.send(Ok(Message::News(record::backup_error(&error))));
            }
        }));
    }

    fn wait(&mut self) {
        if let Some(job) = self.job.take() {
            // The screen reports a panic in it.
            let _ = job.join();
        }
    }
}

impl Drop for Backups {
    fn drop(&mut self) {
        self.wait();
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;
    use std::fs;
    use std::path::Path;
    use std::sync::mpsc::channel;

    use jiff::civil::date;
    use jiff::{Timestamp, ToSpan};
    use proptest::prelude::*;

    use super::*;
    use crate::journal::backup::{self, DAYS};
    use crate::stash::command::board::new_board;
    use crate::stash::testing::board;

    const OPENED: Date = date(2026, 12, 30);

    /// A stash with a board that the changes create and remove.
    fn stash() -> (tempfile::TempDir, Store) {
        let dir = tempfile::tempdir().unwrap();
        let (mut store, _) = Store::open(dir.path()).unwrap();
        let event = new_board(store.state(), &board("wall", "", 2, 3, 1)).unwrap();
        store.commit(Timestamp::UNIX_EPOCH, &event).unwrap();
        (dir, store)
    }

    fn change(store: &mut Store) {
        let now = Timestamp::UNIX_EPOCH;
        store.undo(now).or_else(|_| store.redo(now)).unwrap();
    }

    fn record(dir: &Path) -> Vec<u8> {
        fs::read(dir.join("record.jsonl")).unwrap()
    }

    proptest! {
        #![proptest_config(crate::testing::one_case_in(8))]
        #[test]
        fn every_day_with_a_change_has_a_backup_of_the_record_before_it(
            // Nights before each change, too few for backups to be thinned out.
            nights in prop::collection::vec(prop::sample::select(&[0i64, 0, 1, 2]), 0..12),
        ) {
            let nights = nights.into_iter().scan(0, |sum, n| {
                *sum += n;
                (*sum < i64::from(DAYS)).then_some(*sum)
            });
            let (dir, mut store) = stash();
            let (to, news) = channel();
            let mut backups = Backups::new(to);
            // For each day, the record before its first change.
            let mut model = BTreeMap::new();
            for night in nights {
                let today = OPENED + night.days();
                model.entry(today).or_insert_with(|| record(dir.path()));
                backups.before_change(&store, today);
                change(&mut store);
            }
            drop(backups);
            let made: BTreeMap<Date, Vec<u8>> = backup::list(dir.path())
                .into_iter()
                .map(|backup| (backup.day, fs::read(backup.path).unwrap()))
                .collect();
            prop_assert_eq!(made, model);
            prop_assert!(news.recv().is_err(), "nothing to tell");
        }
    }

    #[test]
    fn failed_backup_is_reported_once_a_day_and_blocks_nothing() {
        let (dir, mut store) = stash();
        fs::write(dir.path().join("backups"), "a file in its place").unwrap();
        let (to, news) = channel();
        let mut backups = Backups::new(to);
        for night in [1, 1, 1, 2] {
            backups.before_change(&store, OPENED + night.days());
            change(&mut store);
        }
        // A clock that is set back causes no second backup of a day.
        backups.before_change(&store, OPENED);
        drop(backups);
        let told: Vec<_> = news.iter().map(Result::unwrap).collect();
        assert_eq!(told.len(), 2, "{told:?}");
        for message in told {
            assert!(
                matches!(&message, Message::News(said) if said.contains("Your changes are recorded")),
                "{message:?}"
            );
        }
    }
}
