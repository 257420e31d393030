//! Which of the daily copies stay as they grow old.

use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::Date;

/// Days of which every copy stays, today with them.
pub const DAYS: i32 = 7;
/// Calendar weeks before the present one of which one copy stays.
pub const WEEKS: i32 = 8;
/// Calendar months before the present one of which one copy stays.
pub const MONTHS: i32 = 12;

/// The days of which the copy stays: all of the last [`DAYS`], then the last of every week (Monday to
/// Sunday) for [`WEEKS`] weeks, then the last of those in every month for [`MONTHS`] months. Days
/// to come stay, since only a wrong clock makes them. O(n log n).
///
/// Thinning day by day leaves the same as thinning everything at once.
#[must_use]
pub fn staying(days: &[Date], today: Date) -> BTreeSet<Date> {
    let days: BTreeSet<Date> = days.iter().copied().collect();
    let (young, old): (Vec<Date>, Vec<Date>) =
        days.into_iter().partition(|&day| age(day, today) < DAYS);
    // A later day takes the place of an earlier one of the same week or month.
    let weekly: BTreeMap<i32, Date> = old.into_iter().map(|day| (week(day), day)).collect();
    let (recent, aged): (Vec<Date>, Vec<Date>) = weekly
        .into_values()
        .partition(|&day| week(today) - week(day) <= WEEKS);
    let monthly: BTreeMap<i32, Date> = aged.into_iter().map(|day| (month(day), day)).collect();
    let monthly = monthly
        .into_values()
        .filter(|&day| month(today) - month(day) <= MONTHS);
    young.into_iter().chain(recent).chain(monthly).collect()
}

/// Days from `day` to `today`.
fn age(day: Date, today: Date) -> i32 {
    (today - day).get_days()
}

/// The number of a day's week; weeks that follow each other have numbers that do.
fn week(day: Date) -> i32 {
    // 1 January 1 was a Monday in the calendar carried back.
    age(jiff::civil::date(1, 1, 1), day).div_euclid(7)
}

/// The number of a day's month.
fn month(day: Date) -> i32 {
    i32::from(day.year()) * 12 + i32::from(day.month())
}

#[cfg(test)]
mod tests {
    use jiff::ToSpan;
    use jiff::civil::{Weekday, date};
    use proptest::prelude::*;

    use super::*;

    fn back(today: Date, days: i32) -> Date {
        today - i64::from(days).days()
    }

    #[test]
    fn weeks_begin_on_a_monday() {
        for days in 0..800 {
            let day = back(date(2026, 11, 25), days);
            let next = week(day.tomorrow().unwrap()) - week(day);
            assert_eq!(next, i32::from(day.weekday() == Weekday::Sunday), "{day}");
        }
    }

    #[test]
    fn two_years_of_days_leave_a_week_eight_sundays_and_the_ends_of_months() {
        let today = date(2026, 11, 25);
        let days: Vec<Date> = (0..730).map(|n| back(today, n)).collect();
        let expected = [
            // The last Sunday of each month that is more than eight weeks back.
            (2025, 11, 30),
            (2025, 12, 28),
            (2026, 1, 25),
            (2026, 2, 22),
            (2026, 3, 29),
            (2026, 4, 26),
            (2026, 5, 31),
            (2026, 6, 28),
            (2026, 7, 26),
            (2026, 8, 30),
            (2026, 9, 27),
            // Sundays, and the day that is the last of its week to be a week old.
            (2026, 10, 4),
            (2026, 10, 11),
            (2026, 10, 18),
            (2026, 10, 25),
            (2026, 11, 1),
            (2026, 11, 8),
            (2026, 11, 15),
            (2026, 11, 18),
            // The last seven days.
            (2026, 11, 19),
            (2026, 11, 20),
            (2026, 11, 21),
            (2026, 11, 22),
            (2026, 11, 23),
            (2026, 11, 24),
            (2026, 11, 25),
        ];
        let expected = expected.map(|(year, month, day)| date(year, month, day));
        let found: Vec<Date> = staying(&days, today).into_iter().collect();
        assert_eq!(found, expected);
    }

    /// The rule read out day by day: a day is dropped when a better one stands for it.
    fn model(days: &[Date], today: Date) -> BTreeSet<Date> {
        let monday = |day: Date| {
            let mut at = day;
            while at.weekday() != Weekday::Monday {
                at = at.yesterday().unwrap();
            }
            at
        };
        let old = |day: Date| day <= back(today, DAYS);
        let last_of_week = |day: Date| {
            !days
                .iter()
                .any(|&other| old(other) && other > day && monday(other) == monday(day))
        };
        let eight_weeks = back(monday(today), 7 * WEEKS);
        let aged = |day: Date| monday(day) < eight_weeks;
        let same_month = |a: Date, b: Date| (a.year(), a.month()) == (b.year(), b.month());
        let last_of_month = |day: Date| {
            !days.iter().any(|&other| {
                old(other)
                    && aged(other)
                    && last_of_week(other)
                    && other > day
                    && same_month(other, day)
            })
        };
        let oldest = today.first_of_month() - i64::from(MONTHS).months();
        days.iter()
            .copied()
            .filter(|&day| {
                !old(day)
                    || (last_of_week(day) && (!aged(day) || (last_of_month(day) && day >= oldest)))
            })
            .collect()
    }

    /// So many times fewer cases, as each takes longer.
    fn fewer(times: u32) -> ProptestConfig {
        let cases = (ProptestConfig::default().cases / times).max(1);
        ProptestConfig {
            cases,
            ..ProptestConfig::default()
        }
    }

    proptest! {
        #![proptest_config(fewer(16))]

        #[test]
        fn it_agrees_with_the_rule_read_out(
            ages in prop::collection::vec(-3_i32..460, 0..50),
            from in 0_i32..800,
        ) {
            let today = back(date(2028, 3, 2), from);
            let days: Vec<Date> = ages.iter().map(|&n| back(today, n)).collect();
            let found = staying(&days, today);
            prop_assert_eq!(&found, &model(&days, today));
            let again: Vec<Date> = found.iter().copied().collect();
            prop_assert_eq!(staying(&again, today), found);
        }

        #[test]
        fn thinning_every_day_leaves_what_thinning_once_leaves(
            used in prop::collection::vec(prop::bool::weighted(0.8), 450),
            from in 0_i32..800,
        ) {
            let first = back(date(2026, 1, 1), from);
            let mut all = Vec::new();
            let mut left: Vec<Date> = Vec::new();
            for (n, used) in (0_i64..).zip(used) {
                let today = first + n.days();
                if used {
                    all.push(today);
                    left.push(today);
                    left = staying(&left, today).into_iter().collect();
                    prop_assert!(left.len() <= 30, "{}", left.len());
                }
            }
            if let Some(&today) = all.last() {
                prop_assert_eq!(left, staying(&all, today).into_iter().collect::<Vec<_>>());
            }
        }
    }
}
