//! The running order: both setups on each day, and neither always first.
//!
//! Day by day B A A B and A B B A in turn (A after, B before), so that what drifts through a day, as
//! its warming does, falls on both alike; an odd day ends on the setup that it began with, and the
//! next day begins with the other. One setup a day: days B A A B.

use serde::Serialize;

use super::Request;

/// One session to be run.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Run {
    /// Day, from 1.
    pub day: u32,
    /// Place in the day, from 1.
    pub run: u32,
    /// The setup to run with.
    pub setup: String,
}

/// Which sessions of each day are with the setup after.
pub(super) fn sides(request: &Request, days: u32) -> Vec<Vec<bool>> {
    (0..days)
        .map(|day| {
            let runs = 0..request.sessions_per_day;
            if request.one_setup_a_day {
                return runs.map(|_| is_after(day)).collect();
            }
            let odd_day = day % 2 == 1;
            let of_run = |run| match request.sessions_per_day % 2 {
                0 => is_after(run) != odd_day,
                _ => (run % 2 == 1) != odd_day,
            };
            runs.map(of_run).collect()
        })
        .collect()
}

/// Before, after, after, before, and so on.
fn is_after(place: u32) -> bool {
    matches!(place % 4, 1 | 2)
}

/// The order with its names.
pub(super) fn order(request: &Request, days: u32) -> Vec<Run> {
    let mut order = Vec::new();
    for (day, sides) in (1..).zip(sides(request, days)) {
        for (run, after) in (1..).zip(sides) {
            let setup = if after {
                &request.after
            } else {
                &request.before
            };
            order.push(Run {
                day,
                run,
                setup: setup.clone(),
            });
        }
    }
    order
}
