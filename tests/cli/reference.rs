//! The project's least squares against published results; `tests/reference/README.md` names the
//! sources. Starts, certified values and data of the NIST sets are read from NIST's own files.

use heatbook::stats::{Linear, Nonlinear, linear, nonlinear};
use nalgebra::{DMatrix, DVector};

fn reference(name: &str) -> String {
    let path = super::root().join("tests/reference").join(name);
    std::fs::read_to_string(path).unwrap()
}

fn numbers(line: &str) -> Vec<f64> {
    line.split_whitespace()
        .filter_map(|field| field.parse().ok())
        .collect()
}

/// Relative difference of two numbers.
fn off(found: f64, published: f64) -> f64 {
    (found / published - 1.0).abs()
}

/// A file of NIST StRD, nonlinear.
struct Nist {
    starts: [Vec<f64>; 2],
    certified: Vec<f64>,
    certified_sd: Vec<f64>,
    residual_sum_of_squares: f64,
    /// Rows of y, x.
    data: Vec<Vec<f64>>,
}

impl Nist {
    fn read(name: &str) -> Self {
        let text = reference(name);
        let lines: Vec<&str> = text.lines().collect();
        // `  b1 =   500         250           2.3894212918E+02  2.7070075241E+00`
        let parameters: Vec<Vec<f64>> = lines
            .iter()
            .filter_map(|l| l.trim_start().strip_prefix('b')?.split_once('='))
            .map(|(_, rest)| numbers(rest))
            .filter(|row| row.len() == 4)
            .collect();
        let sum = lines
            .iter()
            .find_map(|l| l.strip_prefix("Residual Sum of Squares:"))
            .unwrap();
        let column = |i: usize| parameters.iter().map(|row| row[i]).collect::<Vec<_>>();
        Self {
            starts: [column(0), column(1)],
            certified: column(2),
            certified_sd: column(3),
            residual_sum_of_squares: numbers(sum)[0],
            data: data(&lines),
        }
    }

    fn fit(&self, model: impl Fn(&[f64], f64) -> f64, start: &[f64]) -> Nonlinear {
        nonlinear(
            |b| self.data.iter().map(|r| r[0] - model(b, r[1])).collect(),
            start,
        )
    }

    /// Fails where a fit is not the certified one.
    fn holds(&self, fit: &Nonlinear, tolerance: f64) {
        assert!(fit.converged, "{}", fit.termination);
        for (i, value) in self.certified.iter().enumerate() {
            let (b, sd) = (fit.parameters[i], fit.standard_error(i).unwrap());
            assert!(off(b, *value) < tolerance, "b{}: {b}, not {value}", i + 1);
            let certified = self.certified_sd[i];
            assert!(
                off(sd, certified) < 1e-5,
                "sd of b{}: {sd}, not {certified}",
                i + 1
            );
        }
        let sum = fit.residual_sum_of_squares();
        assert!(off(sum, self.residual_sum_of_squares) < 1e-8, "{sum}");
    }
}

/// The rows of numbers after the last heading `Data:`.
fn data(lines: &[&str]) -> Vec<Vec<f64>> {
    let heading = lines.iter().rposition(|l| l.starts_with("Data:")).unwrap();
    let rows = lines[heading + 1..].iter().map(|l| numbers(l));
    rows.filter(|row| !row.is_empty()).collect()
}

/// NIST StRD Misra1a: 2 parameters, an exponential approach.
#[test]
fn nist_misra1a_from_both_starts() {
    let set = Nist::read("Misra1a.dat");
    assert_eq!((set.data.len(), set.certified.len()), (14, 2));
    let model = |b: &[f64], x: f64| b[0] * (1.0 - (-b[1] * x).exp());
    for start in &set.starts {
        set.holds(&set.fit(model, start), 1e-6);
    }
}

/// NIST StRD MGH17: two exponentials, near Start 2. Start 1 is far off, and may fail only by
/// saying so.
#[test]
fn nist_mgh17_from_both_starts() {
    let set = Nist::read("MGH17.dat");
    assert_eq!((set.data.len(), set.certified.len()), (33, 5));
    let model = |b: &[f64], x: f64| b[0] + b[1] * (-x * b[3]).exp() + b[2] * (-x * b[4]).exp();
    set.holds(&set.fit(model, &set.starts[1]), 1e-5);
    let far = set.fit(model, &set.starts[0]);
    if far.converged {
        // The two exponentials may have changed places.
        let sum = far.residual_sum_of_squares();
        assert!(
            off(sum, set.residual_sum_of_squares) < 1e-8,
            "{}: {sum}",
            far.termination
        );
    }
}

/// NIST StRD Thurber: a quotient of two cubics.
#[test]
fn nist_thurber_from_both_starts() {
    let set = Nist::read("Thurber.dat");
    assert_eq!((set.data.len(), set.certified.len()), (37, 7));
    let model = |b: &[f64], x: f64| {
        (b[0] + x * (b[1] + x * (b[2] + x * b[3]))) / (1.0 + x * (b[4] + x * (b[5] + x * b[6])))
    };
    for start in &set.starts {
        set.holds(&set.fit(model, start), 1e-5);
    }
}

/// NIST StRD BoxBOD. From Start 1 the steps run out to where the model is flat: the fit must come
/// to the certified point, or say that it did not.
#[test]
fn nist_boxbod_is_found_or_its_failure_told() {
    let set = Nist::read("BoxBOD.dat");
    assert_eq!((set.data.len(), set.certified.len()), (6, 2));
    let model = |b: &[f64], x: f64| b[0] * (1.0 - (-b[1] * x).exp());
    set.holds(&set.fit(model, &set.starts[1]), 1e-6);
    let far = set.fit(model, &set.starts[0]);
    let found = off(far.parameters[0], set.certified[0]) < 1e-6
        && off(far.parameters[1], set.certified[1]) < 1e-6;
    assert!(
        found || !far.converged,
        "{}: {}",
        far.termination,
        far.parameters
    );
}

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
