//! The stack against textbooks, limits and symmetries.

mod answers;
mod claim;
mod exact;
mod limits;
