//! `heatbook demo`: the whole job on the sample logs, which are part of the program.

use std::path::PathBuf;

use chrono::NaiveDate;
use clap::Args;
use include_dir::{Dir, include_dir};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::compare::settings;
use super::failure::Failure;
use super::fit::parts;
use super::output::{wrapped, write_file};
use super::plan::summary;
use super::progress::bar;
use super::provenance::{Command, provenance};
use super::stack::{radiator_of_fits, summary as stack_summary};
use super::{Context, Outcome};
use crate::book::{Added, Book};
use crate::car::{CarSheet, SetupSheet};
use crate::compare::{BookScatter, Comparison, Predicted, Request, compare, sensitivity, verdict};
use crate::estimate::prepare::STEP_S;
use crate::estimate::{SessionFit, fit_session};
use crate::ingest::{ReadOptions, read_session_bytes};
use crate::limits::{self, HotDay, LimitRequest, LimitsAnswer, judge};
use crate::plan::{self, Plan};
use crate::quantity::{Measure, Units};
use crate::report::{
    Measured, Truth, comparison_page, limits_page, plan_page, season_page, sessions_page,
    stack_page,
};
use crate::season::{SeasonAnswer, season};
use crate::session::{Grid, Role, Session, SessionMeta};
use crate::stack::{Prediction, Stack, boils_c, predict};
use crate::stats::Estimate;
use crate::warning::Warning;

static SAMPLE_LOGS: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/sample_logs");

const BEFORE: &str = "open-ducts";
const AFTER: &str = "sealed-ducts";
const STACK: &str = "stack.toml";

/// The hot day that the limits page asks for.
const HOT_DAY_C: f64 = 38.0;
const HOT_DAY_LAPS: u32 = 6;

/// What a car ahead takes of the air's speed there.
const WAKE_PERCENT: f64 = 20.0;

/// Arguments of `demo`.
#[derive(Debug, Args)]
pub struct Arguments {
    /// Folder for the pages
    #[arg(long, value_name = "DIR", default_value = "reports/demo")]
    out: PathBuf,
}

/// `index.toml` of the sample logs.
#[derive(Debug, Deserialize)]
struct Index {
    session: Vec<Entry>,
}

#[derive(Debug, Deserialize)]
struct Entry {
    file: String,
    setup: String,
    day: Option<NaiveDate>,
    #[serde(default)]
    with: Vec<String>,
}

/// `truth.toml` of the sample logs.
#[derive(Debug, Deserialize)]
struct SimulatedTruth {
    seed: u64,
    reference_ambient_c: f64,
    mean_change_k: f64,
}

#[derive(Debug, Serialize)]
struct Document {
    pages: Vec<String>,
    verdict: crate::compare::Verdict,
    sentences: String,
    coolant_change_k: crate::compare::Effect,
    true_coolant_change_k: f64,
    predicted_coolant_change_k: Estimate,
    warnings: Vec<Warning>,
}

/// Everything the pages show.
struct Results {
    sessions: Vec<Session>,
    fits: Vec<SessionFit>,
    comparison: Comparison,
    limits: LimitsAnswer,
    season: SeasonAnswer,
    plan: Plan,
    prediction: Prediction,
    truth: SimulatedTruth,
}

/// Runs the demo and writes its pages.
pub fn run(context: &Context, arguments: &Arguments) -> Result<Outcome, Failure> {
    let results = results()?;
    let pages = pages(&results, context.units)?;
    let mut written = Vec::new();
    for (name, html) in &pages {
        let path = arguments.out.join(name);
        write_file(&path, html)?;
        written.push(path.display().to_string());
    }
    let document = Document {
        pages: written,
        verdict: results.comparison.verdict,
        sentences: verdict::sentences(&results.comparison, Units::Metric),
        coolant_change_k: results.comparison.coolant_change_k.clone(),
        true_coolant_change_k: results.truth.mean_change_k,
        predicted_coolant_change_k: predicted_change(&results.prediction),
        warnings: results.comparison.warnings.clone(),
    };
    let sentences = verdict::sentences(&results.comparison, context.units);
    context
        .output
        .answer(&document, || text(&document, &sentences, context.units))?;
    Ok(Outcome::Done)
}

fn text(document: &Document, sentences: &str, units: Units) -> String {
    let told = |k: f64| units.of(Measure::Difference, k);
    let unit = units.symbol(Measure::Difference);
    let truth = document.true_coolant_change_k;
    let place = document.coolant_change_k.main.place_of(truth);
    let answer = format!("{}: {}", document.verdict.label().to_uppercase(), sentences);
    let predicted = match &document.predicted_coolant_change_k {
        Estimate::Known(i) => format!(
            "Computed from the stack before the test: {:+.2} {unit} ({:+.2} to {:+.2}).",
            told(i.estimate),
            told(i.low),
            told(i.high)
        ),
        Estimate::Unknown { why } => {
            format!("Computed from the stack before the test: unknown, {why}.")
        }
    };
    format!(
        "{}\n\nThe logs are simulated; the true change is {:+.2} {unit}, {place}.\n{predicted}\n\npages:\n  {}\n",
        wrapped(&answer),
        told(truth),
        document.pages.join("\n  "),
    )
}

fn results() -> Result<Results, Failure> {
    let folder = tempfile::tempdir()
        .map_err(|e| Failure::new(format!("no temporary folder: {e}"), "is the disk full?"))?;
    let mut book = Book::open(folder.path())?;
    let index: Index = sheet("index.toml")?;
    let truth: SimulatedTruth = sheet("truth.toml")?;
    let bar = bar(index.session.len(), "sample logs");
    let mut sessions = Vec::new();
    for entry in &index.session {
        sessions.push(import(&mut book, entry)?);
        bar.inc(1);
    }
    bar.finish_and_clear();
    let fits: Vec<SessionFit> = sessions.par_iter().map(fit_session).collect();
    let prediction = prediction(&sessions, &fits)?;
    let looks = book.count_look(BEFORE, AFTER, "demo")?;
    let request = Request {
        ambient_c: Some(truth.reference_ambient_c),
        looks,
        ..Request::of(BEFORE, AFTER)
    };
    let asked = LimitRequest {
        channel: Role::Coolant,
        limit_c: None,
        margin_k: None,
        hot_day: HotDay {
            ambient_c: Some(HOT_DAY_C),
            laps: Some(HOT_DAY_LAPS),
            start_c: None,
            wake_percent: Some(WAKE_PERCENT),
        },
    };
    let judged = sessions.iter().map(|s| judge(s, &asked)).collect();
    let metas: Vec<SessionMeta> = sessions.iter().map(|s| s.meta.clone()).collect();
    let limits = limits::gathered(judged, &metas, &asked);
    let asked = plan::Request {
        before: BEFORE.to_owned(),
        after: AFTER.to_owned(),
        effect_k: 0.5,
        threshold_k: 0.5,
        sessions_per_day: 4,
        days: None,
        one_setup_a_day: false,
    };
    let mut comparison = compare(&sessions, &request);
    comparison.sensitivity = sensitivity(&sessions, &request, &comparison);
    let predicted = predicted_change(&prediction);
    let ends = predicted.known().map(|i| (i.low, i.high));
    comparison.predicted =
        ends.map(|ends| Predicted::beside(ends, &comparison.coolant_change_k.main));
    Ok(Results {
        prediction,
        plan: plan::plan(&asked, &BookScatter::of(&sessions, BEFORE)),
        comparison,
        season: season(&sessions),
        sessions,
        fits,
        limits,
        truth,
    })
}

/// The stack of the car, its radiator's conductance from the sessions before the part.
fn prediction(sessions: &[Session], fits: &[SessionFit]) -> Result<Prediction, Failure> {
    let car = CarSheet::from_toml(utf8("car.toml")?, "car.toml")?;
    let mut stack = Stack::from_toml(utf8(STACK)?, STACK, &car)?;
    let before = || {
        sessions
            .iter()
            .zip(fits)
            .filter(|(s, _)| s.meta.setup == BEFORE)
    };
    let metas: Vec<SessionMeta> = before().map(|(s, _)| s.meta.clone()).collect();
    let effective: Vec<Estimate> = before()
        .map(|(_, fit)| fit.ua_w_per_k.value.clone())
        .collect();
    let from = radiator_of_fits(BEFORE, &metas, &effective, &mut stack);
    let mut prediction = predict(&stack, None, car.thermostat_full_open_c);
    prediction.boils_c = boils_c(&stack, &car);
    prediction.radiator_ua_from = Some(from);
    Ok(prediction)
}

/// What sealing the ducts should change.
fn predicted_change(prediction: &Prediction) -> Estimate {
    let change = prediction.changes.iter().find(|c| c.what_if == AFTER);
    change.map_or_else(
        || Estimate::unknown("the stack sheet has no such what-if"),
        |c| c.coolant_change_k.clone(),
    )
}

/// One sample session through the same doors as a user's: reader, then book.
fn import(book: &mut Book, entry: &Entry) -> Result<Session, Failure> {
    let with: Vec<(&str, &[u8])> = entry
        .with
        .iter()
        .map(|name| Ok((name.as_str(), bytes(name)?)))
        .collect::<Result<_, Failure>>()?;
    let setup_sheet = format!("setup_{}.toml", entry.setup);
    let options = ReadOptions {
        setup: entry.setup.clone(),
        car: CarSheet::from_toml(utf8("car.toml")?, "car.toml")?,
        setup_sheet: SetupSheet::from_toml(utf8(&setup_sheet)?, &setup_sheet)?,
        day: entry.day,
        ..ReadOptions::default()
    };
    let session = read_session_bytes(&entry.file, bytes(&entry.file)?, &with, &options)?;
    match book.add(session)? {
        Added::New(meta) | Added::Duplicate(meta) => Ok(book.session(&meta.id)?),
    }
}

fn pages(results: &Results, units: Units) -> Result<Vec<(&'static str, String)>, Failure> {
    const COMPARISON: (&str, &str) = ("Comparison", "comparison.html");
    const SESSIONS: (&str, &str) = ("Sessions", "sessions.html");
    const LIMITS: (&str, &str) = ("Limits", "limits.html");
    const PLAN: (&str, &str) = ("A planned test", "plan.html");
    const SEASON: (&str, &str) = ("Season", "season.html");
    const STACK: (&str, &str) = ("The stack, computed", "stack.html");
    let grids: Vec<Grid> = results.sessions.iter().map(|s| s.grid(STEP_S)).collect();
    let parts = parts(&results.sessions, &grids, &results.fits);
    let metas: Vec<SessionMeta> = results.sessions.iter().map(|s| s.meta.clone()).collect();
    let mut provenance = provenance(
        Command::new("demo"),
        &metas.iter().collect::<Vec<_>>(),
        settings(&results.comparison, units),
        units,
    );
    provenance.seed = Some(results.truth.seed);
    let truth = Truth {
        coolant_change_k: results.truth.mean_change_k,
        how: "The simulator, run with both cars without wind, scatter or sensors".to_owned(),
    };
    let sentences = verdict::sentences(&results.comparison, units);
    let measured = Measured {
        what_if: AFTER.to_owned(),
        coolant_change_k: results.comparison.coolant_change_k.main.clone(),
    };
    Ok(vec![
        (
            COMPARISON.1,
            comparison_page(
                &results.comparison,
                &[],
                &parts,
                &provenance,
                Some(&truth),
                &sentences,
                &[SESSIONS, LIMITS, SEASON, PLAN, STACK],
            )?,
        ),
        (
            SESSIONS.1,
            sessions_page(
                &parts,
                &provenance,
                &[COMPARISON, LIMITS, SEASON, PLAN, STACK],
            )?,
        ),
        (
            LIMITS.1,
            limits_page(
                &results.limits,
                &metas,
                &provenance,
                &[COMPARISON, SESSIONS, SEASON, PLAN, STACK],
            )?,
        ),
        (
            SEASON.1,
            season_page(
                &results.season,
                &provenance,
                &[COMPARISON, SESSIONS, LIMITS, PLAN, STACK],
            )?,
        ),
        (
            PLAN.1,
            plan_page(
                &results.plan,
                &summary(&results.plan, units),
                &provenance,
                &[COMPARISON, SESSIONS, LIMITS, SEASON, STACK],
            )?,
        ),
        (
            STACK.1,
            stack_page(
                &results.prediction,
                &stack_summary(&results.prediction, units),
                Some(&measured),
                &provenance,
                &[COMPARISON, SESSIONS, LIMITS, SEASON, PLAN],
            )?,
        ),
    ])
}

fn bytes(name: &str) -> Result<&'static [u8], Failure> {
    SAMPLE_LOGS
        .get_file(name)
        .map(include_dir::File::contents)
        .ok_or_else(|| {
            Failure::new(
                format!("sample log {name} is not part of this program"),
                "this is a defect of the program: please report it",
            )
        })
}

fn utf8(name: &str) -> Result<&'static str, Failure> {
    std::str::from_utf8(bytes(name)?)
        .map_err(|e| Failure::new(format!("sample file {name}: {e}"), "please report it"))
}

fn sheet<T: serde::de::DeserializeOwned>(name: &str) -> Result<T, Failure> {
    toml::from_str(utf8(name)?)
        .map_err(|e| Failure::new(format!("sample file {name}: {e}"), "please report it"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_sample_log_imports_and_can_be_assessed() {
        let results = results().unwrap();
        assert_eq!(results.sessions.len(), 8);
        for fit in &results.fits {
            assert!(fit.assessable, "{}: {:?}", fit.id, fit.why);
        }
    }
}
