//! The page of a computed stack.

use askama::Template;

use super::{Notice, Shell, changes_in, notices, number, temperatures_in};
use crate::compare::Predicted;
use crate::quantity::{Measure, Units};
use crate::report::canvas::Marker;
use crate::report::chart::face::{FaceMap, FaceMaps};
use crate::report::chart::intervals::{Backdrop, Row, intervals};
use crate::report::figure::Figure;
use crate::report::ink::Ink;
use crate::report::table::{Cell, Table, cell, estimate, noted};
use crate::report::{Measured, Provenance, ReportError};
use crate::stack::{Change, Computed, ExchangerAnswer, PROPERTIES_TO_C, Prediction, StackAnswer};
use crate::stats::Estimate;

/// What a caption says of the intervals in its table.
const RANGES: &str = "in small print what the sheet's ranges leave open";

/// Inputs in a table.
const INFLUENCES: usize = 8;

#[derive(Template)]
#[template(path = "stack.html", config = "src/report/askama.toml")]
struct StackPage<'a> {
    shell: Shell<'a>,
    summary: &'a str,
    beside: Option<String>,
    changes: Option<Figure>,
    changes_table: Option<Table>,
    plans: Vec<&'a str>,
    plans_near_end: Vec<&'a str>,
    maps: Vec<Maps>,
    exchangers: Table,
    influences: Vec<Table>,
    sweep: Option<Table>,
    radiator: Option<String>,
    relation: &'static str,
    celsius: &'static str,
    cells: usize,
    grid_step: String,
    notices: Vec<Notice>,
}

/// The maps of one stack.
struct Maps {
    heading: String,
    figures: Vec<Figure>,
}

/// The page.
pub fn render(
    prediction: &Prediction,
    summary: &str,
    measured: Option<&Measured>,
    provenance: &Provenance,
    other_pages: &[(&str, &str)],
) -> Result<String, ReportError> {
    let name = prediction.stacks.first().map_or("", |s| s.name.as_str());
    let units = provenance.units;
    let page = StackPage {
        shell: Shell::new(
            "Stack",
            format!("Exchanger stack of {name}, computed"),
            block(prediction, units),
            provenance,
            other_pages,
        ),
        summary,
        beside: measured.map(|m| beside(prediction, m, units)),
        changes: changes(prediction, measured, units)?,
        changes_table: changes_table(prediction, units),
        plans: prediction
            .changes
            .iter()
            .filter_map(|c| c.plan.as_deref())
            .collect(),
        plans_near_end: prediction
            .changes
            .iter()
            .filter_map(|c| c.plan_near_end.as_deref())
            .collect(),
        maps: maps(prediction, units)?,
        exchangers: exchangers(prediction, units),
        influences: influences(prediction, units),
        sweep: sweep(prediction, units),
        radiator: radiator(prediction, units),
        relation: prediction.relation,
        celsius: units.symbol(Measure::Temperature),
        cells: prediction.cells,
        grid_step: grid_step(prediction, units),
        notices: notices(prediction.warnings.iter(), units),
    };
    Ok(page.render()?)
}

fn block(prediction: &Prediction, units: Units) -> Vec<(&'static str, String)> {
    let at = &prediction.at;
    let density_decimals = match units {
        Units::Metric => 3,
        Units::Us => 4,
    };
    let mut block = vec![
        (
            "Road speed",
            number::told(units, Measure::Speed, at.speed_kmh, 0),
        ),
        (
            "Load",
            format!("{}\u{a0}% of full load", number::fixed(100.0 * at.load, 0)),
        ),
        (
            "Air outside",
            number::told(units, Measure::Temperature, at.ambient_c, 1),
        ),
        (
            "Air density",
            number::told(
                units,
                Measure::Density,
                at.air_density_kg_m3,
                density_decimals,
            ),
        ),
    ];
    if let Some(coolant_c) = at.coolant_c {
        block.push((
            "Coolant held at",
            number::told(units, Measure::Temperature, coolant_c, 1),
        ));
    }
    block
}

/// What was measured of a what-if, in words.
fn beside(prediction: &Prediction, measured: &Measured, units: Units) -> String {
    let (change, unit) = (changes_in(units), units.symbol(Measure::Difference));
    let predicted = prediction
        .changes
        .iter()
        .find(|c| c.what_if == measured.what_if);
    let said = |estimate: &Estimate| match estimate {
        Estimate::Known(i) => format!(
            "{}\u{a0}{unit} ({})",
            change(i.estimate),
            number::ends(i, change)
        ),
        Estimate::Unknown { why } => format!("unknown: {}", units.prose(why)),
    };
    let (Some(predicted), measured_k) = (predicted, &measured.coolant_change_k) else {
        return format!(
            "The measured change with {} belongs to no what-if here.",
            measured.what_if
        );
    };
    let judged = match predicted.coolant_change_k.known() {
        Some(i) => Predicted::beside((i.low, i.high), measured_k)
            .agreement
            .sentence(),
        None => "There is no prediction to hold it against.",
    };
    format!(
        "{}: predicted {}, measured {}. {judged}",
        measured.what_if,
        said(&predicted.coolant_change_k),
        said(measured_k)
    )
}

/// Changes of settled coolant as intervals; none where there is no what-if.
fn changes(
    prediction: &Prediction,
    measured: Option<&Measured>,
    units: Units,
) -> Result<Option<Figure>, ReportError> {
    let (change, unit) = (changes_in(units), units.symbol(Measure::Difference));
    let mut rows = Vec::new();
    let words = |value: &Estimate| match value {
        Estimate::Known(i) => format!("{}\u{a0}{unit}", change(i.estimate)),
        Estimate::Unknown { .. } => number::UNKNOWN.to_owned(),
    };
    for c in &prediction.changes {
        let of = |label: &str, value: &Estimate, marker, ink| {
            Row::of(label, value, words(value), marker, ink)
        };
        let mut row = of(
            "predicted",
            &c.coolant_change_k,
            Marker::Diamond,
            Ink::Second,
        );
        row.heading = Some(c.what_if.clone());
        rows.push(row);
        if let Some(measured) = measured.filter(|m| m.what_if == c.what_if) {
            rows.push(of(
                "measured",
                &measured.coolant_change_k,
                Marker::Disc,
                Ink::Answer,
            ));
        }
    }
    if rows.iter().all(|r| r.point.is_none()) || prediction.at.coolant_c.is_some() {
        return Ok(None);
    }
    let back = Backdrop {
        axis: format!("change of settled coolant, {unit}"),
        measure: Measure::Difference,
        units,
        zones: Vec::new(),
        lines: vec![(0.0, Ink::Zero, "no change".to_owned())],
    };
    let said: Vec<String> = rows
        .iter()
        .map(|r| {
            format!(
                "{} {} {}",
                r.heading.as_deref().unwrap_or(""),
                r.label,
                r.value
            )
        })
        .collect();
    let alt = format!("Change of settled coolant: {}.", said.join("; "));
    let disc = match measured {
        Some(_) => "; a disc is measured",
        None => "",
    };
    let reading = format!(
        "A diamond is computed, with the interval that the sheet's own ranges give{disc}. Left of \
        zero is cooler."
    );
    Figure::in_both_widths(
        "Change of settled coolant against the stack as it is",
        reading,
        |layout| intervals(&rows, &back, &alt, layout),
    )
    .map(Some)
}

fn changes_table(prediction: &Prediction, units: Units) -> Option<Table> {
    if prediction.changes.is_empty() {
        return None;
    }
    type Of = fn(&Change) -> Estimate;
    let all: [(&str, Measure, Of); 4] = [
        ("Settled coolant", Measure::Difference, |c| {
            c.coolant_change_k.clone()
        }),
        ("Heat of the radiator", Measure::Power, |c| {
            c.radiator_heat_change_w.map(|w| w / 1e3)
        }),
        ("Charge air", Measure::Difference, |c| {
            c.charge_air_change_k.clone()
        }),
        ("Settled oil", Measure::Difference, |c| {
            c.oil_change_k.clone()
        }),
    ];
    // Either the coolant settles or its heat does; what no stack has needs no column.
    let moot = usize::from(prediction.at.coolant_c.is_none());
    let shown: Vec<&(&str, Measure, Of)> = all
        .iter()
        .enumerate()
        .filter(|(i, (_, _, of))| {
            *i != moot && prediction.changes.iter().any(|c| of(c).known().is_some())
        })
        .map(|(_, column)| column)
        .collect();
    let names = shown
        .iter()
        .map(|(name, measure, _)| format!("#{name} {}", units.symbol(*measure)));
    let head: Vec<String> = std::iter::once("What-if".to_owned()).chain(names).collect();
    let head: Vec<&str> = head.iter().map(String::as_str).collect();
    let mut table = Table::new(format!("What each what-if changes; {RANGES}"), &head);
    for c in &prediction.changes {
        let cells = shown.iter().map(|(_, measure, of)| {
            estimate(units, &of(c), "", |v| {
                number::signed(units.of(*measure, v), number::CHANGE)
            })
        });
        table.row(std::iter::once(cell(&c.what_if)).chain(cells).collect());
    }
    Some(table)
}

/// From the least to the greatest of some temperatures.
fn span_c<'a>(
    values: impl Iterator<Item = &'a Option<f64>>,
    ambient_c: f64,
) -> std::ops::Range<f64> {
    let (low, high) = values
        .flatten()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| {
            (l.min(*v), h.max(*v))
        });
    low + ambient_c..high + ambient_c
}

fn maps(prediction: &Prediction, units: Units) -> Result<Vec<Maps>, ReportError> {
    let ambient_c = prediction.at.ambient_c;
    let computed = || prediction.stacks.iter().filter_map(|s| s.computed.as_ref());
    let all_maps = || computed().flat_map(|c| &c.settled.maps);
    // One scale for all air, so that every picture can be held against every other.
    let air_c = span_c(
        all_maps().flat_map(|m| m.air_in_k.iter().chain(&m.air_out_k)),
        ambient_c,
    );
    let mut out = Vec::new();
    for stack in &prediction.stacks {
        let Some(own) = &stack.computed else { continue };
        let mut figures = Vec::new();
        for (i, exchanger) in stack.exchangers.iter().enumerate() {
            let same = computed().flat_map(|c| {
                let maps = c.parts.iter().zip(&c.settled.maps);
                maps.filter(|(p, _)| p.name == exchanger.name)
                    .flat_map(|(_, m)| &m.fluid_k)
            });
            let fluid_c = span_c(same, ambient_c);
            figures.push(face(
                stack,
                own,
                exchanger,
                i,
                [&air_c, &fluid_c],
                ambient_c,
                units,
            )?);
        }
        out.push(Maps {
            heading: stack.name.clone(),
            figures,
        });
    }
    Ok(out)
}

fn face(
    stack: &StackAnswer,
    computed: &Computed,
    exchanger: &ExchangerAnswer,
    index: usize,
    [air_c, fluid_c]: [&std::ops::Range<f64>; 2],
    ambient_c: f64,
    units: Units,
) -> Result<Figure, ReportError> {
    let map = &computed.settled.maps[index];
    let none = vec![false; map.heated.len()];
    let celsius =
        |values: &[Option<f64>]| values.iter().map(|v| v.map(|k| k + ambient_c)).collect();
    let fluid = exchanger.kind.fluid();
    let maps = FaceMaps {
        columns: &computed.face.columns,
        rows: &computed.face.rows,
        aspect: computed.aspect,
        units,
        maps: vec![
            FaceMap {
                title: "air entering".to_owned(),
                temp_c: celsius(&map.air_in_k),
                scale_c: air_c.clone(),
                hatched: &none,
            },
            FaceMap {
                title: format!("{fluid}, {}", computed.parts[index].way),
                temp_c: celsius(&map.fluid_k),
                scale_c: fluid_c.clone(),
                hatched: &map.heated,
            },
            FaceMap {
                title: "air leaving".to_owned(),
                temp_c: celsius(&map.air_out_k),
                scale_c: air_c.clone(),
                hatched: &none,
            },
        ],
    };
    let ends = |values: &[Option<f64>]| {
        let span = span_c(values.iter(), ambient_c);
        format!(
            "{} to {}",
            number::fixed(units.of(Measure::Temperature, span.start), 0),
            number::told(units, Measure::Temperature, span.end, 0)
        )
    };
    let heated = match exchanger.cells_heated_by_air {
        0 => String::new(),
        cells => format!(
            "{cells} of {} cells in which the air heats the {fluid}",
            exchanger.cells
        ),
    };
    let with = |between: &str| match heated.as_str() {
        "" => String::new(),
        said => format!("{between}{said}"),
    };
    let alt = format!(
        "{} of {}, seen from in front. Air entering {}; {fluid} {}; air leaving {}{}.",
        exchanger.name,
        stack.name,
        ends(&map.air_in_k),
        ends(&map.fluid_k),
        ends(&map.air_out_k),
        with("; ")
    );
    let title = exchanger.name.clone() + &with(": ");
    Figure::in_both_widths(title, "", |layout| maps.draw(&alt, layout))
}

fn exchangers(prediction: &Prediction, units: Units) -> Table {
    let (temperature, celsius) = (temperatures_in(units), units.symbol(Measure::Temperature));
    let head = [
        "Exchanger",
        &format!("#Fluid in {celsius}"),
        &format!("#Fluid out {celsius}"),
        &format!("#Heat {}", units.symbol(Measure::Power)),
        &format!(
            "#Specific dissipation {}",
            units.symbol(Measure::Conductance)
        ),
        "#Effectiveness",
        "#NTU",
        "#Heated by air",
    ];
    let (power_decimals, conductance_decimals) = match units {
        Units::Metric => (1, 0),
        Units::Us => (0, 1),
    };
    let mut table = Table::new(format!("The exchangers, front to back; {RANGES}"), &head);
    for stack in &prediction.stacks {
        for e in &stack.exchangers {
            table.row(vec![
                noted(&e.name, &stack.name),
                estimate(units, &e.in_c, "", temperature),
                estimate(units, &e.out_c, "", temperature),
                estimate(units, &e.heat_w.map(|w| w / 1e3), "", |v| {
                    number::fixed(units.of(Measure::Power, v), power_decimals)
                }),
                estimate(units, &e.specific_dissipation_w_per_k, "", |v| {
                    number::fixed(units.of(Measure::Conductance, v), conductance_decimals)
                }),
                estimate(units, &e.effectiveness, "", |v| number::fixed(v, 3)),
                estimate(units, &e.ntu, "", |v| number::fixed(v, 2)),
                noted(e.cells_heated_by_air.to_string(), format!("of {}", e.cells)),
            ]);
        }
    }
    table
}

fn influences(prediction: &Prediction, units: Units) -> Vec<Table> {
    let (change, unit) = (changes_in(units), units.symbol(Measure::Difference));
    let mut tables = Vec::new();
    for c in prediction
        .changes
        .iter()
        .filter(|c| !c.influences.is_empty())
    {
        let caption = format!(
            "What matters most to {}: what is added to its change of coolant",
            c.what_if
        );
        let mut table = Table::new(
            caption,
            &[
                "Input",
                &format!("#At its lower end {unit}"),
                &format!("#At its upper end {unit}"),
            ],
        );
        for i in c.influences.iter().take(INFLUENCES) {
            table.row(vec![
                cell(&i.input),
                cell(change(i.at_low_k)),
                cell(change(i.at_high_k)),
            ]);
        }
        tables.push(table);
    }
    tables
}

fn sweep(prediction: &Prediction, units: Units) -> Option<Table> {
    let first = prediction.sweep.first()?;
    let (celsius, kelvin) = (
        units.symbol(Measure::Temperature),
        units.symbol(Measure::Difference),
    );
    let mut head = vec![format!("Air outside {celsius}"), "#Load %".to_owned()];
    for (i, stack) in first.stacks.iter().enumerate() {
        head.push(match i {
            0 => format!("#{} {celsius}", stack.name),
            _ => format!("#{} {kelvin}", stack.name),
        });
    }
    let head: Vec<&str> = head.iter().map(String::as_str).collect();
    let highest = number::told(units, Measure::Temperature, PROPERTIES_TO_C, 0);
    let caption = format!(
        "Settled coolant over ambient and load: the stack in {celsius}, each what-if as its change; {RANGES}; above {highest} reckoned with the coolant's properties at {highest}"
    );
    let mut table = Table::new(caption, &head);
    for point in &prediction.sweep {
        let mut cells = vec![
            cell(number::fixed(
                units.of(Measure::Temperature, point.ambient_c),
                0,
            )),
            cell(number::fixed(100.0 * point.load, 0)),
        ];
        for stack in &point.stacks {
            cells.push(match &stack.coolant_change_k {
                Some(changed) => estimate(units, changed, "", changes_in(units)),
                None => {
                    let coolant = estimate(units, &stack.coolant_c, "", temperatures_in(units));
                    marked(coolant, stack.coolant_c.point(), prediction)
                }
            });
        }
        table.row(cells);
    }
    Some(table)
}

/// A settled temperature, with what keeps the coolant from settling there.
fn marked(coolant: Cell, coolant_c: Option<f64>, prediction: &Prediction) -> Cell {
    let Some(coolant_c) = coolant_c else {
        return coolant;
    };
    let word = match (prediction.thermostat_full_open_c, prediction.boils_c) {
        (Some(full_open_c), _) if coolant_c < full_open_c => "thermostat not fully open",
        (_, Some(boils_c)) if coolant_c >= boils_c => "boils",
        (_, None) if coolant_c > PROPERTIES_TO_C => "may boil",
        _ => return coolant,
    };
    noted(coolant.text, format!("{word}; {}", coolant.note))
}

fn radiator(prediction: &Prediction, units: Units) -> Option<String> {
    let from = prediction.radiator_ua_from.as_ref()?;
    let figure = |e: &Estimate| match e {
        Estimate::Known(i) => {
            let whole = |v| {
                let told = units.of(Measure::Conductance, v);
                number::fixed(told, number::decimals_for(told).min(1))
            };
            format!(
                "{}\u{a0}{} ({})",
                whole(i.estimate),
                units.symbol(Measure::Conductance),
                number::ends(i, whole)
            )
        }
        Estimate::Unknown { why } => format!("unknown ({})", units.prose(why)),
    };
    Some(format!(
        "The radiator's own conductance is {}. It is the one with which this stack has the effective conductance that {} with {} show: {} between coolant and ambient.",
        figure(&from.radiator_ua_w_per_k),
        number::count(from.sessions.len(), "session"),
        from.setup,
        figure(&from.effective_w_per_k),
    ))
}

/// The largest step of the grid, in words.
fn grid_step(prediction: &Prediction, units: Units) -> String {
    let steps = prediction
        .stacks
        .iter()
        .flat_map(|s| &s.exchangers)
        .map(|e| e.grid_step_k);
    let largest = steps.flatten().fold(0.0, f64::max);
    match largest {
        step if step < 0.001 => {
            let least = number::told(units, Measure::Difference, 0.001, 3);
            format!("less than {least}")
        }
        step => number::told(units, Measure::Difference, step, 3),
    }
}
