//! What cannot be imported, and what to type instead.

use thiserror::Error;

use crate::session::Role;

/// Why a file gives no session.
#[derive(Debug, Error)]
pub enum IngestError {
    /// The file system refused.
    #[error("{file}: cannot be opened: {why}")]
    Unreadable {
        /// The file.
        file: String,
        /// What the system said.
        why: String,
    },
    /// Nothing in it.
    #[error("{file}: the file is empty")]
    Empty {
        /// The file.
        file: String,
    },
    /// The bytes are no table of delimited text.
    #[error("{file}: no table of delimited text: {why}")]
    NoTable {
        /// The file.
        file: String,
        /// What was seen instead.
        why: String,
    },
    /// Most rows do not fit the header.
    #[error("{file}:{line}: {found} fields where the header has {expected}, as in most rows")]
    Ragged {
        /// The file.
        file: String,
        /// The first such line.
        line: usize,
        /// Fields in the header.
        expected: usize,
        /// Fields in that line.
        found: usize,
    },
    /// No column is a clock.
    #[error("{file}: no time column among the columns {}", list(columns))]
    NoTime {
        /// The file.
        file: String,
        /// The columns seen.
        columns: Vec<String>,
        /// A column that rises all the time, if any.
        likely: Option<String>,
        /// Whether that column only counts the rows.
        counts: bool,
        /// Rows a second, where the file says so.
        rate_hz: Option<f64>,
    },
    /// A column named as clock does not hold times.
    #[error("{file}:{line}: column `{column}`: `{value}` is no time that can be read")]
    BadTime {
        /// The file.
        file: String,
        /// The first line that failed.
        line: usize,
        /// The column.
        column: String,
        /// Its text there.
        value: String,
    },
    /// A clock that shows one time only.
    #[error("{file}: column `{column}`: the clock shows `{value}` in every row")]
    StillClock {
        /// The file.
        file: String,
        /// The column.
        column: String,
        /// What it shows.
        value: String,
    },
    /// A clock on which no car can have driven.
    #[error("{file}: column `{column}` read as {form}: {why}")]
    AbsurdClock {
        /// The file.
        file: String,
        /// The column.
        column: String,
        /// How it was read.
        form: &'static str,
        /// What cannot be.
        why: String,
    },
    /// A channel without which there is no session.
    #[error("{file}: no {role} ({what}) among the columns {}", list(columns), role = role.name(), what = role.description())]
    NoRole {
        /// The file.
        file: String,
        /// The channel.
        role: Role,
        /// The columns seen.
        columns: Vec<String>,
        /// The column most like it.
        likely: String,
    },
    /// `--map` names a column that no file has.
    #[error(
        "{file}: no column `{column}` for {role} among the columns {}",
        list(columns)
    )]
    NoColumn {
        /// The file.
        file: String,
        /// The column asked for.
        column: String,
        /// What it was to be.
        role: String,
        /// The columns seen.
        columns: Vec<String>,
        /// The most similar column.
        nearest: String,
    },
    /// A column named by the user, or a needed one, holds no number.
    #[error(
        "{file}:{line}: column `{column}` taken as {role}: no usable number in it, such as `{value}`"
    )]
    NoValues {
        /// The file.
        file: String,
        /// A line with an unusable value.
        line: usize,
        /// The column.
        column: String,
        /// The channel.
        role: String,
        /// The text there.
        value: String,
    },
    /// A unit that does not measure what the channel is.
    #[error("column `{column}`: {role} cannot be written in {unit}")]
    WrongUnit {
        /// The column.
        column: String,
        /// The channel.
        role: String,
        /// The unit given.
        unit: String,
    },
    /// A needed column in a unit that is not known.
    #[error("{file}: {why}")]
    UnusableUnit {
        /// The file.
        file: String,
        /// The channel.
        role: Role,
        /// The column.
        column: String,
        /// The unit, and the ones that are known.
        why: String,
    },
    /// `--map` with a unit that is not known.
    #[error("{file}: the unit `{unit}` of column `{column}` is not known; {role} can be in {known}", role = role.name())]
    MapUnit {
        /// The file.
        file: String,
        /// What the column is to be.
        role: Role,
        /// The column.
        column: String,
        /// The unit as typed.
        unit: String,
        /// The units known.
        known: String,
    },
    /// A needed channel of which most values cannot be.
    #[error(
        "{file}:{line}: column `{column}` taken as {role} in {unit}: {dropped} of {count} values cannot be, such as `{value}`",
        role = role.name()
    )]
    MostlyImpossible {
        /// The file.
        file: String,
        /// The line of the first such value.
        line: usize,
        /// The channel.
        role: Role,
        /// The column.
        column: String,
        /// The unit it was read in.
        unit: String,
        /// Values dropped.
        dropped: usize,
        /// Values read.
        count: usize,
        /// The first such value.
        value: String,
    },
    /// Too few rows that say anything.
    #[error("{file}: only {rows} of {of} {what}: too short for a session")]
    TooShort {
        /// The file.
        file: String,
        /// Such rows.
        rows: usize,
        /// Data rows in the file.
        of: usize,
        /// What these rows have that the others lack.
        what: &'static str,
    },
    /// A speed that the logged positions contradict.
    #[error(
        "{file}: column `{column}` taken as speed in {unit} reads {factor:.2} times what the logged positions say"
    )]
    SpeedAgainstPositions {
        /// The file.
        file: String,
        /// The column.
        column: String,
        /// The unit it was taken to be in.
        unit: String,
        /// Speed read over speed by the positions.
        factor: f64,
    },
    /// An outside temperature given to a session that has one.
    #[error("{session} has an outside temperature from its file, column `{column}`")]
    AmbientKnown {
        /// The session.
        session: String,
        /// Its file.
        file: String,
        /// The column.
        column: String,
    },
    /// `--offset-s` names a file that `--with` does not.
    #[error("--offset-s {file}=...: no file of that name after --with")]
    OffsetForNoFile {
        /// The file named.
        file: String,
        /// Those after `--with`.
        files: Vec<String>,
    },
    /// A flag that belongs to one session, and a file that holds several.
    #[error("{file}: {flag} belongs to one session, and the file holds {count}")]
    SeveralSessions {
        /// The file.
        file: String,
        /// Its sessions.
        count: usize,
        /// The lines at which the second and later ones begin, where known.
        lines: Vec<usize>,
        /// The flag.
        flag: &'static str,
    },
    /// A second device's file that cannot be placed on the main clock.
    #[error("{file}: cannot be brought onto the clock of {main}: {why}")]
    Alignment {
        /// The second file.
        file: String,
        /// The main file.
        main: String,
        /// What is lacking.
        why: String,
        /// What to type.
        hint: String,
    },
    /// The frame library refused, which is a defect of this program.
    #[error("{file}: the table could not be built: {why}")]
    Frame {
        /// The file.
        file: String,
        /// What it said.
        why: String,
    },
}

impl IngestError {
    /// What went wrong: file, line, column and value where these exist.
    pub fn message(&self) -> String {
        self.to_string()
    }

    /// What to do about it, with the flag to type where there is one.
    pub fn hint(&self) -> String {
        match self {
            Self::Unreadable { .. } => "check the path and the right to read it".to_owned(),
            Self::Empty { .. } => {
                "export the log again and look at it with `heatbook inspect`".to_owned()
            }
            Self::TooShort { file, rows, of, .. } if rows == of => {
                format!("export the whole log; `heatbook inspect {file}` shows how it was read")
            }
            Self::TooShort { file, .. } => {
                format!(
                    "`heatbook inspect {file}` says why the others were left out; name other columns with --map ROLE=COLUMN"
                )
            }
            Self::NoTable { .. } => {
                "export the log as CSV: one row an instant, one column a channel".to_owned()
            }
            Self::Ragged {
                expected, found, ..
            } if 2 * found < 3 * expected => {
                "give every column a name in the header, and every row as many fields".to_owned()
            }
            Self::Ragged { .. } => {
                "decimal commas with a comma between columns cannot be told apart: \
                 export with `;` between columns or with decimal points"
                    .to_owned()
            }
            Self::NoTime {
                likely,
                counts,
                rate_hz,
                ..
            } => {
                let rate = match rate_hz {
                    Some(rate) => format!("state the rate that the file gives: --rate-hz {rate}"),
                    None => "state the rate of rows: --rate-hz 10".to_owned(),
                };
                match likely {
                    Some(likely) if !counts && rate_hz.is_none() => {
                        format!("name it: --map {}; or {rate}", quoted("time", likely))
                    }
                    _ => format!("{rate}; or name the clock: --map time=COLUMN"),
                }
            }
            Self::AbsurdClock { .. } => {
                "export the log with its time in seconds, or name another column: --map time=COLUMN"
                    .to_owned()
            }
            Self::StillClock { .. } => "name another column: --map time=COLUMN".to_owned(),
            Self::BadTime { .. } => "times are seconds, ms, hh:mm:ss or date and time; \
                 name another column: --map time=COLUMN"
                .to_owned(),
            Self::NoRole { role, likely, .. } => {
                format!("name it: --map {}", quoted(role.name(), likely))
            }
            Self::NoColumn { role, nearest, .. } => format!("--map {}", quoted(role, nearest)),
            Self::NoValues { role, .. } => format!("name another column: --map {role}=COLUMN"),
            Self::WrongUnit { role, column, .. } => {
                format!("leave the unit out: --map {}", quoted(role, column))
            }
            Self::UnusableUnit { role, column, .. } | Self::MapUnit { role, column, .. } => {
                let unit = role.quantity().inside_unit().symbol();
                format!(
                    "if it is in one of these, say which: --map {}",
                    quoted(role.name(), &format!("{column}:{unit}"))
                )
            }
            Self::MostlyImpossible {
                role, column, unit, ..
            } => {
                let quantity = role.quantity();
                let other = match unit.as_str() {
                    symbol if symbol != quantity.inside_unit().symbol() => {
                        quantity.inside_unit().symbol()
                    }
                    "°C" => "°F",
                    _ => "m/s",
                };
                format!(
                    "give its unit ({}): --map {}; or name another column: --map {}=COLUMN",
                    quantity.known_units(),
                    quoted(role.name(), &format!("{column}:{other}")),
                    role.name()
                )
            }
            Self::SpeedAgainstPositions { column, unit, .. } => format!(
                "name another column: --map speed=COLUMN; or insist: --map \"speed={column}:{unit}\""
            ),
            Self::AmbientKnown { session, file, .. } => format!(
                "take another column: heatbook import {file} --replace {session} --map ambient=COLUMN"
            ),
            Self::OffsetForNoFile { file, files } => match files.first() {
                Some(first) => format!("--offset-s {first}=SECONDS"),
                None => format!("add --with {file}"),
            },
            Self::SeveralSessions { lines, .. } => {
                let lines: Vec<String> = lines.iter().map(usize::to_string).collect();
                let at = match lines.len() {
                    0 => String::new(),
                    _ => format!(" at line {}", lines.join(", ")),
                };
                format!("cut the file{at}, and keep the header in each part")
            }
            Self::Alignment { hint, .. } => hint.clone(),
            Self::Frame { .. } => "this is a defect: please report it with the file".to_owned(),
        }
    }
}

/// `role=COLUMN` as it must be typed in a shell.
fn quoted(role: &str, column: &str) -> String {
    let plain = column
        .chars()
        .all(|c| c.is_ascii_alphanumeric() || "_-.".contains(c));
    if plain {
        format!("{role}={column}")
    } else {
        format!("\"{role}={column}\"")
    }
}

/// Column names for a sentence, cut where they get too many.
fn list(columns: &[String]) -> String {
    const SHOWN: usize = 40;
    let mut text: Vec<String> = columns
        .iter()
        .take(SHOWN)
        .map(|c| format!("`{c}`"))
        .collect();
    if columns.len() > SHOWN {
        text.push(format!("and {} more", columns.len() - SHOWN));
    }
    text.join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hint_can_be_pasted_into_a_shell() {
        let error = IngestError::NoRole {
            file: "a.csv".into(),
            role: Role::Coolant,
            columns: vec!["Time".into(), "Temp 1 [°C]".into()],
            likely: "Temp 1 [°C]".into(),
        };
        assert_eq!(error.hint(), "name it: --map \"coolant=Temp 1 [°C]\"");
        assert!(error.message().contains("`Time`, `Temp 1 [°C]`"), "{error}");
    }
}
