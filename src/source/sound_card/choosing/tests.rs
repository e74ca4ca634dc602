use super::*;
use crate::source::sound_card::input::NativeFormat;

fn name(id: &str, name: &str, detail: &str) -> InputName {
    InputName {
        id: id.into(),
        host: id.split(':').next().unwrap_or_default().to_uppercase(),
        name: name.into(),
        detail: detail.into(),
    }
}

fn bench() -> Vec<InputName> {
    vec![
        name("alsa:default", "Default", ""),
        name(
            "alsa:hw:CARD=Bench,DEV=0",
            "Bench 4 in, USB Audio",
            "Direct hardware device",
        ),
        name(
            "alsa:plughw:CARD=Bench,DEV=0",
            "Bench 4 in, USB Audio",
            "Hardware device with conversions",
        ),
        name("pulseaudio:input.usb-bench", "Bench 4 in", ""),
        name("pulseaudio:input.pci", "Built-in line input", ""),
    ]
}

fn found(wanted: &str) -> Result<String, String> {
    find_input(&bench(), wanted)
        .map(|input| input.id.clone())
        .map_err(|error| error.0)
}

#[test]
fn an_id_or_any_part_that_fits_one_input_finds_it() {
    let hardware = Ok("alsa:hw:CARD=Bench,DEV=0".to_owned());
    assert_eq!(found("alsa:hw:CARD=Bench,DEV=0"), hardware);
    assert_eq!(found("ALSA:HW:card=bench,dev=0"), hardware);
    assert_eq!(found("direct hardware"), hardware);
    assert_eq!(found(" built-in "), Ok("pulseaudio:input.pci".to_owned()));
    assert_eq!(found("usb-b"), Ok("pulseaudio:input.usb-bench".to_owned()));
}

#[test]
fn a_whole_name_goes_before_a_part_of_another() {
    // 'hw:CARD=Bench,DEV=0' is also a part of the 'plughw' id, 'Bench 4 in' of three descriptions.
    assert_eq!(
        found("hw:CARD=Bench,DEV=0"),
        Ok("alsa:hw:CARD=Bench,DEV=0".to_owned())
    );
    assert_eq!(
        found("bench 4 in"),
        Ok("pulseaudio:input.usb-bench".to_owned())
    );
    assert_eq!(found("default"), Ok("alsa:default".to_owned()));
}

#[test]
fn a_part_that_fits_several_names_them_all() {
    let error = found("usb audio").expect_err("fits two");
    assert!(error.contains("'usb audio' fits 2 inputs"), "{error}");
    assert!(
        error.contains("alsa:hw:CARD=Bench,DEV=0 (Bench 4 in, USB Audio; Direct hardware device)"),
        "{error}"
    );
    assert!(error.contains("alsa:plughw:CARD=Bench"), "{error}");
    assert!(!error.contains("pulseaudio"), "{error}");
    assert!(!error.contains('\n'), "{error}");
}

#[test]
fn an_unknown_name_is_answered_with_what_there_is() {
    let error = found("tape deck").expect_err("not there");
    assert!(error.contains("'tape deck'"), "{error}");
    for input in bench() {
        assert!(error.contains(&input.id), "{error}");
    }
    let error = find_input(&[], "deck").expect_err("nothing there").0;
    assert!(
        error.contains("'deck'") && error.contains("connect the interface"),
        "{error}"
    );
    assert!(find_input(&bench(), "  ").is_err());
}

#[test]
fn a_long_list_of_candidates_is_cut() {
    let many: Vec<_> = (0..20)
        .map(|i| name(&format!("alsa:same{i}"), "Same", ""))
        .collect();
    let error = find_input(&many, "same").expect_err("fits all").0;
    assert!(
        error.contains("fits 20 inputs") && error.contains("and 12 more"),
        "{error}"
    );
    assert!(
        error.contains("alsa:same7 ") && !error.contains("alsa:same8 "),
        "{error}"
    );
}

fn offer(
    channels: u16,
    sample_format: SampleFormat,
    rates: std::ops::RangeInclusive<u32>,
) -> OfferedFormat {
    OfferedFormat {
        channels,
        sample_format,
        min_rate_hz: *rates.start(),
        max_rate_hz: *rates.end(),
    }
}

/// A device that says what it offers, not how it runs (ALSA).
fn hardware(offered: Vec<OfferedFormat>) -> InputDevice {
    InputDevice {
        name: name("alsa:hw:CARD=Bench,DEV=0", "Bench", ""),
        is_default: false,
        native: None,
        offered,
        trouble: None,
    }
}

/// A device behind a system that converts to anything.
fn behind_a_server(channels: u16, sample_format: SampleFormat, sample_rate_hz: u32) -> InputDevice {
    let formats = [
        SampleFormat::I16,
        SampleFormat::I24,
        SampleFormat::I32,
        SampleFormat::F32,
    ];
    InputDevice {
        native: Some(NativeFormat {
            channels,
            sample_format,
            sample_rate_hz,
        }),
        ..hardware(
            formats
                .into_iter()
                .flat_map(|format| {
                    (1..=31).map(move |channels| offer(channels, format, 1..=768_000))
                })
                .collect(),
        )
    }
}

fn four_channel_card() -> InputDevice {
    hardware(
        [44_100, 48_000, 96_000]
            .into_iter()
            .flat_map(|rate| {
                [SampleFormat::I16, SampleFormat::I32].map(|format| offer(4, format, rate..=rate))
            })
            .collect(),
    )
}

fn plan(device: &InputDevice, choice: &InputChoice) -> (u32, SampleFormat, u16, Vec<usize>) {
    let plan = plan_stream(device, choice).expect("a plan");
    (
        plan.sample_rate_hz,
        plan.sample_format,
        plan.device_channels,
        plan.picks,
    )
}

fn refusal(device: &InputDevice, choice: &InputChoice) -> String {
    plan_stream(device, choice).expect_err("must be refused").0
}

fn at(sample_rate_hz: u32) -> InputChoice {
    InputChoice {
        sample_rate_hz: Some(sample_rate_hz),
        ..InputChoice::default()
    }
}

fn channels(numbers: &[u16]) -> InputChoice {
    InputChoice {
        channels: Some(numbers.to_vec()),
        ..InputChoice::default()
    }
}

#[test]
fn the_devices_own_rate_format_and_channels_are_taken_where_they_are_known() {
    let any = InputChoice::default();
    let device = behind_a_server(2, SampleFormat::I24, 96_000);
    assert_eq!(
        plan(&device, &any),
        (96_000, SampleFormat::I24, 2, vec![0, 1])
    );
    let mono = behind_a_server(1, SampleFormat::I16, 44_100);
    assert_eq!(plan(&mono, &any), (44_100, SampleFormat::I16, 1, vec![0]));
    // All four are taken, so that the system does not mix the others into the two.
    let four = behind_a_server(4, SampleFormat::I32, 48_000);
    assert_eq!(
        plan(&four, &any),
        (48_000, SampleFormat::I32, 4, vec![0, 1])
    );
}

#[test]
fn a_card_that_does_not_say_runs_at_48_khz_in_its_best_format() {
    let any = InputChoice::default();
    assert_eq!(
        plan(&four_channel_card(), &any),
        (48_000, SampleFormat::I32, 4, vec![0, 1])
    );
    let no_48 = hardware(vec![
        offer(2, SampleFormat::I16, 88_200..=88_200),
        offer(2, SampleFormat::I16, 96_000..=96_000),
    ]);
    assert_eq!(plan(&no_48, &any).0, 96_000);
    let converts = hardware(vec![
        offer(1, SampleFormat::U8, 1..=200_000),
        offer(2, SampleFormat::F32, 1..=200_000),
    ]);
    assert_eq!(
        plan(&converts, &any),
        (48_000, SampleFormat::F32, 2, vec![0, 1])
    );
}

#[test]
fn a_native_rate_out_of_range_gives_way_to_the_nearest_use() {
    let any = InputChoice::default();
    let mut fast = behind_a_server(2, SampleFormat::F32, 384_000);
    fast.offered = vec![
        offer(2, SampleFormat::F32, 192_000..=192_000),
        offer(2, SampleFormat::F32, 384_000..=384_000),
    ];
    assert_eq!(plan(&fast, &any).0, 192_000);
    let mut headset = behind_a_server(1, SampleFormat::F32, 16_000);
    headset.offered = vec![offer(1, SampleFormat::F32, 16_000..=16_000)];
    let error = refusal(&headset, &any);
    assert!(
        error.contains("Bench") && error.contains("16000 Hz at most"),
        "{error}"
    );
}

#[test]
fn a_rate_that_is_asked_for_is_kept_or_refused() {
    assert_eq!(plan(&four_channel_card(), &at(96_000)).0, 96_000);
    let error = refusal(&four_channel_card(), &at(192_000));
    assert!(
        error.contains("192000 Hz") && error.contains("44100, 48000, 96000 Hz"),
        "{error}"
    );
    for unfit in [0, 8_000, 44_099, 192_001] {
        let error = refusal(&behind_a_server(2, SampleFormat::F32, 48_000), &at(unfit));
        assert!(error.contains(&format!("{unfit} Hz is outside")), "{error}");
    }
}

#[test]
fn any_two_channels_or_one_can_be_picked() {
    let card = four_channel_card();
    assert_eq!(plan(&card, &channels(&[3, 4])).3, [2, 3]);
    assert_eq!(plan(&card, &channels(&[4, 1])).3, [3, 0]);
    assert_eq!(plan(&card, &channels(&[2])).3, [1]);
    let several = hardware(
        [2, 4, 8]
            .map(|count| offer(count, SampleFormat::I32, 48_000..=48_000))
            .to_vec(),
    );
    assert_eq!(plan(&several, &channels(&[3, 4])).2, 4);
    assert_eq!(plan(&several, &channels(&[1])).2, 2);
}

#[test]
fn channels_that_cannot_be_are_refused_with_the_number() {
    let card = four_channel_card();
    let cases: [(&[u16], &str); 6] = [
        (&[], "0 channels were named"),
        (&[1, 2, 3], "3 channels were named"),
        (&[0, 1], "no channel 0"),
        (&[3, 3], "channel 3 is named twice"),
        (&[3, 5], "no channel 5, it has 4"),
        (&[u16::MAX], "no channel 65535"),
    ];
    for (numbers, expected) in cases {
        let error = refusal(&card, &channels(numbers));
        assert!(error.contains(expected), "{numbers:?}: {error}");
    }
    // A server would offer more channels than the device has, made up by copying.
    let error = refusal(
        &behind_a_server(2, SampleFormat::F32, 48_000),
        &channels(&[3, 4]),
    );
    assert!(error.contains("no channel 3, it has 2"), "{error}");
}

#[test]
fn a_format_that_is_asked_for_is_kept_or_refused() {
    let wish = |sample_format| InputChoice {
        sample_format: Some(sample_format),
        ..InputChoice::default()
    };
    assert_eq!(
        plan(&four_channel_card(), &wish(SampleFormat::I16)).1,
        SampleFormat::I16
    );
    let error = refusal(&four_channel_card(), &wish(SampleFormat::F32));
    assert!(
        error.contains("f32") && error.contains("i16, i32"),
        "{error}"
    );
}

#[test]
fn a_device_that_offers_nothing_says_why() {
    let busy = InputDevice {
        trouble: Some("another program uses it".into()),
        ..hardware(Vec::new())
    };
    let error = refusal(&busy, &InputChoice::default());
    assert_eq!(error, "Bench cannot be opened: another program uses it");
}
