//! The slow searches beside a live stream: one job at a time on a thread of their own, so that no needle waits.

use crate::meters::{Analysis, Analyst, MeterBank, Motion};
use crossbeam_channel::{Receiver, Sender, TryRecvError};
use std::thread;

/// A job at work or waiting, and no more: what comes meanwhile is looked at half a second later.
const JOBS: usize = 1;

/// The searching thread of one stream. It ends when this is dropped.
pub(super) struct BackgroundAnalyst {
    jobs: Sender<Motion>,
    results: Receiver<Analysis>,
}

impl BackgroundAnalyst {
    /// Starts it; `None` where the system gives no thread. The bank then has its searches done at the end of the take
    /// only.
    pub(super) fn start() -> Option<Self> {
        let (jobs, jobs_out) = crossbeam_channel::bounded::<Motion>(JOBS);
        let (results_in, results) = crossbeam_channel::bounded(JOBS);
        let mut analyst = Analyst::default();
        thread::Builder::new()
            .name("analyst".into())
            .spawn(move || {
                for motion in jobs_out {
                    if results_in.send(analyst.analyse(motion)).is_err() {
                        return;
                    }
                }
            })
            .ok()?;
        Some(Self { jobs, results })
    }

    /// Brings the bank what is found and takes the next job from it.
    pub(super) fn serve(&self, bank: &mut MeterBank) {
        match self.results.try_recv() {
            Ok(analysis) => bank.take_analysis(analysis),
            Err(TryRecvError::Empty | TryRecvError::Disconnected) => {}
        }
        if self.jobs.is_empty()
            && let Some(motion) = bank.motion_due()
        {
            // The receiver lives as long as the thread, and the channel was empty: only a thread that died refuses.
            let _refused = self.jobs.try_send(motion);
        }
    }
}
