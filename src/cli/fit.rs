//! `heatbook fit`: the thermal model of sessions.

use std::path::PathBuf;

use clap::{Args, value_parser};
use rayon::prelude::*;

use super::failure::Failure;
use super::fit_text::text;
use super::output::write_file;
use super::progress::bar;
use super::provenance::{Command, provenance};
use super::{Context, Outcome};
use crate::book::{Book, BookError, fit_key};
use crate::estimate::prepare::STEP_S;
use crate::estimate::self_check::Plan;
use crate::estimate::{FitAnswer, SessionFit, fit_and_check, fit_session};
use crate::quantity::Units;
use crate::report::{SessionPart, sessions_page};
use crate::session::{Grid, Session, SessionMeta};

/// Arguments of `fit`.
#[derive(Debug, Args)]
pub struct Arguments {
    /// Sessions to fit [default: all]
    #[arg(value_name = "ID")]
    ids: Vec<String>,
    /// Write a page with each session's channels, regimes and fit
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,
    /// Draw so many logs from each fitted model, fit them too, and say whether the fit finds again
    /// what was put in (100 take some seconds a session)
    #[arg(long, value_name = "LOGS", value_parser = value_parser!(u16).range(2..=10_000))]
    self_check: Option<u16>,
    /// Seed of the first of those logs
    #[arg(
        long,
        value_name = "NUMBER",
        default_value_t = 1,
        requires = "self_check"
    )]
    seed: u64,
}

impl Arguments {
    fn plan(&self) -> Option<Plan> {
        self.self_check.map(|logs| Plan {
            logs: usize::from(logs),
            seed: self.seed,
        })
    }
}

/// The model that kept fits are of; another model keeps others.
const MODEL: &str = "thermal state 1";

/// Sessions held in memory at a time.
const AT_A_TIME: usize = 16;

/// Whether a session says what the radiator can do, and if not, why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Assessment {
    /// Whether it does.
    pub assessable: bool,
    /// Why not.
    pub why: Option<String>,
}

/// The assessment of a session, from its kept fit or from a new one, which is then kept.
pub fn assessment(book: &mut Book, meta: &SessionMeta) -> Result<Assessment, Failure> {
    let kept = book.cached_fit(&meta.id, &fit_key(meta, MODEL))?;
    if let Some(kept) = kept.as_deref().and_then(of_kept) {
        return Ok(kept);
    }
    let fit = fit_session(&book.session(&meta.id)?);
    keep(book, meta, &fit)?;
    Ok(Assessment {
        assessable: fit.assessable,
        why: fit.why,
    })
}

/// Fits sessions that are new in the book, on all cores, and keeps the fits.
pub fn assess_new(book: &mut Book, sessions: &[Session]) -> Result<(), Failure> {
    let fits: Vec<SessionFit> = sessions.par_iter().map(fit_session).collect();
    for (session, fit) in sessions.iter().zip(&fits) {
        keep(book, &session.meta, fit)?;
    }
    Ok(())
}

fn of_kept(json: &str) -> Option<Assessment> {
    let value: serde_json::Value = serde_json::from_str(json).ok()?;
    Some(Assessment {
        assessable: value.get("assessable")?.as_bool()?,
        why: value.get("why")?.as_str().map(str::to_owned),
    })
}

/// Keeps a fit in the book; a book that can only be read goes without.
fn keep(book: &mut Book, meta: &SessionMeta, fit: &SessionFit) -> Result<(), Failure> {
    let json = serde_json::to_string(fit).map_err(|e| {
        Failure::new(
            format!("a fit cannot be kept: {e}"),
            "this is a defect of the program: please report it",
        )
    })?;
    match book.keep_fit(&meta.id, &fit_key(meta, MODEL), &json) {
        Ok(()) | Err(BookError::ReadOnly { .. }) => Ok(()),
        Err(error) => Err(error.into()),
    }
}

/// Fits the sessions named, or all.
pub fn run(context: &Context, arguments: &Arguments) -> Result<Outcome, Failure> {
    let mut book = context.existing_book()?;
    let ids: Vec<String> = if arguments.ids.is_empty() {
        book.sessions()?.into_iter().map(|s| s.id).collect()
    } else {
        arguments.ids.clone()
    };
    let bar = bar(ids.len(), "fitting");
    let plan = arguments.plan();
    let mut fits = Vec::new();
    let mut shown = Vec::new();
    for some in ids.chunks(AT_A_TIME) {
        let sessions: Vec<Session> = some
            .iter()
            .map(|id| book.session(id))
            .collect::<Result<_, _>>()?;
        let fitted: Vec<SessionFit> = sessions
            .par_iter()
            .map(|session| {
                let fit = fit_and_check(session, plan);
                bar.inc(1);
                fit
            })
            .collect();
        for (session, fit) in sessions.into_iter().zip(fitted) {
            keep(&mut book, &session.meta, &fit)?;
            fits.push(fit);
            if arguments.html.is_some() || context.output.wants_tables() {
                shown.push(session);
            }
        }
    }
    bar.finish_and_clear();
    let answer = FitAnswer::new(fits);
    let grids: Vec<Grid> = shown.iter().map(|s| s.grid(STEP_S)).collect();
    let parts = parts(&shown, &grids, &answer.sessions);
    context.output.traces(&parts)?;
    if let Some(path) = &arguments.html {
        write_file(path, &page(&parts, arguments, context.units)?)?;
        context.output.say(&format!("page: {}", path.display()));
    }
    context.output.warnings(&answer.warnings);
    context
        .output
        .answer(&answer, || text(&answer, context.units))?;
    Ok(Outcome::Done)
}

fn page(parts: &[SessionPart<'_>], arguments: &Arguments, units: Units) -> Result<String, Failure> {
    let metas: Vec<&SessionMeta> = parts.iter().map(|part| part.meta).collect();
    let mut command = Command::new("fit");
    command.values(&arguments.ids);
    let plan = arguments.plan();
    if let Some(plan) = plan {
        command.flag("self-check", Some(plan.logs));
        command.flag("seed", Some(plan.seed));
    }
    let mut provenance = provenance(command, &metas, Vec::new(), units);
    provenance.seed = plan.map(|plan| plan.seed);
    Ok(sessions_page(parts, &provenance, &[])?)
}

/// What the pages show of each session.
pub fn parts<'a>(
    sessions: &'a [Session],
    grids: &'a [Grid],
    fits: &'a [SessionFit],
) -> Vec<SessionPart<'a>> {
    sessions
        .iter()
        .zip(grids)
        .zip(fits)
        .map(|((session, grid), fit)| SessionPart {
            meta: &session.meta,
            grid,
            fit,
        })
        .collect()
}
