//! Several setups against one: all are driven through one drive at one ambient, or their answers could not be held
//! against each other.

use std::collections::BTreeMap;

use super::{Comparison, Request, SessionRow, compared};
use crate::session::Session;
use crate::stats::mean;

/// Gives the requests, all with the same setup before, one ambient and one drive where none was asked for: the mean
/// ambient of all sessions that are used, and the drive of the session before with the median heat input. A request
/// that stands alone keeps its own.
pub fn in_common(sessions: &[Session], requests: &mut [Request]) {
    let asks_all = |r: &Request| r.ambient_c.is_some() && r.drive.is_some();
    if requests.len() < 2 || requests.iter().all(asks_all) {
        return;
    }
    let alone = requests.iter().map(|r| compared(sessions, r, false));
    let alone: Vec<Comparison> = alone.collect();
    let rows = alone.iter().flat_map(|c| &c.rows);
    let used: BTreeMap<&str, &SessionRow> = rows.map(|row| (row.id.as_str(), row)).collect();
    if used.is_empty() {
        return;
    }
    let ambients: Vec<f64> = used.values().map(|row| row.ambient_c).collect();
    let mut before: Vec<&SessionRow> = (used.values().copied())
        .filter(|row| row.setup == requests[0].before)
        .collect();
    before.sort_by(|a, b| a.heat_kw.total_cmp(&b.heat_kw));
    let driven = before.get(before.len().saturating_sub(1) / 2);
    for request in requests {
        request.ambient_c.get_or_insert(mean(&ambients).round());
        if let Some(row) = driven.filter(|_| request.drive.is_none()) {
            request.drive = Some(row.id.clone());
            request.drive_in_common = true;
        }
    }
}
