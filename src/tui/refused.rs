//! What a refusal says on the screen: which key to press, where it names a command of the shell.

use crate::language::say;
use crate::stash::refusal::Refusal;

/// The refusal in words for somebody at the screen.
#[must_use]
pub fn on_screen(refusal: &Refusal) -> String {
    match refusal {
        Refusal::NoBoard => {
            say!("there is no board yet: on the board W leads through the first steps")
        }
        Refusal::CardThere { card, amount } => say!(
            "{card} is in the stash already, with {amount}: find it with /, and c changes it",
            card,
            amount
        ),
        Refusal::SpareWouldStay { card, spare, place } => say!(
            "thread of {card} is on {spare} ({place}): w on that project's page winds it back",
            card,
            spare,
            place
        ),
        Refusal::NoStock => {
            say!("there are no cards yet: on the board i brings in a list, n writes one")
        }
        Refusal::UnknownCard { name, hint } if hint.is_empty() => say!(
            "no card '{name}' in the stash; on the board / finds it by a part of its number or name",
            name
        ),
        Refusal::RingParkedThere { project, mark } => say!(
            "'{project}' is parked on {mark}: h in the list of rings takes it down",
            project,
            mark
        ),
        Refusal::SpareLeft { project, cards, .. } => say!(
            "'{project}' cannot close: {cards}; w on its page winds that back",
            project,
            cards
        ),
        Refusal::SpareStays {
            card,
            whole,
            place,
            on_ring: true,
            ..
        } => say!(
            "{card} stays: {whole} is {place}; put that away first, or press w on the page",
            card,
            whole,
            place
        ),
        Refusal::NoSpare {
            card,
            project,
            others,
        } if others.is_empty() => say!(
            "there is no spare card of {card} on the ring '{project}'",
            card,
            project
        ),
        Refusal::NoThread => say!("say how much thread: lengths, strands or both"),
        Refusal::RehangUnderway { done, steps } => say!(
            "a re-hang is underway, {done} of {steps} steps done: g goes on, G there gives up",
            done,
            steps
        ),
        Refusal::NoRehangUnderway => {
            say!("no re-hang is underway; on the board g plans one")
        }
        Refusal::NoKey(project) => say!(
            "'{project}' has no key yet: on its page i brings it in, a writes a line",
            project
        ),
        Refusal::NotInKey { name, project } => say!(
            "the key of the project '{project}' has no {name}",
            project,
            name
        ),
        Refusal::NotCounted(project) => say!(
            "the key of '{project}' does not count those stitches: n says what was used",
            project
        ),
        Refusal::NoKeys => {
            say!("no project has a key yet: n begins one with it, on a page i brings it in")
        }
        Refusal::NothingToBuy => {
            say!("no skein is marked as bought; + says one more")
        }
        Refusal::PinnedByFamily { card, .. } => say!(
            "{card} is not pinned, its family is: F lists families, p there lets it go",
            card
        ),
        other => other.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_refusal_of_the_screen_names_a_command() {
        let name = || "Fox".to_owned();
        for refusal in [
            Refusal::NoBoard,
            Refusal::NoStock,
            Refusal::UnknownCard {
                name: name(),
                hint: String::new(),
            },
            Refusal::RingParkedThere {
                project: name(),
                mark: name(),
            },
            Refusal::SpareLeft {
                project: name(),
                cards: name(),
                first: name(),
            },
            Refusal::SpareStays {
                card: name(),
                project: name(),
                whole: name(),
                place: name(),
                on_ring: true,
            },
            Refusal::NoSpare {
                card: name(),
                project: name(),
                others: String::new(),
            },
            Refusal::NoThread,
            Refusal::RehangUnderway { done: 1, steps: 2 },
            Refusal::NoRehangUnderway,
            Refusal::NoKey(name()),
            Refusal::NotInKey {
                name: name(),
                project: name(),
            },
            Refusal::NotCounted(name()),
            Refusal::NoKeys,
            Refusal::PinnedByFamily {
                card: name(),
                family: name(),
            },
        ] {
            let (shell, screen) = (refusal.to_string(), on_screen(&refusal));
            assert!(
                shell.contains("homehook") || shell.contains("--"),
                "{shell}"
            );
            assert!(
                !screen.contains("homehook") && !screen.contains("--"),
                "{screen}"
            );
        }
    }
}
