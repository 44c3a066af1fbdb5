//! The charts. Each takes an answer and draws it; none computes.

pub mod channels;
pub mod curves;
pub mod face;
pub mod intervals;
pub mod trace;
pub mod values;
pub mod whiteness;

use super::canvas::Marker;
use super::ink::Ink;

/// Which of the two setups something belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Of {
    /// The setup before.
    Before,
    /// The setup after.
    After,
}

impl Of {
    /// The ink of its lines and points.
    pub fn ink(self) -> Ink {
        match self {
            Self::Before => Ink::Before,
            Self::After => Ink::After,
        }
    }

    /// The ink of its band.
    pub fn band(self) -> Ink {
        match self {
            Self::Before => Ink::BeforeBand,
            Self::After => Ink::AfterBand,
        }
    }

    /// The shape of its points.
    pub fn marker(self) -> Marker {
        match self {
            Self::Before => Marker::Disc,
            Self::After => Marker::Diamond,
        }
    }
}
