//! Sessions cut short while the truth ran on: how often does "would have" hold it?
//!
//! A session of the simulator (which shares no physics with the library) runs at pace for long enough to settle.
//! Its log is cut after some minutes of hot running; the library says where coolant would have settled, where it
//! would have peaked, and when it would have met a limit. The truth is what the same run did after the cut,
//! with its own gusts, traffic and laps. Likewise what a setup can stand, against another session on another day.
//!
//! ```text
//! cargo run --release --example would_have -- --sessions 500
//! ```
//! writes `reports/validation/would_have.md`.
#![allow(clippy::print_stdout, clippy::print_stderr)]

#[path = "../coverage/parallel.rs"]
mod parallel;
#[path = "../coverage/percent.rs"]
mod percent;
#[path = "../simulator/mod.rs"]
mod simulator;

mod another;
mod cut;
mod table;

use std::path::PathBuf;

use clap::Parser;

use another::{PLANS, stood};
use cut::{ROWS, judged};
use parallel::in_parallel;
use simulator::circuit::Circuit;

/// Sessions cut short while the truth ran on.
#[derive(Parser)]
pub struct Arguments {
    /// Sessions in each row.
    #[arg(long, default_value_t = 500)]
    sessions: u64,
    /// Campaigns in each row of what a setup can stand.
    #[arg(long, default_value_t = 250)]
    campaigns: u64,
    /// Seed of the first session; the others follow.
    #[arg(long, default_value_t = 20_480_900_000)]
    seed: u64,
    /// Threads.
    #[arg(long, default_value_t = 2)]
    threads: usize,
    /// Where the table goes.
    #[arg(long, default_value = "reports/validation")]
    out: PathBuf,
}

fn main() -> anyhow::Result<()> {
    let arguments = Arguments::parse();
    let circuit = Circuit::new();
    let results: Vec<_> = ROWS
        .iter()
        .map(|row| {
            let cuts = in_parallel(arguments.sessions, arguments.threads, |i| {
                let seed = arguments.seed + i;
                judged(row, &circuit, seed)
                    .unwrap_or_else(|defect| panic!("seed {seed}: {defect:#}"))
            });
            (row, cuts)
        })
        .collect();
    let stood: Vec<_> = PLANS
        .iter()
        .map(|plan| {
            let campaigns = in_parallel(arguments.campaigns, arguments.threads, |i| {
                let seed = arguments.seed + i;
                stood(plan, seed).unwrap_or_else(|defect| panic!("seed {seed}: {defect:#}"))
            });
            (plan, campaigns)
        })
        .collect();
    let text = table::table(&results, &arguments) + &table::stood(&stood);
    std::fs::create_dir_all(&arguments.out)?;
    std::fs::write(arguments.out.join("would_have.md"), &text)?;
    print!("{text}");
    Ok(())
}
