//! What stands behind a comparison's answer: its charts and tables.

use std::collections::BTreeMap;

use super::{below, change, columns, day, number, temperature};
use crate::compare::{Comparison, SessionRow};
use crate::report::canvas::Marker;
use crate::report::chart::Of;
use crate::report::chart::intervals::{Backdrop, Row, intervals};
use crate::report::chart::trace::{SharedScale, small};
use crate::report::figure::Figure;
use crate::report::ink::Ink;
use crate::report::table::{Table, cell, estimate, noted};
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

/// Zero, the smallest change that matters, and the truth where there is one.
pub fn change_backdrop(comparison: &Comparison, truth: Option<&Truth>) -> Backdrop {
    let threshold = comparison.threshold_k;
    let zone = format!(
        "shaded: less than {}\u{a0}K, too small to matter",
        number::fixed(threshold, 2)
    );
    let mut lines = vec![(0.0, Ink::Zero, "no change".to_owned())];
    if let Some(truth) = truth.filter(|t| t.coolant_change_k.is_finite()) {
        let text = format!("simulated truth {}\u{a0}K", change(truth.coolant_change_k));
        lines.push((truth.coolant_change_k, Ink::Truth, text));
    }
    Backdrop {
        axis: "change of coolant, K (to the left: cooler)".to_owned(),
        zones: vec![(-threshold..threshold, Ink::Zone, zone)],
        lines,
    }
}

fn effect_rows(comparison: &Comparison) -> Vec<(String, Estimate, Marker, Ink)> {
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
    for placebo in &comparison.placebo {
        let label = format!("placebo: {}", placebo.split);
        rows.push((
            label,
            placebo.coolant_change_k.clone(),
            Marker::Bar,
            Ink::Second,
        ));
    }
    rows
}

/// The answers side by side.
pub fn effects(comparison: &Comparison, truth: Option<&Truth>) -> Result<Figure, ReportError> {
    let rows: Vec<Row> = effect_rows(comparison)
        .into_iter()
        .map(|(label, value, marker, ink)| {
            let words = value.known().map_or_else(
                || number::UNKNOWN.to_owned(),
                |i| format!("{} ({})", change(i.estimate), number::ends(i, change)),
            );
            Row::of(label, &value, words, marker, ink)
        })
        .collect();
    let back = change_backdrop(comparison, truth);
    let said: Vec<String> = rows
        .iter()
        .map(|r| format!("{} {}", r.label, r.value))
        .collect();
    let alt = format!(
        "Change of coolant in K with intervals: {}.",
        said.join("; ")
    );
    let reading = "Each row is one way to put the same question. The mark is the estimate, the line \
        its interval. Standardised: both fitted cars driven through the same drive at the same \
        ambient. Matched: only stints that were alike in ambient, density and pace. A placebo \
        compares a setup with itself and should hold zero.";
    Figure::in_both_widths("The answers side by side", reading, |layout| {
        intervals(&rows, &back, &alt, layout)
    })
}

/// The answers as a table, with how each was made.
pub fn effects_table(comparison: &Comparison) -> Table {
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
    let ratio = &comparison.conductance_ratio.main;
    table.row(vec![
        cell("conductance, after over before"),
        estimate(ratio, "", |v| number::fixed(v, 3)),
        cell(method(ratio)),
    ]);
    table
}

/// Each session's settled coolant at the reference, by day.
pub fn sessions(comparison: &Comparison) -> Result<Option<Figure>, ReportError> {
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
        let label = format!("{}  {}", row.id, of.name(comparison));
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
        "Each row is one session: where its car would settle on the reference drive at {}\u{a0}°C \
         ambient, thermostat open, with its interval. Discs and solid lines: before. Diamonds and \
         dashed lines: after. Sessions under one date share that day's weather, fuel and driver, \
         so they lean on each other; it is the days that count.",
        temperature(comparison.reference.ambient_c)
    );
    let back = Backdrop {
        axis: "settled coolant at the reference, °C".to_owned(),
        ..Backdrop::default()
    };
    let said: Vec<String> = rows
        .iter()
        .map(|r| format!("{} {}", r.label, r.value))
        .collect();
    let alt = format!(
        "Settled coolant of each session in °C with intervals: {}.",
        said.join("; ")
    );
    Figure::in_both_widths("Session by session, by day", reading, |layout| {
        intervals(&rows, &back, &alt, layout)
    })
    .map(Some)
}

/// The sessions used, in figures.
pub fn sessions_table(comparison: &Comparison) -> Table {
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
            noted(&row.id, of.name(comparison)),
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

/// A setup against itself.
pub fn placebo(comparison: &Comparison) -> Option<Table> {
    let mut table = Table::new(
        format!("Placebo: each setup against itself; {}", below()),
        &[
            "Sessions against each other",
            "#\u{201c}Change\u{201d}",
            "Holds zero",
        ],
    );
    for placebo in &comparison.placebo {
        let holds = match placebo.coolant_change_k.known() {
            Some(interval) if interval.contains(0.0) => "yes",
            Some(_) => "no: something besides the part moves the result",
            None => number::UNKNOWN,
        };
        table.row(vec![
            cell(&placebo.split),
            estimate(&placebo.coolant_change_k, "K", change),
            cell(holds),
        ]);
    }
    (!table.rows.is_empty()).then_some(table)
}

fn used<'p, 'a>(comparison: &Comparison, parts: &'p [SessionPart<'a>]) -> Vec<&'p SessionPart<'a>> {
    let is_used = |id: &String| {
        comparison.before.sessions.contains(id) || comparison.after.sessions.contains(id)
    };
    parts.iter().filter(|part| is_used(&part.meta.id)).collect()
}

/// How the model follows the reading, session by session, on one scale.
pub fn fits(comparison: &Comparison, parts: &[SessionPart<'_>]) -> Result<Vec<Fit>, ReportError> {
    let parts = used(comparison, parts);
    let scale = SharedScale::of(parts.iter().map(|part| &part.fit.trace));
    let columns = columns(3 * parts.len(), 310);
    let mut out = Vec::new();
    for part in parts {
        let note = residual_words(part);
        let heading = format!("{} · {}", part.meta.label(), part.meta.setup);
        let drawable = part.fit.trace.measured_c.iter().any(|v| v.is_finite());
        let alt = format!(
            "{heading}: coolant measured and modelled over time, and the difference. {note}"
        );
        let svg = if drawable {
            small(&part.fit.trace, &scale, columns, &alt)?
        } else {
            String::new()
        };
        out.push(Fit { heading, svg, note });
    }
    Ok(out)
}

/// The residuals in one sentence or two.
pub fn residual_words(part: &SessionPart<'_>) -> String {
    let residual = &part.fit.residual;
    let Some(sd) = residual.sd_k else {
        let why = part.fit.why.as_deref().unwrap_or("the fit gave none");
        return format!("No residuals: {why}");
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
    format!("Residual {}\u{a0}K; {pattern}{test}.", number::fixed(sd, 2))
}

/// Where the absolute scale of each session comes from; a text shared by several is said once.
pub fn scales(comparison: &Comparison, parts: &[SessionPart<'_>]) -> Vec<String> {
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
        .map(|(text, ids)| format!("{}: {text}", ids.join(", ")))
        .collect()
}
