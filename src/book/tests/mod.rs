//! Tests of the book, and the sessions they put into it.

mod crash;
mod damage;
mod keeping;
mod replacing;
mod round_trip;
mod verifying;

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use super::Book;
use crate::car::{CarSheet, SetupSheet};
use crate::session::{ChannelInfo, Role, Session, SessionMeta, UnitFrom};

/// The environment variable that names the step at which a process is to die.
const DIE_AT: &str = "HEATBOOK_TEST_DIE_AT";

/// Dies without tidying up, as if killed, if this process was told to die at this step.
pub(super) fn die_if_told(step: &str) {
    if std::env::var(DIE_AT).is_ok_and(|at| at == step) {
        std::process::abort();
    }
}

/// A book of two sessions, in a folder of its own.
fn book_of_two() -> (tempfile::TempDir, Book) {
    let folder = tempfile::tempdir().unwrap();
    let mut book = Book::open(folder.path()).unwrap();
    book.add(session(1)).unwrap();
    book.add(session(2)).unwrap();
    (folder, book)
}

fn info(max: f64) -> ChannelInfo {
    ChannelInfo {
        column: "ECT".into(),
        unit: "°C".into(),
        unit_from: UnitFrom::Header,
        resolution: Some(1.0),
        median_refresh_s: None,
        missing_fraction: 0.25,
        min: Some(20.0),
        max: Some(max),
        mean: Some(80.5),
    }
}

fn meta(hash: u32) -> SessionMeta {
    SessionMeta {
        id: String::new(),
        file: format!("run_{hash}.csv"),
        sha256: format!("{hash:064x}"),
        setup: "stock".into(),
        car: CarSheet {
            mass_kg: Some(1310.5),
            ..CarSheet::default()
        },
        setup_sheet: SetupSheet::default(),
        start: None,
        day: None,
        duration_s: 199.9,
        rows_read: 2001,
        rows_kept: 2000,
        driver: None,
        note: None,
        excluded: None,
        channels: BTreeMap::from([(Role::Coolant, info(104.0))]),
        aligned: Vec::new(),
        warnings: Vec::new(),
    }
}

/// Coolant of the session of that hash: no two sessions alike, every seventh reading missing.
fn coolant(hash: u32) -> Vec<f64> {
    let reading = |i: u32| {
        if i.is_multiple_of(7) {
            f64::NAN
        } else {
            f64::from(hash * 2000 + i).sin()
        }
    };
    (0..2000).map(reading).collect()
}

fn session(hash: u32) -> Session {
    with_meta(meta(hash), hash)
}

fn with_meta(meta: SessionMeta, hash: u32) -> Session {
    let t_s: Vec<f64> = (0..2000).map(|i| f64::from(i) * 0.1).collect();
    let channels = BTreeMap::from([(Role::Coolant, coolant(hash)), (Role::Speed, t_s.clone())]);
    Session::from_columns(meta, &t_s, channels).unwrap()
}

fn keep_fit(book: &mut Book, id: &str, key: &str, json: &str) -> super::Result<()> {
    book.keep_fits(&[(id.to_owned(), key.to_owned(), json.to_owned())])
}

fn cached_fit(book: &Book, id: &str, key: &str) -> Option<String> {
    let wanted = [(id.to_owned(), key.to_owned())];
    book.cached_fits(&wanted).unwrap().remove(0)
}

/// Equal, a missing value being equal to a missing value.
fn same(left: &[f64], right: &[f64]) -> bool {
    left.len() == right.len()
        && left
            .iter()
            .zip(right)
            .all(|(l, r)| l == r || (l.is_nan() && r.is_nan()))
}

fn names(folder: &Path) -> BTreeSet<String> {
    let Ok(entries) = std::fs::read_dir(folder) else {
        return BTreeSet::new();
    };
    entries
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect()
}

/// Folders of channels that no session of the book owns, and whatever is staged.
fn left_behind(dir: &Path) -> Vec<String> {
    let book = Book::open(dir).unwrap();
    let owned: BTreeSet<String> = book
        .sessions()
        .unwrap()
        .iter()
        .map(|meta| format!("session={}", meta.id))
        .collect();
    let placed = names(&dir.join("channels"));
    placed
        .difference(&owned)
        .cloned()
        .chain(names(&dir.join("staging")))
        .collect()
}
