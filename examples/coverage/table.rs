//! The table of coverage.

use std::fmt::Write;

use super::estimators::{Answer, coolant_minus_ambient, heat_balance, raw_coolant};
use super::first_model::first_model;
use super::prepare::Hot;
use super::rows::{Design, Row};
use super::score::Score;
use super::{Arguments, in_parallel};

/// An estimator that sees hot running only.
type Plain = fn(&[Hot]) -> Option<Answer>;

const PLAIN: [(&str, Plain); 4] = [
    ("mean coolant", raw_coolant),
    ("coolant minus ambient", coolant_minus_ambient),
    ("first model", first_model),
    ("plain heat balance", heat_balance),
];

/// Runs all rows in both designs and writes the table.
pub fn coverage(arguments: &Arguments) -> String {
    let mut text = head(arguments);
    for (d, design) in Design::ALL.into_iter().enumerate() {
        let _ = writeln!(text, "\n## {}\n", capital(design.label()));
        text.push_str(
            "| what is true | true change, K | estimator | bias, K | sd, K | mean half-width, K \
             | misses of the 95 % interval | declined | verdicts |\n\
             |---|---|---|---|---|---|---|---|---|\n",
        );
        for (r, row) in Row::all().iter().enumerate() {
            eprintln!("{}: {}", design.label(), row.label);
            let first = arguments.seed + 10_000_000 * d as u64 + 1_000_000 * r as u64;
            let answers = in_parallel(arguments.campaigns, arguments.threads, |i| {
                answer(row, design, first + i)
            });
            let names: Vec<&str> = PLAIN.iter().map(|(name, _)| *name).collect();
            let mut scores: Vec<Score> = names.iter().map(|_| Score::default()).collect();
            for campaign in answers {
                for (score, answer) in scores.iter_mut().zip(campaign) {
                    score.add(answer);
                }
            }
            for (i, (name, score)) in names.iter().zip(&scores).enumerate() {
                let label = if i == 0 { row.label } else { "" };
                let truth = row.true_change_k;
                let _ = writeln!(
                    text,
                    "| {label} | {truth:+.2} | {name} {}",
                    score.cells(truth)
                );
            }
        }
    }
    text
}

/// Every estimator's answer to one campaign.
fn answer(row: &Row, design: Design, seed: u64) -> Vec<Option<Answer>> {
    let sessions = row.campaign(design, seed).run();
    let hot: Vec<Hot> = sessions.iter().filter_map(Hot::of).collect();
    PLAIN.iter().map(|(_, estimator)| estimator(&hot)).collect()
}

fn head(arguments: &Arguments) -> String {
    format!(
        "# How often the interval holds the truth\n\n\
         Simulated campaigns of an invented car with more physics than any model fitted to its \
         logs (`examples/simulator`). Change of mean coolant, after minus before, at 23 °C with \
         the thermostat fully open; the truth is the simulator's own, without wind, scatter or \
         sensors. Written by\n\n\
         ```text\ncargo run --release --example coverage -- --campaigns {} --seed {}\n```\n\n\
         {} campaigns a row. A miss is a 95 % interval without the truth in it; behind ± stands \
         the standard error of that share. The simulated driver, weather and car scatter by our \
         own choice: these figures say whether an estimator is honest and which is better, not \
         what a real car will do.\n",
        arguments.campaigns, arguments.seed, arguments.campaigns
    )
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters
        .next()
        .map_or_else(String::new, |c| c.to_uppercase().chain(letters).collect())
}
