//! From a logger's file to a [`Session`](crate::session::Session).
//!
//! ```text
//! bytes -> unpack -> decode -> dialect -> table -> shape -> clock -> stacked -> timeline
//!                                                             \-> assign (roles) -> channel (units, clean) -> recording
//! recording + recordings of other devices -> align -> session
//! ```
//!
//! Nothing is guessed silently: whatever a file does not say is judged from its values, and a
//! warning names the evidence and the flag that overrules it.

mod align;
mod ambient_given;
mod ambient_sense;
mod assign;
mod blanks;
mod cell;
mod channel;
mod clean;
mod clock;
mod clock_dates;
mod clock_missing;
mod clock_ms;
mod clock_number;
mod clock_parts;
mod clock_read;
mod clock_steps;
mod clock_text;
mod clock_unit;
mod convert;
mod coolant_sense;
mod correlate;
mod date_order;
mod decode;
mod dialect;
mod drives_on;
mod error;
mod evidence;
mod false_readings;
mod frozen;
mod gps_week;
mod heads;
mod hints;
mod inspect;
mod lap_clock;
mod likely;
mod limit_rows;
mod long;
mod needed;
mod no_table;
mod old_encodings;
mod options;
mod own_clocks;
mod parting;
mod positions;
mod preamble;
mod profile;
mod read;
mod recording;
mod refine;
mod reordered;
mod repairs;
mod role_words;
mod roles;
mod rows;
mod second_table;
mod shape;
mod stacked;
mod starts;
mod straighten;
mod table;
mod ticks;
mod time_forms;
mod time_text;
mod timeline;
mod unit_said;
mod unit_speed;
mod unit_taken;
mod unit_text;
mod unit_values;
mod unpack;
mod whole_rows;
mod words;
mod written;

#[cfg(test)]
mod tests;

pub use ambient_given::give_ambient;
pub use ambient_sense::ambient_doubts;
pub use error::IngestError;
pub use inspect::{ChannelReport, FileReport, TimeReport, inspect, inspect_bytes};
pub use options::{MapError, MappedRole, Mapping, ReadOptions};
pub use profile::{Profile, is_rate};
pub use read::{read_session_bytes, read_sessions, read_sessions_bytes};
pub use repairs::Gap;
pub use time_text::{DateOrder, is_plausible};

use read::file_name;
