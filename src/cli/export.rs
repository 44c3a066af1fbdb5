//! `heatbook export`: sessions as files for other programs.

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use serde::Serialize;

use super::each::named;
use super::failure::Failure;
use super::output::count;
use super::{Context, Outcome};
use crate::book::{self, BookError};
use crate::warning::Warning;

/// Arguments of `export`.
#[derive(Debug, Args)]
pub struct Arguments {
    /// The folder to write into; it must be empty or not be there yet
    #[arg(value_name = "DIR")]
    folder: PathBuf,
    /// Sessions to write [default: all]
    #[arg(value_name = "ID")]
    ids: Vec<String>,
    /// What to write
    #[arg(long, value_name = "FORMAT", default_value = "parquet")]
    format: Format,
}

/// What to write.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum, Serialize)]
#[serde(rename_all = "lowercase")]
enum Format {
    /// For spreadsheets; what one would take for a formula gets an apostrophe before it
    Csv,
    /// For data engines
    Parquet,
}

#[derive(Debug, Serialize)]
struct Document {
    folder: String,
    format: Format,
    sessions: Vec<String>,
    failed: Vec<Failed>,
    warnings: Vec<Warning>,
}

#[derive(Debug, Serialize)]
struct Failed {
    file: String,
    message: String,
}

impl From<&BookError> for Failed {
    fn from(error: &BookError) -> Self {
        let file = match error {
            BookError::Damaged { file, .. } => file.display().to_string(),
            BookError::Io { path, .. } => path.display().to_string(),
            _ => "the book".to_owned(),
        };
        Self {
            file,
            message: error.to_string(),
        }
    }
}

/// Writes the sessions named, or all.
pub fn run(context: &Context, arguments: &Arguments) -> Result<Outcome, Failure> {
    let book = context.existing_book()?;
    let metas = named(&book, &arguments.ids)?;
    let format = match arguments.format {
        Format::Csv => book::Format::Csv,
        Format::Parquet => book::Format::Parquet,
    };
    let written = book.export(&metas, &arguments.folder, format)?;
    let document = Document {
        folder: arguments.folder.display().to_string(),
        format: arguments.format,
        sessions: written.sessions,
        failed: written.damaged.iter().map(Failed::from).collect(),
        warnings: Vec::new(),
    };
    for error in written.damaged {
        context.output.complaint(&error.into());
    }
    context.output.answer(&document, || {
        let sessions = count(document.sessions.len(), "session");
        format!("{sessions}: {}\n", document.folder)
    })?;
    Ok(if document.failed.is_empty() {
        Outcome::Done
    } else {
        Outcome::Partly
    })
}
