//! Files that are missing, cut off, false or malicious: one clear line, or the samples that are there and what is
//! wrong; never a panic, never without end.

use crate::{
    flac,
    recordings::{File, file, open},
    signal::read_all,
    wav::{FLOAT, Header, PCM, bytes_of_i16, chunk},
};
use proptest::prelude::*;
use std::path::Path;
use trimwatch::{
    meters::MeterSetup,
    readings::NoticeCode,
    source::{FrameSource, recording::Recording},
    worker::measure,
};

/// Described at its test in `recordings`.
const TWO_TONES: &[u8] = include_bytes!("two-tones.ogg");

fn error_of(path: &Path) -> String {
    let error = Recording::open(path, None).err().unwrap().to_string();
    assert_eq!(error.lines().count(), 1, "{error}");
    error
}

fn refused(name: &str, bytes: &[u8], expected: &str) {
    let file = file(name, bytes);
    let error = error_of(&file.path);
    assert!(
        error.starts_with(&format!("recording {}: ", file.path.display())),
        "{error}"
    );
    assert!(error.contains(expected), "{error}");
}

fn stereo_second() -> Vec<u8> {
    bytes_of_i16(&(0..96_000).map(|n| n as i16).collect::<Vec<_>>())
}

/// Reads a damaged file; returns its frames and the damage.
fn damaged(file: &File) -> (usize, String) {
    let mut recording = open(file);
    let frames = read_all(&mut recording).len() / usize::from(recording.description().channels);
    (frames, recording.damage().unwrap().into())
}

#[test]
fn what_is_no_recording_is_refused_in_one_line() {
    let folder = tempfile::tempdir().unwrap();
    assert!(error_of(&folder.path().join("missing.wav")).contains("there is no such file"));
    assert!(error_of(folder.path()).contains("this is a folder"));
    assert!(error_of(Path::new("/dev/null")).contains("not a regular file"));
    refused("empty.wav", b"", "the file is empty");
    refused(
        "letter.wav",
        b"Dear Sir, the deck came back.",
        "not a WAV, FLAC or Ogg Vorbis file",
    );
    refused(
        "riff.avi",
        b"RIFF\x10\0\0\0AVI LIST",
        "not a WAV, FLAC or Ogg Vorbis file",
    );
    refused("short.wav", b"RIFF\x10\0\0\0WAVE", "no 'data' chunk");
    refused(
        "cut.wav",
        b"RIFF\x10\0\0\0WAVEfmt \x10\0\0\0\x01\0\x02\0",
        "'fmt ' chunk is cut short",
    );
    refused(
        "cut.flac",
        b"fLaC\0\0\0\x22\x10",
        "cut off inside its FLAC header",
    );
    refused("cut.ogg", b"OggS\0\x02", "cut off inside its Ogg header");
}

#[test]
fn false_wav_headers_are_refused_with_the_false_value() {
    let samples = stereo_second();
    let good = Header::new(PCM, 16, 2, 48_000);
    let with = |change: fn(&mut Header)| {
        let mut header = good.clone();
        change(&mut header);
        header.file(&samples)
    };
    refused("a.wav", &with(|h| h.channels = 0), "0 channels");
    refused(
        "a.wav",
        &with(|h| h.channels = 65),
        "65 channels; 1 to 64 can be read",
    );
    refused(
        "a.wav",
        &with(|h| h.channels = u16::MAX),
        "frames of 131070 bytes",
    );
    refused(
        "a.wav",
        &with(|h| h.sample_rate_hz = 0),
        "0 samples a second; 8000 to 384000 can be read",
    );
    refused(
        "a.wav",
        &with(|h| h.sample_rate_hz = 4_000_000_000),
        "4000000000 samples a second",
    );
    refused("a.wav", &with(|h| h.bits = 8), "8 bits a sample");
    refused("a.wav", &with(|h| h.bits = 65_535), "65535 bits a sample");
    refused(
        "a.wav",
        &with(|h| h.code = 2),
        "compressed sound (format code 2)",
    );
    refused(
        "a.wav",
        &with(|h| h.frame_bytes = Some(6)),
        "2 x 16-bit make frames of 4 bytes, and it says 6",
    );
    refused(
        "a.wav",
        &with(|h| h.before = b"LIST\xff\xff\xff\x7f".into()),
        "beyond the end of the file",
    );
    refused(
        "a.wav",
        &Header::new(FLOAT, 16, 2, 48_000).file(&samples),
        "16 bits a sample",
    );
    refused("a.wav", &good.file(&[]), "it holds no samples");
    refused("a.wav", &good.file(&[1, 2, 3]), "it holds no samples");
    let mut headless = b"RIFF\x0c\0\0\0WAVE".to_vec();
    headless.extend(chunk(b"data", &samples));
    refused("a.wav", &headless, "before any 'fmt ' chunk");
}

#[test]
fn a_cut_off_wav_file_is_read_to_where_it_ends() {
    let mut bytes = Header::new(PCM, 16, 2, 48_000).file(&stereo_second());
    bytes.truncate(44 + 24_000 * 4 + 3);
    let (frames, damage) = damaged(&file("cut.wav", &bytes));
    assert_eq!(frames, 24_000);
    assert_eq!(
        damage,
        "the file is cut off: its header promises 1.0 s, 0.5 s are there"
    );
}

#[test]
fn a_header_that_was_never_completed_is_no_obstacle() {
    let mut header = Header::new(PCM, 16, 2, 48_000);
    header.data_bytes = Some(0);
    header.riff_bytes = Some(0);
    let (frames, damage) = damaged(&file("power-cut.wav", &header.file(&stereo_second())));
    assert_eq!(frames, 48_000);
    assert_eq!(
        damage,
        "the recorder never completed the file's header; read to its end, 1.0 s"
    );
}

#[test]
fn samples_beyond_what_the_header_counts_are_read_too() {
    let mut header = Header::new(PCM, 16, 2, 48_000);
    header.data_bytes = Some(19_200);
    let (frames, damage) = damaged(&file("wrapped.wav", &header.file(&stereo_second())));
    assert_eq!(frames, 48_000);
    assert_eq!(
        damage,
        "the file's header counts 0.1 s of samples, but more follow; read to its end, 1.0 s"
    );
}

#[test]
fn a_length_of_all_ones_means_to_the_end() {
    let mut header = Header::new(PCM, 16, 2, 48_000);
    header.data_bytes = Some(u32::MAX);
    header.riff_bytes = Some(u32::MAX);
    let mut recording = open(&file("piped.wav", &header.file(&stereo_second())));
    assert_eq!(read_all(&mut recording).len(), 96_000);
    assert_eq!(recording.damage(), None);
}

fn flac_second() -> Vec<u8> {
    let samples: Vec<i32> = (0..96_000).map(|n| n * 31 % 20_011 - 10_000).collect();
    flac::file(&samples, 2, 16, 48_000)
}

#[test]
fn a_cut_off_flac_file_is_read_to_where_it_ends() {
    let mut bytes = flac_second();
    bytes.truncate(bytes.len() / 2);
    let (frames, damage) = damaged(&file("cut.flac", &bytes));
    assert!((22_000..24_100).contains(&frames), "{frames}");
    assert!(damage.starts_with("the file is cut off"), "{damage}");
}

#[test]
fn a_damaged_flac_frame_becomes_silence_and_the_rest_keeps_its_time() {
    let mut bytes = flac_second();
    let good = read_all(&mut open(&file("good.flac", &bytes)));
    let middle = bytes.len() / 2;
    bytes[middle] ^= 0x55;
    let file = file("scratched.flac", &bytes);
    let mut recording = open(&file);
    let read = read_all(&mut recording);
    assert_eq!(read.len(), good.len());
    let different = read.iter().zip(&good).filter(|(read, good)| read != good);
    let (count, silent) = different.fold((0, true), |(n, silent), (read, _)| {
        (n + 1, silent && *read == 0.0)
    });
    assert!(
        silent && (1..=4 * 1024).contains(&count),
        "{count} samples differ"
    );
    let damage = recording.damage().unwrap();
    assert!(
        damage.starts_with("the file is damaged, first at 0.5 s"),
        "{damage}"
    );
}

#[test]
fn a_cut_off_ogg_file_is_read_to_where_it_ends() {
    let mut bytes = TWO_TONES.to_vec();
    bytes.truncate(bytes.len() - 1_000);
    let file = file("cut.ogg", &bytes);
    let (frames, damage) = damaged(&file);
    assert!((44_100..132_300).contains(&frames), "{frames}");
    assert!(damage.starts_with("the file is cut off"), "{damage}");
}

/// Found by mutation: with this byte a codebook's size overflows in the library, which panics.
#[test]
fn a_file_that_makes_the_library_panic_is_refused_like_any_other() {
    let mut bytes = mutated(TWO_TONES.to_vec(), &[(2344, 8)], 4_000);
    correct_ogg_checksums(&mut bytes);
    refused("deceiver.ogg", &bytes, "its header makes no sense");
}

#[test]
fn damage_reaches_the_readings_as_a_notice() {
    let mut bytes = Header::new(PCM, 16, 2, 48_000).file(&stereo_second());
    bytes.truncate(44 + 24_000 * 4);
    let mut recording = open(&file("cut.wav", &bytes));
    let readings = measure(&mut recording, MeterSetup::new().unwrap(), None).unwrap();
    let notices: Vec<_> = readings
        .notices
        .iter()
        .filter(|n| n.code == NoticeCode::DamagedRecording)
        .collect();
    assert_eq!(notices.len(), 1);
    assert!(notices[0].message.contains("cut off"));
}

/// Opens and reads whatever it is. Returns the frames, which must not be out of proportion to the file.
fn survive(name: &str, bytes: &[u8]) {
    let file = file(name, bytes);
    match Recording::open(&file.path, None) {
        Ok(mut recording) => {
            let mut block = vec![0.0; 4096 * usize::from(recording.description().channels)];
            let mut frames = 0;
            while let Ok(read @ 1..) = recording.read(&mut block) {
                frames += read;
                assert!(frames < 1 << 24, "no end");
            }
        }
        Err(error) => assert_eq!(error.to_string().lines().count(), 1),
    }
}

/// Bytes changed at random places of the first `reach`.
fn mutations(reach: usize) -> impl Strategy<Value = Vec<(usize, u8)>> {
    proptest::collection::vec((0..reach, any::<u8>()), 1..6)
}

fn mutated(mut bytes: Vec<u8>, changes: &[(usize, u8)], cut: usize) -> Vec<u8> {
    for &(at, byte) in changes {
        bytes[at] = byte;
    }
    bytes.truncate(cut);
    bytes
}

/// Gives every page (RFC 3533) the checksum of what is in it now.
fn correct_ogg_checksums(bytes: &mut [u8]) {
    let starts: Vec<usize> = (0..bytes.len())
        .filter(|&at| bytes[at..].starts_with(b"OggS"))
        .collect();
    let ends = starts.iter().skip(1).copied().chain([bytes.len()]);
    for (start, end) in starts.iter().copied().zip(ends) {
        let page = &mut bytes[start..end];
        if page.len() < 27 {
            continue;
        }
        page[22..26].fill(0);
        let crc = page.iter().fold(0_u32, |crc, &byte| {
            (0..8).fold(crc ^ u32::from(byte) << 24, |crc, _| match crc >> 31 {
                0 => crc << 1,
                _ => crc << 1 ^ 0x04c1_1db7,
            })
        });
        page[22..26].copy_from_slice(&crc.to_le_bytes());
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_wav_header_makes_it_panic(changes in mutations(80), cut in 0_usize..700, extensible: bool) {
        let mut header = Header::new(PCM, 16, 2, 48_000);
        header.extensible = extensible;
        header.before = chunk(b"LIST", b"INFO");
        survive("mutant.wav", &mutated(header.file(&bytes_of_i16(&[77; 300])), &changes, cut));
    }

    #[test]
    fn no_flac_file_makes_it_panic(changes in mutations(4_000), cut in 40_usize..6_000) {
        let samples: Vec<i32> = (0..3_000).map(|n| n * 31 % 20_011 - 10_000).collect();
        survive("mutant.flac", &mutated(flac::file(&samples, 2, 16, 48_000), &changes, cut));
    }

    #[test]
    fn no_flac_frame_with_good_checksums_makes_it_panic(changes in mutations(1_500)) {
        let samples: Vec<i32> = (0..3_000).map(|n| n * 31 % 20_011 - 10_000).collect();
        survive("mutant.flac", &flac::mutant_file(&samples, 2, 16, 48_000, &changes));
    }

    #[test]
    fn no_ogg_file_makes_it_panic(changes in mutations(12_000), cut in 58_usize..12_500) {
        survive("mutant.ogg", &mutated(TWO_TONES.to_vec(), &changes, cut));
    }

    #[test]
    fn no_ogg_file_with_good_checksums_makes_it_panic(changes in mutations(4_000), cut in 4_000_usize..12_500) {
        let mut bytes = mutated(TWO_TONES.to_vec(), &changes, cut);
        correct_ogg_checksums(&mut bytes);
        survive("mutant.ogg", &bytes);
    }
}
