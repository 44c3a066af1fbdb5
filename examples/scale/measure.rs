//! One call in a process of its own, under GNU time.

use std::fmt;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use anyhow::{Context, ensure};

/// What a call took.
#[derive(Debug, Clone, Copy, Default)]
pub struct Measured {
    /// From start to end, s.
    pub wall_s: f64,
    /// Processor time, user and system, s.
    pub cpu_s: f64,
    /// Most memory resident at once, MiB.
    pub peak_mib: f64,
}

impl Measured {
    /// Another call of the same job.
    pub fn add(&mut self, other: Self) {
        self.wall_s += other.wall_s;
        self.cpu_s += other.cpu_s;
        self.peak_mib = self.peak_mib.max(other.peak_mib);
    }
}

impl fmt::Display for Measured {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (wall, cpu, peak) = (self.wall_s, self.cpu_s, self.peak_mib);
        write!(f, "{wall:.3} s, processor {cpu:.2} s, {peak:.0} MiB")
    }
}

/// The program on one book.
pub struct Program {
    program: PathBuf,
    book: PathBuf,
    rounds: usize,
}

impl Program {
    /// `rounds`: runs of a call that changes nothing.
    pub fn new(program: &Path, book: &Path, rounds: usize) -> Self {
        Self {
            program: program.to_owned(),
            book: book.to_owned(),
            rounds,
        }
    }

    /// The quickest of some runs, with the largest memory of any.
    pub fn call(&self, arguments: &[&str]) -> anyhow::Result<Measured> {
        let mut best = self.once(arguments)?;
        for _ in 1..self.rounds {
            let again = self.once(arguments)?;
            best = Measured {
                wall_s: best.wall_s.min(again.wall_s),
                cpu_s: best.cpu_s.min(again.cpu_s),
                peak_mib: best.peak_mib.max(again.peak_mib),
            };
        }
        Ok(best)
    }

    /// One run.
    pub fn once(&self, arguments: &[&str]) -> anyhow::Result<Measured> {
        let file = tempfile::NamedTempFile::new()?;
        let started = std::time::Instant::now();
        let status = Command::new("time")
            .args(["-f", "%U %S %M", "-o"])
            .arg(file.path())
            .arg(&self.program)
            .arg("--book")
            .arg(&self.book)
            .args(arguments)
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .status()
            .context("GNU time")?;
        let wall_s = started.elapsed().as_secs_f64();
        let shown = &arguments[..arguments.len().min(6)];
        ensure!(status.success(), "{shown:?} ended with {status}");
        let text = std::fs::read_to_string(file.path())?;
        let numbers: Vec<f64> = (text.split_whitespace())
            .map(str::parse)
            .collect::<Result<_, _>>()?;
        let [user_s, system_s, peak_kib] = numbers[..] else {
            anyhow::bail!("GNU time says {text}");
        };
        Ok(Measured {
            wall_s,
            cpu_s: user_s + system_s,
            peak_mib: peak_kib / 1024.0,
        })
    }

    /// What a call says.
    pub fn stdout(&self, arguments: &[&str]) -> anyhow::Result<String> {
        let output = Command::new(&self.program)
            .arg("--book")
            .arg(&self.book)
            .args(arguments)
            .output()?;
        ensure!(output.status.success(), "{arguments:?}");
        Ok(String::from_utf8(output.stdout)?)
    }
}
