//! What `watch` does beside showing the readings: keeping a run-in log, playing the sound guide.

use super::{ConsoleError, settings::WatchSettings};
use crate::{
    guide::{Aim, CAUTION, GuidePlayer},
    readings::{InputState, Readings},
    run_in::RunInLog,
};
use std::time::Instant;

/// What follows the snapshots beside the face.
pub struct Beside {
    started: Instant,
    log: Option<RunInLog>,
    guide: Option<Guide>,
    /// The time asked for.
    seconds: f64,
    /// Why it would end if it ended now.
    ending: &'static str,
}

/// A guide, what it guides and what is to be said of it.
struct Guide {
    player: GuidePlayer,
    aim: Aim,
    remarks: Vec<String>,
}

impl Guide {
    fn take(&mut self, readings: &Readings) {
        self.player.aim(self.aim.offset(readings));
        let trouble = self.player.trouble(Instant::now()).map(str::to_owned);
        let remark = self.aim.remark(readings).map(str::to_owned);
        self.remarks = [Some(CAUTION.to_owned()), trouble, remark]
            .into_iter()
            .flatten()
            .collect();
    }
}

impl Beside {
    /// Starts what is asked for; `name` is what the source is called.
    ///
    /// # Errors
    /// When the log cannot be kept or the guide cannot be heard.
    pub fn start(settings: &WatchSettings, name: &str) -> Result<Self, ConsoleError> {
        let log = settings.log.as_ref().map(|log| {
            let expected = &settings.expected.words;
            RunInLog::start(&log.path, log.every_s, name, expected)
        });
        let log = log.transpose()?;
        let guide = settings.guide.as_ref().map(|guide| {
            let player = GuidePlayer::start(&guide.output, guide.level_dbfs)?;
            Ok::<_, ConsoleError>(Guide {
                player,
                aim: guide.aim,
                // Read before the first sound: that comes with the first reading.
                remarks: vec![CAUTION.into()],
            })
        });
        Ok(Self {
            started: Instant::now(),
            log,
            guide: guide.transpose()?,
            seconds: settings.seconds.unwrap_or(f64::INFINITY),
            ending: "ended by the technician",
        })
    }

    /// Takes each snapshot that comes.
    pub fn take(&mut self, readings: &Readings) {
        if readings.source.state == InputState::Ended {
            self.ending = "the signal ended";
        } else if readings.source.seconds >= self.seconds {
            self.ending = "the time asked for was over";
        }
        if let Some(guide) = &mut self.guide {
            guide.take(readings);
        }
        if let Some(log) = &mut self.log {
            log.take(readings, self.started.elapsed().as_secs_f64());
        }
    }

    /// What the technician should know of it at this moment.
    pub fn remarks(&self) -> Vec<String> {
        let log = self.log.iter().filter_map(RunInLog::trouble);
        let guide = self.guide.iter().flat_map(|guide| guide.remarks.clone());
        log.chain(guide).collect()
    }

    /// Ends it in order.
    ///
    /// # Errors
    /// When lines of the log could not be written to the end.
    pub fn finish(self) -> Result<(), ConsoleError> {
        match self.log.and_then(|log| log.finish(self.ending)) {
            Some(trouble) => Err(ConsoleError::Refused(trouble)),
            None => Ok(()),
        }
    }
}
