//! Days of a run in the memory of one.

use std::{
    alloc::{GlobalAlloc, Layout, System},
    cell::Cell,
};
use trimwatch::{
    readings::{InputState, Readings, SourceDescription, SourceKind, SourceReading, Validity},
    run_in::{Criteria, History, Recorder, evaluate},
};

/// The system's allocator, with a count of what lives, thread by thread.
pub struct Counting;

thread_local! {
    static LIVE_BYTES: Cell<isize> = const { Cell::new(0) };
}

fn count(bytes: isize) {
    // While a thread ends there is nothing left to count with.
    let _ended = LIVE_BYTES.try_with(|live| live.set(live.get() + bytes));
}

// SAFETY: every request goes to the system's allocator as it came; counting neither allocates nor touches memory of
// the caller.
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        count(layout.size().cast_signed());
        // SAFETY: the caller's promises are passed on.
        unsafe { System.alloc(layout) }
    }

    unsafe fn dealloc(&self, pointer: *mut u8, layout: Layout) {
        count(-layout.size().cast_signed());
        // SAFETY: as above.
        unsafe { System.dealloc(pointer, layout) }
    }

    unsafe fn realloc(&self, pointer: *mut u8, layout: Layout, new_size: usize) -> *mut u8 {
        count(new_size.cast_signed() - layout.size().cast_signed());
        // SAFETY: as above.
        unsafe { System.realloc(pointer, layout, new_size) }
    }
}

/// A snapshot with the tone there.
pub fn snapshot() -> Readings {
    let mut source = SourceReading::new(SourceDescription {
        kind: SourceKind::SoundCard,
        name: "line input".into(),
        host: None,
        sample_format: "32-bit float".into(),
        sample_rate_hz: 48_000,
        channels: 2,
        buffer_frames: None,
    });
    source.state = InputState::Running;
    let mut readings = Readings::unread(source, Validity::Ok);
    readings.speed.quick.deviation_percent = Some(0.1);
    readings.phase.quick_delay_us = Some(11.0);
    readings.phase.quick_azimuth_arcmin = Some(2.0);
    readings
}

/// Two weeks, with the tone away for a while every half hour.
#[test]
fn two_weeks_live_in_the_memory_of_two_days() {
    let mut recorder = Recorder::new(5.0);
    let mut history = History::default();
    let mut readings = snapshot();
    let mut lives = Vec::with_capacity(14);
    for second in 1..=14 * 86_400_u32 {
        readings.tone.status = if second % 1800 < 10 {
            Validity::NoSignal
        } else {
            Validity::Ok
        };
        readings.speed.quick.deviation_percent = Some(1e-6 * f64::from(second % 1000));
        recorder.take(&readings, f64::from(second), &mut |line| {
            history.take(&line);
        });
        if second % 86_400 == 0 {
            lives.push(LIVE_BYTES.get());
        }
    }
    assert!(history.readings() > 14 * 17_000, "{}", history.readings());
    // The list of events fills up meanwhile, as far as it may: some hundred bytes each.
    let grown = lives[13] - lives[2];
    assert!(grown < 400_000, "{lives:?}");
    assert!(lives[13] < 3_000_000, "{lives:?}");
    let shown = evaluate(&history, &Criteria::default());
    assert!(shown.steady.since_s.is_some(), "{:?}", shown.steady);
}
