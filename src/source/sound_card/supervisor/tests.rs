use super::*;
use crate::{
    readings::SourceKind,
    source::{
        ring::{Popped, ring},
        sound_card::callback::CaptureCallback,
    },
};
use crossbeam_channel::{bounded, unbounded};
use std::sync::Mutex;

type Attempt = Sender<Result<OpenStream, SourceError>>;

/// What the supervisor has asked of its door.
#[derive(Clone, Default)]
struct FakeDoor {
    attempts: Arc<Mutex<Vec<Attempt>>>,
    closed: Arc<Mutex<Vec<Box<dyn Any + Send>>>>,
}

impl Door for FakeDoor {
    fn open(&mut self) -> Receiver<Result<OpenStream, SourceError>> {
        let (answer, result) = bounded(1);
        self.attempts.lock().expect("not poisoned").push(answer);
        result
    }

    fn close(&mut self, handle: Box<dyn Any + Send>) {
        self.closed.lock().expect("not poisoned").push(handle);
    }
}

/// A stream whose device the test plays.
fn stream(number: u32) -> (OpenStream, CaptureCallback) {
    let (producer, frames) = ring(2, 4096);
    let health = Arc::new(StreamHealth::default());
    let callback = CaptureCallback::new(producer, 2, &[0, 1], health.clone()).expect("two of two");
    let description = SourceDescription {
        kind: SourceKind::SoundCard,
        name: "Bench".into(),
        host: Some("ALSA".into()),
        sample_format: "16-bit".into(),
        sample_rate_hz: 48_000,
        channels: 2,
        buffer_frames: None,
    };
    let stream = OpenStream {
        description,
        frames,
        health,
        handle: Box::new(number),
    };
    (stream, callback)
}

struct Bench {
    supervisor: Supervisor<FakeDoor>,
    door: FakeDoor,
    events: Receiver<SourceEvent>,
    now: Instant,
}

impl Bench {
    fn new() -> (Self, CaptureCallback) {
        let (stream, callback) = stream(1);
        let door = FakeDoor::default();
        let (events_in, events) = unbounded();
        let now = Instant::now();
        let supervisor = Supervisor::new(door.clone(), events_in, stream, now);
        let bench = Self {
            supervisor,
            door,
            events,
            now,
        };
        (bench, callback)
    }

    /// Lets time pass; `each_tick` plays the device.
    fn pass(&mut self, seconds: f64, mut each_tick: impl FnMut()) {
        for _ in 0..(seconds / TICK.as_secs_f64()).round() as u32 {
            self.now += TICK;
            each_tick();
            self.supervisor.tick(self.now);
        }
    }

    fn told(&self) -> Vec<String> {
        let word = |event| match event {
            SourceEvent::Opened { .. } => "opened".to_owned(),
            SourceEvent::Lost(text) => format!("lost, {text}"),
            SourceEvent::Damaged(text) => format!("damaged, {text}"),
            SourceEvent::Ended => "ended".to_owned(),
            SourceEvent::Failed(text) => format!("failed, {text}"),
        };
        self.events.try_iter().map(word).collect()
    }

    fn attempts(&self) -> usize {
        self.door.attempts.lock().expect("not poisoned").len()
    }

    /// Answers the last attempt to open.
    fn answer(&self, result: Result<OpenStream, SourceError>) {
        let attempts = self.door.attempts.lock().expect("not poisoned");
        let attempt = attempts.last().expect("an attempt");
        assert!(
            attempt.send(result).is_ok(),
            "the attempt is not waited for"
        );
    }

    /// The numbers of the streams that were let go.
    fn closed(&self) -> Vec<u32> {
        let closed = self.door.closed.lock().expect("not poisoned");
        closed
            .iter()
            .filter_map(|handle| handle.downcast_ref().copied())
            .collect()
    }
}

const BLOCK: [i16; 1920] = [100; 1920];

#[test]
fn a_stream_that_delivers_is_announced_once_and_left_alone() {
    let (mut bench, mut device) = Bench::new();
    bench.pass(60.0, || device.take(&BLOCK));
    assert_eq!(bench.told(), ["opened"]);
    assert_eq!((bench.attempts(), bench.closed()), (0, vec![]));
}

#[test]
fn an_idle_device_has_time_to_wake_up() {
    let (mut bench, mut device) = Bench::new();
    bench.pass(4.5, || {});
    bench.pass(10.0, || device.take(&BLOCK));
    assert_eq!(bench.told(), ["opened"]);
}

#[test]
fn silence_of_the_callback_is_a_loss() {
    let (mut bench, mut device) = Bench::new();
    bench.pass(5.0, || device.take(&BLOCK));
    bench.pass(1.4, || {});
    assert_eq!(bench.told(), ["opened"]);
    bench.pass(0.2, || {});
    assert_eq!(
        bench.told(),
        ["lost, waiting for Bench (no samples for 1.5 s)"]
    );
    assert_eq!(bench.closed(), [1]);
}

#[test]
fn a_device_that_never_delivers_is_a_loss() {
    let (mut bench, _device) = Bench::new();
    bench.pass(5.1, || {});
    assert_eq!(
        bench.told(),
        ["opened", "lost, waiting for Bench (no samples for 5.0 s)"]
    );
}

#[test]
fn a_computer_that_slept_does_not_lose_the_device() {
    let (mut bench, mut device) = Bench::new();
    bench.pass(5.0, || device.take(&BLOCK));
    bench.now += Duration::from_secs(3600);
    bench.supervisor.tick(bench.now);
    bench.pass(5.0, || device.take(&BLOCK));
    assert_eq!(bench.told(), ["opened"]);
}

#[test]
fn every_kind_of_fault_is_a_loss_at_once_with_its_reason() {
    let faults: [(cpal::ErrorKind, &str); 5] = [
        (cpal::ErrorKind::DeviceNotAvailable, "it was disconnected"),
        (
            cpal::ErrorKind::BackendError,
            "the sound system ended the stream",
        ),
        (
            cpal::ErrorKind::StreamInvalidated,
            "the sound system ended the stream",
        ),
        (
            cpal::ErrorKind::PermissionDenied,
            "the system refuses access",
        ),
        (
            cpal::ErrorKind::DeviceChanged,
            "the sound system switched to another input",
        ),
    ];
    for (kind, why) in faults {
        let (mut bench, mut device) = Bench::new();
        bench.pass(1.0, || device.take(&BLOCK));
        // As the flood of errors of a dead server: only the first look matters.
        let told = device_health(&bench);
        for _ in 0..90_000 {
            told.note_stream_error(kind);
        }
        bench.pass(0.02, || {});
        let expected = [
            "opened".to_owned(),
            format!("lost, waiting for Bench ({why})"),
        ];
        assert_eq!(bench.told(), expected);
    }
}

fn device_health(bench: &Bench) -> Arc<StreamHealth> {
    match &bench.supervisor.phase {
        Phase::Running(watched) => watched.health.clone(),
        _ => panic!("not running"),
    }
}

#[test]
fn a_callback_that_is_thrown_away_is_a_loss_at_once() {
    let (mut bench, mut device) = Bench::new();
    bench.pass(1.0, || device.take(&BLOCK));
    drop(device);
    bench.pass(0.02, || {});
    assert_eq!(bench.told().len(), 2);
    assert_eq!(bench.closed(), [1]);
}

#[test]
fn an_xrun_does_not_rebuild_the_stream() {
    let (mut bench, mut device) = Bench::new();
    let health = device_health(&bench);
    bench.pass(5.0, || {
        health.note_stream_error(cpal::ErrorKind::Xrun);
        device.take(&BLOCK);
    });
    assert_eq!(bench.told(), ["opened"]);
}

#[test]
fn the_input_is_opened_again_and_announced_when_samples_come() {
    let (mut bench, mut device) = Bench::new();
    bench.pass(1.0, || device.take(&BLOCK));
    drop(device);
    bench.pass(0.1, || {});
    assert_eq!(bench.attempts(), 0, "not at once");
    bench.pass(0.5, || {});
    assert_eq!(bench.attempts(), 1);
    let (second, mut device) = stream(2);
    bench.answer(Ok(second));
    bench.pass(1.0, || {});
    assert_eq!(bench.told().len(), 2, "no samples yet");
    device.take(&BLOCK);
    bench.pass(0.02, || {});
    let Ok(SourceEvent::Opened { mut frames, .. }) = bench.events.try_recv() else {
        panic!("not announced");
    };
    // What came before it was announced is in the ring.
    let mut out = vec![0.0; BLOCK.len()];
    assert_eq!(frames.pop(&mut out), Popped::Frames(BLOCK.len() / 2));
    bench.pass(10.0, || device.take(&BLOCK));
    assert_eq!(
        (bench.told(), bench.closed(), bench.attempts()),
        (vec![], vec![1], 1)
    );
}

#[test]
fn refusals_are_tried_again_and_said_once() {
    let (mut bench, device) = Bench::new();
    drop(device);
    bench.pass(0.6, || {});
    for _ in 0..20 {
        bench.answer(Err(SourceError("Bench is not connected".into())));
        bench.pass(0.6, || {});
    }
    assert_eq!(bench.attempts(), 21);
    let expected = [
        "opened",
        "lost, waiting for Bench (the sound system ended the stream)",
        "lost, waiting for Bench (Bench is not connected)",
    ];
    assert_eq!(bench.told(), expected);
}

#[test]
fn a_hanging_attempt_is_waited_for_and_not_repeated() {
    let (mut bench, device) = Bench::new();
    drop(device);
    bench.pass(120.0, || {});
    assert_eq!(bench.attempts(), 1);
    let (second, mut device) = stream(2);
    bench.answer(Ok(second));
    bench.pass(1.0, || device.take(&BLOCK));
    assert_eq!(bench.told().last().map(String::as_str), Some("opened"));
}

#[test]
fn an_attempt_that_crashes_is_followed_by_another() {
    let (mut bench, device) = Bench::new();
    drop(device);
    bench.pass(0.6, || {});
    bench.door.attempts.lock().expect("not poisoned").clear();
    bench.pass(0.6, || {});
    assert_eq!(bench.attempts(), 1);
    let said = bench.told().pop().expect("an event");
    assert!(said.contains("the attempt to open it failed"), "{said}");
}

#[test]
fn a_reopened_device_that_stays_silent_is_given_back_and_tried_again() {
    let (mut bench, device) = Bench::new();
    drop(device);
    bench.pass(0.6, || {});
    let (second, _silent) = stream(2);
    bench.answer(Ok(second));
    bench.pass(6.0, || {});
    assert_eq!(bench.closed(), [1, 2]);
    assert_eq!(bench.attempts(), 2);
    assert!(!bench.told().split_off(1).contains(&"opened".to_owned()));
}

#[test]
fn a_lost_stream_that_comes_to_life_is_not_heard() {
    let (mut bench, mut device) = Bench::new();
    bench.pass(1.0, || device.take(&BLOCK));
    let Ok(SourceEvent::Opened { mut frames, .. }) = bench.events.try_recv() else {
        panic!("not announced");
    };
    bench.pass(2.0, || {});
    let mut out = vec![0.0; 4096];
    while frames.pop(&mut out) != Popped::Frames(0) {}
    device.take(&BLOCK);
    assert_eq!(frames.pop(&mut out), Popped::Frames(0));
}

#[test]
fn frames_lost_without_a_word_become_a_gap() {
    let (mut bench, mut device) = Bench::new();
    let mut ticks = 0;
    // 48 kHz in blocks of 20 ms; half a second is left out.
    bench.pass(20.0, || {
        ticks += 1;
        if !(500..525).contains(&ticks) {
            device.take(&BLOCK);
        }
    });
    let Ok(SourceEvent::Opened { frames, .. }) = bench.events.try_recv() else {
        panic!("not announced");
    };
    let Phase::Running(watched) = &bench.supervisor.phase else {
        panic!("not running");
    };
    // The ring of this test overflows; what was told on top of that is the loss.
    let offered = watched.health.captured_frames();
    let overflow = offered - 4096;
    let told = frames.lost_frames() - overflow;
    assert!((23_000..=25_000).contains(&told), "{told} frames");
}

#[test]
fn stopping_lets_go_of_the_stream_and_a_deaf_listener_stops_it() {
    let (mut bench, mut device) = Bench::new();
    bench.pass(1.0, || device.take(&BLOCK));
    bench.supervisor.stop();
    assert_eq!(bench.closed(), [1]);

    let (mut bench, device) = Bench::new();
    bench.events = unbounded().1;
    drop(device);
    assert_eq!(bench.supervisor.tick(bench.now), Outcome::Stop);
}
