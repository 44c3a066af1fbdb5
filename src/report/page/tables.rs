//! What stands behind a comparison's answer: its tables.

use askama::filters::urlencode;

use super::comparison::verdict_word;
use super::evidence::{effect_rows, setup, sided_rows};
use super::{below, changes_in, day, number, temperatures_in};
use crate::compare::{Comparison, Rerun, SessionRow};
use crate::quantity::{Measure, Units};
use crate::report::table::{Table, cell, estimate, linked, noted};
use crate::stats::Estimate;

/// The answers as a table, with how each was made.
pub fn effects(comparison: &Comparison, units: Units) -> Table {
    let unit = units.symbol(Measure::Difference);
    let mut table = Table::new(
        format!("The answers in figures; {}", below()),
        &["Figure", "#Value", "How the interval was made"],
    );
    let method = |value: &Estimate| {
        let method = value.known().map_or("", |i| i.method.as_str());
        units.prose(method).into_owned()
    };
    for (row, (label, value, ..)) in effect_rows(comparison).into_iter().enumerate() {
        // The first row says why there is none.
        let figure = match row > 0 && comparison.unknown_as_said(&value) {
            true => cell(number::UNKNOWN),
            false => estimate(units, &value, unit, changes_in(units)),
        };
        table.row(vec![cell(label), figure, cell(method(&value))]);
    }
    let answer = &comparison.load_response_change;
    table.row(vec![
        cell("exponent of heat on load, after minus before"),
        estimate(units, answer, "", |v| number::signed(v, 2)),
        cell(method(answer)),
    ]);
    let gap = &comparison.intake_gap_change_k;
    table.row(vec![
        cell("intake air less ambient, after minus before"),
        estimate(units, gap, unit, changes_in(units)),
        cell(method(gap)),
    ]);
    let ratio = &comparison.conductance_ratio.main;
    table.row(vec![
        cell("conductance, after over before"),
        match comparison.unknown_as_said(ratio) {
            true => cell(number::UNKNOWN),
            false => estimate(units, ratio, "", |v| number::fixed(v, 3)),
        },
        cell(method(ratio)),
    ]);
    table
}

/// The comparisons asked at once, which share setup before, drive and ambient.
pub fn family(family: &[(&Comparison, String)], units: Units) -> Table {
    let unit = units.symbol(Measure::Difference);
    let mut table = Table::new(
        format!(
            "All setups compared, over the same drive at the same ambient; {}, which hold together",
            below()
        ),
        &["Setup after", "#Change of settled coolant", "Verdict"],
    );
    for (comparison, page) in family {
        let Ok(address) = urlencode(page);
        let main = &comparison.coolant_change_k.main;
        table.row(vec![
            linked(comparison.after.setup.as_str(), "", address.to_string()),
            match main.known() {
                Some(_) => estimate(units, main, unit, changes_in(units)),
                None => cell(number::UNKNOWN),
            },
            cell(verdict_word(comparison.verdict)),
        ]);
    }
    table
}

/// The sessions used, in figures.
pub fn sessions(comparison: &Comparison, units: Units) -> Table {
    let temperature = temperatures_in(units);
    let celsius = units.symbol(Measure::Temperature);
    let head = [
        "Session",
        "Day",
        &format!("#Ambient {celsius}"),
        &format!("#Coolant {celsius}"),
        &format!("#Speed {}", units.symbol(Measure::Speed)),
        &format!("#Heat input {}", units.symbol(Measure::Power)),
        "#Hot running",
        "#Conductance",
        &format!("#Settled {celsius}"),
    ];
    let caption = format!(
        "The sessions used: means over the hot running, below it the laps held up; heat input as its source has \
         it, on no absolute scale: only ratios between sessions count; conductance over the mean before; where \
         coolant settles at the reference; {}",
        below()
    );
    let mut table = Table::new(caption, &head);
    for (of, row) in sided_rows(comparison) {
        table.row(vec![
            noted(&row.id, setup(of, comparison)),
            cell(day(row.day)),
            cell(temperature(row.ambient_c)),
            cell(temperature(row.coolant_c)),
            cell(number::fixed(units.of(Measure::Speed, row.speed_kmh), 0)),
            cell(number::significant(units.of(Measure::Power, row.heat_kw))),
            noted(number::duration(row.used_s), held_up(row)),
            estimate(units, &row.relative_conductance, "", |v| {
                number::fixed(v, 3)
            }),
            estimate(units, &row.settled_c, "", temperature),
        ]);
    }
    table
}

/// Laps held up of all laps.
fn held_up(row: &SessionRow) -> String {
    match row.laps {
        0 => "laps\u{a0}unknown".to_owned(),
        laps => format!("{}\u{a0}of\u{a0}{laps}\u{a0}laps", row.laps_held_up),
    }
}

/// How alike the two sides were.
pub fn balance(comparison: &Comparison, units: Units) -> Option<Table> {
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
    let mean = |v: Option<f64>, measure: Measure| {
        let told = v.map(|v| number::significant(units.of(measure, v)));
        cell(told.unwrap_or_else(|| number::UNKNOWN.to_owned()))
    };
    let difference = |v: Option<f64>| {
        cell(v.map_or_else(|| number::UNKNOWN.to_owned(), |v| number::signed(v, 2)))
    };
    for b in &matched.balance {
        let (name, symbol) = b.covariate.rsplit_once(", ").unwrap_or((&b.covariate, ""));
        let measure = Measure::of_symbol(symbol);
        let covariate = match units.symbol(measure) {
            "" => b.covariate.clone(),
            symbol => format!("{name}, {symbol}"),
        };
        table.row(vec![
            cell(covariate),
            mean(b.mean_before, measure),
            mean(b.mean_after, measure),
            difference(b.standardised_difference_all),
            difference(b.standardised_difference_matched),
        ]);
    }
    Some(table)
}

/// The assumptions with which the verdict would be another.
pub fn sensitivity(comparison: &Comparison, units: Units) -> Option<Table> {
    let head = ["Assumption", "Instead", "#Change", "Verdict"];
    let caption = format!("With these the verdict would be another; {}", below());
    let mut table = Table::new(caption, &head);
    let unit = units.symbol(Measure::Difference);
    let differs = |rerun: &&Rerun| rerun.verdict != comparison.verdict;
    for rerun in comparison.sensitivity.iter().filter(differs) {
        table.row(vec![
            cell(rerun.assumption),
            cell(units.prose(&rerun.instead)),
            estimate(units, &rerun.coolant_change_k, unit, changes_in(units)),
            cell(rerun.verdict.label()),
        ]);
    }
    (!table.rows.is_empty()).then_some(table)
}

/// The sessions left out.
pub fn left_out(comparison: &Comparison, units: Units) -> Option<Table> {
    let mut table = Table::new("Sessions left out", &["Session", "Setup", "Why"]);
    for side in [&comparison.before, &comparison.after] {
        for left in &side.left_out {
            table.row(vec![
                cell(&left.id),
                cell(&side.setup),
                cell(units.prose(&left.why)),
            ]);
        }
    }
    (!table.rows.is_empty()).then_some(table)
}
