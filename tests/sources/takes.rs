//! Takes: what is written is what is read back.

use crate::{
    recordings::{file, open},
    signal::{read_all, read_stereo},
    wav::{FLOAT, Header},
};
use trimwatch::readings::SourceDescription;
use trimwatch::source::{
    FrameSource, SourceError,
    recording::Recording,
    take_writer::{TakeBits, write_take},
    virtual_deck::VirtualDeck,
};

fn finch() -> VirtualDeck {
    VirtualDeck::by_name_or_path("finch-as-found", 48_000).unwrap()
}

/// Writes two seconds and returns what was written and what is read back.
fn round_trip(bits: TakeBits) -> (Vec<f32>, Vec<f32>) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("take.wav");
    let frames = write_take(&mut finch(), &path, 2.0, bits).unwrap();
    assert_eq!(frames, 96_000);
    let mut recording = Recording::open(&path, None).unwrap();
    let read = read_all(&mut recording);
    assert_eq!(recording.damage(), None);
    (read_stereo(&mut finch(), 96_000).into_flattened(), read)
}

#[test]
fn float_takes_are_exact_and_24_bit_ones_rounded() {
    let (written, read) = round_trip(TakeBits::Float32);
    assert_eq!(written, read);
    let (written, read) = round_trip(TakeBits::Int24);
    let step = 2.0_f64.powi(-23);
    for (written, read) in written.iter().zip(&read) {
        assert!((f64::from(*written) - f64::from(*read)).abs() <= 0.5 * step);
    }
}

/// Rounding with triangular dither of ±1 step: the error has no mean, a power of 1/12 + 2/12 step² whatever the
/// signal (textbook), and is the same each time.
#[test]
fn dither_makes_16_bit_rounding_a_plain_noise() {
    let (written, read) = round_trip(TakeBits::Dithered16);
    let step = 2.0_f64.powi(-15);
    let errors: Vec<f64> = written
        .iter()
        .zip(&read)
        .map(|(written, read)| (f64::from(*read) - f64::from(*written)) / step)
        .collect();
    let count = errors.len() as f64;
    let mean = errors.iter().sum::<f64>() / count;
    let power = errors.iter().map(|error| error * error).sum::<f64>() / count;
    let with_signal: f64 = errors
        .iter()
        .zip(&written)
        .map(|(e, x)| e * f64::from(*x))
        .sum();
    let signal: f64 = written.iter().map(|x| f64::from(*x).powi(2)).sum();
    assert!(errors.iter().all(|error| error.abs() <= 1.5));
    assert!(mean.abs() < 0.01, "{mean}");
    assert!((power - 0.25).abs() < 0.01, "{power}");
    // A gain error would show as an error that goes with the signal.
    assert!((with_signal / signal * step).abs() < 1e-6);
    assert_eq!(round_trip(TakeBits::Dithered16).1, read);
}

#[test]
fn what_does_not_fit_a_sample_is_limited() {
    let values = [2.0, -2.0, f32::NAN, f32::INFINITY];
    let bytes: Vec<u8> = values
        .iter()
        .flat_map(|value: &f32| value.to_le_bytes())
        .collect();
    let source = file("loud.wav", &Header::new(FLOAT, 32, 1, 48_000).file(&bytes));
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("take.wav");
    // Asked for more than there is: the take ends with the source.
    assert_eq!(
        write_take(&mut open(&source), &path, 1.0, TakeBits::Int24).unwrap(),
        4
    );
    let top = 1.0 - 2.0_f32.powi(-23);
    assert_eq!(
        read_all(&mut Recording::open(&path, None).unwrap()),
        [top, -1.0, 0.0, top]
    );
}

#[test]
fn impossible_takes_are_refused_in_one_line() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("take.wav");
    for seconds in [0.0, -1.0, f64::NAN, f64::INFINITY, 15_000.0] {
        let error = write_take(&mut finch(), &path, seconds, TakeBits::Int24).unwrap_err();
        assert!(
            error
                .to_string()
                .contains("up to 14913 s fit in a WAV file"),
            "{error}"
        );
        assert!(!path.exists());
    }
    let nowhere = folder.path().join("no/such/folder/take.wav");
    let error = write_take(&mut finch(), &nowhere, 1.0, TakeBits::Int24).unwrap_err();
    assert!(error.to_string().starts_with("cannot write "), "{error}");
}

/// A source that breaks after a while.
struct Breaking(VirtualDeck, u32);

impl FrameSource for Breaking {
    fn description(&self) -> &SourceDescription {
        self.0.description()
    }

    fn read(&mut self, interleaved: &mut [f32]) -> Result<usize, SourceError> {
        self.1 = self
            .1
            .checked_sub(1)
            .ok_or_else(|| SourceError("the disk went away".into()))?;
        self.0.read(interleaved)
    }
}

#[test]
fn a_take_that_fails_leaves_no_file() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("take.wav");
    let error = write_take(&mut Breaking(finch(), 3), &path, 10.0, TakeBits::Int24).unwrap_err();
    assert_eq!(error.to_string(), "the disk went away");
    assert!(!path.exists());
}
