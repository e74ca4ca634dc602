//! What the audio thread runs must not allocate, lock, wait, log or call the system.
//!
//! Each check runs in a child process that dies at the first offence: an allocator that aborts, or a kernel filter
//! that lets nothing through but the verdict and the exit. The same harness is shown offenders, which it must catch.
#![cfg(target_os = "linux")]

mod child;

use assert_no_alloc::AllocDisabler;
use child::{End, Guard, run_guarded};
use std::{hint::black_box, sync::Mutex};
use trimwatch::{
    guide::{GuideCallback, GuideControls, OutputHealth},
    source::{
        ring::{FrameConsumer, Popped, ring},
        sound_card::{CaptureCallback, CaptureSample, StreamHealth},
    },
};

#[global_allocator]
static ALLOCATOR: AllocDisabler = AllocDisabler;

const DEVICE_CHANNELS: usize = 6;
const RING_FRAMES: usize = 10_000;
const CALLS: usize = 20_000;
/// Whole frames, halves, nothing, one sample; small and large against the ring.
const LENGTHS: [usize; 8] = [0, 1, 6, 7, 96, 2_881, 6 * 512, 6 * 4_096];

/// The callback with both ends of its ring, and what a device may hand over.
struct Bench {
    callback: CaptureCallback,
    consumer: FrameConsumer,
    health: std::sync::Arc<StreamHealth>,
    drained: Vec<f32>,
    floats: Vec<f32>,
    doubles: Vec<f64>,
    ints: Vec<i32>,
    ints24: Vec<cpal::I24>,
    shorts: Vec<i16>,
    bytes: Vec<u8>,
}

impl Bench {
    fn new(picks: &[usize]) -> Self {
        fn full<T: Copy>(sample: T) -> Vec<T> {
            vec![sample; 6 * 4_096]
        }
        let (producer, consumer) = ring(picks.len(), RING_FRAMES);
        let health = std::sync::Arc::new(StreamHealth::default());
        let callback = CaptureCallback::new(producer, DEVICE_CHANNELS, picks, health.clone());
        Self {
            callback: callback.expect("picks are in the frame"),
            consumer,
            health,
            drained: vec![0.0; 2 * RING_FRAMES],
            floats: full(f32::NAN),
            doubles: full(f64::INFINITY),
            ints: full(i32::MIN),
            ints24: full(cpal::I24::new_unchecked(-1)),
            shorts: full(i16::MIN),
            bytes: full(u8::MAX),
        }
    }

    /// Plays a device with all its troubles. Returns whether every frame was delivered or counted as lost.
    fn play(&mut self, drain_every: Option<usize>) -> bool {
        let (mut offered, mut taken, mut silently_lost) = (0_u64, 0_u64, 0_u64);
        for call in 0..CALLS {
            let length = LENGTHS[call % LENGTHS.len()];
            offered += (length / DEVICE_CHANNELS) as u64;
            // A step that has no factor in common with the lengths, so that each format meets each length.
            match (call / LENGTHS.len()) % 6 {
                0 => take(&mut self.callback, &self.floats[..length]),
                1 => take(&mut self.callback, &self.doubles[..length]),
                2 => take(&mut self.callback, &self.ints[..length]),
                3 => take(&mut self.callback, &self.ints24[..length]),
                4 => take(&mut self.callback, &self.shorts[..length]),
                _ => take(&mut self.callback, &self.bytes[..length]),
            }
            match call % 101 {
                17 => self.health.note_stream_error(cpal::ErrorKind::Xrun),
                53 => {
                    self.health.note_silent_loss(3);
                    silently_lost += 3;
                }
                _ => {}
            }
            if drain_every.is_some_and(|every| call % every == 0) {
                taken += self.drain();
            }
        }
        take(&mut self.callback, &self.shorts[..0]);
        // Two rounds: marks that found no room are written once there is some.
        for _ in 0..2 {
            taken += self.drain();
            take(&mut self.callback, &self.shorts[..0]);
        }
        let lost = self.consumer.lost_frames();
        taken > 0 && lost > 0 && taken + lost == offered + silently_lost
    }

    fn drain(&mut self) -> u64 {
        let mut taken = 0;
        loop {
            match self.consumer.pop(&mut self.drained) {
                Popped::Frames(0) => return taken,
                Popped::Frames(frames) => taken += frames as u64,
                Popped::Gap(_) => {}
            }
        }
    }
}

/// What a stream's closure does.
fn take<T: CaptureSample>(callback: &mut CaptureCallback, data: &[T]) {
    callback.take(black_box(data));
}

fn assert_clean(picks: &[usize], drain_every: Option<usize>) {
    for guard in [Guard::Allocator, Guard::SystemCalls] {
        let mut bench = Bench::new(picks);
        let end = run_guarded(guard, || bench.play(drain_every));
        assert_eq!(end, End::Succeeded, "{guard:?}");
    }
}

#[test]
fn with_a_consumer_that_keeps_up_now_and_then() {
    assert_clean(&[1, 4], Some(3));
}

#[test]
fn with_a_consumer_that_falls_behind() {
    assert_clean(&[5, 0], Some(250));
}

#[test]
fn with_a_consumer_that_has_stopped() {
    assert_clean(&[0, 1], None);
}

#[test]
fn with_one_channel() {
    assert_clean(&[3], Some(40));
}

#[test]
fn a_closed_stream_ignores_its_device() {
    for guard in [Guard::Allocator, Guard::SystemCalls] {
        let bench = Bench::new(&[0, 1]);
        let (mut callback, floats) = (bench.callback, bench.floats);
        bench.health.close();
        let end = run_guarded(guard, || {
            (0..CALLS).for_each(|_| take(&mut callback, &floats));
            true
        });
        assert_eq!(end, End::Succeeded, "{guard:?}");
    }
}

#[test]
fn the_error_callback_only_sets_atomics() {
    for guard in [Guard::Allocator, Guard::SystemCalls] {
        let health = StreamHealth::default();
        let end = run_guarded(guard, || {
            for _ in 0..90_000 {
                health.note_stream_error(cpal::ErrorKind::BackendError);
            }
            health.fault().is_some()
        });
        assert_eq!(end, End::Succeeded, "{guard:?}");
    }
}

/// The guide's output: all it may be told, in every format and length, until after its end.
#[test]
fn the_guides_callback_only_computes() {
    for guard in [Guard::Allocator, Guard::SystemCalls] {
        let controls = std::sync::Arc::new(GuideControls::default());
        let health = std::sync::Arc::new(OutputHealth::default());
        let told = [f32::NAN, 1.0, -0.3, 0.0, f32::INFINITY, 0.02, -7.0];
        let mut callback = GuideCallback::new(
            48_000,
            DEVICE_CHANNELS as u16,
            controls.clone(),
            health.clone(),
        );
        let mut floats = vec![0.0_f32; 6 * 4_096];
        let mut shorts = vec![0_i16; 6 * 4_096];
        let mut ints24 = vec![cpal::I24::new_unchecked(0); 6 * 4_096];
        let mut bytes = vec![0_u8; 6 * 4_096];
        let end = run_guarded(guard, || {
            let mut heard = 0.0_f32;
            for call in 0..CALLS / 10 {
                let length = LENGTHS[call % LENGTHS.len()];
                if call % 3 == 0 {
                    controls.set_offset(told[call / 30 % told.len()]);
                }
                if call == CALLS / 20 {
                    health.note_stream_error(cpal::ErrorKind::DeviceChanged);
                }
                if call == CALLS / 15 {
                    controls.stop();
                }
                match (call / LENGTHS.len()) % 4 {
                    0 => callback.fill(black_box(&mut floats[..length])),
                    1 => callback.fill(black_box(&mut shorts[..length])),
                    2 => callback.fill(black_box(&mut ints24[..length])),
                    _ => callback.fill(black_box(&mut bytes[..length])),
                }
                heard = floats
                    .iter()
                    .fold(heard, |peak, sample| peak.max(sample.abs()));
            }
            heard > 0.0 && health.frames() > 0 && health.fault().is_some()
        });
        assert_eq!(end, End::Succeeded, "{guard:?}");
    }
}

#[test]
fn the_guides_error_callback_only_sets_atomics() {
    for guard in [Guard::Allocator, Guard::SystemCalls] {
        let health = OutputHealth::default();
        let end = run_guarded(guard, || {
            for _ in 0..90_000 {
                health.note_stream_error(cpal::ErrorKind::BackendError);
            }
            health.fault().is_some()
        });
        assert_eq!(end, End::Succeeded, "{guard:?}");
    }
}

// The harness itself: what it must catch.

#[test]
fn the_harness_tells_a_wrong_verdict_from_a_right_one() {
    for guard in [Guard::Allocator, Guard::SystemCalls] {
        assert_eq!(run_guarded(guard, || true), End::Succeeded);
        assert_eq!(run_guarded(guard, || false), End::WrongVerdict);
    }
}

#[test]
fn the_harness_catches_an_allocation_and_a_release() {
    let allocating = || black_box(Vec::<f32>::with_capacity(black_box(8))).capacity() >= 8;
    assert_eq!(
        run_guarded(Guard::Allocator, allocating),
        End::KilledBy(libc::SIGABRT)
    );
    let held = vec![0_u8; 100];
    let releasing = move || {
        drop(black_box(held));
        true
    };
    assert_eq!(
        run_guarded(Guard::Allocator, releasing),
        End::KilledBy(libc::SIGABRT)
    );
}

#[test]
fn the_harness_catches_a_system_call() {
    let asking = || std::process::id() > 0;
    assert_eq!(
        run_guarded(Guard::SystemCalls, asking),
        End::KilledBy(libc::SIGSYS)
    );
    let waiting = || {
        std::thread::sleep(std::time::Duration::from_nanos(1));
        true
    };
    assert_eq!(
        run_guarded(Guard::SystemCalls, waiting),
        End::KilledBy(libc::SIGSYS)
    );
}

#[test]
fn the_harness_catches_a_lock_that_is_held_by_another() {
    let lock = Mutex::new(0);
    let held = lock.lock();
    let locking = || lock.lock().is_ok();
    assert_eq!(
        run_guarded(Guard::SystemCalls, locking),
        End::KilledBy(libc::SIGSYS)
    );
    drop(held);
}

#[test]
fn the_harness_catches_a_message_on_the_terminal() {
    let logging = || {
        // Straight to the descriptor, as a logger does in the end; the test's own capture would only buffer it.
        let text = b"xrun\n";
        // SAFETY: the buffer lives through the call.
        (unsafe { libc::write(libc::STDERR_FILENO, text.as_ptr().cast(), text.len()) }) > 0
    };
    assert_eq!(
        run_guarded(Guard::SystemCalls, logging),
        End::KilledBy(libc::SIGSYS)
    );
}
