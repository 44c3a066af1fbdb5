//! Tables that no delimiter parts as they stand: columns parted by blanks, lines that are quoted as
//! a whole.

use super::cell::looks_like_value;
use super::parting::sample;

const LEAST_COLUMNS: usize = 3;
const LEAST_ROWS: usize = 5;

/// The text with tabs between its columns, if blanks part it into as many names as values: at least
/// two blanks where names hold single ones. Where names and values differ in number, nobody knows
/// which belong together.
pub(super) fn tabbed(text: &str) -> Option<String> {
    [2, 1]
        .into_iter()
        .find(|least| is_table(sample(text), *least))
        .map(|least| {
            let lines = text.lines();
            lines
                .map(|line| fields(line, least).join("\t") + "\n")
                .collect()
        })
}

/// The text without the quotes around each whole line (`"0,""a"",2"`), which a spreadsheet puts there
/// that did not know the delimiter.
pub(super) fn unquoted(text: &str) -> Option<String> {
    let inside = |line: &str| {
        let inner = line.trim().strip_prefix('"')?.strip_suffix('"')?;
        Some(inner.replace("\"\"", "\""))
    };
    let mut lines = sample(text).lines().filter(|line| !line.trim().is_empty());
    lines.all(|line| inside(line).is_some()).then(|| {
        let lines = text.lines();
        lines
            .map(|line| inside(line).unwrap_or_default() + "\n")
            .collect()
    })
}

/// The fields of a line with at least so many blanks between two.
fn fields(line: &str, least: usize) -> Vec<&str> {
    let parts = line.trim().trim_start_matches(['#', ' ']);
    if least == 1 {
        return parts.split_whitespace().collect();
    }
    parts
        .split("  ")
        .flat_map(|part| part.split('\t'))
        .map(str::trim)
        .filter(|part| !part.is_empty())
        .collect()
}

fn is_table(sample: &str, least: usize) -> bool {
    let lines: Vec<Vec<&str>> = sample
        .lines()
        .map(|line| fields(line, least))
        .filter(|fields| !fields.is_empty())
        .collect();
    let width = lines.last().map_or(0, Vec::len);
    let is_data = |fields: &Vec<&str>| {
        fields.iter().filter(|cell| looks_like_value(cell)).count() * 2 > fields.len()
    };
    let Some(data) = lines.iter().position(is_data) else {
        return false;
    };
    let rows = &lines[data..];
    let header = data.checked_sub(1).map_or(0, |at| lines[at].len());
    width >= LEAST_COLUMNS
        && rows.len() >= LEAST_ROWS
        && header == width
        && rows.iter().filter(|row| row.len() == width).count() * 20 >= rows.len() * 19
}
