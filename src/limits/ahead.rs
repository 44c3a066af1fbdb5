//! Had the drive gone on: coolant over the longest stint repeated, in many draws.
//!
//! A draw has conductance, heat capacity and slow store from what the session's balance leaves open of them
//! (`estimate::slow_store`: normal with the covariance it gives, spread by `ν / χ²_ν` because a few windows hardly
//! tell their scatter); and gusts, which come through the conductance (`log g + w`), w an Ornstein-Uhlenbeck process
//! of correlation time τ (`gusts`) with the scatter of the windows: the mean of w over a window of length `L` has
//! variance `2 σ² (τ/L - (τ/L)² (1 - exp(-L/τ)))`.
//!
//! From the draws: the level about which coolant settles (mean of a pass once stored heat no longer counts),
//! the peak of that pass, and when a limit is met from where hot running ended. An interval holds the middle
//! 95 % of the draws: it is one for what comes, not for a mean of many days. Assumptions: the same laps at the
//! same pace and ambient, gusts as they were. How often it holds is counted by `examples/would_have`.

use nalgebra::Vector3;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{ChiSquared, Distribution, StandardNormal};

use super::gusts::{GUST_STEP_S, Gusts, mean_of_gusts};
use crate::estimate::simulate::{CarModel, DriveAt, ReferenceDrive, Start};
use crate::estimate::slow_store::SlowBalance;
use crate::stats::Estimate;

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
    car: CarModel,
    gust_sd: f64,
    gusts: &'static Gusts,
}

impl Draw {
    fn course(&self, drive: &DriveAt, start: Start) -> impl Iterator<Item = f64> {
        let (sd, mut gusts) = (self.gust_sd, self.gusts.walk());
        let gust = move || gusts.next().map_or(1.0, |gust| (sd * gust).exp());
        drive.gusty_course(&self.car, start, gust)
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
    /// Where each draw began, and its hottest coolant over the next [`LONGEST_S`] at least, °C.
    courses: Vec<(Start, f64)>,
}

impl Ahead {
    /// Draws of `car`, which has its numbers from `balance`.
    pub fn draw(car: &CarModel, balance: &SlowBalance) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(SEED);
        let root = balance.covariance.cholesky().map(|c| c.l());
        let gust_sd = balance.window_log_sd / mean_of_gusts(balance.window_s);
        let draws = (0..DRAWS).filter_map(|i| {
            let mut normal = || -> f64 { StandardNormal.sample(&mut rng) };
            let off = Vector3::from_fn(|_, _| normal());
            let chi_squared = ChiSquared::new(balance.df).ok()?;
            let spread = (balance.df / chi_squared.sample(&mut rng)).sqrt();
            let of_draw = balance.found + spread * root? * off;
            Some(Draw {
                car: car_of(car, &of_draw),
                gust_sd: (spread * gust_sd).min(MOST_GUST),
                gusts: Gusts::of(i),
            })
        });
        Self {
            draws: draws.collect(),
        }
    }

    /// Where the drive settles.
    pub fn settles(&self, drive: &ReferenceDrive, car: &CarModel, ambient_c: f64) -> Settles {
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
                ..Start::even(0.0)
            }
        };
        let drive = drive.at(car.exponent, ambient_c).in_double_steps();
        let passes = (LEAST_PASS_S / (drive.steps() as f64 * GUST_STEP_S)).ceil();
        let pass = passes as usize * drive.steps();
        let warm_up = (WARM_UP_S / GUST_STEP_S) as usize;
        let longest = (LONGEST_S / GUST_STEP_S) as usize;
        let (mut levels, mut peaks, mut courses) = (vec![], vec![], vec![]);
        for draw in &self.draws {
            let start = from(draw);
            let mut course = draw.course(&drive, start);
            let before = course.by_ref().take(warm_up).fold(f64::MIN, f64::max);
            let mut sum = 0.0;
            let counted = course.by_ref().take(pass).inspect(|c| sum += c);
            let peak = counted.fold(f64::MIN, f64::max);
            let after = longest.saturating_sub(warm_up + pass);
            let after = course.take(after).fold(f64::MIN, f64::max);
            levels.push(sum / pass as f64);
            peaks.push(peak);
            courses.push((start, before.max(peak).max(after)));
        }
        let how = format!(
            "longest stint gone on as it was, {DRAWS} draws of gusts and conductance, seed {SEED}"
        );
        Settles {
            level_c: middle_of(levels, format!("{how}: mean")),
            peak_c: middle_of(peaks, format!("{how}: peak")),
            courses,
        }
    }

    /// How long from `start` on `drive`, where it settles so, until `limit_c` is met, s. It is met at the hottest
    /// place of a lap, this lap or the next: the interval is a lap wider on both sides than that of the draws.
    pub fn crosses_s(
        &self,
        drive: &DriveAt,
        settles: &Settles,
        start: Start,
        limit_c: f64,
        lap_s: f64,
    ) -> Estimate {
        if start.coolant_c >= limit_c {
            return Estimate::unknown("at or over the limit when hot running ended");
        }
        let steps = (LONGEST_S / GUST_STEP_S) as usize;
        let drive = &drive.in_double_steps();
        let met: Vec<f64> = (self.draws.iter().zip(&settles.courses))
            .filter(|(_, course)| may_meet(**course, start, limit_c))
            .filter_map(|(draw, _)| {
                let mut course = draw.course(drive, start).take(steps);
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

/// The car with the numbers of a balance.
pub(super) fn car_of(car: &CarModel, found: &Vector3<f64>) -> CarModel {
    // A draw may leave what is possible: a conductance, a capacity and a store are none below zero.
    let u = found[0].max(1e-6);
    CarModel {
        g_w_per_k: 1.0 / u,
        capacity_j_per_k: (found[1] / u).max(1e3),
        store_w_per_k: (found[2] / u).max(0.0),
        ..*car
    }
}

/// The middle 95 % of the draws and their median.
fn middle_of(mut draws: Vec<f64>, method: String) -> Estimate {
    draws.sort_by(f64::total_cmp);
    let at = |share: f64| draws[((draws.len() - 1) as f64 * share).round() as usize];
    Estimate::between(at(0.5), at(0.025), at(0.975), method)
}
