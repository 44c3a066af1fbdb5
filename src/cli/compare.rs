//! `heatbook compare`: before against after.

use std::path::PathBuf;

use clap::Args;
use sha2::{Digest, Sha256};

use super::failure::Failure;
use super::fit::parts;
use super::output::{count, table, write_file};
use super::provenance::provenance;
use super::values::ambient;
use super::{Context, Outcome};
use crate::book::{Book, BookError};
use crate::car::nearest;
use crate::compare::{Comparison, Effect, Request, compare, verdict};
use crate::estimate::fit_session;
use crate::estimate::prepare::STEP_S;
use crate::report::comparison_page;
use crate::session::{Grid, Session, SessionMeta};
use crate::stats::Estimate;

/// Arguments of `compare`.
#[derive(Debug, Args)]
pub struct Arguments {
    /// The setup before
    #[arg(long, value_name = "SETUP")]
    before: String,
    /// The setup after
    #[arg(long, value_name = "SETUP")]
    after: String,
    /// The smallest change that matters, K
    #[arg(long, value_name = "K", default_value_t = 0.5, allow_negative_numbers = true, value_parser = threshold)]
    threshold_k: f64,
    /// Air outside at which both cars are driven, °C [default: the mean of the sessions']
    #[arg(long, value_name = "T", allow_negative_numbers = true, value_parser = ambient)]
    ambient_c: Option<f64>,
    /// Write the report page
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,
}

fn threshold(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(value) if value > 0.0 && value <= 50.0 => Ok(value),
        _ => Err("expected kelvin above 0, up to 50".to_owned()),
    }
}

/// Compares two setups of the book.
pub fn run(context: &Context, arguments: &Arguments) -> Result<Outcome, Failure> {
    let mut book = context.existing_book()?;
    let metas = book.sessions()?;
    for setup in [&arguments.before, &arguments.after] {
        known_setup(&metas, setup)?;
    }
    if arguments.before == arguments.after {
        return Err(Failure::new(
            format!("--before and --after are both `{}`", arguments.before),
            "name two setups; a setup against itself stands in every report as placebo",
        ));
    }
    let looks = count_look(&mut book, &metas, arguments)?;
    let sessions = metas
        .iter()
        .map(|m| book.session(&m.id))
        .collect::<Result<Vec<_>, _>>()?;
    let comparison = compare(&sessions, &request(arguments, looks));
    if let Some(path) = &arguments.html {
        write_file(path, &page(&comparison, &sessions, arguments)?)?;
        context.output.say(&format!("page: {}", path.display()));
    }
    context.output.warnings(&comparison.warnings);
    context.output.answer(&comparison, || text(&comparison))?;
    Ok(Outcome::Done)
}

fn request(arguments: &Arguments, looks: u32) -> Request {
    Request {
        before: arguments.before.clone(),
        after: arguments.after.clone(),
        threshold_k: arguments.threshold_k,
        ambient_c: arguments.ambient_c,
        looks,
    }
}

fn known_setup(metas: &[SessionMeta], setup: &str) -> Result<(), Failure> {
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
    arguments: &Arguments,
) -> Result<u32, Failure> {
    let mut evidence = Sha256::new();
    for meta in metas
        .iter()
        .filter(|m| [&arguments.before, &arguments.after].contains(&&m.setup))
    {
        evidence.update(&meta.sha256);
        evidence.update([u8::from(meta.excluded.is_some())]);
        evidence.update(&meta.setup);
    }
    let evidence: String = evidence
        .finalize()
        .iter()
        .map(|b| format!("{b:02x}"))
        .collect();
    match book.count_look(&arguments.before, &arguments.after, &evidence) {
        Ok(looks) => Ok(looks),
        Err(BookError::ReadOnly { .. }) => {
            Ok(book.looks(&arguments.before, &arguments.after)?.max(1))
        }
        Err(error) => Err(error.into()),
    }
}

fn page(
    comparison: &Comparison,
    sessions: &[Session],
    arguments: &Arguments,
) -> Result<String, Failure> {
    let used: Vec<Session> = sessions
        .iter()
        .filter(|s| is_used(comparison, &s.meta.id))
        .cloned()
        .collect();
    let fits: Vec<_> = used.iter().map(fit_session).collect();
    let grids: Vec<Grid> = used.iter().map(|s| s.grid(STEP_S)).collect();
    let metas: Vec<&SessionMeta> = used.iter().map(|s| &s.meta).collect();
    let mut command = format!(
        "heatbook compare --before {} --after {} --threshold-k {}",
        arguments.before, arguments.after, arguments.threshold_k
    );
    if let Some(ambient_c) = arguments.ambient_c {
        command += &format!(" --ambient-c {ambient_c}");
    }
    let provenance = provenance(&command, &metas, settings(comparison));
    let sentences = verdict::sentences(comparison);
    Ok(comparison_page(
        comparison,
        &parts(&used, &grids, &fits),
        &provenance,
        None,
        &sentences,
        &[],
    )?)
}

/// Whether a session is used in a comparison.
pub fn is_used(comparison: &Comparison, id: &String) -> bool {
    comparison.before.sessions.contains(id) || comparison.after.sessions.contains(id)
}

/// The settings of a comparison, for the page.
pub fn settings(comparison: &Comparison) -> Vec<(String, String)> {
    vec![
        (
            "smallest change that matters".to_owned(),
            format!("{:.2} K", comparison.threshold_k),
        ),
        (
            "reference ambient".to_owned(),
            format!("{:.0} °C", comparison.reference.ambient_c),
        ),
        (
            "reference drive".to_owned(),
            comparison.reference.drive.clone(),
        ),
        (
            "thermostat".to_owned(),
            comparison.reference.thermostat.clone(),
        ),
    ]
}

/// The comparison in words, for the terminal.
pub fn text(comparison: &Comparison) -> String {
    let answer = format!(
        "{}: {}",
        comparison.verdict.label().to_uppercase(),
        verdict::sentences(comparison)
    );
    let mut text = wrapped(&answer) + "\n\n";
    let row = |name: &str, effect: &Effect, show: fn(&Estimate) -> String| {
        let alone = effect.alone.as_ref().map_or_else(|| "-".to_owned(), show);
        vec![name.to_owned(), show(&effect.main), alone]
    };
    let mut rows = vec![
        row("mean coolant, K", &comparison.coolant_change_k, change),
        row("peak coolant, K", &comparison.coolant_peak_change_k, change),
        row(
            "mean, regulated, K",
            &comparison.coolant_change_regulated_k,
            change,
        ),
        row("conductance ratio", &comparison.conductance_ratio, ratio),
    ];
    rows.push(vec![
        format!("matched, {}, K", count(comparison.matched.pairs, "pair")),
        change(&comparison.matched.coolant_change_k),
        "-".to_owned(),
    ]);
    for placebo in &comparison.placebo {
        rows.push(vec![
            format!(
                "placebo {}, K",
                placebo.split.split(':').next().unwrap_or_default()
            ),
            change(&placebo.coolant_change_k),
            "-".to_owned(),
        ]);
    }
    text += &table(
        &[
            "after minus before",
            "95 % interval",
            "these sessions alone",
        ],
        rows,
    );
    for side in [&comparison.before, &comparison.after] {
        text += &format!(
            "{}: {} on {}\n",
            side.setup,
            side.sessions.join(" "),
            count(side.days, "day")
        );
        for left in &side.left_out {
            text += &format!("  left out {}: {}\n", left.id, left.why);
        }
    }
    text
}

fn change(estimate: &Estimate) -> String {
    match estimate {
        Estimate::Known(i) => format!("{:+.2} ({:+.2} to {:+.2})", i.estimate, i.low, i.high),
        Estimate::Unknown { why } => why.clone(),
    }
}

fn ratio(estimate: &Estimate) -> String {
    match estimate {
        Estimate::Known(i) => format!("{:.3} ({:.3} to {:.3})", i.estimate, i.low, i.high),
        Estimate::Unknown { why } => why.clone(),
    }
}

/// Sentences in lines of up to 78 characters.
pub fn wrapped(text: &str) -> String {
    let mut lines = vec![String::new()];
    for word in text.split(' ') {
        let line = lines.len() - 1;
        if lines[line].chars().count() + word.chars().count() > 77 {
            lines.push(word.to_owned());
        } else {
            if !lines[line].is_empty() {
                lines[line].push(' ');
            }
            lines[line].push_str(word);
        }
    }
    lines.join("\n")
}
