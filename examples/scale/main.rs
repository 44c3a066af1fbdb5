//! How long the program takes, and how much memory, with 10, 100 and 1,000 sessions in the book.
//!
//! ```sh
//! cargo build --release && cargo run --release --example scale
//! ```
//!
//! Makes the logs (25 minutes, 20 rows a second, twelve channels), imports them, runs each verb in
//! a process of its own, and writes `reports/validation/scale.md`. Needs GNU time, and some 4 GB of
//! disk for the book of 1,000 sessions. `--sessions 10,100` leaves the large book out.

#![allow(clippy::print_stdout, clippy::print_stderr)]

#[path = "../simulator/mod.rs"]
mod simulator;

mod logs;
mod measure;
mod table;

use std::path::{Path, PathBuf};

use anyhow::{Context, ensure};
use clap::Parser;
use logs::{Logs, SESSIONS_A_CAR};
use measure::{Measured, Program};
use table::Column;

/// How the program grows with the book.
#[derive(Debug, Parser)]
struct Arguments {
    /// Sizes of the books
    #[arg(long, value_delimiter = ',', default_value = "10,100,1000")]
    sessions: Vec<usize>,
    /// Runs of each call that changes nothing; the quickest counts
    #[arg(long, default_value_t = 3)]
    rounds: usize,
    /// The program to time
    #[arg(long, default_value = "target/release/heatbook")]
    program: PathBuf,
    /// Where the table goes
    #[arg(long, default_value = "reports/validation/scale.md")]
    out: PathBuf,
}

fn main() -> anyhow::Result<()> {
    let arguments = Arguments::parse();
    ensure!(arguments.program.is_file(), "cargo build --release first");
    let work = tempfile::tempdir()?;
    println!("simulating {SESSIONS_A_CAR} sessions");
    let logs = Logs::simulate()?;
    let mut columns = Vec::new();
    for &size in &arguments.sessions {
        let book = work.path().join(format!("book_{size}"));
        let program = Program::new(&arguments.program, &book, arguments.rounds);
        columns.push(column(&program, &logs, size, work.path())?);
        std::fs::remove_dir_all(&book)?;
    }
    let text = table::text(&columns, &arguments.program)?;
    std::fs::write(&arguments.out, text).context("the table")?;
    println!("{}", arguments.out.display());
    Ok(())
}

/// Every call with a book of one size.
fn column(program: &Program, logs: &Logs, size: usize, work: &Path) -> anyhow::Result<Column> {
    let mut column = Column::new(size);
    let mut put = |name: &'static str, measured: Measured| {
        println!("{size:>5} {name:<28} {measured}");
        column.rows.push((name, measured));
    };
    put("import", import(program, logs, size, work)?);
    put("sessions", program.call(&["sessions"])?);
    put("limits, kept", program.call(&["limits"])?);
    put("limits, all afresh", program.call(&["limits", "--afresh"])?);
    put("fit, all afresh", program.once(&["fit", "--afresh"])?);
    put("fit, all kept", program.call(&["fit"])?);
    let compare = ["compare", "--before", "stock-1", "--after", "vented-1"];
    put("compare of one car", program.call(&compare)?);
    let page = work.join("page.html");
    let page = page.to_str().context("UTF-8")?;
    let with_page = [&compare[..], &["--html", page]].concat();
    put("the same with its page", program.call(&with_page)?);
    put("verify", program.call(&["verify"])?);
    put("--version", program.call(&["--version"])?);
    if size > SESSIONS_A_CAR {
        let sheet = work.join("car.toml");
        std::fs::write(&sheet, logs::car_sheet("The only car")?)?;
        let listed = program.stdout(&["sessions", "--ids"])?;
        let mut amend = vec!["amend", "--car", sheet.to_str().context("UTF-8")?];
        amend.extend(listed.lines());
        put("amend of all", program.once(&amend)?);
        put("compare, all of one car", program.once(&compare)?);
    }
    Ok(column)
}

/// Imports car by car and setup by setup, and keeps no log longer than needed.
fn import(program: &Program, logs: &Logs, size: usize, work: &Path) -> anyhow::Result<Measured> {
    let folder = work.join("logs");
    let mut whole = Measured::default();
    for car in 1..=size.div_ceil(SESSIONS_A_CAR) {
        let of_car = (size - (car - 1) * SESSIONS_A_CAR).min(SESSIONS_A_CAR);
        std::fs::create_dir_all(&folder)?;
        let sheet = work.join("car.toml");
        std::fs::write(&sheet, logs::car_sheet(&format!("Car {car}"))?)?;
        for (side, setup) in logs::SETUPS {
            let files = logs.write(&folder, car, of_car, side)?;
            if files.is_empty() {
                continue;
            }
            let setup = format!("{setup}-{car}");
            let sheet = sheet.to_str().context("UTF-8")?;
            let mut call = vec!["import", "--setup", &setup, "--car", sheet];
            call.extend(files.iter().map(String::as_str));
            whole.add(program.once(&call)?);
        }
        std::fs::remove_dir_all(&folder)?;
    }
    Ok(whole)
}
