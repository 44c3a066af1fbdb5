//! What `heatbook fit` says on a terminal.

use super::output::{figure, number, table, told, wrapped};
use crate::estimate::{FitAnswer, SessionFit, by_heat_source};
use crate::quantity::{Measure, Units};
use crate::stats::Estimate;

/// The fits in words.
pub fn text(answer: &FitAnswer, units: Units) -> String {
    let conductance_decimals = match units {
        Units::Metric => 0,
        Units::Us => 1,
    };
    let rows = answer
        .sessions
        .iter()
        .map(|s| {
            vec![
                s.id.clone(),
                format!("{:.0}", s.open_s),
                told(
                    units,
                    Measure::Conductance,
                    &s.ua_w_per_k.value,
                    conductance_decimals,
                ),
                s.ua_relative.known().map_or_else(
                    || "-".to_owned(),
                    |i| format!("±{:.1} %", 100.0 * i.half_width()),
                ),
                told(units, Measure::Temperature, &s.limiting_ambient_c, 0),
                number(s.residual.sd_k.map(|k| units.of(Measure::Difference, k)), 1),
            ]
        })
        .collect();
    let header = [
        "session",
        "open, s",
        &format!("UA, {}", units.symbol(Measure::Conductance)),
        "UA relative",
        &format!("limiting ambient, {}", units.symbol(Measure::Temperature)),
        &format!("residual, {}", units.symbol(Measure::Difference)),
    ];
    let mut text = table(&header, rows);
    if let Some(fit) = answer.sessions.first() {
        text += &format!(
            "UA at {:.0} {} and {:.3} {}; intervals 95 %.\n",
            units.of(Measure::Speed, fit.ua_w_per_k.at_speed_kmh),
            units.symbol(Measure::Speed),
            units.of(Measure::Density, fit.ua_w_per_k.at_air_density_kg_m3),
            units.symbol(Measure::Density)
        );
        text += &(wrapped(&format!(
            "Heat from: {}. Relative: with the scale of the heat input set aside, which cancels \
             only between sessions of one car with the same heat source. To hold sessions against \
             each other use heatbook compare. Limiting ambient: this fit's drive, gone on without \
             gusts; heatbook limits counts them and mostly comes out lower.",
            heat_sources(answer)
        )) + "\n");
    }
    for fit in &answer.sessions {
        text += &other_temperatures(fit, units);
    }
    for fit in &answer.sessions {
        text += &self_check(fit);
    }
    for fit in answer.sessions.iter().filter(|f| !f.assessable) {
        text += &format!(
            "{} is not assessable: {}",
            fit.id,
            units.prose(fit.why.as_deref().unwrap_or("no reason"))
        );
        if let Some(bound) = fit.ua_lower_bound_w_per_k.known() {
            text += &format!(
                "; UA is at least {:.conductance_decimals$} {}",
                units.of(Measure::Conductance, bound.low),
                units.symbol(Measure::Conductance)
            );
        }
        text += "\n";
    }
    text
}

/// What the heat input of the sessions was taken from: `fuel flow (s1, s2); engine air flow (s3)`.
fn heat_sources(answer: &FitAnswer) -> String {
    let by_source = by_heat_source(answer.sessions.iter());
    let alone = by_source.len() == 1;
    let said = (by_source.iter()).map(|(source, ids)| match alone {
        true => (*source).to_owned(),
        false => format!("{source} ({})", ids.join(", ")),
    });
    said.collect::<Vec<_>>().join("; ")
}

/// What radiator outlet, oil and charge air tell, one line where any is logged.
fn other_temperatures(fit: &SessionFit, units: Units) -> String {
    let celsius = units.symbol(Measure::Temperature);
    let mut parts = Vec::new();
    if let Some(outlet) = fit.outlet.seen() {
        let percent = |e: &Estimate| {
            e.known().map_or_else(
                || "-".to_owned(),
                |i| format!("±{:.1} %", 100.0 * i.half_width()),
            )
        };
        parts.push(format!(
            "radiator effectiveness {}, relative {} (UA: {}), return {} {celsius}",
            figure(&outlet.effectiveness.value, 3),
            percent(&outlet.effectiveness_relative),
            percent(&fit.ua_relative),
            told(units, Measure::Temperature, &outlet.return_c, 1)
        ));
    }
    if let Some(oil) = fit.oil.seen() {
        parts.push(format!(
            "oil settles at {} {celsius}",
            told(units, Measure::Temperature, &oil.settled_c, 0)
        ));
    }
    if let Some(charge) = fit.charge_air.seen() {
        parts.push(format!(
            "charge-air cooler effectiveness {}",
            figure(&charge.effectiveness, 2)
        ));
    }
    if parts.is_empty() {
        return String::new();
    }
    format!("{}: {}\n", fit.id, parts.join("; "))
}

/// What the self-check found, two lines where one was made.
fn self_check(fit: &SessionFit) -> String {
    let Some(check) = &fit.self_check else {
        return String::new();
    };
    let advice = match check.misses_over_stated.filter(|_| !check.passed) {
        Some(times) => format!(
            "    (misses {times:.1} times as large as the intervals say: take them for so much wider)\n"
        ),
        None => String::new(),
    };
    format!(
        "{}: self-check {}: {} of {} logs drawn from its fit (seed {}) could be fitted: UA\n    found over UA put in {}; the intervals hold it in {} %\n{advice}",
        fit.id,
        if check.passed { "passed" } else { "FAILED" },
        check.fitted,
        check.logs,
        check.seed,
        figure(&check.found_over_true, 3),
        figure(&check.holds.map(|share| 100.0 * share), 0),
    )
}
