//! The page of sessions.

use askama::Template;

use super::evidence::residual_words;
use super::fit_tables::{parameters, regimes, self_check};
use super::temperatures::temperatures;
use super::{Notice, Shell, below, columns, day, differences_in, notices, number};
use crate::estimate::heat_sources_differ;
use crate::quantity::{Measure, Units};
use crate::report::chart::channels::channels;
use crate::report::chart::whiteness::whiteness;
use crate::report::figure::{Figure, Layout};
use crate::report::table::{Table, cell, estimate, linked, noted};
use crate::report::{Provenance, ReportError, SessionPart};
use crate::session::{Role, UnitFrom};
use crate::stats::Estimate;

/// Zoom and read-off of the channel charts on screen.
const READ_OFF: &str = include_str!("../templates/read_off.js");

#[derive(Template)]
#[template(path = "sessions.html", config = "src/report/askama.toml")]
struct SessionsPage<'a> {
    script: &'static str,
    shell: Shell<'a>,
    overview: Table,
    overview_notices: Vec<Notice>,
    sessions: Vec<Section>,
}

/// One session's section.
struct Section {
    anchor: String,
    heading: String,
    facts: Vec<(&'static str, String)>,
    state: String,
    figure: Option<Figure>,
    residual: String,
    model: Option<String>,
    whiteness: Option<Figure>,
    unseen: Option<String>,
    scale: String,
    regimes: Table,
    constants: Table,
    parameters: Option<Table>,
    self_check: Option<Table>,
    soak: Option<Table>,
    more: Option<Table>,
    channels: Table,
    notices: Vec<Notice>,
}

/// The page.
pub fn render(
    sessions: &[SessionPart<'_>],
    provenance: &Provenance,
    other_pages: &[(&str, &str)],
) -> Result<String, ReportError> {
    let assessable = sessions.iter().filter(|part| part.fit.assessable).count();
    let block = vec![
        ("Sessions", sessions.len().to_string()),
        ("Assessable", assessable.to_string()),
    ];
    // Each session is drawn twice, once for each width; the narrow one has half the columns.
    let columns = columns(sessions.len(), 13, 30_000, 700);
    let sections = sessions
        .iter()
        .enumerate()
        .map(|(i, part)| section(i, part, columns, provenance.units))
        .collect::<Result<Vec<_>, _>>()?;
    let page = SessionsPage {
        script: READ_OFF,
        overview: overview(sessions, provenance.units),
        overview_notices: notices(
            heat_sources_differ(sessions.iter().map(|part| part.fit)).iter(),
            provenance.units,
        ),
        shell: Shell::new(
            "Sessions",
            "Session by session".to_owned(),
            block,
            provenance,
            other_pages,
        ),
        sessions: sections,
    };
    Ok(page.render()?)
}

fn section(
    index: usize,
    part: &SessionPart<'_>,
    columns: usize,
    units: Units,
) -> Result<Section, ReportError> {
    let fit = part.fit;
    let state = match (fit.assessable, &fit.why) {
        (true, _) => format!(
            "Assessable: {} under load with the thermostat fully open, beyond the tolerance of its rating.",
            number::duration(fit.open_s)
        ),
        (false, Some(why)) => format!("Not assessable: {}", units.prose(why)),
        (false, None) => "Not assessable.".to_owned(),
    };
    Ok(Section {
        anchor: anchor(index),
        heading: format!("{} · {}", part.meta.label(), part.meta.setup),
        facts: facts(part),
        state,
        figure: figure(part, columns, units)?,
        residual: residual_words(part, units),
        model: fit.assessable.then(|| model_words(part)),
        whiteness: white_figure(part, units)?,
        scale: units.prose(&fit.scale).into_owned(),
        regimes: regimes(fit),
        constants: constants(part, units),
        parameters: parameters(fit, units),
        self_check: self_check(fit, units),
        soak: soak(part, units),
        unseen: unseen(part),
        more: temperatures(part.fit, units),
        channels: channel_table(part, units),
        notices: notices(part.meta.warnings.iter().chain(&fit.warnings), units),
    })
}

fn anchor(index: usize) -> String {
    format!("session-{}", index + 1)
}

/// What each fit says, a line a session.
fn overview(sessions: &[SessionPart<'_>], units: Units) -> Table {
    let reference = sessions.first().map(|part| &part.fit.ua_w_per_k);
    let at = reference.map_or_else(String::new, |ua| {
        format!(
            " at {} and {}",
            number::told(units, Measure::Speed, ua.at_speed_kmh, 0),
            number::told(
                units,
                Measure::Density,
                ua.at_air_density_kg_m3,
                density_decimals(units)
            )
        )
    });
    let head = [
        "Session",
        "Heat from",
        &format!("#UA {}", units.symbol(Measure::Conductance)),
        "#UA relative",
        &format!("#Limiting ambient {}", units.symbol(Measure::Temperature)),
        "Fit",
    ];
    let caption = format!("What each fit says; UA{at}; {}", below());
    let mut table = Table::new(caption, &head);
    let ua_decimals = match units {
        Units::Metric => 0,
        Units::Us => 1,
    };
    for (i, part) in sessions.iter().enumerate() {
        let fit = part.fit;
        let ua = |v: f64| number::fixed(units.of(Measure::Conductance, v), ua_decimals);
        let relative = fit.ua_relative.known().map_or_else(
            || number::UNKNOWN.to_owned(),
            |i| {
                let half = number::fixed(100.0 * i.half_width(), 1);
                format!("\u{b1}{half}\u{a0}%")
            },
        );
        let check = fit.self_check.as_ref().map(|check| match check.passed {
            true => "self-check passed",
            false => "self-check FAILED",
        });
        // Why a session is declined is said once, not in every figure that it lacks.
        let figure = |value: &Estimate, number: &dyn Fn(f64) -> String| match fit.assessable {
            true => estimate(units, value, "", number),
            false => cell("-"),
        };
        let celsius = |c: f64| number::fixed(units.of(Measure::Temperature, c), 0);
        let verdict = match fit.assessable {
            true => noted("assessable", check.unwrap_or_default()),
            false => noted(
                "not assessable",
                units.prose(fit.why.as_deref().unwrap_or_default()),
            ),
        };
        let setup = format!("{}, {}", part.meta.setup, day(part.meta.day));
        table.row(vec![
            linked(part.meta.label(), setup, anchor(i)),
            cell(fit.heat_source.as_deref().unwrap_or("nothing")),
            figure(&fit.ua_w_per_k.value, &ua),
            match fit.assessable {
                true => cell(relative),
                false => cell("-"),
            },
            figure(&fit.limiting_ambient_c, &celsius),
            verdict,
        ]);
    }
    table
}

fn density_decimals(units: Units) -> usize {
    match units {
        Units::Metric => 2,
        Units::Us => 4,
    }
}

fn facts(part: &SessionPart<'_>) -> Vec<(&'static str, String)> {
    let meta = part.meta;
    let start = meta.start.map_or_else(
        || day(meta.day),
        |start| start.format("%Y-%m-%d %H:%M").to_string(),
    );
    let mut facts = vec![
        ("File", meta.file.clone()),
        ("Start", start),
        ("Length", number::duration(meta.duration_s)),
        (
            "Rows kept",
            format!("{} of {}", meta.rows_kept, meta.rows_read),
        ),
    ];
    let named = [
        ("Car", meta.car_as_run().name),
        ("Driver", meta.driver.clone()),
        ("Changed", meta.setup_sheet.changed.clone()),
        ("Note", meta.note.clone()),
        ("Left out of comparisons", meta.excluded.clone()),
    ];
    facts.extend(
        named
            .into_iter()
            .filter_map(|(name, value)| Some((name, value?))),
    );
    for aligned in &meta.aligned {
        let offset = number::signed(aligned.offset_s, 2);
        facts.push((
            "Added file",
            format!("{}, clock moved {offset}\u{a0}s", aligned.file),
        ));
    }
    facts
}

fn figure(
    part: &SessionPart<'_>,
    most: usize,
    units: Units,
) -> Result<Option<Figure>, ReportError> {
    let label = part.meta.label();
    let alt = format!(
        "{label}: what the car was doing, then coolant, ambient, intake, speed and engine speed \
         where logged, over time. {}",
        residual_words(part, units)
    );
    let step = |role: Role| part.meta.channels.get(&role)?.resolution;
    let draw = |layout: Layout| {
        let columns = layout.pick(most, (most / 2).clamp(24, 300));
        channels(
            part.grid,
            &part.fit.trace,
            &step,
            columns,
            &alt,
            layout,
            units,
        )
    };
    let (Some(wide), Some(narrow)) = (draw(Layout::Wide)?, draw(Layout::Narrow)?) else {
        return Ok(None);
    };
    Ok(Some(Figure {
        title: "What was logged, and what the car was doing".to_owned(),
        wide: wide.svg,
        narrow: narrow.svg,
        scales: [wide.scale, narrow.scale],
        how_to_read:
            "The bars at the top say when the car was doing what. Below them the channels, \
            all on the same time axis. The tinted stretches are the hot running that the \
            conductance was told from; the grey ones are standing and soaking. In the coolant \
            panel the dashed line is the model; where it leaves the solid line for long, do not \
            trust it. The surprises below are each reading minus its forecast from all before it, in \
            standard deviations of that forecast: nearly all should lie within two. Lines are thinned to the lowest and highest reading in each column of the \
            drawing, so no peak is lost."
                .to_owned(),
    }))
}

/// The model taken and how its search ended.
fn model_words(part: &SessionPart<'_>) -> String {
    let fit = part.fit;
    format!("Model: {}. The search {}.", fit.model, fit.termination)
}

fn white_figure(part: &SessionPart<'_>, units: Units) -> Result<Option<Figure>, ReportError> {
    let alt = format!(
        "{}: autocorrelation of the surprises of the coolant readings over hot running, by lag. {}",
        part.meta.label(),
        residual_words(part, units)
    );
    let Some(found) = part.fit.trace.whiteness() else {
        return Ok(None);
    };
    Ok(Some(Figure {
        title: "Whether the surprises repeat each other".to_owned(),
        wide: whiteness(&found, &alt)?,
        narrow: String::new(),
        scales: Default::default(),
        how_to_read: format!(
            "If the model holds, the surprises are independent, and 95 % of the bars end within \
            the shade. Bars that leave it mean that the model misses something that lasts so \
            long; the interval of the conductance is widened by what they add up to. Over hot \
            running the standard deviation of the surprises is {}: 1 where forecasts are as sure \
            as they say, less where they are careful.",
            number::fixed(found.sd, 2)
        ),
    }))
}

fn constants(part: &SessionPart<'_>, units: Units) -> Table {
    let fit = part.fit;
    let mut table = Table::new(
        format!("Constants of the fit; {}", below()),
        &["Constant", "#Value", "How the interval was made"],
    );
    let ua = format!(
        "effective conductance at {} and {}, scale included",
        number::told(units, Measure::Speed, fit.ua_w_per_k.at_speed_kmh, 0),
        number::told(
            units,
            Measure::Density,
            fit.ua_w_per_k.at_air_density_kg_m3,
            density_decimals(units)
        ),
    );
    let rows = [
        (ua, Measure::Conductance, &fit.ua_w_per_k.value),
        (
            "the same over its own value at fixed scale".to_owned(),
            Measure::Plain,
            &fit.ua_relative,
        ),
        (
            "conductance at least".to_owned(),
            Measure::Conductance,
            &fit.ua_lower_bound_w_per_k,
        ),
        (
            "exponent on speed".to_owned(),
            Measure::Plain,
            &fit.speed_exponent,
        ),
        (
            "heat capacity".to_owned(),
            Measure::HeatCapacity,
            &fit.heat_capacity_j_per_k,
        ),
        (
            "thermostat starts to open at".to_owned(),
            Measure::Temperature,
            &fit.thermostat_opens_c,
        ),
        (
            "ambient at which this drive, gone on without gusts, peaks at the limit".to_owned(),
            Measure::Temperature,
            &fit.limiting_ambient_c,
        ),
    ];
    // A bound is only told where there is nothing better.
    let is_needed =
        |value: &Estimate| !(fit.assessable && std::ptr::eq(value, &fit.ua_lower_bound_w_per_k));
    for (label, measure, value) in rows.into_iter().filter(|row| is_needed(row.2)) {
        let method = value.known().map_or("", |i| i.method.as_str());
        let label = match units.symbol(measure) {
            "" => label,
            symbol => format!("{label}, {symbol}"),
        };
        // All three get as many decimals as the lower end, or they could not be read against each
        // other.
        let decimals = value
            .known()
            .map_or(0, |i| number::decimals_for(units.of(measure, i.low)));
        table.row(vec![
            cell(label),
            estimate(units, value, "", |v| {
                number::fixed(units.of(measure, v), decimals)
            }),
            cell(units.prose(method)),
        ]);
    }
    table
}

/// The constants of heat soak with their measures; a plain one is in seconds.
fn soak_rows<'a>(part: &SessionPart<'a>) -> [(&'static str, Measure, &'a Estimate); 6] {
    let soak = &part.fit.soak;
    [
        (
            "intake air, climb at standstill",
            Measure::Difference,
            &soak.intake_rise_still_k,
        ),
        (
            "intake air, time constant of that climb",
            Measure::Plain,
            &soak.intake_tau_still_s,
        ),
        (
            "intake air, time constant of recovery on the move",
            Measure::Plain,
            &soak.intake_tau_moving_s,
        ),
        (
            "coolant, rise after the engine stops",
            Measure::Difference,
            &soak.coolant_rise_after_stop_k,
        ),
        (
            "coolant, time from the stop to its peak",
            Measure::Plain,
            &soak.coolant_time_to_peak_s,
        ),
        (
            "coolant, time constant of the decay",
            Measure::Plain,
            &soak.coolant_decay_tau_s,
        ),
    ]
}

/// Whether the log has nothing of what a constant needs.
fn is_unseen(value: &Estimate) -> bool {
    value
        .why()
        .is_some_and(|why| why.starts_with("not observed"))
}

/// The constants that the log says something of; none where it says nothing.
fn soak(part: &SessionPart<'_>, units: Units) -> Option<Table> {
    let soak = &part.fit.soak;
    let second = [
        (
            "intake air at standstill, second time constant",
            Measure::Plain,
            &soak.intake_second_tau_still_s,
        ),
        (
            "intake air on the move, second time constant",
            Measure::Plain,
            &soak.intake_second_tau_moving_s,
        ),
        (
            "coolant, second time constant of the decay",
            Measure::Plain,
            &soak.coolant_decay_second_tau_s,
        ),
    ];
    let seen = soak_rows(part).into_iter().filter(|row| !is_unseen(row.2));
    let needed = second.into_iter().filter(|row| row.2.known().is_some());
    let mut table = Table::new(format!("Heat soak; {}", below()), &["Constant", "#Value"]);
    for (label, measure, value) in seen.chain(needed) {
        let value = match measure {
            Measure::Difference => {
                let kelvin = units.symbol(measure);
                estimate(units, value, kelvin, differences_in(units))
            }
            _ => estimate(units, value, "s", |v| number::fixed(v, 0)),
        };
        table.row(vec![cell(label), value]);
    }
    (!table.rows.is_empty()).then_some(table)
}

/// The constants that the log has nothing of, with the reasons; none where there are none.
fn unseen(part: &SessionPart<'_>) -> Option<String> {
    let mut by_why: Vec<(&str, Vec<&str>)> = Vec::new();
    for (label, _, value) in soak_rows(part) {
        let Some(why) = value.why().filter(|_| is_unseen(value)) else {
            continue;
        };
        match by_why.iter_mut().find(|(known, _)| *known == why) {
            Some((_, labels)) => labels.push(label),
            None => by_why.push((why, vec![label])),
        }
    }
    let said: Vec<String> = (by_why.iter())
        .map(|(why, labels)| format!("{} ({})", labels.join("; "), why))
        .collect();
    (!said.is_empty()).then(|| format!("Heat soak, not in this log: {}.", said.join("; ")))
}

fn channel_table(part: &SessionPart<'_>, units: Units) -> Table {
    let head = [
        "Channel",
        "Column",
        "Unit in the file",
        "Unit known from",
        "#Lowest",
        "#Highest",
        "#Step",
        "#Refreshed every s",
        "#Missing %",
    ];
    let mut table = Table::new(
        "Channels as read; figures in the unit beside the channel",
        &head,
    );
    let figure = |v: Option<f64>, measure: Measure| {
        let told = v.map(|v| number::trimmed(units.of(measure, v)));
        cell(told.unwrap_or_else(|| number::UNKNOWN.to_owned()))
    };
    for (role, info) in &part.meta.channels {
        let from = match info.unit_from {
            UnitFrom::Header => "the column's name",
            UnitFrom::Row => "the row of units",
            UnitFrom::Values => "the values",
            UnitFrom::User => "the user",
        };
        let inside = role.quantity().inside_unit().symbol();
        let measure = Measure::of_symbol(inside);
        let unit = match measure {
            Measure::Plain => inside,
            told => units.symbol(told),
        };
        let step = match measure {
            Measure::Temperature => Measure::Difference,
            other => other,
        };
        table.row(vec![
            cell(format!("{}, {unit}", role.description())),
            cell(&info.column),
            cell(&info.unit),
            cell(from),
            figure(info.min, measure),
            figure(info.max, measure),
            figure(info.resolution, step),
            figure(info.median_refresh_s, Measure::Plain),
            cell(number::fixed(info.missing_fraction * 100.0, 1)),
        ]);
    }
    table
}
