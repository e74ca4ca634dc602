//! Good recordings: every encoding, rate and choice of channels gives the samples that were written.

use crate::{
    flac,
    signal::read_all,
    wav::{self, FLOAT, Header, PCM, bytes_of_i16},
};
use std::{
    f64::consts::TAU,
    fs,
    path::{Path, PathBuf},
};
use tempfile::TempDir;
use trimwatch::{
    readings::SourceKind,
    source::{FrameSource, recording::Recording},
};

/// A file in a folder of its own that goes with it.
pub struct File {
    _folder: TempDir,
    pub path: PathBuf,
}

pub fn file(name: &str, bytes: &[u8]) -> File {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(name);
    fs::write(&path, bytes).unwrap();
    File {
        _folder: folder,
        path,
    }
}

pub fn open(file: &File) -> Recording {
    Recording::open(&file.path, None).unwrap()
}

/// A test sample: both ends of the range, zero, and something irregular.
fn sample(n: usize) -> f64 {
    match n {
        0 => -1.0,
        1 => 1.0 - 2.0_f64.powi(-15),
        2 => 0.0,
        n => 0.8 * (n as f64 * 0.37).sin(),
    }
}

fn steps(n: usize, bits: u32) -> i32 {
    (sample(n) * 2.0_f64.powi(bits as i32 - 1)).round() as i32
}

/// The `n`-th sample as bytes, and the value it stands for.
fn encoded(n: usize, code: u16, bits: u16) -> (Vec<u8>, f32) {
    match (code, bits) {
        (PCM, bits) => {
            let step = steps(n, u32::from(bits));
            let value = f64::from(step) / 2.0_f64.powi(i32::from(bits) - 1);
            let bytes = step.to_le_bytes()[..usize::from(bits / 8)].to_vec();
            (bytes, value as f32)
        }
        (FLOAT, 32) => ((sample(n) as f32).to_le_bytes().into(), sample(n) as f32),
        _ => (sample(n).to_le_bytes().into(), sample(n) as f32),
    }
}

#[test]
fn every_wav_encoding_at_every_rate_gives_its_samples() {
    let encodings = [(PCM, 16), (PCM, 24), (PCM, 32), (FLOAT, 32), (FLOAT, 64)];
    let words = ["16-bit", "24-bit", "32-bit", "32-bit float", "64-bit float"];
    for ((code, bits), words) in encodings.into_iter().zip(words) {
        for rate in [8_000, 44_100, 48_000, 192_000, 384_000] {
            for channels in [1, 2] {
                for extensible in [false, true] {
                    let mut header = Header::new(code, bits, channels, rate);
                    header.extensible = extensible;
                    let frames = 5000;
                    let (bytes, expected): (Vec<_>, Vec<_>) = (0..frames * usize::from(channels))
                        .map(|n| encoded(n, code, bits))
                        .unzip();
                    let file = file("take.wav", &header.file(&bytes.concat()));
                    let mut recording = open(&file);
                    let description = recording.description().clone();
                    assert_eq!(description.kind, SourceKind::Recording);
                    assert_eq!(description.name, "take.wav");
                    assert_eq!(description.sample_format, words);
                    assert_eq!(description.sample_rate_hz, rate);
                    assert_eq!(description.channels, channels);
                    assert_eq!(recording.total_frames(), Some(frames as u64));
                    assert_eq!(read_all(&mut recording), expected, "{header:?}");
                    assert_eq!(recording.damage(), None, "{header:?}");
                }
            }
        }
    }
}

#[test]
fn flac_gives_its_samples() {
    for (channels, bits) in [(1, 16), (2, 16), (2, 24), (4, 24)] {
        let frames = 20_000;
        let samples: Vec<i32> = (0..frames * channels).map(|n| steps(n, bits)).collect();
        let file = file(
            "take.flac",
            &flac::file(&samples, channels, bits as u8, 96_000),
        );
        let picks: Vec<usize> = (1..=channels.min(2)).collect();
        let mut recording = Recording::open(&file.path, Some(&picks)).unwrap();
        assert_eq!(recording.description().sample_rate_hz, 96_000);
        assert_eq!(
            recording.description().sample_format,
            format!("{bits}-bit FLAC")
        );
        assert_eq!(recording.total_frames(), Some(frames as u64));
        let full_scale = 2.0_f64.powi(bits as i32 - 1);
        let expected: Vec<f32> = samples
            .chunks(channels)
            .flat_map(|frame| &frame[..channels.min(2)])
            .map(|&step| (f64::from(step) / full_scale) as f32)
            .collect();
        assert_eq!(read_all(&mut recording), expected);
        assert_eq!(recording.damage(), None);
    }
}

/// `two-tones.ogg`: three seconds of 441 Hz at 0.5 on the left and 882 Hz at 0.25 on the right, made with a general
/// sound-file library at its lowest quality.
#[test]
fn ogg_vorbis_gives_its_tones_in_place() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/sources/two-tones.ogg");
    let mut recording = Recording::open(&path, None).unwrap();
    assert_eq!(recording.description().sample_format, "Ogg Vorbis");
    assert_eq!(recording.description().sample_rate_hz, 44_100);
    assert_eq!(recording.total_frames(), Some(132_300));
    let samples = read_all(&mut recording);
    assert_eq!(samples.len(), 2 * 132_300);
    assert_eq!(recording.damage(), None);
    let mut error = [0.0; 2];
    for (n, frame) in samples.chunks(2).enumerate() {
        let turns = n as f64 / 100.0;
        let expected = [0.5 * (TAU * turns).sin(), 0.25 * (TAU * 2.0 * turns).sin()];
        for channel in 0..2 {
            error[channel] += (f64::from(frame[channel]) - expected[channel]).powi(2);
        }
    }
    for error in error {
        assert!((error / 132_300.0).sqrt() < 0.03, "{error}");
    }
}

#[test]
fn one_or_two_of_many_channels_are_chosen_counted_from_one() {
    let frames = 10;
    let samples: Vec<i16> = (0..6 * frames).collect();
    let header = Header::new(PCM, 16, 6, 48_000);
    let file = file("multi.wav", &header.file(&bytes_of_i16(&samples)));
    let value = |frame: i16, channel: i16| f32::from(frame * 6 + channel - 1) / 32768.0;
    for (picks, name) in [
        (None, "multi.wav (channels 1 and 2 of 6)"),
        (Some(&[6, 3][..]), "multi.wav (channels 6 and 3 of 6)"),
        (Some(&[4][..]), "multi.wav (channel 4 of 6)"),
    ] {
        let mut recording = Recording::open(&file.path, picks).unwrap();
        assert_eq!(recording.description().name, name);
        let chosen = picks.unwrap_or(&[1, 2]);
        assert_eq!(usize::from(recording.description().channels), chosen.len());
        let expected: Vec<f32> = (0..frames)
            .flat_map(|frame| chosen.iter().map(move |&pick| value(frame, pick as i16)))
            .collect();
        assert_eq!(read_all(&mut recording), expected);
    }
    for (picks, expected) in [
        (&[7][..], "it has no channel 7; choose from 1 to 6"),
        (&[0, 1], "it has no channel 0; choose from 1 to 6"),
        (
            &[2, 2],
            "channel 2 was chosen twice; choose two different ones",
        ),
        (
            &[],
            "0 channels were chosen; choose one, or two for left and right",
        ),
        (
            &[1, 2, 3],
            "3 channels were chosen; choose one, or two for left and right",
        ),
    ] {
        let error = Recording::open(&file.path, Some(picks))
            .err()
            .unwrap()
            .to_string();
        assert!(error.ends_with(expected), "{error}");
    }
}

#[test]
fn chunks_around_the_samples_change_nothing() {
    let samples = bytes_of_i16(&[1, -2, 3, -4, 5, -6]);
    let mut header = Header::new(PCM, 16, 2, 48_000);
    header.before = [
        wav::chunk(b"JUNK", &[7; 33]),
        wav::chunk(b"bext", &[1; 602]),
        wav::chunk(b"LIST", b"INFOINAM\x04\0\0\0take"),
    ]
    .concat();
    header.after = [wav::chunk(b"cue ", &[0; 28]), wav::chunk(b"iXML", b"<a/>x")].concat();
    let mut recording = open(&file("take.wav", &header.file(&samples)));
    assert_eq!(read_all(&mut recording).len(), 6);
    assert_eq!(recording.damage(), None);
}

#[test]
fn a_file_beyond_4_gib_is_read_by_its_64_bit_sizes() {
    let samples = bytes_of_i16(&[100; 400]);
    let mut file_bytes = Header::new(PCM, 16, 2, 48_000).file(&samples);
    // As RF64: both sizes are elsewhere, in the ds64 chunk that comes first.
    file_bytes[..4].copy_from_slice(b"RF64");
    file_bytes[4..8].copy_from_slice(&u32::MAX.to_le_bytes());
    file_bytes[40..44].copy_from_slice(&u32::MAX.to_le_bytes());
    let long_sizes = [900_u64, 800, 200].map(u64::to_le_bytes).concat();
    let ds64 = wav::chunk(b"ds64", &[long_sizes, vec![0; 4]].concat());
    file_bytes.splice(12..12, ds64);
    file_bytes.extend(wav::chunk(b"LIST", b"INFO"));
    let mut recording = open(&file("long.wav", &file_bytes));
    assert_eq!(recording.total_frames(), Some(200));
    assert_eq!(read_all(&mut recording).len(), 400);
    assert_eq!(recording.damage(), None);
}

#[test]
fn a_single_sample_is_a_recording() {
    let file = file(
        "tick.wav",
        &Header::new(PCM, 16, 1, 48_000).file(&bytes_of_i16(&[16_384])),
    );
    assert_eq!(read_all(&mut open(&file)), [0.5]);
}

#[test]
fn nan_and_infinity_pass_through() {
    let values = [f32::NAN, f32::INFINITY, f32::NEG_INFINITY, 3.5];
    let bytes: Vec<u8> = values
        .iter()
        .flat_map(|value| value.to_le_bytes())
        .collect();
    let file = file("odd.wav", &Header::new(FLOAT, 32, 1, 48_000).file(&bytes));
    let read = read_all(&mut open(&file));
    assert!(read[0].is_nan());
    assert_eq!(read[1..], values[1..]);
}

#[test]
fn block_sizes_change_nothing() {
    let samples: Vec<i16> = (0..20_001).map(|n| (n * 7919 % 65_521) as i16).collect();
    let wav = file(
        "a.wav",
        &Header::new(PCM, 16, 1, 48_000).file(&bytes_of_i16(&samples)),
    );
    let flac_samples: Vec<i32> = samples.iter().map(|&sample| i32::from(sample)).collect();
    let flac = file("a.flac", &flac::file(&flac_samples, 1, 16, 48_000));
    for file in [wav, flac] {
        let whole = read_all(&mut open(&file));
        for block in [1, 64, 480, 4096, 5000] {
            let mut recording = open(&file);
            let mut cut = Vec::new();
            let mut frames = vec![0.0; block];
            loop {
                let read = recording.read(&mut frames).unwrap();
                cut.extend_from_slice(&frames[..read]);
                if read == 0 {
                    break;
                }
            }
            assert_eq!(cut, whole, "blocks of {block}");
        }
    }
}

/// The proof that length costs no memory: once the buffers are there, reading takes none.
#[test]
fn reading_a_wav_file_allocates_nothing() {
    let samples: Vec<i16> = vec![3; 200_000];
    let file = file(
        "long.wav",
        &Header::new(PCM, 16, 2, 48_000).file(&bytes_of_i16(&samples)),
    );
    let mut recording = open(&file);
    let mut block = vec![0.0; 2 * 480];
    let mut frames = recording.read(&mut block).unwrap();
    // Not to the very end: the library makes (and drops) an error message of a last, short packet.
    assert_no_alloc::assert_no_alloc(|| {
        while frames < 96_000 {
            frames += recording.read(&mut block).unwrap_or_default();
        }
    });
    assert_eq!(frames, 96_000);
}
