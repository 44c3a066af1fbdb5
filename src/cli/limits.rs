//! `heatbook limits`: which sessions came near.

use std::path::PathBuf;

use chrono::NaiveDate;
use clap::{Args, ValueEnum};

use super::compare::known_setup;
use super::each::ended;
use super::failure::Failure;
use super::judged::judged;
use super::limits_text::text;
use super::output::write_file;
use super::provenance::{Command, provenance};
use super::values::{celsius, date, difference};
use super::{Context, Outcome};
use crate::limits::{HotDay, LimitRequest, LimitsAnswer, State, gathered};
use crate::quantity::Quantity;
use crate::report::limits_page;
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
    /// Tell the time to the limit at this ambient, °C, or °F as in 95F
    #[arg(long, value_name = "T", allow_negative_numbers = true, value_parser = celsius)]
    ambient_c: Option<f64>,
    /// Tell the limiting ambient for so many laps from the pit exit too
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=1000))]
    laps: Option<u32>,
    /// Coolant at the pit exit, °C, or °F [default: where each session's hot running began]
    #[arg(long, value_name = "T", allow_negative_numbers = true, value_parser = celsius)]
    start_c: Option<f64>,
    /// Tell the limiting ambient where a car ahead slows the air that meets this one by so much too
    #[arg(long, value_name = "P", value_parser = clap::value_parser!(u8).range(1..=80))]
    wake_percent: Option<u8>,
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
    let all = book.sessions()?;
    if let Some(setup) = &arguments.setup {
        known_setup(&all, setup)?;
    }
    let metas: Vec<SessionMeta> = (all.into_iter())
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
        hot_day: HotDay {
            ambient_c: arguments.ambient_c,
            laps: arguments.laps,
            start_c: arguments.start_c,
            wake_percent: arguments.wake_percent.map(f64::from),
        },
    };
    let (judged, damage) = judged(&mut book, &metas, &request, arguments.afresh)?;
    let ended = ended(metas.len(), &damage)?;
    let mut answer = gathered(judged, &metas, &request);
    answer.warnings.splice(0..0, damage);
    if let Some(path) = &arguments.html {
        let all: Vec<&SessionMeta> = metas.iter().collect();
        let page = limits_page(
            &answer,
            &metas,
            &provenance(
                command(arguments).page(true),
                &all,
                Vec::new(),
                context.units,
            ),
            &[],
        )?;
        write_file(path, &page)?;
        context.output.say(&format!("page: {}", path.display()));
    }
    context.output.warnings(&answer.warnings);
    context
        .output
        .answer(&answer, || text(&answer, &metas, context.units))?;
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
    command.flag("ambient-c", arguments.ambient_c);
    command.flag("laps", arguments.laps);
    command.flag("start-c", arguments.start_c);
    command.flag("wake-percent", arguments.wake_percent);
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
        .any(|s| s.state.is_some_and(|state| state >= at_least) || s.is_in_doubt());
    if met {
        Outcome::ConditionMet
    } else {
        Outcome::Done
    }
}
