//! Slow work off the drawing thread: listing the inputs, opening one, and looking for its interface's profile.

use super::{
    inputs::{InputChoice, InputList, Inputs, OpenInput, Wake},
    outputs::{Guide, OutputChoices},
};
use crate::{
    guide::GuideError,
    meters::MeterSetup,
    profile::{InterfaceProfile, OwnProfile, ProfileStore},
    readings::SourceDescription,
    source::SourceError,
    tables::TableError,
};
use crossbeam_channel::{Receiver, Sender};
use eframe::egui;
use std::{sync::Arc, thread};

/// What has been done backstage.
pub enum Done {
    /// The list of inputs is there.
    Listed(InputList),
    /// The input asked for last is open, or cannot be opened.
    Opened(Result<OpenInput, SourceError>),
    /// The list of outputs is there.
    OutputsListed(OutputChoices),
    /// The output of that start is open, or cannot be opened.
    GuideStarted(u64, Result<Box<dyn Guide>, GuideError>),
    /// The profile of what runs was looked for.
    Looked(Box<Looked>),
}

/// What a look for a profile came to.
pub struct Looked {
    /// What it was looked for.
    pub description: SourceDescription,
    /// The profile with its name; `None`: there is none.
    pub found: Result<Option<(String, InterfaceProfile)>, TableError>,
}

/// Does it. Only the answer to the last opening, and what was looked for in it, is handed on: an input that
/// was overtaken is closed again.
pub struct Backstage {
    inputs: Arc<dyn Inputs>,
    ctx: egui::Context,
    done_in: Sender<(u64, Done)>,
    done_out: Receiver<(u64, Done)>,
    /// Number of the last opening.
    opening: u64,
    listing: bool,
}

impl Backstage {
    /// Nothing to do yet.
    pub fn new(inputs: Arc<dyn Inputs>, ctx: &egui::Context) -> Self {
        let (done_in, done_out) = crossbeam_channel::unbounded();
        Self {
            inputs,
            ctx: ctx.clone(),
            done_in,
            done_out,
            opening: 0,
            listing: false,
        }
    }

    /// Whether a list is being made.
    pub fn is_listing(&self) -> bool {
        self.listing
    }

    /// Starts listing the inputs, unless that is under way.
    ///
    /// # Errors
    /// When the system cannot start a thread.
    pub fn list(&mut self) -> Result<(), SourceError> {
        if self.listing {
            return Ok(());
        }
        let inputs = self.inputs.clone();
        self.start("list inputs", move || Done::Listed(inputs.list()))?;
        self.listing = true;
        Ok(())
    }

    /// Starts opening an input.
    ///
    /// # Errors
    /// When the system cannot start a thread.
    pub fn open(
        &mut self,
        choice: InputChoice,
        setup: MeterSetup,
        wake: Wake,
    ) -> Result<(), SourceError> {
        self.opening += 1;
        let inputs = self.inputs.clone();
        self.start("open input", move || {
            Done::Opened(inputs.open(&choice, &setup, wake))
        })
    }

    /// Starts listing the outputs.
    ///
    /// # Errors
    /// When the system cannot start a thread.
    pub fn list_outputs(
        &self,
        list: impl FnOnce() -> OutputChoices + Send + 'static,
    ) -> Result<(), SourceError> {
        self.start("list outputs", move || Done::OutputsListed(list()))
    }

    /// Starts opening the guide's output; `number` comes back with it.
    ///
    /// # Errors
    /// When the system cannot start a thread.
    pub fn start_guide(
        &self,
        number: u64,
        open: impl FnOnce() -> Result<Box<dyn Guide>, GuideError> + Send + 'static,
    ) -> Result<(), SourceError> {
        self.start("start guide", move || Done::GuideStarted(number, open()))
    }

    /// Starts looking for the profile of what runs in the input opened last.
    ///
    /// # Errors
    /// When the system cannot start a thread.
    pub fn look_for_profile(
        &self,
        store: ProfileStore,
        description: SourceDescription,
    ) -> Result<(), SourceError> {
        self.start("find profile", move || {
            let found = OwnProfile::find(&store, &description);
            Done::Looked(Box::new(Looked { description, found }))
        })
    }

    /// The next thing that is done.
    pub fn take(&mut self) -> Option<Done> {
        loop {
            match self.done_out.try_recv() {
                Ok((_, Done::Listed(list))) => {
                    self.listing = false;
                    return Some(Done::Listed(list));
                }
                Ok((number, Done::Opened(_) | Done::Looked(_))) if number != self.opening => {}
                Ok((_, done)) => return Some(done),
                Err(_) => return None,
            }
        }
    }

    fn start(
        &self,
        name: &str,
        work: impl FnOnce() -> Done + Send + 'static,
    ) -> Result<(), SourceError> {
        let (done, ctx, number) = (self.done_in.clone(), self.ctx.clone(), self.opening);
        thread::Builder::new()
            .name(name.into())
            .spawn(move || {
                // The window may be gone by now; then nobody wants it.
                let _gone = done.send((number, work()));
                ctx.request_repaint();
            })
            .map(drop)
            .map_err(|error| SourceError(format!("cannot start a thread: {error}")))
    }
}
