//! All meters side by side on one stream.
//!
//! The stream is cut into blocks of its own, about 4 ms long, whatever the pieces it arrives in; that is why the
//! readings cannot depend on these.

mod report;

pub(super) use report::Parts;

use self::report::LEAST_TAKE_S;
use super::{
    Analysis, Analyst, ExpectedTone, MeterSetup, Motion,
    flutter::FlutterMeter,
    gate::{Gate, Use},
    last_turn::Turn,
    level::LevelMeter,
    motion::MotionTap,
    phase::{KnownDelay, PhaseMeter, PhaseReference},
    phase_line::PhaseLineMeter,
    programme_phase::ProgrammePhase,
    record::Record,
    speed::SpeedMeter,
    tone_averages::ToneAverages,
    tone_lock::{LockEvent, ToneLock},
    whole_cycles::Reading,
    xy::XyRing,
};
use crate::{
    readings::{PhaseLine, Readings, SourceReading},
    signal::{dropout::DropoutWatch, frames::take_apart, magnitudes::Magnitudes},
};

/// Speed tones in use, Hz: IEC 60386 and older practice. Without a word from the user the nearest is assumed.
pub const USUAL_SPEED_TONES_HZ: [f64; 2] = [3000.0, 3150.0];
/// A tone this far (fraction) from the expected one is another tone.
const EXPECTED_WITHIN: f64 = 0.12;
/// A tone that comes back within this of where it was is the same tone.
const SAME_TONE_WITHIN: f64 = 0.03;
/// What counts as signal: above −70 dBFS.
const SIGNAL_POWER: f64 = 0.5e-7;
/// Programme after this much tone is a new one.
const NEW_PROGRAMME_AFTER_S: f64 = 5.0;
/// The slow searches repeat this often while their spectra are looked at...
const ANALYSE_EVERY_S: f64 = 0.45;
/// ...and this often while they are not, for the strongest lines...
const ANALYSE_UNSEEN_EVERY_S: f64 = 2.0;
/// ...once there is this much to look at.
const ANALYSE_LEAST_S: f64 = 1.0;
/// Whether whole cycles can be settled is looked at every so many blocks, about ten times a second.
const SETTLE_EVERY_BLOCKS: u64 = 25;

/// The meters of one stream.
pub struct MeterBank {
    setup: MeterSetup,
    channels: usize,
    /// The block that fills, a row for each channel, and how many frames of it there are.
    pending: Vec<Vec<f64>>,
    filled: usize,
    blocks: u64,
    signal_blocks: u64,
    bad_samples: u64,
    lock: ToneLock,
    /// Of the last block.
    record: Record,
    gate: Gate,
    /// Records in the gate from before the averages were reset.
    stale_records: usize,
    dropouts: DropoutWatch,
    tone: ToneAverages,
    speed: SpeedMeter,
    flutter: FlutterMeter,
    level: LevelMeter,
    phase: PhaseMeter,
    phase_line: PhaseLineMeter,
    xy: XyRing,
    programme: Option<ProgrammePhase>,
    section: Option<Section>,
    sections: u32,
    times_moved: u32,
    best_section: Option<Box<Parts>>,
    motion: MotionTap,
    analyst: Option<Box<Analyst>>,
    analysis: Analysis,
    analysed_at_blocks: u64,
}

/// A stretch of the stream with one tone.
#[derive(Clone, Copy, Debug)]
struct Section {
    tone_hz: f64,
    /// The tone it was taken for, Hz; `None`: not the expected one.
    nominal_hz: Option<f64>,
}

impl MeterBank {
    /// Meters for a stream of `channels` (1 or 2) at `sample_rate_hz`. Allocates what the stream will need.
    pub fn new(sample_rate_hz: f64, channels: usize, setup: &MeterSetup) -> Self {
        let lock = ToneLock::new(sample_rate_hz, channels);
        let block_samples = lock.block_samples();
        let blocks_per_s = lock.blocks_per_s();
        let output_rate_hz = lock.output_rate_hz();
        let mut speed = SpeedMeter::new(blocks_per_s);
        speed.set_turn(Turn::of(setup.mechanism.as_deref()));
        Self {
            setup: setup.clone(),
            channels,
            pending: vec![vec![0.0; block_samples]; channels],
            filled: 0,
            blocks: 0,
            signal_blocks: 0,
            bad_samples: 0,
            lock,
            record: Record::default(),
            gate: Gate::new(blocks_per_s),
            stale_records: 0,
            dropouts: DropoutWatch::new(output_rate_hz),
            tone: ToneAverages::default(),
            speed,
            flutter: FlutterMeter::new(output_rate_hz),
            level: LevelMeter::new(sample_rate_hz, block_samples, channels),
            phase: PhaseMeter::new(blocks_per_s),
            phase_line: PhaseLineMeter::new(),
            xy: XyRing::new(sample_rate_hz),
            programme: (channels > 1)
                .then(|| ProgrammePhase::new(sample_rate_hz, &setup.tape_format)),
            section: None,
            sections: 0,
            times_moved: 0,
            best_section: None,
            motion: MotionTap::new(output_rate_hz, channels),
            analyst: None,
            analysis: Analysis::default(),
            analysed_at_blocks: 0,
        }
    }

    /// Feeds interleaved samples; any number of whole frames. NaN and infinities are taken as silence and counted.
    pub fn process(&mut self, interleaved: &[f32]) {
        let block_samples = self.lock.block_samples();
        let mut frames = interleaved;
        while frames.len() >= self.channels {
            let room = block_samples - self.filled;
            let count = room.min(frames.len() / self.channels);
            let (now, later) = frames.split_at(count * self.channels);
            self.keep(now, count);
            frames = later;
            if self.filled == block_samples {
                self.block();
                self.filled = 0;
            }
        }
    }

    fn keep(&mut self, interleaved: &[f32], frames: usize) {
        let place = self.filled..self.filled + frames;
        self.filled += frames;
        match self.pending.as_mut_slice() {
            [mono] => take_apart(interleaved, &mut [&mut mono[place]]),
            [left, right] => {
                let (left, right) = (&mut left[place.clone()], &mut right[place]);
                take_apart(interleaved, &mut [left, right]);
                // An interface that turns the right input upside down is put right before anything is read.
                if self.setup.inputs.opposite_polarity {
                    right.iter_mut().for_each(|sample| *sample = -*sample);
                }
            }
            _ => debug_assert!(false, "a stream has one or two channels"),
        }
    }

    /// Tells that frames are missing before the next ones.
    pub fn mark_gap(&mut self) {
        self.filled = 0;
        self.lock.mark_gap();
        self.phase.mark_gap();
        self.xy.clear();
        self.dropouts.restart();
        if let Some(programme) = &mut self.programme {
            programme.mark_gap();
        }
    }

    /// Takes new settings. The averages begin anew where the expected tone or the clock's error changes.
    pub fn change_setup(&mut self, setup: &MeterSetup) {
        let before = std::mem::replace(&mut self.setup, setup.clone());
        if before.mechanism != setup.mechanism {
            self.speed.set_turn(Turn::of(setup.mechanism.as_deref()));
        }
        let same_tone = before.tone_hz == setup.tone_hz
            && before.tone_correction_percent == setup.tone_correction_percent
            && before.tape_tones == setup.tape_tones
            && before.clock_error_ppm == setup.clock_error_ppm
            && before.inputs.opposite_polarity == setup.inputs.opposite_polarity;
        if before.inputs != setup.inputs || before.tape_format != setup.tape_format {
            // It was said behind other inputs, or of another head.
            self.phase.cycles().open();
        }
        if let Some(programme) = &mut self.programme {
            programme.set_format(&setup.tape_format);
        }
        if !setup.xy_shown {
            self.xy.clear();
        }
        if !same_tone && let Some(section) = self.section {
            self.start_section(section.tone_hz);
        }
    }

    /// Starts all averages anew.
    pub fn reset_averages(&mut self) {
        let known = self.delay_known_now();
        self.phase.cycles().offer(known);
        self.phase_line.clear();
        self.stale_records = self.gate.length();
        self.tone = ToneAverages::default();
        self.speed.reset();
        self.flutter.reset();
        self.level.reset();
        self.phase.reset();
        if let Some(programme) = &mut self.programme {
            programme.reset();
        }
        self.sections = u32::from(self.section.is_some());
        self.times_moved = 0;
        self.best_section = None;
        self.bad_samples = 0;
        self.blocks = 0;
        self.signal_blocks = 0;
        self.motion.clear();
        self.analysed_at_blocks = 0;
    }

    /// The present readings; `source` is put in as it is.
    pub fn readings(&mut self, source: SourceReading) -> Readings {
        self.speed.look();
        self.compose(false).into_readings(source)
    }

    /// The motion for an [`Analyst`] to look at, about twice a second of samples; `None` between.
    pub fn motion_due(&mut self) -> Option<Motion> {
        let waited_s = (self.blocks - self.analysed_at_blocks) as f64 / self.lock.blocks_per_s();
        let every_s = if self.setup.spectra_shown {
            ANALYSE_EVERY_S
        } else {
            ANALYSE_UNSEEN_EVERY_S
        };
        if waited_s < every_s || self.motion.seconds() < ANALYSE_LEAST_S {
            return None;
        }
        self.analysed_at_blocks = self.blocks;
        Some(self.of_the_deck(self.motion.motion()))
    }

    fn of_the_deck(&self, mut motion: Motion) -> Motion {
        motion.mechanism.clone_from(&self.setup.mechanism);
        motion.as_found.clone_from(&self.setup.mechanism_as_found);
        motion.in_full = self.setup.spectra_shown;
        motion
    }

    /// Takes what the analyst made of the motion; what was said of another tone or setting is dropped.
    pub fn take_analysis(&mut self, analysis: Analysis) {
        if analysis.generation == self.motion.generation() {
            self.analysis = analysis;
        }
    }

    /// Looks at the motion at once.
    fn analyse_now(&mut self) {
        let mut analyst = self.analyst.take().unwrap_or_default();
        self.analysis = analyst.analyse(self.of_the_deck(self.motion.longest_motion()));
        self.analyst = Some(analyst);
    }

    /// The readings of a take that is over: of everything since the start, whatever the state at its end. Where the
    /// tone changed on the way, of the stretch that says most.
    pub fn final_readings(&mut self, source: SourceReading) -> Readings {
        self.analyse_now();
        let mut parts = self.compose(true);
        if let Some(best) = &self.best_section
            && best.is_better_than(&parts)
        {
            let mut best = Parts::clone(best);
            let only_here = parts
                .notices
                .drain(..)
                .filter(|notice| best.notices.iter().all(|other| other.code != notice.code))
                .collect::<Vec<_>>();
            best.notices.extend(only_here);
            // The last tone has the tones before it in its line.
            let points =
                |line: &Option<PhaseLine>| line.as_ref().map_or(0, |line| line.points.len());
            if points(&parts.phase.line) > points(&best.phase.line) {
                best.phase.line = parts.phase.line.take();
            }
            parts = best;
        }
        parts.into_readings(source)
    }

    fn block(&mut self) {
        self.blocks += 1;
        let following = self.lock.is_following();
        let mut magnitudes = [Magnitudes::default(); 2];
        for (magnitudes, samples) in magnitudes.iter_mut().zip(&mut self.pending) {
            let (of_samples, bad) = measured(samples);
            *magnitudes = of_samples;
            self.bad_samples += bad;
        }
        let total_power = self
            .level
            .push_samples(&self.pending, &magnitudes, following);
        self.signal_blocks += u64::from(total_power[0].max(total_power[1]) > SIGNAL_POWER);
        if self.setup.xy_shown
            && let [left, right] = self.pending.as_slice()
        {
            self.xy.push(left, right);
        }
        let event = self.lock.push(&self.pending, &mut self.record);
        self.record.total_power = total_power;
        if following {
            self.watch_dropouts();
        } else if let Some(programme) = &mut self.programme {
            let power = total_power[0].max(total_power[1]);
            programme.push(&self.pending[0], &self.pending[1], power);
        }
        if let Some(spectra) = self.lock.fresh_spectra() {
            for (channel, spectrum) in spectra.iter().enumerate() {
                self.level.add_hum(channel, &spectrum.hum);
            }
            if following {
                self.tone.push_spectra(spectra);
            }
        }
        match event {
            LockEvent::Found => self.tone_found(),
            LockEvent::Lost => self.tone_lost(),
            LockEvent::None => {}
        }
        self.distribute();
    }

    fn watch_dropouts(&mut self) {
        if !self.record.ok && !self.dropouts.is_low() {
            return;
        }
        let envelopes = [0, self.channels - 1].map(|channel| self.lock.envelope(channel));
        let alive = [0, self.channels - 1].map(|channel| self.lock.is_alive(channel));
        let [left, right] = &envelopes;
        // A dead channel has no dropouts: the other stands in for it.
        let powers = match alive {
            [true, false] => [left, left],
            [false, true] => [right, right],
            _ => [left, right],
        };
        if let Some(dropout) = self.dropouts.push(powers.map(|powers| powers.as_slice())) {
            self.level.count_dropout(&dropout);
        }
        self.record.low = self.dropouts.is_low();
    }

    /// Hands the record to the needles at once and to the averages through the gate.
    fn distribute(&mut self) {
        self.phase.push_live(&mut self.record);
        let record = &self.record;
        self.speed.push_live(record);
        self.level.push_live(record);
        let mut usage = self.gate.push(record);
        if self.stale_records > 0 {
            self.stale_records -= 1;
            if usage == Use::Clean {
                usage = Use::Bridged;
            }
        }
        let late = self.gate.late();
        self.tone.push_late(late, usage);
        self.level.push_late(late, usage);
        let ahead_hz = if usage == Use::Clean && !self.flutter.is_running() {
            self.gate.mean_ahead_hz()
        } else {
            None
        };
        self.flutter.push(late, usage, ahead_hz);
        self.motion.push(late, usage);
        if self.speed.push_late(late, usage) {
            self.times_moved += 1;
            self.speed.begin_anew();
            self.flutter.restart();
            self.motion.clear();
        }
        if self.phase.push_late(late, usage) {
            self.azimuth_moved();
        }
        if self.blocks.is_multiple_of(SETTLE_EVERY_BLOCKS) {
            self.settle_cycles();
        }
    }

    fn settle_cycles(&mut self) {
        let Some(section) = self
            .section
            .filter(|_| self.channels > 1 && self.lock.is_following())
        else {
            return;
        };
        let reference = self.phase_reference();
        self.phase.settle(&Reading {
            tone_hz: section.tone_hz,
            format: &self.setup.tape_format,
            reference: &reference,
        });
    }

    fn azimuth_moved(&mut self) {
        // What was said before was said of another azimuth.
        self.phase.cycles().offer(None);
        self.phase_line.clear();
        if let Some(programme) = &mut self.programme {
            programme.reset();
        }
    }

    fn tone_found(&mut self) {
        let tone_hz = self.lock.carrier_hz();
        self.dropouts.restart();
        let returned = self
            .section
            .is_some_and(|section| (tone_hz / section.tone_hz - 1.0).abs() < SAME_TONE_WITHIN);
        if !returned {
            self.start_section(tone_hz);
        } else if let Some(known) = self.programme_known_now() {
            self.phase.cycles().offer(Some(known));
        }
    }

    fn tone_lost(&mut self) {
        self.dropouts.restart();
        if let Some(programme) = &mut self.programme {
            programme.begin_after_a_tone();
        }
        if self.speed.averages().seconds > NEW_PROGRAMME_AFTER_S
            && let Some(programme) = &mut self.programme
        {
            programme.reset();
        }
    }

    fn start_section(&mut self, tone_hz: f64) {
        self.keep_best_section();
        let known = self.delay_known_now();
        self.keep_point();
        let taken_for = self.setup.expected_tone(tone_hz, &USUAL_SPEED_TONES_HZ);
        let (nominal_hz, reference_hz) = (taken_for.nominal_hz, taken_for.reference_hz());
        let expected = (tone_hz / reference_hz - 1.0).abs() < EXPECTED_WITHIN;
        self.section = Some(Section {
            tone_hz,
            nominal_hz: expected.then_some(nominal_hz),
        });
        self.sections += 1;
        let reference_hz = if expected { reference_hz } else { tone_hz };
        self.gate.clear();
        self.tone = ToneAverages::default();
        self.speed
            .set_reference(reference_hz, self.setup.clock_factor());
        self.flutter
            .set_reference(reference_hz, self.lock.scrape_upper_hz());
        self.motion
            .set_reference(reference_hz, self.lock.scrape_upper_hz());
        self.level.reset();
        self.phase.start(known);
        self.signal_blocks = 0;
    }

    /// Keeps the phase of the tone that is over.
    fn keep_point(&mut self) {
        let point = self
            .section
            .and_then(|section| self.phase.point(section.tone_hz));
        if let Some(point) = point {
            self.phase_line.keep(point);
        }
    }

    /// The tape's tone that plays, with what is said of it now; `None` where it is not one of the tape's.
    fn expected_tone(&self) -> Option<ExpectedTone> {
        let section = self
            .section
            .filter(|section| section.nominal_hz.is_some())?;
        Some(
            self.setup
                .expected_tone(section.tone_hz, &USUAL_SPEED_TONES_HZ),
        )
    }

    /// What is not the deck's in the phase.
    fn phase_reference(&self) -> PhaseReference {
        let inputs = &self.setup.inputs;
        let tone = self.expected_tone().unwrap_or_default();
        PhaseReference {
            skew_us: inputs.skew_us,
            skew_tolerance_us: inputs.skew_tolerance_us,
            gain_db: inputs.gain_db,
            azimuth_arcmin: tone.azimuth_correction_arcmin,
            azimuth_tolerance_arcmin: tone.azimuth_tolerance_arcmin.unwrap_or(0.0),
        }
    }

    /// What is known of the delay with its whole cycles: from programme since the tone, from the tone, or from before it.
    fn delay_known_now(&mut self) -> Option<KnownDelay> {
        if let Some(known) = self.programme_known_now() {
            return Some(known);
        }
        let reference = self.phase_reference();
        let section = self
            .section
            .filter(|_| self.phase.is_averaged() && !self.phase.is_one_sided());
        match section {
            Some(section) => self.phase.known_delay(&Reading {
                tone_hz: section.tone_hz,
                format: &self.setup.tape_format,
                reference: &reference,
            }),
            None => self.phase.cycles().known(),
        }
    }

    /// What programme that plays now, or has played since the last tone, says of the delay.
    fn programme_known_now(&mut self) -> Option<KnownDelay> {
        let reference = self.phase_reference();
        self.programme
            .as_mut()
            .and_then(|programme| programme.known_delay(&reference))
    }

    /// Before a section's averages are given up: keeps its readings if no earlier section was better.
    fn keep_best_section(&mut self) {
        if self.speed.averages().seconds < LEAST_TAKE_S {
            return;
        }
        self.analyse_now();
        let parts = self.compose(true);
        let better = |best: &Parts| parts.is_better_than(best);
        if self.best_section.as_deref().is_none_or(better) {
            self.best_section = Some(Box::new(parts));
        }
    }
}

/// The samples' magnitudes, and how many samples were no numbers: those are taken as silence.
fn measured(samples: &mut [f64]) -> (Magnitudes, u64) {
    let magnitudes = Magnitudes::of(samples);
    // A sum is a number only if all its parts are: one pass decides for nearly every block.
    if magnitudes.squares.is_finite() {
        return (magnitudes, 0);
    }
    let bad = samples.iter_mut().filter(|x| !x.is_finite());
    let count = bad.map(|x| *x = 0.0).count() as u64;
    (Magnitudes::of(samples), count)
}
