//! What goes wrong in real logs, put into one file on purpose.

use anyhow::Context;

/// Data rows and columns (from 0) that are spoilt, and how. Column 3 is coolant, 6 ambient,
/// 7 fuel rate.
const SPOILT: [(usize, usize, &str); 8] = [
    (412, 3, ""),
    (413, 3, ""),
    (977, 7, "---"),
    (978, 7, "---"),
    (979, 7, "---"),
    (1304, 6, ""),
    // A single-sample spike while the coolant is near 100 °C.
    (1790, 3, "215"),
    (2221, 6, "---"),
];

/// The text with its blemishes.
pub fn add(text: &str) -> anyhow::Result<String> {
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    for (row, column, put) in SPOILT {
        let line = lines
            .get_mut(row + 1)
            .with_context(|| format!("no data row {row}"))?;
        let mut cells: Vec<&str> = line.split(',').collect();
        *cells
            .get_mut(column)
            .with_context(|| format!("no column {column}"))? = put;
        *line = cells.join(",");
    }
    Ok(lines.join("\n") + "\n")
}
