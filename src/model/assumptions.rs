//! Assumptions about a project's fabric and its stitcher, used to estimate thread.

use serde::{Deserialize, Serialize};

/// How a row of crosses is worked. What shows in front is the same; the back is not.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum Way {
    /// All lower legs of a row first, then all upper legs on the way back.
    #[default]
    ThereAndBack,
    /// Each cross is finished before the next.
    OneByOne,
}

/// Everything that is assumed when the thread of a project is reckoned. Each part can be changed;
/// an answer names them all.
///
/// The default values are common practice, no source, except `fabric_tenth_mm` and `knot_mm`, which
/// are guesses: measure yours.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(default)]
pub struct Assumptions {
    /// Threads (or squares) of the fabric in an inch of 25.4 mm, 4 to 60.
    pub count: u16,
    /// Threads of the fabric that a stitch goes over, 1 or 2.
    pub over: u8,
    /// Strands together in the needle where the key does not say, 1 to 12.
    pub strands: u8,
    /// The same for backstitch.
    pub backstitch_strands: u8,
    /// How a row of crosses is worked.
    pub way: Way,
    /// The longest working thread, in centimetres, 20 to 200. A strand is cut into as few equal
    /// working threads as are no longer.
    pub working_cm: u16,
    /// What a working thread loses at its start and its end together, in millimetres: less than
    /// half of the longest working thread.
    pub waste_mm: u16,
    /// Extra thread on top of all, in percent, 0 to 200.
    pub margin_percent: u16,
    /// What each pass through the fabric takes, in tenths of a millimetre, 0 to 50: the thickness
    /// of the fabric.
    pub fabric_tenth_mm: u16,
    /// Thread in one French knot with the way to the next, in millimetres, 0 to 200.
    pub knot_mm: u16,
}

impl Default for Assumptions {
    fn default() -> Self {
        Self {
            count: 14,
            over: 1,
            strands: 2,
            backstitch_strands: 1,
            way: Way::ThereAndBack,
            working_cm: 50,
            waste_mm: 100,
            margin_percent: 10,
            fabric_tenth_mm: 5,
            knot_mm: 20,
        }
    }
}

/// An assumption with fixed bounds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Assumption {
    /// [`Assumptions::count`].
    Count,
    /// [`Assumptions::over`].
    Over,
    /// [`Assumptions::strands`].
    Strands,
    /// [`Assumptions::backstitch_strands`].
    BackstitchStrands,
    /// [`Assumptions::working_cm`].
    WorkingCm,
    /// [`Assumptions::margin_percent`].
    MarginPercent,
    /// [`Assumptions::fabric_tenth_mm`].
    FabricTenthMm,
    /// [`Assumptions::knot_mm`].
    KnotMm,
}

/// An assumption that no fabric or stitcher could meet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum ParseAssumptionError {
    /// Out of bounds.
    #[error("out_of_bounds")]
    OutOfBounds {
        /// Which assumption.
        what: Assumption,
        /// The value.
        found: u16,
        /// The minimum.
        least: u16,
        /// The maximum.
        most: u16,
    },
    /// The waste is half of the working thread or more.
    #[error("all_waste")]
    AllWaste {
        /// The waste, in millimetres.
        waste_mm: u16,
        /// The working thread, in centimetres.
        working_cm: u16,
    },
}

impl Assumptions {
    /// The lowest count usually stitched over two threads (common practice, no source). Finer linen
    /// and evenweave are; the squares of a block weave never are.
    pub const OVER_TWO_FROM: u16 = 25;

    /// How many threads of the fabric a stitch usually covers at a given count.
    #[must_use]
    pub const fn usual_over(count: u16) -> u8 {
        if count >= Self::OVER_TWO_FROM { 2 } else { 1 }
    }

    /// Checks that every value is within its bounds.
    ///
    /// # Errors
    /// The first value that isn't.
    pub fn check(&self) -> Result<(), ParseAssumptionError> {
        for (what, found, least, most) in [
            (Assumption::Count, self.count, 4, 60),
            (Assumption::Over, self.over.into(), 1, 2),
            (Assumption::Strands, self.strands.into(), 1, 12),
            (
                Assumption::BackstitchStrands,
                self.backstitch_strands.into(),
                1,
                12,
            ),
            (Assumption::WorkingCm, self.working_cm, 20, 200),
            (Assumption::MarginPercent, self.margin_percent, 0, 200),
            (Assumption::FabricTenthMm, self.fabric_tenth_mm, 0, 50),
            (Assumption::KnotMm, self.knot_mm, 0, 200),
        ] {
            if !(least..=most).contains(&found) {
                return Err(ParseAssumptionError::OutOfBounds {
                    what,
                    found,
                    least,
                    most,
                });
            }
        }
        if u32::from(self.waste_mm) * 2 >= u32::from(self.working_cm) * 10 {
            return Err(ParseAssumptionError::AllWaste {
                waste_mm: self.waste_mm,
                working_cm: self.working_cm,
            });
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn impossible_assumptions_are_refused_and_the_defaults_are_not() {
        let usual = Assumptions::default();
        assert_eq!(usual.check(), Ok(()));
        let wrong: [fn(&mut Assumptions); 10] = [
            |a| a.count = 3,
            |a| a.over = 3,
            |a| a.over = 0,
            |a| a.strands = 0,
            |a| a.backstitch_strands = 13,
            |a| a.working_cm = 19,
            |a| a.margin_percent = 201,
            |a| a.fabric_tenth_mm = 51,
            |a| a.knot_mm = 201,
            |a| a.waste_mm = 250,
        ];
        for spoil in wrong {
            let mut assumed = usual;
            spoil(&mut assumed);
            assert!(assumed.check().is_err(), "{assumed:?}");
        }
    }

    #[test]
    fn missing_fields_of_an_older_record_get_the_defaults() {
        let read: Assumptions = serde_json::from_str(r#"{"count":28,"over":2}"#).unwrap();
        let expected = Assumptions {
            count: 28,
            over: 2,
            ..Assumptions::default()
        };
        assert_eq!(read, expected);
    }
}
