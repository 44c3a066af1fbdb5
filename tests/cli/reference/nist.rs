//! `stats::nonlinear` on sets of NIST StRD. Starts, certified values and data are read from NIST's
//! own files.

use super::{data, numbers, off, reference};
use heatbook::stats::{Nonlinear, nonlinear};

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

    fn fit(&self, model: impl Fn(&[f64], f64) -> f64 + Sync, start: &[f64]) -> Nonlinear {
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

/// NIST StRD MGH09: a quotient of two quadratics; Start 1 is far off.
#[test]
fn nist_mgh09_from_both_starts() {
    let set = Nist::read("MGH09.dat");
    assert_eq!((set.data.len(), set.certified.len()), (11, 4));
    let model = |b: &[f64], x: f64| b[0] * (x * x + x * b[1]) / (x * x + x * b[2] + b[3]);
    for start in &set.starts {
        set.holds(&set.fit(model, start), 1e-5);
    }
}

/// NIST StRD Eckerle4: a narrow peak.
#[test]
fn nist_eckerle4_from_both_starts() {
    let set = Nist::read("Eckerle4.dat");
    assert_eq!((set.data.len(), set.certified.len()), (35, 3));
    let model = |b: &[f64], x: f64| b[0] / b[1] * (-0.5 * ((x - b[2]) / b[1]).powi(2)).exp();
    for start in &set.starts {
        set.holds(&set.fit(model, start), 1e-6);
    }
}

/// NIST StRD Rat42: a logistic curve.
#[test]
fn nist_rat42_from_both_starts() {
    let set = Nist::read("Rat42.dat");
    assert_eq!((set.data.len(), set.certified.len()), (9, 3));
    let model = |b: &[f64], x: f64| b[0] / (1.0 + (b[1] - b[2] * x).exp());
    for start in &set.starts {
        set.holds(&set.fit(model, start), 1e-6);
    }
}

/// NIST StRD Rat43: a logistic curve with a free exponent.
#[test]
fn nist_rat43_from_both_starts() {
    let set = Nist::read("Rat43.dat");
    assert_eq!((set.data.len(), set.certified.len()), (15, 4));
    let model = |b: &[f64], x: f64| b[0] / (1.0 + (b[1] - b[2] * x).exp()).powf(1.0 / b[3]);
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
