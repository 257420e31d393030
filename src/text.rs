//! What the program says.

pub mod record;

/// The word for one of a thing, or that for any other number of it.
pub fn one_or_many<N: From<u8> + PartialEq>(
    count: N,
    one: &'static str,
    many: &'static str,
) -> &'static str {
    if count == N::from(1) { one } else { many }
}
