//! A short delay that lets the averages see a fault before they have swallowed it.
//!
//! Everything that is averaged passes through here 0.4 s late. A block that could not be followed takes its
//! neighbours with it, as far as the filters reach. A short hole is bridged by a straight line, so that the filters
//! behind run on; a long one breaks the stream and they settle anew.

use super::record::Record;

/// How long the gate looks ahead, seconds.
const LOOK_AHEAD_S: f64 = 0.4;
/// How far a fault spreads to either side: the span of the demodulator's filters, seconds.
const GUARD_S: f64 = 0.04;

/// How a record may be used.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Use {
    /// Fully.
    Clean,
    /// Its frequency is a straight line between its neighbours: keep the filters running, count nothing.
    Bridged,
    /// Nothing is known: break off.
    Broken,
}

/// The delay line.
#[derive(Clone, Debug)]
pub struct Gate {
    /// The records held back and the one just given out.
    line: Vec<Record>,
    /// Where the one just given out stands; the oldest held back is the next one round.
    at: usize,
    guard: usize,
    bad_ahead: usize,
    /// Mean frequency of the last record given out clean or bridged, Hz.
    last_hz: Option<f64>,
}

impl Gate {
    /// For `blocks_per_s` records a second.
    pub fn new(blocks_per_s: f64) -> Self {
        Self {
            line: vec![Record::default(); 1 + (LOOK_AHEAD_S * blocks_per_s).ceil() as usize],
            at: 0,
            guard: (GUARD_S * blocks_per_s).ceil() as usize,
            bad_ahead: 0,
            last_hz: None,
        }
    }

    /// Records it holds back.
    pub fn length(&self) -> usize {
        self.line.len() - 1
    }

    /// Lets nothing it holds pass as clean: another tone begins.
    pub fn clear(&mut self) {
        self.line.iter_mut().for_each(|record| record.ok = false);
        self.last_hz = None;
        self.bad_ahead = 0;
    }

    /// Takes the newest record in and lets the oldest out, which is [`Gate::late`] from then on.
    pub fn push(&mut self, record: &Record) -> Use {
        let length = self.line.len();
        let newest = self.at;
        self.line[newest] = *record;
        if record.ok {
            if self.bad_ahead > 0 {
                self.bad_ahead -= 1;
                self.line[newest].ok = false;
            }
        } else {
            self.bad_ahead = self.guard;
            for back in 1..=self.guard.min(length - 1) {
                self.line[(newest + length - back) % length].ok = false;
            }
        }
        self.at = (newest + 1) % length;
        if self.late().ok {
            self.last_hz = Some(self.late().mean_hz());
            return Use::Clean;
        }
        let Some((last_hz, (distance, next_hz))) = self.last_hz.zip(self.next_clean()) else {
            self.last_hz = None;
            return Use::Broken;
        };
        let bridge_hz = last_hz + (next_hz - last_hz) / (distance + 1) as f64;
        self.last_hz = Some(bridge_hz);
        let late = &mut self.line[self.at];
        late.tone_hz.fill(bridge_hz);
        late.wide_hz.fill(bridge_hz);
        Use::Bridged
    }

    /// The record let out last, [`Gate::length`] records late.
    pub fn late(&self) -> &Record {
        &self.line[self.at]
    }

    /// The records held back, oldest first.
    fn held(&self) -> impl Iterator<Item = &Record> {
        let (newer, older) = self.line.split_at(self.at);
        older[1..].iter().chain(newer)
    }

    /// Mean frequency of the clean records held, Hz: what the stream that begins here will be like.
    pub fn mean_ahead_hz(&self) -> Option<f64> {
        let clean = self.held().filter(|record| record.ok);
        let (sum, count) = clean.fold((0.0, 0.0), |(sum, count), record| {
            (sum + record.mean_hz(), count + 1.0)
        });
        (count > 0.0).then(|| sum / count)
    }

    /// Distance (in records from the one just let out) and frequency of the next clean record.
    fn next_clean(&self) -> Option<(usize, f64)> {
        (1..)
            .zip(self.held())
            .find(|(_, record)| record.ok)
            .map(|(distance, record)| (distance, record.mean_hz()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::signal::demodulator::BLOCK;

    fn record(ok: bool, hz: f64) -> Record {
        Record {
            ok,
            tone_hz: [hz; BLOCK],
            ..Record::default()
        }
    }

    #[test]
    fn a_short_hole_is_bridged_with_its_neighbourhood_and_a_long_one_breaks() {
        let mut gate = Gate::new(250.0);
        let (held, guard) = (gate.length(), 10);
        let mut uses = Vec::new();
        for i in 0..1000 {
            let hole = (300..303).contains(&i) || (600..600 + held + 50).contains(&i);
            let usage = gate.push(&record(!hole, i as f64));
            uses.push(usage);
            if usage == Use::Bridged && i < 300 + held + 20 {
                assert!((gate.late().mean_hz() - (i - held) as f64).abs() < 1e-9);
            }
        }
        let at = |i: usize| uses[i + held];
        assert!((0..300 - guard).all(|i| at(i) == Use::Clean));
        assert!((300 - guard..303 + guard).all(|i| at(i) == Use::Bridged));
        assert!((303 + guard..590).all(|i| at(i) == Use::Clean));
        assert_eq!(at(600 - guard), Use::Broken);
        assert_eq!(at(600 + held + 50 + guard), Use::Clean);
    }
}
