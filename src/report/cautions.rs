//! What every page says about hot coolant and about its own limits.

/// The cautions, most urgent first.
pub const CAUTIONS: &[&str] = &[
    "Hot coolant is under pressure and scalds. Never open a cap on a hot system: let it cool first.",
    "Radiator fans can start by themselves, engine off or not. Keep hands and clothing clear of them.",
    "Read logs in the pits, never while driving.",
    "The limits on these pages are figures to compare a log with. They do not protect an engine.",
    "The car maker's limits, the rules of the event and the judgement of qualified people go first.",
];
