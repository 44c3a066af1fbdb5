//! A claim of common practice (no source): bringing the hottest coolant to where the air is hottest is
//! reported to be worth from about 0.6 K on a standard car to about 2.5 K on a hot day on a car with more
//! air flow and a larger core. Where this model lands, with plausible inputs chosen once and not tuned:
//! `cargo test --release --lib stack::tests::claim -- --nocapture` prints it; the figures and what they
//! lean on stand in `reports/validation/stack.md`.
#![allow(clippy::print_stdout)]

use crate::car::CarSheet;
use crate::stack::{Prediction, Stack, predict};

/// A standard car: 150 kW, 0.60 by 0.42 m of face, a charge-air cooler over the lower 45 %, whose hot
/// side is on the left; coolant enters on the right, where the air is coolest.
const STANDARD: &str = r#"
name = "standard"
[at]
load = 0.55
ambient_c = 22
[[exchanger]]
kind = "charge-air cooler"
top = 0.45
[[exchanger]]
kind = "radiator"
flow = "right to left"
[[what_if]]
name = "coolant enters on the hot side"
[[what_if.exchanger]]
name = "radiator"
flow = "left to right"
[[what_if]]
name = "two passes, the first behind the charge-air cooler"
[[what_if.exchanger]]
name = "radiator"
passes = 2
first_pass = "bottom"
flow = "left to right"
[[what_if]]
name = "two passes, the first above"
[[what_if.exchanger]]
name = "radiator"
passes = 2
flow = "left to right"
"#;

/// A hot day, a stronger car, more air, a larger core, a charge-air cooler over three fifths.
const HOT: &str = r#"
[at]
load = 0.75
ambient_c = 38
[air]
face_width_m = 0.70
face_height_m = 0.48
face_speed_ms = 9
"#;

fn hot() -> String {
    let base = STANDARD
        .replace("top = 0.45", "top = 0.6")
        .replace("name = \"standard\"", "name = \"hot day\"");
    let (head, tail) = base.split_once("[[exchanger]]").unwrap();
    let (head, _) = head.split_once("[at]").unwrap();
    format!("{head}{HOT}[[exchanger]]{tail}")
}

fn predicted(text: &str, power_kw: f64) -> Prediction {
    let car = CarSheet {
        max_power_kw: Some(power_kw),
        ..CarSheet::default()
    };
    predict(
        &Stack::from_toml(text, "claim.toml", &car).unwrap(),
        None,
        None,
    )
}

#[test]
fn hottest_coolant_to_the_hottest_air() {
    let mut gains = Vec::new();
    for (text, power_kw) in [(STANDARD.to_owned(), 150.0), (hot(), 250.0)] {
        let prediction = predicted(&text, power_kw);
        let radiator = &prediction.stacks[0].exchangers[1];
        println!("{}: coolant {:?}", prediction.stacks[0].name, radiator.in_c);
        for change in &prediction.changes {
            println!(
                "  {}: {:?}",
                change.what_if,
                change.coolant_change_k.known().unwrap()
            );
            for i in change.influences.iter().take(4) {
                println!("    {}: {:+.3} to {:+.3}", i.input, i.at_low_k, i.at_high_k);
            }
        }
        gains.push(-prediction.changes[0].coolant_change_k.point().unwrap());
        // Which of two passes lies behind the charge-air cooler matters in the same sense.
        let [first_behind, first_above] =
            [1, 2].map(|i| prediction.changes[i].coolant_change_k.point().unwrap());
        assert!(first_behind < first_above);
    }
    // The sense of the claim, and its order: a gain, larger on the hot day, no more than what is claimed.
    assert!(
        0.0 < gains[0] && gains[0] < gains[1] && gains[1] < 2.5,
        "{gains:?}"
    );
}
