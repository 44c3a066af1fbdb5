//! What limits say, in words: the one place that words them.

use super::{LimitsAnswer, SessionLimit, SetupLimit, State};
use crate::quantity::{Measure, Units};
use crate::session::{Role, SessionMeta};
use crate::stats::{Estimate, Interval};
use crate::words::{count, fixed};

/// Sessions that are named at most.
const MOST_NAMED: usize = 12;

/// When a limit is met, as it is told.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Crossing<'a> {
    /// After so long, s.
    After(&'a Interval),
    /// Not at all within the time that is looked ahead.
    Never,
    /// It may or may not: in how many draws, or from when on.
    Perhaps(&'a str),
    /// It was over already.
    Already,
    /// Nobody can tell.
    Unknown(&'a str),
}

/// When a limit is met: `seconds` of a session's answer, read.
pub fn crossing(seconds: &Estimate) -> Crossing<'_> {
    let why = match seconds {
        Estimate::Known(interval) => return Crossing::After(interval),
        Estimate::Unknown { why } => why,
    };
    match why {
        _ if why.starts_with("not within") => Crossing::Never,
        _ if why.starts_with("at or over") => Crossing::Already,
        _ if why.starts_with("in ") => {
            Crossing::Perhaps(why.split(" within ").next().unwrap_or(why))
        }
        _ if why.starts_with("after ") => Crossing::Perhaps(why.split(", ").next().unwrap_or(why)),
        _ => Crossing::Unknown(why),
    }
}

/// The limit and where it is from, in a few words: `110 °C (car sheet)`. `None`: there is none.
pub fn limit_in_words(
    answer: &LimitsAnswer,
    metas: &[SessionMeta],
    units: Units,
) -> Option<String> {
    let all: Vec<f64> = answer.sessions.iter().filter_map(|s| s.limit_c).collect();
    let lowest = all.iter().copied().min_by(f64::total_cmp)?;
    let highest = all.iter().copied().max_by(f64::total_cmp)?;
    let from = match all_of_sheets(answer, metas) {
        true => "car sheet",
        false => "--limit-c",
    };
    let symbol = units.symbol(Measure::Temperature);
    let told = |c: f64| short(units.of(Measure::Temperature, c));
    Some(match lowest < highest {
        true => format!(
            "{} to {} {symbol}, each session's own ({from})",
            told(lowest),
            told(highest)
        ),
        false => format!("{} {symbol} ({from})", told(lowest)),
    })
}

/// Whether every limit is the one that the session's car sheet has.
fn all_of_sheets(answer: &LimitsAnswer, metas: &[SessionMeta]) -> bool {
    let of_sheet = |s: &SessionLimit| {
        let meta = metas.iter().find(|meta| meta.label() == s.id)?;
        meta.car_as_run().limit_coolant_c
    };
    (answer.sessions.iter())
        .filter(|s| s.limit_c.is_some())
        .all(|s| s.channel == Role::Coolant && of_sheet(s) == s.limit_c)
}

/// A figure without the zero that ends it.
pub fn short(value: f64) -> String {
    let text = fixed(value, 1);
    text.strip_suffix(".0").map_or(text.clone(), str::to_owned)
}

/// The answer in sentences: the limit, who came how near, and what each setup stands.
pub fn sentences(answer: &LimitsAnswer, metas: &[SessionMeta], units: Units) -> Vec<String> {
    let channel = answer.sessions.first().map_or("", |s| s.channel.name());
    let Some(limit) = limit_in_words(answer, metas, units) else {
        return vec![no_limit(answer, units)];
    };
    let margin = answer.margin_k.map_or_else(
        || "within each session's own margin".to_owned(),
        |k| {
            let told = short(units.of(Measure::Difference, k));
            format!("within {told} {}", units.symbol(Measure::Difference))
        },
    );
    let mut said = vec![format!(
        "Limit for {channel}: {limit}; approached is {margin} of it. {}",
        states(answer)
    )];
    said.extend(answer.setups.iter().map(|setup| stands(setup, units)));
    said
}

/// What a wake of so many percent stands for.
pub fn in_wake(percent: f64) -> String {
    format!(
        "Wake: held behind another car all along, the air that meets this one slower by {percent:.0}\u{a0}%. How much a wake \
         takes is the asker's assumption; wakes of the sessions themselves are in their figures already."
    )
}

fn no_limit(answer: &LimitsAnswer, units: Units) -> String {
    let why = answer.sessions.iter().find_map(|s| s.why.as_deref());
    match why {
        Some(why) => format!("Cannot tell: {}.", units.prose(why)),
        None => "No session to judge.".to_owned(),
    }
}

/// Who came how near, by name.
fn states(answer: &LimitsAnswer) -> String {
    let of = |wanted: &dyn Fn(&SessionLimit) -> bool| -> Vec<&str> {
        let all = answer.sessions.iter().filter(|s| wanted(s));
        all.map(|s| s.id.as_str()).collect()
    };
    let read = |state| move |s: &SessionLimit| s.state == Some(state);
    let hidden = |state| {
        move |s: &SessionLimit| {
            s.state.is_some() && s.possible_state > s.state && s.possible_state == Some(state)
        }
    };
    let exceeded = of(&read(State::Exceeded));
    let mut said = vec![match exceeded.is_empty() {
        true => "Exceeded: none read".to_owned(),
        false => format!("Exceeded: {}", named(&exceeded)),
    }];
    let clear = |s: &SessionLimit| s.state == Some(State::Clear) && s.possible_state <= s.state;
    let silent = |s: &SessionLimit| s.state.is_none() && !s.is_in_doubt();
    for (word, ids) in [
        ("approached", of(&read(State::Approached))),
        (
            "may have exceeded, by step and lag of the reading",
            of(&hidden(State::Exceeded)),
        ),
        (
            "may have approached, by step and lag of the reading",
            of(&hidden(State::Approached)),
        ),
        (
            "unknown, because the reading stands still",
            of(&SessionLimit::is_in_doubt),
        ),
        ("no reading or no limit", of(&silent)),
        ("clear", of(&clear)),
    ] {
        if !ids.is_empty() {
            said.push(format!("{word}: {}", named(&ids)));
        }
    }
    said.join("; ") + "."
}

fn named(ids: &[&str]) -> String {
    let first = ids[..ids.len().min(MOST_NAMED)].join(", ");
    match ids.len().saturating_sub(MOST_NAMED) {
        0 => first,
        more => format!("{first} and {more} more"),
    }
}

/// The ambient at which half of the sessions of a setup would be over, and the one from which on one in forty is:
/// the middle and the lower end of what another session would say (`capability`).
fn stands(setup: &SetupLimit, units: Units) -> String {
    let seen = format!(
        "{} ({} on {})",
        setup.setup,
        count(setup.sessions, "session"),
        count(setup.days, "day")
    );
    let by_model = &setup.limiting_ambient_model_c;
    let (told, by) = match by_model.known() {
        Some(_) => (by_model, ""),
        None => (&setup.limiting_ambient_c, ", by the 1:1 rule"),
    };
    let celsius = |c: f64| {
        let told = fixed(units.of(Measure::Temperature, c), 0);
        format!("{told} {}", units.symbol(Measure::Temperature))
    };
    match told {
        Estimate::Known(i) => format!(
            "{seen}: driven on like this, half of such sessions would be over at {} ambient, about one in forty at {}{by}.",
            celsius(i.estimate),
            celsius(i.low)
        ),
        Estimate::Unknown { why } => format!(
            "{seen}: cannot tell what another session would stand: {}.",
            units.prose(why)
        ),
    }
}
