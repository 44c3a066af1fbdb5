//! Why a text is no table, said with a line of it.

use super::cell::looks_like_value;
use super::error::IngestError;
use crate::words::{count, quoted};

const EXPORT: &str = "export the log as CSV: one row an instant, one column a channel";

const NO_ROWS: &str =
    "the log holds no rows: export it again, one row an instant, one column a channel";

/// The refusal of a file that is no table.
pub(super) fn no_table(file: &str, why: &str) -> IngestError {
    refusal(file, why.to_owned(), EXPORT)
}

fn refusal(file: &str, why: String, hint: &'static str) -> IngestError {
    IngestError::NoTable {
        file: file.to_owned(),
        why,
        hint,
    }
}

/// The refusal of a text of which no delimiter makes rows of data.
pub(super) fn no_rows(file: &str, text: &str) -> IngestError {
    let lines = || {
        text.lines()
            .enumerate()
            .filter(|(_, line)| !line.trim().is_empty())
    };
    let (at, first) = lines().next().unwrap_or((0, ""));
    let shown = |line: &str| quoted(&line.trim().chars().take(60).collect::<String>());
    let begins = format!("line {} begins {}", at + 1, shown(first));
    match first.trim_start().chars().next() {
        Some('<') => {
            let why = format!("it is a web page or XML ({begins})");
            return refusal(file, why, "download or export the log itself, as CSV");
        }
        Some('{' | '[') => return no_table(file, &format!("it is JSON ({begins})")),
        _ => {}
    }
    let fields = |line: &str| {
        line.split([',', ';', '\t', '|', ' '])
            .filter(|f| !f.is_empty())
            .count()
    };
    let values = |line: &str| {
        let parts = line.split([',', ';', '\t', '|', ' ']);
        parts.filter(|cell| looks_like_value(cell)).count()
    };
    let most = lines().max_by_key(|(at, line)| (values(line), std::cmp::Reverse(*at)));
    let (at, best) = most.unwrap_or((0, ""));
    if (values(best), fields(best)) == (1, 1) && lines().count() > 2 {
        let why = format!(
            "it has one column (line {}: {}), and a log has a clock, coolant and speed beside each other",
            at + 1,
            shown(best)
        );
        return no_table(file, &why);
    }
    if values(best) < 2 {
        let why = format!(
            "no line of {} is a row of numbers ({begins})",
            lines().count()
        );
        let is_header = |(_, line): (usize, &str)| line.matches([',', ';', '\t', '|']).count() > 1;
        return match lines().any(is_header) {
            true => refusal(file, why, NO_ROWS),
            false => no_table(file, &why),
        };
    }
    let above = lines().take_while(|(other, _)| *other < at).last();
    let why = match above.filter(|(_, above)| fields(above) != fields(best) && values(above) == 0) {
        Some((head, above)) => format!(
            "between blanks, line {} has {} ({}) and line {} {} ({})",
            head + 1,
            count(fields(above), "name"),
            shown(above),
            at + 1,
            count(fields(best), "value"),
            shown(best)
        ),
        None => format!(
            "neither comma, semicolon, tab, pipe nor blanks part it into rows of numbers, such as line {}: {}",
            at + 1,
            shown(best)
        ),
    };
    no_table(file, &why)
}
