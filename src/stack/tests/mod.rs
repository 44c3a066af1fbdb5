//! The stack against textbooks, limits and symmetries.

mod exact;
mod limits;
