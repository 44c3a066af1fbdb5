//! `heatbook stack`: what a part should do, computed before it is tested.

use std::path::PathBuf;

use clap::Args;

use super::compare_text::change;
use super::each::each;
use super::failure::Failure;
use super::output::{count, table, told, wrapped, write_file};
use super::provenance::{Command, provenance};
use super::values::{ambient, celsius, load, speed};
use super::{Context, Outcome, sheets};
use crate::book::Book;
use crate::car::CarSheet;
use crate::estimate::fit_session;
use crate::quantity::{Measure, Units};
use crate::report::{CAUTIONS, stack_page};
use crate::session::SessionMeta;
use crate::stack::{
    Change, FromBook, Kind, Prediction, Request, Stack, StackAnswer, boils_c, calibrate, predict,
};
use crate::stats::{Estimate, mean};

/// Inputs that are printed.
const INFLUENCES: usize = 5;

/// Arguments of `stack`.
#[derive(Debug, Args)]
pub struct Arguments {
    /// The stack sheet: exchangers front to back, air, heat, what-ifs (TOML)
    #[arg(value_name = "FILE")]
    sheet: PathBuf,
    /// The car sheet: power, coolant, altitude, thermostat
    #[arg(long, value_name = "FILE")]
    car: Option<PathBuf>,
    /// Take the radiator's conductance from the fits of this setup in the book
    #[arg(long, value_name = "SETUP")]
    setup: Option<String>,
    /// Road speed, km/h [default: the sheet's, else 120]
    #[arg(long, value_name = "V", value_parser = speed)]
    speed_kmh: Option<f64>,
    /// Load, a share of full load [default: the sheet's, else 0.6]
    #[arg(long, value_name = "SHARE", value_parser = load)]
    load: Option<f64>,
    /// Air outside, °C [default: the sheet's, else 25]
    #[arg(long, value_name = "T", allow_negative_numbers = true, value_parser = ambient)]
    ambient_c: Option<f64>,
    /// Hold the coolant entering the radiator at this, °C, and say what heat is rejected
    #[arg(long, value_name = "T", value_parser = celsius)]
    coolant_c: Option<f64>,
    /// Write the page, with maps of the temperatures
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,
}

/// Computes a stack and its what-ifs.
pub fn run(context: &Context, arguments: &Arguments) -> Result<Outcome, Failure> {
    let file = arguments.sheet.display().to_string();
    let text = sheets::read(&arguments.sheet)?;
    let book = match &arguments.setup {
        Some(_) => Some(context.existing_book()?),
        None => None,
    };
    let car = car(arguments, book.as_ref())?;
    let mut stack = Stack::from_toml(&text, &file, &car)?;
    let request = Request {
        speed_kmh: arguments.speed_kmh,
        load: arguments.load,
        ambient_c: arguments.ambient_c,
        coolant_c: arguments.coolant_c,
    };
    request.apply(&mut stack);
    let mut used = Vec::new();
    let from = match (&book, &arguments.setup) {
        (Some(book), Some(setup)) => Some(from_book(book, setup, &mut stack, &mut used)?),
        _ => None,
    };
    let mut prediction = predict(&stack, request.coolant_c, car.thermostat_full_open_c);
    prediction.boils_c = boils_c(&stack, &car);
    prediction.radiator_ua_from = from;
    if let Some(path) = &arguments.html {
        let metas: Vec<&SessionMeta> = used.iter().collect();
        let command = command(arguments, &file).page(arguments.setup.is_some());
        let mut from = provenance(command, &metas, Vec::new(), context.units);
        from.files.insert(0, sheets::content(&file, &text));
        write_file(
            path,
            &stack_page(
                &prediction,
                &summary(&prediction, context.units),
                None,
                &from,
                &[],
            )?,
        )?;
        context.output.say(&format!("page: {}", path.display()));
    }
    context.output.maps(&prediction)?;
    context.output.warnings(&prediction.warnings);
    context
        .output
        .answer(&prediction, || self::text(&prediction, context.units))?;
    Ok(Outcome::Done)
}

/// The car sheet: from the flag, else as the book has it for the setup.
fn car(arguments: &Arguments, book: Option<&Book>) -> Result<CarSheet, Failure> {
    match (&arguments.car, book, &arguments.setup) {
        (Some(path), _, _) => sheets::car(path),
        (None, Some(book), Some(setup)) => {
            let sessions = book.sessions()?;
            let latest = sessions.iter().rev().find(|m| m.setup == *setup);
            Ok(latest.map(|m| m.car.clone()).unwrap_or_default())
        }
        _ => Ok(CarSheet::default()),
    }
}

/// The radiator's conductance from the fits of a setup; `used`: the sessions it came from.
fn from_book(
    book: &Book,
    setup: &str,
    stack: &mut Stack,
    used: &mut Vec<SessionMeta>,
) -> Result<FromBook, Failure> {
    let mut effective = Vec::new();
    let mut sessions = book.sessions()?;
    sessions.retain(|m| m.setup == setup && m.excluded.is_none());
    let fits = each(book, &sessions, |session| fit_session(&session))?.made;
    for (meta, fit) in sessions.into_iter().zip(fits) {
        if let (true, Estimate::Known(_)) = (fit.assessable, &fit.ua_w_per_k.value) {
            effective.push(fit.ua_w_per_k.value);
            used.push(meta);
        }
    }
    if used.is_empty() {
        return Err(Failure::new(
            format!("no session with setup `{setup}` says what the radiator can do"),
            "heatbook fit says why each is declined; without --setup the sheet's own conductance is used",
        ));
    }
    Ok(radiator_of_fits(setup, used, &effective, stack))
}

/// Sets the radiator's conductance from effective ones.
pub fn radiator_of_fits(
    setup: &str,
    sessions: &[SessionMeta],
    effective: &[Estimate],
    stack: &mut Stack,
) -> FromBook {
    let known = || effective.iter().filter_map(Estimate::known);
    let of =
        |part: fn(&crate::stats::Interval) -> f64| mean(&known().map(part).collect::<Vec<f64>>());
    // What the sessions share, the scale of the heat input, is nearly all of each interval: more
    // sessions do not narrow it.
    let effective_w_per_k = Estimate::between(
        of(|i| i.estimate),
        of(|i| i.low),
        of(|i| i.high),
        "mean of the sessions' values and of their ends: the scale of the heat input is common to them",
    );
    FromBook {
        setup: setup.to_owned(),
        sessions: sessions.iter().map(|m| m.id.clone()).collect(),
        radiator_ua_w_per_k: calibrate(stack, &effective_w_per_k),
        effective_w_per_k,
    }
}

fn command(arguments: &Arguments, file: &str) -> Command {
    let mut command = Command::new("stack");
    command.values([file]);
    command.flag("car", arguments.car.as_ref().map(|path| path.display()));
    command.flag("setup", arguments.setup.as_ref());
    command.flag("speed-kmh", arguments.speed_kmh);
    command.flag("load", arguments.load);
    command.flag("ambient-c", arguments.ambient_c);
    command.flag("coolant-c", arguments.coolant_c);
    command
}

/// The prediction in a few sentences.
pub fn summary(prediction: &Prediction, units: Units) -> String {
    let at = &prediction.at;
    let mut text = format!(
        "Predicted, not measured, at {:.0} {}, {:.0} % load and {:.0} {} outside.",
        units.of(Measure::Speed, at.speed_kmh),
        units.symbol(Measure::Speed),
        100.0 * at.load,
        units.of(Measure::Temperature, at.ambient_c),
        units.symbol(Measure::Temperature)
    );
    if let Some(base) = prediction.stacks.first() {
        text += &format!(" {}", base_sentence(base, at.coolant_c, units));
    }
    for change in &prediction.changes {
        let (estimate, measure, what) = match at.coolant_c {
            None => (
                change.coolant_change_k.clone(),
                Measure::Difference,
                "settled coolant",
            ),
            Some(_) => (
                change.radiator_heat_change_w.map(|w| w / 1e3),
                Measure::Power,
                "heat rejected by the radiator",
            ),
        };
        text += &match &estimate {
            Estimate::Known(i) => format!(
                " With {} the {what} changes by {} {} ({} to {}, as far as the sheet's ranges hold).",
                change.what_if,
                signed(units.of(measure, i.estimate)),
                units.symbol(measure),
                signed(units.of(measure, i.low)),
                signed(units.of(measure, i.high))
            ),
            Estimate::Unknown { why } => {
                format!(
                    " What {} changes is unknown: {}.",
                    change.what_if,
                    units.prose(why)
                )
            }
        };
    }
    text
}

fn base_sentence(base: &StackAnswer, coolant_c: Option<f64>, units: Units) -> String {
    let celsius = units.symbol(Measure::Temperature);
    let told = |c: f64| units.of(Measure::Temperature, c);
    let Some(radiator) = base.exchangers.iter().find(|e| e.kind == Kind::Radiator) else {
        return base
            .why
            .as_ref()
            .map_or_else(String::new, |why| format!("No settled state: {why}."));
    };
    match (coolant_c, radiator.in_c.known(), radiator.heat_w.known()) {
        (None, Some(i), _) => {
            format!(
                "Coolant of {} settles at {:.1} {celsius} ({:.1} to {:.1}).",
                base.name,
                told(i.estimate),
                told(i.low),
                told(i.high)
            )
        }
        (Some(held_c), _, Some(i)) => format!(
            "With the coolant held at {:.0} {celsius} the radiator of {} rejects {:.1} {} ({:.1} to {:.1}).",
            told(held_c),
            base.name,
            units.of(Measure::Power, i.estimate / 1e3),
            units.symbol(Measure::Power),
            units.of(Measure::Power, i.low / 1e3),
            units.of(Measure::Power, i.high / 1e3)
        ),
        _ => String::new(),
    }
}

/// A change with a true minus sign.
fn signed(value: f64) -> String {
    format!("{value:+.2}").replace('-', "−")
}

fn text(prediction: &Prediction, units: Units) -> String {
    let conductance_decimals = match units {
        Units::Metric => 0,
        Units::Us => 1,
    };
    let conductance = units.symbol(Measure::Conductance);
    let kelvin = units.symbol(Measure::Difference);
    let mut text = wrapped(&summary(prediction, units)) + "\n\n";
    let head = [
        "stack",
        "exchanger",
        &format!("fluid in, {}", units.symbol(Measure::Temperature)),
        &format!("out, {}", units.symbol(Measure::Temperature)),
        &format!("heat, {}", units.symbol(Measure::Power)),
        conductance,
        "heated",
    ];
    let mut rows = Vec::new();
    for stack in &prediction.stacks {
        for e in &stack.exchangers {
            rows.push(vec![
                stack.name.clone(),
                e.name.clone(),
                told(units, Measure::Temperature, &e.in_c, 1),
                point(units, Measure::Temperature, &e.out_c, 1),
                point(units, Measure::Power, &e.heat_w.map(|w| w / 1e3), 1),
                point(
                    units,
                    Measure::Conductance,
                    &e.specific_dissipation_w_per_k,
                    conductance_decimals,
                ),
                format!("{}/{}", e.cells_heated_by_air, e.cells),
            ]);
        }
    }
    text += &table(&head, rows);
    let reading = format!(
        "{conductance}: specific dissipation, heat over fluid in minus ambient. heated: cells in \
         which the air heats the fluid."
    );
    text += &(wrapped(&reading) + "\n");
    text += &changes(prediction, units);
    for c in &prediction.changes {
        let largest: Vec<String> = c
            .influences
            .iter()
            .take(INFLUENCES)
            .map(|i| {
                format!(
                    "{} ({:+.2} to {:+.2} {kelvin})",
                    i.input,
                    units.of(Measure::Difference, i.at_low_k),
                    units.of(Measure::Difference, i.at_high_k)
                )
            })
            .collect();
        if !largest.is_empty() {
            text += &(wrapped(&format!(
                "what matters most to {}: {}",
                c.what_if,
                largest.join(", ")
            )) + "\n");
        }
    }
    type Plan = fn(&Change) -> Option<&str>;
    let plans: [(&str, Plan); 2] = [
        ("to plan a test of it", |c| c.plan.as_deref()),
        (
            "or of the end nearer to no change, all that the prediction promises",
            |c| c.plan_near_end.as_deref(),
        ),
    ];
    for (what, plan) in plans {
        let plans: Vec<&str> = prediction.changes.iter().filter_map(plan).collect();
        if !plans.is_empty() {
            text += &format!("\n{what}:\n  {}\n", plans.join("\n  "));
        }
    }
    if let Some(from) = &prediction.radiator_ua_from {
        text += &(wrapped(&format!(
            "radiator: {} {conductance}, from {} with {} ({} {conductance} between coolant and ambient)",
            told(
                units,
                Measure::Conductance,
                &from.radiator_ua_w_per_k,
                conductance_decimals
            ),
            count(from.sessions.len(), "session"),
            from.setup,
            told(
                units,
                Measure::Conductance,
                &from.effective_w_per_k,
                conductance_decimals
            ),
        )) + "\n");
    }
    text + CAUTIONS[0] + "\n"
}

/// What each what-if changes, in the columns that have a figure.
fn changes(prediction: &Prediction, units: Units) -> String {
    type Of = fn(&Change) -> Estimate;
    let all: [(&str, Measure, Of); 4] = [
        ("coolant", Measure::Difference, |c| {
            c.coolant_change_k.clone()
        }),
        ("radiator", Measure::Power, |c| {
            c.radiator_heat_change_w.map(|w| w / 1e3)
        }),
        ("charge air", Measure::Difference, |c| {
            c.charge_air_change_k.clone()
        }),
        ("oil", Measure::Difference, |c| c.oil_change_k.clone()),
    ];
    // Either the coolant settles or its heat does.
    let moot = usize::from(prediction.at.coolant_c.is_none());
    let has_figure = |of: &Of| prediction.changes.iter().any(|c| of(c).known().is_some());
    let shown: Vec<&(&str, Measure, Of)> = all
        .iter()
        .enumerate()
        .filter(|(i, (_, _, of))| *i != moot && has_figure(of))
        .map(|(_, column)| column)
        .collect();
    if shown.is_empty() {
        return String::new();
    }
    let names = shown
        .iter()
        .map(|(name, measure, _)| format!("{name}, {}", units.symbol(*measure)));
    let head: Vec<String> = std::iter::once("what-if".to_owned()).chain(names).collect();
    let head: Vec<&str> = head.iter().map(String::as_str).collect();
    let rows = prediction.changes.iter().map(|c| {
        let figures = shown
            .iter()
            .map(|(_, measure, of)| change(&of(c), *measure, units));
        std::iter::once(c.what_if.clone()).chain(figures).collect()
    });
    format!("\n{}", table(&head, rows.collect()))
}

fn point(units: Units, measure: Measure, estimate: &Estimate, decimals: usize) -> String {
    let told = estimate.point().map(|v| units.of(measure, v));
    told.map_or_else(|| "-".to_owned(), |v| format!("{v:.decimals$}"))
}
