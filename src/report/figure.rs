//! Figures of a page: a chart in two widths, and how to read it.

use askama::Template;

use super::ReportError;

/// Which width a chart is drawn for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Layout {
    /// A desk or a sheet of paper.
    Wide,
    /// A phone.
    Narrow,
}

impl Layout {
    /// Width of the drawing, CSS pixels.
    pub fn width(self) -> f64 {
        match self {
            Self::Wide => 760.0,
            Self::Narrow => 356.0,
        }
    }

    /// One value for the desk, another for the phone.
    pub fn pick<T>(self, wide: T, narrow: T) -> T {
        match self {
            Self::Wide => wide,
            Self::Narrow => narrow,
        }
    }
}

/// What zoom and read-off on screen need.
#[derive(Debug, Clone)]
pub struct Zoom {
    /// The scales of the two drawings.
    pub scales: [String; 2],
    /// The values of their lines.
    pub values: String,
}

/// A chart with its title and how to read it.
#[derive(Debug, Clone, Template)]
#[template(path = "figure.html", config = "src/report/askama.toml")]
pub struct Figure {
    /// What the chart shows.
    pub title: String,
    /// The drawing for a desk.
    pub wide: String,
    /// The drawing for a phone; empty: the first one fits.
    pub narrow: String,
    /// What zoom and read-off need, where the chart has them.
    pub zoom: Option<Zoom>,
    /// How to read it; empty: said elsewhere.
    pub how_to_read: String,
}

impl Figure {
    /// A chart drawn for both widths.
    ///
    /// # Errors
    /// A drawing that failed.
    pub fn in_both_widths(
        title: impl Into<String>,
        how_to_read: impl Into<String>,
        mut draw: impl FnMut(Layout) -> Result<String, ReportError>,
    ) -> Result<Self, ReportError> {
        Ok(Self {
            title: title.into(),
            wide: draw(Layout::Wide)?,
            narrow: draw(Layout::Narrow)?,
            zoom: None,
            how_to_read: how_to_read.into(),
        })
    }
}
