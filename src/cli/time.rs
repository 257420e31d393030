//! Days and dates, as people say them.

use jiff::Timestamp;
use jiff::tz::TimeZone;

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
    let word = if count == 1 { "day" } else { "days" };
    if count == 0 {
        "since today".to_owned()
    } else {
        format!("since {} ({count} {word})", then.strftime(form))
    }
}
