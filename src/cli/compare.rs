//! `heatbook compare`: before against after.

use std::path::{Path, PathBuf};

use clap::Args;
use rayon::prelude::*;
use serde::Serialize;
use sha2::{Digest, Sha256};

use super::compare_text::{overview, text};
use super::each::{averaged, ended};
use super::failure::Failure;
use super::fit::{assessments, parts};
use super::output::write_file;
use super::provenance::{Command, provenance};
use super::values::{ambient, change_range, threshold};
use super::{Context, Outcome};
use crate::book::{Book, BookError};
use crate::car::nearest;
use crate::compare::{
    Comparison, Curves, Predicted, Request, SessionRow, compare, in_common, own_fit_fails,
    sensitivity, verdict,
};
use crate::estimate::prepare::STEP_S;
use crate::estimate::{SessionFit, fit_session};
use crate::hex::hex;
use crate::quantity::{Measure, Units};
use crate::report::{SessionPart, comparison_page};
use crate::session::{Grid, Session, SessionMeta};
use crate::warning::Warning;

/// Arguments of `compare`.
#[derive(Debug, Args)]
pub struct Arguments {
    /// The setup before
    #[arg(long, value_name = "SETUP")]
    before: String,
    /// The setup after; given again, each against the one before, their intervals holding together
    #[arg(long, value_name = "SETUP", required = true)]
    after: Vec<String>,
    /// The smallest change that matters, K
    #[arg(long, value_name = "K", default_value_t = 0.5, allow_negative_numbers = true, value_parser = threshold)]
    threshold_k: f64,
    /// Air outside at which both cars are driven, °C [default: the mean of the sessions']
    #[arg(long, value_name = "T", allow_negative_numbers = true, value_parser = ambient)]
    ambient_c: Option<f64>,
    /// Drive both cars through this session's drive (default: the session of median heat input)
    #[arg(long, value_name = "ID")]
    drive: Option<String>,
    /// State how far days scatter, as a standard deviation of coolant in K: counts where no day has
    /// both setups
    #[arg(long, value_name = "K", value_parser = threshold)]
    day_scatter_k: Option<f64>,
    /// Set a predicted change beside the measured one, K, such as -3.1..-0.9; the verdict does not
    /// know it
    #[arg(long, value_name = "LOW..HIGH", allow_hyphen_values = true, value_parser = change_range)]
    predicted_k: Option<(f64, f64)>,
    /// Write the report page
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,
}

/// Several setups, each against the same one.
#[derive(Debug, Serialize)]
struct Several {
    comparisons: Vec<Comparison>,
    warnings: Vec<Warning>,
}

/// Compares setups of the book.
pub fn run(context: &Context, arguments: &Arguments) -> Result<Outcome, Failure> {
    let mut book = context.existing_book()?;
    let metas = book.sessions()?;
    check(arguments, &metas)?;
    let mut requests = Vec::new();
    for after in &arguments.after {
        requests.push(request(&mut book, &metas, arguments, after)?);
    }
    // Channels of sessions that have no say stay on the disk.
    let metas: Vec<SessionMeta> = (metas.iter())
        .filter(|meta| requests.iter().any(|r| r.bears_on(meta, &metas)))
        .cloned()
        .collect();
    let read = averaged(&book, &metas, STEP_S)?;
    let damage = read.warnings(&metas);
    let ended = ended(metas.len(), &damage)?;
    let sessions = read.made;
    in_common(&sessions, &mut requests);
    let mut comparisons = Vec::new();
    for request in &requests {
        let mut comparison = compare(&sessions, request);
        comparison.warnings.splice(0..0, damage.iter().cloned());
        comparison.predicted = arguments
            .predicted_k
            .map(|ends| Predicted::beside(ends, &comparison.coolant_change_k.main));
        if arguments.html.is_some() || context.output.wants_tables() {
            comparison.sensitivity = sensitivity(&sessions, request, &comparison);
        }
        comparisons.push(comparison);
    }
    warn_of_own_fits(&mut book, &metas, &mut comparisons)?;
    if arguments.html.is_some() || context.output.wants_tables() {
        let shown = Shown::of(&sessions, &comparisons);
        show(context, arguments, &requests, &comparisons, &shown)?;
    }
    let mut warnings: Vec<Warning> = Vec::new();
    for warning in comparisons.iter().flat_map(|c| &c.warnings) {
        if !warnings.contains(warning) {
            warnings.push(warning.clone());
        }
    }
    context.output.warnings(&warnings);
    if let [comparison] = &comparisons[..] {
        context
            .output
            .answer(comparison, || text(comparison, context.units))?;
    } else {
        let several = Several {
            comparisons,
            warnings,
        };
        context.output.answer(&several, || {
            let texts = several.comparisons.iter().map(|c| text(c, context.units));
            let all = std::iter::once(overview(&several.comparisons, context.units));
            all.chain(texts).collect::<Vec<_>>().join("\n")
        })?;
    }
    Ok(ended)
}

fn check(arguments: &Arguments, metas: &[SessionMeta]) -> Result<(), Failure> {
    for setup in std::iter::once(&arguments.before).chain(&arguments.after) {
        known_setup(metas, setup)?;
    }
    if arguments.after.contains(&arguments.before) {
        return Err(Failure::new(
            format!("--before and --after are both `{}`", arguments.before),
            "name two setups; a setup against itself stands in every report as placebo",
        ));
    }
    if let Some(id) = &arguments.drive
        && metas.iter().all(|m| m.id != *id)
    {
        return Err(Failure::new(
            format!("--drive: no session `{id}`"),
            "heatbook sessions lists them",
        ));
    }
    Ok(())
}

/// What to compare with one of the setups after.
fn request(
    book: &mut Book,
    metas: &[SessionMeta],
    arguments: &Arguments,
    after: &str,
) -> Result<Request, Failure> {
    let looks = count_look(book, metas, &arguments.before, after)?;
    let planned = book.plan([&arguments.before, after])?;
    Ok(Request {
        threshold_k: arguments.threshold_k,
        ambient_c: arguments.ambient_c,
        drive: arguments.drive.clone(),
        day_scatter_k: arguments.day_scatter_k,
        family: arguments.after.len() as u32,
        looks,
        planned: planned.map(|plan| plan.sessions_per_setup),
        ..Request::of(&arguments.before, after)
    })
}

/// Where the page of one comparison goes: with several setups each has its own.
fn page_path(path: &Path, arguments: &Arguments, after: &str) -> PathBuf {
    if arguments.after.len() == 1 {
        return path.to_owned();
    }
    let stem = path.file_stem().unwrap_or_default().to_string_lossy();
    let plain = |c: char| if c.is_alphanumeric() { c } else { '-' };
    let name: String = after.chars().map(plain).collect();
    path.with_file_name(format!("{stem}-{name}.html"))
}

/// A failure where no session of the book has that setup.
pub fn known_setup(metas: &[SessionMeta], setup: &str) -> Result<(), Failure> {
    if metas.iter().any(|m| m.setup == setup) {
        return Ok(());
    }
    let mut known: Vec<&str> = metas.iter().map(|m| m.setup.as_str()).collect();
    known.sort_unstable();
    known.dedup();
    let hint = match nearest(setup, &known) {
        Some(near) => format!("did you mean `{near}`? The book has: {}", known.join(", ")),
        None if known.is_empty() => {
            "the book is empty: heatbook import FILE... --setup NAME".to_owned()
        }
        None => format!("the book has: {}", known.join(", ")),
    };
    Err(Failure::new(
        format!("no session with setup `{setup}`"),
        hint,
    ))
}

/// Counts this look, unless the same data were looked at before. A book that can only be read
/// still tells how often it was.
fn count_look(
    book: &mut Book,
    metas: &[SessionMeta],
    before: &str,
    after: &str,
) -> Result<u32, Failure> {
    let mut evidence = Sha256::new();
    for meta in metas
        .iter()
        .filter(|m| [before, after].contains(&m.setup.as_str()))
    {
        evidence.update(&meta.sha256);
        evidence.update([u8::from(meta.excluded.is_some())]);
        evidence.update(&meta.setup);
    }
    let evidence = hex(&evidence.finalize());
    match book.count_look(before, after, &evidence) {
        Ok(looks) => Ok(looks),
        Err(BookError::ReadOnly { .. }) => Ok(book.looks(before, after)?.max(1)),
        Err(error) => Err(error.into()),
    }
}

/// Says of each comparison which of its sessions have no fit of their own.
fn warn_of_own_fits(
    book: &mut Book,
    metas: &[SessionMeta],
    comparisons: &mut [Comparison],
) -> Result<(), Failure> {
    let assessed = assessments(book, metas)?;
    for comparison in comparisons {
        let failing: Vec<&str> = (metas.iter().zip(&assessed))
            .filter(|(meta, own)| !own.assessable && is_used(comparison, &meta.id))
            .map(|(meta, _)| meta.id.as_str())
            .collect();
        let warning = own_fit_fails(&failing);
        comparison.warnings.extend(warning);
    }
    Ok(())
}

/// What only the page's charts show of a comparison.
#[derive(Debug, Serialize)]
struct Charts<'a> {
    sessions_used: &'a [SessionRow],
    curves: Option<&'a Curves>,
}

/// The sessions that pages and tables show, each fitted once, among all that were read.
struct Shown<'a> {
    read: &'a [Session],
    sessions: Vec<Session>,
    grids: Vec<Grid>,
    fits: Vec<SessionFit>,
}

impl<'a> Shown<'a> {
    fn of(read: &'a [Session], comparisons: &[Comparison]) -> Self {
        let used = |s: &&Session| comparisons.iter().any(|c| is_used(c, &s.meta.id));
        let sessions: Vec<Session> = read.iter().filter(used).cloned().collect();
        Self {
            read,
            grids: sessions.iter().map(|s| s.grid(STEP_S)).collect(),
            fits: sessions.par_iter().map(fit_session).collect(),
            sessions,
        }
    }

    fn parts(&self) -> Vec<SessionPart<'_>> {
        parts(&self.sessions, &self.grids, &self.fits)
    }
}

/// Writes the pages and tables that were asked for.
fn show(
    context: &Context,
    arguments: &Arguments,
    requests: &[Request],
    comparisons: &[Comparison],
    shown: &Shown,
) -> Result<(), Failure> {
    if let Some(html) = &arguments.html {
        let family = family(html, arguments, comparisons);
        for (request, comparison) in requests.iter().zip(comparisons) {
            let path = page_path(html, arguments, &request.after);
            let command = command(arguments, request).page(true);
            let page = page(comparison, &family, shown, command, context.units)?;
            write_file(&path, &page)?;
            context.output.say(&format!("page: {}", path.display()));
        }
    }
    match context.output.wants_tables() {
        true => traces(context, comparisons, shown),
        false => Ok(()),
    }
}

/// The numbers of the charts, as tables.
fn traces(context: &Context, comparisons: &[Comparison], shown: &Shown) -> Result<(), Failure> {
    if let [comparison] = comparisons {
        context.output.beside(&Charts {
            sessions_used: &comparison.rows,
            curves: comparison.curves.as_ref(),
        })?;
    } else {
        let charts = comparisons.iter().map(|comparison| Charts {
            sessions_used: &comparison.rows,
            curves: comparison.curves.as_ref(),
        });
        context
            .output
            .beside(&serde_json::json!({ "comparisons": charts.collect::<Vec<_>>() }))?;
    }
    context.output.traces(&shown.parts())
}

/// The comparisons with the names of their pages, which lie side by side.
fn family<'a>(
    html: &Path,
    arguments: &Arguments,
    comparisons: &'a [Comparison],
) -> Vec<(&'a Comparison, String)> {
    let name = |after: &str| {
        let path = page_path(html, arguments, after);
        let name = path.file_name().unwrap_or_default();
        name.to_string_lossy().into_owned()
    };
    let pages = comparisons.iter().map(|c| (c, name(&c.after.setup)));
    pages.collect()
}

fn page(
    comparison: &Comparison,
    family: &[(&Comparison, String)],
    shown: &Shown,
    command: Command,
    units: Units,
) -> Result<String, Failure> {
    let mut parts = shown.parts();
    parts.retain(|part| is_used(comparison, &part.meta.id));
    // Sessions of other setups lend their scatter, so the page hangs on all that were read.
    let metas: Vec<&SessionMeta> = shown.read.iter().map(|s| &s.meta).collect();
    let provenance = provenance(command, &metas, settings(comparison, units), units);
    let sentences = verdict::sentences(comparison, units);
    Ok(comparison_page(
        comparison,
        family,
        &parts,
        &provenance,
        None,
        &sentences,
        &[],
    )?)
}

/// The command of one comparison; with several setups they share the level, so all are named.
fn command(arguments: &Arguments, request: &Request) -> Command {
    let mut command = Command::new("compare");
    command.flag("before", Some(&request.before));
    for after in &arguments.after {
        command.flag("after", Some(after));
    }
    command.flag("threshold-k", Some(request.threshold_k));
    command.flag("ambient-c", arguments.ambient_c);
    command.flag("drive", arguments.drive.as_ref());
    command.flag("day-scatter-k", arguments.day_scatter_k);
    let predicted = arguments
        .predicted_k
        .map(|(low, high)| format!("{low}..{high}"));
    command.flag("predicted-k", predicted);
    command
}

/// Whether a session is used in a comparison.
pub fn is_used(comparison: &Comparison, id: &String) -> bool {
    comparison.before.sessions.contains(id) || comparison.after.sessions.contains(id)
}

/// The settings of a comparison, for the page.
pub fn settings(comparison: &Comparison, units: Units) -> Vec<(String, String)> {
    let figure = |measure, value, decimals: usize| {
        let told = units.of(measure, value);
        format!("{told:.decimals$} {}", units.symbol(measure))
    };
    vec![
        (
            "smallest change that matters".to_owned(),
            figure(Measure::Difference, comparison.threshold_k, 2),
        ),
        (
            "reference ambient".to_owned(),
            figure(Measure::Temperature, comparison.reference.ambient_c, 1),
        ),
        (
            "reference drive".to_owned(),
            units.prose(&comparison.reference.drive).into_owned(),
        ),
        (
            "thermostat".to_owned(),
            units.prose(&comparison.reference.thermostat).into_owned(),
        ),
    ]
}
