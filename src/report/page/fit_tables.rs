//! Tables of a session's fit: regimes, parameters with what was known beforehand, self-check.

use super::below;
use crate::estimate::SessionFit;
use crate::quantity::{Measure, Units};
use crate::report::number;
use crate::report::table::{Table, cell, estimate};

/// How long the car did what.
pub fn regimes(fit: &SessionFit) -> Table {
    let mut table = Table::new(
        "What the car was doing".to_owned(),
        &["Regime", "#Time", "#Share of the log"],
    );
    let all: f64 = fit.regimes_s.values().sum();
    for (regime, &seconds) in &fit.regimes_s {
        table.row(vec![
            cell(regime.label()),
            cell(number::duration(seconds)),
            cell(format!(
                "{}\u{a0}%",
                number::fixed(100.0 * seconds / all, 0)
            )),
        ]);
    }
    table
}

/// The parameters of the fit. `None` without a fit.
pub fn parameters(fit: &SessionFit, units: Units) -> Option<Table> {
    if fit.parameters.is_empty() {
        return None;
    }
    let mut table = Table::new(
        format!("Parameters of the thermal state; {}", below()),
        &[
            "Parameter",
            "#Value",
            "#Taken beforehand",
            "#Share the prior brought",
        ],
    );
    for parameter in &fit.parameters {
        let measure = Measure::of_symbol(&parameter.unit);
        let unit = match measure {
            Measure::Plain => parameter.unit.as_str(),
            told => units.symbol(told),
        };
        let told = |v: f64| units.of(measure, v);
        let print = |v: f64| number::significant(told(v));
        let [middle, low, high] = parameter.prior.map(print);
        table.row(vec![
            cell(format!("{}, {unit}", parameter.name)),
            estimate(units, &parameter.value, "", print),
            cell(if parameter.from_prior < 0.005 {
                "hardly anything".to_owned()
            } else {
                format!("{middle} ({low} to {high})")
            }),
            cell(format!(
                "{}\u{a0}%",
                number::fixed(100.0 * parameter.from_prior, 0)
            )),
        ]);
    }
    Some(table)
}

/// What the self-check found, where one was made.
pub fn self_check(fit: &SessionFit, units: Units) -> Option<Table> {
    let check = fit.self_check.as_ref()?;
    let mut table = Table::new(
        format!(
            "Self-check {}: {} logs drawn from this fit (seed {}), {} of them fitted; {}",
            if check.passed { "passed" } else { "failed" },
            check.logs,
            check.seed,
            check.fitted,
            below()
        ),
        &["What came back", "#Value"],
    );
    let scatter = check
        .scatter_over_stated
        .map_or_else(|| number::UNKNOWN.to_owned(), |s| number::fixed(s, 2));
    table.row(vec![
        cell("conductance found over the one put in, mean"),
        estimate(units, &check.found_over_true, "", |v| number::fixed(v, 4)),
    ]);
    table.row(vec![
        cell("scatter over what the intervals say of it; 1 is right, less is cautious"),
        cell(scatter),
    ]);
    table.row(vec![
        cell("95 % intervals that hold what was put in, %"),
        estimate(units, &check.holds, "", |v| number::fixed(100.0 * v, 0)),
    ]);
    Some(table)
}
