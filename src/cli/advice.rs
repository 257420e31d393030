//! What to type when a command was refused.

use crate::stash::refusal::Refusal;
use crate::text::refusal::sentence;

/// The refusal for somebody at the shell: what happened, and the command that helps.
#[must_use]
pub(crate) fn with_advice(refusal: &Refusal) -> String {
    match advice(refusal) {
        Some(advice) => format!("{what} {advice}", what = sentence(refusal)),
        None => sentence(refusal),
    }
}

/// A sentence with the command or the option that helps, without a full stop after it, so that it can
/// be copied.
fn advice(refusal: &Refusal) -> Option<String> {
    Some(match refusal {
        Refusal::NoBoard => {
            "Put one up first: homehook board new NAME --rows R --columns C".to_owned()
        }
        Refusal::SharedHookName { .. } => {
            "Give the new board hooks of its own with --prefix, such as --prefix 2-".to_owned()
        }
        Refusal::StillHanging { .. } => {
            "To put what hangs there with the cards to hang, add --unhang".to_owned()
        }
        Refusal::RingHangsThere { project, .. } => {
            format!("Take it down first: homehook ring take-down \"{project}\"")
        }
        Refusal::UnknownCard { hint: None, .. } => {
            "Look for it by a part of its number or name: homehook find TEXT".to_owned()
        }
        Refusal::NoCardsYet => "Import them: homehook import cards FILE".to_owned(),
        Refusal::SplitCardLeft { project, first, .. } => {
            format!("Rejoin the thread with its card: homehook ring rejoin \"{project}\" {first}")
        }
        Refusal::SplitCardStays {
            card,
            project,
            whole,
            on_ring: true,
            ..
        } => format!(
            "Put {whole} away first, or rejoin them where they are: homehook ring rejoin \
             \"{project}\" \"{card}\""
        ),
        Refusal::SplitCardStays { whole, .. } => {
            format!("When {whole} turns up, mark it as found first: homehook found \"{whole}\"")
        }
        Refusal::NoSplitCard { others, .. } if others.is_empty() => {
            "See what is on the rings: homehook ring list".to_owned()
        }
        Refusal::NoThread => "Add --lengths N, --strands N or both".to_owned(),
        Refusal::NotCounted(_) => {
            "Give the thread used in place of a part: --lengths N, --strands N or both".to_owned()
        }
        Refusal::RehangUnderway { .. } => "Go on with homehook rehang --go-on, or end it with \
                                           homehook rehang --give-up"
            .to_owned(),
        Refusal::NoRehangUnderway => "Plan one: homehook rehang".to_owned(),
        Refusal::AimLost { .. } => "End it, then plan again: homehook rehang --give-up".to_owned(),
        Refusal::NoKey(project) => {
            format!("Import it: homehook import key FILE --project \"{project}\"")
        }
        Refusal::NoKeys => "Import one: homehook import key FILE --project NAME".to_owned(),
        Refusal::NotInKey { project, .. } => {
            format!("See what it has: homehook ring key \"{project}\"")
        }
        Refusal::NothingToBuy => "Name what you bought as CARD=SKEINS, such as 310=1".to_owned(),
        Refusal::NotSkeins(_) => "Write CARD=SKEINS, such as 310=2, from 1 to 1000".to_owned(),
        Refusal::HeldByFamily { family, .. } => {
            format!("Release the family: homehook release --family \"{family}\"")
        }
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn advice_is_a_sentence_of_its_own_after_the_refusal() {
        let name = || "Fox".to_owned();
        for (refusal, expected) in [
            (
                Refusal::NoCardsYet,
                "There are no cards in the stash yet. Import them: homehook import cards FILE",
            ),
            (
                Refusal::NoKey(name()),
                "The project 'Fox' has no key yet. Import it: homehook import key FILE --project \
                 \"Fox\"",
            ),
            (
                Refusal::RingHangsThere {
                    project: name(),
                    hook_name: "A01".to_owned(),
                },
                "The ring 'Fox' hangs on hook A01. Take it down first: homehook ring take-down \
                 \"Fox\"",
            ),
            (
                Refusal::NotHanging(name()),
                "The ring 'Fox' isn't hanging on a hook.",
            ),
        ] {
            assert_eq!(with_advice(&refusal), expected);
        }
    }
}
