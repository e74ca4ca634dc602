//! Every sample format that a device may have arrives at its true level, to the last bit.

use crate::{
    apart::live_test,
    capture::input,
    server::{Server, Setup, Sink},
    take::{Bits, Take},
    together::{Piece, assert_all_arrive},
};
use trimwatch::source::sound_card::{InputChoice, SampleFormat};

const RATE_HZ: u32 = 48_000;
const S16: Sink = Sink::stereo("s16", RATE_HZ).with_format("s16le");
const S24_IN_32: Sink = Sink::stereo("s24in32", RATE_HZ).with_format("s24-32le");
const S24_PACKED: Sink = Sink::stereo("s24packed", RATE_HZ).with_format("s24le");
const S32: Sink = Sink::stereo("s32", RATE_HZ).with_format("s32le");
const F32: Sink = Sink::stereo("f32", RATE_HZ);
const ALL: [Sink; 5] = [S16, S24_IN_32, S24_PACKED, S32, F32];

fn piece(server: &Server, sink: Sink, bits: Bits, choice: InputChoice) -> Piece {
    let take = Take::new(RATE_HZ, 1.0, bits);
    let file = server.folder().join(format!("{}.wav", sink.name));
    take.write(&file);
    Piece {
        sink,
        file,
        choice,
        expected: take.samples,
    }
}

fn assert_exact(server: &Server, pieces: &[Piece], words: &[&str]) {
    let ran = assert_all_arrive(server, pieces);
    let formats: Vec<_> = ran
        .iter()
        .map(|description| description.sample_format.as_str())
        .collect();
    assert_eq!(formats, words);
}

live_test! {
    fn the_native_host_takes_the_devices_own_format(server: Setup::new(&ALL)) {
        let own = |sink: Sink, bits| {
            piece(server, sink, bits, input(&format!("pulseaudio:{}.monitor", sink.name)))
        };
        let pieces = [
            own(S16, Bits::I16),
            own(S24_IN_32, Bits::I24),
            own(S24_PACKED, Bits::I24),
            own(S32, Bits::I32),
            own(F32, Bits::F32),
        ];
        assert_exact(server, &pieces, &["16-bit", "24-bit", "24-bit", "32-bit", "32-bit float"]);
    }
}

live_test! {
    fn the_alsa_host_takes_the_format_that_is_asked_for(server: Setup::new(&ALL)) {
        let asked = |sink: Sink, bits, sample_format| {
            let choice = InputChoice {
                sample_format: Some(sample_format),
                ..input(&format!("alsa:{}", sink.name))
            };
            piece(server, sink, bits, choice)
        };
        let pieces = [
            asked(S16, Bits::I16, SampleFormat::I16),
            asked(S24_IN_32, Bits::I24, SampleFormat::I24),
            asked(S32, Bits::I32, SampleFormat::I32),
            asked(F32, Bits::F32, SampleFormat::F32),
        ];
        assert_exact(server, &pieces, &["16-bit", "24-bit", "32-bit", "32-bit float"]);
    }
}
