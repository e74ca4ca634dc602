//! What a person enters beside the readings: mechanical checks, notes, parts, stations left out.

use super::{
    CheckId, NoteId, PartId, SkipId, Store, StoreError, Trouble, jobs::job_id, json, nanoseconds,
    schema, word,
};
use crate::bench::{CheckDone, Note, PartReplaced, Skip, sound};
use jiff::Timestamp;
use rusqlite::{Transaction, params};

impl Store {
    /// Keeps a mechanical check.
    ///
    /// # Errors
    /// [`StoreError::Refused`] when there is no such job or the check makes no sense.
    pub fn add_check(&mut self, job: &str, check: &CheckDone) -> Result<CheckId, StoreError> {
        sound::check_check(check).map_err(StoreError::Refused)?;
        self.write(|transaction| {
            let job = job_id(transaction, job)?;
            insert_check(transaction, job, check).map(CheckId)
        })
    }

    /// Withdraws a mechanical check: it stays in the record and counts for nothing.
    ///
    /// # Errors
    /// [`StoreError::Refused`] when there is no such check.
    pub fn withdraw_check(&mut self, id: CheckId, at: Timestamp) -> Result<(), StoreError> {
        self.write(|transaction| {
            let changed = transaction.execute(
                "UPDATE gauge_or_seen SET withdrawn = coalesce(withdrawn, ?2) WHERE id = ?1",
                params![id.0, nanoseconds(at)?],
            )?;
            there(changed, "check")
        })
    }

    /// Lets a withdrawn mechanical check count again.
    ///
    /// # Errors
    /// [`StoreError::Refused`] when there is no such check.
    pub fn restore_check(&mut self, id: CheckId) -> Result<(), StoreError> {
        self.write(|transaction| {
            let changed = transaction.execute(
                "UPDATE gauge_or_seen SET withdrawn = NULL WHERE id = ?1",
                [id.0],
            )?;
            there(changed, "check")
        })
    }

    /// Keeps why a station is left out.
    ///
    /// # Errors
    /// [`StoreError::Refused`] when there is no such job, or no reason.
    pub fn add_skip(&mut self, job: &str, skip: &Skip) -> Result<SkipId, StoreError> {
        sound::check_skip(skip).map_err(StoreError::Refused)?;
        self.write(|transaction| {
            let job = job_id(transaction, job)?;
            insert_skip(transaction, job, skip).map(SkipId)
        })
    }

    /// Takes it back that a station is left out.
    ///
    /// # Errors
    /// [`StoreError::Refused`] when it is not in the record.
    pub fn remove_skip(&mut self, id: SkipId) -> Result<(), StoreError> {
        self.write(|transaction| {
            let removed = transaction.execute("DELETE FROM skip WHERE id = ?1", [id.0])?;
            there(removed, "skipped station")
        })
    }

    /// Keeps a part that was replaced.
    ///
    /// # Errors
    /// [`StoreError::Refused`] when there is no such job, or no text.
    pub fn add_part(&mut self, job: &str, part: &PartReplaced) -> Result<PartId, StoreError> {
        sound::check_part(part).map_err(StoreError::Refused)?;
        self.write(|transaction| {
            let job = job_id(transaction, job)?;
            insert_part(transaction, job, part).map(PartId)
        })
    }

    /// Takes back a part that was entered by mistake.
    ///
    /// # Errors
    /// [`StoreError::Refused`] when it is not in the record.
    pub fn remove_part(&mut self, id: PartId) -> Result<(), StoreError> {
        self.write(|transaction| {
            let removed = transaction.execute("DELETE FROM part WHERE id = ?1", [id.0])?;
            there(removed, "part")
        })
    }

    /// Keeps a note.
    ///
    /// # Errors
    /// [`StoreError::Refused`] when there is no such job, or no text.
    pub fn add_note(&mut self, job: &str, note: &Note) -> Result<NoteId, StoreError> {
        sound::check_note(note).map_err(StoreError::Refused)?;
        self.write(|transaction| {
            let job = job_id(transaction, job)?;
            let id = insert_note(transaction, job, note)?;
            schema::refresh(transaction, job)?;
            Ok(NoteId(id))
        })
    }

    /// Changes a note's text and whether the owner's page carries it; its time stays.
    ///
    /// # Errors
    /// [`StoreError::Refused`] when it is not in the record, or has no text.
    pub fn change_note(&mut self, id: NoteId, note: &Note) -> Result<(), StoreError> {
        sound::check_note(note).map_err(StoreError::Refused)?;
        self.write(|transaction| {
            let job = job_of_note(transaction, id)?;
            transaction.execute(
                "UPDATE note SET body = ?2, for_owner = ?3 WHERE id = ?1",
                params![id.0, note.text, note.for_owner],
            )?;
            Ok(schema::refresh(transaction, job)?)
        })
    }

    /// Takes back a note.
    ///
    /// # Errors
    /// [`StoreError::Refused`] when it is not in the record.
    pub fn remove_note(&mut self, id: NoteId) -> Result<(), StoreError> {
        self.write(|transaction| {
            let job = job_of_note(transaction, id)?;
            transaction.execute("DELETE FROM note WHERE id = ?1", [id.0])?;
            Ok(schema::refresh(transaction, job)?)
        })
    }
}

fn there(rows: usize, what: &str) -> Result<(), Trouble> {
    if rows == 0 {
        return Err(Trouble::refused(format!(
            "there is no such {what} in the record"
        )));
    }
    Ok(())
}

fn job_of_note(transaction: &Transaction<'_>, id: NoteId) -> Result<i64, Trouble> {
    transaction
        .query_row("SELECT job FROM note WHERE id = ?1", [id.0], |row| {
            row.get(0)
        })
        .map_err(|error| match error {
            rusqlite::Error::QueryReturnedNoRows => {
                Trouble::refused("there is no such note in the record")
            }
            other => other.into(),
        })
}

pub(super) fn insert_check(
    transaction: &Transaction<'_>,
    job: i64,
    done: &CheckDone,
) -> Result<i64, Trouble> {
    let id = transaction
        .prepare_cached(
            "INSERT INTO gauge_or_seen (job, at, stage, body, withdrawn) VALUES (?1, ?2, ?3, ?4, ?5)",
        )?
        .insert(params![
            job,
            nanoseconds(done.at)?,
            word(&done.stage)?,
            json(&done.check)?,
            done.withdrawn.map(nanoseconds).transpose()?
        ])?;
    Ok(id)
}

pub(super) fn insert_skip(
    transaction: &Transaction<'_>,
    job: i64,
    skip: &Skip,
) -> Result<i64, Trouble> {
    let id = transaction
        .prepare_cached(
            "INSERT INTO skip (job, at, station, stage, reason) VALUES (?1, ?2, ?3, ?4, ?5)",
        )?
        .insert(params![
            job,
            nanoseconds(skip.at)?,
            word(&skip.station)?,
            word(&skip.stage)?,
            skip.reason
        ])?;
    Ok(id)
}

pub(super) fn insert_part(
    transaction: &Transaction<'_>,
    job: i64,
    part: &PartReplaced,
) -> Result<i64, Trouble> {
    let id = transaction
        .prepare_cached("INSERT INTO part (job, at, what) VALUES (?1, ?2, ?3)")?
        .insert(params![job, nanoseconds(part.at)?, part.what])?;
    Ok(id)
}

pub(super) fn insert_note(
    transaction: &Transaction<'_>,
    job: i64,
    note: &Note,
) -> Result<i64, Trouble> {
    let id = transaction
        .prepare_cached("INSERT INTO note (job, at, body, for_owner) VALUES (?1, ?2, ?3, ?4)")?
        .insert(params![
            job,
            nanoseconds(note.at)?,
            note.text,
            note.for_owner
        ])?;
    Ok(id)
}
