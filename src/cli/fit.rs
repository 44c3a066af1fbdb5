//! `heatbook fit`: the thermal model of sessions.

use std::path::PathBuf;

use clap::Args;

use super::failure::Failure;
use super::output::{figure, number, table, write_file};
use super::progress::bar;
use super::provenance::provenance;
use super::{Context, Outcome};
use crate::book::{Book, BookError, fit_key};
use crate::estimate::prepare::STEP_S;
use crate::estimate::{FitAnswer, SessionFit, fit_session};
use crate::report::{SessionPart, sessions_page};
use crate::session::{Grid, Session, SessionMeta};
use crate::stats::Estimate;

/// Arguments of `fit`.
#[derive(Debug, Args)]
pub struct Arguments {
    /// Sessions to fit [default: all]
    #[arg(value_name = "ID")]
    ids: Vec<String>,
    /// Write a page with each session's channels, regimes and fit
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,
}

/// Settings that a cached fit depends on; there are none to set yet.
const SETTINGS: &str = "";

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
    let kept = book.cached_fit(&meta.id, &fit_key(meta, SETTINGS))?;
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
    match book.keep_fit(&meta.id, &fit_key(meta, SETTINGS), &json) {
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
    let mut fits = Vec::new();
    let mut shown = Vec::new();
    for id in &ids {
        let session = book.session(id)?;
        let fit = fit_session(&session);
        keep(&mut book, &session.meta, &fit)?;
        if arguments.html.is_some() {
            shown.push(session);
        }
        fits.push(fit);
        bar.inc(1);
    }
    bar.finish_and_clear();
    let answer = FitAnswer::new(fits);
    if let Some(path) = &arguments.html {
        write_file(path, &page(&shown, &answer)?)?;
        context.output.say(&format!("page: {}", path.display()));
    }
    context.output.warnings(&answer.warnings);
    context.output.answer(&answer, || text(&answer))?;
    Ok(Outcome::Done)
}

fn page(sessions: &[Session], answer: &FitAnswer) -> Result<String, Failure> {
    let grids: Vec<Grid> = sessions.iter().map(|s| s.grid(STEP_S)).collect();
    let parts = parts(sessions, &grids, &answer.sessions);
    let metas: Vec<&SessionMeta> = sessions.iter().map(|s| &s.meta).collect();
    Ok(sessions_page(
        &parts,
        &provenance("heatbook fit", &metas, Vec::new()),
        &[],
    )?)
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

fn text(answer: &FitAnswer) -> String {
    let rows = answer
        .sessions
        .iter()
        .map(|s| {
            vec![
                s.id.clone(),
                format!("{:.0}", s.open_s),
                figure(&s.ua_w_per_k.value, 0),
                s.ua_relative.known().map_or_else(
                    || "-".to_owned(),
                    |i| format!("±{:.1} %", 100.0 * i.half_width()),
                ),
                figure(&s.limiting_ambient_c, 0),
                number(s.residual.sd_k, 1),
            ]
        })
        .collect();
    let header = [
        "session",
        "open, s",
        "UA, W/K",
        "UA relative",
        "limiting ambient, °C",
        "residual, K",
    ];
    let mut text = table(&header, rows);
    if let Some(fit) = answer.sessions.first() {
        text += &format!(
            "UA at {:.0} km/h and {:.3} kg/m³; intervals 95 %. Relative: what a comparison feels.\n",
            fit.ua_w_per_k.at_speed_kmh, fit.ua_w_per_k.at_air_density_kg_m3
        );
    }
    for fit in &answer.sessions {
        text += &other_temperatures(fit);
    }
    for fit in answer.sessions.iter().filter(|f| !f.assessable) {
        text += &format!(
            "{} is not assessable: {}",
            fit.id,
            fit.why.as_deref().unwrap_or("no reason")
        );
        if let Some(bound) = fit.ua_lower_bound_w_per_k.known() {
            text += &format!(
                "; UA is at least {:.0} W/K ({:.0} to {:.0})",
                bound.estimate, bound.low, bound.high
            );
        }
        text += "\n";
    }
    text
}

/// What radiator outlet, oil and charge air tell, one line where any is logged.
fn other_temperatures(fit: &SessionFit) -> String {
    let mut parts = Vec::new();
    if let Some(outlet) = fit.outlet.seen() {
        let percent = |e: &Estimate| {
            e.known().map_or_else(
                || "-".to_owned(),
                |i| format!("±{:.1} %", 100.0 * i.half_width()),
            )
        };
        parts.push(format!(
            "radiator effectiveness {}, relative {} (UA: {}), return {} °C",
            figure(&outlet.effectiveness.value, 3),
            percent(&outlet.effectiveness_relative),
            percent(&fit.ua_relative),
            figure(&outlet.return_c, 1)
        ));
    }
    if let Some(oil) = fit.oil.seen() {
        parts.push(format!("oil settles at {} °C", figure(&oil.settled_c, 0)));
    }
    if let Some(charge) = fit.charge_air.seen() {
        parts.push(format!(
            "charge-air cooler effectiveness {}",
            figure(&charge.effectiveness, 2)
        ));
    }
    if parts.is_empty() {
        return String::new();
    }
    format!("{}: {}\n", fit.id, parts.join("; "))
}
