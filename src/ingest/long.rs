//! The long form, one row a reading (`time; channel; value; unit`), made wide.
//!
//! Rows that follow each other with the same time become one row. A file that lists one channel
//! after the other is put into the order of its clock first.

use std::collections::HashMap;

use super::cell::{is_blank, looks_like_value, number};
use super::clock::{self, Clock};
use super::heads::Column;
use super::options::ReadOptions;
use super::recording::named_clock;
use super::roles::meanings_of;
use super::rows::Piece;
use super::shape::Row;
use super::table::Table;
use super::unit_text::is_unit_text;
use super::words::{fold, has_any};
use crate::warning::Warning;

/// Which columns of a long table hold what.
pub(super) struct LongForm {
    name: usize,
    value: usize,
    unit: Option<usize>,
}

const NAME_WORDS: &str = "channel|=name|signal|parameter|parametre|parametro|=pid|kanal|=canal|\
    =canale|sensor|capteur|variable|grandeur|messgrosse|messgroesse|bezeichnung|=item|metric|=tag";
const VALUE_WORDS: &str = "=value|=wert|messwert|=valeur|=valor|=valore|reading";
const MOST_COLUMNS: usize = 8;
const MOST_CHANNELS: usize = 400;

/// The long form of a table, if it has it: a column of names that repeat, some of which are those
/// of channels, beside one column of numbers.
pub(super) fn recognise(table: &Table) -> Option<LongForm> {
    let width = table.columns.len();
    if !(3..=MOST_COLUMNS).contains(&width) {
        return None;
    }
    let named = |at: usize, words: &str| has_any(&fold(&table.columns[at].name), words);
    let texts: Vec<usize> = (0..width).filter(|at| is_text(table, *at)).collect();
    let is_units = |at: usize| {
        let cells = filled(table, at);
        let units = cells.iter().filter(|cell| is_unit_text(cell)).count();
        !cells.is_empty() && 2 * units > cells.len()
    };
    let name = texts.iter().copied().find(|&at| {
        let roles = known_names(table, at);
        !is_units(at) && (roles >= 2 || (roles == 1 && named(at, NAME_WORDS)))
    })?;
    let numbers: Vec<usize> = (0..width)
        .filter(|at| !texts.contains(at) && clock::clock_score(table, *at).is_none())
        .collect();
    let value = match numbers[..] {
        [only] => only,
        _ => numbers.iter().copied().find(|at| named(*at, VALUE_WORDS))?,
    };
    let unit = (0..width).find(|&at| at != name && at != value && is_units(at));
    Some(LongForm { name, value, unit })
}

/// The first filled cells of a column.
fn filled(table: &Table, column: usize) -> Vec<&str> {
    let cells = (0..table.rows.len()).map(|row| table.cell(row, column));
    cells.filter(|cell| !is_blank(cell)).take(400).collect()
}

fn is_text(table: &Table, column: usize) -> bool {
    let cells = filled(table, column);
    let texts = cells
        .iter()
        .filter(|cell| !looks_like_value(cell) && number(cell, table.mark).is_none());
    !cells.is_empty() && 10 * texts.count() >= 9 * cells.len()
}

/// How many different texts of a column are names of channels; 0 where texts do not repeat.
fn known_names(table: &Table, column: usize) -> usize {
    let (names, _) = names(table, column);
    if names.len() < 2 || names.len() > MOST_CHANNELS || 3 * names.len() > table.rows.len() {
        return 0;
    }
    let is_known = |name: &&&str| !meanings_of(name).is_empty();
    names.iter().filter(is_known).count()
}

/// The texts of a column in the order they come, and the place of each.
fn names(table: &Table, column: usize) -> (Vec<&str>, HashMap<&str, usize>) {
    let (mut names, mut places) = (Vec::new(), HashMap::new());
    for row in 0..table.rows.len() {
        let cell = table.cell(row, column);
        if !cell.is_empty() && !places.contains_key(cell) {
            places.insert(cell, names.len());
            names.push(cell);
            if names.len() > MOST_CHANNELS {
                break;
            }
        }
    }
    (names, places)
}

/// Puts the readings of one time side by side.
pub(super) fn widen(table: Table, form: &LongForm, options: &ReadOptions) -> Table {
    let (names, places) = names(&table, form.name);
    let keys: Vec<usize> = (0..table.columns.len())
        .filter(|at| *at != form.name && *at != form.value && Some(*at) != form.unit)
        .collect();
    let clock = clock::find(&table, named_clock(&table, options).as_deref()).ok();
    let mut rows = Piece::of_text(0);
    let mut open: Option<Row<'_>> = None;
    let mut open_at = 0;
    for at in in_order(&table, form, names.len(), clock.as_ref()) {
        let Some(place) = places.get(table.cell(at, form.name)) else {
            continue;
        };
        let column = keys.len() + place;
        let together = |row: &Row<'_>| {
            row.is_free(column) && same_instant(&table, &keys, clock.as_ref(), open_at, at)
        };
        if !open.as_ref().is_some_and(together) {
            finish(open.take(), &mut rows);
            open_at = at;
        }
        let row = open.get_or_insert_with(|| {
            let key = keys.iter().map(|k| table.cell(at, *k)).collect();
            Row::new(table.rows.number(at), key)
        });
        row.put(column, table.cell(at, form.value));
    }
    finish(open, &mut rows);
    let mut columns: Vec<Column> = keys.iter().map(|k| table.columns[*k].clone()).collect();
    columns.extend(names.iter().map(|name| {
        Column {
            name: (*name).to_owned(),
            full_name: (*name).to_owned(),
            unit_text: form
                .unit
                .and_then(|unit| unit_of(&table, form.name, name, unit)),
        }
    }));
    let note = format!(
        "one row a reading: {} readings of {} channels were put side by side",
        table.rows.len(),
        names.len()
    );
    table.reshaped(columns, rows.into(), Warning::note("long-form", note))
}

fn finish(row: Option<Row<'_>>, rows: &mut Piece) {
    if let Some(row) = row {
        row.finish(rows);
    }
}

/// Whether two rows are of one time, however it is written, and alike in the other key columns.
fn same_instant(
    table: &Table,
    keys: &[usize],
    clock: Option<&Clock>,
    one: usize,
    other: usize,
) -> bool {
    let is_clock = |at: &usize| clock.is_some_and(|clock| clock.columns.contains(at));
    let timed = clock.is_none_or(|clock| clock.seconds[one] == clock.seconds[other]);
    let mut rest = keys.iter().filter(|at| !is_clock(at));
    timed && rest.all(|at| table.cell(one, *at) == table.cell(other, *at))
}

/// The rows in the order of time: a file that lists channel after channel goes by its clock.
fn in_order(table: &Table, form: &LongForm, names: usize, clock: Option<&Clock>) -> Vec<usize> {
    let mut order: Vec<usize> = (0..table.rows.len()).collect();
    let name = |row: usize| table.cell(row, form.name);
    let changes = order
        .windows(2)
        .filter(|p| name(p[0]) != name(p[1]))
        .count();
    if let Some(clock) = clock
        && changes < 2 * names
    {
        let at = |row: usize| clock.seconds[row].unwrap_or(f64::INFINITY);
        order.sort_by(|a, b| at(*a).total_cmp(&at(*b)));
    }
    order
}

/// The first unit that stands beside a channel's name.
fn unit_of(table: &Table, name_column: usize, name: &str, unit: usize) -> Option<String> {
    (0..table.rows.len())
        .find(|row| table.cell(*row, name_column) == name)
        .map(|row| table.cell(row, unit).to_owned())
        .filter(|text| !text.is_empty())
}
