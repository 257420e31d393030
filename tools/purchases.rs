//! Measures what years of purchases cost, for different ways of hanging new cards.
//!
//! `cargo run --release --example purchases [SEEDS]`
//!
//! The range has 700 numbers and the wall 480 places. First 120 numbers are bought at random, then
//! eight times 35 more, and after each purchase every card hangs in number order. The result is the
//! total of hung cards moved, over SEEDS (40) random series of purchases, in four ways:
//!
//! - naive: the first cards hang one after another; then each new card hangs where it belongs, and
//!   the cards from there on move along to the next free place;
//! - packed: fewest moves, new cards right behind the previous card;
//! - even: fewest moves, then least distance, free places spread evenly;
//! - room: the plan in the list with the fewest cards moved now and expected to be without a place
//!   later, where the list knows the range.
//!
//! There are three kinds of walls and buyers: one place per hook and random numbers, three places
//! per hook, and whole families of 35 numbers bought at once.
//!
//! The last way is then repeated with a want list of numbers that are sure to come: half of the
//! next purchase each time, all of it, or half of it plus as many others that are never bought.

use std::collections::BTreeSet;
use std::error::Error;

use homehook::engine::fewest_moves::fewest_moves;
use homehook::engine::fewest_moves::fewest_moves_least_distance;
use homehook::engine::instance::Instance;
use homehook::engine::pareto::{PlanOptions, plans};
use homehook::engine::room::Room;

const RANGE: usize = 700;
const PLACES: usize = 480;
const FIRST: usize = 120;
const LATER: usize = 35;
const TIMES: usize = 8;
const FAMILY: usize = 35;

/// Pseudorandom numbers from the SplitMix64 generator.
struct Numbers(u64);

impl Numbers {
    fn below(&mut self, end: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut bits = self.0;
        bits = (bits ^ (bits >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        bits = (bits ^ (bits >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((bits ^ (bits >> 31)) % end as u64) as usize
    }

    fn shuffled(&mut self, end: usize) -> Vec<usize> {
        let mut row: Vec<usize> = (0..end).collect();
        for last in (1..end).rev() {
            row.swap(last, self.below(last + 1));
        }
        row
    }
}

/// The numbers of each purchase.
fn purchases(seed: u64, whole_families: bool) -> Vec<Vec<usize>> {
    let mut numbers = Numbers(seed);
    let mut row = numbers.shuffled(RANGE);
    let later = row.split_off(FIRST);
    let wanted = if whole_families {
        let families = numbers.shuffled(RANGE / FAMILY);
        let mut wanted: Vec<usize> = later;
        wanted.sort_by_key(|number| {
            let family = number / FAMILY;
            (families.iter().position(|&at| at == family), *number)
        });
        wanted
    } else {
        later
    };
    let later = wanted.chunks(LATER).take(TIMES).map(<[usize]>::to_vec);
    [row].into_iter().chain(later).collect()
}

#[derive(Clone, Copy)]
enum Way {
    Naive,
    Packed,
    Even,
    Room(Wants),
}

/// The want list when cards are hung.
#[derive(Clone, Copy)]
enum Wants {
    Nothing,
    /// Half of the next purchase.
    Half,
    /// All of it.
    All,
    /// Half of it, and as many others that nobody buys.
    HalfAndOthers,
}

impl Wants {
    /// The numbers on the list after purchase `made`.
    fn list(self, purchases: &[Vec<usize>], made: usize) -> BTreeSet<usize> {
        let next = purchases.get(made + 1).map_or(&[][..], Vec::as_slice);
        let half = || next.iter().copied().step_by(2);
        match self {
            Self::Nothing => BTreeSet::new(),
            Self::Half => half().collect(),
            Self::All => next.iter().copied().collect(),
            Self::HalfAndOthers => {
                let bought: BTreeSet<usize> = purchases.iter().flatten().copied().collect();
                let never: Vec<usize> = (0..RANGE).filter(|at| !bought.contains(at)).collect();
                let count = half().count();
                let mut drawn = Numbers(made as u64).shuffled(never.len());
                drawn.truncate(count);
                half()
                    .chain(drawn.into_iter().map(|at| never[at]))
                    .collect()
            }
        }
    }
}

/// The total of hung cards moved over all purchases.
fn moved(way: Way, purchases: &[Vec<usize>], on_a_hook: usize) -> Result<usize, Box<dyn Error>> {
    let hooks = PLACES / on_a_hook;
    let mut cards: Vec<(usize, Option<usize>)> = Vec::new();
    let mut moved = 0;
    for (made, bought) in purchases.iter().enumerate() {
        cards.extend(bought.iter().map(|&number| (number, None)));
        cards.sort_unstable();
        let now: Vec<Option<usize>> = cards.iter().map(|card| card.1).collect();
        let hook = match way {
            Way::Naive => {
                let (hook, along) = naive(&now, hooks, on_a_hook);
                // Each card may have moved several times.
                moved += along;
                for (card, &hook) in cards.iter_mut().zip(&hook) {
                    card.1 = Some(hook);
                }
                hook
            }
            _ => {
                let board = Instance::new(vec![on_a_hook as u32; hooks], now.clone())?;
                match way {
                    Way::Room(wants) => {
                        with_room(&board, &cards, RANGE, &wants.list(purchases, made))?
                    }
                    Way::Even => fewest_moves_least_distance(&board)?.hook,
                    _ => fewest_moves(&board)?.hook,
                }
            }
        };
        for (card, hook) in cards.iter_mut().zip(hook) {
            moved += usize::from(card.1.is_some_and(|now| now != hook));
            card.1 = Some(hook);
        }
        let in_order = cards.windows(2).all(|pair| pair[0].1 <= pair[1].1);
        assert!(in_order, "the cards hang out of order");
    }
    Ok(moved)
}

/// The plan with the least cost, now and as far as can be expected, for a range of this many
/// numbers, of which those in `wanted` are sure to come.
pub fn with_room(
    board: &Instance,
    cards: &[(usize, Option<usize>)],
    range: usize,
    wanted: &BTreeSet<usize>,
) -> Result<Vec<usize>, Box<dyn Error>> {
    let ends = cards.iter().map(|card| card.0).chain([range]);
    let mut next = 0;
    let gaps = ends.map(|number| {
        let certain = wanted.range(next..number).count();
        let possible = number - next - certain;
        next = number + 1;
        (certain as u32, possible as f64)
    });
    let (certain, possible): (Vec<u32>, Vec<f64>) = gaps.unzip();
    let wishes = PlanOptions {
        room: Room {
            certain: Some(&certain),
            possible: Some(&possible),
        },
        most: usize::MAX,
        ..PlanOptions::default()
    };
    let cost = |plan: &homehook::engine::pareto::PlanHomes| plan.touched as f64 + plan.room;
    let best = plans(board, &wishes)?
        .into_iter()
        .min_by(|a, b| cost(a).total_cmp(&cost(b)));
    Ok(best.ok_or("no plan")?.homes.hook)
}

/// Hangs each new card right behind the previous one. The cards from there on move along, up to the
/// next free place, or back towards the last one if none is free behind. Returns the hooks, and how
/// many times cards moved.
fn naive(now: &[Option<usize>], hooks: usize, on_a_hook: usize) -> (Vec<usize>, usize) {
    let mut hung: Vec<(usize, usize)> = Vec::new();
    for (rank, now) in now.iter().enumerate() {
        hung.extend(now.map(|place| (rank, place * on_a_hook)));
    }
    // Single places, with the cards of a hook in order.
    for at in 1..hung.len() {
        hung[at].1 = hung[at].1.max(hung[at - 1].1 + 1);
    }
    let mut moved = 0;
    for (rank, _) in now.iter().enumerate().filter(|(_, now)| now.is_none()) {
        let before = hung.clone();
        let at = hung.partition_point(|card| card.0 < rank);
        let place = at.checked_sub(1).map_or(0, |before| hung[before].1 + 1);
        hung.insert(at, (rank, place));
        for next in at + 1..hung.len() {
            hung[next].1 = hung[next].1.max(hung[next - 1].1 + 1);
        }
        let mut most = hooks * on_a_hook;
        for card in hung.iter_mut().rev() {
            card.1 = card.1.min(most - 1);
            most = card.1;
        }
        let others = hung.iter().filter(|card| card.0 != rank);
        moved += others
            .zip(before)
            .filter(|(now, before)| now.1 / on_a_hook != before.1 / on_a_hook)
            .count();
    }
    let hooks = hung.into_iter().map(|card| card.1 / on_a_hook);
    (hooks.collect(), moved)
}

fn main() -> Result<(), Box<dyn Error>> {
    let seeds = match std::env::args().nth(1) {
        Some(seeds) => seeds.parse::<u64>()?.max(1),
        None => 40,
    };
    let walls = [
        ("one place a hook, random numbers", 1, false),
        ("three places a hook, random numbers", 3, false),
        ("one place a hook, whole families", 1, true),
    ];
    for (name, on_a_hook, whole_families) in walls {
        println!("{name}, {seeds} seeds: hung cards moved in all");
        println!("  way       median   least    most    mean");
        for (way, word) in [
            (Way::Naive, "naive"),
            (Way::Packed, "packed"),
            (Way::Even, "even"),
            (Way::Room(Wants::Nothing), "room"),
            (Way::Room(Wants::Half), "half"),
            (Way::Room(Wants::All), "all"),
            (Way::Room(Wants::HalfAndOthers), "others"),
        ] {
            let all: Result<Vec<usize>, _> = (0..seeds)
                .map(|seed| moved(way, &purchases(1000 + seed, whole_families), on_a_hook))
                .collect();
            let mut all = all?;
            all.sort_unstable();
            let middle = (all[(all.len() - 1) / 2] + all[all.len() / 2]) as f64 / 2.0;
            let mean = all.iter().sum::<usize>() as f64 / all.len() as f64;
            let (least, most) = (all[0], all[all.len() - 1]);
            println!("  {word:<8} {middle:>7.1} {least:>7} {most:>7} {mean:>7.1}");
        }
    }
    Ok(())
}
