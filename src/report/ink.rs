//! Inks: what a mark in a chart means, told apart by style sheet, not by the drawing.
//!
//! The drawing library writes colours as numbers. Each ink has a number of its own, and
//! [`restyle`] turns it into a class, so that the style sheet can colour the same drawing for
//! light, dark and paper, and dash the lines that must not differ by colour alone.

use std::fmt::Write as _;

use plotters::style::RGBColor;

macro_rules! inks {
    ($( $variant:ident, $class:literal; )*) => {
        /// The meaning of a mark.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub enum Ink {
            $( #[doc = $class] $variant, )*
        }

        impl Ink {
            const ALL: &'static [Ink] = &[$(Ink::$variant),*];

            /// The class that the style sheet knows it by.
            pub fn class(self) -> &'static str {
                match self { $(Ink::$variant => $class,)* }
            }
        }
    };
}

inks! {
    Text, "text";
    Muted, "muted";
    Strong, "strong";
    Axis, "axis";
    Grid, "grid";
    Zero, "zero";
    Zone, "zone";
    Paper, "paper";
    Before, "before";
    After, "after";
    BeforeBand, "before-band";
    AfterBand, "after-band";
    Limit, "limit";
    LimitZone, "limit-zone";
    Truth, "truth";
    Answer, "answer";
    Second, "second";
    Measured, "measured";
    Model, "model";
    Residual, "residual";
    Stint, "stint";
    Cold, "cold";
    Regulating, "regulating";
    Open, "open";
    Slow, "slow";
    Standing, "standing";
    Soak, "soak";
    Gap, "gap";
    Heat0, "heat-0";
    Heat1, "heat-1";
    Heat2, "heat-2";
    Heat3, "heat-3";
    Heat4, "heat-4";
    Heat5, "heat-5";
    Heat6, "heat-6";
    Heat7, "heat-7";
    Heat8, "heat-8";
    Heat9, "heat-9";
    Hatch, "hatch";
    OnDark, "on-dark";
    OnLight, "on-light";
    Alone, "alone";
    AloneBand, "alone-band";
}

const HIGH: u8 = 0xFA;
const MIDDLE: u8 = 0xCE;

impl Ink {
    /// The number it is drawn with.
    pub fn placeholder(self) -> RGBColor {
        RGBColor(HIGH, MIDDLE, self as u8)
    }

    fn of_placeholder(value: &str) -> Option<Ink> {
        let number = value.strip_prefix("#FACE")?;
        let index = u8::from_str_radix(number, 16).ok()?;
        Ink::ALL.get(usize::from(index)).copied()
    }
}

/// The drawing with classes for colours, relative paths for lines, and a text for those who
/// cannot see it.
pub fn restyle(svg: &str, alt: &str) -> String {
    let mut out = String::with_capacity(svg.len());
    // Letters come after all marks, or a line drawn later would run through them and their halo.
    let mut letters = String::new();
    for piece in svg.split('<').skip(1) {
        let (tag, text) = piece.split_once('>').unwrap_or((piece, ""));
        if tag == "/svg" {
            out.push_str(&letters);
        }
        let is_text = tag.starts_with("text ") || tag == "/text";
        let to = if is_text { &mut letters } else { &mut out };
        if let Some(name) = tag.strip_prefix('/') {
            let _ = write!(to, "</{name}>");
        } else {
            open_tag(to, tag, alt);
        }
        to.push_str(text.trim());
    }
    out
}

fn open_tag(out: &mut String, tag: &str, alt: &str) {
    let (tag, close) = match tag.strip_suffix('/') {
        Some(tag) => (tag, "/>"),
        None => (tag, ">"),
    };
    let (name, rest) = tag.split_once(' ').unwrap_or((tag, ""));
    let attributes = attributes(rest);
    let is_line = name == "polyline";
    let _ = write!(out, "<{}", if is_line { "path" } else { name });
    if name == "svg" {
        let alt = escaped(alt);
        let _ = write!(out, " class=\"chart\" role=\"img\" aria-label=\"{alt}\"");
    }
    for (key, value) in attributes {
        match (key, Ink::of_placeholder(value)) {
            ("fill", Some(ink)) if name == "text" => write_class(out, 't', ink),
            ("fill", Some(ink)) => write_class(out, 'f', ink),
            ("stroke", Some(ink)) => write_class(out, 's', ink),
            ("points", _) if is_line => {
                let _ = write!(out, " d=\"{}\"", relative_path(value));
            }
            ("text-anchor", _) if value == "start" => {}
            ("fill" | "stroke" | "opacity" | "stroke-width" | "font-family" | "font-size", _) => {}
            ("width" | "height", _) if name == "svg" => {}
            _ => {
                let _ = write!(out, " {key}=\"{}\"", value.trim());
            }
        }
    }
    out.push_str(close);
}

fn write_class(out: &mut String, kind: char, ink: Ink) {
    let _ = write!(out, " class=\"{kind}-{}\"", ink.class());
}

/// `key="value"` pairs; the drawing library escapes quotes inside values.
fn attributes(text: &str) -> Vec<(&str, &str)> {
    let mut out = Vec::new();
    let mut rest = text;
    while let Some((key, after)) = rest.split_once("=\"") {
        let Some((value, next)) = after.split_once('"') else {
            break;
        };
        out.push((key.trim(), value));
        rest = next;
    }
    out
}

/// `"10,20 12,20 11,25 "` as `"M10 20l2 0-1 5"`: half the bytes.
fn relative_path(points: &str) -> String {
    let mut out = String::new();
    let mut last: Option<(i64, i64)> = None;
    for point in points.split_whitespace() {
        let Some((x, y)) = point.split_once(',') else {
            continue;
        };
        let (Ok(x), Ok(y)) = (x.parse::<i64>(), y.parse::<i64>()) else {
            continue;
        };
        match last {
            None => {
                let _ = write!(out, "M{x} {y}l");
            }
            Some((x0, y0)) => {
                push_number(&mut out, x - x0);
                push_number(&mut out, y - y0);
            }
        }
        last = Some((x, y));
    }
    out
}

fn push_number(out: &mut String, number: i64) {
    if number >= 0 && !out.ends_with('l') {
        out.push(' ');
    }
    let _ = write!(out, "{number}");
}

/// Text made harmless inside an attribute.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn colours_become_classes() {
        let drawn = format!(
            "<svg width=\"10\" height=\"5\" viewBox=\"0 0 10 5\" xmlns=\"http://www.w3.org/2000/svg\">\n\
             <polyline fill=\"none\" opacity=\"1\" stroke=\"#FACE{:02X}\" stroke-width=\"1\" points=\"1,2 3,1 2,4 \"/>\n\
             <text x=\"1\" y=\"2\" dy=\"0.5ex\" text-anchor=\"end\" fill=\"#FACE00\">\na &lt; b\n</text>\n</svg>\n",
            Ink::After as u8
        );
        assert_eq!(
            restyle(&drawn, "a \"b\""),
            "<svg class=\"chart\" role=\"img\" aria-label=\"a &quot;b&quot;\" viewBox=\"0 0 10 5\" \
             xmlns=\"http://www.w3.org/2000/svg\"><path class=\"s-after\" d=\"M1 2l2-1-1 3\"/>\
             <text x=\"1\" y=\"2\" dy=\"0.5ex\" text-anchor=\"end\" class=\"t-text\">a &lt; b</text></svg>"
        );
    }

    /// A line drawn after a label ran through it.
    #[test]
    fn letters_come_after_all_marks() {
        let drawn = "<svg>\n<text x=\"1\">\na\n</text>\n<line x1=\"1\"/>\n</svg>\n";
        let styled = restyle(drawn, "");
        assert!(
            styled.ends_with("<line x1=\"1\"/><text x=\"1\">a</text></svg>"),
            "{styled}"
        );
    }

    #[test]
    fn every_ink_has_its_own_number_and_rule() {
        let style = include_str!("templates/style.css");
        for &ink in Ink::ALL {
            let RGBColor(_, _, number) = ink.placeholder();
            assert_eq!(
                Ink::of_placeholder(&format!("#FACE{number:02X}")),
                Some(ink)
            );
            let used = ['t', 'f', 's']
                .iter()
                .any(|kind| style.contains(&format!(".{kind}-{}", ink.class())));
            assert!(used, "no rule for {}", ink.class());
        }
    }
}
