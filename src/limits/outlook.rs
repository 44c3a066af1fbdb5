//! What a session says of another day: whether it still rose, where it would have settled, on how hot a
//! day it would have met a limit, and where its coolant boils.

use super::ahead::{Ahead, LONGEST_S, Settles, lap_swing_k};
use super::readings::Readings;
use crate::estimate::NotAssessable;
use crate::estimate::joint::fit_converged;
use crate::estimate::prepare::{DEFAULT_GLYCOL_PERCENT, Prepared, STEP_S};
use crate::estimate::simulate::{CarModel, ReferenceDrive, Start};
use crate::session::Role;
use crate::stats::{Estimate, NORMAL_FACTOR, mean, root_within};
use crate::thermal::boiling;

/// Rising by more than this at the end of hot running is still rising, K/s (half a kelvin a minute).
const STILL_RISING_K_PER_S: f64 = 0.5 / 60.0;

/// Length over which a slope is taken, s.
const SLOPE_S: f64 = 60.0;

/// Whether the channel still rose over the last minute of hot running. `None`: there was none.
pub(super) fn rising_at_end(role: Role, prepared: &Prepared) -> Option<bool> {
    let &(from, to) = prepared.drive.stints.last()?;
    let values = prepared.grid.bridged(role, 10.0)?;
    let length = ((SLOPE_S / STEP_S) as usize).min((to - from) / 2);
    let half = length / 2;
    let late = mean(&values[to - half..to]);
    let early = mean(&values[to - length..to - half]);
    let slope = (late - early) / (half as f64 * STEP_S);
    slope.is_finite().then_some(slope > STILL_RISING_K_PER_S)
}

/// The fitted car and the drive of its longest stint.
pub(super) struct Outlook {
    drive: ReferenceDrive,
    car: CarModel,
    exponent_sd: f64,
    ambient_c: f64,
    ahead: Ahead,
    /// Coolant at the beginning of the first hot running, and at the end of the last.
    ends_c: [f64; 2],
    /// A lap, if laps can be told, s.
    lap_s: Option<f64>,
    /// How far the drawn peaks (median, both ends) lie above the peak of the drive without gusts, K.
    swings_k: Option<[f64; 3]>,
    /// Where the drive settles at the session's own ambient.
    pub settles: Settles,
}

impl Outlook {
    /// From one session, what its assessment said and its lap, if laps can be told, s. `Err`: why there is none.
    pub fn of(
        role: Role,
        prepared: &Prepared,
        assessed: &Result<(), NotAssessable>,
        lap_s: Option<f64>,
    ) -> Result<Self, String> {
        if role != Role::Coolant {
            return Err("only coolant has a model".to_owned());
        }
        assessed.clone().map_err(|why| why.to_string())?;
        let joint = fit_converged(&[prepared])?;
        let two_windows = prepared.windows.used().len() > 1;
        let Some(drive) = ReferenceDrive::of(prepared, &joint).filter(|_| two_windows) else {
            return Err("too little hot running".to_owned());
        };
        let drive = match lap_s {
            Some(lap_s) => drive.last_laps((lap_s / STEP_S).round() as usize),
            None => drive,
        };
        let ambient = prepared.ambient_c.as_deref().unwrap_or_default();
        let ambient_c = prepared.mean_in_stints(ambient);
        let car = CarModel::of(prepared, &joint.shared, joint.sessions[0].log_g);
        let ahead = Ahead::draw(prepared, &joint);
        let lap_or_so_s = lap_s.unwrap_or(LAP_S);
        let stints = prepared.drive.stints.iter();
        let end = stints.max_by_key(|(a, b)| b - a).map_or(0, |stint| stint.1);
        let logged_c = &prepared.coolant_c[end - drive.steps()..end];
        let swing_k = lap_swing_k(logged_c, lap_or_so_s, STEP_S);
        let settles = ahead.settles(&drive, &car, ambient_c, lap_or_so_s, swing_k);
        Ok(Self {
            swings_k: swings_k(&settles, drive.settle(&car, ambient_c).peak_c),
            settles,
            car,
            exponent_sd: joint.air_exponent_sd(),
            ambient_c,
            ends_c: ends_of_hot_running_c(prepared),
            lap_s,
            ahead,
            drive,
        })
    }

    /// How long after hot running ended coolant would have met `limit_c`, had it gone on, s.
    pub fn would_have_crossed_s(&self, limit_c: f64) -> Estimate {
        let drive = self.drive.at(self.car.exponent, self.ambient_c);
        let lap_s = self.lap_s.unwrap_or(LAP_S);
        self.ahead
            .crosses_s(&drive, &self.settles, self.ends_c[1], limit_c, lap_s)
    }

    /// Ambient at which that stint, gone on until settled, peaks at `limit_c`.
    pub fn limiting_ambient_c(&self, limit_c: f64) -> Estimate {
        self.ambient_for(limit_c, |ambient_c| {
            self.drive.settle(&self.car, ambient_c).peak_c
        })
    }

    /// The same where a car ahead takes this `share` of the speed of the air that meets the car, all along: the
    /// conductance falls to `(1 - share)^n`, heat stays. What is not known of n ([`WAKE_EXPONENT_SD`] at least) widens the interval, half-widths added
    /// as squares.
    pub fn limiting_ambient_in_wake_c(&self, limit_c: f64, share: f64) -> Estimate {
        let at = |exponent: f64| {
            let car = self.car.shifted(exponent * (1.0 - share).ln());
            self.ambient_for(limit_c, |ambient_c| {
                self.drive.settle(&car, ambient_c).peak_c
            })
        };
        let off = NORMAL_FACTOR * self.exponent_sd.max(WAKE_EXPONENT_SD);
        let [middle, weak, strong] = [0.0, -off, off].map(|off| at(self.car.exponent + off));
        let (Estimate::Known(i), Some(weak), Some(strong)) =
            (&middle, weak.point(), strong.point())
        else {
            return middle;
        };
        Estimate::between(
            i.estimate,
            i.estimate - (i.estimate - i.low).hypot(i.estimate - strong),
            i.estimate + (i.high - i.estimate).hypot(weak - i.estimate),
            format!("{}; and the exponent on air speed, ± {off:.1}", i.method),
        )
    }

    /// Ambient at which `laps` of the stint from `start_c` on bring a peak of `limit_c`.
    pub fn limiting_ambient_for_laps_c(
        &self,
        limit_c: f64,
        laps: f64,
        start_c: Option<f64>,
    ) -> Estimate {
        let Some(lap_s) = self.lap_s else {
            return Estimate::unknown("no laps can be told");
        };
        let start_c = start_c.unwrap_or(self.ends_c[0]);
        if start_c >= limit_c {
            return Estimate::unknown("it starts at the limit or over");
        }
        self.ambient_for(limit_c, |ambient_c| {
            self.drive
                .peak_within_c(&self.car, Start::even(start_c), ambient_c, laps * lap_s)
        })
    }

    /// Ambient at which `peak_c`, and above it the swing that gusts bring, comes to `limit_c`.
    fn ambient_for(&self, limit_c: f64, peak_c: impl Fn(f64) -> f64) -> Estimate {
        let at = |swing_k: f64| {
            root_within(
                1e-3,
                |ambient_c| peak_c(ambient_c) + swing_k - limit_c,
                COLDEST_C,
                HOTTEST_C,
            )
        };
        match self.swings_k.map(|swings| swings.map(at)) {
            Some([Some(middle), Some(low), Some(high)]) => Estimate::between(
                middle,
                low,
                high,
                "model: longest stint gone on, peak with the gusts of the day; conductance and gusts at the ends of the drawn peaks",
            ),
            _ => Estimate::unknown(format!("outside {COLDEST_C} to {HOTTEST_C} °C")),
        }
    }

    /// Peak of that stint, gone on until settled, at another ambient.
    pub fn peak_at_c(&self, ambient_c: f64) -> Estimate {
        let settled_c = self.drive.settle(&self.car, ambient_c).peak_c;
        match self
            .swings_k
            .map(|swings| swings.map(|swing_k| settled_c + swing_k))
        {
            Some([middle, low, high]) => Estimate::between(
                middle,
                low,
                high,
                "model: longest stint gone on at that ambient, peak with the gusts of the day",
            ),
            None => Estimate::unknown("no peak at its own ambient"),
        }
    }

    /// Time to `limit_c` at `ambient_c` from `start_c` on, s, and the same in laps.
    pub fn time_to_limit(
        &self,
        limit_c: f64,
        ambient_c: f64,
        start_c: Option<f64>,
    ) -> (Estimate, Estimate) {
        let start_c = start_c.unwrap_or(self.ends_c[0]);
        let at = |swing_k: f64| {
            self.drive.reaches_s(
                &self.car,
                Start::even(start_c),
                ambient_c,
                limit_c - swing_k,
                LONGEST_S,
            )
        };
        let minutes = LONGEST_S / 60.0;
        let time_s = match self.swings_k.map(|swings| swings.map(at)) {
            Some([Some(middle), Some(latest), Some(soonest)]) => Estimate::between(
                middle,
                soonest,
                latest,
                "model: longest stint repeated from the start temperature; conductance and gusts at the ends of the drawn peaks",
            ),
            Some([_, _, Some(soonest)]) => Estimate::unknown(format!(
                "after {:.0} min at the soonest, at the other end not within {minutes:.0} min",
                soonest / 60.0
            )),
            Some(_) => Estimate::unknown(format!("not within {minutes:.0} min")),
            None => Estimate::unknown("no peak at its own ambient"),
        };
        let laps = match self.lap_s {
            Some(lap_s) => time_s.map(|s| s / lap_s),
            None => Estimate::unknown("no laps can be told"),
        };
        (time_s, laps)
    }
}

/// How far the drawn peaks lie above `still_c`, the peak of the drive without gusts, K.
fn swings_k(settles: &Settles, still_c: f64) -> Option<[f64; 3]> {
    let peak = settles.peak_c.known()?;
    Some([peak.estimate, peak.low, peak.high].map(|c| c - still_c))
}

/// What is not known of the exponent where the air is slower and the car is not, standard deviation: fan, ducts and the
/// coolant's side take from it, and a wake is turbulent; 0.2 to 0.6 (common practice, no source).
const WAKE_EXPONENT_SD: f64 = 0.15;

/// A lap where none can be told, s.
const LAP_S: f64 = 90.0;

/// Ambients between which a limiting one is sought, °C.
const COLDEST_C: f64 = -40.0;
const HOTTEST_C: f64 = 80.0;

/// Coolant over the first seconds of the first hot running and the last of the last, °C.
fn ends_of_hot_running_c(prepared: &Prepared) -> [f64; 2] {
    let over = (10.0 / STEP_S) as usize;
    let stints = &prepared.drive.stints;
    let read = |from: usize, to: usize| {
        let read = prepared.coolant_c[from..to].iter().copied();
        mean(&read.filter(|c| !c.is_nan()).collect::<Vec<_>>())
    };
    let begin = stints.first().map_or(0, |stint| stint.0);
    let end = stints.last().map_or(0, |stint| stint.1);
    let length = prepared.coolant_c.len();
    [
        read(begin, (begin + over).min(length)),
        read(end.saturating_sub(over), end),
    ]
}

/// Tolerance of a cap's opening pressure, kPa (common practice, no source).
const CAP_KPA: f64 = 10.0;

/// Where the session's coolant boils under its cap: the mix and the cap of the car sheet, the pressure of
/// the air of the day.
pub(super) fn boiling_c(prepared: &Prepared) -> Estimate {
    let Some(cap_bar) = prepared.car.cap_pressure_bar_gauge else {
        return Estimate::unknown("no cap pressure: give cap_pressure_bar_gauge in the car sheet");
    };
    let assumed = prepared.car.glycol_volume_percent.is_none();
    let glycol = prepared
        .car
        .glycol_volume_percent
        .unwrap_or(DEFAULT_GLYCOL_PERCENT);
    let pressure_kpa = prepared.pressure_kpa + 100.0 * cap_bar;
    let at = |off_kpa: f64| boiling::boiling_c(pressure_kpa + off_kpa, glycol);
    let (Some(middle), Some(low), Some(high)) = (at(0.0), at(-CAP_KPA), at(CAP_KPA)) else {
        return Estimate::unknown("outside 20 to 200 °C");
    };
    let half = ((high - low) / 2.0).hypot(boiling::MIX_K);
    let mix = if assumed { " (assumed)" } else { "" };
    Estimate::symmetric(
        middle,
        half,
        format!(
            "Raoult's law at {pressure_kpa:.0} kPa absolute, {glycol:.0} % glycol{mix}; cap ± {:.1} bar, mix ± {:.0} K",
            CAP_KPA / 100.0,
            boiling::MIX_K
        ),
    )
}

/// Mean ambient over hot running, over all of the session where there was none, °C.
pub(super) fn mean_ambient_c(prepared: &Prepared) -> Option<f64> {
    let ambient = prepared.ambient_c.as_ref()?;
    let in_stints = prepared.mean_in_stints(ambient);
    let read: Vec<f64> = ambient.iter().copied().filter(|v| !v.is_nan()).collect();
    let ambient_c = match in_stints.is_nan() {
        true => mean(&read),
        false => in_stints,
    };
    (!ambient_c.is_nan()).then_some(ambient_c)
}

/// Limiting ambient by the 1:1 rule.
pub(super) fn one_to_one(prepared: &Prepared, readings: &Readings, limit_c: f64) -> Estimate {
    let Some(ambient_c) = mean_ambient_c(prepared) else {
        return Estimate::unknown("no ambient temperature");
    };
    let at = |peak_c: f64| limit_c - (peak_c - ambient_c);
    Estimate::between(
        at(readings.peak_c),
        at(readings.possible_peak_c()),
        at(readings.peak_c),
        "1:1 rule: limit minus (peak minus ambient); interval: step and lag of the reading only",
    )
}
