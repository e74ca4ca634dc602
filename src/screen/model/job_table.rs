//! The job's stations as the job page shows them: limit, as found, as left, verdict, tries.

use crate::{
    bench::{
        Check, Figure, Job, Limit, LimitSet, Stage, Station, TakenReading, Verdict, keeping::Entry,
    },
    screen::{
        job_desk::{InHand, Which, words},
        model::{Adjustment, Subject, format, harmless},
    },
};
use jiff::tz::TimeZone;

/// A station of the job at both stages.
#[derive(Clone, Debug, PartialEq)]
pub struct StationRow {
    /// Which.
    pub station: Station,
    /// The limit of its main figure, in words.
    pub limit: String,
    /// As found and as left.
    pub stages: [Cell; 2],
    /// What an earlier job of the deck had there; empty: nothing.
    pub earlier: String,
}

/// What a station has at one stage.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Cell {
    /// The figure that counts, or what stands in its place.
    pub figure: String,
    /// What the limits say of it.
    pub verdict: Option<Verdict>,
    /// The verdict in words, with what it is about, and tries.
    pub words: String,
    /// Whether something counts here, or the station was left out.
    pub done: bool,
    /// Whether something of it is not on disk yet.
    pub waits: bool,
}

/// One try at a station, as its history shows it.
#[derive(Clone, Debug, PartialEq)]
pub struct Try {
    /// Its place among the job's readings or checks.
    pub place: usize,
    /// Time of day, stage, figure, verdict.
    pub words: String,
    /// Whether it was withdrawn.
    pub withdrawn: bool,
    /// Whether it is the one that counts.
    pub counts: bool,
    /// Whether it is not on disk yet.
    pub waits: bool,
}

/// The station of what is in the main view; `None` for the mechanism, which is no station.
pub const fn station_of(subject: Subject) -> Option<Station> {
    match subject {
        Subject::Adjusting(adjustment) => Some(station_of_adjustment(adjustment)),
        Subject::Mechanism => None,
    }
}

/// The station of an adjustment.
pub const fn station_of_adjustment(adjustment: Adjustment) -> Station {
    match adjustment {
        Adjustment::Speed => Station::Speed,
        Adjustment::Flutter => Station::Flutter,
        Adjustment::Azimuth => Station::Azimuth,
        Adjustment::Level => Station::Level,
    }
}

/// The adjustment of a station; `None` for what is typed.
pub const fn adjustment_of(station: Station) -> Option<Adjustment> {
    match station {
        Station::Mechanical => None,
        Station::Speed => Some(Adjustment::Speed),
        Station::Flutter => Some(Adjustment::Flutter),
        Station::Azimuth => Some(Adjustment::Azimuth),
        Station::Level => Some(Adjustment::Level),
    }
}

/// How bad a verdict is, to find the worst.
const fn badness(verdict: Verdict) -> u8 {
    match verdict {
        Verdict::Pass => 0,
        Verdict::Inside => 1,
        Verdict::WithinUncertainty => 2,
        Verdict::Outside => 3,
        Verdict::Fail => 4,
    }
}

/// The worst verdict of some figures, with the figure and its limit; the first of several that are as bad.
pub fn judge<'a>(
    figures: &'a [Figure],
    limits: &'a LimitSet,
) -> Option<(&'a Figure, &'a Limit, Verdict)> {
    let judged = figures.iter().filter_map(|figure| {
        let limit = limits.of(figure.quantity)?;
        Some((figure, limit, Verdict::of(figure, limit)))
    });
    judged.fold(None, |worst, one| match worst {
        Some((.., verdict)) if badness(verdict) >= badness(one.2) => worst,
        _ => Some(one),
    })
}

/// The verdict of some figures in words; it names the figure where that is not the main one.
pub fn verdict_words(figures: &[Figure], limits: &LimitSet) -> String {
    match judge(figures, limits) {
        None => "no limit".into(),
        Some((figure, limit, verdict)) => {
            let main = figures
                .first()
                .is_some_and(|main| main.quantity == figure.quantity);
            if main {
                verdict.words().into()
            } else {
                let name = limit.quantity.name();
                format!("{}: {name} {}", verdict.words(), words::figure(figure))
            }
        }
    }
}

/// The stage that work goes on at: as left as soon as anything was entered there.
pub fn stage_of(job: &Job) -> Stage {
    let left = job.readings.iter().any(|one| one.stage == Stage::AsLeft)
        || job.checks.iter().any(|one| one.stage == Stage::AsLeft)
        || job.skips.iter().any(|one| one.stage == Stage::AsLeft);
    if left { Stage::AsLeft } else { Stage::AsFound }
}

/// The stations in their order.
pub fn rows(in_hand: &InHand, zone: &TimeZone) -> Vec<StationRow> {
    Station::ALL
        .into_iter()
        .map(|station| StationRow {
            station,
            limit: limit(station, &in_hand.job),
            stages: Stage::ALL.map(|stage| cell(in_hand, station, stage)),
            earlier: earlier(station, &in_hand.earlier, zone),
        })
        .collect()
}

/// The first station that lacks something at a stage.
pub fn next_station(rows: &[StationRow], stage: Stage) -> Option<Station> {
    let open = rows.iter().find(|row| !row.stages[stage as usize].done);
    open.map(|row| row.station)
}

/// What is to be done next, in a sentence.
pub fn suggestion(rows: &[StationRow], stage: Stage, closed: bool) -> String {
    if closed {
        return "This job is closed. It can be reopened under 'deck'.".into();
    }
    match (next_station(rows, stage), stage) {
        (Some(station), stage) => format!("Open {}: {}.", stage.words(), station.words()),
        (None, Stage::AsFound) => {
            "As found is complete. When the work is done, a goes on with as left.".into()
        }
        (None, Stage::AsLeft) => {
            "As left is complete: the owner's sheet is made under 'deck'.".into()
        }
    }
}

fn limit(station: Station, job: &Job) -> String {
    let mut of_station = job
        .limits
        .limits
        .iter()
        .filter(|limit| limit.quantity.station() == station);
    if station == Station::Mechanical {
        return match of_station.count() {
            0 => "none".into(),
            count => format::counted(count as u64, "limit", "limits"),
        };
    }
    let main = main_quantities(station)
        .iter()
        .find_map(|&quantity| job.limits.of(quantity));
    main.or_else(|| of_station.next())
        .map_or_else(|| "none".into(), Limit::words)
}

/// What a station is about, the first that has a limit.
const fn main_quantities(station: Station) -> &'static [crate::bench::Quantity] {
    use crate::bench::Quantity;
    match station {
        Station::Mechanical => &[],
        Station::Speed => &[Quantity::SpeedDeviation],
        Station::Flutter => &[Quantity::WeightedTwoSigma, Quantity::WeightedQuasiPeakMax],
        Station::Azimuth => &[Quantity::Azimuth],
        Station::Level => &[Quantity::Balance],
    }
}

fn cell(in_hand: &InHand, station: Station, stage: Stage) -> Cell {
    let job = &in_hand.job;
    let mut cell = match station {
        Station::Mechanical => checks_cell(job, stage),
        _ => reading_cell(job, station, stage),
    };
    if !cell.done
        && let Some(skip) = job.skipped(station, stage)
    {
        cell = Cell {
            figure: "left out".into(),
            words: harmless::line(&skip.reason, 120),
            done: true,
            ..Cell::default()
        };
    }
    cell.waits = waits(in_hand, station, stage);
    cell
}

fn reading_cell(job: &Job, station: Station, stage: Stage) -> Cell {
    let tries = tries_words(job, station, stage);
    let Some(reading) = job.standing(station, stage) else {
        return Cell {
            figure: format::NOTHING.into(),
            words: if tries.is_empty() {
                "not taken".into()
            } else {
                tries
            },
            ..Cell::default()
        };
    };
    let mut words = verdict_words(&reading.figures, &job.limits);
    if !tries.is_empty() {
        words += &format!(" · {tries}");
    }
    Cell {
        figure: words::main(&reading.figures),
        verdict: judge(&reading.figures, &job.limits).map(|(.., verdict)| verdict),
        words,
        done: true,
        waits: false,
    }
}

/// `3 tries, 1 withdrawn`; empty for a single one that stands.
fn tries_words(job: &Job, station: Station, stage: Stage) -> String {
    let withdrawn = job
        .tries(station, stage)
        .filter(|reading| reading.withdrawn.is_some())
        .count() as u64;
    let all = job.tries(station, stage).count() as u64;
    match (all, withdrawn) {
        (0 | 1, 0) => String::new(),
        (all, 0) => format::counted(all, "try", "tries"),
        (all, withdrawn) => format!(
            "{}, {withdrawn} withdrawn",
            format::counted(all, "try", "tries")
        ),
    }
}

/// The checks that count at a stage: the last of each gauge and of each thing looked at.
fn standing_checks(job: &Job, stage: Stage) -> Vec<&Check> {
    let of_stage = job
        .checks
        .iter()
        .filter(|done| done.stage == stage && done.withdrawn.is_none());
    let mut standing: Vec<&Check> = Vec::new();
    for done in of_stage {
        standing.retain(|other| !is_same_check(other, &done.check));
        standing.push(&done.check);
    }
    standing
}

fn is_same_check(one: &Check, other: &Check) -> bool {
    match (one, other) {
        (Check::Gauge { figure: one, .. }, Check::Gauge { figure: other, .. }) => {
            one.quantity == other.quantity
        }
        (Check::Seen { what: one, .. }, Check::Seen { what: other, .. }) => one == other,
        _ => false,
    }
}

/// What the limits, or the eye, say of a check.
pub fn check_verdict(check: &Check, limits: &LimitSet) -> Option<Verdict> {
    match check {
        Check::Gauge { figure, .. } => limits
            .of(figure.quantity)
            .map(|limit| Verdict::of(figure, limit)),
        Check::Seen { good, .. } => {
            good.map(|good| if good { Verdict::Pass } else { Verdict::Fail })
        }
    }
}

fn checks_cell(job: &Job, stage: Stage) -> Cell {
    let standing = standing_checks(job, stage);
    if standing.is_empty() {
        return Cell {
            figure: format::NOTHING.into(),
            words: "not checked".into(),
            ..Cell::default()
        };
    }
    let judged = standing
        .iter()
        .filter_map(|check| check_verdict(check, &job.limits).map(|verdict| (*check, verdict)));
    let worst = judged.max_by_key(|(_, verdict)| badness(*verdict));
    let words = match worst {
        None => "not judged".into(),
        Some((check, verdict)) if badness(verdict) > badness(Verdict::Inside) => {
            format!("{}: {}", verdict.words(), words::check(check))
        }
        Some((_, verdict)) => verdict.words().into(),
    };
    Cell {
        figure: format::counted(standing.len() as u64, "check", "checks"),
        verdict: worst.map(|(_, verdict)| verdict),
        words,
        done: true,
        waits: false,
    }
}

fn waits(in_hand: &InHand, station: Station, stage: Stage) -> bool {
    let is = |which: &Which| *which == Which::Waiting;
    let readings = in_hand.job.readings.iter().zip(&in_hand.readings);
    let checks = in_hand.job.checks.iter().zip(&in_hand.checks);
    let skips = in_hand.job.skips.iter().zip(&in_hand.skips);
    readings
        .into_iter()
        .any(|(one, which)| is(which) && one.station == station && one.stage == stage)
        || checks
            .into_iter()
            .any(|(one, which)| is(which) && station == Station::Mechanical && one.stage == stage)
        || skips
            .into_iter()
            .any(|(one, which)| is(which) && one.station == station && one.stage == stage)
}

/// The history of a station, newest first; both stages.
pub fn tries(in_hand: &InHand, station: Station, zone: &TimeZone) -> Vec<Try> {
    let job = &in_hand.job;
    if station == Station::Mechanical {
        let standing: Vec<_> = Stage::ALL
            .into_iter()
            .flat_map(|stage| standing_checks(job, stage))
            .collect();
        let checks = job.checks.iter().zip(&in_hand.checks).enumerate().rev();
        return checks
            .map(|(place, (done, which))| {
                let verdict = check_verdict(&done.check, &job.limits);
                Try {
                    place,
                    words: format!(
                        "{} {}: {}{}",
                        clock(done.at, zone),
                        done.stage.words(),
                        words::check(&done.check),
                        verdict
                            .map_or_else(String::new, |verdict| format!(", {}", verdict.words()))
                    ),
                    withdrawn: done.withdrawn.is_some(),
                    counts: standing
                        .iter()
                        .any(|check| std::ptr::eq(*check, &raw const done.check)),
                    waits: *which == Which::Waiting,
                }
            })
            .collect();
    }
    let readings = job.readings.iter().zip(&in_hand.readings).enumerate().rev();
    readings
        .filter(|(_, (reading, _))| reading.station == station)
        .map(|(place, (reading, which))| {
            let standing = job.standing(station, reading.stage);
            Try {
                place,
                words: reading_words(reading, &job.limits, zone),
                withdrawn: reading.withdrawn.is_some(),
                counts: standing.is_some_and(|standing| std::ptr::eq(standing, reading)),
                waits: *which == Which::Waiting,
            }
        })
        .collect()
}

fn reading_words(reading: &TakenReading, limits: &LimitSet, zone: &TimeZone) -> String {
    format!(
        "{} {}: {}, {}",
        clock(reading.at, zone),
        reading.stage.words(),
        words::main(&reading.figures),
        verdict_words(&reading.figures, limits)
    )
}

/// Time of day with the day, as the technician's clock has it.
pub fn clock(at: jiff::Timestamp, zone: &TimeZone) -> String {
    at.to_zoned_datetime(zone.clone())
        .strftime("%d %b %H:%M")
        .to_string()
}

/// A date, as the technician's calendar has it.
pub fn clock_date(at: jiff::Timestamp, zone: &TimeZone) -> String {
    at.to_zoned_datetime(zone.clone())
        .strftime("%d %b %Y")
        .to_string()
}

/// A whole job in a line: what each station had in the end.
pub fn in_short(job: &Job) -> String {
    let had = Station::ALL.into_iter().filter_map(|station| {
        let reading = job
            .standing(station, Stage::AsLeft)
            .or_else(|| job.standing(station, Stage::AsFound))?;
        let stage = reading.stage.words();
        Some(format!(
            "{} {} {stage}",
            station.words(),
            words::main(&reading.figures)
        ))
    });
    let all: Vec<_> = had.collect();
    if all.is_empty() {
        "no readings".into()
    } else {
        all.join("; ")
    }
}

/// `azimuth was +1.20 arcmin ±0.30 arcmin as left in March 2026 (HL-0012)`.
fn earlier(station: Station, earlier: &[Job], zone: &TimeZone) -> String {
    let had = earlier.iter().find_map(|job| {
        [Stage::AsLeft, Stage::AsFound]
            .into_iter()
            .find_map(|stage| Some((job, stage, job.standing(station, stage)?)))
    });
    let Some((job, stage, reading)) = had else {
        return String::new();
    };
    format!(
        "{} was {} {} in {} ({})",
        station.words(),
        words::main(&reading.figures),
        stage.words(),
        reading.at.to_zoned_datetime(zone.clone()).strftime("%B %Y"),
        job.number
    )
}

/// What a row says aloud.
pub fn spoken(row: &StationRow) -> String {
    let said = |cell: &Cell, stage: Stage| {
        let waits = if cell.waits { ", not saved yet" } else { "" };
        format!("{} {}, {}{waits}", stage.words(), cell.figure, cell.words)
    };
    format!(
        "limit {}; {}; {}",
        row.limit,
        said(&row.stages[0], Stage::AsFound),
        said(&row.stages[1], Stage::AsLeft)
    )
}

/// Whether an entry can be withdrawn and restored, rather than only removed.
pub const fn is_restorable(entry: &Entry) -> bool {
    matches!(entry, Entry::Reading(_) | Entry::Check(_))
}

#[cfg(test)]
mod tests;
