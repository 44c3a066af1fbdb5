//! One record of a session, this program's fit of it and the times that took, as JSON for the peer
//! (`peer.py`), which fits the same record. Without `--bench` it writes nothing.
//!
//! ```text
//! cargo bench --bench peer -- FILE
//! ```

#[path = "../../examples/simulator/mod.rs"]
mod simulator;

#[path = "../session/mod.rs"]
mod session;

use std::cell::Cell;
use std::hint::black_box;
use std::time::Instant;

use anyhow::{Context, anyhow};
use heatbook::estimate::joint::fit_jointly;
use heatbook::estimate::prepare::prepare;
use heatbook::estimate::thermal_state::{FILTER_STEP_S, Record};
use heatbook::stats::kalman::Reading;
use heatbook::stats::posterior::{Maximum, Model, Normal, Walk, maximise};
use serde_json::{Value, json};

/// As in the fit of a session: 60 s.
const MEMORY: usize = (60.0 / FILTER_STEP_S) as usize;

const FITS: usize = 7;
const WALKS: usize = 50;

/// A record that counts how often it is walked.
struct Counted<'a> {
    record: &'a Record,
    walks: Cell<usize>,
}

impl Model for Counted<'_> {
    fn priors(&self) -> &[Normal] {
        self.record.priors()
    }

    fn walk(&self, parameters: &[f64]) -> Walk {
        self.walks.set(self.walks.get() + 1);
        self.record.walk(parameters)
    }
}

fn main() -> anyhow::Result<()> {
    let mut arguments = std::env::args().skip(1);
    if !arguments.any(|argument| argument == "--bench") {
        return Ok(());
    }
    let file = std::env::args()
        .skip(1)
        .find(|argument| !argument.starts_with('-'))
        .context("name the file to write")?;
    let prepared = prepare(&session::sessions(1)?[0], None);
    let joint = fit_jointly(&[&prepared]).map_err(|no_fit| anyhow!(no_fit.0))?;
    let record = Record::new(&prepared, &joint).context("no record")?;
    let start = record.start(joint.sessions[0].log_g);
    let maximum = maximise(&record, &start, MEMORY).context("no maximum")?;
    let priors: Vec<[f64; 2]> = record.priors().iter().map(|p| [p.centre, p.sd]).collect();
    let answer = json!({
        "step_s": FILTER_STEP_S,
        "coolant_j_per_k": prepared.coolant_j_per_k,
        "metal_j_per_k": prepared.capacity_j_per_k - prepared.coolant_j_per_k,
        "opens_c": prepared.thermostat.opens_c,
        "span_k": prepared.thermostat.full_open_c - prepared.thermostat.opens_c,
        "steps": steps(&record),
        "priors": priors,
        "start": start,
        "likelihoods": likelihoods(&record, &start, &maximum),
        "maximum": {
            "parameters": maximum.parameters,
            "sd": (0..start.len()).map(|i| maximum.sd(i)).collect::<Vec<_>>(),
            "log_likelihood": maximum.log_likelihood,
            "converged": maximum.converged,
        },
        "walks": walks(&record, &start),
        "fit_s": times_s(FITS, || maximise(&record, &start, MEMORY)),
        "walk_s": times_s(WALKS, || record.walk(&start)),
    });
    std::fs::write(file, serde_json::to_string(&answer)?)?;
    Ok(())
}

/// Every step of the record; the borders of a reading are alike where it is a value.
fn steps(record: &Record) -> Vec<Value> {
    let told = record.steps().iter().map(|at| {
        let borders = at.reading.map(|reading| match reading {
            Reading::Value(value) => [value, value],
            Reading::Between(low, high) => [low, high],
        });
        json!([
            at.heat_w, at.flow, at.air_c, at.wax_c, at.trusted, at.open, borders
        ])
    });
    told.collect()
}

/// Log-likelihoods at the start, at the maximum, and with each parameter moved by half of its
/// prior's standard deviation.
fn likelihoods(record: &Record, start: &[f64], maximum: &Maximum) -> Vec<Value> {
    let beside = record.priors().iter().enumerate().map(|(i, prior)| {
        let mut moved = maximum.parameters.clone();
        moved[i] += 0.5 * prior.sd.min(1.0);
        moved
    });
    [start.to_vec(), maximum.parameters.clone()]
        .into_iter()
        .chain(beside)
        .map(|at| {
            let sum: f64 = record.walk(&at).log_likelihood.iter().sum();
            json!([at, sum])
        })
        .collect()
}

fn walks(record: &Record, start: &[f64]) -> usize {
    let counted = Counted {
        record,
        walks: Cell::new(0),
    };
    black_box(maximise(&counted, start, MEMORY));
    counted.walks.get()
}

fn times_s<T>(times: usize, job: impl Fn() -> T) -> Vec<f64> {
    let once = |_| {
        let start = Instant::now();
        black_box(job());
        start.elapsed().as_secs_f64()
    };
    (0..times).map(once).collect()
}
