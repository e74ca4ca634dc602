//! The server dies, hangs, or takes the device away: the loss is said, the same input comes back, and nothing is
//! lost but the gap.

use crate::{
    apart::live_test,
    capture::{Capture, input, locate, same_frames},
    server::{Server, Setup, Sink},
    take::{Bits, Take},
};
use std::{
    process::Child,
    time::{Duration, Instant},
};
use trimwatch::{
    meters::MeterSetup,
    readings::{InputState, SourceReading},
    source::sound_card::{self, InputChoice},
    worker::Worker,
};

const DECK: Sink = Sink::stereo("deck", 48_000);
const OTHER: Sink = Sink::stereo("other", 48_000);
const ONE: Setup = Setup::new(&[DECK]);
/// Long enough that it is never over when the server dies.
const TAKE_SECONDS: f64 = 20.0;
/// The watchdog's own time and some for a busy machine.
const LOSS_WITHIN: Duration = Duration::from_secs(6);
/// Before the stream is given up the server may slip in a block; none is usual, two are for a busy machine.
const FOREIGN_FRAMES: usize = 4096;
const RETURN_WITHIN: Duration = Duration::from_secs(20);

fn start_player(server: &Server, sink: &Sink) -> (Take, Child) {
    let take = Take::new(sink.rate_hz, TAKE_SECONDS, Bits::F32);
    let file = server.folder().join("take.wav");
    take.write(&file);
    (take, server.play(sink, &file))
}

/// Plays, listens until two seconds of the take have come, and lets the player go on.
fn hear_the_take(server: &Server, capture: &mut Capture) -> (Take, Child) {
    let (take, player) = start_player(server, &DECK);
    let heard = |capture: &Capture| {
        let samples = &capture.latest().samples;
        let began = samples.iter().position(|&sample| sample != 0.0);
        began.is_some_and(|began| samples.len() - began > 4 * 48_000)
    };
    assert!(capture.run(RETURN_WITHIN, heard), "the take is not heard");
    (take, player)
}

/// Everything captured since the take began is the take, to the bit.
fn assert_unbroken(capture: &Capture, segment: usize, take: &Take) {
    let segment = &capture.segments[segment];
    let start = locate(&segment.samples, &take.samples, 2).expect("the take's start");
    let heard = segment.frames() - start;
    assert_eq!(
        same_frames(&segment.samples[2 * start..], &take.samples, 2),
        heard
    );
    segment.assert_whole();
    println!("{heard} frames of the take, all the same");
}

fn expect_loss(capture: &mut Capture) {
    assert!(
        capture.run(LOSS_WITHIN, |capture| !capture.losses.is_empty()),
        "the loss is not noticed"
    );
    let name = &capture.latest().description.name;
    assert!(
        capture.losses[0].starts_with(&format!("waiting for {name} (")),
        "{:?}",
        capture.losses
    );
}

fn expect_return(capture: &mut Capture) {
    assert!(
        capture.run(RETURN_WITHIN, |capture| capture.segments.len() == 2),
        "the input does not come back"
    );
    assert_eq!(
        capture.segments[0].description,
        capture.segments[1].description
    );
}

/// The server dies while a take is captured; after its return another take is captured.
fn assert_survives(server: &mut Server, choice: &InputChoice, end: impl FnOnce(&mut Server)) {
    let mut capture = Capture::open(choice);
    let (take, mut player) = hear_the_take(server, &mut capture);
    end(server);
    player.wait().expect("the player ends with the server");
    expect_loss(&mut capture);
    assert_unbroken(&capture, 0, &take);

    capture.run_for(Duration::from_secs(2));
    assert_eq!(capture.segments.len(), 1, "there is no server");
    server.start_again();
    expect_return(&mut capture);
    let (take, mut player) = hear_the_take(server, &mut capture);
    assert_unbroken(&capture, 1, &take);
    player.kill().expect("the player can be ended");
    player.wait().expect("the player has ended");
}

live_test! {
    fn native_host_server_killed(server: ONE) {
        assert_survives(server, &input("pulseaudio:deck.monitor"), Server::kill);
    }
}

live_test! {
    fn native_host_server_stopped(server: ONE) {
        assert_survives(server, &input("pulseaudio:deck.monitor"), Server::stop);
    }
}

/// Waits until the worker publishes a reading that `fits`.
fn expect_reading(worker: &Worker, what: &str, fits: impl Fn(&SourceReading) -> bool) {
    let deadline = Instant::now() + RETURN_WITHIN;
    while Instant::now() < deadline {
        if let Ok(readings) = worker.readings.recv_timeout(LOSS_WITHIN)
            && fits(&readings.source)
        {
            return;
        }
    }
    panic!("the worker does not show: {what}");
}

live_test! {
    fn the_worker_shows_the_loss_and_the_return(server: ONE) {
        let source = sound_card::open(&input("pulseaudio:deck.monitor")).expect("opens");
        let setup = MeterSetup::new().expect("the built-in tables");
        let worker = Worker::start(source, setup, || {}).expect("a worker");
        expect_reading(&worker, "a second of samples", |source| source.seconds > 1.0);
        server.kill();
        expect_reading(&worker, "the loss", |source| {
            matches!(&source.state, InputState::Lost(text) if text.starts_with("waiting for "))
        });
        server.start_again();
        expect_reading(&worker, "the return, after a gap", |source| {
            source.state == InputState::Running && source.gaps == 1
        });
        expect_reading(&worker, "more samples", |source| source.seconds > 3.0);
    }
}

live_test! {
    // Here the error callback is called tens of thousands of times a second.
    fn alsa_host_server_killed(server: ONE) {
        assert_survives(server, &input("alsa:deck"), Server::kill);
    }
}

live_test! {
    fn alsa_host_server_stopped(server: ONE) {
        assert_survives(server, &input("alsa:deck"), Server::stop);
    }
}

live_test! {
    // Here dropping the dead stream hangs for ever in the client library.
    fn alsa_host_server_killed_in_silence_with_shared_memory(
        server: Setup { shared_memory: true, ..ONE }
    ) {
        let mut capture = Capture::open(&input("alsa:deck"));
        assert!(capture.run(RETURN_WITHIN, |capture| capture.latest().frames() > 48_000));
        server.kill();
        expect_loss(&mut capture);
        server.start_again();
        expect_return(&mut capture);
        assert!(capture.run(RETURN_WITHIN, |capture| capture.latest().frames() > 48_000));
        capture.latest().assert_whole();
    }
}

fn assert_survives_freeze(server: &Server, choice: &InputChoice) {
    let mut capture = Capture::open(choice);
    assert!(capture.run(RETURN_WITHIN, |capture| capture.latest().frames() > 48_000));
    server.freeze();
    expect_loss(&mut capture);
    capture.run_for(Duration::from_secs(3));
    server.thaw();
    expect_return(&mut capture);
    assert!(capture.run(RETURN_WITHIN, |capture| capture.latest().frames() > 48_000));
}

live_test! {
    fn native_host_server_hangs(server: ONE) {
        assert_survives_freeze(server, &input("pulseaudio:deck.monitor"));
    }
}

live_test! {
    fn alsa_host_server_hangs(server: ONE) {
        assert_survives_freeze(server, &input("alsa:deck"));
    }
}

/// The device goes while another, which is never silent, stays: the server moves the stream there.
fn assert_never_another(server: &Server, choice: &InputChoice) {
    let device = server.load(&DECK);
    let mut capture = Capture::open(choice);
    assert!(capture.run(RETURN_WITHIN, |capture| capture.latest().frames() > 48_000));
    // Kept awake, so that the server can go on with it at once.
    let _other = Capture::open(&input("pulseaudio:other.monitor"));
    let (_, mut player) = start_player(server, &OTHER);
    capture.run_for(Duration::from_secs(4));
    let clients = || {
        server
            .control(&["list", "short", "clients"])
            .map(|list| list.lines().count())
    };
    let before = clients();
    server.unload(&device);
    expect_loss(&mut capture);
    capture.run_for(Duration::from_secs(4));
    // Each attempt to reopen goes over the one connection that there is: a server has room for few.
    assert!(
        clients() <= before,
        "{:?} clients, then {:?}",
        before,
        clients()
    );
    assert_eq!(capture.segments.len(), 1, "there is no such device");

    server.load(&DECK);
    expect_return(&mut capture);
    assert!(capture.run(RETURN_WITHIN, |capture| capture.latest().frames() > 48_000));
    assert!(
        player
            .try_wait()
            .expect("the player can be asked")
            .is_none(),
        "the other input is never silent"
    );
    for segment in &capture.segments {
        let foreign = segment.samples.iter().filter(|&&sample| sample != 0.0);
        let foreign = foreign.count() / 2;
        println!("{foreign} frames of the other input");
        assert!(
            foreign <= FOREIGN_FRAMES,
            "{foreign} frames of the other input"
        );
    }
    player.kill().expect("the player can be ended");
    player.wait().expect("the player has ended");
}

live_test! {
    fn native_host_never_takes_another_input(server: Setup::new(&[OTHER])) {
        assert_never_another(server, &input("pulseaudio:deck.monitor"));
    }
}

live_test! {
    fn alsa_host_never_takes_another_input(
        server: Setup { alsa_only: &[DECK], ..Setup::new(&[OTHER]) }
    ) {
        assert_never_another(server, &input("alsa:deck"));
    }
}
