//! Monte Carlo sessions with a known conductance: how often does the fit of one session hold it?
//!
//! ```text
//! cargo run --release --example fit_coverage -- --sessions 500
//! ```
//! writes `reports/validation/fit_coverage.md`. `--describe` prints one simulated session of each
//! row and its fit instead.
#![allow(clippy::print_stdout, clippy::print_stderr)]

#[path = "../coverage/parallel.rs"]
mod parallel;
#[path = "../simulator/mod.rs"]
mod simulator;

mod calibration;
mod car;
mod describe;
mod effective;
mod rows;
mod scale;
mod score;
mod session;
mod study;
mod table;
#[cfg(test)]
mod tests;

use std::path::PathBuf;

use clap::Parser;

/// Monte Carlo sessions with a known conductance.
#[derive(Parser)]
pub struct Arguments {
    /// Sessions in each row.
    #[arg(long, default_value_t = 500)]
    sessions: u64,
    /// Seed of the first session; the others follow.
    #[arg(long, default_value_t = 20_631_200_000)]
    seed: u64,
    /// Threads.
    #[arg(long, default_value_t = 2)]
    threads: usize,
    /// Where the table goes.
    #[arg(long, default_value = "reports/validation")]
    out: PathBuf,
    /// Run this row alone (its name stands in the table, with or without the factor behind it);
    /// may be given again. The table is printed and not written.
    #[arg(long)]
    row: Vec<String>,
    /// Print one simulated session of each row and its fit, and stop.
    #[arg(long)]
    describe: bool,
}

fn main() -> anyhow::Result<()> {
    let arguments = Arguments::parse();
    let rows = rows::wanted(&arguments.row)?;
    println!("seed {}", arguments.seed);
    if arguments.describe {
        return describe::describe(&rows, arguments.seed);
    }
    let scales = scale::Scales::of_one_car()?;
    let mut results = Vec::new();
    for row in &rows {
        let score = study::run(row, &scales, &arguments)?;
        eprint!("{}", score.worst(row));
        results.push((row, score));
    }
    let text = table::table(&results, &scales, &arguments);
    if arguments.row.is_empty() {
        std::fs::create_dir_all(&arguments.out)?;
        std::fs::write(arguments.out.join("fit_coverage.md"), &text)?;
    }
    print!("{text}");
    Ok(())
}
