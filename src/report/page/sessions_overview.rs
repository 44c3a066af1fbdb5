//! The table at the top of the page of sessions: what each fit says, each line linked to its session.

use super::sessions::{anchor, density_decimals};
use super::{below, day, number};
use crate::quantity::{Measure, Units};
use crate::report::SessionPart;
use crate::report::table::{Table, cell, estimate, linked, noted};
use crate::stats::Estimate;

/// What each fit says, a line a session; the first `whole` of them have a part of the page.
pub fn overview(sessions: &[SessionPart<'_>], whole: usize, units: Units) -> Table {
    let reference = sessions.first().map(|part| &part.fit.ua_w_per_k);
    let at = reference.map_or_else(String::new, |ua| {
        format!(
            " at {} and {}",
            number::told(units, Measure::Speed, ua.at_speed_kmh, 0),
            number::told(
                units,
                Measure::Density,
                ua.at_air_density_kg_m3,
                density_decimals(units)
            )
        )
    });
    let head = [
        "Session",
        "Heat from",
        &format!("#UA {}", units.symbol(Measure::Conductance)),
        "#UA relative",
        &format!("#Limiting ambient {}", units.symbol(Measure::Temperature)),
        "Fit",
    ];
    let caption = format!("What each fit says; UA{at}; {}", below());
    let mut table = Table::new(caption, &head);
    let ua_decimals = match units {
        Units::Metric => 0,
        Units::Us => 1,
    };
    for (i, part) in sessions.iter().enumerate() {
        let fit = part.fit;
        let ua = |v: f64| number::fixed(units.of(Measure::Conductance, v), ua_decimals);
        let relative = fit.ua_relative.known().map_or_else(
            || number::UNKNOWN.to_owned(),
            |i| {
                let half = number::fixed(100.0 * i.half_width(), 1);
                format!("\u{b1}{half}\u{a0}%")
            },
        );
        let check = fit.self_check.as_ref().map(|check| match check.passed {
            true => "self-check passed",
            false => "self-check FAILED",
        });
        // Why a session is declined is said once, not in every figure that it lacks.
        let figure = |value: &Estimate, number: &dyn Fn(f64) -> String| match fit.assessable {
            true => estimate(units, value, "", number),
            false => cell("-"),
        };
        let celsius = |c: f64| number::fixed(units.of(Measure::Temperature, c), 0);
        let verdict = match fit.assessable {
            true => noted("assessable", check.unwrap_or_default()),
            false => noted(
                "not assessable",
                units.prose(fit.why.as_deref().unwrap_or_default()),
            ),
        };
        let setup = format!("{}, {}", part.meta.setup, day(part.meta.day));
        table.row(vec![
            match i < whole {
                true => linked(part.meta.label(), setup, format!("#{}", anchor(i))),
                false => noted(part.meta.label(), setup),
            },
            cell(fit.heat_source.as_deref().unwrap_or("nothing")),
            figure(&fit.ua_w_per_k.value, &ua),
            match fit.assessable {
                true => cell(relative),
                false => cell("-"),
            },
            figure(&fit.limiting_ambient_c, &celsius),
            verdict,
        ]);
    }
    table
}
