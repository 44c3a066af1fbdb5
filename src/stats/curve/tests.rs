//! Published data, likelihoods computed elsewhere, and a line by hand.

use super::*;

/// 40 readings of an Ornstein-Uhlenbeck process (θ 0.08, mean 90, σ 0.6) with white noise of
/// variance 0.25, and times for the irregular case.
const READINGS: [f64; 40] = [
    91.67, 89.53, 89.86, 90.41, 89.54, 89.88, 89.85, 88.44, 88.64, 88.49, 90.10, 90.02, 90.35,
    90.37, 89.29, 89.75, 90.15, 87.53, 87.23, 88.28, 88.21, 88.22, 88.64, 88.92, 90.24, 88.32,
    87.98, 89.75, 89.00, 89.20, 88.97, 89.01, 90.26, 89.27, 90.02, 89.82, 91.00, 90.94, 91.25,
    92.12,
];
const TIMES: [f64; 40] = [
    0.00, 1.60, 4.00, 5.70, 6.50, 7.00, 9.50, 11.90, 13.10, 14.30, 15.80, 16.70, 19.00, 20.90,
    22.90, 23.30, 25.40, 25.80, 26.10, 26.70, 28.90, 31.10, 31.70, 32.10, 33.70, 34.80, 35.20,
    36.60, 38.60, 39.00, 41.10, 42.60, 44.50, 45.20, 47.00, 48.00, 49.60, 51.00, 52.90, 54.80,
];

/// Log-likelihood of the readings at their true parameters, from `gram`.
fn log_likelihood(times_s: &[f64]) -> f64 {
    let readings: Vec<f64> = READINGS.iter().map(|y| y - 90.0).collect();
    let curve = Curve {
        times_s,
        readings: &readings,
        columns: Vec::new(),
        candidates: Vec::new(),
        anchors: Vec::new(),
        usual_sd: 1.0,
        correlation_s: &[1.0],
    };
    let variance = 0.36 / 0.16 + 0.25;
    let (gram, log_det) = curve.gram(1.0 / 0.08, 0.25 / variance);
    let n = readings.len() as f64;
    -0.5 * (n * (std::f64::consts::TAU * variance).ln() + log_det + gram[(0, 0)] / variance)
}

/// -51.883743499 in equal steps and -53.803313149 at irregular times: computed by statsmodels
/// (a state-space model and SARIMAX with measurement error) and as a dense multivariate normal.
#[test]
fn the_likelihood_of_errors_that_follow_themselves() {
    let regular: Vec<f64> = (0..40).map(f64::from).collect();
    assert!((log_likelihood(&regular) + 51.883_743_499).abs() < 1e-8);
    assert!((log_likelihood(&TIMES) + 53.803_313_149).abs() < 1e-8);
}

/// Subject 1 of `Indometh` (Kwan et al. 1976; R help of `SSbiexp`): log rates 0.57938869 and
/// -1.78778488 an hour. The readings are so far apart that errors do not follow themselves.
#[test]
fn the_two_exponentials_of_indometh() {
    let hours: [f64; 11] = [0.25, 0.5, 0.75, 1.0, 1.25, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0];
    let readings = [
        1.5, 0.94, 0.78, 0.48, 0.37, 0.19, 0.12, 0.11, 0.08, 0.07, 0.05,
    ];
    let times_s = hours.map(|h: f64| 3600.0 * h);
    let logs: Vec<f64> = (0..56).map(|i| -2.0 + 0.1 * f64::from(i)).collect();
    let decay = |log: &f64| hours.iter().map(|h| (-h / log.exp()).exp()).collect();
    let pairs: Vec<(usize, usize)> = (0..logs.len())
        .flat_map(|fast| (fast + 5..logs.len()).map(move |slow| (fast, slow)))
        .collect();
    let fitted = |candidates: Vec<Vec<usize>>| {
        Curve {
            times_s: &times_s,
            readings: &readings,
            columns: logs.iter().map(decay).collect(),
            candidates: candidates
                .into_iter()
                .map(|columns| Candidate {
                    columns,
                    log_prior: 0.0,
                })
                .collect(),
            anchors: Vec::new(),
            usual_sd: 0.02,
            correlation_s: &[5.0, 80.0],
        }
        .posterior()
        .unwrap()
    };
    let one = fitted((0..logs.len()).map(|i| vec![i]).collect());
    let two = fitted(pairs.iter().map(|&(f, s)| vec![f, s]).collect());
    let gain = two.log_likelihood - one.log_likelihood;
    assert!(gain > 6.9, "{gain}"); // 0.1 % of χ² with 2 df
    let mut marginals = [vec![0.0; logs.len()], vec![0.0; logs.len()]];
    for node in &two.nodes {
        marginals[0][pairs[node.candidate].0] += node.weight;
        marginals[1][pairs[node.candidate].1] += node.weight;
    }
    for (weights, published) in marginals.iter().zip([-0.579_388_69, 1.787_784_88]) {
        let [low, middle, high] = grid_quantiles(&logs, weights, [0.025, 0.5, 0.975]);
        assert!(
            low < published && published < high,
            "{low} {published} {high}"
        );
        assert!(
            (middle - published).abs() < 0.25 * (high - low),
            "{middle} {published}"
        );
    }
}

/// A straight line through four points by hand: slope 0.7, no error structure to speak of.
#[test]
fn bounds_cut_the_distribution_and_quantiles_keep_to_them() {
    let times_s = [0.0, 1000.0, 2000.0, 3000.0];
    let curve = Curve {
        times_s: &times_s,
        readings: &[1.0, 1.0, 2.0, 3.0],
        columns: vec![vec![1.0; 4], vec![-1.5, -0.5, 0.5, 1.5]],
        candidates: vec![Candidate {
            columns: vec![0, 1],
            log_prior: 0.0,
        }],
        anchors: Vec::new(),
        usual_sd: 0.3,
        correlation_s: &[5.0, 80.0],
    };
    let slope = |low: f64, high: f64| {
        move |n: &Node| Marginal {
            mean: n.coefficients[1],
            sd: n.scale[(1, 1)].sqrt(),
            low,
            high,
        }
    };
    let mut posterior = curve.posterior().unwrap();
    let [free] = posterior.quantiles(slope(f64::NEG_INFINITY, f64::INFINITY), [0.5]);
    assert!((free - 0.7).abs() < 1e-6, "{free}");
    posterior.restrict(slope(0.8, 2.0)).unwrap();
    let [low, high] = posterior.quantiles(slope(0.8, 2.0), [0.025, 0.975]);
    assert!(0.8 < low && low < high && high < 2.0, "{low} {high}");
    assert_eq!(posterior.restrict(slope(2e9, 3e9)), None);
}
