//! What the reader of an answer must know besides the answer.
//!
//! Ids are part of the machine interface: scripts match on them, so an id is never renamed.

use serde::{Deserialize, Serialize};

/// How much a warning weighs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// Good to know; changes nothing.
    Note,
    /// The answer stands, but leans on something the reader may doubt.
    Caution,
    /// The answer cannot be given, or must not be used for a claim.
    Disqualifies,
}

/// One warning with a stable id.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Warning {
    /// Stable name, `kebab-case`.
    pub id: String,
    /// How much it weighs.
    pub severity: Severity,
    /// One sentence or two for a person.
    pub message: String,
}

impl Warning {
    /// A note: good to know, changes nothing.
    pub fn note(id: &str, message: impl Into<String>) -> Self {
        Self::new(id, Severity::Note, message)
    }

    /// A caution: the answer stands, with a doubt that the reader must know.
    pub fn caution(id: &str, message: impl Into<String>) -> Self {
        Self::new(id, Severity::Caution, message)
    }

    /// The answer cannot be given, or must not be used for a claim.
    pub fn disqualifies(id: &str, message: impl Into<String>) -> Self {
        Self::new(id, Severity::Disqualifies, message)
    }

    fn new(id: &str, severity: Severity, message: impl Into<String>) -> Self {
        Self {
            id: id.to_owned(),
            severity,
            message: message.into(),
        }
    }
}
