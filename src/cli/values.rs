//! Values as they are typed on the command line: whole numbers, and the name of who does it.

use std::env;
use std::fmt::Display;
use std::num::{IntErrorKind, ParseIntError};
use std::ops::RangeInclusive;
use std::str::FromStr;

use jiff::civil::Date;

use crate::model::label::{ParseWhoError, Who};
use crate::model::length::{Length, Unit};
use crate::stash::command::progress::Percent;
use crate::text::faults::{Past, length_error, not_whole, percent_error, person_error};

/// What reads a whole number of a range and says what would be one where it is none, since what the
/// parser of the command line says by itself speaks of digits found in strings.
pub(crate) fn whole<N>(
    range: RangeInclusive<N>,
) -> impl Fn(&str) -> Result<N, String> + Clone + Send + Sync + 'static
where
    N: FromStr<Err = ParseIntError> + PartialOrd + Copy + Display + Send + Sync + 'static,
{
    move |text| {
        let (least, most) = (*range.start(), *range.end());
        let too_large = || not_whole(text, Some(Past::Most(most.to_string())));
        match text.parse::<N>() {
            Ok(number) if number > most => Err(too_large()),
            Ok(number) if number < least => {
                Err(not_whole(text, Some(Past::Least(least.to_string()))))
            }
            Ok(number) => Ok(number),
            Err(wrong) if *wrong.kind() == IntErrorKind::PosOverflow => Err(too_large()),
            Err(_) => Err(not_whole(text, None)),
        }
    }
}

/// Reads a part of the whole, in percent.
pub(crate) fn percent(text: &str) -> Result<Percent, String> {
    text.parse().map_err(|wrong| percent_error(&wrong))
}

/// Reads a length, in centimetres where no unit stands behind it.
pub(crate) fn cm(text: &str) -> Result<Length, String> {
    Length::read(text, Unit::Cm).map_err(|wrong| length_error(&wrong))
}

/// Reads a length, in millimetres where no unit stands behind it.
pub(crate) fn mm(text: &str) -> Result<Length, String> {
    Length::read(text, Unit::Mm).map_err(|wrong| length_error(&wrong))
}

/// Reads a length, in metres where no unit stands behind it, as centimetres.
pub(crate) fn metres(text: &str) -> Result<u32, String> {
    let length = Length::read(text, Unit::M).map_err(|wrong| length_error(&wrong))?;
    Ok(length.long_cm())
}

/// A day.
pub(crate) fn day(text: &str) -> Result<Date, String> {
    text.parse()
        .map_err(|_| "write a day such as 2026-12-24.".to_owned())
}

/// What was said about the name; empty turns it off.
#[derive(Debug, Clone)]
pub(crate) struct ByArg(Option<Who>);

impl ByArg {
    /// Reads what was typed.
    pub(crate) fn read(text: &str) -> Result<Self, String> {
        match Who::new(text) {
            Ok(who) => Ok(Self(Some(who))),
            Err(ParseWhoError::Empty) => Ok(Self(None)),
            Err(other) => Err(person_error(&other)),
        }
    }
}

/// The name to write down: the one that was given, else the one of the login, if there is any.
pub(crate) fn name_of(given: Option<&ByArg>) -> Option<Who> {
    match given {
        Some(ByArg(by)) => by.clone(),
        None => ["USER", "USERNAME"]
            .into_iter()
            .filter_map(env::var_os)
            .find_map(|login| Who::cleaned(&login.to_string_lossy())),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::command;

    #[test]
    fn what_is_no_whole_number_is_told_with_what_would_be_one() {
        let read = whole(1..=1000_u16);
        assert_eq!(read("1000"), Ok(1000));
        for (text, words) in [
            ("abc", "'abc' isn't a whole number. Write one such as 3."),
            ("", "'' isn't a whole number. Write one such as 3."),
            ("2.5", "'2.5' isn't a whole number. Write one such as 3."),
            ("0", "0 is too small. Write 1 or more."),
            ("1001", "1001 is too large. Write at most 1000."),
            ("70000", "70000 is too large. Write at most 1000."),
        ] {
            assert_eq!(read(text), Err(words.to_owned()), "{text}");
        }
    }

    #[test]
    fn what_is_no_length_is_told_with_what_would_be_one() {
        for option in ["working", "waste", "thickness", "knot"] {
            let words = [
                "homehook",
                "ring",
                "fabric",
                "Heron",
                &format!("--{option}"),
                "X",
            ];
            let wrong = command().try_get_matches_from(words).unwrap_err();
            let wrong = wrong.to_string();
            assert!(
                wrong.contains("'X' isn't a length. Write one such as 46cm"),
                "{wrong}"
            );
        }
    }

    /// Every number of the command line is read so, and none as the parser has it by itself.
    #[test]
    fn every_number_is_read_with_a_sentence_of_our_own() {
        for line in [
            "use 701 --lengths X",
            "use 701 --strands X",
            "undo X",
            "redo X",
            "history --last X",
            "effort 701 --as X",
            "board new Wall --rows X --columns 2",
            "board new Wall --rows 2 --columns X",
            "board new Wall --rows 2 --columns 2 --cards-per-hook X",
            "board cards-per-hook A01 X",
            "board resize Wall --rows X",
            "board resize Wall --columns X",
            "board resize Wall --cards-per-hook X",
            "rehang --apply X",
            "rehang --plan X",
            "rehang --go-on --steps X",
            "print labels --skip X",
            "ring split Heron 701 --lengths X",
            "ring progress Heron 701 --lengths X",
            "ring progress Heron 701 --strands X",
            "ring fabric Heron --count X",
            "ring fabric Heron --over X",
            "ring fabric Heron --strands X",
            "ring fabric Heron --backstitch-strands X",
            "ring fabric Heron --margin-percent X",
        ] {
            let words = ["homehook"].into_iter().chain(line.split(' '));
            let wrong = command().try_get_matches_from(words).unwrap_err();
            let wrong = wrong.to_string();
            assert!(
                wrong.contains("'X' isn't a whole number"),
                "{line}: {wrong}"
            );
        }
    }
}
