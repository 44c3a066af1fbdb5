//! The page of limits.

use std::collections::BTreeMap;

use askama::Template;

use super::limits_ahead as ahead;
use super::{Notice, Shell, day, notices, number, temperatures_in};
use crate::limits::{LimitsAnswer, SessionLimit, State, in_wake, limit_in_words, sentences, short};
use crate::quantity::{Measure, Units};
use crate::report::canvas::Marker;
use crate::report::chart::intervals::{Backdrop, Row, intervals};
use crate::report::figure::Figure;
use crate::report::ink::Ink;
use crate::report::table::{Cell, Table, cell, noted};
use crate::report::{Provenance, ReportError};
use crate::session::SessionMeta;

#[derive(Template)]
#[template(path = "limits.html", config = "src/report/askama.toml")]
struct LimitsPage<'a> {
    shell: Shell<'a>,
    summary: Vec<String>,
    figure: Option<Figure>,
    table: Table,
    channel: &'static str,
    setups: Option<ahead::Told>,
    capability: Vec<Figure>,
    undrawn: Option<String>,
    gone_on: Option<ahead::Told>,
    hot_day: Option<ahead::Told>,
    wake: Option<String>,
    another_day: Option<ahead::Told>,
    silent: Option<String>,
    boiling: Option<String>,
    notices: Vec<Notice>,
}

/// The page.
pub fn render(
    answer: &LimitsAnswer,
    sessions: &[SessionMeta],
    provenance: &Provenance,
    other_pages: &[(&str, &str)],
) -> Result<String, ReportError> {
    let by_id: BTreeMap<&str, &SessionMeta> = sessions
        .iter()
        .map(|meta| (meta.id.as_str(), meta))
        .collect();
    let units = provenance.units;
    let channel = (answer.sessions.first()).map_or("channel", |s| s.channel.description());
    let mut block = vec![("Channel", channel.to_owned())];
    if let Some(limit) = limit_in_words(answer, sessions, units) {
        block.push(("Limit", limit));
        block.push(("Margin", margin(answer, units)));
    }
    block.push(("Sessions", answer.sessions.len().to_string()));
    let peak = |s: &SessionLimit| peak(s, decimals(s, &by_id), units);
    let gone_on = ahead::gone_on(answer, &peak, units);
    let page = LimitsPage {
        shell: Shell::new(
            "Limits",
            "Peaks against the limit".to_owned(),
            block,
            provenance,
            other_pages,
        ),
        summary: sentences(answer, sessions, units),
        channel,
        figure: figure(answer, &by_id, units)?,
        table: table(answer, &by_id, units),
        setups: ahead::setups(answer, units),
        capability: ahead::capability(answer, &by_id, units)?,
        undrawn: undrawn(answer),
        silent: ahead::silent(answer, gone_on.is_some(), units),
        gone_on,
        hot_day: ahead::hot_day(answer, units),
        wake: answer.hot_day.wake_percent.map(in_wake),
        another_day: ahead::another_day(answer, units),
        boiling: boiling(answer, units),
        notices: notices(answer.warnings.iter(), units),
    };
    Ok(page.render()?)
}

/// Of setups that are not drawn, how many.
fn undrawn(answer: &LimitsAnswer) -> Option<String> {
    let more = answer.setups.len().saturating_sub(ahead::MOST_DRAWN);
    (more > 0).then(|| {
        format!(
            "{} more in the table, not drawn.",
            number::count(more, "setup")
        )
    })
}

fn state_word(state: Option<State>) -> &'static str {
    match state {
        Some(State::Clear) => "clear",
        Some(State::Approached) => "approached",
        Some(State::Exceeded) => "exceeded",
        None => number::UNKNOWN,
    }
}

fn margin(answer: &LimitsAnswer, units: Units) -> String {
    answer.margin_k.map_or_else(
        || "each session's own".to_owned(),
        |k| {
            let told = short(units.of(Measure::Difference, k));
            format!("{told}\u{a0}{}", units.symbol(Measure::Difference))
        },
    )
}

/// Decimals of a reading: none where its sensor reads whole degrees.
fn decimals(limit: &SessionLimit, by_id: &BTreeMap<&str, &SessionMeta>) -> usize {
    let channel = by_id
        .get(limit.id.as_str())
        .and_then(|meta| meta.channels.get(&limit.channel));
    let step_c = channel.and_then(|info| info.resolution).unwrap_or(0.0);
    if step_c >= 1.0 {
        0
    } else {
        number::TEMPERATURE
    }
}

/// The one limit that all rows share, if they do.
fn shared_limit(answer: &LimitsAnswer) -> Option<f64> {
    let mut limits = answer.sessions.iter().filter_map(|s| s.limit_c);
    let first = limits.next()?;
    limits.all(|limit| limit == first).then_some(first)
}

fn heading(row: &SessionLimit, by_id: &BTreeMap<&str, &SessionMeta>) -> String {
    let day = by_id
        .get(row.id.as_str())
        .map_or_else(|| day(None), |meta| day(meta.day));
    format!("{day} · {}", row.channel.description())
}

fn figure(
    answer: &LimitsAnswer,
    by_id: &BTreeMap<&str, &SessionMeta>,
    units: Units,
) -> Result<Option<Figure>, ReportError> {
    let shared = shared_limit(answer);
    let has_limits = answer.sessions.iter().any(|s| s.limit_c.is_some());
    let relative = has_limits && shared.is_none();
    let mut rows: Vec<Row> = Vec::new();
    let mut last_heading = String::new();
    for limit in &answer.sessions {
        let Some(mut row) = row(limit, by_id, relative, units) else {
            continue;
        };
        let heading = heading(limit, by_id);
        if heading != last_heading {
            row.heading = Some(heading.clone());
            last_heading = heading;
        }
        rows.push(row);
    }
    if rows.is_empty() {
        return Ok(None);
    }
    let at = shared.unwrap_or(0.0);
    let (what, measure) = if relative {
        ("peak minus the session's limit", Measure::Difference)
    } else {
        ("temperature", Measure::Temperature)
    };
    let back = Backdrop {
        axis: format!("{what}, {}", units.symbol(measure)),
        measure,
        units,
        zones: match answer.margin_k {
            Some(margin_k) if has_limits => vec![(
                at - margin_k..at,
                Ink::LimitZone,
                format!("margin, {}", margin(answer, units)),
            )],
            _ => Vec::new(),
        },
        lines: match (has_limits, shared) {
            (true, Some(limit)) => vec![(
                at,
                Ink::Limit,
                format!(
                    "limit {}\u{a0}{}",
                    short(units.of(Measure::Temperature, limit)),
                    units.symbol(Measure::Temperature)
                ),
            )],
            (true, None) => vec![(at, Ink::Limit, "each session's own limit".to_owned())],
            (false, _) => Vec::new(),
        },
    };
    let said: Vec<String> = rows
        .iter()
        .map(|r| format!("{} {}", r.label, r.value))
        .collect();
    let alt = format!(
        "Largest reading of each session against the limit: {}.",
        said.join("; ")
    );
    let mut reading = "Each disc is the largest reading of a session".to_owned();
    reading += match has_limits {
        true => "; the dashed line is the limit, the shaded stretch the margin below it. ",
        false => ". ",
    };
    if rows.iter().any(|row| row.second.is_some()) {
        reading += "The upright bar with a line is the further peak that the drive would have come \
            to, had it gone on, with its 95 % interval: where the disc lies higher, the session has \
            had its peak. ";
    }
    reading += "A reading is a step of its sensor, and lags";
    reading += match has_limits {
        true => ": the table says where that changes the state.",
        false => ".",
    };
    Figure::in_both_widths("Peaks against the limit", reading, |layout| {
        intervals(&rows, &back, &alt, layout)
    })
    .map(Some)
}

/// A row of the chart; none when the session's peak, or the limit it is measured from, is unknown.
fn row(
    limit: &SessionLimit,
    by_id: &BTreeMap<&str, &SessionMeta>,
    relative: bool,
    units: Units,
) -> Option<Row> {
    let peak = limit.peak_c.filter(|v| v.is_finite())?;
    let from = if relative { limit.limit_c? } else { 0.0 };
    let setup = by_id
        .get(limit.id.as_str())
        .map_or("", |meta| meta.setup.as_str());
    let value = format!(
        "{}  {}",
        number::told(units, Measure::Temperature, peak, decimals(limit, by_id)),
        state_word(limit.state)
    );
    Some(Row {
        heading: None,
        label: format!("{}  {setup}", limit.id),
        value,
        point: Some(peak - from),
        interval: None,
        marker: Marker::Disc,
        ink: Ink::Answer,
        second: limit.would_have_peaked_c.map(|v| v - from).known().cloned(),
    })
}

fn table(answer: &LimitsAnswer, by_id: &BTreeMap<&str, &SessionMeta>, units: Units) -> Table {
    let peak_head = format!("#Peak read {}", units.symbol(Measure::Temperature));
    let head = [
        "Session",
        "State",
        &peak_head,
        "#Within the margin",
        "Rising at the end",
    ];
    let mut table = Table::new("Sessions against the limit, in time order", &head);
    for row in &answer.sessions {
        let meta = by_id.get(row.id.as_str());
        let origin = meta.map_or_else(String::new, |m| format!("{}, {}", m.setup, day(m.day)));
        let decimals = decimals(row, by_id);
        let peak = peak(row, decimals, units);
        let after = row
            .peak_at_s
            .map(|s| format!("after\u{a0}{}", number::duration(s)));
        let lap = row.peak_lap.map(|lap| format!(" in\u{a0}lap\u{a0}{lap}"));
        let when = after.unwrap_or_default() + &lap.unwrap_or_default();
        let from_limit = against(row, decimals, units);
        let parts = [from_limit.unwrap_or_default(), when];
        let parts: Vec<String> = parts.into_iter().filter(|p| !p.is_empty()).collect();
        let doubt = match (&row.why, row.possible_state) {
            (Some(why), _) => units.prose(why).into_owned(),
            (None, possible) if possible != row.state => {
                format!("may have been {}", state_word(possible))
            }
            (None, _) => String::new(),
        };
        let rising = match row.still_rising_at_end {
            Some(true) => "yes",
            Some(false) => "no",
            None => number::UNKNOWN,
        };
        table.row(vec![
            noted(format!("{} {}", row.id, row.channel.name()), origin),
            noted(state_word(row.state), doubt),
            noted(peak, parts.join(", ")),
            within_margin(row),
            cell(rising),
        ]);
    }
    table
}

/// The largest reading.
fn peak(row: &SessionLimit, decimals: usize, units: Units) -> String {
    row.peak_c.map_or_else(
        || number::UNKNOWN.to_owned(),
        |c| number::fixed(units.of(Measure::Temperature, c), decimals),
    )
}

/// How long the session was within the margin, how often, and how long at or over the limit.
fn within_margin(row: &SessionLimit) -> Cell {
    let (Some(near_s), Some(over_s)) = (row.seconds_within_margin, row.seconds_over) else {
        return cell("-");
    };
    let times = row.times_within_margin.filter(|n| *n > 0);
    let times = times.map(|n| format!("{}, ", number::count(n, "time")));
    let over = number::duration(over_s);
    let note = format!(
        "{}{over}\u{a0}at\u{a0}or\u{a0}over",
        times.unwrap_or_default()
    );
    noted(number::duration(near_s), note)
}

/// Where the coolant boils, and how that is known; none for a channel that does not boil.
fn boiling(answer: &LimitsAnswer, units: Units) -> Option<String> {
    let known = answer.sessions.iter().find_map(|s| s.boiling_c.known());
    let why = answer.sessions.iter().find_map(|s| s.boiling_c.why());
    match (known, why) {
        (Some(b), _) => Some(format!(
            "The coolant boils at {} ({}): {}.",
            number::told(units, Measure::Temperature, b.estimate, 1),
            number::ends(b, temperatures_in(units)),
            units.prose(&b.method)
        )),
        (None, Some(why)) if why.starts_with("no cap pressure") => {
            Some("To boiling needs cap_pressure_bar_gauge in the car sheet.".to_owned())
        }
        _ => None,
    }
}

/// How far the peak is from the limit, in words; none without a limit.
fn against(row: &SessionLimit, decimals: usize, units: Units) -> Option<String> {
    let limit = short(units.of(Measure::Temperature, row.limit_c?));
    let decimals = decimals.max(usize::from(limit.contains('.')));
    let away = |k: f64| number::fixed(units.of(Measure::Difference, k), decimals);
    Some(match row.closest_k {
        Some(k) if k > 0.0 => format!("{}\u{a0}below\u{a0}{limit}", away(k)),
        Some(0.0) => format!("at\u{a0}{limit}"),
        Some(k) => format!("{}\u{a0}over\u{a0}{limit}", away(-k)),
        None => format!("limit\u{a0}{limit}"),
    })
}
