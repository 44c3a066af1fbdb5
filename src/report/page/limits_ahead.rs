//! The limits page on what is to come: the drive gone on, another day, what each setup can stand.

use std::collections::BTreeMap;

use super::{below, differences_in, number, temperatures_in};
use crate::limits::{LimitsAnswer, OverAmbient, SessionLimit, SetupLimit};
use crate::quantity::{Measure, Units};
use crate::report::ReportError;
use crate::report::chart::Of;
use crate::report::chart::curves::{Curve, CurveChart, Dot};
use crate::report::figure::Figure;
use crate::report::table::{Table, cell, estimate, noted};
use crate::session::SessionMeta;
use crate::stats::Estimate;

/// Setups that are drawn at most: the first run.
pub const MOST_DRAWN: usize = 6;

/// Where the sessions would have settled, and when they would have met the limit.
pub fn gone_on(answer: &LimitsAnswer, units: Units) -> Table {
    let (temperature, celsius) = (temperatures_in(units), units.symbol(Measure::Temperature));
    let head = [
        "Session",
        &format!("#Would have settled {celsius}"),
        &format!("#Peaked {celsius}"),
        "#Met the limit after",
    ];
    let mut table = Table::new(format!("Had the drive gone on; {}", below()), &head);
    for row in &answer.sessions {
        let rising = match row.still_rising_at_end {
            Some(true) => "still rising at the end",
            _ => "",
        };
        table.row(vec![
            noted(row.id.clone(), rising),
            estimate(units, &row.would_have_settled_c, "", temperature),
            estimate(units, &row.would_have_peaked_c, "", temperature),
            estimate(units, &row.would_have_crossed_s, "", number::duration),
        ]);
    }
    table
}

/// On how hot a day the sessions meet limit and boiling.
pub fn another_day(answer: &LimitsAnswer, units: Units) -> Table {
    let (temperature, celsius) = (temperatures_in(units), units.symbol(Measure::Temperature));
    let head = [
        "Session",
        &format!("#Limiting ambient {celsius}, 1:1"),
        &format!("#Limiting ambient {celsius}, model"),
        &format!("#To boiling {}", units.symbol(Measure::Difference)),
        &format!("#Air-to-boil {celsius}, 1:1"),
    ];
    let mut table = Table::new(format!("Another day; {}", below()), &head);
    for row in &answer.sessions {
        table.row(vec![
            cell(row.id.clone()),
            estimate(units, &row.limiting_ambient_c, "", temperature),
            estimate(units, &row.limiting_ambient_model_c, "", temperature),
            estimate(units, &row.to_boiling_k, "", differences_in(units)),
            estimate(units, &row.air_to_boil_c, "", temperature),
        ]);
    }
    table
}

/// The day that was asked for; none when none was.
pub fn hot_day(answer: &LimitsAnswer, units: Units) -> Option<Table> {
    let (temperature, day) = (temperatures_in(units), &answer.hot_day);
    if day.ambient_c.is_none() && day.laps.is_none() {
        return None;
    }
    let told = |c: f64| number::told(units, Measure::Temperature, c, 0);
    let mut head = vec!["Session".to_owned()];
    if let Some(ambient_c) = day.ambient_c {
        head.push(format!("#To the limit at {}", told(ambient_c)));
        head.push("#The same in laps".to_owned());
    }
    if let Some(laps) = day.laps {
        let celsius = units.symbol(Measure::Temperature);
        let laps = number::count(laps as usize, "lap");
        head.push(format!("#Limiting ambient {celsius}, {laps}"));
    }
    let from = day.start_c.map_or_else(
        || "as warm as each session's hot running began".to_owned(),
        |c| format!("at {}", told(c)),
    );
    let head: Vec<&str> = head.iter().map(String::as_str).collect();
    let title = format!("From the pit exit, coolant {from}; {}", below());
    let mut table = Table::new(title, &head);
    for row in &answer.sessions {
        let mut cells = vec![cell(row.id.clone())];
        if day.ambient_c.is_some() {
            let laps = |laps: f64| format!("{laps:.1}");
            cells.push(estimate(units, &row.time_to_limit_s, "", number::duration));
            cells.push(estimate(units, &row.laps_to_limit, "", laps));
        }
        if day.laps.is_some() {
            cells.push(estimate(
                units,
                &row.limiting_ambient_laps_c,
                "",
                temperature,
            ));
        }
        table.row(cells);
    }
    Some(table)
}

/// What each setup can stand; none without any that the model can say something of.
pub fn setups(answer: &LimitsAnswer, units: Units) -> Option<Table> {
    if answer.setups.is_empty() {
        return None;
    }
    let (temperature, celsius) = (temperatures_in(units), units.symbol(Measure::Temperature));
    let mut head = vec![
        "Setup".to_owned(),
        format!("#Limiting ambient {celsius}, 1:1"),
        format!("#Limiting ambient {celsius}, model"),
    ];
    if let Some(laps) = answer.hot_day.laps {
        head.push(format!(
            "#The same, {}",
            number::count(laps as usize, "lap")
        ));
    }
    head.push(format!("#Air-to-boil {celsius}, 1:1"));
    let head: Vec<&str> = head.iter().map(String::as_str).collect();
    let title = format!("What another session of each setup would say; {}", below());
    let mut table = Table::new(title, &head);
    for row in &answer.setups {
        let seen = format!(
            "{} on {}",
            number::count(row.sessions, "session"),
            number::count(row.days, "day")
        );
        let mut cells = vec![
            noted(row.setup.clone(), seen),
            estimate(units, &row.limiting_ambient_c, "", temperature),
            estimate(units, &row.limiting_ambient_model_c, "", temperature),
        ];
        if answer.hot_day.laps.is_some() {
            cells.push(estimate(
                units,
                &row.limiting_ambient_laps_c,
                "",
                temperature,
            ));
        }
        cells.push(estimate(units, &row.air_to_boil_c, "", temperature));
        table.row(cells);
    }
    Some(table)
}

/// Peak against ambient, a chart a setup.
pub fn capability(
    answer: &LimitsAnswer,
    by_id: &BTreeMap<&str, &SessionMeta>,
    units: Units,
) -> Result<Vec<Figure>, ReportError> {
    let drawn = answer.setups.iter().take(MOST_DRAWN);
    let figures: Result<Vec<Option<Figure>>, ReportError> = drawn
        .map(|setup| {
            let own: Vec<&SessionLimit> = (answer.sessions.iter())
                .filter(|s| {
                    by_id
                        .get(s.id.as_str())
                        .is_some_and(|meta| meta.setup == setup.setup && meta.car.name == setup.car)
                })
                .collect();
            of_setup(setup, &own, units)
        })
        .collect();
    Ok(figures?.into_iter().flatten().collect())
}

fn of_setup(
    setup: &SetupLimit,
    own: &[&SessionLimit],
    units: Units,
) -> Result<Option<Figure>, ReportError> {
    let is_known = |curve: &[OverAmbient]| curve.iter().any(|at| at.peak_c.known().is_some());
    // A session by itself has a curve, but none to say for another.
    let (curve, role): (&[OverAmbient], &str) = match is_known(&setup.peak_over_ambient) {
        true => (&setup.peak_over_ambient, "another session"),
        false => match own.iter().find(|s| is_known(&s.peak_over_ambient)) {
            Some(one) => (&one.peak_over_ambient, "one session"),
            None => return Ok(None),
        },
    };
    let ambient_c: Vec<f64> = curve.iter().map(|at| at.ambient_c).collect();
    let values: Vec<Estimate> = curve.iter().map(|at| at.peak_c.clone()).collect();
    let limit_c = own.iter().find_map(|s| s.limit_c);
    let limiting = setup.limiting_ambient_model_c.known();
    let limiting = limiting.filter(|i| (ambient_c[0]..45.0).contains(&i.estimate));
    let chart = CurveChart {
        what: "peak of coolant",
        ambient_c: &ambient_c,
        sides: vec![Curve {
            of: Of::Before,
            values: &values,
            role,
            name: &setup.setup,
        }],
        sessions: (own.iter())
            .filter_map(|s| {
                Some(Dot {
                    of: Of::Before,
                    id: &s.id,
                    ambient_c: s.ambient_c?,
                    coolant_c: s.would_have_peaked_c.point()?,
                })
            })
            .collect(),
        marked: limiting.map(|i| (i.estimate, "limiting ambient")),
        limit_c,
        units,
    };
    if !chart.has_curves() {
        return Ok(None);
    }
    let limiting = match limiting {
        Some(i) => format!(
            "; the limit is met at {} ({})",
            number::told(units, Measure::Temperature, i.estimate, 0),
            number::ends(i, temperatures_in(units))
        ),
        None => String::new(),
    };
    let alt = format!(
        "Peak of coolant against ambient for {}, with its interval and {} as points{limiting}.",
        setup.setup,
        number::count(chart.sessions.len(), "session")
    );
    let title = format!("Peak against ambient: {}", setup.setup);
    Figure::in_both_widths(title, "", |layout| chart.draw(&alt, layout)).map(Some)
}
