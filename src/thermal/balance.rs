//! The heat balance and its exact steps.
//!
//! `C dT/dt = Q - G (T - T_air)`: T coolant leaving the engine, °C; C heat capacity of coolant and
//! metal, J/K; Q heat into the coolant, W; G effective conductance ("effective UA"), W/K; T_air
//! the air outside, °C. With Q, G and T_air held over a step h:
//! `T(t + h) = T_end + (T(t) - T_end) exp(-h / τ)`, `T_end = T_air + Q / G`, `τ = C / G`.

/// Coolant after `step_s` with everything else held. `conductance_w_per_k` may be zero.
pub fn step_c(
    coolant_c: f64,
    air_c: f64,
    heat_w: f64,
    conductance_w_per_k: f64,
    capacity_j_per_k: f64,
    step_s: f64,
) -> f64 {
    let per_w = step_s / capacity_j_per_k;
    let decay = conductance_w_per_k * per_w;
    let drive_k = heat_w * per_w + decay * (air_c - coolant_c);
    coolant_c + drive_k * held_share(decay)
}

/// Rise over a step by what it would be had the balance at the step's beginning lasted through it:
/// `(1 - exp(-x)) / x`, x the step by the time constant. Below 0.1 by a quotient in its place, right to `x⁴/720`
/// (Padé).
pub fn held_share(x: f64) -> f64 {
    if x < 0.1 {
        1.0 / (1.0 + x * (0.5 + x * (1.0 / 12.0)))
    } else {
        -(-x).exp_m1() / x
    }
}

/// A first-order lag of `tau_s` on `input` in steps of `step_s`, starting settled at the first
/// value. `NaN` in, last value out.
pub fn lagged(input: &[f64], tau_s: f64, step_s: f64) -> Vec<f64> {
    let one: Vec<[f64; 1]> = input.iter().map(|v| [*v]).collect();
    let lagged = lagged_abreast(&one, tau_s, step_s);
    lagged.into_iter().map(|[v]| v).collect()
}

/// The same of N inputs abreast, unknown where the first of them is at the start.
pub fn lagged_abreast<const N: usize>(
    input: &[[f64; N]],
    tau_s: f64,
    step_s: f64,
) -> Vec<[f64; N]> {
    let follow = -(-step_s / tau_s).exp_m1();
    let first = input.iter().copied().find(|values| !values[0].is_nan());
    let mut states = first.unwrap_or([f64::NAN; N]);
    let step = |values: &[f64; N]| {
        for (state, value) in states.iter_mut().zip(values) {
            if !value.is_nan() {
                *state += (value - *state) * follow;
            }
        }
        states
    };
    input.iter().map(step).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Closed form of the first-order step, checked by matrix exponential and by an ODE solver:
    /// C 80 kJ/K, UA 500 W/K, Q 25 kW, air 25 °C, start 25 °C.
    #[test]
    fn a_step_agrees_with_the_closed_form() {
        for (time_s, expected_c) in [
            (60.0, 40.635_536_060),
            (160.0, 56.606_027_941),
            (320.0, 68.233_235_838),
            (600.0, 73.824_112_707),
        ] {
            let once = step_c(25.0, 25.0, 25e3, 500.0, 80e3, time_s);
            assert!((once - expected_c).abs() < 1e-8, "{time_s}: {once}");
            let in_seconds =
                (0..time_s as usize).fold(25.0, |c, _| step_c(c, 25.0, 25e3, 500.0, 80e3, 1.0));
            assert!((in_seconds - expected_c).abs() < 1e-8);
        }
    }

    /// Same source: heat soak from 105 to 60 °C at UA 20 W/K, C 80 kJ/K, air 25 °C takes 3306.714 s.
    #[test]
    fn a_soak_agrees_with_the_closed_form() {
        let end = step_c(105.0, 25.0, 0.0, 20.0, 80e3, 3_306.714_293);
        assert!((end - 60.0).abs() < 1e-6);
    }

    /// Closed form, same car: ambient rising by 0.01 K/s from 25 °C, start 75 °C, held over short
    /// steps at its middle (which is off by slope h²/12τ).
    #[test]
    fn a_ramp_of_the_air_agrees_with_the_closed_form() {
        let step_s = 0.1;
        let end = (0..6000).fold(75.0, |c, i| {
            let air_c = 25.0 + 0.01 * step_s * (f64::from(i) + 0.5);
            step_c(c, air_c, 25e3, 500.0, 80e3, step_s)
        });
        assert!((end - 79.437_628_393).abs() < 1e-7, "{end}");
    }

    #[test]
    fn both_ways_to_a_share_agree() {
        for x in [1e-9, 1e-3, 0.03, 0.0999] {
            let exact = -f64::exp_m1(-x) / x;
            assert!((held_share(x) - exact).abs() < x.powi(4) / 700.0 + 1e-15);
        }
        assert_eq!(held_share(0.0), 1.0);
        assert!((held_share(2.0) - 0.432_332_358_4).abs() < 1e-10);
    }

    #[test]
    fn without_conductance_all_heat_is_stored() {
        assert!((step_c(20.0, 10.0, 8e3, 0.0, 80e3, 10.0) - 21.0).abs() < 1e-12);
    }

    /// First-order lag, unit step: 1 - 1/e after one time constant.
    #[test]
    fn a_lag_reaches_63_percent_after_its_time_constant() {
        let mut input = vec![1.0; 41];
        input[0] = 0.0;
        let out = lagged(&input, 40.0, 1.0);
        assert!((out[40] - (1.0 - (-1.0_f64).exp())).abs() < 1e-12);
    }
}
