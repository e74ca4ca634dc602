//! When something was measured: seconds since 1970 as a date of TOML and back, in UTC.

use std::time::{Duration, SystemTime};
use toml::value::{Date, Datetime, Offset, Time};

const DAY_S: i64 = 86_400;

/// The time as a TOML date, to a second, UTC.
pub fn to_date(time: SystemTime) -> Datetime {
    let seconds = time
        .duration_since(SystemTime::UNIX_EPOCH)
        .map_or(0, |since| since.as_secs() as i64);
    let (days, second) = (seconds.div_euclid(DAY_S), seconds.rem_euclid(DAY_S));
    let (year, month, day) = civil(days);
    Datetime {
        date: Some(Date {
            year: year as u16,
            month: month as u8,
            day: day as u8,
        }),
        time: Some(Time {
            hour: (second / 3600) as u8,
            minute: (second / 60 % 60) as u8,
            second: Some((second % 60) as u8),
            nanosecond: None,
        }),
        offset: Some(Offset::Z),
    }
}

/// The time of a date; midnight where it has no time of day, UTC where it has no offset.
pub(super) fn from_date(date: &Datetime) -> Option<SystemTime> {
    let day = date.date?;
    let days = days(
        i64::from(day.year),
        i64::from(day.month),
        i64::from(day.day),
    );
    let second = date.time.map_or(0, |time| {
        3600 * i64::from(time.hour)
            + 60 * i64::from(time.minute)
            + i64::from(time.second.unwrap_or(0))
    });
    let offset_minutes = match date.offset {
        Some(Offset::Custom { minutes }) => i64::from(minutes),
        Some(Offset::Z) | None => 0,
    };
    let seconds = days * DAY_S + second - 60 * offset_minutes;
    let seconds = u64::try_from(seconds).ok()?;
    SystemTime::UNIX_EPOCH.checked_add(Duration::from_secs(seconds))
}

/// `today`, `3 days ago`, `14 months ago`: how old a figure is at `now`.
pub fn age_in_words(measured: &Datetime, now: SystemTime) -> String {
    let Some(measured) = from_date(measured) else {
        return "at an unknown time".into();
    };
    let Ok(age) = now.duration_since(measured) else {
        return "in the future, by this computer's clock".into();
    };
    let days = age.as_secs() / DAY_S as u64;
    match days {
        0 => "today".into(),
        1 => "yesterday".into(),
        2..60 => format!("{days} days ago"),
        60..730 => format!("{} months ago", days * 12 / 365),
        _ => format!("{} years ago", days / 365),
    }
}

/// Days since 1970 as year, month, day of the Gregorian calendar: counted from 1 March of the year 0, so that the leap
/// day is a year's last, in eras of 400 years.
fn civil(days: i64) -> (i64, i64, i64) {
    let from_march = days + 719_468;
    let era = from_march.div_euclid(146_097);
    let of_era = from_march.rem_euclid(146_097);
    let year_of_era = (of_era - of_era / 1460 + of_era / 36_524 - of_era / 146_096) / 365;
    let of_year = of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let month_from_march = (5 * of_year + 2) / 153;
    let day = of_year - (153 * month_from_march + 2) / 5 + 1;
    let month = if month_from_march < 10 {
        month_from_march + 3
    } else {
        month_from_march - 9
    };
    (era * 400 + year_of_era + i64::from(month <= 2), month, day)
}

/// The inverse of [`civil`].
fn days(year: i64, month: i64, day: i64) -> i64 {
    let year = year - i64::from(month <= 2);
    let era = year.div_euclid(400);
    let year_of_era = year.rem_euclid(400);
    let of_year = (153 * ((month + 9) % 12) + 2) / 5 + day - 1;
    let of_era = year_of_era * 365 + year_of_era / 4 - year_of_era / 100 + of_year;
    era * 146_097 + of_era - 719_468
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(seconds: u64) -> SystemTime {
        SystemTime::UNIX_EPOCH + Duration::from_secs(seconds)
    }

    /// Checked with GNU date: `date -u -d @N +%FT%TZ`.
    #[test]
    fn dates_are_those_of_the_calendar() {
        for (seconds, text) in [
            (0, "1970-01-01T00:00:00Z"),
            (951_782_399, "2000-02-28T23:59:59Z"),
            (951_782_400, "2000-02-29T00:00:00Z"),
            (1_709_251_199, "2024-02-29T23:59:59Z"),
            (1_767_225_600, "2026-01-01T00:00:00Z"),
            (4_107_542_400, "2100-03-01T00:00:00Z"),
        ] {
            let date = to_date(at(seconds));
            assert_eq!(date.to_string(), text);
            assert_eq!(from_date(&date), Some(at(seconds)));
        }
        for day in 0..80_000 {
            let (year, month, of_month) = civil(day);
            assert_eq!(days(year, month, of_month), day);
        }
    }

    #[test]
    fn ages_are_said_in_the_unit_that_suits() {
        let measured = to_date(at(0));
        let age = |days: u64| age_in_words(&measured, at(days * 86_400 + 5));
        assert_eq!(age(0), "today");
        assert_eq!(age(1), "yesterday");
        assert_eq!(age(59), "59 days ago");
        assert_eq!(age(92), "3 months ago");
        assert_eq!(age(1100), "3 years ago");
        assert!(age_in_words(&to_date(at(99)), at(0)).contains("future"));
    }
}
