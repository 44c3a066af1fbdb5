//! The project's least squares against published results.

use heatbook::stats::{Nonlinear, linear, nonlinear};
use nalgebra::{DMatrix, DVector};

/// `(y, x)` of a NIST StRD file: the numeric rows after the heading `Data:   y ... x`.
fn nist(name: &str) -> Vec<(f64, f64)> {
    let path = super::root().join("tests/reference").join(name);
    let text = std::fs::read_to_string(path).unwrap();
    let lines: Vec<&str> = text.lines().collect();
    let heading = lines.iter().rposition(|l| l.starts_with("Data:")).unwrap();
    lines[heading + 1..]
        .iter()
        .filter_map(|line| {
            let mut fields = line.split_whitespace().map(|f| f.parse::<f64>());
            Some((fields.next()?.ok()?, fields.next()?.ok()?))
        })
        .collect()
}

fn fit(data: &[(f64, f64)], model: impl Fn(&[f64], f64) -> f64, start: &[f64]) -> Nonlinear {
    nonlinear(
        |b| data.iter().map(|(y, x)| model(b, *x) - y).collect(),
        start,
    )
}

fn holds(fit: &Nonlinear, certified: &[(f64, f64)], rss: f64, tolerance: f64) {
    assert!(fit.converged, "{}", fit.termination);
    for (i, (value, sd)) in certified.iter().enumerate() {
        assert!((fit.parameters[i] / value - 1.0).abs() < tolerance, "b{i}");
        assert!(
            (fit.standard_error(i).unwrap() / sd - 1.0).abs() < 1e-4,
            "sd b{i}"
        );
    }
    assert!((fit.residual_sum_of_squares() / rss - 1.0).abs() < 1e-7);
}

/// NIST StRD, Misra1a, certified values, from Start 2.
#[test]
fn nist_misra1a() {
    let data = nist("Misra1a.dat");
    assert_eq!(data.len(), 14);
    let found = fit(
        &data,
        |b, x| b[0] * (1.0 - (-b[1] * x).exp()),
        &[250.0, 5e-4],
    );
    let certified = [
        (238.942_129_18, 2.707_007_524_1),
        (5.501_564_318_1e-4, 7.266_868_843_6e-6),
    ];
    holds(&found, &certified, 0.124_551_388_94, 1e-6);
}

/// NIST StRD, MGH17, certified values, from Start 2.
#[test]
fn nist_mgh17() {
    let data = nist("MGH17.dat");
    assert_eq!(data.len(), 33);
    let model = |b: &[f64], x: f64| b[0] + b[1] * (-x * b[3]).exp() + b[2] * (-x * b[4]).exp();
    let found = fit(&data, model, &[0.5, 1.5, -1.0, 0.01, 0.02]);
    let certified = [
        (0.375_410_052_11, 2.072_315_355_1e-3),
        (1.935_846_912_7, 0.220_316_692_22),
        (-1.464_687_136_6, 0.221_757_077_39),
        (0.012_867_534_64, 4.486_135_811_4e-4),
        (0.022_122_699_662, 8.947_199_657_5e-4),
    ];
    holds(&found, &certified, 5.464_894_697_5e-5, 1e-5);
}

/// NIST StRD, Thurber, certified values, from Start 2.
#[test]
fn nist_thurber() {
    let data = nist("Thurber.dat");
    assert_eq!(data.len(), 37);
    let model = |b: &[f64], x: f64| {
        (b[0] + x * (b[1] + x * (b[2] + x * b[3]))) / (1.0 + x * (b[4] + x * (b[5] + x * b[6])))
    };
    let found = fit(&data, model, &[1300.0, 1500.0, 500.0, 75.0, 1.0, 0.4, 0.05]);
    let certified = [
        (1_288.139_68, 4.664_796_334_4),
        (1_491.079_253_5, 39.571_156_086),
        (583.238_368_77, 28.698_696_102),
        (75.416_644_291, 5.567_537_027),
        (0.966_295_028_64, 0.031_333_340_687),
        (0.397_972_857_97, 0.014_984_928_198),
        (0.049_727_297_349, 6.584_234_462_3e-3),
    ];
    holds(&found, &certified, 5_642.708_239_7, 1e-5);
}

/// JCGM 100:2008 (GUM), annex H.3, calibration of a thermometer: y1 -0.1712 (0.0029),
/// y2 0.00218 (0.00067), correlation -0.930, s 0.0035.
#[test]
fn gum_h3_thermometer() {
    let path = super::root().join("tests/reference/gum_h3.csv");
    let text = std::fs::read_to_string(path).unwrap();
    let rows: Vec<Vec<f64>> = text
        .lines()
        .filter_map(|l| l.split(',').map(|f| f.trim().parse().ok()).collect())
        .collect();
    assert_eq!(rows.len(), 11);
    let last = rows[0].len() - 1;
    let x = DMatrix::from_fn(11, 2, |i, j| {
        if j == 0 {
            1.0
        } else {
            rows[i][last - 1] - 20.0
        }
    });
    let y = DVector::from_fn(11, |i, _| rows[i][last]);
    let fit = linear(&x, &y).unwrap();
    assert!(
        (fit.coefficients[0] + 0.171_203_790_1).abs() < 1e-9,
        "{}",
        fit.coefficients
    );
    assert!((fit.coefficients[1] - 0.002_182_697_74).abs() < 1e-9);
    assert!((fit.standard_error(0).unwrap() - 0.002_877_597_835).abs() < 1e-9);
    assert!((fit.standard_error(1).unwrap() - 0.000_667_938_773_2).abs() < 1e-9);
    let c = &fit.unscaled_covariance;
    assert!((c[(0, 1)] / (c[(0, 0)] * c[(1, 1)]).sqrt() + 0.930_429_603_1).abs() < 1e-9);
}
