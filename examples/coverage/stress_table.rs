//! The table of hard campaigns: how often is the tool wrong, and how often wrong and sure.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;

use heatbook::compare::{Comparison, Verdict};
use heatbook::warning::Severity;

use super::stress::Scenario;
use super::{Arguments, in_parallel, tool};

/// The smallest change that matters, as asked of the tool, K.
const THRESHOLD_K: f64 = 0.5;

/// What is kept of one campaign.
struct Outcome {
    change_k: Option<[f64; 3]>,
    matched: Option<[f64; 3]>,
    agree: Option<bool>,
    verdict: Verdict,
    left_out: usize,
    cautions: BTreeSet<String>,
}

impl Outcome {
    fn of(comparison: &Comparison) -> Self {
        let ends = |e: &heatbook::stats::Estimate| e.known().map(|i| [i.estimate, i.low, i.high]);
        let cautions = comparison.warnings.iter();
        let cautions = cautions.filter(|w| w.severity == Severity::Caution);
        Self {
            change_k: ends(&comparison.coolant_change_k.main),
            matched: ends(&comparison.matched.coolant_change_k),
            agree: comparison.answers_agree,
            verdict: comparison.verdict,
            left_out: comparison.before.left_out.len() + comparison.after.left_out.len(),
            cautions: cautions.map(|w| w.id.to_string()).collect(),
        }
    }

    /// Whether the verdict claims what is not true.
    fn is_wrong(&self, truth_k: f64) -> bool {
        match self.verdict {
            Verdict::Improved => truth_k >= 0.0,
            Verdict::Worsened => truth_k <= 0.0,
            Verdict::NoPracticalChange => truth_k.abs() >= THRESHOLD_K,
            Verdict::CannotTell | Verdict::NotComparable => false,
        }
    }
}

/// Runs the scenarios and writes their table.
pub fn stress(arguments: &Arguments) -> String {
    let mut text = head(arguments);
    let mut said = SAID.to_owned();
    for (r, scenario) in Scenario::all().iter().enumerate() {
        if !arguments.wants(scenario.id) {
            continue;
        }
        eprintln!("{}", scenario.id);
        let factor = scenario.air_flow_factor();
        let first = arguments.seed + 100_000_000 + 1_000_000 * r as u64;
        let outcomes = in_parallel(arguments.campaigns, arguments.threads, |i| {
            Outcome::of(&tool::compared(&scenario.book(first + i, factor)))
        });
        if arguments.each {
            print_each(scenario, first, &outcomes);
        }
        let line = line(scenario, &outcomes);
        eprint!("{line}");
        text.push_str(&line);
        said.push_str(&cautions(scenario, &outcomes));
    }
    text + &said
}

/// Each campaign's answers as CSV, so that one can be looked up and run again.
fn print_each(scenario: &Scenario, first_seed: u64, outcomes: &[Outcome]) {
    let number = |value: f64| format!("{value:.3}");
    let three = |answer: Option<[f64; 3]>| {
        answer.map_or_else(|| ",,".to_owned(), |a| a.map(number).join(","))
    };
    for (i, outcome) in outcomes.iter().enumerate() {
        println!(
            "{},{},{},{},{},{}",
            scenario.id,
            first_seed + i as u64,
            three(outcome.change_k),
            three(outcome.matched),
            outcome
                .agree
                .map_or("", |a| if a { "agree" } else { "differ" }),
            outcome.verdict.label(),
        );
    }
}

fn line(scenario: &Scenario, outcomes: &[Outcome]) -> String {
    let truth = scenario.true_change_k;
    let n = outcomes.len() as f64;
    let count = |wanted: &dyn Fn(&Outcome) -> bool| outcomes.iter().filter(|o| wanted(o)).count();
    let of = |pick: fn(&Outcome) -> Option<[f64; 3]>| {
        let known: Vec<[f64; 3]> = outcomes.iter().filter_map(pick).collect();
        figures(&known, truth)
    };
    let mut text = String::new();
    let verdicts: Vec<String> = [
        Verdict::Improved,
        Verdict::Worsened,
        Verdict::NoPracticalChange,
        Verdict::CannotTell,
    ]
    .iter()
    .map(|v| (v, count(&|o| o.verdict == *v)))
    .filter(|(_, n)| *n > 0)
    .map(|(v, n)| format!("{} {n}", v.label()))
    .collect();
    let wrong = count(&|o| o.is_wrong(truth)) as f64 / n;
    let _ = writeln!(
        text,
        "| `{}`: {} | {truth:+.1} | {} | {} | {:.1} ± {:.1} % | {} | {} | {:.1} |",
        scenario.id,
        scenario.label,
        of(|o| o.change_k),
        of(|o| o.matched),
        100.0 * wrong,
        100.0 * (wrong * (1.0 - wrong) / n).sqrt(),
        verdicts.join(", "),
        count(&|o| o.agree == Some(false)),
        outcomes.iter().map(|o| o.left_out as f64).sum::<f64>() / n,
    );
    text
}

/// In how many of the campaigns each caution was said.
fn cautions(scenario: &Scenario, outcomes: &[Outcome]) -> String {
    let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
    for id in outcomes.iter().flat_map(|o| &o.cautions) {
        *counts.entry(id).or_default() += 1;
    }
    let counts: Vec<String> = (counts.iter())
        .map(|(id, n)| format!("`{id}` {n}"))
        .collect();
    format!("| `{}` | {} |\n", scenario.id, counts.join(", "))
}

const SAID: &str = "\n## What was said with it\n\n\
    Cautions of the comparison, and in how many of the row's campaigns each was said.\n\n\
    | row | cautions |\n|---|---|\n";

/// Bias, standard deviation, mean half-width, misses.
fn figures(known: &[[f64; 3]], truth: f64) -> String {
    let n = known.len() as f64;
    if n < 2.0 {
        return format!("{n:.0} | | | ");
    }
    let mean = |f: &dyn Fn(&[f64; 3]) -> f64| known.iter().map(f).sum::<f64>() / n;
    let centre = mean(&|k| k[0]);
    let sd = (mean(&|k| (k[0] - centre).powi(2)) * n / (n - 1.0)).sqrt();
    let missed = mean(&|k| f64::from(u8::from(truth < k[1] || truth > k[2])));
    format!(
        "{n:.0} | {:+.2} ± {sd:.2} | {:.2} | {:.1}",
        centre - truth,
        mean(&|k| (k[2] - k[1]) / 2.0),
        100.0 * missed,
    )
}

fn head(arguments: &Arguments) -> String {
    format!(
        "# Where it is hard\n\n\
         Campaigns of the same invented car that are hard on the tool. Two days of before, after, \
         after, before at 23 °C unless the row says otherwise. Written by\n\n\
         ```text\ncargo run --release --example coverage -- --stress --campaigns {} --seed {}\n```\n\n\
         {} campaigns a row; add `--row NAME` for one row alone. \"Given\" is the number of \
         campaigns with an interval; bias and standard deviation of the change in K; a miss is a \
         95 % interval without the truth in it. \"Wrong and sure\" is the share of verdicts that \
         claim what is not true: improved or worsened with the wrong sign or with no change at \
         all, no practical change at a change beyond {THRESHOLD_K} K.\n\n\
         | what is true | true change, K | standardised: given | bias ± sd | half-width | misses, % | \
         matched: given | bias ± sd | half-width | misses, % | wrong and sure | verdicts | \
         answers disagree | left out a campaign |\n\
         |---|---|---|---|---|---|---|---|---|---|---|---|---|---|\n",
        arguments.campaigns, arguments.seed, arguments.campaigns
    )
}
