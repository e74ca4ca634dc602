//! The workshop's calibration tapes: their certificates, passes and checks.

use super::{Store, StoreError, Trouble, json, nanoseconds, of_json, time};
use crate::bench::{
    sound,
    standards::{PASS_S, TapeCheck, TapeOnHand, TapeRecord},
};
use jiff::Timestamp;
use rusqlite::{OptionalExtension as _, Transaction, params};

impl Store {
    /// Writes down what is known of a tape; passes and checks of one that is there stay.
    ///
    /// # Errors
    /// [`StoreError::Refused`] when it has no name or a text is too long.
    pub fn set_tape(&mut self, tape: &TapeOnHand) -> Result<(), StoreError> {
        sound::check_tape(tape).map_err(StoreError::Refused)?;
        self.write(|transaction| {
            transaction.execute(
                "INSERT INTO tape (name, body) VALUES (?1, ?2)
                 ON CONFLICT (name) DO UPDATE SET body = excluded.body",
                params![tape.name, json(tape)?],
            )?;
            Ok(())
        })
    }

    /// Counts a pass of a tape that was played for a reading, and writes the tape down where it is not yet. Readings
    /// within ten minutes of each other are one pass. Returns whether one was counted.
    ///
    /// # Errors
    /// [`StoreError::Refused`] when the name is empty.
    pub fn count_pass(
        &mut self,
        name: &str,
        title: &str,
        at: Timestamp,
    ) -> Result<bool, StoreError> {
        let tape = TapeOnHand {
            name: name.to_owned(),
            title: title.to_owned(),
            ..TapeOnHand::default()
        };
        sound::check_tape(&tape).map_err(StoreError::Refused)?;
        self.write(|transaction| {
            transaction.execute(
                "INSERT INTO tape (name, body) VALUES (?1, ?2) ON CONFLICT (name) DO NOTHING",
                params![name, json(&tape)?],
            )?;
            let id = tape_id(transaction, name)?;
            let last: Option<i64> = transaction.query_row(
                "SELECT max(at) FROM tape_pass WHERE tape = ?1",
                [id],
                |row| row.get(0),
            )?;
            let at = nanoseconds(at)?;
            let counts = last.is_none_or(|last| at.abs_diff(last) >= PASS_NS);
            // A reading that goes on with a pass makes it longer: the time of the last one counts.
            if counts {
                transaction.execute(
                    "INSERT INTO tape_pass (tape, at) VALUES (?1, ?2)",
                    params![id, at],
                )?;
            } else {
                transaction.execute(
                    "UPDATE tape_pass SET at = max(at, ?3) WHERE tape = ?1 AND at = ?2",
                    params![id, last, at],
                )?;
            }
            Ok(counts)
        })
    }

    /// Writes down that a tape was checked against another.
    ///
    /// # Errors
    /// [`StoreError::Refused`] when there is no such tape.
    pub fn add_tape_check(&mut self, name: &str, check: &TapeCheck) -> Result<(), StoreError> {
        sound::check_tape_check(check).map_err(StoreError::Refused)?;
        self.write(|transaction| {
            let id = tape_id(transaction, name)?;
            transaction.execute(
                "INSERT INTO tape_check (tape, at, body) VALUES (?1, ?2, ?3)",
                params![id, nanoseconds(check.at)?, json(check)?],
            )?;
            Ok(())
        })
    }

    /// All tapes with their histories, by name.
    ///
    /// # Errors
    /// When the record cannot be read.
    pub fn tapes(&self) -> Result<Vec<TapeRecord>, StoreError> {
        self.read(|transaction| {
            let tapes: Vec<(i64, String)> = transaction
                .prepare_cached("SELECT id, body FROM tape ORDER BY name")?
                .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?
                .collect::<Result<_, _>>()?;
            tapes
                .into_iter()
                .map(|(id, body)| record(transaction, id, of_json(1, &body)?))
                .collect()
        })
    }

    /// One tape with its history; `None` where nothing is known of it yet.
    ///
    /// # Errors
    /// When the record cannot be read.
    pub fn tape(&self, name: &str) -> Result<Option<TapeRecord>, StoreError> {
        self.read(|transaction| {
            let found: Option<(i64, String)> = transaction
                .prepare_cached("SELECT id, body FROM tape WHERE name = ?1")?
                .query_row([name], |row| Ok((row.get(0)?, row.get(1)?)))
                .optional()?;
            found
                .map(|(id, body)| record(transaction, id, of_json(1, &body)?))
                .transpose()
        })
    }
}

/// [`PASS_S`] in the record's unit.
const PASS_NS: u64 = PASS_S as u64 * 1_000_000_000;

fn tape_id(transaction: &Transaction<'_>, name: &str) -> Result<i64, Trouble> {
    transaction
        .query_row("SELECT id FROM tape WHERE name = ?1", [name], |row| {
            row.get(0)
        })
        .optional()?
        .ok_or_else(|| Trouble::refused(format!("there is no tape '{name}' in the record")))
}

fn record(
    transaction: &Transaction<'_>,
    id: i64,
    tape: TapeOnHand,
) -> rusqlite::Result<TapeRecord> {
    let checks: Vec<TapeCheck> = transaction
        .prepare_cached("SELECT body FROM tape_check WHERE tape = ?1 ORDER BY at, id")?
        .query_map([id], |row| of_json(0, &row.get::<_, String>(0)?))?
        .collect::<Result<_, _>>()?;
    let (counted, since, first, last): (u32, u32, Option<i64>, Option<i64>) = transaction
        .prepare_cached(
            "SELECT count(*), count(*) FILTER (WHERE at > coalesce((SELECT max(at) FROM tape_check WHERE tape = ?1), 0)),
                 min(at), max(at) FROM tape_pass WHERE tape = ?1",
        )?
        .query_row([id], |row| {
            Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?))
        })?;
    let passes = tape.passes_before.saturating_add(counted);
    Ok(TapeRecord {
        passes,
        passes_since_check: if checks.is_empty() { passes } else { since },
        played: match (first, last) {
            (Some(first), Some(last)) => Some((time(2, first)?, time(3, last)?)),
            _ => None,
        },
        tape,
        checks,
    })
}
