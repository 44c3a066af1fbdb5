//! The invented circuit: 3.4 km, eight corners, right-handed.

/// One piece of track.
struct Segment {
    length_m: f64,
    /// Speed that the corner allows at pace 1; `None`: a straight.
    corner_kmh: Option<f64>,
    /// Change of heading, degrees, right positive.
    turn_deg: f64,
}

const fn straight(length_m: f64) -> Segment {
    Segment {
        length_m,
        corner_kmh: None,
        turn_deg: 0.0,
    }
}

const fn corner(length_m: f64, kmh: f64, turn_deg: f64) -> Segment {
    Segment {
        length_m,
        corner_kmh: Some(kmh),
        turn_deg,
    }
}

const SEGMENTS: [Segment; 16] = [
    straight(620.0),
    corner(120.0, 102.0, 95.0),
    straight(180.0),
    corner(110.0, 118.0, -60.0),
    straight(330.0),
    corner(90.0, 67.0, 150.0),
    straight(420.0),
    corner(140.0, 134.0, 70.0),
    straight(160.0),
    corner(100.0, 95.0, -85.0),
    straight(260.0),
    corner(130.0, 113.0, 100.0),
    straight(240.0),
    corner(100.0, 127.0, -50.0),
    straight(180.0),
    corner(220.0, 105.0, 140.0),
];

/// Heading of the main straight, degrees from north.
const FIRST_HEADING_DEG: f64 = 62.0;

/// Spacing of the points along the track, m.
pub const STEP_M: f64 = 5.0;

/// Speed that no segment exceeds, m/s.
const NO_LIMIT_MS: f64 = 90.0;

/// The circuit as points every [`STEP_M`].
pub struct Circuit {
    /// Speed that each point allows at pace 1, m/s.
    pub limit_ms: Vec<f64>,
    /// Heading at each point, degrees from north, 0 to 360.
    pub heading_deg: Vec<f64>,
}

impl Circuit {
    /// The one circuit there is.
    pub fn new() -> Self {
        let mut limit_ms = Vec::new();
        let mut heading_deg = Vec::new();
        let mut heading = FIRST_HEADING_DEG;
        for segment in &SEGMENTS {
            let points = (segment.length_m / STEP_M).round() as usize;
            let limit = segment.corner_kmh.map_or(NO_LIMIT_MS, |kmh| kmh / 3.6);
            for i in 0..points {
                limit_ms.push(limit);
                let done = (i as f64 + 0.5) / points as f64;
                heading_deg.push((heading + segment.turn_deg * done).rem_euclid(360.0));
            }
            heading += segment.turn_deg;
        }
        Self {
            limit_ms,
            heading_deg,
        }
    }

    /// Number of points.
    pub fn points(&self) -> usize {
        self.limit_ms.len()
    }

    /// Length of a lap, m.
    pub fn length_m(&self) -> f64 {
        self.points() as f64 * STEP_M
    }
}
