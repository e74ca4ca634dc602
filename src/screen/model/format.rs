//! Numbers in words: sign, decimals and unit as the technician reads them. Formatting only.

/// What stands where there is no number.
pub const NOTHING: &str = "–";

/// `+0.83`, `−0.83`; a value that rounds to zero has no sign.
pub fn signed(value: f64, decimals: usize) -> String {
    let digits = format!("{:.decimals$}", value.abs());
    if digits.bytes().all(|byte| matches!(byte, b'0' | b'.')) {
        digits
    } else if value < 0.0 {
        format!("−{digits}")
    } else {
        format!("+{digits}")
    }
}

/// `0.083`, `−12.1`: a sign only where the value is negative.
pub fn plain(value: f64, decimals: usize) -> String {
    let text = signed(value, decimals);
    match text.strip_prefix('+') {
        Some(bare) => bare.to_owned(),
        None => text,
    }
}

/// A value with its unit, or [`NOTHING`].
pub fn with_unit(value: Option<f64>, decimals: usize, unit: &str) -> String {
    finite(value).map_or_else(
        || NOTHING.to_owned(),
        |value| format!("{} {unit}", plain(value, decimals)),
    )
}

/// A value with its sign and unit, or [`NOTHING`].
pub fn signed_with_unit(value: Option<f64>, decimals: usize, unit: &str) -> String {
    finite(value).map_or_else(
        || NOTHING.to_owned(),
        |value| format!("{} {unit}", signed(value, decimals)),
    )
}

/// `± 0.01 %`, or [`NOTHING`].
pub fn plus_minus(value: Option<f64>, decimals: usize, unit: &str) -> String {
    finite(value).map_or_else(
        || NOTHING.to_owned(),
        |value| format!("±{} {unit}", plain(value.abs(), decimals)),
    )
}

/// A sample rate: `48 kHz`, `44.1 kHz`.
pub fn sample_rate(rate_hz: u32) -> String {
    format!("{} kHz", f64::from(rate_hz) / 1000.0)
}

/// A frequency with as many decimals as mean something: `3150.21 Hz`, `10000.1 Hz`.
pub fn frequency(frequency_hz: f64) -> String {
    let decimals = if frequency_hz.abs() < 10_000.0 { 2 } else { 1 };
    format!("{frequency_hz:.decimals$} Hz")
}

/// A tone as a person names it: `3150 Hz`, `312.5 Hz`.
pub fn tone(tone_hz: f64) -> String {
    format!("{} Hz", (tone_hz * 1000.0).round() / 1000.0)
}

/// `12 s`, `1:05`, `1:02:03`.
pub fn duration(seconds: f64) -> String {
    let whole = seconds.max(0.0) as u64;
    match (whole / 3600, whole / 60 % 60, whole % 60) {
        (0, 0, s) => format!("{s} s"),
        (0, m, s) => format!("{m}:{s:02}"),
        (h, m, s) => format!("{h}:{m:02}:{s:02}"),
    }
}

/// `1 gap`, `3 gaps`.
pub fn counted(count: u64, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

/// With a capital at the beginning.
pub fn capitalised(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

fn finite(value: Option<f64>) -> Option<f64> {
    value.filter(|value| value.is_finite())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_sign_is_that_of_the_number_shown() {
        assert_eq!(signed(0.834, 2), "+0.83");
        assert_eq!(signed(-0.834, 2), "−0.83");
        assert_eq!(signed(-0.004, 2), "0.00");
        assert_eq!(signed(0.004, 2), "0.00");
        assert_eq!(plain(12.06, 1), "12.1");
        assert_eq!(plain(-12.06, 1), "−12.1");
    }

    #[test]
    fn no_number_is_a_dash_never_a_zero() {
        assert_eq!(with_unit(None, 2, "%"), NOTHING);
        assert_eq!(signed_with_unit(Some(f64::NAN), 2, "%"), NOTHING);
        assert_eq!(plus_minus(Some(f64::INFINITY), 2, "%"), NOTHING);
        assert_eq!(plus_minus(Some(0.011), 2, "%"), "±0.01 %");
    }

    #[test]
    fn rates_and_times_read_as_spoken() {
        assert_eq!(sample_rate(48_000), "48 kHz");
        assert_eq!(sample_rate(44_100), "44.1 kHz");
        assert_eq!(sample_rate(11_025), "11.025 kHz");
        assert_eq!(duration(59.9), "59 s");
        assert_eq!(duration(65.0), "1:05");
        assert_eq!(duration(3723.0), "1:02:03");
        assert_eq!(tone(3150.0), "3150 Hz");
        assert_eq!(tone(312.5), "312.5 Hz");
    }
}
