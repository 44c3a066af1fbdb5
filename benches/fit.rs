//! How long the fit of a session takes.
//!
//! ```text
//! cargo bench --bench fit
//! ```
//! fits ten simulated sessions (25 minutes, ten rows a second) one at a time, then 200 on two
//! threads, and fails if a target is missed. The tests run it too: then it fits one session.
//!
//! A plain clock instead of criterion: that switches on a feature of `either`, which Polars shares,
//! and Polars would be built twice.
#![allow(clippy::print_stdout)]

#[path = "../examples/simulator/mod.rs"]
mod simulator;

mod session;

use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Instant;

use anyhow::ensure;
use heatbook::estimate::fit_session;
use heatbook::session::Session;

const DISTINCT: usize = 10;
const TIMES_EACH: usize = 3;
const ONE_TARGET_S: f64 = 0.2;

const MANY: usize = 200;
const THREADS: usize = 2;
const MANY_TARGET_S: f64 = 24.0;

fn main() -> anyhow::Result<()> {
    if !std::env::args().any(|argument| argument == "--bench") {
        return fit(&session::sessions(1)?[0]);
    }
    let sessions = session::sessions(DISTINCT)?;
    let one_s = one_at_a_time(&sessions)?;
    let many_s = in_parallel(&sessions)?;
    ensure!(
        one_s < ONE_TARGET_S && many_s < MANY_TARGET_S,
        "a target is missed"
    );
    Ok(())
}

/// A session that is declined would be quick for the wrong reason.
fn fit(session: &Session) -> anyhow::Result<()> {
    let fit = fit_session(session);
    ensure!(fit.assessable, "declined: {:?}", fit.why);
    Ok(())
}

/// The middle one of the sessions' medians, s.
fn one_at_a_time(sessions: &[Session]) -> anyhow::Result<f64> {
    let mut medians_s = Vec::new();
    for session in sessions {
        let mut times_s = Vec::new();
        for _ in 0..TIMES_EACH {
            let start = Instant::now();
            fit(session)?;
            times_s.push(start.elapsed().as_secs_f64());
        }
        medians_s.push(median(&mut times_s));
    }
    let middle_s = median(&mut medians_s);
    let over = medians_s.iter().filter(|&&s| s >= ONE_TARGET_S).count();
    println!(
        "one session, one thread: median {:.0} ms, from {:.0} to {:.0} ms over {} sessions, each \
         the median of {TIMES_EACH} (target: median under {:.0} ms; {over} sessions are over it)",
        1e3 * middle_s,
        1e3 * medians_s[0],
        1e3 * medians_s[medians_s.len() - 1],
        sessions.len(),
        1e3 * ONE_TARGET_S,
    );
    Ok(middle_s)
}

/// Time for all of them, s.
fn in_parallel(sessions: &[Session]) -> anyhow::Result<f64> {
    let next = AtomicUsize::new(0);
    let work = || -> anyhow::Result<()> {
        loop {
            let i = next.fetch_add(1, Ordering::Relaxed);
            if i >= MANY {
                return Ok(());
            }
            fit(&sessions[i % sessions.len()])?;
        }
    };
    let start = Instant::now();
    std::thread::scope(|scope| {
        let workers: Vec<_> = (0..THREADS).map(|_| scope.spawn(work)).collect();
        workers.into_iter().try_for_each(|worker| {
            worker
                .join()
                .unwrap_or_else(|panic| std::panic::resume_unwind(panic))
        })
    })?;
    let time_s = start.elapsed().as_secs_f64();
    println!(
        "{MANY} sessions ({} distinct), {THREADS} threads: {time_s:.1} s (target: under {MANY_TARGET_S:.0} s)",
        sessions.len()
    );
    Ok(time_s)
}

/// The middle one of some times, s.
fn median(times_s: &mut [f64]) -> f64 {
    times_s.sort_by(f64::total_cmp);
    times_s[times_s.len() / 2]
}
