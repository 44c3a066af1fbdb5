//! A share in words.

use heatbook::stats::share;

/// `hits` of `cases` in percent, with the exact 95 % interval.
pub fn percent(hits: usize, cases: usize) -> String {
    match share(hits, cases).known() {
        Some(i) => format!(
            "{:.1} % ({:.1} to {:.1})",
            100.0 * i.estimate,
            100.0 * i.low,
            100.0 * i.high
        ),
        None => "-".to_owned(),
    }
}
