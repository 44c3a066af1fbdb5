//! Where the scatter comes from: null campaigns with one disturbance after the other switched off.

use std::fmt::Write;

use heatbook::stats::mean;

use super::estimators::{excess_k, heat_balance, heat_balance_settled_c, per_session, welch};
use super::prepare::Hot;
use super::score::Score;
use super::{Arguments, in_parallel};
use crate::simulator::campaign::Disturbances;
use crate::simulator::{Campaign, SimSession};

/// Runs null campaigns (3 and 3) for each case and writes the table.
pub fn scatter(arguments: &Arguments) -> String {
    let all = Disturbances::all();
    let cases = [
        ("all disturbances", all),
        (
            "temperatures in 0.1 °C instead of 1 °C steps",
            Disturbances {
                temperature_step_c: 0.1,
                ..all
            },
        ),
        (
            "no scatter of the core",
            Disturbances {
                core_scatter: 0.0,
                ..all
            },
        ),
        (
            "no leaning of the ambient sensor",
            Disturbances {
                sensor_bias: false,
                ..all
            },
        ),
        (
            "even pace, no traffic",
            Disturbances {
                uneven_pace: false,
                ..all
            },
        ),
        ("no wind", Disturbances { wind: false, ..all }),
        (
            "no wind, no scatter, no leaning, fine steps",
            Disturbances {
                wind: false,
                core_scatter: 0.0,
                sensor_bias: false,
                temperature_step_c: 0.1,
                ..all
            },
        ),
    ];
    let mut text = format!(
        "# Where the scatter comes from\n\n\
         Campaigns of 3 sessions before and 3 after, in which nothing changed; both days alike. \
         Standard deviations over {} campaigns a row (good to about {:.0} %). Written by\n\n\
         ```text\ncargo run --release --example coverage -- --scatter --campaigns {} --seed {}\n```\n\n\
         | disturbances | estimated change, plain heat balance, K | estimated change, coolant \
         minus ambient, K | a session within its day, plain heat balance, K |\n|---|---|---|---|\n",
        arguments.campaigns,
        100.0 / (2.0 * (arguments.campaigns as f64 - 1.0)).sqrt(),
        arguments.campaigns,
        arguments.seed
    );
    for (label, disturbances) in cases {
        eprintln!("{label}");
        let results = in_parallel(arguments.campaigns, arguments.threads, |i| {
            let mut campaign = Campaign::confounded(arguments.seed + i);
            campaign.disturbances = disturbances;
            let hot: Vec<Hot> = campaign
                .run()
                .iter()
                .filter_map(|s: &SimSession| Hot::of(s))
                .collect();
            let settled = heat_balance_settled_c(&hot);
            let plain = welch(&hot, &per_session(&hot, excess_k));
            (heat_balance(&hot), plain, within_days(&settled))
        });
        let (mut balance, mut plain, mut within) = (Score::default(), Score::default(), Vec::new());
        for (b, p, w) in results {
            balance.add(b);
            plain.add(p);
            within.push(w);
        }
        let _ = writeln!(
            text,
            "| {label} | {:.2} | {:.2} | {:.2} |",
            balance.sd_k(),
            plain.sd_k(),
            mean(&within).sqrt()
        );
    }
    text
}

/// Variance of sessions within their day, three a day.
fn within_days(values: &[f64]) -> f64 {
    let squares: f64 = values
        .chunks(3)
        .map(|day| day.iter().map(|v| (v - mean(day)).powi(2)).sum::<f64>())
        .sum();
    squares / 4.0
}
