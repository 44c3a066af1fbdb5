//! What cannot be imported. What to type instead stands in `hints`.

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
        /// What to do about it.
        hint: &'static str,
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
    /// Coolant and outside temperature are the other way round.
    #[error(
        "{file}: column `{coolant}` taken as coolant reads {coolant_c:.0} °C at the most, and `{ambient}` taken as ambient reads up to {ambient_c:.0} °C"
    )]
    Swapped {
        /// The file.
        file: String,
        /// The column taken as coolant.
        coolant: String,
        /// Its highest value, °C.
        coolant_c: f64,
        /// The column taken as outside temperature.
        ambient: String,
        /// Its highest value in the coolant's unit, °C.
        ambient_c: f64,
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
}

/// Column names for a sentence, cut where they get too many.
fn list(columns: &[String]) -> String {
    const SHOWN: usize = 12;
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
