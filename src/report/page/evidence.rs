//! What stands behind a comparison's answer: its charts.

use std::collections::BTreeMap;

use super::{changes_in, columns, day, number, temperatures_in};
use crate::compare::{Comparison, PLACEBO_SEED, Placebo, SessionRow};
use crate::quantity::{Measure, Units};
use crate::report::canvas::Marker;
use crate::report::chart::Of;
use crate::report::chart::intervals::{Backdrop, Row, intervals};
use crate::report::chart::trace::{SharedScale, small};
use crate::report::figure::Figure;
use crate::report::ink::Ink;
use crate::report::{ReportError, SessionPart, Truth};
use crate::stats::Estimate;

/// The small chart of one session's fit.
pub struct Fit {
    /// The session and its setup.
    pub heading: String,
    /// The drawing; empty when there is nothing to draw.
    pub svg: String,
    /// How well the model follows, in words.
    pub note: String,
}

/// The sessions used, each with the side it belongs to, by day.
pub fn sided_rows(comparison: &Comparison) -> Vec<(Of, &SessionRow)> {
    let mut rows: Vec<(Of, &SessionRow)> = comparison
        .rows
        .iter()
        .filter_map(|row| {
            if comparison.before.sessions.contains(&row.id) {
                Some((Of::Before, row))
            } else if comparison.after.sessions.contains(&row.id) {
                Some((Of::After, row))
            } else {
                None
            }
        })
        .collect();
    rows.sort_by_key(|(_, row)| (row.day.is_none(), row.day));
    rows
}

/// The name of a side's setup.
pub fn setup(of: Of, comparison: &Comparison) -> &str {
    match of {
        Of::Before => &comparison.before.setup,
        Of::After => &comparison.after.setup,
    }
}

/// Zero, the smallest change that matters, and the truth where there is one.
pub fn change_backdrop(comparison: &Comparison, truth: Option<&Truth>, units: Units) -> Backdrop {
    let (change, unit) = (changes_in(units), units.symbol(Measure::Difference));
    let threshold = comparison.threshold_k;
    let zone = format!(
        "shaded: less than {}, too small to matter",
        number::told(units, Measure::Difference, threshold, 2)
    );
    let mut lines = vec![(0.0, Ink::Zero, "no change".to_owned())];
    if let Some(truth) = truth.filter(|t| t.coolant_change_k.is_finite()) {
        let text = format!(
            "simulated truth {}\u{a0}{unit}",
            change(truth.coolant_change_k)
        );
        lines.push((truth.coolant_change_k, Ink::Truth, text));
    }
    Backdrop {
        axis: format!("change of coolant, {unit} (to the left: cooler)"),
        measure: Measure::Difference,
        units,
        zones: vec![(-threshold..threshold, Ink::Zone, zone)],
        lines,
    }
}

/// The same, with what was predicted.
pub fn predicted_backdrop(
    comparison: &Comparison,
    truth: Option<&Truth>,
    units: Units,
) -> Backdrop {
    let (change, unit) = (changes_in(units), units.symbol(Measure::Difference));
    let mut back = change_backdrop(comparison, truth, units);
    if let Some(predicted) = &comparison.predicted {
        let (low, high) = (predicted.low_k, predicted.high_k);
        let text = format!("predicted, {} to {}\u{a0}{unit}", change(low), change(high));
        back.zones.push((low..high, Ink::Stint, text));
    }
    back
}

/// The ways the question was put: label, answer, and how it is drawn.
pub fn effect_rows(comparison: &Comparison) -> Vec<(String, Estimate, Marker, Ink)> {
    let alone = |value: &Option<Estimate>| {
        value
            .clone()
            .unwrap_or_else(|| Estimate::unknown("these sessions alone give no interval"))
    };
    let main = &comparison.coolant_change_k;
    let mut rows = vec![(
        "standardised".to_owned(),
        main.main.clone(),
        Marker::Disc,
        Ink::Answer,
    )];
    if comparison.borrowed.is_some() {
        rows.push((
            "… these sessions alone".to_owned(),
            alone(&main.alone),
            Marker::Disc,
            Ink::Second,
        ));
    }
    let matched = comparison.matched.coolant_change_k.clone();
    rows.push((
        "matched pairs".to_owned(),
        matched,
        Marker::Diamond,
        Ink::Answer,
    ));
    for (label, effect) in [
        ("peak, standardised", &comparison.coolant_peak_change_k),
        (
            "mean, thermostat working",
            &comparison.coolant_change_regulated_k,
        ),
    ] {
        rows.push((
            label.to_owned(),
            effect.main.clone(),
            Marker::Disc,
            Ink::Second,
        ));
    }
    rows
}

/// The rows of a chart in words, for who does not see it.
fn said(rows: &[Row]) -> String {
    let said: Vec<String> = rows
        .iter()
        .map(|r| format!("{} {}", r.label, r.value))
        .collect();
    said.join("; ")
}

/// The answers side by side. `None`: there is none.
pub fn effects(
    comparison: &Comparison,
    truth: Option<&Truth>,
    units: Units,
) -> Result<Option<Figure>, ReportError> {
    let change = changes_in(units);
    let answers = effect_rows(comparison);
    if answers.iter().all(|(_, value, ..)| value.known().is_none()) {
        return Ok(None);
    }
    let rows: Vec<Row> = answers
        .into_iter()
        .map(|(label, value, marker, ink)| {
            let words = value.known().map_or_else(
                || number::UNKNOWN.to_owned(),
                |i| format!("{} ({})", change(i.estimate), number::ends(i, change)),
            );
            Row::of(label, &value, words, marker, ink)
        })
        .collect();
    let back = change_backdrop(comparison, truth, units);
    let alt = format!(
        "Change of coolant in {} with intervals: {}.",
        units.symbol(Measure::Difference),
        said(&rows)
    );
    let reading = "Each row is one way to put the same question. The mark is the estimate, the line \
        its interval. Standardised: both fitted cars driven through the same drive at the same \
        ambient. Matched: only stints that were alike in ambient, density, pace and hot running before.";
    Figure::in_both_widths("The answers side by side", reading, |layout| {
        intervals(&rows, &back, &alt, layout)
    })
    .map(Some)
}

/// The comparison run again with one assumption replaced at a time.
pub fn sensitivity(comparison: &Comparison, units: Units) -> Result<Option<Figure>, ReportError> {
    let change = changes_in(units);
    if comparison.sensitivity.is_empty() {
        return Ok(None);
    }
    let words = |value: &Estimate| {
        value.known().map_or_else(
            || number::UNKNOWN.to_owned(),
            |i| format!("{} ({})", change(i.estimate), number::ends(i, change)),
        )
    };
    let main = &comparison.coolant_change_k.main;
    let mut first = Row::of("as compared", main, words(main), Marker::Disc, Ink::Answer);
    first.heading = Some("nothing replaced".to_owned());
    let mut rows = vec![first];
    let mut last = "";
    for rerun in &comparison.sensitivity {
        let value = &rerun.coolant_change_k;
        let label = units.prose(&rerun.instead).into_owned();
        let mut row = Row::of(label, value, words(value), Marker::Diamond, Ink::Second);
        if rerun.assumption != last {
            row.heading = Some(rerun.assumption.to_owned());
            last = rerun.assumption;
        }
        rows.push(row);
    }
    let alt = format!(
        "Change of coolant with one assumption replaced at a time: {}.",
        said(&rows)
    );
    let reading = "The whole comparison was run again for each row, with one assumption replaced. Where a \
         verdict is another, a table names it. A mark that leaves the first row\u{2019}s interval shows an \
         assumption to look into.";
    let back = change_backdrop(comparison, None, units);
    Figure::in_both_widths("What each assumption would change", reading, |layout| {
        intervals(&rows, &back, &alt, layout)
    })
    .map(Some)
}

/// Each setup against itself.
pub fn placebos(comparison: &Comparison, units: Units) -> Result<Option<Figure>, ReportError> {
    let change = changes_in(units);
    if comparison.placebo.is_empty() {
        return Ok(None);
    }
    let row = |placebo: &Placebo| {
        let value = &placebo.coolant_change_k;
        let words = value.known().map_or_else(
            || number::UNKNOWN.to_owned(),
            |i| format!("{} ({})", change(i.estimate), number::ends(i, change)),
        );
        let label = format!("{}: {}", placebo.setup, placebo.split);
        Row::of(label, value, words, Marker::Bar, Ink::Second)
    };
    let rows: Vec<Row> = comparison.placebo.iter().map(row).collect();
    let (known, holding) = comparison.placebos_holding_zero();
    let alt = format!(
        "Placebos, {holding} of {known} intervals hold zero: {}.",
        said(&rows)
    );
    let reading = format!(
        "Each row holds a setup against itself, so there is no change to find: the sessions are parted \
         at random, day by day (seed {PLACEBO_SEED}). {holding} of {known} intervals hold zero. They \
         share sessions and are no independent tests; but where several miss, something besides \
         the part moves the result."
    );
    let back = change_backdrop(comparison, None, units);
    let title = "Placebo: each setup against itself";
    Figure::in_both_widths(title, &reading, |layout| {
        intervals(&rows, &back, &alt, layout)
    })
    .map(Some)
}

/// Each session's settled coolant at the reference, by day.
pub fn sessions(comparison: &Comparison, units: Units) -> Result<Option<Figure>, ReportError> {
    let (temperature, unit) = (temperatures_in(units), units.symbol(Measure::Temperature));
    let mut rows: Vec<Row> = Vec::new();
    let mut last_day = None;
    for (of, row) in sided_rows(comparison) {
        let words = row.settled_c.known().map_or_else(
            || number::UNKNOWN.to_owned(),
            |i| {
                format!(
                    "{} ({})",
                    temperature(i.estimate),
                    number::ends(i, temperature)
                )
            },
        );
        let label = format!("{}  {}", row.id, setup(of, comparison));
        let mut line = Row::of(label, &row.settled_c, words, of.marker(), of.ink());
        if last_day != Some(row.day) {
            line.heading = Some(day(row.day));
            last_day = Some(row.day);
        }
        rows.push(line);
    }
    if rows.is_empty() {
        return Ok(None);
    }
    let reading = format!(
        "Each row is one session: where its car would settle on the reference drive at {}\u{a0}{unit} \
         ambient, thermostat open, with its interval. Discs and solid lines: before. Diamonds and \
         dashed lines: after. Sessions under one date share that day's weather, fuel and driver, \
         so they lean on each other: after is held against before of the same day where there is one.",
        temperature(comparison.reference.ambient_c)
    );
    let back = Backdrop {
        axis: format!("settled coolant at the reference, {unit}"),
        measure: Measure::Temperature,
        units,
        ..Backdrop::default()
    };
    let alt = format!(
        "Settled coolant of each session in {unit} with intervals: {}.",
        said(&rows)
    );
    Figure::in_both_widths("Session by session, by day", reading, |layout| {
        intervals(&rows, &back, &alt, layout)
    })
    .map(Some)
}

fn used<'p, 'a>(comparison: &Comparison, parts: &'p [SessionPart<'a>]) -> Vec<&'p SessionPart<'a>> {
    let is_used = |id: &String| {
        comparison.before.sessions.contains(id) || comparison.after.sessions.contains(id)
    };
    parts.iter().filter(|part| is_used(&part.meta.id)).collect()
}

/// How the model follows the reading, session by session, on one scale.
pub fn fits(
    comparison: &Comparison,
    parts: &[SessionPart<'_>],
    units: Units,
) -> Result<Vec<Fit>, ReportError> {
    let parts = used(comparison, parts);
    let scale = SharedScale::of(parts.iter().map(|part| &part.fit.trace));
    let columns = columns(parts.len(), 3, 5_000, 310);
    let mut out = Vec::new();
    for part in parts {
        let note = residual_words(part, units);
        let heading = format!("{} · {}", part.meta.label(), part.meta.setup);
        let drawable = part.fit.trace.measured_c.iter().any(|v| v.is_finite());
        let alt = format!(
            "{heading}: coolant measured and modelled over time, and the difference. {note}"
        );
        let svg = if drawable {
            small(&part.fit.trace, &scale, columns, &alt, units)?
        } else {
            String::new()
        };
        out.push(Fit { heading, svg, note });
    }
    Ok(out)
}

/// The residuals in one sentence or two.
pub fn residual_words(part: &SessionPart<'_>, units: Units) -> String {
    let residual = &part.fit.residual;
    let Some(sd) = residual.sd_k else {
        let why = part.fit.why.as_deref().unwrap_or("the fit gave none");
        return format!("No residuals: {}", units.prose(why));
    };
    let p = residual.p.map(|p| {
        if p < 0.001 {
            ", p below 0.001".to_owned()
        } else {
            format!(", p = {}", number::fixed(p, 3))
        }
    });
    let pattern = match residual.white {
        Some(true) => "no pattern found",
        Some(false) => "a pattern is left",
        None => "pattern not tested",
    };
    let test = if residual.test.is_empty() {
        String::new()
    } else {
        format!(" ({}{})", residual.test, p.unwrap_or_default())
    };
    let widens = residual.widens_by.filter(|_| residual.white == Some(false));
    let cost = widens.map_or_else(String::new, |by| {
        let percent = number::fixed(100.0 * by, 1);
        format!("; it widens the interval of the conductance by {percent}\u{a0}%")
    });
    format!(
        "Residual {}; {pattern}{test}{cost}.",
        number::told(units, Measure::Difference, sd, 2)
    )
}

/// Where the absolute scale of each session comes from; a text shared by several is said once.
pub fn scales(comparison: &Comparison, parts: &[SessionPart<'_>], units: Units) -> Vec<String> {
    let mut by_text: BTreeMap<&str, Vec<String>> = BTreeMap::new();
    for part in used(comparison, parts) {
        if !part.fit.scale.is_empty() {
            by_text
                .entry(&part.fit.scale)
                .or_default()
                .push(part.meta.label());
        }
    }
    by_text
        .into_iter()
        .map(|(text, ids)| format!("{}: {}", ids.join(", "), units.prose(text)))
        .collect()
}
