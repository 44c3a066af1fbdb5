//! What ends a verb with nothing done, and what to type instead.

use std::fmt::Display;
use std::path::Path;

use crate::book::BookError;
use crate::car::SheetError;
use crate::ingest::IngestError;
use crate::report::ReportError;

/// A message and a hint.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Failure {
    /// What went wrong.
    pub message: String,
    /// What to do about it.
    pub hint: String,
}

impl Failure {
    /// A failure from its two sentences.
    pub fn new(message: impl Into<String>, hint: impl Into<String>) -> Self {
        Self {
            message: message.into(),
            hint: hint.into(),
        }
    }

    /// A file that could not be read or written.
    pub fn file(doing: &str, path: &Path, error: &dyn Display) -> Self {
        Self::new(
            format!("{}: cannot {doing}: {error}", path.display()),
            "look at the path and at who may read and write there",
        )
    }
}

impl From<BookError> for Failure {
    fn from(error: BookError) -> Self {
        Self::new(error.to_string(), error.hint())
    }
}

impl From<SheetError> for Failure {
    fn from(error: SheetError) -> Self {
        Self::new(error.to_string(), error.hint())
    }
}

impl From<IngestError> for Failure {
    fn from(error: IngestError) -> Self {
        Self::new(error.message(), error.hint())
    }
}

impl From<ReportError> for Failure {
    fn from(error: ReportError) -> Self {
        Self::new(
            error.to_string(),
            "this is a defect of the program: please report it",
        )
    }
}
