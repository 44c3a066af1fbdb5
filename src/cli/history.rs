//! `heatbook history`: what was imported and corrected.

use clap::Args;
use serde::Serialize;

use super::failure::Failure;
use super::output::table;
use super::{Context, Outcome};
use crate::book::HistoryEntry;
use crate::warning::Warning;

/// Arguments of `history`.
#[derive(Debug, Args)]
pub struct Arguments {
    /// The session [default: all]
    #[arg(value_name = "ID")]
    id: Option<String>,
}

#[derive(Debug, Serialize)]
struct Document {
    changes: Vec<Entry>,
    warnings: Vec<Warning>,
}

#[derive(Debug, Serialize)]
struct Entry {
    at: String,
    id: String,
    field: String,
    old: Option<String>,
    new: Option<String>,
}

impl From<HistoryEntry> for Entry {
    fn from(entry: HistoryEntry) -> Self {
        let at = entry.at.format("%Y-%m-%dT%H:%M:%SZ").to_string();
        Self {
            at,
            id: entry.id,
            field: entry.field,
            old: entry.old,
            new: entry.new,
        }
    }
}

/// Shows the history.
pub fn run(context: &Context, arguments: &Arguments) -> Result<Outcome, Failure> {
    let book = context.existing_book()?;
    let entries = book.history(arguments.id.as_deref())?;
    let document = Document {
        changes: entries.into_iter().map(Entry::from).collect(),
        warnings: Vec::new(),
    };
    context.output.answer(&document, || {
        let rows = document.changes.iter().map(row).collect();
        table(&["when (UTC)", "session", "what", "before", "since"], rows)
    })?;
    Ok(Outcome::Done)
}

fn row(entry: &Entry) -> Vec<String> {
    let text = |value: &Option<String>| value.clone().unwrap_or_else(|| "-".to_owned());
    vec![
        entry.at.replace('T', " ").replace('Z', ""),
        entry.id.clone(),
        entry.field.clone(),
        text(&entry.old),
        text(&entry.new),
    ]
}
