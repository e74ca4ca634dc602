//! The bench of the invented workshop: a virtual deck is set, a tape is played, a reading is taken, something is typed.

use jiff::{SignedDuration, Timestamp};
use std::error::Error;
use trimwatch::{
    bench::{
        Check, CheckDone, Deck, Environment, Figure, Job, LimitSet, Note, PartReplaced, Quantity,
        Skip, Stage, Station, Workshop,
        taking::{self, Circumstances},
    },
    meters::{InputPair, MeterSetup},
    readings::SourceDescription,
    source::{
        FrameSource, SourceError,
        virtual_deck::{Setting, VirtualDeck},
    },
    tables::{TestTape, tape_format},
    worker::measure,
};

const RATE_HZ: u32 = 48_000;
/// The deck runs for so long before a reading begins: screws and motor are at rest then, s.
const RUN_UP_S: usize = 6;
/// Of the take for speed and flutter, s.
const LONG_S: u64 = 60;
/// Of the takes for azimuth and level, s.
const SHORT_S: u64 = 20;
/// Of a low tone that settles the whole cycles of the one that is read, s.
const SETTLE_S: u64 = 8;
/// 1 g·cm in mN·m, with the standard acceleration of free fall of 9.80665 m/s².
const MN_M_PER_G_CM: f64 = 0.098_066_5;
/// 1 g as a force in N.
const N_PER_G: f64 = 0.009_806_65;
/// What a spring gauge may be off (k = 2), as a share: common practice, no source.
const GAUGE_SHARE: f64 = 0.05;

pub type Made<T> = Result<T, Box<dyn Error>>;

/// A virtual deck with its screws as they are turned.
#[derive(Clone, Copy)]
pub struct Set<'a> {
    /// Its file in demo-data.
    pub file: &'a str,
    /// Which of many decks of that kind.
    pub seed: u32,
    /// Its screws.
    pub screws: &'a [(Setting, f64)],
}

/// A tape, and the deck's sections that carry its tones; the last one is read.
pub type Played = (&'static str, &'static [&'static str]);

/// The tapes of the four stations: speed, flutter, azimuth, level.
pub type Tapes = [Played; 4];

/// Cassettes. The azimuth's low tone settles the whole cycles of the high one.
pub const CASSETTES: Tapes = [
    ("hl-t1", &["speed-3150"]),
    ("hl-t1", &["speed-3150"]),
    ("hl-t2", &["level-315", "azimuth-10k"]),
    ("hl-t3", &["level-315"]),
];
/// Reels.
pub const REELS: Tapes = [
    ("hl-r1", &["speed-3150"]),
    ("hl-r1", &["speed-3150"]),
    ("hl-r2", &["reel-level-1k", "azimuth-10k"]),
    ("hl-r3", &["reel-level-1k"]),
];

const STATIONS: [Station; 4] = [
    Station::Speed,
    Station::Flutter,
    Station::Azimuth,
    Station::Level,
];

/// A job that grows.
pub struct Bench {
    job: Job,
}

impl Bench {
    /// A deck comes in.
    pub fn open(
        number: &str,
        opened: &str,
        deck: Deck,
        limits: &str,
        complaint: &str,
    ) -> Made<Self> {
        let path = format!(
            "{}/calibration/limits/{limits}.toml",
            env!("CARGO_MANIFEST_DIR")
        );
        let limits = LimitSet::parse(&path, &std::fs::read_to_string(&path)?)?;
        Ok(Self {
            job: Job {
                number: number.into(),
                workshop: Workshop {
                    name: "Harbour Lane Audio Repair".into(),
                    lines: vec![
                        "3 Harbour Lane, by the slipway".into(),
                        "open Tuesday to Friday".into(),
                    ],
                },
                deck,
                opened: opened.parse()?,
                closed: None,
                complaint: complaint.into(),
                limits,
                environment: Environment::default(),
                checks: Vec::new(),
                readings: Vec::new(),
                skips: Vec::new(),
                parts: Vec::new(),
                notes: Vec::new(),
            },
        })
    }

    fn after(&self, hours: f64) -> Made<Timestamp> {
        let seconds = SignedDuration::from_secs((hours * 3600.0) as i64);
        Ok(self.job.opened.checked_add(seconds)?)
    }

    /// Plays a tape on a deck and takes the readings of all stations but those in `without`.
    pub fn listen(
        &mut self,
        stage: Stage,
        hours: f64,
        deck: Set<'_>,
        tapes: Tapes,
        without: &[Station],
    ) -> Made<()> {
        for (at, (station, played)) in STATIONS.into_iter().zip(tapes).enumerate() {
            if without.contains(&station) {
                continue;
            }
            self.take(station, stage, hours + 0.05 * at as f64, deck, played)?;
        }
        Ok(())
    }

    /// One reading.
    pub fn take(
        &mut self,
        station: Station,
        stage: Stage,
        hours: f64,
        deck: Set<'_>,
        (tape, sections): Played,
    ) -> Made<()> {
        let tape = tape_of_the_workshop(tape)?;
        let mut setup = MeterSetup::new()?.with_tape(&tape);
        setup.clock_tolerance_ppm = 1.0;
        setup.inputs = InputPair {
            measured: true,
            skew_tolerance_us: 0.05,
            gain_tolerance_db: 0.02,
            ..InputPair::default()
        };
        setup.tape_format = tape_format(&self.job.deck.tape_format)?.clone();
        let seconds = match station {
            Station::Speed | Station::Flutter => LONG_S,
            _ => SHORT_S,
        };
        let mut playing = playing(deck, sections, seconds * u64::from(RATE_HZ))?;
        let readings = measure(&mut playing, setup.clone(), None)?;
        let circumstances = Circumstances {
            at: self.after(hours)?,
            stage,
            words: "",
            tape_name: &tape.name,
            tape_title: &tape.title,
            profile: "simulated interface without errors, known to ±0.05 µs and ±0.02 dB",
        };
        let mut taken = taking::take(station, &readings, &setup, &circumstances)?;
        let main = taken.figures[0];
        taken.words = format!(
            "{} {:.*} {}",
            main.quantity.name(),
            main.quantity.decimals(),
            main.value,
            main.quantity.unit()
        );
        self.job.readings.push(taken);
        Ok(())
    }

    /// Withdraws the last reading.
    pub fn withdraw(&mut self, hours: f64) -> Made<()> {
        let at = self.after(hours)?;
        if let Some(last) = self.job.readings.last_mut() {
            last.withdrawn = Some(at);
        }
        Ok(())
    }

    /// A torque gauge, g·cm.
    pub fn torque(&mut self, stage: Stage, hours: f64, quantity: Quantity, g_cm: f64) -> Made<()> {
        self.gauge(
            stage,
            hours,
            (quantity, MN_M_PER_G_CM * g_cm),
            (g_cm, "g·cm"),
        )
    }

    /// A spring balance at the pinch roller, g.
    pub fn roller(&mut self, stage: Stage, hours: f64, grams: f64) -> Made<()> {
        self.gauge(
            stage,
            hours,
            (Quantity::RollerForce, N_PER_G * grams),
            (grams, "g"),
        )
    }

    /// A feeler gauge at the capstan, mm.
    pub fn end_play(&mut self, stage: Stage, hours: f64, mm: f64) -> Made<()> {
        self.gauge(stage, hours, (Quantity::CapstanEndPlay, mm), (mm, "mm"))
    }

    fn gauge(
        &mut self,
        stage: Stage,
        hours: f64,
        (quantity, value): (Quantity, f64),
        (typed, typed_unit): (f64, &str),
    ) -> Made<()> {
        let figure = Figure {
            quantity,
            value,
            uncertainty: Some(GAUGE_SHARE * value),
        };
        let check = Check::Gauge {
            figure,
            typed,
            typed_unit: typed_unit.into(),
        };
        self.check(stage, hours, check)
    }

    /// Something looked at.
    pub fn look(
        &mut self,
        stage: Stage,
        hours: f64,
        what: &str,
        found: &str,
        good: Option<bool>,
    ) -> Made<()> {
        let check = Check::Seen {
            what: what.into(),
            found: found.into(),
            good,
        };
        self.check(stage, hours, check)
    }

    fn check(&mut self, stage: Stage, hours: f64, check: Check) -> Made<()> {
        let at = self.after(hours)?;
        self.job.checks.push(CheckDone {
            at,
            stage,
            check,
            withdrawn: None,
        });
        Ok(())
    }

    /// Cleaned and demagnetised, as every deck that leaves.
    pub fn cleaned(&mut self, hours: f64) -> Made<()> {
        self.look(
            Stage::AsLeft,
            hours,
            "cleaned",
            "heads, capstan, roller",
            Some(true),
        )?;
        self.look(
            Stage::AsLeft,
            hours,
            "demagnetised",
            "heads and guides",
            Some(true),
        )
    }

    /// A station is left out.
    pub fn skip(&mut self, station: Station, stage: Stage, hours: f64, reason: &str) -> Made<()> {
        let at = self.after(hours)?;
        self.job.skips.push(Skip {
            at,
            station,
            stage,
            reason: reason.into(),
        });
        Ok(())
    }

    /// A part is replaced.
    pub fn part(&mut self, hours: f64, what: &str) -> Made<()> {
        let at = self.after(hours)?;
        self.job.parts.push(PartReplaced {
            at,
            what: what.into(),
        });
        Ok(())
    }

    /// A note for the owner.
    pub fn tell(&mut self, hours: f64, text: &str) -> Made<()> {
        self.note(hours, text, true)
    }

    /// A note for the workshop.
    pub fn remember(&mut self, hours: f64, text: &str) -> Made<()> {
        self.note(hours, text, false)
    }

    fn note(&mut self, hours: f64, text: &str, for_owner: bool) -> Made<()> {
        let at = self.after(hours)?;
        self.job.notes.push(Note {
            at,
            text: text.into(),
            for_owner,
        });
        Ok(())
    }

    /// The deck goes back.
    pub fn close(mut self, hours: f64, temperature_c: f64, warm_up_minutes: f64) -> Made<Job> {
        self.job.environment = Environment {
            temperature_c: Some(temperature_c),
            mains_volts: Some(231.0),
            warm_up_minutes: Some(warm_up_minutes),
        };
        self.job.closed = Some(self.after(hours)?);
        Ok(self.job)
    }
}

fn tape_of_the_workshop(name: &str) -> Made<TestTape> {
    let tapes = TestTape::parse_all("tapes.toml", include_str!("tapes.toml"))?;
    let tape = tapes.into_iter().find(|tape| tape.name == name);
    tape.ok_or_else(|| format!("no tape {name}").into())
}

/// The deck, run up with its screws turned.
fn playing(deck: Set<'_>, sections: &'static [&'static str], frames: u64) -> Made<Playing> {
    let path = format!(
        "{}/demo-data/{}.toml",
        env!("CARGO_MANIFEST_DIR"),
        deck.file
    );
    let text = std::fs::read_to_string(&path)?;
    let seeded: Vec<_> = text
        .lines()
        .map(|line| match line.starts_with("seed = ") {
            true => format!("seed = {}", deck.seed),
            false => line.to_owned(),
        })
        .collect();
    let mut playing = VirtualDeck::from_toml(&path, &seeded.join("\n"), RATE_HZ)?;
    let controls = playing.controls();
    let (first, others) = sections.split_first().ok_or("a tape without a tone")?;
    controls.choose_section(first)?;
    for &(setting, value) in deck.screws {
        controls.set(setting, value)?;
    }
    let channels = usize::from(playing.description().channels);
    let mut second = vec![0.0; RATE_HZ as usize * channels];
    for _ in 0..RUN_UP_S {
        playing.read(&mut second)?;
    }
    Ok(Playing {
        deck: playing,
        others,
        frames,
        played: 0,
    })
}

/// A deck on which one section after the other plays, the last one for the whole time.
struct Playing {
    deck: VirtualDeck,
    others: &'static [&'static str],
    /// Of the last section.
    frames: u64,
    /// Of the section that plays.
    played: u64,
}

impl FrameSource for Playing {
    fn description(&self) -> &SourceDescription {
        self.deck.description()
    }

    fn read(&mut self, interleaved: &mut [f32]) -> Result<usize, SourceError> {
        let frames = match self.others {
            [] => self.frames,
            _ => SETTLE_S * u64::from(RATE_HZ),
        };
        if self.played >= frames {
            let Some((next, others)) = self.others.split_first() else {
                return Ok(0);
            };
            let chosen = self.deck.controls().choose_section(next);
            chosen.map_err(|error| SourceError(error.to_string()))?;
            (self.others, self.played) = (others, 0);
            return self.read(interleaved);
        }
        let channels = usize::from(self.deck.description().channels);
        let left = usize::try_from(frames - self.played).unwrap_or(usize::MAX);
        let wanted = left.saturating_mul(channels).min(interleaved.len());
        let frames = self.deck.read(&mut interleaved[..wanted])?;
        self.played += frames as u64;
        Ok(frames)
    }
}
