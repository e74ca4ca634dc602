//! Which caution is due at this moment, and which were read in this job.

use crate::readings::{Readings, SourceKind, Validity};

/// A moment that has a caution of its own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Moment {
    /// Before the first adjustment with the case open.
    OpenCase,
    /// Before a calibration tape is used.
    CalibrationTape,
}

impl Moment {
    const ALL: [Self; 2] = [Self::OpenCase, Self::CalibrationTape];

    /// What to beware of, in two lines at most.
    pub const fn words(self) -> &'static str {
        match self {
            Self::OpenCase => {
                "Case open? Mains parts stay live when the deck is switched off and belong to qualified people; \
                 capacitors hold their charge; keep off moving parts. Local rules come first."
            }
            Self::CalibrationTape => {
                "Before a calibration tape: clean and demagnetise what the tape touches. Turn screws with a \
                 non-conducting screwdriver. Monitors down: test tones are loud."
            }
        }
    }

    /// The same where room is short.
    pub const fn brief(self) -> &'static str {
        match self {
            Self::OpenCase => {
                "Open case: mains, capacitors, moving parts. c: all cautions, x: read"
            }
            Self::CalibrationTape => {
                "Test tape: clean and demagnetise first. c: all cautions, x: read"
            }
        }
    }
}

/// The cautions of one job.
#[derive(Clone, Debug, Default)]
pub struct Cautions {
    read: [bool; 2],
    /// Ids of the outputs whose caution was confirmed.
    outputs: Vec<String>,
}

impl Cautions {
    /// Another deck is on the bench: every caution is due again.
    pub fn start_job(&mut self) {
        *self = Self::default();
    }

    /// The caution that is due. `readings`: of the input that runs; `tape`: whether a test tape was chosen.
    ///
    /// A simulated deck and a recording have no case and need no clean heads.
    pub fn due(&self, readings: Option<&Readings>, tape: bool) -> Option<Moment> {
        let of_a_deck = readings
            .is_none_or(|readings| readings.source.description.kind == SourceKind::SoundCard);
        let tone = readings.is_some_and(|readings| readings.tone.status == Validity::Ok);
        Moment::ALL.into_iter().find(|moment| {
            let due = match moment {
                Moment::OpenCase => true,
                Moment::CalibrationTape => tape || tone,
            };
            of_a_deck && due && !self.read[*moment as usize]
        })
    }

    /// It was read: not again in this job.
    pub fn was_read(&mut self, moment: Moment) {
        self.read[moment as usize] = true;
    }

    /// All of them were read, where all of them stand.
    pub fn all_were_read(&mut self) {
        self.read = [true; 2];
    }

    /// Whether the monitors on this output were said to be turned down.
    pub fn is_confirmed(&self, output: &str) -> bool {
        self.outputs.iter().any(|id| id == output)
    }

    /// Somebody says that the monitors on this output are turned down.
    pub fn confirm(&mut self, output: &str) {
        if !self.is_confirmed(output) {
            self.outputs.push(output.into());
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::readings::{SourceDescription, SourceReading};

    fn readings(kind: SourceKind, tone: Validity) -> Readings {
        let mut readings = Readings::empty(SourceReading::new(SourceDescription {
            kind,
            name: "line input".into(),
            host: None,
            sample_format: "32-bit float".into(),
            sample_rate_hz: 48_000,
            channels: 2,
            buffer_frames: None,
        }));
        readings.tone.status = tone;
        readings
    }

    #[test]
    fn each_is_due_at_its_moment_once_a_job() {
        let mut cautions = Cautions::default();
        let quiet = readings(SourceKind::SoundCard, Validity::NoTone);
        let tone = readings(SourceKind::SoundCard, Validity::Ok);
        assert_eq!(cautions.due(None, false), Some(Moment::OpenCase));
        assert_eq!(cautions.due(Some(&quiet), true), Some(Moment::OpenCase));
        cautions.was_read(Moment::OpenCase);
        assert_eq!(cautions.due(Some(&quiet), false), None);
        for (readings, tape) in [(&quiet, true), (&tone, false)] {
            let due = cautions.due(Some(readings), tape);
            assert_eq!(due, Some(Moment::CalibrationTape));
        }
        cautions.was_read(Moment::CalibrationTape);
        assert_eq!(cautions.due(Some(&tone), true), None);
        cautions.start_job();
        assert_eq!(cautions.due(Some(&tone), true), Some(Moment::OpenCase));
    }

    #[test]
    fn a_simulated_deck_and_a_recording_have_no_case() {
        for kind in [SourceKind::VirtualDeck, SourceKind::Recording] {
            let readings = readings(kind, Validity::Ok);
            assert_eq!(Cautions::default().due(Some(&readings), true), None);
        }
    }

    #[test]
    fn an_output_is_confirmed_by_itself_and_for_one_job() {
        let mut cautions = Cautions::default();
        cautions.confirm("alsa:phones");
        assert!(cautions.is_confirmed("alsa:phones"));
        assert!(!cautions.is_confirmed("alsa:monitors"));
        cautions.start_job();
        assert!(!cautions.is_confirmed("alsa:phones"));
    }
}
