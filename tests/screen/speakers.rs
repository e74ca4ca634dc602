//! Sound outputs that make no sound: they write down what the guide is told.

use std::{
    sync::{Arc, Mutex},
    time::Instant,
};
use trimwatch::{
    guide::{GuideError, OutputName},
    screen::{Guide, InputChoice, OutputChoice, OutputChoices, Outputs},
};

/// The outputs, and what became of them.
#[derive(Default)]
pub struct Speakers(Arc<Mutex<Heard>>);

/// What happened.
#[derive(Clone, Debug, Default)]
pub struct Heard {
    /// Ids of the outputs that were started.
    pub started: Vec<String>,
    /// Guides that were dropped.
    pub stopped: usize,
    /// Offsets that were told.
    pub offsets: Vec<f32>,
    /// The level set last, dBFS.
    pub level_dbfs: f64,
    /// Why the output is gone.
    pub trouble: Option<String>,
    /// Refuses to open.
    pub refuses: bool,
}

impl Speakers {
    /// What happened so far.
    pub fn heard(&self) -> Heard {
        self.0.lock().expect("heard").clone()
    }

    /// The offset told last.
    pub fn offset(&self) -> f32 {
        *self.heard().offsets.last().expect("an offset was told")
    }

    /// Makes something happen.
    pub fn make(&self, change: impl FnOnce(&mut Heard)) {
        change(&mut self.0.lock().expect("heard"));
    }
}

impl Outputs for Speakers {
    fn list(&self, input: Option<&InputChoice>) -> OutputChoices {
        let choice = |id: &str, name: &str, leads_back: bool| OutputChoice {
            output: OutputName {
                id: id.into(),
                host: "ALSA".into(),
                name: name.into(),
            },
            leads_back,
        };
        let live = matches!(input, Some(InputChoice::SoundCard { .. }));
        OutputChoices {
            outputs: vec![
                choice("alsa:usb-out", "USB line output", live),
                choice("alsa:phones", "Headphones", false),
                choice("alsa:monitors", "Monitors", false),
            ],
            problem: None,
        }
    }

    fn start(&self, output: &OutputName, level_dbfs: f64) -> Result<Box<dyn Guide>, GuideError> {
        let mut heard = self.0.lock().expect("heard");
        if heard.refuses {
            let name = &output.name;
            return Err(GuideError(format!("the output {name} cannot be opened")));
        }
        heard.started.push(output.id.clone());
        heard.level_dbfs = level_dbfs;
        Ok(Box::new(Silent(self.0.clone())))
    }
}

struct Silent(Arc<Mutex<Heard>>);

impl Guide for Silent {
    fn aim(&self, offset: f32) {
        self.0.lock().expect("heard").offsets.push(offset);
    }

    fn set_level_dbfs(&self, level_dbfs: f64) {
        self.0.lock().expect("heard").level_dbfs = level_dbfs;
    }

    fn trouble(&mut self, _: Instant) -> Option<String> {
        self.0.lock().expect("heard").trouble.clone()
    }
}

impl Drop for Silent {
    fn drop(&mut self) {
        self.0.lock().expect("heard").stopped += 1;
    }
}
