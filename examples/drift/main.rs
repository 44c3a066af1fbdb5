//! Seasons whose truth is known: how often does the library show a drift that is there, and one that is not?
//!
//! Seasons of ten sessions are simulated whole (the simulator shares no physics with the library), entered as
//! after import, and asked as `heatbook season` asks. The core stays as it is, blocks a little with every session,
//! or blocks at once.
//!
//! ```text
//! cargo run --release --example drift -- --seasons 500
//! ```
//! writes `reports/validation/drift.md`.
#![allow(clippy::print_stdout, clippy::print_stderr)]

#[path = "../coverage/parallel.rs"]
mod parallel;
#[path = "../coverage/percent.rs"]
mod percent;
#[path = "../simulator/mod.rs"]
mod simulator;

mod seasons;
mod table;

use std::path::PathBuf;

use clap::Parser;

use parallel::in_parallel;
use seasons::{Loss, ROWS, asked};

/// Seasons whose truth is known.
#[derive(Parser)]
pub struct Arguments {
    /// Seasons of each kind in each row.
    #[arg(long, default_value_t = 500)]
    seasons: u64,
    /// Seed of the first season; the others follow.
    #[arg(long, default_value_t = 20_631_400_000)]
    seed: u64,
    /// Threads.
    #[arg(long, default_value_t = 2)]
    threads: usize,
    /// Where the table goes.
    #[arg(long, default_value = "reports/validation")]
    out: PathBuf,
}

/// Between the first seeds of rows.
const ROWS_APART: u64 = 100_000;

fn main() -> anyhow::Result<()> {
    let arguments = Arguments::parse();
    let results: Vec<_> = ROWS
        .iter()
        .zip(0..)
        .map(|(row, number)| {
            eprintln!("{}", row.name);
            let first = arguments.seed + number * ROWS_APART;
            let of_each = Loss::ALL.map(|loss| {
                in_parallel(arguments.seasons, arguments.threads, |i| {
                    let seed = first + i;
                    asked(row, loss, seed)
                        .unwrap_or_else(|defect| panic!("seed {seed}: {defect:#}"))
                })
            });
            (row, of_each)
        })
        .collect();
    let text = table::table(&results, &arguments);
    std::fs::create_dir_all(&arguments.out)?;
    std::fs::write(arguments.out.join("drift.md"), &text)?;
    print!("{text}");
    Ok(())
}
