//! A whole job out of the record, and into it.

use super::{
    CheckId, NoteId, PartId, ReadingId, SkipId, Store, StoreError, Trouble,
    jobs::{self, NewJob, find},
    of_json, of_word,
    readings::{self, points},
    remarks, schema,
    shared::{self, Shared},
    time,
};
use crate::bench::{
    CheckDone, Context, Figure, Job, Note, PartReplaced, Quantity, Series, Skip, TakenReading,
    job_number::check_number, sound,
};
use jiff::Timestamp;
use rusqlite::{Row, Transaction, types::Type};

/// Whether a reading's series are loaded with it.
#[derive(Clone, Copy, PartialEq, Eq)]
enum WithSeries {
    Yes,
    No,
}

/// A job with what its parts are called in this record; each list is in the order of the job's.
#[derive(Clone, Debug, PartialEq)]
pub struct KeptJob {
    /// The job.
    pub job: Job,
    /// Of [`Job::readings`].
    pub readings: Vec<ReadingId>,
    /// Of [`Job::checks`].
    pub checks: Vec<CheckId>,
    /// Of [`Job::skips`].
    pub skips: Vec<SkipId>,
    /// Of [`Job::parts`].
    pub parts: Vec<PartId>,
    /// Of [`Job::notes`].
    pub notes: Vec<NoteId>,
}

/// Earlier jobs that are looked at, the newest.
const MOST_EARLIER: usize = 20;

impl Store {
    /// A whole job.
    ///
    /// # Errors
    /// [`StoreError::Refused`] when there is no job of that number.
    pub fn job(&self, number: &str) -> Result<KeptJob, StoreError> {
        self.read(|transaction| {
            find(transaction, number)?
                .map(|id| load(transaction, id, WithSeries::Yes))
                .transpose()
        })?
        .ok_or_else(|| StoreError::Refused(super::no_job(number)))
    }

    /// The earlier jobs of a job's deck (same model and serial number), the newest first, without the readings' series;
    /// none where the deck has no serial number.
    ///
    /// # Errors
    /// [`StoreError::Refused`] when there is no job of that number.
    pub fn earlier_jobs(&self, number: &str) -> Result<Vec<Job>, StoreError> {
        let of_the_deck = |transaction: &Transaction<'_>, id: i64| {
            let (deck, opened) = transaction.query_row(
                "SELECT deck, opened FROM job WHERE id = ?1",
                [id],
                |row| Ok((row.get(0)?, row.get::<_, i64>(1)?)),
            )?;
            let deck = shared::deck(transaction, deck)?;
            let identity = schema::identity(&deck.model, &deck.serial);
            if identity.is_empty() {
                return Ok(Vec::new());
            }
            let earlier: Vec<i64> = transaction
                .prepare_cached(
                    "SELECT job.id FROM deck JOIN job ON job.deck = deck.id
                     WHERE deck.identity = ?1 AND job.id <> ?2 AND job.opened <= ?3
                     ORDER BY job.opened DESC, job.id DESC LIMIT ?4",
                )?
                .query_map(
                    rusqlite::params![identity, id, opened, MOST_EARLIER as i64],
                    |row| row.get(0),
                )?
                .collect::<Result<_, _>>()?;
            earlier
                .into_iter()
                .map(|id| Ok(load(transaction, id, WithSeries::No)?.job))
                .collect::<rusqlite::Result<_>>()
        };
        self.read(|transaction| {
            find(transaction, number)?
                .map(|id| of_the_deck(transaction, id))
                .transpose()
        })?
        .ok_or_else(|| StoreError::Refused(super::no_job(number)))
    }

    /// Takes in a job from elsewhere, all of it or nothing. Returns whether it is new: the very same job may be taken in
    /// again.
    ///
    /// # Errors
    /// [`StoreError::Refused`] when it makes no sense, or another job of that number is there.
    pub fn import(&mut self, job: &Job) -> Result<bool, StoreError> {
        check_number(&job.number)
            .and_then(|()| sound::check_job(job))
            .map_err(StoreError::Refused)?;
        self.write(|transaction| {
            if let Some(id) = find(transaction, &job.number)? {
                return if load(transaction, id, WithSeries::Yes)?.job == *job {
                    Ok(false)
                } else {
                    Err(Trouble::refused(format!(
                        "there is another job {} already; nothing was changed: give this one another number (--as NUMBER)",
                        job.number
                    )))
                };
            }
            keep(transaction, job)?;
            Ok(true)
        })
    }
}

fn keep(transaction: &Transaction<'_>, job: &Job) -> Result<(), Trouble> {
    let new = NewJob {
        number: job.number.clone(),
        deck: job.deck.clone(),
        opened: job.opened,
        complaint: job.complaint.clone(),
        limits: job.limits.clone(),
        environment: job.environment.clone(),
    };
    let id = jobs::insert(transaction, &new, &job.workshop, job.closed)?;
    for check in &job.checks {
        remarks::insert_check(transaction, id, check)?;
    }
    for reading in &job.readings {
        readings::insert(transaction, id, reading)?;
    }
    for skip in &job.skips {
        remarks::insert_skip(transaction, id, skip)?;
    }
    for part in &job.parts {
        remarks::insert_part(transaction, id, part)?;
    }
    for note in &job.notes {
        remarks::insert_note(transaction, id, note)?;
    }
    readings::count(transaction, id)?;
    Ok(schema::refresh(transaction, id)?)
}

fn load(
    transaction: &Transaction<'_>,
    id: i64,
    with_series: WithSeries,
) -> rusqlite::Result<KeptJob> {
    let mut job = transaction
        .prepare_cached(
            "SELECT number, workshop, deck, limits, opened, closed, complaint, environment FROM job WHERE id = ?1",
        )?
        .query_row([id], |row| {
            Ok(Job {
                number: row.get(0)?,
                workshop: Shared::Workshop.value(transaction, row.get(1)?)?,
                deck: shared::deck(transaction, row.get(2)?)?,
                limits: Shared::Limits.value(transaction, row.get(3)?)?,
                opened: time(4, row.get(4)?)?,
                closed: optional_time(row, 5)?,
                complaint: row.get(6)?,
                environment: of_json(7, &row.get::<_, String>(7)?)?,
                checks: Vec::new(),
                readings: Vec::new(),
                skips: Vec::new(),
                parts: Vec::new(),
                notes: Vec::new(),
            })
        })?;
    let (checks, skips, parts, notes);
    let readings = load_readings(transaction, id, with_series)?;
    (checks, job.checks) = rows(
        transaction,
        id,
        "SELECT id, at, stage, body, withdrawn FROM gauge_or_seen WHERE job = ?1 ORDER BY id",
        |row| {
            let check = CheckDone {
                at: time(1, row.get(1)?)?,
                stage: of_word(2, row.get(2)?)?,
                check: of_json(3, &row.get::<_, String>(3)?)?,
                withdrawn: optional_time(row, 4)?,
            };
            Ok((CheckId(row.get(0)?), check))
        },
    )?;
    (skips, job.skips) = rows(
        transaction,
        id,
        "SELECT id, at, station, stage, reason FROM skip WHERE job = ?1 ORDER BY id",
        |row| {
            let skip = Skip {
                at: time(1, row.get(1)?)?,
                station: of_word(2, row.get(2)?)?,
                stage: of_word(3, row.get(3)?)?,
                reason: row.get(4)?,
            };
            Ok((SkipId(row.get(0)?), skip))
        },
    )?;
    (parts, job.parts) = rows(
        transaction,
        id,
        "SELECT id, at, what FROM part WHERE job = ?1 ORDER BY id",
        |row| {
            let part = PartReplaced {
                at: time(1, row.get(1)?)?,
                what: row.get(2)?,
            };
            Ok((PartId(row.get(0)?), part))
        },
    )?;
    (notes, job.notes) = rows(
        transaction,
        id,
        "SELECT id, at, body, for_owner FROM note WHERE job = ?1 ORDER BY id",
        |row| {
            let note = Note {
                at: time(1, row.get(1)?)?,
                text: row.get(2)?,
                for_owner: row.get(3)?,
            };
            Ok((NoteId(row.get(0)?), note))
        },
    )?;
    let ids;
    (ids, job.readings) = readings;
    Ok(KeptJob {
        job,
        readings: ids,
        checks,
        skips,
        parts,
        notes,
    })
}

/// The rows of a job as two lists.
fn rows<Id, T>(
    transaction: &Transaction<'_>,
    job: i64,
    sql: &str,
    of: impl FnMut(&Row<'_>) -> rusqlite::Result<(Id, T)>,
) -> rusqlite::Result<(Vec<Id>, Vec<T>)> {
    transaction
        .prepare_cached(sql)?
        .query_map([job], of)?
        .collect()
}

fn optional_time(row: &Row<'_>, column: usize) -> rusqlite::Result<Option<Timestamp>> {
    row.get::<_, Option<i64>>(column)?
        .map(|nanoseconds| time(column, nanoseconds))
        .transpose()
}

fn load_readings(
    transaction: &Transaction<'_>,
    job: i64,
    with_series: WithSeries,
) -> rusqlite::Result<(Vec<ReadingId>, Vec<TakenReading>)> {
    rows(
        transaction,
        job,
        "SELECT id, at, station, stage, words, context, averaged_seconds, running_seconds, lost_frames, withdrawn
         FROM reading WHERE job = ?1 ORDER BY id",
        |row| {
            let id: i64 = row.get(0)?;
            let shared: Context = Shared::Context.value(transaction, row.get(5)?)?;
            let reading = TakenReading {
                at: time(1, row.get(1)?)?,
                station: of_word(2, row.get(2)?)?,
                stage: of_word(3, row.get(3)?)?,
                words: row.get(4)?,
                figures: figures(transaction, id)?,
                context: Context {
                    averaged_seconds: row.get(6)?,
                    running_seconds: row.get(7)?,
                    lost_frames: row.get::<_, i64>(8)? as u64,
                    ..shared
                },
                series: match with_series {
                    WithSeries::Yes => series(transaction, id)?,
                    WithSeries::No => Vec::new(),
                },
                withdrawn: optional_time(row, 9)?,
            };
            Ok((ReadingId(id), reading))
        },
    )
}

fn figures(transaction: &Transaction<'_>, reading: i64) -> rusqlite::Result<Vec<Figure>> {
    transaction
        .prepare_cached(
            "SELECT quantity.key, figure.value, figure.uncertainty
             FROM figure JOIN quantity ON quantity.id = figure.quantity WHERE figure.reading = ?1 ORDER BY figure.place",
        )?
        .query_map([reading], |row| {
            let key: String = row.get(0)?;
            Ok(Figure {
                quantity: Quantity::of_key(&key).ok_or_else(|| {
                    let told = format!("no quantity '{key}'");
                    rusqlite::Error::FromSqlConversionFailure(0, Type::Text, told.into())
                })?,
                value: row.get(1)?,
                uncertainty: row.get(2)?,
            })
        })?
        .collect()
}

fn series(transaction: &Transaction<'_>, reading: i64) -> rusqlite::Result<Vec<Series>> {
    transaction
        .prepare_cached("SELECT kind, step_s, points FROM series WHERE reading = ?1 ORDER BY id")?
        .query_map([reading], |row| {
            Ok(Series {
                kind: of_word(0, row.get(0)?)?,
                step_s: row.get(1)?,
                values: points(row.get_ref(2)?.as_blob()?),
            })
        })?
        .collect()
}
