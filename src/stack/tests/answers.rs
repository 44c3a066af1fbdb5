//! What a prediction says: intervals against random draws, conductance from an effective one, words.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Normal};

use crate::car::CarSheet;
use crate::stack::compute::compute;
use crate::stack::sheet::{Input, Kind};
use crate::stack::{Prediction, Request, Sheet, Stack, boils_c, calibrate, predict};
use crate::stats::Estimate;

const SHEET: &str = include_str!("../../../sample_logs/stack.toml");

fn read(text: &str) -> Stack {
    Stack::from_toml(text, "stack.toml", &CarSheet::default()).unwrap()
}

fn coolant_c(sheet: &Sheet, base: &Sheet) -> f64 {
    let computed = compute(sheet, base, None, 10).unwrap();
    computed
        .parts
        .iter()
        .find(|p| p.kind == Kind::Radiator)
        .unwrap()
        .in_c
}

/// Every input drawn from a normal distribution with its 95 % interval, and the change computed anew:
/// the interval by linear propagation holds some 95 % of the draws and is about as wide. (2000 draws
/// know an end of the interval to some 4 % of its width.)
#[test]
fn intervals_agree_with_random_draws() {
    let text = "name = \"a\"\n[air]\nleakage = { value = 0.12, low = 0.08, high = 0.16 }\n\
        face_speed_ms = { value = 7, low = 6.3, high = 7.7 }\n\
        [[exchanger]]\nkind = \"charge-air cooler\"\ntop = 0.5\n\
        ua_w_per_k = { value = 500, low = 400, high = 600 }\n\
        [[exchanger]]\nkind = \"radiator\"\nua_w_per_k = { value = 2000, low = 1700, high = 2300 }\n\
        [[what_if]]\nname = \"b\"\nair.leakage = { value = 0.04, low = 0.02, high = 0.06 }\n";
    let mut stack = read(text);
    // Only what is in the sheet is uncertain here.
    for sheet in stack.all_mut() {
        for path in sheet.assumed.clone() {
            let value = sheet.value(&path);
            sheet.give(&path, Input::exact(value));
        }
    }
    let prediction = predict(&stack, None, None);
    let said = prediction.changes[0]
        .coolant_change_k
        .known()
        .unwrap()
        .clone();
    let mut random = ChaCha8Rng::seed_from_u64(20_310_517);
    let mut changes: Vec<f64> = (0..2000)
        .map(|_| {
            let mut drawn = stack.clone();
            let shared: Vec<(String, Input)> = stack
                .base
                .inputs
                .iter()
                .filter(|(_, i)| i.is_uncertain())
                .map(|(p, i)| (p.clone(), *i))
                .collect();
            let mut draw = |input: &Input| {
                let sd = (input.high - input.low) / 2.0 / 1.96;
                Normal::new(input.value, sd).unwrap().sample(&mut random)
            };
            for (path, input) in &shared {
                let value = draw(input);
                let own = stack.what_ifs[0].inputs[path] != *input;
                drawn.base.give(path, Input::exact(value));
                let other = if own {
                    draw(&stack.what_ifs[0].inputs[path])
                } else {
                    value
                };
                drawn.what_ifs[0].give(path, Input::exact(other));
            }
            coolant_c(&drawn.what_ifs[0], &drawn.base) - coolant_c(&drawn.base, &drawn.base)
        })
        .collect();
    changes.sort_by(f64::total_cmp);
    let (low, high) = (changes[50], changes[1949]);
    let width = said.high - said.low;
    assert!(
        (said.low - low).abs() < 0.08 * width,
        "{said:?}: {low} to {high}"
    );
    assert!(
        (said.high - high).abs() < 0.08 * width,
        "{said:?}: {low} to {high}"
    );
}

/// The core found for an effective conductance gives the stack that one again.
#[test]
fn a_conductance_from_logs_comes_back() {
    let mut stack = read(SHEET);
    let ua = calibrate(&mut stack, &Estimate::between(900.0, 750.0, 1100.0, "t"));
    let interval = ua.known().unwrap().clone();
    assert!(interval.low < interval.estimate && interval.estimate < interval.high);
    for (value, effective) in [
        (interval.low, 750.0),
        (interval.estimate, 900.0),
        (interval.high, 1100.0),
    ] {
        let mut base = stack.base.clone();
        for (path, value) in [
            ("at.speed_kmh", 120.0),
            ("at.ambient_c", 15.0),
            ("at.altitude_m", 0.0),
            ("radiator.ua_w_per_k", value),
        ] {
            base.give(path, Input::exact(value));
        }
        let computed = compute(&base, &base, None, 40).unwrap();
        let radiator = computed
            .parts
            .iter()
            .find(|p| p.kind == Kind::Radiator)
            .unwrap();
        let found = radiator.heat_w / (radiator.in_c - 15.0);
        assert!(
            (found / effective - 1.0).abs() < 1e-3,
            "{found}, not {effective}"
        );
    }
    // The what-ifs have the same core.
    for sheet in stack.all() {
        assert_eq!(sheet.inputs["radiator.ua_w_per_k"].value, interval.estimate);
        assert!(!sheet.inputs.contains_key("radiator.ua_w_per_m2_k"));
    }
    // More than the air can carry is no core.
    let why = calibrate(&mut stack, &Estimate::between(9000.0, 8000.0, 9900.0, "t"));
    assert!(why.why().unwrap().contains("no radiator"), "{why:?}");
}

/// What a stack and a what-if share cancels in their difference: the interval of the change is narrower
/// than the intervals of the two.
#[test]
fn what_is_shared_cancels_in_a_change() {
    let prediction = predict(&read(SHEET), None, None);
    let [before, after] = [0, 2].map(|i| {
        let radiator = prediction.stacks[i]
            .exchangers
            .iter()
            .find(|e| e.kind == Kind::Radiator)
            .unwrap();
        radiator.in_c.known().unwrap().half_width()
    });
    let change = prediction.changes[1].coolant_change_k.known().unwrap();
    assert!(change.half_width() < 0.2 * before.min(after));
}

/// The words of a what-if become the plan's arguments; nothing to see, nothing to plan.
#[test]
fn the_plan_is_for_the_predicted_change() {
    let text = format!("{SHEET}\n[[what_if]]\nname = \"as it is\"\n");
    let prediction = predict(&read(&text), None, None);
    let plan = |i: usize| prediction.changes[i].plan.clone();
    let sealed = prediction.changes[0].coolant_change_k.point().unwrap();
    let expected = format!(
        "heatbook plan --effect-k {:.2} --before open-ducts --after sealed-ducts",
        -sealed
    );
    assert_eq!(plan(0), Some(expected));
    assert!(
        plan(1)
            .unwrap()
            .ends_with("--after 'larger charge-air cooler'")
    );
    assert_eq!(plan(2), None);
    let near = prediction.changes[0].coolant_change_k.known().unwrap();
    assert!(near.high < 0.0);
    let near_end = prediction.changes[0].plan_near_end.as_deref().unwrap();
    assert!(near_end.starts_with(&format!(
        "heatbook plan --effect-k {:.2} --before",
        -near.high
    )));
    assert_eq!(prediction.changes[2].plan_near_end, None);
    let change = prediction.changes[2].coolant_change_k.known().unwrap();
    assert_eq!((change.low, change.estimate, change.high), (0.0, 0.0, 0.0));
}

/// Plain water under 1.1 bar at sea level: saturation at 211.3 kPa is 121.9 °C (steam tables, IAPWS-IF97).
#[test]
fn boiling_needs_a_cap() {
    let stack = read("[heat]\nglycol_volume_percent = 0\n[[exchanger]]\nkind = \"radiator\"\n");
    let capped = CarSheet {
        cap_pressure_bar_gauge: Some(1.1),
        ..CarSheet::default()
    };
    let boils = boils_c(&stack, &capped).unwrap();
    assert!((boils - 121.9).abs() < 0.2, "{boils}");
    assert_eq!(boils_c(&stack, &CarSheet::default()), None);
}

fn warned(prediction: &Prediction, id: &str) -> bool {
    prediction.warnings.iter().any(|w| w.id == id)
}

#[test]
fn a_prediction_says_that_it_is_one() {
    let stack = read(SHEET);
    let prediction = predict(&stack, None, Some(120.0));
    assert!(warned(&prediction, "prediction"));
    assert!(warned(&prediction, "assumed-inputs"));
    assert!(warned(&prediction, "thermostat-would-close"));
    let mut hot = stack.clone();
    Request {
        load: Some(1.0),
        ambient_c: Some(45.0),
        ..Request::default()
    }
    .apply(&mut hot);
    let prediction = predict(&hot, None, None);
    assert!(
        warned(&prediction, "beyond-properties") && !warned(&prediction, "thermostat-would-close")
    );
}

/// A what-if without a settled state does not take the others along.
#[test]
fn what_cannot_settle_is_said() {
    let text = format!(
        "{SHEET}\n[[what_if]]\nname = \"no core\"\n[[what_if.exchanger]]\nname = \"radiator\"\ntop = 0\n"
    );
    let prediction = predict(&read(&text), None, None);
    assert!(warned(&prediction, "no-settled-state"));
    assert!(
        prediction.stacks[3]
            .why
            .as_ref()
            .unwrap()
            .contains("covers nothing")
    );
    assert!(prediction.changes[2].coolant_change_k.why().is_some());
    assert_eq!(prediction.changes[2].plan, None);
}

/// An exchanger that is not fitted takes no part; taking one out is a what-if like any other.
#[test]
fn an_exchanger_can_be_taken_out() {
    let text = format!(
        "{SHEET}\n[[what_if]]\nname = \"none\"\n[[what_if.exchanger]]\nname = \"charge-air cooler\"\nfitted = false\n"
    );
    let prediction = predict(&read(&text), None, None);
    assert_eq!(prediction.stacks[3].exchangers.len(), 1);
    assert!(prediction.changes[2].coolant_change_k.known().unwrap().high < 0.0);
    assert!(prediction.changes[2].charge_air_change_k.why().is_some());
}
