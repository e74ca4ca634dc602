//! The mechanisms that come with the program, by name, and mechanisms from files.

use super::{Mechanism, TableError};
use std::path::Path;

macro_rules! deck {
    ($name:literal) => {
        (
            $name,
            include_str!(concat!("../../../calibration/decks/", $name, ".toml")),
        )
    };
}

/// Name and text of each supplied mechanism: those of `calibration/decks/`.
const SHELF: [(&str, &str); 6] = [
    deck!("single-capstan-cassette"),
    deck!("dual-capstan-cassette"),
    deck!("quarter-inch-reel"),
    deck!("finch-2h"),
    deck!("heron-3hc"),
    deck!("plover-r4"),
];

/// A mechanism file is a page of text: much more is some other file.
const MOST_BYTES: u64 = 1 << 20;

/// Names of the supplied mechanisms.
pub fn mechanism_names() -> impl Iterator<Item = &'static str> {
    SHELF.iter().map(|(name, _)| *name)
}

/// The supplied mechanism of that name.
///
/// # Errors
/// Names the mechanisms there are when there is none of that name.
pub fn mechanism(name: &str) -> Result<Mechanism, TableError> {
    match SHELF.iter().find(|(known, _)| *known == name) {
        Some((_, text)) => Mechanism::parse(&format!("calibration/decks/{name}.toml"), text),
        None => Err(unknown(name, "no supplied mechanism of that name")),
    }
}

/// The supplied mechanism of that name, else the one of the file at that path.
///
/// # Errors
/// When there is neither, or the file is no mechanism (names file, line and key).
pub fn mechanism_by_name_or_path(name_or_path: &str) -> Result<Mechanism, TableError> {
    if mechanism_names().any(|name| name == name_or_path) {
        return mechanism(name_or_path);
    }
    let refuse = |what: &str| TableError(format!("deck {name_or_path}: {what}"));
    let metadata =
        std::fs::metadata(Path::new(name_or_path)).map_err(|error| match error.kind() {
            std::io::ErrorKind::NotFound => unknown(
                name_or_path,
                "there is no such file and no supplied mechanism of that name",
            ),
            _ => refuse(&format!("cannot be read: {error}")),
        })?;
    if !metadata.is_file() {
        return Err(refuse("this is not a file; give a mechanism's TOML file"));
    }
    if metadata.len() > MOST_BYTES {
        return Err(refuse("this is too long for a mechanism's TOML file"));
    }
    let bytes =
        std::fs::read(name_or_path).map_err(|error| refuse(&format!("cannot be read: {error}")))?;
    let text = String::from_utf8(bytes)
        .map_err(|_| refuse("this is not text; give a mechanism's TOML file"))?;
    Mechanism::parse(name_or_path, &text)
}

fn unknown(name: &str, what: &str) -> TableError {
    let names: Vec<_> = mechanism_names().collect();
    TableError(format!(
        "deck {name}: {what}; those are {}",
        names.join(", ")
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_supplied_mechanism_is_sound_and_says_where_its_figures_come_from() {
        for name in mechanism_names() {
            let mechanism = mechanism(name).expect("a supplied mechanism");
            assert_eq!(mechanism.name, name);
            assert!(mechanism.source.contains("typical") || mechanism.source.contains("invented"));
            for (part, rate) in mechanism.part.iter().zip(mechanism.rates().expect("rates")) {
                assert!(
                    rate.nominal_hz > 0.05 && rate.nominal_hz < 120.0,
                    "{name}: {part:?}"
                );
                assert!(rate.remark.is_none(), "{name}: {:?}", rate.remark);
            }
        }
    }

    #[test]
    fn a_name_that_does_not_exist_is_answered_with_those_that_do() {
        let told = mechanism_by_name_or_path("no-such-deck")
            .expect_err("there is none")
            .to_string();
        assert!(
            told.contains("no-such-deck") && told.contains("dual-capstan-cassette"),
            "{told}"
        );
        assert!(mechanism_by_name_or_path(".").is_err());
    }
}
