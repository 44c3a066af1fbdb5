//! The table.

use std::fmt::Write as _;

use heatbook::stats::Estimate;

use super::Arguments;
use super::another::{Plan, Stood};
use super::cut::{Cut, Row};
use super::percent::percent;

/// What a row says of one figure.
struct Held {
    said: usize,
    held: usize,
    above: usize,
    bias: f64,
    half_width: f64,
}

impl Held {
    fn of(pairs: &[(&Estimate, f64)]) -> Self {
        let known: Vec<_> = (pairs.iter())
            .filter_map(|(said, truth)| Some((said.known()?, *truth)))
            .collect();
        let n = known.len().max(1) as f64;
        let mut half_widths: Vec<f64> = known.iter().map(|(i, _)| i.half_width()).collect();
        half_widths.sort_by(f64::total_cmp);
        Self {
            said: known.len(),
            held: (known
                .iter()
                .filter(|(i, truth)| (i.low..=i.high).contains(truth)))
            .count(),
            above: known.iter().filter(|(i, truth)| *truth > i.high).count(),
            bias: known
                .iter()
                .map(|(i, truth)| i.estimate - truth)
                .sum::<f64>()
                / n,
            half_width: half_widths
                .get(half_widths.len() / 2)
                .copied()
                .unwrap_or(f64::NAN),
        }
    }

    fn row(&self) -> String {
        format!(
            "{} | {} | {:.1} % | {:+.2} | {:.2}",
            self.said,
            percent(self.held, self.said),
            100.0 * self.above as f64 / self.said.max(1) as f64,
            self.bias,
            self.half_width
        )
    }
}

/// The table of every row.
pub fn table(results: &[(&Row, Vec<Cut>)], arguments: &Arguments) -> String {
    let Arguments {
        sessions,
        campaigns,
        seed,
        ..
    } = arguments;
    let mut text = format!(
        "# How often \"would have\" holds what came\n\n\
         `cargo run --release --example would_have -- --sessions {sessions} --campaigns {campaigns} --seed {seed}`\n\n\
         {sessions} sessions a row from the simulator, each run on for half an hour after its log was cut. \
         Held: share of the 95 % intervals that hold what the same run then did, with its own gusts, traffic \
         and laps (interval: Clopper and Pearson's, 95 %); above: share in which it came hotter than the interval. Cars differ: the heat \
         capacities of block and oil, their couplings to metal and coolant, and what the car sheet says of the metal's \
         capacity, scatter by 25 % each. Level and peak: true \
         coolant from 5 min after the cut, over 700 s, less what ambient rose since. Crossed: so \
         corrected coolant at a limit 4 K above that at the cut.\n\n\
         | session | figure | said | held | above | bias | median half-width |\n|---|---|---|---|---|---|---|\n"
    );
    for (row, cuts) in results {
        let level: Vec<_> = (cuts.iter())
            .map(|c| (&c.said.would_have_settled_c, c.level_c))
            .collect();
        let peak: Vec<_> = (cuts.iter())
            .map(|c| (&c.said.would_have_peaked_c, c.peak_c))
            .collect();
        let crossed: Vec<_> = (cuts.iter())
            .map(|c| {
                (
                    &c.said.would_have_crossed_s,
                    c.crossed_s.unwrap_or(c.watched_s),
                )
            })
            .collect();
        for (figure, pairs) in [
            ("level, K", level),
            ("peak, K", peak),
            ("crossed, s", crossed),
        ] {
            let _ = writeln!(
                text,
                "| {} | {figure} | {} |",
                row.name,
                Held::of(&pairs).row()
            );
        }
    }
    text += "\nWhere no time is said:\n\n| session | said | sessions | met the limit in truth |\n|---|---|---|---|\n";
    for (row, cuts) in results {
        for (word, name) in [
            ("may or may not", "may or may not"),
            ("not within", "not within half an hour"),
            ("at or over", "at or over the limit at the cut"),
        ] {
            let of: Vec<&Cut> = (cuts.iter())
                .filter(|c| {
                    c.said
                        .would_have_crossed_s
                        .why()
                        .is_some_and(|w| w.contains(word))
                })
                .collect();
            let met = of.iter().filter(|c| c.crossed_s.is_some()).count();
            let _ = writeln!(text, "| {} | {name} | {} | {met} |", row.name, of.len());
        }
        let rising = cuts
            .iter()
            .filter(|c| c.said.still_rising_at_end == Some(true))
            .count();
        let _ = writeln!(
            text,
            "| {} | still rising at the cut | {rising} | |",
            row.name
        );
    }
    text
}

/// The table of what setups can stand.
pub fn stood(results: &[(&Plan, Vec<Stood>)]) -> String {
    let campaigns = results.first().map_or(0, |(_, stood)| stood.len());
    let mut text = format!(
        "\n## What a setup can stand\n\n\
         {campaigns} campaigns a row: sessions of one setup at some 23 °C, judged against 112 °C; the truth is the ambient \
         at which one more session, on another day with its own pace, traffic, core, wind and gusts, would just have \
         peaked there. In a wake: that session held behind another car all along, which slows the air by a fifth. Above: share in which it could stand more than the interval says; bias and half-width in K.\n\n\
         | sessions | limiting ambient | said | held | above | bias | median half-width |\n|---|---|---|---|---|---|---|\n"
    );
    for (plan, campaigns) in results {
        let by_rule = campaigns
            .iter()
            .map(|s| (&s.said.limiting_ambient_c, s.ambient_c));
        let by_model = campaigns
            .iter()
            .map(|s| (&s.said.limiting_ambient_model_c, s.ambient_c));
        let in_wake = campaigns
            .iter()
            .map(|s| (&s.said.limiting_ambient_wake_c, s.behind_c));
        for (figure, pairs) in [
            ("by the 1:1 rule", by_rule.collect::<Vec<_>>()),
            ("by the model", by_model.collect()),
            ("by the model, in a wake of 20 %", in_wake.collect()),
        ] {
            let _ = writeln!(
                text,
                "| {} | {figure} | {} |",
                plan.name,
                Held::of(&pairs).row()
            );
        }
    }
    text
}
