//! A stack and its what-ifs side by side.

use rayon::prelude::*;

use super::air::AIR_J_PER_KG_K;
use super::answer::{
    At, Change, ExchangerAnswer, InputInfluence, Prediction, StackAnswer, SweepPoint, SweepStack,
};
use super::cautions::cautions;
use super::compute::{Computed, Part, compute};
use super::read::Stack;
use super::sheet::{Input, Kind, Sheet};
use super::spread::{Influence, Spread};
use crate::car::CarSheet;
use crate::stats::Estimate;
use crate::thermal::air::{density_kg_m3, pressure_kpa};
use crate::thermal::boiling::boiling_c;
use crate::words::shell_word;

/// Cells along each edge of the face.
pub const CELLS: usize = 40;

/// What is computed in a cell.
const RELATION: &str = "cross-flow in each cell, air unmixed, fluid mixed across the depth of a tube row; rows of tubes apart (tube_rows) tend to both unmixed";

/// Ambients of the sweep, °C, and loads.
const SWEEP_AMBIENT_C: [f64; 5] = [0.0, 10.0, 20.0, 30.0, 40.0];
const SWEEP_LOAD: [f64; 4] = [0.4, 0.6, 0.8, 1.0];

/// A change smaller than this is none to plan a test for, K.
const NOTHING_K: f64 = 0.05;

/// What is asked besides the sheet.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Request {
    /// Road speed instead of the sheet's, km/h.
    pub speed_kmh: Option<f64>,
    /// Load instead of the sheet's.
    pub load: Option<f64>,
    /// Air outside instead of the sheet's, °C.
    pub ambient_c: Option<f64>,
    /// Coolant entering the radiator held at this, °C, instead of its heat.
    pub coolant_c: Option<f64>,
}

impl Request {
    /// The stack at the asked working point.
    pub fn apply(&self, stack: &mut Stack) {
        let asked = [
            ("at.speed_kmh", self.speed_kmh),
            ("at.load", self.load),
            ("at.ambient_c", self.ambient_c),
        ];
        for sheet in stack.all_mut() {
            for (path, value) in asked {
                if let Some(value) = value {
                    sheet.give(path, Input::exact(value));
                }
            }
        }
    }
}

/// Computes a stack and its what-ifs, at the working point of the sheet. `full_open_c`: where the
/// thermostat is fully open, if that is known.
pub fn predict(stack: &Stack, coolant_c: Option<f64>, full_open_c: Option<f64>) -> Prediction {
    let fine: Vec<Result<Computed, String>> = stack
        .all()
        .map(|sheet| compute(sheet, &stack.base, coolant_c, CELLS))
        .collect();
    let spread = Spread::of(stack, coolant_c);
    let stacks: Vec<StackAnswer> = stack
        .all()
        .enumerate()
        .map(|(i, sheet)| stack_answer(stack, sheet, i, &fine[i], &spread, coolant_c))
        .collect();
    let changes = (1..fine.len())
        .map(|i| change(stack, i, &fine, &spread, coolant_c.is_some()))
        .collect();
    let mut prediction = Prediction {
        at: at(&stack.base, coolant_c),
        cells: CELLS,
        relation: RELATION,
        stacks,
        changes,
        sweep: if coolant_c.is_none() {
            sweep(stack)
        } else {
            Vec::new()
        },
        thermostat_full_open_c: full_open_c,
        boils_c: None,
        radiator_ua_from: None,
        warnings: Vec::new(),
    };
    prediction.warnings = cautions(stack, &prediction, full_open_c);
    prediction
}

fn at(sheet: &Sheet, coolant_c: Option<f64>) -> At {
    let (ambient_c, altitude_m) = (sheet.value("at.ambient_c"), sheet.value("at.altitude_m"));
    At {
        speed_kmh: sheet.value("at.speed_kmh"),
        load: sheet.value("at.load"),
        ambient_c,
        altitude_m,
        air_density_kg_m3: density_kg_m3(ambient_c, pressure_kpa(altitude_m)),
        coolant_c,
    }
}

fn stack_answer(
    stack: &Stack,
    sheet: &Sheet,
    index: usize,
    fine: &Result<Computed, String>,
    spread: &Spread,
    coolant_c: Option<f64>,
) -> StackAnswer {
    let name = sheet.name.clone();
    let computed = match fine {
        Ok(computed) => computed,
        Err(why) => {
            return StackAnswer {
                name,
                air_kg_s: Estimate::unknown(why.clone()),
                air_out_c: Estimate::unknown(why.clone()),
                exchangers: Vec::new(),
                why: Some(why.clone()),
                computed: None,
            };
        }
    };
    let ambient_c = sheet.value("at.ambient_c");
    let air_kg_s = |c: &Computed| c.face.air_w_per_k.iter().sum::<f64>() / AIR_J_PER_KG_K;
    let air_out_c = |c: &Computed| ambient_c + c.settled.air_out_k;
    let coarser = compute(sheet, &stack.base, coolant_c, CELLS / 2).ok();
    let exchangers = computed
        .parts
        .iter()
        .enumerate()
        .map(|(i, part)| {
            let coarse = coarser.as_ref().map(|c| c.parts[i].watched_c());
            exchanger(part, i, index, computed, spread, ambient_c, coarse)
        })
        .collect();
    StackAnswer {
        name,
        air_kg_s: spread.estimate(air_kg_s(computed), |all| Some(air_kg_s(all[index]))),
        air_out_c: spread.estimate(air_out_c(computed), |all| Some(air_out_c(all[index]))),
        exchangers,
        why: None,
        computed: Some(computed.clone()),
    }
}

fn exchanger(
    part: &Part,
    i: usize,
    index: usize,
    computed: &Computed,
    spread: &Spread,
    ambient_c: f64,
    coarse_c: Option<f64>,
) -> ExchangerAnswer {
    let figure =
        |of: &dyn Fn(&Part) -> f64| spread.estimate(of(part), |all| Some(of(&all[index].parts[i])));
    let map = &computed.settled.maps[i];
    ExchangerAnswer {
        name: part.name.clone(),
        kind: part.kind,
        in_c: figure(&|p| p.in_c),
        out_c: figure(&|p| p.out_c),
        heat_w: figure(&|p| p.heat_w),
        specific_dissipation_w_per_k: figure(&|p| p.heat_w / (p.in_c - ambient_c)),
        effectiveness: figure(&|p| p.heat_w / (p.smaller_w_per_k() * (p.in_c - ambient_c))),
        ntu: figure(&|p| p.ua_w_per_k / p.smaller_w_per_k()),
        cells: map.fluid_k.iter().flatten().count(),
        cells_heated_by_air: map.heated.iter().filter(|heated| **heated).count(),
        grid_step_k: coarse_c.map(|coarse| (part.watched_c() - coarse).abs()),
    }
}

/// The watched temperature of a kind; `None`: it is not in the stack.
fn watched(computed: &Computed, kind: Kind) -> Option<f64> {
    computed
        .parts
        .iter()
        .find(|p| p.kind == kind)
        .map(Part::watched_c)
}

fn change(
    stack: &Stack,
    index: usize,
    fine: &[Result<Computed, String>],
    spread: &Spread,
    held: bool,
) -> Change {
    let sheet = &stack.what_ifs[index - 1];
    let of = |what: &dyn Fn(&Computed) -> Option<f64>, missing: &str| {
        let (before, after) = match (&fine[0], &fine[index]) {
            (Ok(before), Ok(after)) => (before, after),
            (Err(why), _) | (_, Err(why)) => return Estimate::unknown(why.clone()),
        };
        match (what(before), what(after)) {
            (Some(b), Some(a)) => {
                spread.estimate(a - b, |all| Some(what(all[index])? - what(all[0])?))
            }
            _ => Estimate::unknown(missing),
        }
    };
    let kind = |kind: Kind, missing: &str| of(&|c| watched(c, kind), missing);
    let coolant_change_k = kind(Kind::Radiator, "both stacks would need a radiator");
    let influences = match held {
        true => Vec::new(),
        false => influences(index, spread),
    };
    Change {
        what_if: sheet.name.clone(),
        plan: (coolant_change_k.point()).and_then(|k| plan(k, &stack.base.name, &sheet.name)),
        plan_near_end: near_end_k(&coolant_change_k)
            .and_then(|k| plan(k, &stack.base.name, &sheet.name)),
        coolant_change_k,
        charge_air_change_k: kind(
            Kind::ChargeAirCooler,
            "both stacks would need a charge-air cooler",
        ),
        oil_change_k: kind(Kind::OilCooler, "both stacks would need an oil cooler"),
        radiator_heat_change_w: of(
            &|c| {
                c.parts
                    .iter()
                    .find(|p| p.kind == Kind::Radiator)
                    .map(|p| p.heat_w)
            },
            "both stacks would need a radiator",
        ),
        influences,
    }
}

/// What the inputs do to the change of coolant.
fn influences(index: usize, spread: &Spread) -> Vec<InputInfluence> {
    let change = |all: &[&Computed]| {
        Some(watched(all[index], Kind::Radiator)? - watched(all[0], Kind::Radiator)?)
    };
    let all = spread.influences(change).unwrap_or_default();
    let of = |i: Influence| InputInfluence {
        input: i.input,
        at_low_k: i.at_low,
        at_high_k: i.at_high,
    };
    all.into_iter().map(of).collect()
}

/// The end of an interval that is nearer to zero; `None`: the interval holds zero.
fn near_end_k(change_k: &Estimate) -> Option<f64> {
    let interval = change_k.known()?;
    let (low, high) = (interval.low, interval.high);
    (low * high > 0.0).then_some(if low > 0.0 { low } else { high })
}

/// Where the coolant boils under the cap of the car sheet, at the altitude of the sheet, °C. `None`: no cap pressure.
pub fn boils_c(stack: &Stack, car: &CarSheet) -> Option<f64> {
    let absolute_kpa =
        pressure_kpa(stack.base.value("at.altitude_m")) + 100.0 * car.cap_pressure_bar_gauge?;
    boiling_c(absolute_kpa, stack.base.value("heat.glycol_volume_percent"))
}

/// The command that plans a test of a change.
fn plan(change_k: f64, before: &str, after: &str) -> Option<String> {
    let size_k = change_k.abs();
    (size_k >= NOTHING_K).then(|| {
        format!(
            "heatbook plan --effect-k {size_k:.2} --before {} --after {}",
            shell_word(before),
            shell_word(after)
        )
    })
}

fn sweep(stack: &Stack) -> Vec<SweepPoint> {
    let points: Vec<(f64, f64)> = SWEEP_LOAD
        .iter()
        .flat_map(|load| SWEEP_AMBIENT_C.map(|ambient_c| (ambient_c, *load)))
        .collect();
    points
        .into_par_iter()
        .map(|(ambient_c, load)| sweep_point(stack, ambient_c, load))
        .collect()
}

fn sweep_point(stack: &Stack, ambient_c: f64, load: f64) -> SweepPoint {
    let mut there = stack.clone();
    let request = Request {
        ambient_c: Some(ambient_c),
        load: Some(load),
        ..Request::default()
    };
    request.apply(&mut there);
    let spread = Spread::of(&there, None);
    let coolant = |c: &Computed| watched(c, Kind::Radiator);
    let estimate = |answer: &dyn Fn(&[&Computed]) -> Option<f64>| match spread.value(answer) {
        Some(value) => spread.estimate(value, answer),
        None => Estimate::unknown("there is no settled coolant here"),
    };
    let stacks = there
        .all()
        .enumerate()
        .map(|(i, sheet)| SweepStack {
            name: sheet.name.clone(),
            coolant_c: estimate(&|all| coolant(all[i])),
            coolant_change_k: (i > 0)
                .then(|| estimate(&|all| Some(coolant(all[i])? - coolant(all[0])?))),
        })
        .collect();
    SweepPoint {
        ambient_c,
        load,
        stacks,
    }
}
