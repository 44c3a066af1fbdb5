//! `--csv DIR`: an answer as tables, one file a list of its JSON document, for a spreadsheet.
//!
//! A list of objects becomes `its-place.csv`, a row an object; an estimate becomes the columns
//! `name.estimate`, `name.low`, `name.high` and so on. Lists of equal length beside one another
//! (a curve: `ambient_c`, `before`, `after`) become the columns of one table. All else stands in
//! `answer.csv`, a row a figure. Names and units are those of the JSON document. A row of a list
//! within a list begins with the id of what it belongs to, or its number.

use std::path::Path;

use serde_json::{Map, Value};

use super::failure::Failure;
use super::output::write_file;
use crate::report::SessionPart;
use crate::session::Role;

/// The table of what belongs to no list.
const ANSWER: &str = "answer";

/// A table: a name, columns, rows of cells by column.
#[derive(Debug, Default)]
pub struct CsvTable {
    name: String,
    rows: Vec<Map<String, Value>>,
}

/// The tables of a document.
pub fn tables(document: &Value) -> Vec<CsvTable> {
    let mut out = Vec::new();
    let mut answer = Map::new();
    flatten("", document, &mut answer);
    let figures = answer.into_iter().map(|(name, value)| {
        let cells = [("name", Value::from(name)), ("value", value)];
        cells
            .into_iter()
            .map(|(column, cell)| (column.to_owned(), cell))
            .collect()
    });
    out.push(CsvTable {
        name: ANSWER.to_owned(),
        rows: figures.collect(),
    });
    lists("", document, &Map::new(), &mut out);
    out.retain(|table| !table.rows.is_empty());
    out
}

/// What was logged and modelled, a row a step: the numbers of the channel charts.
pub fn traces(parts: &[SessionPart<'_>]) -> CsvTable {
    let mut rows = Vec::new();
    for part in parts {
        let trace = &part.fit.trace;
        let steps = part.grid.len.max(trace.regime.len());
        let channels: Vec<(Role, &[f64])> = Role::ALL
            .iter()
            .filter_map(|role| Some((*role, part.grid.get(*role)?)))
            .collect();
        for i in 0..steps {
            let at = |values: &[f64]| values.get(i).copied().map_or(Value::Null, Value::from);
            let mut row = Map::new();
            row.insert("session".to_owned(), Value::from(part.meta.id.as_str()));
            row.insert("time_s".to_owned(), Value::from(part.grid.time_s(i)));
            let regime = trace.regime.get(i).map(|regime| regime.label());
            row.insert("regime".to_owned(), regime.map_or(Value::Null, Value::from));
            for (role, values) in &channels {
                let unit = role.quantity().inside_unit().symbol();
                row.insert(format!("{}, {unit}", role.name()), at(values));
            }
            row.insert("coolant modelled, °C".to_owned(), at(&trace.modelled_c));
            row.insert(
                "surprise, standard deviations".to_owned(),
                at(&trace.surprise),
            );
            row.insert("heat into the coolant, W".to_owned(), at(&trace.heat_w));
            let used = trace.stints.iter().any(|&(a, b)| (a..b).contains(&i));
            row.insert("used for the conductance".to_owned(), Value::from(used));
            rows.push(row);
        }
    }
    CsvTable::new("trace", rows)
}

/// Writes tables into a folder.
pub fn write(folder: &Path, tables: &[CsvTable]) -> Result<(), Failure> {
    for table in tables {
        let path = folder.join(format!("{}.csv", table.name));
        write_file(&path, &table.text())?;
    }
    Ok(())
}

fn joined(before: &str, name: &str, by: char) -> String {
    if before.is_empty() {
        name.to_owned()
    } else {
        format!("{before}{by}{name}")
    }
}

fn is_list_of_objects(value: &Value) -> bool {
    let list = value.as_array().filter(|list| !list.is_empty());
    list.is_some_and(|list| list.iter().all(Value::is_object))
}

/// The lists of an object that lie beside one another: two or more, equally long, of figures.
fn columns(object: &Map<String, Value>) -> Vec<(&String, &Vec<Value>)> {
    let lists: Vec<(&String, &Vec<Value>)> = object
        .iter()
        .filter_map(|(name, value)| Some((name, value.as_array()?)))
        .filter(|(_, list)| {
            list.iter()
                .all(|v| v.is_number() || v.get("level").is_some() || v.get("why").is_some())
        })
        .collect();
    let has_scale = lists
        .iter()
        .any(|(_, list)| list.len() > 1 && list[0].is_number());
    let equal = lists.windows(2).all(|w| w[0].1.len() == w[1].1.len());
    if has_scale && equal && lists.len() > 1 {
        lists
    } else {
        Vec::new()
    }
}

/// The cells of a value; lists of objects and lists beside one another are tables of their own.
fn flatten(name: &str, value: &Value, into: &mut Map<String, Value>) {
    match value {
        Value::Object(object) => {
            let beside: Vec<&String> = columns(object).iter().map(|(name, _)| *name).collect();
            for (key, value) in object {
                if !beside.contains(&key) {
                    flatten(&joined(name, key, '.'), value, into);
                }
            }
        }
        list if is_list_of_objects(list) => {}
        Value::Array(list) if list.is_empty() => {}
        Value::Array(list) => {
            let texts: Vec<String> = list.iter().map(text).collect();
            into.insert(name.to_owned(), Value::from(texts.join("; ")));
        }
        scalar => {
            into.insert(name.to_owned(), scalar.clone());
        }
    }
}

/// Finds the lists below a value; `owner`: the cells that say what they belong to.
fn lists(place: &str, value: &Value, owner: &Map<String, Value>, out: &mut Vec<CsvTable>) {
    let Value::Object(object) = value else {
        return;
    };
    let beside = columns(object);
    if let Some((_, first)) = beside.first() {
        let name = if place.is_empty() { "columns" } else { place };
        for i in 0..first.len() {
            let mut row = owner.clone();
            for (column, list) in &beside {
                flatten(column, &list[i], &mut row);
            }
            push(out, name, row);
        }
    }
    for (key, value) in object {
        let here = joined(place, key, '-');
        if is_list_of_objects(value) && !beside.iter().any(|(name, _)| *name == key) {
            for (i, item) in value.as_array().into_iter().flatten().enumerate() {
                let mut row = owner.clone();
                flatten("", item, &mut row);
                push(out, &here, row);
                let id = ["id", "name", "what_if", "setup"]
                    .into_iter()
                    .find_map(|k| item.get(k).filter(|v| v.is_string()).cloned());
                let mut owner = owner.clone();
                owner.insert(
                    format!("of {here}"),
                    id.unwrap_or_else(|| Value::from(i + 1)),
                );
                lists(&here, item, &owner, out);
            }
        } else {
            lists(&here, value, owner, out);
        }
    }
}

fn push(out: &mut Vec<CsvTable>, name: &str, row: Map<String, Value>) {
    match out.iter_mut().find(|table| table.name == name) {
        Some(table) => table.rows.push(row),
        None => out.push(CsvTable {
            name: name.to_owned(),
            rows: vec![row],
        }),
    }
}

/// A cell's text. What a spreadsheet would take for a formula gets an apostrophe before it
/// (CWE-1236, OWASP "CSV Injection"); figures cannot be formulas.
fn text(value: &Value) -> String {
    match value {
        Value::Null => String::new(),
        Value::String(text) if text.starts_with(['=', '+', '-', '@', '\t', '\r', '\n']) => {
            format!("'{text}")
        }
        Value::String(text) => text.clone(),
        other => other.to_string(),
    }
}

impl CsvTable {
    /// A table of that name.
    pub fn new(name: &str, rows: Vec<Map<String, Value>>) -> Self {
        Self {
            name: name.to_owned(),
            rows,
        }
    }

    /// Whether it holds what belongs to no list.
    pub fn is_answer(&self) -> bool {
        self.name == ANSWER
    }

    /// The table as RFC 4180 has it, with the columns in the order in which they first appear.
    fn text(&self) -> String {
        let mut head: Vec<&String> = Vec::new();
        for column in self.rows.iter().flat_map(|row| row.keys()) {
            if !head.contains(&column) {
                head.push(column);
            }
        }
        let mut writer = csv::WriterBuilder::new()
            .terminator(csv::Terminator::CRLF)
            .from_writer(Vec::new());
        let names = head.iter().map(|name| text(&Value::from(name.as_str())));
        let cells = self.rows.iter().map(|row| {
            let cells = head
                .iter()
                .map(|name| row.get(*name).map_or_else(String::new, text));
            cells.collect::<Vec<String>>()
        });
        let records = std::iter::once(names.collect()).chain(cells);
        for record in records {
            // Writing into memory does not fail.
            let _ = writer.write_record(&record);
        }
        let bytes = writer.into_inner().unwrap_or_default();
        String::from_utf8_lossy(&bytes).into_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn written(document: &Value) -> Vec<(String, String)> {
        let of = |table: &CsvTable| (table.name.clone(), table.text());
        tables(document).iter().map(of).collect()
    }

    #[test]
    fn lists_are_tables_and_estimates_are_columns() {
        let document = json!({
            "verdict": "improved",
            "change": { "estimate": -3.2, "low": -4.0, "high": -2.3, "level": 0.95, "method": "t" },
            "rows": [
                { "id": "s1", "value": { "estimate": null, "why": "too, short" }, "parts": [{ "x": 1 }, { "y": 2 }] },
                { "id": "s2", "value": { "estimate": 1.5, "low": 1.0, "high": 2.0 }, "parts": [] },
            ],
            "curves": { "ambient_c": [10, 20], "before": [{ "level": 0.95, "low": 1 }, { "why": "no" }], "limit_c": 110 },
            "sessions": ["s1", "s2"],
        });
        let expected = [
            (
                "answer",
                "name,value\r\nverdict,improved\r\nchange.estimate,-3.2\r\nchange.low,-4.0\r\nchange.high,-2.3\r\nchange.level,0.95\r\nchange.method,t\r\ncurves.limit_c,110\r\nsessions,s1; s2\r\n",
            ),
            (
                "rows",
                "id,value.estimate,value.why,value.low,value.high\r\ns1,,\"too, short\",,\r\ns2,1.5,,1.0,2.0\r\n",
            ),
            ("rows-parts", "of rows,x,y\r\ns1,1,\r\ns1,,2\r\n"),
            (
                "curves",
                "ambient_c,before.level,before.low,before.why\r\n10,0.95,1,\r\n20,,,no\r\n",
            ),
        ];
        let written = written(&document);
        let written: Vec<(&str, &str)> = written
            .iter()
            .map(|(name, text)| (name.as_str(), text.as_str()))
            .collect();
        assert_eq!(written, expected);
    }

    /// The first characters that OWASP names, and a figure below zero, which is none of them.
    #[test]
    fn no_text_is_taken_for_a_formula() {
        for evil in ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1"] {
            let document = json!({ "rows": [{ "setup": evil, "change_k": -1.5 }] });
            let text = &written(&document)[0].1;
            let mut reader = csv::Reader::from_reader(text.as_bytes());
            let row = reader.records().next().unwrap().unwrap();
            assert_eq!(row[0], format!("'{evil}"));
            assert_eq!(&row[1], "-1.5");
        }
    }
}
