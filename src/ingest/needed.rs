//! What a session cannot do without: coolant, speed, and enough of them.

use super::assign::unusable;
use super::channel::Channel;
use super::clock_steps::believable_clock;
use super::error::IngestError;
use super::options::{MappedRole, Mapping, ReadOptions};
use super::recording::Recording;
use super::roles::is_named;
use super::table::Table;
use super::unit_values::{LEAST_WARM_C, MOST_COOLANT_C};
use super::written::has_numbers;
use crate::quantity::Unit;
use crate::session::{Role, UnitFrom};
use crate::stats::quantile;
use crate::warning::Warning;

/// Coolant and speed must be there with values; other channels without a value are left out.
pub(super) fn needed_channels(
    main: &mut Recording,
    options: &ReadOptions,
) -> Result<(), IngestError> {
    for role in [Role::Coolant, Role::Speed] {
        let Some(channel) = main.channels.get(&role) else {
            if let Some(found) = main.unusable.iter().find(|u| u.role == role) {
                return Err(unusable(&main.table, found.clone()));
            }
            if let Some(column) = named_without_numbers(&main.table, role) {
                return Err(no_values(main, role, &column));
            }
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
    not_swapped(main, options)?;
    for role in [Role::Coolant, Role::Speed, Role::Ambient] {
        mostly_possible(main, role)?;
    }
    believable_speed(main)?;
    believable_clock(main)?;
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

/// The column that is named like a role and holds no number.
fn named_without_numbers(table: &Table, role: Role) -> Option<String> {
    let is_it = |at: &usize| is_named(&table.columns[*at].name, role) && !has_numbers(table, *at);
    let at = (0..table.columns.len()).find(is_it)?;
    Some(table.columns[at].name.clone())
}

/// A coolant that stays below this while the air outside gets above [`LEAST_WARM_C`] is the air, °C.
const COLD_COOLANT_C: f64 = 45.0;

/// Coolant and outside temperature the other way round, in the coolant's unit: unless the user
/// names one of the two.
fn not_swapped(main: &Recording, options: &ReadOptions) -> Result<(), IngestError> {
    let names =
        |map: &&Mapping| matches!(map.role, MappedRole::Role(Role::Coolant | Role::Ambient));
    let channels = [Role::Coolant, Role::Ambient].map(|role| main.channels.get(&role));
    let [Some(coolant), Some(ambient)] = channels else {
        return Ok(());
    };
    let unit_of = |channel: &Channel| Unit::parse(&channel.info.unit).unwrap_or(Unit::Celsius);
    let before = ambient.raw.as_ref().unwrap_or(&ambient.values).iter();
    let hot = quantile(before.copied().filter(|v| !v.is_nan()).collect(), 0.9);
    let hot = hot.unwrap_or(f64::NAN);
    let as_coolant = unit_of(coolant).to_inside(unit_of(ambient).from_inside(hot));
    match coolant.info.max {
        Some(coolant_c)
            if coolant_c < COLD_COOLANT_C
                && (LEAST_WARM_C..=MOST_COOLANT_C).contains(&as_coolant)
                && !options.all_maps().iter().any(names) =>
        {
            Err(IngestError::Swapped {
                file: main.table.file.clone(),
                coolant: coolant.info.column.clone(),
                coolant_c,
                ambient: ambient.info.column.clone(),
                ambient_c: as_coolant,
            })
        }
        _ => Ok(()),
    }
}

/// A needed channel most of whose values cannot be was read in a wrong unit, or is not that channel.
fn mostly_possible(main: &Recording, role: Role) -> Result<(), IngestError> {
    let Some(channel) = main.channels.get(&role) else {
        return Ok(());
    };
    let Some(raw) = &channel.raw else {
        return Ok(());
    };
    let is_dropped = |(raw, kept): &(&f64, &f64)| !raw.is_nan() && kept.is_nan();
    let dropped = raw.iter().zip(&channel.values).filter(is_dropped).count();
    let count = raw.iter().filter(|v| !v.is_nan()).count();
    let first = raw
        .iter()
        .zip(&channel.values)
        .position(|pair| is_dropped(&pair));
    let (table, column) = (&main.table, &channel.info.column);
    // Air outside without any value is no ambient, which can be given.
    if dropped == count && role == Role::Ambient {
        return Ok(());
    }
    // The rows of another device's file are not at hand here; its caution stands.
    let (Some(at), Some(place), true) = (first, table.column(column), 2 * dropped > count) else {
        return Ok(());
    };
    let row = main.timeline.rows.get(at).copied().unwrap_or(0);
    let cell = table.cell(row, place);
    Err(IngestError::MostlyImpossible {
        file: table.file.clone(),
        line: table.rows.number(row),
        role,
        column: column.clone(),
        unit: channel.info.unit.clone(),
        dropped,
        count,
        value: cell.chars().take(40).collect(),
    })
}

/// A speed that is off by more than this factor from the positions is no speed, unless the user
/// says so by naming column and unit.
const ABSURD_FACTOR: f64 = 2.0;

fn believable_speed(main: &Recording) -> Result<(), IngestError> {
    let speed = &main.channels[&Role::Speed].info;
    match main.speed_factor {
        Some(factor)
            if speed.unit_from != UnitFrom::User && factor.ln().abs() > ABSURD_FACTOR.ln() =>
        {
            Err(IngestError::SpeedAgainstPositions {
                file: main.table.file.clone(),
                column: speed.column.clone(),
                unit: speed.unit.clone(),
                factor,
            })
        }
        _ => Ok(()),
    }
}

/// A session of fewer readings than this says nothing of a cooling system.
const LEAST_READINGS: usize = 20;
/// A shorter session is imported, and that is said, s.
const SHORT_SESSION_S: f64 = 60.0;

/// Fewer rows lost are no caution, whatever their share.
const LEAST_LOST: usize = 20;

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
    let lost = read.saturating_sub(kept + main.timeline.copies);
    if 2 * kept < read {
        main.warnings.push(Warning::caution(
            "rows-mostly-lost",
            format!("only {kept} of {read} rows could be used"),
        ));
    } else if lost >= LEAST_LOST && 10 * lost >= read {
        main.warnings.push(Warning::caution(
            "rows-lost",
            format!("{lost} of {read} rows could not be used; the notes say why"),
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
        line: table.rows.number(row),
        column: column.to_owned(),
        role: role.name().to_owned(),
        value: table.cell(row, at).chars().take(40).collect(),
    }
}
