//! Compares our ways of hanging new cards with the best possible policy, on boards small enough to
//! examine everything that can happen.
//!
//! `cargo run --release --example best_policy [RANGE PLACES FIRST EACH TIMES]`
//!
//! FIRST numbers of a range of RANGE are hung on PLACES places, one on each. Then EACH more are
//! bought, TIMES times, with the same chance for each number not yet owned, and after each purchase
//! every card hangs in number order. The result is the total of hung cards moved. Nothing is
//! random: the figures are expected values over all possible purchases. A range of 12 takes
//! seconds, one of 15 minutes.
//!
//! The best policy knows how many purchases are to come. It is found by backward induction
//! (Bellman, 1957; Puterman, Markov Decision Processes, 1994; from memory): after the last purchase
//! a layout has no further cost, and the cost of a layout before a purchase follows from the costs
//! of the layouts after it. It is compared with:
//!
//! - told: the best policy if the numbers of the next purchase are known before hanging this one;
//! - lazy: the fewest moves at each purchase, and the best of those layouts;
//! - room, even, packed: as in `tools/purchases.rs`.

use std::collections::{BTreeMap, BTreeSet};
use std::error::Error;

use homehook::engine::fewest_moves::fewest_moves;
use homehook::engine::fewest_moves::fewest_moves_least_distance;
use homehook::engine::instance::Instance;

#[allow(dead_code, reason = "only its way with room is wanted here")]
#[path = "purchases.rs"]
mod purchases;

/// A set of numbers or of places, one bit for each.
type Set = u32;

/// The elements of a set, lowest first.
fn elements(set: Set) -> impl Iterator<Item = usize> {
    (0..Set::BITS as usize).filter(move |at| set >> at & 1 == 1)
}

/// All sets of `size` of the first `end` elements, in rising order.
fn sets(end: usize, size: usize) -> Vec<Set> {
    let all: std::ops::Range<Set> = 0..1 << end;
    all.filter(|set| set.count_ones() as usize == size)
        .collect()
}

/// The index of each set in the row that [`sets`] returns for its size.
fn indices(end: usize) -> Vec<usize> {
    let mut next = vec![0; end + 1];
    let index = |set: Set| {
        let next = &mut next[set.count_ones() as usize];
        *next += 1;
        *next - 1
    };
    (0..1 << end).map(index).collect()
}

/// The ranks of the elements of `part` in `whole`.
fn ranks(part: Set, whole: Set) -> Set {
    let within = elements(whole).enumerate();
    let within = within.filter(|(_, element)| part >> element & 1 == 1);
    within.fold(0, |ranks, (rank, _)| ranks | 1 << rank)
}

/// The hung cards that move if the places `hung` hold all cards except those with the ranks `new`,
/// and then the places `then` hold all.
fn moved(hung: Set, new: Set, then: Set) -> u8 {
    let old = elements(then).enumerate();
    let old = old.filter(|(rank, _)| new >> rank & 1 == 0);
    let pairs = elements(hung).zip(old);
    pairs
        .map(|(before, (_, after))| u8::from(before != after))
        .sum()
}

/// The purchases, and the wall.
#[derive(Debug, Clone, Copy)]
pub struct Case {
    /// Numbers in the range.
    pub range: usize,
    /// Places on the wall, one on each hook.
    pub places: usize,
    /// Numbers bought first.
    pub first: usize,
    /// Numbers bought in each later purchase.
    pub each: usize,
    /// Later purchases.
    pub times: usize,
}

impl Case {
    /// Cards after this many purchases, including the first.
    const fn cards(&self, made: usize) -> usize {
        match made.checked_sub(1) {
            Some(later) => self.first + later * self.each,
            None => 0,
        }
    }

    /// All possible purchases for someone who has `owned`.
    fn purchases(&self, owned: Set) -> Vec<Set> {
        let size = if owned == 0 { self.first } else { self.each };
        let all = sets(self.range, size).into_iter();
        all.filter(|new| new & owned == 0).collect()
    }
}

/// One way to the next layout: the hung cards moved, and the index of the layout.
type Move = (u8, u32);

/// All ways through one purchase, by the ranks of the new cards and the index of the previous
/// layout. Each list is sorted by the number of cards moved.
type Moves = BTreeMap<Set, Vec<Vec<Move>>>;

fn moves(case: &Case, made: usize) -> Moves {
    let (cards, more) = (case.cards(made), case.cards(made + 1));
    let (before, after) = (sets(case.places, cards), sets(case.places, more));
    let list = |hung: Set, new: Set| {
        let all = after.iter().zip(0..);
        let all = all.map(|(&then, index)| (moved(hung, new, then), index));
        let mut list: Vec<Move> = all.collect();
        list.sort_unstable();
        list
    };
    let new = sets(more, more - cards).into_iter();
    new.map(|new| (new, before.iter().map(|&hung| list(hung, new)).collect()))
        .collect()
}

/// The least sum of hung cards moved now and the later cost of the layout, which is never below
/// `least`.
fn cheapest(list: &[Move], later: &[f64], least: f64) -> f64 {
    let mut best = f64::INFINITY;
    for &(moved, index) in list {
        let moved = f64::from(moved);
        if moved + least >= best {
            break;
        }
        best = best.min(moved + later[index as usize]);
    }
    best
}

/// The mean of rows of the same length.
fn mean(rows: impl Iterator<Item = Vec<f64>>) -> Vec<f64> {
    let mut count = 0.0;
    let mut mean: Vec<f64> = Vec::new();
    for row in rows {
        count += 1.0;
        mean.resize(row.len(), 0.0);
        for (sum, cost) in mean.iter_mut().zip(row) {
            *sum += cost;
        }
    }
    for sum in &mut mean {
        *sum /= count;
    }
    mean
}

/// A policy for hanging cards.
#[derive(Debug, Clone, Copy)]
pub enum Way {
    /// The fewest moves, and of those layouts the one with the least later cost.
    Lazy,
    /// The plan in the list with the fewest cards moved now and expected to be without a place
    /// later.
    Room,
    /// Fewest moves, then least distance, free places spread evenly.
    Even,
    /// Fewest moves, new cards right behind the previous card.
    Packed,
}

/// One purchase to hang.
struct Turn<'a> {
    /// All numbers, and the new ones among them.
    owned: Set,
    new: Set,
    /// The places of the others.
    hung: Set,
    /// The possible layouts, the ways to them, and the later cost of each.
    layouts: &'a [Set],
    list: &'a [Move],
    later: &'a [f64],
}

/// The expected figures of a policy at one purchase.
#[derive(Debug, Clone, Copy, Default)]
pub struct Figures {
    /// Hung cards moved.
    pub moved: f64,
    /// Hung cards moved, now and later, in excess of the least possible from here on.
    pub lost: f64,
}

/// A case and the cost of every layout.
pub struct Best {
    case: Case,
    /// The index of each set of numbers, and of each set of places, among those of its size.
    number_index: Vec<usize>,
    place_index: Vec<usize>,
    /// By number of earlier purchases.
    moves: Vec<Moves>,
    /// Hung cards moved later by the best policy: by purchases made, numbers owned and layout.
    later: Vec<Vec<Vec<f64>>>,
}

impl Best {
    /// Examines every layout of every set of numbers, from the last purchase back.
    pub fn new(case: Case) -> Self {
        let last = case.times + 1;
        let mut best = Self {
            case,
            number_index: indices(case.range),
            place_index: indices(case.places),
            moves: (0..last).map(|made| moves(&case, made)).collect(),
            later: Vec::new(),
        };
        let layouts = sets(case.places, case.cards(last)).len();
        let owned = sets(case.range, case.cards(last)).len();
        let mut later = vec![vec![vec![0.0; layouts]; owned]];
        for made in (0..last).rev() {
            let after = &later[case.times - made];
            let row = |owned: Set| {
                let new = case.purchases(owned).into_iter();
                mean(new.map(|new| {
                    let after = &after[best.number_index[(owned | new) as usize]];
                    best.before(made, owned, new, after)
                }))
            };
            let owned = sets(case.range, case.cards(made));
            later.push(owned.into_iter().map(row).collect());
        }
        later.reverse();
        best.later = later;
        best
    }

    /// The cost of each layout before a purchase, if those after it cost `after`.
    fn before(&self, made: usize, owned: Set, new: Set, after: &[f64]) -> Vec<f64> {
        let least = after.iter().copied().fold(f64::INFINITY, f64::min);
        let lists = &self.moves[made][&ranks(new, owned | new)];
        let costs = lists.iter().map(|list| cheapest(list, after, least));
        costs.collect()
    }

    /// Expected number of hung cards moved by the best policy.
    pub fn expected(&self) -> f64 {
        self.later[0][0][0]
    }

    /// Expected number of hung cards moved by the best policy that always knows the next purchase.
    pub fn told(&self) -> f64 {
        let case = &self.case;
        let last = case.times + 1;
        // The cost of each layout, by numbers owned and the known next purchase. After the last
        // one, nothing is known.
        let nothing = |row: &Vec<f64>| BTreeMap::from([(0, row.clone())]);
        let mut told: Vec<BTreeMap<Set, Vec<f64>>> = self.later[last].iter().map(nothing).collect();
        for made in (0..last).rev() {
            let row = |owned: Set, new: Set| {
                let next = &told[self.number_index[(owned | new) as usize]];
                mean(
                    next.values()
                        .map(|after| self.before(made, owned, new, after)),
                )
            };
            let owned = sets(case.range, case.cards(made)).into_iter();
            let rows = owned.map(|owned| {
                let new = case.purchases(owned).into_iter();
                new.map(|new| (new, row(owned, new))).collect()
            });
            told = rows.collect();
        }
        mean(told[0].values().cloned())[0]
    }

    /// The figures of a policy at each purchase. The sum of what is lost is its distance from the
    /// best.
    ///
    /// # Errors
    /// Errors of the engine.
    pub fn follow(&self, way: Way) -> Result<Vec<Figures>, Box<dyn Error>> {
        let mut all = Vec::new();
        // The chance of each set of owned numbers and their places.
        let mut walls = BTreeMap::from([((0, 0), 1.0)]);
        for made in 0..=self.case.times {
            let layouts = sets(self.case.places, self.case.cards(made + 1));
            let mut figures = Figures::default();
            let mut next = BTreeMap::new();
            for ((before, hung), chance) in walls {
                let purchases = self.case.purchases(before);
                let chance = chance / purchases.len() as f64;
                for new in purchases {
                    let owned = before | new;
                    let lists = &self.moves[made][&ranks(new, owned)];
                    let turn = Turn {
                        owned,
                        new,
                        hung,
                        layouts: &layouts,
                        list: &lists[self.place_index[hung as usize]],
                        later: &self.later[made + 1][self.number_index[owned as usize]],
                    };
                    let then = self.hang(way, &turn)?;
                    let now = f64::from(moved(hung, ranks(new, owned), then));
                    let sum = now + turn.later[self.place_index[then as usize]];
                    figures.moved += chance * now;
                    figures.lost += chance * (sum - cheapest(turn.list, turn.later, 0.0));
                    *next.entry((owned, then)).or_insert(0.0) += chance;
                }
            }
            walls = next;
            all.push(figures);
        }
        Ok(all)
    }

    /// The places of all cards.
    fn hang(&self, way: Way, turn: &Turn) -> Result<Set, Box<dyn Error>> {
        let mut places = elements(turn.hung);
        let now = |number| match turn.new >> number & 1 {
            1 => (number, None),
            _ => (number, places.next()),
        };
        let cards: Vec<(usize, Option<usize>)> = elements(turn.owned).map(now).collect();
        let now = cards.iter().map(|card| card.1).collect();
        let board = Instance::new(vec![1; self.case.places], now)?;
        let hook = match way {
            Way::Lazy => return Ok(lazy(turn)),
            Way::Room => purchases::with_room(&board, &cards, self.case.range, &BTreeSet::new())?,
            Way::Even => fewest_moves_least_distance(&board)?.hook,
            Way::Packed => fewest_moves(&board)?.hook,
        };
        Ok(hook.into_iter().fold(0, |places, hook| places | 1 << hook))
    }
}

fn lazy(turn: &Turn) -> Set {
    let fewest = turn.list.first().map(|first| first.0);
    let alike = turn.list.iter().take_while(|here| Some(here.0) == fewest);
    let later = |index: usize| turn.later[index];
    let best = alike
        .map(|here| here.1 as usize)
        .min_by(|&a, &b| later(a).total_cmp(&later(b)));
    best.map_or(0, |index| turn.layouts[index])
}

fn main() -> Result<(), Box<dyn Error>> {
    let given: Result<Vec<usize>, _> = std::env::args().skip(1).map(|text| text.parse()).collect();
    let cases = match given?[..] {
        [] => vec![(9, 6, 2, 1, 3), (12, 8, 2, 1, 5), (12, 8, 2, 2, 2)],
        [range, places, first, each, times] => vec![(range, places, first, each, times)],
        _ => return Err("give RANGE PLACES FIRST EACH TIMES, or nothing".into()),
    };
    for (range, places, first, each, times) in cases {
        let case = Case {
            range,
            places,
            first,
            each,
            times,
        };
        let large = [range, places, first, each, times]
            .iter()
            .any(|&given| given > 20);
        if large || first == 0 || case.cards(times + 1) > range.min(places) {
            return Err(
                "give 20 at most of anything, 1 first, no more bought than range or places".into(),
            );
        }
        let best = Best::new(case);
        let least = best.expected();
        println!("range {range}, {places} places, first {first}, then {times} times {each}");
        println!("  way           moved  to the best  lost at each purchase");
        let row = |word, moved: f64| {
            // If the best policy moves nothing, there is nothing to compare with.
            let ratio = (least > 0.0).then(|| format!("{:.3}", moved / least));
            let ratio = ratio.unwrap_or_else(|| "-".to_owned());
            format!("  {word:<8} {moved:>10.4} {ratio:>12}")
        };
        println!("{}", row("best", least));
        println!("{}", row("told", best.told()));
        for (way, word) in [
            (Way::Lazy, "lazy"),
            (Way::Room, "room"),
            (Way::Even, "even"),
            (Way::Packed, "packed"),
        ] {
            let figures = best.follow(way)?;
            let moved = figures.iter().map(|figures| figures.moved).sum();
            let lost = figures.iter().map(|here| format!(" {:>7.4}", here.lost));
            println!("{} {}", row(word, moved), lost.collect::<String>());
        }
    }
    Ok(())
}
