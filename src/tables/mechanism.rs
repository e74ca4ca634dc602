//! A deck's mechanism: its rotating parts, what drives what, and the tape speed. Rates follow from these.

mod fields;
mod rates;
mod shelf;

pub use rates::{PartRate, ReelPack};
pub use shelf::{mechanism, mechanism_by_name_or_path, mechanism_names};

use super::{TableError, error_at, parse_toml};
use fields::{length_mm, optional, percent, rate_hz, ratio, speed_m_per_s, thickness_um};
use serde::{Deserialize, Serialize};
use toml::Spanned;

/// Tolerance of a part's rate where the file gives none, percent: a calliper on a small shaft, and some slip.
pub const DEFAULT_TOLERANCE_PERCENT: f64 = 1.0;
/// Parts in one file at most.
pub const MOST_PARTS: usize = 32;

/// What a part is. The kind decides what wander at its rate suggests, not its rate.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PartKind {
    /// The shaft that drives the tape, with its flywheel.
    Capstan,
    /// The rubber roller that presses the tape to a capstan.
    PinchRoller,
    /// The motor or the pulley on its shaft.
    Motor,
    /// A belt.
    Belt,
    /// A wheel between two others; no tape on it.
    Idler,
    /// A pulley or gear on a shaft of its own.
    Pulley,
    /// A roller or guide that the tape turns.
    TapeRoller,
    /// The reel that tape comes from: its pack shrinks.
    SupplyReel,
    /// The reel that tape goes to: its pack grows.
    TakeUpReel,
    /// Anything else that turns.
    Other,
}

impl PartKind {
    /// All kinds, in the order an editor offers them.
    pub const ALL: [Self; 10] = [
        Self::Capstan,
        Self::PinchRoller,
        Self::Motor,
        Self::Belt,
        Self::Idler,
        Self::Pulley,
        Self::TapeRoller,
        Self::SupplyReel,
        Self::TakeUpReel,
        Self::Other,
    ];

    /// In words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Capstan => "capstan",
            Self::PinchRoller => "pinch roller",
            Self::Motor => "motor",
            Self::Belt => "belt",
            Self::Idler => "idler",
            Self::Pulley => "pulley",
            Self::TapeRoller => "tape roller",
            Self::SupplyReel => "supply reel",
            Self::TakeUpReel => "take-up reel",
            Self::Other => "other part",
        }
    }

    /// Whether it carries a pack of tape, so that its rate changes.
    pub const fn is_reel(self) -> bool {
        matches!(self, Self::SupplyReel | Self::TakeUpReel)
    }
}

/// One part. A rate comes from the tape (a diameter it runs on, a reel's pack), from the part that drives this one
/// or that this one drives (a ratio, two wheel diameters, a belt's length), or is given.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Part {
    /// Its name, once in a file.
    pub name: String,
    /// What it is.
    pub kind: PartKind,
    /// Diameter the tape runs on, mm.
    #[serde(default, deserialize_with = "optional::<length_mm, _>")]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub diameter_mm: Option<f64>,
    /// Diameter a belt, a rim or the driving wheel runs on (a capstan's flywheel, a motor's pulley), mm.
    #[serde(default, deserialize_with = "optional::<length_mm, _>")]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wheel_diameter_mm: Option<f64>,
    /// A belt's length, mm.
    #[serde(default, deserialize_with = "optional::<length_mm, _>")]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub length_mm: Option<f64>,
    /// Name of the part that drives it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub driven_by: Option<String>,
    /// Turns of this part for one turn of the one that drives it.
    #[serde(default, deserialize_with = "optional::<ratio, _>")]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ratio: Option<f64>,
    /// Once-round rate at the nominal tape speed, Hz, where it is known as such.
    #[serde(default, deserialize_with = "optional::<rate_hz, _>")]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rate_hz: Option<f64>,
    /// A reel's bare hub, mm (radius).
    #[serde(default, deserialize_with = "optional::<length_mm, _>")]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub hub_radius_mm: Option<f64>,
    /// A reel's fullest pack, mm (radius).
    #[serde(default, deserialize_with = "optional::<length_mm, _>")]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub full_radius_mm: Option<f64>,
    /// The pack when the take begins, mm (radius), where it is known.
    #[serde(default, deserialize_with = "optional::<length_mm, _>")]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pack_radius_mm: Option<f64>,
    /// Thickness of the tape on a reel, µm.
    #[serde(default, deserialize_with = "optional::<thickness_um, _>")]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tape_thickness_um: Option<f64>,
    /// How far the real rate may be off (±), percent; [`DEFAULT_TOLERANCE_PERCENT`] where not given.
    #[serde(default, deserialize_with = "optional::<percent, _>")]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rate_tolerance_percent: Option<f64>,
    /// Where the figures come from, or what to know.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

impl Part {
    /// A part with a name and a kind, and nothing known of its rate: where an editor starts.
    pub fn new(name: impl Into<String>, kind: PartKind) -> Self {
        Self {
            name: name.into(),
            kind,
            diameter_mm: None,
            wheel_diameter_mm: None,
            length_mm: None,
            driven_by: None,
            ratio: None,
            rate_hz: None,
            hub_radius_mm: None,
            full_radius_mm: None,
            pack_radius_mm: None,
            tape_thickness_um: None,
            rate_tolerance_percent: None,
            note: None,
        }
    }

    /// How far its real rate may be off, as a fraction.
    pub fn tolerance(&self) -> f64 {
        self.rate_tolerance_percent
            .unwrap_or(DEFAULT_TOLERANCE_PERCENT)
            / 100.0
    }
}

/// A deck's mechanism.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Mechanism {
    /// Short name.
    pub name: String,
    /// What a person calls it.
    pub title: String,
    /// Nominal tape speed, metres a second.
    #[serde(deserialize_with = "speed_m_per_s")]
    pub tape_speed_m_per_s: f64,
    /// Where the figures come from.
    pub source: String,
    /// The parts.
    pub part: Vec<Part>,
}

/// What is wrong with a mechanism that was put together: which part and key, and what to do.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{message}")]
pub struct MechanismError {
    /// Index of the part; `None` where it is the mechanism as a whole.
    pub part: Option<usize>,
    /// The key in question; the part's `name` where it is the part as a whole.
    pub key: &'static str,
    /// What is wrong, with the value, and what to do.
    pub message: String,
}

/// Where in a text the parts' names and drivers stand.
#[derive(Deserialize)]
struct Places {
    #[serde(default)]
    part: Vec<PartPlaces>,
}

#[derive(Deserialize)]
struct PartPlaces {
    name: Spanned<String>,
    driven_by: Option<Spanned<String>>,
    hub_radius_mm: Option<Spanned<f64>>,
    full_radius_mm: Option<Spanned<f64>>,
    pack_radius_mm: Option<Spanned<f64>>,
    diameter_mm: Option<Spanned<f64>>,
    length_mm: Option<Spanned<f64>>,
    rate_hz: Option<Spanned<f64>>,
    ratio: Option<Spanned<f64>>,
}

impl PartPlaces {
    fn of(&self, key: &str) -> usize {
        let number = |field: &Option<Spanned<f64>>| field.as_ref().map(|x| x.span().start);
        let place = match key {
            "driven_by" => self.driven_by.as_ref().map(|x| x.span().start),
            "hub_radius_mm" => number(&self.hub_radius_mm),
            "full_radius_mm" => number(&self.full_radius_mm),
            "pack_radius_mm" => number(&self.pack_radius_mm),
            "diameter_mm" => number(&self.diameter_mm),
            "length_mm" => number(&self.length_mm),
            "rate_hz" => number(&self.rate_hz),
            "ratio" => number(&self.ratio),
            _ => None,
        };
        place.unwrap_or(self.name.span().start)
    }
}

impl Mechanism {
    /// Reads a mechanism from TOML; `file` is what an error calls the text.
    ///
    /// # Errors
    /// Names file, line, key and value of what is wrong: a key that is unknown, missing, or out of range; a part
    /// named twice; a driver that does not exist; a part whose rate cannot be found.
    pub fn parse(file: &str, text: &str) -> Result<Self, TableError> {
        let mechanism: Self = parse_toml(file, text)?;
        if let Err(error) = mechanism.rates() {
            let places: Places = parse_toml(file, text)?;
            let part = error.part.and_then(|index| places.part.get(index));
            return Err(match part {
                Some(part) => error_at(file, text, part.of(error.key), &error.message),
                None => TableError(format!("{file}: {}", error.message)),
            });
        }
        Ok(mechanism)
    }

    /// The mechanism as the TOML text of its file.
    ///
    /// # Errors
    /// When a text in it cannot be written as TOML.
    pub fn to_toml(&self) -> Result<String, TableError> {
        toml::to_string(self).map_err(|error| {
            TableError(format!(
                "the mechanism '{}' cannot be written: {error}",
                self.name
            ))
        })
    }

    /// The once-round rates of all parts at the nominal tape speed, in the parts' order.
    ///
    /// # Errors
    /// What is wrong with the mechanism, the first thing only.
    pub fn rates(&self) -> Result<Vec<PartRate>, MechanismError> {
        rates::rates(self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HEAD: &str =
        "name = \"x\"\ntitle = \"X\"\ntape_speed_m_per_s = 0.047625\nsource = \"test\"\n";

    fn told(parts: &str) -> String {
        Mechanism::parse("mine.toml", &format!("{HEAD}{parts}"))
            .expect_err("wrong on purpose")
            .to_string()
    }

    #[test]
    fn what_is_wrong_is_told_with_line_key_and_value() {
        let capstan = "[[part]]\nname = \"capstan\"\nkind = \"capstan\"\ndiameter_mm = 2.5\n";
        for (parts, line, words) in [
            ("part = []\n".to_owned(), "", "no [[part]]"),
            (
                format!("{capstan}{capstan}"),
                "line 10, key name",
                "'capstan'",
            ),
            (
                "[[part]]\nname = \"belt\"\nkind = \"belt\"\n".into(),
                "line 6, key name",
                "cannot be found",
            ),
            (
                format!(
                    "{capstan}[[part]]\nname = \"belt\"\nkind = \"belt\"\ndriven_by = \"motr\"\n"
                ),
                "line 12, key driven_by",
                "'motr'",
            ),
            (
                capstan.replace("2.5", "-2.5"),
                "line 8, key diameter_mm",
                "-2.5",
            ),
            (
                capstan.replace("2.5", "\"2.5 mm\""),
                "line 8, key diameter_mm",
                "number",
            ),
            (
                capstan.replace("diameter_mm", "diameter"),
                "line 8, key diameter",
                "diameter",
            ),
            (
                capstan.replace("kind = \"capstan\"", "kind = \"axle\""),
                "line 7, key kind",
                "axle",
            ),
            (
                "[[part]]\nname = \"reel\"\nkind = \"take_up_reel\"\nhub_radius_mm = 30\nfull_radius_mm = 25\n\
                 tape_thickness_um = 18\n"
                    .into(),
                "line 9, key full_radius_mm",
                "25",
            ),
        ] {
            let told = told(&parts);
            assert!(
                told.starts_with("mine.toml") && told.contains(line) && told.contains(words),
                "{told}"
            );
            assert!(!told.contains('\n'), "{told}");
        }
    }

    #[test]
    fn what_is_written_reads_back_the_same() {
        for name in mechanism_names() {
            let supplied = mechanism(name).expect("a supplied mechanism");
            let text = supplied.to_toml().expect("can be written");
            let again = Mechanism::parse("again.toml", &text).expect("can be read");
            assert_eq!(again, supplied);
        }
    }

    #[test]
    fn any_damage_to_a_file_is_answered_in_one_line() {
        let text = mechanism("dual-capstan-cassette")
            .and_then(|mechanism| mechanism.to_toml())
            .expect("a supplied mechanism");
        for cut in (0..text.len()).step_by(37) {
            if text.is_char_boundary(cut)
                && let Err(error) = Mechanism::parse("cut.toml", &text[..cut])
            {
                let told = error.to_string();
                assert!(
                    told.starts_with("cut.toml") && !told.contains('\n'),
                    "{told}"
                );
            }
        }
    }
}
