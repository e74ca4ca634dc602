//! A take is played into the server and captured: every sample arrives, unchanged, and the meters read the same.

use crate::{
    apart::{live_seconds, live_test},
    capture::{Capture, input, input_at, locate, same_frames},
    readings::{LiveReader, assert_same_readings},
    server::{Server, Setup, Sink},
    take::{Bits, Take},
};
use std::time::Duration;
use trimwatch::source::sound_card::InputChoice;

const AT_48: Sink = Sink::stereo("deck", 48_000);
const AT_96: Sink = Sink::stereo("deck", 96_000);
const AT_192: Sink = Sink::stereo("deck", 192_000);

/// Plays a take while it is captured twice, once to the last sample, once by the meters.
fn assert_take_arrives(server: &Server, sink: &Sink, choice: &InputChoice) {
    let take = Take::new(sink.rate_hz, live_seconds(), Bits::F32);
    let file = server.folder().join("take.wav");
    take.write(&file);

    let mut capture = Capture::open(choice);
    let mut reader = LiveReader::start(choice);
    assert_eq!(capture.latest().description.sample_rate_hz, sink.rate_hz);
    capture.run_for(Duration::from_millis(500));
    let mut player = server.play(sink, &file);
    let limit = Duration::from_secs_f64(live_seconds() + 30.0);
    let ended = capture.run(limit, |capture| {
        reader.follow(capture.latest(), &take);
        player
            .try_wait()
            .expect("the player can be asked")
            .is_some()
    });
    assert!(ended, "the player does not end");
    // The player ends when the server has played its last sample; this is on its way to us.
    capture.run_for(Duration::from_millis(500));

    let segment = capture.latest();
    let start =
        locate(&segment.samples, &take.samples, 2).expect("the take's start is in the capture");
    let frames = take.samples.len() / 2;
    let same = same_frames(&segment.samples[2 * start..], &take.samples, 2);
    println!(
        "{} Hz: {frames} frames played, {} captured, the take from {start} on, {same} the same",
        sink.rate_hz,
        segment.frames()
    );
    assert_eq!(
        same, frames,
        "frames that arrived unchanged, of those played"
    );
    segment.assert_whole();
    assert_eq!(capture.losses, [""; 0]);
    assert_same_readings(&take, &reader);
}

live_test! {
    fn native_host_at_48_khz(server: Setup::new(&[AT_48])) {
        assert_take_arrives(server, &AT_48, &input("pulseaudio:deck.monitor"));
    }
}

live_test! {
    fn native_host_at_96_khz(server: Setup::new(&[AT_96])) {
        assert_take_arrives(server, &AT_96, &input("pulseaudio:deck.monitor"));
    }
}

live_test! {
    fn native_host_at_192_khz(server: Setup::new(&[AT_192])) {
        assert_take_arrives(server, &AT_192, &input("pulseaudio:deck.monitor"));
    }
}

// Through ALSA the sink's rate is not known and must be named.

live_test! {
    fn alsa_host_at_48_khz(server: Setup::new(&[AT_48])) {
        assert_take_arrives(server, &AT_48, &input_at("alsa:deck", 48_000));
    }
}

live_test! {
    fn alsa_host_at_96_khz(server: Setup::new(&[AT_96])) {
        assert_take_arrives(server, &AT_96, &input_at("alsa:deck", 96_000));
    }
}

live_test! {
    fn alsa_host_at_192_khz(server: Setup::new(&[AT_192])) {
        assert_take_arrives(server, &AT_192, &input_at("alsa:deck", 192_000));
    }
}
