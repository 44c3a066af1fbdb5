//! The page of a season.

use askama::Template;

use super::{Notice, Shell, below, day, notices, number, temperatures_in};
use crate::quantity::{Measure, Units};
use crate::report::canvas::Marker;
use crate::report::chart::intervals::{Backdrop, Row, intervals};
use crate::report::figure::Figure;
use crate::report::ink::Ink;
use crate::report::table::{Table, cell, estimate, noted};
use crate::report::{Provenance, ReportError};
use crate::season::{CarSeason, SeasonAnswer, SeasonSession, how_tested, sentences};
use crate::stats::Interval;

#[derive(Template)]
#[template(path = "season.html", config = "src/report/askama.toml")]
struct SeasonPage<'a> {
    shell: Shell<'a>,
    cars: Vec<Section>,
    notices: Vec<Notice>,
}

/// One car's section.
struct Section {
    sentence: String,
    tested: Option<String>,
    figure: Option<Figure>,
    table: Table,
}

/// The page.
pub fn render(
    answer: &SeasonAnswer,
    provenance: &Provenance,
    other_pages: &[(&str, &str)],
) -> Result<String, ReportError> {
    let sessions: usize = answer.cars.iter().map(|car| car.sessions.len()).sum();
    let counted: usize = answer.cars.iter().map(|car| car.drift.sessions).sum();
    let units = provenance.units;
    let block = vec![
        ("Sessions", sessions.to_string()),
        ("Used for the answer", counted.to_string()),
    ];
    let sections = answer.cars.iter().map(|car| {
        Ok(Section {
            sentence: sentences(car, units),
            tested: how_tested(car),
            figure: figure(car)?,
            table: table(car, units),
        })
    });
    let page = SeasonPage {
        cars: sections.collect::<Result<_, ReportError>>()?,
        shell: Shell::new(
            "Season",
            "Does the cooling drift?".to_owned(),
            block,
            provenance,
            other_pages,
        ),
        notices: notices(answer.warnings.iter(), units),
    };
    Ok(page.render()?)
}

fn percent(ratio: f64) -> String {
    number::fixed(100.0 * ratio, 1)
}

fn figure(car: &CarSeason) -> Result<Option<Figure>, ReportError> {
    let mut rows: Vec<Row> = Vec::new();
    let mut last = String::new();
    for session in &car.sessions {
        let Some(mut row) = row(session) else {
            continue;
        };
        let heading = format!("{} · {}", day(session.day), session.setup);
        if heading != last {
            row.heading = Some(heading.clone());
            last = heading;
        }
        rows.push(row);
    }
    if rows.is_empty() {
        return Ok(None);
    }
    let back = Backdrop {
        axis: "conductance, % of the mean of all sessions".to_owned(),
        lines: vec![(100.0, Ink::Axis, "mean of all sessions".to_owned())],
        ..Backdrop::default()
    };
    let said: Vec<String> = (rows.iter())
        .map(|r| format!("{} {}", r.label, r.value))
        .collect();
    let alt = format!(
        "Conductance of each session in time order, in percent of the mean: {}.",
        said.join("; ")
    );
    let line = match car.drift.form {
        Some(_) => "the drift that was found, on the level of the setup",
        None => "the mean of the setup: no drift is shown",
    };
    let reading = format!(
        "Each disc is a session's conductance at the same speed and density, with the interval of its \
        own windows; sessions scatter more than that. The upright bar is {line}. Days and setups follow \
        each other from top to bottom."
    );
    Figure::in_both_widths("Conductance through the season", reading, |layout| {
        intervals(&rows, &back, &alt, layout)
    })
    .map(Some)
}

fn row(session: &SeasonSession) -> Option<Row> {
    let ratio = session.conductance.map(|r| 100.0 * r);
    let value = ratio.known()?;
    let text = format!("{}\u{a0}%", number::fixed(value.estimate, 1));
    Some(Row {
        second: session.expected.map(|e| Interval {
            estimate: 100.0 * e,
            low: 100.0 * e,
            high: 100.0 * e,
            ..value.clone()
        }),
        ..Row::of(session.id.clone(), &ratio, text, Marker::Disc, Ink::Answer)
    })
}

fn table(car: &CarSeason, units: Units) -> Table {
    let celsius = units.symbol(Measure::Temperature);
    let settled = match car.at_ambient_c {
        Some(c) => format!(
            "#Settles at {} ambient, {celsius}",
            number::told(units, Measure::Temperature, c, 0)
        ),
        None => format!("#Settles, {celsius}"),
    };
    let caption = format!(
        "Sessions in time order, conductance at {} and {}; {}",
        number::told(units, Measure::Speed, car.at_speed_kmh, 0),
        number::told(units, Measure::Density, car.at_air_density_kg_m3, 3),
        below()
    );
    let mut table = Table::new(
        caption,
        &["Session", "Day", "#Conductance, % of the mean", &settled],
    );
    for session in &car.sessions {
        let start = session
            .start
            .map_or_else(String::new, |t| t.format("%H:%M").to_string());
        table.row(vec![
            noted(session.id.clone(), session.setup.clone()),
            noted(day(session.day), start),
            estimate(units, &session.conductance, "", percent),
            match &session.why {
                Some(_) => cell(number::UNKNOWN),
                None => estimate(units, &session.settled_c, "", temperatures_in(units)),
            },
        ]);
    }
    table
}
