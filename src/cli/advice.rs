//! What to type when a command was refused.

use crate::stash::refusal::Refusal;
use crate::text::refusal::sentence;

/// The refusal for somebody at the shell: what happened, and the command that helps.
#[must_use]
pub fn with_advice(refusal: &Refusal) -> String {
    format!("{}{}", sentence(refusal), advice(refusal))
}

/// What follows the sentence; nothing where that says what to do.
fn advice(refusal: &Refusal) -> String {
    match refusal {
        Refusal::NoBoard => {
            "; put one up first: homehook board new NAME --rows R --columns C".to_owned()
        }
        Refusal::SharedHookName { .. } => {
            "; give the new board hooks of its own with --prefix, such as --prefix 2-".to_owned()
        }
        Refusal::StillHanging { .. } => "; add --unhang to put what hangs there with the cards to \
             hang, to be hung again by a re-hang"
            .to_owned(),
        Refusal::RingHangsThere { project, .. } => {
            format!(": homehook ring take-down \"{project}\"")
        }
        Refusal::UnknownCard { hint: None, .. } => {
            "; to look for it by a part of its number or name: homehook find TEXT".to_owned()
        }
        Refusal::NoCardsYet => "; import them: homehook import cards FILE".to_owned(),
        Refusal::SplitCardLeft { project, first, .. } => {
            format!(": homehook ring rejoin \"{project}\" {first}")
        }
        Refusal::SplitCardStays {
            card,
            project,
            whole,
            on_ring: true,
            ..
        } => format!(
            "; put {whole} away first, or rejoin them where they are: homehook ring rejoin \
             \"{project}\" \"{card}\""
        ),
        Refusal::SplitCardStays { whole, .. } => {
            format!("; when {whole} turns up, say first that it is found")
        }
        Refusal::NoSplitCard { others, .. } if others.is_empty() => {
            "; 'homehook ring list' shows what is on the rings".to_owned()
        }
        Refusal::NoThread | Refusal::NotCounted(_) => {
            ": --lengths N, --strands N or both".to_owned()
        }
        Refusal::RehangUnderway { .. } => "; go on with: homehook rehang --go-on, or end it with: \
             homehook rehang --give-up"
            .to_owned(),
        Refusal::NoRehangUnderway => "; plan one with: homehook rehang".to_owned(),
        Refusal::AimLost { .. } => {
            "; end it with: homehook rehang --give-up, then plan again".to_owned()
        }
        Refusal::NoKey(project) => {
            format!("; import it: homehook import key FILE --project \"{project}\"")
        }
        Refusal::NoKeys => "; import one: homehook import key FILE --project NAME".to_owned(),
        Refusal::NotInKey { project, .. } => {
            format!("; 'homehook ring key \"{project}\"' shows what it has")
        }
        Refusal::NothingToBuy => "; say what you bought as CARD=SKEINS, such as 310=1".to_owned(),
        Refusal::NotSkeins(_) => "; write CARD=SKEINS, such as 310=2, from 1 to 1000".to_owned(),
        Refusal::HeldByFamily { family, .. } => {
            format!("; let it go with: homehook release --family \"{family}\"")
        }
        _ => String::new(),
    }
}
