//! Air over a day: temperature, pressure, wind.

use super::noise::{Noise, Wander};

/// One day's air, as it is in truth.
#[derive(Debug, Clone)]
pub struct DayAir {
    /// Air temperature at noon, °C.
    pub noon_c: f64,
    /// Air pressure, kPa.
    pub pressure_kpa: f64,
    /// What the ambient sensor reads too much all day, K.
    pub sensor_bias_k: f64,
}

impl DayAir {
    /// A day around `noon_c`.
    pub fn draw(noon_c: f64, noise: &mut Noise) -> Self {
        Self {
            noon_c,
            pressure_kpa: noise.normal(98.6, 0.6),
            sensor_bias_k: noise.normal(0.0, 0.3),
        }
    }

    /// Air temperature at a time of day: coolest at night, warmest at half past three.
    pub fn ambient_c(&self, hour: f64) -> f64 {
        let phase = |h: f64| (std::f64::consts::PI * (h - 9.5) / 12.0).sin();
        self.noon_c + 3.5 * (phase(hour) - phase(12.0))
    }
}

/// Density of air (ideal gas, dry), kg/m³.
pub fn density_kg_m3(pressure_kpa: f64, temp_c: f64) -> f64 {
    pressure_kpa / (0.287_05 * (temp_c + 273.15))
}

/// What winds are drawn from.
#[derive(Debug, Clone, Copy)]
pub struct WindKind {
    /// Largest steady speed, m/s; all from nought to it are alike.
    pub steady_up_to_ms: f64,
    /// Standard deviation of the gusts along the car, m/s.
    pub gust_sd_ms: f64,
    /// Time over which a gust is remembered, s.
    pub gust_tau_s: f64,
}

impl Default for WindKind {
    fn default() -> Self {
        Self {
            steady_up_to_ms: 5.0,
            gust_sd_ms: 1.5,
            gust_tau_s: 45.0,
        }
    }
}

/// The wind that a session meets.
pub struct Wind {
    speed_ms: f64,
    from_deg: f64,
    gust: Wander,
    veer: Wander,
    calm: bool,
}

/// The wind in one instant.
#[derive(Debug, Clone, Copy, Default)]
pub struct WindNow {
    /// Steady speed, m/s.
    pub speed_ms: f64,
    /// Where it comes from, degrees from north.
    pub from_deg: f64,
    /// Gust along the car, headwind positive, m/s.
    pub gust_ms: f64,
}

impl Wind {
    /// No wind at all.
    pub fn calm() -> Self {
        let mut unused = Noise::new(0, 0);
        Self {
            speed_ms: 0.0,
            from_deg: 0.0,
            gust: Wander::new(0.0, 45.0, &mut unused),
            veer: Wander::new(0.0, 600.0, &mut unused),
            calm: true,
        }
    }

    /// A steady wind of 0 to 5 m/s whose direction drifts, with gusts of 1.5 m/s that last 45 s.
    pub fn draw(noise: &mut Noise) -> Self {
        Self::draw_of(WindKind::default(), noise)
    }

    /// A steady wind whose direction drifts, with gusts. A gust is taken along the car: what a
    /// moving car meets is eddies and wakes, not the mean wind.
    pub fn draw_of(kind: WindKind, noise: &mut Noise) -> Self {
        Self {
            speed_ms: noise.uniform(0.0, kind.steady_up_to_ms),
            from_deg: noise.uniform(0.0, 360.0),
            gust: Wander::new(kind.gust_sd_ms, kind.gust_tau_s, noise),
            veer: Wander::new(25.0, 600.0, noise),
            calm: false,
        }
    }

    /// The wind after another `dt_s`.
    pub fn step(&mut self, dt_s: f64, noise: &mut Noise) -> WindNow {
        if self.calm {
            return WindNow::default();
        }
        WindNow {
            speed_ms: self.speed_ms,
            from_deg: (self.from_deg + self.veer.step(dt_s, noise)).rem_euclid(360.0),
            gust_ms: self.gust.step(dt_s, noise),
        }
    }
}

impl WindNow {
    /// Speed of the air against a car, m/s, never below zero.
    pub fn against(&self, speed_ms: f64, heading_deg: f64) -> f64 {
        let along = self.speed_ms * (heading_deg - self.from_deg).to_radians().cos();
        // Close to standstill gusts come from all sides; they count in full from 10 m/s on.
        let moving = (speed_ms / 10.0).clamp(0.0, 1.0);
        (speed_ms + along + moving * self.gust_ms).max(0.0)
    }
}
