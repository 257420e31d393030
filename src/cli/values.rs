//! Values on the command line: whole numbers, lengths, and the writer's name.

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

/// A parser for whole numbers in a range, whose error gives the valid values. The built-in parser's
/// error mentions digits found in strings.
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

pub(crate) fn percent(text: &str) -> Result<Percent, String> {
    text.parse().map_err(|wrong| percent_error(&wrong))
}

/// Reads a length, by default in centimetres.
pub(crate) fn cm(text: &str) -> Result<Length, String> {
    Length::read(text, Unit::Cm).map_err(|wrong| length_error(&wrong))
}

/// Reads a length, by default in millimetres.
pub(crate) fn mm(text: &str) -> Result<Length, String> {
    Length::read(text, Unit::Mm).map_err(|wrong| length_error(&wrong))
}

/// Reads a length, by default in metres, as centimetres.
pub(crate) fn metres(text: &str) -> Result<u32, String> {
    let length = Length::read(text, Unit::M).map_err(|wrong| length_error(&wrong))?;
    Ok(length.long_cm())
}

/// A day.
pub(crate) fn day(text: &str) -> Result<Date, String> {
    text.parse()
        .map_err(|_| "write a day such as 2026-12-24.".to_owned())
}

/// The given name; an empty one means none.
#[derive(Debug, Clone)]
pub(crate) struct ByArg(Option<Who>);

impl ByArg {
    pub(crate) fn read(text: &str) -> Result<Self, String> {
        match Who::new(text) {
            Ok(who) => Ok(Self(Some(who))),
            Err(ParseWhoError::Empty) => Ok(Self(None)),
            Err(other) => Err(person_error(&other)),
        }
    }
}

/// The name to record: the given one, or else the login name, if any.
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
    fn an_invalid_whole_number_is_reported_with_the_valid_ones() {
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
    fn an_invalid_length_is_reported_with_valid_ones() {
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

    /// Checks that every number uses this parser, and none the built-in one.
    #[test]
    fn every_number_has_our_own_error_message() {
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
