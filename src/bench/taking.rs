//! A reading becomes part of the record: its figures with their uncertainties, how it was taken, and a short series for
//! the pictures.

use super::{
    Context, Figure, Quantity, Series, SeriesKind, Stage, Station, TakenReading, TapeUsed,
};
use crate::{
    meters::MeterSetup,
    readings::{
        ChannelLevel, FlutterReading, LevelReading, PhaseReading, Readings, SpeedReading, Trail,
        Validity,
    },
};
use jiff::Timestamp;

/// A series covers at most this much, seconds: long enough for the turns of a reel, short enough to see the wow.
const SERIES_S: f64 = 15.0;
/// Points of a series at most.
const SERIES_POINTS: usize = 300;
/// Bandwidth of weighted flutter taken as noise, Hz. Flat noise through the weighting curve would have 38 Hz (calculated
/// from its table); that of decks is mostly below 10 Hz, and the smaller figure gives the greater uncertainty.
const WEIGHTED_BANDWIDTH_HZ: f64 = 10.0;
/// What the weighting itself may be off, as a share of the reading: the filter keeps within 0.06 dB of the table.
const WEIGHTING_SHARE: f64 = 0.007;

/// What the readings themselves do not know of the circumstances.
#[derive(Clone, Debug, PartialEq)]
pub struct Circumstances<'a> {
    /// When.
    pub at: Timestamp,
    /// Before or after the work.
    pub stage: Stage,
    /// The reading in words, as it was shown.
    pub words: &'a str,
    /// Name of the tape in the tables; empty where none was chosen.
    pub tape_name: &'a str,
    /// Its title.
    pub tape_title: &'a str,
    /// What is known of the interface, in words.
    pub profile: &'a str,
}

/// Takes the reading of a station.
///
/// # Errors
/// In words, when it is not a reading, or none is taken at that station.
pub fn take(
    station: Station,
    readings: &Readings,
    setup: &MeterSetup,
    circumstances: &Circumstances<'_>,
) -> Result<TakenReading, String> {
    let (figures, averaged_seconds) = of_station(station, readings)?;
    Ok(TakenReading {
        at: circumstances.at,
        station,
        stage: circumstances.stage,
        words: circumstances.words.to_owned(),
        figures,
        context: context(readings, setup, circumstances, averaged_seconds),
        series: series(station, readings),
        withdrawn: None,
    })
}

/// The figures of a station as they stand now, the main one first: what [`take`] would take.
///
/// # Errors
/// In words, when there is no reading, or none is taken at that station.
pub fn figures(station: Station, readings: &Readings) -> Result<Vec<Figure>, String> {
    of_station(station, readings).map(|(figures, _)| figures)
}

/// The figures, and the time their averages cover, seconds.
fn of_station(station: Station, readings: &Readings) -> Result<(Vec<Figure>, f64), String> {
    let (status, figures, averaged_seconds) = match station {
        Station::Mechanical => return Err("mechanical checks are typed, not listened to".into()),
        Station::Speed => of_speed(&readings.speed),
        Station::Flutter => of_flutter(&readings.flutter),
        Station::Azimuth => of_phase(&readings.phase, readings.speed.averaged_seconds),
        Station::Level => of_level(&readings.level, readings.speed.averaged_seconds),
    };
    if !status.is_ok() {
        return Err(format!("{} not taken: {status}", station.words()));
    }
    let figures: Vec<_> = figures
        .into_iter()
        .filter(|figure| figure.value.is_finite())
        .collect();
    if figures.is_empty() {
        return Err(format!(
            "{} not taken: the average is not there yet",
            station.words()
        ));
    }
    Ok((figures, averaged_seconds))
}

fn figure(quantity: Quantity, value: Option<f64>, uncertainty: Option<f64>) -> Option<Figure> {
    Some(Figure {
        quantity,
        value: value?,
        uncertainty: uncertainty.filter(|value| value.is_finite()),
    })
}

fn of_speed(speed: &SpeedReading) -> (Validity, Vec<Figure>, f64) {
    let figures = [
        figure(
            Quantity::SpeedDeviation,
            speed.deviation_percent,
            speed.uncertainty_percent,
        ),
        figure(Quantity::SpeedLeast, speed.min_percent, None),
        figure(Quantity::SpeedGreatest, speed.max_percent, None),
        figure(Quantity::SpeedTrend, speed.trend_percent_per_minute, None),
    ];
    (
        speed.status,
        figures.into_iter().flatten().collect(),
        speed.averaged_seconds,
    )
}

/// Expanded uncertainty (k = 2) of a flutter figure as a share of it: what the scatter of noise of that bandwidth leaves
/// after so many seconds (standard deviation of an rms value 1/(2·√(B·T))), with the weighting's own error. Lines, which
/// most flutter is made of, scatter less.
fn flutter_share(seconds: f64) -> f64 {
    let scatter = 1.0 / (WEIGHTED_BANDWIDTH_HZ * seconds.max(1.0)).sqrt();
    scatter.hypot(WEIGHTING_SHARE)
}

fn of_flutter(flutter: &FlutterReading) -> (Validity, Vec<Figure>, f64) {
    let share = flutter_share(flutter.averaged_seconds);
    let with_share =
        |quantity, value: Option<f64>| figure(quantity, value, value.map(|value| value * share));
    let (weighted, unweighted, bands) = (&flutter.weighted, &flutter.unweighted, &flutter.bands);
    let figures = [
        with_share(Quantity::WeightedTwoSigma, weighted.two_sigma_percent),
        with_share(
            Quantity::WeightedQuasiPeakMax,
            weighted.quasi_peak_max_percent,
        ),
        with_share(Quantity::WeightedQuasiPeak, weighted.quasi_peak_percent),
        with_share(Quantity::WeightedRms, weighted.rms_percent),
        with_share(Quantity::UnweightedTwoSigma, unweighted.two_sigma_percent),
        with_share(
            Quantity::UnweightedQuasiPeakMax,
            unweighted.quasi_peak_max_percent,
        ),
        with_share(Quantity::UnweightedRms, unweighted.rms_percent),
        with_share(Quantity::DriftRms, bands.drift_rms_percent),
        with_share(Quantity::WowRms, bands.wow_rms_percent),
        with_share(Quantity::FlutterRms, bands.flutter_rms_percent),
        with_share(Quantity::ScrapeRms, bands.scrape_rms_percent),
    ];
    (
        flutter.status,
        figures.into_iter().flatten().collect(),
        flutter.averaged_seconds,
    )
}

/// While whole cycles are open, delay and azimuth are only one of several: the record then holds neither.
fn of_phase(phase: &PhaseReading, averaged_seconds: f64) -> (Validity, Vec<Figure>, f64) {
    let resolved = |value: Option<f64>| value.filter(|_| !phase.ambiguous);
    let figures = [
        figure(
            Quantity::Azimuth,
            resolved(phase.azimuth_arcmin),
            phase.azimuth_uncertainty_arcmin,
        ),
        figure(
            Quantity::Delay,
            resolved(phase.delay_us),
            phase.delay_uncertainty_us,
        ),
        figure(Quantity::PhaseWanderRms, phase.wander_rms_degrees, None),
        figure(
            Quantity::PhaseWanderPeakToPeak,
            phase.wander_peak_to_peak_degrees,
            None,
        ),
        figure(Quantity::MonoSumLoss, phase.mono_sum_loss_db, None),
    ];
    (
        phase.status,
        figures.into_iter().flatten().collect(),
        averaged_seconds,
    )
}

fn of_level(level: &LevelReading, averaged_seconds: f64) -> (Validity, Vec<Figure>, f64) {
    let shown = |channel: &ChannelLevel| channel.tone_dbfs.or(channel.rms_dbfs);
    let hum = |channel: &ChannelLevel| channel.hum.map(|hum| hum.total_dbfs);
    let (left, right) = (&level.left, &level.right);
    let figures = [
        figure(
            Quantity::Balance,
            level.balance_db,
            level.balance_uncertainty_db,
        ),
        figure(Quantity::LeftLevel, shown(left), None),
        figure(Quantity::RightLevel, shown(right), None),
        figure(Quantity::LeftVolts, left.level_dbv, None),
        figure(Quantity::RightVolts, right.level_dbv, None),
        figure(
            Quantity::LeftToReference,
            left.relative_to_reference_db,
            None,
        ),
        figure(
            Quantity::RightToReference,
            right.relative_to_reference_db,
            None,
        ),
        figure(Quantity::LevelSteadiness, level.steadiness_db_rms, None),
        figure(Quantity::Dropouts, Some(level.dropouts as f64), Some(0.0)),
        figure(Quantity::LeftHum, hum(left), None),
        figure(Quantity::RightHum, hum(right), None),
    ];
    (
        level.status,
        figures.into_iter().flatten().collect(),
        averaged_seconds,
    )
}

fn context(
    readings: &Readings,
    setup: &MeterSetup,
    circumstances: &Circumstances<'_>,
    averaged_seconds: f64,
) -> Context {
    let source = &readings.source;
    let tone_hz = readings.phase.tone_hz.or(readings.speed.reference_hz);
    let expected = tone_hz.map(|tone_hz| setup.expected_tone(tone_hz, &[]));
    Context {
        program: env!("CARGO_PKG_VERSION").into(),
        input: Context::input_of(&source.description),
        input_kind: source.description.kind,
        sample_rate_hz: source.description.sample_rate_hz,
        profile: circumstances.profile.to_owned(),
        clock_error_ppm: setup.clock_error_ppm,
        clock_tolerance_ppm: setup.clock_tolerance_ppm,
        tape: TapeUsed {
            name: circumstances.tape_name.to_owned(),
            title: circumstances.tape_title.to_owned(),
            tone_hz,
            frequency_correction_percent: expected
                .map_or(0.0, |tone| tone.frequency_correction_percent),
            frequency_tolerance_percent: expected.and_then(|tone| tone.frequency_tolerance_percent),
        },
        tape_format: setup.tape_format.title.clone(),
        averaged_seconds,
        running_seconds: source.seconds,
        lost_frames: source.lost_frames,
        notices: readings
            .notices
            .iter()
            .map(|notice| notice.message.clone())
            .collect(),
    }
}

fn series(station: Station, readings: &Readings) -> Vec<Series> {
    let of = |kind, trail: &Trail| short(kind, trail);
    let all = match station {
        Station::Mechanical => vec![],
        Station::Speed => vec![of(SeriesKind::SpeedPercent, &readings.speed.trail)],
        Station::Flutter => vec![of(SeriesKind::FlutterPercent, &readings.flutter.trail)],
        Station::Azimuth => vec![of(SeriesKind::DelayUs, &readings.phase.trail)],
        Station::Level => vec![
            of(SeriesKind::LeftDbfs, &readings.level.left.trail),
            of(SeriesKind::RightDbfs, &readings.level.right.trail),
        ],
    };
    all.into_iter().flatten().collect()
}

/// The end of a trail with at most [`SERIES_POINTS`] points, each the mean of those it stands for.
fn short(kind: SeriesKind, trail: &Trail) -> Option<Series> {
    if trail.step_s <= 0.0 || trail.values.is_empty() {
        return None;
    }
    let most = (SERIES_S / trail.step_s).round() as usize;
    let values = &trail.values[trail.values.len().saturating_sub(most.max(1))..];
    let share = values.len().div_ceil(SERIES_POINTS).max(1);
    Some(Series {
        kind,
        step_s: trail.step_s * share as f64,
        // From the end, so that the last point is now.
        values: {
            let mut means: Vec<_> = values.rchunks(share).map(mean).collect();
            means.reverse();
            means
        },
    })
}

fn mean(values: &[f32]) -> Option<f32> {
    let mean = values.iter().sum::<f32>() / values.len() as f32;
    mean.is_finite().then_some(mean)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::readings::{SourceDescription, SourceKind, SourceReading};

    fn readings() -> Readings {
        let mut readings = Readings::empty(SourceReading::new(SourceDescription {
            kind: SourceKind::SoundCard,
            name: "Line in".into(),
            host: Some("ALSA".into()),
            sample_format: "24-bit".into(),
            sample_rate_hz: 48_000,
            channels: 2,
            buffer_frames: None,
        }));
        readings.speed.status = Validity::Ok;
        readings.speed.deviation_percent = Some(0.125);
        readings.speed.uncertainty_percent = Some(0.003);
        readings.speed.averaged_seconds = 30.0;
        readings.speed.trail = Trail {
            step_s: 0.01,
            values: (0..3000)
                .map(|at| if at < 100 { f32::NAN } else { 0.1 })
                .collect(),
        };
        readings
    }

    fn taken(station: Station, readings: &Readings) -> Result<TakenReading, String> {
        let circumstances = Circumstances {
            at: Timestamp::UNIX_EPOCH,
            stage: Stage::AsFound,
            words: "",
            tape_name: "",
            tape_title: "",
            profile: "uncorrected",
        };
        let setup = MeterSetup::new().expect("built-in tables");
        take(station, readings, &setup, &circumstances)
    }

    #[test]
    fn a_reading_is_taken_with_its_uncertainty_and_its_circumstances() {
        let reading = taken(Station::Speed, &readings()).expect("taken");
        let main = reading.figures[0];
        assert_eq!(main.quantity, Quantity::SpeedDeviation);
        assert_eq!((main.value, main.uncertainty), (0.125, Some(0.003)));
        assert_eq!(reading.context.input, "Line in (ALSA)");
        assert_eq!(reading.series[0].values.len(), 300);
        assert!((reading.series[0].step_s - 0.05).abs() < 1e-12);
    }

    #[test]
    fn what_is_no_reading_is_not_taken() {
        let told = taken(Station::Flutter, &readings()).expect_err("no flutter");
        assert!(told.starts_with("wow and flutter not taken: "), "{told}");
        assert!(taken(Station::Mechanical, &readings()).is_err());
    }

    #[test]
    fn an_azimuth_with_open_cycles_is_no_azimuth() {
        let mut readings = readings();
        readings.phase.status = Validity::Ok;
        readings.phase.azimuth_arcmin = Some(2.0);
        readings.phase.wander_rms_degrees = Some(0.5);
        readings.phase.ambiguous = true;
        let open = taken(Station::Azimuth, &readings).expect("its wander");
        assert_eq!(open.figure(Quantity::Azimuth), None);
        readings.phase.ambiguous = false;
        let resolved = taken(Station::Azimuth, &readings).expect("taken");
        assert!(resolved.figure(Quantity::Azimuth).is_some());
    }

    #[test]
    fn the_share_of_noise_falls_with_the_root_of_time() {
        assert!((flutter_share(10.0) - 0.1).abs() < 0.001);
        assert!(flutter_share(1000.0) < 0.02);
    }
}
