//! The page of a comparison.

use askama::Template;

use super::evidence::{self, Fit};
use super::{Notice, Shell, changes_in, notices, number, plain, tables};
use crate::compare::{Balance, Bound, Comparison, Rerun, Side, Verdict};
use crate::quantity::{Measure, Units};
use crate::report::canvas::Marker;
use crate::report::chart::Of;
use crate::report::chart::curves::{Curve, CurveChart, Dot};
use crate::report::chart::intervals::{Row, intervals};
use crate::report::figure::Figure;
use crate::report::ink::Ink;
use crate::report::table::Table;
use crate::report::{Provenance, ReportError, SessionPart, Truth};
use crate::stats::Estimate;
use crate::warning::{Severity, Warning};

/// Standardised differences up to this are small (common practice, no source).
const ALIKE: f64 = 0.25;

#[derive(Template)]
#[template(path = "comparison.html", config = "src/report/askama.toml")]
struct ComparisonPage<'a> {
    shell: Shell<'a>,
    verdict: &'static str,
    sentences: &'a str,
    headline: Headline,
    family: Option<Table>,
    truth: Option<String>,
    picture: Option<Figure>,
    effects: Option<Figure>,
    effects_table: Table,
    agreement: String,
    sessions: Option<Figure>,
    sessions_table: Table,
    balance: Option<Table>,
    left_out: Option<Table>,
    placebo: Option<Figure>,
    sensitivity: Option<Figure>,
    sensitivity_table: Option<Table>,
    plain: Option<Table>,
    by_day: Option<Table>,
    days_agree: Option<String>,
    fits: Vec<Fit>,
    remarks: Vec<String>,
    scales: Vec<String>,
    doubts: Vec<Notice>,
    notes: Vec<Notice>,
    balance_words: String,
    withheld: &'static str,
}

/// The answer in figures.
struct Headline {
    figure: String,
    interval: String,
    context: String,
    claim: Option<String>,
    strip: Option<Figure>,
}

/// The page.
pub fn render(
    comparison: &Comparison,
    family: &[(&Comparison, String)],
    sessions: &[SessionPart<'_>],
    provenance: &Provenance,
    truth: Option<&Truth>,
    verdict_sentences: &str,
    other_pages: &[(&str, &str)],
) -> Result<String, ReportError> {
    let title = format!(
        "{} against {}",
        comparison.after.setup, comparison.before.setup
    );
    let units = provenance.units;
    let page = ComparisonPage {
        shell: Shell::new(
            "Comparison",
            title,
            block(comparison, units),
            provenance,
            other_pages,
        ),
        verdict: verdict_word(comparison.verdict),
        sentences: verdict_sentences,
        headline: headline(comparison, truth, units)?,
        family: (family.len() > 1).then(|| tables::family(family, units)),
        truth: truth.map(|truth| truth_line(comparison, truth, units)),
        picture: picture(comparison, units)?,
        effects: evidence::effects(comparison, truth, units)?,
        effects_table: tables::effects(comparison, units),
        agreement: agreement(comparison),
        balance_words: balance_words(comparison),
        withheld: match comparison.denied_by {
            Some(_) => "Here one of these withholds it; the answer says which.",
            None => "Here none of these does.",
        },
        sessions: evidence::sessions(comparison, units)?,
        sessions_table: tables::sessions(comparison, units),
        balance: tables::balance(comparison, units),
        left_out: tables::left_out(comparison, units),
        placebo: evidence::placebos(comparison, units)?,
        sensitivity: evidence::sensitivity(comparison, units)?,
        sensitivity_table: tables::sensitivity(comparison, units),
        plain: plain::tests(comparison, units),
        by_day: plain::days(comparison, units),
        days_agree: plain::agreement(comparison, units),
        fits: evidence::fits(comparison, sessions, units)?,
        remarks: remarks(comparison, units),
        scales: evidence::scales(comparison, sessions, units),
        doubts: notices(weighty(comparison, true), units),
        notes: notices(weighty(comparison, false), units),
    };
    Ok(page.render()?)
}

/// The verdict as it is printed.
pub fn verdict_word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Improved => "Improved",
        Verdict::Worsened => "Worsened",
        Verdict::NoPracticalChange => "No practical change",
        Verdict::CannotTell => "Cannot tell",
        Verdict::NotComparable => "Not comparable",
    }
}

fn side(side: &Side) -> String {
    let sessions = number::count(side.sessions.len(), "session");
    format!("{sessions} on {}", number::count(side.days, "day"))
}

fn block(comparison: &Comparison, units: Units) -> Vec<(&'static str, String)> {
    vec![
        ("Before", comparison.before.setup.clone()),
        ("Used before", side(&comparison.before)),
        ("After", comparison.after.setup.clone()),
        ("Used after", side(&comparison.after)),
        (
            "Reference ambient",
            number::told(
                units,
                Measure::Temperature,
                comparison.reference.ambient_c,
                1,
            ),
        ),
        (
            "Smallest change that matters",
            number::told(units, Measure::Difference, comparison.threshold_k, 2),
        ),
        (
            "Reference drive",
            units.prose(&comparison.reference.drive).into_owned(),
        ),
        (
            "Thermostat",
            units.prose(&comparison.reference.thermostat).into_owned(),
        ),
    ]
}

fn headline(
    comparison: &Comparison,
    truth: Option<&Truth>,
    units: Units,
) -> Result<Headline, ReportError> {
    let (change, unit) = (changes_in(units), units.symbol(Measure::Difference));
    let value = &comparison.coolant_change_k.main;
    let (figure, interval) = match value {
        Estimate::Known(i) => (
            format!("{}\u{a0}{unit}", change(i.estimate)),
            format!(
                "{} interval {}\u{a0}{unit}",
                number::level(i),
                number::ends(i, change)
            ),
        ),
        // The sentences have said why.
        Estimate::Unknown { .. } => (number::UNKNOWN.to_owned(), String::new()),
    };
    let context = format!(
        "change of settled coolant at {} ambient; {} before, {} after",
        number::told(
            units,
            Measure::Temperature,
            comparison.reference.ambient_c,
            1
        ),
        side(&comparison.before),
        side(&comparison.after),
    );
    let strip = match value {
        Estimate::Known(_) => Some(strip(comparison, truth, &figure, &interval, units)?),
        Estimate::Unknown { .. } => None,
    };
    Ok(Headline {
        figure,
        interval,
        context,
        claim: claim(comparison, units),
        strip,
    })
}

fn strip(
    comparison: &Comparison,
    truth: Option<&Truth>,
    figure: &str,
    interval: &str,
    units: Units,
) -> Result<Figure, ReportError> {
    let value = &comparison.coolant_change_k.main;
    let words = value
        .known()
        .map(|i| number::ends(i, changes_in(units)))
        .unwrap_or_default();
    let row = Row::of(
        "change, with its interval",
        value,
        words,
        Marker::Disc,
        Ink::Answer,
    );
    let back = evidence::predicted_backdrop(comparison, truth, units);
    let alt = format!(
        "Change of settled coolant {figure}, {interval}, against zero and the smallest change that matters."
    );
    Figure::in_both_widths("", "", |layout| {
        intervals(std::slice::from_ref(&row), &back, &alt, layout)
    })
}

fn truth_line(comparison: &Comparison, truth: &Truth, units: Units) -> String {
    let place = (comparison.coolant_change_k.main).place_of(truth.coolant_change_k);
    let value = changes_in(units)(truth.coolant_change_k);
    let unit = units.symbol(Measure::Difference);
    let how = truth.how.trim_end_matches('.');
    format!("Simulated truth {value}\u{a0}{unit}: {place}. {how}.")
}

fn picture(comparison: &Comparison, units: Units) -> Result<Option<Figure>, ReportError> {
    let Some(curves) = &comparison.curves else {
        return Ok(None);
    };
    let side = |of, values, role, name| Curve {
        of,
        values,
        role,
        name,
    };
    let chart = CurveChart {
        what: "settled coolant",
        ambient_c: &curves.ambient_c,
        sides: vec![
            side(
                Of::Before,
                &curves.before,
                "before",
                &comparison.before.setup,
            ),
            side(Of::After, &curves.after, "after", &comparison.after.setup),
        ],
        sessions: (evidence::sided_rows(comparison).into_iter())
            .map(|(of, row)| Dot {
                of,
                id: &row.id,
                ambient_c: row.ambient_c,
                coolant_c: row.settled_at_own_ambient_c,
            })
            .collect(),
        marked: Some((comparison.reference.ambient_c, "reference")),
        limit_c: curves.limit_c,
        units,
    };
    if !chart.has_curves() {
        return Ok(None);
    }
    let unseen = match (curves.limit_c, chart.limit_in_sight()) {
        (Some(limit), None) => {
            format!(
                " The limit, {}, lies above the picture.",
                number::told(units, Measure::Temperature, limit, 0)
            )
        }
        _ => String::new(),
    };
    let reading = format!(
        "Each line is where that setup's coolant would settle on the reference drive, thermostat \
         open, at the ambient below it. The band is its 95\u{a0}% interval. Solid line and discs: \
         before. Dashed line and diamonds: after. Each point is one session on the same drive at \
         its own ambient. The upright distance between the lines is the change; it is told at the \
         reference ambient, the upright line.{unseen}"
    );
    let alt = format!(
        "Settled coolant against ambient with intervals: before, {}; after, {}; {} as points.",
        comparison.before.setup,
        comparison.after.setup,
        number::count(chart.sessions.len(), "session"),
    );
    let title = "Settled coolant against ambient, both setups";
    Figure::in_both_widths(title, reading, |layout| chart.draw(&alt, layout)).map(Some)
}

/// The warnings that weaken the answer, or the others.
fn weighty(comparison: &Comparison, weakens: bool) -> impl Iterator<Item = &Warning> {
    let warnings = comparison.warnings.iter();
    warnings.filter(move |w| (w.severity > Severity::Note) == weakens)
}

/// What the covariates that are still apart after matching mean.
fn balance_words(comparison: &Comparison) -> String {
    let apart = |b: &&Balance| (b.standardised_difference_matched).is_some_and(|d| d.abs() > ALIKE);
    let balance = &comparison.matched.balance;
    let names: Vec<&str> = (balance.iter().filter(apart))
        .map(|b| b.covariate.split(',').next().unwrap_or_default())
        .collect();
    if names.is_empty() {
        return format!("After matching, no covariate is apart by more than {ALIKE}.");
    }
    format!(
        "After matching, the sides are still apart by more than {ALIKE} in {}: that much matching alone \
         does not even out. What is left inside each pair is taken out by the heat balance, so there the \
         second answer leans on the model, too.",
        names.join(", ")
    )
}

fn agreement(comparison: &Comparison) -> String {
    let shows = |value: &Estimate| value.known().is_some_and(|i| !i.contains(0.0));
    let (main, matched) = (
        &comparison.coolant_change_k.main,
        &comparison.matched.coolant_change_k,
    );
    match comparison.answers_agree {
        Some(true) if shows(main) && !shows(matched) => "The matched answer does not contradict the standardised \
             one, but is too wide to confirm it."
            .to_owned(),
        Some(true) => "The standardised and the matched answer agree.".to_owned(),
        Some(false) => {
            "The standardised and the matched answer do not agree: trust neither before you know why."
                .to_owned()
        }
        None => "There is no second answer to hold the first against.".to_owned(),
    }
}

fn bound_words(bound: &Bound, comparison: &Comparison, units: Units) -> String {
    let (side, limit_k) = bound.limit();
    format!(
        "{} with {} ran on the thermostat ({}). They give no point, but they bound the change with \
         {}: {side} {}\u{a0}{}, one-sided at {} %.",
        number::count(bound.sessions.len(), "session"),
        bound.setup,
        bound.sessions.join(", "),
        comparison.after.setup,
        changes_in(units)(limit_k),
        units.symbol(Measure::Difference),
        number::fixed(100.0 * bound.level, 1),
    )
}

/// What the interval lets one claim: its near end.
fn claim(comparison: &Comparison, units: Units) -> Option<String> {
    let bounded = comparison
        .regulated_evidence
        .as_ref()
        .is_some_and(|b| b.decides);
    let shown = matches!(comparison.verdict, Verdict::Improved | Verdict::Worsened) && !bounded;
    let interval = comparison.coolant_change_k.main.known().filter(|_| shown)?;
    let near_k = interval.low.abs().min(interval.high.abs());
    let told = |k: f64| number::told(units, Measure::Difference, k, 2);
    let way = if interval.high < 0.0 {
        "cooler"
    } else {
        "hotter"
    };
    let small = if near_k < comparison.threshold_k {
        format!(
            ", which is less than the {} that matter: that there is a change is shown, that it matters is not",
            told(comparison.threshold_k)
        )
    } else {
        String::new()
    };
    Some(format!(
        "What may be claimed is the near end of the interval: at least {} {way}{small}.",
        told(near_k)
    ))
}

/// How far the answer moves with what is assumed.
fn assumed(comparison: &Comparison, units: Units) -> Option<String> {
    let change = changes_in(units);
    let main = &comparison.coolant_change_k.main;
    let moved = |r: &&Rerun| r.verdict != comparison.verdict || r.coolant_change_k != *main;
    let reruns: Vec<&Rerun> = comparison.sensitivity.iter().filter(moved).collect();
    let same = reruns
        .iter()
        .filter(|r| r.verdict == comparison.verdict)
        .count();
    let points = || reruns.iter().filter_map(|r| r.coolant_change_k.point());
    let (low, high) = (
        points().min_by(f64::total_cmp)?,
        points().max_by(f64::total_cmp)?,
    );
    Some(format!(
        "With one assumption or session replaced or left out at a time, {same} of the {} comparisons that this \
         alters give the same verdict, and the change lies between {} and {}\u{a0}{}.",
        reruns.len(),
        change(low),
        change(high),
        units.symbol(Measure::Difference)
    ))
}

fn remarks(comparison: &Comparison, units: Units) -> Vec<String> {
    let (change, unit) = (changes_in(units), units.symbol(Measure::Difference));
    let mut out: Vec<String> = assumed(comparison, units).into_iter().collect();
    if let Some(borrowed) = &comparison.borrowed {
        out.push(format!(
            "How far sessions and days scatter is learned from {} on {} elsewhere in the book too. The \
             rows marked \u{201c}these sessions alone\u{201d} do without.",
            number::count(borrowed.sessions, "session"),
            number::count(borrowed.days, "day"),
        ));
    }
    if let Some(predicted) = &comparison.predicted {
        out.push(format!(
            "Predicted before the test: {} to {}\u{a0}{unit}. {} The verdict does not know it.",
            change(predicted.low_k),
            change(predicted.high_k),
            predicted.agreement.sentence()
        ));
    }
    if let Some(bound) = &comparison.regulated_evidence {
        out.push(bound_words(bound, comparison, units));
    }
    if let Some(lifted) = &comparison.with_excluded {
        let change_k = match lifted.coolant_change_k.known() {
            Some(i) => format!(
                "{}\u{a0}{unit} ({})",
                change(i.estimate),
                number::ends(i, change)
            ),
            None => "no figure".to_owned(),
        };
        out.push(format!(
            "With the sessions that were set aside ({}) the verdict would be \u{201c}{}\u{201d}: {change_k}.",
            lifted.sessions.join(", "),
            lifted.verdict.label(),
        ));
    }
    let change_shown = matches!(comparison.verdict, Verdict::Improved | Verdict::Worsened);
    if let Some(smallest) = comparison.smallest_excludable_k.filter(|_| !change_shown) {
        out.push(format!(
            "The whole interval lies within \u{b1}{} of no change: that is the smallest \
             threshold that these data could exclude.",
            number::told(units, Measure::Difference, smallest, 2),
        ));
    }
    let earlier = comparison.looks.saturating_sub(1);
    if earlier > 0 {
        out.push(format!(
            "This pair of setups has had {} with other data. Looking until the answer pleases \
             makes any interval too narrow.",
            number::count(earlier as usize, "earlier look"),
        ));
    }
    out
}
