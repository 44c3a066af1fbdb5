//! The fitted car driven through a reference drive until it repeats.

use super::joint::{AIR, CAPACITY, JointFit, SHARED, STORE, store_tau_s};
use super::prepare::{METAL_LAG_S, Prepared, STEP_S};
use crate::stats::root_within;
use crate::thermal::air;
use crate::thermal::balance::{held_share, lagged};
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
    /// Heat capacity of the slow store (`joint`), J/K; zero: there is none.
    pub store_j_per_k: f64,
    /// How slowly it follows the coolant, s.
    pub store_tau_s: f64,
}

/// Where a drive begins, °C.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Start {
    /// Coolant.
    pub coolant_c: f64,
    /// The slow store.
    pub store_c: f64,
}

impl Start {
    /// Coolant and store alike.
    pub fn even(coolant_c: f64) -> Self {
        Self {
            coolant_c,
            store_c: coolant_c,
        }
    }
}

impl CarModel {
    /// The car of a session, with these shared parameters of `joint` and this logarithm of its conductance; thermostat
    /// held fully open.
    pub fn of(session: &Prepared, shared: &[f64; SHARED], log_g: f64) -> Self {
        Self {
            g_w_per_k: log_g.exp(),
            exponent: shared[AIR],
            capacity_j_per_k: session.capacity_j_per_k * shared[CAPACITY].exp(),
            thermostat: None,
            store_j_per_k: session.capacity_j_per_k * shared[STORE].max(0.0),
            store_tau_s: store_tau_s(shared),
        }
    }

    /// The car with its conductance off by `log_shift`, a logarithm.
    pub fn shifted(&self, log_shift: f64) -> Self {
        Self {
            g_w_per_k: self.g_w_per_k * log_shift.exp(),
            ..*self
        }
    }
}

/// What the slow store does over a drive.
#[derive(Clone, Copy)]
enum Store {
    Follows,
    Stays,
}

/// A drive to put cars through, in steps of [`STEP_S`].
#[derive(Debug, Clone, PartialEq)]
pub struct ReferenceDrive {
    /// Heat that would reach the coolant at `thermal::wall::REFERENCE_C`, W.
    heat_w: Vec<f64>,
    /// Logarithm of relative air flow at standard density.
    log_air_flow: Vec<f64>,
    /// Pressure of the air, kPa.
    pressure_kpa: f64,
}

/// A drive at one ambient, for cars of one exponent.
pub struct DriveAt {
    /// Heat over each step, J.
    heat_j: Vec<f64>,
    /// Conductance over that at reference conditions, over each step, s.
    flow_s: Vec<f64>,
    /// Length of a step; the last may be shorter.
    step_s: f64,
    ambient_c: f64,
}

/// Coolant over a drive repeated until it no longer changes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settled {
    /// Mean, °C.
    pub mean_c: f64,
    /// Peak, °C.
    pub peak_c: f64,
    /// At the drive's end, and so at its beginning, °C.
    pub end_c: f64,
}

/// Rounds of a drive after which what still changes is taken for no answer.
const MOST_ROUNDS: usize = 50;

/// Heat over that at `thermal::wall::REFERENCE_C`: at 0 °C, and what comes to it with each °C of the coolant.
type HeatLine = (f64, f64);

impl ReferenceDrive {
    /// Heat at `thermal::wall::REFERENCE_C`, W, and speed, km/h, of each step; pressure of the air.
    pub fn new(heat_w: Vec<f64>, speed_kmh: &[f64], pressure_kpa: f64) -> Self {
        let at_standard = |&v: &f64| log_air_flow(v, air::STANDARD_DENSITY_KG_M3);
        Self {
            heat_w,
            log_air_flow: speed_kmh.iter().map(at_standard).collect(),
            pressure_kpa,
        }
    }

    /// The longest stint of a session, with the heat input as the joint fit has it. `None`: the
    /// session has no stint or no heat input.
    pub fn of(session: &Prepared, fit: &JointFit) -> Option<Self> {
        session.heat.as_ref()?;
        let &(a, b) = session.drive.stints.iter().max_by_key(|(a, b)| b - a)?;
        let heat = &fit.heat_at_reference_w(session)[a..b];
        Some(Self::new(
            lagged(heat, METAL_LAG_S, STEP_S),
            &session.speed_kmh[a..b],
            session.pressure_kpa,
        ))
    }

    /// Its last whole laps of `lap_steps`, so that repeated it goes on where it ended; all of it where it is
    /// shorter than a lap.
    pub fn last_laps(mut self, lap_steps: usize) -> Self {
        let laps = self.steps() / lap_steps.max(1);
        if laps > 0 {
            let from = self.steps() - laps * lap_steps.max(1);
            self.heat_w.drain(..from);
            self.log_air_flow.drain(..from);
        }
        self
    }

    /// Its length, steps.
    pub fn steps(&self) -> usize {
        self.heat_w.len()
    }

    /// The drive at `ambient_c` for cars of this exponent.
    pub fn at(&self, exponent: f64, ambient_c: f64) -> DriveAt {
        let density = air::density_kg_m3(ambient_c, self.pressure_kpa);
        let denser = (density / air::STANDARD_DENSITY_KG_M3).ln();
        DriveAt {
            heat_j: self.heat_w.iter().map(|w| w * STEP_S).collect(),
            flow_s: (self.log_air_flow.iter())
                .map(|flow| relative(flow + denser, exponent) * STEP_S)
                .collect(),
            step_s: STEP_S,
            ambient_c,
        }
    }

    /// Drives `car` through the drive at `ambient_c` over and over until the mean holds to 1 mK.
    pub fn settle(&self, car: &CarModel, ambient_c: f64) -> Settled {
        self.at(car.exponent, ambient_c)
            .settle_with(car, wall::HEAT_LINE)
    }

    /// Seconds from the drive's beginning until `car`, from `start` on at `ambient_c`, first reaches
    /// `limit_c`. `None`: not within `within_s`.
    pub fn reaches_s(
        &self,
        car: &CarModel,
        start: Start,
        ambient_c: f64,
        limit_c: f64,
        within_s: f64,
    ) -> Option<f64> {
        if start.coolant_c >= limit_c {
            return Some(0.0);
        }
        let steps = (within_s / STEP_S) as usize;
        self.at(car.exponent, ambient_c)
            .still_course(car, start, (wall::HEAT_LINE, Store::Follows))
            .take(steps)
            .position(|temp_c| temp_c >= limit_c)
            .map(|before| (before + 1) as f64 * STEP_S)
    }

    /// Hottest coolant within `within_s` from the drive's beginning, from `start` on at `ambient_c`.
    pub fn peak_within_c(
        &self,
        car: &CarModel,
        start: Start,
        ambient_c: f64,
        within_s: f64,
    ) -> f64 {
        let steps = (within_s / STEP_S) as usize;
        self.at(car.exponent, ambient_c)
            .still_course(car, start, (wall::HEAT_LINE, Store::Follows))
            .take(steps)
            .fold(start.coolant_c, f64::max)
    }

    /// Ambient at which the settled peak reaches `limit_c`, between -40 and 80 °C; `None` outside.
    pub fn limiting_ambient_c(&self, car: &CarModel, limit_c: f64) -> Option<f64> {
        let over = |ambient_c: f64| self.settle(car, ambient_c).peak_c - limit_c;
        root_within(1e-3, over, -40.0, 80.0)
    }
}

impl DriveAt {
    /// The same in steps of twice the length: a coolant that follows within a minute is off by some 0.01 K.
    pub fn in_double_steps(&self) -> Self {
        let pairs = |values: &[f64]| values.chunks(2).map(|pair| pair.iter().sum()).collect();
        Self {
            heat_j: pairs(&self.heat_j),
            flow_s: pairs(&self.flow_s),
            step_s: 2.0 * self.step_s,
            ..*self
        }
    }

    /// Its length, steps.
    pub fn steps(&self) -> usize {
        self.heat_j.len()
    }

    /// Its steps, over and over: heat, J, and flow, s.
    fn over_and_over(&self) -> impl Iterator<Item = (f64, f64)> {
        let steps = self.heat_j.iter().zip(&self.flow_s);
        steps.map(|(heat_j, flow_s)| (*heat_j, *flow_s)).cycle()
    }

    /// How many times `length_s` there is in it, once at least.
    pub fn laps(&self, length_s: f64) -> usize {
        (self.steps() / self.lap_steps(length_s)).max(1)
    }

    fn lap_steps(&self, length_s: f64) -> usize {
        ((length_s / self.step_s).round() as usize).clamp(1, self.steps())
    }

    /// Coolant after each step of its laps of `length_s`, in this `order`, from `start` on. `gust` tells for each step
    /// how many times the conductance is what the car makes of speed and density.
    pub fn gusty_course(
        &self,
        car: &CarModel,
        start: Start,
        (length_s, order): (f64, impl Iterator<Item = usize>),
        gust: impl FnMut() -> f64,
    ) -> impl Iterator<Item = f64> {
        let length = self.lap_steps(length_s);
        let steps = order.flat_map(move |lap| {
            let lap = lap * length..(lap + 1) * length;
            lap.map(|i| (self.heat_j[i], self.flow_s[i]))
        });
        self.course(car, start, (wall::HEAT_LINE, Store::Follows), steps, gust)
    }

    /// Coolant after each of `steps` from `start` on, with this much of the heat at each coolant temperature.
    fn course(
        &self,
        car: &CarModel,
        start: Start,
        ((at_zero, per_c), store): (HeatLine, Store),
        steps: impl Iterator<Item = (f64, f64)>,
        mut gust: impl FnMut() -> f64,
    ) -> impl Iterator<Item = f64> {
        // Everything over a step and by the heat capacity: kelvins.
        let per_j = 1.0 / car.capacity_j_per_k;
        let g = car.g_w_per_k * per_j;
        let to_store = car.store_j_per_k / car.store_tau_s * per_j * self.step_s;
        let full_open_c = car.thermostat.map_or(f64::NEG_INFINITY, |t| t.full_open_c);
        let thermostat = car.thermostat;
        let follow = match store {
            Store::Follows => -(-self.step_s / car.store_tau_s).exp_m1(),
            Store::Stays => 0.0,
        };
        let (mut temp_c, mut store_c) = (start.coolant_c, start.store_c);
        steps.map(move |(heat_j, flow_s)| {
            let mut decay = g * flow_s * gust();
            if temp_c < full_open_c {
                decay *= thermostat.map_or(1.0, |t| t.opening(temp_c));
            }
            // The rise is a straight line over the coolant.
            let (held, heat_k) = (held_share(decay), heat_j * per_j);
            let constant = held * (heat_k * at_zero + decay * self.ambient_c + to_store * store_c);
            let slope = held * (heat_k * per_c - decay - to_store);
            store_c += follow * (temp_c - store_c);
            temp_c += constant + slope * temp_c;
            temp_c
        })
    }

    /// The same with the drive over and over, without gusts.
    fn still_course(
        &self,
        car: &CarModel,
        start: Start,
        how: (HeatLine, Store),
    ) -> impl Iterator<Item = f64> {
        self.course(car, start, how, self.over_and_over(), || 1.0)
    }

    /// Settled, with this much of the heat at each coolant temperature.
    fn settle_with(&self, car: &CarModel, share: HeatLine) -> Settled {
        let steps = self.steps();
        let mut start = Start::even(self.ambient_c + 60.0);
        let mut last = f64::NAN;
        for _ in 0..MOST_ROUNDS {
            let round = self
                .still_course(car, start, (share, Store::Stays))
                .take(steps);
            let (sum, peak_c, end_c) = round.fold(
                (0.0, f64::NEG_INFINITY, f64::NAN),
                |(sum, peak, _), temp_c| (sum + temp_c, temp_c.max(peak), temp_c),
            );
            let mean_c = sum / steps as f64;
            if (mean_c - last).abs() < 1e-3 {
                return Settled {
                    mean_c,
                    peak_c,
                    end_c,
                };
            }
            last = mean_c;
            // The store ends at the mean, however slowly: it is put there.
            start = Start {
                coolant_c: end_c,
                store_c: mean_c,
            };
        }
        Settled {
            mean_c: f64::NAN,
            peak_c: f64::NAN,
            end_c: f64::NAN,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn steady(heat_w: f64) -> ReferenceDrive {
        ReferenceDrive::new(vec![heat_w; 200], &[120.0; 200], 101.325)
    }

    fn car(exponent: f64) -> CarModel {
        CarModel {
            g_w_per_k: 600.0,
            exponent,
            capacity_j_per_k: 60e3,
            thermostat: None,
            store_j_per_k: 0.0,
            store_tau_s: 180.0,
        }
    }

    /// Walls that take the same at any coolant temperature.
    const EVEN: HeatLine = (1.0, 0.0);

    /// Without what the walls take less.
    fn linear(drive: &ReferenceDrive, car: &CarModel, ambient_c: f64) -> f64 {
        drive
            .at(car.exponent, ambient_c)
            .settle_with(car, EVEN)
            .mean_c
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

    /// First-order step in closed form: 42 kW, 600 W/K, 60 kJ/K from 40 °C at 20 °C heads for 90 °C with τ = 100 s,
    /// so 80 °C is reached after 100 ln(50/10) = 160.9 s, and 95 °C never.
    #[test]
    fn a_limit_is_reached_when_the_closed_form_says() {
        let (drive, car) = (steady(42e3), car(0.0));
        let at_20 = drive.at(0.0, 20.0);
        let mut linear = at_20.still_course(&car, Start::even(40.0), (EVEN, Store::Follows));
        let first = linear.position(|c| c >= 80.0).unwrap();
        assert!((first as f64 + 1.0 - 160.9).abs() <= 1.0, "{first}");
        let settled = drive.settle(&car, 20.0).peak_c;
        let reaches =
            |start_c, limit_c| drive.reaches_s(&car, Start::even(start_c), 20.0, limit_c, 3600.0);
        assert_eq!(reaches(40.0, settled + 0.5), None);
        assert_eq!(reaches(settled, settled - 0.5), Some(0.0));
        let near = reaches(40.0, settled - 0.5).unwrap();
        let later = reaches(60.0, settled - 0.5).unwrap();
        assert!(near > later && later > 300.0, "{near} {later}");
        let by_then = drive.peak_within_c(&car, Start::even(40.0), 20.0, near);
        assert!((by_then - (settled - 0.5)).abs() < 0.01);
    }

    /// Laps of 91 s, an odd number, full heat for a third of each.
    #[test]
    fn double_steps_are_nearly_the_same() {
        let heat_w = |i: usize| if i % 91 < 30 { 70e3 } else { 25e3 };
        let heat_w: Vec<f64> = (0..455).map(heat_w).collect();
        let heat_w = lagged(&heat_w, METAL_LAG_S, STEP_S);
        let drive = ReferenceDrive::new(heat_w, &[120.0; 455], 101.325);
        let at = drive.at(0.5, 20.0);
        let single = at.settle_with(&car(0.5), wall::HEAT_LINE);
        let double = at.in_double_steps().settle_with(&car(0.5), wall::HEAT_LINE);
        for (a, b, most_k) in [
            (single.peak_c, double.peak_c, 0.02),
            (single.mean_c, double.mean_c, 0.03),
            (single.end_c, double.end_c, 0.03),
        ] {
            assert!((a - b).abs() < most_k, "{single:?} {double:?}");
        }
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
