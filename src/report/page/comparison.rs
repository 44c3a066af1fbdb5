//! The page of a comparison.

use askama::Template;

use super::evidence::{self, Fit};
use super::{Notice, Shell, changes_in, notices, number, plain, tables};
use crate::compare::{Bound, Comparison, Side, Verdict};
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

#[derive(Template)]
#[template(path = "comparison.html", config = "src/report/askama.toml")]
struct ComparisonPage<'a> {
    shell: Shell<'a>,
    verdict: &'static str,
    sentences: &'a str,
    headline: Headline,
    truth: Option<String>,
    picture: Option<Figure>,
    effects: Figure,
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
    notices: Vec<Notice>,
}

/// The answer in figures.
struct Headline {
    figure: String,
    interval: String,
    context: String,
    strip: Option<Figure>,
}

/// The page.
pub fn render(
    comparison: &Comparison,
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
        truth: truth.map(|truth| truth_line(comparison, truth, units)),
        picture: picture(comparison, units)?,
        effects: evidence::effects(comparison, truth, units)?,
        effects_table: tables::effects(comparison, units),
        agreement: agreement(comparison),
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
        notices: notices(comparison.warnings.iter(), units),
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
        Estimate::Unknown { why } => (number::UNKNOWN.to_owned(), why.clone()),
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
    let back = evidence::change_backdrop(comparison, truth, units);
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

fn agreement(comparison: &Comparison) -> String {
    match comparison.answers_agree {
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

fn remarks(comparison: &Comparison, units: Units) -> Vec<String> {
    let (change, unit) = (changes_in(units), units.symbol(Measure::Difference));
    let mut out = Vec::new();
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
    if let Some(take) = &comparison.what_it_would_take {
        out.push(format!(
            "An answer would take some {} with each setup, over {} that each see both.",
            number::count(take.sessions_per_setup as usize, "session"),
            number::count(take.days as usize, "day"),
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
