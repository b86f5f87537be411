//! The time at which reports say that they were made.

use std::time::{SystemTime, UNIX_EPOCH};

/// Now as `2024-03-01 14:05 UTC`; the time that `SOURCE_DATE_EPOCH` states where it is set, so that a build of a report can
/// be repeated to the byte (reproducible-builds.org, the specification of that variable).
pub(super) fn now() -> String {
    let stated = std::env::var("SOURCE_DATE_EPOCH").ok().and_then(|text| text.parse().ok());
    let clock = || SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |since| since.as_secs());
    utc(stated.unwrap_or_else(clock))
}

/// Now as `2024-03-01T14:05:00`, in UTC, to the minute.
pub(super) fn stamp() -> String {
    now().replacen(' ', "T", 1).replace(" UTC", ":00")
}

/// A number of seconds since 1970 as date and time in the Gregorian calendar.
fn utc(seconds: u64) -> String {
    // Days are counted from 1 March of year 0, so that leap days end their years.
    let days = seconds / 86_400 + 719_468;
    let (era, day_of_era) = (days / 146_097, days % 146_097);
    let year_of_era = (day_of_era - day_of_era / 1_460 + day_of_era / 36_524 - day_of_era / 146_096) / 365;
    let day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let march_month = (5 * day_of_year + 2) / 153;
    let day = day_of_year - (153 * march_month + 2) / 5 + 1;
    let month = if march_month < 10 { march_month + 3 } else { march_month - 9 };
    let year = era * 400 + year_of_era + u64::from(month <= 2);
    let (hour, minute) = (seconds / 3_600 % 24, seconds / 60 % 60);
    format!("{year}-{month:02}-{day:02} {hour:02}:{minute:02} UTC")
}

#[cfg(test)]
mod tests {
    use super::utc;

    #[test]
    fn dates_are_those_of_the_calendar() {
        // From `date -u -d @N`, GNU coreutils.
        let known = [
            (0, "1970-01-01 00:00 UTC"),
            (951_782_399, "2000-02-28 23:59 UTC"),
            (951_782_400, "2000-02-29 00:00 UTC"),
            (1_709_294_700, "2024-03-01 12:05 UTC"),
            (4_102_444_799, "2099-12-31 23:59 UTC"),
        ];
        for (seconds, text) in known {
            assert_eq!(utc(seconds), text);
        }
    }
}
