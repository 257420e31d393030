//! What a refusal says on the screen: which key to press, where it names a command of the shell.

use crate::stash::refusal::Refusal;
use crate::text;
use crate::text::places::place;
use crate::text::refusal::sentence;

/// The refusal in words for somebody at the screen.
#[must_use]
pub fn on_screen(refusal: &Refusal) -> String {
    match refusal {
        Refusal::NoBoard => {
            "there is no board yet: on the board W leads through the first steps".to_owned()
        }
        Refusal::CardThere { .. } => format!(
            "{there}: find it with /, and c changes it",
            there = sentence(refusal)
        ),
        Refusal::SplitCardWouldStay {
            card,
            split_card,
            place: at,
        } => format!(
            "thread of {card} is on {split_card} ({place}): w on that project's page rejoins it",
            place = place(at)
        ),
        Refusal::NoCardsYet => {
            "there are no cards yet: on the board i brings in a list, n writes one".to_owned()
        }
        Refusal::UnknownCard { name, hint: None } => format!(
            "no card '{name}' in the stash; on the board / finds it by a part of its number or name"
        ),
        Refusal::RingHangsThere { project, hook_name } => {
            format!("'{project}' hangs on {hook_name}: h in the list of rings takes it down")
        }
        Refusal::SplitCardLeft { project, cards, .. } => {
            let cards = text::list(
                cards
                    .iter()
                    .map(|(card, at)| format!("{card} ({})", place(at))),
            );
            format!("'{project}' cannot close: {cards}; w on its page rejoins that")
        }
        Refusal::SplitCardStays {
            card,
            whole,
            place: at,
            on_ring: true,
            ..
        } => format!(
            "{card} stays: {whole} is {place}; put that away first, or press w on the page",
            place = place(at)
        ),
        Refusal::AimLost { .. } => format!("{lost}: G gives it up", lost = sentence(refusal)),
        Refusal::NoThread => "say how much thread: lengths, strands or both".to_owned(),
        Refusal::RehangUnderway { done, steps } => format!(
            "a re-hang is underway, {done} of {steps} steps done: g goes on, G there gives up"
        ),
        Refusal::NoRehangUnderway => "no re-hang is underway; on the board g plans one".to_owned(),
        Refusal::NoKey(project) => {
            format!("'{project}' has no key yet: on its page i brings it in, a writes a line")
        }
        Refusal::NotCounted(project) => {
            format!("the key of '{project}' does not count those stitches: n says what was used")
        }
        Refusal::NoKeys => {
            "no project has a key yet: n begins one with it, on a page i brings it in".to_owned()
        }
        Refusal::NothingToBuy => "no skein is marked as bought; + says one more".to_owned(),
        Refusal::HeldByFamily { card, .. } => {
            format!("{card} is not held, its family is: F lists families, p there lets it go")
        }
        other => sentence(other),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::whereabouts::CardPlace;

    #[test]
    fn no_refusal_of_the_screen_names_a_command() {
        let name = || "Fox".to_owned();
        let place = CardPlace::Hand;
        for refusal in [
            Refusal::NoBoard,
            Refusal::NoCardsYet,
            Refusal::UnknownCard {
                name: name(),
                hint: None,
            },
            Refusal::RingHangsThere {
                project: name(),
                hook_name: name(),
            },
            Refusal::SplitCardLeft {
                project: name(),
                cards: vec![(name(), place.clone())],
                first: name(),
            },
            Refusal::SplitCardStays {
                card: name(),
                project: name(),
                whole: name(),
                place: place.into(),
                on_ring: true,
            },
            Refusal::NoThread,
            Refusal::RehangUnderway { done: 1, steps: 2 },
            Refusal::NoRehangUnderway,
            Refusal::NoKey(name()),
            Refusal::NotCounted(name()),
            Refusal::NoKeys,
            Refusal::AimLost { hook_name: name() },
            Refusal::HeldByFamily {
                card: name(),
                family: name(),
            },
        ] {
            let (plain, screen) = (sentence(&refusal), on_screen(&refusal));
            assert_ne!(plain, screen, "no key is named");
            for text in [plain, screen] {
                assert!(!text.contains("homehook") && !text.contains("--"), "{text}");
            }
        }
    }
}
