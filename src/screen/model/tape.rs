//! The tape in use and the interface's calibration: in words, and as a form that becomes a [`MeterSetup`].

use super::{format, level_reference};
use crate::{
    meters::{ExpectedTone, MeterSetup},
    readings::Readings,
    screen::tape_shelf::TapeList,
    tables::{TapeFormat, TestTape},
};

/// Tones that make sense on a test tape, Hz.
const TONES_HZ: std::ops::RangeInclusive<f64> = 20.0..=40_000.0;
/// A certificate's correction beyond this is a typing error, percent.
const MOST_CORRECTION_PERCENT: f64 = 5.0;

/// Full-scale voltages that make sense at an interface's input, V rms.
const FULL_SCALES_V: std::ops::RangeInclusive<f64> = 0.001..=100.0;

/// The tape in use as the status strip names it.
pub fn in_words(setup: &MeterSetup, tapes: &TapeList) -> String {
    let Some(tone_hz) = setup.tone_hz else {
        return "not chosen".into();
    };
    let mut words =
        chosen(setup, tapes).map_or_else(|| format::tone(tone_hz), |it| it.title.clone());
    if setup.tone_correction_percent != own_correction_percent(setup) {
        words += &format!(" {}", number(setup.tone_correction_percent, true));
        words += " %";
    }
    words
}

/// What the tape itself says of its main tone, percent; 0 where it is typed.
fn own_correction_percent(setup: &MeterSetup) -> f64 {
    let main = setup
        .tape_tones
        .iter()
        .find(|tone| Some(tone.nominal_hz) == setup.tone_hz);
    main.map_or(0.0, |tone| tone.frequency_correction_percent)
}

/// The listed tape that is in use: the one that carries just these tones. A tone that was typed is of no tape.
pub fn chosen<'a>(setup: &MeterSetup, tapes: &'a TapeList) -> Option<&'a TestTape> {
    tapes.all().find(|tape| {
        setup.tone_hz == Some(tape.tone_hz) && setup.tape_tones == expected_tones(tape)
    })
}

/// A tape's tones as the meters expect them.
fn expected_tones(tape: &TestTape) -> Vec<ExpectedTone> {
    tape.tones.iter().map(ExpectedTone::from).collect()
}

/// What a certificate says of a tone: `frequency −0.04 % ±0.1 %; level −10.0 dB; azimuth +0.5 arcmin ±1.0 arcmin`.
pub fn certificate(tone: &ExpectedTone) -> String {
    let tolerance = |value: Option<f64>, decimals: usize, unit: &str| {
        value.map_or_else(String::new, |value| {
            format!(" ±{}{unit}", format::plain(value, decimals))
        })
    };
    let correction = |value: f64, decimals: usize, unit: &str| {
        if value == 0.0 {
            "as stated".to_owned()
        } else {
            format!("{}{unit}", format::signed(value, decimals))
        }
    };
    let frequency = format!(
        "frequency {}{}",
        correction(tone.frequency_correction_percent, 3, " %"),
        tolerance(tone.frequency_tolerance_percent, 2, " %")
    );
    let level = tone.level_db.map(|db| {
        let tolerance = tolerance(tone.level_tolerance_db, 1, " dB");
        format!("level {} dB{tolerance}", format::signed(db, 1))
    });
    let azimuth = (tone.azimuth_correction_arcmin != 0.0
        || tone.azimuth_tolerance_arcmin.is_some())
    .then(|| {
        format!(
            "azimuth {}{}",
            correction(tone.azimuth_correction_arcmin, 1, " arcmin"),
            tolerance(tone.azimuth_tolerance_arcmin, 1, " arcmin")
        )
    });
    let unknown = tone
        .frequency_tolerance_percent
        .is_none()
        .then(|| "tolerance not known".to_owned());
    [Some(frequency), unknown, level, azimuth]
        .into_iter()
        .flatten()
        .collect::<Vec<_>>()
        .join("; ")
}

/// What is typed into the tape panel.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct TapeForm {
    /// Nominal tone, Hz; empty: not stated.
    pub tone_hz: String,
    /// What the certificate says of each of the tape's tones; none for one that is typed.
    pub tones: Vec<ExpectedTone>,
    /// The certificate's correction, percent; empty: none.
    pub correction_percent: String,
    /// The certificate's tolerance, percent; empty: not known.
    pub tolerance_percent: String,
    /// Place of the tape format in the table of formats.
    pub format: usize,
    /// Voltage of a full-scale sine at the interface's input, V rms; empty: not calibrated.
    pub full_scale_volts_rms: String,
    /// What the level tape's label says, nWb/m; empty: no level tape at hand.
    pub fluxivity_nwb_per_m: String,
}

impl TapeForm {
    /// The form as `setup` would fill it.
    pub fn of(setup: &MeterSetup, formats: &[TapeFormat]) -> Self {
        let text = |value: Option<f64>| value.map_or_else(String::new, |v| number(v, false));
        Self {
            tone_hz: text(setup.tone_hz),
            tones: setup.tape_tones.clone(),
            correction_percent: text(Some(setup.tone_correction_percent).filter(|v| *v != 0.0)),
            tolerance_percent: text(setup.tone_tolerance_percent),
            format: formats
                .iter()
                .position(|format| *format == setup.tape_format)
                .unwrap_or(0),
            full_scale_volts_rms: text(setup.full_scale_volts_rms),
            fluxivity_nwb_per_m: text(
                setup
                    .level_reference
                    .map(|reference| reference.fluxivity_nwb_per_m),
            ),
        }
    }

    /// Takes tones, correction, tolerance and, where the tape has them, fluxivity and format from a listed tape.
    pub fn take(&mut self, tape: &TestTape, formats: &[TapeFormat]) {
        self.tone_hz = number(tape.tone_hz, false);
        self.tones = expected_tones(tape);
        let its_format = |format: &TapeFormat| tape.tape_format.as_deref() == Some(&*format.name);
        if let Some(format) = formats.iter().position(its_format) {
            self.format = format;
        }
        self.correction_percent = if tape.frequency_correction_percent == 0.0 {
            String::new()
        } else {
            number(tape.frequency_correction_percent, false)
        };
        self.tolerance_percent = tape
            .frequency_tolerance_percent
            .map_or_else(String::new, |value| number(value, false));
        if let Some(fluxivity_nwb_per_m) = tape.fluxivity_nwb_per_m {
            self.fluxivity_nwb_per_m = number(fluxivity_nwb_per_m, false);
        }
    }

    /// Whether it holds this tape.
    pub fn is_of(&self, tape: &TestTape) -> bool {
        self.tone_hz == number(tape.tone_hz, false) && self.tones == expected_tones(tape)
    }

    /// The settings that the form makes of `before`.
    ///
    /// # Errors
    /// Says which field cannot be used and what it should hold.
    pub fn setup(&self, before: &MeterSetup, formats: &[TapeFormat]) -> Result<MeterSetup, String> {
        let tone_hz = parsed("tone", &self.tone_hz)?;
        if let Some(tone_hz) = tone_hz.filter(|tone_hz| !TONES_HZ.contains(tone_hz)) {
            return Err(format!(
                "tone: {tone_hz} Hz is outside {} to {} Hz",
                TONES_HZ.start(),
                TONES_HZ.end()
            ));
        }
        let correction = parsed("correction", &self.correction_percent)?.unwrap_or(0.0);
        if correction.abs() > MOST_CORRECTION_PERCENT {
            return Err(format!(
                "correction: {correction} % is beyond ±{MOST_CORRECTION_PERCENT} %; give the certificate's figure in percent"
            ));
        }
        let tolerance = parsed("tolerance", &self.tolerance_percent)?;
        if let Some(tolerance) =
            tolerance.filter(|tolerance| !(0.0..=MOST_CORRECTION_PERCENT).contains(tolerance))
        {
            return Err(format!(
                "tolerance: {tolerance} % is not between 0 and {MOST_CORRECTION_PERCENT} %; leave it empty if not known"
            ));
        }
        let tape_format = formats
            .get(self.format)
            .ok_or("tape format: choose one of the list")?;
        Ok(MeterSetup {
            tone_hz,
            tone_correction_percent: correction,
            tone_tolerance_percent: tolerance,
            tape_tones: self.tones.clone(),
            // Another tape may be asked about again.
            tape_is_certain: before.tape_is_certain && before.tone_hz == tone_hz,
            tape_format: tape_format.clone(),
            full_scale_volts_rms: self.full_scale()?,
            ..before.clone()
        })
    }

    /// The settings that the form makes of `before`, with the level that is played now as the reference: the tape of the
    /// form is the one that plays.
    ///
    /// # Errors
    /// In words, when there is no level or a field cannot be used.
    pub fn referred(
        &self,
        before: &MeterSetup,
        formats: &[TapeFormat],
        heard: Option<&Readings>,
    ) -> Result<MeterSetup, String> {
        let fluxivity_nwb_per_m = parsed("fluxivity", &self.fluxivity_nwb_per_m)?;
        let setup = self.setup(before, formats)?;
        let reference = level_reference::reference(heard, &setup, fluxivity_nwb_per_m)?;
        Ok(MeterSetup {
            level_reference: Some(reference),
            ..setup
        })
    }

    fn full_scale(&self) -> Result<Option<f64>, String> {
        let volts = parsed("full scale", &self.full_scale_volts_rms)?;
        match volts.filter(|volts| !FULL_SCALES_V.contains(volts)) {
            Some(volts) => Err(format!(
                "full scale: {volts} V is outside {} to {} V; give the rms voltage of a sine that just reaches 0 dBFS",
                FULL_SCALES_V.start(),
                FULL_SCALES_V.end()
            )),
            None => Ok(volts),
        }
    }
}

/// A typed number; a decimal comma and a typographic minus are understood. Empty is `None`.
pub fn parsed(field: &str, text: &str) -> Result<Option<f64>, String> {
    let text = text.trim();
    if text.is_empty() {
        return Ok(None);
    }
    let plain = text.replace(',', ".").replace('−', "-");
    match plain.parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(Some(value)),
        _ => Err(format!("{field}: '{text}' is not a number")),
    }
}

/// The shortest text that reads back as `value`.
fn number(value: f64, with_sign: bool) -> String {
    let text = value.abs().to_string();
    match (value < 0.0, with_sign) {
        (true, _) => format!("−{text}"),
        (false, true) => format!("+{text}"),
        (false, false) => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        screen::tape_shelf::TapeShelf,
        tables::{tape_formats, test_tapes},
    };

    fn form(tone: &str, correction: &str, tolerance: &str) -> Result<MeterSetup, String> {
        let form = TapeForm {
            tone_hz: tone.into(),
            correction_percent: correction.into(),
            tolerance_percent: tolerance.into(),
            format: 1,
            ..TapeForm::default()
        };
        form.setup(
            &MeterSetup::new().expect("table"),
            tape_formats().expect("table"),
        )
    }

    #[test]
    fn a_certificate_becomes_settings() {
        let setup = form("3150", "−0,04", "0.1").expect("a sound form");
        assert_eq!(setup.tone_hz, Some(3150.0));
        assert_eq!(setup.tone_correction_percent, -0.04);
        assert_eq!(setup.tone_tolerance_percent, Some(0.1));
        assert_eq!(setup.tape_format, tape_formats().expect("table")[1]);
        let open = form(" ", "", "").expect("nothing stated");
        assert_eq!((open.tone_hz, open.tone_tolerance_percent), (None, None));
    }

    #[test]
    fn a_typing_error_is_told_with_field_and_value() {
        let told = |result: Result<MeterSetup, String>| result.expect_err("refused");
        assert_eq!(told(form("3k", "", "")), "tone: '3k' is not a number");
        assert!(told(form("3", "", "")).starts_with("tone: 3 Hz is outside"));
        assert!(told(form("3150", "12", "")).starts_with("correction: 12 %"));
        assert!(told(form("3150", "", "-1")).starts_with("tolerance: -1 %"));
        assert!(told(form("3150", "inf", "")).starts_with("correction: 'inf'"));
    }

    #[test]
    fn what_the_form_shows_reads_back_as_it_was() {
        let formats = tape_formats().expect("table");
        let mut setup = MeterSetup::new().expect("table");
        setup.tone_hz = Some(3149.5);
        setup.tone_correction_percent = -0.035;
        setup.tape_format = formats[2].clone();
        setup.full_scale_volts_rms = Some(2.45);
        let again = TapeForm::of(&setup, formats).setup(&setup, formats);
        assert_eq!(again, Ok(setup));
    }

    #[test]
    fn a_full_scale_that_no_interface_has_is_told() {
        let form = TapeForm {
            full_scale_volts_rms: "2450".into(),
            ..TapeForm::default()
        };
        let before = MeterSetup::new().expect("table");
        let told = form.setup(&before, tape_formats().expect("table"));
        let told = told.expect_err("refused");
        assert!(told.starts_with("full scale: 2450 V is outside"), "{told}");
    }

    #[test]
    fn a_level_tape_brings_its_fluxivity() {
        let tapes = test_tapes().expect("table");
        let level_tape = tapes
            .iter()
            .find(|tape| tape.fluxivity_nwb_per_m == Some(250.0));
        let mut form = TapeForm::default();
        form.take(level_tape.expect("a supplied level tape"), &[]);
        assert_eq!(form.fluxivity_nwb_per_m, "250");
        form.take(&tapes[0], &[]);
        assert_eq!(form.fluxivity_nwb_per_m, "250", "a speed tape has none");
    }

    #[test]
    fn a_tape_of_a_format_brings_it() {
        let formats = tape_formats().expect("table");
        let tapes = test_tapes().expect("table");
        let service = tapes.iter().find(|tape| tape.name == "service-cassette");
        let mut form = TapeForm {
            format: 3,
            ..TapeForm::default()
        };
        form.take(&tapes[0], formats);
        assert_eq!(form.format, 3, "a speed tape is of any format");
        form.take(service.expect("a supplied tape"), formats);
        assert_eq!(formats[form.format].name, "cassette-stereo");
    }

    #[test]
    fn the_tape_in_words() {
        let tapes = TapeShelf::default().list();
        let speed = &tapes.supplied[0];
        let mut setup = MeterSetup::new().expect("table");
        assert_eq!(in_words(&setup, &tapes), "not chosen");
        setup = setup.with_tape(speed);
        assert_eq!(in_words(&setup, &tapes), speed.title);
        setup.tone_correction_percent = -0.04;
        assert_eq!(in_words(&setup, &tapes), format!("{} −0.04 %", speed.title));
        setup.tone_hz = Some(3149.0);
        assert_eq!(in_words(&setup, &tapes), "3149 Hz −0.04 %");
        let service = tapes
            .supplied
            .iter()
            .find(|tape| tape.name == "service-cassette");
        let service = service.expect("a tape of the same main tone");
        setup = MeterSetup::new().expect("table").with_tape(service);
        assert_eq!(in_words(&setup, &tapes), service.title);
    }

    #[test]
    fn a_certificate_in_words() {
        let mut tone = ExpectedTone {
            nominal_hz: 3150.0,
            ..ExpectedTone::default()
        };
        assert_eq!(
            certificate(&tone),
            "frequency as stated; tolerance not known"
        );
        tone.frequency_correction_percent = -0.035;
        tone.frequency_tolerance_percent = Some(0.1);
        tone.level_db = Some(-10.0);
        tone.azimuth_correction_arcmin = 0.5;
        tone.azimuth_tolerance_arcmin = Some(1.0);
        assert_eq!(
            certificate(&tone),
            "frequency −0.035 % ±0.10 %; level −10.0 dB; azimuth +0.5 arcmin ±1.0 arcmin"
        );
    }
}
