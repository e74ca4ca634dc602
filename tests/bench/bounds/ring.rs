//! From a sample at the ring to the snapshot that contains it, through the real worker, by the clock on the wall.

use crate::{
    stage::{TONE_HZ, description, tape},
    synth::{stereo, tone, true_speed},
};
use std::{
    thread,
    time::{Duration, Instant},
};
use trimwatch::{
    source::{RunningSource, SourceEvent, StopOnDrop, ring},
    worker::Worker,
};

const SECONDS: f64 = 15.0;
/// What a card delivers at a time; short, so that the wait for it is not counted.
const PIECE_S: f64 = 1e-3;
/// The project's bar at 48 kHz.
const BAR_MS: f64 = 15.0;

/// Feeds the ring in real time and notes when snapshots come. A sample waits from its push to the first snapshot whose
/// account has it among the frames received.
pub fn table() {
    println!(
        "Ring to snapshot, ms, by the clock on the wall, {SECONDS} s in pieces of 1 ms; bar {BAR_MS} ms at 48 kHz. \
         The clock also counts what other programs take of the processor.\n"
    );
    println!("| rate | median | 99 % | greatest | snapshots a second | |");
    println!("|---|---|---|---|---|---|");
    for sample_rate_hz in [48_000.0, 192_000.0] {
        let (mut waits_ms, a_second) = waits(sample_rate_hz);
        waits_ms.sort_by(f64::total_cmp);
        let at = |share: f64| waits_ms[(share * (waits_ms.len() - 1) as f64) as usize];
        println!(
            "| {} kHz | {:.1} | {:.1} | {:.1} | {a_second:.0} | {} |",
            sample_rate_hz / 1e3,
            at(0.5),
            at(0.99),
            at(1.0),
            crate::verdict(at(0.99) <= BAR_MS || sample_rate_hz > 48_000.0),
        );
    }
    println!();
}

fn waits(sample_rate_hz: f64) -> (Vec<f64>, f64) {
    let wave = tone(TONE_HZ, 0.4, true_speed);
    let take = stereo(sample_rate_hz, SECONDS, wave, wave);
    let (mut producer, consumer) = ring::ring(2, sample_rate_hz as usize);
    let (events_in, events) = crossbeam_channel::unbounded();
    let (stop, _stopped) = StopOnDrop::new();
    let opened = SourceEvent::Opened {
        description: description(sample_rate_hz, 2),
        frames: consumer,
    };
    events_in.send(opened).unwrap();
    let source = RunningSource { events, stop };
    let worker = Worker::start(source, tape(TONE_HZ), || {}).unwrap();
    let snapshots = worker.readings.clone();
    let reader = thread::Builder::new()
        .name("reader".into())
        .spawn(move || {
            let mut came = Vec::new();
            while let Ok(readings) = snapshots.recv_timeout(Duration::from_secs(1)) {
                came.push((Instant::now(), readings.source.seconds));
            }
            came
        })
        .unwrap();

    let began = Instant::now();
    let mut pushed = Vec::new();
    let piece_samples = 2 * (PIECE_S * sample_rate_hz) as usize;
    for (i, piece) in (1u32..).zip(take.chunks(piece_samples)) {
        let due = began + Duration::from_secs_f64(PIECE_S) * i;
        thread::sleep(due.saturating_duration_since(Instant::now()));
        producer.push(piece);
        pushed.push((Instant::now(), f64::from(i) * PIECE_S));
    }
    thread::sleep(Duration::from_millis(200));
    drop(worker);
    let came = reader.join().unwrap();

    // The first seconds find the tone, and allocate.
    let settled = pushed.iter().filter(|(_, seconds)| *seconds > 3.0);
    let waits_ms = settled
        .filter_map(|(when, seconds)| {
            let first = came.iter().find(|(_, in_it)| *in_it + 1e-9 >= *seconds)?;
            let wait = first.0.saturating_duration_since(*when);
            Some(1e3 * wait.as_secs_f64())
        })
        .collect();
    (waits_ms, came.len() as f64 / SECONDS)
}
