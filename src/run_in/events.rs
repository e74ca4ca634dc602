//! What happens between the readings: the tone going and coming, dropouts, lost samples, a lost input.
//!
//! Only facts are found here, each at its time; what they mean (a stop, the end of the tape, a reversal) shows when
//! it is known what came after, and is judged by the evaluation.

use super::line::{Happening, LoggedEvent};
use crate::readings::{InputState, NoticeCode, Readings, Validity};

/// A tone that is away longer has gone; a shorter absence is a dropout and counted by the meters. As long as the
/// longest dropout they count.
const GONE_AFTER_S: f64 = 1.0;
/// A tone must be there this long to be back: a transport that starts howls before it runs.
const BACK_AFTER_S: f64 = 0.5;
/// Averages that have become shorter by this much began anew.
const RESTARTED_S: f64 = 1.0;

/// Where the tone stands.
#[derive(Clone, Debug, Default)]
enum Tone {
    /// Not heard yet.
    #[default]
    Awaited,
    /// There; last heard at this time.
    There { heard_s: f64 },
    /// Not there, but perhaps only for a moment. `first` is the first status without it.
    Faltering { heard_s: f64, first: Validity },
    /// Gone.
    Gone { heard_s: f64 },
    /// There again since this time, but perhaps only for a moment.
    Returning { heard_s: f64, since_s: f64 },
}

/// Finds events in snapshots. Constant size.
#[derive(Clone, Debug, Default)]
pub struct EventWatch {
    tone: Tone,
    input_lost: bool,
    dropouts: Counter,
    lost_frames: Counter,
    gaps: Counter,
    averaged_s: f64,
}

/// A count that only grows, until it begins anew.
#[derive(Clone, Copy, Debug, Default)]
struct Counter {
    seen: Option<u64>,
    told: u64,
}

impl Counter {
    /// Takes the count; a smaller one began anew.
    fn see(&mut self, count: u64) {
        let before = self.seen.replace(count).unwrap_or(count);
        self.told += if count >= before {
            count - before
        } else {
            count
        };
    }

    /// What has been added since the last time.
    fn tell(&mut self) -> u64 {
        std::mem::take(&mut self.told)
    }
}

impl EventWatch {
    /// Takes the snapshot of the moment `at_s`; tells what has become certain.
    pub fn take(&mut self, readings: &Readings, at_s: f64, tell: &mut impl FnMut(LoggedEvent)) {
        let lost = matches!(readings.source.state, InputState::Lost(_));
        if lost != self.input_lost {
            self.input_lost = lost;
            let what = if lost {
                Happening::InputLost
            } else {
                Happening::InputBack
            };
            tell(LoggedEvent { at_s, what });
        }
        self.lost_frames.see(readings.source.lost_frames);
        self.gaps.see(readings.source.gaps);
        if lost || matches!(readings.source.state, InputState::Opening) {
            return;
        }
        self.dropouts.see(readings.level.dropouts);
        self.watch_tone(readings.tone.status, at_s, tell);
        self.watch_trimmer(readings, at_s, tell);
    }

    /// Tells what was only counted, once an interval.
    pub fn close_interval(
        &mut self,
        readings: &Readings,
        at_s: f64,
        tell: &mut impl FnMut(LoggedEvent),
    ) {
        let count = self.dropouts.tell();
        if count > 0 {
            let what = Happening::Dropouts {
                count,
                deepest_db: readings.level.deepest_dropout_db,
                longest_ms: readings.level.longest_dropout_ms,
            };
            tell(LoggedEvent { at_s, what });
        }
        let (frames, gaps) = (self.lost_frames.tell(), self.gaps.tell());
        if frames > 0 || gaps > 0 {
            let what = Happening::LostSamples { frames, gaps };
            tell(LoggedEvent { at_s, what });
        }
    }

    fn tone_stands(&self) -> bool {
        matches!(self.tone, Tone::There { .. })
    }

    /// Whether the tone is about to go or to come.
    pub fn is_in_doubt(&self) -> bool {
        matches!(self.tone, Tone::Faltering { .. } | Tone::Returning { .. })
    }

    fn watch_tone(&mut self, status: Validity, at_s: f64, tell: &mut impl FnMut(LoggedEvent)) {
        let there = status.is_ok();
        self.tone = match std::mem::take(&mut self.tone) {
            Tone::Awaited | Tone::There { .. } if there => Tone::There { heard_s: at_s },
            Tone::Awaited => Tone::Awaited,
            Tone::There { heard_s } => Tone::Faltering {
                heard_s,
                first: status,
            },
            Tone::Faltering { .. } if there => Tone::There { heard_s: at_s },
            Tone::Faltering { heard_s, first } if at_s - heard_s >= GONE_AFTER_S => {
                let what = Happening::ToneLost {
                    first: first.words().into(),
                    then: status.words().into(),
                };
                tell(LoggedEvent {
                    at_s: heard_s,
                    what,
                });
                Tone::Gone { heard_s }
            }
            Tone::Gone { heard_s } if there => Tone::Returning {
                heard_s,
                since_s: at_s,
            },
            Tone::Returning { heard_s, .. } if !there => Tone::Gone { heard_s },
            Tone::Returning { heard_s, since_s } if at_s - since_s >= BACK_AFTER_S => {
                let what = Happening::ToneBack {
                    gone_s: since_s - heard_s,
                };
                tell(LoggedEvent {
                    at_s: since_s,
                    what,
                });
                Tone::There { heard_s: at_s }
            }
            as_before => as_before,
        };
    }

    /// A speed that is moved makes the meters begin their averages anew while the tone stays.
    fn watch_trimmer(
        &mut self,
        readings: &Readings,
        at_s: f64,
        tell: &mut impl FnMut(LoggedEvent),
    ) {
        let speed = &readings.speed;
        if !self.tone_stands() || !speed.status.is_ok() {
            self.averaged_s = 0.0;
            return;
        }
        let before_s = std::mem::replace(&mut self.averaged_s, speed.averaged_seconds);
        let said = readings
            .notices
            .iter()
            .any(|notice| notice.code == NoticeCode::SpeedMoved);
        if said && speed.averaged_seconds < before_s - RESTARTED_S {
            tell(LoggedEvent {
                at_s,
                what: Happening::SpeedMoved,
            });
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{super::example::snapshot, *};

    /// Feeds a status for each tenth of a second and returns what is told.
    fn told(states: &[(Validity, u32)]) -> Vec<LoggedEvent> {
        let mut watch = EventWatch::default();
        let mut events = Vec::new();
        let mut tick = 0;
        for &(status, tenths) in states {
            for _ in 0..tenths {
                tick += 1;
                let mut readings = snapshot();
                readings.tone.status = status;
                watch.take(&readings, f64::from(tick) * 0.1, &mut |event| {
                    events.push(event)
                });
            }
        }
        events
    }

    #[test]
    fn a_tone_that_goes_and_comes_is_told_at_its_times() {
        let events = told(&[
            (Validity::Ok, 50),
            (Validity::Unsteady, 3),
            (Validity::NoTone, 3),
            (Validity::NoSignal, 34),
            (Validity::Ok, 50),
        ]);
        let [lost, back] = &events[..] else {
            panic!("{events:?}");
        };
        assert!((lost.at_s - 5.0).abs() < 1e-9);
        assert_eq!(
            lost.what,
            Happening::ToneLost {
                first: "unsteady".into(),
                then: "no signal".into()
            }
        );
        assert!((back.at_s - 9.1).abs() < 1e-9);
        let Happening::ToneBack { gone_s } = back.what else {
            panic!("{back:?}");
        };
        assert!((gone_s - 4.1).abs() < 1e-9);
    }

    #[test]
    fn neither_a_dropout_nor_a_howl_is_the_tone_going_or_coming() {
        let short = [
            (Validity::Ok, 50),
            (Validity::Dropout, 9),
            (Validity::Ok, 50),
        ];
        assert_eq!(told(&short), []);
        let howl = [
            (Validity::Ok, 50),
            (Validity::NoSignal, 50),
            (Validity::Ok, 4),
            (Validity::NoSignal, 50),
        ];
        assert_eq!(told(&howl).len(), 1);
        // Silence before the first tone is no event.
        assert_eq!(told(&[(Validity::NoSignal, 100), (Validity::Ok, 50)]), []);
    }

    #[test]
    fn counts_are_told_once_an_interval_and_survive_their_restart() {
        let mut watch = EventWatch::default();
        let mut events = Vec::new();
        for (tick, dropouts) in [5, 5, 7, 0, 1].into_iter().enumerate() {
            let mut readings = snapshot();
            readings.level.dropouts = dropouts;
            readings.source.lost_frames = 100;
            watch.take(&readings, tick as f64, &mut |event| events.push(event));
        }
        watch.close_interval(&snapshot(), 5.0, &mut |event| events.push(event));
        watch.close_interval(&snapshot(), 6.0, &mut |event| events.push(event));
        // What was there before the watch began is not its affair; 2 came before the restart and 1 after it.
        let [
            LoggedEvent {
                at_s,
                what: Happening::Dropouts { count: 3, .. },
            },
        ] = events[..]
        else {
            panic!("{events:?}");
        };
        assert_eq!(at_s, 5.0);
    }

    #[test]
    fn an_input_that_goes_and_comes_is_told_and_is_not_the_tone() {
        let mut watch = EventWatch::default();
        let mut events = Vec::new();
        for tick in 0..100 {
            let mut readings = snapshot();
            if (20..60).contains(&tick) {
                readings.source.state = InputState::Lost("waiting".into());
                readings.tone.status = Validity::InputLost;
            }
            watch.take(&readings, f64::from(tick) * 0.1, &mut |event| {
                events.push(event.what)
            });
        }
        assert_eq!(events, [Happening::InputLost, Happening::InputBack]);
    }

    #[test]
    fn a_moved_speed_is_told_once() {
        let mut watch = EventWatch::default();
        let mut events = Vec::new();
        for (tick, averaged_s) in [10.0, 11.0, 12.0, 0.3, 1.3, 2.3].into_iter().enumerate() {
            let mut readings = snapshot();
            readings.speed.averaged_seconds = averaged_s;
            if tick >= 3 {
                let moved = crate::readings::Notice::new(NoticeCode::SpeedMoved, "moved");
                readings.notices.push(moved);
            }
            watch.take(&readings, tick as f64, &mut |event| events.push(event));
        }
        assert_eq!(events.len(), 1);
        assert_eq!(events[0].at_s, 3.0);
    }
}
