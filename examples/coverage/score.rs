//! How an estimator did over many campaigns.

use std::collections::BTreeMap;

use super::estimators::Answer;

/// Answers of one estimator to the campaigns of one row.
#[derive(Debug, Default)]
pub struct Score {
    answers: Vec<Answer>,
    declined: usize,
}

impl Score {
    /// Another campaign's answer.
    pub fn add(&mut self, answer: Option<Answer>) {
        match answer {
            Some(answer) => self.answers.push(answer),
            None => self.declined += 1,
        }
    }

    fn mean_of(&self, figure: impl Fn(&Answer) -> f64) -> f64 {
        self.answers.iter().map(figure).sum::<f64>() / self.answers.len() as f64
    }

    /// Mean estimate minus truth, K.
    pub fn bias_k(&self, truth_k: f64) -> f64 {
        self.mean_of(|a| a.change_k) - truth_k
    }

    /// Standard deviation of the estimates, K.
    pub fn sd_k(&self) -> f64 {
        let centre = self.mean_of(|a| a.change_k);
        let squares: f64 = self
            .answers
            .iter()
            .map(|a| (a.change_k - centre).powi(2))
            .sum();
        (squares / (self.answers.len() as f64 - 1.0)).sqrt()
    }

    /// One row of the table, from bias on.
    pub fn cells(&self, truth_k: f64) -> String {
        let n = self.answers.len() as f64;
        if n < 2.0 {
            return format!("| | | | | {} | |", self.declined);
        }
        let missed =
            self.mean_of(|a| f64::from(u8::from((a.change_k - truth_k).abs() > a.half_width_k)));
        let missed_se = (missed * (1.0 - missed) / n).sqrt();
        format!(
            "| {:+.2} | {:.2} | {:.2} | {:.1} ± {:.1} % | {} | {} |",
            self.bias_k(truth_k),
            self.sd_k(),
            self.mean_of(|a| a.half_width_k),
            100.0 * missed,
            100.0 * missed_se,
            self.declined,
            self.verdicts()
        )
    }

    /// How often each verdict was given.
    fn verdicts(&self) -> String {
        let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
        for verdict in self.answers.iter().filter_map(|a| a.verdict) {
            *counts.entry(verdict).or_default() += 1;
        }
        let share = |n: usize| 100.0 * n as f64 / self.answers.len() as f64;
        let parts: Vec<String> = (counts.iter())
            .map(|(v, n)| format!("{v} {:.1}", share(*n)))
            .collect();
        parts.join(", ")
    }
}
