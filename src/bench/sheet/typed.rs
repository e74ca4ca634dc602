//! What somebody typed, made fit for print: on one line, without characters that steer a terminal or turn the reading
//! direction, and of a bounded length. What was cut says so.

/// Characters of a name, a number, a unit.
pub const NAME: usize = 44;
/// Characters of a short remark.
pub const REMARK: usize = 120;
/// Characters of a note or a complaint.
pub const NOTE: usize = 330;

/// Says of a text that it was cut; of a name an ellipsis does.
const CUT: &str = "… (cut; the job’s record has it all)";
/// Marks above and below one letter that are still a letter of some language; more would reach into other lines.
const MARKS: usize = 2;

/// The text with at most `most` characters; capitals and what is no Latin letter, which are wide, count twice.
pub fn text(text: &str, most: usize) -> String {
    let mut clean = String::new();
    let (mut count, mut marks) = (0, 0);
    for c in text.trim().chars() {
        let blank = c.is_whitespace() || c.is_control();
        if steers(c) || (blank && (clean.is_empty() || clean.ends_with(' '))) {
            continue;
        }
        marks = if is_mark(c) { marks + 1 } else { 0 };
        if marks > MARKS {
            continue;
        }
        count += width_of(c);
        if count > most {
            clean.truncate(clean.trim_end().len());
            clean.push_str(if most > NAME { CUT } else { "…" });
            return clean;
        }
        clean.push(if blank { ' ' } else { c });
    }
    clean.truncate(clean.trim_end().len());
    clean
}

/// The text, or `instead` where there is none.
pub fn or(typed: &str, most: usize, instead: &str) -> String {
    let clean = text(typed, most);
    if clean.is_empty() {
        instead.into()
    } else {
        clean
    }
}

/// The text as a sentence: with a full stop where it ends in none.
pub fn sentence(typed: &str, most: usize) -> String {
    let mut clean = text(typed, most);
    if !clean.is_empty() && !clean.ends_with(['.', '!', '?', '…', ')']) {
        clean.push('.');
    }
    clean
}

/// How many small letters a text is as wide as.
pub fn width(text: &str) -> usize {
    text.chars().map(width_of).sum()
}

fn width_of(c: char) -> usize {
    if c.is_ascii_uppercase() || !c.is_ascii() {
        2
    } else {
        1
    }
}

/// Characters without a shape of their own that change how others are shown.
fn steers(c: char) -> bool {
    matches!(c,
        '\u{ad}' | '\u{61c}' | '\u{180e}' | '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}'
        | '\u{2060}'..='\u{206f}' | '\u{fe00}'..='\u{fe0f}' | '\u{feff}' | '\u{fff9}'..='\u{fffb}'
        | '\u{e0000}'..='\u{e0fff}')
}

fn is_mark(c: char) -> bool {
    matches!(c,
        '\u{300}'..='\u{36f}' | '\u{483}'..='\u{489}' | '\u{1ab0}'..='\u{1aff}' | '\u{1dc0}'..='\u{1dff}'
        | '\u{20d0}'..='\u{20ff}' | '\u{fe20}'..='\u{fe2f}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_stays_on_one_line_and_steers_nothing() {
        assert_eq!(
            text("  two\r\n\tlines\u{1b}[31m\u{0} ", 99),
            "two lines [31m"
        );
        assert_eq!(text("a\u{202e}b\u{200b}c\u{feff}", 99), "abc");
        assert_eq!(
            text("e\u{301}\u{302}\u{303}\u{304}x", 99),
            "e\u{301}\u{302}x"
        );
    }

    #[test]
    fn what_is_cut_says_so_and_what_fits_is_whole() {
        assert_eq!(text("12345", 5), "12345");
        assert_eq!(text("12345  ", 5), "12345");
        assert_eq!(text(&"x".repeat(100_000), 5), "xxxxx…");
        assert_eq!(text("WWWWW", 4), "WW…");
        let cut = text(&"x".repeat(100_000), 100);
        assert!(cut.contains("xx… (cut"), "{cut}");
        assert!(cut.chars().count() < 150);
    }

    #[test]
    fn nothing_is_said_where_nothing_was_typed() {
        assert_eq!(or(" \n", NAME, "none"), "none");
        assert_eq!(sentence("", NOTE), "");
        assert_eq!(sentence("It stops", NOTE), "It stops.");
        assert_eq!(sentence("It stops!", NOTE), "It stops!");
    }
}
