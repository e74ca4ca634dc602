//! One open input: its worker, its newest readings, and the display that may be held.

use super::{
    inputs::OpenInput,
    mailbox::{Mailbox, Pace},
    model::{Adjustment, Follower, Glance},
    screwdrivers::Screwdrivers,
};
use crate::{
    meters::MeterSetup,
    profile::{Heard, ListenFor},
    readings::{InputState, Readings},
    run_in::Feed,
    tables::Limits,
    worker::{Request, Worker},
};
use crossbeam_channel::Sender;
use std::sync::Arc;

/// Snapshots come 30 times a second; none for this long while samples should arrive means that the meters hang.
const STALLED_AFTER_S: f64 = 1.5;

/// One open input.
pub struct Session {
    worker: Worker,
    mailbox: Mailbox,
    screwdrivers: Option<Box<dyn Screwdrivers>>,
    followers: [Follower; 4],
    live: Option<Arc<Readings>>,
    held: Option<Held>,
    last_news_s: f64,
}

struct Held {
    readings: Arc<Readings>,
    glances: [Glance; 4],
}

impl Session {
    /// Takes over an input at window time `now_s`.
    pub fn new(input: OpenInput, mailbox: Mailbox, limits: &Limits, now_s: f64) -> Self {
        mailbox.attach(input.worker.readings.clone());
        Self {
            worker: input.worker,
            mailbox,
            screwdrivers: input.screwdrivers,
            followers: Adjustment::ALL.map(|adjustment| Follower::new(adjustment, limits)),
            live: None,
            held: None,
            last_news_s: now_s,
        }
    }

    /// Takes the newest snapshot, if there is one.
    pub fn take_news(&mut self, limits: &Limits, now_s: f64) {
        if let Some(readings) = self.mailbox.take() {
            let readings = if is_gone(&readings.source.state) {
                Arc::new(without_numbers(&readings))
            } else {
                readings
            };
            for follower in &mut self.followers {
                follower.follow(&readings, limits);
            }
            self.live = Some(readings);
            self.last_news_s = now_s;
        } else if self.is_stalled(now_s) {
            self.followers.iter_mut().for_each(Follower::stall);
            self.live = self
                .live
                .as_ref()
                .map(|live| Arc::new(without_numbers(live)));
        }
    }

    /// Whether samples should arrive but no snapshots do.
    pub fn is_stalled(&self, now_s: f64) -> bool {
        let should_run = self
            .live
            .as_ref()
            .is_none_or(|live| is_running(&live.source.state));
        self.mailbox.worker_ended() || (should_run && now_s - self.last_news_s > STALLED_AFTER_S)
    }

    /// After how many seconds to look again even if nobody wakes us; `None` when nothing is expected.
    pub fn look_again_after_s(&self) -> Option<f64> {
        let live = self.live.as_ref()?;
        is_running(&live.source.state).then_some(STALLED_AFTER_S)
    }

    /// The newest readings.
    pub fn live(&self) -> Option<&Arc<Readings>> {
        self.live.as_ref()
    }

    /// The readings to show: the newest, or those held.
    pub fn shown(&self) -> Option<&Arc<Readings>> {
        self.held
            .as_ref()
            .map(|held| &held.readings)
            .or(self.live.as_ref())
    }

    /// What to show of one adjustment.
    pub fn glance(&self, adjustment: Adjustment) -> &Glance {
        match &self.held {
            Some(held) => &held.glances[adjustment.index()],
            None => self.followers[adjustment.index()].glance(),
        }
    }

    /// Whether the display is held.
    pub fn is_held(&self) -> bool {
        self.held.is_some()
    }

    /// Holds the display, or lets it go on.
    pub fn toggle_hold(&mut self) {
        self.held = match (self.held.take(), &self.live) {
            (None, Some(live)) => Some(Held {
                readings: live.clone(),
                glances: self.followers.each_ref().map(held_glance),
            }),
            _ => None,
        };
        self.be_seen();
    }

    /// Tells the mailbox that the window is on screen.
    pub fn be_seen(&self) {
        self.mailbox.set_pace(if self.is_held() {
            Pace::Held
        } else {
            Pace::Live
        });
    }

    /// Tells the mailbox that the newest readings are needed though older ones are held on the screen.
    pub fn be_heard(&self) {
        self.mailbox.set_pace(Pace::Live);
    }

    /// Tells the mailbox that the window is hidden.
    pub fn be_hidden(&self) {
        self.mailbox.set_pace(Pace::Hidden);
    }

    /// Hands every snapshot to a run, too.
    pub fn feed(&self, feed: Feed) {
        self.mailbox.feed(feed);
    }

    /// What can be turned on a virtual deck.
    pub fn screwdrivers(&mut self) -> Option<&mut (dyn Screwdrivers + 'static)> {
        self.screwdrivers.as_deref_mut()
    }

    /// Whether this input has something to turn.
    pub fn has_screwdrivers(&self) -> bool {
        self.screwdrivers.is_some()
    }

    /// Uses these settings from now on; false when the worker has ended.
    pub fn change_setup(&self, setup: &MeterSetup) -> bool {
        let request = Request::ChangeSetup(Box::new(setup.clone()));
        self.worker.requests.send(request).is_ok()
    }

    /// Measures the interface by listening to both inputs; false when the worker has ended.
    pub fn listen(&self, to: ListenFor, told: Sender<Heard>) -> bool {
        let request = Request::Listen { to, told };
        self.worker.requests.send(request).is_ok()
    }

    /// Listens no more.
    pub fn stop_listening(&self) {
        // A worker that has ended does not listen either.
        let _ended = self.worker.requests.send(Request::StopListening);
    }

    /// Starts all averages anew; false when the worker has ended.
    pub fn reset_averages(&self) -> bool {
        self.worker.requests.send(Request::ResetAverages).is_ok()
    }
}

/// A held number is that of the moment: nothing moves any more that would have to be calmed.
fn held_glance(follower: &Follower) -> Glance {
    let glance = follower.glance().clone();
    Glance {
        digits: glance.figure,
        ..glance
    }
}

fn is_running(state: &InputState) -> bool {
    matches!(state, InputState::Running | InputState::Opening)
}

fn is_gone(state: &InputState) -> bool {
    matches!(state, InputState::Lost(_) | InputState::Failed(_))
}

/// The account of the input and the trails so far, but no reading: what an input that is gone once read must not
/// pass for live.
fn without_numbers(readings: &Readings) -> Readings {
    let mut bare = Readings::empty(readings.source.clone());
    bare.speed.trail = readings.speed.trail.clone();
    bare.flutter.trail = readings.flutter.trail.clone();
    bare.flutter.pointer_trail = readings.flutter.pointer_trail.clone();
    bare.level.left.trail = readings.level.left.trail.clone();
    bare.level.right.trail = readings.level.right.trail.clone();
    bare.phase.trail = readings.phase.trail.clone();
    bare.notices = readings.notices.clone();
    bare
}
