//! Simulates colour vision without one kind of cone, for the tests of the themes.
//!
//! G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, "A Physiologically-based Model for Simulation
//! of Color Vision Deficiency", IEEE Transactions on Visualization and Computer Graphics 15 (6),
//! 2009: the matrices of severity 1.0, which act on linear RGB. The numbers are from memory.

use crate::model::colour::Srgb;

/// A kind of colour vision.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Vision {
    /// All three cones.
    Full,
    /// No long-wave cones.
    Protanopia,
    /// No middle-wave cones.
    Deuteranopia,
    /// No short-wave cones.
    Tritanopia,
}

impl Vision {
    pub const ALL: [Self; 4] = [
        Self::Full,
        Self::Protanopia,
        Self::Deuteranopia,
        Self::Tritanopia,
    ];

    const fn matrix(self) -> [[f64; 3]; 3] {
        match self {
            Self::Full => [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]],
            Self::Protanopia => [
                [0.152_286, 1.052_583, -0.204_868],
                [0.114_503, 0.786_281, 0.099_216],
                [-0.003_882, -0.048_116, 1.051_998],
            ],
            Self::Deuteranopia => [
                [0.367_322, 0.860_646, -0.227_968],
                [0.280_085, 0.672_501, 0.047_413],
                [-0.011_820, 0.042_940, 0.968_881],
            ],
            Self::Tritanopia => [
                [1.255_528, -0.076_749, -0.178_779],
                [-0.078_411, 0.930_809, 0.147_602],
                [0.004_733, 0.691_367, 0.303_900],
            ],
        }
    }

    /// The colour that gives the same impression with full colour vision, in eight bits.
    pub fn sees(self, colour: Srgb) -> Srgb {
        let light: palette::LinSrgb<f64> =
            palette::Srgb::new(colour.r, colour.g, colour.b).into_linear();
        let [r, g, b] = self.matrix().map(|[r, g, b]| {
            let sum = r * light.red + g * light.green + b * light.blue;
            sum.clamp(0.0, 1.0)
        });
        let seen: palette::Srgb<u8> = palette::Srgb::from_linear(palette::LinSrgb::new(r, g, b));
        Srgb::new(seen.red, seen.green, seen.blue)
    }
}

#[test]
fn greys_are_unchanged() {
    for vision in Vision::ALL {
        for level in [0, 17, 128, 201, 255] {
            let grey = Srgb::new(level, level, level);
            assert_eq!(vision.sees(grey), grey, "{vision:?}");
        }
    }
}

#[test]
fn commonly_confused_colours_move_closer() {
    use crate::engine::colour::difference;
    let pairs = [
        (Vision::Protanopia, (200, 60, 60), (90, 100, 50)),
        (Vision::Deuteranopia, (200, 80, 80), (120, 130, 60)),
        (Vision::Tritanopia, (60, 100, 200), (40, 130, 110)),
    ];
    for (vision, (r, g, b), (x, y, z)) in pairs {
        let (one, other) = (Srgb::new(r, g, b), Srgb::new(x, y, z));
        let seen = difference(vision.sees(one), vision.sees(other));
        assert!(seen < difference(one, other) / 2.0, "{vision:?}: {seen}");
    }
}
