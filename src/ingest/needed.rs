//! What a session cannot do without: coolant, speed, and enough of them; ambient, where it is given.

use super::channel::{Channel, describe};
use super::error::IngestError;
use super::inspect::no_ambient;
use super::options::ReadOptions;
use super::recording::Recording;
use crate::quantity::Unit;
use crate::session::{Role, UnitFrom};
use crate::warning::Warning;

/// Coolant and speed must be there with values; other channels without a value are left out.
pub(super) fn needed_channels(main: &mut Recording) -> Result<(), IngestError> {
    for role in [Role::Coolant, Role::Speed] {
        let Some(channel) = main.channels.get(&role) else {
            return Err(IngestError::NoRole {
                file: main.table.file.clone(),
                role,
                columns: main.table.names(),
                likely: main.likely_column(role),
            });
        };
        if channel.values.iter().all(|v| v.is_nan()) {
            return Err(no_values(main, role, &channel.info.column));
        }
    }
    for role in [Role::Coolant, Role::Speed] {
        enough_readings(main, role)?;
    }
    let empty: Vec<Role> = main
        .channels
        .iter()
        .filter(|(_, channel)| channel.values.iter().all(|v| v.is_nan()))
        .map(|(role, _)| *role)
        .collect();
    for role in empty {
        if let Some(channel) = main.channels.remove(&role) {
            let column = channel.info.column;
            let message = format!("{}: column `{column}` holds no usable value", role.name());
            main.warnings
                .push(Warning::caution("empty-channel", message));
            main.unused.push(column);
        }
    }
    Ok(())
}

/// A session of fewer readings than this says nothing of a cooling system.
const LEAST_READINGS: usize = 20;
/// A shorter session is imported, and that is said, s.
const SHORT_SESSION_S: f64 = 60.0;

/// A handful of rows is no session, whether the file has no more or they cannot be read.
fn enough_readings(main: &Recording, role: Role) -> Result<(), IngestError> {
    let rows = main.channels[&role]
        .values
        .iter()
        .filter(|v| !v.is_nan())
        .count();
    if rows >= LEAST_READINGS {
        return Ok(());
    }
    Err(IngestError::TooShort {
        file: main.table.file.clone(),
        rows,
        of: main.table.rows_read,
        what: match role {
            Role::Coolant => "rows have a time and a coolant temperature that can be used",
            _ => "rows have a time and a speed that can be used",
        },
    })
}

/// What is short, or was mostly left out, is imported with a word on it.
pub(super) fn told_if_short(main: &mut Recording) {
    let (kept, read) = (main.timeline.rows.len(), main.table.rows_read);
    if 2 * kept < read {
        main.warnings.push(Warning::caution(
            "rows-mostly-lost",
            format!("only {kept} of {read} rows could be used"),
        ));
    }
    if main.duration_s() < SHORT_SESSION_S {
        main.warnings.push(Warning::caution(
            "short-log",
            format!("the log lasts {:.0} s only", main.duration_s()),
        ));
    }
}

fn no_values(main: &Recording, role: Role, column: &str) -> IngestError {
    let table = &main.table;
    let at = table.column(column).unwrap_or(0);
    let row = (0..table.rows.len())
        .find(|row| !table.cell(*row, at).is_empty())
        .unwrap_or(0);
    IngestError::NoValues {
        file: table.file.clone(),
        line: table.rows[row].number,
        column: column.to_owned(),
        role: role.name().to_owned(),
        value: table.cell(row, at).chars().take(40).collect(),
    }
}

/// `--ambient-c` stands in where no file has the outside temperature.
pub(super) fn take_ambient(main: &mut Recording, options: &ReadOptions) {
    match (
        main.channels.contains_key(&Role::Ambient),
        options.ambient_c,
    ) {
        (true, Some(_)) => main.warnings.push(Warning::note(
            "ambient-c-unused",
            "the files have an outside temperature, so --ambient-c was not used",
        )),
        (false, None) => main.warnings.push(no_ambient()),
        (false, Some(ambient_c)) => {
            main.warnings.push(Warning::caution(
                "ambient-constant",
                format!(
                    "the outside temperature was given as {ambient_c} °C for the whole session"
                ),
            ));
            let values = vec![ambient_c; main.timeline.t_s.len()];
            let column = "--ambient-c".to_owned();
            let info = describe(
                column,
                Unit::Celsius,
                UnitFrom::User,
                &main.timeline.t_s,
                &values,
            );
            main.channels
                .insert(Role::Ambient, Channel { info, values });
        }
        (true, None) => {}
    }
}
