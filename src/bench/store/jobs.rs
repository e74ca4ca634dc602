//! Jobs: made, closed, changed, listed and searched.

use super::{
    Store, StoreError, Trouble, json, nanoseconds, schema,
    shared::{self, Shared},
    time,
};
use crate::bench::{
    Deck, Environment, LimitSet, Workshop,
    job_number::{check_number, next_number},
    sound,
};
use jiff::Timestamp;
use rusqlite::{OptionalExtension as _, Transaction, params, params_from_iter, types::Value};

/// A job as the list shows it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct JobRow {
    /// Job number.
    pub number: String,
    /// Model of the deck.
    pub model: String,
    /// Its serial number; may be empty.
    pub serial: String,
    /// When the deck came.
    pub opened: Timestamp,
    /// When it left; `None` while it is here.
    pub closed: Option<Timestamp>,
    /// The beginning of what the owner said.
    pub complaint: String,
    /// Readings that were taken and not withdrawn.
    pub readings: u32,
}

/// Which jobs a list shows, by whether the deck is here.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum State {
    /// All.
    #[default]
    Any,
    /// The deck is here.
    Open,
    /// The deck has left.
    Closed,
}

/// Which jobs a list shows.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Filter {
    /// Words, all of which must be in the job's number, model, serial number, complaint or notes; parts of words count,
    /// upper and lower case are the same. Empty: all jobs.
    pub search: String,
    /// Whether the deck is here.
    pub state: State,
    /// At most this many, the newest; `None`: all.
    pub most: Option<u32>,
}

/// A job to be opened.
#[derive(Clone, Debug, PartialEq)]
pub struct NewJob {
    /// Its number.
    pub number: String,
    /// The deck.
    pub deck: Deck,
    /// When the deck came.
    pub opened: Timestamp,
    /// What the owner said.
    pub complaint: String,
    /// The limits it is judged by.
    pub limits: LimitSet,
    /// What surrounds the work.
    pub environment: Environment,
}

/// A deck that was here before.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KnownDeck {
    /// The deck as it was entered last.
    pub deck: Deck,
    /// Jobs it had.
    pub jobs: u32,
}

/// Letters of a complaint that a list carries.
const LISTED_LETTERS: u32 = 200;
/// Words of a search that are looked at.
const MOST_WORDS: usize = 16;

const ROW: &str =
    "SELECT job.number, deck.model, deck.serial, job.opened, job.closed, substr(job.complaint, 1, ";

impl Store {
    /// Opens a job; the workshop is the one set last.
    ///
    /// # Errors
    /// [`StoreError::Refused`] when the number is taken or no number, or the limits make no sense.
    pub fn create_job(&mut self, new: &NewJob) -> Result<(), StoreError> {
        check_number(&new.number).map_err(StoreError::Refused)?;
        sound::check_deck(&new.deck)
            .and_then(|()| sound::check_complaint(&new.complaint))
            .and_then(|()| sound::check_environment(&new.environment))
            .and_then(|()| sound::check_limits(&new.limits))
            .map_err(StoreError::Refused)?;
        self.write(|transaction| {
            let workshop = workshop(transaction)?;
            insert(transaction, new, &workshop, None)?;
            Ok(())
        })
    }

    /// A number for the next job: one more than the greatest of the pattern that the newest job has.
    ///
    /// # Errors
    /// When the record cannot be read.
    pub fn next_number(&self) -> Result<String, StoreError> {
        self.read(|transaction| {
            let newest: Option<String> = transaction
                .query_row(
                    "SELECT number FROM job ORDER BY id DESC LIMIT 1",
                    [],
                    |row| row.get(0),
                )
                .optional()?;
            let numbers: Vec<String> = transaction
                .prepare_cached("SELECT number FROM job")?
                .query_map([], |row| row.get(0))?
                .collect::<Result<_, _>>()?;
            Ok(next_number(newest.as_deref(), &numbers))
        })
    }

    /// Writes down that the deck left.
    ///
    /// # Errors
    /// [`StoreError::Refused`] when there is no such job, or it was closed before.
    pub fn close_job(&mut self, number: &str, at: Timestamp) -> Result<(), StoreError> {
        self.write(|transaction| {
            let at = nanoseconds(at)?;
            let closed = transaction.execute(
                "UPDATE job SET closed = ?2 WHERE number = ?1 AND closed IS NULL",
                params![number, at],
            )?;
            if closed == 1 {
                return Ok(());
            }
            job_id(transaction, number)?;
            Err(Trouble::refused(format!("job {number} is closed already")))
        })
    }

    /// Takes a closed job up again.
    ///
    /// # Errors
    /// [`StoreError::Refused`] when there is no such job.
    pub fn reopen_job(&mut self, number: &str) -> Result<(), StoreError> {
        self.change(number, "UPDATE job SET closed = NULL WHERE id = ?1", None)
    }

    /// Changes what surrounds the work.
    ///
    /// # Errors
    /// [`StoreError::Refused`] when there is no such job or a figure is no number.
    pub fn set_environment(
        &mut self,
        number: &str,
        environment: &Environment,
    ) -> Result<(), StoreError> {
        sound::check_environment(environment).map_err(StoreError::Refused)?;
        self.write(|transaction| {
            let job = job_id(transaction, number)?;
            let body = json(environment)?;
            transaction.execute(
                "UPDATE job SET environment = ?2 WHERE id = ?1",
                params![job, body],
            )?;
            Ok(())
        })
    }

    /// Judges a job by other limits from now on.
    ///
    /// # Errors
    /// [`StoreError::Refused`] when there is no such job or the limits make no sense.
    pub fn set_limits(&mut self, number: &str, limits: &LimitSet) -> Result<(), StoreError> {
        sound::check_limits(limits).map_err(StoreError::Refused)?;
        self.write(|transaction| {
            let job = job_id(transaction, number)?;
            let limits = Shared::Limits.row(transaction, limits)?;
            transaction.execute(
                "UPDATE job SET limits = ?2 WHERE id = ?1",
                params![job, limits],
            )?;
            Ok(())
        })
    }

    /// Corrects what is known of a job's deck; other jobs of that deck keep what they have.
    ///
    /// # Errors
    /// [`StoreError::Refused`] when there is no such job or a text is too long.
    pub fn set_deck(&mut self, number: &str, deck: &Deck) -> Result<(), StoreError> {
        sound::check_deck(deck).map_err(StoreError::Refused)?;
        self.write(|transaction| {
            let job = job_id(transaction, number)?;
            let deck = shared::deck_row(transaction, deck)?;
            transaction.execute("UPDATE job SET deck = ?2 WHERE id = ?1", params![job, deck])?;
            transaction.execute(
                "DELETE FROM deck WHERE id NOT IN (SELECT deck FROM job)",
                [],
            )?;
            Ok(schema::refresh(transaction, job)?)
        })
    }

    /// Corrects what the owner said.
    ///
    /// # Errors
    /// [`StoreError::Refused`] when there is no such job or the text is too long.
    pub fn set_complaint(&mut self, number: &str, complaint: &str) -> Result<(), StoreError> {
        sound::check_complaint(complaint).map_err(StoreError::Refused)?;
        self.change(
            number,
            "UPDATE job SET complaint = ?2 WHERE id = ?1",
            Some(complaint),
        )
    }

    fn change(
        &mut self,
        number: &str,
        statement: &str,
        value: Option<&str>,
    ) -> Result<(), StoreError> {
        self.write(|transaction| {
            let job = job_id(transaction, number)?;
            match value {
                Some(value) => transaction.execute(statement, params![job, value])?,
                None => transaction.execute(statement, params![job])?,
            };
            Ok(schema::refresh(transaction, job)?)
        })
    }

    /// The jobs of a filter, the newest first.
    ///
    /// # Errors
    /// When the record cannot be read.
    pub fn jobs(&self, filter: &Filter) -> Result<Vec<JobRow>, StoreError> {
        self.read(|transaction| list(transaction, filter))
    }

    /// How many jobs there are, and how many of them are open.
    ///
    /// # Errors
    /// When the record cannot be read.
    pub fn count_jobs(&self) -> Result<(u32, u32), StoreError> {
        self.read(|transaction| {
            transaction.query_row(
                "SELECT count(*), count(*) - count(closed) FROM job",
                [],
                |row| Ok((row.get(0)?, row.get(1)?)),
            )
        })
    }

    /// All jobs of a deck, by model and serial number, the newest first; none where the serial number is empty.
    ///
    /// # Errors
    /// When the record cannot be read.
    pub fn jobs_of_deck(&self, model: &str, serial: &str) -> Result<Vec<JobRow>, StoreError> {
        let identity = schema::identity(model, serial);
        if identity.is_empty() {
            return Ok(Vec::new());
        }
        self.read(|transaction| {
            let sql = format!(
                "{ROW}{LISTED_LETTERS}), job.readings FROM deck JOIN job ON job.deck = deck.id
                 WHERE deck.identity = ?1 ORDER BY job.opened DESC, job.id DESC"
            );
            transaction
                .prepare_cached(&sql)?
                .query_map([identity], job_row)?
                .collect()
        })
    }

    /// Decks whose model or serial number contains the words, those seen last first: to fill in a new job.
    ///
    /// # Errors
    /// When the record cannot be read.
    pub fn known_decks(&self, search: &str, most: u32) -> Result<Vec<KnownDeck>, StoreError> {
        let wanted = schema::fold(search);
        let mut decks: Vec<(String, KnownDeck)> = Vec::new();
        self.read(|transaction| {
            let mut statement = transaction.prepare_cached(
                "SELECT deck.model, deck.serial, deck.tape_format, deck.mechanism, count(*)
                 FROM deck JOIN job ON job.deck = deck.id GROUP BY deck.id ORDER BY max(job.id) DESC",
            )?;
            let mut rows = statement.query([])?;
            while let Some(row) = rows.next()? {
                let deck = Deck {
                    model: row.get(0)?,
                    serial: row.get(1)?,
                    tape_format: row.get(2)?,
                    mechanism: row.get(3)?,
                };
                let words = schema::fold(&format!("{} {}", deck.model, deck.serial));
                if !wanted.split(' ').all(|word| words.contains(word)) {
                    continue;
                }
                let jobs: u32 = row.get(4)?;
                if let Some((_, known)) = decks.iter_mut().find(|(known, _)| *known == words) {
                    known.jobs += jobs;
                } else if decks.len() < most as usize {
                    decks.push((words, KnownDeck { deck, jobs }));
                }
            }
            Ok(())
        })?;
        Ok(decks.into_iter().map(|(_, known)| known).collect())
    }

    /// The workshop that new jobs are of; empty until it is set.
    ///
    /// # Errors
    /// When the record cannot be read.
    pub fn workshop(&self) -> Result<Workshop, StoreError> {
        self.read(workshop)
    }

    /// Sets the workshop of the jobs to come; those there are keep theirs.
    ///
    /// # Errors
    /// [`StoreError::Refused`] when a text is too long.
    pub fn set_workshop(&mut self, workshop: &Workshop) -> Result<(), StoreError> {
        sound::check_workshop(workshop).map_err(StoreError::Refused)?;
        self.write(|transaction| {
            transaction.execute(
                "INSERT INTO own (key, value) VALUES ('workshop', ?1)
                 ON CONFLICT (key) DO UPDATE SET value = excluded.value",
                [json(workshop)?],
            )?;
            Ok(())
        })
    }

    /// Gives a job the workshop that is set now.
    ///
    /// # Errors
    /// [`StoreError::Refused`] when there is no such job.
    pub fn renew_workshop(&mut self, number: &str) -> Result<(), StoreError> {
        self.write(|transaction| {
            let job = job_id(transaction, number)?;
            let workshop = Shared::Workshop.row(transaction, &workshop(transaction)?)?;
            transaction.execute(
                "UPDATE job SET workshop = ?2 WHERE id = ?1",
                params![job, workshop],
            )?;
            Ok(())
        })
    }
}

fn workshop(transaction: &Transaction<'_>) -> rusqlite::Result<Workshop> {
    let body: Option<String> = transaction
        .query_row("SELECT value FROM own WHERE key = 'workshop'", [], |row| {
            row.get(0)
        })
        .optional()?;
    body.map_or_else(|| Ok(Workshop::default()), |body| super::of_json(0, &body))
}

/// Writes the row of a job; the number must be free.
pub(super) fn insert(
    transaction: &Transaction<'_>,
    new: &NewJob,
    workshop: &Workshop,
    closed: Option<Timestamp>,
) -> Result<i64, Trouble> {
    if find(transaction, &new.number)?.is_some() {
        return Err(Trouble::refused(format!(
            "there is a job {} already; give another number",
            new.number
        )));
    }
    let deck = shared::deck_row(transaction, &new.deck)?;
    let workshop = Shared::Workshop.row(transaction, workshop)?;
    let limits = Shared::Limits.row(transaction, &new.limits)?;
    let job = transaction
        .prepare_cached(
            "INSERT INTO job (number, workshop, deck, limits, opened, closed, complaint, environment)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
        )?
        .insert(params![
            new.number,
            workshop,
            deck,
            limits,
            nanoseconds(new.opened)?,
            closed.map(nanoseconds).transpose()?,
            new.complaint,
            json(&new.environment)?
        ])?;
    schema::refresh(transaction, job)?;
    Ok(job)
}

/// The row of a job number.
pub(super) fn find(transaction: &Transaction<'_>, number: &str) -> rusqlite::Result<Option<i64>> {
    transaction
        .prepare_cached("SELECT id FROM job WHERE number = ?1")?
        .query_row([number], |row| row.get(0))
        .optional()
}

/// The row of a job number that must be there.
pub(super) fn job_id(transaction: &Transaction<'_>, number: &str) -> Result<i64, Trouble> {
    find(transaction, number)?.ok_or_else(|| Trouble::no_job(number))
}

fn list(transaction: &Transaction<'_>, filter: &Filter) -> rusqlite::Result<Vec<JobRow>> {
    let words: Vec<String> = schema::fold(&filter.search)
        .split(' ')
        .filter(|word| !word.is_empty())
        .take(MOST_WORDS)
        .map(Into::into)
        .collect();
    let mut sql =
        format!("{ROW}{LISTED_LETTERS}), job.readings FROM job JOIN deck ON deck.id = job.deck");
    if !words.is_empty() {
        sql.push_str(" JOIN job_text ON job_text.job = job.id");
    }
    sql.push_str(" WHERE 1");
    for _ in &words {
        sql.push_str(" AND instr(job_text.folded, ?) > 0");
    }
    sql.push_str(match filter.state {
        State::Any => "",
        State::Open => " AND job.closed IS NULL",
        State::Closed => " AND job.closed IS NOT NULL",
    });
    sql.push_str(" ORDER BY job.opened DESC, job.id DESC LIMIT ?");
    let most = filter.most.map_or(-1, i64::from);
    let values = words
        .into_iter()
        .map(Value::Text)
        .chain([Value::Integer(most)]);
    transaction
        .prepare_cached(&sql)?
        .query_map(params_from_iter(values), job_row)?
        .collect()
}

fn job_row(row: &rusqlite::Row<'_>) -> rusqlite::Result<JobRow> {
    Ok(JobRow {
        number: row.get(0)?,
        model: row.get(1)?,
        serial: row.get(2)?,
        opened: time(3, row.get(3)?)?,
        closed: row
            .get::<_, Option<i64>>(4)?
            .map(|closed| time(4, closed))
            .transpose()?,
        complaint: row.get(5)?,
        readings: row.get(6)?,
    })
}
