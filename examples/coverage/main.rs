//! Monte Carlo campaigns with a known truth: how often does a 95 % interval hold it?
//!
//! ```text
//! cargo run --release --example coverage -- --campaigns 100
//! ```
//! writes `reports/validation/coverage.md` (`--disturbed 1.5`: `coverage_disturbed.md`;
//! `--from-csv`: `coverage_from_csv.md`). `--scatter` writes what disturbs how much to
//! `reports/validation/scatter.md` instead; `--describe` prints what the simulated car does.
#![allow(clippy::print_stdout, clippy::print_stderr)]

#[path = "../simulator/mod.rs"]
mod simulator;

mod describe;
mod estimators;
mod first_model;
mod parallel;
mod prepare;
mod rows;
mod scatter;
mod score;
mod stress;
mod stress_table;
mod table;
mod tool;

use std::path::PathBuf;

use clap::Parser;
use parallel::in_parallel;
use tool::Entry;

/// Monte Carlo campaigns with a known truth.
#[derive(Parser)]
pub struct Arguments {
    /// Campaigns in each row.
    #[arg(long, default_value_t = 100)]
    campaigns: u64,
    /// Seed of the first campaign.
    #[arg(long, default_value_t = 4_711_000_000)]
    seed: u64,
    /// Wind, pace, core and sensor scatter this many times as much as usual.
    #[arg(long, default_value_t = 1.0)]
    disturbed: f64,
    /// Threads.
    #[arg(long, default_value_t = 2)]
    threads: usize,
    /// Where the table goes.
    #[arg(long, default_value = "reports/validation")]
    out: PathBuf,
    /// Print what the simulated car does, and stop.
    #[arg(long)]
    describe: bool,
    /// Write each session as a CSV log and let the importer read it.
    #[arg(long)]
    from_csv: bool,
    /// Say what disturbs how much, and stop.
    #[arg(long)]
    scatter: bool,
    /// Run the campaigns that are hard on the tool, and stop.
    #[arg(long)]
    stress: bool,
    /// Run this row alone (its name stands in the table); may be given again.
    #[arg(long)]
    row: Vec<String>,
    /// With `--stress`: print the answer to each campaign, with its seed, as CSV.
    #[arg(long)]
    each: bool,
}

impl Arguments {
    /// How campaigns come to the tool.
    pub fn entry(&self) -> Entry {
        match self.from_csv {
            true => Entry::Logs,
            false => Entry::Sessions,
        }
    }

    /// Whether a row is asked for.
    pub fn wants(&self, id: &str) -> bool {
        self.row.is_empty() || self.row.iter().any(|row| row == id)
    }
}

fn main() -> anyhow::Result<()> {
    let arguments = Arguments::parse();
    if arguments.describe {
        describe::describe();
        return Ok(());
    }
    let (file, text) = if arguments.scatter {
        ("scatter.md", scatter::scatter(&arguments))
    } else if arguments.stress {
        ("stress.md", stress_table::stress(&arguments))
    } else {
        let file = match (arguments.from_csv, arguments.disturbed > 1.0) {
            (true, _) => "coverage_from_csv.md",
            (false, true) => "coverage_disturbed.md",
            (false, false) => "coverage.md",
        };
        (file, table::coverage(&arguments))
    };
    std::fs::create_dir_all(&arguments.out)?;
    std::fs::write(arguments.out.join(file), &text)?;
    print!("{text}");
    Ok(())
}
