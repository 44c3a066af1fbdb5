//! `stats::newey_west` against a textbook and another program.

use super::macro_data::ROWS;
use super::near;
use heatbook::stats::{Linear, linear, newey_west};
use nalgebra::{DMatrix, DVector};

/// Greene, Econometric Analysis, 2nd edition 1993, table 15.1: United States 1964 to 1982, real
/// product, real investment and real interest (nominal values over the deflator, as R's package
/// sandwich derives them; 1963 has no real interest).
const GREENE: [[f64; 3]; 19] = [
    [876.322660436993, 133.84636526041, 2.01518766568997],
    [929.397525551372, 152.635825712749, 1.85503366772021],
    [984.887962480459, 163.757165190203, 1.27245831091986],
    [1011.38375917025, 155.325069567417, 1.19364773319437],
    [1058.15362248607, 161.497455779016, 0.758279787503155],
    [1087.68291277797, 172.024426777279, 0.720981342379455],
    [1085.51120831055, 157.681793329688, 0.580717824634178],
    [1122.3830850953, 173.315279658369, -0.106331328594858],
    [1185.9, 195.0, 0.344182897614827],
    [1254.27895981087, 217.304964539007, 0.68999999999999],
    [1246.26346889121, 198.731317344456, -0.992695035460986],
    [1231.57643691867, 163.844502742666, -3.05656934306569],
    [1298.17137675684, 194.87683240139, 0.292908816281112],
    [1369.72509817922, 231.417350946091, -0.365902977180004],
    [1438.57199840447, 257.013694987369, 0.0555016065690905],
    [1479.50067311223, 258.842246970995, 1.63753224305278],
    [1475.00280237642, 225.255016253783, 2.59119691592217],
    [1513.83622014964, 243.363738854156, 4.0488532675709],
    [1485.40216550657, 200.357695282289, 5.00380649789895],
];

struct Fitted {
    x: DMatrix<f64>,
    residuals: DVector<f64>,
    fit: Linear,
}

impl Fitted {
    fn of(x: DMatrix<f64>, y: &DVector<f64>) -> Self {
        let fit = linear(&x, y).unwrap();
        let residuals = y - &x * &fit.coefficients;
        Self { x, residuals, fit }
    }

    fn standard_errors(&self, lags: usize, small_sample_factor: bool) -> Vec<f64> {
        let unscaled = &self.fit.unscaled_covariance;
        newey_west(
            &self.x,
            &self.residuals,
            unscaled,
            lags,
            small_sample_factor,
        )
        .unwrap()
        .diagonal()
        .iter()
        .map(|v| v.sqrt())
        .collect()
    }
}

fn all_near<'a>(found: impl IntoIterator<Item = &'a f64>, published: [f64; 3], tolerance: f64) {
    let found: Vec<f64> = found.into_iter().copied().collect();
    assert_eq!(found.len(), 3);
    for (found, published) in found.into_iter().zip(published) {
        near(found, published, tolerance);
    }
}

/// Greene, ibid., example 15.3 and table 15.2: real investment on real product and real interest,
/// four lags; to these digits by R's sandwich 3.0.2 (`NeweyWest(lag = 4, prewhite = FALSE)`), which
/// statsmodels agrees with.
#[test]
fn greene_investment() {
    let x = DMatrix::from_fn(19, 3, |i, j| [1.0, GREENE[i][0], GREENE[i][2]][j]);
    let y = DVector::from_fn(19, |i, _| GREENE[i][1]);
    let fitted = Fitted::of(x, &y);
    let fit = &fitted.fit;
    all_near(
        &fit.coefficients,
        [-12.533_600_591, 0.169_136_454_182, -1.001_438_013_423],
        1e-8,
    );
    let usual: Vec<f64> = (0..3).map(|i| fit.standard_error(i).unwrap()).collect();
    all_near(
        &usual,
        [24.915_268_753_1, 0.020_566_450_8, 2.368_749_132_2],
        1e-8,
    );
    all_near(
        &fitted.standard_errors(4, false),
        [18.958_298_131_8, 0.016_750_785_9, 3.342_375_352_7],
        1e-8,
    );
    all_near(
        &fitted.standard_errors(4, true),
        [20.659_326_424_5, 0.018_253_745_7, 3.642_269_098_4],
        1e-8,
    );
}

/// Stata's `newey, lag(4)` on growth of investment, as kept in statsmodels 0.15.0
/// (`results_macro_ols_robust.py`, `results_newey4`). Stata applies the small-sample factor.
#[test]
fn stata_newey() {
    let x = DMatrix::from_fn(ROWS.len(), 3, |i, j| [ROWS[i][1], ROWS[i][2], 1.0][j]);
    let y = DVector::from_fn(ROWS.len(), |i, _| ROWS[i][0]);
    let fitted = Fitted::of(x, &y);
    all_near(
        &fitted.fit.coefficients,
        [
            4.374_221_664_703_2,
            -0.613_996_969_478_99,
            -9.481_672_774_654_9,
        ],
        1e-9,
    );
    all_near(
        &fitted.standard_errors(4, true),
        [
            0.331_256_448_842_86,
            0.295_823_475_931_97,
            1.185_933_808_771_3,
        ],
        1e-9,
    );
}
