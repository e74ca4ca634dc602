//! Text at a width of 80 columns: label and value in two columns, long sentences wrapped.

/// Columns of the narrowest terminal that is served.
pub const WIDTH: usize = 80;
/// Column the values start in.
const VALUES_AT: usize = 28;
/// Columns of one cell of a table.
const CELL: usize = 20;

/// A page that grows line by line.
#[derive(Default)]
pub struct Page(String);

impl Page {
    /// An empty line, then a heading and its value.
    pub fn heading(&mut self, label: &str, value: &str) {
        if !self.0.is_empty() {
            self.0.push('\n');
        }
        self.pair(label, value);
    }

    /// An empty line, then a line of its own; a long one is wrapped.
    pub fn title(&mut self, text: &str) {
        if !self.0.is_empty() {
            self.0.push('\n');
        }
        for line in wrap(text, WIDTH) {
            self.line(&line);
        }
    }

    /// An indented label and its value.
    pub fn row(&mut self, label: &str, value: &str) {
        self.pair(&format!("  {label}"), value);
    }

    /// An indented label and up to two short values, each in its column of the page.
    pub fn cells(&mut self, label: &str, values: &[String]) {
        let values: String = values
            .iter()
            .map(|value| format!("{:<CELL$}", fit(value, CELL - 1)))
            .collect();
        self.line(&format!("{:<VALUES_AT$}{values}", format!("  {label}")));
    }

    /// A line of a wider table, indented; cut where it is too long.
    pub fn table_line(&mut self, text: &str) {
        self.line(&format!("  {}", fit(text.trim_end(), WIDTH - 2)));
    }

    /// A sentence with a dash before it, wrapped.
    pub fn item(&mut self, text: &str) {
        for (index, line) in wrap(text, WIDTH - 4).into_iter().enumerate() {
            self.line(&format!("  {} {line}", if index == 0 { '-' } else { ' ' }));
        }
    }

    /// A line that is laid out already.
    pub fn verbatim(&mut self, line: &str) {
        self.line(&fit(line, WIDTH));
    }

    /// The text so far.
    pub fn into_text(self) -> String {
        self.0
    }

    /// A label that reaches into the values' column pushes its value to the next line.
    fn pair(&mut self, label: &str, value: &str) {
        let mut lines = wrap(value, WIDTH - VALUES_AT).into_iter();
        if columns(label) < VALUES_AT {
            let first = lines.next().unwrap_or_default();
            self.line(&format!("{label:<VALUES_AT$}{first}"));
        } else {
            for line in wrap(label, WIDTH) {
                self.line(&line);
            }
        }
        for line in lines {
            self.line(&format!("{:VALUES_AT$}{line}", ""));
        }
    }

    fn line(&mut self, line: &str) {
        self.0.push_str(line.trim_end());
        self.0.push('\n');
    }
}

/// How many columns a text takes; the faces write nothing but single-column characters, names apart.
pub fn columns(text: &str) -> usize {
    text.chars().count()
}

/// The text cut to `width` columns, with an ellipsis where something is missing, and without control characters.
pub fn fit(text: &str, width: usize) -> String {
    let text = printable(text);
    if columns(&text) <= width {
        return text;
    }
    let mut cut: String = text.chars().take(width.saturating_sub(1)).collect();
    cut.push('…');
    cut
}

/// The text with control characters (a file's name may hold them) as a space, so that it stays one line.
pub fn printable(text: &str) -> String {
    text.chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect()
}

/// Breaks a text at spaces; a longer word is cut. Never empty.
pub fn wrap(text: &str, width: usize) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in printable(text).split_whitespace() {
        let mut word = word.to_owned();
        if !line.is_empty() && columns(&line) + 1 + columns(&word) > width {
            lines.push(std::mem::take(&mut line));
        }
        while columns(&word) > width {
            lines.push(word.chars().take(width).collect());
            word = word.chars().skip(width).collect();
        }
        if !line.is_empty() {
            line.push(' ');
        }
        line.push_str(&word);
    }
    if !line.is_empty() || lines.is_empty() {
        lines.push(line);
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_is_wider_than_the_page_and_nothing_is_lost() {
        let sentence = "one two three ".repeat(20) + &"x".repeat(200);
        let mut page = Page::default();
        page.heading("Heading", &sentence);
        page.row("label", &sentence);
        page.row(&"a long label ".repeat(12), "value");
        page.cells("label", &["1234567890".repeat(3), "b".into()]);
        page.item(&sentence);
        let text = page.into_text();
        assert!(text.lines().all(|line| columns(line) <= WIDTH), "{text}");
        assert_eq!(text.matches("three").count(), 3 * 20);
        assert_eq!(text.matches('x').count(), 3 * 200);
    }

    #[test]
    fn a_name_is_cut_with_a_mark_and_kept_on_one_line() {
        assert_eq!(fit("take.wav", 8), "take.wav");
        assert_eq!(fit("a-long-take.wav", 8), "a-long-…");
        assert_eq!(fit("two\nlines", 20), "two lines");
    }

    #[test]
    fn the_empty_text_is_one_empty_line() {
        assert_eq!(wrap("", 10), [""]);
    }
}
