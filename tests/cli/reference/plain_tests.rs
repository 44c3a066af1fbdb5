//! The plain tests of `stats` against textbooks and R: t, ranks, equivalence, power.

#![allow(clippy::approx_constant, reason = "3.14 was measured")]

use super::near;
use heatbook::stats::{
    Design, Sides, Summary, TPlan, TTest, one_sample, paired, pooled, rank_sum, sessions_needed,
    signed_rank, welch,
};

/// Student 1908, Biometrika 6, 1: extra hours of sleep under two drugs, as in R's `sleep`.
const SLEEP: [[f64; 10]; 2] = [
    [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0],
    [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4],
];

/// First variable of the clinic data of R's package equivalence, as statsmodels keeps it.
const CLINIC: [[f64; 15]; 2] = [
    [
        2.84, 2.51, 2.41, 2.95, 3.14, 3.79, 4.14, 3.85, 3.02, 3.45, 5.37, 3.81, 4.19, 3.16, 3.84,
    ],
    [
        2.60, 2.82, 2.18, 3.46, 4.01, 3.04, 3.47, 4.06, 2.91, 3.59, 4.51, 3.16, 3.86, 3.31, 3.02,
    ],
];

fn of(values: &[f64]) -> Summary {
    Summary::of(values).unwrap()
}

fn holds(test: &TTest, t: f64, df: f64, p: f64, ends: [f64; 2]) {
    near(test.t(), t, 1e-9);
    near(test.df, df, 1e-9);
    near(test.p().unwrap(), p, 1e-9);
    let estimate = test.estimate();
    let interval = estimate.known().unwrap();
    near(interval.low, ends[0], 1e-9);
    near(interval.high, ends[1], 1e-9);
}

/// R help page of `t.test`, on `sleep`.
#[test]
fn welch_on_student_1908() {
    let test = welch(of(&SLEEP[0]), of(&SLEEP[1])).unwrap();
    holds(
        &test,
        -1.8608134674869,
        17.7764735161785,
        0.0793941401874,
        [-3.3654832307, 0.2054832307],
    );
}

/// The same page, paired.
#[test]
fn paired_t_on_student_1908() {
    let test = paired(&SLEEP[0], &SLEEP[1]).unwrap();
    holds(
        &test,
        -4.06212768338,
        9.0,
        0.00283289019738,
        [-2.4598857633, -0.7001142367],
    );
}

/// NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.3: mileage of cars by origin. Inputs
/// and results from memory; they give each other to all printed digits.
#[test]
fn two_samples_from_their_summaries() {
    let [home, abroad] = [(249.0, 20.14458, 6.41470), (79.0, 30.48101, 6.10771)]
        .map(|(n, mean, sd)| Summary { n, mean, sd });
    let one_scatter = pooled(home, abroad).unwrap();
    near(one_scatter.t(), -12.62059, 1e-6);
    assert_eq!(one_scatter.df, 326.0);
    let sd = one_scatter.standard_error / (1.0_f64 / 249.0 + 1.0 / 79.0).sqrt();
    near(sd, 6.34260, 1e-6);
    let two = welch(home, abroad).unwrap();
    near(two.t(), -12.94627, 1e-6);
    near(two.df, 136.8750, 1e-6);
}

/// R's package equivalence on its clinic data, ε = 0.6; values stored in statsmodels
/// `stats/tests/test_tost.py`.
#[test]
fn equivalence_on_the_clinic_data() {
    let [a, b] = CLINIC;
    let test = welch(of(&a), of(&b)).unwrap();
    let p = |test: &TTest| test.equivalence_p(-0.6, 0.6).unwrap();
    near(p(&test), 0.04853083976237, 1e-9);
    near(test.df, 26.7484787582, 1e-9);
    let (low, high) = test.ends(0.90).unwrap();
    near(low, -0.26668629807, 1e-9);
    near(high, 0.59601963141, 1e-9);
    near(p(&pooled(of(&a), of(&b)).unwrap()), 0.048273151008, 1e-9);
    near(p(&paired(&a, &b).unwrap()), 0.0031668814893, 1e-9);
}

/// Hollander & Wolfe 1973, Nonparametric Statistical Methods, p. 29f: a depression scale at two
/// visits; R help page of `wilcox.test`.
#[test]
fn signed_rank_of_hollander_and_wolfe() {
    let first = [1.83, 0.50, 1.62, 2.48, 1.68, 1.88, 1.55, 3.06, 1.30];
    let second = [0.878, 0.647, 0.598, 2.05, 1.06, 1.29, 1.06, 3.14, 1.29];
    let differences: Vec<f64> = first.iter().zip(second).map(|(a, b)| a - b).collect();
    let test = signed_rank(&differences).unwrap();
    assert_eq!(test.v, 40.0);
    near(test.p.greater, 0.01953125, 1e-14);
    let interval = test.pseudo_median.known().unwrap();
    near(interval.estimate, 0.46, 1e-12);
    near(interval.low, 0.010, 1e-12);
    near(interval.high, 0.786, 1e-12);
    assert!(interval.method.contains("6th of 45"), "{}", interval.method);
}

/// The same book, p. 69f: permeability of a membrane at term and before; R help page of
/// `wilcox.test`.
#[test]
fn rank_sum_of_hollander_and_wolfe() {
    let x = [0.80, 0.83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, 0.73, 1.46];
    let y = [1.15, 0.88, 0.90, 0.74, 1.21];
    let test = rank_sum(&x, &y).unwrap();
    assert_eq!(test.u, 35.0);
    near(test.p.greater, 382.0 / 3003.0, 1e-13);
    let interval = test.shift.known().unwrap();
    near(interval.estimate, 0.305, 1e-12);
    near(interval.low, -0.15, 1e-12);
    near(interval.high, 0.76, 1e-12);
}

fn plan(design: Design, sides: Sides) -> TPlan {
    TPlan { design, sides }
}

/// R help page of `power.t.test`: 20 a group, one deviation apart; statsmodels for both tails.
#[test]
fn power_of_the_t_test() {
    let found = plan(Design::TwoSamples, Sides::Two).power(20.0, 1.0);
    near(found.unwrap(), 0.8689530277, 1e-9);
}

/// The same page: sizes for power .90 at one deviation. Its root is found to about 1e-5, and
/// leaves out the further tail.
#[test]
fn size_of_the_t_test() {
    let size = |sides| plan(Design::TwoSamples, sides).size(1.0, 0.9).unwrap();
    near(size(Sides::Two), 22.02110, 1e-6);
    near(size(Sides::One), 17.84713, 1e-6);
    assert_eq!(sessions_needed(1.0, 1.0, 0.9), Some(23));
    assert_eq!(sessions_needed(1.0, 1.0, 0.868), Some(20));
}

/// R and statsmodels, both by the noncentral t; their roots to about 1e-6.
#[test]
fn smallest_difference_of_the_t_test() {
    let smallest = |design, n, power| {
        plan(design, Sides::Two)
            .smallest_difference(n, power)
            .unwrap()
    };
    near(smallest(Design::TwoSamples, 5.0, 0.8), 2.024440, 1e-6);
    near(smallest(Design::Pairs, 5.0, 0.8), 1.681997, 1e-6);
    near(smallest(Design::TwoSamples, 20.0, 0.9), 1.051993, 1e-6);
}

/// Belenky et al. 2003, J. Sleep Res. 12, 1, as in `sleepstudy` of R's lme4: reaction time over ten days
/// of short sleep. In this balanced set the mixed model's mean slope (10.46728596, standard error
/// 1.545789644 on 17 df by Satterthwaite) is the mean of the 18 subjects' own least-squares slopes with
/// its t interval: the subject is the unit, not the row. The slopes are computed from the published rows.
#[test]
fn eighteen_subjects_are_seventeen_degrees_of_freedom() {
    let slopes = [
        21.764702424,
        2.261785455,
        6.114898788,
        3.008072727,
        5.266018788,
        9.566767879,
        9.142045455,
        12.253141212,
        -2.881033939,
        19.025973939,
        13.493932727,
        19.504016970,
        6.433497576,
        13.566549091,
        11.348109091,
        18.056150909,
        9.188444848,
        11.298073333,
    ];
    let test = one_sample(&slopes).unwrap();
    near(test.df, 17.0, 1e-12);
    let estimate = test.estimate();
    near(estimate.point().unwrap(), 10.467_285_96, 1e-7);
    near(test.t(), 10.467_285_96 / 1.545_789_644, 1e-4);
}
