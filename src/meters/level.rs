//! Level: how strong, how even between the channels, how steady, how often interrupted, how much hum.

use super::{ExpectedTone, MeterSetup, gate::Use, record::Record, series::Series, trace::Trace};
use crate::{
    readings::{ChannelLevel, Hum, LevelReading, Validity},
    signal::{
        ballistics::{PpmPair, Vu},
        clipping::{Clipping, ClippingWatch},
        dropout::Dropout,
        magnitudes::Magnitudes,
        running::{Mean, Running},
        tone_search::HumPower,
        true_peak::TruePeak,
    },
};

/// Mean square of a full-scale sine: 0 dBFS.
const FULL_SCALE_POWER: f64 = 0.5;
const QUICK_S: f64 = 0.3;
const RECENT_PEAK_S: f64 = 0.5;
/// Steadiness is judged on means of this many blocks (about 16 ms): short against wow, long against noise.
const STEADINESS_BLOCKS: usize = 4;
/// Blocks that the narrow filter still remembers a dropout after its end.
const REST_BLOCKS: usize = 8;
/// Flat tops are looked for in windows of this length: some periods of the lowest tones.
const CLIPPING_WINDOW_S: f64 = 0.05;
/// Clipping is shown for this long after it was seen.
const CLIPPING_SHOWN_S: f64 = 0.5;
/// More than this share of clipped windows spoils a whole take.
const CLIPPED_TAKE: f64 = 0.02;
/// Hum this far (power ratio, 6 dB) above the noise beside it is worth saying.
const HUM_PROMINENCE: f64 = 4.0;
/// Below this nothing comes in: −90 dBFS.
const SILENT_POWER: f64 = FULL_SCALE_POWER * 1e-9;
/// Exact zeros for so long are a dead input, not a quiet deck.
const DEAD_S: f64 = 2.0;

/// One channel's part.
struct ChannelMeter {
    total: Mean,
    tone_total: Mean,
    tone: Mean,
    steadiness: Running,
    steady_sum: f64,
    true_peak: TruePeak,
    peak: f64,
    recent_peaks: Series,
    /// The greatest of them.
    recent_peak: f64,
    recent_powers: Series,
    recent_tone: Series,
    vu: Vu,
    clipping: ClippingWatch,
    windows: u64,
    clipped_windows: u64,
    since_clipped_s: f64,
    zeros: u64,
    hum: [HumPower; 2],
    hum_count: f64,
    trail: Trace,
}

impl ChannelMeter {
    fn new(sample_rate_hz: f64, block_samples: usize) -> Self {
        let blocks_per_s = sample_rate_hz / block_samples as f64;
        let blocks = |seconds: f64| (seconds * blocks_per_s).round().max(1.0) as usize;
        Self {
            total: Mean::default(),
            tone_total: Mean::default(),
            tone: Mean::default(),
            steadiness: Running::default(),
            steady_sum: 0.0,
            true_peak: TruePeak::new(block_samples),
            peak: 0.0,
            recent_peaks: Series::new(blocks(RECENT_PEAK_S)),
            recent_peak: 0.0,
            recent_powers: Series::new(blocks(QUICK_S)),
            recent_tone: Series::new(blocks(QUICK_S)),
            vu: Vu::new(blocks_per_s),
            clipping: ClippingWatch::new((CLIPPING_WINDOW_S * sample_rate_hz) as usize),
            windows: 0,
            clipped_windows: 0,
            since_clipped_s: f64::INFINITY,
            zeros: 0,
            hum: [HumPower::default(); 2],
            hum_count: 0.0,
            trail: Trace::new(30.0, blocks_per_s, blocks(0.05)),
        }
    }

    fn reset(&mut self) {
        self.total = Mean::default();
        self.tone_total = Mean::default();
        self.tone = Mean::default();
        self.steadiness = Running::default();
        self.steady_sum = 0.0;
        self.peak = 0.0;
        self.windows = 0;
        self.clipped_windows = 0;
        self.since_clipped_s = f64::INFINITY;
        self.hum = [HumPower::default(); 2];
        self.hum_count = 0.0;
    }

    /// Takes a block of samples in; returns its mean square.
    fn samples(&mut self, block: &[f64], magnitudes: &Magnitudes, block_s: f64, tone: bool) -> f64 {
        let power = magnitudes.squares / block.len() as f64;
        let mean_magnitude = magnitudes.sum / block.len() as f64;
        self.zeros = if power == 0.0 { self.zeros + 1 } else { 0 };
        self.total.push(power);
        self.recent_powers.push(power);
        self.trail.push_with(|| dbfs_or_floor(power));
        self.vu.push(mean_magnitude);
        let recent = self.recent_peak;
        let peak = self.true_peak.process(block, 0.7 * recent);
        self.keep_peak(peak);
        self.peak = self.peak.max(peak);
        self.since_clipped_s += block_s;
        if let Some(Clipping {
            at_full_scale,
            flat_tops,
        }) = self.clipping.process(block, magnitudes.greatest)
        {
            self.windows += 1;
            if at_full_scale || (flat_tops && tone) {
                self.clipped_windows += 1;
                self.since_clipped_s = 0.0;
            }
        }
        power
    }

    /// Only when the greatest of the recent peaks leaves must the others be looked through.
    fn keep_peak(&mut self, peak: f64) {
        let leaving = self.recent_peaks.oldest_to_go();
        self.recent_peaks.push(peak);
        self.recent_peak = match leaving {
            Some(leaving) if leaving >= self.recent_peak => self.recent_peaks.greatest(),
            _ => self.recent_peak.max(peak),
        };
    }

    fn late(&mut self, record: &Record, channel: usize, steady_blocks: usize, resting: bool) {
        self.tone_total.push(record.total_power[channel]);
        self.tone.push(record.tone_power[channel]);
        if resting {
            self.steady_sum = 0.0;
            return;
        }
        self.steady_sum += record.tone_power[channel];
        if steady_blocks + 1 == STEADINESS_BLOCKS {
            let mean = self.steady_sum / STEADINESS_BLOCKS as f64;
            if mean > 0.0 {
                self.steadiness.push(10.0 * mean.log10());
            }
            self.steady_sum = 0.0;
        }
    }

    fn add_hum(&mut self, hum: &[HumPower; 2]) {
        self.hum_count += 1.0;
        for (sum, new) in self.hum.iter_mut().zip(hum) {
            sum.fundamental += new.fundamental;
            sum.total += new.total;
            sum.floor += new.floor;
        }
    }

    fn hum(&self) -> Option<Hum> {
        let [fifty, sixty] = &self.hum;
        let (mains_hz, stronger) = if fifty.fundamental >= sixty.fundamental {
            (50.0, fifty)
        } else {
            (60.0, sixty)
        };
        (self.hum_count > 0.0 && stronger.fundamental > HUM_PROMINENCE * stronger.floor)
            .then(|| {
                Some(Hum {
                    mains_hz,
                    fundamental_dbfs: dbfs(stronger.fundamental / self.hum_count)?,
                    total_dbfs: dbfs(stronger.total / self.hum_count)?,
                })
            })
            .flatten()
    }

    fn is_clipped(&self, over: bool) -> bool {
        if over {
            self.clipped_windows as f64 > CLIPPED_TAKE * self.windows as f64
        } else {
            self.since_clipped_s < CLIPPING_SHOWN_S
        }
    }

    /// Levels; where `ok` is false only those of the moment, which show what is wrong.
    fn reading(&self, ok: bool, tone: bool) -> ChannelLevel {
        let averaged = if tone { &self.tone_total } else { &self.total };
        let when = |value: Option<f64>| value.filter(|_| ok);
        ChannelLevel {
            rms_dbfs: when(averaged.mean().and_then(dbfs)),
            peak_dbfs: peak_dbfs(self.peak),
            tone_dbfs: when(self.tone.mean().filter(|_| tone).and_then(dbfs)),
            quick_rms_dbfs: dbfs(self.quick_power()),
            recent_peak_dbfs: peak_dbfs(self.recent_peak),
            vu_dbfs: peak_dbfs(self.vu.sine_peak()),
            hum: self.hum(),
            trail: self.trail.trail(),
            ..ChannelLevel::default()
        }
    }

    fn quick_power(&self) -> f64 {
        self.recent_powers.mean()
    }
}

/// The level meter.
pub struct LevelMeter {
    channels: Vec<ChannelMeter>,
    ppm: PpmPair,
    block_s: f64,
    steady_blocks: usize,
    rest_blocks: usize,
    dropouts: u64,
    deepest_db: f64,
    longest_s: f64,
}

impl LevelMeter {
    /// For `channels` channels in blocks of `block_samples`.
    pub fn new(sample_rate_hz: f64, block_samples: usize, channels: usize) -> Self {
        Self {
            channels: (0..channels)
                .map(|_| ChannelMeter::new(sample_rate_hz, block_samples))
                .collect(),
            ppm: PpmPair::new(sample_rate_hz),
            block_s: block_samples as f64 / sample_rate_hz,
            steady_blocks: 0,
            rest_blocks: 0,
            dropouts: 0,
            deepest_db: 0.0,
            longest_s: 0.0,
        }
    }

    /// Starts the averages anew.
    pub fn reset(&mut self) {
        self.channels.iter_mut().for_each(ChannelMeter::reset);
        self.steady_blocks = 0;
        self.dropouts = 0;
        self.deepest_db = 0.0;
        self.longest_s = 0.0;
    }

    /// Takes a block of samples of each channel and their magnitudes in; returns the mean squares. `tone`: whether the
    /// signal is a tone.
    pub fn push_samples(
        &mut self,
        input: &[Vec<f64>],
        magnitudes: &[Magnitudes; 2],
        tone: bool,
    ) -> [f64; 2] {
        let mut powers = [0.0; 2];
        if let (Some(first), Some(last)) = (input.first(), input.last()) {
            self.ppm.process(first, last);
        }
        for (i, (channel, block)) in self.channels.iter_mut().zip(input).enumerate() {
            powers[i] = channel.samples(block, &magnitudes[i], self.block_s, tone);
        }
        powers
    }

    /// Takes the newest record's tone in, for the quick balance.
    pub fn push_live(&mut self, record: &Record) {
        for (i, channel) in self.channels.iter_mut().enumerate() {
            channel.recent_tone.push(record.tone_power[i]);
        }
    }

    /// Takes a record from the gate in.
    pub fn push_late(&mut self, record: &Record, usage: Use) {
        if usage == Use::Broken || (usage == Use::Bridged && !record.low) {
            return;
        }
        let resting = record.low || self.rest_blocks > 0;
        for (i, channel) in self.channels.iter_mut().enumerate() {
            channel.late(record, i, self.steady_blocks, resting);
        }
        if record.low {
            self.rest_blocks = REST_BLOCKS;
        }
        self.steady_blocks = if self.rest_blocks > 0 {
            self.rest_blocks -= 1;
            0
        } else {
            (self.steady_blocks + 1) % STEADINESS_BLOCKS
        };
    }

    /// Counts a dropout.
    pub fn count_dropout(&mut self, dropout: &Dropout) {
        self.dropouts += 1;
        self.deepest_db = self.deepest_db.max(dropout.depth_db);
        self.longest_s = self.longest_s.max(dropout.length_s);
    }

    /// Takes what the spectrum shows of hum on a channel.
    pub fn add_hum(&mut self, channel: usize, hum: &[HumPower; 2]) {
        if let Some(channel) = self.channels.get_mut(channel) {
            channel.add_hum(hum);
        }
    }

    /// Whether the channel clips: at the moment or, where the take is `over`, in a good part of it.
    pub fn is_clipped(&self, channel: usize, over: bool) -> bool {
        self.channels
            .get(channel)
            .is_some_and(|channel| channel.is_clipped(over))
    }

    /// Share of the time in which any channel clipped since the averages began, 0 to 1, with the channel.
    pub fn clipped_share(&self) -> Option<(usize, f64)> {
        self.channels
            .iter()
            .map(|channel| channel.clipped_windows as f64 / channel.windows.max(1) as f64)
            .enumerate()
            .filter(|(_, share)| *share > 0.0)
            .max_by(|a, b| a.1.total_cmp(&b.1))
    }

    /// Whether nothing comes in on any channel (over the whole take where it is `over`).
    pub fn is_silent(&self, over: bool) -> bool {
        self.channels.iter().all(|channel| {
            let power = if over {
                channel.total.mean().unwrap_or(0.0)
            } else {
                channel.quick_power()
            };
            power < SILENT_POWER
        })
    }

    /// Whether all channels have given exact zeros for seconds.
    pub fn is_dead(&self) -> bool {
        self.channels
            .iter()
            .all(|channel| channel.zeros as f64 * self.block_s >= DEAD_S)
    }

    /// The reading. `tone`: levels are of the stretch with the tone; otherwise of everything since the reset.
    /// `expected`: the tape's tone that this is.
    pub fn reading(
        &self,
        status: Validity,
        tone: bool,
        setup: &MeterSetup,
        expected: Option<&ExpectedTone>,
    ) -> LevelReading {
        let ok = status.is_ok();
        let mut reading = LevelReading {
            status,
            dropouts: self.dropouts,
            deepest_dropout_db: (self.dropouts > 0).then_some(self.deepest_db),
            longest_dropout_ms: (self.dropouts > 0).then_some(self.longest_s * 1e3),
            ..LevelReading::default()
        };
        let [left, right] = [0, 1].map(|i| self.channels.get(i));
        for (i, side) in [&mut reading.left, &mut reading.right]
            .into_iter()
            .enumerate()
        {
            if let Some(channel) = self.channels.get(i) {
                *side = channel.reading(ok, tone);
                side.ppm_i_dbfs = peak_dbfs(self.ppm.type_i(i));
                side.ppm_ii_dbfs = peak_dbfs(self.ppm.type_ii(i));
            }
        }
        if ok && let (Some(left), Some(right)) = (left, right) {
            let mean = |channel: &ChannelMeter| {
                let averages = if tone { &channel.tone } else { &channel.total };
                averages.mean().unwrap_or(0.0)
            };
            let quick = |channel: &ChannelMeter| {
                if tone {
                    channel.recent_tone.mean()
                } else {
                    channel.quick_power()
                }
            };
            let inputs = &setup.inputs;
            let balance = |left, right| ratio_db(left, right).map(|db| db - inputs.gain_db);
            reading.balance_db = balance(mean(left), mean(right));
            reading.balance_uncertainty_db = reading.balance_db.map(|_| inputs.gain_tolerance_db);
            reading.quick_balance_db = balance(quick(left), quick(right));
        }
        if ok && tone {
            let over = |f: fn(&Running) -> Option<f64>| {
                self.channels
                    .iter()
                    .filter_map(|channel| f(&channel.steadiness))
                    .reduce(f64::max)
            };
            reading.steadiness_db_rms = over(Running::deviation);
            reading.steadiness_db_peak_to_peak =
                over(|steadiness| Some(steadiness.max()? - steadiness.min()?));
        }
        refer(&mut reading, setup, expected);
        reading
    }
}

/// Adds what the interface's calibration and the level tape make of the levels.
fn refer(reading: &mut LevelReading, setup: &MeterSetup, expected: Option<&ExpectedTone>) {
    /// 0 dBu: 1 mW in 600 Ω.
    const DBU_VOLTS_RMS: f64 = 0.774_596_669;
    let reference = setup.level_reference.as_ref();
    // What level 0 dB to the reference fluxivity would have: the tape may hold a little more or less.
    let zero_dbfs = |dbfs: f64| reference.map(|r| dbfs - r.correction_db);
    let sides = [
        (
            &mut reading.left,
            reference.and_then(|r| zero_dbfs(r.left_dbfs)),
            0.0,
        ),
        (
            &mut reading.right,
            reference.and_then(|r| zero_dbfs(r.right_dbfs)),
            setup.inputs.gain_db,
        ),
    ];
    let tape_db = expected.and_then(|tone| tone.level_db);
    for (channel, reference_dbfs, gain_db) in sides {
        let level_dbfs = channel.tone_dbfs.or(channel.rms_dbfs);
        channel.level_dbv = setup
            .full_scale_volts_rms
            .and_then(|volts| Some(level_dbfs? + gain_db + 20.0 * volts.log10()));
        channel.level_dbu = setup
            .full_scale_volts_rms
            .and_then(|volts| Some(level_dbfs? + gain_db + 20.0 * (volts / DBU_VOLTS_RMS).log10()));
        channel.relative_to_reference_db = reference_dbfs.and_then(|dbfs| Some(level_dbfs? - dbfs));
        channel.from_tape_db = channel
            .relative_to_reference_db
            .and_then(|db| Some(db - tape_db?));
    }
}

/// dB relative to a full-scale sine; `None` for nothing at all.
fn dbfs(power: f64) -> Option<f64> {
    (power > 0.0).then(|| 10.0 * (power / FULL_SCALE_POWER).log10())
}

/// Level of a peak, dB relative to a full-scale sine's; `None` for nothing at all.
fn peak_dbfs(peak: f64) -> Option<f64> {
    (peak > 0.0).then(|| 20.0 * peak.log10())
}

/// For the trail: nothing at all is drawn at the bottom, not left out.
fn dbfs_or_floor(power: f64) -> f64 {
    dbfs(power).unwrap_or(-200.0)
}

fn ratio_db(a: f64, b: f64) -> Option<f64> {
    (a > 0.0 && b > 0.0).then(|| 10.0 * (a / b).log10())
}
