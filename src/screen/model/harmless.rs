//! Text that somebody typed or sent, made fit for a line on the screen: whatever is in it, it stays in its place and
//! says only what can be read.

use std::iter::Peekable;

/// Marks on top of one letter that are shown; more would climb into the lines above.
const MOST_MARKS: usize = 2;

/// One line of at most `most` letters, cut with an ellipsis. Line breaks, tabs and other control characters become a
/// space, several spaces one; letters that cannot be seen but turn the direction of writing or hide are left out.
pub fn line(text: &str, most: usize) -> String {
    let mut letters = visible(text).peekable();
    let mut shown = String::new();
    let mut marks = 0;
    let mut count = 0;
    while let Some(letter) = letters.next() {
        if is_space(letter) {
            while letters.next_if(|&next| is_space(next)).is_some() {}
            if count > 0 && letters.peek().is_some() {
                count += 1;
                shown.push(' ');
            }
        } else if is_mark(letter) {
            marks += 1;
            if marks <= MOST_MARKS {
                shown.push(letter);
            }
            continue;
        } else {
            count += 1;
            shown.push(letter);
        }
        marks = 0;
        if count >= most && rest(&mut letters) {
            return cut(shown);
        }
    }
    shown
}

/// Whether anything is left that can be read.
fn rest(letters: &mut Peekable<impl Iterator<Item = char>>) -> bool {
    // A huge text need not be walked through to its end.
    letters
        .by_ref()
        .take(64)
        .any(|letter| !is_space(letter) && !is_mark(letter))
        || letters.peek().is_some()
}

fn cut(mut shown: String) -> String {
    while shown.ends_with(' ') {
        shown.pop();
    }
    shown.pop();
    shown.push('…');
    shown
}

fn visible(text: &str) -> impl Iterator<Item = char> {
    text.chars().filter(|&letter| !is_hidden(letter))
}

fn is_space(letter: char) -> bool {
    letter.is_whitespace() || letter.is_control()
}

/// Marks that direct the writing, join or hide letters, and tags: nothing of them can be seen.
const fn is_hidden(letter: char) -> bool {
    matches!(
        letter,
        '\u{ad}'
            | '\u{34f}'
            | '\u{61c}'
            | '\u{115f}'..='\u{1160}'
            | '\u{180e}'
            | '\u{200b}'..='\u{200f}'
            | '\u{202a}'..='\u{202e}'
            | '\u{2060}'..='\u{206f}'
            | '\u{fe00}'..='\u{fe0f}'
            | '\u{feff}'
            | '\u{fff9}'..='\u{fffb}'
            | '\u{e0000}'..='\u{e0fff}'
    )
}

/// Marks that stand on the letter before them.
const fn is_mark(letter: char) -> bool {
    matches!(
        letter,
        '\u{300}'..='\u{36f}'
            | '\u{483}'..='\u{489}'
            | '\u{1ab0}'..='\u{1aff}'
            | '\u{1dc0}'..='\u{1dff}'
            | '\u{20d0}'..='\u{20ff}'
            | '\u{fe20}'..='\u{fe2f}'
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_can_be_read_stays() {
        assert_eq!(line("Finch 2H", 40), "Finch 2H");
        assert_eq!(line("läuft zu schnell, é", 40), "läuft zu schnell, é");
        assert_eq!(line("", 40), "");
        assert_eq!(line("12345", 5), "12345");
    }

    #[test]
    fn control_characters_and_breaks_are_one_space() {
        assert_eq!(line("a\r\n\tb\0\u{1b}[31mc", 40), "a b [31mc");
        assert_eq!(line(" \n a \u{2028} ", 40), "a");
    }

    #[test]
    fn nothing_turns_the_line_round_or_hides_in_it() {
        assert_eq!(line("HL-\u{202e}1300\u{202c}", 40), "HL-1300");
        assert_eq!(line("a\u{200b}b\u{feff}c\u{e0041}", 40), "abc");
    }

    #[test]
    fn long_texts_are_cut_and_not_walked_through() {
        assert_eq!(line("123456", 5), "1234…");
        assert_eq!(line("1234 6789", 5), "123…");
        assert_eq!(line("12345   ", 5), "12345");
        let huge = "x".repeat(1 << 24);
        assert_eq!(line(&huge, 10).chars().count(), 10);
    }

    #[test]
    fn marks_do_not_climb() {
        let climbing = format!("a{}b", "\u{301}".repeat(500));
        assert_eq!(line(&climbing, 40), "a\u{301}\u{301}b");
    }
}
