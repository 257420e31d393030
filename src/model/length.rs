//! A length as a person measures it, in metric units or in inches.

/// A unit that a length may be given in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// Millimetres.
    Mm,
    /// Centimetres.
    Cm,
    /// Metres.
    M,
    /// International inches of 25.4 mm, since 1959.
    Inch,
    /// International yards of 36 such inches.
    Yard,
}

impl Unit {
    /// Every unit name that can follow a number.
    const NAMES: [(&'static str, Self); 13] = [
        ("mm", Self::Mm),
        ("cm", Self::Cm),
        ("inches", Self::Inch),
        ("inch", Self::Inch),
        ("in.", Self::Inch),
        ("in", Self::Inch),
        ("\"", Self::Inch),
        ("\u{2033}", Self::Inch),
        ("''", Self::Inch),
        ("yards", Self::Yard),
        ("yard", Self::Yard),
        ("yd", Self::Yard),
        // After the other names that end in 'm'.
        ("m", Self::M),
    ];

    /// How many hundredths of a millimetre make one unit.
    const fn hundredths(self) -> u64 {
        match self {
            Self::Mm => 100,
            Self::Cm => 1_000,
            Self::M => 100_000,
            Self::Inch => 2_540,
            Self::Yard => 91_440,
        }
    }
}

/// A length, in hundredths of a millimetre.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Length(pub u32);

/// The text isn't a length. Holds the part of it to show.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ParseLengthError(pub String);

/// The most digits before and after the decimal point.
const DIGITS: (usize, usize) = (4, 4);

impl Length {
    /// Parses digits with at most one point or comma, followed by a unit; a number without a unit
    /// is in `bare`. Rounds to the nearest hundredth of a millimetre.
    ///
    /// # Errors
    /// When the text isn't a length, or has more than four digits before or after the point.
    pub fn read(text: &str, bare: Unit) -> Result<Self, ParseLengthError> {
        let wrong = || ParseLengthError(text.chars().take(40).collect());
        let typed = text.trim().to_ascii_lowercase();
        let named = Unit::NAMES.into_iter().find_map(|(name, unit)| {
            let number = typed.strip_suffix(name)?;
            Some((number.trim_end(), unit))
        });
        let (number, unit) = named.unwrap_or((typed.as_str(), bare));
        let (whole, part) = number.split_once(['.', ',']).unwrap_or((number, "0"));
        let digits = |text: &str, most: usize| {
            (1..=most).contains(&text.len()) && text.bytes().all(|byte| byte.is_ascii_digit())
        };
        if !digits(whole, DIGITS.0) || !digits(part, DIGITS.1) {
            return Err(wrong());
        }
        // In ten-thousandths of the unit.
        let number: u64 = format!("{whole}{part:0<4}").parse().map_err(|_| wrong())?;
        let hundredths = (number * unit.hundredths() + 5_000) / 10_000;
        u32::try_from(hundredths).map(Self).map_err(|_| wrong())
    }

    /// Rounded to whole centimetres.
    #[must_use]
    pub fn cm(self) -> u16 {
        self.nearest(1_000)
    }

    /// Rounded to whole centimetres, for lengths too long for [`Self::cm`].
    #[must_use]
    pub const fn long_cm(self) -> u32 {
        self.0.saturating_add(500) / 1_000
    }

    /// Rounded to whole millimetres.
    #[must_use]
    pub fn mm(self) -> u16 {
        self.nearest(100)
    }

    /// Rounded to whole tenths of a millimetre.
    #[must_use]
    pub fn tenth_mm(self) -> u16 {
        self.nearest(10)
    }

    fn nearest(self, unit: u32) -> u16 {
        let rounded = (self.0.saturating_add(unit / 2)) / unit;
        u16::try_from(rounded).unwrap_or(u16::MAX)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn inches_are_accepted_wherever_centimetres_and_millimetres_are() {
        for (text, bare, hundredths) in [
            ("46", Unit::Cm, 46_000),
            ("46", Unit::Mm, 4_600),
            ("18in", Unit::Cm, 45_720),
            ("18\"", Unit::Mm, 45_720),
            (" 18 IN ", Unit::Cm, 45_720),
            ("18 inches", Unit::Cm, 45_720),
            ("1 inch", Unit::Cm, 2_540),
            ("18''", Unit::Cm, 45_720),
            ("18\u{2033}", Unit::Cm, 45_720),
            ("2.625in", Unit::Mm, 6_668),
            ("7,5", Unit::Cm, 7_500),
            ("75mm", Unit::Cm, 7_500),
            ("46 cm", Unit::Mm, 46_000),
            ("8m", Unit::Cm, 800_000),
            ("4.5", Unit::M, 450_000),
            ("8.7 yd", Unit::M, 795_528),
            ("2 yards", Unit::M, 182_880),
            ("33.55", Unit::Mm, 3_355),
        ] {
            assert_eq!(Length::read(text, bare), Ok(Length(hundredths)), "{text}");
        }
        let inches = Length::read("18in", Unit::Cm).unwrap();
        assert_eq!(
            (inches.cm(), inches.mm(), inches.tenth_mm()),
            (46, 457, 4_572)
        );
        for text in [
            "", "in", "\"", "some", "-3", "1e3", "18 ft", "18inn", "1.2.3", ".5", "5.", "12345",
            "0.12345", "\u{663}",
        ] {
            let wrong = Length::read(text, Unit::Cm).unwrap_err();
            assert_eq!(wrong.0, text);
        }
    }

    proptest! {
        #[test]
        fn any_text_is_read_or_refused(text in "\\PC{0,8}|[0-9.,]{1,9} ?(in|cm|mm|\")?") {
            let read = [Unit::Mm, Unit::Cm, Unit::Inch].map(|bare| Length::read(&text, bare).is_ok());
            prop_assert!(read.iter().all(|is| *is == read[0]));
        }

        #[test]
        fn inches_equal_their_length_in_millimetres(tenths in 0_u32..9_999) {
            let text = format!("{}.{}", tenths / 10, tenths % 10);
            let inches = Length::read(&format!("{text}in"), Unit::Cm).unwrap();
            prop_assert_eq!(inches, Length::read(&text, Unit::Inch).unwrap());
            prop_assert_eq!(inches, Length(tenths * 254));
        }
    }
}
