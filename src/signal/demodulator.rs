//! From samples to the phase of a tone: a band-pass that decimates to about 4 kHz, then a narrow filter that
//! follows the tone.
//!
//! Stage 1 (*wide*) is a complex band-pass round a fixed carrier, evaluated only where its output is kept. It is
//! flat to 1.25 kHz on either side where carrier and sample rate allow: scrape flutter. Stage 2 (*narrow*) mixes
//! the tone to 0 Hz and is flat to 300 Hz, so that a tone up to 50 Hz off its centre still has ±250 Hz. Both
//! channels go through the same filters and oscillators: their difference is the signal's own.

use super::{
    angles::Angles,
    fir::{self, Decimate, Filter, Filtered},
    history::History,
    kaiser::low_pass,
    lanes::{Kernel, Lanes, on_widest},
    phasors::Phasors,
};
use rustfft::num_complex::Complex64;
use std::f64::consts::TAU;

/// Output samples in a block.
pub use super::phasors::BLOCK;
/// The rate after decimation is the nearest to this that divides the sample rate.
const OUTPUT_RATE_HZ: f64 = 4000.0;
const WIDE_PASS_HZ: f64 = 1250.0;
const NARROW_PASS_HZ: f64 = 300.0;
const NARROW_TRANSITION_HZ: f64 = 320.0;
const WIDE_STOP_DB: f64 = 110.0;
const NARROW_STOP_DB: f64 = 100.0;
/// Least carrier whose mirror image (at the negative frequency) the wide filter keeps out of its own band.
const LEAST_SCRAPE_CARRIER_HZ: f64 = 2000.0;
/// A tone must be this far from 0 Hz and from half the sample rate, as a fraction of the latter.
const LEAST_MARGIN: f64 = 0.02;

/// One channel's output for one block.
#[derive(Clone, Copy, Debug)]
pub struct ChannelBlock {
    /// Stage 1: amplitude and phase against the carrier; the magnitude is the tone's peak amplitude.
    pub wide: Phasors,
    /// Stage 2, against the narrow oscillator.
    pub narrow: Phasors,
    /// Advance of the tone's phase over one output sample beyond the carrier's, radians, through the narrow filter.
    pub narrow_step_rad: [f64; BLOCK],
}

impl Default for ChannelBlock {
    fn default() -> Self {
        Self {
            wide: Phasors::ZERO,
            narrow: Phasors::ZERO,
            narrow_step_rad: [0.0; BLOCK],
        }
    }
}

/// Decimation for a sample rate: the output rate is the sample rate over this.
pub fn decimation(sample_rate_hz: f64) -> usize {
    (sample_rate_hz / OUTPUT_RATE_HZ).round().max(1.0) as usize
}

/// Whether a tone of that frequency can be demodulated at that sample rate.
pub fn can_tune(sample_rate_hz: f64, carrier_hz: f64) -> bool {
    let half = sample_rate_hz / 2.0;
    carrier_hz > LEAST_MARGIN * half.min(OUTPUT_RATE_HZ) && carrier_hz < (1.0 - LEAST_MARGIN) * half
}

/// Demodulator for one or two channels.
#[derive(Clone, Debug)]
pub struct Demodulator {
    sample_rate_hz: f64,
    decimation: usize,
    carrier_hz: f64,
    scrape_upper_hz: Option<f64>,
    wide_re: Vec<f64>,
    wide_im: Vec<f64>,
    wide_delay_samples: usize,
    narrow: Filter,
    narrow_bandwidth_hz: f64,
    carrier: Oscillator,
    tracker: Oscillator,
    channels: Vec<Channel>,
}

#[derive(Clone, Debug, Default)]
struct Channel {
    samples: History,
    mixed: [History; 2],
    last: Complex64,
    out: ChannelBlock,
}

/// A phasor that turns backwards, one step an output sample.
#[derive(Clone, Copy, Debug)]
struct Oscillator {
    step_rad: f64,
    /// How far it turns from the end of a block to each sample of the next.
    turns: Phasors,
    now: Complex64,
}

impl Oscillator {
    fn new(step_rad: f64) -> Self {
        let mut new = Self {
            step_rad,
            turns: Phasors::ZERO,
            now: Complex64::ONE,
        };
        new.turn_by(step_rad);
        new
    }

    /// Goes on from where it is in steps of `step_rad`.
    fn turn_by(&mut self, step_rad: f64) {
        self.step_rad = step_rad;
        self.turns = Phasors::from_fn(|i| Complex64::from_polar(1.0, -step_rad * (i + 1) as f64));
    }

    /// The phasors of the next block, the same for both channels.
    fn block(&mut self) -> Phasors {
        let from = Phasors::from_fn(|_| self.now);
        let phasors = self.turns.times(&from);
        // Rounding moves the magnitude by parts in 10¹⁶ a block; this takes it back (Newton's step for 1/√).
        let last = phasors.last();
        self.now = last * (1.5 - 0.5 * last.norm_sqr());
        phasors
    }
}

impl Demodulator {
    /// A demodulator tuned to `carrier_hz` (see [`can_tune`]).
    pub fn new(sample_rate_hz: f64, channels: usize, carrier_hz: f64) -> Self {
        let mut new = Self {
            sample_rate_hz,
            decimation: decimation(sample_rate_hz),
            carrier_hz,
            scrape_upper_hz: None,
            wide_re: Vec::new(),
            wide_im: Vec::new(),
            wide_delay_samples: 0,
            narrow: Filter::new(&[]),
            narrow_bandwidth_hz: 0.0,
            carrier: Oscillator::new(0.0),
            tracker: Oscillator::new(0.0),
            channels: vec![Channel::default(); channels],
        };
        new.tune(carrier_hz);
        new
    }

    /// Output samples a second.
    pub fn output_rate_hz(&self) -> f64 {
        self.sample_rate_hz / self.decimation as f64
    }

    /// Samples of each channel that make one block.
    pub fn block_samples(&self) -> usize {
        self.decimation * BLOCK
    }

    /// The carrier it is tuned to, Hz.
    pub fn carrier_hz(&self) -> f64 {
        self.carrier_hz
    }

    /// Upper edge of the flutter that the wide output carries flat, Hz; `None` where the carrier is too low.
    pub fn scrape_upper_hz(&self) -> Option<f64> {
        self.scrape_upper_hz
    }

    /// Noise bandwidth of the narrow output, Hz of the original band.
    pub fn narrow_bandwidth_hz(&self) -> f64 {
        self.narrow_bandwidth_hz
    }

    /// Samples from the input to the narrow output, as a time in seconds.
    pub fn delay_s(&self) -> f64 {
        self.wide_delay_samples as f64 / self.sample_rate_hz
            + (self.narrow.length() / 2) as f64 / self.output_rate_hz()
    }

    /// Tunes to another carrier, keeping the samples already taken in. Allocates.
    pub fn tune(&mut self, carrier_hz: f64) {
        let rate_hz = self.output_rate_hz();
        let to_upper_image_hz = self.sample_rate_hz - 2.0 * carrier_hz;
        let wide_pass_hz = WIDE_PASS_HZ.min(0.42 * to_upper_image_hz);
        let wide_stop_hz = (rate_hz - wide_pass_hz).min(to_upper_image_hz - wide_pass_hz);
        let narrow_pass_hz = NARROW_PASS_HZ.min(0.63 * carrier_hz).min(wide_pass_hz);
        let narrow_stop_hz =
            (narrow_pass_hz + NARROW_TRANSITION_HZ).min(2.0 * carrier_hz - narrow_pass_hz);
        let wide = low_pass(
            wide_pass_hz / self.sample_rate_hz,
            wide_stop_hz / self.sample_rate_hz,
            WIDE_STOP_DB,
        );
        self.carrier_hz = carrier_hz;
        self.scrape_upper_hz = (carrier_hz >= LEAST_SCRAPE_CARRIER_HZ).then_some(wide_pass_hz);
        let narrow = low_pass(
            narrow_pass_hz / rate_hz,
            narrow_stop_hz / rate_hz,
            NARROW_STOP_DB,
        );
        self.narrow = Filter::new(&narrow);
        self.narrow_bandwidth_hz = self.narrow.noise_gain() * rate_hz;
        // The taps stand in the order of the samples; twice, since half of a real tone is at the negative frequency.
        let turn = TAU * carrier_hz / self.sample_rate_hz;
        self.wide_delay_samples = wide.len() / 2;
        let half = self.wide_delay_samples as f64;
        let band_pass =
            |(i, tap): (usize, &f64)| Complex64::from_polar(2.0 * tap, turn * (half - i as f64));
        let taps: Vec<Complex64> = wide.iter().rev().enumerate().map(band_pass).collect();
        self.wide_re = fir::padded(taps.iter().map(|tap| tap.re));
        self.wide_im = fir::padded(taps.iter().map(|tap| tap.im));
        self.carrier = Oscillator::new(turn * self.decimation as f64);
        self.tracker = Oscillator::new(0.0);
        let block = self.block_samples();
        for channel in &mut self.channels {
            channel.samples = channel.samples.moved(self.wide_re.len(), block);
            channel.mixed = std::array::from_fn(|_| History::new(self.narrow.length(), BLOCK));
            channel.last = Complex64::ZERO;
        }
    }

    /// Moves the narrow filter's centre to `offset_hz` from the carrier, without a break in the phase.
    pub fn recentre(&mut self, offset_hz: f64) {
        let step_rad = TAU * offset_hz / self.output_rate_hz();
        let change_rad = step_rad - self.tracker.step_rad;
        self.tracker.turn_by(step_rad);
        for channel in &mut self.channels {
            // The samples already mixed are turned as if the new oscillator had mixed them; it agrees with the old
            // one at the newest.
            let [re, im] = &mut channel.mixed;
            let mixed = re.kept_mut().iter_mut().zip(im.kept_mut());
            for (ago, (re, im)) in mixed.rev().enumerate() {
                let turned =
                    Complex64::new(*re, *im) * Complex64::from_polar(1.0, change_rad * ago as f64);
                (*re, *im) = (turned.re, turned.im);
            }
            // The last output as the new oscillator would have given it: the step from it is then a step like any.
            channel.last *=
                Complex64::from_polar(1.0, change_rad * (self.narrow.length() / 2) as f64);
        }
    }

    /// Distance of the narrow filter's centre from the carrier, Hz.
    pub fn centre_offset_hz(&self) -> f64 {
        self.tracker.step_rad * self.output_rate_hz() / TAU
    }

    /// Takes one block of [`Demodulator::block_samples`] samples a channel in.
    pub fn process(&mut self, input: &[Vec<f64>]) {
        let carrier = self.carrier.block();
        let tracker = self.tracker.block();
        let span = (BLOCK - 1) * self.decimation + self.wide_re.len();
        for (channel, samples) in self.channels.iter_mut().zip(input) {
            channel.samples.push(samples);
            // A window ends with the newest of the samples that its output stands for.
            let (wide, mixed) = on_widest(Front {
                filters: Decimate {
                    samples: channel.samples.newest(span),
                    stride: self.decimation,
                    taps: [&self.wide_re, &self.wide_im],
                },
                carrier: &carrier,
                tracker: &tracker,
            });
            channel.out.wide = wide;
            channel.mixed[0].push(&mixed.re);
            channel.mixed[1].push(&mixed.im);
        }
        // Both channels go through the narrow filter together: its taps are read once for both.
        match self.channels.as_mut_slice() {
            [mono] => {
                let [re, im] = on_widest(Filtered {
                    filter: &self.narrow,
                    signals: mono.mixed(self.narrow.span()),
                });
                mono.follow(Phasors { re, im }, self.tracker.step_rad);
            }
            [left, right] => {
                let [l_re, l_im] = left.mixed(self.narrow.span());
                let [r_re, r_im] = right.mixed(self.narrow.span());
                let [l_re, l_im, r_re, r_im] = on_widest(Filtered {
                    filter: &self.narrow,
                    signals: [l_re, l_im, r_re, r_im],
                });
                left.follow(Phasors { re: l_re, im: l_im }, self.tracker.step_rad);
                right.follow(Phasors { re: r_re, im: r_im }, self.tracker.step_rad);
            }
            _ => debug_assert!(false, "a stream has one or two channels"),
        }
    }

    /// The last block's output of a channel.
    pub fn output(&self, channel: usize) -> &ChannelBlock {
        &self.channels[channel].out
    }
}

impl Channel {
    fn mixed(&self, span: usize) -> [&[f64]; 2] {
        self.mixed.each_ref().map(|part| part.newest(span))
    }

    fn follow(&mut self, narrow: Phasors, centre_step_rad: f64) {
        self.out.narrow = narrow;
        self.out.narrow_step_rad = on_widest(Steps {
            narrow: &narrow,
            last: self.last,
            centre_step_rad,
        });
        self.last = narrow.last();
    }
}

/// Stage 1 of a channel, and its output mixed to the centre of stage 2.
struct Front<'a> {
    filters: Decimate<'a>,
    carrier: &'a Phasors,
    tracker: &'a Phasors,
}

impl Kernel for Front<'_> {
    type Output = (Phasors, Phasors);

    #[inline(always)]
    fn run<L: Lanes>(self) -> Self::Output {
        let [re, im] = self.filters.run::<L>();
        let wide = Phasors { re, im }.times(self.carrier);
        (wide, wide.times(self.tracker))
    }
}

/// Steps of the phase between the outputs of stage 2.
struct Steps<'a> {
    narrow: &'a Phasors,
    last: Complex64,
    centre_step_rad: f64,
}

impl Kernel for Steps<'_> {
    type Output = [f64; BLOCK];

    #[inline(always)]
    fn run<L: Lanes>(self) -> Self::Output {
        let Phasors { re, im } = &self.narrow.steps(self.last);
        let mut steps_rad = Angles { re, im }.run::<L>();
        for step_rad in &mut steps_rad {
            *step_rad += self.centre_step_rad;
        }
        steps_rad
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Steps of the phase in Hz, with the narrow centre moved on the way where `recentre` says.
    fn steps_hz(
        rate_hz: f64,
        carrier_hz: f64,
        tone: impl Fn(f64) -> f64,
        recentre: impl Fn(usize) -> Option<f64>,
    ) -> Vec<f64> {
        let mut demodulator = Demodulator::new(rate_hz, 1, carrier_hz);
        let samples = demodulator.block_samples();
        let mut steps = Vec::new();
        for block in 0..400 {
            if let Some(offset_hz) = recentre(block) {
                demodulator.recentre(offset_hz);
            }
            let input: Vec<f64> = (0..samples)
                .map(|i| tone((block * samples + i) as f64 / rate_hz))
                .collect();
            demodulator.process(&[input]);
            let to_hz = demodulator.output_rate_hz() / TAU;
            steps.extend(demodulator.output(0).narrow_step_rad.map(|s| s * to_hz));
        }
        steps
    }

    #[test]
    fn reads_the_offset_of_a_tone_at_every_rate() {
        for rate_hz in [8000.0, 11_025.0, 44_100.0, 48_000.0, 96_000.0, 192_000.0] {
            let steps = steps_hz(rate_hz, 3150.0, |t| (TAU * 3163.7 * t).sin(), |_| None);
            for step in &steps[400..] {
                assert!((step - 13.7).abs() < 1e-4, "{rate_hz}: {step}");
            }
        }
    }

    #[test]
    fn moving_the_centre_leaves_no_trace_in_the_phase() {
        let tone = |t: f64| (TAU * (3150.0 * t - 2.0 / 50.0 * (TAU * 5.0 * t).cos() / TAU)).sin();
        let still = steps_hz(48e3, 3100.0, tone, |_| None);
        let moved = steps_hz(48e3, 3100.0, tone, |block| {
            (block % 50 == 20).then_some(50.0 - block as f64 / 10.0)
        });
        for (a, b) in still[400..].iter().zip(&moved[400..]) {
            assert!((a - b).abs() < 2e-3, "{a} {b}");
        }
        let drift: f64 = still[400..]
            .iter()
            .zip(&moved[400..])
            .map(|(a, b)| a - b)
            .sum();
        assert!(drift.abs() < 1e-2, "{drift}");
    }

    #[test]
    fn flutter_passes_flat_to_250_hz() {
        for rate_hz in [44_100.0, 48_000.0, 192_000.0] {
            for flutter_hz in [10.0, 100.0, 200.0, 250.0] {
                let peak_hz = 3.15;
                let tone = |t: f64| {
                    (TAU * 3180.0 * t - peak_hz / flutter_hz * (TAU * flutter_hz * t).cos()).sin()
                };
                let steps = steps_hz(rate_hz, 3150.0, tone, |_| None);
                let settled = &steps[400..];
                let power = settled.iter().map(|s| (s - 30.0) * (s - 30.0)).sum::<f64>()
                    / settled.len() as f64;
                let out_rate_hz = rate_hz / decimation(rate_hz) as f64;
                let x = std::f64::consts::PI * flutter_hz / out_rate_hz;
                let droop = x.sin() / x;
                let gain_db = 20.0 * ((2.0 * power).sqrt() / (peak_hz * droop)).log10();
                assert!(gain_db.abs() < 0.05, "{rate_hz} {flutter_hz}: {gain_db} dB");
            }
        }
    }
}
