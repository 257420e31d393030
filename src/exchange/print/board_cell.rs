//! One hook on the map of a board.

use super::mm::{Area, Mm};
use super::page::{About, Align, BLACK, BOLD, CUT, Item, PLAIN, Pen};
use super::paper::tint;
use super::regions::{Region, Regions};
use crate::model::board::{Board, HookRef};
use crate::model::ring::RingState;
use crate::model::whereabouts::Whereabouts;
use crate::stash::state::{CardState, State};

/// What is drawn beside a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sign {
    /// An empty disc: the card is out on a ring.
    Out,
    /// A cross: the card is missing.
    Missing,
    /// An empty square: the card is elsewhere.
    Elsewhere,
    /// An arrow: a card that lives elsewhere hangs here.
    Guest,
    /// A disc with a dot: a ring hangs here.
    Hanging,
}

/// Draws a sign into a square.
pub fn sign(item: &mut Item, at: Area, sign: Sign) {
    let pen = Pen::line(25, BLACK);
    let at = at.inset(Mm::hundredths(15));
    match sign {
        Sign::Out => item.disc(at, None, Some(pen)),
        Sign::Missing => item.cross(at, Pen::line(40, BLACK)),
        Sign::Elsewhere => item.rect(at, None, Some(pen)),
        Sign::Guest => {
            let middle = at.y + at.h / 2;
            let tip = (at.right(), middle);
            item.line((at.x, middle), tip, pen);
            item.line((at.x + at.w / 2, at.y), tip, pen);
            item.line((at.x + at.w / 2, at.bottom()), tip, pen);
        }
        Sign::Hanging => {
            item.disc(at, None, Some(pen));
            item.disc(at.inset(at.w / 3), Some(BLACK), None);
        }
    }
}

/// A hook, ready to be drawn.
pub struct Cell<'a> {
    hook: HookRef,
    hook_name: String,
    blocked: Option<&'a str>,
    reserved: bool,
    region: Option<&'a Region>,
    codes: String,
    lines: Vec<(Option<Sign>, String)>,
    free: usize,
    /// Whether the hook at the left and the one above are of the same family.
    goes_on: (bool, bool),
}

fn sign_of(kept: &CardState, hook: HookRef) -> Option<Sign> {
    match kept.place.at {
        Whereabouts::Hook { hook: at } if at == hook => None,
        Whereabouts::Ring { .. } => Some(Sign::Out),
        Whereabouts::Missing { .. } => Some(Sign::Missing),
        _ => Some(Sign::Elsewhere),
    }
}

impl<'a> Cell<'a> {
    /// What is on a hook.
    pub fn of(state: &'a State, board: &'a Board, hook: HookRef, regions: &'a Regions) -> Self {
        let region_at = |hook: HookRef| {
            let first = state.homes_on(hook).next();
            first.and_then(|kept| regions.of_card(state, kept))
        };
        let region = region_at(hook);
        let mut codes: Vec<&str> = state
            .homes_on(hook)
            .filter_map(|kept| regions.of_card(state, kept))
            .map(|region| region.code.as_str())
            .collect();
        codes.dedup();
        let homes = state
            .homes_on(hook)
            .map(|kept| (sign_of(kept, hook), state.card_name(kept)));
        let guests = state
            .hanging_on(hook)
            .filter(|kept| kept.home != Some(hook))
            .map(|kept| (Some(Sign::Guest), state.card_name(kept)));
        let hanging = state.rings().filter_map(|ring| match ring.state {
            RingState::Hanging { hook: at, .. } if at == hook => {
                Some((Some(Sign::Hanging), ring.project.to_string()))
            }
            _ => None,
        });
        let before = |row: Option<u16>, column: Option<u16>| {
            let other = row.zip(column).map(|(row, column)| board.hook(row, column));
            region.is_some() && other.and_then(region_at) == region
        };
        Self {
            hook,
            hook_name: board.hook_name(hook),
            blocked: board.blocked(hook).map(|why| why.as_str()),
            reserved: board.reserved(hook),
            region,
            codes: codes.join(" "),
            lines: homes.chain(guests).chain(hanging).collect(),
            free: state.free_places(hook),
            goes_on: (
                before(Some(hook.row), hook.column.checked_sub(1)),
                before(hook.row.checked_sub(1), Some(hook.column)),
            ),
        }
    }

    /// Draws it into an area of the page.
    pub fn item(&self, at: Area) -> Item {
        let mut item = Item::new(at, About::Hook(self.hook));
        let whole = item.whole();
        if let Some(colour) = self.region.and_then(|region| region.colour) {
            item.rect(whole, Some(tint(colour, 5)), None);
        }
        item.outline(Pen::line(10, CUT));
        self.borders(&mut item);
        let inner = whole.inset(Mm::hundredths(60));
        let strip = inner.h.percent(30).min(Mm::hundredths(330));
        let top = inner.rows(Mm::ZERO, strip);
        let (size, small) = (Mm::hundredths(250), Mm::hundredths(150));
        let middle = inner.w.percent(55);
        item.text(
            top.columns(Mm::ZERO, middle),
            &self.hook_name,
            size,
            small,
            PLAIN,
        );
        let code = top.columns(middle, inner.w);
        item.text(
            code,
            &self.codes,
            size.percent(90),
            small,
            PLAIN.at(Align::Right),
        );
        let rest = inner.rows(strip, inner.h);
        match self.blocked {
            Some(why) => {
                item.hatch(rest, Mm::hundredths(200), Pen::line(15, CUT));
                item.paragraph(rest, why, Mm::hundredths(200), PLAIN);
            }
            None => self.write(&mut item, rest),
        }
        item
    }

    /// A thick line where a family begins.
    fn borders(&self, item: &mut Item) {
        if self.region.is_none() {
            return;
        }
        let whole = item.whole();
        let edge = Mm::hundredths(20);
        let pen = Pen::line(40, BLACK);
        let (left, above) = self.goes_on;
        if !left {
            item.line((edge, Mm::ZERO), (edge, whole.h), pen);
        }
        if !above {
            item.line((Mm::ZERO, edge), (whole.w, edge), pen);
        }
    }

    /// The cards, as many as there is room for, and the places that are free.
    fn write(&self, item: &mut Item, at: Area) {
        let mut lines = self.lines.clone();
        let free = match (self.reserved, self.free) {
            (true, _) => Some("reserved".to_owned()),
            (false, 0) => None,
            (false, 1) => Some("free".to_owned()),
            (false, free) => Some(format!("{free} free")),
        };
        lines.extend(free.map(|words| (None, words)));
        let fit = at.h.fits(Mm::hundredths(300), Mm::ZERO).max(1);
        if lines.len() > fit {
            let hidden = lines.len() - (fit - 1);
            lines.truncate(fit - 1);
            lines.push((None, format!("and {hidden}")));
        }
        let height = at.h / i32::try_from(lines.len().max(1)).unwrap_or(1);
        for (row, (which, text)) in lines.iter().enumerate() {
            let line = at.rows(height.times(row), height.times(row + 1));
            let is_card = row < self.lines.len() && !text.starts_with("and ");
            let (most, style) = if is_card {
                (Mm::hundredths(450), BOLD)
            } else {
                (Mm::hundredths(240), PLAIN)
            };
            let small = Mm::hundredths(150);
            let Some(which) = which else {
                item.text(line, text, most, small, style.at(Align::Middle));
                continue;
            };
            let hook_name = Mm::hundredths(230).min(line.h);
            let square = Area::new(
                line.x,
                line.y + (line.h - hook_name) / 2,
                hook_name,
                hook_name,
            );
            sign(item, square, *which);
            let words = line.columns(hook_name + Mm::hundredths(40), line.w);
            item.text(words, text, most, small, style);
        }
    }
}
