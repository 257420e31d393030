//! What a range says of a number.

use crate::model::number::Number;
use crate::model::range::{Range, Shade};

/// The shade of a number, and the number as the range's list writes it: capitals do not matter, as
/// they do not for cards. O(log shades).
#[must_use]
pub fn shade<'a>(range: &'a Range, number: &Number) -> Option<(&'a Number, &'a Shade)> {
    let exact = range.shades.get_key_value(number);
    if exact.is_some() || number.as_str().bytes().all(|byte| byte.is_ascii_digit()) {
        return exact;
    }
    // Numbers that differ in capitals or leading zeros only are neighbours in natural order.
    let parts = parts(number);
    let near = |(other, _): &(&Number, &Shade)| self::parts(other) == parts;
    let after = range.shades.range(number..).take_while(near);
    let before = range.shades.range(..number).rev().take_while(near);
    let key = number.key();
    after.chain(before).find(|(other, _)| other.key() == key)
}

/// A number without regard to capitals and to zeros before other digits.
fn parts(number: &Number) -> String {
    let mut parts = String::new();
    let (mut digits, mut value) = (false, false);
    for c in number.key().chars() {
        let digit = c.is_ascii_digit();
        if digit && !digits {
            parts.push('0');
        }
        digits = digit;
        value = digit && (value || c != '0');
        if value || !digit {
            parts.push(c);
        }
    }
    parts
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::ids::RangeId;
    use crate::model::label::Label;

    #[test]
    fn capitals_do_not_matter_and_zeros_do() {
        let number = |text| Number::new(text).unwrap();
        let numbers = ["b5", "310", "B05", "a5", "A05", "grün"];
        let range = Range {
            id: RangeId(1),
            name: Label::new("Hill").unwrap(),
            put_up: crate::model::range::PutUp::default(),
            shades: numbers.map(|n| (number(n), Shade::default())).into(),
        };
        for (asked, found) in [
            ("B5", Some("b5")),
            ("b5", Some("b5")),
            ("b05", Some("B05")),
            ("A5", Some("a5")),
            ("a05", Some("A05")),
            ("a005", None),
            ("310", Some("310")),
            ("0310", None),
            ("GRÜN", Some("grün")),
            ("C5", None),
        ] {
            let is = shade(&range, &number(asked)).map(|(number, _)| number.as_str());
            assert_eq!(is, found, "{asked}");
        }
    }
}
