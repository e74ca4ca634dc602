//! Play-out in real time.

use crate::{
    recordings::{file, open},
    signal::read_stereo,
    wav::{Header, PCM, bytes_of_i16},
};
use std::time::{Duration, Instant};
use trimwatch::source::{
    RunningSource, SourceEvent,
    paced::play_live,
    ring::{FrameConsumer, Popped},
    virtual_deck::VirtualDeck,
};

const PATIENCE: Duration = Duration::from_secs(20);

fn opened(source: &RunningSource) -> FrameConsumer {
    match source.events.recv_timeout(PATIENCE).unwrap() {
        SourceEvent::Opened { frames, .. } => frames,
        other => panic!("{other:?}"),
    }
}

/// Takes frames until the source has finished.
fn drain(frames: &mut FrameConsumer) -> Vec<f32> {
    let mut all = Vec::new();
    let mut block = [0.0; 2048];
    let start = Instant::now();
    while !frames.is_finished() {
        assert!(start.elapsed() < PATIENCE);
        match frames.pop(&mut block) {
            Popped::Frames(0) => std::thread::sleep(Duration::from_millis(2)),
            Popped::Frames(taken) => all.extend_from_slice(&block[..taken * frames.channels()]),
            Popped::Gap(lost) => panic!("{lost} frames lost"),
        }
    }
    all
}

#[test]
fn frames_come_complete_in_order_and_no_faster_than_time() {
    let deck = || VirtualDeck::by_name_or_path("plover", 48_000).unwrap();
    let limit = 24_000;
    let start = Instant::now();
    let source = play_live(Box::new(deck()), Some(limit)).unwrap();
    let mut frames = opened(&source);
    let played = drain(&mut frames);
    assert!(start.elapsed() >= Duration::from_millis(500));
    assert_eq!(
        played,
        read_stereo(&mut deck(), limit as usize).into_flattened()
    );
    assert!(matches!(
        source.events.recv_timeout(PATIENCE),
        Ok(SourceEvent::Ended)
    ));
    assert_eq!((frames.lost_frames(), frames.gaps()), (0, 0));
}

#[test]
fn dropping_the_source_stops_its_thread() {
    let deck = VirtualDeck::by_name_or_path("plover", 48_000).unwrap();
    let source = play_live(Box::new(deck), None).unwrap();
    let mut frames = opened(&source);
    drop(source);
    // It would play for ever; that this returns is the test.
    assert!(drain(&mut frames).len() < 2 * 48_000 * 20);
}

#[test]
fn a_damaged_recording_says_so_and_ends() {
    let mut bytes = Header::new(PCM, 16, 1, 8_000).file(&bytes_of_i16(&[9; 8_000]));
    bytes.truncate(44 + 1600);
    let source = play_live(Box::new(open(&file("cut.wav", &bytes))), None).unwrap();
    let mut frames = opened(&source);
    assert_eq!(drain(&mut frames).len(), 800);
    let damage = source.events.recv_timeout(PATIENCE).unwrap();
    assert!(matches!(damage, SourceEvent::Damaged(how) if how.contains("cut off")));
    assert!(matches!(
        source.events.recv_timeout(PATIENCE),
        Ok(SourceEvent::Ended)
    ));
}
