//! What is known of the interface, in words: its profile section by section, and what is heard while one is measured.

use super::format;
use crate::{
    meters::MeterSetup,
    profile::{
        ClockFigure, CrosstalkFigure, Heard, InterfaceProfile, LevelFigure, ListenFor, NoiseFigure,
        PairFigure, age_in_words,
        level::{DEFAULT_METER_TOLERANCE_PERCENT, KnownSine},
        y_lead::{Leads, YLeadReading, YLeadState},
    },
    readings::{ClockReading, Synchronisation},
};
use std::time::SystemTime;

/// A section of a profile.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Part {
    /// The sample clock.
    Clock,
    /// The inputs against each other.
    Inputs,
    /// Full scale in volts.
    Level,
    /// Noise and hum.
    Noise,
    /// Crosstalk.
    Crosstalk,
}

impl Part {
    /// All, in the order in which they are worth measuring.
    pub const ALL: [Self; 5] = [
        Self::Clock,
        Self::Inputs,
        Self::Level,
        Self::Noise,
        Self::Crosstalk,
    ];

    /// Its name.
    pub const fn title(self) -> &'static str {
        match self {
            Self::Clock => "Sample clock",
            Self::Inputs => "Left against right",
            Self::Level => "Volts",
            Self::Noise => "Own noise and hum",
            Self::Crosstalk => "Crosstalk",
        }
    }

    /// What to do where it is not measured.
    pub const fn how(self) -> &'static str {
        match self {
            Self::Clock => {
                "Not measured: leave the input open. A first figure takes half a minute, ±1 ppm 20 minutes."
            }
            Self::Inputs => "Not measured: one signal into both inputs through a Y lead.",
            Self::Level => {
                "Not measured: play a sine, and read its voltage at the plug with a multimeter."
            }
            Self::Noise => "Not measured: short both inputs with plugs.",
            Self::Crosstalk => {
                "Not measured: drive one input with a strong sine, short the other; then the other way round."
            }
        }
    }

    /// What measuring it is called on its button.
    pub const fn action(self) -> &'static str {
        match self {
            Self::Clock => "Keep the clock's figure",
            Self::Inputs => "Measure through a Y lead",
            Self::Level => "Measure full scale",
            Self::Noise => "Measure noise and hum",
            Self::Crosstalk => "Measure crosstalk",
        }
    }

    /// What it is listened for with; `None`: it comes from the readings.
    pub const fn listens_for(self) -> Option<ListenFor> {
        match self {
            Self::Inputs => Some(ListenFor::YLead),
            Self::Noise => Some(ListenFor::Noise),
            Self::Crosstalk => Some(ListenFor::Crosstalk),
            Self::Clock | Self::Level => None,
        }
    }

    /// Takes it out of a profile.
    pub fn delete_from(self, profile: &mut InterfaceProfile) {
        match self {
            Self::Clock => profile.clock = None,
            Self::Inputs => profile.inputs = None,
            Self::Level => profile.level = None,
            Self::Noise => profile.noise = None,
            Self::Crosstalk => profile.crosstalk = None,
        }
    }
}

/// A figure's name and its words.
pub type Row = (String, String);

fn row(name: &str, words: impl Into<String>) -> Row {
    (name.into(), words.into())
}

/// What a profile holds of a section.
#[derive(Clone, Debug, PartialEq)]
pub struct Section {
    /// Its figures, with their uncertainties.
    pub rows: Vec<Row>,
    /// How old they are.
    pub age: String,
}

/// A section of a profile; `None`: not measured.
pub fn section(part: Part, profile: Option<&InterfaceProfile>, now: SystemTime) -> Option<Section> {
    let profile = profile?;
    let (rows, measured) = match part {
        Part::Clock => {
            let figure = profile.clock.as_ref()?;
            (clock_rows(figure), &figure.measured)
        }
        Part::Inputs => {
            let figure = profile.inputs.as_ref()?;
            (pair_rows(figure), &figure.measured)
        }
        Part::Level => {
            let figure = profile.level.as_ref()?;
            (level_rows(figure), &figure.measured)
        }
        Part::Noise => {
            let figure = profile.noise.as_ref()?;
            (noise_rows(figure), &figure.measured)
        }
        Part::Crosstalk => {
            let figure = profile.crosstalk.as_ref()?;
            (crosstalk_rows(figure), &figure.measured)
        }
    };
    Some(Section {
        rows,
        age: age_in_words(measured, now),
    })
}

/// What stands so far of a measurement under way, as the profile would hold it.
pub fn heard_rows(heard: &Heard, now: SystemTime) -> Vec<Row> {
    let mut profile = InterfaceProfile::unmeasured(String::new(), 0);
    if !heard.keep_in(&mut profile, now) {
        return Vec::new();
    }
    let mut rows: Vec<Row> = Part::ALL
        .into_iter()
        .filter_map(|part| section(part, Some(&profile), now))
        .flat_map(|section| section.rows)
        .collect();
    if let Heard::YLead(reading) = heard {
        rows.extend(reading.tones.iter().map(|tone| {
            let words = format!(
                "{} µs, {} dB",
                format::signed(tone.delay_us, 2),
                format::signed(tone.gain_db, 2)
            );
            (format!("at {:.0} Hz", tone.hz), words)
        }));
    }
    rows
}

fn clock_rows(figure: &ClockFigure) -> Vec<Row> {
    let (_, used_ppm) = figure.usable();
    vec![
        row(
            "error",
            format!(
                "{} ±{} ppm",
                format::signed(figure.error_ppm, 2),
                format::plain(figure.uncertainty_ppm, 2)
            ),
        ),
        row("used with", format!("±{} ppm", format::plain(used_ppm, 1))),
        row("computer's clock", figure.computer_clock.clone()),
    ]
}

fn pair_rows(figure: &PairFigure) -> Vec<Row> {
    let mut rows = vec![
        row(
            "delay of right",
            format!(
                "{} ±{} µs",
                format::signed(figure.skew_us, 3),
                format::plain(figure.skew_uncertainty_us, 3)
            ),
        ),
        row(
            "left minus right",
            format!(
                "{} ±{} dB",
                format::signed(figure.gain_db, 3),
                format::plain(figure.gain_uncertainty_db, 3)
            ),
        ),
        row(
            "polarity",
            if figure.opposite_polarity {
                "opposite; right is turned over"
            } else {
                "the same"
            },
        ),
    ];
    rows.push(row("leads", figure.leads.clone()));
    rows
}

/// Full scale, as measured.
pub fn level_rows(figure: &LevelFigure) -> Vec<Row> {
    let mut rows: Vec<Row> = [
        ("full scale, left", figure.left_full_scale_volts_rms),
        ("full scale, right", figure.right_full_scale_volts_rms),
    ]
    .into_iter()
    .map(|(side, volts)| {
        let words = volts.map_or("no sine on it".into(), |volts| {
            format!(
                "{} V rms ±{} %",
                format::plain(volts, 4),
                format::plain(figure.uncertainty_percent, 1)
            )
        });
        row(side, words)
    })
    .collect();
    rows.push(row(
        "from",
        format!("{} V at {} Hz", figure.typed_volts_rms, figure.tone_hz),
    ));
    rows
}

fn noise_rows(figure: &NoiseFigure) -> Vec<Row> {
    let both = |values: [f64; 2]| {
        format!(
            "{} / {} dBFS",
            format::plain(values[0], 1),
            format::plain(values[1], 1)
        )
    };
    let mut rows = vec![
        row("20 Hz to 20 kHz", both(figure.rms_dbfs)),
        row("A-weighted", both(figure.a_weighted_dbfs)),
    ];
    for (side, hum) in [
        ("hum, left", figure.left_hum),
        ("hum, right", figure.right_hum),
    ] {
        let words = hum.map_or("none stands out".into(), |hum| {
            format!(
                "{} dBFS, {:.0} Hz",
                format::plain(hum.dbfs, 1),
                hum.mains_hz
            )
        });
        rows.push(row(side, words));
    }
    rows
}

fn crosstalk_rows(figure: &CrosstalkFigure) -> Vec<Row> {
    let mut rows: Vec<Row> = [
        ("left into right", figure.into_right_db, figure.at_most[0]),
        ("right into left", figure.into_left_db, figure.at_most[1]),
    ]
    .into_iter()
    .map(|(way, db, at_most)| {
        let below = if at_most { "below " } else { "" };
        let words = db.map_or("not measured".into(), |db| {
            format!("{below}{} dB", format::plain(db, 1))
        });
        row(way, words)
    })
    .collect();
    let tones: Vec<_> = figure
        .tones_hz
        .iter()
        .map(|hz| format!("{hz:.0}"))
        .collect();
    rows.push(row("worst of", format!("{} Hz", tones.join(", "))));
    rows
}

/// The clock of the input that runs, as far as it is known now.
pub fn live_clock(clock: Option<&ClockReading>) -> Vec<Row> {
    let Some(clock) = clock else {
        return vec![row("now", "a recording does not tell its clock")];
    };
    let figure = match (clock.error_ppm, clock.uncertainty_ppm) {
        (Some(error), Some(uncertainty)) => format!(
            "{} ±{} ppm",
            format::signed(error, 2),
            format::plain(uncertainty, 2)
        ),
        _ => "too little time yet".into(),
    };
    vec![
        row("now", figure),
        row("watched for", format::duration(clock.seconds)),
        row("computer's clock", clock.synchronisation.words()),
    ]
}

/// What the computer's own clock does to the figure; `None`: nothing to say.
pub fn clock_caution(clock: Option<&ClockReading>) -> Option<&'static str> {
    match clock?.synchronisation {
        Synchronisation::Synchronised => None,
        Synchronisation::NotSynchronised => Some(
            "The computer's clock is not synchronised: a figure kept now is good for ±50 ppm only. Switch network time on.",
        ),
        Synchronisation::NotKnown => Some(
            "The computer does not tell whether its clock is right: a figure kept now counts ±50 ppm.",
        ),
    }
}

/// Whether the readings are corrected, in a word or two for the status strip.
pub fn corrected(setup: &MeterSetup) -> &'static str {
    match (setup.is_clock_measured(), setup.inputs.measured) {
        (true, true) => "corrected",
        (true, false) => "clock corrected only",
        (false, true) => "inputs corrected only",
        (false, false) => "uncorrected",
    }
}

/// What is taken out of the readings and what is assumed, as a sentence.
pub fn corrections(setup: &MeterSetup) -> String {
    let clock = if setup.is_clock_measured() {
        "the clock is corrected".to_owned()
    } else {
        format!(
            "clock uncorrected, ±{} ppm assumed",
            format::plain(setup.clock_tolerance_ppm, 0)
        )
    };
    let inputs = &setup.inputs;
    let inputs = if inputs.measured {
        "delay and gain between the inputs are corrected".to_owned()
    } else {
        format!(
            "inputs uncorrected, ±{} µs and ±{} dB assumed",
            inputs.skew_tolerance_us, inputs.gain_tolerance_db
        )
    };
    format!("In the readings: {clock}; {inputs}.")
}

/// A step of a guided measurement.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Step {
    /// What to do.
    pub text: &'static str,
    /// What came of it; empty: not done.
    pub came: &'static str,
}

/// The steps of a measurement, and how far it is.
pub fn steps(to: ListenFor, heard: Option<&Heard>) -> Vec<Step> {
    let step = |text, done: bool| Step {
        text,
        came: if done { "done" } else { "" },
    };
    let done = heard.is_some_and(Heard::is_done);
    match to {
        ListenFor::YLead => {
            let reading = match heard {
                Some(Heard::YLead(reading)) => reading.clone(),
                _ => YLeadReading::default(),
            };
            let both = !matches!(reading.state, YLeadState::NoSignal | YLeadState::OneInput);
            vec![
                Step {
                    text: "Turn the monitors down. Plug the left lead in, alone, and play a tone.",
                    came: match reading.leads {
                        Leads::NotChecked => "",
                        Leads::Straight => "left is left",
                        Leads::Swapped => "SWAPPED",
                    },
                },
                step("Plug the other lead in too: the same signal in both.", both),
                step(
                    "Play tones for two seconds each, one below 1 kHz, one above 5 kHz, more between; or noise.",
                    done,
                ),
            ]
        }
        ListenFor::Noise => vec![step(
            "Pull the deck's leads and short both inputs with plugs. Leave the gain as it is in use.",
            done,
        )],
        ListenFor::Crosstalk => {
            let ways = match heard {
                Some(Heard::Crosstalk(reading)) => [
                    !reading.into_right.is_empty(),
                    !reading.into_left.is_empty(),
                ],
                _ => [false; 2],
            };
            vec![
                step(
                    "Turn the monitors down. A strong sine into left, the right input shorted.",
                    ways[0],
                ),
                step("Then the sine into right, the left input shorted.", ways[1]),
            ]
        }
    }
}

/// What is wrong with what was heard, though there are figures.
pub fn objection(heard: &Heard) -> Option<&'static str> {
    match heard {
        Heard::YLead(reading) if reading.leads == Leads::Swapped => Some(
            "Left and right are changed over: swap the plugs or the channels, then begin anew.",
        ),
        _ => None,
    }
}

/// What is typed to measure volts.
#[derive(Clone, Debug, PartialEq)]
pub struct SineForm {
    /// The multimeter's reading, V rms.
    pub volts: String,
    /// The sine's frequency, Hz.
    pub hz: String,
    /// The multimeter's tolerance, percent.
    pub tolerance_percent: String,
}

impl Default for SineForm {
    fn default() -> Self {
        Self {
            volts: String::new(),
            hz: "400".into(),
            tolerance_percent: DEFAULT_METER_TOLERANCE_PERCENT.to_string(),
        }
    }
}

impl SineForm {
    /// The sine that is typed.
    ///
    /// # Errors
    /// Says which field cannot be used and what it should hold.
    pub fn sine(&self) -> Result<KnownSine, String> {
        let needed = |field: &str, text: &str, what: &str| {
            super::tape::parsed(field, text)?
                .filter(|value| *value > 0.0)
                .ok_or_else(|| format!("{field}: {what}"))
        };
        let tolerance = super::tape::parsed("tolerance", &self.tolerance_percent)?;
        let tolerance_percent = tolerance.unwrap_or(DEFAULT_METER_TOLERANCE_PERCENT);
        if !(0.0..=20.0).contains(&tolerance_percent) {
            return Err(format!(
                "tolerance: {tolerance_percent} % is not between 0 and 20 %; the multimeter's manual states it"
            ));
        }
        Ok(KnownSine {
            volts_rms: needed(
                "voltage",
                &self.volts,
                "type what the multimeter reads, in V rms",
            )?,
            tolerance_percent,
            hz: needed("frequency", &self.hz, "type the sine's frequency, in Hz")?,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::readings::{SourceDescription, SourceKind};

    fn profile() -> InterfaceProfile {
        InterfaceProfile::new(&SourceDescription {
            kind: SourceKind::SoundCard,
            name: "line in".into(),
            host: None,
            sample_format: "24-bit".into(),
            sample_rate_hz: 48_000,
            channels: 2,
            buffer_frames: None,
        })
    }

    fn lead() -> YLeadReading {
        YLeadReading {
            state: YLeadState::Done,
            skew_us: Some(7.3),
            skew_uncertainty_us: Some(0.02),
            gain_db: Some(-0.42),
            gain_uncertainty_db: Some(0.003),
            ..YLeadReading::default()
        }
    }

    #[test]
    fn each_figure_has_its_uncertainty_and_its_age() {
        let now = SystemTime::now();
        let mut profile = profile();
        assert!(
            Part::ALL
                .iter()
                .all(|&part| section(part, Some(&profile), now).is_none())
        );
        assert!(Heard::YLead(lead()).keep_in(&mut profile, now));
        let inputs = section(Part::Inputs, Some(&profile), now).expect("measured");
        assert_eq!(inputs.rows[0].1, "+7.300 ±0.020 µs");
        assert_eq!(inputs.rows[1].1, "−0.420 ±0.003 dB");
        assert_eq!(inputs.age, "today");
        let heard = heard_rows(&Heard::YLead(lead()), now);
        assert_eq!(heard, inputs.rows);
        Part::Inputs.delete_from(&mut profile);
        assert_eq!(profile.inputs, None);
    }

    #[test]
    fn what_is_corrected_is_said_for_clock_and_inputs_apart() {
        let mut setup = MeterSetup::new().expect("table");
        assert_eq!(corrected(&setup), "uncorrected");
        assert!(corrections(&setup).contains("±50 ppm"));
        setup.clock_tolerance_ppm = 3.0;
        assert_eq!(corrected(&setup), "clock corrected only");
        setup.inputs.measured = true;
        assert_eq!(corrected(&setup), "corrected");
    }

    #[test]
    fn the_steps_follow_what_is_heard() {
        let came = |heard: Option<&Heard>| -> Vec<&str> {
            let steps = steps(ListenFor::YLead, heard);
            steps.iter().map(|step| step.came).collect()
        };
        assert_eq!(came(None), ["", "", ""]);
        let mut reading = YLeadReading {
            state: YLeadState::OneInput,
            leads: Leads::Swapped,
            ..YLeadReading::default()
        };
        let heard = Heard::YLead(reading.clone());
        assert_eq!(came(Some(&heard)), ["SWAPPED", "", ""]);
        assert!(objection(&heard).expect("wrong").contains("swap the plugs"));
        reading.leads = Leads::Straight;
        reading.state = YLeadState::NeedsHighTone;
        assert_eq!(
            came(Some(&Heard::YLead(reading))),
            ["left is left", "done", ""]
        );
        assert_eq!(came(Some(&Heard::YLead(lead()))), ["", "done", "done"]);
    }

    #[test]
    fn a_sine_is_typed_and_rubbish_is_told_with_its_field() {
        let mut form = SineForm {
            volts: "0,775".into(),
            ..SineForm::default()
        };
        let sine = form.sine().expect("a sine");
        assert_eq!(
            (sine.volts_rms, sine.hz, sine.tolerance_percent),
            (0.775, 400.0, 1.0)
        );
        for (volts, hz, tolerance, told) in [
            ("", "400", "1", "voltage: type"),
            ("-1", "400", "1", "voltage: type"),
            ("lots", "400", "1", "voltage: 'lots' is not a number"),
            ("1", "0", "1", "frequency: type"),
            ("1", "400", "99", "tolerance: 99 %"),
        ] {
            form = SineForm {
                volts: volts.into(),
                hz: hz.into(),
                tolerance_percent: tolerance.into(),
            };
            let error = form.sine().expect_err("refused");
            assert!(error.starts_with(told), "{error}");
        }
    }
}
