//! The words and tables of `heatbook limits` on a terminal.

use std::collections::BTreeMap;

use super::output::{number, table, told, wrapped};
use crate::limits::{
    Crossing, HotDay, LONGEST_S, LimitsAnswer, SessionLimit, State, crossing, in_wake, sentences,
};
use crate::quantity::{Measure, Units};
use crate::report::CAUTIONS;
use crate::session::SessionMeta;
use crate::stats::Estimate;
use crate::words::count;

/// The answer.
pub fn text(answer: &LimitsAnswer, metas: &[SessionMeta], units: Units) -> String {
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
