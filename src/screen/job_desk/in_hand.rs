//! The job in hand: what the record has of it, and behind that what still waits to get there.

use super::Which;
use crate::bench::{
    Job,
    keeping::{Entry, EntryId},
    store::KeptJob,
};
use jiff::Timestamp;

/// The job in hand. Each list of [`Which`] is in the order of the job's own.
#[derive(Clone, Debug, PartialEq)]
pub struct InHand {
    /// The job, with what waits.
    pub job: Job,
    /// Of its readings.
    pub readings: Vec<Which>,
    /// Of its mechanical checks.
    pub checks: Vec<Which>,
    /// Of its stations left out.
    pub skips: Vec<Which>,
    /// Of its parts.
    pub parts: Vec<Which>,
    /// Of its notes.
    pub notes: Vec<Which>,
    /// Earlier jobs of its deck, the newest first, without series.
    pub earlier: Vec<Job>,
}

impl InHand {
    /// A job out of the record, with what waits for it in memory.
    pub fn new(kept: KeptJob, waiting: impl IntoIterator<Item = Entry>, earlier: Vec<Job>) -> Self {
        fn all<T: Copy>(ids: &[T], id: fn(T) -> EntryId) -> Vec<Which> {
            ids.iter().map(|&one| Which::Kept(id(one))).collect()
        }
        let mut in_hand = Self {
            readings: all(&kept.readings, EntryId::Reading),
            checks: all(&kept.checks, EntryId::Check),
            skips: all(&kept.skips, EntryId::Skip),
            parts: all(&kept.parts, EntryId::Part),
            notes: all(&kept.notes, EntryId::Note),
            job: kept.job,
            earlier,
        };
        for entry in waiting {
            in_hand.add(entry);
        }
        in_hand
    }

    fn add(&mut self, entry: Entry) {
        let job = &mut self.job;
        let list = match entry {
            Entry::Reading(reading) => {
                job.readings.push(reading);
                &mut self.readings
            }
            Entry::Check(check) => {
                job.checks.push(check);
                &mut self.checks
            }
            Entry::Skip(skip) => {
                job.skips.push(skip);
                &mut self.skips
            }
            Entry::Part(part) => {
                job.parts.push(part);
                &mut self.parts
            }
            Entry::Note(note) => {
                job.notes.push(note);
                &mut self.notes
            }
        };
        list.push(Which::Waiting);
    }

    /// All that counts, whatever it is, with its time and how it is found again.
    fn standing(&self) -> impl Iterator<Item = (Timestamp, Which, Entry)> {
        let job = &self.job;
        let readings = job.readings.iter().zip(&self.readings);
        let readings = readings
            .filter(|(reading, _)| reading.withdrawn.is_none())
            .map(|(reading, which)| (reading.at, *which, Entry::Reading(reading.clone())));
        let checks = job.checks.iter().zip(&self.checks);
        let checks = checks
            .filter(|(check, _)| check.withdrawn.is_none())
            .map(|(check, which)| (check.at, *which, Entry::Check(check.clone())));
        let skips = job.skips.iter().zip(&self.skips);
        let skips = skips.map(|(skip, which)| (skip.at, *which, Entry::Skip(skip.clone())));
        let parts = job.parts.iter().zip(&self.parts);
        let parts = parts.map(|(part, which)| (part.at, *which, Entry::Part(part.clone())));
        let notes = job.notes.iter().zip(&self.notes);
        let notes = notes.map(|(note, which)| (note.at, *which, Entry::Note(note.clone())));
        readings
            .chain(checks)
            .chain(skips)
            .chain(parts)
            .chain(notes)
    }

    /// What was entered last and still counts: what undo takes back.
    pub fn last(&self) -> Option<(Which, Entry)> {
        self.standing()
            .max_by_key(|(at, ..)| *at)
            .map(|(_, which, entry)| (which, entry))
    }

    /// How many of its entries wait in memory.
    pub fn waiting(&self) -> usize {
        [
            &self.readings,
            &self.checks,
            &self.skips,
            &self.parts,
            &self.notes,
        ]
        .into_iter()
        .flatten()
        .filter(|which| **which == Which::Waiting)
        .count()
    }
}
