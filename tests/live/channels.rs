//! Any one or two channels of an interface arrive unmixed, whatever positions the server gives them.

use crate::{
    apart::live_test,
    capture::input,
    server::{Server, Setup, Sink},
    together::{Piece, assert_all_arrive},
};
use std::path::Path;
use trimwatch::source::sound_card::{self, InputChoice};

const FRAMES: usize = 48_000;
const PLAIN: Sink = Sink::stereo("plain", 48_000).with_format("s16le");
const MONO: Sink = PLAIN.named("mono").with_positions("mono");
const QUAD: Sink = PLAIN
    .named("quad")
    .with_positions("front-left,front-right,rear-left,rear-right");
const TURNED: Sink = PLAIN
    .named("turned")
    .with_positions("rear-right,rear-left,front-right,front-left");
const AUX_PAIR: Sink = PLAIN.named("auxpair").with_positions("aux0,aux1");
const AUX_QUAD: Sink = PLAIN.named("auxquad").with_positions("aux0,aux1,aux2,aux3");
const BOTH: Sink = PLAIN
    .named("both")
    .with_positions("front-left,front-right,aux0,aux1");
const ALL: [Sink; 7] = [PLAIN, MONO, QUAD, TURNED, AUX_PAIR, AUX_QUAD, BOTH];

/// Noise that is another one on each channel.
fn noise(channel: usize, frame: usize) -> i16 {
    let mut state = (frame as u64 + 1) ^ ((channel as u64 + 1) << 40);
    // The finaliser of a counting generator: neighbours have nothing in common.
    for (shift, factor) in [(30, 0xBF58_476D_1CE4_E5B9_u64), (27, 0x94D0_49BB_1331_11EB)] {
        state = (state ^ (state >> shift)).wrapping_mul(factor);
    }
    (state >> 50) as i16 - (1 << 13)
}

/// A second of silence, then the noise.
fn write_noise(path: &Path, channels: usize) {
    let spec = hound::WavSpec {
        channels: channels as u16,
        sample_rate: 48_000,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut writer = hound::WavWriter::create(path, spec).expect("the noise can be written");
    let silence = std::iter::repeat_n(0, 48_000 * channels);
    let noise =
        (0..FRAMES).flat_map(|frame| (0..channels).map(move |channel| noise(channel, frame)));
    silence
        .chain(noise)
        .try_for_each(|sample| writer.write_sample(sample))
        .expect("the noise can be written");
    writer.finalize().expect("the noise can be written");
}

/// The channels that a choice of `numbers` is to bring, counted from 0.
fn piece(server: &Server, sink: Sink, numbers: Option<&[u16]>, expected: &[usize]) -> Piece {
    let file = server.folder().join(format!("{}.wav", sink.name));
    write_noise(&file, sink.positions.split(',').count());
    let frame = |frame| {
        expected
            .iter()
            .map(move |&channel| f32::from(noise(channel, frame)) / 32_768.0)
    };
    Piece {
        sink,
        file,
        choice: InputChoice {
            channels: numbers.map(<[u16]>::to_vec),
            ..input(&format!("pulseaudio:{}.monitor", sink.name))
        },
        expected: (0..FRAMES).flat_map(frame).collect(),
    }
}

live_test! {
    fn picked_channels_arrive_unmixed(server: Setup::new(&ALL)) {
        let pieces = [
            piece(server, PLAIN, None, &[0, 1]),
            piece(server, PLAIN, Some(&[2, 1]), &[1, 0]),
            piece(server, PLAIN, Some(&[2]), &[1]),
            piece(server, MONO, None, &[0]),
            piece(server, QUAD, None, &[0, 1]),
            piece(server, QUAD, Some(&[3, 4]), &[2, 3]),
            piece(server, QUAD, Some(&[4, 1]), &[3, 0]),
            piece(server, TURNED, None, &[0, 1]),
        ];
        assert_all_arrive(server, &pieces);
    }
}

live_test! {
    fn channels_without_a_direction_arrive_too(server: Setup::new(&ALL)) {
        let pieces = [
            piece(server, AUX_PAIR, None, &[0, 1]),
            piece(server, AUX_QUAD, None, &[0, 1]),
            piece(server, AUX_QUAD, Some(&[4, 3]), &[3, 2]),
            piece(server, BOTH, None, &[0, 1]),
            piece(server, BOTH, Some(&[3, 4]), &[2, 3]),
        ];
        assert_all_arrive(server, &pieces);
    }
}

live_test! {
    fn channels_that_cannot_be_had_are_refused(_server: Setup::new(&ALL)) {
        let refusal = |sink: &Sink, numbers: &[u16]| {
            let choice = InputChoice {
                channels: Some(numbers.to_vec()),
                ..input(&format!("pulseaudio:{}.monitor", sink.name))
            };
            sound_card::open(&choice).map(drop).expect_err("must be refused").to_string()
        };
        let error = refusal(&QUAD, &[4, 5]);
        assert!(error.contains("no channel 5, it has 4"), "{error}");
        let error = refusal(&BOTH, &[2, 3]);
        assert!(error.contains("cannot hand over these channels"), "{error}");
    }
}
