//! The list of inputs, and opening by what it shows.

use crate::{
    apart::live_test,
    capture::{Capture, input, input_at},
    server::{Setup, Sink},
};
use trimwatch::source::sound_card::{self, InputChoice, NativeFormat, SampleFormat, list_inputs};

const DECK: Sink = Sink::stereo("deck", 96_000).with_format("s24-32le");
const OTHER: Sink = Sink::stereo("other", 44_100).with_format("s16le");
const SINKS: [Sink; 2] = [DECK, OTHER];

fn refusal(name: &str) -> String {
    let error = sound_card::open(&input(name))
        .map(drop)
        .expect_err("must be refused")
        .to_string();
    assert!(!error.contains('\n'), "one line: {error}");
    error
}

live_test! {
    fn the_list_tells_what_each_input_can_do(_server: Setup::new(&SINKS)) {
        let list = list_inputs();
        assert_eq!(list.notes, [""; 0]);
        let find = |id: &str| {
            list.inputs.iter().find(|input| input.name.id == id).unwrap_or_else(|| panic!("no {id}: {list:#?}"))
        };
        let deck = find("pulseaudio:deck.monitor");
        let native = NativeFormat {
            channels: 2,
            sample_format: SampleFormat::I24,
            sample_rate_hz: 96_000,
        };
        assert_eq!((deck.native, deck.channels(), deck.is_default), (Some(native), 2, true));
        assert_eq!(deck.rates_hz(), [44_100, 48_000, 88_200, 96_000, 176_400, 192_000]);
        assert!(!find("pulseaudio:other.monitor").is_default);

        let through_alsa = find("alsa:deck");
        assert_eq!(through_alsa.name.description(), "Bench deck through ALSA");
        assert_eq!(through_alsa.native, None, "ALSA cannot know");
        for format in [SampleFormat::F32, SampleFormat::I32, SampleFormat::I24, SampleFormat::I16] {
            assert!(through_alsa.sample_formats().contains(&format), "{format}");
        }
        // The sink itself is no input, and neither are ALSA's helpers.
        for absent in ["pulseaudio:deck", "alsa:null", "alsa:lavrate", "alsa:jack"] {
            assert!(list.inputs.iter().all(|input| input.name.id != absent), "{absent}");
        }
    }
}

live_test! {
    fn every_listed_input_opens_by_its_id(_server: Setup::new(&SINKS)) {
        let list = list_inputs();
        assert!(list.inputs.len() >= 4, "{list:#?}");
        for device in list.inputs {
            let capture = Capture::open(&input(&device.name.id));
            assert_eq!(capture.latest().description.name, device.name.name);
            assert_eq!(capture.latest().description.host, Some(device.name.host));
        }
    }
}

live_test! {
    fn no_name_opens_the_default_and_parts_open_what_they_fit(_server: Setup::new(&SINKS)) {
        let opened = |choice: &InputChoice| {
            let description = Capture::open(choice).latest().description.clone();
            (description.host.unwrap_or_default(), description.sample_rate_hz)
        };
        assert_eq!(opened(&InputChoice::default()), ("PulseAudio".into(), 96_000));
        assert_eq!(opened(&input("OTHER.mon")), ("PulseAudio".into(), 44_100));
        assert_eq!(opened(&input("bench other through")).0, "ALSA");

        let error = refusal("null output");
        assert!(error.contains("fits 2 inputs") && error.contains("pulseaudio:other.monitor"), "{error}");
        let error = refusal("turntable");
        assert!(error.contains("'turntable'") && error.contains("alsa:deck"), "{error}");
    }
}

live_test! {
    fn a_conversion_on_the_way_is_told(_server: Setup::new(&SINKS)) {
        // An idle sink would change its own rate instead.
        let _busy = Capture::open(&input("pulseaudio:deck.monitor"));
        let capture = Capture::open(&input_at("alsa:deck", 48_000));
        let format = &capture.latest().description.sample_format;
        assert_eq!(format, "32-bit float, converted from 96000 Hz by the sound server");
    }
}

live_test! {
    fn without_the_server_the_refusal_is_one_line_and_the_server_is_found_again(server: Setup::new(&SINKS)) {
        drop(Capture::open(&input("pulseaudio:deck.monitor")));
        server.kill();
        let error = refusal("pulseaudio:deck.monitor");
        assert!(error.contains("'pulseaudio:deck.monitor'"), "{error}");
        let error = refusal("alsa:deck");
        assert!(error.contains("Bench deck through ALSA"), "{error}");
        server.start_again();
        drop(Capture::open(&input("pulseaudio:deck.monitor")));
        drop(Capture::open(&input("alsa:deck")));
    }
}
