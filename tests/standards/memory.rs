//! Memory does not grow with the length of the take, and the meters allocate only when they are made.

use crate::{
    stage::{TONE_HZ, source, tape},
    synth::{Noise, fluttering, stereo, tone},
};
use std::{
    alloc::{GlobalAlloc, Layout, System},
    cell::Cell,
};
use trimwatch::meters::MeterBank;

/// The system's allocator, with a count of what lives and of how often it was asked, thread by thread.
pub struct Counting;

thread_local! {
    static LIVE_BYTES: Cell<isize> = const { Cell::new(0) };
    static CALLS: Cell<usize> = const { Cell::new(0) };
}

fn count(bytes: isize) {
    // While a thread ends there is nothing left to count with.
    let _ended = LIVE_BYTES.try_with(|live| live.set(live.get() + bytes));
    let _ended = CALLS.try_with(|calls| calls.set(calls.get() + 1));
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

fn live_bytes() -> isize {
    LIVE_BYTES.get()
}

fn calls() -> usize {
    CALLS.get()
}

const SAMPLE_RATE_HZ: f64 = 16_000.0;

fn ten_seconds() -> Vec<f32> {
    let wave = tone(TONE_HZ, 0.4, fluttering([(0.6, 0.1), (6.1, 0.06)]));
    let mut take = stereo(SAMPLE_RATE_HZ, 10.0, wave, wave);
    Noise::new(5).add(&mut take, 1e-3);
    take
}

fn ten_seconds_of_noise() -> Vec<f32> {
    let mut take = vec![0.0; 20 * SAMPLE_RATE_HZ as usize];
    Noise::new(5).add(&mut take, 0.1);
    take
}

#[test]
fn as_much_lives_after_90_seconds_as_after_30() {
    let take = ten_seconds();
    let before = live_bytes();
    let mut bank = MeterBank::new(SAMPLE_RATE_HZ, 2, &tape(TONE_HZ));
    // Its room is there beforehand, so as not to be counted.
    let mut lives = Vec::with_capacity(9);
    for _ in 0..9 {
        for piece in take.chunks(1024) {
            bank.process(piece);
        }
        drop(bank.readings(source(SAMPLE_RATE_HZ, 2)));
        lives.push(live_bytes() - before);
    }
    assert!(lives[0] > 0);
    assert!(lives[2..].iter().all(|live| *live == lives[2]), "{lives:?}");
}

/// Once a tone is found (the filters for it are made then) and on programme, measuring only computes.
#[test]
fn measuring_does_not_allocate() {
    for take in [ten_seconds(), ten_seconds_of_noise()] {
        let mut bank = MeterBank::new(SAMPLE_RATE_HZ, 2, &tape(TONE_HZ));
        let (found, rest) = take.split_at(take.len() / 10);
        bank.process(found);
        let before = calls();
        for piece in rest.chunks(1024) {
            bank.process(piece);
        }
        assert_eq!(calls() - before, 0);
    }
}
