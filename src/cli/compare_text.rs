//! The words and tables of `heatbook compare` on a terminal.

use super::output::{count, table, wrapped};
use super::plain_text::plain_text;
use crate::compare::{Comparison, Effect, verdict};
use crate::quantity::{Measure, Units};
use crate::stats::Estimate;

/// The comparison in words, for the terminal.
pub fn text(comparison: &Comparison, units: Units) -> String {
    let unit = units.symbol(Measure::Difference);
    let change = |estimate: &Estimate| change(estimate, Measure::Difference, units);
    let answer = format!(
        "{}: {}",
        comparison.verdict.label().to_uppercase(),
        verdict::sentences(comparison, units)
    );
    let mut text = wrapped(&answer) + "\n\n";
    let row = |name: &str, effect: &Effect, show: &dyn Fn(&Estimate) -> String| {
        let alone = effect.alone.as_ref().map_or_else(|| "-".to_owned(), show);
        let main = match comparison.unknown_as_said(&effect.main) {
            true => "unknown".to_owned(),
            false => show(&effect.main),
        };
        vec![name.to_owned(), main, alone]
    };
    let mut rows = vec![
        row(
            &format!("mean coolant, {unit}"),
            &comparison.coolant_change_k,
            &change,
        ),
        row(
            &format!("peak coolant, {unit}"),
            &comparison.coolant_peak_change_k,
            &change,
        ),
        row(
            &format!("mean, regulated, {unit}"),
            &comparison.coolant_change_regulated_k,
            &change,
        ),
        row("conductance ratio", &comparison.conductance_ratio, &ratio),
    ];
    rows.push(vec![
        format!(
            "matched, {}, {unit}",
            count(comparison.matched.pairs, "pair")
        ),
        change(&comparison.matched.coolant_change_k),
        "-".to_owned(),
    ]);
    rows.push(vec![
        "heat's load exponent".to_owned(),
        self::change(&comparison.load_response_change, Measure::Plain, units),
        "-".to_owned(),
    ]);
    rows.push(vec![
        format!("intake - ambient, {unit}"),
        change(&comparison.intake_gap_change_k),
        "-".to_owned(),
    ]);
    text += &table(
        &[
            "after minus before",
            "95 % interval",
            "these sessions alone",
        ],
        rows,
    );
    text += &plain_text(comparison, units);
    text += &remarks(comparison, units);
    for side in [&comparison.before, &comparison.after] {
        text += &format!(
            "{}: {} on {}\n",
            side.setup,
            match side.sessions[..] {
                [] => "no session".to_owned(),
                _ => side.sessions.join(" "),
            },
            count(side.days, "day")
        );
        for left in &side.left_out {
            text += &format!("  left out {}: {}\n", left.id, units.prose(&left.why));
        }
    }
    text
}

/// Several comparisons with one setup before, a line each.
pub fn overview(comparisons: &[Comparison], units: Units) -> String {
    let unit = units.symbol(Measure::Difference);
    let rows = comparisons.iter().map(|comparison| {
        let main = &comparison.coolant_change_k.main;
        let figure = match main.known() {
            Some(_) => change(main, Measure::Difference, units),
            None => "unknown".to_owned(),
        };
        let setup = comparison.after.setup.clone();
        vec![setup, figure, comparison.verdict.label().to_uppercase()]
    });
    let before = comparisons.first().map_or("", |c| &c.before.setup);
    table(
        &[
            &format!("against {before}"),
            &format!("mean coolant, {unit}"),
            "verdict",
        ],
        rows.collect(),
    )
}

/// What stands besides the figures: bound, placebos, sessions set aside.
fn remarks(comparison: &Comparison, units: Units) -> String {
    let unit = units.symbol(Measure::Difference);
    let told = |k: f64| units.of(Measure::Difference, k);
    let mut text = String::new();
    let (known, holding) = comparison.placebos_holding_zero();
    if known > 0 {
        text += &format!(
            "placebo: {holding} of {} of a setup against itself hold zero\n",
            count(known, "interval")
        );
    }
    if let Some(bound) = &comparison.regulated_evidence {
        let (side, limit_k) = bound.limit();
        text += &format!(
            "regulated, {}: {} bound the change: {side} {:+.2} {unit} ({:.1} %, one-sided)\n",
            bound.setup,
            bound.sessions.join(" "),
            told(limit_k),
            100.0 * bound.level
        );
    }
    if let Some(predicted) = &comparison.predicted {
        text += &format!(
            "predicted: {:+.2} to {:+.2} {unit}. {}\n",
            told(predicted.low_k),
            told(predicted.high_k),
            predicted.agreement.sentence()
        );
    }
    if let Some(lifted) = &comparison.with_excluded {
        text += &format!(
            "with {} that were set aside: {}, {} {unit}\n",
            lifted.sessions.join(" "),
            lifted.verdict.label(),
            change(&lifted.coolant_change_k, Measure::Difference, units)
        );
    }
    text
}

/// A change with its interval, or why there is none.
pub fn change(estimate: &Estimate, measure: Measure, units: Units) -> String {
    match estimate {
        Estimate::Known(i) => {
            let [middle, low, high] = [i.estimate, i.low, i.high].map(|v| units.of(measure, v));
            format!("{middle:+.2} ({low:+.2} to {high:+.2})")
        }
        Estimate::Unknown { why } => units.prose(why).into_owned(),
    }
}

fn ratio(estimate: &Estimate) -> String {
    match estimate {
        Estimate::Known(i) => format!("{:.3} ({:.3} to {:.3})", i.estimate, i.low, i.high),
        Estimate::Unknown { why } => why.clone(),
    }
}
