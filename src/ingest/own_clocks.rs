//! A table in which every channel has a clock of its own beside it
//! (`Time; Coolant; Time; Speed`), merged onto one clock.

use super::cell::number;
use super::clock::{clock_score, same_kind};
use super::clock_read::{Reading, read_cells, sample};
use super::heads::Column;
use super::rows::Piece;
use super::shape::Row;
use super::table::Table;
use super::timeline::{timed_rows, unwrap_period};
use super::words::fold;
use crate::warning::Warning;

/// A clock and the channels that follow it up to the next clock.
pub(super) struct Group {
    clock: Reading,
    values: std::ops::Range<usize>,
}

/// A column scored below this is no clock by its name.
const CLOCK_BY_NAME: f64 = 75.0;
/// Readings nearer than this are of one instant, s.
const SAME_INSTANT_S: f64 = 1e-6;

/// The groups, if the first column is a clock and more clocks named like it follow, each with
/// channels after it, that do not all show the same.
pub(super) fn recognise(table: &Table) -> Option<Vec<Group>> {
    let width = table.columns.len();
    let is_clock = |at: &usize| {
        clock_score(table, *at).is_some_and(|score| score >= CLOCK_BY_NAME)
            || (is_numbered_t(&table.columns[*at].name) && rises(table, *at))
    };
    let clocks: Vec<usize> = (0..width).filter(is_clock).collect();
    if clocks.len() < 2 || clocks[0] != 0 || clocks.windows(2).any(|pair| pair[1] == pair[0] + 1) {
        return None;
    }
    let ends = clocks.iter().skip(1).copied().chain([width]);
    let spans: Vec<(usize, usize)> = clocks.iter().copied().zip(ends).collect();
    let named_alike = |&(clock, _): &(usize, usize)| {
        stem(&table.columns[clock].name) == stem(&table.columns[0].name)
    };
    let named_after = |&(clock, end): &(usize, usize)| {
        if end == clock + 1 {
            return false;
        }
        let channel = fold(&table.columns[clock + 1].name);
        let word = channel.split_whitespace().next().unwrap_or("-");
        fold(&table.columns[clock].name).contains(word)
    };
    let by_channel = spans.iter().all(named_after);
    if !by_channel && !spans.iter().all(named_alike) {
        return None;
    }
    let groups: Option<Vec<Group>> = spans
        .into_iter()
        .map(|(clock, end)| {
            Some(Group {
                clock: read_cells(table, clock, 100.0)?,
                values: clock + 1..end,
            })
        })
        .collect();
    let groups = groups?;
    let first = &groups[0].clock;
    let alike = groups.iter().all(|g| same_kind(&g.clock, first));
    let differ = groups.iter().any(|g| g.clock.seconds != first.seconds);
    // Clocks named like their channels are clocks, whether they differ or not.
    (groups.len() > 1 && alike && (differ || by_channel)).then_some(groups)
}

/// A clock's name without the number that tells it from the others.
fn stem(name: &str) -> String {
    let folded = fold(name);
    let figure = |c: char| c.is_ascii_digit() || c == ' ';
    folded.trim_end_matches(figure).trim().to_owned()
}

/// `t_1`, `t 2`: a clock if it rises; else it may be a temperature.
fn is_numbered_t(name: &str) -> bool {
    stem(name) == "t" && name.ends_with(|c: char| c.is_ascii_digit())
}

fn rises(table: &Table, column: usize) -> bool {
    let values: Vec<f64> = sample(table, column)
        .into_iter()
        .filter_map(|cell| number(cell, table.mark))
        .collect();
    values.len() > 2 && values.windows(2).all(|pair| pair[1] > pair[0])
}

/// All readings by the time of their own clock, on one clock.
pub(super) fn merge(table: Table, groups: &[Group]) -> Table {
    let mut readings: Vec<(f64, usize, usize)> = Vec::new();
    let mut offsets = vec![1];
    for (g, group) in groups.iter().enumerate() {
        let timed = timed_rows(&group.clock.seconds);
        let timed = match group.clock.wraps_s {
            Some(period) => unwrap_period(&timed, period),
            None => timed,
        };
        readings.extend(timed.into_iter().map(|(row, s)| (s, g, row)));
        offsets.push(offsets[g] + group.values.len());
    }
    readings.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let mut rows = Piece::of_text(0);
    let mut open: Option<(f64, Row<'_>)> = None;
    for (s, g, row) in readings {
        let same =
            |open: &(f64, Row<'_>)| s - open.0 <= SAME_INSTANT_S && open.1.is_free(offsets[g]);
        if !open.as_ref().is_some_and(same)
            && let Some((_, row)) = open.take()
        {
            row.finish(&mut rows);
        }
        let clock = table.cell(row, groups[g].clock.column);
        let (_, line) =
            open.get_or_insert_with(|| (s, Row::new(table.rows.number(row), vec![clock])));
        for (k, column) in groups[g].values.clone().enumerate() {
            line.put(offsets[g] + k, table.cell(row, column));
        }
    }
    if let Some((_, row)) = open {
        row.finish(&mut rows);
    }
    let kept = std::iter::once(groups[0].clock.column)
        .chain(groups.iter().flat_map(|group| group.values.clone()));
    let mut columns: Vec<Column> = kept.map(|at| table.columns[at].clone()).collect();
    if is_numbered_t(&columns[0].name) {
        // No name of a clock by itself.
        columns[0].name += " time";
    }
    let note = format!(
        "{} groups of columns, each with a clock of its own, were brought onto one",
        groups.len()
    );
    table.reshaped(columns, rows.into(), Warning::note("own-clocks", note))
}
