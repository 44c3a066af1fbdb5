//! The page of limits.

use std::collections::BTreeMap;

use askama::Template;

use super::limits_ahead as ahead;
use super::{Notice, Shell, below, day, differences_in, notices, number, temperatures_in};
use crate::limits::{LimitsAnswer, SessionLimit, State};
use crate::quantity::{Measure, Units};
use crate::report::canvas::Marker;
use crate::report::chart::intervals::{Backdrop, Row, intervals};
use crate::report::figure::Figure;
use crate::report::ink::Ink;
use crate::report::table::{Table, cell, noted};
use crate::report::{Provenance, ReportError};
use crate::session::SessionMeta;

#[derive(Template)]
#[template(path = "limits.html", config = "src/report/askama.toml")]
struct LimitsPage<'a> {
    shell: Shell<'a>,
    summary: Vec<(String, usize)>,
    figure: Option<Figure>,
    table: Table,
    setups: Option<Table>,
    capability: Vec<Figure>,
    undrawn: Option<String>,
    gone_on: Table,
    hot_day: Option<Table>,
    another_day: Table,
    boiling: String,
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
    let block = vec![
        ("Sessions", answer.sessions.len().to_string()),
        (
            "Margin",
            answer.margin_k.map_or_else(
                || "each session's own".to_owned(),
                |margin| number::told(units, Measure::Difference, margin, 1),
            ),
        ),
    ];
    let page = LimitsPage {
        shell: Shell::new(
            "Limits",
            "Peaks against the limit".to_owned(),
            block,
            provenance,
            other_pages,
        ),
        summary: summary(answer),
        figure: figure(answer, &by_id, units)?,
        table: table(answer, &by_id, units),
        setups: ahead::setups(answer, units),
        capability: ahead::capability(answer, &by_id, units)?,
        undrawn: undrawn(answer),
        gone_on: ahead::gone_on(answer, units),
        hot_day: ahead::hot_day(answer, units),
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

fn summary(answer: &LimitsAnswer) -> Vec<(String, usize)> {
    let count = |state| answer.sessions.iter().filter(|s| s.state == state).count();
    [
        ("exceeded: at or over the limit", Some(State::Exceeded)),
        ("approached: within the margin", Some(State::Approached)),
        ("clear: never read within the margin", Some(State::Clear)),
        (
            "unknown: no limit, no reading, or one that stands still",
            None,
        ),
    ]
    .into_iter()
    .map(|(text, state)| (text.to_owned(), count(state)))
    .filter(|(_, n)| *n > 0)
    .collect()
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
            Some(margin) if has_limits => vec![(
                at - margin..at,
                Ink::LimitZone,
                format!(
                    "margin, {}",
                    number::told(units, Measure::Difference, margin, 1)
                ),
            )],
            _ => Vec::new(),
        },
        lines: match (has_limits, shared) {
            (true, Some(limit)) => vec![(
                at,
                Ink::Limit,
                format!(
                    "limit {}",
                    number::told(units, Measure::Temperature, limit, 1)
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
    let reading = "Each disc is the largest reading of a session; the dashed line is the limit, the \
        shaded stretch the margin below it. The upright bar with a line is where the session would \
        have peaked had it gone on, with its interval. A reading is a step of its sensor, and lags: \
        the table says where that changes the state.";
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
        number::told(units, Measure::Temperature, peak, 1),
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
    let peak = format!("#Peak {}", units.symbol(Measure::Temperature));
    let head = [
        "Session",
        "State",
        &peak,
        "#Within the margin",
        "Rising at the end",
    ];
    let mut table = Table::new(
        format!("Sessions against the limit, in time order; {}", below()),
        &head,
    );
    let time = |v: Option<f64>| v.map_or_else(|| number::UNKNOWN.to_owned(), number::duration);
    for row in &answer.sessions {
        let meta = by_id.get(row.id.as_str());
        let origin = meta.map_or_else(String::new, |m| format!("{}, {}", m.setup, day(m.day)));
        let peak = row
            .peak_c
            .map_or_else(|| number::UNKNOWN.to_owned(), temperatures_in(units));
        let after = row
            .peak_at_s
            .map(|s| format!(", after\u{a0}{}", number::duration(s)));
        let lap = row.peak_lap.map(|lap| format!(" in\u{a0}lap\u{a0}{lap}"));
        let limit = against(row, units) + &after.unwrap_or_default() + &lap.unwrap_or_default();
        let doubt = match (&row.why, row.possible_state) {
            (Some(why), _) => units.prose(why).into_owned(),
            (None, possible) if possible != row.state => {
                format!("may have been {}", state_word(possible))
            }
            (None, _) => String::new(),
        };
        let times = row.times_within_margin.filter(|n| *n > 0);
        let times = times.map(|n| format!("{}, ", number::count(n, "time")));
        let over = format!(
            "{}{}\u{a0}at\u{a0}or\u{a0}over",
            times.unwrap_or_default(),
            time(row.seconds_over)
        );
        let rising = match row.still_rising_at_end {
            Some(true) => "yes",
            Some(false) => "no",
            None => number::UNKNOWN,
        };
        table.row(vec![
            noted(format!("{} {}", row.id, row.channel.name()), origin),
            noted(state_word(row.state), doubt),
            noted(peak, limit),
            noted(time(row.seconds_within_margin), over),
            cell(rising),
        ]);
    }
    table
}

/// Where the coolant boils, and how that is known.
fn boiling(answer: &LimitsAnswer, units: Units) -> String {
    let known = answer.sessions.iter().find_map(|s| s.boiling_c.known());
    known.map_or_else(
        || "To boiling needs cap_pressure_bar_gauge in the car sheet.".to_owned(),
        |b| {
            format!(
                "The coolant boils at {} ({}): {}.",
                number::told(units, Measure::Temperature, b.estimate, 1),
                number::ends(b, temperatures_in(units)),
                units.prose(&b.method)
            )
        },
    )
}

/// How far the peak is from the limit, in words.
fn against(row: &SessionLimit, units: Units) -> String {
    let Some(limit) = row.limit_c else {
        return "no limit".to_owned();
    };
    let limit = temperatures_in(units)(limit);
    let away = differences_in(units);
    match row.closest_k {
        Some(k) if k > 0.0 => format!("{}\u{a0}below\u{a0}{limit}", away(k)),
        Some(0.0) => format!("at\u{a0}{limit}"),
        Some(k) => format!("{}\u{a0}over\u{a0}{limit}", away(-k)),
        None => format!("limit\u{a0}{limit}"),
    }
}
