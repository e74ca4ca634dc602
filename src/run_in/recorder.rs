//! Snapshots in, lines out: readings each few seconds, events as they become certain.

use super::{
    events::EventWatch,
    gatherer::Gatherer,
    line::{End, Happening, Line, LoggedEvent},
};
use crate::readings::{InputState, Readings};

/// Turns snapshots into the lines of a log. It is told the time, and of constant size.
#[derive(Clone, Debug)]
pub struct Recorder {
    every_s: f64,
    interval: Gatherer,
    events: EventWatch,
    /// When the next reading is due.
    due_s: f64,
    /// When the last one was written.
    closed_s: f64,
}

impl Recorder {
    /// A recorder that makes a reading each `every_s` seconds.
    pub fn new(every_s: f64) -> Self {
        Self {
            every_s,
            interval: Gatherer::default(),
            events: EventWatch::default(),
            due_s: every_s,
            closed_s: 0.0,
        }
    }

    /// Takes the snapshot of the moment `at_s`, seconds since the start; writes what is to be kept.
    pub fn take(&mut self, readings: &Readings, at_s: f64, write: &mut impl FnMut(Line)) {
        // The last snapshot of a source sums up all of it; it is no reading of these seconds.
        if matches!(
            readings.source.state,
            InputState::Ended | InputState::Failed(_)
        ) {
            return;
        }
        let mut events = Vec::new();
        self.events
            .take(readings, at_s, &mut |event| events.push(event));
        for event in events {
            self.part_at(&event, at_s, write);
            write(Line::Event(event));
        }
        self.interval.note_status(readings);
        // A tone that is going or coming is neither the deck running nor the deck standing.
        if !self.events.is_in_doubt() {
            self.interval.take(readings, at_s);
        }
        if at_s + 1e-9 >= self.due_s {
            self.close(at_s, write);
            self.events
                .close_interval(readings, at_s, &mut |event| write(Line::Event(event)));
        }
    }

    /// The run is over.
    pub fn finish(&mut self, at_s: f64, why: &str, write: &mut impl FnMut(Line)) {
        if !self.interval.is_empty() {
            self.close(at_s, write);
        }
        write(Line::End(End {
            at_s,
            why: why.into(),
        }));
    }

    /// What was heard before the tone went and what after it came back are no mean of each other.
    fn part_at(&mut self, event: &LoggedEvent, at_s: f64, write: &mut impl FnMut(Line)) {
        let parts = matches!(
            event.what,
            Happening::ToneLost { .. } | Happening::ToneBack { .. } | Happening::SpeedMoved
        );
        if parts && !self.interval.is_empty() {
            self.close(event.at_s, write);
            self.due_s = at_s + self.every_s;
        }
    }

    fn close(&mut self, at_s: f64, write: &mut impl FnMut(Line)) {
        // An event is told when it is certain, a while after it happened; time does not go back in the file.
        self.closed_s = self.closed_s.max(at_s);
        write(Line::Reading(self.interval.close(self.closed_s)));
        while self.due_s <= at_s + 1e-9 {
            // Whole steps, so that the rhythm stays; after a suspended hour there is no burst to make up for.
            self.due_s +=
                self.every_s * (1.0 + ((at_s - self.due_s) / self.every_s).floor().max(0.0));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{super::example::snapshot, *};
    use crate::readings::Validity;

    fn lines(seconds: u32, change: impl Fn(f64, &mut Readings)) -> Vec<Line> {
        let mut recorder = Recorder::new(5.0);
        let mut lines = Vec::new();
        for tick in 1..=seconds * 30 {
            let at_s = f64::from(tick) / 30.0;
            let mut readings = snapshot();
            change(at_s, &mut readings);
            recorder.take(&readings, at_s, &mut |line| lines.push(line));
        }
        lines
    }

    #[test]
    fn a_reading_comes_each_interval_and_is_the_mean_of_it() {
        let lines = lines(60, |at_s, readings| {
            readings.speed.quick.deviation_percent = Some(0.001 * at_s);
        });
        assert_eq!(lines.len(), 12, "{lines:?}");
        for (index, line) in lines.iter().enumerate() {
            let Line::Reading(reading) = line else {
                panic!("{line:?}");
            };
            let end_s = 5.0 * (index + 1) as f64;
            assert!((reading.at_s - end_s).abs() < 1e-6);
            // Of a ramp the mean is the value in the middle; samples are a quarter of a second apart.
            let middle = 0.001 * (end_s - 2.5);
            assert!(
                (reading.speed_percent.unwrap_or(9.0) - middle).abs() < 0.000_2,
                "{reading:?}"
            );
            assert!((4.5..=5.25).contains(&reading.seconds), "{reading:?}");
        }
    }

    #[test]
    fn the_interval_is_parted_where_the_tone_goes() {
        let lines = lines(30, |at_s, readings| {
            if at_s > 12.0 && at_s < 17.0 {
                readings.tone.status = Validity::NoSignal;
                readings.speed.quick.deviation_percent = None;
            } else {
                let side = if at_s < 15.0 { -1.0 } else { 1.0 };
                readings.phase.quick_delay_us = Some(side * 11.0);
                readings.phase.quick_azimuth_arcmin = Some(side * 2.0);
            }
        });
        let azimuths: Vec<_> = lines
            .iter()
            .filter_map(|line| match line {
                Line::Reading(reading) => reading.azimuth_arcmin,
                _ => None,
            })
            .collect();
        assert!(
            azimuths
                .iter()
                .all(|arcmin| (arcmin.abs() - 2.0).abs() < 1e-9),
            "{azimuths:?}"
        );
        let kinds: Vec<_> = lines
            .iter()
            .filter(|line| matches!(line, Line::Event(_)))
            .collect();
        assert_eq!(kinds.len(), 2, "{lines:?}");
    }

    #[test]
    fn open_cycles_are_not_averaged_across_their_border() {
        // Half a cycle of 3150 Hz is 158.7 µs; the delay wanders across it.
        let lines = lines(5, |at_s, readings| {
            let cycle_us = 1e6 / 3150.0;
            let delay_us = 158.0 + 2.0 * (at_s * 3.0).sin();
            let wrapped_us = delay_us - (delay_us / cycle_us).round() * cycle_us;
            readings.phase.ambiguous = true;
            readings.phase.tone_hz = Some(3150.0);
            readings.phase.quick_delay_us = Some(wrapped_us);
            readings.phase.quick_azimuth_arcmin = Some(wrapped_us * 0.182);
        });
        let Line::Reading(reading) = &lines[0] else {
            panic!("{lines:?}");
        };
        let delay_us = reading.delay_us.unwrap_or_default();
        let off_us = (delay_us.abs() - 158.0)
            .abs()
            .min((delay_us.abs() - 159.5).abs());
        assert!(off_us < 1.5, "{reading:?}");
        assert!((reading.azimuth_arcmin.unwrap_or_default() - 0.182 * delay_us).abs() < 1e-9);
    }

    #[test]
    fn a_suspended_hour_makes_one_reading_and_no_burst() {
        let mut recorder = Recorder::new(5.0);
        let mut count = 0;
        for at_s in [1.0, 4.0, 3600.0, 3601.0, 3604.9] {
            recorder.take(&snapshot(), at_s, &mut |_| count += 1);
        }
        assert_eq!(count, 1);
        recorder.take(&snapshot(), 3605.0, &mut |_| count += 1);
        assert_eq!(count, 2);
    }

    #[test]
    fn the_sum_of_a_source_that_has_ended_is_no_reading() {
        let mut recorder = Recorder::new(5.0);
        let mut readings = snapshot();
        readings.source.state = InputState::Ended;
        recorder.take(&readings, 100.0, &mut |line| panic!("{line:?}"));
        let mut lines = Vec::new();
        recorder.finish(100.0, "the signal ended", &mut |line| lines.push(line));
        assert!(matches!(lines[..], [Line::End(_)]));
    }
}
