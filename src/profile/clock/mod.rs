//! The sample clock against the computer's clock.
//!
//! Each time the worker has emptied the ring it notes the frames received so far and *then* the time. Whatever delays
//! either of them (the block that is not full yet, a thread that waits for its turn, a sleep that lasts too long) makes
//! the time too late for the frames and never too early. So frames/rate − time has a sharp upper edge, and the edge
//! rises by the clock's error. That scheduling noise is one-sided, and that the least delay of a window is the one to
//! keep, is the ground of clock-skew estimation in networks: Paxson, 'On calibrating measurements of packet transit
//! times' (SIGMETRICS 1998); Moon, Skelly and Towsley, 'Estimation and removal of clock skew from network delay
//! measurements' (INFOCOM 1999); the clock filter of RFC 5905, section 10. (Titles from memory.)
//!
//! [`ClockWatch`] keeps the edge, second by second, in constant memory; [`fit`] draws the line.
//!
//! The time must be that of the *disciplined* clock, which may jump. A second clock that never jumps tells when it did:
//! what lies before and after shares the slope, not the offset. So do lost frames and suspended time.

mod computer;
mod fit;

pub use computer::ComputerClock;

use self::fit::Fit;
use crate::readings::ClockReading;
use std::time::Duration;

/// The edge is one value for each window of this length.
const WINDOW_S: f64 = 1.0;
/// Values kept; more than that, and neighbours are joined.
const MOST_POINTS: usize = 256;
/// The two computer clocks part by more than this between two looks (and by [`SLEW`] of the time between them) only if
/// one of them was set or stood still.
const STEP_S: f64 = 0.002;
/// The fastest that operating systems slew a clock, as a fraction (`adjtime` of Linux: 500 ppm; twice that).
const SLEW: f64 = 1e-3;
/// Nothing came for so long: the computer slept, or the process was stopped.
const STALL_S: f64 = 2.0;
/// The edge moves by more than this from one second to the next only if frames are missing that nobody told of.
const JUMP_S: f64 = 0.003;

/// Frames received and the time after that.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ClockObservation {
    /// Frames received since the stream began.
    pub frames: u64,
    /// The computer's disciplined clock, from any origin; may jump.
    pub wall: Duration,
    /// A clock that is never set, from any origin.
    pub steady: Duration,
}

/// A value of the edge: mean of one or more windows.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Point {
    /// Time by the disciplined clock, seconds since the first observation.
    time_s: f64,
    /// Frames / nominal rate − time, seconds.
    lead_s: f64,
    /// Windows in it.
    windows: u32,
    /// Points of one stretch share an offset.
    stretch: u32,
}

impl Point {
    fn joined(self, other: Self) -> Self {
        let (a, b) = (f64::from(self.windows), f64::from(other.windows));
        Self {
            time_s: (a * self.time_s + b * other.time_s) / (a + b),
            lead_s: (a * self.lead_s + b * other.lead_s) / (a + b),
            windows: self.windows + other.windows,
            stretch: self.stretch,
        }
    }
}

/// The estimator: takes observations in, tells the clock's error. Constant memory.
#[derive(Clone, Debug)]
pub struct ClockWatch {
    rate_hz: f64,
    origin: Option<(u64, Duration)>,
    last: Option<ClockObservation>,
    /// The open window: its begin, and the earliest arrival in it.
    window: Option<(f64, Point)>,
    /// The last window that was believed.
    believed: Option<Point>,
    /// A window off the line: an outlier if the next comes back, a jump if the next agrees with it.
    doubtful: Option<Point>,
    /// Windows that make the next point.
    joining: Option<Point>,
    windows_a_point: u32,
    points: Vec<Point>,
    stretch: u32,
    breaks: u32,
    fit: Option<Fit>,
}

impl ClockWatch {
    /// For a stream of that nominal rate.
    pub fn new(nominal_rate_hz: f64) -> Self {
        Self {
            rate_hz: nominal_rate_hz,
            origin: None,
            last: None,
            window: None,
            believed: None,
            doubtful: None,
            joining: None,
            windows_a_point: 1,
            points: Vec::with_capacity(MOST_POINTS + 1),
            stretch: 0,
            breaks: 0,
            fit: None,
        }
    }

    /// Takes an observation in. Best several a second; one that brings no new frames says nothing.
    pub fn observe(&mut self, now: ClockObservation) {
        if let Some(last) = self.last.replace(now)
            && is_broken(&last, &now)
        {
            self.break_here();
        }
        let (frames, wall) = *self.origin.get_or_insert((now.frames, now.wall));
        let time_s = seconds_between(wall, now.wall);
        let frames = now.frames as f64 - frames as f64;
        let point = Point {
            time_s,
            lead_s: frames / self.rate_hz - time_s,
            windows: 1,
            stretch: self.stretch,
        };
        match &mut self.window {
            None => self.window = Some((time_s, point)),
            Some((begin_s, earliest)) if time_s - *begin_s < WINDOW_S => {
                if point.lead_s > earliest.lead_s {
                    *earliest = point;
                }
            }
            Some((begin_s, earliest)) => {
                // Windows follow the seconds of the origin, so that a look that comes late does not shift the next.
                let earliest = std::mem::replace(earliest, point);
                *begin_s += WINDOW_S * ((time_s - *begin_s) / WINDOW_S).floor();
                self.window_is_over(earliest);
            }
        }
    }

    /// What follows does not join on: frames are missing, and it is not known how many.
    pub fn break_here(&mut self) {
        self.window = None;
        self.doubtful = None;
        self.start_stretch();
    }

    fn start_stretch(&mut self) {
        if self.believed.take().is_some() {
            self.close_point();
            self.stretch += 1;
            self.breaks += 1;
        }
    }

    fn window_is_over(&mut self, window: Point) {
        let near = |other: &Point| (window.lead_s - other.lead_s).abs() <= JUMP_S + SLEW * WINDOW_S;
        if self.believed.as_ref().is_none_or(near) {
            self.doubtful = None;
            self.believe(window);
        } else if let Some(before) = self.doubtful.take_if(|doubtful| near(doubtful)) {
            self.start_stretch();
            self.believe(before);
            self.believe(window);
        } else {
            self.doubtful = Some(window);
        }
    }

    fn believe(&mut self, window: Point) {
        let window = Point {
            stretch: self.stretch,
            ..window
        };
        self.believed = Some(window);
        let joined = self
            .joining
            .map_or(window, |joining| joining.joined(window));
        self.joining = Some(joined);
        if joined.windows >= self.windows_a_point {
            self.close_point();
        }
        self.fit = fit::fit(&self.points);
    }

    fn close_point(&mut self) {
        let Some(point) = self.joining.take() else {
            return;
        };
        self.points.push(point);
        if self.points.len() >= MOST_POINTS {
            self.make_room();
        }
    }

    /// Joins neighbours of a stretch. Where there are too many stretches for that to help, those of a single point go,
    /// which say nothing of the slope, and then the oldest.
    fn make_room(&mut self) {
        self.windows_a_point *= 2;
        let present = self.stretch;
        let pairs = stretches(&self.points).flat_map(|stretch| stretch.chunks(2));
        let joined: Vec<Point> = pairs
            .filter_map(|pair| pair.iter().copied().reduce(Point::joined))
            .collect();
        self.points.clear();
        let telling = stretches(&joined)
            .filter(|stretch| stretch.len() > 1 || stretch[0].stretch == present)
            .flatten();
        self.points.extend(telling);
        let surplus = self.points.len().saturating_sub(MOST_POINTS * 3 / 4);
        self.points.drain(..surplus);
    }

    /// What is known so far. Whether the computer's clock is right is the caller's to add.
    pub fn reading(&self) -> ClockReading {
        let fit = self.fit;
        ClockReading {
            error_ppm: fit.map(|fit| 1e6 * fit.slope),
            uncertainty_ppm: fit.map(|fit| 1e6 * fit.uncertainty),
            seconds: WINDOW_S * windows(&self.points),
            set_aside_seconds: fit.map_or(0.0, |fit| WINDOW_S * fit.set_aside_windows),
            breaks: self.breaks,
            ..ClockReading::default()
        }
    }
}

/// Runs of points that share an offset.
fn stretches(points: &[Point]) -> impl Iterator<Item = &[Point]> {
    points.chunk_by(|a, b| a.stretch == b.stretch)
}

/// Windows in these points.
fn windows(points: &[Point]) -> f64 {
    points.iter().map(|point| f64::from(point.windows)).sum()
}

/// Whether the computer's clock was set, or the computer stood still, between two looks.
fn is_broken(last: &ClockObservation, now: &ClockObservation) -> bool {
    let wall_s = seconds_between(last.wall, now.wall);
    let steady_s = seconds_between(last.steady, now.steady);
    (wall_s - steady_s).abs() > STEP_S + SLEW * steady_s.abs()
        || steady_s > STALL_S
        || now.frames < last.frames
}

/// From one time to another, seconds; negative where the second is earlier. Exact to a nanosecond.
fn seconds_between(from: Duration, to: Duration) -> f64 {
    match to.checked_sub(from) {
        Some(forward) => forward.as_secs_f64(),
        None => -from.saturating_sub(to).as_secs_f64(),
    }
}
