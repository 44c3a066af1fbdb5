//! Car and setup sheets: from the flag, else as the book has them.

use std::path::Path;

use sha2::{Digest, Sha256};

use super::failure::Failure;
use crate::car::{CarSheet, SetupSheet};
use crate::hex::hex;
use crate::session::SessionMeta;
use crate::warning::Warning;
use crate::words::{quoted, shell_word};

/// Reads a sheet's text.
pub fn read(path: &Path) -> Result<String, Failure> {
    std::fs::read_to_string(path).map_err(|e| Failure::file("read", path, &e))
}

/// A sheet for the provenance of a page: its name without folders, and its SHA-256.
pub fn content(file: &str, text: &str) -> (String, String) {
    let name = Path::new(file).file_name().unwrap_or_default();
    (
        name.to_string_lossy().into_owned(),
        hex(&Sha256::digest(text)),
    )
}

/// A car sheet from a file.
pub fn car(path: &Path) -> Result<CarSheet, Failure> {
    Ok(CarSheet::from_toml(
        &read(path)?,
        &path.display().to_string(),
    )?)
}

/// A setup sheet from a file.
pub fn setup(path: &Path) -> Result<SetupSheet, Failure> {
    Ok(SetupSheet::from_toml(
        &read(path)?,
        &path.display().to_string(),
    )?)
}

/// A setup sheet from a file, for the setup of that name.
///
/// # Errors
/// A sheet that cannot be read, or that names another setup.
pub fn setup_named(path: &Path, setup: &str) -> Result<SetupSheet, Failure> {
    let sheet = self::setup(path)?;
    match &sheet.name {
        Some(name) if name != setup => Err(Failure::new(
            format!(
                "{}: the sheet is that of setup {}, not of {}",
                path.display(),
                quoted(name),
                quoted(setup)
            ),
            format!(
                "if it was run with {}: --setup {}; else name the sheet of {}, or mend the name in the sheet",
                quoted(name),
                shell_word(name),
                quoted(setup)
            ),
        )),
        _ => Ok(sheet),
    }
}

/// The car sheet when none was named: the one that all sessions of the book share.
pub fn car_of_book(sessions: &[SessionMeta], warnings: &mut Vec<Warning>) -> CarSheet {
    let Some(first) = sessions.first() else {
        warnings.push(Warning::caution(
            "no-car-sheet",
            "no car sheet: thermostat, coolant and limit are assumed; name one with --car FILE",
        ));
        return CarSheet::default();
    };
    if sessions.iter().all(|s| s.car == first.car) {
        warnings.push(Warning::note(
            "car-from-book",
            format!(
                "car sheet as for the other sessions of the book ({})",
                first
                    .car
                    .name
                    .as_deref()
                    .map_or_else(|| "no name".to_owned(), quoted)
            ),
        ));
        return first.car.clone();
    }
    warnings.push(Warning::caution(
        "no-car-sheet",
        "the book has several car sheets and none was named: name one with --car FILE",
    ));
    CarSheet::default()
}

/// The setup sheet when none was named: the latest of that setup in the book.
pub fn setup_of_book(sessions: &[SessionMeta], setup: &str) -> SetupSheet {
    let latest = sessions.iter().rev().find(|s| s.setup == setup);
    latest.map(|s| s.setup_sheet.clone()).unwrap_or_default()
}
