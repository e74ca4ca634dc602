//! Measuring the interface beside the meters, through the worker: what is told, and when it ends.

use crossbeam_channel::{Receiver, RecvTimeoutError, bounded};
use std::{f64::consts::TAU, time::Duration};
use trimwatch::{
    meters::MeterSetup,
    profile::{Heard, ListenFor},
    readings::{SourceDescription, SourceKind},
    source::{
        RunningSource, SourceEvent, StopOnDrop,
        ring::{self, FrameProducer},
    },
    worker::{Request, Worker},
};

const RATE_HZ: u32 = 48_000;
const PATIENCE: Duration = Duration::from_secs(20);

/// A worker on a card that the test plays; kept alive by the events' sender.
fn worker(
    channels: u16,
) -> (
    Worker,
    FrameProducer,
    crossbeam_channel::Sender<SourceEvent>,
) {
    let (frames_in, frames) = ring::ring(usize::from(channels), 10 * RATE_HZ as usize);
    let (events_in, events) = crossbeam_channel::unbounded();
    let (stop, _) = StopOnDrop::new();
    let description = SourceDescription {
        kind: SourceKind::SoundCard,
        name: "played by the test".into(),
        host: None,
        sample_format: "32-bit float".into(),
        sample_rate_hz: RATE_HZ,
        channels,
        buffer_frames: None,
    };
    events_in
        .send(SourceEvent::Opened {
            description,
            frames,
        })
        .unwrap();
    let source = RunningSource { events, stop };
    let worker = Worker::start(source, MeterSetup::new().unwrap(), || {}).unwrap();
    worker.readings.recv_timeout(PATIENCE).unwrap();
    (worker, frames_in, events_in)
}

fn listen(worker: &Worker, to: ListenFor) -> Receiver<Heard> {
    let (into, told) = bounded(2);
    let request = Request::Listen { to, told: into };
    worker.requests.send(request).unwrap();
    // A request is answered before the next frames are taken.
    std::thread::sleep(Duration::from_millis(50));
    told
}

/// A sine on both inputs, the right one 6 dB down.
fn tone(hz: f64, seconds: f64) -> Vec<f32> {
    (0..(seconds * f64::from(RATE_HZ)) as usize)
        .flat_map(|i| {
            let x = 0.25 * (TAU * hz * i as f64 / f64::from(RATE_HZ)).sin();
            [x as f32, (0.5 * x) as f32]
        })
        .collect()
}

fn until_done(told: &Receiver<Heard>) -> Heard {
    loop {
        let heard = told.recv_timeout(PATIENCE).unwrap();
        if heard.is_done() {
            return heard;
        }
    }
}

#[test]
fn it_is_told_while_the_meters_go_on_and_a_slow_reader_gets_the_last_word() {
    let (worker, mut card, _events) = worker(2);
    let told = listen(&worker, ListenFor::YLead);
    for hz in [400.0, 6300.0] {
        card.push(&tone(hz, 2.5));
        std::thread::sleep(Duration::from_millis(500));
    }
    // What waited is old; what comes then is not.
    let Heard::YLead(reading) = until_done(&told) else {
        panic!("a Y lead was asked for");
    };
    assert!(
        (reading.gain_db.unwrap() - 6.0206).abs() < 0.01,
        "{reading:?}"
    );
    let readings = worker.readings.recv_timeout(PATIENCE).unwrap();
    assert!(readings.level.left.rms_dbfs.is_some());
}

#[test]
fn stopping_another_measurement_or_a_single_input_ends_it() {
    let (worker_, _card, _events) = worker(2);
    let first = listen(&worker_, ListenFor::Noise);
    let second = listen(&worker_, ListenFor::Crosstalk);
    let ended = |told: &Receiver<Heard>| {
        matches!(
            told.recv_timeout(PATIENCE),
            Err(RecvTimeoutError::Disconnected)
        )
    };
    assert!(ended(&first));
    worker_.requests.send(Request::StopListening).unwrap();
    assert!(ended(&second));
    let (worker_, _card, _events) = worker(1);
    assert!(ended(&listen(&worker_, ListenFor::YLead)));
}
