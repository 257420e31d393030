//! Re-hang plans, computed in the background if they take a while.

use std::io;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::Sender;
use std::thread;

use crate::stash::command::rehang::{PlanRequest, plans, plans_while};
use crate::stash::refusal::Refusal;
use crate::stash::state::State;
use crate::tui::message::Message;

/// With up to this many cards the plans are ready within a few frames, so the screen waits for
/// them. A notice that comes and goes at once would only flicker.
const AT_ONCE: usize = 800;

/// Computes plans, one job at a time.
pub(super) struct Planner {
    to: Sender<io::Result<Message>>,
    stop: Arc<AtomicBool>,
}

impl Planner {
    /// A planner that sends its answers along with the other messages.
    pub(super) fn new(to: Sender<io::Result<Message>>) -> Self {
        Self {
            to,
            stop: Arc::default(),
        }
    }

    /// Starts a job, replacing any other. Returns the answer at once if it is quick.
    pub(super) fn begin(&mut self, state: &State) -> Option<Message> {
        self.stop();
        if state.cards().len() <= AT_ONCE {
            return Some(Message::Planned(plans(state)));
        }
        let stop = Arc::new(AtomicBool::new(false));
        self.stop = Arc::clone(&stop);
        let (to, state) = (self.to.clone(), state.clone());
        thread::spawn(move || {
            let wanted = || !stop.load(Ordering::Relaxed);
            let planned = plans_while(&state, &PlanRequest::default(), &|count| {
                wanted() && to.send(Ok(Message::Planning(count))).is_ok()
            });
            if wanted() && planned != Err(Refusal::Stopped) {
                // If the program has ended, nobody is listening.
                let _ = to.send(Ok(Message::Planned(planned)));
            }
        });
        None
    }

    /// Stops the current job, if any, before it sends an answer.
    pub(super) fn stop(&self) {
        self.stop.store(true, Ordering::Relaxed);
    }
}

#[cfg(test)]
mod tests {
    use std::sync::mpsc::channel;

    use super::*;
    use crate::tui::testing::crowded;

    #[test]
    fn large_stash_is_planned_in_the_background_and_can_be_stopped() {
        let (to, answers) = channel();
        let mut planner = Planner::new(to);
        let state = crowded(AT_ONCE + 1);
        assert_eq!(planner.begin(&state), None);
        // The second job stops the first, so only the second answers.
        assert_eq!(planner.begin(&state), None);
        let mut planned = 0;
        drop_sender(
            planner,
            |message| match message {
                Message::Planned(plans) => {
                    assert!(plans.is_ok_and(|plans| !plans.is_empty()));
                    planned += 1;
                }
                Message::Planning(_) => {}
                other => panic!("{other:?}"),
            },
            &answers,
        );
        assert_eq!(planned, 1);

        let (to, answers) = channel();
        let mut planner = Planner::new(to);
        assert_eq!(planner.begin(&state), None);
        planner.stop();
        drop_sender(
            planner,
            |message| {
                assert!(!matches!(message, Message::Planned(_)), "{message:?}");
            },
            &answers,
        );
    }

    /// Drops the planner's sender and handles what its jobs still send, until they end.
    fn drop_sender(
        planner: Planner,
        mut take: impl FnMut(Message),
        answers: &std::sync::mpsc::Receiver<io::Result<Message>>,
    ) {
        let Planner { to, stop } = planner;
        drop(to);
        for message in answers {
            take(message.unwrap());
        }
        drop(stop);
    }

    #[test]
    fn small_stash_is_planned_at_once() {
        let (to, answers) = channel();
        let mut planner = Planner::new(to);
        let answer = planner.begin(&crowded(12));
        assert!(
            matches!(answer, Some(Message::Planned(Ok(_)))),
            "{answer:?}"
        );
        assert!(answers.try_recv().is_err());
    }
}
