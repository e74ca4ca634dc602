//! Does a long take cost what its length says, and no more memory than a short one? An hour and four of them through
//! the offline path (ring, meters, readings at the end), and an hour through the live worker, from samples in memory:
//! no disk, no decoder.

use crate::{
    stage::{TONE_HZ, description, tape},
    synth::{Noise, fluttering, stereo, tone},
};
use std::{thread, time::Duration};
use trimwatch::{
    readings::SourceDescription,
    source::{FrameSource, RunningSource, SourceError, SourceEvent, StopOnDrop, ring},
    worker::{self, Worker},
};

const SAMPLE_RATE_HZ: f64 = 48_000.0;
const HOUR_S: u64 = 3600;
/// The project's bar: four hours cost four times one, within 5 %.
const BAR: f64 = 0.05;
/// Hours measured, for their scatter; the fastest counts.
const RUNS: u32 = 3;

/// Ten seconds again and again: everything in it comes round in them.
fn ten_seconds() -> Vec<f32> {
    let wave = tone(TONE_HZ, 0.4, fluttering([(0.6, 0.1), (6.1, 0.06)]));
    let mut take = stereo(SAMPLE_RATE_HZ, 10.0, wave, wave);
    Noise::new(5).add(&mut take, 1e-3);
    take
}

struct Loop {
    description: SourceDescription,
    samples: Vec<f32>,
    at: usize,
    left: usize,
}

impl FrameSource for Loop {
    fn description(&self) -> &SourceDescription {
        &self.description
    }

    fn read(&mut self, interleaved: &mut [f32]) -> Result<usize, SourceError> {
        let count = interleaved.len().min(self.samples.len() - self.at);
        let count = count.min(self.left);
        interleaved[..count].copy_from_slice(&self.samples[self.at..self.at + count]);
        self.at = (self.at + count) % self.samples.len();
        self.left -= count;
        Ok(count / 2)
    }
}

pub fn table() {
    let samples = ten_seconds();
    println!("Processor time and memory of long takes, 48 kHz stereo, from samples in memory.\n");
    println!("| path | length | processor time | × real time | memory at its end |");
    println!("|---|---|---|---|---|");
    let one_s = (0..RUNS)
        .map(|_| offline(&samples, HOUR_S).0)
        .fold(f64::INFINITY, f64::min);
    row("offline", 1, one_s, megabytes("VmRSS:"));
    let (four_s, memory) = offline(&samples, 4 * HOUR_S);
    row("offline", 4, four_s, memory);
    let [after_a_minute, after_an_hour] = live(&samples);
    println!("| live worker | 1 min | | | {after_a_minute:.1} MB |");
    println!("| live worker | 1 h | | | {after_an_hour:.1} MB |");
    let ratio = four_s / one_s;
    println!(
        "\nFour hours cost {ratio:.2} times one. {} Memory of this bench, its samples included.\n",
        crate::verdict((ratio / 4.0 - 1.0).abs() <= BAR)
    );
}

fn row(path: &str, hours: u64, seconds: f64, memory: f64) {
    let times = (hours * HOUR_S) as f64 / seconds;
    println!("| {path} | {hours} h | {seconds:.2} s | {times:.0} | {memory:.1} MB |");
}

/// Processor seconds of a take, and the memory at its end.
fn offline(samples: &[f32], seconds: u64) -> (f64, f64) {
    let mut source = Loop {
        description: description(SAMPLE_RATE_HZ, 2),
        samples: samples.to_vec(),
        at: 0,
        left: 2 * SAMPLE_RATE_HZ as usize * seconds as usize,
    };
    let began_s = processor_s();
    let readings = worker::measure(&mut source, tape(TONE_HZ), None).unwrap();
    let used_s = processor_s() - began_s;
    assert!(readings.flutter.status.is_ok());
    (used_s, megabytes("VmRSS:"))
}

/// Memory after a minute's and after an hour's samples through the live worker, as fast as it takes them, with a reader
/// of its snapshots.
fn live(samples: &[f32]) -> [f64; 2] {
    let (mut producer, consumer) = ring::ring(2, 1 << 16);
    let (events_in, events) = crossbeam_channel::unbounded();
    let (stop, _stopped) = StopOnDrop::new();
    let opened = SourceEvent::Opened {
        description: description(SAMPLE_RATE_HZ, 2),
        frames: consumer,
    };
    events_in.send(opened).unwrap();
    let worker = Worker::start(RunningSource { events, stop }, tape(TONE_HZ), || {}).unwrap();
    let mut memory = [0.0; 2];
    let tens = HOUR_S as usize / 10;
    for ten in 0..tens {
        for piece in samples.chunks(2 * 4800) {
            while producer.room_frames() < piece.len() / 2 {
                thread::sleep(Duration::from_millis(1));
            }
            producer.push(piece);
        }
        while worker.readings.try_recv().is_ok() {}
        match ten + 1 {
            6 => memory[0] = megabytes("VmRSS:"),
            last if last == tens => memory[1] = megabytes("VmRSS:"),
            _ => {}
        }
    }
    memory
}

/// Seconds of processor time that this process has used.
fn processor_s() -> f64 {
    let mut now = libc::timespec {
        tv_sec: 0,
        tv_nsec: 0,
    };
    // SAFETY: the call writes to the structure it is given, which outlives it.
    let result = unsafe { libc::clock_gettime(libc::CLOCK_PROCESS_CPUTIME_ID, &raw mut now) };
    assert_eq!(result, 0, "the system tells the processor time");
    now.tv_sec as f64 + now.tv_nsec as f64 * 1e-9
}

/// Memory of this process, MB (10⁶ bytes), as Linux tells it; NaN elsewhere.
fn megabytes(key: &str) -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|line| line.starts_with(key));
    let kibibytes = line.and_then(|line| line.split_whitespace().nth(1)?.parse().ok());
    kibibytes.map_or(f64::NAN, |kibibytes: f64| kibibytes * 1024.0 / 1e6)
}
