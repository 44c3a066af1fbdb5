//! The page of sessions.

use askama::Template;

use super::evidence::residual_words;
use super::fit_tables::{parameters, regimes, self_check};
use super::session_charts::{channels_figure, give_values, surprises_figure};
use super::sessions_overview::overview;
use super::soak::{soak, unseen};
use super::temperatures::temperatures;
use super::{Notice, PAGE_BYTES, Shell, below, columns, day, notices, number};
use crate::estimate::heat_sources_differ;
use crate::quantity::{Measure, Units};
use crate::report::figure::Figure;
use crate::report::table::{Table, cell, estimate};
use crate::report::{Provenance, ReportError, SessionPart};
use crate::session::UnitFrom;

/// Zoom and read-off of the channel charts on screen.
const READ_OFF: &str = include_str!("../templates/read_off.js");

/// What a session needs of a page besides the points of its lines, bytes.
const BYTES_A_SESSION: usize = 33_000;

/// Sessions whose charts and tables one page holds.
const MOST_WHOLE: usize = 32;

#[derive(Template)]
#[template(path = "sessions.html", config = "src/report/askama.toml")]
struct SessionsPage<'a> {
    script: &'static str,
    shell: Shell<'a>,
    overview: Table,
    others: Option<String>,
    overview_notices: Vec<Notice>,
    sessions: Vec<Section>,
}

/// One session's section.
struct Section {
    anchor: String,
    /// Whether it says how its charts and tables are read: the first does, for all.
    explains: bool,
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
    let (whole, others) = sessions.split_at(sessions.len().min(MOST_WHOLE));
    // Each session is drawn twice, once for each width; the narrow one has half the columns.
    let columns = columns(whole.len(), 13, BYTES_A_SESSION, 700);
    let sections = whole
        .iter()
        .enumerate()
        .map(|(i, part)| section(i, part, columns, provenance.units))
        .collect::<Result<Vec<_>, _>>()?;
    let mut page = SessionsPage {
        script: READ_OFF,
        overview: overview(sessions, whole.len(), provenance.units),
        others: others_in_words(others),
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
    let left = PAGE_BYTES.saturating_sub(page.render()?.len());
    let figures = page
        .sessions
        .iter_mut()
        .map(|section| section.figure.as_mut());
    give_values(figures.zip(whole), left, provenance.units);
    Ok(page.render()?)
}

/// That the page has no charts of these, and what shows them. `None`: there are no such sessions.
fn others_in_words(others: &[SessionPart<'_>]) -> Option<String> {
    let next: Vec<&str> = (others.iter().take(MOST_WHOLE))
        .map(|part| part.meta.id.as_str())
        .collect();
    (!others.is_empty()).then(|| {
        format!(
            "A page holds the charts and tables of {MOST_WHOLE} sessions. The next: heatbook fit {} --html FILE",
            next.join(" ")
        )
    })
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
        explains: index == 0,
        heading: format!("{} · {}", part.meta.label(), part.meta.setup),
        facts: facts(part),
        state,
        figure: channels_figure(part, index == 0, columns, units)?,
        residual: residual_words(part, units) + &spread_of_surprises(part),
        model: fit.assessable.then(|| model_words(part)),
        whiteness: surprises_figure(part, index == 0, units)?,
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

/// The name of a session's part of the page.
pub fn anchor(index: usize) -> String {
    format!("session-{}", index + 1)
}

/// Decimals of an air density.
pub fn density_decimals(units: Units) -> usize {
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

/// How far the surprises scatter, to be held against what forecasts say of it.
fn spread_of_surprises(part: &SessionPart<'_>) -> String {
    let found = part.fit.trace.whiteness();
    found.map_or_else(String::new, |found| {
        let sd = number::fixed(found.sd, 2);
        format!(
            " Over hot running the surprises have a standard deviation of {sd}: 1 where forecasts are \
             as sure as they say, less where they are careful."
        )
    })
}

/// The model taken and how its search ended.
fn model_words(part: &SessionPart<'_>) -> String {
    let fit = part.fit;
    format!("Model: {}. The search {}.", fit.model, fit.termination)
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
    let conductances = [
        (ua, Measure::Conductance, &fit.ua_w_per_k.value),
        (
            "the same over its own value at fixed scale".to_owned(),
            Measure::Plain,
            &fit.ua_relative,
        ),
    ];
    // A bound is only told where there is nothing better.
    let bound = (!fit.assessable).then(|| {
        let label = "conductance at least".to_owned();
        (label, Measure::Conductance, &fit.ua_lower_bound_w_per_k)
    });
    let others = [
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
    for (label, measure, value) in conductances.into_iter().chain(bound).chain(others) {
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
