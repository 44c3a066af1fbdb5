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
        store_w_per_k: 0.0,
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
    let mut linear = at_20.course(&car, Start::even(40.0), EVEN, || 1.0);
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
