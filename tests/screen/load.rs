//! The window under its usual load, without any meters: 30 invented snapshots a second. For measuring what drawing
//! costs: `cargo run --release --example screen_load`, and a look at the process's processor time.

#[path = "fixtures.rs"]
#[allow(dead_code, reason = "the tests use all of them")]
mod fixtures;

use std::{
    error::Error,
    sync::Arc,
    thread,
    time::{Duration, Instant},
};
use trimwatch::{
    guide::{GuideError, OutputName},
    meters::MeterSetup,
    screen::{
        self, DeckShelf, Guide, InputChoice, InputList, Inputs, LogShelf, OpenInput, OutputChoices,
        Outputs, ScreenOptions, TapeShelf, Wake,
    },
    source::SourceError,
    tables::{Limits, test_tape},
    worker::Worker,
};

const EVERY: Duration = Duration::from_micros(33_333);

struct Load;

impl Inputs for Load {
    fn list(&self) -> InputList {
        InputList::default()
    }

    fn open(&self, _: &InputChoice, _: &MeterSetup, wake: Wake) -> Result<OpenInput, SourceError> {
        let (snapshots, readings) = crossbeam_channel::bounded(4);
        let (requests, _) = crossbeam_channel::unbounded();
        thread::Builder::new()
            .name("load".into())
            .spawn(move || {
                let start = Instant::now();
                loop {
                    let seconds = 30.0 + start.elapsed().as_secs_f64();
                    let snapshot = Arc::new(fixtures::fast_deck(seconds));
                    // A full channel means that the window is hidden or slow; the next one will do.
                    if let Err(crossbeam_channel::TrySendError::Disconnected(_)) =
                        snapshots.try_send(snapshot)
                    {
                        break;
                    }
                    wake();
                    thread::sleep(EVERY);
                }
            })
            .map_err(|error| SourceError(error.to_string()))?;
        Ok(OpenInput {
            worker: Worker { readings, requests },
            screwdrivers: None,
            tape_format: None,
            mechanism: None,
        })
    }
}

impl Outputs for Load {
    fn list(&self, _: Option<&InputChoice>) -> OutputChoices {
        OutputChoices::default()
    }

    fn start(&self, _: &OutputName, _: f64) -> Result<Box<dyn Guide>, GuideError> {
        Err(GuideError("there is no output".into()))
    }
}

fn main() -> Result<(), Box<dyn Error>> {
    screen::run(ScreenOptions {
        inputs: Arc::new(Load),
        outputs: Arc::new(Load),
        start: Some(InputChoice::VirtualDeck("load".into())),
        setup: MeterSetup::new()?.with_tape(test_tape("speed-3150")?),
        limits: Limits::supplied()?,
        theme: None,
        memory: None,
        decks: DeckShelf::default(),
        jobs: None,
        zone: jiff::tz::TimeZone::UTC,
        logs: LogShelf::default(),
        tapes: TapeShelf::default(),
        profiles: None,
        format_is_given: true,
    })?;
    Ok(())
}
