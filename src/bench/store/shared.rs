//! What many rows share and the file keeps once: workshops, limits, how readings were taken, decks.

use super::{Trouble, json, schema};
use crate::bench::{Context, Deck};
use rusqlite::{OptionalExtension as _, Transaction, params};
use serde::{Serialize, de::DeserializeOwned};

/// A table of distinct texts.
#[derive(Clone, Copy)]
pub(super) enum Shared {
    Workshop,
    Limits,
    Context,
}

impl Shared {
    const fn find(self) -> &'static str {
        match self {
            Self::Workshop => "SELECT id FROM workshop WHERE body = ?1",
            Self::Limits => "SELECT id FROM limit_set WHERE body = ?1",
            Self::Context => "SELECT id FROM context WHERE body = ?1",
        }
    }

    const fn insert(self) -> &'static str {
        match self {
            Self::Workshop => "INSERT INTO workshop (body) VALUES (?1)",
            Self::Limits => "INSERT INTO limit_set (body) VALUES (?1)",
            Self::Context => "INSERT INTO context (body) VALUES (?1)",
        }
    }

    const fn get(self) -> &'static str {
        match self {
            Self::Workshop => "SELECT body FROM workshop WHERE id = ?1",
            Self::Limits => "SELECT body FROM limit_set WHERE id = ?1",
            Self::Context => "SELECT body FROM context WHERE id = ?1",
        }
    }

    /// The row of that value; made where there is none.
    pub(super) fn row<T: Serialize>(
        self,
        transaction: &Transaction<'_>,
        value: &T,
    ) -> Result<i64, Trouble> {
        let body = json(value)?;
        let found = transaction
            .prepare_cached(self.find())?
            .query_row([&body], |row| row.get(0))
            .optional()?;
        match found {
            Some(id) => Ok(id),
            None => Ok(transaction.prepare_cached(self.insert())?.insert([&body])?),
        }
    }

    /// The value of that row.
    pub(super) fn value<T: DeserializeOwned>(
        self,
        transaction: &Transaction<'_>,
        id: i64,
    ) -> rusqlite::Result<T> {
        let body: String = transaction
            .prepare_cached(self.get())?
            .query_row([id], |row| row.get(0))?;
        super::of_json(0, &body)
    }
}

/// What of a context differs from reading to reading is kept with the reading; the rest is shared.
pub(super) fn common(context: &Context) -> Context {
    Context {
        averaged_seconds: 0.0,
        running_seconds: 0.0,
        lost_frames: 0,
        ..context.clone()
    }
}

/// The row of that deck; made where there is none.
pub(super) fn deck_row(transaction: &Transaction<'_>, deck: &Deck) -> Result<i64, Trouble> {
    let found = transaction
        .prepare_cached(
            "SELECT id FROM deck WHERE model = ?1 AND serial = ?2 AND tape_format = ?3 AND mechanism = ?4",
        )?
        .query_row(
            params![deck.model, deck.serial, deck.tape_format, deck.mechanism],
            |row| row.get(0),
        )
        .optional()?;
    if let Some(id) = found {
        return Ok(id);
    }
    let id = transaction
        .prepare_cached(
            "INSERT INTO deck (model, serial, tape_format, mechanism, identity) VALUES (?1, ?2, ?3, ?4, ?5)",
        )?
        .insert(params![
            deck.model,
            deck.serial,
            deck.tape_format,
            deck.mechanism,
            schema::identity(&deck.model, &deck.serial)
        ])?;
    Ok(id)
}

/// The deck of that row.
pub(super) fn deck(transaction: &Transaction<'_>, id: i64) -> rusqlite::Result<Deck> {
    transaction
        .prepare_cached("SELECT model, serial, tape_format, mechanism FROM deck WHERE id = ?1")?
        .query_row([id], |row| {
            Ok(Deck {
                model: row.get(0)?,
                serial: row.get(1)?,
                tape_format: row.get(2)?,
                mechanism: row.get(3)?,
            })
        })
}
