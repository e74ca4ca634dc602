//! `trimwatch profile`: the interface's own errors, measured step by step and kept for the readings.

mod listen;
mod pages;
mod settings;

pub use settings::ProfileSettings;

use self::{
    listen::{listen, watch_clock},
    settings::{Keeping, Measurement},
};
use super::{ConsoleError, Outcome, deliver, page::Page};
use crate::{
    meters::MeterSetup,
    profile::{
        ClockFigure, Heard, InterfaceProfile, LevelFigure, ProfileStore,
        level::{KnownSine, full_scale},
        name_for,
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
        Measurement::Listen {
            to,
            source,
            seconds,
        } => {
            let (description, mut listening) = listen(source, seconds, out, to)?;
            (description, heard(listening.heard(), now))
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

fn heard(heard: Heard, now: SystemTime) -> Found {
    let mut page = Page::default();
    match &heard {
        Heard::YLead(reading) => pages::y_lead(&mut page, reading),
        Heard::Noise(reading) => pages::noise(&mut page, reading),
        Heard::Crosstalk(reading) => pages::crosstalk(&mut page, reading),
    }
    Found {
        page,
        change: heard.is_done().then(|| -> Change {
            Box::new(move |profile| {
                let _stands = heard.keep_in(profile, now);
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
