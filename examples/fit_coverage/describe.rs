//! A quick look at one simulated session of each row and what the fit says of it.

use heatbook::estimate::fit_session;
use heatbook::session::Role;
use heatbook::stats::mean;

use super::car::Driven;
use super::effective::open_at_pace;
use super::rows::Row;
use super::scale::Scales;
use super::session::{Setting, Simulated};
use super::study::REFERENCE;
use crate::simulator::circuit::Circuit;

/// Prints the scale and one session of each row, with both cars.
pub fn describe(rows: &[Row], seed: u64) -> anyhow::Result<()> {
    let scales = Scales::of_one_car()?;
    println!("{scales:?}");
    let circuit = Circuit::new();
    for row in rows {
        let setting = Setting {
            row,
            scales: &scales,
            circuit: &circuit,
            reference: REFERENCE,
        };
        println!("{}", row.full_name());
        for driven in [Driven::One, Driven::Drawn] {
            let simulated = setting.session(seed, driven)?;
            println!("  {driven:?}: {}", in_words(&simulated));
        }
    }
    Ok(())
}

fn in_words(simulated: &Simulated) -> String {
    let truth = &simulated.sim.truth;
    let over = |role, among: &dyn Fn(usize) -> bool| {
        let values = truth.channel(role).iter().enumerate();
        let chosen: Vec<f64> = values.filter(|(i, _)| among(*i)).map(|(_, v)| *v).collect();
        mean(&chosen)
    };
    let (hot, open) = (|i: usize| truth.hot[i], |i| open_at_pace(truth, i));
    let fit = fit_session(&simulated.session);
    let ua = |value: Option<f64>| value.map_or("none".to_owned(), |v| format!("{v:.1}"));
    format!(
        "open {:.0} s of {:.0} s at pace | coolant at pace {:.1}, open {:.1} °C | ambient {:.1} °C | \
         {:.0} km/h, {:.0} 1/min | true UA {} W/K, as driven {} | fitted {}, open {:.0} s, \
         ua {:?}, relative {:?}, why {:?}",
        simulated.truth.open_s,
        truth.hot.iter().filter(|h| **h).count() as f64 * 0.1,
        over(Role::Coolant, &hot),
        over(Role::Coolant, &open),
        over(Role::Ambient, &hot),
        over(Role::Speed, &hot),
        over(Role::Rpm, &hot),
        ua(simulated.truth.ua_w_per_k),
        ua(simulated.truth.as_driven_w_per_k),
        if fit.assessable { "yes" } else { "no" },
        fit.open_s,
        fit.ua_w_per_k
            .value
            .known()
            .map(|i| (i.low, i.estimate, i.high)),
        fit.ua_relative.known().map(|i| (i.low, i.high)),
        fit.why,
    )
}
