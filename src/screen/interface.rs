//! The interface's own profile while the window is open: which one applies, what is being measured for it, and what can
//! be taken back.

use super::model::interface::{Part, SineForm};
use crate::{
    profile::{
        Heard, InterfaceProfile, LevelFigure, OwnProfile, ProfileStore,
        level::{FullScale, KnownSine},
        name_for,
    },
    readings::SourceDescription,
    tables::TableError,
};
use crossbeam_channel::{Receiver, TryRecvError};
use std::{path::PathBuf, time::SystemTime};

/// What is known of the interface in use.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum Found {
    /// No input runs yet.
    #[default]
    Nothing,
    /// What runs is a recording or a simulated deck.
    NoInterface,
    /// This computer names no place to keep profiles.
    NoPlace,
    /// It is being looked for.
    Looking,
    /// There is none.
    None,
    /// This one, by its name.
    Profile(String, Box<InterfaceProfile>),
    /// It cannot be used; one line says why.
    Unusable(String),
}

/// What a measurement writes into a profile.
pub type ProfileChange = Box<dyn FnOnce(&mut InterfaceProfile)>;

/// A measurement under way.
pub enum Measuring {
    /// By listening to both inputs.
    Listening {
        /// The section it is for.
        part: Part,
        /// What is heard comes here.
        told: Receiver<Heard>,
        /// The newest of it.
        heard: Option<Heard>,
        /// Whether the worker has left off.
        ended: bool,
    },
    /// Of full scale, by a known sine.
    Volts {
        /// What is typed.
        form: SineForm,
        /// What came of it.
        found: Option<(FullScale, KnownSine)>,
        /// Why nothing came of it.
        problem: Option<String>,
    },
}

/// What can be taken back: the profile of that name as it was before.
pub struct Undo {
    /// What was done, in words.
    pub what: String,
    name: String,
    before: Option<InterfaceProfile>,
}

/// The import of a profile's file.
#[derive(Clone, Debug, Default)]
pub struct Import {
    /// The path that is typed.
    pub path: String,
    /// Why it cannot be used.
    pub problem: Option<String>,
    /// A file whose device and rate have a profile already, and that one's name.
    pub in_the_way: Option<(PathBuf, String)>,
}

/// All of it.
pub struct InterfaceDesk {
    /// Where profiles are kept.
    pub store: Option<ProfileStore>,
    /// What applies.
    pub found: Found,
    /// What is under way.
    pub measuring: Option<Measuring>,
    /// What was done last.
    pub undo: Option<Undo>,
    /// What is to be imported.
    pub import: Import,
    /// Whether full scale was typed by hand: that goes before the profile's.
    pub full_scale_is_typed: bool,
    own: OwnProfile,
}

impl InterfaceDesk {
    /// With profiles in that place.
    pub fn new(store: Option<ProfileStore>) -> Self {
        Self {
            store,
            found: Found::default(),
            measuring: None,
            undo: None,
            import: Import::default(),
            full_scale_is_typed: false,
            own: OwnProfile::default(),
        }
    }

    /// Another input is being opened.
    pub fn forget(&mut self) {
        self.found = Found::default();
        self.measuring = None;
        self.full_scale_is_typed = false;
        self.own.look_again();
    }

    /// Whether something else runs than what was last looked for. Notes then what is known without looking.
    pub fn is_news(&mut self, description: &SourceDescription) -> bool {
        if !self.own.is_news(description) {
            return false;
        }
        let stays = matches!(&self.found, Found::Profile(_, profile) if profile.is_of(description));
        if !stays {
            self.found = if !OwnProfile::applies_to(description) {
                Found::NoInterface
            } else if self.store.is_none() {
                Found::NoPlace
            } else {
                Found::Looking
            };
        }
        true
    }

    /// Takes what a look for the profile of `description` came to; false where something else runs by now.
    pub fn take(
        &mut self,
        description: &SourceDescription,
        found: Result<Option<(String, InterfaceProfile)>, TableError>,
    ) -> bool {
        if self.own.looked_for() != Some(description) {
            return false;
        }
        self.found = match found {
            Ok(Some((name, profile))) => Found::Profile(name, Box::new(profile)),
            Ok(None) => Found::None,
            Err(TableError(why)) => Found::Unusable(why),
        };
        true
    }

    /// Has it looked for again.
    pub fn look_again(&mut self) {
        self.own.look_again();
    }

    /// The profile that applies.
    pub fn profile(&self) -> Option<&InterfaceProfile> {
        match &self.found {
            Found::Profile(_, profile) => Some(profile),
            _ => None,
        }
    }

    /// Takes what the worker has heard.
    pub fn listen(&mut self) {
        let Some(Measuring::Listening {
            told, heard, ended, ..
        }) = &mut self.measuring
        else {
            return;
        };
        loop {
            match told.try_recv() {
                Ok(news) => *heard = Some(news),
                Err(TryRecvError::Empty) => return,
                Err(TryRecvError::Disconnected) => {
                    *ended = true;
                    return;
                }
            }
        }
    }

    /// Changes the profile of what runs, makes it where there is none, and keeps it; `what` was done can be taken back.
    ///
    /// # Errors
    /// One line that says why it is not kept; all is as before then.
    pub fn change(
        &mut self,
        description: &SourceDescription,
        what: String,
        change: impl FnOnce(&mut InterfaceProfile),
    ) -> Result<(), String> {
        let store = self
            .store
            .as_ref()
            .ok_or("not kept: this computer names no data folder for you")?;
        if !OwnProfile::applies_to(description) {
            return Err("not kept: a recording or a simulated deck is no interface".into());
        }
        let (name, before) = match &self.found {
            Found::Profile(name, profile) if profile.is_of(description) => {
                (name.clone(), Some((**profile).clone()))
            }
            Found::Unusable(why) => return Err(format!("not kept: {why}")),
            Found::Looking => return Err("not kept yet: the profile is being looked for".into()),
            _ => (name_for(description), None),
        };
        let mut profile = before
            .clone()
            .unwrap_or_else(|| InterfaceProfile::new(description));
        change(&mut profile);
        store
            .save(&name, &profile)
            .map_err(|TableError(why)| format!("not kept: {why}"))?;
        self.found = Found::Profile(name.clone(), Box::new(profile));
        self.undo = Some(Undo { what, name, before });
        Ok(())
    }

    /// Takes back what was done last; returns what that was.
    ///
    /// # Errors
    /// One line that says why it cannot be taken back.
    pub fn take_back(&mut self) -> Result<String, String> {
        let (Some(undo), Some(store)) = (&self.undo, &self.store) else {
            return Err("nothing to take back".into());
        };
        match &undo.before {
            Some(profile) => store.save(&undo.name, profile).map(drop),
            None => store.delete(&undo.name),
        }
        .map_err(|TableError(why)| format!("not taken back: {why}"))?;
        let what = undo.what.clone();
        let is_in_use = matches!(&self.found, Found::Profile(name, _) if *name == undo.name);
        if is_in_use {
            self.found = match &undo.before {
                Some(profile) => Found::Profile(undo.name.clone(), Box::new(profile.clone())),
                None => Found::None,
            };
        }
        self.undo = None;
        Ok(what)
    }

    /// Takes a profile's file in; one that is there already is replaced only if `replace` says so, and asked about
    /// otherwise. Returns the name.
    ///
    /// # Errors
    /// One line; also where there is a profile already.
    pub fn take_in(&mut self, path: PathBuf, replace: bool) -> Result<String, String> {
        self.import.in_the_way = None;
        let taken = self.try_to_take_in(path, replace);
        self.import.problem = taken.as_ref().err().cloned();
        taken
    }

    fn try_to_take_in(&mut self, path: PathBuf, replace: bool) -> Result<String, String> {
        let store = self
            .store
            .as_ref()
            .ok_or("this computer names no data folder for you; profiles are kept there")?;
        let plain = |TableError(why): TableError| why;
        let name = store.name_of_file(&path).map_err(plain)?;
        let before = store.load(&name).ok();
        if store.has(&name) && !replace {
            let why = format!("there is a profile '{name}' already");
            self.import.in_the_way = Some((path, name));
            return Err(why);
        }
        store.import(&path, replace).map_err(plain)?;
        self.undo = Some(Undo {
            what: format!("import of '{name}'"),
            name: name.clone(),
            before,
        });
        self.import.path.clear();
        Ok(name)
    }

    /// What is measured, ready to be kept: what it is called, and the change it makes.
    pub fn result(&self, now: SystemTime) -> Option<(Part, ProfileChange)> {
        match self.measuring.as_ref()? {
            Measuring::Listening {
                part,
                heard: Some(heard),
                ..
            } if heard.is_done() => {
                let heard = heard.clone();
                Some((
                    *part,
                    Box::new(move |profile| {
                        let _stands = heard.keep_in(profile, now);
                    }),
                ))
            }
            Measuring::Volts {
                found: Some((full_scale, sine)),
                ..
            } => {
                let figure = LevelFigure::of(full_scale, sine, now);
                Some((
                    Part::Level,
                    Box::new(move |profile| profile.level = Some(figure)),
                ))
            }
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        profile::ClockFigure,
        readings::{ClockReading, SourceKind, Synchronisation},
    };

    fn card() -> SourceDescription {
        SourceDescription {
            kind: SourceKind::SoundCard,
            name: "USB line input".into(),
            host: Some("ALSA".into()),
            sample_format: "24-bit".into(),
            sample_rate_hz: 48_000,
            channels: 2,
            buffer_frames: None,
        }
    }

    fn clock(error_ppm: f64) -> Option<ClockFigure> {
        let reading = ClockReading {
            error_ppm: Some(error_ppm),
            uncertainty_ppm: Some(0.5),
            synchronisation: Synchronisation::Synchronised,
            ..ClockReading::default()
        };
        ClockFigure::of(&reading, SystemTime::now())
    }

    #[test]
    fn what_is_kept_is_in_the_folder_and_can_be_taken_back_step_by_last_step() {
        let folder = tempfile::tempdir().expect("a folder");
        let store = ProfileStore::at(folder.path());
        let mut desk = InterfaceDesk::new(Some(store.clone()));
        assert!(desk.is_news(&card()) && !desk.is_news(&card()));
        assert_eq!(desk.found, Found::Looking);
        assert!(desk.change(&card(), "clock".into(), |_| {}).is_err());
        assert!(desk.take(&card(), Ok(None)));
        let keep = |desk: &mut InterfaceDesk, ppm: f64| {
            desk.change(&card(), "clock".into(), move |profile| {
                profile.clock = clock(ppm)
            })
        };
        assert_eq!(keep(&mut desk, 37.0), Ok(()));
        assert_eq!(keep(&mut desk, 40.0), Ok(()));
        let kept = || {
            store
                .find(&card())
                .expect("readable")
                .map(|stored| stored.profile)
        };
        assert_eq!(kept(), Some(Ok(desk.profile().expect("one").clone())));
        assert_eq!(desk.take_back(), Ok("clock".into()));
        let before = kept().expect("there").expect("sound");
        assert_eq!(before.clock.expect("a figure").error_ppm, 37.0);
        assert!(desk.take_back().is_err(), "one step only");
    }

    #[test]
    fn the_first_figure_taken_back_leaves_no_file() {
        let folder = tempfile::tempdir().expect("a folder");
        let store = ProfileStore::at(folder.path());
        let mut desk = InterfaceDesk::new(Some(store.clone()));
        desk.is_news(&card());
        desk.take(&card(), Ok(None));
        desk.change(&card(), "clock".into(), |profile| {
            profile.clock = clock(1.0)
        })
        .expect("kept");
        desk.take_back().expect("taken back");
        assert_eq!(desk.found, Found::None);
        assert!(store.list().expect("readable").is_empty());
    }

    #[test]
    fn a_look_that_was_overtaken_is_not_taken() {
        let mut desk = InterfaceDesk::new(Some(ProfileStore::at("nowhere")));
        desk.is_news(&card());
        let other = SourceDescription {
            sample_rate_hz: 96_000,
            ..card()
        };
        desk.is_news(&other);
        let profile = InterfaceProfile::new(&card());
        assert!(!desk.take(&card(), Ok(Some(("mine".into(), profile)))));
        assert_eq!(desk.profile(), None);
    }

    #[test]
    fn an_import_asks_before_it_replaces_and_can_be_taken_back() {
        let folder = tempfile::tempdir().expect("a folder");
        let store = ProfileStore::at(folder.path().join("kept"));
        let file = folder.path().join("sent.toml");
        let mut sent = InterfaceProfile::new(&card());
        sent.clock = clock(12.0);
        std::fs::write(&file, sent.to_toml().expect("text")).expect("written");
        let mut desk = InterfaceDesk::new(Some(store.clone()));
        let name = desk.take_in(file.clone(), false).expect("new");
        assert!(desk.take_in(file.clone(), false).is_err());
        assert_eq!(desk.import.in_the_way, Some((file.clone(), name.clone())));
        assert_eq!(desk.take_in(file, true), Ok(name));
        desk.take_back().expect("taken back");
        assert_eq!(store.list().expect("readable").len(), 1, "the one before");
        let told = desk.take_in("nothing.toml".into(), false);
        assert!(told.expect_err("no file").contains("nothing.toml"));
        assert!(desk.import.problem.is_some());
    }

    #[test]
    fn a_recording_has_no_profile() {
        let mut desk = InterfaceDesk::new(Some(ProfileStore::at("nowhere")));
        let recording = SourceDescription {
            kind: SourceKind::Recording,
            ..card()
        };
        assert!(desk.is_news(&recording));
        assert_eq!(desk.found, Found::NoInterface);
        let told = desk.change(&recording, String::new(), |_| {});
        assert!(told.expect_err("refused").contains("no interface"));
    }
}
