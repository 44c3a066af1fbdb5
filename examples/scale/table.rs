//! The page `reports/validation/scale.md`.

use std::fmt::Write;
use std::path::Path;
use std::process::Command;

use crate::measure::Measured;

/// Everything that was run with a book of one size.
pub struct Column {
    /// Sessions in the book.
    pub size: usize,
    /// What was run, and what it took.
    pub rows: Vec<(&'static str, Measured)>,
}

impl Column {
    /// Nothing was run yet.
    pub fn new(size: usize) -> Self {
        Self {
            size,
            rows: Vec::new(),
        }
    }

    fn get(&self, name: &str) -> Option<Measured> {
        self.rows.iter().find(|(n, _)| *n == name).map(|(_, m)| *m)
    }
}

/// Targets with 1,000 sessions, s.
const TARGETS_S: [(&str, f64); 6] = [
    ("sessions", 0.2),
    ("limits, kept", 5.0),
    ("limits, all afresh", 5.0),
    ("fit, all afresh", 150.0),
    ("compare of one car", 15.0),
    ("--version", 0.03),
];
const MOST_MIB: f64 = 1024.0;
const MOST_BYTES: u64 = 45_000_000;

/// The whole page.
pub fn text(columns: &[Column], program: &Path) -> anyhow::Result<String> {
    let mut text = "# How the program grows with the book\n\n\
        ```text\ncargo build --release && cargo run --release --example scale\n```\n\n\
        Sessions: simulated, 25 minutes, 20 rows a second, twelve channels; sixty different ones, driven by every car \
        of the book on other days, thirty with each of two setups. Each call is a process of its own on two cores \
        (x86-64, virtual, shared with other work). Times are wall clock, in brackets user and system together; of \
        calls that change nothing the quickest of three. Memory is the most that was resident at once (GNU time).\n"
        .to_owned();
    table(&mut text, "Time, s", columns, |m| {
        let digits = if m.wall_s < 1.0 { 3 } else { 1 };
        format!("{:.digits$} ({:.digits$})", m.wall_s, m.cpu_s)
    })?;
    table(&mut text, "Memory, MiB", columns, |m| {
        format!("{:.0}", m.peak_mib)
    })?;
    text += "\n*Kept*: answered from what the import kept in the book; *afresh*: computed from the channels. `compare, all of one car`: the sheet of every session names the \
        same car, so that all sessions of the book enter the fit and lend their scatter.\n";
    against_targets(&mut text, columns, program)?;
    Ok(text)
}

fn table(
    text: &mut String,
    what: &str,
    columns: &[Column],
    show: impl Fn(&Measured) -> String,
) -> anyhow::Result<()> {
    let Some(longest) = columns.iter().max_by_key(|c| c.rows.len()) else {
        return Ok(());
    };
    let sizes: Vec<String> = columns.iter().map(|c| c.size.to_string()).collect();
    write!(text, "\n| {what} | {} |", sizes.join(" | "))?;
    write!(text, "\n|---|{}\n", "---:|".repeat(columns.len()))?;
    for (name, _) in &longest.rows {
        let cells: Vec<String> = (columns.iter())
            .map(|c| c.get(name).map_or_else(String::new, |m| show(&m)))
            .collect();
        writeln!(text, "| {name} | {} |", cells.join(" | "))?;
    }
    Ok(())
}

/// What was asked of the largest book, and what came.
fn against_targets(text: &mut String, columns: &[Column], program: &Path) -> anyhow::Result<()> {
    let Some(largest) = columns.iter().max_by_key(|c| c.size) else {
        return Ok(());
    };
    let met = |yes: bool| if yes { "met" } else { "**missed**" };
    write!(
        text,
        "\n## Against the targets, {} sessions\n\n| what | measured | target | |\n|---|---|---|---|\n",
        largest.size
    )?;
    for (name, most_s) in TARGETS_S {
        if let Some(m) = largest.get(name) {
            let wall_s = m.wall_s;
            writeln!(
                text,
                "| {name} | {wall_s:.3} s | under {most_s} s | {} |",
                met(wall_s < most_s)
            )?;
        }
    }
    let peak = largest
        .rows
        .iter()
        .map(|(_, m)| m.peak_mib)
        .fold(0.0, f64::max);
    writeln!(
        text,
        "| memory of any call | {peak:.0} MiB | under {MOST_MIB} MiB | {} |",
        met(peak < MOST_MIB)
    )?;
    let bytes = stripped(program)?;
    writeln!(
        text,
        "| stripped program | {:.1} MB | under {} MB | {} |",
        bytes as f64 / 1e6,
        MOST_BYTES / 1_000_000,
        met(bytes < MOST_BYTES)
    )?;
    growth(text, columns, largest)
}

/// Time a session with the largest book over that with the next smaller one: 1 is linear.
fn growth(text: &mut String, columns: &[Column], largest: &Column) -> anyhow::Result<()> {
    let smaller = columns.iter().filter(|c| c.size < largest.size);
    let Some(smaller) = smaller.max_by_key(|c| c.size) else {
        return Ok(());
    };
    write!(
        text,
        "\n## Growth\n\nProcessor time a session with {} sessions, over that with {}; 1 is linear.\n\n| | |\n|---|---:|\n",
        largest.size, smaller.size
    )?;
    let factor = largest.size as f64 / smaller.size as f64;
    for name in ["import", "limits, all afresh", "fit, all afresh"] {
        if let (Some(large), Some(small)) = (largest.get(name), smaller.get(name)) {
            writeln!(
                text,
                "| {name} | {:.2} |",
                large.cpu_s / small.cpu_s / factor
            )?;
        }
    }
    Ok(())
}

/// Size of the program without its symbols.
fn stripped(program: &Path) -> anyhow::Result<u64> {
    let copy = tempfile::NamedTempFile::new()?;
    std::fs::copy(program, copy.path())?;
    Command::new("strip").arg("-s").arg(copy.path()).status()?;
    Ok(std::fs::metadata(copy.path())?.len())
}
