//! The fitted car driven through a reference drive until it repeats.

use super::joint::JointFit;
use super::prepare::{METAL_LAG_S, Prepared, STEP_S};
use crate::stats::root_within;
use crate::thermal::air;
use crate::thermal::balance::{lagged, step_c};
use crate::thermal::conductance::{log_air_flow, relative};
use crate::thermal::thermostat::Thermostat;
use crate::thermal::wall;

/// A fitted car.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CarModel {
    /// Conductance at reference conditions, W/K.
    pub g_w_per_k: f64,
    /// Exponent of conductance on air flow.
    pub exponent: f64,
    /// Heat capacity of coolant and metal, J/K.
    pub capacity_j_per_k: f64,
    /// The thermostat; `None`: held fully open.
    pub thermostat: Option<Thermostat>,
}

impl CarModel {
    /// The car with its conductance off by `log_shift`, a logarithm.
    pub fn shifted(&self, log_shift: f64) -> Self {
        Self {
            g_w_per_k: self.g_w_per_k * log_shift.exp(),
            ..*self
        }
    }
}

/// A drive to put cars through, in steps of [`STEP_S`].
#[derive(Debug, Clone, PartialEq)]
pub struct ReferenceDrive {
    /// Heat that would reach the coolant at `thermal::wall::REFERENCE_C`, W.
    pub heat_w: Vec<f64>,
    /// Speed, km/h.
    pub speed_kmh: Vec<f64>,
    /// Pressure of the air, kPa.
    pub pressure_kpa: f64,
}

/// Coolant over a drive repeated until it no longer changes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settled {
    /// Mean, °C.
    pub mean_c: f64,
    /// Peak, °C.
    pub peak_c: f64,
}

impl ReferenceDrive {
    /// The longest stint of a session, with the heat input as the joint fit has it. `None`: the
    /// session has no stint or no heat input.
    pub fn of(session: &Prepared, fit: &JointFit) -> Option<Self> {
        session.heat.as_ref()?;
        let &(a, b) = session.drive.stints.iter().max_by_key(|(a, b)| b - a)?;
        let heat = &fit.heat_at_reference_w(session)[a..b];
        Some(Self {
            heat_w: lagged(heat, METAL_LAG_S, STEP_S),
            speed_kmh: session.speed_kmh[a..b].to_vec(),
            pressure_kpa: session.pressure_kpa,
        })
    }

    /// Drives `car` through the drive at `ambient_c` over and over until the mean holds to 1 mK.
    pub fn settle(&self, car: &CarModel, ambient_c: f64) -> Settled {
        self.settle_with(car, ambient_c, wall::heat_share)
    }

    /// The same with `share` of the heat at each coolant temperature.
    fn settle_with(&self, car: &CarModel, ambient_c: f64, share: impl Fn(f64) -> f64) -> Settled {
        let density = air::density_kg_m3(ambient_c, self.pressure_kpa);
        let f: Vec<f64> = self
            .speed_kmh
            .iter()
            .map(|&v| relative(log_air_flow(v, density), car.exponent))
            .collect();
        let mut temp_c = ambient_c + 60.0;
        let mut last = f64::NAN;
        for _ in 0..50 {
            let (mut sum, mut peak_c) = (0.0, f64::NEG_INFINITY);
            for (&heat_w, &f) in self.heat_w.iter().zip(&f) {
                let opening = car.thermostat.map_or(1.0, |t| t.opening(temp_c));
                let g = car.g_w_per_k * f * opening;
                let heat_w = heat_w * share(temp_c);
                temp_c = step_c(temp_c, ambient_c, heat_w, g, car.capacity_j_per_k, STEP_S);
                sum += temp_c;
                peak_c = peak_c.max(temp_c);
            }
            let mean_c = sum / f.len() as f64;
            if (mean_c - last).abs() < 1e-3 {
                return Settled { mean_c, peak_c };
            }
            last = mean_c;
        }
        Settled {
            mean_c: f64::NAN,
            peak_c: f64::NAN,
        }
    }

    /// Ambient at which the settled peak reaches `limit_c`, between -40 and 80 °C; `None` outside.
    pub fn limiting_ambient_c(&self, car: &CarModel, limit_c: f64) -> Option<f64> {
        let over = |ambient_c: f64| self.settle(car, ambient_c).peak_c - limit_c;
        root_within(1e-3, over, -40.0, 80.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn steady(heat_w: f64) -> ReferenceDrive {
        ReferenceDrive {
            heat_w: vec![heat_w; 200],
            speed_kmh: vec![120.0; 200],
            pressure_kpa: 101.325,
        }
    }

    fn car(exponent: f64) -> CarModel {
        CarModel {
            g_w_per_k: 600.0,
            exponent,
            capacity_j_per_k: 60e3,
            thermostat: None,
        }
    }

    /// Without what the walls take less.
    fn linear(drive: &ReferenceDrive, car: &CarModel, ambient_c: f64) -> f64 {
        drive.settle_with(car, ambient_c, |_| 1.0).mean_c
    }

    /// In a linear model with constant flows coolant moves 1:1 with ambient, so the 1:1 rule of the
    /// cooling-test standards is exact.
    #[test]
    fn one_to_one_is_exact_in_a_linear_model() {
        let (drive, car) = (steady(42e3), car(0.0));
        let cool = linear(&drive, &car, 15.0);
        assert!((linear(&drive, &car, 35.0) - cool - 20.0).abs() < 0.01);
        assert!((cool - (15.0 + 70.0)).abs() < 0.01);
    }

    /// With density in, about 1.12:1 at an exponent of 0.5 and 70 K excess (derivative of
    /// Q/(G ρ^n) by hand: 1 + n θ / T_air).
    #[test]
    fn density_breaks_it_by_the_computed_amount() {
        let (drive, car) = (steady(42e3), car(0.5));
        let cool = linear(&drive, &car, 19.0);
        let hot = linear(&drive, &car, 21.0);
        let by_hand = 1.0 + 0.5 * (cool + 1.0 - 20.0) / 293.15;
        assert!(((hot - cool) / 2.0 - by_hand).abs() < 0.005);
    }

    /// Hot walls bring some 0.91:1 at 70 K excess (by hand: 1 / (1 + θ / (T_gas - T))); at 110 °C they
    /// take 690/710 of the heat, so the limit is met at 110 - 70 · 690/710 °C.
    #[test]
    fn hot_walls_break_it_by_the_computed_amount() {
        let (drive, car) = (steady(42e3), car(0.0));
        let cool = drive.settle(&car, 19.0).mean_c;
        let hot = drive.settle(&car, 21.0).mean_c;
        let middle = f64::midpoint(cool, hot);
        let by_hand = 1.0 / (1.0 + (middle - 20.0) / (wall::GAS_C - middle));
        assert!(((hot - cool) / 2.0 - by_hand).abs() < 0.002);
        let limiting = drive.limiting_ambient_c(&car, 110.0).unwrap();
        assert!((limiting - (110.0 - 70.0 * 690.0 / 710.0)).abs() < 0.02);
    }

    #[test]
    fn a_working_thermostat_hides_the_radiator() {
        let drive = steady(20e3);
        let thermostat = Thermostat {
            opens_c: 80.0,
            full_open_c: 90.0,
            assumed: false,
        };
        let better = CarModel {
            g_w_per_k: 660.0,
            ..car(0.45)
        };
        let regulated = |c: CarModel| {
            drive
                .settle(
                    &CarModel {
                        thermostat: Some(thermostat),
                        ..c
                    },
                    20.0,
                )
                .mean_c
        };
        let hidden = regulated(car(0.45)) - regulated(better);
        let open = drive.settle(&car(0.45), 20.0).mean_c - drive.settle(&better, 20.0).mean_c;
        assert!(open > 2.0 && hidden < open / 3.0, "{open} {hidden}");
    }
}
