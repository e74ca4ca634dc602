//! The virtual deck: a physical model of a deck playing a test tape, read from a TOML file.
//!
//! The transport says how far the tape has moved, the head where it reads each track, the tape what is recorded
//! there, the line output what becomes of it. Nothing depends on how many frames are asked for at a time, and all
//! chance comes from the deck's seed, so a deck plays the same samples every time. What it does is known exactly
//! ([`DeckTruth`]), and it can be adjusted while it plays ([`DeckControls`]).

mod bend;
mod controls;
mod dropouts;
mod generator;
mod head;
mod knots;
mod line_out;
mod plan;
mod programme;
mod random;
mod shelf;
mod slew;
mod speed_noise;
mod tape;
mod transport;
mod truth;
mod turns;
mod within;

pub use controls::{Adjuster, Control, ControlError, DeckControls, Setting};
pub use shelf::built_in_names;
pub use truth::{DeckTruth, FlutterLine, ToneTruth};

use super::{FrameSource, SourceError, recording::SAMPLE_RATES_HZ};
use crate::{
    readings::{SourceDescription, SourceKind},
    tables::TapeFormat,
};
use dropouts::Dropouts;
use head::{Head, Tilt};
use line_out::LineOut;
use plan::Plan;
use tape::Tape;
use transport::Transport;

/// A deck playing. It never ends.
pub struct VirtualDeck {
    description: SourceDescription,
    plan: Plan,
    format: &'static TapeFormat,
    controls: DeckControls,
    transport: Transport,
    head: Head,
    tape: Tape,
    dropouts: Dropouts,
    line_out: LineOut,
    frames: u64,
}

impl VirtualDeck {
    /// The built-in deck of that name, else the deck of the file at that path.
    ///
    /// # Errors
    /// When there is neither; when the file is not a deck (names the file, the line and the key); when the sample
    /// rate is out of range.
    pub fn by_name_or_path(name_or_path: &str, sample_rate_hz: u32) -> Result<Self, SourceError> {
        let (file, text) = shelf::text_of(name_or_path)?;
        Self::from_toml(&file, &text, sample_rate_hz)
    }

    /// The deck that `text` describes; `file` is what errors call it.
    ///
    /// # Errors
    /// When the text is not a deck (names the file, the line and the key) or the sample rate is out of range.
    pub fn from_toml(file: &str, text: &str, sample_rate_hz: u32) -> Result<Self, SourceError> {
        if !SAMPLE_RATES_HZ.contains(&sample_rate_hz) {
            return Err(SourceError(format!(
                "a virtual deck cannot be sampled {sample_rate_hz} times a second; give {} to {} Hz",
                SAMPLE_RATES_HZ.start(),
                SAMPLE_RATES_HZ.end()
            )));
        }
        let (plan, format) = Plan::parse(file, text).map_err(|error| SourceError(error.0))?;
        let rate = f64::from(sample_rate_hz);
        let clock = 1.0 + plan.interface.clock_error_ppm.get() * 1e-6;
        let dt_s = 1.0 / (rate * clock);
        let start = plan.start_section();
        let controls = DeckControls::new(&plan, start);
        Ok(Self {
            description: SourceDescription {
                kind: SourceKind::VirtualDeck,
                name: plan.deck.name.clone(),
                host: None,
                sample_format: "32-bit float".into(),
                sample_rate_hz,
                channels: 2,
                buffer_frames: None,
            },
            format,
            transport: Transport::new(&plan, format, &controls, dt_s),
            head: Head::new(&plan, format, &controls, dt_s),
            tape: Tape::new(&plan, start, rate, Tilt::reach_s(format)),
            dropouts: Dropouts::new(&plan),
            line_out: LineOut::new(&plan, &controls, rate, dt_s),
            frames: 0,
            controls,
            plan,
        })
    }

    /// The handle on this deck's adjustments.
    pub fn controls(&self) -> DeckControls {
        self.controls.clone()
    }

    /// What the deck really does at this moment, once it has followed its adjustments.
    pub fn truth(&self) -> DeckTruth {
        let rate = f64::from(self.description.sample_rate_hz);
        let clock = 1.0 + self.plan.interface.clock_error_ppm.get() * 1e-6;
        truth::truth(
            &self.plan,
            self.format,
            &self.controls,
            self.tape.playing(),
            rate,
            self.frames as f64 / (rate * clock),
        )
    }

    /// What ails the deck, in the words of its file.
    pub fn about(&self) -> &str {
        &self.plan.deck.about
    }

    /// The format of the tape it plays.
    pub fn tape_format(&self) -> &'static TapeFormat {
        self.format
    }

    /// Its mechanism's file, where the deck names one: the name of a supplied one, or a path.
    pub fn mechanism(&self) -> Option<&str> {
        self.plan
            .deck
            .mechanism
            .as_ref()
            .map(|name| name.get_ref().as_str())
    }

    fn follow_controls(&mut self) {
        let controls = &self.controls;
        self.transport.follow(controls);
        self.head.follow(controls);
        self.line_out.follow(controls);
        self.tape
            .wind_to(controls.value_or_zero(Setting::Section) as usize);
    }

    fn next_frame(&mut self) -> [f32; 2] {
        let place = self.transport.next();
        let tilt = self.head.next(place.drive);
        let tracks = self.tape.read(place.tape, tilt);
        let [left, right] = self.dropouts.next(place.tape);
        self.line_out.next([tracks[0] * left, tracks[1] * right])
    }
}

impl FrameSource for VirtualDeck {
    fn description(&self) -> &SourceDescription {
        &self.description
    }

    fn read(&mut self, interleaved: &mut [f32]) -> Result<usize, SourceError> {
        self.follow_controls();
        let (frames, _) = interleaved.as_chunks_mut::<2>();
        for frame in frames.iter_mut() {
            let playing = self.tape.playing();
            *frame = self.next_frame();
            if self.tape.playing() != playing {
                self.controls.section_ran_on(playing, self.tape.playing());
            }
        }
        self.frames += frames.len() as u64;
        Ok(frames.len())
    }
}
