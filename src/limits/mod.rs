//! Which sessions came near a limit.
//!
//! From the readings: peak, time near and over. Allowing for what the reading hides: a channel in
//! whole degrees that shows 109 may have been 109.99, and a sensor that lags by τ saw less than
//! there was, by `τ dT/dt` while it rose.
//!
//! Limiting ambient, and air-to-boil, by the 1:1 rule of the cooling-test standards (SAE J1393, as summarised in
//! public): `limit - (peak - ambient)`, exact when flows and heat stay as they are.

use serde::{Deserialize, Serialize};

mod ahead;
mod capability;
mod gusts;
mod judging;
mod outlook;
mod readings;
mod stands;
mod words;

use crate::car::CarSheet;
use crate::session::{Role, SessionMeta};
use crate::stats::Estimate;
use crate::warning::Warning;
use capability::{capability, of_one_day};
use outlook::Outlook;

pub use ahead::LONGEST_S;
pub use capability::{OverAmbient, SetupLimit};
pub use judging::judge;
pub use words::{Crossing, crossing, in_wake, limit_in_words, sentences, short};

/// Margin taken when neither flag nor car sheet gives one, K.
pub const DEFAULT_MARGIN_K: f64 = 5.0;

/// How near a session came to a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum State {
    /// Never within the margin.
    Clear,
    /// Within the margin, never at the limit.
    Approached,
    /// At or over the limit.
    Exceeded,
}

/// One session against a limit. Field names are the machine interface.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct SessionLimit {
    /// The session's id.
    pub id: String,
    /// The channel judged.
    pub channel: Role,
    /// The limit it is judged against, if there is one.
    pub limit_c: Option<f64>,
    /// Largest reading. `None`: the session has no such channel.
    pub peak_c: Option<f64>,
    /// When it was first read, s from the session's beginning.
    pub peak_at_s: Option<f64>,
    /// In which of its whole laps, counted from one; `None`: in none, or no laps can be told.
    pub peak_lap: Option<usize>,
    /// Mean ambient over hot running (over all where there was none), °C.
    pub ambient_c: Option<f64>,
    /// Limit minus peak, negative when over.
    pub closest_k: Option<f64>,
    /// How many times the channel came within the margin.
    pub times_within_margin: Option<usize>,
    /// Seconds at or above limit minus margin.
    pub seconds_within_margin: Option<f64>,
    /// Seconds at or above the limit.
    pub seconds_over: Option<f64>,
    /// From the readings.
    pub state: Option<State>,
    /// Allowing for the reading's resolution and lag.
    pub possible_state: Option<State>,
    /// Whether the reading was still rising when the session (or its hot running) ended.
    pub still_rising_at_end: Option<bool>,
    /// The level about which it would have settled, had the drive gone on.
    pub would_have_settled_c: Estimate,
    /// Its peak then, gusts counted.
    pub would_have_peaked_c: Estimate,
    /// How long after hot running ended it would have met the limit, s.
    pub would_have_crossed_s: Estimate,
    /// Ambient at which the same drive settles at the limit, by the 1:1 rule.
    pub limiting_ambient_c: Estimate,
    /// The same by the fitted model: density, hot walls and the thermostat's full opening counted.
    pub limiting_ambient_model_c: Estimate,
    /// By the model for the laps asked for, from the temperature at the pit exit.
    pub limiting_ambient_laps_c: Estimate,
    /// By the model, held in the wake asked for of a car ahead.
    pub limiting_ambient_wake_c: Estimate,
    /// At the ambient asked for: time from the pit exit to the limit, s.
    pub time_to_limit_s: Estimate,
    /// The same in laps.
    pub laps_to_limit: Estimate,
    /// By the model: peak of the drive gone on, over ambient.
    pub peak_over_ambient: Vec<OverAmbient>,
    /// Where the coolant boils under its cap.
    pub boiling_c: Estimate,
    /// Boiling point minus peak.
    pub to_boiling_k: Estimate,
    /// Air-to-boil: ambient at which the same drive brings the coolant to boil, by the 1:1 rule.
    pub air_to_boil_c: Estimate,
    /// Why there are nulls, if there are.
    pub why: Option<String>,
}

/// The document of `heatbook limits`.
#[derive(Debug, Clone, Serialize)]
pub struct LimitsAnswer {
    /// One a session, in time order.
    pub sessions: Vec<SessionLimit>,
    /// What each setup can stand.
    pub setups: Vec<SetupLimit>,
    /// The day that was asked for.
    pub hot_day: HotDay,
    /// The margin used, K; `None` where sessions have margins of their own.
    pub margin_k: Option<f64>,
    /// What the reader must know besides.
    pub warnings: Vec<Warning>,
}

/// What to judge against.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LimitRequest {
    /// The channel.
    pub channel: Role,
    /// The limit; `None`: the car sheet's, for coolant.
    pub limit_c: Option<f64>,
    /// The margin; `None`: the car sheet's, else [`DEFAULT_MARGIN_K`].
    pub margin_k: Option<f64>,
    /// What day besides.
    pub hot_day: HotDay,
}

/// A day to come.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct HotDay {
    /// Ambient at which the time to the limit is asked for, °C.
    pub ambient_c: Option<f64>,
    /// Laps from the pit exit for which a limiting ambient is asked for.
    pub laps: Option<u32>,
    /// Coolant at the pit exit, °C; `None`: where each session's hot running began.
    pub start_c: Option<f64>,
    /// By how much a car ahead slows the air that meets this one, %.
    pub wake_percent: Option<f64>,
}

impl LimitRequest {
    fn limit_for(&self, car: &CarSheet) -> Option<f64> {
        let of_sheet = (self.channel == Role::Coolant)
            .then_some(car.limit_coolant_c)
            .flatten();
        self.limit_c.or(of_sheet)
    }

    fn margin_for(&self, car: &CarSheet) -> f64 {
        self.margin_k
            .or(car.limit_margin_k)
            .unwrap_or(DEFAULT_MARGIN_K)
    }
}

/// The answer for the sessions `metas`, which were judged one by one.
pub fn gathered(
    judged: Vec<SessionLimit>,
    metas: &[SessionMeta],
    request: &LimitRequest,
) -> LimitsAnswer {
    let mut margins: Vec<f64> = (metas.iter())
        .map(|meta| request.margin_for(&meta.car_as_run()))
        .collect();
    margins.dedup();
    let margin_k = match margins[..] {
        [] => Some(request.margin_k.unwrap_or(DEFAULT_MARGIN_K)),
        [one] => Some(one),
        _ => None,
    };
    let setups = capability(&judged, metas);
    let mut warnings = warnings(&judged);
    warnings.extend(of_one_day(&setups));
    LimitsAnswer {
        warnings,
        setups,
        hot_day: request.hot_day,
        sessions: judged,
        margin_k,
    }
}

fn warnings(judged: &[SessionLimit]) -> Vec<Warning> {
    let ids = |wanted: &dyn Fn(&SessionLimit) -> bool| {
        judged
            .iter()
            .filter(|s| wanted(s))
            .map(|s| s.id.as_str())
            .collect::<Vec<_>>()
            .join(", ")
    };
    let hidden = ids(&|s| !s.is_in_doubt() && s.possible_state > s.state);
    let stood = ids(&SessionLimit::is_in_doubt);
    let rising = ids(&|s| s.still_rising_at_end == Some(true));
    let mut warnings = Vec::new();
    if !hidden.is_empty() {
        warnings.push(Warning::caution(
            "reading-hides-peak",
            format!(
                "{hidden}: the reading's step and lag leave room for a worse state than it shows"
            ),
        ));
    }
    if !stood.is_empty() {
        warnings.push(Warning::caution(
            "reading-stands",
            format!(
                "{stood}: the reading stands still in hot running, so nobody knows how near the limit came: look at sensor and log before the car runs again"
            ),
        ));
    }
    if !rising.is_empty() {
        warnings.push(Warning::caution(
            "still-rising",
            format!("{rising}: still rising when hot running ended, so the peak says little about a longer run"),
        ));
    }
    warnings.push(Warning::note(
        "not-a-protection",
        "limits here are read after the run and protect nothing; the car maker's limits and the event's rules go first",
    ));
    warnings
}

impl SessionLimit {
    /// What the peak of one drive scatters by beyond the level about which it swings: squared half-width, K².
    fn gusts_square_k2(&self) -> f64 {
        let [level, peak] = [&self.would_have_settled_c, &self.would_have_peaked_c]
            .map(|e| e.known().map_or(0.0, |i| i.half_width().powi(2)));
        (peak - level).max(0.0)
    }

    /// What the exponent on air speed leaves open of a limiting ambient in a wake: squared half-width, K².
    fn wake_square_k2(&self) -> f64 {
        let [still, wake] = [
            &self.limiting_ambient_model_c,
            &self.limiting_ambient_wake_c,
        ]
        .map(|e| e.known().map_or(0.0, |i| i.half_width().powi(2)));
        (wake - still).max(0.0)
    }

    fn blank(id: String, channel: Role, limit_c: Option<f64>) -> Self {
        let none = || Estimate::unknown("no reading");
        Self {
            id,
            channel,
            limit_c,
            peak_c: None,
            peak_at_s: None,
            peak_lap: None,
            ambient_c: None,
            closest_k: None,
            times_within_margin: None,
            seconds_within_margin: None,
            seconds_over: None,
            state: None,
            possible_state: None,
            still_rising_at_end: None,
            would_have_settled_c: none(),
            would_have_peaked_c: none(),
            would_have_crossed_s: none(),
            limiting_ambient_c: none(),
            limiting_ambient_model_c: none(),
            limiting_ambient_laps_c: none(),
            limiting_ambient_wake_c: none(),
            time_to_limit_s: none(),
            laps_to_limit: none(),
            peak_over_ambient: Vec::new(),
            boiling_c: none(),
            to_boiling_k: none(),
            air_to_boil_c: none(),
            why: None,
        }
    }

    /// Where the reading stood still, what it met is what it read, and what it did not meet is not known.
    fn doubt(&mut self, stood: Option<String>) {
        if stood.is_some() {
            self.state = self.state.filter(|state| *state == State::Exceeded);
            self.possible_state = Some(State::Exceeded);
            self.why = stood;
        }
    }

    /// Whether the limit may have been met though the reading does not show how near it came.
    pub fn is_in_doubt(&self) -> bool {
        self.state.is_none() && self.possible_state.is_some()
    }

    /// Fills in what the fitted model says of the drive gone on and of another day.
    fn look_ahead(
        &mut self,
        outlook: &Result<Outlook, String>,
        limit_c: Option<f64>,
        day: &HotDay,
    ) {
        let by_model = |say: &dyn Fn(&Outlook) -> Estimate| match outlook {
            Ok(outlook) => say(outlook),
            Err(why) => Estimate::unknown(why),
        };
        self.would_have_settled_c = by_model(&|o| o.settles.level_c.clone());
        self.would_have_peaked_c = by_model(&|o| o.settles.peak_c.clone());
        if let Ok(outlook) = outlook {
            self.peak_over_ambient = capability::AMBIENTS_C
                .map(|ambient_c| OverAmbient {
                    ambient_c,
                    peak_c: outlook.peak_at_c(ambient_c),
                })
                .to_vec();
        }
        let Some(limit_c) = limit_c else {
            return;
        };
        self.would_have_crossed_s = by_model(&|o| o.would_have_crossed_s(limit_c));
        self.limiting_ambient_model_c = by_model(&|o| o.limiting_ambient_c(limit_c));
        self.limiting_ambient_laps_c = match day.laps {
            Some(laps) => {
                by_model(&|o| o.limiting_ambient_for_laps_c(limit_c, f64::from(laps), day.start_c))
            }
            None => Estimate::unknown("give --laps"),
        };
        self.limiting_ambient_wake_c = match day.wake_percent {
            Some(percent) => by_model(&|o| o.limiting_ambient_in_wake_c(limit_c, percent / 100.0)),
            None => Estimate::unknown("give --wake-percent"),
        };
        let unasked = || Estimate::unknown("give --ambient-c");
        (self.time_to_limit_s, self.laps_to_limit) = match (day.ambient_c, outlook) {
            (Some(ambient_c), Ok(o)) => o.time_to_limit(limit_c, ambient_c, day.start_c),
            (Some(_), Err(why)) => (Estimate::unknown(why), Estimate::unknown(why)),
            (None, _) => (unasked(), unasked()),
        };
    }
}

#[cfg(test)]
mod tests;
