//! The cooling circuit: metal, block, oil and exhaust manifold; engine coolant, thermostat with
//! wax and bypass, radiator; the air under the bonnet.
//!
//! ```text
//! gas -> metal -> engine coolant -> thermostat -> radiator -> back to the engine
//!          |            |               \-> bypass -> back to the engine
//!        block         oil
//! ```
//! Explicit Euler; the quickest node has a time constant of about 1 s.

use super::engine::EngineState;
use super::exchanger::{AIR_EXPONENT, RadiatorInput, air_w_per_k, radiator_heat_w};
use super::noise::Noise;

/// Thermostat starts to open, °C.
pub const OPENS_C: f64 = 78.0;
/// Thermostat fully open, °C.
pub const FULL_OPEN_C: f64 = 88.0;
/// Coolant in the engine, L.
const ENGINE_COOLANT_L: f64 = 3.8;
/// Coolant in radiator and hoses, L.
const RADIATOR_COOLANT_L: f64 = 3.2;
/// Coolant in all, L.
pub const COOLANT_L: f64 = ENGINE_COOLANT_L + RADIATOR_COOLANT_L;
/// Glycol, percent by volume.
pub const GLYCOL_PERCENT: f64 = 50.0;
/// Density times specific heat of that coolant near 95 °C, J/(L K).
const COOLANT_J_PER_L_K: f64 = 3660.0;
/// Liners and heads: follow the coolant within seconds.
const METAL_J_PER_K: f64 = 52e3;
/// The rest of the block: follows within minutes.
const BLOCK_J_PER_K: f64 = 45e3;
const OIL_J_PER_K: f64 = 14e3;
const MANIFOLD_J_PER_K: f64 = 9e3;
const WAX_TAU_S: f64 = 17.0;
/// Width of the thermostat's hysteresis, K.
const WAX_PLAY_K: f64 = 1.5;
/// Share of the pump's flow that bypasses the radiator at full opening.
const BYPASS_OPEN: f64 = 0.06;
/// Share that leaks to the radiator when closed.
const LEAK_CLOSED: f64 = 0.015;
const FAN_FACE_MS: f64 = 2.3;
const FACE_AREA_M2: f64 = 0.27;

/// The nominal car's air through the core goes with this power of the air's speed.
const RAM_POWER: f64 = 0.85;
/// Speed at which every power gives the same, m/s.
const PIVOT_MS: f64 = 36.0;

/// How air comes to the core.
#[derive(Debug, Clone, Copy)]
pub struct Front {
    /// Air flow over that of the car without the part.
    pub air_flow_factor: f64,
    /// Power of the air's speed that the flow goes with.
    pub ram_power: f64,
}

impl Front {
    /// The nominal car's.
    pub const NOMINAL: Self = Self {
        air_flow_factor: 1.0,
        ram_power: RAM_POWER,
    };
}

/// Share of the pump's flow that goes through the radiator.
pub fn radiator_share(opening: f64) -> f64 {
    LEAK_CLOSED + (1.0 - BYPASS_OPEN - LEAK_CLOSED) * opening
}

/// Air through the core: what ram pressure and fan drive together, kg/s.
pub fn core_air_kg_s(air_speed_ms: f64, density_kg_m3: f64, fan_on: bool, front: Front) -> f64 {
    let same_there = PIVOT_MS.powf(RAM_POWER - front.ram_power);
    let ram_ms = 0.347 * same_there * air_speed_ms.powf(front.ram_power) * front.air_flow_factor;
    let fan_ms = if fan_on { FAN_FACE_MS } else { 0.15 };
    let face_ms = (ram_ms.powi(6) + fan_ms.powi(6)).powf(1.0 / 6.0);
    density_kg_m3 * FACE_AREA_M2 * face_ms
}

/// How the engine is built, all over nominal.
#[derive(Debug, Clone, Copy)]
pub struct Build {
    /// Heat capacity of the block.
    pub block: f64,
    /// Conductance between metal and block.
    pub metal_block: f64,
    /// Heat capacity of the oil.
    pub oil: f64,
    /// Conductance between oil and coolant.
    pub oil_coolant: f64,
}

impl Build {
    /// The nominal engine.
    pub const NOMINAL: Self = Self {
        block: 1.0,
        metal_block: 1.0,
        oil: 1.0,
        oil_coolant: 1.0,
    };

    /// Another engine: each of them lognormal about the nominal one's.
    pub fn draw(log_sd: f64, noise: &mut Noise) -> Self {
        let mut other = || noise.normal(0.0, log_sd).exp();
        Self {
            block: other(),
            metal_block: other(),
            oil: other(),
            oil_coolant: other(),
        }
    }
}

/// Temperatures and positions of the circuit.
#[derive(Debug, Clone)]
pub struct Cooling {
    /// How air comes to the core.
    pub front: Front,
    /// Air-side coefficient of the core in this session over nominal.
    pub core_scale: f64,
    /// Power of the air flow that the core's air side goes with.
    pub air_exponent: f64,
    /// Heat of gas and friction that reaches walls and oil, over nominal.
    pub heat_share_factor: f64,
    /// The engine's capacities and couplings.
    pub build: Build,
    /// Thermostat held fully open.
    pub held_open: bool,
    /// Coolant leaving the engine, °C.
    pub coolant_c: f64,
    /// Coolant leaving the radiator, °C.
    pub radiator_out_c: f64,
    /// Oil, °C.
    pub oil_c: f64,
    /// Air under the bonnet, °C.
    pub bonnet_c: f64,
    /// Thermostat opening, 0 to 1.
    pub opening: f64,
    /// Whether the fan runs.
    pub fan_on: bool,
    /// Heat that the radiator gives to the air, W.
    pub radiator_w: f64,
    /// What the radiator met in the last step; `None`: the engine stood.
    pub radiator: Option<RadiatorInput>,
    /// Heat that reaches coolant and metal, W.
    pub heat_in_w: f64,
    metal_c: f64,
    block_c: f64,
    manifold_c: f64,
    wax_c: f64,
    preheat_w: f64,
    air_out_k: f64,
}

/// What acts on the circuit in one instant.
#[derive(Debug, Clone, Copy)]
pub struct Drive {
    /// The engine; `None`: stopped.
    pub engine: Option<EngineState>,
    /// Road speed, m/s.
    pub speed_ms: f64,
    /// Speed of the air against the car, m/s.
    pub air_speed_ms: f64,
    /// Air outside, °C.
    pub ambient_c: f64,
    /// Air density, kg/m³.
    pub density_kg_m3: f64,
}

impl Cooling {
    /// The circuit warmed through to `coolant_c`.
    pub fn warm(coolant_c: f64, ambient_c: f64) -> Self {
        Self {
            front: Front::NOMINAL,
            core_scale: 1.0,
            air_exponent: AIR_EXPONENT,
            heat_share_factor: 1.0,
            build: Build::NOMINAL,
            held_open: false,
            coolant_c,
            radiator_out_c: ambient_c + 0.4 * (coolant_c - ambient_c),
            oil_c: coolant_c,
            bonnet_c: ambient_c + 0.35 * (coolant_c - ambient_c),
            opening: 0.0,
            fan_on: false,
            radiator_w: 0.0,
            radiator: None,
            heat_in_w: 0.0,
            metal_c: coolant_c + 1.0,
            block_c: coolant_c - 1.0,
            manifold_c: coolant_c + 30.0,
            wax_c: coolant_c,
            preheat_w: 0.0,
            air_out_k: 0.0,
        }
    }

    /// One step of `dt_s`.
    pub fn step(&mut self, dt_s: f64, drive: &Drive) {
        self.move_thermostat(dt_s);
        let running = drive.engine.is_some();
        let engine = drive.engine.unwrap_or_default();
        let pump_l_s = 2.0 * engine.rpm / 6000.0;
        let radiator_l_s = pump_l_s * radiator_share(self.opening);
        let flow_w_per_k = radiator_l_s * COOLANT_J_PER_L_K;
        self.radiator_w = self.reject(dt_s, drive, &engine, radiator_l_s, running);

        // Hotter walls take less from the gas, which is some 1000 K above them in the mean.
        let wall = 1.0 - (self.metal_c - 100.0) / 1000.0;
        let gas_w = engine.gas_heat_w * self.heat_share_factor * wall;
        let friction_w = engine.friction_w * self.heat_share_factor;
        let to_metal_w = gas_w + 0.50 * friction_w;
        let to_oil_w = 0.45 * friction_w + 0.04 * gas_w;
        self.heat_in_w = to_metal_w;

        let stirred = (pump_l_s / 1.6).max(0.0).powf(0.6);
        let metal_coolant = 250.0 + 6500.0 * stirred;
        let oil_coolant = self.build.oil_coolant * if running { 230.0 } else { 45.0 };
        let metal_block = 320.0 * self.build.metal_block;
        let manifold_head = 11.0;
        let airy = drive.speed_ms.min(60.0);
        let metal_to_coolant_w = metal_coolant * (self.metal_c - self.coolant_c);
        let oil_to_coolant_w = oil_coolant * (self.oil_c - self.coolant_c);
        let metal_to_block_w = metal_block * (self.metal_c - self.block_c);
        let manifold_to_metal_w = manifold_head * (self.manifold_c - self.metal_c);
        let block_loss_w = (13.0 + 0.7 * airy) * (self.block_c - self.bonnet_c);
        let oil_loss_w = (4.0 + 2.2 * airy) * (self.oil_c - self.bonnet_c);
        let manifold_loss_w = (6.0 + 0.14 * airy) * (self.manifold_c - self.bonnet_c);
        let standing_loss_w = 13.0 * (self.coolant_c - self.bonnet_c);

        self.metal_c += dt_s
            * (to_metal_w + manifold_to_metal_w - metal_to_coolant_w - metal_to_block_w)
            / METAL_J_PER_K;
        self.block_c +=
            dt_s * (metal_to_block_w - block_loss_w) / (BLOCK_J_PER_K * self.build.block);
        self.oil_c +=
            dt_s * (to_oil_w - oil_to_coolant_w - oil_loss_w) / (OIL_J_PER_K * self.build.oil);
        self.manifold_c += dt_s * (0.024 * engine.fuel_w - manifold_to_metal_w - manifold_loss_w)
            / MANIFOLD_J_PER_K;
        let returned_w = flow_w_per_k * (self.coolant_c - self.radiator_out_c);
        self.coolant_c += dt_s
            * (metal_to_coolant_w + oil_to_coolant_w - returned_w - standing_loss_w)
            / (ENGINE_COOLANT_L * COOLANT_J_PER_L_K);
        self.radiator_out_c +=
            dt_s * (returned_w - self.radiator_w) / (RADIATOR_COOLANT_L * COOLANT_J_PER_L_K);
        self.warm_bonnet(dt_s, drive);
    }

    /// The wax follows the coolant late; the valve follows the wax with play.
    fn move_thermostat(&mut self, dt_s: f64) {
        if self.held_open {
            self.opening = 1.0;
            return;
        }
        self.wax_c += dt_s * (self.coolant_c - self.wax_c) / WAX_TAU_S;
        let span = FULL_OPEN_C - OPENS_C;
        let rising = ((self.wax_c - WAX_PLAY_K / 2.0 - OPENS_C) / span).clamp(0.0, 1.0);
        let falling = ((self.wax_c + WAX_PLAY_K / 2.0 - OPENS_C) / span).clamp(0.0, 1.0);
        self.opening = self.opening.clamp(rising, falling);
    }

    /// Heat from coolant to air.
    fn reject(
        &mut self,
        dt_s: f64,
        drive: &Drive,
        engine: &EngineState,
        coolant_l_s: f64,
        running: bool,
    ) -> f64 {
        if !running {
            self.fan_on = false;
            self.preheat_w = 0.0;
            self.radiator = None;
            return 12.0 * (self.radiator_out_c - drive.ambient_c);
        }
        self.fan_on = self.coolant_c > if self.fan_on { 93.0 } else { 97.0 };
        let air_kg_s = core_air_kg_s(
            drive.air_speed_ms,
            drive.density_kg_m3,
            self.fan_on,
            self.front,
        );
        // The charge-air cooler's own metal evens out its heat over a few seconds.
        self.preheat_w += dt_s * (engine.charge_heat_w.max(0.0) - self.preheat_w) / 4.0;
        let recirculated = 0.14 * (-drive.speed_ms / 5.0).exp();
        let air_c = drive.ambient_c + recirculated * self.air_out_k;
        let input = RadiatorInput {
            coolant_in_c: self.coolant_c,
            coolant_w_per_k: coolant_l_s * COOLANT_J_PER_L_K,
            coolant_l_s,
            air_kg_s,
            air_c,
            preheat_w: self.preheat_w,
            core_scale: self.core_scale,
            air_exponent: self.air_exponent,
        };
        let heat_w = radiator_heat_w(&input);
        self.radiator = Some(input);
        let out_k = heat_w / air_w_per_k(air_kg_s).max(50.0) + (air_c - drive.ambient_c);
        self.air_out_k += dt_s * (out_k.clamp(0.0, 70.0) - self.air_out_k) / 5.0;
        heat_w
    }

    fn warm_bonnet(&mut self, dt_s: f64, drive: &Drive) {
        let share = 0.13 + 0.37 * (-drive.speed_ms / 7.0).exp();
        let target_c = drive.ambient_c + share * (self.coolant_c - drive.ambient_c);
        let tau_s = if drive.speed_ms > 3.0 { 15.0 } else { 60.0 };
        self.bonnet_c += dt_s * (target_c - self.bonnet_c) / tau_s;
    }
}
