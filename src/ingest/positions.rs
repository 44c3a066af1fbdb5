//! Positions in other forms than degrees: degrees and minutes in one number, whole ten-millionths.

use super::clock_read::sample;
use super::table::Table;
use super::written::Written;
use crate::session::{Role, UnitFrom};
use crate::warning::Warning;

const MOST_LATITUDE: f64 = 90.0;
const MOST_LONGITUDE: f64 = 180.0;

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
    rows: &[usize],
    written: &mut [Written],
) -> Option<Warning> {
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
    let form = form_of(&written[lat].sorted, &written[lon].sorted)?;
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

/// The form in which positions that are no degrees are, where only one can be meant.
fn form_of(lat: &[f64], lon: &[f64]) -> Option<Form> {
    let most = |sorted: &[f64]| sorted.iter().fold(0.0_f64, |most, v| most.max(v.abs()));
    let (lat_most, lon_most) = (most(lat), most(lon));
    if lat_most <= MOST_LATITUDE && lon_most <= 2.0 * MOST_LONGITUDE {
        return None;
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
    match forms[..] {
        [only] => Some(only),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_form_is_taken_where_no_other_can_be_meant() {
        let degrees = |lat: f64, lon: f64| {
            let form = form_of(&[lat], &[lon])?;
            Some([form.degrees(lat), form.degrees(lon)])
        };
        assert_eq!(degrees(45.5, 9.2065), None);
        assert_eq!(degrees(4530.0, 912.39), Some([45.5, 9.2065]));
        assert_eq!(degrees(-4530.0, 912.39), Some([-45.5, 9.2065]));
        assert_eq!(degrees(455_000_000.0, 92_065_000.0), Some([45.5, 9.2065]));
        // Millionths of 45 degrees, or ten-millionths of 4.5.
        assert_eq!(degrees(45_500_000.0, 9_206_500.0), None);
    }
}
