//! `heatbook limits`: which sessions came near.

use std::collections::BTreeMap;
use std::path::PathBuf;

use chrono::NaiveDate;
use clap::{Args, ValueEnum};

use super::compare::{known_setup, wrapped};
use super::each::ended;
use super::failure::Failure;
use super::judged::judged;
use super::output::{number, table, told, write_file};
use super::provenance::{Command, provenance};
use super::values::{celsius, date, difference};
use super::{Context, Outcome};
use crate::limits::{
    Crossing, HotDay, LONGEST_S, LimitRequest, LimitsAnswer, SessionLimit, State, crossing,
    gathered, in_wake, sentences,
};
use crate::quantity::{Measure, Quantity, Units};
use crate::report::{CAUTIONS, limits_page};
use crate::session::{Role, SessionMeta};
use crate::stats::Estimate;
use crate::words::count;

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

fn text(answer: &LimitsAnswer, metas: &[SessionMeta], units: Units) -> String {
    let shown = |v: Option<f64>, measure| number(v.map(|v| units.of(measure, v)), 0);
    let word =
        |state: Option<State>| state.map_or("-".to_owned(), |s| format!("{s:?}").to_lowercase());
    let read = |s: &SessionLimit| match s.is_in_doubt() {
        true => "unknown".to_owned(),
        false => word(s.state),
    };
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
                read(s),
                word(s.possible_state),
                s.peak_at_s.map_or("-".to_owned(), minutes),
                s.peak_lap.map_or("-".to_owned(), |lap| lap.to_string()),
            ]
        })
        .collect();
    let header = [
        "session", "peak", "to limit", "near", "over", "state", "possible", "at, min", "lap",
    ];
    let mut text: String = (sentences(answer, metas, units).iter())
        .map(|said| wrapped(said) + "\n")
        .collect();
    text += "\n";
    text += &table(&header, rows);
    text += &gone_on(answer, units);
    text += &outlook(answer, units);
    text += &hot_day(answer, units);
    text += &setups(answer, units);
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
        "Peak in {} and when it was first read, distance to the limit in {}, near and over in s. \
         Possible: allowing for step and lag of the reading.",
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

/// Had the drive gone on: where the sessions would have settled and when they would have met the limit.
fn gone_on(answer: &LimitsAnswer, units: Units) -> String {
    let celsius = |e| told(units, Measure::Temperature, e, 0);
    let rows: Vec<Vec<String>> = known_ahead(answer)
        .map(|s| {
            let read = s.peak_c.map(|c| units.of(Measure::Temperature, c));
            vec![
                s.id.clone(),
                rising(s).to_owned(),
                number(read, 0),
                celsius(&s.would_have_settled_c),
                celsius(&s.would_have_peaked_c),
                met(&s.would_have_crossed_s),
            ]
        })
        .collect();
    if rows.is_empty() {
        return String::new();
    }
    let header = [
        "session",
        "rising",
        "peak read",
        "settles",
        "further peak",
        "meets limit",
    ];
    let reading = format!(
        "Had the drive gone on: the level in {} about which it would have settled, the further peak \
         of such driving, and how long after hot running it would have met the limit, within \
         {:.0} min more of the same. Where the peak read is higher, the session has had its peak. \
         Intervals 95 %, for what would have come, gusts counted.",
        units.symbol(Measure::Temperature),
        LONGEST_S / 60.0
    );
    format!("\n{}{}\n", table(&header, rows), wrapped(&reading))
}

/// Sessions of which the model says something.
fn known_ahead(answer: &LimitsAnswer) -> impl Iterator<Item = &SessionLimit> {
    (answer.sessions.iter()).filter(|s| s.would_have_peaked_c.known().is_some())
}

fn rising(session: &SessionLimit) -> &'static str {
    match session.still_rising_at_end {
        Some(true) => "yes",
        Some(false) => "no",
        None => "-",
    }
}

/// When a limit is met, in few words; within how long is said below the table.
fn met(seconds: &Estimate) -> String {
    match crossing(seconds) {
        Crossing::After(i) => format!(
            "{} ({} to {})",
            minutes(i.estimate),
            minutes(i.low),
            minutes(i.high)
        ),
        Crossing::Never => "no".to_owned(),
        Crossing::Perhaps(when) => when.to_owned(),
        Crossing::Already => "already over".to_owned(),
        Crossing::Unknown(why) => why.split(':').next().unwrap_or_default().to_owned(),
    }
}

/// Another day: on how hot a day the sessions meet limit and boiling.
fn outlook(answer: &LimitsAnswer, units: Units) -> String {
    let celsius = |e| told(units, Measure::Temperature, e, 0);
    let known = |s: &SessionLimit| {
        [
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
        "Limiting: ambient in {0} at which the same drive reaches the limit, by the 1:1 rule from \
         the peak as read and by the fitted model with the drive gone on, gusts counted (fit tells \
         another figure: its own conductance, no gusts). To boiling in {1} from the peak. \
         Air-to-boil: ambient at which it boils, 1:1. In brackets: of the model 95 % intervals; of \
         the 1:1 rule only what step and lag of the reading hide; of boiling the tolerances of cap \
         and mix as well.",
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

/// The day that was asked for: time to the limit, and the ambient that so many laps stand.
fn hot_day(answer: &LimitsAnswer, units: Units) -> String {
    let HotDay {
        ambient_c,
        laps,
        start_c,
        wake_percent,
    } = answer.hot_day;
    if ambient_c.is_none() && laps.is_none() && wake_percent.is_none() {
        return String::new();
    }
    let celsius = |c: f64| told_value(units, c);
    let mut header = vec!["session".to_owned()];
    if let Some(ambient_c) = ambient_c {
        header.push(format!("to limit at {}", celsius(ambient_c)));
        header.push("laps".to_owned());
    }
    if let Some(laps) = laps {
        header.push(format!("limiting, {}", count(laps as usize, "lap")));
    }
    header.extend(wake_percent.map(|percent| format!("limiting, wake {percent:.0} %")));
    let limiting = |e| told(units, Measure::Temperature, e, 0);
    let rows = known_ahead(answer)
        .map(|s| {
            let mut row = vec![s.id.clone()];
            if ambient_c.is_some() {
                row.push(met(&s.time_to_limit_s));
                row.push(match s.laps_to_limit.known() {
                    Some(i) => format!("{:.1} ({:.1} to {:.1})", i.estimate, i.low, i.high),
                    None => "-".to_owned(),
                });
            }
            if laps.is_some() {
                row.push(limiting(&s.limiting_ambient_laps_c));
            }
            if wake_percent.is_some() {
                row.push(limiting(&s.limiting_ambient_wake_c));
            }
            row
        })
        .collect();
    let header: Vec<&str> = header.iter().map(String::as_str).collect();
    let from = match start_c {
        Some(start_c) => format!("with coolant at {}", celsius(start_c)),
        None => "with coolant where each session's hot running began".to_owned(),
    };
    let reading = format!(
        "The same drive from the pit exit on, {from}, by the fitted model; the swing that gusts bring is counted throughout."
    );
    let of_wake = match wake_percent {
        Some(percent) => format!(" {}", in_wake(percent)),
        None => String::new(),
    };
    let reading = wrapped(&(reading + &of_wake));
    format!("\n{}{reading}\n", table(&header, rows))
}

fn told_value(units: Units, celsius: f64) -> String {
    format!(
        "{:.0} {}",
        units.of(Measure::Temperature, celsius),
        units.symbol(Measure::Temperature)
    )
}

/// What each setup can stand.
fn setups(answer: &LimitsAnswer, units: Units) -> String {
    if answer.setups.is_empty() {
        return String::new();
    }
    let celsius = |e| told(units, Measure::Temperature, e, 0);
    let laps = answer.hot_day.laps;
    let mut header = vec!["setup", "sessions", "days", "limiting, 1:1", "by model"];
    let for_laps = laps.map(|laps| count(laps as usize, "lap"));
    header.extend(for_laps.as_deref());
    let for_wake = (answer.hot_day.wake_percent).map(|percent| format!("wake {percent:.0} %"));
    header.extend(for_wake.as_deref());
    let rows = (answer.setups.iter())
        .map(|s| {
            let mut row = vec![
                s.setup.clone(),
                s.sessions.to_string(),
                s.days.to_string(),
                celsius(&s.limiting_ambient_c),
                celsius(&s.limiting_ambient_model_c),
            ];
            if laps.is_some() {
                row.push(celsius(&s.limiting_ambient_laps_c));
            }
            if for_wake.is_some() {
                row.push(celsius(&s.limiting_ambient_wake_c));
            }
            row
        })
        .collect();
    let day = match answer.setups.iter().all(|s| s.one_day) {
        true => "the same day",
        false => "another day",
    };
    let reading = format!(
        "By setup: what another session on {day} would say, driven as these were; \
                   the scatter of sessions, of days and of gusts is in the 95 % interval. \
                   Few days hardly tell how days differ and make it wide: that two of them overlap \
                   does not say that the setups are alike (heatbook compare does). Another pace, \
                   more traffic or another circuit is another figure: --wake-percent tells what following closely costs."
    );
    format!("\n{}{}\n", table(&header, rows), wrapped(&reading))
}
