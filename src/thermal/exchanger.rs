//! Heat exchangers by effectiveness and number of transfer units, exactly.
//!
//! `ε = Q / (C_min (T_hot,in - T_cold,in))`, `N = UA / C_min`, `c = C_min / C_max`: Q heat, W; UA
//! conductance between the streams, W/K; C heat capacity flow of a stream (mass flow times heat
//! capacity), W/K.
//!
//! - counterflow `(1 - e^{-N(1-c)}) / (1 - c e^{-N(1-c)})`, at c = 1 `N / (1 + N)`
//! - parallel flow `(1 - e^{-N(1+c)}) / (1 + c)`
//! - cross-flow, larger stream mixed `(1 - e^{-c(1-e^{-N})}) / c`
//! - cross-flow, smaller stream mixed `1 - e^{-(1-e^{-cN})/c}`
//!   (Kays & London 1984, Compact Heat Exchangers)
//! - cross-flow, both unmixed `1/(cN) Σ_{k≥0} P(k+1, N) P(k+1, cN)`, P the regularised lower
//!   incomplete gamma function (Mason 1955, Proc. 2nd US National Congress of Applied Mechanics,
//!   801; both sources from memory)
//!
//! The usual short formula for both unmixed (with N^0.22 and N^0.78) is left out: it is off by up to
//! 0.011 in ε, which at the low N of a radiator is 4 % of UA. Assumes one UA for the whole core,
//! steady state, no loss to outside, even flow.

use statrs::function::gamma::gamma_lr;

use crate::stats::root;

/// Largest number of transfer units that is computed; no core comes near.
pub const MAX_NTU: f64 = 1000.0;

/// How the two streams pass each other. "Larger" is the stream of larger heat capacity flow.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Arrangement {
    /// Against each other.
    Counterflow,
    /// The same way.
    Parallel,
    /// Crosswise, neither mixed across its way: a finned core with separate tubes.
    CrossBothUnmixed,
    /// Crosswise, only the larger stream mixed.
    CrossLargerMixed,
    /// Crosswise, only the smaller stream mixed.
    CrossSmallerMixed,
}

impl Arrangement {
    /// Every arrangement.
    pub const ALL: [Arrangement; 5] = [
        Self::Counterflow,
        Self::Parallel,
        Self::CrossBothUnmixed,
        Self::CrossLargerMixed,
        Self::CrossSmallerMixed,
    ];

    /// Effectiveness, 0 to 1, at `ntu` (0 to [`MAX_NTU`]) and `capacity_ratio` (0 to 1); `NaN`
    /// outside.
    pub fn effectiveness(self, ntu: f64, capacity_ratio: f64) -> f64 {
        let (n, c) = (ntu, capacity_ratio);
        if !((0.0..=MAX_NTU).contains(&n) && (0.0..=1.0).contains(&c)) {
            return f64::NAN;
        }
        let alone = reached(n);
        if c * n == 0.0 {
            return alone;
        }
        match self {
            Self::Counterflow if c == 1.0 => n / (1.0 + n),
            Self::Counterflow => {
                let near_end = reached(n * (1.0 - c));
                near_end / (1.0 - c + c * near_end)
            }
            Self::Parallel => reached(n * (1.0 + c)) / (1.0 + c),
            Self::CrossBothUnmixed => both_unmixed(n, c),
            Self::CrossLargerMixed => reached(c * alone) / c,
            Self::CrossSmallerMixed => reached(reached(c * n) / c),
        }
    }

    /// The number of transfer units that gives `effectiveness` at `capacity_ratio`. `None`: no
    /// exchanger of this arrangement reaches it up to [`MAX_NTU`], or not within 0 to 1.
    pub fn ntu(self, effectiveness: f64, capacity_ratio: f64) -> Option<f64> {
        let (e, c) = (effectiveness, capacity_ratio);
        if !((0.0..1.0).contains(&e) && (0.0..=1.0).contains(&c)) {
            return None;
        }
        let ntu = match self {
            _ if c == 0.0 => -(-e).ln_1p(),
            Self::Counterflow if c == 1.0 => e / (1.0 - e),
            Self::Counterflow => (e * (1.0 - c) / (1.0 - e)).ln_1p() / (1.0 - c),
            Self::Parallel => -(-e * (1.0 + c)).ln_1p() / (1.0 + c),
            Self::CrossBothUnmixed => both_unmixed_ntu(e, c)?,
            Self::CrossLargerMixed => -((-e * c).ln_1p() / c).ln_1p(),
            Self::CrossSmallerMixed => -(c * (-e).ln_1p()).ln_1p() / c,
        };
        // Not a number, or infinite, where the logarithm has no argument: out of reach.
        (0.0..=MAX_NTU).contains(&ntu).then_some(ntu)
    }
}

/// `1 - e^{-x}`.
fn reached(x: f64) -> f64 {
    -(-x).exp_m1()
}

/// Mason's series. Its terms fall, and beyond k = N faster than any power.
fn both_unmixed(n: f64, c: f64) -> f64 {
    if c * n == 0.0 {
        return reached(n);
    }
    let mut sum = 0.0;
    for k in 1.. {
        let term = gamma_lr(f64::from(k), n) * gamma_lr(f64::from(k), c * n);
        sum += term;
        if term <= 1e-17 * sum {
            break;
        }
    }
    sum / (c * n)
}

/// The inverse of Mason's series, sought upward from counterflow, which needs the fewest.
fn both_unmixed_ntu(e: f64, c: f64) -> Option<f64> {
    let (mut low, mut high) = (0.0, Arrangement::Counterflow.ntu(e, c)?);
    while both_unmixed(high, c) < e {
        if high >= MAX_NTU {
            return None;
        }
        (low, high) = (high, (1.5 * high).min(MAX_NTU));
    }
    root(|n| both_unmixed(n, c) - e, low, high)
}

/// A stream that enters an exchanger.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stream {
    /// Temperature at the inlet, °C.
    pub in_c: f64,
    /// Mass flow times heat capacity, W/K, above zero.
    pub capacity_w_per_k: f64,
}

/// What an exchanger does to two streams.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Exchanged {
    /// Share of the greatest heat that could pass.
    pub effectiveness: f64,
    /// Heat from the hot to the cold stream, W.
    pub heat_w: f64,
    /// Hot stream at the outlet, °C.
    pub hot_out_c: f64,
    /// Cold stream at the outlet, °C.
    pub cold_out_c: f64,
}

/// The two streams through an exchanger of `ua_w_per_k`. Everything is `NaN` where a capacity flow is
/// not above zero or the number of transfer units beyond [`MAX_NTU`].
pub fn exchange(arrangement: Arrangement, ua_w_per_k: f64, hot: Stream, cold: Stream) -> Exchanged {
    let (smaller, ratio) = smaller_and_ratio(hot, cold);
    let effectiveness = arrangement.effectiveness(ua_w_per_k / smaller, ratio);
    let heat_w = effectiveness * smaller * (hot.in_c - cold.in_c);
    Exchanged {
        effectiveness,
        heat_w,
        hot_out_c: hot.in_c - heat_w / hot.capacity_w_per_k,
        cold_out_c: cold.in_c + heat_w / cold.capacity_w_per_k,
    }
}

/// UA, W/K, of an exchanger that passes `heat_w` from `hot` to `cold`. `None`: no such exchanger of
/// this arrangement can, whatever its UA.
pub fn ua_w_per_k(arrangement: Arrangement, heat_w: f64, hot: Stream, cold: Stream) -> Option<f64> {
    let (smaller, ratio) = smaller_and_ratio(hot, cold);
    let effectiveness = heat_w / (smaller * (hot.in_c - cold.in_c));
    Some(arrangement.ntu(effectiveness, ratio)? * smaller)
}

/// The smaller capacity flow and its ratio to the larger.
fn smaller_and_ratio(hot: Stream, cold: Stream) -> (f64, f64) {
    let (a, b) = (hot.capacity_w_per_k, cold.capacity_w_per_k);
    if !(a > 0.0 && b > 0.0) {
        return (f64::NAN, f64::NAN);
    }
    (a.min(b), a.min(b) / a.max(b))
}

#[cfg(test)]
mod tests {
    use super::Arrangement::{
        Counterflow, CrossBothUnmixed, CrossLargerMixed, CrossSmallerMixed, Parallel,
    };
    use super::*;

    fn stream(in_c: f64, capacity_w_per_k: f64) -> Stream {
        Stream {
            in_c,
            capacity_w_per_k,
        }
    }

    fn near(found: f64, published: f64, tolerance: f64) {
        let off = (found / published - 1.0).abs();
        assert!(off <= tolerance, "{found}, not {published}");
    }

    /// A round trip, from the smallest core to one that hardly gains any more.
    #[test]
    fn the_inverse_finds_the_transfer_units_again() {
        for arrangement in Arrangement::ALL {
            for ratio in [0.0, 1e-9, 0.1, 0.33, 0.75, 0.999_999, 1.0] {
                for ntu in [0.0, 1e-6, 0.01, 0.3, 0.66, 1.5, 3.0] {
                    let e = arrangement.effectiveness(ntu, ratio);
                    let back = arrangement.ntu(e, ratio).unwrap();
                    assert!(
                        (back - ntu).abs() < 1e-9 * (1.0 + ntu),
                        "{arrangement:?} {ratio} {ntu}: {back}"
                    );
                }
            }
        }
    }

    /// Limits: one stream alone (c = 0) is `1 - e^{-N}` for all; no arrangement beats counterflow or
    /// falls below parallel flow; a small core does the same in any; both mixed kinds agree at c = 1.
    #[test]
    fn arrangements_keep_their_order() {
        for arrangement in Arrangement::ALL {
            near(
                arrangement.effectiveness(1.3, 0.0),
                1.0 - (-1.3_f64).exp(),
                1e-14,
            );
            near(
                arrangement.effectiveness(1.3, 1e-12),
                1.0 - (-1.3_f64).exp(),
                1e-11,
            );
            near(arrangement.effectiveness(1e-7, 0.7), 1e-7, 1e-6);
            for (ntu, ratio) in [(0.5, 0.3), (1.0, 1.0), (4.0, 0.8), (30.0, 1.0)] {
                let e = arrangement.effectiveness(ntu, ratio);
                assert!(e <= Counterflow.effectiveness(ntu, ratio));
                assert!(e >= Parallel.effectiveness(ntu, ratio));
            }
        }
        near(
            CrossLargerMixed.effectiveness(2.2, 1.0),
            CrossSmallerMixed.effectiveness(2.2, 1.0),
            1e-14,
        );
    }

    #[test]
    fn what_no_exchanger_can_do_has_no_transfer_units() {
        // Parallel flow of equal streams ends at one half.
        assert_eq!(Parallel.ntu(0.51, 1.0), None);
        // Mixed: (1 - e^-1) at most.
        assert_eq!(CrossLargerMixed.ntu(0.64, 1.0), None);
        assert_eq!(CrossSmallerMixed.ntu(0.64, 1.0), None);
        assert_eq!(CrossBothUnmixed.ntu(0.999, 1.0), None);
        for arrangement in Arrangement::ALL {
            assert_eq!(arrangement.ntu(1.0, 0.5), None);
            assert_eq!(arrangement.ntu(-0.1, 0.5), None);
            assert_eq!(arrangement.ntu(f64::NAN, 0.5), None);
            assert_eq!(arrangement.ntu(0.3, 1.1), None);
            assert!(arrangement.effectiveness(-1.0, 0.5).is_nan());
            assert!(arrangement.effectiveness(f64::INFINITY, 0.5).is_nan());
        }
        let (hot, cold) = (stream(90.0, 1000.0), stream(30.0, 2000.0));
        assert_eq!(ua_w_per_k(Counterflow, 60_001.0, hot, cold), None);
        assert_eq!(
            ua_w_per_k(Counterflow, 100.0, hot, stream(90.0, 500.0)),
            None
        );
        assert!(
            exchange(Counterflow, 100.0, hot, stream(30.0, 0.0))
                .heat_w
                .is_nan()
        );
    }

    /// Without a difference at the inlets nothing passes, and a cold "hot" stream is heated.
    #[test]
    fn heat_goes_down_the_difference() {
        let (a, b) = (stream(50.0, 1000.0), stream(50.0, 2000.0));
        assert_eq!(exchange(CrossBothUnmixed, 900.0, a, b).heat_w, 0.0);
        let back = exchange(CrossBothUnmixed, 900.0, stream(20.0, 1000.0), b);
        assert!(back.heat_w < 0.0 && back.hot_out_c > 20.0 && back.cold_out_c < 50.0);
        let ua = ua_w_per_k(CrossBothUnmixed, back.heat_w, stream(20.0, 1000.0), b);
        near(ua.unwrap(), 900.0, 1e-9);
    }
}
