//! Job numbers: what may be one, and which comes next.

/// Letters and digits of a job number at most.
const MOST: usize = 40;

/// Whether a text can be a job number: it is also a file's name and part of a command line.
///
/// # Errors
/// Says what a job number is made of.
pub fn check_number(number: &str) -> Result<(), String> {
    let allowed = |letter: char| letter.is_alphanumeric() || "-_.".contains(letter);
    let good = (1..=MOST).contains(&number.chars().count())
        && number.starts_with(char::is_alphanumeric)
        && number.ends_with(char::is_alphanumeric)
        && number.chars().all(allowed);
    if good {
        return Ok(());
    }
    let mut shown: String = number.chars().take(MOST).collect();
    if shown.len() < number.len() {
        shown.push('…');
    }
    Err(format!(
        "'{shown}' is no job number: use letters, digits, '-', '_' and '.', at most {MOST}, such as HL-0031"
    ))
}

/// The number after the greatest of those that have the pattern of `newest`: the same beginning, and digits at the end.
/// `0001` where there is none yet.
pub fn next_number(newest: Option<&str>, all: &[String]) -> String {
    let Some(newest) = newest else {
        return "0001".into();
    };
    let (beginning, digits) = split(newest);
    if digits.is_empty() {
        return next_number(Some(&format!("{newest}-1")), all);
    }
    let of_the_pattern = all.iter().filter_map(|number| {
        let (other, digits) = split(number);
        (other.eq_ignore_ascii_case(beginning) && !digits.is_empty()).then_some(digits)
    });
    let greatest = of_the_pattern.chain([digits]).max_by_key(|digits| {
        let value = digits.trim_start_matches('0');
        (value.len(), value)
    });
    let next = format!("{beginning}{}", one_more(greatest.unwrap_or(digits)));
    if check_number(&next).is_ok() {
        next
    } else {
        // All nines, and no room for one more digit.
        "0001".into()
    }
}

/// What stands before the digits at the end, and those digits.
fn split(number: &str) -> (&str, &str) {
    let beginning = number.trim_end_matches(|letter: char| letter.is_ascii_digit());
    number.split_at(beginning.len())
}

/// One more, with as many digits as before where they suffice: of any length.
fn one_more(digits: &str) -> String {
    let mut next: Vec<u8> = digits.bytes().collect();
    for digit in next.iter_mut().rev() {
        if *digit < b'9' {
            *digit += 1;
            return next.into_iter().map(char::from).collect();
        }
        *digit = b'0';
    }
    next.insert(0, b'1');
    next.into_iter().map(char::from).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn next(newest: &str, all: &[&str]) -> String {
        let all: Vec<_> = all.iter().map(|&number| number.to_owned()).collect();
        next_number(Some(newest), &all)
    }

    #[test]
    fn the_next_number_keeps_the_pattern() {
        assert_eq!(next_number(None, &[]), "0001");
        assert_eq!(next("HL-0031", &["HL-0031"]), "HL-0032");
        assert_eq!(next("HL-0031", &["HL-0031", "hl-0040", "X-99"]), "HL-0041");
        assert_eq!(next("HL-0099", &[]), "HL-0100");
        assert_eq!(next("HL-9999", &["HL-9999"]), "HL-10000");
        assert_eq!(next("HL-10000", &["HL-9999", "HL-10000"]), "HL-10001");
        assert_eq!(next("2026.7", &[]), "2026.8");
        assert_eq!(next("ferry", &["ferry"]), "ferry-2");
        assert_eq!(next("ferry", &["ferry", "ferry-2"]), "ferry-3");
        assert_eq!(next(&"9".repeat(40), &[]), "0001");
        assert_eq!(next(&format!("A{}", "8".repeat(30)), &[]).len(), 31);
    }

    #[test]
    fn a_job_number_is_a_name_and_nothing_else() {
        for good in ["HL-0031", "7", "2026.114", "Ä-3", "a_b"] {
            assert_eq!(check_number(good), Ok(()), "{good}");
        }
        for wrong in [
            "", " ", "-1", "a/b", "..", "a\0b", "a\nb", "A B", "x'--", "HL-0031.", "C:1",
        ] {
            assert!(check_number(wrong).is_err(), "{wrong}");
        }
        let told = check_number(&"9".repeat(1 << 20)).expect_err("too long");
        assert!(told.len() < 200, "{told}");
    }
}
