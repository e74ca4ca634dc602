//! Reads a log back, whatever state it is in: line by line, in constant memory, damaged lines counted and passed over.

use super::{RunInError, history::History, line::Line};
use std::{
    fs::File,
    io::{self, BufRead, BufReader, Read, Seek as _, SeekFrom},
    path::Path,
};

/// A longer line is damage; what the log writes is a tenth of it.
const LONGEST_LINE_BYTES: u64 = 8192;

/// Reads the log at `path`, which may be in use by a run.
///
/// # Errors
/// When it cannot be read or is no run-in log.
pub fn read(path: &Path) -> Result<History, RunInError> {
    let refuse = |why: String| RunInError(format!("{}: {why}", path.display()));
    let mut file =
        File::open(path).map_err(|error| refuse(format!("the log cannot be opened: {error}")))?;
    match first_line(&mut file) {
        Ok(Some(Line::Session(_))) => {}
        Ok(_) => {
            return Err(refuse(
                "this is no run-in log; 'trimwatch watch --log FILE' makes one".into(),
            ));
        }
        Err(error) => return Err(refuse(format!("the log cannot be read: {error}"))),
    }
    let mut history = History::default();
    read_lines(&mut BufReader::new(file), &mut history)
        .map_err(|error| refuse(format!("the log cannot be read to its end: {error}")))?;
    Ok(history)
}

/// What an earlier session has left in the file at `path`; nothing where it is new.
pub(super) fn history_so_far(path: &Path) -> Result<History, RunInError> {
    match std::fs::metadata(path) {
        Ok(file) if file.len() > 0 => read(path),
        _ => Ok(History::default()),
    }
}

/// The first line, if it is one; the file is at its start afterwards.
pub(super) fn first_line(file: &mut File) -> io::Result<Option<Line>> {
    file.seek(SeekFrom::Start(0))?;
    let mut line = Vec::new();
    BufReader::new(&mut *file)
        .take(LONGEST_LINE_BYTES)
        .read_until(b'\n', &mut line)?;
    file.seek(SeekFrom::Start(0))?;
    Ok(Line::parse(&line))
}

fn read_lines(from: &mut impl BufRead, history: &mut History) -> io::Result<()> {
    let mut line = Vec::new();
    loop {
        line.clear();
        let bytes = from
            .by_ref()
            .take(LONGEST_LINE_BYTES)
            .read_until(b'\n', &mut line)?;
        if bytes == 0 {
            return Ok(());
        }
        let too_long = !line.ends_with(b"\n") && bytes as u64 == LONGEST_LINE_BYTES;
        let torn = !line.ends_with(b"\n") && !too_long;
        if too_long {
            skip_line(from)?;
        }
        let text = line.trim_ascii();
        match Line::parse(text) {
            Some(line) => history.take(&line),
            None if text.is_empty() => {}
            None => history.note_damage(torn),
        }
    }
}

/// Passes over the rest of a line of any length.
fn skip_line(from: &mut impl BufRead) -> io::Result<()> {
    loop {
        let bytes = from.fill_buf()?;
        if bytes.is_empty() {
            return Ok(());
        }
        let (used, ended) = match bytes.iter().position(|byte| *byte == b'\n') {
            Some(at) => (at + 1, true),
            None => (bytes.len(), false),
        };
        from.consume(used);
        if ended {
            return Ok(());
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const SESSION: &str = r#"{"session":{"schema":"trimwatch.run-in/1","started_unix_s":1e9,"every_s":5.0,"source":"a","expected":"b"}}"#;
    const READING: &str =
        r#"{"reading":{"at_s":5.0,"seconds":5.0,"status":"ok","speed_percent":0.1}}"#;

    fn history(bytes: &[u8]) -> History {
        let mut history = History::default();
        read_lines(&mut BufReader::with_capacity(64, bytes), &mut history)
            .expect("memory can be read");
        history
    }

    #[test]
    fn a_line_torn_off_at_the_end_is_told_apart_from_damage_within() {
        let text = format!("{SESSION}\n{READING}\n{}", &READING[..40]);
        let torn = history(text.as_bytes());
        assert_eq!((torn.readings(), torn.damaged_lines()), (1, 0));
        assert!(torn.is_torn());
        let text = format!("{SESSION}\n{}\n\0\0\0\n{READING}\n", &READING[..40]);
        let damaged = history(text.as_bytes());
        assert_eq!((damaged.readings(), damaged.damaged_lines()), (1, 2));
        assert!(!damaged.is_torn());
    }

    #[test]
    fn a_last_line_without_its_end_counts_if_it_is_whole() {
        let text = format!("{SESSION}\r\n{READING}");
        let history = history(text.as_bytes());
        assert_eq!((history.readings(), history.damaged_lines()), (1, 0));
        assert!(!history.is_torn());
    }

    #[test]
    fn a_line_without_end_is_one_damaged_line_however_long() {
        let mut bytes = format!("{SESSION}\n{READING}\n").into_bytes();
        bytes.extend(vec![b'x'; 300_000]);
        bytes.extend(format!("\n{READING}\n").as_bytes());
        let history = history(&bytes);
        assert_eq!((history.readings(), history.damaged_lines()), (2, 1));
    }

    proptest! {
        #[test]
        fn any_bytes_are_survived(bytes in proptest::collection::vec(any::<u8>(), 0..2000)) {
            let mut text = format!("{SESSION}\n{READING}\n").into_bytes();
            text.extend(bytes);
            text.extend(format!("\n{READING}\n").as_bytes());
            let history = history(&text);
            prop_assert!(history.readings() >= 2);
        }

        #[test]
        fn a_changed_byte_costs_at_most_its_line(at in 0_usize..700, byte in any::<u8>()) {
            let mut text = format!("{SESSION}\n").into_bytes();
            let start = text.len();
            for _ in 0..10 {
                text.extend(format!("{READING}\n").as_bytes());
            }
            let at = start + at.min(text.len() - start - 1);
            text[at] = byte;
            // A byte that becomes a line's end, or stops being one, spoils the lines on both sides of it.
            prop_assert!(history(&text).readings() >= 8);
        }
    }
}
