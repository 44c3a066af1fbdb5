//! Positions in other forms than degrees as a number: with degree signs and letters of the half of
//! the globe, degrees and minutes in one number, whole parts of a degree.

use super::clock_read::sample;
use super::evidence::gps_ratio;
use super::table::Table;
use super::timeline::Timeline;
use super::written::Written;
use crate::session::{Role, UnitFrom};
use crate::warning::Warning;

const MOST_LATITUDE: f64 = 90.0;
const MOST_LONGITUDE: f64 = 180.0;
/// Metres a second of one km/h, mph, knot or m/s lie well within this.
const ANY_UNIT_M_PER_S: std::ops::Range<f64> = 0.2..1.3;

/// How latitude and longitude are written.
#[derive(Clone, Copy)]
enum Form {
    /// `ddmm.mmmm` (NMEA 0183): 4530.5 is 45 degrees and 30.5 minutes.
    DegreesMinutes,
    /// Whole numbers of so many parts of a degree.
    Parts(f64),
}

impl Form {
    fn degrees(self, value: f64) -> f64 {
        match self {
            Self::Parts(parts) => value / parts,
            Self::DegreesMinutes => {
                let whole = (value.abs() / 100.0).trunc();
                value.signum() * (whole + (value.abs() - 100.0 * whole) / 60.0)
            }
        }
    }

    fn all(self, values: &[f64]) -> Vec<f64> {
        values.iter().map(|value| self.degrees(*value)).collect()
    }

    fn words(self) -> String {
        match self {
            Self::Parts(parts) => format!("whole parts of a degree, {parts:.0} of them"),
            Self::DegreesMinutes => "degrees and minutes (`ddmm.mmmm`)".to_owned(),
        }
    }
}

/// Brings latitude and longitude to degrees where they cannot be degrees as written, with the sign
/// of a column of `N` and `S`, `E` and `W` right of each; says so.
pub(super) fn to_degrees(
    table: &Table,
    timeline: &Timeline,
    written: &mut [Written],
) -> Option<Warning> {
    let rows = &timeline.rows;
    let [lat, lon] = [Role::Latitude, Role::Longitude]
        .map(|role| written.iter().position(|column| column.role == role));
    let (lat, lon) = (lat?, lon?);
    let by_user = |at: usize| {
        written[at]
            .choice
            .unit
            .is_some_and(|(_, from)| from == UnitFrom::User)
    };
    if by_user(lat) || by_user(lon) {
        return None;
    }
    let mut forms = forms(&written[lat].sorted, &written[lon].sorted);
    if forms.len() > 1 {
        let speed = written.iter().find(|column| column.role == Role::Speed)?;
        let t_s = &timeline.t_s;
        forms.retain(|form| {
            let [lat, lon] = [lat, lon].map(|at| form.all(&written[at].values));
            let metres = gps_ratio(t_s, &speed.values, &lat, &lon);
            metres.is_some_and(|ratio| ANY_UNIT_M_PER_S.contains(&ratio))
        });
    }
    let [form] = forms[..] else {
        return None;
    };
    for (at, (positive, negative)) in [(lat, ("N", "S")), (lon, ("E", "W"))] {
        let column = &mut written[at];
        let beside = column.choice.column + 1;
        let cells = sample(table, beside);
        let is_half = |cell: &&str| {
            [positive, negative]
                .iter()
                .any(|half| cell.eq_ignore_ascii_case(half))
        };
        let halves = !cells.is_empty() && cells.iter().all(is_half);
        for (value, row) in column.values.iter_mut().zip(rows) {
            *value = form.degrees(*value);
            if halves && table.cell(*row, beside).eq_ignore_ascii_case(negative) {
                *value = -value.abs();
            }
        }
        column
            .sorted
            .iter_mut()
            .for_each(|value| *value = form.degrees(*value));
    }
    let message = format!("latitude and longitude are written in {}", form.words());
    Some(Warning::note("positions-form", message))
}

/// The forms in which positions that are no degrees can be; none where they can be degrees.
fn forms(lat: &[f64], lon: &[f64]) -> Vec<Form> {
    let most = |sorted: &[f64]| sorted.iter().fold(0.0_f64, |most, v| most.max(v.abs()));
    let (lat_most, lon_most) = (most(lat), most(lon));
    if lat_most <= MOST_LATITUDE && lon_most <= 2.0 * MOST_LONGITUDE {
        return Vec::new();
    }
    let fits = |form: &Form| {
        form.degrees(lat_most) <= MOST_LATITUDE && form.degrees(lon_most) <= MOST_LONGITUDE
    };
    let minutes = |v: &f64| v.abs() % 100.0 < 60.0;
    let whole = |v: &f64| v.fract() == 0.0;
    let mut forms = Vec::new();
    if lat.iter().all(minutes) && lon.iter().all(minutes) {
        forms.push(Form::DegreesMinutes);
    }
    if lat.iter().all(whole) && lon.iter().all(whole) {
        forms.extend([1e5, 1e6, 1e7].map(Form::Parts));
    }
    forms.retain(fits);
    forms
}

/// Degrees of a position with a degree sign or a letter of the half of the globe: `48.2085° N`,
/// `48°12'30.5"N`, `S 33 51.5`. `None`: it is none, or a plain number.
pub(super) fn position(cell: &str) -> Option<f64> {
    let cell = cell.trim();
    let half = |c: char| matches!(c.to_ascii_uppercase(), 'N' | 'S' | 'E' | 'W');
    let letter = cell.chars().find(|c| half(*c));
    let digits = cell.trim_start_matches(half).trim_end_matches(half).trim();
    let degree_sign = |c: char| matches!(c, '°' | 'º' | '˚');
    if letter.is_none() && !digits.contains(degree_sign) {
        return None;
    }
    let mark = |c: char| degree_sign(c) || matches!(c, '\'' | '′' | '’' | '"' | '″' | '”' | ' ');
    let (negative, digits) = match digits.strip_prefix(['-', '−']) {
        Some(digits) => (true, digits),
        None => (false, digits),
    };
    let parts = digits.split(mark).filter(|part| !part.is_empty());
    let parts: Option<Vec<f64>> = parts.map(figure).collect();
    let degrees = match parts?[..] {
        [degrees] => degrees,
        [degrees, minutes] if minutes < 60.0 => degrees + minutes / 60.0,
        [degrees, minutes, seconds] if minutes < 60.0 && seconds < 60.0 => {
            degrees + minutes / 60.0 + seconds / 3600.0
        }
        _ => return None,
    };
    let south_or_west = letter.is_some_and(|c| matches!(c.to_ascii_uppercase(), 'S' | 'W'));
    let sign = if negative || south_or_west { -1.0 } else { 1.0 };
    (degrees <= MOST_LONGITUDE).then_some(sign * degrees)
}

/// A number of figures and one decimal mark.
fn figure(text: &str) -> Option<f64> {
    let plain = text
        .bytes()
        .all(|b| b.is_ascii_digit() || matches!(b, b'.' | b','));
    plain.then(|| text.replace(',', ".").parse().ok()).flatten()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_form_is_taken_where_no_other_can_be_meant() {
        let degrees = |lat: f64, lon: f64| match forms(&[lat], &[lon])[..] {
            [form] => Some([form.degrees(lat), form.degrees(lon)]),
            _ => None,
        };
        assert_eq!(degrees(45.5, 9.2065), None);
        assert_eq!(degrees(4530.0, 912.39), Some([45.5, 9.2065]));
        assert_eq!(degrees(-4530.0, 912.39), Some([-45.5, 9.2065]));
        assert_eq!(degrees(455_000_000.0, 92_065_000.0), Some([45.5, 9.2065]));
        // Millionths of 45 degrees, or ten-millionths of 4.5.
        assert_eq!(degrees(45_500_000.0, 9_206_500.0), None);
    }

    #[test]
    fn positions_with_signs_and_letters_are_read() {
        for (cell, degrees) in [
            ("45.5°", Some(45.5)),
            ("45.5° N", Some(45.5)),
            ("45,5°S", Some(-45.5)),
            ("N45.5", Some(45.5)),
            ("-9.25°", Some(-9.25)),
            ("W 9° 15'", Some(-9.25)),
            ("45°30'18.0\"N", Some(45.505)),
            ("45° 30′ 18″ n", Some(45.505)),
            ("45 30.3 N", Some(45.505)),
            ("45.5", None),
            ("45°61'", None),
            ("N", None),
            ("245° N", None),
            ("SE", None),
            ("1e5 N", None),
            ("", None),
        ] {
            assert_eq!(position(cell), degrees, "{cell}");
        }
    }
}
