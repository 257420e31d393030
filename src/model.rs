//! The values of the program: ranges, cards, boards and rings. Each type enforces its own rules.
//!
//! No I/O, no clock and no terminal: callers pass in the time.

pub mod assumptions;
pub mod board;
pub mod card;
pub mod colour;
pub mod ids;
pub mod label;
pub mod length;
pub mod matches;
pub mod number;
pub mod range;
pub mod ring;
pub mod thread;
pub mod whereabouts;

/// JSON schemas for values that serialize as strings.
#[cfg(test)]
pub(crate) mod schema {
    use std::borrow::Cow;

    use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};

    /// Declares schema stand-ins: name, description, pattern.
    macro_rules! texts {
        ($($of:ident, $what:literal, $pattern:literal;)*) => {$(
            #[doc = $what]
            pub(crate) struct $of;

            impl JsonSchema for $of {
                fn schema_name() -> Cow<'static, str> {
                    stringify!($of).into()
                }

                fn json_schema(_: &mut SchemaGenerator) -> Schema {
                    json_schema!({"type": "string", "description": $what, "pattern": $pattern})
                }
            }
        )*};
    }

    texts! {
        Instant, "An RFC 3339 instant in UTC.",
            r"^-?[0-9]{4,6}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]{1,9})?Z$";
        Day, "A day of the calendar.", r"^-?[0-9]{4,6}-[0-9]{2}-[0-9]{2}$";
        Hex, "A colour in sRGB, #RRGGBB.", r"^#[0-9A-F]{6}$";
        Id, "An id: 16 hex digits.", r"^[0-9a-f]{16}$";
    }
}
