//! Which profile a source is read through: decided here, for the console and the window alike.

use super::{
    interface::InterfaceProfile,
    store::{ProfileStore, StoredProfile},
};
use crate::{
    readings::{SourceDescription, SourceKind},
    tables::TableError,
};

/// The search for the profile of what runs: once for each device and rate, not for each snapshot.
#[derive(Debug, Default)]
pub struct OwnProfile {
    looked_for: Option<SourceDescription>,
}

impl OwnProfile {
    /// Whether something else runs than what was last looked for; its profile is to be looked for then.
    pub fn is_news(&mut self, description: &SourceDescription) -> bool {
        if self.looked_for.as_ref() == Some(description) {
            return false;
        }
        self.looked_for = Some(description.clone());
        true
    }

    /// What was last looked for.
    pub fn looked_for(&self) -> Option<&SourceDescription> {
        self.looked_for.as_ref()
    }

    /// Has it looked for again: the folder has changed.
    pub fn look_again(&mut self) {
        self.looked_for = None;
    }

    /// Whether a source has an interface that a profile can be of: a live input has, a recording and a simulated deck have
    /// not.
    pub fn applies_to(description: &SourceDescription) -> bool {
        description.kind == SourceKind::SoundCard
    }

    /// The profile that the source is read through, with its name; `None`: uncorrected.
    ///
    /// # Errors
    /// When the folder cannot be read, or the device's own file is damaged.
    pub fn find(
        store: &ProfileStore,
        description: &SourceDescription,
    ) -> Result<Option<(String, InterfaceProfile)>, TableError> {
        if !Self::applies_to(description) {
            return Ok(None);
        }
        match store.find(description)? {
            Some(StoredProfile { name, profile }) => Ok(Some((name, profile?))),
            None => Ok(None),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::profile::name_for;

    fn description(kind: SourceKind, sample_rate_hz: u32) -> SourceDescription {
        SourceDescription {
            kind,
            name: "USB line input".into(),
            host: Some("ALSA".into()),
            sample_format: "24-bit".into(),
            sample_rate_hz,
            channels: 2,
            buffer_frames: None,
        }
    }

    #[test]
    fn a_device_is_looked_for_once_and_another_rate_is_news() {
        let mut own = OwnProfile::default();
        let card = description(SourceKind::SoundCard, 48_000);
        assert!(own.is_news(&card) && !own.is_news(&card));
        assert!(own.is_news(&description(SourceKind::SoundCard, 96_000)));
        assert!(own.is_news(&card));
        own.look_again();
        assert!(own.is_news(&card));
    }

    #[test]
    fn only_a_live_input_is_read_through_a_profile_and_only_at_its_rate() {
        let folder = tempfile::tempdir().expect("a folder");
        let store = ProfileStore::at(folder.path());
        let card = description(SourceKind::SoundCard, 48_000);
        let profile = InterfaceProfile::new(&card);
        store.save(&name_for(&card), &profile).expect("saved");
        let found = OwnProfile::find(&store, &card).expect("readable");
        assert_eq!(found, Some((name_for(&card), profile)));
        for other in [
            description(SourceKind::SoundCard, 96_000),
            description(SourceKind::Recording, 48_000),
            description(SourceKind::VirtualDeck, 48_000),
        ] {
            assert_eq!(OwnProfile::find(&store, &other), Ok(None));
        }
    }
}
