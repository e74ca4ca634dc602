//! Readings: added, withdrawn, restored.

use super::{
    ReadingId, Store, StoreError, Trouble,
    jobs::job_id,
    nanoseconds,
    shared::{Shared, common},
    word,
};
use crate::bench::{Series, TakenReading, sound};
use jiff::Timestamp;
use rusqlite::{Transaction, params};

impl Store {
    /// Keeps a reading; it is on disk when this returns.
    ///
    /// # Errors
    /// [`StoreError::Refused`] when there is no such job or the reading is none; otherwise the reading must be held until
    /// it can be kept ([`crate::bench::Keeper`] does).
    pub fn add_reading(
        &mut self,
        job: &str,
        reading: &TakenReading,
    ) -> Result<ReadingId, StoreError> {
        sound::check_reading(reading).map_err(StoreError::Refused)?;
        self.write(|transaction| {
            let job = job_id(transaction, job)?;
            let id = insert(transaction, job, reading)?;
            count(transaction, job)?;
            Ok(ReadingId(id))
        })
    }

    /// Withdraws a reading: it stays in the record and counts for nothing. One that is withdrawn already stays so.
    ///
    /// # Errors
    /// [`StoreError::Refused`] when there is no such reading.
    pub fn withdraw_reading(&mut self, id: ReadingId, at: Timestamp) -> Result<(), StoreError> {
        self.set_withdrawn(id, Some(at))
    }

    /// Lets a withdrawn reading count again.
    ///
    /// # Errors
    /// [`StoreError::Refused`] when there is no such reading.
    pub fn restore_reading(&mut self, id: ReadingId) -> Result<(), StoreError> {
        self.set_withdrawn(id, None)
    }

    fn set_withdrawn(&mut self, id: ReadingId, at: Option<Timestamp>) -> Result<(), StoreError> {
        self.write(|transaction| {
            let at = at.map(nanoseconds).transpose()?;
            let changed = transaction.execute(
                "UPDATE reading SET withdrawn = CASE WHEN ?2 IS NULL THEN NULL ELSE coalesce(withdrawn, ?2) END
                 WHERE id = ?1",
                params![id.0, at],
            )?;
            if changed == 0 {
                return Err(Trouble::refused("there is no such reading in the record"));
            }
            let job =
                transaction.query_row("SELECT job FROM reading WHERE id = ?1", [id.0], |row| {
                    row.get(0)
                })?;
            count(transaction, job)
        })
    }
}

/// Counts a job's standing readings anew.
pub(super) fn count(transaction: &Transaction<'_>, job: i64) -> Result<(), Trouble> {
    transaction
        .prepare_cached(
            "UPDATE job SET readings =
                 (SELECT count(*) FROM reading WHERE reading.job = ?1 AND withdrawn IS NULL) WHERE id = ?1",
        )?
        .execute([job])?;
    Ok(())
}

/// Writes a reading with its figures and series.
pub(super) fn insert(
    transaction: &Transaction<'_>,
    job: i64,
    reading: &TakenReading,
) -> Result<i64, Trouble> {
    let context = Shared::Context.row(transaction, &common(&reading.context))?;
    let lost_frames = i64::try_from(reading.context.lost_frames)
        .map_err(|_| Trouble::refused("lost_frames: no such number of frames"))?;
    let id = transaction
        .prepare_cached(
            "INSERT INTO reading (job, at, station, stage, words, context, averaged_seconds, running_seconds,
                 lost_frames, withdrawn) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)",
        )?
        .insert(params![
            job,
            nanoseconds(reading.at)?,
            word(&reading.station)?,
            word(&reading.stage)?,
            reading.words,
            context,
            reading.context.averaged_seconds,
            reading.context.running_seconds,
            lost_frames,
            reading.withdrawn.map(nanoseconds).transpose()?
        ])?;
    figures(transaction, id, reading)?;
    for series in &reading.series {
        transaction
            .prepare_cached(
                "INSERT INTO series (reading, kind, step_s, points) VALUES (?1, ?2, ?3, ?4)",
            )?
            .execute(params![
                id,
                word(&series.kind)?,
                series.step_s,
                blob(series)
            ])?;
    }
    Ok(id)
}

fn figures(transaction: &Transaction<'_>, id: i64, reading: &TakenReading) -> Result<(), Trouble> {
    let mut name =
        transaction.prepare_cached("INSERT OR IGNORE INTO quantity (key) VALUES (?1)")?;
    let mut insert = transaction.prepare_cached(
        "INSERT INTO figure (reading, place, quantity, value, uncertainty)
         VALUES (?1, ?2, (SELECT id FROM quantity WHERE key = ?3), ?4, ?5)",
    )?;
    for (place, figure) in (0_i64..).zip(&reading.figures) {
        let key = figure.quantity.key();
        name.execute([key])?;
        insert.execute(params![id, place, key, figure.value, figure.uncertainty])?;
    }
    Ok(())
}

/// The points as 32-bit floats, least byte first; where there was no value, a NaN.
fn blob(series: &Series) -> Vec<u8> {
    series
        .values
        .iter()
        .flat_map(|value| value.unwrap_or(f32::NAN).to_le_bytes())
        .collect()
}

/// The inverse of [`blob`].
pub(super) fn points(blob: &[u8]) -> Vec<Option<f32>> {
    let (points, _) = blob.as_chunks();
    points
        .iter()
        .map(|&bytes| Some(f32::from_le_bytes(bytes)).filter(|value| value.is_finite()))
        .collect()
}
