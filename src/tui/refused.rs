//! Refusals on the screen, which name a key where the shell names a command.

use crate::stash::refusal::Refusal;
use crate::text;
use crate::text::places::place;
use crate::text::refusal::sentence;

/// The refusal as a sentence for the screen.
#[must_use]
pub fn on_screen(refusal: &Refusal) -> String {
    match refusal {
        Refusal::NoBoard => {
            "There is no board yet. On the board, W leads through the first steps.".to_owned()
        }
        Refusal::CardThere { .. } => format!(
            "{there} Find it with / and change it with c.",
            there = sentence(refusal)
        ),
        Refusal::SplitCardWouldStay {
            card,
            split_card,
            place: at,
        } => format!(
            "Thread of {card} is on {split_card} ({place}). Rejoin it with w on that project's page.",
            place = place(at)
        ),
        Refusal::NoCardsYet => {
            "There are no cards yet. On the board, i imports a list and n writes one card."
                .to_owned()
        }
        Refusal::UnknownCard { name, hint: None } => format!(
            "No card '{name}' in the stash. On the board, / finds it by a part of its number or name."
        ),
        Refusal::RingHangsThere { project, hook_name } => {
            format!("'{project}' hangs on {hook_name}. Take it down with h in the list of rings.")
        }
        Refusal::SplitCardLeft { project, cards, .. } => {
            let cards = text::list(
                cards
                    .iter()
                    .map(|(card, at)| format!("{card} ({})", place(at))),
            );
            format!("'{project}' can't close: {cards}. Rejoin that with w on its page.")
        }
        // Three names, so that the notice leaves the list readable.
        Refusal::Unaccounted { project, cards } if cards.len() > 3 => {
            let names = cards.iter().take(3).map(|(card, _)| card.as_str());
            format!(
                "'{project}' can't close: {names} and {more} more are out. Put them away with p, or mark them as missing.",
                names = names.collect::<Vec<_>>().join(", "),
                more = cards.len() - 3
            )
        }
        Refusal::SplitCardStays {
            card,
            whole,
            place: at,
            ..
        } if at.is_on_ring() => format!(
            "{card} stays: {whole} is {place}. Put that away first, or press w on the page.",
            place = place(at)
        ),
        Refusal::AimLost { .. } => format!("{lost} Give it up with G.", lost = sentence(refusal)),
        Refusal::NoThread => "No amount is given. Write lengths, strands or both.".to_owned(),
        Refusal::RehangUnderway { done, steps } => format!(
            "A re-hang is underway, {done} of {steps} steps done. Press g to go on, then G to give it up."
        ),
        Refusal::NoRehangUnderway => {
            "No re-hang is underway. On the board, g plans one.".to_owned()
        }
        Refusal::NoKey(project) => {
            format!(
                "'{project}' has no chart key yet. On its page, i imports it and a adds a line."
            )
        }
        Refusal::NotCounted(project) => {
            format!(
                "The key of '{project}' doesn't count those stitches. Note what you used with n."
            )
        }
        Refusal::NoKeys => {
            "No project has a key yet. Begin one with n, or import a key with i on a page."
                .to_owned()
        }
        Refusal::NothingToBuy => "No skein is marked as bought. Mark one with +.".to_owned(),
        Refusal::HeldByFamily { card, .. } => {
            format!("{card} isn't held, its family is. F lists families, and p there releases it.")
        }
        other => sentence(other),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::whereabouts::CardPlace;

    #[test]
    fn screen_refusals_name_keys_not_commands() {
        let name = || "Fox".to_owned();
        let place = CardPlace::Ring {
            project: name(),
            hangs_on: None,
        };
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
                place: place.clone().into(),
            },
            Refusal::Unaccounted {
                project: name(),
                cards: vec![(name(), place.clone()); 4],
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
            assert!(screen.ends_with('.') && !screen.contains("; "), "{screen}");
            for text in [plain, screen] {
                assert!(!text.contains("homehook") && !text.contains("--"), "{text}");
            }
        }
    }
}
