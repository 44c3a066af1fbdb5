//! What stands above the data: the heads of the columns, and pairs of names and values.

use std::collections::HashMap;

use super::decode::repair_double_encoding;
use super::dialect::Dialect;
use super::parting::Line;

/// A column's head.
#[derive(Debug, Clone)]
pub(super) struct Column {
    /// Its name, with double encoding undone.
    pub name: String,
    /// What the row of units says.
    pub unit_text: Option<String>,
    /// The name with what the other header rows say before it.
    pub full_name: String,
}

/// The heads: the row of names; a name that is blank or not unique takes the other rows with it.
pub(super) fn columns(above: &[Line], dialect: &Dialect) -> Vec<Column> {
    let text = |row: Option<usize>, at: usize| {
        row.and_then(|row| above[row].fields.get(at))
            .map(repair_double_encoding)
    };
    let mut width = dialect.width;
    if let Some(names) = dialect.names {
        // Blank fields at the end of both header and rows are trailing delimiters.
        let named = above[names]
            .fields
            .iter()
            .enumerate()
            .filter(|(_, f)| !f.is_empty())
            .last();
        let named = named.map_or(0, |(at, _)| at + 1);
        // Twice as many fields as names: commas stand for two things. That is found out later.
        if named + 1 == width || named > width || 2 * named <= width + 1 {
            width = named;
        }
    }
    let names: Vec<String> = (0..width)
        .map(|at| text(dialect.names, at).unwrap_or_default())
        .collect();
    let others: Vec<usize> = dialect
        .header
        .iter()
        .copied()
        .filter(|row| Some(*row) != dialect.names && Some(*row) != dialect.units)
        .collect();
    let mut columns: Vec<Column> = (0..width)
        .map(|at| {
            let own = names[at].trim_start_matches(['#', ' ']);
            let mut full_name = own.to_owned();
            for &row in &others {
                // A group's name stands over its first column only.
                let group = (0..=at)
                    .rev()
                    .find_map(|i| text(Some(row), i).filter(|t| !t.is_empty()));
                full_name = format!("{} {full_name}", group.unwrap_or_default())
                    .trim()
                    .to_owned();
            }
            let twice = names.iter().filter(|other| **other == names[at]).count() > 1;
            let name = match (own.is_empty() || twice, full_name.is_empty()) {
                (false, _) => own.to_owned(),
                (true, false) => full_name.clone(),
                (true, true) => format!("column {}", at + 1),
            };
            Column {
                name,
                full_name,
                unit_text: text(dialect.units, at).filter(|t| !t.is_empty()),
            }
        })
        .collect();
    number_twins(&mut columns);
    columns
}

/// Gives every further column of a name its number: `Coolant #2`, so that it can be named.
fn number_twins(columns: &mut [Column]) {
    let mut seen: HashMap<String, usize> = HashMap::new();
    for column in columns {
        let times = seen.entry(column.name.clone()).or_default();
        *times += 1;
        if *times > 1 {
            column.name += &format!("{TWIN}{times}");
        }
    }
}

const TWIN: &str = " #";

/// A column's name as the file has it, without the number of a twin.
pub(super) fn without_number(name: &str) -> &str {
    let figures = |number: &str| !number.is_empty() && number.bytes().all(|b| b.is_ascii_digit());
    match name.rsplit_once(TWIN) {
        Some((own, number)) if figures(number) => own,
        _ => name,
    }
}

/// `name; value`, `name: value` or `name = value`, in pairs along a line.
pub(super) fn preamble<'a>(lines: impl Iterator<Item = &'a Line>) -> Vec<(String, String)> {
    let mut pairs = Vec::new();
    for line in lines {
        let fields: Vec<&str> = line.fields.iter().filter(|f| !f.is_empty()).collect();
        if fields.len() == 1 {
            let text = fields[0].trim_start_matches(['#', ' ']);
            if let Some((name, value)) = text.split_once(['=', ':']) {
                pairs.push((name.trim().to_owned(), value.trim().to_owned()));
            }
        }
        // `Date: May 17, 2031` is parted by its own comma.
        if let [first, rest @ ..] = fields.as_slice()
            && !rest.is_empty()
            && let Some((name, value)) = first.trim_start_matches(['#', ' ']).split_once(": ")
        {
            let value = [value].into_iter().chain(rest.iter().copied());
            let value = value.map(str::trim).collect::<Vec<_>>().join(", ");
            pairs.push((name.trim().to_owned(), value));
        }
        for pair in fields.chunks_exact(2) {
            let name = pair[0]
                .trim_start_matches(['#', ' '])
                .trim_end_matches([':', '=', ' ']);
            pairs.push((repair_double_encoding(name), pair[1].to_owned()));
        }
    }
    pairs
}
