//! The board as plain text: as a list for reading aloud, and as a picture.

use jiff::Timestamp;
use jiff::tz::TimeZone;
use unicode_width::UnicodeWidthStr;

use super::output::Output;
use crate::model::board::{Board, HookRef, ReadingOrder};
use crate::model::ring::{Ring, RingState};
use crate::stash::state::State;
use crate::stash::whereabouts::Counts;
use crate::text::{self, one_or_many};
pub(crate) use crate::tui::view::day_and_time as at;

/// The width to which the picture's cells are cut, in columns.
const WIDEST: usize = 9;

/// A board's name and size in words.
pub(crate) fn heading(board: &Board) -> String {
    let places = match board.cards_per_hook {
        1 => "1 card per hook".to_owned(),
        places => format!("{places} cards per hook"),
    };
    let reading = match board.reading {
        ReadingOrder::Rows => "read row by row",
        ReadingOrder::Columns => "read column by column",
        ReadingOrder::ThereAndBack => "read there and back",
    };
    let rows = match board.rows {
        1 => "1 row".to_owned(),
        n => format!("{n} rows"),
    };
    let hooks = match board.columns {
        1 => "1 hook".to_owned(),
        n => format!("{n} hooks"),
    };
    format!(
        "{name}: {rows} of {hooks}, {places}, {reading}",
        name = board.name
    )
}

/// A board in words, one line for each row of hooks: which cards belong there, what is free or
/// blocked, and which cards are away. Combines neighbouring free hooks.
pub(crate) fn list(state: &State, board: &Board) -> Vec<String> {
    (0..board.rows)
        .map(|row| {
            let mut parts: Vec<String> = Vec::new();
            let mut free: Option<(String, String)> = None;
            for column in 0..board.columns {
                let hook = board.hook(row, column);
                let hook_name = board.hook_name(hook);
                let homes = state.index().homes_on(hook);
                let ring = hangs_at(state, hook);
                let reserved = board.reserved(hook);
                if board.blocked(hook).is_none() && homes.is_empty() && ring.is_none() && !reserved
                {
                    let first = free
                        .take()
                        .map_or_else(|| hook_name.clone(), |(first, _)| first);
                    free = Some((first, hook_name));
                    continue;
                }
                parts.extend(free.take().map(free_run));
                parts.push(format!("{hook_name} {}", hook_line(state, board, hook)));
            }
            parts.extend(free.take().map(free_run));
            format!(
                "Row {row}: {list}",
                row = Board::row_letters(row),
                list = parts.join(", ")
            )
        })
        .collect()
}

fn free_run((first, last): (String, String)) -> String {
    if first == last {
        format!("{first} free")
    } else {
        format!("{first} to {last} free")
    }
}

fn hook_line(state: &State, board: &Board, hook: HookRef) -> String {
    if let Some(why) = board.blocked(hook) {
        return format!("blocked ({why})");
    }
    let homes = state.in_wanted_order(state.homes_on(hook));
    let mut cards: Vec<String> = homes
        .into_iter()
        .map(|kept| {
            let name = state.card_name(kept);
            match text::places::away_from(state, kept, hook) {
                Some(away) => format!("{name} ({away})"),
                None => name,
            }
        })
        .collect();
    match (cards.is_empty(), board.reserved(hook)) {
        (true, true) => cards.push("reserved".to_owned()),
        (true, false) => cards.push("free".to_owned()),
        (false, true) => cards.push("reserved".to_owned()),
        (false, false) => {}
    }
    let with = hangs_at(state, hook)
        .map(|ring| format!(", with the ring '{project}'", project = ring.project));
    cards.join(" and ") + &with.unwrap_or_default()
}

/// The ring that hangs on a hook.
fn hangs_at(state: &State, hook: HookRef) -> Option<&Ring> {
    let here =
        |ring: &&Ring| matches!(ring.state, RingState::Hanging { hook: at, .. } if at == hook);
    state.rings().find(here)
}

/// The meaning of the signs in [`grid`].
pub(crate) fn legend() -> &'static str {
    "447 at home   (447) out   ?447 missing   ·  free   -  reserved   \
                          ×  blocked   =  a hanging ring   + more on the hook"
}

/// A board as a picture: column numbers above, row letters on the left, each card's number on its
/// home. States are shown by signs, never by colour.
pub(crate) fn grid(state: &State, board: &Board) -> Vec<String> {
    let cells: Vec<Vec<String>> = (0..board.rows)
        .map(|row| {
            (0..board.columns)
                .map(|column| cell(state, board, board.hook(row, column)))
                .collect()
        })
        .collect();
    let width = cells.iter().flatten().map(|cell| cell.width()).max();
    let width = width.unwrap_or(0).clamp(2, WIDEST);
    let pad = |text: &str| format!("{}{text}", " ".repeat(width.saturating_sub(text.width())));
    let numbers: Vec<String> = (1..=board.columns).map(|n| pad(&n.to_string())).collect();
    let mut lines = vec![format!("   {}", numbers.join(" "))];
    for (row, cells) in (0..).zip(&cells) {
        let cells: Vec<String> = cells.iter().map(|cell| pad(cell)).collect();
        lines.push(format!(
            "{:<2} {}",
            Board::row_letters(row),
            cells.join(" ")
        ));
    }
    lines
}

fn cell(state: &State, board: &Board, hook: HookRef) -> String {
    if board.blocked(hook).is_some() {
        return "×".to_owned();
    }
    let hanging = hangs_at(state, hook).is_some();
    let ring = if hanging { "=" } else { "" };
    let homes = state.in_wanted_order(state.homes_on(hook));
    let Some(first) = homes.first() else {
        let sign = match (hanging, board.reserved(hook)) {
            (true, _) => ring,
            (false, true) => "-",
            (false, false) => "·",
        };
        return sign.to_owned();
    };
    let number = state.number_and_tag(first);
    let number: String = number.chars().take(WIDEST - 3).collect();
    let more = if homes.len() > 1 { "+" } else { "" };
    if first.place.at.hook() == Some(hook) {
        format!("{ring}{number}{more}")
    } else if first.place.at.is_missing() {
        format!("{ring}?{number}{more}")
    } else {
        format!("{ring}({number}){more}")
    }
}

/// `181 home, 12 out, 2 missing, 30 to hang, 42 free places`.
pub(crate) fn counts_line(counts: &Counts) -> String {
    format!(
        "{home} home, {away} out, {missing} missing, {to_hang} to hang, {free} free {counts}",
        home = counts.home,
        away = counts.away(),
        missing = counts.missing,
        to_hang = counts.to_hang,
        free = counts.free,
        counts = one_or_many(counts.free, "place", "places")
    )
}

/// Lists the cards whose loans are overdue.
pub(crate) fn call_out_overdue(state: &State, output: &Output) {
    let today = TimeZone::system().to_datetime(Timestamp::now()).date();
    if let Some(words) = text::places::overdue(state, today) {
        output.note("overdue", words);
    }
}

/// The open rings, one per line.
pub(crate) fn rings(state: &State, now: Timestamp) -> Vec<String> {
    let open = state.rings().filter(|ring| !ring.is_closed());
    open.map(|ring| ring_line(state, ring, now)).collect()
}

/// A ring on one line: `Harbour at Dusk: 26 cards, in use since 12 Oct (44 days)`.
pub(crate) fn ring_line(state: &State, ring: &Ring, now: Timestamp) -> String {
    let count = state.cards_on(ring).count();
    let word = one_or_many(count, "card", "cards");
    let what = match ring.state {
        RingState::Live => format!("in use {time}", time = since(ring.opened, now)),
        RingState::Hanging { hook, since } => {
            format!(
                "hanging on hook {hook} {time}",
                hook = state.hook_name(hook),
                time = self::since(since, now)
            )
        }
        RingState::Closed { at } => format!("closed {time}", time = since(at, now)),
    };
    format!("{}: {count} {word}, {what}", ring.project)
}

/// Whole days between the local calendar dates of two instants; 0 if `since` is in the future.
pub(crate) fn days(since: Timestamp, now: Timestamp) -> i32 {
    let zone = TimeZone::system();
    let date = |at: Timestamp| at.to_zoned_datetime(zone.clone()).date();
    let span = date(since).duration_until(date(now));
    i32::try_from(span.as_hours() / 24)
        .unwrap_or(i32::MAX)
        .max(0)
}

/// `since 12 Oct (44 days)`, including the year if it isn't the current one.
pub(crate) fn since(at: Timestamp, now: Timestamp) -> String {
    let zone = TimeZone::system();
    let (then, today) = (
        at.to_zoned_datetime(zone.clone()),
        now.to_zoned_datetime(zone),
    );
    let form = if then.year() == today.year() {
        "%-d %b"
    } else {
        "%-d %b %Y"
    };
    let count = days(at, now);
    let word = one_or_many(count, "day", "days");
    if count == 0 {
        "since today".to_owned()
    } else {
        format!("since {form} ({count} {word})", form = then.strftime(form))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stash::command::board::{NewBoard, Unhang, block, new_board};
    use crate::stash::command::import::{CardRow, Terms, card_list};
    use crate::stash::command::{hold, ring};
    use crate::stash::event::Event;
    use crate::stash::refusal::Refusal;
    use jiff::SignedDuration;

    /// Two rows of four hooks: one blocked, one card out, one missing, one to hang, and a ring
    /// hanging on a free hook.
    fn state() -> State {
        let now = Timestamp::UNIX_EPOCH;
        let mut state = State::default();
        let mut apply = |ask: &dyn Fn(&State) -> Result<Event, Refusal>| {
            let event = ask(&state).unwrap();
            state.apply(&event).unwrap();
        };
        apply(&|state| {
            let wanted = NewBoard {
                name: "Wall".to_owned(),
                prefix: String::new(),
                rows: 2,
                columns: 4,
                cards_per_hook: 1,
                reading: ReadingOrder::Rows,
            };
            new_board(state, &wanted)
        });
        apply(&|state| block(state, "A02", "lamp", Unhang::Refused, now));
        apply(&|state| {
            let row = |number: &str, hook: Option<&str>| CardRow {
                number: number.to_owned(),
                hook: hook.map(str::to_owned),
                ..CardRow::default()
            };
            let rows = [
                row("9", Some("A01")),
                row("701", Some("A03")),
                row("702", Some("B01")),
                row("4", None),
            ];
            let taken = card_list(state, &rows, Vec::new(), &Terms::default(), now)?;
            taken.event.ok_or(Refusal::NoRows)
        });
        apply(&|state| ring::take(state, "Mill Pond", &[state.find_card("701")?], now));
        apply(&|state| ring::hang_up(state, state.need_ring("Mill Pond")?, "B04", now));
        apply(&|state| ring::missing(state, &[state.find_card("702")?], now));
        apply(&|state| hold::reserve(state, "A01"));
        apply(&|state| hold::reserve(state, "B03"));
        state
    }

    #[test]
    fn the_list_words_match_the_signs_of_the_picture() {
        let state = state();
        let board = state.boards().next().unwrap();
        assert_eq!(
            list(&state, board),
            [
                "Row A: A01 9 and reserved, A02 blocked (lamp), A03 701 (on 'Mill Pond'), A04 free",
                "Row B: B01 702 (missing), B02 free, B03 reserved, B04 free, with the ring 'Mill Pond'",
            ]
        );
        assert_eq!(
            grid(&state, board),
            [
                "       1     2     3     4",
                "A      9     × (701)     ·",
                "B   ?702     ·     -     =",
            ]
        );
    }

    #[test]
    fn every_card_and_every_free_place_is_counted_once() {
        let counts = Counts::of(&state());
        assert_eq!(
            counts_line(&counts),
            "1 home, 1 out, 1 missing, 1 to hang, 4 free places"
        );
    }

    #[test]
    fn days_follow_the_calendar_and_are_never_negative() {
        let noon = jiff::civil::date(2026, 11, 25).at(12, 0, 0, 0);
        let now = TimeZone::system().to_timestamp(noon).unwrap();
        let ago = |hours| now - SignedDuration::from_hours(hours);
        assert_eq!(
            [ago(0), ago(11), ago(13), ago(48), ago(-48)].map(|at| days(at, now)),
            [0, 0, 1, 2, 0]
        );
        assert_eq!(since(ago(0), now), "since today");
        assert_eq!(since(ago(24), now), "since 24 Nov (1 day)");
        assert_eq!(since(ago(44 * 24), now), "since 12 Oct (44 days)");
        assert_eq!(since(ago(366 * 24), now), "since 24 Nov 2025 (366 days)");
    }

    #[test]
    fn a_time_in_another_year_is_shown_with_the_year() {
        let noon = jiff::civil::date(2026, 11, 25).at(12, 5, 0, 0);
        let now = TimeZone::system().to_timestamp(noon).unwrap();
        let ago = |hours| now - SignedDuration::from_hours(hours);
        assert_eq!(at(ago(1), now), "25 Nov 11:05");
        assert_eq!(at(ago(365 * 24), now), "25 Nov 2025 12:05");
    }
}
