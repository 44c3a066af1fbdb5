//! The unit a column must be written in, from its values, where nobody says it.

use super::unit_speed::speed;
use crate::quantity::{Quantity, Unit};
use crate::session::Role;

/// A unit judged from values, with the reason for a person.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Judged {
    pub unit: Unit,
    /// What in the values says so.
    pub evidence: String,
    /// Whether the values decide. If not, `unit` is what is usual.
    pub sure: bool,
}

/// What else in the file helps to judge.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Context {
    /// Another temperature of the file is in °F.
    pub fahrenheit_elsewhere: bool,
    /// Another temperature of the file is surely in °C.
    pub celsius_elsewhere: bool,
    /// Median intake air while driving fast, °C.
    pub intake_at_speed_c: Option<f64>,
    /// Metres driven by the positions, over metres driven if the speed were in m/s.
    pub gps_ratio: Option<f64>,
    /// Hardest braking, in written units of speed per second.
    pub hardest_braking: Option<f64>,
    /// Metres a second of another speed column that names its unit, over this one's as written.
    pub speed_ratio: Option<f64>,
    /// The coolant is labelled °F, and its values speak against that.
    pub coolant_label_doubted: bool,
    /// Length of the log, s.
    pub duration_s: f64,
}

/// The value at a share of the way through sorted ones; `NaN` if there are none.
pub(super) fn of_sorted(sorted: &[f64], share: f64) -> f64 {
    let last = sorted.len().saturating_sub(1);
    let at = sorted.get((share * last as f64).round() as usize);
    at.copied().unwrap_or(f64::NAN)
}

/// Judges the unit of a channel from its values (finite ones, as written, sorted).
pub(super) fn judge(role: Role, sorted: &[f64], context: Context) -> Judged {
    let [low, middle, high] = [0.002, 0.5, 0.998].map(|share| of_sorted(sorted, share));
    match role.quantity() {
        Quantity::Temperature => temperature(role, low, middle, high, context),
        Quantity::Speed if role == Role::Speed => speed(high, context),
        Quantity::Speed => Judged {
            unit: Unit::MetrePerSecond,
            evidence: "weather files usually give wind in m/s".to_owned(),
            sure: false,
        },
        Quantity::Pressure => pressure(middle),
        Quantity::Fraction if high <= 1.5 => plain(Unit::Ratio, high),
        Quantity::RotationalSpeed if (STANDS..SLOW_ENGINE).contains(&high) => Judged {
            unit: Unit::ThousandPerMinute,
            evidence: format!("values up to {high:.3} turn no engine in 1/min"),
            sure: false,
        },
        quantity => plain(quantity.inside_unit(), high),
    }
}

/// An engine that turns no faster, 1/min, is written in thousands.
const SLOW_ENGINE: f64 = 50.0;
/// And one that stood throughout reads no more than this, in either.
const STANDS: f64 = 0.5;

fn plain(unit: Unit, high: f64) -> Judged {
    // A flow's figures suit several units, and an engine that never turns tells none.
    let is_open = match unit.quantity() {
        Quantity::MassFlow | Quantity::VolumeFlow => true,
        Quantity::RotationalSpeed => high < STANDS,
        _ => false,
    };
    Judged {
        unit,
        evidence: format!("values up to {high:.3}"),
        sure: !is_open,
    }
}

/// Coolant and oil of a car that is driven get warmer than this, °C ...
pub(super) const LEAST_WARM_C: f64 = 60.0;
/// ... and coolant no hotter than this, °C (common practice, no source).
pub(super) const MOST_COOLANT_C: f64 = 135.0;

/// What a temperature of a car can be over a session, °C: its high end and, in °F, its low end.
/// Outside air stays below 52 °C (common practice, no source).
fn temperature(role: Role, low: f64, middle: f64, high: f64, context: Context) -> Judged {
    let judged = |unit, evidence: String, sure| Judged {
        unit,
        evidence,
        sure,
    };
    if low > 233.0 && middle > 260.0 && high < 480.0 {
        let evidence = format!("values from {low:.0} to {high:.0} are kelvin");
        return judged(Unit::Kelvin, evidence, true);
    }
    let hot_part = matches!(role, Role::Coolant | Role::RadiatorOut | Role::Oil);
    // The most that can be in °C, and from where on half of the values are more likely °F.
    let (ceiling, usual_f) = match role {
        Role::Coolant | Role::RadiatorOut => (MOST_COOLANT_C, 120.0),
        Role::Oil => (165.0, 120.0),
        Role::Ambient => (55.0, 45.0),
        // A compressor heats the charge well above what intake air reaches.
        Role::ChargeIn => (220.0, 150.0),
        _ => (130.0, 80.0),
    };
    if high > ceiling {
        let [high_c, middle_c] = [high, middle].map(|v| Unit::Fahrenheit.to_inside(v));
        // The hottest values may be an engine that boils, a sensor in the sun or a fault: what half
        // of them are tells the unit.
        let open = !context.celsius_elsewhere && (middle > usual_f || context.fahrenheit_elsewhere);
        if middle > ceiling || open {
            let evidence = format!(
                "values up to {high:.0} cannot be °C there, and {high:.0} °F is {high_c:.0} °C"
            );
            return judged(Unit::Fahrenheit, evidence, true);
        }
        let evidence = format!(
            "values up to {high:.0} can hardly be °C there, but half are below {middle:.0}, which in °F is {middle_c:.0} °C"
        );
        return judged(Unit::Celsius, evidence, false);
    }
    if hot_part && high >= LEAST_WARM_C && !could_be_cold_start(low, context) {
        let evidence =
            format!("values up to {high:.0} suit °C, and in °F the engine never got warm");
        return judged(Unit::Celsius, evidence, true);
    }
    let against = against_fahrenheit(role, low, middle, context);
    if context.fahrenheit_elsewhere
        && let Some(why) = against
    {
        let evidence = format!("other temperatures of the file are in °F, but {why}");
        return judged(Unit::Celsius, evidence, false);
    }
    if context.fahrenheit_elsewhere && low > 14.0 {
        let evidence = "other temperatures of the file are in °F".to_owned();
        return judged(Unit::Fahrenheit, evidence, true);
    }
    if context.celsius_elsewhere {
        let evidence = "other temperatures of the file are in °C".to_owned();
        return judged(Unit::Celsius, evidence, true);
    }
    let [from, to] = [low, high].map(|v| Unit::Fahrenheit.to_inside(v));
    let evidence = format!(
        "values from {low:.0} to {high:.0} could be °C, or °F for {from:.0} to {to:.0} °C; °C is usual"
    );
    judged(Unit::Celsius, evidence, false)
}

/// Air is never colder than this where cars are tested, °C ...
const COLDEST_AIR_C: f64 = -20.0;
/// ... and intake air at speed is no more than this above it, K (common practice, no source).
const MOST_INTAKE_RISE_K: f64 = 25.0;

/// What in the values of an air temperature speaks against °F, so that no other column's unit may
/// decide.
pub(super) fn against_fahrenheit(
    role: Role,
    low: f64,
    middle: f64,
    context: Context,
) -> Option<String> {
    if !matches!(role, Role::Ambient | Role::Intake) {
        return None;
    }
    let [low_c, middle_c] = [low, middle].map(|v| Unit::Fahrenheit.to_inside(v));
    if low_c < COLDEST_AIR_C {
        return Some(format!("{low:.0} °F is {low_c:.0} °C"));
    }
    match context.intake_at_speed_c.filter(|_| role == Role::Ambient) {
        Some(intake_c) if intake_c - middle_c > MOST_INTAKE_RISE_K => Some(format!(
            "{middle:.0} °F is {middle_c:.0} °C, {:.0} K under the intake air at speed",
            intake_c - middle_c
        )),
        Some(_) => None,
        None if middle_c < 0.0 => Some(format!("{middle:.0} °F is {middle_c:.0} °C")),
        None => None,
    }
}

/// A log so short that an engine started cold is still cold at its end, s (common practice, no
/// source: some ten minutes of road driving warm an engine).
pub(super) const WARM_UP_S: f64 = 600.0;

/// Whether values read in °F would be those of an engine that was started cold: 32 °F to 104 °F
/// are 0 °C to 40 °C.
fn could_be_cold_start(low: f64, context: Context) -> bool {
    context.duration_s < WARM_UP_S && (32.0..=104.0).contains(&low)
}

fn pressure(middle: f64) -> Judged {
    let unit = match middle {
        m if m < 3.5 => Unit::Bar,
        m if m < 18.0 => Unit::Psi,
        m if m < 350.0 => Unit::Kilopascal,
        m if m < 3500.0 => Unit::Hectopascal,
        _ => Unit::Pascal,
    };
    Judged {
        unit,
        evidence: format!("half of the values are below {middle:.3}"),
        sure: true,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_tell_units_apart_or_say_that_they_cannot() {
        let ramp = |low: f64, high: f64| -> Vec<f64> {
            (0..=1000)
                .map(|i| low + (high - low) * f64::from(i) / 1000.0)
                .collect()
        };
        let none = Context::default();
        for (role, low, high, unit, sure) in [
            (Role::Coolant, 60.0, 210.0, Unit::Fahrenheit, true),
            (Role::Coolant, 15.0, 98.0, Unit::Celsius, true),
            // It boils.
            (Role::Coolant, 60.0, 145.0, Unit::Celsius, false),
            // A sensor that stood in the sun.
            (Role::Ambient, 20.0, 60.0, Unit::Celsius, false),
            (Role::Coolant, 290.0, 371.0, Unit::Kelvin, true),
            (Role::Coolant, 15.0, 50.0, Unit::Celsius, false),
            // 70 to 130 °F is a cold start; so few seconds do not tell.
            (Role::Coolant, 70.0, 130.0, Unit::Celsius, false),
            (Role::Ambient, 70.0, 75.0, Unit::Fahrenheit, true),
            (Role::Ambient, 20.0, 22.0, Unit::Celsius, false),
            (Role::Speed, 0.0, 260.0, Unit::KilometrePerHour, true),
            (Role::Speed, 0.0, 120.0, Unit::KilometrePerHour, false),
            (Role::ManifoldPressure, 0.2, 1.8, Unit::Bar, true),
            (Role::ManifoldPressure, 20.0, 200.0, Unit::Kilopascal, true),
            (Role::Throttle, 0.0, 1.0, Unit::Ratio, true),
            (Role::Rpm, 0.0, 6500.0, Unit::PerMinute, true),
            // Read with the point of thousands for a decimal mark.
            (Role::Rpm, 2.3, 5.3, Unit::ThousandPerMinute, false),
            (Role::Rpm, 0.0, 0.0, Unit::PerMinute, false),
        ] {
            let judged = judge(role, &ramp(low, high), none);
            assert_eq!(
                (judged.unit, judged.sure),
                (unit, sure),
                "{role:?} {low} {high}"
            );
        }
        let long = Context {
            duration_s: 1200.0,
            ..none
        };
        assert!(judge(Role::Coolant, &ramp(70.0, 130.0), long).sure);
        // Another column's °F decides nothing that would be absurd.
        let fahrenheit = Context {
            fahrenheit_elsewhere: true,
            ..none
        };
        let beside = |intake_at_speed_c| Context {
            intake_at_speed_c: Some(intake_at_speed_c),
            ..fahrenheit
        };
        for (role, low, high, context, unit) in [
            (Role::Ambient, 18.0, 20.0, fahrenheit, Unit::Celsius),
            (Role::Ambient, 18.0, 20.0, beside(30.0), Unit::Celsius),
            (Role::Ambient, 18.0, 20.0, beside(1.0), Unit::Fahrenheit),
            (Role::Ambient, 45.0, 50.0, fahrenheit, Unit::Fahrenheit),
            (Role::Ambient, 45.0, 50.0, beside(45.0), Unit::Celsius),
            (Role::Ambient, -6.0, 20.0, beside(-4.0), Unit::Celsius),
            (Role::Intake, 25.0, 31.0, fahrenheit, Unit::Celsius),
            (Role::Speed, 0.0, 204.0, fahrenheit, Unit::KilometrePerHour),
            (Role::Speed, 0.0, 150.0, fahrenheit, Unit::MilePerHour),
        ] {
            let judged = judge(role, &ramp(low, high), context);
            assert_eq!(judged.unit, unit, "{role:?} {low} {high}");
        }
        let gps = Context {
            gps_ratio: Some(0.45),
            ..none
        };
        assert_eq!(
            judge(Role::Speed, &ramp(0.0, 120.0), gps).unit,
            Unit::MilePerHour
        );
        // 1 kn is 0.514 m/s; the positions say so, or a column that names its unit.
        let knots = Context {
            speed_ratio: Some(0.512),
            ..none
        };
        let judged = judge(Role::Speed, &ramp(0.0, 98.0), knots);
        assert_eq!((judged.unit, judged.sure), (Unit::Knot, true));
    }
}
