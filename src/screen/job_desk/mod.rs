//! The desk at which jobs are kept: the record works on a thread of its own, so that no frame ever waits for a disk.
//!
//! The screen sends [`Errand`]s and takes [`Answer`]s, in the order in which it asked. When nothing is asked for a while,
//! the record looks whether another copy of the program has written, and tries again to save what waits.

mod errand;
mod in_hand;
mod record;
pub mod words;

pub use errand::{Answer, Change, Errand, Listed, Prepared, Standards, ToKeep, Which};
pub use in_hand::InHand;
pub use record::FileRecord;

use crossbeam_channel::{Receiver, RecvTimeoutError, Sender, TryRecvError, bounded, unbounded};
use eframe::egui;
use std::{io, thread, time::Duration};

/// When nothing is asked for so long, the record looks round.
const LOOK_EVERY: Duration = Duration::from_secs(1);
/// A window that closes waits at most so long for the last try to save.
const PATIENCE: Duration = Duration::from_secs(15);

/// Where jobs are kept. Called on the desk's own thread: it may take its time.
pub trait JobRecord: Send {
    /// Does what is asked.
    fn attend(&mut self, errand: Errand) -> Vec<Answer>;

    /// Nothing is asked at the moment: saves what waits if it now can be, and tells what has changed.
    fn look(&mut self) -> Vec<Answer>;

    /// The window closes: a last try to save. What cannot be saved is told in words that carry the readings.
    fn finish(&mut self) -> Option<String>;
}

/// The desk.
pub struct JobDesk {
    errands: Option<Sender<Errand>>,
    answers: Receiver<Answer>,
    farewell: Receiver<Option<String>>,
    has_ended: bool,
}

impl JobDesk {
    /// Starts the record's thread; each answer wakes `ctx`.
    ///
    /// # Errors
    /// When the system cannot start a thread.
    pub fn start(mut record: Box<dyn JobRecord>, ctx: &egui::Context) -> io::Result<Self> {
        let (errands, asked) = unbounded();
        let (answered, answers) = unbounded();
        let (last_words, farewell) = bounded(1);
        let ctx = ctx.clone();
        thread::Builder::new()
            .name("job record".into())
            .spawn(move || {
                serve(&mut *record, &asked, &answered, &ctx);
                // Nobody may be waiting for it any more.
                let _gone = last_words.send(record.finish());
            })?;
        Ok(Self {
            errands: Some(errands),
            answers,
            farewell,
            has_ended: false,
        })
    }

    /// Asks for something; false when the record's thread has ended.
    pub fn ask(&self, errand: Errand) -> bool {
        self.errands
            .as_ref()
            .is_some_and(|errands| errands.send(errand).is_ok())
    }

    /// The next answer.
    pub fn take(&mut self) -> Option<Answer> {
        match self.answers.try_recv() {
            Ok(answer) => Some(answer),
            Err(TryRecvError::Empty) => None,
            Err(TryRecvError::Disconnected) => {
                self.has_ended = true;
                None
            }
        }
    }

    /// Whether the record's thread has ended without being told to, and all its answers are taken.
    pub fn has_ended(&self) -> bool {
        self.has_ended
    }

    /// Lets the record do what it was asked for and save what waits; returns what could not be saved, in words.
    pub fn close(mut self) -> Option<String> {
        self.errands = None;
        match self.farewell.recv_timeout(PATIENCE) {
            Ok(words) => words,
            Err(RecvTimeoutError::Timeout) => Some(format!(
                "the record of the jobs did not answer within {} s: the readings taken last may not be saved",
                PATIENCE.as_secs()
            )),
            Err(RecvTimeoutError::Disconnected) => Some(
                "the record of the jobs ended early: the readings taken last may not be saved"
                    .into(),
            ),
        }
    }
}

/// Attends to errands until the desk closes.
fn serve(
    record: &mut dyn JobRecord,
    asked: &Receiver<Errand>,
    answered: &Sender<Answer>,
    ctx: &egui::Context,
) {
    loop {
        let answers = match asked.recv_timeout(LOOK_EVERY) {
            Ok(errand) => record.attend(errand),
            Err(RecvTimeoutError::Timeout) => record.look(),
            Err(RecvTimeoutError::Disconnected) => return,
        };
        let news = !answers.is_empty();
        for answer in answers {
            // The window may be closing: then nobody listens, and the rest is still done.
            let _gone = answered.send(answer);
        }
        if news {
            ctx.request_repaint();
        }
    }
}

#[cfg(test)]
mod tests;
