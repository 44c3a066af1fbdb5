//! `heatbook limits`: which sessions came near.

use std::collections::BTreeMap;
use std::path::PathBuf;

use chrono::NaiveDate;
use clap::{Args, ValueEnum};

use super::compare::wrapped;
use super::each::ended;
use super::failure::Failure;
use super::judged::judged;
use super::output::{number, table, told, write_file};
use super::provenance::{Command, provenance};
use super::values::{celsius, date, difference};
use super::{Context, Outcome};
use crate::limits::{LimitRequest, LimitsAnswer, SessionLimit, State, gathered};
use crate::quantity::{Measure, Quantity, Units};
use crate::report::{CAUTIONS, limits_page};
use crate::session::{Role, SessionMeta};

/// Arguments of `limits`.
#[derive(Debug, Args)]
pub struct Arguments {
    /// The temperature channel to judge
    #[arg(long, value_name = "ROLE", default_value = "coolant", value_parser = temperature)]
    channel: Role,
    /// The limit, °C, or °F as in 230F [default: limit_coolant_c of the car sheet]
    #[arg(long, value_name = "T", allow_negative_numbers = true, value_parser = celsius)]
    limit_c: Option<f64>,
    /// How close is too close, K, or °F as in 9F [default: limit_margin_k of the car sheet, else 5]
    #[arg(long, value_name = "M", allow_negative_numbers = true, value_parser = margin)]
    margin_k: Option<f64>,
    /// Only sessions of this setup
    #[arg(long, value_name = "NAME")]
    setup: Option<String>,
    /// Only sessions of this day
    #[arg(long, value_name = "DATE", value_parser = date)]
    day: Option<NaiveDate>,
    /// Judge again what was judged before with the same log, sheets and program
    #[arg(long)]
    afresh: bool,
    /// Exit with code 3 when a session came that near
    #[arg(long, value_name = "STATE")]
    fail_on: Option<FailOn>,
    /// Write the page
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,
}

/// A condition for scripts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum FailOn {
    /// A session came within the margin, or over
    Approached,
    /// A session came to the limit, or over
    Exceeded,
}

fn temperature(name: &str) -> Result<Role, String> {
    let is_temperature = |role: &Role| role.quantity() == Quantity::Temperature;
    Role::parse(name).filter(is_temperature).ok_or_else(|| {
        let names: Vec<&str> = Role::ALL
            .iter()
            .filter(|r| is_temperature(r))
            .map(|r| r.name())
            .collect();
        format!("expected a temperature channel: {}", names.join(", "))
    })
}

fn margin(text: &str) -> Result<f64, String> {
    difference(text, 0.0..=100.0)
}

/// Judges the sessions asked for.
pub fn run(context: &Context, arguments: &Arguments) -> Result<Outcome, Failure> {
    let mut book = context.existing_book()?;
    let metas: Vec<SessionMeta> = book
        .sessions()?
        .into_iter()
        .filter(|m| {
            arguments
                .setup
                .as_ref()
                .is_none_or(|setup| m.setup == *setup)
        })
        .filter(|m| arguments.day.is_none_or(|day| m.day == Some(day)))
        .collect();
    if metas.is_empty() {
        return Err(Failure::new(
            "no session in the book fits what was asked",
            "heatbook sessions lists what there is; --setup and --day choose from it",
        ));
    }
    let request = LimitRequest {
        channel: arguments.channel,
        limit_c: arguments.limit_c,
        margin_k: arguments.margin_k,
    };
    let (judged, damage) = judged(&mut book, &metas, &request, arguments.afresh)?;
    let ended = ended(metas.len(), &damage)?;
    let mut answer = gathered(judged, metas.iter(), &request);
    answer.warnings.splice(0..0, damage);
    if let Some(path) = &arguments.html {
        let all: Vec<&SessionMeta> = metas.iter().collect();
        let page = limits_page(
            &answer,
            &metas,
            &provenance(command(arguments), &all, Vec::new(), context.units),
            &[],
        )?;
        write_file(path, &page)?;
        context.output.say(&format!("page: {}", path.display()));
    }
    context.output.warnings(&answer.warnings);
    context
        .output
        .answer(&answer, || text(&answer, context.units))?;
    Ok(match outcome(&answer, arguments.fail_on) {
        Outcome::Done => ended,
        met => met,
    })
}

fn command(arguments: &Arguments) -> Command {
    let mut command = Command::new("limits");
    command.flag("channel", Some(arguments.channel.name()));
    command.flag("limit-c", arguments.limit_c);
    command.flag("margin-k", arguments.margin_k);
    command.flag("setup", arguments.setup.as_ref());
    command.flag("day", arguments.day);
    command
}

fn outcome(answer: &LimitsAnswer, fail_on: Option<FailOn>) -> Outcome {
    let at_least = match fail_on {
        None => return Outcome::Done,
        Some(FailOn::Approached) => State::Approached,
        Some(FailOn::Exceeded) => State::Exceeded,
    };
    let met = answer
        .sessions
        .iter()
        .any(|s| s.state.is_some_and(|state| state >= at_least));
    if met {
        Outcome::ConditionMet
    } else {
        Outcome::Done
    }
}

fn text(answer: &LimitsAnswer, units: Units) -> String {
    let shown = |v: Option<f64>, measure| number(v.map(|v| units.of(measure, v)), 0);
    let word =
        |state: Option<State>| state.map_or("-".to_owned(), |s| format!("{s:?}").to_lowercase());
    let rows = answer
        .sessions
        .iter()
        .map(|s| {
            vec![
                s.id.clone(),
                shown(s.peak_c, Measure::Temperature),
                shown(s.closest_k, Measure::Difference),
                number(s.seconds_within_margin, 0),
                number(s.seconds_over, 0),
                word(s.state),
                word(s.possible_state),
                s.peak_at_s.map_or("-".to_owned(), minutes),
            ]
        })
        .collect();
    let header = [
        "session", "peak", "to limit", "near, s", "over, s", "state", "possible", "at, min",
    ];
    let mut text = table(&header, rows);
    text += &outlook(answer, units);
    let mut reasons: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    for session in &answer.sessions {
        if let Some(why) = &session.why {
            reasons.entry(why).or_default().push(&session.id);
        }
    }
    for (why, ids) in reasons {
        text += &format!("{}: {}\n", ids.join(", "), units.prose(why));
    }
    let reading = format!(
        "Peak in {} and when it was first read, distance to the limit in {}. Possible: allowing \
         for step and lag of the reading.",
        units.symbol(Measure::Temperature),
        units.symbol(Measure::Difference)
    );
    text += &(wrapped(&reading) + "\n");
    text + &format!("{}\n", CAUTIONS[0])
}

/// Minutes and seconds.
fn minutes(seconds: f64) -> String {
    let whole = seconds.round() as u64;
    format!("{}:{:02}", whole / 60, whole % 60)
}

/// Another day: where the sessions would have settled, on how hot a day they meet limit and boiling.
fn outlook(answer: &LimitsAnswer, units: Units) -> String {
    let celsius = |e| told(units, Measure::Temperature, e, 0);
    let known = |s: &SessionLimit| {
        [
            &s.would_have_settled_c,
            &s.limiting_ambient_c,
            &s.limiting_ambient_model_c,
            &s.to_boiling_k,
        ]
        .iter()
        .any(|e| e.known().is_some())
    };
    let rows: Vec<Vec<String>> = (answer.sessions.iter().filter(|s| known(s)))
        .map(|s| {
            vec![
                s.id.clone(),
                celsius(&s.would_have_settled_c),
                celsius(&s.limiting_ambient_c),
                celsius(&s.limiting_ambient_model_c),
                told(units, Measure::Difference, &s.to_boiling_k, 0),
                celsius(&s.air_to_boil_c),
            ]
        })
        .collect();
    if rows.is_empty() {
        return String::new();
    }
    let header = [
        "session",
        "settles",
        "limiting, 1:1",
        "by model",
        "to boiling",
        "air-to-boil",
    ];
    let boils = answer.sessions.iter().find_map(|s| s.boiling_c.known());
    let boils = boils.map_or_else(
        || "To boiling: needs cap_pressure_bar_gauge in the car sheet.".to_owned(),
        |b| {
            format!(
                "Boils at {:.0} {} ({:.0} to {:.0}): {}.",
                units.of(Measure::Temperature, b.estimate),
                units.symbol(Measure::Temperature),
                units.of(Measure::Temperature, b.low),
                units.of(Measure::Temperature, b.high),
                units.prose(&b.method)
            )
        },
    );
    let reading = format!(
        "Settles: peak in {0}, had the drive gone on. Limiting: ambient in {0} at which the same \
         drive reaches the limit, by the 1:1 rule and by the fitted model. To boiling in {1} from \
         the peak. Air-to-boil: ambient at which it boils, 1:1.",
        units.symbol(Measure::Temperature),
        units.symbol(Measure::Difference)
    );
    format!(
        "\n{}{}\n{}\n",
        table(&header, rows),
        wrapped(&reading),
        wrapped(&boils)
    )
}
