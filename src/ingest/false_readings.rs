//! Readings that stand apart from their neighbours as nothing does that a sensor measures: lone
//! spikes, and blocks of one value that it comes to and leaves in one step.

use super::clean::Removed;
use crate::quantity::Quantity;
use crate::session::Role;

/// A run of one value, first and last row.
#[derive(Clone, Copy)]
pub(super) struct Run {
    pub value: f64,
    pub first: usize,
    pub last: usize,
    rows: usize,
}

/// How a channel can move (common practice, no source).
struct Limits {
    /// A spike stands this far off both neighbours ...
    spike: f64,
    /// ... which agree within this ...
    agree: f64,
    /// ... and lasts one row, or as long as a polled value is repeated, s.
    longest_s: f64,
    /// It comes and goes faster than this a second.
    rate: f64,
}

/// A temperature does not jump by 8 K and back within one reading: metal and air are too slow.
const TEMPERATURE: Limits = Limits {
    spike: 8.0,
    agree: 4.0,
    longest_s: 3.0,
    rate: 0.0,
};

/// No car loses 40 km/h at more than 4 g, 150 km/h a second, and has them back at once.
const SPEED: Limits = Limits {
    spike: 40.0,
    agree: 25.0,
    longest_s: 1.0,
    rate: 150.0,
};

/// A block of one value stands this far off the readings before and after, K ...
const BLOCK_K: f64 = 15.0;
/// ... which agree within this, K.
const BLOCK_AGREE_K: f64 = 12.0;
/// One that lasts to the end has no reading after it: it stands off this far, K.
const LAST_BLOCK_K: f64 = 20.0;

/// Takes out lone spikes of temperatures and speeds, then blocks of temperatures.
pub(super) fn drop_false(role: Role, t_s: &[f64], values: &mut [f64], removed: &mut Removed) {
    let limits = match role.quantity() {
        Quantity::Temperature => TEMPERATURE,
        Quantity::Speed if role == Role::Speed => SPEED,
        _ => return,
    };
    let is_spike = |before: &Run, run: &Run, after: &Run| limits.is_spike(t_s, before, run, after);
    let (spikes, _) = between(t_s, values, is_spike);
    for run in &spikes {
        removed.spikes += take(run, values, removed);
    }
    if role.quantity() != Quantity::Temperature {
        return;
    }
    let is_block = |before: &Run, run: &Run, after: &Run| is_block(t_s, before, run, after);
    let (mut blocks, last) = between(t_s, values, is_block);
    // Air may come to another temperature within a reading, and a sensor in it.
    let slow = matches!(
        role,
        Role::Coolant | Role::RadiatorOut | Role::Oil | Role::Ambient
    );
    blocks.extend(last.filter(|_| slow).and_then(|[before, run]| {
        let is_last = is_last_block(t_s, &before, &run);
        is_last.then_some(run)
    }));
    // Where they are most of the readings, nobody knows which are the false ones.
    let present = values.iter().filter(|v| !v.is_nan()).count();
    if 2 * blocks.iter().map(|run| run.rows).sum::<usize>() > present {
        return;
    }
    for run in &blocks {
        removed
            .first_block
            .get_or_insert((run.value, t_s[run.first]));
        removed.blocks += take(run, values, removed);
    }
}

/// The runs that are false between the one before and the one after, and the last two.
fn between(
    t_s: &[f64],
    values: &[f64],
    is_false: impl Fn(&Run, &Run, &Run) -> bool,
) -> (Vec<Run>, Option<[Run; 2]>) {
    let (mut before, mut middle): (Option<Run>, Option<Run>) = (None, None);
    let mut found = Vec::new();
    for after in runs(t_s, values) {
        if let (Some(before), Some(run)) = (&before, &middle)
            && is_false(before, run, &after)
        {
            found.push(*run);
        }
        (before, middle) = (middle, Some(after));
    }
    (
        found,
        before.zip(middle).map(|(before, last)| [before, last]),
    )
}

/// Takes a run's readings out; how many there were.
fn take(run: &Run, values: &mut [f64], removed: &mut Removed) -> usize {
    let rows = (run.first..=run.last).zip(&mut values[run.first..=run.last]);
    let mut taken = 0;
    for (row, value) in rows.filter(|(_, value)| !value.is_nan()) {
        removed.take(row, value);
        taken += 1;
    }
    taken
}

impl Limits {
    fn is_spike(&self, t_s: &[f64], before: &Run, spike: &Run, after: &Run) -> bool {
        let steps = [spike.value - before.value, spike.value - after.value];
        let off = steps[0].abs().min(steps[1].abs());
        let brief = spike.rows == 1 || t_s[spike.last] - t_s[spike.first] <= self.longest_s;
        // A speed falls to nothing and stays there when the car stops: both steps go one way.
        let back = steps[0] * steps[1] > 0.0 || self.rate == 0.0;
        let in_s = [
            t_s[spike.first] - t_s[before.last],
            t_s[after.first] - t_s[spike.last],
        ];
        let quick = || {
            let pairs = steps.iter().zip(in_s);
            self.rate == 0.0
                || pairs
                    .into_iter()
                    .all(|(step, s)| step.abs() > self.rate * s)
        };
        // Between two faults the readings stand apart too, but there are more of them.
        off > self.spike
            && spike.rows <= before.rows.max(after.rows)
            && (before.value - after.value).abs() <= self.agree
            && brief
            && back
            && quick()
    }
}

fn is_block(t_s: &[f64], before: &Run, block: &Run, after: &Run) -> bool {
    let off = [before, after].map(|run| (block.value - run.value).abs());
    off[0].min(off[1]) > BLOCK_K
        && (before.value - after.value).abs() <= BLOCK_AGREE_K
        && t_s[block.first] - t_s[before.last] <= PAUSE_S
        && t_s[after.first] - t_s[block.last] <= PAUSE_S
}

fn is_last_block(t_s: &[f64], before: &Run, block: &Run) -> bool {
    (block.value - before.value).abs() > LAST_BLOCK_K
        && t_s[block.first] - t_s[before.last] <= PAUSE_S
        && block.rows > 1
}

/// No value is held over a pause of the logger, s.
const PAUSE_S: f64 = 5.0;

/// The runs one after another: of a long log too many to keep.
pub(super) fn runs<'a>(t_s: &'a [f64], values: &'a [f64]) -> impl Iterator<Item = Run> + 'a {
    let rows = values.iter().copied().enumerate();
    let mut present = rows.filter(|(_, value)| !value.is_nan()).peekable();
    std::iter::from_fn(move || {
        let (first, value) = present.next()?;
        let (mut last, mut rows) = (first, 1);
        let goes_on =
            |last: usize, &(at, v): &(usize, f64)| v == value && t_s[at] - t_s[last] <= PAUSE_S;
        while let Some((at, _)) = present.next_if(|next| goes_on(last, next)) {
            last = at;
            rows += 1;
        }
        Some(Run {
            value,
            first,
            last,
            rows,
        })
    })
}

#[cfg(test)]
mod tests {
    use super::super::clean::clean;
    use super::*;

    fn tenths(n: usize) -> Vec<f64> {
        (0..n).map(|i| i as f64 * 0.1).collect()
    }

    #[test]
    fn a_block_of_one_value_is_no_reading() {
        let swing = |i: usize| 90.0 + (i % 30) as f64 * 0.1;
        let t_s = tenths(9000);
        for (from, to, fault) in [(2000, 5000, 0.0), (2000, 2600, 150.0), (7000, 9000, 20.0)] {
            let mut values: Vec<f64> = (0..9000).map(swing).collect();
            values[from..to].fill(fault);
            let removed = clean(Role::Coolant, &t_s, &mut values);
            assert_eq!((removed.blocks, removed.spikes), (to - from, 0), "{fault}");
            assert_eq!(removed.first_block, Some((fault, t_s[from])));
        }
    }

    /// Between two zeros the good readings stand apart too.
    #[test]
    fn readings_between_faults_are_kept() {
        let mut values = vec![22.0; 3000];
        (0..3000).step_by(10).for_each(|row| values[row] = 0.0);
        let removed = clean(Role::Ambient, &tenths(3000), &mut values);
        assert_eq!((removed.spikes, removed.blocks), (299, 0));
    }

    #[test]
    fn what_a_sensor_can_do_is_kept() {
        let t_s = tenths(9000);
        // The first rows are not yet the air's, in whole degrees ever after.
        let mut ambient = vec![21.0; 9000];
        ambient[..40].fill(45.0);
        // Another temperature after a pause of the logger.
        let mut paused = tenths(9000);
        paused[5000..].iter_mut().for_each(|t| *t += 600.0);
        let mut cooled = vec![90.0; 9000];
        cooled[5000..].fill(50.0);
        for (t_s, values) in [(&t_s, &mut ambient), (&paused, &mut cooled)] {
            let removed = clean(Role::Coolant, t_s, values);
            assert_eq!((removed.blocks, removed.spikes), (0, 0));
        }
    }

    #[test]
    fn a_speed_that_no_car_can_have_is_taken_out() {
        let t_s: Vec<f64> = (0..900).map(|i| f64::from(i) * 0.5).collect();
        // Two seconds of stop and go, hard braking from 140 km/h, a stop.
        let true_kmh = |i: usize| match i % 90 {
            at @ 0..40 => 3.5 * at as f64,
            at @ 40..49 => 140.0 - 15.0 * (at - 40) as f64,
            _ => 0.0,
        };
        let mut sound: Vec<f64> = (0..900).map(true_kmh).collect();
        let removed = clean(Role::Speed, &t_s, &mut sound);
        assert_eq!((removed.spikes, removed.impossible), (0, 0));
        let mut faulty: Vec<f64> = (0..900).map(true_kmh).collect();
        for (row, fault) in [(35, 255.0), (215, 0.0), (303, -1.0)] {
            faulty[row] = fault;
        }
        let removed = clean(Role::Speed, &t_s, &mut faulty);
        assert_eq!((removed.spikes, removed.impossible), (2, 1));
    }
}
