//! What a virtual deck really does: exact figures to hold the meters' readings against.

use super::{
    controls::{DeckControls, Setting},
    head::Tilt,
    line_out::{TrebleLoss, amplitude},
    plan::{Channel, Plan},
    tape::{Tone, tones},
    transport::MOST_TREND_PERCENT,
    turns::sinc,
};
use crate::tables::TapeFormat;

/// The state of a deck with its adjustments as they are set (a change is on its way for some 0.1 s).
#[derive(Clone, Debug, PartialEq)]
pub struct DeckTruth {
    /// Mean speed deviation at this moment, percent; positive = fast. Flutter's mean is zero.
    pub deviation_percent: f64,
    /// How fast that changes, percent a minute.
    pub trend_percent_per_minute: f64,
    /// Every sinusoidal line of flutter, in the deck file's order.
    pub lines: Vec<FlutterLine>,
    /// Rms of the random wow, percent of the mean speed.
    pub random_wow_rms_percent: f64,
    /// Rms of the scrape flutter, percent of the mean speed.
    pub scrape_rms_percent: f64,
    /// Mean azimuth, arc minutes; positive = right later.
    pub azimuth_arcmin: f64,
    /// Mean interchannel delay of the head, µs; positive = right later. Shorter by the speed's factor when fast.
    pub delay_us: f64,
    /// Level of left over right, dB, at frequencies that no treble loss touches.
    pub balance_db: f64,
    /// The section under the head.
    pub section: String,
    /// The tones of that section that are heard.
    pub tones: Vec<ToneTruth>,
    /// Error of the interface's clock, ppm; positive = it samples fast.
    pub clock_error_ppm: f64,
}

/// One sinusoidal line of flutter.
#[derive(Clone, Debug, PartialEq)]
pub struct FlutterLine {
    /// The part's name.
    pub part: String,
    /// 1 for once a turn, 2 for twice, …
    pub order: u32,
    /// Its rate at the present speed, Hz.
    pub rate_hz: f64,
    /// Peak speed deviation, percent of the mean speed.
    pub peak_percent: f64,
}

/// A tone as the samples carry it.
#[derive(Clone, Debug, PartialEq)]
pub struct ToneTruth {
    /// What it should be, Hz.
    pub recorded_hz: f64,
    /// Its mean frequency at the present speed by the interface's nominal clock, Hz.
    pub heard_hz: f64,
    /// Level of the left channel, dBFS, with azimuth and treble losses.
    pub left_dbfs: f64,
    /// Level of the right channel, dBFS.
    pub right_dbfs: f64,
    /// Interchannel delay, µs: the head's, and the difference of the channels' treble losses. Whole cycles are in
    /// it; opposite polarity is not.
    pub delay_us: f64,
}

/// The state of a deck after `seconds`.
pub(super) fn truth(
    plan: &Plan,
    format: &TapeFormat,
    controls: &DeckControls,
    playing: usize,
    sample_rate_hz: f64,
    seconds: f64,
) -> DeckTruth {
    let transport = &plan.transport;
    let trend_per_minute = transport.trend_percent_per_minute.get();
    let drift = trend_per_minute * seconds / 60.0;
    let deviation_percent = transport.speed_error_percent.get()
        + controls.value_or_zero(Setting::SpeedTrimmer)
        + drift.clamp(-MOST_TREND_PERCENT, MOST_TREND_PERCENT);
    let speed = 1.0 + deviation_percent / 100.0;
    let azimuth_arcmin =
        plan.head.azimuth_arcmin.get() + controls.value_or_zero(Setting::AzimuthScrew);
    let gain_db =
        |channel: &Channel, setting| channel.gain_db.get() + controls.value_or_zero(setting);
    let line_out = &plan.line_out;
    let left_db = gain_db(&line_out.left, Setting::LeftGain);
    let right_db = gain_db(&line_out.right, Setting::RightGain);
    let tilt = Tilt::new(azimuth_arcmin, format);
    let clock_error_ppm = plan.interface.clock_error_ppm.get();
    let hearing = Hearing {
        speed,
        clock: 1.0 + clock_error_ppm * 1e-6,
        tilt,
        sample_rate_hz,
        channels: [&line_out.left, &line_out.right],
        gains_db: [left_db, right_db],
    };
    let section = &plan.section[playing];
    let heard = tones(section, sample_rate_hz);
    DeckTruth {
        deviation_percent,
        trend_percent_per_minute: if drift.abs() < MOST_TREND_PERCENT {
            trend_per_minute
        } else {
            0.0
        },
        lines: lines(plan, format, controls, speed),
        random_wow_rms_percent: root_sum_of_squares(
            transport.random_wow.iter().map(|wow| wow.rms_percent.get()),
        ),
        scrape_rms_percent: root_sum_of_squares(
            transport
                .scrape
                .iter()
                .map(|scrape| scrape.rms_percent.get()),
        ),
        azimuth_arcmin,
        delay_us: tilt.skew_s() / speed * 1e6,
        balance_db: left_db - right_db,
        section: section.name.get_ref().clone(),
        tones: heard.iter().map(|tone| hearing.tone(tone)).collect(),
        clock_error_ppm,
    }
}

fn lines(
    plan: &Plan,
    format: &TapeFormat,
    controls: &DeckControls,
    speed: f64,
) -> Vec<FlutterLine> {
    let mut lines = Vec::new();
    let mut replaceable_parts = 0;
    for part in &plan.transport.part {
        let mut scale = 1.0;
        if let Some(replaced_scale) = part.replaced_scale {
            if controls.value_or_zero(Setting::Part(replaceable_parts)) != 0.0 {
                scale = replaced_scale.get();
            }
            replaceable_parts += 1;
        }
        let once_round_hz = part.once_round_hz(format) * speed;
        lines.extend(
            (1..)
                .zip(part.flutter_peak_percent.get_ref())
                .map(|(order, peak)| FlutterLine {
                    part: part.name.get_ref().clone(),
                    order,
                    rate_hz: once_round_hz * f64::from(order),
                    peak_percent: scale * peak.get(),
                }),
        );
    }
    lines
}

fn root_sum_of_squares(values: impl Iterator<Item = f64>) -> f64 {
    values.map(|value| value * value).sum::<f64>().sqrt()
}

/// What stands between a tone on tape and the samples.
struct Hearing<'p> {
    speed: f64,
    clock: f64,
    tilt: Tilt,
    sample_rate_hz: f64,
    channels: [&'p Channel; 2],
    gains_db: [f64; 2],
}

impl Hearing<'_> {
    fn tone(&self, tone: &Tone) -> ToneTruth {
        let heard_hz = tone.frequency_hz * self.speed / self.clock;
        let azimuth_loss = sinc(tone.frequency_hz * self.tilt.width_s()).abs();
        let mut levels_dbfs = [0.0; 2];
        let mut phases = [0.0; 2];
        for i in 0..2 {
            let corner_hz = self.channels[i].treble_corner_hz;
            let treble = corner_hz.and_then(|hz| TrebleLoss::new(hz.get(), self.sample_rate_hz));
            let (factor, turns) = treble.map_or((1.0, 0.0), |loss| loss.response(heard_hz));
            let heard = tone.amplitude * azimuth_loss * factor * amplitude(self.gains_db[i]);
            levels_dbfs[i] = 20.0 * heard.log10();
            phases[i] = turns;
        }
        let filters_s = (phases[0] - phases[1]) / (tone.frequency_hz * self.speed);
        ToneTruth {
            recorded_hz: tone.frequency_hz,
            heard_hz,
            left_dbfs: levels_dbfs[0],
            right_dbfs: levels_dbfs[1],
            delay_us: (self.tilt.skew_s() / self.speed + filters_s) * 1e6,
        }
    }
}
