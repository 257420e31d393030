//! What there is to know before a card is hung, in words.

use super::Hanging;
use crate::model::family::WallOrder;
use crate::model::whereabouts::Whereabouts;
use crate::stash::names::list;
use crate::stash::state::CardState;

impl Hanging<'_> {
    /// Where it goes and between which cards: `Card 310 goes to B03, between 300 on B02 and 320 on
    /// B05`; without a full stop.
    #[must_use]
    pub fn in_words(&self) -> String {
        let (state, name) = (self.state, self.state.card_name(self.kept));
        let beside = match self.beside.as_slice() {
            [] => String::new(),
            cards => format!(
                " with {list}",
                list = list(cards.iter().map(|c| state.card_name(c)))
            ),
        };
        let between = self.between((self.before, self.after));
        let goes = format!(
            "Card {name} goes to {hook_name}{beside}{between}",
            hook_name = self.hook_name()
        );
        let by_family = state.order() != WallOrder::Number && !state.families().is_empty();
        if by_family && state.family_of(self.kept).is_none() {
            return format!(
                "{goes}; it has no family or colour yet, so its place is after all families"
            );
        }
        goes
    }

    /// Whether that keeps the order, and where it belongs if not; without a full stop.
    #[must_use]
    pub fn order_in_words(&self) -> String {
        if self.keeps_order {
            return "That keeps the order".to_owned();
        }
        let belongs = self.between(self.belongs);
        let belongs = belongs.trim_start_matches([',', ' ']);
        format!("That breaks the order: it belongs {belongs}")
    }

    /// What becomes of the mark written on the card; without a full stop.
    #[must_use]
    pub fn label_in_words(&self) -> String {
        let hook_name = self.hook_name();
        if self.kept.home == Some(self.hook) {
            return format!("Its label says {hook_name} already");
        }
        if self.is_moved() {
            return format!("Write {hook_name} on its label");
        }
        let place = self.state.place_in_words(self.kept);
        let when = match self.kept.place.at {
            Whereabouts::Ring { .. } => "its label must say",
            _ => "when it turns up, its label must say",
        };
        format!("It is {place}: only its home changes; {when} {hook_name}")
    }

    /// What else the person should know, each without a full stop: of reserved hooks, holds, what
    /// hangs there already, and a re-hang underway.
    #[must_use]
    pub fn warnings(&self) -> Vec<String> {
        let (state, hook_name) = (self.state, self.hook_name());
        let mut said = Vec::new();
        let board = state.board(self.hook.board);
        if board.is_some_and(|board| board.reserved(self.hook)) {
            said.push(format!(
                "{hook_name} is reserved: a re-hang gives the card another home"
            ));
        }
        if state.stays(self.kept) {
            let stays = format!("It is held, and stays so on {hook_name}");
            said.push(if self.keeps_order {
                stays
            } else {
                format!("{stays}: out of order, re-hangs may find no way around it")
            });
        }
        let strangers: Vec<&CardState> = state
            .hanging_on(self.hook)
            .filter(|other| other.home != Some(self.hook) && other.card.id != self.kept.card.id)
            .collect();
        if !strangers.is_empty() {
            let names = list(strangers.iter().map(|other| state.card_name(other)));
            said.push(format!("Not its home, but there hangs {names}"));
        }
        for ring in self.hanging() {
            said.push(format!(
                "The ring '{project}' hangs there",
                project = ring.project
            ));
        }
        said.extend(self.underway());
        said
    }

    /// What it does to a re-hang that is underway.
    fn underway(&self) -> Option<String> {
        let state = self.state;
        let homes = &state.underway()?.homes;
        let own = homes.iter().find(|(card, _)| *card == self.kept.card.id);
        if let Some((_, aim)) = own.filter(|(_, aim)| *aim != self.hook) {
            let aim = state.hook_name(*aim);
            return Some(format!("The re-hang underway takes it from there to {aim}"));
        }
        let coming = |(card, aim): &&(_, _)| {
            *aim == self.hook
                && *card != self.kept.card.id
                && state
                    .card(*card)
                    .is_some_and(|kept| kept.home != Some(self.hook))
        };
        let leaving = |kept: &&&CardState| {
            let mut aims = homes.iter().filter(|(card, _)| *card == kept.card.id);
            aims.any(|(_, aim)| *aim != self.hook)
        };
        let comes = homes.iter().filter(coming).count();
        let stay = self.beside.len() - self.beside.iter().filter(leaving).count();
        let is_full = comes > 0 && comes + stay + 1 > usize::from(state.capacity(self.hook));
        is_full.then(|| "The re-hang underway wants that place and cannot go on then".to_owned())
    }

    /// All there is to know, in whole sentences.
    #[must_use]
    pub fn all_in_words(&self) -> Vec<String> {
        let first = [
            self.in_words(),
            self.order_in_words(),
            self.label_in_words(),
        ];
        let all = first.into_iter().chain(self.warnings());
        all.map(|said| format!("{said}.")).collect()
    }

    fn hook_name(&self) -> String {
        self.state.hook_name(self.hook)
    }

    /// `, between 300 on B02 and 320 on B05`; nothing where there is nothing on either side.
    fn between(&self, sides: (Option<&CardState>, Option<&CardState>)) -> String {
        let say = |kept: &CardState| {
            let home = kept.home.map(|hook| self.state.hook_name(hook));
            let name = self.state.card_name(kept);
            format!("{name} on {home}", home = home.unwrap_or_default())
        };
        match sides {
            (None, None) => String::new(),
            (Some(before), None) => format!(", after {card}", card = say(before)),
            (None, Some(after)) => format!(", before {card}", card = say(after)),
            (Some(before), Some(after)) => format!(
                ", between {card} and {other}",
                card = say(before),
                other = say(after)
            ),
        }
    }
}
