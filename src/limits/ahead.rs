//! Had the drive gone on: coolant over the longest stint repeated, in many draws.
//!
//! A draw has heat capacity and slow store from what the session's fit leaves open of them (`estimate::joint`: normal
//! with the covariance it gives, `log g` with them by its slopes), its conductance from the scatter of the windows
//! (`σ / √n`, spread by `ν / χ²_ν` because a few windows hardly tell their scatter); and gusts, which come through the
//! conductance (`log g + w`), w an Ornstein-Uhlenbeck process of correlation time τ (`gusts`) with the scatter of the
//! windows: the mean of w over a window of length `L` has variance `2 σ² (τ/L - (τ/L)² (1 - exp(-L/τ)))`. What else the
//! sessions of a car share (air flow, load) is held: the same laps go on, and it cancels.
//!
//! From the draws: the level about which coolant settles (mean of a pass once stored heat no longer counts),
//! the peak of that pass, and when a limit is met from where hot running ended. An interval holds the middle
//! 95 % of the draws: it is one for what comes, not for a mean of many days. Assumptions: the same laps at the
//! same pace and ambient, gusts as they were. How often it holds is counted by `examples/would_have`.

use nalgebra::{DMatrix, Vector3};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{ChiSquared, Distribution, StandardNormal};

use super::gusts::{GUST_STEP_S, Gusts, mean_of_gusts};
use crate::estimate::joint::{JointFit, STORES};
use crate::estimate::joint_model::USUAL_DF;
use crate::estimate::prepare::{Prepared, SENSOR_LAG_S, STEP_S};
use crate::estimate::simulate::{CarModel, DriveAt, ReferenceDrive, Start};
use crate::estimate::windows::behind_store_k;
use crate::stats::{Estimate, mean};
use crate::thermal::balance::lagged;

/// Draws.
pub const DRAWS: usize = 200;

/// Seed of the draws.
pub const SEED: u64 = 20_310_517;

/// Until the gusts of a draw have had their say and stored heat is gone, s.
const WARM_UP_S: f64 = 300.0;

/// A pass lasts this long at least, s: so long as a session may well go on.
const LEAST_PASS_S: f64 = 600.0;

/// How long a drive may go on until a limit counts as not met, s.
pub const LONGEST_S: f64 = 1800.0;

/// Gusts scatter a conductance by no more than this, as a logarithm.
const MOST_GUST: f64 = 0.3;

/// One way the drive may go on.
struct Draw {
    number: usize,
    car: CarModel,
    /// By how much its slow store is behind the coolant when the last hot running ends, K.
    behind_k: f64,
    gust_sd: f64,
    gusts: &'static Gusts,
    /// By how much coolant is hotter than it reads, K.
    unread_k: f64,
}

impl Draw {
    /// Coolant over laps of the drive from `start` on: as many as it has drawn from it with replacement, and from these
    /// one after the other. What the pace of further laps leaves open is so in the draws, and what the mean of a few
    /// laps says of it.
    fn course(&self, drive: &DriveAt, lap_s: f64, start: Start) -> impl Iterator<Item = f64> {
        let (sd, mut gusts) = (self.gust_sd, self.gusts.walk());
        let gust = move || gusts.next().map_or(1.0, |gust| (sd * gust).exp());
        let laps = drive.laps(lap_s);
        let mut rng = ChaCha8Rng::seed_from_u64(SEED);
        rng.set_stream(1 + DRAWS as u64 + self.number as u64);
        let drawn: Vec<usize> = (0..laps).map(|_| rng.random_range(0..laps)).collect();
        let order = std::iter::repeat_with(move || drawn[rng.random_range(0..laps)]);
        drive.gusty_course(&self.car, start, (lap_s, order), gust)
    }
}

/// The draws.
pub(super) struct Ahead {
    draws: Vec<Draw>,
}

/// What is to come of a settled drive.
pub(super) struct Settles {
    /// The level about which coolant swings, °C.
    pub level_c: Estimate,
    /// Its peak, °C.
    pub peak_c: Estimate,
    /// How much further the peak of a lap lies above its mean in the log than in the draws, K.
    swing_k: f64,
    /// Where each draw began, and its hottest coolant over the next [`LONGEST_S`] at least, °C.
    courses: Vec<(Start, f64)>,
}

impl Ahead {
    /// Draws of the car of one session, from a fit of that session alone.
    pub fn draw(session: &Prepared, fit: &JointFit) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(SEED);
        let balance = &fit.sessions[0];
        let windows = session.windows.used();
        let n = windows.len() as f64;
        let window_s = windows.iter().map(|w| w.1 - w.0).sum::<usize>() as f64 * STEP_S / n;
        let window_log_sd = fit.window_sd_k / balance.excess_k;
        let gust_sd = window_log_sd / mean_of_gusts(window_s);
        let df = n - 1.0 + USUAL_DF;
        let of_stores = DMatrix::from_fn(STORES.len(), STORES.len(), |i, k| {
            fit.shared_covariance[(STORES[i], STORES[k])]
        });
        let root = of_stores.cholesky().map(|c| c.l());
        let end = session.drive.stints.last().map_or(0, |stint| stint.1);
        let draws = (0..DRAWS).filter_map(|i| {
            let mut normal = || -> f64 { StandardNormal.sample(&mut rng) };
            let off = root.as_ref()? * Vector3::from_fn(|_, _| normal());
            let own = normal();
            let spread = (df / ChiSquared::new(df).ok()?.sample(&mut rng)).sqrt();
            let (mut shared, mut log_g) = (fit.shared, balance.log_g);
            for (place, off) in STORES.into_iter().zip(off.iter()) {
                shared[place] += off;
                log_g += balance.sensitivity[place] * off;
            }
            log_g += spread * own * window_log_sd / n.sqrt();
            let car = CarModel::of(session, &shared, log_g);
            // A reading in steps is rounded or cut off, and nobody says which.
            let cut_off = rng.random_bool(0.5);
            Some(Draw {
                number: i,
                unread_k: f64::from(cut_off) * session.coolant_step_c / 2.0,
                behind_k: behind_store_k(session, car.store_tau_s)[end.saturating_sub(1)],
                car,
                gust_sd: (spread * gust_sd).min(MOST_GUST),
                gusts: Gusts::of(i),
            })
        });
        Self {
            draws: draws.collect(),
        }
    }

    /// Where the drive settles, in laps of `lap_s`; `logged_swing_k` tells how far the peak of a lap lay above its mean
    /// in the log, K.
    pub fn settles(
        &self,
        drive: &ReferenceDrive,
        car: &CarModel,
        ambient_c: f64,
        lap_s: f64,
        logged_swing_k: Option<f64>,
    ) -> Settles {
        const APART: f64 = 0.02;
        let at = |shift| drive.settle(&car.shifted(shift), ambient_c);
        let (middle, more) = (at(0.0), at(APART));
        // Draws begin near where they settle; what they are off by is gone when they count.
        let ln_g = car.g_w_per_k.ln();
        let from = |draw: &Draw| {
            let shift = (draw.car.g_w_per_k.ln() - ln_g) / APART;
            let moved = |a: f64, b: f64| a + (b - a) * shift;
            Start {
                coolant_c: moved(middle.end_c, more.end_c),
                store_c: moved(middle.mean_c, more.mean_c),
            }
        };
        let drive = drive.at(car.exponent, ambient_c).in_double_steps();
        let passes = (LEAST_PASS_S / (drive.steps() as f64 * GUST_STEP_S)).ceil();
        let pass = passes as usize * drive.steps();
        let warm_up = (WARM_UP_S / GUST_STEP_S) as usize;
        let longest = (LONGEST_S / GUST_STEP_S) as usize;
        let (mut levels, mut peaks, mut courses, mut swings) = (vec![], vec![], vec![], vec![]);
        for draw in &self.draws {
            let start = from(draw);
            let mut course = draw.course(&drive, lap_s, start);
            let before = course.by_ref().take(warm_up).fold(f64::MIN, f64::max);
            let counted: Vec<f64> = course.by_ref().take(pass).collect();
            let peak = counted.iter().copied().fold(f64::MIN, f64::max);
            if let Some(logged_k) = logged_swing_k {
                let read_c = lagged(&counted, SENSOR_LAG_S, GUST_STEP_S);
                swings.extend(lap_swing_k(&read_c, lap_s, GUST_STEP_S).map(|k| logged_k - k));
            }
            let after = longest.saturating_sub(warm_up + pass);
            let after = course.take(after).fold(f64::MIN, f64::max);
            levels.push(mean(&counted) + draw.unread_k);
            peaks.push(peak + draw.unread_k);
            courses.push((start, before.max(peak).max(after)));
        }
        let how = format!(
            "longest stint gone on as it was, {DRAWS} draws of gusts and conductance, seed {SEED}"
        );
        let swing_k = if swings.is_empty() {
            0.0
        } else {
            mean(&swings)
        };
        let peaks = peaks.into_iter().map(|c| c + swing_k).collect();
        Settles {
            level_c: middle_of(levels, format!("{how}: mean")),
            peak_c: middle_of(peaks, format!("{how}: peak")),
            swing_k,
            courses,
        }
    }

    /// How long from `end_c` of hot running on `drive`, where it settles so, until `limit_c` is met, s. It is met at the hottest
    /// place of a lap, this lap or the next: the interval is a lap wider on both sides than that of the draws.
    pub fn crosses_s(
        &self,
        drive: &DriveAt,
        settles: &Settles,
        end_c: f64,
        limit_c: f64,
        lap_s: f64,
    ) -> Estimate {
        if end_c >= limit_c {
            return Estimate::unknown("at or over the limit when hot running ended");
        }
        let steps = (LONGEST_S / GUST_STEP_S) as usize;
        let drive = &drive.in_double_steps();
        let met: Vec<f64> = (self.draws.iter().zip(&settles.courses))
            .filter_map(|(draw, course)| {
                let start = Start {
                    coolant_c: end_c,
                    store_c: end_c - draw.behind_k,
                };
                let limit_c = limit_c - draw.unread_k - settles.swing_k;
                may_meet(*course, start, limit_c).then_some((draw, start, limit_c))
            })
            .filter_map(|(draw, start, limit_c)| {
                let mut course = draw.course(drive, lap_s, start).take(steps);
                course.position(|c| c >= limit_c)
            })
            .map(|before| (before + 1) as f64 * GUST_STEP_S)
            .collect();
        let share = met.len() as f64 / self.draws.len() as f64;
        let minutes = LONGEST_S / 60.0;
        match share {
            s if s < 0.025 => {
                Estimate::unknown(format!("not within {minutes:.0} min more of the same"))
            }
            s if s < 0.975 => Estimate::unknown(format!(
                "in {:.0} % of draws within {minutes:.0} min: it may or may not",
                100.0 * s
            )),
            _ => {
                // Those that do not meet it come last.
                let mut all = met;
                all.resize(self.draws.len(), LONGEST_S);
                let how = "longest stint gone on from where hot running ended";
                let method = format!(
                    "{how}, {DRAWS} draws of gusts and conductance, seed {SEED}, and a lap"
                );
                match middle_of(all, method) {
                    Estimate::Known(i) => Estimate::between(
                        i.estimate,
                        (i.low - lap_s).max(0.0),
                        i.high + lap_s,
                        i.method,
                    ),
                    unknown @ Estimate::Unknown { .. } => unknown,
                }
            }
        }
    }
}

/// Whether a drive from `start` may meet `limit_c` where the same drive under the same gusts came to `hottest_c` from
/// `began`. Two such drives do not part: what takes heat takes more where it is hotter, so that one is never
/// hotter than the other by more than it began.
fn may_meet((began, hottest_c): (Start, f64), start: Start, limit_c: f64) -> bool {
    let ahead_k = (start.coolant_c - began.coolant_c).max(start.store_c - began.store_c);
    hottest_c + ahead_k.max(0.0) >= limit_c
}

/// How far the peak of a lap of `lap_s` lies above its mean, mean over the laps of `coolant_c`, which has a value every
/// `step_s` from the beginning of a lap on, K. `None`: no lap is whole, or one was not read.
pub(super) fn lap_swing_k(coolant_c: &[f64], lap_s: f64, step_s: f64) -> Option<f64> {
    let swing_k = |lap: &[f64]| lap.iter().copied().fold(f64::MIN, f64::max) - mean(lap);
    let laps = coolant_c.chunks_exact((lap_s / step_s).round().max(1.0) as usize);
    let swing_k = mean(&laps.map(swing_k).collect::<Vec<_>>());
    swing_k.is_finite().then_some(swing_k)
}

/// The middle 95 % of the draws and their median.
fn middle_of(mut draws: Vec<f64>, method: String) -> Estimate {
    draws.sort_by(f64::total_cmp);
    let at = |share: f64| draws[((draws.len() - 1) as f64 * share).round() as usize];
    Estimate::between(at(0.5), at(0.025), at(0.975), method)
}
