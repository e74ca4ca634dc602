//! The sound itself: a streaming state machine that allocates nothing and waits for nothing.

use super::controls::{GuideControls, MAX_LEVEL_DBFS};
use std::f64::consts::{PI, TAU};

/// Pips of a value that is too high, Hz. Both lie far below the tones that are measured, and an octave apart.
pub(super) const HIGH_HZ: f64 = 880.0;
/// Pips of a value that is too low, Hz.
pub(super) const LOW_HZ: f64 = 440.0;
/// Pips a second when the reading is as far off as it goes.
pub(super) const MOST_PIPS_PER_S: f64 = 10.0;
/// A pip swells and fades over this, seconds: no click.
const SWELL_S: f64 = 0.010;
/// How long it is held, the swelling in it, seconds.
const PIP_S: f64 = 0.040;
/// From silence to [`MAX_LEVEL_DBFS`] in this time, seconds; lower levels are there sooner.
const FADE_IN_S: f64 = 2.0;
/// The way back.
const FADE_OUT_S: f64 = 0.050;
/// Without news for this long the guide goes silent, seconds.
const NEWS_WITHIN_S: f64 = 0.5;

/// Makes the guide's samples.
#[derive(Clone, Debug)]
pub struct GuideTone {
    rate_hz: f64,
    most: f64,
    /// The greatest sample at this moment; follows the level that is set.
    gain: f64,
    /// Where the swelling stands, 0 (silent) to 1.
    swell: f64,
    /// Samples left of the pip that sounds.
    pip_left: u32,
    /// Share of the way to the next pip.
    next_pip: f64,
    pip_hz: f64,
    turns: f64,
    told: u32,
    since_told: u32,
}

impl GuideTone {
    /// A silent guide at a sample rate.
    pub fn new(sample_rate_hz: u32) -> Self {
        Self {
            rate_hz: f64::from(sample_rate_hz.max(1)),
            most: 10f64.powf(MAX_LEVEL_DBFS / 20.0),
            gain: 0.0,
            swell: 0.0,
            pip_left: 0,
            next_pip: 0.0,
            pip_hz: HIGH_HZ,
            turns: 0.0,
            told: 0,
            since_told: u32::MAX,
        }
    }

    /// Reads the controls; to be called before each block.
    pub fn follow(&mut self, controls: &GuideControls) -> Wanted {
        let (offset, told) = controls.offset();
        if told != self.told {
            self.told = told;
            self.since_told = 0;
        }
        Wanted {
            offset: f64::from(offset),
            peak: if controls.is_stopping() {
                0.0
            } else {
                f64::from(controls.peak())
            },
        }
    }

    /// The next sample, within ± [`MAX_LEVEL_DBFS`] whatever is wanted.
    pub fn next(&mut self, wanted: Wanted) -> f32 {
        let heard = f64::from(self.since_told) < NEWS_WITHIN_S * self.rate_hz;
        self.since_told = self.since_told.saturating_add(1);
        let offset = if heard && wanted.offset.is_finite() {
            wanted.offset.clamp(-1.0, 1.0)
        } else {
            0.0
        };
        self.fade_towards(wanted.peak);
        self.count_pips(offset);
        self.swell_or_fade();
        self.turns = (self.turns + self.pip_hz / self.rate_hz).fract();
        let shape = 0.5 - 0.5 * (PI * self.swell).cos();
        (self.gain * shape * (TAU * self.turns).sin()) as f32
    }

    /// Whether the level has come down to nothing.
    pub fn has_faded_out(&self) -> bool {
        self.gain <= 0.0
    }

    fn fade_towards(&mut self, peak: f64) {
        let wanted = if peak.is_finite() {
            peak.clamp(0.0, self.most)
        } else {
            0.0
        };
        let up = self.most / (FADE_IN_S * self.rate_hz);
        let down = self.most / (FADE_OUT_S * self.rate_hz);
        self.gain = wanted.clamp(self.gain - down, self.gain + up).max(0.0);
    }

    /// Pips come the more seldom the nearer it is, with no least rate: at the target's edge they cease by themselves.
    /// The square root keeps them apart where it matters, near the target.
    fn count_pips(&mut self, offset: f64) {
        if offset == 0.0 {
            // A pip that sounds is ended, softly.
            self.pip_left = 0;
            return;
        }
        self.next_pip += MOST_PIPS_PER_S * offset.abs().sqrt() / self.rate_hz;
        if self.next_pip >= 1.0 && self.swell <= 0.0 {
            self.next_pip = 0.0;
            self.pip_left = (PIP_S * self.rate_hz) as u32;
            self.pip_hz = if offset > 0.0 { HIGH_HZ } else { LOW_HZ };
            self.turns = 0.0;
        }
    }

    fn swell_or_fade(&mut self) {
        let step = 1.0 / (SWELL_S * self.rate_hz);
        if self.pip_left > 0 {
            self.pip_left -= 1;
            self.swell = (self.swell + step).min(1.0);
        } else {
            self.swell = (self.swell - step).max(0.0);
        }
    }
}

/// What is to be heard.
#[derive(Clone, Copy, Debug)]
pub struct Wanted {
    offset: f64,
    peak: f64,
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const RATE_HZ: u32 = 48_000;
    const RATE: f64 = RATE_HZ as f64;

    /// Plays the controls as they change, in blocks of `block` samples.
    fn play(
        tone: &mut GuideTone,
        seconds: f64,
        block: usize,
        mut tell: impl FnMut(f64, &GuideControls),
        controls: &GuideControls,
    ) -> Vec<f32> {
        let count = (seconds * RATE) as usize;
        let mut samples = Vec::with_capacity(count);
        while samples.len() < count {
            tell(samples.len() as f64 / RATE, controls);
            let wanted = tone.follow(controls);
            for _ in 0..block.min(count - samples.len()) {
                samples.push(tone.next(wanted));
            }
        }
        samples
    }

    fn steady(offset: f32, seconds: f64) -> Vec<f32> {
        let mut tone = GuideTone::new(RATE_HZ);
        let controls = GuideControls::default();
        controls.set_level_dbfs(MAX_LEVEL_DBFS);
        play(
            &mut tone,
            seconds,
            480,
            |_, to| to.set_offset(offset),
            &controls,
        )
    }

    /// Pips: stretches of sound with 20 ms of silence before them.
    fn pips(samples: &[f32]) -> usize {
        let mut silent = 10_000;
        samples
            .iter()
            .filter(|sample| {
                let begins = **sample != 0.0 && silent > 960;
                silent = if **sample == 0.0 { silent + 1 } else { 0 };
                begins
            })
            .count()
    }

    /// Frequency by the changes of sign within the sound.
    fn pitch_hz(samples: &[f32]) -> f64 {
        let sounding: Vec<f32> = samples.iter().copied().filter(|s| *s != 0.0).collect();
        let changes = sounding
            .windows(2)
            .filter(|pair| (pair[0] > 0.0) != (pair[1] > 0.0));
        changes.count() as f64 / 2.0 / (sounding.len() as f64 / RATE)
    }

    #[test]
    fn pips_come_faster_the_farther_off_and_cease_in_the_target() {
        let rates: Vec<usize> = [0.0, 0.01, 0.09, 0.25, 1.0]
            .map(|off| pips(&steady(off, 10.0)))
            .to_vec();
        // 10·√offset a second, of which the first comes after a full wait.
        assert_eq!(rates[0], 0);
        for (found, expected) in rates[1..].iter().zip([10, 30, 50, 100]) {
            assert!(found.abs_diff(expected) <= 1, "{rates:?}");
        }
        assert!(steady(0.0, 1.0).iter().all(|sample| *sample == 0.0));
    }

    #[test]
    fn the_side_is_heard_in_the_pitch() {
        for (offset, hz) in [(0.5, HIGH_HZ), (-0.5, LOW_HZ), (7.0, HIGH_HZ)] {
            let found = pitch_hz(&steady(offset, 5.0));
            assert!((found / hz - 1.0).abs() < 0.05, "{offset}: {found} Hz");
        }
    }

    #[test]
    fn reaching_the_target_silences_it_within_a_swell() {
        let mut tone = GuideTone::new(RATE_HZ);
        let controls = GuideControls::default();
        play(&mut tone, 1.02, 480, |_, to| to.set_offset(1.0), &controls);
        let after = play(&mut tone, 1.0, 480, |_, to| to.set_offset(0.0), &controls);
        assert!(
            after[(SWELL_S * RATE) as usize + 480..]
                .iter()
                .all(|sample| *sample == 0.0)
        );
    }

    #[test]
    fn without_a_reading_or_news_of_one_it_is_silent() {
        for nothing in [f32::NAN, f32::INFINITY, f32::NEG_INFINITY] {
            assert!(steady(nothing, 1.0).iter().all(|sample| *sample == 0.0));
        }
        let mut tone = GuideTone::new(RATE_HZ);
        let controls = GuideControls::default();
        assert!(
            play(&mut tone, 1.0, 480, |_, _| {}, &controls)
                .iter()
                .all(|sample| *sample == 0.0)
        );
        controls.set_offset(1.0);
        let stale = play(&mut tone, 2.0, 480, |_, _| {}, &controls);
        assert!(pips(&stale[..24_000]) >= 4);
        assert!(stale[25_000..].iter().all(|sample| *sample == 0.0));
    }

    #[test]
    fn it_starts_from_silence_and_stops_softly() {
        let mut tone = GuideTone::new(RATE_HZ);
        let controls = GuideControls::default();
        controls.set_level_dbfs(MAX_LEVEL_DBFS);
        let begins = play(&mut tone, 3.0, 480, |_, to| to.set_offset(1.0), &controls);
        let peak = |samples: &[f32]| samples.iter().fold(0.0_f32, |peak, s| peak.max(s.abs()));
        // A twentieth of the two seconds' way after a tenth of a second, all of it after two.
        assert!(peak(&begins[..4800]) <= 0.005 + 1e-6);
        assert!((peak(&begins[110_000..]) - 0.1).abs() < 0.001);
        controls.stop();
        let ends = play(&mut tone, 0.5, 480, |_, to| to.set_offset(1.0), &controls);
        assert!(ends[2401..].iter().all(|sample| *sample == 0.0));
        assert!(tone.has_faded_out());
    }

    #[test]
    fn the_cut_of_the_stream_makes_no_difference() {
        let whole = |block| {
            let mut tone = GuideTone::new(RATE_HZ);
            let controls = GuideControls::default();
            controls.set_offset(0.3);
            play(&mut tone, 0.4, block, |_, _| {}, &controls)
        };
        let first = whole(1);
        for block in [7, 512, 100_000] {
            assert_eq!(first, whole(block), "{block}");
        }
    }

    proptest! {
        /// Whatever is told and whenever: never above the limit, never a step that clicks.
        #[test]
        fn never_too_loud_and_never_a_click(
            told in proptest::collection::vec((any::<f32>(), any::<f64>(), 1_usize..3000), 1..60),
        ) {
            let mut tone = GuideTone::new(RATE_HZ);
            let controls = GuideControls::default();
            let (mut before, mut slope_before) = (0.0_f64, 0.0_f64);
            let limit = 10f64.powf(MAX_LEVEL_DBFS / 20.0);
            // What a sine of the higher pitch within such a swell bends at most from sample to sample, and the fades'
            // little steps.
            let fastest = TAU * HIGH_HZ / RATE + PI / (SWELL_S * RATE);
            let bend = limit * (fastest * fastest + 2.0 * fastest / (FADE_OUT_S * RATE)
                    // where it turns from swelling to fading in the middle
                    + 2e-3);
            for (offset, level_dbfs, samples) in told {
                controls.set_offset(if offset.abs() > 100.0 { offset / f32::MAX } else { offset });
                controls.set_level_dbfs(level_dbfs);
                let wanted = tone.follow(&controls);
                for _ in 0..samples {
                    let sample = f64::from(tone.next(wanted));
                    prop_assert!(sample.abs() <= limit + 1e-9, "{sample}");
                    let slope = sample - before;
                    prop_assert!((slope - slope_before).abs() <= bend, "{slope} after {slope_before}");
                    (before, slope_before) = (sample, slope);
                }
            }
        }
    }
}
