//! A job as one readable file: `{"schema": "trimwatch.job/1", "job": {…}}`. What comes from elsewhere is read with limits
//! and looked through before it is called a job.

use super::{Job, job_number::check_number, sound};
use serde::{Deserialize, Serialize};
use serde_json::ser::{Formatter, Serializer};
use std::{
    fs,
    io::{self, Read as _, Write},
    path::Path,
};

/// Names the form of the file; a field's meaning never changes under it.
pub const SCHEMA: &str = "trimwatch.job/1";
/// A job with a thousand readings is far smaller.
const MOST_BYTES: u64 = 64 << 20;
/// Letters of what a wrong file says that an error repeats.
const MOST_TOLD: usize = 160;

#[derive(Serialize)]
struct Written<'a> {
    schema: &'static str,
    job: &'a Job,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Read {
    schema: String,
    job: Job,
}

/// Only the name of the form, whatever else is in the file.
#[derive(Deserialize)]
struct Schema {
    schema: Option<String>,
}

/// The job as text, with a line end at the end. The same job gives the same bytes.
///
/// # Errors
/// When the job holds what JSON cannot carry; a job out of the record never does.
pub fn to_text(job: &Job) -> Result<String, String> {
    sound::check_job(job).map_err(|what| format!("job {}: {what}", job.number))?;
    let mut text = Vec::new();
    let written = Written {
        schema: SCHEMA,
        job,
    };
    written
        .serialize(&mut Serializer::with_formatter(&mut text, Lines::default()))
        .map_err(|error| error.to_string())?;
    text.push(b'\n');
    String::from_utf8(text).map_err(|error| error.to_string())
}

/// Reads a job; `file` is what an error calls the text.
///
/// # Errors
/// One line with the file, the line in it and the key where possible, and what is wrong there.
pub fn of_text(file: &str, text: &[u8]) -> Result<Job, String> {
    let refuse = |what: &str| Err(format!("{file}: {what}"));
    // A mark of the byte order, as some editors leave it.
    let text = text.strip_prefix(b"\xef\xbb\xbf").unwrap_or(text);
    match serde_json::from_slice::<Schema>(text) {
        Ok(Schema { schema: Some(name) }) if name == SCHEMA => {}
        Ok(Schema { schema: Some(name) }) => {
            let name: String = name.chars().take(40).collect();
            return refuse(&format!(
                "its schema is '{name}', this version reads {SCHEMA}"
            ));
        }
        Ok(Schema { schema: None }) => {
            return refuse(&format!(
                "is no job file: it has no \"schema\": \"{SCHEMA}\""
            ));
        }
        Err(error) => return refuse(&told(text, &error)),
    }
    let read: Read = match serde_json::from_slice(text) {
        Ok(read) => read,
        Err(error) => return refuse(&told(text, &error)),
    };
    debug_assert_eq!(read.schema, SCHEMA);
    check_number(&read.job.number)
        .and_then(|()| sound::check_job(&read.job))
        .map_err(|what| format!("{file}: {what}"))?;
    Ok(read.job)
}

/// Reads the job of a file.
///
/// # Errors
/// As [`of_text`]; also when the file is none, is too large, or cannot be read.
pub fn read(path: &Path) -> Result<Job, String> {
    let file = path.display();
    let cannot = |error: io::Error| format!("{file}: cannot be read: {error}");
    let metadata = fs::metadata(path).map_err(cannot)?;
    if !metadata.is_file() {
        return Err(format!("{file}: is no job file"));
    }
    let mut text = Vec::new();
    fs::File::open(path)
        .and_then(|file| file.take(MOST_BYTES + 1).read_to_end(&mut text))
        .map_err(cannot)?;
    if text.len() as u64 > MOST_BYTES {
        return Err(format!(
            "{file}: is larger than any job ({} MiB at most)",
            MOST_BYTES >> 20
        ));
    }
    of_text(&file.to_string(), &text)
}

/// What is wrong, with the line and the key before it.
fn told(text: &[u8], error: &serde_json::Error) -> String {
    let mut what = error.to_string();
    if let Some(place) = what.rfind(" at line ") {
        what.truncate(place);
    }
    let short: String = what.chars().take(MOST_TOLD).collect();
    let dots = if short.len() < what.len() { "…" } else { "" };
    match key_before(text, error.line(), error.column()) {
        Some(key) => format!("line {}, key {key}: {short}{dots}", error.line()),
        None => format!("line {}: {short}{dots}", error.line()),
    }
}

/// The last key in the line before the place, where it looks like one of ours.
fn key_before(text: &[u8], line: usize, column: usize) -> Option<String> {
    let line = text
        .split(|&byte| byte == b'\n')
        .nth(line.checked_sub(1)?)?;
    let before = String::from_utf8_lossy(&line[..column.min(line.len())]).into_owned();
    let is_key = |word: &&str| {
        !word.is_empty()
            && word.len() <= 40
            && word
                .bytes()
                .all(|byte| byte.is_ascii_lowercase() || byte.is_ascii_digit() || byte == b'_')
    };
    let parts: Vec<_> = before.split('"').collect();
    parts
        .windows(2)
        .rev()
        .find(|pair| pair[1].trim_start().starts_with(':') && is_key(&pair[0]))
        .map(|pair| pair[0].to_owned())
}

/// Objects one key a line, lists of numbers in one line: to be read by people and compared line by line.
#[derive(Default)]
struct Lines {
    /// What is open, outermost first.
    open: Vec<Open>,
    /// Whether the value that ended last was an object.
    after_object: bool,
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Open {
    Object { empty: bool },
    List,
}

impl Lines {
    fn line<W: ?Sized + Write>(&self, writer: &mut W) -> io::Result<()> {
        write!(writer, "\n{:1$}", "", 2 * self.open.len())
    }
}

impl Formatter for Lines {
    fn begin_object<W: ?Sized + Write>(&mut self, writer: &mut W) -> io::Result<()> {
        if self.open.last() == Some(&Open::List) {
            self.line(writer)?;
        }
        self.open.push(Open::Object { empty: true });
        writer.write_all(b"{")
    }

    fn end_object<W: ?Sized + Write>(&mut self, writer: &mut W) -> io::Result<()> {
        let ended = self.open.pop();
        if ended == Some(Open::Object { empty: false }) {
            self.line(writer)?;
        }
        self.after_object = true;
        writer.write_all(b"}")
    }

    fn begin_object_key<W: ?Sized + Write>(
        &mut self,
        writer: &mut W,
        first: bool,
    ) -> io::Result<()> {
        if !first {
            writer.write_all(b",")?;
        }
        if let Some(Open::Object { empty }) = self.open.last_mut() {
            *empty = false;
        }
        self.line(writer)
    }

    fn begin_object_value<W: ?Sized + Write>(&mut self, writer: &mut W) -> io::Result<()> {
        writer.write_all(b": ")
    }

    fn begin_array<W: ?Sized + Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.open.push(Open::List);
        self.after_object = false;
        writer.write_all(b"[")
    }

    fn end_array<W: ?Sized + Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.open.pop();
        if std::mem::take(&mut self.after_object) {
            self.line(writer)?;
        }
        writer.write_all(b"]")
    }
}
