//! `heatbook sessions`: what is in the book.

use chrono::{NaiveDate, NaiveDateTime};
use clap::Args;
use serde::Serialize;

use super::failure::Failure;
use super::fit::{Assessment, assessments};
use super::output::{day_and_start, number, table};
use super::{Context, Outcome};
use crate::quantity::{Measure, Units};
use crate::session::{Role, SessionMeta};
use crate::warning::Warning;

/// Arguments of `sessions`.
#[derive(Debug, Args)]
pub struct Arguments {
    /// Only their ids, one a line, for other programs
    #[arg(long)]
    ids: bool,
}

/// The document of `--ids`.
#[derive(Debug, Serialize)]
struct Ids<'a> {
    sessions: &'a [String],
    warnings: [Warning; 0],
}

#[derive(Debug, Serialize)]
struct Document {
    sessions: Vec<Line>,
    warnings: Vec<Warning>,
}

#[derive(Debug, Serialize)]
struct Line {
    id: String,
    setup: String,
    day: Option<NaiveDate>,
    start: Option<NaiveDateTime>,
    duration_s: f64,
    ambient_c: Option<f64>,
    peak_coolant_c: Option<f64>,
    assessable: bool,
    excluded: Option<String>,
    file: String,
    driver: Option<String>,
    note: Option<String>,
    why: Option<String>,
}

impl Line {
    fn new(meta: SessionMeta, assessment: Assessment) -> Self {
        let of = |role: Role| meta.channels.get(&role);
        Self {
            ambient_c: of(Role::Ambient).and_then(|c| c.mean),
            peak_coolant_c: of(Role::Coolant).and_then(|c| c.max),
            id: meta.id,
            setup: meta.setup,
            day: meta.day,
            start: meta.start,
            duration_s: meta.duration_s,
            assessable: assessment.assessable,
            excluded: meta.excluded,
            file: meta.file,
            driver: meta.driver,
            note: meta.note,
            why: assessment.why,
        }
    }
}

/// Lists every session in time order.
pub fn run(context: &Context, arguments: &Arguments) -> Result<Outcome, Failure> {
    let mut book = context.existing_book()?;
    let metas = book.sessions()?;
    if arguments.ids {
        let ids: Vec<String> = metas.into_iter().map(|meta| meta.id).collect();
        let text = || ids.iter().map(|id| format!("{id}\n")).collect();
        context.output.answer(
            &Ids {
                sessions: &ids,
                warnings: [],
            },
            text,
        )?;
        return Ok(Outcome::Done);
    }
    let assessments = assessments(&mut book, &metas)?;
    let lines = metas.into_iter().zip(assessments);
    let document = Document {
        sessions: lines.map(|(meta, told)| Line::new(meta, told)).collect(),
        warnings: Vec::new(),
    };
    context
        .output
        .answer(&document, || text(&document, context.units))?;
    Ok(Outcome::Done)
}

fn text(document: &Document, units: Units) -> String {
    let celsius = |c: Option<f64>| c.map(|c| units.of(Measure::Temperature, c));
    if document.sessions.is_empty() {
        return "no sessions yet: heatbook import FILE... --setup NAME\n".to_owned();
    }
    let rows = document
        .sessions
        .iter()
        .map(|s| {
            let state = match (&s.excluded, s.assessable) {
                (Some(reason), _) => format!("excluded: {reason}"),
                (None, true) => "assessable".to_owned(),
                (None, false) => "not assessable".to_owned(),
            };
            let [day, start] = day_and_start(s.day, s.start);
            vec![
                s.id.clone(),
                s.setup.clone(),
                day,
                start,
                format!("{:.1}", s.duration_s / 60.0),
                number(celsius(s.ambient_c), 1),
                number(celsius(s.peak_coolant_c), 0),
                state,
            ]
        })
        .collect();
    table(
        &[
            "session", "setup", "day", "start", "min", "ambient", "peak", "state",
        ],
        rows,
    ) + &format!(
        "ambient and peak coolant in {}; why a session is not assessable: heatbook fit\n",
        units.symbol(Measure::Temperature)
    )
}
