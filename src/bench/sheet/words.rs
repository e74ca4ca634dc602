//! Numbers, units, dates and verdicts as the sheet writes them.

use crate::bench::{Figure, Job, Limit, Quantity, Verdict};
use jiff::{Timestamp, tz::TimeZone};

/// Decimals that an uncertainty gets at most where it is small.
const MOST_DECIMALS: usize = 6;

/// Characters that a cell holds on one line.
const TOGETHER: usize = 14;

/// From here on a number is written with a power of ten, so that it stays short.
const HUGE: f64 = 1e7;

/// A figure's value with its quantity's decimals and, where it says something, its sign; without the unit.
pub fn figure_words(figure: &Figure) -> String {
    let quantity = figure.quantity;
    number(figure.value, quantity.decimals(), quantity.is_signed())
}

/// A figure's expanded uncertainty without sign and unit: the quantity's decimals, or more where it would else read
/// zero. `None`: not known.
pub fn uncertainty_words(figure: &Figure) -> Option<String> {
    let uncertainty = figure.uncertainty?.abs();
    let mut decimals = figure.quantity.decimals();
    while decimals < MOST_DECIMALS
        && uncertainty > 0.0
        && uncertainty < 0.5 * 10_f64.powi(-(decimals as i32))
    {
        decimals += 1;
    }
    Some(number(uncertainty, decimals, false))
}

/// `+1.420 ± 0.012`, `+1.420` where the uncertainty is not known.
pub fn with_uncertainty(figure: &Figure) -> String {
    match uncertainty_words(figure) {
        Some(uncertainty) => format!("{}\u{a0}±\u{a0}{uncertainty}", figure_words(figure)),
        None => figure_words(figure),
    }
}

/// A number with a true minus sign; what rounds to zero has no sign.
pub fn number(value: f64, decimals: usize, signed: bool) -> String {
    let text = match value.abs() {
        huge if huge >= HUGE => format!("{huge:.decimals$e}"),
        size => format!("{size:.decimals$}"),
    };
    let zero = !text.contains(|c: char| c.is_ascii_digit() && c != '0');
    match (zero, value < 0.0, signed) {
        (true, _, _) => text,
        (false, true, _) => format!("−{text}"),
        (false, false, true) => format!("+{text}"),
        (false, false, false) => text,
    }
}

/// The value without its sign, with its unit.
pub fn size(figure: &Figure) -> String {
    with_unit(
        number(figure.value.abs(), figure.quantity.decimals(), false),
        figure.quantity,
    )
}

/// The unit after a number, in a way that keeps them together.
pub fn with_unit(number: String, quantity: Quantity) -> String {
    match quantity.unit() {
        "" => number,
        unit => format!("{number}\u{a0}{}", unit.replace(' ', "\u{a0}")),
    }
}

/// A limit in words that stay together where they are few.
pub fn limit(limit: &Limit) -> String {
    let words = limit.words();
    if words.chars().count() > TOGETHER {
        return words;
    }
    words.replace(' ', "\u{a0}")
}

/// A verdict with its sign, or that there is no limit.
pub fn verdict(figure: &Figure, limit: Option<&Limit>) -> String {
    match limit {
        None => String::new(),
        Some(limit) => {
            let verdict = Verdict::of(figure, limit);
            format!("{}\u{a0}{}", verdict.sign(), short(verdict))
        }
    }
}

/// A verdict in few words: the table's.
fn short(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Inside => "inside (± unknown)",
        Verdict::Outside => "outside (± unknown)",
        other => other.words(),
    }
}

/// `2 March 2026`, in UTC.
pub fn date(at: Timestamp) -> String {
    in_utc(at, "%-d\u{a0}%B\u{a0}%Y")
}

/// `March 2026`, in UTC.
pub fn month(at: Timestamp) -> String {
    in_utc(at, "%B\u{a0}%Y")
}

/// `2026-03-02 10:14`, in UTC.
pub fn date_and_time(at: Timestamp) -> String {
    in_utc(at, "%Y-%m-%d\u{a0}%H:%M")
}

fn in_utc(at: Timestamp, format: &str) -> String {
    at.to_zoned_datetime(TimeZone::UTC)
        .strftime(format)
        .to_string()
}

/// The document's time.
pub fn document_time(job: &Job) -> Timestamp {
    job.closed.unwrap_or_else(|| {
        let checks = job.checks.iter().map(|check| check.at);
        let readings = job.readings.iter().map(|reading| reading.at);
        let skips = job.skips.iter().map(|skip| skip.at);
        let parts = job.parts.iter().map(|part| part.at);
        let notes = job.notes.iter().map(|note| note.at);
        let all = checks
            .chain(readings)
            .chain(skips)
            .chain(parts)
            .chain(notes);
        all.fold(job.opened, Timestamp::max)
    })
}

/// A text that begins a sentence.
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    match letters.next() {
        Some(first) => first.to_uppercase().chain(letters).collect(),
        None => String::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn figure(quantity: Quantity, value: f64, uncertainty: Option<f64>) -> Figure {
        Figure {
            quantity,
            value,
            uncertainty,
        }
    }

    #[test]
    fn a_number_has_its_decimals_and_a_true_minus() {
        let speed = |value| figure_words(&figure(Quantity::SpeedDeviation, value, None));
        assert_eq!(speed(1.42), "+1.420");
        assert_eq!(speed(-1.42), "−1.420");
        assert_eq!(speed(-0.000_4), "0.000");
        let flutter = figure(Quantity::WeightedTwoSigma, 0.1234, Some(0.013));
        assert_eq!(with_uncertainty(&flutter), "0.123\u{a0}±\u{a0}0.013");
        assert_eq!(figure_words(&figure(Quantity::Dropouts, 3.0, None)), "3");
    }

    #[test]
    fn a_small_uncertainty_never_reads_zero() {
        let words = |uncertainty| {
            uncertainty_words(&figure(Quantity::SpeedDeviation, 1.0, Some(uncertainty)))
        };
        assert_eq!(words(0.000_04).as_deref(), Some("0.00004"));
        assert_eq!(words(0.000_5).as_deref(), Some("0.001"));
        assert_eq!(words(0.002_1).as_deref(), Some("0.002"));
        assert_eq!(words(0.0).as_deref(), Some("0.000"));
    }

    #[test]
    fn dates_are_those_of_greenwich() {
        let at: Timestamp = "2026-03-01T23:59:00Z".parse().expect("a time");
        assert_eq!(date(at), "1\u{a0}March\u{a0}2026");
        assert_eq!(date_and_time(at), "2026-03-01\u{a0}23:59");
    }
}
