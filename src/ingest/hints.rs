//! What to type where a file cannot be imported.

use super::error::IngestError;
use super::likely::ANY_COLUMN;
use super::options::map_flag;

impl IngestError {
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
            Self::NoTable { hint, .. } => (*hint).to_owned(),
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
                    None => "state the rate of rows: --rate-hz ROWS-A-SECOND".to_owned(),
                };
                match likely {
                    Some(likely) if !counts && rate_hz.is_none() => {
                        format!("name it: {}; or {rate}", map_flag("time", likely))
                    }
                    _ => format!("{rate}; or name the clock: --map time=COLUMN"),
                }
            }
            Self::AbsurdClock { .. } => {
                "if the clock counts in another unit, say which: --map time=COLUMN:UNIT (s, ms, us, min); or name another column: --map time=COLUMN"
                    .to_owned()
            }
            Self::StillClock { .. } => "name another column: --map time=COLUMN".to_owned(),
            Self::BadTime { .. } => "times are seconds, ms, hh:mm:ss or date and time; \
                 name another column: --map time=COLUMN"
                .to_owned(),
            Self::NoRole { role, likely, .. } => {
                let elsewhere = match likely == ANY_COLUMN {
                    true => ", or add the file of another device that logged it: --with FILE",
                    false => "",
                };
                format!("name it: {}{elsewhere}", map_flag(role.name(), likely))
            }
            Self::NoColumn { role, nearest, .. } => map_flag(role, nearest),
            Self::NoValues { role, .. } => format!("name another column: --map {role}=COLUMN"),
            Self::WrongUnit { role, column, .. } => {
                format!("leave the unit out: {}", map_flag(role, column))
            }
            Self::UnusableUnit { role, column, .. } | Self::MapUnit { role, column, .. } => {
                let unit = role.quantity().inside_unit().symbol();
                format!(
                    "if it is in one of these, say which: {}",
                    map_flag(role.name(), &format!("{column}:{unit}"))
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
                    "give its unit ({}): {}; or name another column: --map {}=COLUMN",
                    quantity.known_units(),
                    map_flag(role.name(), &format!("{column}:{other}")),
                    role.name()
                )
            }
            Self::Swapped {
                coolant, ambient, ..
            } => format!(
                "they look swapped: {} {}; or insist: {} {}",
                map_flag("coolant", ambient),
                map_flag("ambient", coolant),
                map_flag("coolant", coolant),
                map_flag("ambient", ambient)
            ),
            Self::SpeedAgainstPositions { column, unit, .. } => format!(
                "name another column: --map speed=COLUMN; or insist: {}",
                map_flag("speed", &format!("{column}:{unit}"))
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::session::Role;

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
