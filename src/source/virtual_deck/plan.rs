//! The deck file: what a virtual deck is made of. Units stand in the keys, ranges in the types.

use super::within::{UpTo, Within};
use crate::tables::{
    TableError, TapeFormat, error_at, mechanism_by_name_or_path, parse_toml, tape_format,
};
use serde::Deserialize;
use std::f64::consts::PI;
use toml::Spanned;

/// Lines of flutter above this are taken for a mistake: what is faster belongs under `scrape`. The transport's
/// interpolation is exact enough up to here (see `transport`).
pub(super) const FASTEST_LINE_HZ: f64 = 300.0;
/// All flutter lines at their peaks together: beyond, the tape could be asked to run backwards.
const MOST_FLUTTER_PERCENT: f64 = 20.0;

/// Level of a signal: a sine whose peaks reach full scale has 0 dBFS.
pub(super) type LevelDbfs = Within<-160, 20>;

#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Plan {
    pub(super) deck: Deck,
    #[serde(default)]
    pub(super) transport: Transport,
    #[serde(default)]
    pub(super) head: Head,
    #[serde(default)]
    pub(super) line_out: LineOut,
    #[serde(default)]
    pub(super) interface: Interface,
    #[serde(default)]
    pub(super) adjust: Adjust,
    pub(super) random_dropouts: Option<RandomDropouts>,
    #[serde(default)]
    pub(super) dropout: Vec<Dropout>,
    pub(super) section: Vec<Section>,
}

#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Deck {
    pub(super) name: String,
    /// What ails it, for a person.
    #[serde(default)]
    pub(super) about: String,
    pub(super) tape_format: Spanned<String>,
    /// The file of its mechanism: the name of a supplied one, or a path.
    pub(super) mechanism: Option<Spanned<String>>,
    /// What is drawn by chance is the same for the same seed.
    pub(super) seed: u64,
    /// The tape's section under the head at the start; the first one when not given.
    pub(super) start_section: Option<Spanned<String>>,
}

#[derive(Clone, Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct Transport {
    pub(super) speed_error_percent: Within<-20, 20>,
    /// Stops when it has added up to ±5 %.
    pub(super) trend_percent_per_minute: Within<-5, 5>,
    pub(super) part: Vec<Part>,
    pub(super) random_wow: Vec<RandomWow>,
    pub(super) scrape: Vec<Scrape>,
}

/// A rotating part.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Part {
    pub(super) name: Spanned<String>,
    /// Turns a second at nominal speed; either this or the diameter.
    pub(super) rate_hz: Option<UpTo<300>>,
    /// Diameter where the tape runs on it.
    pub(super) diameter_mm: Option<UpTo<1000>>,
    /// Peak speed deviation it causes once a turn, twice a turn, …
    pub(super) flutter_peak_percent: Spanned<Vec<Within<0, 10>>>,
    /// Phase of each of these when play starts; drawn by chance where not given.
    #[serde(default)]
    pub(super) phase_degrees: Vec<Within<-360, 360>>,
    /// What becomes of its flutter when the part is replaced: times this. Without it, it cannot be replaced.
    pub(super) replaced_scale: Option<Within<0, 2>>,
}

/// Speed noise with a hump around `peak_hz`, rising 6 dB an octave below and falling steeply above.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RandomWow {
    pub(super) rms_percent: Within<0, 2>,
    pub(super) peak_hz: UpTo<50>,
}

/// Narrow-band speed noise, as of tape sticking and slipping at a fixed part.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Scrape {
    pub(super) rms_percent: Within<0, 2>,
    pub(super) centre_hz: Within<50, 20_000>,
    /// Full width at half power; at most half the centre.
    pub(super) width_hz: Spanned<Within<1, 5_000>>,
}

#[derive(Clone, Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct Head {
    /// Positive: the right channel arrives later.
    pub(super) azimuth_arcmin: Within<-30, 30>,
    pub(super) wander: Vec<Wander>,
}

/// Azimuth that swings with a part, or at a rate of its own.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Wander {
    pub(super) part: Option<Spanned<String>>,
    pub(super) rate_hz: Option<UpTo<300>>,
    pub(super) peak_arcmin: Spanned<Within<0, 5>>,
    #[serde(default)]
    pub(super) phase_degrees: Within<-360, 360>,
}

#[derive(Clone, Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct LineOut {
    pub(super) left: Channel,
    pub(super) right: Channel,
    pub(super) hum: Option<Hum>,
}

#[derive(Clone, Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct Channel {
    pub(super) gain_db: Within<-120, 60>,
    /// −3 dB point of a first-order treble loss.
    pub(super) treble_corner_hz: Option<Within<100, 200_000>>,
    pub(super) inverted: bool,
    /// Level of white noise over the whole band; none when not given.
    pub(super) hiss_dbfs: Option<LevelDbfs>,
}

#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Hum {
    pub(super) mains_hz: Within<40, 70>,
    pub(super) level_dbfs: LevelDbfs,
    /// Levels of the second, third, … harmonic relative to the fundamental.
    #[serde(default)]
    pub(super) harmonics_db: Vec<Within<-120, 20>>,
}

#[derive(Clone, Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct Interface {
    /// Positive: the card samples fast.
    pub(super) clock_error_ppm: Within<-1000, 1000>,
}

/// How far the virtual screwdrivers reach, to either side of where the deck was found.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct Adjust {
    pub(super) speed_trimmer_range_percent: Within<0, 10>,
    pub(super) azimuth_screw_range_arcmin: Within<0, 20>,
    pub(super) gain_range_db: Within<0, 20>,
}

impl Default for Adjust {
    fn default() -> Self {
        Self {
            speed_trimmer_range_percent: Within::new(4.0),
            azimuth_screw_range_arcmin: Within::new(15.0),
            gain_range_db: Within::new(6.0),
        }
    }
}

/// Dropouts at random places of the tape.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RandomDropouts {
    pub(super) rate_per_minute: Within<0, 600>,
    pub(super) depth_db: Within<0, 120>,
    pub(super) length_ms: Within<1, 5_000>,
    #[serde(default)]
    pub(super) tracks: Tracks,
}

/// One dropout, centred `at_s` seconds of tape after the start.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Dropout {
    pub(super) at_s: Within<0, 86_400>,
    pub(super) depth_db: Within<0, 120>,
    pub(super) length_ms: Within<1, 5_000>,
    #[serde(default)]
    pub(super) tracks: Tracks,
}

/// The tracks a dropout hits.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub(super) enum Tracks {
    #[default]
    Both,
    Left,
    Right,
}

/// A stretch of tape with the sum of its signals; none of them is silence.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Section {
    pub(super) name: Spanned<String>,
    /// Seconds of tape until the next section (after the last comes the first); without it, it never ends.
    pub(super) length_s: Option<Within<1, 86_400>>,
    #[serde(default)]
    pub(super) tone: Vec<Tone>,
    pub(super) pink_noise_dbfs: Option<LevelDbfs>,
    pub(super) programme_dbfs: Option<LevelDbfs>,
}

#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Tone {
    pub(super) frequency_hz: Within<1, 200_000>,
    pub(super) level_dbfs: LevelDbfs,
    #[serde(default)]
    pub(super) phase_degrees: Within<-360, 360>,
}

impl Part {
    /// Turns a second of tape travel: f = v / (πD) where the diameter is given.
    pub(super) fn once_round_hz(&self, format: &TapeFormat) -> f64 {
        match (self.rate_hz, self.diameter_mm) {
            (Some(rate), _) => rate.get(),
            (None, Some(diameter)) => format.tape_speed_m_per_s / (PI * diameter.get() * 1e-3),
            (None, None) => 0.0,
        }
    }
}

impl Wander {
    pub(super) fn once_round_hz(&self, plan: &Plan, format: &TapeFormat) -> f64 {
        let of_part = |name: &Spanned<String>| {
            let part = plan.transport.part.iter().find(|part| part.name == *name);
            part.map(|part| part.once_round_hz(format))
        };
        self.rate_hz
            .map(Within::get)
            .or_else(|| self.part.as_ref().and_then(of_part))
            .unwrap_or(0.0)
    }
}

impl Plan {
    /// Reads and checks a deck file.
    ///
    /// # Errors
    /// One line that names `file`, the line, the key, and what to write there.
    pub(super) fn parse(file: &str, text: &str) -> Result<(Self, &'static TapeFormat), TableError> {
        let plan: Self = parse_toml(file, text)?;
        let wrong_at = |at: usize, what: String| Err(error_at(file, text, at, &what));
        let format = match tape_format(plan.deck.tape_format.get_ref()) {
            Ok(format) => format,
            Err(TableError(what)) => return wrong_at(plan.deck.tape_format.span().start, what),
        };
        if let Some(name) = &plan.deck.mechanism
            && let Err(TableError(what)) = mechanism_by_name_or_path(name.get_ref())
        {
            return wrong_at(name.span().start, what);
        }
        match plan.first_contradiction(format) {
            Some((at, what)) => wrong_at(at, what),
            None => Ok((plan, format)),
        }
    }

    /// Index of the section under the head at the start.
    pub(super) fn start_section(&self) -> usize {
        let start = self.deck.start_section.as_ref();
        start
            .and_then(|start| {
                self.section
                    .iter()
                    .position(|section| section.name == *start)
            })
            .unwrap_or(0)
    }

    /// What types cannot say: where in the text, and what is wrong.
    fn first_contradiction(&self, format: &TapeFormat) -> Option<(usize, String)> {
        if self.section.is_empty() {
            return Some((0, "a tape needs at least one [[section]]".into()));
        }
        self.repeated_name()
            .or_else(|| self.wrong_part(format))
            .or_else(|| self.wrong_reference())
            .or_else(|| self.wrong_scrape())
    }

    fn repeated_name(&self) -> Option<(usize, String)> {
        let repeated = |names: Vec<&Spanned<String>>| {
            names.iter().enumerate().find_map(|(i, name)| {
                names[..i].contains(name).then(|| {
                    let what = format!(
                        "there is already a '{}'; names are used once",
                        name.get_ref()
                    );
                    (name.span().start, what)
                })
            })
        };
        repeated(self.section.iter().map(|section| &section.name).collect())
            .or_else(|| repeated(self.transport.part.iter().map(|part| &part.name).collect()))
    }

    fn wrong_part(&self, format: &TapeFormat) -> Option<(usize, String)> {
        let mut together_percent = 0.0;
        for part in &self.transport.part {
            let name = part.name.get_ref();
            let rate_hz = part.once_round_hz(format);
            let peaks = part.flutter_peak_percent.get_ref();
            if part.rate_hz.is_some() == part.diameter_mm.is_some() {
                let what = format!("'{name}' needs either rate_hz or diameter_mm, and not both");
                return Some((part.name.span().start, what));
            }
            let fastest_hz = rate_hz * peaks.len().max(1) as f64;
            if fastest_hz > FASTEST_LINE_HZ {
                let what = format!(
                    "'{name}' flutters at up to {fastest_hz:.1} Hz; up to {FASTEST_LINE_HZ} Hz can be a part, faster is scrape"
                );
                return Some((part.flutter_peak_percent.span().start, what));
            }
            together_percent += peaks.iter().map(|peak| peak.get()).sum::<f64>();
            if together_percent > MOST_FLUTTER_PERCENT {
                let what = format!(
                    "with '{name}' the flutter adds up to {together_percent} %; keep it below {MOST_FLUTTER_PERCENT} %"
                );
                return Some((part.flutter_peak_percent.span().start, what));
            }
        }
        None
    }

    fn wrong_reference(&self) -> Option<(usize, String)> {
        if let Some(start) = &self.deck.start_section
            && !self.section.iter().any(|section| section.name == *start)
        {
            let what = format!("no [[section]] is named '{}'", start.get_ref());
            return Some((start.span().start, what));
        }
        self.head.wander.iter().find_map(|wander| {
            if wander.part.is_some() == wander.rate_hz.is_some() {
                let what = "a wander needs either a part or a rate_hz, and not both".into();
                return Some((wander.peak_arcmin.span().start, what));
            }
            let name = wander.part.as_ref()?;
            let unknown = !self.transport.part.iter().any(|part| part.name == *name);
            unknown.then(|| {
                let what = format!("no [[transport.part]] is named '{}'", name.get_ref());
                (name.span().start, what)
            })
        })
    }

    fn wrong_scrape(&self) -> Option<(usize, String)> {
        self.transport.scrape.iter().find_map(|scrape| {
            let (width, centre) = (scrape.width_hz.get_ref().get(), scrape.centre_hz.get());
            (width > centre / 2.0).then(|| {
                let what = format!("{width} Hz is too wide around {centre} Hz; give at most half");
                (scrape.width_hz.span().start, what)
            })
        })
    }
}
