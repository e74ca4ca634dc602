//! How speed, phase and level moved in the last minute, on one time axis: what the slow searches look at.

use super::{gate::Use, record::Record, series::Series, setup::AsFound};
use crate::{
    mechanism::{LONGEST_SECONDS, MotionSeries, WideSeries},
    signal::{
        demodulator::BLOCK, fir, history::History, kaiser::low_pass, step_equaliser::StepEqualiser,
    },
    tables::Mechanism,
};
use rustfft::num_complex::Complex64;
use std::sync::Arc;

/// The series are flat up to here...
const FLAT_TO_HZ: f64 = 250.0;
/// ...at the nearest rate to this that divides the demodulator's.
const RATE_HZ: f64 = 667.0;
/// What folds down on the series is this far down.
const STOP_DB: f64 = 60.0;
/// Of the deviation up to the scrape band a few seconds are enough.
const WIDE_KEPT_S: f64 = 8.0;

/// Speed deviation (percent), left × conj(right) (real and imaginary part), and the power of either channel.
const QUANTITIES: usize = 5;

/// Collects the motion, in constant memory.
pub struct MotionTap {
    demodulated_hz: f64,
    decimation: usize,
    channels: usize,
    reference_hz: f64,
    wide_flat_to_hz: Option<f64>,
    taps: Vec<f64>,
    /// The newest samples of each quantity.
    recent: [History; QUANTITIES],
    /// The last values that stood, for a hole that is bridged.
    last: [f64; QUANTITIES],
    /// Samples until the filter's next output.
    to_next: usize,
    stretch: Stretch,
    /// The longest stretch before a break: what is said of a whole take is said of the longer of the two.
    earlier: Stretch,
    /// The stretch has ended; the next value begins another.
    is_over: bool,
    generation: u64,
}

/// An unbroken stretch of the motion.
struct Stretch {
    series: [Series; QUANTITIES],
    wide: Series,
}

impl Stretch {
    fn new(values: usize, wide_values: usize) -> Self {
        Self {
            series: std::array::from_fn(|_| Series::new(values)),
            wide: Series::new(wide_values),
        }
    }

    fn len(&self) -> usize {
        self.series[0].len()
    }

    fn clear(&mut self) {
        self.series.iter_mut().for_each(Series::clear);
        self.wide.clear();
    }
}

/// The motion as it was at one moment; turning it into series takes longer than a meter may stop for.
pub struct Motion {
    /// Which collection it belongs to: [`MotionTap::clear`] begins a new one.
    pub generation: u64,
    /// The deck it is of, where that is known.
    pub(super) mechanism: Option<Arc<Mechanism>>,
    /// What it is to be compared with.
    pub(super) as_found: Option<AsFound>,
    /// Whether levels, scrape and once-round traces are wanted besides the lines of speed and phase.
    pub(super) in_full: bool,
    rate_hz: f64,
    wide_rate_hz: f64,
    wide_flat_to_hz: Option<f64>,
    channels: usize,
    series: [Vec<f64>; QUANTITIES],
    wide: Vec<f64>,
}

impl MotionTap {
    /// For `channels` channels demodulated at `demodulated_hz` (about 4 kHz).
    pub fn new(demodulated_hz: f64, channels: usize) -> Self {
        let decimation = (demodulated_hz / RATE_HZ).round().max(1.0) as usize;
        let rate_hz = demodulated_hz / decimation as f64;
        let taps = low_pass(
            FLAT_TO_HZ / demodulated_hz,
            (rate_hz - FLAT_TO_HZ) / demodulated_hz,
            STOP_DB,
        );
        let taps = fir::padded(taps.into_iter());
        let values = (LONGEST_SECONDS * rate_hz) as usize;
        let wide_values = (WIDE_KEPT_S * demodulated_hz) as usize;
        Self {
            demodulated_hz,
            decimation,
            channels,
            reference_hz: 1.0,
            wide_flat_to_hz: None,
            recent: std::array::from_fn(|_| History::new(taps.len(), BLOCK)),
            last: [0.0; QUANTITIES],
            to_next: taps.len(),
            taps,
            stretch: Stretch::new(values, wide_values),
            earlier: Stretch::new(values, wide_values),
            is_over: false,
            generation: 0,
        }
    }

    /// Takes deviations against `reference_hz` from now on; the wide filter is flat to `wide_flat_to_hz`.
    pub fn set_reference(&mut self, reference_hz: f64, wide_flat_to_hz: Option<f64>) {
        self.reference_hz = reference_hz;
        self.wide_flat_to_hz = wide_flat_to_hz;
        self.clear();
    }

    /// Forgets everything.
    pub fn clear(&mut self) {
        self.earlier.clear();
        self.begin_anew();
    }

    fn begin_anew(&mut self) {
        self.generation += 1;
        self.is_over = false;
        self.to_next = self.taps.len();
        self.stretch.clear();
    }

    /// Keeps the stretch that has ended, if it is the longest so far, and begins another.
    fn set_aside(&mut self) {
        if self.stretch.len() > self.earlier.len() {
            std::mem::swap(&mut self.stretch, &mut self.earlier);
        }
        self.begin_anew();
    }

    /// Takes a record from the gate in. What is bridged there keeps phase and level as they last stood.
    pub fn push(&mut self, record: &Record, usage: Use) {
        if usage == Use::Broken {
            // A series with a hole is none.
            self.is_over = true;
            return;
        }
        if self.is_over {
            self.set_aside();
        }
        let mut now = [
            record.tone_hz.map(|hz| self.percent(hz)),
            record.cross.re,
            record.cross.im,
            record.squares[0],
            record.squares[1],
        ];
        if usage == Use::Clean {
            self.last = now.map(|values| values[BLOCK - 1]);
        } else {
            for (values, last) in now.iter_mut().zip(self.last).skip(1) {
                values.fill(last);
            }
        }
        for (recent, values) in self.recent.iter_mut().zip(&now) {
            recent.push(values);
        }
        let wide = record.wide_hz.map(|hz| self.percent(hz));
        self.stretch.wide.extend(&wide);
        self.decimate();
    }

    fn percent(&self, hz: f64) -> f64 {
        100.0 * (hz / self.reference_hz - 1.0)
    }

    fn decimate(&mut self) {
        let span = self.taps.len();
        while self.to_next <= BLOCK {
            // The window ends with the sample that is due, so many before the newest.
            let after = BLOCK - self.to_next;
            let windows = self
                .recent
                .each_ref()
                .map(|recent| &recent.newest(span + after)[..span]);
            let values = fir::at_one_place(windows, &self.taps);
            for (series, value) in self.stretch.series.iter_mut().zip(values) {
                series.push(value);
            }
            self.to_next += self.decimation;
        }
        self.to_next -= BLOCK;
    }

    /// Which collection is running.
    pub fn generation(&self) -> u64 {
        self.generation
    }

    /// How much of it there is, seconds.
    pub fn seconds(&self) -> f64 {
        self.stretch.len() as f64 * self.decimation as f64 / self.demodulated_hz
    }

    /// A copy of the present stretch.
    pub fn motion(&self) -> Motion {
        self.copy_of(&self.stretch)
    }

    /// A copy of the longest stretch.
    pub fn longest_motion(&self) -> Motion {
        if self.earlier.len() > self.stretch.len() {
            self.copy_of(&self.earlier)
        } else {
            self.motion()
        }
    }

    fn copy_of(&self, stretch: &Stretch) -> Motion {
        Motion {
            generation: self.generation,
            mechanism: None,
            as_found: None,
            in_full: true,
            rate_hz: self.demodulated_hz / self.decimation as f64,
            wide_rate_hz: self.demodulated_hz,
            wide_flat_to_hz: self.wide_flat_to_hz,
            channels: self.channels,
            series: std::array::from_fn(|i| stretch.series[i].to_vec()),
            wide: self
                .wide_flat_to_hz
                .map_or_else(Vec::new, |_| stretch.wide.to_vec()),
        }
    }
}

impl Motion {
    /// The series: phase in degrees, unwrapped; level in dB of the tone's amplitude against full scale.
    pub fn into_series(self) -> MotionSeries {
        let [speed_percent, re, im, left, right] = self.series;
        let stereo = self.channels > 1;
        MotionSeries {
            rate_hz: self.rate_hz,
            flat_to_hz: FLAT_TO_HZ,
            speed_percent,
            phase_degrees: stereo.then(|| unwrapped_degrees(&re, &im)),
            level_db: [Some(in_db(&left)), stereo.then(|| in_db(&right))],
            wide: self.wide_flat_to_hz.map(|flat_to_hz| {
                let mut equaliser = StepEqualiser::default();
                WideSeries {
                    rate_hz: self.wide_rate_hz,
                    flat_to_hz,
                    speed_percent: self.wide.iter().map(|x| equaliser.process(*x)).collect(),
                }
            }),
        }
    }
}

fn unwrapped_degrees(re: &[f64], im: &[f64]) -> Vec<f64> {
    let mut last = Complex64::ONE;
    let mut degrees = 0.0;
    re.iter()
        .zip(im)
        .map(|(re, im)| {
            let now = Complex64::new(*re, *im);
            degrees += (now * last.conj()).arg().to_degrees();
            last = now;
            degrees
        })
        .collect()
}

/// A mean square of the amplitude is 1 for a full-scale sine. Silence, which has no level, stands at −200 dB.
fn in_db(squares: &[f64]) -> Vec<f64> {
    squares
        .iter()
        .map(|x| 10.0 * x.max(1e-20).log10())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::signal::phasors::Phasors;
    use std::f64::consts::TAU;

    const DEMODULATED_HZ: f64 = 4000.0;

    /// Sines of 0.1 % speed, 3° phase and 5 % amplitude at `rate_hz`.
    fn series_of(rate_hz: f64, seconds: f64) -> MotionSeries {
        let mut tap = MotionTap::new(DEMODULATED_HZ, 2);
        tap.set_reference(3150.0, Some(1250.0));
        let blocks = (seconds * DEMODULATED_HZ) as usize / BLOCK;
        for block in 0..blocks {
            let sine =
                |m: usize| (TAU * rate_hz * (block * BLOCK + m) as f64 / DEMODULATED_HZ).sin();
            let mut record = Record {
                ok: true,
                ..Record::default()
            };
            for m in 0..BLOCK {
                record.tone_hz[m] = 3150.0 * (1.0 + 0.001 * sine(m));
                record.wide_hz[m] = record.tone_hz[m];
            }
            let lag_rad = |m: usize| (170.0 + 3.0 * sine(m)).to_radians();
            let left = Phasors::from_fn(|_| Complex64::from_polar(0.5, 1.0));
            let right = Phasors::from_fn(|m| {
                Complex64::from_polar(0.5 + 0.025 * sine(m), 1.0 - lag_rad(m))
            });
            record.squares = [left.powers(), right.powers()];
            record.cross = left.against(&right);
            tap.push(&record, Use::Clean);
        }
        tap.motion().into_series()
    }

    fn amplitude(values: &[f64], rate_hz: f64, series_hz: f64) -> f64 {
        let mean = values.iter().sum::<f64>() / values.len() as f64;
        let turn = |i: usize| TAU * rate_hz * i as f64 / series_hz;
        let sums = values
            .iter()
            .enumerate()
            .fold((0.0, 0.0), |(c, s), (i, x)| {
                (
                    c + (x - mean) * turn(i).cos(),
                    s + (x - mean) * turn(i).sin(),
                )
            });
        2.0 * f64::hypot(sums.0, sums.1) / values.len() as f64
    }

    #[test]
    fn speed_phase_and_level_come_through_flat_and_at_one_time() {
        for rate_hz in [4.0, 40.0, 240.0] {
            let motion = series_of(rate_hz, 4.1);
            assert!(motion.is_sound());
            let size = |values: &[f64]| amplitude(values, rate_hz, motion.rate_hz);
            let speed = size(&motion.speed_percent);
            assert!((speed / 0.1 - 1.0).abs() < 0.01, "{rate_hz}: {speed} %");
            let phase = size(motion.phase_degrees.as_deref().unwrap_or_default());
            assert!(
                (phase / 3.0 - 1.0).abs() < 0.01,
                "{rate_hz}: {phase} degrees"
            );
            let right = size(motion.level_db[1].as_deref().unwrap_or_default());
            // 5 % of an amplitude: 20·lg(1.05) = 0.424 dB, −0.446 dB.
            assert!((right / 0.435 - 1.0).abs() < 0.02, "{rate_hz}: {right} dB");
            let left = size(motion.level_db[0].as_deref().unwrap_or_default());
            assert!(left < 1e-6);
        }
    }

    #[test]
    fn a_phase_beyond_180_degrees_is_unwrapped() {
        let motion = series_of(1.0, 3.0);
        let phase = motion.phase_degrees.unwrap_or_default();
        let steps = phase.windows(2).map(|pair| (pair[1] - pair[0]).abs());
        assert!(steps.fold(0.0, f64::max) < 1.0);
        assert!((phase[0].rem_euclid(360.0) - 170.0).abs() < 4.0);
    }

    #[test]
    fn a_broken_stream_begins_a_new_series() {
        let mut tap = MotionTap::new(DEMODULATED_HZ, 1);
        tap.set_reference(3150.0, None);
        let before = tap.generation();
        for _ in 0..1000 {
            tap.push(&Record::default(), Use::Clean);
        }
        assert!(tap.seconds() > 3.9);
        // What there was stays until something new comes.
        tap.push(&Record::default(), Use::Broken);
        assert!(tap.seconds() > 3.9 && tap.generation() == before);
        tap.push(&Record::default(), Use::Clean);
        assert!(tap.seconds() < 0.1 && tap.generation() > before);
        let longest = tap.longest_motion().into_series();
        assert!(longest.seconds() > 3.9);
        tap.clear();
        assert_eq!(tap.longest_motion().into_series().seconds(), 0.0);
    }
}
