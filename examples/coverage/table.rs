//! The table of coverage.

use std::fmt::Write;

use heatbook::session::Session;

use super::estimators::{Answer, coolant_minus_ambient, heat_balance, raw_coolant};
use super::first_model::first_model;
use super::prepare::Hot;
use super::rows::{Plan, Row, history};
use super::score::Score;
use super::tool::{self, Entry};
use super::{Arguments, in_parallel};
use crate::simulator::campaign::Disturbances;

/// An estimator that sees hot running only.
type Plain = fn(&[Hot]) -> Option<Answer>;

const PLAIN: [(&str, Plain); 4] = [
    ("mean coolant", raw_coolant),
    ("coolant minus ambient", coolant_minus_ambient),
    ("first model", first_model),
    ("plain heat balance", heat_balance),
];

const TOOL: [&str; 2] = ["heatbook, matched", "**heatbook, standardised**"];

/// Runs all rows and writes the table.
pub fn coverage(arguments: &Arguments) -> String {
    let mut sections: Vec<String> = Plan::ALL.map(|plan| head_of(&plan)).to_vec();
    for (r, row) in Row::all().iter().enumerate() {
        if !arguments.wants(row.id) {
            continue;
        }
        eprintln!("{}", row.label);
        let first = arguments.seed + 1_000_000 * r as u64;
        let campaigns = in_parallel(arguments.campaigns, arguments.threads, |i| {
            answers(row, first + i, arguments)
        });
        for (p, section) in sections.iter_mut().enumerate() {
            let names = names(&Plan::ALL[p]);
            let mut scores: Vec<Score> = names.iter().map(|_| Score::default()).collect();
            for campaign in &campaigns {
                for (score, answer) in scores.iter_mut().zip(&campaign[p]) {
                    score.add(answer.clone());
                }
            }
            for (i, (name, score)) in names.iter().zip(&scores).enumerate() {
                let label = if i == 0 { row.label } else { "" };
                let truth = row.true_change_k;
                let cells = score.cells(truth);
                let _ = writeln!(section, "| {label} | {truth:+.2} | {name} {cells}");
            }
        }
    }
    head(arguments) + &sections.concat()
}

/// The estimators that a plan is judged with: history helps none but the tool.
fn names(plan: &Plan) -> Vec<&'static str> {
    let plain = PLAIN.iter().map(|(name, _)| *name);
    plain.filter(|_| !plan.history).chain(TOOL).collect()
}

/// Every estimator's answer to one campaign, plan by plan.
fn answers(row: &Row, seed: u64, arguments: &Arguments) -> Vec<Vec<Option<Answer>>> {
    let disturbances = Disturbances::times(arguments.disturbed);
    let entry = arguments.entry();
    let ten = row.ten(seed, disturbances);
    let hot: Vec<Option<Hot>> = ten.iter().map(Hot::of).collect();
    let sessions = tool::sessions(&ten, entry);
    let earlier = tool::sessions(&history(seed, disturbances), entry);
    let of_plan = |plan: &Plan| of_plan(plan, &hot, &sessions, &earlier);
    Plan::ALL.iter().map(of_plan).collect()
}

fn of_plan(
    plan: &Plan,
    hot: &[Option<Hot>],
    sessions: &[Session],
    earlier: &[Session],
) -> Vec<Option<Answer>> {
    let mut book = plan.of(sessions);
    let mut answers = Vec::new();
    if plan.history {
        book.extend_from_slice(earlier);
    } else {
        let hot: Vec<Hot> = plan.of(hot).into_iter().flatten().collect();
        answers.extend(PLAIN.iter().map(|(_, estimator)| estimator(&hot)));
    }
    let comparison = tool::compared(&book);
    answers.extend([tool::matched(&comparison), tool::standardised(&comparison)]);
    answers
}

fn head_of(plan: &Plan) -> String {
    format!(
        "\n## {}\n\n\
         | what is true | true change, K | estimator | bias, K | sd, K | mean half-width, K \
         | misses of the 95 % interval | declined | verdicts, % |\n\
         |---|---|---|---|---|---|---|---|---|\n",
        plan.label
    )
}

fn head(arguments: &Arguments) -> String {
    let logs = arguments.entry() == Entry::Logs;
    format!(
        "# How often the interval holds the truth\n\n\
         Simulated campaigns of an invented car with more physics than any model fitted to its \
         logs (`examples/simulator`). Change of mean coolant, after minus before, at 23 °C with \
         the thermostat fully open; the truth is the simulator's own, without wind, scatter or \
         sensors. Disturbances, fixed before any fit: steady wind 0 to 5 m/s, gusts 1.5 m/s \
         remembered for 60 s, the core 1 % a session, pace 0.8 % a session and as much a lap, \
         traffic, an ambient sensor that leans 0.3 K a day; here {} times all of these. Written \
         by\n\n\
         ```text\ncargo run --release --example coverage -- --campaigns {} --seed {} --disturbed {}{}\n```\n\n\
         {} campaigns a row, entering {}. A miss is a 95 % interval without the truth \
         in it; behind ± stands the standard error of that share. Plans are read out of the same \
         sessions, so they differ by plan alone. The simulated driver, weather and car scatter by \
         our own choice: these figures say whether an estimator is honest and which is better, \
         not what a real car will do.\n",
        arguments.disturbed,
        arguments.campaigns,
        arguments.seed,
        arguments.disturbed,
        if logs { " --from-csv" } else { "" },
        arguments.campaigns,
        if logs {
            "as CSV logs that the importer reads"
        } else {
            "after import"
        }
    )
}
