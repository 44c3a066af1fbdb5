//! What the user says about a file: `--map`, `--start`, `--day`, `--with`, the profile, the sheets.

use std::fmt;
use std::path::PathBuf;
use std::str::FromStr;

use chrono::{NaiveDate, NaiveDateTime};
use thiserror::Error;

use super::clock_unit;
use super::time_text::DateOrder;
use crate::car::{CarSheet, SetupSheet};
use crate::quantity::Unit;
use crate::session::Role;
use crate::words::shell_word;

/// What a column is mapped to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MappedRole {
    /// The clock.
    Time,
    /// A channel.
    Role(Role),
}

impl MappedRole {
    /// The name on the command line.
    pub fn name(self) -> &'static str {
        match self {
            Self::Time => "time",
            Self::Role(role) => role.name(),
        }
    }
}

/// One `--map ROLE=COLUMN[:UNIT]`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mapping {
    /// What the column is.
    pub role: MappedRole,
    /// The column's name in the file.
    pub column: String,
    /// The unit it is written in, if told.
    pub unit: Option<Unit>,
    /// The unit in which a clock counts, if told: `ms`.
    pub clock_unit: Option<String>,
}

/// What is wrong with a `--map`.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum MapError {
    /// No `=`, or nothing on one side of it.
    #[error("`{text}` is not ROLE=COLUMN[:UNIT]")]
    Form {
        /// As typed.
        text: String,
    },
    /// A role that is not known.
    #[error("unknown role `{role}`; nearest known: `{nearest}`")]
    Role {
        /// As typed.
        role: String,
        /// The column typed with it.
        column: String,
        /// The most similar role.
        nearest: String,
    },
    /// A unit that does not measure what the role is.
    #[error("{role} cannot be written in {unit}")]
    Unit {
        /// The role.
        role: String,
        /// The column.
        column: String,
        /// The unit.
        unit: String,
        /// The unit used inside.
        expected: String,
    },
}

impl MapError {
    /// What to type.
    pub fn hint(&self) -> String {
        match self {
            Self::Form { .. } => "--map \"coolant=COLUMN:°C\"".to_owned(),
            Self::Role {
                column, nearest, ..
            } => map_flag(nearest, column),
            Self::Unit {
                role,
                column,
                expected,
                ..
            } => map_flag(role, &format!("{column}:{expected}")),
        }
    }
}

/// `--map role=column` as it must be typed in a shell.
pub(super) fn map_flag(role: &str, column: &str) -> String {
    let map = format!("{role}={column}");
    let plain = |c: char| c.is_ascii_alphanumeric() || "_-.=".contains(c);
    if map.chars().all(plain) {
        format!("--map {map}")
    } else if map.contains(['"', '$', '`', '\\', '!']) {
        format!("--map {}", shell_word(&map))
    } else {
        format!("--map \"{map}\"")
    }
}

impl fmt::Display for Mapping {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}={}", self.role.name(), self.column)?;
        match (self.unit, &self.clock_unit) {
            (Some(unit), _) => write!(f, ":{}", unit.symbol()),
            (None, Some(unit)) => write!(f, ":{unit}"),
            (None, None) => Ok(()),
        }
    }
}

impl FromStr for Mapping {
    type Err = MapError;

    fn from_str(text: &str) -> Result<Self, MapError> {
        let form = || MapError::Form {
            text: text.to_owned(),
        };
        let (role, rest) = text.split_once('=').ok_or_else(form)?;
        let (role, rest) = (role.trim(), rest.trim());
        if role.is_empty() || rest.is_empty() {
            return Err(form());
        }
        if role.eq_ignore_ascii_case("time") {
            return Ok(Self::of_clock(rest));
        }
        // A column's own name may hold a colon: only what can be read as a unit is one.
        let (column, unit) = match rest.rsplit_once(':') {
            Some((column, unit)) if !column.trim().is_empty() && !is_figure(unit) => {
                match Unit::parse(unit) {
                    Some(unit) => (column.trim(), Some(unit)),
                    None => (rest, None),
                }
            }
            _ => (rest, None),
        };
        let role = parse_role(role, column)?;
        if let (MappedRole::Role(role), Some(unit)) = (role, unit)
            && unit.quantity() != role.quantity()
        {
            return Err(MapError::Unit {
                role: role.name().to_owned(),
                column: column.to_owned(),
                unit: unit.symbol().to_owned(),
                expected: role.quantity().inside_unit().symbol().to_owned(),
            });
        }
        Ok(Self {
            role,
            column: column.to_owned(),
            unit,
            clock_unit: None,
        })
    }
}

impl Mapping {
    /// The mapping of a clock's column, perhaps with the unit in which it counts.
    fn of_clock(text: &str) -> Self {
        let parted = text
            .rsplit_once(':')
            .filter(|(column, unit)| !column.trim().is_empty() && clock_unit::is_unit(unit.trim()));
        let (column, clock_unit) = match parted {
            Some((column, unit)) => (column.trim(), Some(unit.trim().to_owned())),
            None => (text, None),
        };
        Self {
            role: MappedRole::Time,
            column: column.to_owned(),
            unit: None,
            clock_unit,
        }
    }
}

/// Whether what follows a colon is the end of a name such as `Temp: 1`.
fn is_figure(text: &str) -> bool {
    text.trim().bytes().all(|b| b.is_ascii_digit())
}

fn parse_role(text: &str, column: &str) -> Result<MappedRole, MapError> {
    let wanted = text.to_lowercase().replace(['-', ' '], "_");
    if wanted == "time" {
        return Ok(MappedRole::Time);
    }
    if let Some(role) = Role::parse(&wanted) {
        return Ok(MappedRole::Role(role));
    }
    let names = Role::ALL.iter().map(|role| role.name()).chain(["time"]);
    let nearest = nearest(&wanted, names).unwrap_or_default();
    Err(MapError::Role {
        role: text.to_owned(),
        column: column.to_owned(),
        nearest,
    })
}

/// The most similar of `names`, where one is alike enough to be meant.
pub(super) fn meant<'a>(wanted: &str, names: impl Iterator<Item = &'a str>) -> Option<String> {
    /// Names less alike have nothing to do with each other (Jaro-Winkler).
    const ALIKE: f64 = 0.75;
    let alike =
        |name: &String| strsim::jaro_winkler(&wanted.to_lowercase(), &name.to_lowercase()) > ALIKE;
    nearest(wanted, names).filter(alike)
}

/// The most similar of `names`.
pub(super) fn nearest<'a>(wanted: &str, names: impl Iterator<Item = &'a str>) -> Option<String> {
    names
        .map(|name| {
            (
                strsim::jaro_winkler(&wanted.to_lowercase(), &name.to_lowercase()),
                name,
            )
        })
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, name)| name.to_owned())
}

/// What the user says about one main file.
#[derive(Debug, Clone, Default)]
pub struct ReadOptions {
    /// The setup it was run with.
    pub setup: String,
    /// The car's sheet.
    pub car: CarSheet,
    /// The setup's sheet.
    pub setup_sheet: SetupSheet,
    /// Columns named by the user; each is used in whichever of the files has that column.
    pub maps: Vec<Mapping>,
    /// What a profile says of such columns; a column that a file lacks is passed over.
    pub profile_maps: Vec<Mapping>,
    /// Which of day and month comes first in dates that leave it open.
    pub date_order: Option<DateOrder>,
    /// Rows a second, for a file without a clock.
    pub rate_hz: Option<f64>,
    /// Local time of the first row.
    pub start: Option<NaiveDateTime>,
    /// The day.
    pub day: Option<NaiveDate>,
    /// Files of other devices.
    pub with: Vec<PathBuf>,
    /// Seconds to add to the clock of such a file, by its name.
    pub offsets_s: Vec<(String, f64)>,
    /// Ambient to take where no file has it, °C.
    pub ambient_c: Option<f64>,
    /// The driver.
    pub driver: Option<String>,
    /// A note.
    pub note: Option<String>,
}

impl ReadOptions {
    /// What the user says of the clock of a file of another device.
    pub(super) fn offset_s(&self, file: &str) -> Option<f64> {
        let mut named = self.offsets_s.iter();
        named.find(|(name, _)| name == file).map(|(_, s)| *s)
    }

    /// Every mapping: the user's own, and those of the profile for the roles that these leave open.
    pub(super) fn all_maps(&self) -> Vec<&Mapping> {
        let own = |role| self.maps.iter().any(|map| map.role == role);
        let profile = self.profile_maps.iter().filter(|map| !own(map.role));
        self.maps.iter().chain(profile).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mapping_is_role_column_and_perhaps_unit() {
        let with_unit: Mapping = "coolant=Water: left:degF".parse().unwrap();
        assert_eq!(with_unit.role, MappedRole::Role(Role::Coolant));
        assert_eq!(with_unit.column, "Water: left");
        assert_eq!(with_unit.unit, Some(Unit::Fahrenheit));
        let without: Mapping = "time=t: main".parse().unwrap();
        assert_eq!((without.column.as_str(), without.unit), ("t: main", None));
        let numbered: Mapping = "coolant=Temp: 1".parse().unwrap();
        assert_eq!((numbered.column.as_str(), numbered.unit), ("Temp: 1", None));
        let clock: Mapping = "time=t (ms):s".parse().unwrap();
        assert_eq!(
            (clock.column.as_str(), clock.clock_unit.as_deref()),
            ("t (ms)", Some("s"))
        );
        assert_eq!(clock.to_string(), "time=t (ms):s");
    }

    #[test]
    fn a_wrong_mapping_says_what_to_type() {
        let error = "coolent=T1".parse::<Mapping>().unwrap_err();
        assert_eq!(error.hint(), "--map coolant=T1");
        let error = "coolant=T1:kPa".parse::<Mapping>().unwrap_err();
        assert_eq!(error.hint(), "--map \"coolant=T1:°C\"");
        // A column that a shell would read as more than one word, or read into.
        assert_eq!(map_flag("coolant", "T 1"), "--map \"coolant=T 1\"");
        assert_eq!(map_flag("coolant", "T \"1\""), "--map 'coolant=T \"1\"'");
        assert!("coolant".parse::<Mapping>().is_err());
        assert!("=x".parse::<Mapping>().is_err());
    }
}
