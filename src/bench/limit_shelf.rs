//! The sets of limits at hand: those that come with the program, and the user's own (a deck's own, from its manual).

use super::LimitSet;
use crate::tables::{TableError, text_of, toml_files_in, user_data};
use std::{
    path::{Path, PathBuf},
    sync::LazyLock,
};

macro_rules! supplied {
    ($($name:literal),+ $(,)?) => {
        /// File and text of the sets that come with the program; what a new job is judged by unless another is chosen first.
        const SUPPLIED: &[(&str, &str)] = &[$((
            concat!("calibration/limits/", $name, ".toml"),
            include_str!(concat!("../../calibration/limits/", $name, ".toml")),
        )),+];
    };
}

supplied!("good-service", "good-service-reel", "minimum-requirement");

/// A set of limits is a page of text: much more is some other file.
const MOST_BYTES: u64 = 1 << 20;

static SETS: LazyLock<Result<Vec<LimitSet>, TableError>> = LazyLock::new(|| {
    SUPPLIED
        .iter()
        .map(|(file, text)| LimitSet::parse(file, text))
        .collect()
});

/// The sets that come with the program.
///
/// # Errors
/// When a built-in table is damaged (a test reads it).
pub fn limit_sets() -> Result<&'static [LimitSet], TableError> {
    SETS.as_deref().map_err(Clone::clone)
}

/// The user's own sets: all `.toml` files of a folder, by name of the file. No folder is no set.
///
/// # Errors
/// Names file, line and key of what is wrong in any of them, and a set that is there twice.
pub fn limit_sets_in(folder: &Path) -> Result<Vec<LimitSet>, TableError> {
    let mut sets: Vec<LimitSet> = Vec::new();
    for path in toml_files_in(folder) {
        let set = read(&path)?;
        if named(&sets, &set.name).is_some() {
            return Err(TableError(format!(
                "{}: limits named '{}' are in another file of {}; rename one",
                path.display(),
                set.name,
                folder.display()
            )));
        }
        sets.push(set);
    }
    Ok(sets)
}

/// The set of that name in the user's folder (which goes first) or among the supplied ones, else that of the file at that
/// path.
///
/// # Errors
/// When there is neither, or something in a file is wrong.
pub fn limit_set_by_name_or_path(
    name_or_path: &str,
    folder: Option<&Path>,
) -> Result<LimitSet, TableError> {
    let mut sets = folder.map_or(Ok(Vec::new()), limit_sets_in)?;
    sets.extend_from_slice(limit_sets()?);
    if let Some(set) = named(&sets, name_or_path) {
        return Ok(set.clone());
    }
    let path = Path::new(name_or_path);
    if path.exists() {
        return read(path);
    }
    let names: Vec<_> = sets.iter().map(|set| set.name.as_str()).collect();
    Err(TableError(format!(
        "no limits '{name_or_path}'; use one of: {}",
        names.join(", ")
    )))
}

/// The folder `limits` in the user's data folder, for limits of one's own; `None` where the system has no such folder.
pub fn user_limits_folder() -> Option<PathBuf> {
    user_data("limits")
}

fn named<'a>(sets: &'a [LimitSet], name: &str) -> Option<&'a LimitSet> {
    sets.iter().find(|set| set.name == name)
}

fn read(path: &Path) -> Result<LimitSet, TableError> {
    let text = text_of(path, "a TOML file of limits", MOST_BYTES)?;
    LimitSet::parse(&path.display().to_string(), &text)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::{Quantity, sound};

    #[test]
    fn the_supplied_sets_are_sound_and_have_the_names_of_their_files() {
        let sets = limit_sets().expect("built-in tables");
        assert_eq!(sets.len(), SUPPLIED.len());
        for (set, (file, _)) in sets.iter().zip(SUPPLIED) {
            assert!(file.ends_with(&format!("/{}.toml", set.name)), "{file}");
            assert_eq!(sound::check_limits(set), Ok(()));
            assert!(set.limits.iter().all(|limit| !limit.source.is_empty()));
        }
    }

    /// DIN 45500 sheet 4 (secondary source): speed ±1.5 %, flutter ±0.2 % weighted, channels within 2 dB.
    #[test]
    fn the_minimum_requirement_is_that_of_the_standard() {
        let set = limit_set_by_name_or_path("minimum-requirement", None).expect("supplied");
        let words = |quantity| set.of(quantity).map(crate::bench::Limit::words);
        assert_eq!(words(Quantity::SpeedDeviation).as_deref(), Some("±1.5 %"));
        assert_eq!(
            words(Quantity::WeightedTwoSigma).as_deref(),
            Some("at most 0.2 %")
        );
        assert_eq!(words(Quantity::Balance).as_deref(), Some("±2 dB"));
        assert_eq!(set.limits.len(), 3);
    }

    /// In the gauges' unit, the converted limits are the round figures their source names.
    #[test]
    fn torques_are_those_of_the_source() {
        let set = limit_set_by_name_or_path("good-service", None).expect("supplied");
        for (quantity, least, greatest, in_source_unit) in [
            (Quantity::TakeUpTorque, 30.0, 80.0, 0.098_066_5),
            (Quantity::BackTorque, 0.5, 7.0, 0.098_066_5),
            (Quantity::WindTorque, 40.0, 200.0, 0.098_066_5),
            (Quantity::RewindTorque, 40.0, 200.0, 0.098_066_5),
            (Quantity::RollerForce, 300.0, 360.0, 0.009_806_65),
        ] {
            let limit = set.of(quantity).expect("a limit");
            for (stored, source) in [(limit.least, least), (limit.greatest, greatest)] {
                let stored = stored.expect("both");
                let converted: f64 = source * in_source_unit;
                assert!((stored - converted).abs() < 0.02, "{quantity:?} {stored}");
            }
        }
    }

    #[test]
    fn own_limits_go_first_and_what_is_wrong_is_told() {
        let folder = tempfile::tempdir().expect("a folder");
        let own = "name = \"good-service\"\ntitle = \"Finch 2H, manual\"\n[[limit]]\n\
            quantity = \"speed_deviation_percent\"\nleast = -0.3\ngreatest = 0.3\nsource = \"manual, page 7\"\n";
        let path = folder.path().join("finch.toml");
        std::fs::write(&path, own).expect("written");
        let set = limit_set_by_name_or_path("good-service", Some(folder.path())).expect("own");
        assert_eq!(set.title, "Finch 2H, manual");
        let by_path = limit_set_by_name_or_path(path.to_str().expect("a path"), None);
        assert_eq!(by_path, Ok(set));
        let unknown = limit_set_by_name_or_path("heron", Some(folder.path())).expect_err("none");
        assert!(unknown.0.contains("'heron'") && unknown.0.contains("minimum-requirement"));
        std::fs::write(folder.path().join("twice.toml"), own).expect("written");
        let twice = limit_sets_in(folder.path()).expect_err("twice");
        assert!(twice.0.contains("twice.toml") && twice.0.contains("rename one"));
        std::fs::write(folder.path().join("twice.toml"), [0xff_u8, 0]).expect("written");
        assert!(limit_sets_in(folder.path()).is_err());
        assert_eq!(limit_sets_in(&folder.path().join("none")), Ok(vec![]));
    }
}
