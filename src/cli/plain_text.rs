//! What stands beside a comparison's answer, for the terminal: plain tests and single days.

use super::compare_text::change;
use super::output::table;
use crate::compare::Comparison;
use crate::quantity::{Measure, Units};

/// The plain tests and the change day by day; empty where there are none.
pub fn plain_text(comparison: &Comparison, units: Units) -> String {
    let unit = units.symbol(Measure::Difference);
    let change = |estimate| change(estimate, Measure::Difference, units);
    let p = |p: Option<f64>| match p {
        None => "-".to_owned(),
        Some(p) if p < 0.001 => "<0.001".to_owned(),
        Some(p) => format!("{p:.3}"),
    };
    let tests = comparison.plain.iter().map(|test| {
        vec![
            test.name.to_owned(),
            change(&test.coolant_change_k),
            p(test.p),
        ]
    });
    let by_day = &comparison.by_day;
    let days = by_day.days.iter().map(|day| {
        vec![
            format!(
                "{}, {} + {} sessions",
                day.day, day.sessions_before, day.sessions_after
            ),
            change(&day.coolant_change_k),
            "-".to_owned(),
        ]
    });
    let mut rows: Vec<Vec<String>> = tests.chain(days).collect();
    if rows.is_empty() {
        return String::new();
    }
    if by_day.days.len() > 1 {
        rows.push(vec![
            "mean over days".to_owned(),
            change(&by_day.coolant_change_k),
            "-".to_owned(),
        ]);
    }
    let head = format!("beside the answer, {unit}");
    let mut text = String::from("\n") + &table(&[&head, "95 % interval", "p"], rows);
    if let Some(agreement) = by_day.agreement {
        let verb = if by_day.disagree() {
            "disagree"
        } else {
            "agree"
        };
        text += &format!(
            "days {verb}: Q {:.2}, p {:.3}, the change varies by {:.2} {unit} from day to day\n",
            agreement.q,
            agreement.q_p,
            units.of(Measure::Difference, agreement.tau_k)
        );
    }
    text
}
