//! Numbers as text: sign, unit, side, and a dash where there is no number.

/// Stands where there is no number.
pub const NONE: &str = "--";

/// A quantity whose sign matters, always written; zero (as rounded) carries none.
pub fn signed(value: Option<f64>, decimals: usize) -> String {
    let Some(value) = finite(value) else {
        return NONE.into();
    };
    if rounds_to_zero(value, decimals) {
        format!("{:.decimals$}", 0.0)
    } else {
        format!("{value:+.decimals$}")
    }
}

/// A quantity that is a size, or whose sign needs no emphasis.
pub fn plain(value: Option<f64>, decimals: usize) -> String {
    let Some(value) = finite(value) else {
        return NONE.into();
    };
    if rounds_to_zero(value, decimals) {
        format!("{:.decimals$}", 0.0)
    } else {
        format!("{value:.decimals$}")
    }
}

/// `" ±0.01"`, or nothing where the uncertainty is not known.
pub fn uncertainty(value: Option<f64>, decimals: usize) -> String {
    finite(value).map_or_else(String::new, |value| format!(" ±{value:.decimals$}"))
}

/// The word for the side a signed value lies on, with a comma before it; nothing where it rounds to zero.
pub fn side(value: Option<f64>, decimals: usize, negative: &str, positive: &str) -> String {
    match finite(value) {
        Some(value) if !rounds_to_zero(value, decimals) => {
            format!(", {}", if value < 0.0 { negative } else { positive })
        }
        _ => String::new(),
    }
}

/// Drops what is no number: a reading that slipped through as NaN or infinite is shown as none.
pub fn finite(value: Option<f64>) -> Option<f64> {
    value.filter(|value| value.is_finite())
}

fn rounds_to_zero(value: f64, decimals: usize) -> bool {
    let decimals = i32::try_from(decimals).unwrap_or(i32::MAX);
    value.abs() < 0.5 * 10f64.powi(-decimals)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sign_is_always_written_but_not_on_zero() {
        assert_eq!(signed(Some(0.4871), 3), "+0.487");
        assert_eq!(signed(Some(-12.0), 1), "-12.0");
        assert_eq!(signed(Some(-0.0004), 3), "0.000");
        assert_eq!(plain(Some(-0.04), 1), "0.0");
    }

    #[test]
    fn what_is_no_number_is_a_dash() {
        for value in [None, Some(f64::NAN), Some(f64::NEG_INFINITY)] {
            assert_eq!(signed(value, 2), NONE);
            assert_eq!(plain(value, 2), NONE);
            assert_eq!(uncertainty(value, 2), "");
            assert_eq!(side(value, 2, "slow", "fast"), "");
        }
    }

    #[test]
    fn the_side_is_named_as_the_number_is_rounded() {
        assert_eq!(side(Some(0.2), 1, "slow", "fast"), ", fast");
        assert_eq!(side(Some(-0.2), 1, "slow", "fast"), ", slow");
        assert_eq!(side(Some(0.04), 1, "slow", "fast"), "");
    }
}
