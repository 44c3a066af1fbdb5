//! `heatbook backup`: a copy of the book while it is in use.

use std::path::PathBuf;

use clap::Args;
use serde::Serialize;

use super::failure::Failure;
use super::output::count;
use super::{Context, Outcome};
use crate::warning::Warning;

/// Arguments of `backup`.
#[derive(Debug, Args)]
pub struct Arguments {
    /// The folder to copy into; it must be empty or not be there yet
    #[arg(value_name = "DIR")]
    folder: PathBuf,
}

#[derive(Debug, Serialize)]
struct Document {
    folder: String,
    sessions_copied: usize,
    bytes_copied: u64,
    warnings: Vec<Warning>,
}

/// Copies the book.
pub fn run(context: &Context, arguments: &Arguments) -> Result<Outcome, Failure> {
    let made = context.existing_book()?.backup(&arguments.folder)?;
    let document = Document {
        folder: arguments.folder.display().to_string(),
        sessions_copied: made.sessions,
        bytes_copied: made.bytes,
        warnings: Vec::new(),
    };
    context.output.answer(&document, || {
        format!(
            "{}, {:.1} MB: {}\n",
            count(document.sessions_copied, "session"),
            document.bytes_copied as f64 / 1e6,
            document.folder
        )
    })?;
    Ok(Outcome::Done)
}
