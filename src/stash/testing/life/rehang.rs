//! Re-hangs planned, begun, gone on with and given up.

use super::{Life, pick};
use crate::model::whereabouts::Whereabouts;
use crate::stash::command::rehang::{self, PlanRequest};
use crate::stash::testing::least_effort;

impl Life {
    /// Takes a plan and does some or all of its steps.
    pub(super) fn rehang(&mut self, n: [u16; 5]) {
        if self.state.underway().is_some() && n[3].is_multiple_of(4) {
            return self.go_on(n);
        }
        let few = self.state.cards().len() <= 5;
        let plans = match rehang::plans(&self.state) {
            Ok(plans) => plans,
            Err(refusal) => {
                if few && !["no_board", "no_cards_yet"].contains(&refusal.to_string().as_str()) {
                    let least = least_effort(&self.state, &PlanRequest::default());
                    assert_eq!(least, None, "{refusal}");
                }
                return;
            }
        };
        if few {
            let least = least_effort(&self.state, &PlanRequest::default());
            assert_eq!(Some(plans[0].effort), least);
        }
        let plan = pick(&plans, n[0]);
        let mut begun = false;
        if !n[3].is_multiple_of(3)
            && let Ok(event) = rehang::begin(&self.state, &plan, self.now())
        {
            self.commit(event);
            begun = true;
        }
        let steps = plan.steps.len();
        let done = if n[1].is_multiple_of(2) {
            steps
        } else {
            usize::from(n[2]) % (steps + 1)
        };
        let before = self.state.clone();
        for step in &plan.steps[..done] {
            let event = rehang::step(&self.state, step, self.now()).unwrap();
            self.commit(event);
        }
        if done < steps {
            return;
        }
        assert!(!begun || self.state.underway().is_none());
        let homes = plan
            .homes
            .iter()
            .map(|&(id, _)| self.state.card(id).unwrap());
        let wanted = self.state.in_wanted_order(homes.clone());
        assert!(
            wanted.iter().copied().eq(homes.clone()),
            "not the order wanted"
        );
        let cards_per_hook: Vec<_> = homes
            .map(|kept| {
                let hook = kept.home.unwrap();
                (
                    hook.board,
                    self.state.board(hook.board).unwrap().reading_index(hook),
                )
            })
            .collect();
        assert!(cards_per_hook.is_sorted(), "{cards_per_hook:?}");
        for &(id, hook) in &plan.homes {
            let (old, new) = (before.card(id).unwrap(), self.state.card(id).unwrap());
            assert_eq!(new.home, Some(hook));
            let away = matches!(
                old.place.at,
                Whereabouts::Ring { .. }
                    | Whereabouts::Missing { .. }
                    | Whereabouts::Elsewhere { .. }
            );
            let here = Whereabouts::Hook { hook };
            // A card that keeps its home and hangs elsewhere is no matter for a re-hang.
            let left_alone = !plan.steps.iter().any(|step| step.card == id);
            let stays = away || left_alone;
            assert_eq!(&new.place.at, if stays { &old.place.at } else { &here });
        }
    }

    /// Goes on with the re-hang underway, or gives it up.
    fn go_on(&mut self, n: [u16; 5]) {
        let steps = match rehang::remaining(&self.state) {
            Ok(steps) => steps,
            Err(refusal) => {
                assert_eq!(refusal.to_string(), "aim_lost");
                Vec::new()
            }
        };
        let most = usize::from(n[1] % 8).min(steps.len());
        if most == 0 {
            let event = rehang::give_up(&self.state).unwrap();
            return self.commit(event);
        }
        for event in rehang::steps(&self.state, &steps[..most], self.now()).unwrap() {
            self.commit(event);
        }
        assert_eq!(self.state.underway().is_none(), most == steps.len());
        if let Some(underway) = self.state.underway() {
            assert!(underway.done >= 1);
            let left = rehang::remaining(&self.state).unwrap();
            assert!(!left.is_empty() && left.len() <= steps.len());
        }
    }
}
