//! Whole files: those of `tests/fixtures/ingest`, random ones, real ones, two devices.

mod clocks;
mod dialects;
mod doubts;
mod fixtures;
mod layouts;
mod random;
mod real;
mod shapes;
mod two_devices;
mod units;

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

/// A log of 300 rows under a header.
fn drive(header: &str, row: impl Fn(usize) -> String) -> String {
    let rows: String = (0..300).map(|i| row(i) + "\n").collect();
    format!("{header}\n{rows}")
}

/// The session of a text, and the refusal of one.
fn imported(text: &str, options: &ReadOptions) -> Result<Session, IngestError> {
    super::read_session_bytes("a.csv", text.as_bytes(), &[], options)
}

/// The session of a text.
fn read(text: &str) -> Session {
    imported(text, &ReadOptions::default()).unwrap_or_else(|e| panic!("{e}"))
}

/// How long a session is, s, and how many rows of it were kept.
fn kept(session: &Session) -> (f64, usize) {
    (session.meta.duration_s, session.meta.rows_kept)
}

/// The session of a file that holds one.
fn read_session(path: &Path, options: &ReadOptions) -> Result<Session, IngestError> {
    let mut sessions = read_sessions(path, options)?;
    assert_eq!(sessions.len(), 1);
    Ok(sessions.remove(0))
}

/// What cleaning takes out of a channel is kept beside it, also where the ambient is given later.
#[test]
fn values_before_cleaning_are_kept() {
    let coolant = |i: usize| match i {
        40..45 => "-40".to_owned(),
        _ => format!("{}", 80 + i % 3),
    };
    let rows: String = (0..200)
        .map(|i| format!("{i},{},{}\n", coolant(i), 100 + i % 50))
        .collect();
    let text = format!("Time [s],Coolant [°C],Speed [km/h]\n{rows}");
    let options = ReadOptions::default();
    let session = super::read_session_bytes("a.csv", text.as_bytes(), &[], &options).unwrap();
    for session in [super::give_ambient(&session, 20.0).unwrap(), session] {
        let (raw, cleaned) = (
            session.raw(Role::Coolant).unwrap(),
            session.channel(Role::Coolant).unwrap(),
        );
        for (i, (raw, cleaned)) in raw.into_iter().zip(cleaned).enumerate() {
            assert_eq!(raw, coolant(i).parse::<f64>().unwrap());
            assert_eq!(cleaned.is_nan(), (40..45).contains(&i));
        }
        assert_eq!(session.raw(Role::Speed), None);
    }
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

/// A coolant in °F made °F of an ambient of 19 °C, and mph of 204 km/h.
#[test]
fn one_columns_fahrenheit_decides_nothing_absurd() {
    let rows: String = (0..900)
        .map(|i| format!("{i},{},{},19,88\n", 180 + i % 30, 4 + i % 201))
        .collect();
    let text = format!("Time,Coolant,Speed,Ambient,Intake air temp\n{rows}");
    let options = ReadOptions::default();
    let session = super::read_session_bytes("a.csv", text.as_bytes(), &[], &options).unwrap();
    let unit = |role| session.meta.channels[&role].unit.as_str();
    assert_eq!(
        [Role::Coolant, Role::Intake, Role::Ambient, Role::Speed].map(unit),
        ["°F", "°F", "°C", "km/h"]
    );
    assert_eq!(first(&session, Role::Ambient), 19.0);
    assert!(has(&session, "unit-assumed", Severity::Caution));
}

/// Every answer leans on the ambient: a unit told from its values is said aloud.
#[test]
fn an_ambient_judged_by_its_values_is_a_caution() {
    let rows: String = (0..300)
        .map(|i| format!("{i},{},{},71\n", 80 + i % 20, 50 + i % 60))
        .collect();
    let text = format!("Time [s],Coolant [°C],Speed [km/h],Ambient\n{rows}");
    let options = ReadOptions::default();
    let session = super::read_session_bytes("a.csv", text.as_bytes(), &[], &options).unwrap();
    assert_eq!(session.meta.channels[&Role::Ambient].unit, "°F");
    assert!(has(&session, "unit-judged", Severity::Caution));
}
