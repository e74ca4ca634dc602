//! Which whole cycle it is, by the treble: a tilted head loses level on each track, 20·lg|sin x / x| with
//! x = π·w·tan α / λ (textbook formula), so the level's course while the screw turns tells where it stands upright.
//!
//! In cycles of the phase between the tracks, u = d·tan α / λ, the loss is that of x = π·u·w/d whatever the tone: a
//! property of the head alone. One level says nothing, because nobody knows how loud this deck plays that tone upright.
//! Two levels a turn of the screw apart say how the loss changed; a candidate that would have made another change is
//! out. Told only where one candidate fits on both channels and every other one misses by far.

use super::phase_follower::Place;

/// Places a cycle is divided into.
const PER_CYCLE: f64 = 16.0;
/// Places kept, the path's start in the middle: ±16 cycles.
const PLACES: usize = 512;
/// A level holds that stood for so many blocks (12 ms)...
const LEAST_BLOCKS: u32 = 3;
/// ...and follows what comes later with this memory, blocks.
const MEMORY_BLOCKS: u32 = 64;
/// A candidate fits whose levels are this near, rms, as a share of the greatest amplitude; common practice, no source:
/// the level of a tape wanders by half a decibel, and tracks differ from their nominal width.
const FITS: f64 = 0.08;
/// The others have to miss by at least this...
const MISSES: f64 = 0.12;
/// ...and by so many times as much as the one that fits.
const CLEARLY: f64 = 3.0;

/// Mean amplitudes of both channels at one place.
#[derive(Clone, Copy, Debug, Default)]
struct Level {
    amplitudes: [f64; 2],
    blocks: u32,
}

/// Levels over the places that the screw has been at, on one path.
#[derive(Clone, Debug)]
pub struct LossCourse {
    /// The path it is of, and the turns in the middle of the places; `None` before the first block.
    of: Option<(u32, f64)>,
    levels: Vec<Level>,
    visited: usize,
}

impl LossCourse {
    /// Nothing seen yet.
    pub fn new() -> Self {
        Self {
            of: None,
            levels: vec![Level::default(); PLACES],
            visited: 0,
        }
    }

    /// Forgets everything.
    pub fn clear(&mut self) {
        self.levels.fill(Level::default());
        self.visited = 0;
        self.of = None;
    }

    /// Takes a block's tone powers in; levels of another path are forgotten.
    pub fn push(&mut self, place: Place, powers: [f64; 2]) {
        let start = match self.of {
            Some((path, start)) if path == place.path => start,
            _ => {
                self.clear();
                let start = place.turns.round();
                self.of = Some((place.path, start));
                start
            }
        };
        let index = ((place.turns - start) * PER_CYCLE).round() + (PLACES / 2) as f64;
        if !(0.0..PLACES as f64).contains(&index) {
            return;
        }
        let level = &mut self.levels[index as usize];
        level.blocks = (level.blocks + 1).min(MEMORY_BLOCKS);
        for (mean, power) in level.amplitudes.iter_mut().zip(powers) {
            *mean += (power.sqrt() - *mean) / f64::from(level.blocks);
        }
        self.visited += usize::from(level.blocks == LEAST_BLOCKS);
    }

    /// Places with a level: the course has something new to say when there are more.
    pub fn visited(&self) -> usize {
        self.visited
    }

    /// How many turns are to be added to those of the path, out of `candidates`; `width` is the track's against the
    /// distance of the tracks. `None` while the levels do not tell.
    pub fn conclude(
        &self,
        candidates: impl Iterator<Item = f64> + Clone,
        width: f64,
    ) -> Option<f64> {
        let fits = candidates.map(|offset| (offset, self.misfit(offset, width)));
        let (best, of_best) = fits
            .clone()
            .min_by(|a, b| size(a.1).total_cmp(&size(b.1)))?;
        if of_best.iter().any(|misfit| *misfit > FITS) {
            return None;
        }
        let clearly = MISSES.max(CLEARLY * size(of_best));
        let mut others = fits.filter(|(offset, _)| *offset != best).peekable();
        let there_are_others = others.peek().is_some();
        let others_miss = others.all(|(_, misfit)| size(misfit) >= clearly);
        (there_are_others && others_miss).then_some(best)
    }

    /// How far each channel's amplitudes are off the best course of a candidate, rms, as a share of the greatest.
    fn misfit(&self, offset: f64, width: f64) -> [f64; 2] {
        let start = self.of.map_or(0.0, |(_, start)| start);
        let mut moments = [[0.0; 3]; 2];
        let mut greatest = [0.0_f64; 2];
        let mut count = 0.0;
        for (index, level) in self.levels.iter().enumerate() {
            if level.blocks < LEAST_BLOCKS {
                continue;
            }
            let turns = start + (index as f64 - (PLACES / 2) as f64) / PER_CYCLE + offset;
            let expected = remaining(turns, width);
            count += 1.0;
            for (channel, amplitude) in level.amplitudes.into_iter().enumerate() {
                let [aa, ae, ee] = &mut moments[channel];
                *aa += amplitude * amplitude;
                *ae += amplitude * expected;
                *ee += expected * expected;
                greatest[channel] = greatest[channel].max(amplitude);
            }
        }
        std::array::from_fn(|channel| {
            let [aa, ae, ee] = moments[channel];
            if ee <= 0.0 || greatest[channel] <= 0.0 {
                return f64::INFINITY;
            }
            ((aa - ae * ae / ee).max(0.0) / count).sqrt() / greatest[channel]
        })
    }
}

fn size(misfit: [f64; 2]) -> f64 {
    (0.5 * (misfit[0] * misfit[0] + misfit[1] * misfit[1])).sqrt()
}

/// What a track keeps of its amplitude with the phase at `turns`: |sin x / x|, x = π·turns·width.
fn remaining(turns: f64, width: f64) -> f64 {
    let x = std::f64::consts::PI * turns * width;
    if x.abs() < 1e-6 {
        1.0
    } else {
        (x.sin() / x).abs()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const CASSETTE: f64 = 0.6 / 0.9;

    /// The course of a screw from one azimuth to another, in cycles; the path's own count is `shift` less.
    fn course(from: f64, to: f64, shift: f64, level: impl Fn(f64) -> f64) -> LossCourse {
        let mut course = LossCourse::new();
        for i in 0..=1000 {
            let turns = from + (to - from) * f64::from(i) / 1000.0;
            let x = std::f64::consts::PI * CASSETTE * turns;
            let kept = if x == 0.0 { 1.0 } else { (x.sin() / x).abs() };
            let place = Place {
                turns: turns - shift,
                path: 3,
            };
            let amplitude = 0.2 * kept * level(turns);
            course.push(place, [amplitude.powi(2), 0.5 * amplitude.powi(2)]);
        }
        course
    }

    fn concluded(course: &LossCourse) -> Option<f64> {
        course.conclude((-3..=3).map(f64::from), CASSETTE)
    }

    #[test]
    fn a_screw_turned_through_the_loudest_place_tells_the_cycle() {
        for (from, to) in [(-1.2, 0.6), (1.3, -0.4), (0.5, -1.0), (-0.8, 0.6)] {
            for shift in [-1.0, 0.0, 2.0] {
                let told = concluded(&course(from, to, shift, |_| 1.0));
                assert_eq!(told, Some(shift), "{from} to {to}");
                // Half a decibel of wander changes nothing.
                let wandering = course(from, to, shift, |turns| 1.0 + 0.06 * (23.0 * turns).sin());
                assert_eq!(concluded(&wandering), Some(shift), "{from} to {to}");
            }
        }
    }

    #[test]
    fn a_level_without_a_change_tells_nothing() {
        assert_eq!(concluded(&course(0.05, 0.05, 1.0, |_| 1.0)), None);
        assert_eq!(concluded(&course(-0.05, 0.05, 1.0, |_| 1.0)), None);
        assert_eq!(concluded(&LossCourse::new()), None);
    }

    #[test]
    fn a_level_that_somebody_else_changes_tells_nothing() {
        // A trimmer turned by 6 dB on the way fits no head.
        let turned = course(-1.0, 0.6, 0.0, |turns| if turns > -0.2 { 0.5 } else { 1.0 });
        assert_eq!(concluded(&turned), None);
    }
}
