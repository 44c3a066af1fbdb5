//! The table.

use std::fmt::Write as _;

use heatbook::season::{Drift, Form};

use super::Arguments;
use super::percent::percent;
use super::seasons::{LEFT, Row};

/// Says what the seasons of every row were told: without any loss, with a steady one, with one at once.
pub fn table(results: &[(&Row, [Vec<Drift>; 3])], arguments: &Arguments) -> String {
    let Arguments { seasons, seed, .. } = arguments;
    let lost = 100.0 * (1.0 - LEFT);
    let mut text = format!(
        "# How often a drift is shown\n\n\
         `cargo run --release --example drift -- --seasons {seasons} --seed {seed}`\n\n\
         {seasons} seasons of ten sessions in each cell, from the simulator (heat, air, sensors in whole degrees, traffic, \
         wind and gusts, core scatter of 1 % from session to session as in the other studies; noon within 6 K of 22 °C \
         unless the row says otherwise), asked as `heatbook season` asks. Shown: share of seasons in which a drift \
         was shown (interval: 95 %). Lost: {lost:.0} % of the conductance, a little with every session or at once before \
         the sixth; blocked by what takes air from the core. Held: share of the 95 % intervals of the ratio of \
         conductance at the last session over the first, that of the form told, that hold the truth. A loss told in \
         the other form holds it too seldom, so for losses it is of those told in the true form, with their number.\n\n\
         The targets: shown in at most 5 % where nothing is lost, in at least 80 % where {lost:.0} % is.\n\n\
         | season | nothing lost: shown | ratio held | lost steadily: shown | of that, as steady: ratio held | lost at once: shown | of that, as a step: ratio held |\n\
         |---|---|---|---|---|---|---|\n"
    );
    for (row, [none, steady, at_once]) in results {
        let all: Vec<&Drift> = none.iter().collect();
        let _ = writeln!(
            text,
            "| {} | {} | {} | {} | {} | {} | {} |",
            row.name,
            shown(none),
            held(&all, 1.0),
            shown(steady),
            held(&told_as(steady, Form::Steady), LEFT),
            shown(at_once),
            held(&told_as(at_once, Form::Step), LEFT),
        );
    }
    text
}

fn told_as(seasons: &[Drift], form: Form) -> Vec<&Drift> {
    let so = |drift: &&Drift| drift.form == Some(form);
    seasons.iter().filter(so).collect()
}

fn shown(seasons: &[Drift]) -> String {
    let n = seasons.iter().filter(|drift| drift.shown == Some(true));
    percent(n.count(), seasons.len())
}

fn held(seasons: &[&Drift], truth: f64) -> String {
    let known: Vec<_> = (seasons.iter())
        .filter_map(|drift| drift.conductance_ratio.known())
        .collect();
    let held = known.iter().filter(|ratio| ratio.contains(truth)).count();
    match known.len() {
        0 => "–".to_owned(),
        n => format!("{} of {n}", percent(held, n)),
    }
}
