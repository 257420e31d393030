//! A card list before it is imported: what its columns mean, and the result they give.

use std::collections::{HashMap, HashSet};
use std::sync::Arc;

use jiff::Timestamp;

use crate::exchange::{Column, Plain, Warning, look_over, plain, read_cards_as};
use crate::model::colour::Srgb;
use crate::model::ids::CardId;
use crate::stash::colours::lookalikes;
use crate::stash::command::import::{self, Amount, AmountSaid, CardRow, Outcome, Terms};
use crate::stash::refusal::{Refusal, Rejected};
use crate::stash::state::State;
use crate::text;
use crate::text::files::{self, file_error, warning};
use crate::text::one_or_many;
use crate::text::refusal::row_fault;
use crate::tui::refused::on_screen;
use crate::tui::screens::columns::ColumnsPage;

/// Lines of each kind kept for the preview.
const SHOWN: usize = 500;
/// Lines named in the message after an import.
const NAMED: usize = 8;

/// The meaning of a list's amounts.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Amounts {
    /// Purchased thread, which is added.
    Purchase,
    /// Thread owned now, which replaces the recorded amount.
    Owned,
}

/// The kind of a preview line.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Part {
    /// Warnings about how the file was read.
    ToCheck,
    /// Rejected lines.
    Refused,
    /// Values left out.
    LeftOut,
    /// Existing cards, and the effect on their thread.
    Here,
    /// Accepted lines.
    Taken,
}

/// A line of the preview.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Entry {
    /// Its kind.
    pub part: Part,
    /// The line of the file, shown first; may be empty.
    pub head: String,
    /// A card's number; may be empty.
    pub number: String,
    /// The colour shown beside it.
    pub colour: Option<Srgb>,
    /// Its text.
    pub words: String,
}

impl Entry {
    /// A warning about how the file was read.
    fn to_check(words: &str) -> Self {
        Self {
            part: Part::ToCheck,
            head: String::new(),
            number: String::new(),
            colour: None,
            words: words.to_owned(),
        }
    }
}

/// The result of the list with its current columns.
#[derive(Clone, Debug)]
pub struct Judged {
    /// The preview, in order.
    pub entries: Vec<Entry>,
    /// Number of rejected lines, shown or not.
    pub refused: usize,
    /// Number of values left out.
    pub doubts: usize,
    /// Number of accepted lines.
    pub taken: usize,
    /// Lines named after the import: rejected ones, and ones with a value left out.
    named: [Vec<u64>; 2],
    /// The result of the accepted lines; `None` if there are none.
    pub outcome: Option<Outcome>,
    /// Whether the boards are too small for all the cards there would be.
    pub crowded: bool,
    /// The column titles that make it look like a chart key.
    pub key_titles: Vec<String>,
}

/// The effect on a card's thread for either meaning of the list.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct EitherWay {
    /// If the list is a purchase.
    pub purchase: AmountSaid,
    /// If it is what is owned now.
    pub owned: AmountSaid,
}

/// A card list with matched columns.
#[derive(Clone, Debug)]
pub struct CardList {
    /// The path, as requested.
    pub path: String,
    /// Its columns and their meanings.
    pub page: ColumnsPage,
    /// The range of rows that name none; may be empty.
    pub range: String,
    /// The sheet, if one was chosen.
    sheet: Option<String>,
    /// The file's contents, as UTF-8 text.
    bytes: Arc<[u8]>,
    /// Warnings about how it was read.
    to_check: Vec<String>,
    /// Index of the first preview line shown.
    pub top: usize,
    /// The meaning of its amounts, if chosen.
    pub amounts: Option<Amounts>,
    /// Its result, or the problem with the columns.
    pub judged: Result<Judged, String>,
    /// Whether the file has no readable columns until it is corrected.
    pub unreadable: bool,
}

/// The contents of a row besides its number, on one line.
#[must_use]
pub fn row_summary(row: &CardRow) -> String {
    let mut parts: Vec<String> = Vec::new();
    let mut say = |text: Option<String>| parts.extend(text);
    say(row.name.clone());
    say(row.family.clone());
    say(row.amount.map(|amount| match amount {
        Amount::Lengths(1.0) => "1 length".to_owned(),
        Amount::Lengths(n) => format!("{n} lengths"),
        Amount::Skeins(1.0) => "1 skein".to_owned(),
        Amount::Skeins(n) => format!("{n} skeins"),
    }));
    say(row.uncut.map(|n| format!("{n} uncut")));
    let part = row.part_cm.filter(|cm| *cm > 0);
    say(part.map(|cm| format!("{} part-used", text::thread::metres(cm))));
    say(row.dye_lot.as_ref().map(|lot| format!("lot {lot}")));
    say(row.hook.as_ref().map(|hook_name| format!("on {hook_name}")));
    say(row
        .split_card_of
        .as_ref()
        .map(|of| format!("split of {of}")));
    say(row.note.clone());
    say(row.range.clone());
    parts.join(" · ")
}

impl CardList {
    /// The columns of a file, with guessed meanings.
    ///
    /// # Errors
    /// Why the file isn't a list.
    pub fn new(
        state: &State,
        (path, file, range): (String, String, String),
        (bytes, sheet): (Vec<u8>, Option<&str>),
        now: Timestamp,
    ) -> Result<Self, String> {
        let Plain { text, source } = plain(bytes, sheet).map_err(|error| file_error(&error))?;
        let found = look_over(text.as_bytes(), &Column::OF_CARD_LIST);
        let mut found = found.map_err(|error| file_error(&error))?;
        found.know_ranges(|name| state.find_range(name).is_some());
        let mut list = Self {
            path,
            page: ColumnsPage::new(file, found),
            range,
            sheet: sheet.map(ToOwned::to_owned),
            bytes: text.into_bytes().into(),
            to_check: files::to_check(&source),
            top: 0,
            amounts: None,
            judged: Err(String::new()),
            unreadable: false,
        };
        list.judge(state, now);
        Ok(list)
    }

    /// Replaces the contents of the file. The chosen columns stay if their number is unchanged.
    ///
    /// # Errors
    /// Why the file isn't a list.
    pub fn read_again(
        &self,
        state: &State,
        bytes: Vec<u8>,
        now: Timestamp,
    ) -> Result<Self, String> {
        let named = (
            self.path.clone(),
            self.page.file.clone(),
            self.range.clone(),
        );
        let mut again = Self::new(state, named, (bytes, self.sheet.as_deref()), now)?;
        if again.page.found.count() == self.page.found.count() {
            again.page.columns = self.page.columns.clone();
            again.page.at = self.page.at;
            again.judge(state, now);
        }
        Ok(again)
    }

    /// The message after an import: the result and the lines left out. `None` if nothing was left
    /// out.
    #[must_use]
    pub fn imported(&self) -> Option<String> {
        let judged = self.judged.as_ref().ok()?;
        if judged.refused == 0 && judged.doubts == 0 {
            return None;
        }
        let outcome = judged.outcome.as_ref();
        let count = outcome.map_or(0, |outcome| outcome.added + outcome.changed);
        let mut said = vec![format!("{cards} imported", cards = text::cards(count))];
        let lines = |of: &[u64], all: usize| {
            let mut first: Vec<String> = of.iter().map(ToString::to_string).collect();
            if all > first.len() {
                first.push("…".to_owned());
            }
            first.join(", ")
        };
        let [rejected, doubtful] = &judged.named;
        match judged.refused {
            0 => {}
            1 => said.push(format!("line {} was left out", lines(rejected, 1))),
            n => said.push(format!("{n} lines were left out: {}", lines(rejected, n))),
        }
        match judged.doubts {
            0 => {}
            1 => said.push(format!(
                "a value on line {} couldn't be read",
                lines(doubtful, 1)
            )),
            n => said.push(format!(
                "{n} values couldn't be read, on lines {}",
                lines(doubtful, n)
            )),
        }
        Some(said.join("; "))
    }

    /// Computes the result of the list. O(size of the file).
    pub fn judge(&mut self, state: &State, now: Timestamp) {
        self.judged = self.judgement(state, now);
    }

    fn judgement(&mut self, state: &State, now: Timestamp) -> Result<Judged, String> {
        self.unreadable = false;
        if let Some(problem) = self.page.problem() {
            return Err(problem);
        }
        let columns = &self.page.columns;
        let list = match read_cards_as(&self.bytes, columns) {
            Ok(list) => list,
            Err(error) => {
                self.unreadable = true;
                return Err(file_error(&error));
            }
        };
        let unreadable = files::rejected(&list.rejected);
        let outcome = match self.outcome(state, &list.rows, unreadable, self.amounts, now) {
            Ok(outcome) => Ok(outcome),
            Err(Refusal::RowsRejected { every, .. }) => Err(every),
            Err(refusal) => return Err(on_screen(&refusal)),
        };
        let rejected = match &outcome {
            Ok(outcome) => &outcome.rejected,
            Err(every) => every,
        };
        let warnings = list.warnings_beside(rejected.iter().map(|row| row.line));
        let lines: HashSet<u64> = rejected.iter().map(|row| row.line).collect();
        let taken = list.rows.iter().filter(|row| !lines.contains(&row.line));
        let refused = rejected.len();
        let named = [
            rejected.iter().map(|row| row.line).take(NAMED).collect(),
            warnings.iter().map(|told| told.line).take(NAMED).collect(),
        ];
        let amounts = outcome.as_ref().map_or(&[][..], |outcome| &outcome.amounts);
        let amounts = if self.amounts.is_some() { amounts } else { &[] };
        let mut entries = entries(state, rejected, &warnings, amounts, taken.clone());
        let event = outcome.as_ref().ok().and_then(|of| of.event.as_ref());
        let similar = event.map_or_else(Vec::new, |event| lookalikes(state, event));
        let similar = similar.iter().take(SHOWN).map(text::lookalike);
        let checks = self.to_check.iter().cloned().chain(similar);
        entries.splice(0..0, checks.map(|words| Entry::to_check(&words)));
        let (doubts, taken) = (warnings.len(), taken.count());
        let outcome = outcome.ok();
        let added = outcome.as_ref().map_or(0, |outcome| outcome.added);
        // Split cards need no hook, and the outcome doesn't say how many the list has.
        let crowded =
            !columns.uses.contains(&Some(Column::SplitCardOf)) && is_crowded(state, added);
        Ok(Judged {
            entries,
            refused,
            doubts,
            taken,
            named,
            outcome,
            crowded,
            key_titles: list.titles_of_chart_key(),
        })
    }

    fn outcome(
        &self,
        state: &State,
        rows: &[CardRow],
        unreadable: Vec<Rejected>,
        amounts: Option<Amounts>,
        now: Timestamp,
    ) -> Result<Outcome, Refusal> {
        let terms = Terms {
            range: Some(self.range.clone()).filter(|range| !range.is_empty()),
            add: amounts == Some(Amounts::Purchase),
            ..Terms::default()
        };
        import::card_list(state, rows, unreadable, &terms, now)
    }

    /// The effect on existing cards, for either meaning of the amounts. O(size of the file).
    #[must_use]
    pub fn either_way(&self, state: &State, now: Timestamp) -> Vec<EitherWay> {
        let Ok(list) = read_cards_as(&self.bytes, &self.page.columns) else {
            return Vec::new();
        };
        let of = |amounts| {
            let unreadable = files::rejected(&list.rejected);
            let outcome = self.outcome(state, &list.rows, unreadable, Some(amounts), now);
            outcome.map_or_else(|_| Vec::new(), |outcome| outcome.amounts)
        };
        let owned = of(Amounts::Owned);
        let owned: HashMap<CardId, AmountSaid> =
            owned.into_iter().map(|of| (of.card, of)).collect();
        let purchase = of(Amounts::Purchase).into_iter();
        let both = purchase.filter_map(|purchase| {
            let owned = owned.get(&purchase.card)?.clone();
            Some(EitherWay { purchase, owned })
        });
        both.collect()
    }
}

/// The preview of a list: the first lines of each kind.
fn entries<'a>(
    state: &State,
    rejected: &[Rejected],
    warnings: &[Warning],
    amounts: &[AmountSaid],
    taken: impl Iterator<Item = &'a CardRow>,
) -> Vec<Entry> {
    let line = |part, line: u64, words| Entry {
        part,
        head: format!("line {line}"),
        number: String::new(),
        colour: None,
        words,
    };
    let mut entries: Vec<Entry> = rejected
        .iter()
        .take(SHOWN)
        .map(|row| line(Part::Refused, row.line, row_fault(&row.reason)))
        .collect();
    let doubtful = warnings.iter().take(SHOWN);
    entries.extend(doubtful.map(|told| line(Part::LeftOut, told.line, warning(told))));
    let here = amounts.iter().take(SHOWN).filter_map(|of| {
        let kept = state.card(of.card)?;
        let (before, after) = text::thread::before_and_after(state, of)?;
        Some(Entry {
            part: Part::Here,
            head: String::new(),
            number: state.number_and_tag(kept).into_owned(),
            colour: kept.card.colour,
            words: format!("{before} → {after}"),
        })
    });
    entries.extend(here);
    entries.extend(taken.take(SHOWN).map(|row| Entry {
        number: row.number.clone(),
        colour: row.colour,
        ..line(Part::Taken, row.line, row_summary(row))
    }));
    entries
}

impl Judged {
    /// The number of lines of a kind, shown or not.
    #[must_use]
    pub fn count(&self, part: Part) -> usize {
        match part {
            Part::ToCheck => {
                let checks = self.entries.iter().filter(|entry| entry.part == part);
                checks.count()
            }
            Part::Refused => self.refused,
            Part::LeftOut => self.doubts,
            Part::Here => self
                .outcome
                .as_ref()
                .map_or(0, |outcome| outcome.amounts.len()),
            Part::Taken => self.taken,
        }
    }

    /// The heading above the lines of a kind.
    #[must_use]
    pub fn heading(&self, part: Part) -> String {
        let count = self.count(part);
        match part {
            Part::ToCheck => "To check:".to_owned(),
            Part::Refused => format!(
                "{count} {} can't be taken:",
                one_or_many(count, "line", "lines")
            ),
            Part::LeftOut if count == 1 => {
                "A value can't be read; its card is imported without:".to_owned()
            }
            Part::LeftOut => {
                format!("{count} values can't be read; their cards are imported without:")
            }
            Part::Here if count == 1 => "A card that is here:".to_owned(),
            Part::Here => format!("{count} cards that are here:"),
            Part::Taken => "Preview:".to_owned(),
        }
    }
}

/// Whether there are boards, but too small for this many more cards. O(hooks + cards).
fn is_crowded(state: &State, added: u32) -> bool {
    let places = state.hooks().map(|hook| usize::from(state.capacity(hook)));
    let cards = state.cards().filter(|kept| kept.card.parent.is_none());
    let wanted = cards.count() + usize::try_from(added).unwrap_or(usize::MAX);
    state.boards().len() > 0 && wanted > places.sum()
}
