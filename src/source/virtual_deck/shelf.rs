//! The decks that come with the program, by name, and decks from files.

use crate::source::SourceError;
use std::{borrow::Cow, path::Path};

macro_rules! deck {
    ($name:literal) => {
        (
            $name,
            include_str!(concat!("../../../demo-data/", $name, ".toml")),
        )
    };
}
/// Name and text of each built-in deck: those of `demo-data/`.
const SHELF: [(&str, &str); 5] = [
    deck!("finch-as-found"),
    deck!("finch-as-left"),
    deck!("heron-as-found"),
    deck!("heron-as-left"),
    deck!("plover"),
];

/// A deck file is a page of text: much more is some other file.
const MOST_BYTES: u64 = 1 << 20;

/// Names of the built-in decks.
pub fn built_in_names() -> impl Iterator<Item = &'static str> {
    SHELF.iter().map(|(name, _)| *name)
}

/// The text of a deck: of the built-in one of that name, else of the file at that path. With it, what the file is
/// called in errors.
pub(super) fn text_of(name_or_path: &str) -> Result<(String, Cow<'static, str>), SourceError> {
    if let Some((name, text)) = SHELF.iter().find(|(name, _)| *name == name_or_path) {
        return Ok((format!("demo-data/{name}.toml"), Cow::Borrowed(text)));
    }
    let refuse = |what: String| SourceError(format!("virtual deck {name_or_path}: {what}"));
    let metadata = std::fs::metadata(Path::new(name_or_path)).map_err(|error| {
        let names: Vec<_> = built_in_names().collect();
        refuse(match error.kind() {
            std::io::ErrorKind::NotFound => format!(
                "there is no such file and no built-in deck of that name; those are {}",
                names.join(", ")
            ),
            _ => format!("cannot be read: {error}"),
        })
    })?;
    if !metadata.is_file() {
        return Err(refuse("this is not a file; give a deck's TOML file".into()));
    }
    if metadata.len() > MOST_BYTES {
        return Err(refuse("this is too long for a deck's TOML file".into()));
    }
    let bytes =
        std::fs::read(name_or_path).map_err(|error| refuse(format!("cannot be read: {error}")))?;
    match String::from_utf8(bytes) {
        Ok(text) => Ok((name_or_path.into(), Cow::Owned(text))),
        Err(_) => Err(refuse("this is not text; give a deck's TOML file".into())),
    }
}
