//! Whole files: those of `tests/fixtures/ingest`, random ones, real ones, two devices.

mod dialects;
mod fixtures;
mod random;
mod real;
mod shapes;
mod two_devices;

use std::path::Path;

use super::{IngestError, Mapping, ReadOptions, read_sessions};
use crate::session::{Role, Session};
use crate::warning::Severity;

/// Options with the given `--map`s.
fn mapping(maps: &[&str]) -> ReadOptions {
    let maps = maps
        .iter()
        .map(|map| map.parse::<Mapping>().unwrap())
        .collect();
    ReadOptions {
        maps,
        ..ReadOptions::default()
    }
}

/// The session of a file that holds one.
fn read_session(path: &Path, options: &ReadOptions) -> Result<Session, IngestError> {
    let mut sessions = read_sessions(path, options)?;
    assert_eq!(sessions.len(), 1);
    Ok(sessions.remove(0))
}

fn ids(session: &Session) -> Vec<&str> {
    session
        .meta
        .warnings
        .iter()
        .map(|w| w.id.as_str())
        .collect()
}

fn has(session: &Session, id: &str, severity: Severity) -> bool {
    session
        .meta
        .warnings
        .iter()
        .any(|w| w.id == id && w.severity == severity)
}

fn first(session: &Session, role: Role) -> f64 {
    session
        .channel(role)
        .unwrap()
        .into_iter()
        .find(|v| !v.is_nan())
        .unwrap()
}
