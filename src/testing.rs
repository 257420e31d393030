//! How many cases the tests try: few enough to wait for, or all of them.

use proptest::test_runner::Config;

/// Whether long runs are enabled, with `HOMEHOOK_LONG=1`.
pub(crate) fn is_long() -> bool {
    std::env::var_os("HOMEHOOK_LONG").is_some_and(|value| value != "0")
}

/// For tests with slow cases: one in `of` of the usual number, and all of them in a long run.
/// `PROPTEST_CASES` overrides the number.
pub(crate) fn one_case_in(of: u32) -> Config {
    let all = Config::default();
    let of = if is_long() { 1 } else { of };
    Config {
        cases: all.cases.div_ceil(of),
        ..all
    }
}
