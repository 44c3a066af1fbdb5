//! Which sessions a comparison rests on, and which it leaves out.

use std::collections::BTreeSet;

use super::Request;
use super::answer::{LeftOut, Side};
use super::eligible::{self, CommonSource, WhyLeftOut, common_source, hardware_differences};
use crate::estimate::prepare::Prepared;
use crate::session::{Session, SessionMeta};
use crate::warning::Warning;
use crate::words::quoted;

/// The sessions of a comparison, made ready.
pub(super) struct Gathered {
    /// The setup before: which of its sessions are used.
    pub before: Side,
    /// The setup after.
    pub after: Side,
    /// Sessions of both setups that say what the radiator can do.
    pub used: Vec<Prepared>,
    /// Those that ran on the thermostat, taken as if it had been open: a bound.
    pub regulated: Vec<Prepared>,
    /// Sessions of other setups of the same car: they lend their scatter.
    pub others: Vec<Prepared>,
    /// What was noticed on the way.
    pub warnings: Vec<Warning>,
}

impl Gathered {
    /// Sorts the sessions of the book. `lift`: sessions set aside by their owner count too.
    pub fn of(sessions: &[Session], request: &Request, lift: bool) -> Self {
        let CommonSource { source, given_up } =
            common_source(sessions.iter().filter(|s| request.compares(s)), lift);
        let source = request.assumed.heat_source.or(source);
        let scale = request.assumed.heat_scale;
        let mut warnings = Vec::new();
        if let (Some(used), Some((better, id))) = (source, given_up) {
            warnings.push(Warning::note(
                "heat-source-shared",
                format!(
                    "heat input for all sessions from {}: {id} has no {}",
                    used.label(),
                    better.label()
                ),
            ));
        }
        let mut gathered = Self {
            warnings,
            ..Self::empty(request)
        };
        let mut kept: Vec<&SessionMeta> = Vec::new();
        for session in sessions.iter().filter(|s| request.compares(s)) {
            let twin = kept.iter().find(|meta| meta.overlaps(&session.meta));
            let usable = match twin {
                Some(twin) => Err(WhyLeftOut::Overlaps(twin.label())),
                None => eligible::usable(session, source, scale, lift),
            };
            if gathered.sort(session, usable, request) {
                kept.push(&session.meta);
            }
        }
        gathered.count_days();
        let first = sessions.iter().find(|s| request.compares(s));
        gathered.others = sessions
            .iter()
            .filter(|s| !request.compares(s))
            .filter(|s| first.is_some_and(|f| f.meta.car.name == s.meta.car.name))
            .filter(|s| first.is_some_and(|f| hardware_differences(f, s).is_empty()))
            .filter_map(|s| eligible::usable(s, source, scale, lift).ok())
            .collect();
        gathered
    }

    /// No session at all.
    pub fn empty(request: &Request) -> Self {
        Self {
            before: side(&request.before),
            after: side(&request.after),
            used: Vec::new(),
            regulated: Vec::new(),
            others: Vec::new(),
            warnings: Vec::new(),
        }
    }

    /// The sessions of the joint fit: those used, then those that lend their scatter.
    pub fn fitted(&self) -> impl Iterator<Item = &Prepared> {
        self.used.iter().chain(&self.others)
    }

    /// Puts a session where it belongs; whether it is used.
    fn sort(
        &mut self,
        session: &Session,
        usable: Result<Prepared, WhyLeftOut>,
        request: &Request,
    ) -> bool {
        let id = session.meta.label();
        let side = if session.meta.setup == request.before {
            &mut self.before
        } else {
            &mut self.after
        };
        match usable {
            Ok(prepared) => {
                side.sessions.push(id);
                self.used.push(prepared);
                true
            }
            Err(why) => {
                side.left_out.push(LeftOut {
                    id,
                    why: why.to_string(),
                });
                if let WhyLeftOut::Regulated(_, mut prepared) = why {
                    prepared.opening.fill(1.0);
                    self.regulated.push(*prepared);
                }
                false
            }
        }
    }

    fn count_days(&mut self) {
        for side in [&mut self.before, &mut self.after] {
            let of_side = self.used.iter().filter(|s| s.setup == side.setup);
            side.days = of_side.map(|s| s.day).collect::<BTreeSet<_>>().len();
        }
    }

    /// Number of sessions that ran on the thermostat, before and after.
    pub fn regulated_count(&self) -> [usize; 2] {
        [&self.before, &self.after].map(|side| {
            let of_side = self.regulated.iter().filter(|s| s.setup == side.setup);
            of_side.count()
        })
    }

    /// Why there is nothing to compare, if so.
    pub fn nothing_to_compare(&self) -> Option<String> {
        let has = |side: &Side| !side.sessions.is_empty();
        let missing = match (has(&self.before), has(&self.after)) {
            (true, true) => return None,
            (false, true) => &self.before,
            (true, false) => &self.after,
            (false, false) => {
                return Some("neither setup has a session that can be assessed".to_owned());
            }
        };
        let why = missing.left_out.first().map(|l| l.why.as_str());
        Some(format!(
            "no session with {} can be assessed ({})",
            quoted(&missing.setup),
            why.unwrap_or("there is none")
        ))
    }
}

fn side(setup: &str) -> Side {
    Side {
        setup: setup.to_owned(),
        sessions: Vec::new(),
        left_out: Vec::new(),
        days: 0,
        laps: 0,
        laps_held_up: 0,
    }
}

/// Why the two setups cannot be compared at all, if they cannot.
pub(super) fn not_comparable(sessions: &[Session], request: &Request) -> Option<String> {
    if request.before == request.after {
        return Some("a setup cannot be compared with itself".to_owned());
    }
    let first = sessions.iter().find(|s| s.meta.setup == request.before)?;
    sessions
        .iter()
        .filter(|s| request.compares(s))
        .find_map(|other| different_cars(first, other))
}

fn different_cars(first: &Session, other: &Session) -> Option<String> {
    let name = |s: &Session| {
        s.meta
            .car
            .name
            .as_deref()
            .map_or_else(|| "no name".to_owned(), quoted)
    };
    if other.meta.car.name != first.meta.car.name {
        return Some(format!(
            "{} and {} are of different cars ({} and {})",
            first.meta.label(),
            other.meta.label(),
            name(first),
            name(other),
        ));
    }
    let keys = hardware_differences(first, other);
    (!keys.is_empty()).then(|| {
        format!(
            "the car sheets of {} and {} differ in {}: put what a setup changes into its setup sheet",
            first.meta.label(),
            other.meta.label(),
            keys.join(", "),
        )
    })
}
