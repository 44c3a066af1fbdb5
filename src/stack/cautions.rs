//! What the reader of a prediction must know besides.

use super::answer::Prediction;
use super::read::Stack;
use super::sheet::Kind;
use crate::warning::Warning;
use crate::words::quoted;

/// Temperatures beyond which the coolant's properties are held, °C.
pub const PROPERTIES_TO_C: f64 = 115.0;

/// The warnings of a prediction.
pub fn cautions(stack: &Stack, prediction: &Prediction, full_open_c: Option<f64>) -> Vec<Warning> {
    let mut warnings = vec![Warning::caution(
        "prediction",
        "this is a prediction and no measurement: it rests on the sheet's figures and on what the model \
         leaves out (steady state, thermostat fully open, even flow through the tubes, air that stays in its \
         lane). Test it before it is claimed",
    )];
    warnings.extend(inputs(stack));
    warnings.extend(heated(prediction));
    warnings.extend(temperatures(prediction, full_open_c));
    for (i, answer) in prediction.stacks.iter().enumerate() {
        if let Some(why) = &answer.why {
            let which = if i == 0 { "the stack" } else { "the what-if" };
            warnings.push(Warning::disqualifies(
                "no-settled-state",
                format!(
                    "{which} {} has no settled state: {why}",
                    quoted(&answer.name)
                ),
            ));
        }
    }
    warnings
}

/// Which figures nobody gave, and which have no interval.
fn inputs(stack: &Stack) -> Vec<Warning> {
    let base = &stack.base;
    let mut warnings = Vec::new();
    let assumed: Vec<String> = base
        .assumed
        .iter()
        .filter(|path| base.matters(path))
        .filter_map(|path| base.inputs.get(path).map(|i| (path, i)))
        .map(|(path, input)| match input.is_uncertain() {
            true => format!(
                "{path} {} ({} to {})",
                short(input.value),
                short(input.low),
                short(input.high)
            ),
            false => format!("{path} {}", short(input.value)),
        })
        .collect();
    if !assumed.is_empty() {
        warnings.push(Warning::caution(
            "assumed-inputs",
            format!(
                "not in the sheet, so assumed (common practice, no source): {}",
                assumed.join(", ")
            ),
        ));
    }
    let mut exact: Vec<&str> = Vec::new();
    for sheet in stack.all() {
        for (path, input) in &sheet.inputs {
            let given = !sheet.assumed.contains(path) && sheet.matters(path);
            // Where the stack is computed is a choice and has no error; nor has the face speed at which a
            // conductance is stated.
            let chosen = path.starts_with("at.")
                || path.ends_with(".ua_at_face_speed_ms")
                || path.ends_with(".mixing");
            if given && !chosen && !input.is_uncertain() && !exact.contains(&path.as_str()) {
                exact.push(path);
            }
        }
    }
    if !exact.is_empty() {
        warnings.push(Warning::caution(
            "inputs-without-interval",
            format!(
                "taken as exact, because no interval is given, so that the intervals here are too narrow by what they are off: {}",
                exact.join(", ")
            ),
        ));
    }
    warnings
}

fn short(value: f64) -> String {
    let decimals = match value.abs() {
        size if size >= 100.0 || size == 0.0 => 0,
        size if size >= 1.0 => 1,
        _ => 2,
    };
    format!("{value:.decimals$}")
}

fn heated(prediction: &Prediction) -> Vec<Warning> {
    let mut warnings = Vec::new();
    for stack in &prediction.stacks {
        for exchanger in stack
            .exchangers
            .iter()
            .filter(|e| e.cells_heated_by_air > 0)
        {
            warnings.push(Warning::caution(
                "air-heats-fluid",
                format!(
                    "{}: in {} of {} cells of the {} the air heats the {}",
                    quoted(&stack.name),
                    exchanger.cells_heated_by_air,
                    exchanger.cells,
                    quoted(&exchanger.name),
                    exchanger.kind.fluid()
                ),
            ));
        }
    }
    warnings
}

fn temperatures(prediction: &Prediction, full_open_c: Option<f64>) -> Vec<Warning> {
    if prediction.at.coolant_c.is_some() {
        return Vec::new();
    }
    let settled = |is_meant: &dyn Fn(f64) -> bool| {
        let said: Vec<String> = prediction
            .stacks
            .iter()
            .filter_map(|stack| {
                let radiator = stack.exchangers.iter().find(|e| e.kind == Kind::Radiator)?;
                let coolant_c = radiator.in_c.point().filter(|c| is_meant(*c))?;
                Some(format!("{} at {coolant_c:.0} °C", stack.name))
            })
            .collect();
        (!said.is_empty()).then(|| said.join(", "))
    };
    let mut warnings = Vec::new();
    if let Some(full_c) = full_open_c
        && let Some(said) = settled(&|c| c < full_c)
    {
        warnings.push(Warning::caution(
            "thermostat-would-close",
            format!(
                "coolant would settle below {full_c:.0} °C, where the thermostat is fully open ({said}): there the thermostat, not the stack, sets it"
            ),
        ));
    }
    if let Some(said) = settled(&|c| c > PROPERTIES_TO_C) {
        warnings.push(Warning::caution(
            "beyond-properties",
            format!(
                "coolant would settle above {PROPERTIES_TO_C:.0} °C, to which its properties are known ({said}), and it may boil"
            ),
        ));
    }
    warnings
}
