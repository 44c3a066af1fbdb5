//! Had the drive gone on: coolant over the longest stint repeated, in many draws.
//!
//! A draw has conductance, heat capacity and slow store from what the session's balance leaves open of them
//! (`estimate::joint`: normal with the covariance it gives, spread by `ν / χ²_ν` because a few windows hardly
//! tell their scatter); and gusts, which come through the conductance (`log g + w`), w an Ornstein-Uhlenbeck process
//! of correlation time [`GUST_S`] with the scatter of the windows: the mean of w over a window of length `L` has
//! variance `2 σ² (τ/L - (τ/L)² (1 - exp(-L/τ)))`.
//!
//! From the draws: the level about which coolant settles (mean of a pass once stored heat no longer counts),
//! the peak of that pass, and when a limit is met from where hot running ended. An interval holds the middle
//! 95 % of the draws: it is one for what comes, not for a mean of many days. Assumptions: the same laps at the
//! same pace and ambient, gusts as they were. How often it holds is counted by `examples/would_have`.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{ChiSquared, Distribution, StandardNormal};

use crate::estimate::joint::LeftOpen;
use crate::estimate::prepare::STEP_S;
use crate::estimate::simulate::{CarModel, ReferenceDrive, Start};
use crate::stats::Estimate;

/// Correlation time of gusts, s (some minute; common practice, no source).
pub const GUST_S: f64 = 60.0;

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
    rng: ChaCha8Rng,
}

/// The draws.
pub(super) struct Ahead<'a> {
    drive: &'a ReferenceDrive,
    ambient_c: f64,
    draws: Vec<Draw>,
}

/// What is to come of a settled drive, °C.
pub(super) struct Settles {
    /// The level about which coolant swings.
    pub level_c: Estimate,
    /// Its peak.
    pub peak_c: Estimate,
}

impl<'a> Ahead<'a> {
    /// Draws of `car`, of which so much is left open, with windows of `window_s`.
    pub fn draw(
        drive: &'a ReferenceDrive,
        car: &CarModel,
        ambient_c: f64,
        (open, window_s): (&LeftOpen, f64),
    ) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(SEED);
        let gust_sd = open.window_log_sd / mean_of_gusts(window_s);
        let draws = (0..DRAWS).filter_map(|i| {
            let normals: [f64; 4] = std::array::from_fn(|_| StandardNormal.sample(&mut rng));
            let chi_squared = ChiSquared::new(open.df).ok()?;
            let spread = (open.df / chi_squared.sample(&mut rng)).sqrt();
            let mut stream = ChaCha8Rng::seed_from_u64(SEED);
            stream.set_stream(1 + i as u64);
            Some(Draw {
                car: open.car(car, normals, spread),
                gust_sd: (spread * gust_sd).min(MOST_GUST),
                rng: stream,
            })
        });
        Self {
            drive,
            ambient_c,
            draws: draws.collect(),
        }
    }

    /// Where the drive settles.
    pub fn settles(&self, car: &CarModel) -> Settles {
        const APART: f64 = 0.02;
        let at = |shift| self.drive.settle(&car.shifted(shift), self.ambient_c);
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
        let passes = (LEAST_PASS_S / (self.drive.steps() as f64 * STEP_S)).ceil();
        let pass = passes as usize * self.drive.steps();
        let (levels, peaks): (Vec<f64>, Vec<f64>) = (self.draws.iter())
            .map(|draw| {
                let course = self.course(draw, from(draw));
                let settled = course.skip((WARM_UP_S / STEP_S) as usize).take(pass);
                let (sum, peak) = settled.fold((0.0, f64::NEG_INFINITY), |(sum, peak), c| {
                    (sum + c, f64::max(peak, c))
                });
                (sum / pass as f64, peak)
            })
            .unzip();
        let how = format!(
            "longest stint gone on as it was, {DRAWS} draws of gusts and conductance, seed {SEED}"
        );
        Settles {
            level_c: middle_of(levels, format!("{how}: mean")),
            peak_c: middle_of(peaks, format!("{how}: peak")),
        }
    }

    /// How long from `start` until `limit_c` is met, s. It is met at the hottest place of a lap, this lap or the
    /// next: the interval is a lap wider on both sides than that of the draws.
    pub fn crosses_s(&self, start: Start, limit_c: f64, lap_s: f64) -> Estimate {
        if start.coolant_c >= limit_c {
            return Estimate::unknown("at or over the limit when hot running ended");
        }
        let steps = (LONGEST_S / STEP_S) as usize;
        let met: Vec<f64> = (self.draws.iter())
            .filter_map(|draw| {
                let mut course = self.course(draw, start).take(steps);
                course.position(|c| c >= limit_c)
            })
            .map(|before| (before + 1) as f64 * STEP_S)
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

    fn course(&self, draw: &Draw, start: Start) -> impl Iterator<Item = f64> {
        let mut rng = draw.rng.clone();
        let keep = (-STEP_S / GUST_S).exp();
        let (sd, fresh) = (draw.gust_sd, draw.gust_sd * (1.0 - keep * keep).sqrt());
        let mut normal = move || -> f64 { StandardNormal.sample(&mut rng) };
        let mut gust = sd * normal();
        self.drive
            .gusty_course(draw.car, start, self.ambient_c, move || {
                gust = keep * gust + fresh * normal();
                gust.exp()
            })
    }
}

/// Standard deviation of the mean of gusts over `length_s`, over that of the gusts.
fn mean_of_gusts(length_s: f64) -> f64 {
    let share = GUST_S / length_s;
    (2.0 * (share - share * share * -(-1.0 / share).exp_m1())).sqrt()
}

/// The middle 95 % of the draws and their median.
fn middle_of(mut draws: Vec<f64>, method: String) -> Estimate {
    draws.sort_by(f64::total_cmp);
    let at = |share: f64| draws[((draws.len() - 1) as f64 * share).round() as usize];
    Estimate::between(at(0.5), at(0.025), at(0.975), method)
}
