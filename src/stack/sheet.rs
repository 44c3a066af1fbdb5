//! A stack as its sheet describes it: exchangers from front to back, and figures with intervals.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::car::CarSheet;

use super::keys::assumed;

/// A figure with the interval that its owner gives it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Input {
    /// The figure.
    pub value: f64,
    /// Lower end of its 95 % interval.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

impl Input {
    /// A figure without an interval.
    pub fn exact(value: f64) -> Self {
        Self::spread(value, value, value)
    }

    /// A figure with its interval.
    pub fn spread(value: f64, low: f64, high: f64) -> Self {
        Self { value, low, high }
    }

    /// Whether it has an interval.
    pub fn is_uncertain(&self) -> bool {
        self.low < self.value || self.value < self.high
    }
}

/// What an exchanger cools; each kind at most once in a stack.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// Compressed air on its way to the engine.
    ChargeAirCooler,
    /// Refrigerant of the air conditioning, at one temperature.
    Condenser,
    /// Coolant of the engine.
    Radiator,
    /// Oil.
    OilCooler,
}

impl Kind {
    /// Every kind, with its name in sheets.
    pub const NAMES: [(&'static str, Kind); 4] = [
        ("charge-air cooler", Kind::ChargeAirCooler),
        ("condenser", Kind::Condenser),
        ("radiator", Kind::Radiator),
        ("oil cooler", Kind::OilCooler),
    ];

    /// The temperature that is watched, in words.
    pub fn watched(self) -> &'static str {
        match self {
            Self::ChargeAirCooler => "charge air to the engine",
            Self::Condenser => "condensing temperature",
            Self::Radiator => "settled coolant",
            Self::OilCooler => "settled oil",
        }
    }

    /// The fluid in it, in a word or two.
    pub fn fluid(self) -> &'static str {
        match self {
            Self::ChargeAirCooler => "charge air",
            Self::Condenser => "refrigerant",
            Self::Radiator => "coolant",
            Self::OilCooler => "oil",
        }
    }

    /// What is assumed of an exchanger of this kind: conductance for a square metre of face at the
    /// stack's face speed, resistance over a radiator's, flow, mixing of the air behind it.
    pub(super) fn assumed(self) -> Vec<(&'static str, Input)> {
        let (ua, resistance, flow) = match self {
            Self::ChargeAirCooler => ((4000.0, 2500.0, 6000.0), (0.8, 0.4, 1.2), None),
            Self::Condenser => ((7000.0, 5000.0, 9000.0), (0.5, 0.3, 0.8), None),
            Self::Radiator => (
                (9000.0, 6000.0, 13_000.0),
                (1.0, 0.8, 1.3),
                Some((1.9, 1.4, 2.4)),
            ),
            Self::OilCooler => (
                (5000.0, 3000.0, 8000.0),
                (1.0, 0.6, 1.5),
                Some((0.35, 0.2, 0.5)),
            ),
        };
        let spread = |(value, low, high)| Input::spread(value, low, high);
        let mut inputs = vec![
            ("ua_w_per_m2_k", spread(ua)),
            ("air_exponent", Input::spread(0.45, 0.3, 0.6)),
            ("resistance", spread(resistance)),
            ("mixing", Input::exact(0.0)),
        ];
        inputs.extend(flow.map(|f| ("flow_l_s", spread(f))));
        inputs
    }
}

/// Which way the fluid goes in its first pass, seen from in front.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Flow {
    /// In on the left.
    LeftToRight,
    /// In on the right.
    RightToLeft,
    /// In at the top.
    TopToBottom,
    /// In at the bottom.
    BottomToTop,
}

impl Flow {
    /// Every way, with its name in sheets.
    pub const NAMES: [(&'static str, Flow); 4] = [
        ("left to right", Flow::LeftToRight),
        ("right to left", Flow::RightToLeft),
        ("top to bottom", Flow::TopToBottom),
        ("bottom to top", Flow::BottomToTop),
    ];

    /// Whether the tubes lie level.
    pub fn is_level(self) -> bool {
        matches!(self, Self::LeftToRight | Self::RightToLeft)
    }
}

/// Where the first of several passes lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum First {
    /// At the top, where tubes lie level; on the left, where they stand.
    TopOrLeft,
    /// At the bottom, or on the right.
    BottomOrRight,
}

impl First {
    /// The names in sheets.
    pub const NAMES: [(&'static str, First); 4] = [
        ("top", First::TopOrLeft),
        ("left", First::TopOrLeft),
        ("bottom", First::BottomOrRight),
        ("right", First::BottomOrRight),
    ];
}

/// What of the face an exchanger covers, in shares of the face: from the left, from the bottom.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Cover {
    /// Left edge.
    pub left: f64,
    /// Right edge.
    pub right: f64,
    /// Lower edge.
    pub bottom: f64,
    /// Upper edge.
    pub top: f64,
}

impl Cover {
    /// Share of the face.
    pub fn share(&self) -> f64 {
        (self.right - self.left) * (self.top - self.bottom)
    }
}

/// One exchanger.
#[derive(Debug, Clone, PartialEq)]
pub struct Exchanger {
    /// Its name in the sheet.
    pub name: String,
    /// What it cools.
    pub kind: Kind,
    /// Where it sits.
    pub cover: Cover,
    /// Which way its fluid goes first.
    pub flow: Flow,
    /// How often the fluid crosses.
    pub passes: usize,
    /// Where it crosses first.
    pub first: First,
    /// Rows of tubes in the depth whose fluid does not mix.
    pub tube_rows: usize,
    /// Whether it is there at all.
    pub fitted: bool,
}

impl Exchanger {
    /// An exchanger over the whole face, one pass from left to right.
    pub fn new(name: &str, kind: Kind) -> Self {
        Self {
            name: name.to_owned(),
            kind,
            cover: Cover {
                left: 0.0,
                right: 1.0,
                bottom: 0.0,
                top: 1.0,
            },
            flow: Flow::LeftToRight,
            passes: 1,
            first: First::TopOrLeft,
            tube_rows: 1,
            fitted: true,
        }
    }

    /// The way of its fluid, in words.
    pub fn way(&self) -> String {
        let names = Flow::NAMES.iter().find(|(_, flow)| *flow == self.flow);
        let way = names.map_or("", |(name, _)| name);
        match self.passes {
            1 => way.to_owned(),
            n => format!("{way}, {n} passes"),
        }
    }

    /// The passes, first to last, each between two points across the tubes (from the top, or from the
    /// left).
    pub fn pass_edges(&self) -> Vec<(f64, f64)> {
        let (from, to) = if self.flow.is_level() {
            (1.0 - self.cover.top, 1.0 - self.cover.bottom)
        } else {
            (self.cover.left, self.cover.right)
        };
        let edge = |i: usize| from + (to - from) * i as f64 / self.passes as f64;
        let mut edges: Vec<(f64, f64)> = (0..self.passes).map(|i| (edge(i), edge(i + 1))).collect();
        if self.first == First::BottomOrRight {
            edges.reverse();
        }
        edges
    }
}

/// A stack and where it is computed.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// Its name: for the stack itself the setup, for a what-if what is changed.
    pub name: String,
    /// The exchangers, front to back.
    pub exchangers: Vec<Exchanger>,
    /// Relative speed of the air over the face, rows from the top; empty: even.
    pub profile: Vec<Vec<f64>>,
    /// Every figure, by its path: `air.leakage`, `radiator.flow_l_s`.
    pub inputs: BTreeMap<String, Input>,
    /// Paths whose figure nobody gave.
    pub assumed: Vec<String>,
}

impl Sheet {
    /// A stack without exchangers, everything assumed.
    pub fn empty(car: &CarSheet) -> Self {
        let assumed = assumed(car);
        let from_car = |path: &str| match path {
            "heat.glycol_volume_percent" => car.glycol_volume_percent.is_some(),
            "at.altitude_m" => car.altitude_m.is_some(),
            _ => false,
        };
        Self {
            name: "before".to_owned(),
            exchangers: Vec::new(),
            profile: Vec::new(),
            assumed: assumed
                .iter()
                .map(|(path, _)| (*path).to_owned())
                .filter(|path| !from_car(path))
                .collect(),
            inputs: assumed
                .into_iter()
                .map(|(path, input)| (path.to_owned(), input))
                .collect(),
        }
    }

    /// The value of a figure that every stack has.
    pub fn value(&self, path: &str) -> f64 {
        self.inputs.get(path).map_or(f64::NAN, |input| input.value)
    }

    /// The value of a figure of an exchanger. `NaN`: it has none.
    pub fn of(&self, exchanger: &Exchanger, key: &str) -> f64 {
        self.value(&format!("{}.{key}", exchanger.name))
    }

    /// Sets a figure, as given.
    pub fn give(&mut self, path: &str, input: Input) {
        self.inputs.insert(path.to_owned(), input);
        self.assumed.retain(|known| known != path);
    }

    /// Adds an exchanger behind the others, its figures assumed.
    pub fn add(&mut self, exchanger: Exchanger) {
        for (key, input) in exchanger.kind.assumed() {
            let path = format!("{}.{key}", exchanger.name);
            self.inputs.insert(path.clone(), input);
            self.assumed.push(path);
        }
        let face_speed = Input::exact(self.value("air.face_speed_ms"));
        self.inputs.insert(
            format!("{}.ua_at_face_speed_ms", exchanger.name),
            face_speed,
        );
        self.exchangers.push(exchanger);
    }

    /// The exchangers that are fitted, front to back.
    pub fn fitted(&self) -> impl Iterator<Item = &Exchanger> {
        self.exchangers.iter().filter(|e| e.fitted)
    }

    /// The exchanger of a kind, if it is fitted.
    pub fn find(&self, kind: Kind) -> Option<&Exchanger> {
        self.fitted().find(|e| e.kind == kind)
    }

    /// Paths that matter: of the air, the working point and the exchangers that are fitted.
    pub fn matters(&self, path: &str) -> bool {
        let kind = |kind| self.find(kind).is_some();
        match path {
            "heat.coolant_kw" | "heat.glycol_volume_percent" => kind(Kind::Radiator),
            "heat.oil_kw" => kind(Kind::OilCooler),
            "heat.charge_kg_s" | "heat.charge_rise_k" => kind(Kind::ChargeAirCooler),
            "heat.condenser_kw" => kind(Kind::Condenser),
            _ if path.starts_with("air.") || path.starts_with("at.") => true,
            _ => self.fitted().any(|e| {
                path.strip_prefix(&e.name)
                    .is_some_and(|rest| rest.starts_with('.'))
            }),
        }
    }
}
