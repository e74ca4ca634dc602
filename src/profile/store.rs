//! Where profiles are kept: a file each in the user's own data folder, to be edited, copied and sent.

use super::interface::{InterfaceProfile, device_of};
use crate::{
    readings::SourceDescription,
    tables::{TableError, user_data},
};
use std::{
    fs, io,
    path::{Path, PathBuf},
};

/// A profile is a page of text: much more is some other file.
const MOST_BYTES: u64 = 1 << 20;
const EXTENSION: &str = "toml";

/// A folder of profiles.
#[derive(Clone, Debug)]
pub struct ProfileStore {
    folder: PathBuf,
}

/// A profile with the name of its file.
#[derive(Clone, Debug)]
pub struct StoredProfile {
    /// The file's name without its extension.
    pub name: String,
    /// What stands in it, or why it cannot be used.
    pub profile: Result<InterfaceProfile, TableError>,
}

impl ProfileStore {
    /// The folder `interfaces` in the user's data folder; `None` where the system has no such folder.
    pub fn of_the_user() -> Option<Self> {
        user_data("interfaces").map(Self::at)
    }

    /// A folder of that path; made when something is kept.
    pub fn at(folder: impl Into<PathBuf>) -> Self {
        Self {
            folder: folder.into(),
        }
    }

    /// The folder.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// All profiles by name, those that cannot be used with the reason. No folder is no profile.
    ///
    /// # Errors
    /// When the folder is there but cannot be read.
    pub fn list(&self) -> Result<Vec<StoredProfile>, TableError> {
        let entries = match fs::read_dir(&self.folder) {
            Ok(entries) => entries,
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
            Err(error) => return Err(refuse(&self.folder, "cannot be read", &error)),
        };
        let mut profiles: Vec<StoredProfile> = entries
            .filter_map(|entry| {
                let path = entry.ok()?.path();
                let is_profile = path
                    .extension()
                    .is_some_and(|extension| extension == EXTENSION);
                let name = path.file_stem()?.to_str()?.to_owned();
                is_profile.then(|| StoredProfile {
                    name,
                    profile: read(&path),
                })
            })
            .collect();
        profiles.sort_by(|a, b| a.name.cmp(&b.name));
        Ok(profiles)
    }

    /// The profile of the device that runs, at the rate it runs at.
    ///
    /// # Errors
    /// When the folder cannot be read, or none fits and the file under this device's own name is damaged.
    pub fn find(
        &self,
        description: &SourceDescription,
    ) -> Result<Option<StoredProfile>, TableError> {
        let own_name = name_for(description);
        let mut damaged = None;
        for stored in self.list()? {
            match &stored.profile {
                Ok(profile) if profile.is_of(description) => return Ok(Some(stored)),
                Err(error) if stored.name == own_name => damaged = Some(error.clone()),
                _ => {}
            }
        }
        damaged.map_or(Ok(None), Err)
    }

    /// The profile of that name, else that of the file at that path.
    ///
    /// # Errors
    /// When there is neither (names those there are), or the file is no profile.
    pub fn load(&self, name_or_path: &str) -> Result<InterfaceProfile, TableError> {
        if is_name(name_or_path) {
            let path = self.path(name_or_path);
            if path.exists() {
                return read(&path);
            }
        }
        let path = Path::new(name_or_path);
        if path.exists() {
            return read(path);
        }
        Err(self.unknown(name_or_path))
    }

    /// Keeps a profile under a name, instead of what was there. The file is never half written.
    ///
    /// # Errors
    /// When the name is no name for a file, or the file cannot be written.
    pub fn save(&self, name: &str, profile: &InterfaceProfile) -> Result<PathBuf, TableError> {
        Self::check_name(name)?;
        let text = profile.to_toml()?;
        let path = self.path(name);
        let fresh = self.folder.join(format!(".{name}.new"));
        fs::create_dir_all(&self.folder)
            .and_then(|()| fs::write(&fresh, text))
            .and_then(|()| fs::rename(&fresh, &path))
            .map_err(|error| refuse(&path, "cannot be written", &error))?;
        Ok(path)
    }

    /// Whether a profile can be kept under this name: told before anything is measured for it.
    ///
    /// # Errors
    /// Says what a name is made of.
    pub fn check_name(name: &str) -> Result<(), TableError> {
        if is_name(name) {
            return Ok(());
        }
        Err(TableError(format!(
            "'{name}' is no name for a profile: use letters, digits, '-', '_' and '.'"
        )))
    }

    /// Takes the profile of a file in, under the name its device and rate give; returns the name.
    ///
    /// # Errors
    /// When the file is no profile, or the device has one already and `replace` is false.
    pub fn import(&self, path: &Path, replace: bool) -> Result<String, TableError> {
        let profile = read(path)?;
        let name = slug(&profile.device, profile.sample_rate_hz);
        if !replace && self.path(&name).exists() {
            return Err(TableError(format!(
                "there is a profile '{name}' of this device and rate already; --replace takes its place"
            )));
        }
        self.save(&name, &profile)?;
        Ok(name)
    }

    /// The name that the profile of a file would be kept under.
    ///
    /// # Errors
    /// When the file is no profile.
    pub fn name_of_file(&self, path: &Path) -> Result<String, TableError> {
        let profile = read(path)?;
        Ok(slug(&profile.device, profile.sample_rate_hz))
    }

    /// Whether there is a profile of that name, be it sound or not.
    pub fn has(&self, name: &str) -> bool {
        is_name(name) && self.path(name).exists()
    }

    /// Deletes the profile of that name.
    ///
    /// # Errors
    /// When there is none (names those there are) or it cannot be deleted.
    pub fn delete(&self, name: &str) -> Result<(), TableError> {
        let path = self.path(name);
        if !is_name(name) || !path.exists() {
            return Err(self.unknown(name));
        }
        fs::remove_file(&path).map_err(|error| refuse(&path, "cannot be deleted", &error))
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.join(format!("{name}.{EXTENSION}"))
    }

    fn unknown(&self, name: &str) -> TableError {
        let stored = self.list().unwrap_or_default();
        let names: Vec<_> = stored.iter().map(|stored| stored.name.as_str()).collect();
        let there = if names.is_empty() {
            format!("{} holds none yet", self.folder.display())
        } else {
            format!("use one of: {}", names.join(", "))
        };
        TableError(format!("no interface profile '{name}'; {there}"))
    }
}

/// The name that a device's profile is kept under.
pub fn name_for(description: &SourceDescription) -> String {
    slug(&device_of(description), description.sample_rate_hz)
}

/// Lower case, one dash for all else than letters and digits, and the rate.
fn slug(device: &str, sample_rate_hz: u32) -> String {
    /// File systems bear more, people do not.
    const MOST_LETTERS: usize = 60;
    let mut name = String::new();
    for letter in device.chars().take(MOST_LETTERS) {
        if letter.is_ascii_alphanumeric() {
            name.push(letter.to_ascii_lowercase());
        } else if !name.is_empty() && !name.ends_with('-') {
            name.push('-');
        }
    }
    let name = name.trim_end_matches('-');
    let name = if name.is_empty() { "interface" } else { name };
    format!("{name}-{sample_rate_hz}")
}

/// Whether a text can be a file's name in the folder, and nothing outside it.
fn is_name(text: &str) -> bool {
    let allowed = |letter: char| letter.is_ascii_alphanumeric() || "-_.".contains(letter);
    !text.is_empty() && text.len() <= 100 && !text.starts_with('.') && text.chars().all(allowed)
}

fn read(path: &Path) -> Result<InterfaceProfile, TableError> {
    let metadata = fs::metadata(path).map_err(|error| refuse(path, "cannot be read", &error))?;
    if !metadata.is_file() || metadata.len() > MOST_BYTES {
        return Err(TableError(format!(
            "{}: this is not an interface profile",
            path.display()
        )));
    }
    let text = fs::read_to_string(path).map_err(|error| refuse(path, "cannot be read", &error))?;
    InterfaceProfile::parse(&path.display().to_string(), &text)
}

fn refuse(path: &Path, what: &str, error: &io::Error) -> TableError {
    TableError(format!("{}: {what}: {error}", path.display()))
}
