//! Whether the outside temperature can be believed: against the intake air at speed, between slow
//! and fast running, against other sessions of that day and that time of the year.
//!
//! Nothing is judged or changed: a doubt is a note. The limits are wide enough for two sensors of
//! usual tolerance and for usual weather (common practice, no source).

use std::collections::BTreeMap;

use chrono::Datelike;

use super::channel::Channel;
use crate::session::{Role, SessionMeta};
use crate::stats::quantile;
use crate::warning::Warning;

/// Above this the intake draws air that nothing has warmed for long, km/h.
const FAST_KMH: f64 = 80.0;
/// Below this the car warms the air about its own sensors, km/h.
const SLOW_KMH: f64 = 20.0;
/// Intake air at speed is not so much above the air outside, K.
const DEAD_K: f64 = 15.0;
/// So many seconds of readings tell a level.
const LEAST_S: f64 = 60.0;
/// Intake air is no colder than the air outside, but for two sensors' tolerance, K.
const TOLERANCE_K: f64 = 3.0;
/// A sensor that reads so much higher in slow running soaks, K.
const SOAKS_K: f64 = 2.0;
/// Sessions at the same hour differ by less, K ...
const SAME_HOUR_K: f64 = 5.0;
/// ... and by so much more an hour, K/h, ...
const PER_HOUR_K: f64 = 2.0;
/// ... up to what a day has from night to afternoon, K.
const DAY_K: f64 = 15.0;
/// Days of the year so near are of one season, d ...
const SEASON_D: i64 = 30;
/// ... and differ by less from the middle of its sessions, K.
const SEASON_K: f64 = 20.0;
/// Sessions that make up a season.
const LEAST_SESSIONS: usize = 3;

/// Doubts from the session's own channels; a row lasts `step_s`.
pub(super) fn within(channels: &BTreeMap<Role, Channel>, step_s: f64) -> Vec<Warning> {
    let values = |role: Role| channels.get(&role).map(|c| c.values.as_slice());
    let (Some(ambient), Some(speed)) = (values(Role::Ambient), values(Role::Speed)) else {
        return Vec::new();
    };
    let level = |of: &[f64], share: f64, counts: &dyn Fn(f64) -> bool| {
        let read = of.iter().zip(speed);
        let at: Vec<f64> = read
            .filter(|(v, kmh)| !v.is_nan() && counts(**kmh))
            .map(|(v, _)| *v)
            .collect();
        (at.len() as f64 * step_s >= LEAST_S).then(|| quantile(at, share))?
    };
    let fast = |kmh: f64| kmh > FAST_KMH;
    let slow = |kmh: f64| kmh < SLOW_KMH;
    let dead = ambient.iter().all(|v| v.is_nan() || *v == 0.0);
    let hottest = values(Role::Intake).and_then(|intake| level(intake, 0.5, &fast));
    if dead && hottest.is_none_or(|c| c > DEAD_K) {
        return vec![Warning::caution(
            "ambient-zero",
            "the outside temperature reads 0 °C throughout, as a sensor does that is not there; \
             name another column with --map ambient=COLUMN",
        )];
    }
    let outside = level(ambient, 0.5, &fast);
    let coldest = values(Role::Intake).and_then(|intake| level(intake, 0.05, &fast));
    let mut doubts = Vec::new();
    if let (Some(outside), Some(coldest)) = (outside, coldest)
        && outside > coldest + TOLERANCE_K
    {
        doubts.push(Warning::note(
            "ambient-above-intake",
            format!(
                "above {FAST_KMH:.0} km/h the outside temperature is {outside:.1} °C and the coldest intake air {coldest:.1} °C: air does not cool on its way in, so one of the two reads wrong"
            ),
        ));
    }
    if let (Some(outside), Some(standing)) = (outside, level(ambient, 0.5, &slow))
        && standing - outside >= SOAKS_K
    {
        doubts.push(Warning::note(
            "ambient-soaks",
            format!(
                "the outside temperature reads {:.1} K more below {SLOW_KMH:.0} km/h than above {FAST_KMH:.0} km/h: its sensor takes up heat from the car",
                standing - outside
            ),
        ));
    }
    doubts
}

/// Doubts from what is known of other sessions.
pub fn ambient_doubts(meta: &SessionMeta, others: &[SessionMeta]) -> Vec<Warning> {
    let mean = |m: &SessionMeta| m.channels.get(&Role::Ambient)?.mean;
    let (Some(own_c), Some(day)) = (mean(meta), meta.day) else {
        return Vec::new();
    };
    let known: Vec<(&SessionMeta, f64)> = others
        .iter()
        .filter(|other| other.excluded.is_none() && (other.id.is_empty() || other.id != meta.id))
        .filter_map(|other| Some((other, mean(other)?)))
        .collect();
    let of_day = known.iter().filter(|(other, _)| other.day == Some(day));
    let beyond = of_day
        .map(|(other, c)| (other, c, allowed_k(meta, other)))
        .filter(|(_, c, allowed)| (own_c - **c).abs() > *allowed)
        .max_by(|a, b| (own_c - a.1).abs().total_cmp(&(own_c - b.1).abs()));
    let mut doubts = Vec::new();
    if let Some((other, c, allowed)) = beyond {
        doubts.push(Warning::note(
            "ambient-unlike-day",
            format!(
                "its mean outside temperature is {own_c:.1} °C, that of {} on the same day {c:.1} °C: more than the {allowed:.0} K that the hours between them explain",
                other.label()
            ),
        ));
    }
    let near = |other: &SessionMeta| {
        other.day.is_some_and(|other| {
            let apart = (i64::from(other.ordinal()) - i64::from(day.ordinal())).abs();
            other != day && apart.min(365 - apart) <= SEASON_D
        })
    };
    let season: Vec<f64> = (known.iter().filter(|(other, _)| near(other)))
        .map(|(_, c)| *c)
        .collect();
    let count = season.len();
    if count >= LEAST_SESSIONS
        && let Some(usual_c) = quantile(season, 0.5)
        && (own_c - usual_c).abs() > SEASON_K
    {
        doubts.push(Warning::note(
            "ambient-unlike-season",
            format!(
                "its mean outside temperature is {own_c:.1} °C, and {usual_c:.1} °C in the middle of {count} sessions at that time of the year"
            ),
        ));
    }
    doubts
}

/// By how much two sessions of a day may differ, K.
fn allowed_k(one: &SessionMeta, other: &SessionMeta) -> f64 {
    match (one.start, other.start) {
        (Some(a), Some(b)) => {
            let hours = (a - b).num_minutes().abs() as f64 / 60.0;
            (SAME_HOUR_K + PER_HOUR_K * hours).min(DAY_K)
        }
        _ => DAY_K,
    }
}

#[cfg(test)]
mod tests {
    use std::slice;

    use chrono::NaiveDate;

    use super::super::channel::describe;
    use super::*;
    use crate::car::CarSheet;
    use crate::quantity::Unit;
    use crate::session::UnitFrom;

    fn channel(values: Vec<f64>) -> Channel {
        let t_s: Vec<f64> = (0..values.len()).map(|i| i as f64).collect();
        let info = describe(
            "x".to_owned(),
            Unit::Celsius,
            UnitFrom::Header,
            &t_s,
            &values,
        );
        Channel {
            info,
            values,
            raw: None,
        }
    }

    /// Five minutes slow, then ten fast.
    fn ids(ambient: impl Fn(bool) -> f64, intake_c: f64) -> Vec<String> {
        let fast = |i: usize| i >= 300;
        let of = |f: &dyn Fn(bool) -> f64| channel((0..900).map(|i| f(fast(i))).collect());
        let channels = BTreeMap::from([
            (Role::Speed, of(&|fast| if fast { 130.0 } else { 10.0 })),
            (Role::Ambient, of(&ambient)),
            (Role::Intake, of(&|_| intake_c)),
        ]);
        let doubts = within(&channels, 1.0);
        doubts.into_iter().map(|w| w.id).collect()
    }

    #[test]
    fn an_outside_warmer_than_the_intake_air_is_doubted() {
        assert_eq!(ids(|_| 20.0, 26.0), [""; 0]);
        assert_eq!(ids(|_| 20.0, 18.0), [""; 0]);
        assert_eq!(ids(|_| 32.0, 26.0), ["ambient-above-intake"]);
    }

    #[test]
    fn a_sensor_that_soaks_is_told() {
        let soaks = |k: f64| move |fast: bool| 20.0 + if fast { 0.0 } else { k };
        assert_eq!(ids(soaks(1.0), 26.0), [""; 0]);
        assert_eq!(ids(soaks(4.0), 26.0), ["ambient-soaks"]);
    }

    fn session(id: &str, (month, day, hour): (u32, u32, u32), ambient_c: f64) -> SessionMeta {
        let mut meta = SessionMeta::bare("a.csv", "stock", CarSheet::default());
        let day = NaiveDate::from_ymd_opt(2031, month, day).unwrap();
        meta.id = id.to_owned();
        meta.day = Some(day);
        meta.start = day.and_hms_opt(hour, 0, 0);
        let info = channel(vec![ambient_c; 3]).info;
        meta.channels.insert(Role::Ambient, info);
        meta
    }

    #[test]
    fn other_sessions_of_the_day_and_the_season_are_heard() {
        let ids = |meta: &SessionMeta, others: &[SessionMeta]| -> Vec<String> {
            let doubts = ambient_doubts(meta, others);
            doubts.into_iter().map(|w| w.id).collect()
        };
        let morning = session("s1", (5, 17, 9), 14.0);
        // 5 K and 2 K an hour: 11 K after three hours, 7 K after one.
        assert_eq!(
            ids(&session("s2", (5, 17, 12), 24.0), slice::from_ref(&morning)),
            [""; 0]
        );
        assert_eq!(
            ids(&session("s2", (5, 17, 10), 24.0), slice::from_ref(&morning)),
            ["ambient-unlike-day"]
        );
        // Itself, and what is excluded, have no say.
        assert_eq!(
            ids(&session("s1", (5, 17, 10), 24.0), slice::from_ref(&morning)),
            [""; 0]
        );
        let mut excluded = morning;
        excluded.excluded = Some("wet".to_owned());
        assert_eq!(ids(&session("s2", (5, 17, 10), 24.0), &[excluded]), [""; 0]);
        // The turn of the year lies within a season.
        let winter: Vec<SessionMeta> = [(12, 20), (1, 3), (1, 10)]
            .iter()
            .map(|&(month, day)| session("w", (month, day, 12), 3.0))
            .collect();
        assert_eq!(
            ids(&session("s9", (1, 1, 12), 27.0), &winter),
            ["ambient-unlike-season"]
        );
        assert_eq!(ids(&session("s9", (1, 1, 12), 15.0), &winter), [""; 0]);
        assert_eq!(ids(&session("s9", (7, 1, 12), 27.0), &winter), [""; 0]);
        assert_eq!(ids(&session("s9", (1, 1, 12), 27.0), &winter[..2]), [""; 0]);
    }
}
