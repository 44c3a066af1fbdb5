//! `heatbook fit`: the thermal model of sessions.

use std::path::PathBuf;

use clap::{Args, value_parser};
use serde::{Deserialize, Serialize};

use super::each::{self, Each, averaged, named};
use super::failure::Failure;
use super::fit_text::text;
use super::kept;
use super::output::write_file;
use super::progress::bar;
use super::provenance::{Command, provenance};
use super::{Context, Outcome};
use crate::book::Book;
use crate::estimate::prepare::STEP_S;
use crate::estimate::self_check::Plan;
use crate::estimate::{FitAnswer, SessionFit, Trace, fit_and_check};
use crate::quantity::Units;
use crate::report::{SessionPart, sessions_page};
use crate::session::{Grid, Session, SessionMeta};
use crate::warning::Warning;

/// Arguments of `fit`.
#[derive(Debug, Args)]
pub struct Arguments {
    /// Sessions to fit [default: all]
    #[arg(value_name = "ID")]
    ids: Vec<String>,
    /// Write a page with each session's channels, regimes and fit
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,
    /// Fit again what was fitted before with the same log, sheets and program
    #[arg(long)]
    afresh: bool,
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

/// Fits that are made before they are kept: all or none of so many are lost when it is stopped.
const KEPT_AT_ONCE: usize = 64;

/// A fit as it is kept in the book; its warnings are no part of a fit's own document.
#[derive(Serialize, Deserialize)]
struct Kept<F, W = Vec<Warning>> {
    fit: F,
    warnings: W,
}

/// Whether a session says what the radiator can do, and if not, why.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
pub struct Assessment {
    /// Whether it does.
    pub assessable: bool,
    /// Why not.
    pub why: Option<String>,
}

/// The assessments of sessions, from their kept fits or from new ones, which are then kept.
pub fn assessments(book: &mut Book, metas: &[SessionMeta]) -> Result<Vec<Assessment>, Failure> {
    let kept = kept::answers::<Kept<Assessment>>(book, metas, MODEL)?;
    let missing: Vec<SessionMeta> = (metas.iter().zip(&kept))
        .filter(|(_, kept)| kept.is_none())
        .map(|(meta, _)| meta.clone())
        .collect();
    let mut fitted = Vec::new();
    for some in missing.chunks(KEPT_AT_ONCE) {
        let fits = fits(book, some, None, || ())?;
        fitted.extend(fits.made.into_iter().map(|fit| Assessment {
            assessable: fit.assessable,
            why: fit.why,
        }));
    }
    let mut fitted = fitted.into_iter();
    let known = kept.into_iter().map(|kept| match kept {
        Some(kept) => Some(kept.fit),
        None => fitted.next(),
    });
    Ok(known.flatten().collect())
}

/// Fits sessions on all cores, and keeps the fits that no plan to check them has a part in. A
/// session whose channels are damaged is declined, and nothing is kept of it.
fn fits(
    book: &mut Book,
    metas: &[SessionMeta],
    plan: Option<Plan>,
    done: impl Fn() + Sync,
) -> Result<Each<SessionFit>, Failure> {
    let mut fitted = each::each(book, metas, |session| {
        let fit = fit_and_check(&session, plan);
        done();
        fit
    })?;
    for (i, why) in &fitted.damaged {
        fitted.made[*i].why = Some(why.clone());
    }
    if plan.is_none() {
        keep(book, fitted.whole(metas))?;
    }
    Ok(fitted)
}

/// Keeps fits in the book.
pub fn keep<'a>(
    book: &mut Book,
    fits: impl Iterator<Item = (&'a SessionMeta, &'a SessionFit)>,
) -> Result<(), Failure> {
    let whole = fits.map(|(meta, fit)| {
        let warnings = &fit.warnings;
        (meta, Kept { fit, warnings })
    });
    kept::keep(book, MODEL, whole)
}

/// Fits the sessions named, or all.
pub fn run(context: &Context, arguments: &Arguments) -> Result<Outcome, Failure> {
    let mut book = context.existing_book()?;
    let metas = named(&book, &arguments.ids)?;
    let plan = arguments.plan();
    // A kept fit has no course to draw, and none of the logs that a check draws.
    let drawn = arguments.html.is_some() || context.output.wants_tables();
    let kept = if plan.is_some() || drawn || arguments.afresh {
        metas.iter().map(|_| None).collect()
    } else {
        kept::answers::<Kept<SessionFit>>(&book, &metas, MODEL)?
    };
    let bar = bar(metas.len(), "fitting");
    let mut answer = Vec::with_capacity(metas.len());
    let mut damage = Vec::new();
    let mut kept = kept.into_iter();
    for some in metas.chunks(KEPT_AT_ONCE) {
        let known: Vec<_> = kept.by_ref().take(some.len()).collect();
        let missing: Vec<SessionMeta> = (some.iter().zip(&known))
            .filter(|(_, known)| known.is_none())
            .map(|(meta, _)| meta.clone())
            .collect();
        bar.inc((some.len() - missing.len()) as u64);
        let fitted = fits(&mut book, &missing, plan, || bar.inc(1))?;
        damage.extend(fitted.warnings(&missing));
        let mut fitted = fitted.made.into_iter();
        answer.extend(known.into_iter().filter_map(|known| match known {
            Some(Kept { fit, warnings }) => Some(SessionFit { warnings, ..fit }),
            // Courses are for the page and the tables alone, and many.
            None if !drawn => fitted.next().map(|fit| SessionFit {
                trace: Trace::default(),
                ..fit
            }),
            None => fitted.next(),
        }));
    }
    bar.finish_and_clear();
    let ended = each::ended(metas.len(), &damage)?;
    let mut answer = FitAnswer::new(answer);
    answer.warnings.splice(0..0, damage);
    if drawn {
        let shown = averaged(&book, &metas, STEP_S)?.made;
        let grids: Vec<Grid> = shown.iter().map(|s| s.grid(STEP_S)).collect();
        let parts = parts(&shown, &grids, &answer.sessions);
        context.output.traces(&parts)?;
        if let Some(path) = &arguments.html {
            write_file(path, &page(&parts, arguments, context.units)?)?;
            context.output.say(&format!("page: {}", path.display()));
        }
    }
    context.output.warnings(&answer.warnings);
    context
        .output
        .answer(&answer, || text(&answer, context.units))?;
    let mut checks = answer.sessions.iter().filter_map(|s| s.self_check.as_ref());
    Ok(match checks.any(|check| !check.passed) {
        true => Outcome::Partly,
        false => ended,
    })
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
    let command = command.page(true);
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
