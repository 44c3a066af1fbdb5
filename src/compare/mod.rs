//! Before against after.

mod answer;

pub use answer::{
    Balance, Borrowed, Comparison, Curves, Effect, LeftOut, Matched, Placebo, Reference,
    SessionRow, Side, Verdict, WhatItWouldTake,
};
