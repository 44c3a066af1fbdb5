//! How long a stack of exchangers takes to compute.
//!
//! ```text
//! cargo bench --bench stack
//! ```
//! settles three exchangers on a grid of 40 by 40, then a sweep of 200 points on one thread, and fails if a
//! target is missed. The tests run it too: then it computes one. A plain clock, as in `benches/fit.rs`.
#![allow(clippy::print_stdout)]

use std::time::Instant;

use anyhow::{anyhow, ensure};
use heatbook::car::CarSheet;
use heatbook::stack::{CELLS, Request, Stack, compute, predict};

const TIMES: usize = 101;
const ONE_TARGET_S: f64 = 0.020;
const POINTS: usize = 200;
const SWEEP_TARGET_S: f64 = 2.0;

/// Charge-air cooler, condenser and radiator, each of another size, so that the grid has all their edges.
const SHEET: &str = r#"
[[exchanger]]
kind = "charge-air cooler"
left = 0.05
top = 0.45
[[exchanger]]
kind = "condenser"
right = 0.9
bottom = 0.2
[[exchanger]]
kind = "radiator"
[[what_if]]
name = "sealed"
air.leakage = 0.03
"#;

fn main() -> anyhow::Result<()> {
    let stack = Stack::from_toml(SHEET, "bench", &CarSheet::default())?;
    if !std::env::args().any(|argument| argument == "--bench") {
        return settle(&stack);
    }
    let mut times_s: Vec<f64> = (0..TIMES)
        .map(|_| {
            let start = Instant::now();
            settle(&stack)?;
            Ok(start.elapsed().as_secs_f64())
        })
        .collect::<anyhow::Result<_>>()?;
    times_s.sort_by(f64::total_cmp);
    let one_s = times_s[TIMES / 2];
    println!(
        "three exchangers, {CELLS} by {CELLS} cells, settled: median {:.2} ms (target {:.0} ms)",
        1e3 * one_s,
        1e3 * ONE_TARGET_S
    );

    let start = Instant::now();
    for point in 0..POINTS {
        let mut there = stack.clone();
        let (ambient_c, load) = ((point % 20) as f64 * 2.0, 0.1 + 0.1 * (point / 20) as f64);
        Request {
            ambient_c: Some(ambient_c),
            load: Some(load),
            ..Request::default()
        }
        .apply(&mut there);
        settle(&there)?;
    }
    let sweep_s = start.elapsed().as_secs_f64();
    println!("sweep of {POINTS} points: {sweep_s:.2} s (target {SWEEP_TARGET_S:.0} s)");

    let start = Instant::now();
    let prediction = predict(&stack, None, None);
    println!(
        "whole answer, intervals and {} points of a sweep included, on all cores: {:.2} s",
        prediction.sweep.len(),
        start.elapsed().as_secs_f64()
    );
    ensure!(
        one_s < ONE_TARGET_S && sweep_s < SWEEP_TARGET_S,
        "a target is missed"
    );
    Ok(())
}

fn settle(stack: &Stack) -> anyhow::Result<()> {
    let computed = compute(&stack.base, &stack.base, None, CELLS).map_err(|why| anyhow!(why))?;
    ensure!(computed.parts.len() == 3, "an exchanger is missing");
    Ok(())
}
