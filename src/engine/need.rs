//! Thread need: from stitches, fabric and habits to metres, lengths and skeins.
//!
//! # Geometry
//!
//! Derived from where the needle comes up and goes down; none of it is copied from a chart. A
//! stitch covers a square of the fabric with sides `g = 25.4 mm · over / count`. In the figures,
//! the needle comes up at odd numbers and goes down at even ones; `/` and `\` lie in front, `:`
//! behind.
//!
//! A **full cross** shows two diagonals, `2√2 g`, in front. Behind, the length depends on the way:
//!
//! ```text
//! there and back, in a row                             one by one
//! all lower legs       all upper legs
//!
//!     2   4   6        12  10  8                       4   2
//!    /:  /:  /          \  :\  :\                       \ /:   2 to 3 down the side, g;
//!   / : / : /            \ : \ : \                       X :   4 to the next cross, which
//!  /  :/  :/              \:  \:  \                     / \:   starts beside 3, across
//! 1   3   5                11  9   7                   1   3   the square, √2 g
//!
//! two ways down the side for a cross: 2 g
//! ```
//!
//! | stitch | in front | behind | through the fabric |
//! |---|---|---|---|
//! | full cross, there and back | 2√2 | 2 | 4 times |
//! | full cross, one by one | 2√2 | 1 + √2 | 4 times |
//! | half: one leg, in a row | √2 | 1 | 2 times |
//! | quarter: a corner to the middle, on to the same corner of the next square | √2/2 | √2/2 | 2 times |
//! | three-quarter: a half, then a quarter from the next corner, on as before | √2 + √2/2 | 1 + √2/2 | 4 times |
//! | backstitch, one square long: forward two behind for each one in front | 1 | 2 | 2 times |
//!
//! All lengths are in `g`, and each pass through the fabric adds its thickness. The thread between
//! blocks of a colour isn't part of the stitches; the margin covers it. A French knot is an assumed
//! length.
//!
//! # From the stitches to the card
//!
//! A strand of the card's cut length is cut into equal working threads, as few as possible without
//! exceeding the longest one allowed. Each loses waste at its start and finish; the rest is
//! stitched. Working threads are counted whole, separately for cross and backstitch because they
//! use different numbers of strands. Whole strands are then taken off the card.

use crate::model::range::PutUp;
use crate::model::thread::Strands;

pub use crate::model::assumptions::{Assumptions, Way};

/// Millimetres in an inch, exactly (international inch of 1959).
pub const MM_PER_INCH: f64 = 25.4;

/// Stitches of one colour, by kind.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Stitches {
    /// Full crosses.
    pub full: u32,
    /// Half stitches.
    pub half: u32,
    /// Quarter stitches.
    pub quarter: u32,
    /// Three-quarter stitches.
    pub three_quarter: u32,
    /// Backstitch, in squares of the chart along its lines.
    pub backstitch: u32,
    /// French knots.
    pub french_knots: u32,
    /// Strands in the needle; 0 to use the assumptions.
    pub strands: u8,
    /// Strands for backstitch; 0 to use the assumptions.
    pub backstitch_strands: u8,
}

impl Stitches {
    /// Whether there are no stitches of any kind.
    #[must_use]
    pub const fn is_none(&self) -> bool {
        self.full == 0
            && self.half == 0
            && self.quarter == 0
            && self.three_quarter == 0
            && self.backstitch == 0
            && self.french_knots == 0
    }
}

/// The thread that some stitches need.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Need {
    /// Single strand in the stitches themselves, in metres, without waste and margin.
    pub stitched_m: f64,
    /// Single strand with its share of waste and margin, in metres, before rounding up.
    pub metres: f64,
    /// Whole strands to take off a card.
    pub strands: Strands,
}

impl Need {
    /// Whole lengths of a thread, counting a partly used last one.
    #[must_use]
    pub const fn lengths(&self, put_up: PutUp) -> u32 {
        self.strands.0.div_ceil(put_up.in_length())
    }

    /// Skeins of a thread cut into lengths of `cut_cm`, counting a partly used last one.
    #[must_use]
    pub fn skeins(&self, put_up: PutUp, cut_cm: u16) -> u32 {
        self.strands
            .0
            .div_ceil(put_up.strands_in_skein(cut_cm).max(1))
    }
}

/// What one strand of a cut length yields.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Cut {
    /// Working threads in a strand.
    pub pieces: u32,
    /// The stitched part of one working thread, in thousandths of a millimetre.
    pub stitched_um: u64,
}

impl Cut {
    /// A strand of `cut_cm`; `None` if none of it could be stitched.
    #[must_use]
    pub fn of(assumed: &Assumptions, cut_cm: u16) -> Option<Self> {
        if cut_cm == 0 {
            return None;
        }
        let pieces = u32::from(cut_cm).div_ceil(u32::from(assumed.working_cm.max(1)));
        let piece_um = u64::from(cut_cm) * 10_000 / u64::from(pieces);
        let stitched_um = piece_um.checked_sub(u64::from(assumed.waste_mm) * 1_000)?;
        (stitched_um > 0).then_some(Self {
            pieces,
            stitched_um,
        })
    }

    /// The stitched part of a whole strand, in thousandths of a millimetre.
    #[must_use]
    pub const fn of_a_strand_um(self) -> u64 {
        self.stitched_um * self.pieces as u64
    }
}

/// The side of a stitch's square, in millimetres.
#[must_use]
pub fn square_mm(assumed: &Assumptions) -> f64 {
    MM_PER_INCH * f64::from(assumed.over) / f64::from(assumed.count.max(1))
}

/// The needle's path for crosses and knots, and for backstitch, in millimetres.
fn paths_mm(stitches: &Stitches, assumed: &Assumptions) -> [f64; 2] {
    let diagonal = std::f64::consts::SQRT_2;
    let half_diagonal = diagonal / 2.0;
    let back = match assumed.way {
        Way::ThereAndBack => 2.0,
        Way::OneByOne => 1.0 + diagonal,
    };
    let square = square_mm(assumed);
    let fabric = f64::from(assumed.fabric_tenth_mm) / 10.0;
    let of = |count: u32, squares: f64, passes: f64| {
        f64::from(count) * (squares * square + passes * fabric)
    };
    let quarter = 2.0 * half_diagonal;
    let three_quarter = diagonal + 1.0 + quarter;
    [
        of(stitches.full, 2.0 * diagonal + back, 4.0)
            + of(stitches.half, diagonal + 1.0, 2.0)
            + of(stitches.quarter, quarter, 2.0)
            + of(stitches.three_quarter, three_quarter, 4.0)
            + f64::from(stitches.french_knots) * f64::from(assumed.knot_mm),
        of(stitches.backstitch, 3.0, 2.0),
    ]
}

/// Full crosses that a skein covers, cut into strands of `cut_cm`, before the margin. Stitchers can
/// compare this number: 1,700 to 2,000 at 14 count with two strands (common practice, no source).
/// For a thread that isn't divisible, one strand is in the needle. 0 if none could be stitched.
/// O(1).
#[must_use]
pub fn crosses_in_skein(assumed: &Assumptions, put_up: PutUp, cut_cm: u16) -> u32 {
    let Some(cut) = Cut::of(assumed, cut_cm) else {
        return 0;
    };
    let one = Stitches {
        full: 1,
        ..Stitches::default()
    };
    let [cross_mm, _] = paths_mm(&one, assumed);
    let needle = if put_up.in_length() == 1 {
        1
    } else {
        assumed.strands.max(1)
    };
    let strands = f64::from(put_up.strands_in_skein(cut_cm));
    // Well below 2^53, so exact.
    #[allow(clippy::cast_precision_loss)]
    let stitched_mm = strands * cut.of_a_strand_um() as f64 / 1_000.0;
    // Not negative, and a float too large saturates.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let crosses = (stitched_mm / (cross_mm * f64::from(needle))) as u32;
    crosses
}

/// The thread that stitches of one colour need, from strands of `cut_cm`. O(1).
///
/// `None` if such strands are too short to stitch with. The usual cut, 1 m, never is as long as
/// [`Assumptions::check`] holds. Saturates at the largest count.
#[must_use]
pub fn need(stitches: &Stitches, assumed: &Assumptions, cut_cm: u16) -> Option<Need> {
    let cut = Cut::of(assumed, cut_cm)?;
    let or = |said: u8, usual: u8| if said == 0 { usual } else { said };
    let strands = [
        or(stitches.strands, assumed.strands),
        or(stitches.backstitch_strands, assumed.backstitch_strands),
    ];
    let with_margin = 1.0 + f64::from(assumed.margin_percent) / 100.0;
    // Well below 2^53, so exact.
    #[allow(clippy::cast_precision_loss)]
    let usable_mm = cut.stitched_um as f64 / 1_000.0;
    let piece_mm = f64::from(cut_cm) * 10.0 / f64::from(cut.pieces);
    let mut sum = Need::default();
    let mut threads = 0.0;
    for (path, strands) in paths_mm(stitches, assumed).into_iter().zip(strands) {
        let strands = f64::from(strands);
        let needed = path * with_margin;
        sum.stitched_m += path * strands / 1_000.0;
        sum.metres += needed * strands * piece_mm / usable_mm / 1_000.0;
        // A millionth of a thread is rounding and no reason to cut another.
        threads += (needed / usable_mm - 1e-6).ceil().max(0.0) * strands;
    }
    // Not negative, and a float too large saturates.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let whole = (threads / f64::from(cut.pieces)).ceil() as u32;
    sum.strands = Strands(whole);
    Some(sum)
}

#[cfg(test)]
mod tests;
