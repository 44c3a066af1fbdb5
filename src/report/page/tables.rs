//! What stands behind a comparison's answer: its tables.

use super::evidence::{effect_rows, setup, sided_rows};
use super::{below, change, day, number, temperature};
use crate::compare::Comparison;
use crate::report::table::{Table, cell, estimate, noted};
use crate::stats::Estimate;

/// The answers as a table, with how each was made.
pub fn effects(comparison: &Comparison) -> Table {
    let mut table = Table::new(
        format!("The answers in figures; {}", below()),
        &["Figure", "#Value", "How the interval was made"],
    );
    let method = |value: &Estimate| value.known().map_or("", |i| i.method.as_str()).to_owned();
    for (label, value, ..) in effect_rows(comparison) {
        table.row(vec![
            cell(label),
            estimate(&value, "K", change),
            cell(method(&value)),
        ]);
    }
    let answer = &comparison.load_response_change;
    table.row(vec![
        cell("exponent of heat on load, after minus before"),
        estimate(answer, "", |v| number::signed(v, 2)),
        cell(method(answer)),
    ]);
    let ratio = &comparison.conductance_ratio.main;
    table.row(vec![
        cell("conductance, after over before"),
        estimate(ratio, "", |v| number::fixed(v, 3)),
        cell(method(ratio)),
    ]);
    table
}

/// The sessions used, in figures.
pub fn sessions(comparison: &Comparison) -> Table {
    let head = [
        "Session",
        "Day",
        "#Ambient °C",
        "#Coolant °C",
        "#Speed km/h",
        "#Heat kW",
        "#Used",
        "#Conductance (mean before = 1)",
        "#Settled at the reference °C",
    ];
    let mut table = Table::new(
        format!("The sessions used: means over the hot running; {}", below()),
        &head,
    );
    for (of, row) in sided_rows(comparison) {
        table.row(vec![
            noted(&row.id, setup(of, comparison)),
            cell(day(row.day)),
            cell(temperature(row.ambient_c)),
            cell(temperature(row.coolant_c)),
            cell(number::fixed(row.speed_kmh, 0)),
            cell(number::fixed(row.heat_kw, 1)),
            cell(number::duration(row.used_s)),
            estimate(&row.relative_conductance, "", |v| number::fixed(v, 3)),
            estimate(&row.settled_c, "", temperature),
        ]);
    }
    table
}

/// How alike the two sides were.
pub fn balance(comparison: &Comparison) -> Option<Table> {
    let matched = &comparison.matched;
    if matched.balance.is_empty() {
        return None;
    }
    let head = [
        "Covariate",
        "#Mean before",
        "#Mean after",
        "#Difference, all stints",
        "#Difference, matched",
    ];
    let caption = format!(
        "How alike the two sides were ({} matched)",
        number::count(matched.pairs, "pair"),
    );
    let mut table = Table::new(caption, &head);
    let mean =
        |v: Option<f64>| cell(v.map_or_else(|| number::UNKNOWN.to_owned(), number::significant));
    let difference = |v: Option<f64>| {
        cell(v.map_or_else(|| number::UNKNOWN.to_owned(), |v| number::signed(v, 2)))
    };
    for b in &matched.balance {
        table.row(vec![
            cell(&b.covariate),
            mean(b.mean_before),
            mean(b.mean_after),
            difference(b.standardised_difference_all),
            difference(b.standardised_difference_matched),
        ]);
    }
    Some(table)
}

/// The sessions left out.
pub fn left_out(comparison: &Comparison) -> Option<Table> {
    let mut table = Table::new("Sessions left out", &["Session", "Setup", "Why"]);
    for side in [&comparison.before, &comparison.after] {
        for left in &side.left_out {
            table.row(vec![cell(&left.id), cell(&side.setup), cell(&left.why)]);
        }
    }
    (!table.rows.is_empty()).then_some(table)
}
