//! Pictures of the speed before and after the work: one scale for both, the limit as a band. The same marks are drawn
//! on paper and on the screen.

use crate::bench::{Job, Quantity, Series, SeriesKind, Stage, Station};

/// Room for the numbers at the left, and for title and seconds above and below, in the picture's own unit (points).
const LEFT: f32 = 36.0;
const ABOVE: f32 = 6.0;
const BELOW: f32 = 14.0;
const RIGHT: f32 = 6.0;

/// No tape is so fast; a scale ends here, percent.
const MOST_PERCENT: f32 = 1e5;
/// Longer than any series that was taken, s.
const LONGEST_S: f32 = 86_400.0;

/// A curve of speed deviation over time.
#[derive(Clone, Debug, PartialEq)]
pub struct Picture {
    /// What it shows.
    pub title: String,
    /// The same for somebody who cannot see it.
    pub description: String,
    /// The curve, broken where there was no value: seconds from its start, percent.
    pub pieces: Vec<Vec<(f32, f32)>>,
    /// Length of the time axis, s.
    pub seconds: f32,
    /// The scale reaches from minus to plus this, percent.
    pub reach_percent: f32,
    /// The limits, percent.
    pub band: Option<(f32, f32)>,
}

/// What a line of a picture is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ink {
    /// The frame.
    Frame,
    /// A line of the grid.
    Grid,
    /// Nominal speed.
    Zero,
    /// An edge of the limit band.
    Limit,
    /// The curve.
    Curve,
}

/// Where a text hangs on its point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// It begins there.
    Start,
    /// It has its middle there.
    Middle,
    /// It ends there.
    End,
}

/// One mark of a picture; x to the right, y downwards, points.
#[derive(Clone, Debug, PartialEq)]
pub enum Mark {
    /// The limit band.
    Band {
        /// Left edge.
        x: f32,
        /// Upper edge.
        y: f32,
        /// Width.
        width: f32,
        /// Height.
        height: f32,
    },
    /// A line through points.
    Line(Ink, Vec<(f32, f32)>),
    /// A text on its base line.
    Text(Anchor, (f32, f32), String),
}

/// Size of the texts in a picture, points.
pub const TEXT_SIZE: f32 = 8.0;

/// The pictures as found and as left, those that there are, on one scale.
pub fn speed(job: &Job) -> Vec<Picture> {
    let limit = job.limits.of(Quantity::SpeedDeviation);
    let curves: Vec<_> = Stage::ALL
        .into_iter()
        .filter_map(|stage| Some((stage, curve(job, stage)?)))
        .collect();
    let values = || curves.iter().flat_map(|(_, curve)| curve.values.iter());
    let greatest = values()
        .flatten()
        .filter(|value| value.is_finite())
        .fold(0.0_f32, |most, value| most.max(value.abs()));
    let edges = limit
        .into_iter()
        .flat_map(|limit| [limit.least, limit.greatest]);
    let greatest = edges
        .flatten()
        .fold(greatest, |most, edge| most.max(edge.abs() as f32));
    let reach_percent = round_up(1.08 * greatest.min(MOST_PERCENT));
    let seconds = curves
        .iter()
        .map(|(_, curve)| length(curve))
        .fold(0.0, f32::max);
    let band = limit.map(|limit| {
        let edge = |edge: Option<f64>, open: f32| {
            edge.map_or(open, |edge| {
                (edge as f32).clamp(-MOST_PERCENT, MOST_PERCENT)
            })
        };
        (
            edge(limit.least, -reach_percent),
            edge(limit.greatest, reach_percent),
        )
    });
    curves
        .into_iter()
        .map(|(stage, curve)| Picture {
            title: format!("Speed {}", stage.words()),
            description: description(stage, curve, band),
            pieces: pieces(curve),
            seconds,
            reach_percent,
            band,
        })
        .collect()
}

fn curve(job: &Job, stage: Stage) -> Option<&Series> {
    job.standing(Station::Speed, stage)?
        .series
        .iter()
        .find(|series| series.kind == SeriesKind::SpeedPercent)
        .filter(|series| series.step_s.is_finite() && series.step_s > 0.0)
        .filter(|series| finite(series).count() > 1 && length(series) < LONGEST_S)
}

fn finite(series: &Series) -> impl Iterator<Item = f32> {
    series
        .values
        .iter()
        .flatten()
        .copied()
        .filter(|value| value.is_finite())
}

fn length(series: &Series) -> f32 {
    (series.step_s * (series.values.len() - 1) as f64) as f32
}

fn description(stage: Stage, series: &Series, band: Option<(f32, f32)>) -> String {
    let least = finite(series).fold(f32::INFINITY, f32::min);
    let greatest = finite(series).fold(f32::NEG_INFINITY, f32::max);
    let number = |value: f32| super::words::number(value.into(), 2, true);
    let limits = match band {
        Some((from, to)) => format!("the limits are {} % and {} %", number(from), number(to)),
        None => "no limit is set".into(),
    };
    format!(
        "Speed deviation {} over {:.0} s: between {} % and {} %; {limits}.",
        stage.words(),
        length(series),
        number(least),
        number(greatest),
    )
}

fn pieces(series: &Series) -> Vec<Vec<(f32, f32)>> {
    let mut pieces = vec![Vec::new()];
    for (at, value) in series.values.iter().enumerate() {
        match value.filter(|value| value.is_finite()) {
            Some(value) => {
                if let Some(piece) = pieces.last_mut() {
                    piece.push(((at as f64 * series.step_s) as f32, value));
                }
            }
            None => pieces.push(Vec::new()),
        }
    }
    pieces.retain(|piece| piece.len() > 1);
    pieces
}

/// The next round number: a scale's end or a grid's step.
fn round_up(value: f32) -> f32 {
    if value.is_nan() || value <= 1e-3 {
        return 1e-3;
    }
    let power = 10_f32.powf(value.log10().floor());
    let digits = [1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0];
    let digit = digits.into_iter().find(|digit| digit * power >= value);
    digit.unwrap_or(10.0) * power
}

impl Picture {
    /// Everything that is drawn, in a picture of that size.
    pub fn marks(&self, width: f32, height: f32) -> Vec<Mark> {
        let plot = Plot {
            left: LEFT,
            right: width - RIGHT,
            top: ABOVE,
            bottom: height - BELOW,
            seconds: self.seconds.max(1e-3),
            reach: self.reach_percent,
        };
        let mut marks = Vec::new();
        if let Some((from, to)) = self.band {
            let (upper, lower) = (plot.y(to), plot.y(from));
            marks.push(Mark::Band {
                x: plot.left,
                y: upper,
                width: plot.right - plot.left,
                height: lower - upper,
            });
        }
        self.grid(&plot, &mut marks);
        for edge in self.band.into_iter().flat_map(|(from, to)| [from, to]) {
            if edge.abs() < self.reach_percent {
                marks.push(plot.level(Ink::Limit, edge));
            }
        }
        for piece in &self.pieces {
            let points = piece
                .iter()
                .map(|&(s, percent)| (plot.x(s), plot.y(percent)));
            marks.push(Mark::Line(Ink::Curve, points.collect()));
        }
        marks.push(Mark::Line(Ink::Frame, plot.corners()));
        marks
    }

    fn grid(&self, plot: &Plot, marks: &mut Vec<Mark>) {
        let decimals = if self.reach_percent >= 2.0 {
            0
        } else if self.reach_percent >= 0.2 {
            1
        } else {
            3
        };
        for share in [-1.0, -0.5, 0.0, 0.5, 1.0_f32] {
            let percent = share * self.reach_percent;
            let decimals = if (percent * 10_f32.powi(decimals)).fract().abs() > 0.01 {
                decimals + 1
            } else {
                decimals
            };
            let ink = if share == 0.0 { Ink::Zero } else { Ink::Grid };
            marks.push(plot.level(ink, percent));
            let number = super::words::number(percent.into(), decimals as usize, true);
            let text = if share == 1.0 {
                format!("{number}\u{a0}%")
            } else {
                number
            };
            let at = (plot.left - 4.0, plot.y(percent) + 0.36 * TEXT_SIZE);
            marks.push(Mark::Text(Anchor::End, at, text));
        }
        let step = round_up(plot.seconds / 3.5).max(1e-3);
        let under = plot.bottom + 1.3 * TEXT_SIZE;
        let mut at_s = 0.0;
        while at_s <= plot.seconds * 1.0001 {
            let x = plot.x(at_s);
            if at_s > 0.0 && at_s < plot.seconds {
                marks.push(Mark::Line(Ink::Grid, vec![(x, plot.top), (x, plot.bottom)]));
            }
            let number = super::words::number(at_s.into(), usize::from(step < 1.0), false);
            let text = if at_s == 0.0 {
                format!("{number}\u{a0}s")
            } else {
                number
            };
            marks.push(Mark::Text(Anchor::Middle, (x, under), text));
            at_s += step;
        }
    }
}

struct Plot {
    left: f32,
    right: f32,
    top: f32,
    bottom: f32,
    seconds: f32,
    reach: f32,
}

impl Plot {
    fn x(&self, seconds: f32) -> f32 {
        self.left + (self.right - self.left) * seconds / self.seconds
    }

    fn y(&self, percent: f32) -> f32 {
        let share = (percent / self.reach).clamp(-1.0, 1.0);
        0.5 * (self.top + self.bottom) - 0.5 * share * (self.bottom - self.top)
    }

    fn level(&self, ink: Ink, percent: f32) -> Mark {
        let y = self.y(percent);
        Mark::Line(ink, vec![(self.left, y), (self.right, y)])
    }

    fn corners(&self) -> Vec<(f32, f32)> {
        vec![
            (self.left, self.top),
            (self.right, self.top),
            (self.right, self.bottom),
            (self.left, self.bottom),
            (self.left, self.top),
        ]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_scale_ends_on_a_round_number() {
        for (value, round) in [
            (1.42, 1.5),
            (0.5, 0.5),
            (0.51, 0.6),
            (0.03, 0.03),
            (7.0, 8.0),
            (1.6, 2.0),
        ] {
            assert!((round_up(value) - round).abs() < 1e-6, "{value}");
        }
        assert!(round_up(f32::NAN) > 0.0 && round_up(0.0) > 0.0);
    }

    #[test]
    fn a_curve_is_broken_where_there_was_no_value() {
        let series = Series {
            kind: SeriesKind::SpeedPercent,
            step_s: 0.5,
            values: vec![
                Some(0.1),
                Some(0.2),
                None,
                Some(f32::NAN),
                Some(0.3),
                Some(0.4),
            ],
        };
        let pieces = pieces(&series);
        assert_eq!(pieces.len(), 2);
        assert_eq!(pieces[1], [(2.0, 0.3), (2.5, 0.4)]);
    }
}
