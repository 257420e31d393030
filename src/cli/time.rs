//! Days and dates, as people say them.

use jiff::Timestamp;
use jiff::tz::TimeZone;

use crate::text::one_or_many;

pub use crate::tui::view::day_and_time as at;

/// Whole days between the calendar dates of two instants here; 0 for a time to come.
pub fn days(since: Timestamp, now: Timestamp) -> i32 {
    let zone = TimeZone::system();
    let date = |at: Timestamp| at.to_zoned_datetime(zone.clone()).date();
    let span = date(since).duration_until(date(now));
    i32::try_from(span.as_hours() / 24)
        .unwrap_or(i32::MAX)
        .max(0)
}

/// `since 12 Oct (44 days)`, with the year where it is another.
pub fn since(at: Timestamp, now: Timestamp) -> String {
    let zone = TimeZone::system();
    let (then, today) = (
        at.to_zoned_datetime(zone.clone()),
        now.to_zoned_datetime(zone),
    );
    let form = if then.year() == today.year() {
        "%-d %b"
    } else {
        "%-d %b %Y"
    };
    let count = days(at, now);
    let word = one_or_many(count, "day", "days");
    if count == 0 {
        "since today".to_owned()
    } else {
        format!("since {form} ({count} {word})", form = then.strftime(form))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::SignedDuration;

    #[test]
    fn days_are_counted_by_the_calendar_and_never_below_nothing() {
        let noon = jiff::civil::date(2026, 11, 25).at(12, 0, 0, 0);
        let now = TimeZone::system().to_timestamp(noon).unwrap();
        let ago = |hours| now - SignedDuration::from_hours(hours);
        assert_eq!(
            [ago(0), ago(11), ago(13), ago(48), ago(-48)].map(|at| days(at, now)),
            [0, 0, 1, 2, 0]
        );
        assert_eq!(since(ago(0), now), "since today");
        assert_eq!(since(ago(24), now), "since 24 Nov (1 day)");
        assert_eq!(since(ago(44 * 24), now), "since 12 Oct (44 days)");
        assert_eq!(since(ago(366 * 24), now), "since 24 Nov 2025 (366 days)");
    }

    #[test]
    fn the_time_of_day_is_told_with_the_year_where_it_is_another() {
        let noon = jiff::civil::date(2026, 11, 25).at(12, 5, 0, 0);
        let now = TimeZone::system().to_timestamp(noon).unwrap();
        let ago = |hours| now - SignedDuration::from_hours(hours);
        assert_eq!(at(ago(1), now), "25 Nov 11:05");
        assert_eq!(at(ago(365 * 24), now), "25 Nov 2025 12:05");
    }
}
