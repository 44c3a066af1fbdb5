//! The unit that a file says for a column: in its name, in a row of units, in its cells, above the
//! table.

use super::cell::unit_of_cell;
use super::clock_read::sample;
use super::heads::without_number;
use super::options::map_flag;
use super::preamble::unit_told;
use super::table::Table;
use super::unit_text::{Written, fits, read_unit, split_brackets, tail_unit};
use super::words::of_gauge;
use crate::quantity::{Quantity, Unit};
use crate::session::{Role, UnitFrom};
use crate::warning::Warning;
use crate::words::quoted;

/// What a file says of the unit of a column as a role.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Said {
    /// Nothing.
    Nothing,
    /// A unit, and where it stands.
    Unit(Unit, UnitFrom),
    /// Something that this program does not know, or cannot use for the role.
    Unusable(String),
    /// A unit of something else: the column is not that role.
    Other,
}

impl Said {
    /// The unit, where there is one.
    pub fn unit(&self) -> Option<(Unit, UnitFrom)> {
        match self {
            Self::Unit(unit, from) => Some((*unit, *from)),
            _ => None,
        }
    }
}

/// A column that would be a role if its unit could be used.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Unusable {
    pub role: Role,
    pub column: String,
    /// The unit as it is written.
    pub text: String,
}

impl Unusable {
    /// What is wrong with it.
    pub fn why(&self) -> String {
        let (role, column) = (self.role.name(), quoted(&self.column));
        let text = quoted(&self.text);
        let known = self.role.quantity().known_units();
        if of_gauge(&self.text) || Unit::parse_gauge(&self.text).is_some() {
            return format!(
                "column {column} is pressure against the air outside ({text}), and {role} is absolute"
            );
        }
        match Unit::parse(&self.text) {
            Some(_) => {
                format!("column {column}: {role} cannot be told from {text}; units: {known}")
            }
            None => format!(
                "column {column}: the unit {text} of {role} is not known; known are {known}"
            ),
        }
    }

    /// The warning for a channel that is left out.
    pub fn warning(&self) -> Warning {
        let (role, unit) = (
            self.role.name(),
            self.role.quantity().inside_unit().symbol(),
        );
        Warning::caution(
            "unit-unknown",
            format!(
                "{}; not taken: if it is in one of these, {}",
                self.why(),
                map_flag(role, &format!("{}:{unit}", self.column))
            ),
        )
    }
}

/// The unit that the file says for a column as `role`.
pub(super) fn said_unit(table: &Table, column: usize, role: Role) -> Said {
    let head = &table.columns[column];
    let quantity = role.quantity();
    let (bare, in_brackets) = split_brackets(without_number(&head.name));
    if quantity == Quantity::Pressure && of_gauge(&bare) {
        return Said::Unusable(bare);
    }
    let in_row = || {
        head.unit_text
            .as_deref()
            .map_or(Written::Nothing, read_unit)
    };
    for (written, from) in [
        (in_brackets, UnitFrom::Header),
        (in_row(), UnitFrom::Row),
        (tail_unit(&bare, quantity), UnitFrom::Header),
    ] {
        match written {
            Written::Known(unit) if !fits(role, unit) => return misfit(role, unit),
            // A bare degree sign leaves the scale open; a fan's duty is a switch here.
            Written::Known(Unit::Degree) if quantity != Quantity::Angle => {}
            Written::Known(unit) if unit.quantity() == quantity => return Said::Unit(unit, from),
            Written::Unknown(text) if quantity != Quantity::Count => return Said::Unusable(text),
            Written::Known(_) | Written::Nothing | Written::Unknown(_) => {}
            Written::Foreign => return Said::Other,
        }
    }
    match in_cells(table, column) {
        Written::Known(unit) if unit.quantity() == quantity => Said::Unit(unit, UnitFrom::Row),
        Written::Unknown(text) if quantity != Quantity::Count => Said::Unusable(text),
        _ => unit_told(&table.preamble, quantity)
            .map_or(Said::Nothing, |unit| Said::Unit(unit, UnitFrom::Row)),
    }
}

/// A unit of another quantity. Fuel by mass would need its density.
fn misfit(role: Role, unit: Unit) -> Said {
    match (role, unit.quantity()) {
        (Role::FuelRate, Quantity::MassFlow) => Said::Unusable(unit.symbol().to_owned()),
        _ => Said::Other,
    }
}

/// The unit that stands behind the numbers of a column.
fn in_cells(table: &Table, column: usize) -> Written {
    let units: Vec<Option<Unit>> = sample(table, column)
        .into_iter()
        .map(unit_of_cell)
        .collect();
    let mut found = units.iter().flatten();
    match found.next() {
        None => Written::Nothing,
        Some(first) if found.all(|unit| unit == first) => Written::Known(*first),
        Some(first) => {
            let other = units.iter().flatten().find(|unit| *unit != first);
            let symbols = [Some(first), other]
                .into_iter()
                .flatten()
                .map(|unit| unit.symbol());
            Written::Unknown(symbols.collect::<Vec<_>>().join(" and "))
        }
    }
}
