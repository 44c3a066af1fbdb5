//! The unit a speed must be written in, where nobody says it.

use super::unit_values::{Context, Judged};
use crate::quantity::Unit;

/// A car on a track is hardly faster, km/h (common practice, no source).
const FASTEST_KMH: f64 = 320.0;

/// A factor this near to a unit's, as a logarithm, is of that unit ...
const OF_UNIT: f64 = 0.15;
/// ... and this near surely: mph and knots are 0.14 apart.
const SURELY_OF_UNIT: f64 = 0.05;

/// The unit of which `ratio` metres a second are one as written, and whether surely.
fn unit_of_ratio(ratio: f64) -> Option<(Unit, bool)> {
    let candidates = [
        Unit::KilometrePerHour,
        Unit::MilePerHour,
        Unit::MetrePerSecond,
        Unit::Knot,
    ];
    let off = |unit: &Unit| (ratio / (unit.to_inside(1.0) / 3.6)).ln().abs();
    let best = candidates
        .into_iter()
        .min_by(|a, b| off(a).total_cmp(&off(b)));
    best.filter(|unit| off(unit) < OF_UNIT)
        .map(|unit| (unit, off(&unit) < SURELY_OF_UNIT))
}

/// The unit of a speed whose values go up to `high`.
pub(super) fn speed(high: f64, context: Context) -> Judged {
    let proofs = [
        (context.gps_ratio, "the way along the logged positions"),
        (
            context.speed_ratio,
            "another speed column, which names its unit,",
        ),
    ];
    let proof = proofs
        .into_iter()
        .find_map(|(ratio, what)| Some((unit_of_ratio(ratio?)?, ratio?, what)));
    if let Some(((unit, sure), ratio, what)) = proof {
        let evidence = format!(
            "{what} is {:.2} times what it says in km/h, which fits {}",
            3.6 * ratio,
            unit.symbol()
        );
        return Judged {
            unit,
            evidence,
            sure,
        };
    }
    if high > 240.0 {
        let evidence = format!("values up to {high:.0} are too fast for mph");
        return Judged {
            unit: Unit::KilometrePerHour,
            evidence,
            sure: true,
        };
    }
    let as_mph_kmh = Unit::MilePerHour.to_inside(high);
    if context.fahrenheit_elsewhere && as_mph_kmh > FASTEST_KMH {
        let evidence = format!(
            "temperatures of the file are in °F, but {high:.0} mph is {as_mph_kmh:.0} km/h"
        );
        return Judged {
            unit: Unit::KilometrePerHour,
            evidence,
            sure: false,
        };
    }
    if context.fahrenheit_elsewhere {
        let evidence = format!("temperatures of the file are in °F; values up to {high:.0}");
        return Judged {
            unit: Unit::MilePerHour,
            evidence,
            sure: false,
        };
    }
    // Hard braking of a road car on track is some 0.8 to 1.2 g (common practice, no source).
    if let Some(braking) = context.hardest_braking
        && high < 80.0
        && braking / 3.6 < 1.3
        && (4.0..16.0).contains(&braking)
    {
        let evidence = format!(
            "values up to {high:.0}, braking {braking:.1} m/s² in m/s but only {:.1} in km/h",
            braking / 3.6
        );
        return Judged {
            unit: Unit::MetrePerSecond,
            evidence,
            sure: false,
        };
    }
    let or_metres = if 3.6 * high < FASTEST_KMH {
        ", or m/s"
    } else {
        ""
    };
    let evidence =
        format!("values up to {high:.0} could be km/h or mph{or_metres}, and km/h is usual");
    Judged {
        unit: Unit::KilometrePerHour,
        evidence,
        sure: false,
    }
}
