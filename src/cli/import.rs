//! `heatbook import`: logs into the book.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use chrono::{NaiveDate, NaiveDateTime};
use clap::Args;
use serde::Serialize;

use super::failure::Failure;
use super::fit::assessment;
use super::output::{number, table};
use super::progress::{Interrupt, bar};
use super::reading::Reading;
use super::values::{ambient, date, date_time, setup_name};
use super::{Context, Outcome, sheets};
use crate::book::{Added, Book, BookError};
use crate::ingest::{ReadOptions, read_sessions};
use crate::session::{Aligned, ChannelInfo, Role, Session, SessionMeta};
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
struct Document {
    sessions: Vec<Imported>,
    failed: Vec<Failed>,
    aligned: Vec<Aligned>,
    warnings: Vec<Warning>,
}

#[derive(Debug, Serialize)]
struct Imported {
    id: String,
    file: String,
    setup: String,
    start: Option<NaiveDateTime>,
    day: Option<NaiveDate>,
    duration_s: f64,
    rows_read: usize,
    rows_kept: usize,
    channels: BTreeMap<Role, ChannelInfo>,
    duplicate: bool,
}

#[derive(Debug, Serialize)]
struct Failed {
    file: String,
    message: String,
    hint: String,
}

impl Imported {
    fn new(meta: SessionMeta, duplicate: bool) -> Self {
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
        .map(sheets::setup)
        .transpose()?;
    let dir = context.book_dir()?;
    let mut known = known_sessions(&dir)?;
    // Opened at the first log that can be read: a call that imports nothing makes no book.
    let mut book = None;
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
    for path in &arguments.files {
        if interrupt.pressed() {
            document.failed.push(failed(
                path,
                &Failure::new(
                    format!("{}: not imported: stopped by Ctrl-C", path.display()),
                    "import it again; what was imported before stays",
                ),
            ));
            continue;
        }
        match import_one(&mut book, &mut known, &dir, path, &options, &mut document) {
            Ok(()) => {}
            Err(failure) => {
                // The failure of a lone file ends the verb, and is told there.
                if arguments.files.len() > 1 {
                    bar.suspend(|| context.output.complaint(&failure));
                }
                document.failed.push(failed(path, &failure));
            }
        }
        bar.inc(1);
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
    context.output.answer(&document, || text(&document, &dir))?;
    Ok(if document.failed.is_empty() {
        Outcome::Done
    } else {
        Outcome::Partly
    })
}

/// What the book holds so far; nothing where there is none yet.
fn known_sessions(dir: &Path) -> Result<Vec<SessionMeta>, Failure> {
    match Book::open_read_only(dir) {
        Ok(book) => Ok(book.sessions()?),
        Err(BookError::NoBook { .. }) => Ok(Vec::new()),
        Err(error) => Err(error.into()),
    }
}

fn one_file_for_its_flags(arguments: &Arguments) -> Result<(), Failure> {
    let flag = match (arguments.start, arguments.day, arguments.with.is_empty()) {
        (Some(_), _, _) => "--start",
        (_, Some(_), _) => "--day",
        (_, _, false) => "--with",
        _ => return Ok(()),
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

fn import_one(
    book: &mut Option<Book>,
    known: &mut Vec<SessionMeta>,
    dir: &Path,
    path: &Path,
    options: &ReadOptions,
    document: &mut Document,
) -> Result<(), Failure> {
    for session in read_sessions(path, options)? {
        let book = match book {
            Some(book) => book,
            None => book.insert(Book::open(dir)?),
        };
        add(book, known, path, session, options, document)?;
    }
    Ok(())
}

/// Adds one session to the book, with what is to be said of it.
fn add(
    book: &mut Book,
    known: &mut Vec<SessionMeta>,
    path: &Path,
    session: Session,
    options: &ReadOptions,
    document: &mut Document,
) -> Result<(), Failure> {
    let (warnings, aligned) = (session.meta.warnings.clone(), session.meta.aligned.clone());
    match book.add(session)? {
        Added::New(meta) => {
            let twin = known.iter().find(|other| {
                (&other.file, other.rows_read) == (&meta.file, meta.rows_read)
                    && (other.duration_s - meta.duration_s).abs() < 1e-3
            });
            if let Some(twin) = twin {
                document.warnings.push(Warning::caution(
                    "same-log-twice",
                    format!(
                        "{0} looks like the log of {1} (same name, rows and length): one drive must not count twice, so exclude one: heatbook amend {0} --exclude \"as {1}\"",
                        meta.id, twin.id
                    ),
                ));
            }
            known.push(meta.clone());
            let named = |mut warning: Warning| {
                warning.message = format!("{}: {}", meta.id, warning.message);
                warning
            };
            document.warnings.extend(warnings.into_iter().map(named));
            document.aligned.extend(aligned);
            // The listing wants to know at once whether the session says anything.
            assessment(book, &meta)?;
            document.sessions.push(Imported::new(meta, false));
        }
        Added::Duplicate(meta) => {
            document.warnings.push(Warning::note(
                "duplicate",
                format!("{} is in the book already, as {}", path.display(), meta.id),
            ));
            if let Some(flags) = dropped_flags(options) {
                document.warnings.push(Warning::caution(
                    "duplicate-flags-unused",
                    format!(
                        "{}: {flags} had no effect on what is in the book; heatbook amend corrects day, start and sheets, and a new book takes the rest",
                        meta.id
                    ),
                ));
            }
            if meta.setup != options.setup {
                document.warnings.push(Warning::caution(
                    "duplicate-other-setup",
                    format!(
                        "{0} stays with setup `{1}`; if it was run with `{2}`: heatbook amend {0} --setup {2}",
                        meta.id, meta.setup, options.setup
                    ),
                ));
            }
            document.sessions.push(Imported::new(meta, true));
        }
    }
    Ok(())
}

/// Flags that a log already in the book cannot take any more.
fn dropped_flags(options: &ReadOptions) -> Option<String> {
    let given = [
        ("--map", !options.maps.is_empty()),
        ("--profile", !options.profile_maps.is_empty()),
        ("--start", options.start.is_some()),
        ("--day", options.day.is_some()),
        ("--ambient-c", options.ambient_c.is_some()),
        ("--driver", options.driver.is_some()),
        ("--note", options.note.is_some()),
    ];
    let flags: Vec<&str> = given.iter().filter(|g| g.1).map(|g| g.0).collect();
    (!flags.is_empty()).then(|| flags.join(", "))
}

fn failed(path: &Path, failure: &Failure) -> Failed {
    Failed {
        file: path.display().to_string(),
        message: failure.message.clone(),
        hint: failure.hint.clone(),
    }
}

fn text(document: &Document, dir: &Path) -> String {
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
                number(of(Role::Ambient).and_then(|c| c.mean), 1),
                number(of(Role::Coolant).and_then(|c| c.max), 0),
                if s.duplicate {
                    "known already".to_owned()
                } else {
                    format!("{} channels", s.channels.len())
                },
            ]
        })
        .collect();
    let header = ["session", "file", "day", "min", "ambient", "peak", ""];
    let mut text = table(&header, rows) + "mean ambient and peak coolant in °C\n";
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
