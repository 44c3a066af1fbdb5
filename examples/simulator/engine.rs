//! The invented car: body, gears, and a turbocharged 2-litre engine of 210 kW.
//!
//! ```text
//! P_crank = F v / eta             F = m_eff a + c_rr m g + rho/2 CdA v_air^2
//! P_ind   = P_crank + P_fric(n)   P_fuel = P_ind / eta_ind(load)
//! Q_gas   = share(load) P_fuel    share falls with load
//! ```

/// Mass with driver, kg.
pub const MASS_KG: f64 = 1350.0;
/// Mass with the rotating parts, kg.
pub const EFFECTIVE_MASS_KG: f64 = 1430.0;
/// Drag area, m².
pub const DRAG_AREA_M2: f64 = 0.75;
/// Rolling resistance, warm tyres on a circuit.
pub const ROLLING: f64 = 0.016;
/// Wheel power over crank power.
pub const DRIVELINE: f64 = 0.90;
/// Largest crank power in standard air, W.
pub const MAX_POWER_W: f64 = 210e3;
const MAX_TORQUE_NM: f64 = 390.0;
const DISPLACEMENT_M3: f64 = 2.0e-3;
const WHEEL_RADIUS_M: f64 = 0.32;
const FINAL_DRIVE: f64 = 3.9;
const GEARS: [f64; 6] = [3.3, 2.15, 1.56, 1.21, 0.97, 0.80];
const SHIFT_UP_RPM: f64 = 6500.0;
const SHIFT_DOWN_RPM: f64 = 4300.0;
const IDLE_RPM: f64 = 850.0;
/// Lower heating value of petrol, J/kg.
pub const FUEL_J_PER_KG: f64 = 42.6e6;
const FUEL_KG_PER_L: f64 = 0.746;
const STOICHIOMETRIC: f64 = 14.5;
const GRAVITY: f64 = 9.80665;

/// Gear memory.
pub struct Gearbox {
    gear: usize,
    shift_factor: f64,
}

/// What the engine does in one instant.
#[derive(Debug, Clone, Copy, Default)]
pub struct EngineState {
    /// Engine speed, 1/min.
    pub rpm: f64,
    /// Gear, 0 in neutral.
    pub gear: f64,
    /// Heat of the fuel burnt, W.
    pub fuel_w: f64,
    /// Fuel, L/h.
    pub fuel_l_h: f64,
    /// Air, g/s.
    pub air_g_s: f64,
    /// Throttle, percent.
    pub throttle_percent: f64,
    /// Calculated load, percent.
    pub load_percent: f64,
    /// Pressure in the intake manifold, kPa.
    pub manifold_kpa: f64,
    /// Heat that the charge-air cooler gives to the air in front of the radiator, W.
    pub charge_heat_w: f64,
    /// Charge air before and after its cooler, °C.
    pub charge_in_c: f64,
    /// Charge air after its cooler, °C.
    pub charge_out_c: f64,
    /// Heat from gas to walls at a wall temperature of 100 °C, W.
    pub gas_heat_w: f64,
    /// Heat of friction, W.
    pub friction_w: f64,
}

/// The air that the engine and the body meet.
#[derive(Debug, Clone, Copy)]
pub struct Surroundings {
    /// Air temperature, °C.
    pub ambient_c: f64,
    /// Air pressure, kPa.
    pub pressure_kpa: f64,
    /// Air density, kg/m³.
    pub density_kg_m3: f64,
    /// Speed of the air against the car, m/s.
    pub air_speed_ms: f64,
    /// Temperature of the air at the intake, °C.
    pub intake_c: f64,
}

impl Gearbox {
    /// In neutral; a driver who changes gear at `shift_factor` of the usual engine speeds.
    pub fn new(shift_factor: f64) -> Self {
        Self {
            gear: 0,
            shift_factor,
        }
    }

    fn rpm_in(gear: usize, speed_ms: f64) -> f64 {
        speed_ms / WHEEL_RADIUS_M * FINAL_DRIVE * GEARS[gear - 1] * 60.0
            / (2.0 * std::f64::consts::PI)
    }

    /// Gear and engine speed at a road speed; a gentle driver changes up early.
    fn choose(&mut self, speed_ms: f64, gentle: bool) -> (usize, f64) {
        if speed_ms < 1.5 {
            self.gear = 0;
            return (0, IDLE_RPM);
        }
        let (down, up) = if gentle {
            (1800.0, 3600.0)
        } else {
            (
                SHIFT_DOWN_RPM * self.shift_factor,
                SHIFT_UP_RPM * self.shift_factor,
            )
        };
        self.gear = self.gear.max(1);
        while self.gear < GEARS.len() && Self::rpm_in(self.gear, speed_ms) > up {
            self.gear += 1;
        }
        while self.gear > 1
            && Self::rpm_in(self.gear, speed_ms) < down
            && Self::rpm_in(self.gear - 1, speed_ms) < 0.97 * up
        {
            self.gear -= 1;
        }
        (self.gear, Self::rpm_in(self.gear, speed_ms).max(IDLE_RPM))
    }

    /// The engine at this instant. `gentle`: out-lap, in-lap, pit.
    pub fn engine(
        &mut self,
        speed_ms: f64,
        acceleration_ms2: f64,
        air: &Surroundings,
        gentle: bool,
    ) -> EngineState {
        let (gear, rpm) = self.choose(speed_ms, gentle);
        let drag = 0.5 * air.density_kg_m3 * DRAG_AREA_M2 * air.air_speed_ms * air.air_speed_ms;
        let rolling = if speed_ms > 0.1 {
            ROLLING * MASS_KG * GRAVITY
        } else {
            0.0
        };
        let force_n = EFFECTIVE_MASS_KG * acceleration_ms2 + drag + rolling;
        let wanted_w = (force_n * speed_ms / DRIVELINE).max(0.0);
        let limit_w = full_power_w(rpm, air.density_kg_m3);
        let idling = gear == 0;
        let overrun = !idling && force_n <= 0.0 && rpm > 1300.0;
        // Alternator and fans take their share from the crank.
        let crank_w = if overrun {
            0.0
        } else {
            wanted_w.min(limit_w) + 1200.0
        };
        combustion(crank_w, limit_w, rpm, gear, overrun, air)
    }
}

/// Largest crank power at an engine speed. The turbocharger makes up for most of thin air.
fn full_power_w(rpm: f64, density_kg_m3: f64) -> f64 {
    let omega = rpm * 2.0 * std::f64::consts::PI / 60.0;
    let spool = ((rpm - 600.0) / 1800.0).clamp(0.25, 1.0);
    (MAX_TORQUE_NM * spool * omega).min(MAX_POWER_W) * (density_kg_m3 / 1.19).powf(0.35)
}

/// Friction power from a mean effective pressure of 0.7 + 0.10 k + 0.03 k² bar, k in 1000/min.
fn friction_w(rpm: f64) -> f64 {
    let k = rpm / 1000.0;
    let fmep_pa = (0.7 + 0.10 * k + 0.03 * k * k) * 1e5;
    fmep_pa * DISPLACEMENT_M3 * rpm / 120.0
}

fn combustion(
    crank_w: f64,
    limit_w: f64,
    rpm: f64,
    gear: usize,
    overrun: bool,
    air: &Surroundings,
) -> EngineState {
    let friction = friction_w(rpm);
    let load = ((crank_w + friction) / (limit_w + friction)).clamp(0.0, 1.0);
    let lambda = 1.0 - 0.14 * ((load - 0.65) / 0.35).clamp(0.0, 1.0);
    // Unburnt fuel of a rich mixture carries its heat out of the tailpipe.
    let indicated_efficiency = (0.345 + 0.05 * load.min(0.7)) * lambda.powf(0.8);
    let fuel_w = if overrun {
        0.0
    } else {
        (crank_w + friction) / indicated_efficiency
    };
    let fuel_kg_s = fuel_w / FUEL_J_PER_KG;
    let pumped = DISPLACEMENT_M3 * rpm / 120.0;
    let air_kg_s = if overrun {
        pumped * 0.30
    } else {
        fuel_kg_s * STOICHIOMETRIC * lambda
    };
    let volumetric = 0.92;
    let (manifold_kpa, charge_in_c, charge_out_c) = charge_air(air_kg_s, pumped * volumetric, air);
    let burnt_w = fuel_w * lambda.min(1.0);
    // At low engine speed a small opening fills the cylinders.
    let choke = (rpm / 3000.0).clamp(0.2, 1.0);
    let share = 0.205 + 0.075 * (-load / 0.22).exp();
    EngineState {
        rpm,
        gear: gear as f64,
        fuel_w,
        fuel_l_h: fuel_kg_s / FUEL_KG_PER_L * 3600.0,
        air_g_s: air_kg_s * 1e3,
        throttle_percent: if overrun {
            0.0
        } else {
            100.0 * load.powf(0.85) * choke
        },
        load_percent: if overrun { 0.0 } else { 100.0 * load },
        manifold_kpa,
        charge_heat_w: air_kg_s * 1006.0 * (charge_in_c - charge_out_c),
        charge_in_c,
        charge_out_c,
        gas_heat_w: share * burnt_w,
        friction_w: friction,
    }
}

/// Manifold pressure, and charge air before and after its cooler.
fn charge_air(air_kg_s: f64, swept_m3_s: f64, air: &Surroundings) -> (f64, f64, f64) {
    let mut charge_out_c = air.intake_c + 10.0;
    let mut charge_in_c = air.intake_c;
    let mut manifold_kpa = 30.0;
    // Pressure and temperature depend on each other; three rounds are plenty.
    for _ in 0..3 {
        let density = air_kg_s / swept_m3_s.max(1e-6);
        manifold_kpa = (density * 0.28705 * (charge_out_c + 273.15)).max(22.0);
        let compressor_out = (manifold_kpa + 8.0).max(air.pressure_kpa);
        let ratio = compressor_out / (air.pressure_kpa - 2.0);
        let ideal = (air.intake_c + 273.15) * (ratio.powf(0.2857) - 1.0);
        charge_in_c = air.intake_c + ideal / 0.72;
        let effectiveness = 0.80 - 0.8 * air_kg_s;
        charge_out_c = charge_in_c - effectiveness * (charge_in_c - air.ambient_c).max(0.0);
    }
    (manifold_kpa, charge_in_c, charge_out_c)
}
