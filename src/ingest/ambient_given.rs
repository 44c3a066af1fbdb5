//! An outside temperature that no column has: one for the whole session, given by the user or told
//! above the table.

use std::collections::BTreeMap;

use super::cell::{number, unit_of_cell};
use super::channel::{Channel, describe};
use super::error::IngestError;
use super::inspect::no_ambient;
use super::options::ReadOptions;
use super::recording::Recording;
use super::roles::meanings_of;
use super::table::Table;
use super::unit_text::{Written, split_brackets};
use crate::quantity::{Quantity, Unit};
use crate::session::{Role, Session, UnitFrom};
use crate::warning::Warning;
use crate::words::quoted;

/// A session with a constant outside temperature, given afterwards.
///
/// # Errors
/// A session that has an outside temperature from a file.
pub fn give_ambient(session: &Session, ambient_c: f64) -> Result<Session, IngestError> {
    let mut meta = session.meta.clone();
    if let Some(known) = meta.channels.get(&Role::Ambient)
        && known.column != AMBIENT_FLAG
    {
        return Err(IngestError::AmbientKnown {
            session: meta.label(),
            file: meta.file.clone(),
            column: known.column.clone(),
        });
    }
    let t_s = session.time_s();
    let (channel, warning) = constant_ambient(&t_s, ambient_c);
    meta.warnings
        .retain(|w| w.id != "no-ambient" && w.id != warning.id);
    meta.warnings.push(warning);
    meta.channels.insert(Role::Ambient, channel.info);
    let mut values: BTreeMap<Role, Vec<f64>> = Role::ALL
        .iter()
        .filter_map(|role| Some((*role, session.channel(*role)?)))
        .collect();
    values.insert(Role::Ambient, channel.values);
    let raw = (Role::ALL.iter()).filter_map(|role| Some((*role, session.raw(*role)?)));
    let file = meta.file.clone();
    Session::from_columns(meta, &t_s, values)
        .and_then(|with| with.with_raw(raw.collect()))
        .map_err(|error| IngestError::Frame {
            file,
            why: error.to_string(),
        })
}

/// What stands as the column of an outside temperature that the user gave.
const AMBIENT_FLAG: &str = "--ambient-c";

fn constant_ambient(t_s: &[f64], ambient_c: f64) -> (Channel, Warning) {
    let channel = constant(t_s, ambient_c, AMBIENT_FLAG, UnitFrom::User);
    let message =
        format!("the outside temperature was given as {ambient_c} °C for the whole session");
    (channel, Warning::caution(CONSTANT, message))
}

/// Id of the warning that one outside temperature stands for the whole session.
const CONSTANT: &str = "ambient-constant";

fn constant(t_s: &[f64], ambient_c: f64, column: &str, from: UnitFrom) -> Channel {
    let values = vec![ambient_c; t_s.len()];
    let info = describe(column.to_owned(), Unit::Celsius, from, t_s, &values);
    Channel {
        info,
        values,
        raw: None,
    }
}

/// The outside temperature that a pair above the table names with its unit, with its name, °C.
pub(super) fn told_above(table: &Table) -> Option<(&str, f64)> {
    const AIR_C: std::ops::RangeInclusive<f64> = -30.0..=55.0;
    table.preamble.iter().find_map(|(name, value)| {
        let is_air = meanings_of(name).iter().any(|m| m.role == Role::Ambient);
        let written = number(value, table.mark).filter(|_| is_air)?;
        let unit = unit_of_cell(value).or_else(|| match split_brackets(name).1 {
            Written::Known(unit) => Some(unit),
            _ => None,
        });
        let unit = unit.filter(|unit| unit.quantity() == Quantity::Temperature)?;
        let celsius = unit.to_inside(written);
        AIR_C.contains(&celsius).then_some((name.as_str(), celsius))
    })
}

/// `--ambient-c` stands in where no column has the outside temperature, or else what stands above
/// the table.
pub(super) fn take_ambient(main: &mut Recording, options: &ReadOptions) {
    match (
        main.channels.contains_key(&Role::Ambient),
        options.ambient_c,
    ) {
        (true, Some(_)) => main.warnings.push(Warning::note(
            "ambient-c-unused",
            "the files have an outside temperature, so --ambient-c was not used",
        )),
        (false, None) => match told_above(&main.table) {
            Some((name, ambient_c)) => {
                let channel = constant(&main.timeline.t_s, ambient_c, name, UnitFrom::Header);
                let message = format!(
                    "the outside temperature stands above the table ({}: {ambient_c:.1} °C) and was taken for the whole session",
                    quoted(name)
                );
                main.warnings.push(Warning::caution(CONSTANT, message));
                main.channels.insert(Role::Ambient, channel);
            }
            None => main.warnings.push(no_ambient()),
        },
        (false, Some(ambient_c)) => {
            let (channel, warning) = constant_ambient(&main.timeline.t_s, ambient_c);
            main.warnings.push(warning);
            main.channels.insert(Role::Ambient, channel);
        }
        (true, None) => {}
    }
}
