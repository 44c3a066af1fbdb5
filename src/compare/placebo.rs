//! Each setup against itself: what the comparison says where nothing was changed.

use super::answer::Placebo;
use super::contrast::{Observation, Scatter, contrast};
use super::standardised::Standard;

/// Each setup with four sessions or more against itself: every other session of each day.
pub(super) fn placebos(
    standard: &Standard,
    observations: &[Observation],
    after: &[bool],
) -> Vec<Placebo> {
    let mut placebos = Vec::new();
    for side in [false, true] {
        let members: Vec<usize> = (0..after.len()).filter(|&i| after[i] == side).collect();
        if members.len() < 4 {
            continue;
        }
        let of_side: Vec<Observation> = members.iter().map(|&i| observations[i].clone()).collect();
        let second: Vec<bool> = (0..of_side.len())
            .map(|i| {
                of_side[..i]
                    .iter()
                    .filter(|o| o.day == of_side[i].day)
                    .count()
                    % 2
                    == 1
            })
            .collect();
        let Some(mut own) = contrast(&of_side, &second) else {
            continue;
        };
        let mut weights = vec![0.0; standard.joint.sessions.len()];
        for (place, &i) in members.iter().enumerate() {
            weights[i] = own.weights[place];
        }
        own.weights = weights;
        let scatter = if own.unit == standard.contrast.unit {
            standard.pooled()
        } else {
            Scatter::NONE
        };
        placebos.push(Placebo {
            split: format!(
                "{}: every second session of a day against the others",
                of_side[0].setup
            ),
            coolant_change_k: standard.change_of(&own, scatter),
        });
    }
    placebos
}
