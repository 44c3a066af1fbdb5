//! Intervals of a stack's answers from the intervals of its inputs.
//!
//! `up² = Σ_i max(d_i,low, d_i,high, 0)²`, `down²` with the minimum: d the change of an answer when
//! input i goes to one end of its 95 % interval and the others stay. That is the linear law of
//! propagation (JCGM 100:2008, 5.1.2, with each contribution taken at the ends of the interval, as its
//! 5.1.3 note 2 allows) with uneven sides kept. Assumes independent inputs. An input that a what-if
//! leaves alone moves in all stacks at once, so that what they share cancels in their difference.

use rayon::prelude::*;

use super::compute::{Computed, compute};
use super::read::Stack;
use super::sheet::{Input, Sheet};
use crate::stats::Estimate;

/// Cells along an edge where only the effect of an input is sought: that is a difference of two
/// computations on one grid, in which the grid's own error cancels to first order.
const CELLS: usize = 10;

/// How an interval was made, in words.
const METHOD: &str =
    "computed; inputs to the ends of their intervals one at a time, root of the sum of squares";

/// The same where there is nothing to take an interval from.
const NO_INTERVALS: &str =
    "computed; no input carries an interval, so there is nothing to widen the figure";

/// The stacks computed with every uncertain input at its ends.
#[derive(Debug)]
pub struct Spread {
    nominal: Vec<Result<Computed, String>>,
    moved: Vec<Moved>,
}

/// One input at its ends.
#[derive(Debug)]
struct Moved {
    input: String,
    ends: [Vec<Result<Computed, String>>; 2],
}

/// What an input does to an answer when it goes to its ends.
#[derive(Debug, Clone, PartialEq)]
pub struct Influence {
    /// The input's path; with the what-if's name where it is that what-if's own.
    pub input: String,
    /// Change of the answer with the input at its lower end.
    pub at_low: f64,
    /// The same at its upper end.
    pub at_high: f64,
}

impl Influence {
    /// How much it matters.
    pub fn size(&self) -> f64 {
        self.at_low.abs().max(self.at_high.abs())
    }
}

impl Spread {
    /// Computes all of it.
    pub fn of(stack: &Stack, coolant_c: Option<f64>) -> Self {
        let moved = uncertain(stack)
            .into_par_iter()
            .map(|uncertain| Moved {
                ends: uncertain
                    .ends(stack)
                    .map(|moved| computed(&moved, coolant_c)),
                input: uncertain.label,
            })
            .collect();
        Self {
            nominal: computed(stack, coolant_c),
            moved,
        }
    }

    /// What each input does to an answer, the weightiest first. `None`: the answer does not exist with
    /// some input at its end.
    pub fn influences(
        &self,
        answer: impl Fn(&[&Computed]) -> Option<f64>,
    ) -> Option<Vec<Influence>> {
        let of = |all: &[Result<Computed, String>]| {
            let sound: Option<Vec<&Computed>> = all.iter().map(|c| c.as_ref().ok()).collect();
            answer(&sound?)
        };
        let nominal = of(&self.nominal)?;
        let mut influences = Vec::new();
        for moved in &self.moved {
            let [low, high] = &moved.ends;
            influences.push(Influence {
                input: moved.input.clone(),
                at_low: of(low)? - nominal,
                at_high: of(high)? - nominal,
            });
        }
        influences.sort_by(|a, b| b.size().total_cmp(&a.size()));
        Some(influences)
    }

    /// An answer whose value is known from a finer grid, with its interval.
    pub fn estimate(&self, value: f64, answer: impl Fn(&[&Computed]) -> Option<f64>) -> Estimate {
        let Some(influences) = self.influences(answer) else {
            return Estimate::unknown(
                "with an input at an end of its interval there is no settled state: narrow the intervals",
            );
        };
        let side = |pick: fn(f64, f64) -> f64| {
            let squares = influences
                .iter()
                .map(|i| pick(pick(i.at_low, i.at_high), 0.0).powi(2));
            squares.sum::<f64>().sqrt()
        };
        let (up, down) = (side(f64::max), side(f64::min));
        let method = if influences.is_empty() {
            NO_INTERVALS
        } else {
            METHOD
        };
        Estimate::between(value, value - down, value + up, method)
    }

    /// The value itself, on the grid of the spread. For answers of which many are wanted.
    pub fn value(&self, answer: impl Fn(&[&Computed]) -> Option<f64>) -> Option<f64> {
        let sound: Option<Vec<&Computed>> = self.nominal.iter().map(|c| c.as_ref().ok()).collect();
        answer(&sound?)
    }
}

fn computed(stack: &Stack, coolant_c: Option<f64>) -> Vec<Result<Computed, String>> {
    stack
        .all()
        .map(|sheet| compute(sheet, &stack.base, coolant_c, CELLS))
        .collect()
}

/// An uncertain input and the stacks that it moves in.
struct Uncertain {
    label: String,
    path: String,
    input: Input,
    stacks: Vec<usize>,
}

impl Uncertain {
    /// The stacks with the input at its lower and at its upper end.
    fn ends(&self, stack: &Stack) -> [Stack; 2] {
        [self.input.low, self.input.high].map(|end| {
            let mut moved = stack.clone();
            for (index, sheet) in moved.all_mut().enumerate() {
                if self.stacks.contains(&index) {
                    sheet.inputs.insert(self.path.clone(), Input::exact(end));
                }
            }
            moved
        })
    }
}

/// Every uncertain input that matters.
fn uncertain(stack: &Stack) -> Vec<Uncertain> {
    let sheets: Vec<&Sheet> = stack.all().collect();
    let mut found: Vec<Uncertain> = Vec::new();
    for (index, sheet) in sheets.iter().enumerate() {
        for (path, input) in sheet
            .inputs
            .iter()
            .filter(|(path, input)| input.is_uncertain() && sheet.matters(path))
        {
            let shared = found
                .iter_mut()
                .find(|u| u.path == *path && u.input == *input);
            match shared {
                // Only the stack's own inputs are shared: two what-ifs are two parts.
                Some(known) if known.stacks.contains(&0) => known.stacks.push(index),
                _ => found.push(Uncertain {
                    label: match index {
                        0 => path.clone(),
                        _ => format!("{path} of {}", sheet.name),
                    },
                    path: path.clone(),
                    input: *input,
                    stacks: vec![index],
                }),
            }
        }
    }
    found
}
