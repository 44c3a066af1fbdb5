//! The second answer: stints alike in ambient, density and pace, paired and compared.
//!
//! The windows of hot running (whole laps, none on which the car was held up) make pieces of about [`PIECE_S`]; a
//! piece's settled excess is `θ = mean(T - T_air) + (C ΔT + C_slow ΔT_slow) / (g f L (1 + θ w))`, the mean corrected for
//! heat stored, w what the walls take less by kelvin. A piece before and one after are a pair when ambient, density,
//! heat input, speed and hot running before differ by no more than the calipers and, where days are shared, the day is
//! the same; nearest pairs first, no piece twice.
//! What is left of the difference in drive inside a pair is taken out by the steady balance
//! (`θ ∝ heat / conductance`; the bias correction of Abadie & Imbens 2011). Pieces are chosen by
//! drive and ambient, never by coolant.
//!
//! The interval: `var = V(before) + V(after) - V(links)`, and no less than either side's own; each
//! `V` leaves out one cluster at a time (jackknife). A cluster is a session, or a day where days are
//! not shared; a link is a session before with one after. Where each session is linked with one
//! other, both sides and the links tell the same scatter, which counts once. Student's t on the
//! lesser of links - 1 and clusters - 2. After the two-way clustering of Cameron, Gelbach & Miller,
//! J. Bus. Econ. Stat. 29 (2011) 238.

use super::answer::{Balance, Matched};
use super::contrast::Unit;
use crate::estimate::joint::{JointFit, SessionBalance};
use crate::estimate::prepare::{Prepared, STEP_S};
use crate::estimate::windows::behind_store_k;
use crate::stats::{Estimate, mean, sample_variance, t_factor};
use crate::thermal::air;
use crate::thermal::conductance::relative;
use crate::thermal::wall;

/// Length of a piece, s.
const PIECE_S: f64 = 300.0;

/// What a piece is matched by.
const COVARIATES: [&str; 5] = [
    "ambient, °C",
    "air density, kg/m³",
    "heat input, kW",
    "speed, km/h",
    "hot running before, min",
];

/// Largest difference within a pair: ambient, K; density, heat input and speed as fractions; hot running before, min.
/// A piece from the start of a session stores most heat: it is held against another such.
pub const CALIPERS: [f64; COVARIATES.len()] = [2.0, 0.02, 0.05, 0.05, 5.0];

/// Those whose caliper is a difference, not a fraction.
const ABSOLUTE: [usize; 2] = [0, 4];

/// A piece of hot running.
#[derive(Debug, Clone, PartialEq)]
struct Piece {
    session: usize,
    after: bool,
    day: Option<chrono::NaiveDate>,
    covariates: [f64; COVARIATES.len()],
    log_flow: f64,
    excess_k: f64,
}

/// A pair: its sessions, and after minus before.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Pair {
    before: usize,
    after: usize,
    change_k: f64,
}

/// Compares matched pieces. `sessions`, the balances of `joint` and `after` run in parallel.
pub fn matched(sessions: &[&Prepared], joint: &JointFit, after: &[bool], unit: Unit) -> Matched {
    let pieces: Vec<Piece> = sessions
        .iter()
        .enumerate()
        .flat_map(|(i, session)| pieces(session, joint, i, after[i]))
        .collect();
    let (pairs, members) = pair(&pieces, joint.air_exponent(), unit);
    let balance = (0..COVARIATES.len())
        .map(|k| balance(&pieces, &members, k))
        .collect();
    let cluster = |i: usize| match unit {
        Unit::Session => i,
        Unit::Day => sessions
            .iter()
            .position(|s| s.day == sessions[i].day)
            .unwrap_or(i),
    };
    Matched {
        pairs: pairs.len(),
        mean_k: (!pairs.is_empty()).then(|| mean_change_k(pairs.iter())),
        coolant_change_k: change(&pairs, cluster),
        balance,
    }
}

fn pieces(session: &Prepared, joint: &JointFit, index: usize, after: bool) -> Vec<Piece> {
    let Some(ambient) = &session.ambient_c else {
        return Vec::new();
    };
    // What the walls take less at a hotter coolant is part of the answer, not of the drive.
    let heat = joint.heat_at_reference_w(session);
    let balance: &SessionBalance = &joint.sessions[index];
    let capacity = session.capacity_j_per_k * joint.capacity_factor();
    let store = session.capacity_j_per_k * joint.store_factor();
    let behind_k = behind_store_k(session, joint.store_tau_s());
    parted(session)
        .into_iter()
        .map(|(a, b)| {
            let over = |values: &[f64]| mean(&values[a..b]);
            let heat_w = over(&heat);
            let ambient_c = over(ambient);
            let log_flow = over(&session.log_air_flow);
            let g = balance.log_g.exp() * relative(log_flow, joint.air_exponent());
            let rise_k = mean(&session.coolant_c[b - 10..b]) - mean(&session.coolant_c[a..a + 10]);
            let quick_w = capacity * rise_k / ((b - a - 10) as f64 * STEP_S);
            let stored_w = quick_w + store * over(&behind_k) / joint.store_tau_s();
            let so_far_k = over(&session.coolant_c) - ambient_c;
            Piece {
                session: index,
                after,
                day: session.day,
                covariates: [
                    ambient_c,
                    air::density_kg_m3(ambient_c, session.pressure_kpa),
                    heat_w / 1000.0,
                    over(&session.speed_kmh),
                    hot_running_before_s(session, a) / 60.0,
                ],
                log_flow,
                // Walls at a hotter coolant take less: what is not stored any more warms by less than stored / g.
                excess_k: so_far_k
                    + stored_w / g / (1.0 + so_far_k * wall::slope_per_k(so_far_k + ambient_c)),
            }
        })
        .filter(|p| p.excess_k.is_finite())
        .collect()
}

/// The windows of hot running that follow each other, put together to pieces.
fn parted(session: &Prepared) -> Vec<(usize, usize)> {
    let windows = session.windows.used();
    let runs = windows.chunk_by(|one, next| one.1 == next.0);
    runs.flat_map(|run| {
        let steps = run[run.len() - 1].1 - run[0].0;
        let parts = ((steps as f64 * STEP_S / PIECE_S).round() as usize).clamp(1, run.len());
        let at = move |k: usize| run.len() * k / parts;
        (0..parts).map(move |k| (run[at(k)].0, run[at(k + 1) - 1].1))
    })
    .collect()
}

/// Hot running of a session before a step, s.
fn hot_running_before_s(session: &Prepared, step: usize) -> f64 {
    let before = |(a, b): &(usize, usize)| step.min(*b).saturating_sub(*a);
    session.drive.stints.iter().map(before).sum::<usize>() as f64 * STEP_S
}

/// The pairs, and the pieces they are made of as `(before, after)`.
fn pair(pieces: &[Piece], exponent: f64, unit: Unit) -> (Vec<Pair>, Vec<(usize, usize)>) {
    let mut candidates: Vec<(f64, usize, usize)> = Vec::new();
    for (i, before) in pieces.iter().enumerate().filter(|(_, p)| !p.after) {
        for (j, after) in pieces.iter().enumerate().filter(|(_, p)| p.after) {
            let same_day = before.day.is_some() && before.day == after.day;
            if let Some(distance) = distance(before, after)
                && (unit == Unit::Day || same_day)
            {
                candidates.push((distance, i, j));
            }
        }
    }
    candidates.sort_by(|a, b| a.0.total_cmp(&b.0).then((a.1, a.2).cmp(&(b.1, b.2))));
    let mut taken = vec![false; pieces.len()];
    let (mut pairs, mut members) = (Vec::new(), Vec::new());
    for (_, i, j) in candidates {
        if taken[i] || taken[j] {
            continue;
        }
        (taken[i], taken[j]) = (true, true);
        let (before, after) = (&pieces[i], &pieces[j]);
        let same_drive = before.covariates[2] / after.covariates[2]
            * (exponent * (after.log_flow - before.log_flow)).exp();
        pairs.push(Pair {
            before: before.session,
            after: after.session,
            change_k: after.excess_k * same_drive - before.excess_k,
        });
        members.push((i, j));
    }
    (pairs, members)
}

/// Squared distance in calipers. `None`: outside one of them.
fn distance(a: &Piece, b: &Piece) -> Option<f64> {
    let mut sum = 0.0;
    for (k, caliper) in CALIPERS.iter().enumerate() {
        let difference = a.covariates[k] - b.covariates[k];
        let size = if ABSOLUTE.contains(&k) {
            1.0
        } else {
            f64::midpoint(a.covariates[k], b.covariates[k])
        };
        let in_calipers = difference / (size * caliper);
        if in_calipers.abs() > 1.0 {
            return None;
        }
        sum += in_calipers * in_calipers;
    }
    Some(sum)
}

fn mean_change_k<'a>(pairs: impl Iterator<Item = &'a Pair>) -> f64 {
    mean(&pairs.map(|p| p.change_k).collect::<Vec<_>>())
}

fn change(pairs: &[Pair], cluster: impl Fn(usize) -> usize) -> Estimate {
    if pairs.is_empty() {
        return Estimate::unknown("no two stints are alike in ambient, density and pace");
    }
    let estimate = mean_change_k(pairs.iter());
    let sides = |p: &Pair| (cluster(p.before), cluster(p.after));
    let (of_before, befores) = jackknife(pairs, |p| sides(p).0);
    let (of_after, afters) = jackknife(pairs, |p| sides(p).1);
    if befores < 2 || afters < 2 {
        return Estimate::unknown(format!(
            "{} pairs ({estimate:+.1} K), but all of one side come from a single session or day: no scatter to judge by",
            pairs.len()
        ));
    }
    let (of_links, links) = jackknife(pairs, sides);
    let variance = (of_before + of_after - of_links)
        .max(of_before)
        .max(of_after);
    let freedom = (links - 1).min(befores + afters - 2) as f64;
    let method = format!(
        "{} pairs; jackknife over {befores} + {afters} clusters in {links} links, t on {freedom:.0} df",
        pairs.len()
    );
    t_factor(freedom).map_or_else(
        || Estimate::unknown("too few clusters"),
        |t| Estimate::symmetric(estimate, t * variance.sqrt(), method),
    )
}

/// Variance of the mean change by leaving out one cluster at a time, and how many there are.
/// Of a single cluster the variance is zero.
fn jackknife<K: Ord>(pairs: &[Pair], cluster: impl Fn(&Pair) -> K) -> (f64, usize) {
    let mut ids: Vec<K> = pairs.iter().map(&cluster).collect();
    ids.sort_unstable();
    ids.dedup();
    if ids.len() < 2 {
        return (0.0, ids.len());
    }
    let without: Vec<f64> = ids
        .iter()
        .map(|id| mean_change_k(pairs.iter().filter(|p| cluster(p) != *id)))
        .collect();
    let n = ids.len() as f64;
    let around = mean(&without);
    let squares: f64 = without.iter().map(|t| (t - around).powi(2)).sum();
    ((n - 1.0) / n * squares, ids.len())
}

fn balance(pieces: &[Piece], members: &[(usize, usize)], k: usize) -> Balance {
    let side = |after: bool| -> Vec<f64> {
        pieces
            .iter()
            .filter(|p| p.after == after)
            .map(|p| p.covariates[k])
            .collect()
    };
    let (before, after) = (side(false), side(true));
    let spread = match (sample_variance(&before), sample_variance(&after)) {
        (Some(a), Some(b)) if a + b > 0.0 => Some(f64::midpoint(a, b).sqrt()),
        _ => None,
    };
    let standardised = |before: &[f64], after: &[f64]| {
        let both = !before.is_empty() && !after.is_empty();
        spread
            .filter(|_| both)
            .map(|s| (mean(after) - mean(before)) / s)
    };
    let matched_before: Vec<f64> = members.iter().map(|m| pieces[m.0].covariates[k]).collect();
    let matched_after: Vec<f64> = members.iter().map(|m| pieces[m.1].covariates[k]).collect();
    Balance {
        covariate: COVARIATES[k].to_owned(),
        mean_before: (!before.is_empty()).then(|| mean(&before)),
        mean_after: (!after.is_empty()).then(|| mean(&after)),
        standardised_difference_all: standardised(&before, &after),
        standardised_difference_matched: standardised(&matched_before, &matched_after),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn piece(session: usize, after: bool, ambient_c: f64, heat_kw: f64, excess_k: f64) -> Piece {
        Piece {
            session,
            after,
            day: chrono::NaiveDate::from_ymd_opt(2031, 5, 17),
            covariates: [ambient_c, 1.2, heat_kw, 130.0, 5.0],
            log_flow: 0.0,
            excess_k,
        }
    }

    #[test]
    fn only_alike_pieces_pair_and_none_twice() {
        let pieces = [
            piece(0, false, 20.0, 40.0, 70.0),
            piece(1, true, 21.0, 40.0, 68.0),
            piece(1, true, 25.0, 40.0, 60.0),
            piece(0, false, 20.5, 50.0, 88.0),
        ];
        let (pairs, _) = pair(&pieces, 0.45, Unit::Session);
        assert_eq!(pairs.len(), 1);
        assert!((pairs[0].change_k - -2.0).abs() < 1e-12);
    }

    #[test]
    fn what_is_left_of_the_drive_is_taken_out() {
        // 4 % more heat and 4 % more excess: the same car.
        let pieces = [
            piece(0, false, 20.0, 40.0, 70.0),
            piece(1, true, 20.0, 41.6, 72.8),
        ];
        let (pairs, _) = pair(&pieces, 0.45, Unit::Session);
        assert!(pairs[0].change_k.abs() < 1e-9);
    }

    #[test]
    fn one_session_a_side_has_no_interval() {
        let pairs = [Pair {
            before: 0,
            after: 1,
            change_k: -2.0,
        }; 3];
        assert!(change(&pairs, |i| i).why().is_some());
    }

    /// Sessions linked one to one are paired differences: the interval is that of the paired t test.
    #[test]
    fn sessions_linked_one_to_one_give_the_paired_t_interval() {
        let values = [-2.0, -1.0, -3.0, -2.5];
        let pairs: Vec<Pair> = values
            .iter()
            .enumerate()
            .map(|(i, v)| Pair {
                before: i,
                after: 10 + i,
                change_k: *v,
            })
            .collect();
        let by_hand = (sample_variance(&values).unwrap() / 4.0).sqrt();
        let half = change(&pairs, |i| i).known().unwrap().half_width();
        assert!((half - by_hand * t_factor(3.0).unwrap()).abs() < 1e-12);
    }

    /// Every session linked with every other, effects that add: the interval is that of two samples.
    #[test]
    fn sessions_all_linked_give_the_two_sample_interval() {
        let (befores, afters) = ([0.0, 0.6, -0.4], [0.3, -0.5, 0.8]);
        let mut pairs = Vec::new();
        for (i, b) in befores.iter().enumerate() {
            for (j, a) in afters.iter().enumerate() {
                pairs.push(Pair {
                    before: i,
                    after: 10 + j,
                    change_k: a - b,
                });
            }
        }
        let variance = |v: &[f64]| sample_variance(v).unwrap() / 3.0;
        let half = change(&pairs, |i| i).known().unwrap().half_width();
        let by_hand = (variance(&befores) + variance(&afters)).sqrt() * t_factor(4.0).unwrap();
        assert!((half / by_hand - 1.0).abs() < 0.2, "{half} {by_hand}");
    }
}
