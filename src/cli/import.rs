//! `heatbook import`: logs into the book.

use std::collections::{BTreeMap, HashSet};
use std::path::{Path, PathBuf};

use chrono::{NaiveDate, NaiveDateTime};
use clap::Args;
use rayon::prelude::*;
use serde::Serialize;

use super::failure::Failure;
use super::importer::Importer;
use super::output::{number, table};
use super::progress::{Interrupt, bar};
use super::reading::Reading;
use super::values::{ambient, date, date_time, offset, setup_name};
use super::worked::{self, Claimed};
use super::{Context, Outcome, sheets};
use crate::book::{Book, BookError};
use crate::ingest::ReadOptions;
use crate::laps::Laps;
use crate::quantity::{Measure, Units};
use crate::session::{Aligned, ChannelInfo, Role, SessionMeta};
use crate::warning::Warning;

/// Arguments of `import`.
#[derive(Debug, Args)]
pub struct Arguments {
    /// Log files; each is a session
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    /// What the car was run with, in a word: `stock`, `sealed-ducts`
    #[arg(long, value_name = "NAME", value_parser = setup_name)]
    setup: String,
    /// What that setup changed (TOML)
    #[arg(long, value_name = "FILE")]
    setup_sheet: Option<PathBuf>,
    /// The car's sheet (TOML) [default: the one the book's sessions share]
    #[arg(long, value_name = "FILE")]
    car: Option<PathBuf>,
    #[command(flatten)]
    reading: Reading,
    /// Local date and time of the first row: `2031-05-17T09:46:00`
    #[arg(long, value_name = "DATETIME", value_parser = date_time)]
    start: Option<NaiveDateTime>,
    /// The day, where the file does not say: `2031-05-17`
    #[arg(long, value_name = "DATE", value_parser = date)]
    day: Option<NaiveDate>,
    /// Another device's file, or a weather file, of the same session
    #[arg(long, value_name = "FILE")]
    with: Vec<PathBuf>,
    /// Seconds to add to the clock of such a file, where no speed tells: `second.csv=-37.4`
    #[arg(long, value_name = "FILE=SECONDS", value_parser = offset)]
    offset_s: Vec<(String, f64)>,
    /// Put the log in the place of this session, with other columns, ambient or second file
    #[arg(long, value_name = "ID")]
    replace: Option<String>,
    /// Air outside, where no file has it
    #[arg(long, value_name = "T", allow_negative_numbers = true, value_parser = ambient)]
    ambient_c: Option<f64>,
    /// Who drove
    #[arg(long, value_name = "NAME")]
    driver: Option<String>,
    /// A note to the session
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
}

/// The document of `import`.
#[derive(Debug, Serialize)]
pub(super) struct Document {
    pub(super) sessions: Vec<Imported>,
    pub(super) failed: Vec<Failed>,
    pub(super) aligned: Vec<Aligned>,
    pub(super) warnings: Vec<Warning>,
}

#[derive(Debug, Serialize)]
pub(super) struct Imported {
    pub(super) id: String,
    pub(super) file: String,
    pub(super) setup: String,
    pub(super) start: Option<NaiveDateTime>,
    pub(super) day: Option<NaiveDate>,
    pub(super) duration_s: f64,
    pub(super) rows_read: usize,
    pub(super) rows_kept: usize,
    pub(super) channels: BTreeMap<Role, ChannelInfo>,
    pub(super) duplicate: bool,
    /// `None`: no laps were found, or the log was known already.
    pub(super) laps: Option<Laps>,
}

#[derive(Debug, Serialize)]
pub(super) struct Failed {
    pub(super) file: String,
    pub(super) message: String,
    pub(super) hint: String,
}

impl Imported {
    pub(super) fn new(meta: SessionMeta, duplicate: bool, laps: Option<Laps>) -> Self {
        Self {
            id: meta.id,
            file: meta.file,
            setup: meta.setup,
            start: meta.start,
            day: meta.day,
            duration_s: meta.duration_s,
            rows_read: meta.rows_read,
            rows_kept: meta.rows_kept,
            channels: meta.channels,
            duplicate,
            laps,
        }
    }
}

/// Imports every file; one that fails does not stop the others.
pub fn run(context: &Context, arguments: &Arguments) -> Result<Outcome, Failure> {
    one_file_for_its_flags(arguments)?;
    let given_car = arguments.car.as_deref().map(sheets::car).transpose()?;
    let given_setup = arguments
        .setup_sheet
        .as_deref()
        .map(|path| sheets::setup_named(path, &arguments.setup))
        .transpose()?;
    let dir = context.book_dir()?;
    let known = known_sessions(&dir)?;
    let mut document = Document {
        sessions: Vec::new(),
        failed: Vec::new(),
        aligned: Vec::new(),
        warnings: Vec::new(),
    };
    let options = ReadOptions {
        setup: arguments.setup.clone(),
        car: given_car.unwrap_or_else(|| sheets::car_of_book(&known, &mut document.warnings)),
        setup_sheet: given_setup.unwrap_or_else(|| sheets::setup_of_book(&known, &arguments.setup)),
        start: arguments.start,
        day: arguments.day,
        with: arguments.with.clone(),
        offsets_s: arguments.offset_s.clone(),
        ambient_c: arguments.ambient_c,
        driver: arguments.driver.clone(),
        note: arguments.note.clone(),
        ..arguments.reading.options()?
    };
    options
        .car
        .overridden_by(&options.setup_sheet.car.as_sheet())
        .check_thermostat("car sheet under the setup sheet")?;
    let interrupt = Interrupt::listen();
    let bar = bar(arguments.files.len(), "importing");
    let replace = arguments.replace.as_deref();
    let how = (replace, &arguments.reading);
    let claimed = Claimed::new(match replace {
        // Its hash is known, and yet it is read anew.
        Some(_) => HashSet::new(),
        None => known.iter().map(|meta| meta.sha256.clone()).collect(),
    });
    let mut importer = Importer::new(&dir, known, &options, how, &mut document);
    // As many at once as there are cores: so many logs are in memory.
    for paths in arguments.files.chunks(rayon::current_num_threads()) {
        let stopped = interrupt.pressed();
        let read: Vec<_> = match stopped {
            true => Vec::new(),
            false => paths
                .par_iter()
                .map(|p| worked::read(p, &options, &arguments.reading, &claimed))
                .collect(),
        };
        let mut read = read.into_iter();
        for path in paths {
            let done = match read.next() {
                Some(read) => importer.take(path, read),
                None => Err(Failure::new(
                    format!("{}: not imported: stopped by Ctrl-C", path.display()),
                    "import it again; what was imported before stays",
                )),
            };
            if let Err(failure) = done {
                // The failure of a lone file ends the verb, and is told there.
                if arguments.files.len() > 1 && !stopped {
                    bar.suspend(|| context.output.complaint(&failure));
                }
                importer.document.failed.push(failed(path, &failure));
            }
            bar.inc(1);
        }
        importer.keep()?;
    }
    bar.finish_and_clear();
    if document.sessions.is_empty() {
        let first = &document.failed[0];
        if document.failed.len() == 1 {
            return Err(Failure::new(&first.message, &first.hint));
        }
        return Err(Failure::new(
            format!(
                "none of {} files could be imported; the first: {}",
                document.failed.len(),
                first.message
            ),
            &first.hint,
        ));
    }
    arguments.reading.save(&options)?;
    context.output.warnings(&document.warnings);
    context
        .output
        .answer(&document, || text(&document, &dir, context.units))?;
    Ok(if document.failed.is_empty() {
        Outcome::Done
    } else {
        Outcome::Partly
    })
}

/// What the book holds so far; nothing where there is none yet.
fn known_sessions(dir: &Path) -> Result<Vec<SessionMeta>, Failure> {
    match Book::open_existing(dir) {
        Ok(book) => Ok(book.sessions()?),
        Err(BookError::NoBook { .. }) => Ok(Vec::new()),
        Err(error) => Err(error.into()),
    }
}

fn one_file_for_its_flags(arguments: &Arguments) -> Result<(), Failure> {
    let given = [
        ("--start", arguments.start.is_some()),
        ("--day", arguments.day.is_some()),
        ("--with", !arguments.with.is_empty()),
        ("--replace", arguments.replace.is_some()),
    ];
    let Some((flag, _)) = given.iter().find(|(_, given)| *given) else {
        return Ok(());
    };
    if arguments.files.len() == 1 {
        return Ok(());
    }
    Err(Failure::new(
        format!(
            "{flag} belongs to one session, but {} files were named",
            arguments.files.len()
        ),
        format!("import the files one by one, each with its own {flag}"),
    ))
}

fn failed(path: &Path, failure: &Failure) -> Failed {
    Failed {
        file: path.display().to_string(),
        message: failure.message.clone(),
        hint: failure.hint.clone(),
    }
}

fn text(document: &Document, dir: &Path, units: Units) -> String {
    let celsius = |c: Option<f64>| c.map(|c| units.of(Measure::Temperature, c));
    let rows = document
        .sessions
        .iter()
        .map(|s| {
            let of = |role| s.channels.get(&role);
            vec![
                s.id.clone(),
                s.file.clone(),
                s.day
                    .map_or_else(|| "unknown".to_owned(), |d| d.to_string()),
                format!("{:.1}", s.duration_s / 60.0),
                number(celsius(of(Role::Ambient).and_then(|c| c.mean)), 1),
                number(celsius(of(Role::Coolant).and_then(|c| c.max)), 0),
                if s.duplicate {
                    "known already".to_owned()
                } else {
                    format!("{} channels", s.channels.len())
                },
            ]
        })
        .collect();
    let header = ["session", "file", "day", "min", "ambient", "peak", ""];
    let mut text = table(&header, rows)
        + &format!(
            "mean ambient and peak coolant in {}\n",
            units.symbol(Measure::Temperature)
        );
    for aligned in &document.aligned {
        text += &format!(
            "{}: {:+.2} s{}{}\n",
            aligned.file,
            aligned.offset_s,
            aligned
                .drift_ppm
                .map_or_else(String::new, |d| format!(", drift {d:.0} ppm")),
            aligned.correlation.map_or_else(
                || ", by the clocks".to_owned(),
                |c| format!(", by the speed traces (correlation {c:.3})")
            ),
        );
    }
    text + &format!("book: {}\n", dir.display())
}
