//! `trimwatch profile`: the interface's own errors, measured step by step and kept for the readings.

mod listen;
mod pages;
mod settings;

pub use settings::ProfileSettings;

use self::{
    listen::{Listener, listen, watch_clock},
    settings::{Keeping, Measurement},
};
use super::{ConsoleError, Outcome, deliver, page::Page};
use crate::{
    meters::MeterSetup,
    profile::{
        ClockFigure, CrosstalkFigure, InterfaceProfile, LevelFigure, NoiseFigure, PairFigure,
        ProfileStore,
        crosstalk::{CrosstalkState, CrosstalkWatch},
        level::{KnownSine, full_scale},
        name_for,
        noise::{NoiseState, SelfNoise},
        y_lead::{YLead, YLeadState},
    },
    readings::{ClockReading, SourceDescription, SourceKind, Synchronisation},
};
use std::{io::Write, path::Path, time::SystemTime};

/// Runs one step.
pub fn profile(settings: ProfileSettings, out: &mut dyn Write) -> Result<Outcome, ConsoleError> {
    let store = settings.store;
    match settings.step {
        settings::Step::Measure(measurement, keeping) => {
            measure(measurement, &keeping, &store, out)
        }
        settings::Step::List => list(&store, out),
        settings::Step::Show(name) => {
            let profile = store.load(&name)?;
            deliver(out, &pages::profile(&name, &profile, SystemTime::now()))?;
            Ok(Outcome::Complete)
        }
        settings::Step::Import { file, replace } => {
            let name = store.import(&file, replace)?;
            say(out, &format!("kept as '{name}'"))
        }
        settings::Step::Delete(name) => {
            store.delete(&name)?;
            say(out, &format!("'{name}' is deleted"))
        }
    }
}

fn say(out: &mut dyn Write, line: &str) -> Result<Outcome, ConsoleError> {
    deliver(out, &format!("{line}\n"))?;
    Ok(Outcome::Complete)
}

fn list(store: &ProfileStore, out: &mut dyn Write) -> Result<Outcome, ConsoleError> {
    let stored = store.list()?;
    deliver(
        out,
        &pages::list(store.folder(), &stored, SystemTime::now()),
    )?;
    Ok(Outcome::of(!stored.is_empty()))
}

/// What a measurement writes into a profile.
type Change = Box<dyn FnOnce(&mut InterfaceProfile)>;

/// What a step found: lines for the page, and what it writes into the profile; `None` where nothing stands.
struct Found {
    page: Page,
    change: Option<Change>,
}

fn measure(
    measurement: Measurement,
    keeping: &Keeping,
    store: &ProfileStore,
    out: &mut dyn Write,
) -> Result<Outcome, ConsoleError> {
    let now = SystemTime::now();
    let (description, mut found) = match measurement {
        Measurement::Clock { source, seconds } => {
            let (description, reading) = watch_clock(source, seconds, out)?;
            (description, clock(&reading, now))
        }
        Measurement::YLead { source, seconds } => {
            let (description, mut lead) =
                listen(source, seconds, out, |rate_hz| Lead(YLead::new(rate_hz)))?;
            (description, y_lead(&mut lead.0, now))
        }
        Measurement::Noise { source, seconds } => {
            let (description, noise) = listen(source, seconds, out, |rate_hz| {
                Shorted(SelfNoise::new(rate_hz))
            })?;
            (description, self_noise(&noise.0, now))
        }
        Measurement::Crosstalk { source, seconds } => {
            let (description, watch) = listen(source, seconds, out, |rate_hz| {
                Driven(CrosstalkWatch::new(rate_hz))
            })?;
            (description, crosstalk(&watch.0, now))
        }
        Measurement::Level {
            source,
            seconds,
            sine,
        } => {
            let (description, readings) = listen::read(source, seconds, MeterSetup::new()?)?;
            (
                description,
                level(
                    &full_scale(&readings, &sine).map_err(ConsoleError::Refused)?,
                    &sine,
                    now,
                ),
            )
        }
    };
    let stands = found.change.is_some();
    if let Some(change) = found.change.take() {
        keep(keeping, store, &description, change, &mut found.page)?;
    }
    deliver(out, &found.page.into_text())?;
    Ok(Outcome::of(stands))
}

/// Writes the change into the profile of this name, or of this device.
fn keep(
    keeping: &Keeping,
    store: &ProfileStore,
    description: &SourceDescription,
    change: Change,
    page: &mut Page,
) -> Result<(), ConsoleError> {
    let live = description.kind == SourceKind::SoundCard;
    let found = if live { store.find(description)? } else { None };
    let name = match (&keeping.name, found) {
        (Some(name), _) => name.clone(),
        (None, Some(stored)) => stored.name,
        (None, None) if live => name_for(description),
        (None, None) => {
            page.row("kept", "no: a file is no interface; --name NAME keeps it");
            return Ok(());
        }
    };
    let exists = store.list()?.iter().any(|stored| stored.name == name);
    let mut profile = if exists {
        store.load(&name)?
    } else {
        InterfaceProfile::new(description)
    };
    if profile.sample_rate_hz != description.sample_rate_hz || (live && !profile.is_of(description))
    {
        return Err(ConsoleError::Refused(format!(
            "the profile '{name}' is of {} at {} Hz, not of {} at {} Hz; keep this one under another name",
            profile.device, profile.sample_rate_hz, description.name, description.sample_rate_hz
        )));
    }
    change(&mut profile);
    let path = store.save(&name, &profile)?;
    page.row("kept as", &name);
    page.row(
        "in",
        &path.parent().unwrap_or(Path::new("")).display().to_string(),
    );
    Ok(())
}

fn clock(reading: &ClockReading, now: SystemTime) -> Found {
    let mut page = Page::default();
    pages::clock_reading(&mut page, reading);
    let figure = ClockFigure::of(reading, now);
    if reading.synchronisation != Synchronisation::Synchronised {
        page.item(
            "Without a synchronised clock the figure is only as good as the computer's own quartz: ±50 ppm go into \
             the readings' uncertainty.",
        );
    }
    Found {
        page,
        change: figure
            .map(|figure| -> Change { Box::new(move |profile| profile.clock = Some(figure)) }),
    }
}

fn y_lead(lead: &mut YLead, now: SystemTime) -> Found {
    let reading = lead.reading();
    let mut page = Page::default();
    pages::y_lead(&mut page, &reading);
    Found {
        page,
        change: PairFigure::of(&reading, now)
            .map(|figure| -> Change { Box::new(move |profile| profile.inputs = Some(figure)) }),
    }
}

fn self_noise(noise: &SelfNoise, now: SystemTime) -> Found {
    let reading = noise.reading();
    let mut page = Page::default();
    pages::noise(&mut page, &reading);
    Found {
        page,
        change: NoiseFigure::of(&reading, now)
            .map(|figure| -> Change { Box::new(move |profile| profile.noise = Some(figure)) }),
    }
}

fn crosstalk(watch: &CrosstalkWatch, now: SystemTime) -> Found {
    let reading = watch.reading();
    let mut page = Page::default();
    pages::crosstalk(&mut page, &reading);
    Found {
        page,
        change: CrosstalkFigure::of(&reading, now).map(|figure| -> Change {
            Box::new(move |profile| {
                profile.crosstalk = Some(figure.completed_by(profile.crosstalk.as_ref()));
            })
        }),
    }
}

fn level(
    full_scale: &crate::profile::level::FullScale,
    sine: &KnownSine,
    now: SystemTime,
) -> Found {
    let figure = LevelFigure::of(full_scale, sine, now);
    let mut page = Page::default();
    pages::level(&mut page, &figure, "done");
    Found {
        page,
        change: Some(Box::new(move |profile| profile.level = Some(figure))),
    }
}

struct Lead(YLead);
struct Shorted(SelfNoise);
struct Driven(CrosstalkWatch);

impl Listener for Lead {
    fn push(&mut self, interleaved: &[f32]) {
        self.0.push(interleaved);
    }
    fn mark_gap(&mut self) {
        self.0.mark_gap();
    }
    fn state(&mut self) -> String {
        let reading = self.0.reading();
        match reading.state {
            // What is plugged in now, also after there is a figure.
            YLeadState::Done => match reading.tones.len() {
                0 => "the figures stand, from noise".into(),
                tones => format!("the figures stand, from {tones} tones"),
            },
            state => state.words().into(),
        }
    }
}

impl Listener for Shorted {
    fn push(&mut self, interleaved: &[f32]) {
        self.0.push(interleaved);
    }
    fn mark_gap(&mut self) {
        self.0.mark_gap();
    }
    fn state(&mut self) -> String {
        match self.0.reading().state {
            NoiseState::Done => "noise is being averaged".into(),
            state => state.words().into(),
        }
    }
}

impl Listener for Driven {
    fn push(&mut self, interleaved: &[f32]) {
        self.0.push(interleaved);
    }
    fn mark_gap(&mut self) {
        self.0.mark_gap();
    }
    fn state(&mut self) -> String {
        let reading = self.0.reading();
        match reading.state {
            CrosstalkState::Done => format!(
                "tones read: {} into right, {} into left",
                reading.into_right.len(),
                reading.into_left.len()
            ),
            state => state.words().into(),
        }
    }
}
