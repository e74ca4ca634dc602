//! The workshop's own standards: its calibration tapes, how often and how long they have been used, and when they are due
//! for a check against another.

use jiff::{Timestamp, civil::Date, tz::TimeZone};
use serde::{Deserialize, Serialize};

/// Passes after which a tape should be checked against another: common practice, no source.
pub const USUAL_PASSES: u32 = 100;
/// Months after which a tape should be checked against another: common practice, no source.
pub const USUAL_MONTHS: u32 = 24;
/// Readings less than this apart belong to one pass, seconds: a service tape's part is some minutes long.
pub(crate) const PASS_S: i64 = 600;

/// What is known of one calibration tape at hand.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct TapeOnHand {
    /// Its name in the tables of test tapes, or what it is called here.
    pub name: String,
    /// What a person calls it.
    pub title: String,
    /// Its certificate: number, who gave it; empty: none.
    pub certificate: String,
    /// Date of the certificate.
    pub certified: Option<Date>,
    /// Since when the workshop has it.
    pub acquired: Option<Date>,
    /// Passes it had before they were counted here.
    pub passes_before: u32,
    /// Due for a check after so many passes.
    pub due_after_passes: u32,
    /// Due for a check after so many months.
    pub due_after_months: u32,
    /// No longer used since then.
    pub retired: Option<Date>,
}

impl Default for TapeOnHand {
    fn default() -> Self {
        Self {
            name: String::new(),
            title: String::new(),
            certificate: String::new(),
            certified: None,
            acquired: None,
            passes_before: 0,
            due_after_passes: USUAL_PASSES,
            due_after_months: USUAL_MONTHS,
            retired: None,
        }
    }
}

/// A tape was checked against another.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TapeCheck {
    /// When.
    pub at: Timestamp,
    /// Against which tape.
    pub against: String,
    /// What was found, in words with figures.
    pub found: String,
    /// Whether it is still good.
    pub good: bool,
}

/// A tape with its history.
#[derive(Clone, Debug, PartialEq)]
pub struct TapeRecord {
    /// What is known of it.
    pub tape: TapeOnHand,
    /// All passes: those before they were counted, and those since.
    pub passes: u32,
    /// Passes since the last check, or all where there was none.
    pub passes_since_check: u32,
    /// First and last counted pass.
    pub played: Option<(Timestamp, Timestamp)>,
    /// Checks, oldest first.
    pub checks: Vec<TapeCheck>,
}

impl TapeRecord {
    /// Age of the tape's figures in months at `now`: since the last check, else the certificate, else since it is here.
    /// `None`: nothing is known.
    pub fn months(&self, now: Timestamp) -> Option<u32> {
        let checked = self
            .checks
            .last()
            .map(|check| check.at.to_zoned_datetime(TimeZone::UTC).date());
        let since = checked.or(self.tape.certified).or(self.tape.acquired)?;
        months_between(since, now)
    }

    /// Why the tape is due for a check against another; `None` while it is not, and for one that is no longer used.
    pub fn due(&self, now: Timestamp) -> Option<String> {
        let TapeOnHand {
            title,
            due_after_passes,
            due_after_months,
            ..
        } = &self.tape;
        if self.tape.retired.is_some() {
            return None;
        }
        let since = match self.checks.last() {
            Some(check) if !check.good => {
                return Some(format!(
                    "{title} was not good when it was checked against {}: use another tape",
                    check.against
                ));
            }
            Some(_) => "since its last check",
            None => "without a check",
        };
        if self.passes_since_check >= *due_after_passes {
            return Some(format!(
                "{title} is due for a check against another tape: {} passes {since} ({due_after_passes} allowed)",
                self.passes_since_check
            ));
        }
        let months = self
            .months(now)
            .filter(|months| months >= due_after_months)?;
        Some(format!(
            "{title} is due for a check against another tape: its figures are {months} months old ({due_after_months} allowed)"
        ))
    }

    /// Certificate, passes and age in one line, as a sheet or a list shows them.
    pub fn words(&self, now: Timestamp) -> String {
        let certificate = match (&*self.tape.certificate, self.tape.certified) {
            ("", None) => "no certificate".to_owned(),
            ("", Some(date)) => format!("certificate of {date}"),
            (certificate, None) => format!("certificate {certificate}"),
            (certificate, Some(date)) => format!("certificate {certificate} of {date}"),
        };
        let age = match self.months(now) {
            Some(1) => ", figures 1 month old".into(),
            Some(months) => format!(", figures {months} months old"),
            None => String::new(),
        };
        let passes = if self.passes == 1 { "pass" } else { "passes" };
        format!("{certificate}, {} {passes}{age}", self.passes)
    }
}

/// A word on the interface's own figures when they are old; `None` while they are not.
pub fn profile_due(measured: Timestamp, now: Timestamp) -> Option<String> {
    let months = months_between(measured.to_zoned_datetime(TimeZone::UTC).date(), now)?;
    (months >= USUAL_MONTHS).then(|| {
        format!(
            "the interface's own errors were measured {months} months ago: measure them anew ({USUAL_MONTHS} months allowed)"
        )
    })
}

/// Whole months from a date to now; 0 where it lies ahead.
pub(crate) fn months_between(since: Date, now: Timestamp) -> Option<u32> {
    let now = now.to_zoned_datetime(TimeZone::UTC).date();
    let months = 12 * (i32::from(now.year()) - i32::from(since.year())) + i32::from(now.month())
        - i32::from(since.month())
        - i32::from(now.day() < since.day());
    u32::try_from(months.max(0)).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(text: &str) -> Timestamp {
        text.parse().expect("a time")
    }

    fn record() -> TapeRecord {
        TapeRecord {
            tape: TapeOnHand {
                name: "speed-a".into(),
                title: "Speed tape A".into(),
                certificate: "17/2024".into(),
                certified: Some(Date::constant(2024, 11, 30)),
                ..TapeOnHand::default()
            },
            passes: 12,
            passes_since_check: 12,
            played: None,
            checks: Vec::new(),
        }
    }

    #[test]
    fn a_tape_is_due_by_its_passes_or_by_its_age() {
        let now = at("2026-11-29T12:00:00Z");
        assert_eq!(record().months(now), Some(23));
        assert_eq!(record().due(now), None);
        let later = record().due(at("2026-11-30T00:00:00Z")).expect("old");
        assert!(later.contains("24 months old (24 allowed)"), "{later}");
        let mut played = record();
        played.passes_since_check = 100;
        let told = played.due(now).expect("worn");
        assert!(
            told.contains("100 passes without a check (100 allowed)"),
            "{told}"
        );
        played.tape.retired = Some(Date::constant(2026, 1, 1));
        assert_eq!(played.due(now), None);
    }

    #[test]
    fn a_check_makes_its_figures_new_or_ends_its_use() {
        let now = at("2027-06-01T00:00:00Z");
        let mut checked = record();
        checked.checks.push(TapeCheck {
            at: at("2026-12-01T00:00:00Z"),
            against: "Speed tape B".into(),
            found: "0.01 % apart".into(),
            good: true,
        });
        assert_eq!(checked.months(now), Some(6));
        assert_eq!(checked.due(now), None);
        checked.checks[0].good = false;
        assert!(checked.due(now).expect("told").contains("use another tape"));
    }

    #[test]
    fn an_old_profile_is_told() {
        let measured = at("2024-01-15T00:00:00Z");
        assert_eq!(profile_due(measured, at("2025-12-31T00:00:00Z")), None);
        assert!(profile_due(measured, at("2026-01-15T00:00:00Z")).is_some());
        assert_eq!(profile_due(measured, at("2023-01-15T00:00:00Z")), None);
    }

    #[test]
    fn a_tape_is_described_in_one_line() {
        assert_eq!(
            record().words(at("2025-01-01T00:00:00Z")),
            "certificate 17/2024 of 2024-11-30, 12 passes, figures 1 month old"
        );
    }
}
