//! True peak: the greatest magnitude the waveform reaches between the samples, by fourfold interpolation.
//!
//! Only places next to a local extreme of the samples are interpolated: below about 0.4 of the sample rate the
//! waveform's peak lies beside one.

use super::{
    history::History,
    kaiser::low_pass,
    lanes::{Kernel, LANES, Lanes, on_widest},
    magnitudes::greatest,
};

/// Interpolated places between two samples.
const PHASES: usize = 4;
/// Where the wave bends less than this share of itself in a sample (a sine below 0.07 of the rate), a parabola through
/// three samples is within 0.01 dB of its top, and does.
const SMOOTH: f64 = 0.2;
/// Samples on each side that take part.
const HALF_SPAN: usize = 8;
const SPAN: usize = 2 * HALF_SPAN;

/// The interpolator and its last samples.
#[derive(Clone, Debug)]
pub struct TruePeak {
    interpolator: Interpolator,
    recent: History,
}

impl TruePeak {
    /// For blocks of at most `block` samples.
    pub fn new(block: usize) -> Self {
        Self {
            interpolator: Interpolator::new(),
            recent: History::new(SPAN, block),
        }
    }

    /// Greatest magnitude in the block (late by [`HALF_SPAN`] samples); interpolates only where the samples reach
    /// `worth` or more, since less cannot change a maximum that stands there already.
    pub fn process(&mut self, block: &[f64], worth: f64) -> f64 {
        self.recent.push(block);
        let x = self.recent.newest(SPAN + block.len());
        on_widest(Peak {
            interpolator: &self.interpolator,
            x,
            worth,
            sample_peak: greatest(&x[HALF_SPAN..x.len() - HALF_SPAN]),
        })
    }
}

#[derive(Clone)]
struct Peak<'a> {
    interpolator: &'a Interpolator,
    /// The samples looked at, with [`HALF_SPAN`] on either side.
    x: &'a [f64],
    worth: f64,
    sample_peak: f64,
}

impl Kernel for Peak<'_> {
    type Output = f64;

    /// Asks of eight places at once whether the wave can rise above the peak beside them. In a steady tone one in
    /// hundreds does.
    #[inline(always)]
    fn run<L: Lanes>(self) -> f64 {
        let x = self.x;
        let end = x.len() - HALF_SPAN;
        let mut peak = self.sample_peak;
        // Beside the greatest sample the wave stands about as high as anywhere: few places promise more after it.
        let greatest = self.greatest_sample::<L>();
        if let Some(place) = greatest.filter(|_| self.sample_peak >= self.worth) {
            peak = peak.max(self.beside::<L>(place));
        }
        let mut start = HALF_SPAN;
        while start + LANES <= end {
            let mut places = self.promising::<L>(start, peak);
            while places != 0 {
                let place = start + places.trailing_zeros() as usize;
                peak = peak.max(self.beside::<L>(place));
                places &= places - 1;
            }
            start += LANES;
        }
        for place in start..end {
            let (here, before, after) = upright(x, place);
            if here >= self.worth && here >= before && here >= after {
                peak = peak.max(self.beside::<L>(place));
            }
        }
        peak
    }
}

impl Peak<'_> {
    /// Where the greatest sample is; `None` where it is no local extreme: its neighbour outside the block is greater.
    #[inline(always)]
    fn greatest_sample<L: Lanes>(&self) -> Option<usize> {
        let inside = &self.x[HALF_SPAN..self.x.len() - HALF_SPAN];
        let bound = L::splat(self.sample_peak);
        for (row, x) in inside.as_chunks().0.iter().enumerate() {
            let reaches = !L::load(x).abs().less(bound);
            if reaches != 0 {
                let place = HALF_SPAN + row * LANES + reaches.trailing_zeros() as usize;
                let (here, before, after) = upright(self.x, place);
                return (here >= before && here >= after).then_some(place);
            }
        }
        None
    }

    /// Places from `start` on with a local extreme worth looking at, the first in the lowest bit. A smooth one only if
    /// its parabola's top, `here + tilt²/(8·bend)`, is above `peak`; that is asked without the division.
    #[inline(always)]
    fn promising<L: Lanes>(&self, start: usize, peak: f64) -> u8 {
        let at = |start: usize| &self.x[start..].as_chunks().0[0];
        let (x, before, after) = (at(start), at(start - 1), at(start + 1));
        let x = L::load(x);
        let sign = L::splat(1.0).with_sign_of(x);
        let here = x.abs();
        let (before, after) = (L::load(before).times(sign), L::load(after).times(sign));
        let extreme = !(here.less(L::splat(self.worth)) | here.less(before) | here.less(after));
        let bend = here.plus(here).minus(before).minus(after);
        let smooth = bend.less(here.times(L::splat(SMOOTH)));
        let tilt = after.minus(before);
        let above = here.minus(L::splat(peak)).times(bend).times(L::splat(8.0));
        let rises = L::splat(0.0).less(above.plus_product(tilt, tilt));
        extreme & (!smooth | rises)
    }

    /// How high the wave rises beside a local extreme.
    #[inline(always)]
    fn beside<L: Lanes>(&self, place: usize) -> f64 {
        let (here, before, after) = upright(self.x, place);
        let bend = 2.0 * here - before - after;
        if bend < SMOOTH * here {
            let tilt = after - before;
            return here + tilt * tilt / (8.0 * bend.max(f64::MIN_POSITIVE));
        }
        let first = place - HALF_SPAN;
        let spans = self.x[first..=first + SPAN].first_chunk();
        spans.map_or(here, |spans| self.interpolator.greatest::<L>(spans))
    }
}

/// The magnitude at a place and what stands on either side; a trough is taken as a crest of the other sign.
#[inline(always)]
fn upright(x: &[f64], place: usize) -> (f64, f64, f64) {
    let sign = x[place].signum();
    (x[place].abs(), sign * x[place - 1], sign * x[place + 1])
}

/// Gives the wave at the places between samples.
#[derive(Clone, Debug)]
struct Interpolator {
    /// `taps[k][p]` is what sample `k` of the span gives to the place `(p + 1)/PHASES` of a sample after its middle;
    /// the last place is idle. Twice, for two spans at once.
    taps: [[f64; LANES]; SPAN],
}

impl Interpolator {
    fn new() -> Self {
        // Half-band edges at the fourfold rate; the stop band starts where the images do.
        let prototype = low_pass(0.4 / PHASES as f64, 0.6 / PHASES as f64, 60.0);
        let centre = (prototype.len() / 2) as isize;
        let phases: [[f64; SPAN]; PHASES - 1] = std::array::from_fn(|p| {
            let mut phase: [f64; SPAN] = std::array::from_fn(|k| {
                let after_middle =
                    (p + 1) as isize - PHASES as isize * (k as isize - HALF_SPAN as isize + 1);
                usize::try_from(centre + after_middle)
                    .ok()
                    .and_then(|i| prototype.get(i).copied())
                    .unwrap_or(0.0)
            });
            let gain: f64 = phase.iter().sum();
            phase.iter_mut().for_each(|tap| *tap /= gain);
            phase
        });
        Self {
            taps: std::array::from_fn(|k| {
                std::array::from_fn(|lane| phases.get(lane % PHASES).map_or(0.0, |phase| phase[k]))
            }),
        }
    }

    /// Greatest magnitude on either side of the middle one of these samples.
    #[inline(always)]
    fn greatest<L: Lanes>(&self, x: &[f64; SPAN + 1]) -> f64 {
        let mut places = [L::splat(0.0); 4];
        for k in 0..SPAN {
            let samples = L::halves(x[k], x[k + 1]);
            places[k % 4] = places[k % 4].plus_product(L::load(&self.taps[k]), samples);
        }
        let places = places[0].plus(places[1]).plus(places[2].plus(places[3]));
        places.abs().greatest()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::signal::lanes::in_all_ways;

    #[test]
    fn finds_the_peak_between_samples() {
        // At a quarter of the rate and 45° the samples miss the peak by 3 dB.
        for (frequency, phase) in [
            (0.01, 0.7),
            (0.25, std::f64::consts::FRAC_PI_4),
            (0.0656, 0.3),
            (0.31, 1.1),
            (0.4, 0.2),
        ] {
            let x: Vec<f64> = (0..4000)
                .map(|i| 0.5 * (std::f64::consts::TAU * frequency * f64::from(i) + phase).sin())
                .collect();
            let mut meter = TruePeak::new(x.len());
            meter.process(&x[..100], 0.0);
            let peak = meter.process(&x[100..], 0.0);
            let error_db = 20.0 * (peak / 0.5).log10();
            assert!(error_db.abs() < 0.5, "{frequency}: {error_db} dB");
        }
    }

    /// Every place of the wave by the plain rule, without asking first what it can rise to.
    #[test]
    fn no_peak_is_passed_over() {
        let tones = [(0.0131, 0.5), (0.0656, 0.4), (0.0712, 0.3), (0.23, 0.4)];
        for (first, second) in tones.iter().zip(tones.iter().skip(1)) {
            let x: Vec<f64> = (0..299)
                .map(|i| {
                    let turns = std::f64::consts::TAU * f64::from(i);
                    first.1 * (first.0 * turns).sin() + second.1 * (second.0 * turns + 1.0).cos()
                })
                .collect();
            let sample_peak = greatest(&x[HALF_SPAN..x.len() - HALF_SPAN]);
            for worth in [0.0, 0.6] {
                let peak = Peak {
                    interpolator: &Interpolator::new(),
                    x: &x,
                    worth,
                    sample_peak,
                };
                let extremes = (HALF_SPAN..x.len() - HALF_SPAN).filter(|&place| {
                    let (here, before, after) = upright(&x, place);
                    here >= worth && here >= before && here >= after
                });
                let plain = extremes
                    .map(|place| in_all_ways(&Beside { peak: &peak, place })[0])
                    .fold(sample_peak, f64::max);
                for found in in_all_ways(&peak) {
                    assert!((found - plain).abs() < 1e-12, "{found} {plain}");
                }
            }
        }
    }

    #[derive(Clone)]
    struct Beside<'a> {
        peak: &'a Peak<'a>,
        place: usize,
    }

    impl Kernel for Beside<'_> {
        type Output = f64;

        #[inline(always)]
        fn run<L: Lanes>(self) -> f64 {
            self.peak.beside::<L>(self.place)
        }
    }
}
