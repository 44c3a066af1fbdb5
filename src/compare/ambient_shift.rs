//! Whether the ambient reading moved with the part.
//!
//! A part may warm or cool the ambient sensor, or come with another one. What it reads too much, coolant seems to run
//! cooler by. At speed intake air follows ambient, so the difference of the two tells:
//!
//! ```text
//! r_s = mean of intake minus ambient over hot running above 80 km/h, session s
//! d   = Σ_d w_d (mean r after - mean r before, day d) / Σ w_d,   w_d = 1 / (1/n_before + 1/n_after)
//! v   = (Σ (r - mean of its day and setup)² + 2 · 0.5² K²) / (ν + 2),   d ± t_{ν+2} √(v / Σ w_d)
//! ```
//!
//! over days with both setups; ν degrees of freedom within day and setup, 0.5 K what two of them are worth beforehand
//! (by simulation). It matters from [`MATTERS_K`] on, and where the verdict would not be the same with d taken off the
//! change. A part that truly warms the intake air cannot be told from it.

use std::collections::BTreeMap;

use chrono::NaiveDate;

use super::verdict::of_interval;
use super::{Request, Verdict};
use crate::estimate::prepare::Prepared;
use crate::quantity::{Measure, Units};
use crate::session::Role;
use crate::stats::{Estimate, mean, t_factor};
use crate::warning::Warning;
use crate::words::{quoted, signed};

/// Slower than this a car stands in the air it has warmed, km/h.
const AT_SPEED_KMH: f64 = 80.0;

/// A smaller difference is no matter, K.
const MATTERS_K: f64 = 1.0;

/// Scatter from session to session before any is seen, K, and the degrees of freedom it is worth.
const USUAL: (f64, f64) = (0.5, 2.0);

/// Intake minus ambient, after minus before within days, K.
pub(super) fn intake_gap_change(used: &[&Prepared], request: &Request) -> Estimate {
    let mut days: BTreeMap<NaiveDate, [Vec<f64>; 2]> = BTreeMap::new();
    for session in used {
        let (Some(day), Some(gap_k)) = (session.day, intake_gap_k(session)) else {
            continue;
        };
        let after = usize::from(session.setup == request.after);
        days.entry(day).or_default()[after].push(gap_k);
    }
    days.retain(|_, sides| sides.iter().all(|side| !side.is_empty()));
    let (mut sum, mut weight, mut squares, mut df) = (0.0, 0.0, 0.0, 0.0);
    for sides in days.values() {
        let [before, after] = sides.each_ref().map(|side| mean(side));
        let w = 1.0
            / sides
                .iter()
                .map(|side| 1.0 / side.len() as f64)
                .sum::<f64>();
        sum += w * (after - before);
        weight += w;
        for (side, middle) in sides.iter().zip([before, after]) {
            squares += side.iter().map(|r| (r - middle).powi(2)).sum::<f64>();
            df += side.len() as f64 - 1.0;
        }
    }
    let Some(t) = t_factor(df + USUAL.1).filter(|_| weight > 0.0) else {
        return Estimate::unknown("no day has intake air and ambient of both setups");
    };
    let variance = (squares + USUAL.1 * USUAL.0.powi(2)) / (df + USUAL.1);
    Estimate::symmetric(
        sum / weight,
        t * (variance / weight).sqrt(),
        "contrast within days, t",
    )
}

/// Mean of intake minus ambient over hot running at speed, K.
fn intake_gap_k(session: &Prepared) -> Option<f64> {
    let intake_c = session.grid.get(Role::Intake)?;
    let ambient_c = session.ambient_c.as_ref()?;
    let stints = session.drive.stints.iter().flat_map(|&(a, b)| a..b);
    let gaps: Vec<f64> = stints
        .filter(|&i| session.speed_kmh[i] > AT_SPEED_KMH)
        .map(|i| intake_c[i] - ambient_c[i])
        .filter(|gap| !gap.is_nan())
        .collect();
    (!gaps.is_empty()).then(|| mean(&gaps))
}

/// By how much the ambient reading may have moved the change, K. `None`: by nothing that matters.
fn moved_k(intake_gap_change_k: &Estimate) -> Option<f64> {
    let gap = intake_gap_change_k.known()?;
    (gap.estimate.abs() >= MATTERS_K && !gap.contains(0.0)).then_some(gap.estimate)
}

/// Which side, before or after, looks hotter than it is, where a verdict does not stand without that.
pub fn looks_hotter(
    verdict: Verdict,
    change_k: &Estimate,
    threshold_k: f64,
    intake_gap_change_k: &Estimate,
) -> [bool; 2] {
    let Some(by_k) = moved_k(intake_gap_change_k) else {
        return [false; 2];
    };
    let without = change_k.map(|k| k - by_k);
    match of_interval(&without, threshold_k) == verdict {
        true => [false; 2],
        false => [by_k < 0.0, by_k > 0.0],
    }
}

/// Whether a bound of the change is on its side of zero only because the ambient reading moved.
pub fn may_come_of_ambient(limit_k: f64, intake_gap_change_k: &Estimate) -> bool {
    moved_k(intake_gap_change_k).is_some_and(|by_k| (limit_k - by_k) * limit_k <= 0.0)
}

/// What was seen, in words.
pub fn in_words(intake_gap_change_k: &Estimate, units: Units) -> String {
    let by = intake_gap_change_k.point().unwrap_or_default();
    format!(
        "intake air less ambient differs by {} {} within days, so the ambient reading may have moved with the part",
        signed(units.of(Measure::Difference, by), 1),
        units.symbol(Measure::Difference)
    )
}

/// The caution where it did, or where nothing could show it.
pub(super) fn caution(
    used: &[&Prepared],
    intake_gap_change_k: &Estimate,
    request: &Request,
) -> Option<Warning> {
    if used.iter().all(|s| intake_gap_k(s).is_none()) {
        return Some(Warning::caution(
            "ambient-unchecked",
            "no session has intake air beside ambient, so nothing here shows whether the ambient reading moved with the part: if it reads 1 K more, coolant seems to run 1 K cooler; hold the sensor against a thermometer or a weather file",
        ));
    }
    let by_k = moved_k(intake_gap_change_k)?;
    Some(Warning::caution(
        "ambient-moved",
        format!(
            "intake air less ambient is {} K off with {} against {} within days: unless the part warms or cools the intake air, its ambient reading moved, and the change is off by as much; hold the ambient sensor against a thermometer or a weather file",
            signed(by_k, 1),
            quoted(&request.after),
            quoted(&request.before)
        ),
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::compare::Eligible;
    use crate::estimate::synthetic::{self, Truth};
    use crate::session::Session;

    /// Sessions of two days with their intake so far above ambient.
    fn sessions(gaps_k: [[f64; 4]; 2]) -> Vec<Session> {
        let base = synthetic::session(&Truth::default());
        let ambient = base.channel(Role::Ambient).unwrap();
        let of = |day: usize, i: usize, gap_k: f64| {
            let intake = ambient.iter().map(|c| c + gap_k).collect();
            let mut session = synthetic::with(&base, &[(Role::Intake, intake)]);
            session.meta.day = NaiveDate::from_ymd_opt(2031, 5, 17 + day as u32);
            session.meta.setup = ["before", "after"][i % 2].to_owned();
            session
        };
        let days = gaps_k.iter().enumerate();
        days.flat_map(|(day, gaps_k)| (0..4).map(move |i| (day, i, gaps_k[i])))
            .map(|(day, i, gap_k)| of(day, i, gap_k))
            .collect()
    }

    fn change(gaps_k: [[f64; 4]; 2]) -> Estimate {
        let sessions = sessions(gaps_k);
        let eligible = Eligible::of(&sessions.iter().collect::<Vec<_>>());
        let used: Vec<&Prepared> = eligible.used.iter().collect();
        assert_eq!(used.len(), 8);
        intake_gap_change(&used, &Request::of("before", "after"))
    }

    /// Days may differ as they like; an ambient that reads 2 K more with the part is told, and takes the verdict.
    #[test]
    fn a_moved_ambient_is_told_within_days() {
        let moved = change([[3.0, 1.0, 3.2, 1.2], [9.0, 7.0, 8.8, 6.8]]);
        assert!((moved.point().unwrap() + 2.0).abs() < 0.05, "{moved:?}");
        let cooler = Estimate::between(-2.3, -3.9, -0.7, "t");
        let sides = |change_k| looks_hotter(Verdict::Improved, change_k, 0.5, &moved);
        assert_eq!(sides(&cooler), [true, false]);
        let far_cooler = Estimate::between(-5.3, -6.9, -3.7, "t");
        assert_eq!(sides(&far_cooler), [false; 2]);
    }

    #[test]
    fn scatter_is_no_move() {
        let scattered = change([[3.0, 1.5, 1.0, 3.2], [8.0, 7.5, 7.0, 8.2]]);
        assert!(moved_k(&scattered).is_none(), "{scattered:?}");
        let alike = change([[3.0, 3.1, 3.0, 3.1], [8.0, 8.1, 8.0, 8.1]]);
        assert!(moved_k(&alike).is_none(), "{alike:?}");
    }
}
