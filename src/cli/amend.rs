//! `heatbook amend`: correct what the book says of sessions.

use std::path::PathBuf;

use chrono::{NaiveDate, NaiveDateTime};
use clap::Args;
use serde::Serialize;

use super::failure::Failure;
use super::values::{ambient, date, date_time, setup_name};
use super::{Context, Outcome, sheets};
use crate::book::{Book, Change};
use crate::ingest;
use crate::session::{Role, Session, SessionMeta};
use crate::warning::Warning;
use crate::words::{quoted, shell_word};

/// Arguments of `amend`.
#[derive(Debug, Args)]
pub struct Arguments {
    /// Sessions to correct
    #[arg(required = true, value_name = "ID")]
    ids: Vec<String>,
    /// The setup it was really run with
    #[arg(long, value_name = "NAME", value_parser = setup_name)]
    setup: Option<String>,
    /// Another setup sheet (TOML)
    #[arg(long, value_name = "FILE")]
    setup_sheet: Option<PathBuf>,
    /// Another car sheet (TOML)
    #[arg(long, value_name = "FILE")]
    car: Option<PathBuf>,
    /// The day it was run
    #[arg(long, value_name = "DATE", value_parser = date)]
    day: Option<NaiveDate>,
    /// Local date and time of the first row; sets the day too
    #[arg(long, value_name = "DATETIME", value_parser = date_time, conflicts_with = "day")]
    start: Option<NaiveDateTime>,
    /// Air outside, for a log that has none
    #[arg(long, value_name = "T", allow_negative_numbers = true, value_parser = ambient)]
    ambient_c: Option<f64>,
    /// Who drove
    #[arg(long, value_name = "NAME")]
    driver: Option<String>,
    /// A note
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
    /// Leave it out of every comparison, for this reason
    #[arg(long, value_name = "REASON", conflicts_with = "include")]
    exclude: Option<String>,
    /// Leave it out no longer
    #[arg(long)]
    include: bool,
}

#[derive(Debug, Serialize)]
struct Document {
    sessions: Vec<String>,
    warnings: Vec<Warning>,
}

/// Makes the corrections; the old values stay in the history.
pub fn run(context: &Context, arguments: &Arguments) -> Result<Outcome, Failure> {
    let changes = changes(arguments)?;
    if changes.is_empty() && arguments.ambient_c.is_none() {
        return Err(Failure::new(
            "nothing to correct was named",
            "for example --setup NAME, --day DATE, --exclude REASON",
        ));
    }
    let mut book = context.existing_book()?;
    sheet_of_its_setup(&book, arguments)?;
    let with_ambient = with_ambient(&book, arguments)?;
    for id in &arguments.ids {
        for change in &changes {
            book.amend(id, change)?;
        }
    }
    for session in with_ambient {
        give_ambient(&mut book, session)?;
    }
    let document = Document {
        sessions: arguments.ids.clone(),
        warnings: without_time_of_day(&book, arguments)?,
    };
    context.output.warnings(&document.warnings);
    context.output.answer(&document, || {
        format!(
            "corrected {}; the old values: heatbook history\n",
            document.sessions.join(", ")
        )
    })?;
    Ok(Outcome::Done)
}

/// A setup sheet that names another setup than the one given, or than a session has, stops the call.
fn sheet_of_its_setup(book: &Book, arguments: &Arguments) -> Result<(), Failure> {
    let Some(path) = &arguments.setup_sheet else {
        return Ok(());
    };
    for id in &arguments.ids {
        let setup = match &arguments.setup {
            Some(setup) => setup.clone(),
            None => book.meta(id)?.setup,
        };
        sheets::setup_named(path, &setup)?;
    }
    Ok(())
}

/// Sessions that were given a day and have no time of day: the book keeps none without a day, but
/// their file may have one.
fn without_time_of_day(book: &Book, arguments: &Arguments) -> Result<Vec<Warning>, Failure> {
    let Some(day) = arguments.day else {
        return Ok(Vec::new());
    };
    let mut warnings = Vec::new();
    for id in &arguments.ids {
        let meta = book.meta(id)?;
        if meta.start.is_none() {
            warnings.push(Warning::note(
                "time-of-day-unknown",
                format!(
                    "{id}: the book has no time of day for it; if {} has one: {}",
                    quoted(&meta.file),
                    quoted(&format!(
                        "heatbook import FILE --setup {} --day {day} --replace {id}",
                        shell_word(&meta.setup)
                    ))
                ),
            ));
        }
    }
    Ok(warnings)
}

/// The sessions with the outside temperature given, made before anything is changed: a session
/// that has one, or an id that is not known, must stop the whole call.
fn with_ambient(book: &Book, arguments: &Arguments) -> Result<Vec<Session>, Failure> {
    let mut sessions = Vec::new();
    for id in &arguments.ids {
        book.meta(id)?;
        if let Some(ambient_c) = arguments.ambient_c {
            sessions.push(ingest::give_ambient(&book.session(id)?, ambient_c)?);
        }
    }
    Ok(sessions)
}

/// Takes over the ambient of a session made before; whatever else was amended since counts.
fn give_ambient(book: &mut Book, mut session: Session) -> Result<(), Failure> {
    let mean = |meta: &SessionMeta| {
        let ambient = meta.channels.get(&Role::Ambient)?;
        ambient.mean.map(|c| c.to_string())
    };
    let stored = book.meta(&session.meta.id)?;
    let (old, new) = (mean(&stored), mean(&session.meta));
    if old == new {
        return Ok(());
    }
    session.meta = SessionMeta {
        channels: session.meta.channels,
        warnings: session.meta.warnings,
        ..stored
    };
    let id = session.meta.id.clone();
    book.replace(&id, session, ("ambient_c", old.as_deref(), new.as_deref()))?;
    Ok(())
}

fn changes(arguments: &Arguments) -> Result<Vec<Change>, Failure> {
    let mut changes = Vec::new();
    if let Some(setup) = &arguments.setup {
        changes.push(Change::Setup(setup.clone()));
    }
    if let Some(path) = &arguments.setup_sheet {
        changes.push(Change::SetupSheet(sheets::setup(path)?));
    }
    if let Some(path) = &arguments.car {
        changes.push(Change::Car(sheets::car(path)?));
    }
    if let Some(day) = arguments.day {
        changes.push(Change::Day(Some(day)));
    }
    if let Some(start) = arguments.start {
        changes.push(Change::Start(Some(start)));
        changes.push(Change::Day(Some(start.date())));
    }
    if let Some(driver) = &arguments.driver {
        changes.push(Change::Driver(some_text(driver)));
    }
    if let Some(note) = &arguments.note {
        changes.push(Change::Note(some_text(note)));
    }
    if let Some(reason) = &arguments.exclude {
        changes.push(Change::Exclude(reason.clone()));
    }
    if arguments.include {
        changes.push(Change::Include);
    }
    Ok(changes)
}

/// An empty text takes the entry away.
fn some_text(text: &str) -> Option<String> {
    (!text.trim().is_empty()).then(|| text.to_owned())
}
