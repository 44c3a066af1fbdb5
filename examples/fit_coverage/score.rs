//! How the fit did over the sessions of a row.

use std::collections::BTreeMap;
use std::fmt::Write;

use heatbook::stats::{mean, standard_deviation};

use super::rows::Row;

/// A session with the thermostat fully open so long must be accepted, s.
pub const OPEN_ENOUGH_S: f64 = 300.0;

/// Estimate over truth, and the interval's ends over the estimate; all logarithms.
#[derive(Debug, Clone, Copy)]
pub struct Miss {
    /// Estimate over truth.
    pub log_error: f64,
    /// Low end over estimate.
    pub log_low: f64,
    /// High end over estimate.
    pub log_high: f64,
}

impl Miss {
    /// Whether the interval holds the truth.
    fn covers(&self) -> bool {
        self.log_error + self.log_low <= 0.0 && 0.0 <= self.log_error + self.log_high
    }

    /// Half the interval's width over the estimate.
    fn half_width(&self) -> f64 {
        (self.log_high.exp() - self.log_low.exp()) / 2.0
    }

    /// Error in half-widths.
    fn severity(&self) -> f64 {
        self.log_error.abs() / self.half_width().max(1e-12)
    }
}

/// The misses of many sessions.
#[derive(Debug)]
pub struct Misses(Vec<Miss>);

impl Misses {
    /// Share of intervals that hold the truth.
    pub fn coverage(&self) -> Share {
        Share {
            hits: self.0.iter().filter(|miss| miss.covers()).count(),
            of: self.0.len(),
        }
    }

    /// Mean logarithm of estimate over truth; `NaN` of none.
    pub fn bias(&self) -> f64 {
        mean(&self.log_errors())
    }

    /// Standard deviation of that logarithm; `NaN` of fewer than two.
    pub fn sd(&self) -> f64 {
        standard_deviation(&self.log_errors()).unwrap_or(f64::NAN)
    }

    /// Median half-width of the intervals over the estimate; `NaN` of none.
    pub fn median_half_width(&self) -> f64 {
        median(self.0.iter().map(Miss::half_width).collect())
    }

    fn log_errors(&self) -> Vec<f64> {
        self.0.iter().map(|miss| miss.log_error).collect()
    }
}

/// What the fit said of one session.
#[derive(Debug, Clone)]
pub struct Fitted {
    /// The session's seed.
    pub seed: u64,
    /// Seconds with the thermostat fully open at pace, in truth.
    pub open_s: f64,
    /// Sessions drawn before it that were not of the row's kind.
    pub drawn_again: u64,
    /// Whether the fit gave a value.
    pub accepted: bool,
    /// Why not.
    pub why: Option<String>,
    /// `ua_relative` at the fit's own scale, where value and truth are there.
    pub relative: Option<Miss>,
    /// `ua_w_per_k` as told, likewise.
    pub absolute: Option<Miss>,
}

/// One session number, with both cars.
#[derive(Debug, Clone)]
pub struct Outcome {
    /// The one car.
    pub one: Fitted,
    /// A car drawn at random.
    pub drawn: Fitted,
}

/// The fits of one car kind over a row.
#[derive(Debug, Default)]
pub struct Side {
    fits: Vec<Fitted>,
}

/// A share with its binomial standard error.
#[derive(Debug, Clone, Copy)]
pub struct Share {
    /// How many.
    pub hits: usize,
    /// Of how many.
    pub of: usize,
}

impl Share {
    /// The share, 0 to 1; `NaN` of none.
    pub fn value(self) -> f64 {
        self.hits as f64 / self.of as f64
    }

    /// As `95.0 ± 1.0 %`.
    pub fn with_error(self) -> String {
        if self.of == 0 {
            return "–".to_owned();
        }
        let p = self.value();
        let error = (p * (1.0 - p) / self.of as f64).sqrt();
        format!("{:.1} ± {:.1} %", 100.0 * p, 100.0 * error)
    }
}

impl Side {
    /// Share of sessions that were accepted.
    pub fn accepted(&self) -> Share {
        self.count(|_| true, |fit| fit.accepted)
    }

    /// Share of sessions that were declined.
    pub fn declined(&self) -> Share {
        self.count(|_| true, |fit| !fit.accepted)
    }

    /// Share of sessions open for five minutes or more that were accepted.
    pub fn accepted_if_open(&self) -> Share {
        self.count(|fit| fit.open_s >= OPEN_ENOUGH_S, |fit| fit.accepted)
    }

    fn count(&self, among: impl Fn(&Fitted) -> bool, hit: impl Fn(&Fitted) -> bool) -> Share {
        let fits: Vec<&Fitted> = self.fits.iter().filter(|fit| among(fit)).collect();
        Share {
            hits: fits.iter().filter(|fit| hit(fit)).count(),
            of: fits.len(),
        }
    }

    /// Of `ua_relative`, at the fit's own scale.
    pub fn relative(&self) -> Misses {
        Misses(self.fits.iter().filter_map(|fit| fit.relative).collect())
    }

    /// Of `ua_w_per_k`, as told.
    pub fn absolute(&self) -> Misses {
        Misses(self.fits.iter().filter_map(|fit| fit.absolute).collect())
    }

    /// Median of the true seconds open.
    pub fn median_open_s(&self) -> f64 {
        median(self.fits.iter().map(|fit| fit.open_s).collect())
    }

    /// Sessions drawn again because they were not of the row's kind.
    pub fn drawn_again(&self) -> u64 {
        self.fits.iter().map(|fit| fit.drawn_again).sum()
    }

    /// Sessions that were accepted without a value or an interval: the fit contradicts itself.
    pub fn without_value(&self) -> usize {
        self.count(|fit| fit.absolute.is_none(), |fit| fit.accepted)
            .hits
    }

    /// Why sessions were declined, numbers taken out, most frequent first.
    pub fn reasons(&self) -> Vec<(String, Share)> {
        let mut counts: BTreeMap<String, usize> = BTreeMap::new();
        for fit in self.fits.iter().filter(|fit| !fit.accepted) {
            let why = fit.why.as_deref().unwrap_or("no reason given");
            *counts.entry(without_numbers(why)).or_default() += 1;
        }
        let of = self.fits.len();
        let mut reasons: Vec<_> = counts
            .into_iter()
            .map(|(why, hits)| (why, Share { hits, of }))
            .collect();
        reasons.sort_by_key(|(_, share)| std::cmp::Reverse(share.hits));
        reasons
    }

    fn worst(&self, what: &str, miss: fn(&Fitted) -> Option<Miss>, row: &Row, text: &mut String) {
        let mut missed: Vec<(&Fitted, Miss)> = self
            .fits
            .iter()
            .filter_map(|fit| Some((fit, miss(fit)?)))
            .filter(|(_, miss)| !miss.covers())
            .collect();
        missed.sort_by(|a, b| b.1.severity().total_cmp(&a.1.severity()));
        for (fit, miss) in missed.iter().take(5) {
            let _ = writeln!(
                text,
                "  {what}: {:+.2} % with half-width {:.2} %, open {:.0} s: --row {:?} --sessions 1 --seed {}",
                100.0 * miss.log_error,
                100.0 * miss.half_width(),
                fit.open_s,
                row.full_name(),
                fit.seed
            );
        }
    }
}

/// A row's outcomes.
#[derive(Debug, Default)]
pub struct Score {
    /// With the one car.
    pub one: Side,
    /// With drawn cars.
    pub drawn: Side,
    /// Logarithm of the scale from heat over the fit's own, of the one car. `None`: the fit has none.
    pub heat_over_own: Option<f64>,
}

impl Score {
    /// The score of these sessions.
    pub fn of(outcomes: Vec<Outcome>, heat_over_own: Option<f64>) -> Self {
        let (one, drawn) = outcomes.into_iter().map(|o| (o.one, o.drawn)).unzip();
        Self {
            one: Side { fits: one },
            drawn: Side { fits: drawn },
            heat_over_own,
        }
    }

    /// Mean logarithm of estimate over truth of the one car at the scale from heat; `NaN` of none.
    pub fn bias_at_scale_from_heat(&self) -> f64 {
        self.one.relative().bias() + self.heat_over_own.unwrap_or(f64::NAN)
    }

    /// The worst misses, with what to type to see each again.
    pub fn worst(&self, row: &Row) -> String {
        let mut text = format!("{}\n", row.full_name());
        let sides = [("one car", &self.one), ("drawn cars", &self.drawn)];
        for (cars, side) in sides {
            side.worst(
                &format!("ua_relative, {cars}"),
                |fit| fit.relative,
                row,
                &mut text,
            );
        }
        self.drawn
            .worst("ua_w_per_k", |fit| fit.absolute, row, &mut text);
        text
    }
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(f64::NAN)
}

/// A sentence with every number replaced by a sign, so that like reasons count as one.
fn without_numbers(text: &str) -> String {
    let mut out = String::new();
    for c in text.chars() {
        match c {
            '0'..='9' if out.ends_with('#') => {}
            '0'..='9' => out.push('#'),
            c => out.push(c),
        }
    }
    out.replace("#.#", "#").replace("-#", "#")
}
