//! Answers that the book keeps for each session, and gives again as long as nothing they lean on
//! has changed.

use rayon::prelude::*;
use serde::Serialize;
use serde::de::DeserializeOwned;

use super::failure::Failure;
use crate::book::{Book, BookError, fit_key};
use crate::session::SessionMeta;

/// What was kept for each session under these settings; `None`: nothing, or something that cannot
/// be read.
pub fn answers<T: DeserializeOwned + Send>(
    book: &Book,
    metas: &[SessionMeta],
    settings: &str,
) -> Result<Vec<Option<T>>, Failure> {
    let wanted: Vec<(String, String)> = metas
        .par_iter()
        .map(|meta| (meta.id.clone(), fit_key(meta, settings)))
        .collect();
    let read = |json: Option<String>| serde_json::from_str(&json?).ok();
    let kept = book.cached_fits(&wanted)?;
    Ok(kept.into_par_iter().map(read).collect())
}

/// Keeps answers. They can be had again: a book that cannot be written to goes without.
pub fn keep<'a, T: Serialize>(
    book: &mut Book,
    settings: &str,
    answers: impl Iterator<Item = (&'a SessionMeta, T)>,
) -> Result<(), Failure> {
    let mut rows = Vec::new();
    for (meta, answer) in answers {
        let json = serde_json::to_string(&answer).map_err(|e| {
            Failure::new(
                format!("an answer cannot be kept: {e}"),
                "this is a defect of the program: please report it",
            )
        })?;
        rows.push((meta.id.clone(), fit_key(meta, settings), json));
    }
    match book.keep_fits(&rows) {
        Ok(()) | Err(BookError::ReadOnly { .. } | BookError::Io { .. }) => Ok(()),
        Err(error) => Err(error.into()),
    }
}
