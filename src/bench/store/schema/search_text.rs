//! The words of a job as one text to be searched: lower case, one space between words.

use rusqlite::{Transaction, params};

/// Lower case, and one space for every stretch of white space.
pub(crate) fn fold(text: &str) -> String {
    let mut folded = String::with_capacity(text.len());
    for word in text.split_whitespace() {
        if !folded.is_empty() {
            folded.push(' ');
        }
        folded.push_str(&word.to_lowercase());
    }
    folded
}

/// What tells one deck from all others; empty where its serial number is not known.
pub(crate) fn identity(model: &str, serial: &str) -> String {
    let serial = fold(serial);
    if serial.is_empty() {
        return serial;
    }
    format!("{}\n{serial}", fold(model))
}

/// Writes the text of one job anew: number, model, serial number, complaint, notes.
pub(crate) fn refresh(transaction: &Transaction<'_>, job: i64) -> rusqlite::Result<()> {
    let mut text: String = transaction
        .prepare_cached(
            "SELECT job.number || char(10) || deck.model || char(10) || deck.serial || char(10) || job.complaint
             FROM job JOIN deck ON deck.id = job.deck WHERE job.id = ?1",
        )?
        .query_row([job], |row| row.get(0))?;
    let mut notes =
        transaction.prepare_cached("SELECT body FROM note WHERE job = ?1 ORDER BY id")?;
    for note in notes.query_map([job], |row| row.get::<_, String>(0))? {
        text.push('\n');
        text.push_str(&note?);
    }
    transaction
        .prepare_cached(
            "INSERT INTO job_text (job, folded) VALUES (?1, ?2)
             ON CONFLICT (job) DO UPDATE SET folded = excluded.folded",
        )?
        .execute(params![job, fold(&text)])?;
    Ok(())
}

/// Fills the text of all jobs and the identity of all decks.
pub(super) fn fill(transaction: &Transaction<'_>) -> rusqlite::Result<()> {
    let jobs: Vec<i64> = transaction
        .prepare("SELECT id FROM job")?
        .query_map([], |row| row.get(0))?
        .collect::<Result<_, _>>()?;
    for job in jobs {
        refresh(transaction, job)?;
    }
    let decks: Vec<(i64, String, String)> = transaction
        .prepare("SELECT id, model, serial FROM deck")?
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))?
        .collect::<Result<_, _>>()?;
    for (deck, model, serial) in decks {
        transaction.execute(
            "UPDATE deck SET identity = ?2 WHERE id = ?1",
            params![deck, identity(&model, &serial)],
        )?;
    }
    Ok(())
}
