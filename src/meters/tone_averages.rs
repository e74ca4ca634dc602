//! The averages behind the tone reading.

use super::{gate::Use, record::Record, tone_lock::HOLD_PURITY};
use crate::{
    readings::{ToneReading, Validity},
    signal::{running::Running, tone_search::Spectrum},
};

/// Averages of frequency and of what the spectra show.
#[derive(Clone, Debug, Default)]
pub struct ToneAverages {
    hz: [Running; 2],
    tone_power: [Running; 2],
    noise_power: [Running; 2],
    harmonics: [[Running; 2]; 2],
}

impl ToneAverages {
    /// Takes a record from the gate in.
    pub fn push_late(&mut self, record: &Record, usage: Use) {
        if usage == Use::Clean {
            for (mean, hz) in self.hz.iter_mut().zip(record.channel_hz) {
                mean.push(hz);
            }
        }
    }

    /// Takes spectra of a followed tone in; one in which the tone has just stopped says nothing of its harmonics.
    pub fn push_spectra(&mut self, spectra: &[Spectrum]) {
        for (channel, spectrum) in spectra.iter().enumerate() {
            if spectrum.purity() < HOLD_PURITY {
                continue;
            }
            self.tone_power[channel].push(spectrum.tone_power);
            self.noise_power[channel].push(spectrum.noise_power);
            for (sum, harmonic) in self.harmonics[channel].iter_mut().zip(spectrum.harmonics) {
                if let Some(ratio) = harmonic {
                    sum.push(ratio);
                }
            }
        }
    }

    /// The reading; `alive` tells which channels carry the tone.
    pub fn reading(&self, status: Validity, alive: [bool; 2], clock_factor: f64) -> ToneReading {
        let mut reading = ToneReading {
            status,
            ..ToneReading::default()
        };
        let hz = |channel: usize| {
            let mean = self.hz[channel].mean().filter(|_| alive[channel]);
            mean.map(|hz| hz * clock_factor)
        };
        // A clipped tone still has its frequency; the others have none worth showing.
        if status.is_ok() || status == Validity::Clipped {
            reading.left_hz = hz(0);
            reading.right_hz = hz(1);
        }
        if status.is_ok() {
            let snr_db = |channel: usize| {
                let tone = self.tone_power[channel].mean().filter(|_| alive[channel])?;
                let noise = self.noise_power[channel].mean()?;
                (noise > 0.0).then(|| 10.0 * (tone / noise).log10())
            };
            let better = usize::from(snr_db(1) > snr_db(0));
            reading.snr_db = snr_db(better);
            let percent = |n: usize| self.harmonics[better][n].mean().map(|ratio| 100.0 * ratio);
            reading.second_harmonic_percent = percent(0);
            reading.third_harmonic_percent = percent(1);
        }
        reading
    }
}
