//! `stats::linear` on sets of NIST StRD and on the GUM's example.

use super::{data, numbers, off, reference};
use heatbook::stats::{Linear, linear};
use nalgebra::{DMatrix, DVector};

/// A file of NIST StRD, linear with a constant: certified values with their SD, and the fit.
fn nist_linear(name: &str) -> (Vec<Vec<f64>>, f64, Linear) {
    let text = reference(name);
    let lines: Vec<&str> = text.lines().collect();
    // `        B0        -0.262323073774029     0.232818234301152`
    let certified: Vec<Vec<f64>> = lines
        .iter()
        .filter(|l| l.trim_start().starts_with('B'))
        .map(|l| numbers(l))
        .filter(|row| row.len() == 2)
        .collect();
    // Under `Residual` stands `Standard Deviation   0.884796396144373`.
    let sd = lines
        .iter()
        .filter_map(|l| l.trim_start().strip_prefix("Standard Deviation"))
        .find_map(|rest| numbers(rest).first().copied())
        .unwrap();
    let rows = data(&lines);
    let x = DMatrix::from_fn(rows.len(), certified.len(), |i, j| {
        if j == 0 { 1.0 } else { rows[i][j] }
    });
    let y = DVector::from_fn(rows.len(), |i, _| rows[i][0]);
    (certified, sd, linear(&x, &y).unwrap())
}

fn holds_linear(name: &str, rows: usize, tolerance: f64) {
    let (certified, sd, fit) = nist_linear(name);
    assert_eq!(fit.degrees_of_freedom, rows - certified.len());
    for (i, row) in certified.iter().enumerate() {
        let (b, se) = (fit.coefficients[i], fit.standard_error(i).unwrap());
        assert!(off(b, row[0]) < tolerance, "B{i}: {b}, not {}", row[0]);
        assert!(
            off(se, row[1]) < tolerance,
            "sd of B{i}: {se}, not {}",
            row[1]
        );
    }
    let found = fit.residual_variance().unwrap().sqrt();
    assert!(off(found, sd) < tolerance, "{found}, not {sd}");
}

/// NIST StRD Norris: a straight line.
#[test]
fn nist_norris() {
    holds_linear("Norris.dat", 36, 1e-10);
}

/// NIST StRD Longley: six columns that nearly depend on each other.
#[test]
fn nist_longley() {
    holds_linear("Longley.dat", 16, 1e-7);
}

/// JCGM 100:2008 (GUM), annex H.3: correction of a thermometer, a line in t - 20 °C. Printed are
/// y1 -0.1712 (0.0029) °C, y2 0.00218 (0.00067), r -0.930, s 0.0035 °C, and at 30 °C the
/// correction -0.1494 °C with standard uncertainty 0.0041 °C.
#[test]
fn gum_h3_thermometer() {
    let rows: Vec<Vec<f64>> = reference("gum_h3.csv")
        .lines()
        .skip(1)
        .map(|l| l.split(',').map(|f| f.parse().unwrap()).collect())
        .collect();
    assert_eq!(rows.len(), 11);
    let x = DMatrix::from_fn(11, 2, |i, j| if j == 0 { 1.0 } else { rows[i][0] - 20.0 });
    let y = DVector::from_fn(11, |i, _| rows[i][1]);
    let fit = linear(&x, &y).unwrap();
    // The last printed digit of each.
    let near = |found: f64, printed: f64, digit: f64| {
        assert!(
            (found - printed).abs() <= 0.5 * digit,
            "{found}, not {printed}"
        );
    };
    near(fit.coefficients[0], -0.1712, 1e-4);
    near(fit.coefficients[1], 0.00218, 1e-5);
    near(fit.standard_error(0).unwrap(), 0.0029, 1e-4);
    near(fit.standard_error(1).unwrap(), 0.00067, 1e-5);
    near(fit.residual_variance().unwrap().sqrt(), 0.0035, 1e-4);
    let c = &fit.unscaled_covariance;
    near(c[(0, 1)] / (c[(0, 0)] * c[(1, 1)]).sqrt(), -0.930, 1e-3);
    let at_30 = DVector::from_vec(vec![1.0, 10.0]);
    near(fit.coefficients.dot(&at_30), -0.1494, 1e-4);
    let variance = (at_30.transpose() * c * &at_30)[0] * fit.residual_variance().unwrap();
    near(variance.sqrt(), 0.0041, 1e-4);
    // The same to more digits, as two independent implementations have it.
    near(fit.coefficients[0], -0.171_203_790_1, 1e-9);
    near(fit.coefficients[1], 0.002_182_697_74, 1e-9);
    near(fit.standard_error(0).unwrap(), 0.002_877_597_835, 1e-9);
    near(variance.sqrt(), 0.004_138_595_753, 1e-9);
}
