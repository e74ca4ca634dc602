//! The measurements that listen to both inputs, behind one door: what the console and the window feed, ask and keep.

use super::{
    crosstalk::{CrosstalkReading, CrosstalkState, CrosstalkWatch},
    interface::{CrosstalkFigure, InterfaceProfile, NoiseFigure, PairFigure},
    noise::{NoiseReading, NoiseState, SelfNoise},
    y_lead::{YLead, YLeadReading, YLeadState},
};
use std::time::SystemTime;

/// What is listened for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ListenFor {
    /// Delay and gain between the inputs: one signal in both through a Y lead.
    YLead,
    /// Noise and hum: both inputs shorted.
    Noise,
    /// Crosstalk: one input driven, the other shorted.
    Crosstalk,
}

/// One of these measurements at work; fed with interleaved frames of both inputs.
pub struct Listening(Measurement);

enum Measurement {
    YLead(Box<YLead>),
    Noise(Box<SelfNoise>),
    Crosstalk(Box<CrosstalkWatch>),
}

/// What it knows so far.
#[derive(Clone, Debug, PartialEq)]
pub enum Heard {
    /// Delay and gain between the inputs.
    YLead(YLeadReading),
    /// Noise and hum.
    Noise(NoiseReading),
    /// Crosstalk.
    Crosstalk(CrosstalkReading),
}

impl Listening {
    /// For two channels at `sample_rate_hz`.
    pub fn new(to: ListenFor, sample_rate_hz: f64) -> Self {
        Self(match to {
            ListenFor::YLead => Measurement::YLead(Box::new(YLead::new(sample_rate_hz))),
            ListenFor::Noise => Measurement::Noise(Box::new(SelfNoise::new(sample_rate_hz))),
            ListenFor::Crosstalk => {
                Measurement::Crosstalk(Box::new(CrosstalkWatch::new(sample_rate_hz)))
            }
        })
    }

    /// Takes interleaved frames of both inputs in, in any pieces of whole frames.
    pub fn push(&mut self, interleaved: &[f32]) {
        match &mut self.0 {
            Measurement::YLead(lead) => lead.push(interleaved),
            Measurement::Noise(noise) => noise.push(interleaved),
            Measurement::Crosstalk(crosstalk) => crosstalk.push(interleaved),
        }
    }

    /// Frames are missing before the next.
    pub fn mark_gap(&mut self) {
        match &mut self.0 {
            Measurement::YLead(lead) => lead.mark_gap(),
            Measurement::Noise(noise) => noise.mark_gap(),
            Measurement::Crosstalk(crosstalk) => crosstalk.mark_gap(),
        }
    }

    /// What is known so far.
    pub fn heard(&mut self) -> Heard {
        match &mut self.0 {
            Measurement::YLead(lead) => Heard::YLead(lead.reading()),
            Measurement::Noise(noise) => Heard::Noise(noise.reading()),
            Measurement::Crosstalk(crosstalk) => Heard::Crosstalk(crosstalk.reading()),
        }
    }
}

impl Heard {
    /// Whether the figures stand.
    pub fn is_done(&self) -> bool {
        match self {
            Self::YLead(reading) => reading.state == YLeadState::Done,
            Self::Noise(reading) => reading.state == NoiseState::Done,
            Self::Crosstalk(reading) => reading.state == CrosstalkState::Done,
        }
    }

    /// In words for the technician: what is heard, and what to do next.
    pub fn words(&self) -> String {
        match self {
            Self::YLead(reading) => match (reading.state, reading.tones.len()) {
                (YLeadState::Done, 0) => "the figures stand, from noise".into(),
                (YLeadState::Done, tones) => format!("the figures stand, from {tones} tones"),
                (state, _) => state.words().into(),
            },
            Self::Noise(reading) => match reading.state {
                NoiseState::Done => "noise is being averaged".into(),
                state => state.words().into(),
            },
            Self::Crosstalk(reading) => match reading.state {
                CrosstalkState::Done => format!(
                    "tones read: {} into right, {} into left",
                    reading.into_right.len(),
                    reading.into_left.len()
                ),
                state => state.words().into(),
            },
        }
    }

    /// Writes the figures into a profile; false where none stand yet, and the profile stays as it was.
    pub fn keep_in(&self, profile: &mut InterfaceProfile, now: SystemTime) -> bool {
        match self {
            Self::YLead(reading) => put(&mut profile.inputs, PairFigure::of(reading, now)),
            Self::Noise(reading) => put(&mut profile.noise, NoiseFigure::of(reading, now)),
            Self::Crosstalk(reading) => {
                let figure = CrosstalkFigure::of(reading, now)
                    .map(|figure| figure.completed_by(profile.crosstalk.as_ref()));
                put(&mut profile.crosstalk, figure)
            }
        }
    }
}

/// Puts a figure in, where there is one.
fn put<T>(place: &mut Option<T>, figure: Option<T>) -> bool {
    let stands = figure.is_some();
    if stands {
        *place = figure;
    }
    stands
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::readings::{SourceDescription, SourceKind};
    use std::f64::consts::TAU;

    const RATE_HZ: f64 = 48_000.0;

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

    /// A tone on both inputs, the right one 6 dB down.
    fn tone(hz: f64, seconds: f64) -> Vec<f32> {
        (0..(seconds * RATE_HZ) as usize)
            .flat_map(|i| {
                let x = 0.25 * (TAU * hz * i as f64 / RATE_HZ).sin();
                [x as f32, (0.5 * x) as f32]
            })
            .collect()
    }

    #[test]
    fn nothing_is_kept_before_it_stands_and_then_only_its_own_section() {
        let mut lead = Listening::new(ListenFor::YLead, RATE_HZ);
        let mut profile = profile();
        lead.push(&tone(400.0, 2.0));
        let heard = lead.heard();
        assert!(!heard.is_done() && heard.words().contains("above 5 kHz"));
        assert!(!heard.keep_in(&mut profile, SystemTime::now()));
        assert_eq!(profile.inputs, None);
        lead.push(&tone(6300.0, 2.0));
        let heard = lead.heard();
        assert!(heard.is_done(), "{heard:?}");
        assert_eq!(heard.words(), "the figures stand, from 2 tones");
        assert!(heard.keep_in(&mut profile, SystemTime::now()));
        let gain_db = profile.inputs.as_ref().expect("kept").gain_db;
        assert!((gain_db - 6.0206).abs() < 0.01, "{gain_db}");
        assert_eq!((profile.noise, profile.crosstalk), (None, None));
    }

    #[test]
    fn crosstalk_of_the_other_direction_stays() {
        let driven = |channel: usize| -> Vec<f32> {
            tone(1000.0, 2.0)
                .chunks_exact(2)
                .flat_map(|frame| {
                    let mut both = [frame[0] * 1e-4; 2];
                    both[channel] = frame[0];
                    both
                })
                .collect()
        };
        let mut profile = profile();
        for channel in [0, 1] {
            let mut watch = Listening::new(ListenFor::Crosstalk, RATE_HZ);
            watch.push(&driven(channel));
            assert!(watch.heard().keep_in(&mut profile, SystemTime::now()));
        }
        let crosstalk = profile.crosstalk.expect("kept");
        for db in [crosstalk.into_right_db, crosstalk.into_left_db] {
            assert!((db.expect("both ways") + 80.0).abs() < 0.5, "{db:?}");
        }
    }
}
