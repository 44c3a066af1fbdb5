//! A strict enough reading of a page: every element closed in order, ids used once, every chart
//! with a text, every table header with a scope.

use std::collections::BTreeSet;

const VOID: [&str; 2] = ["meta", "br"];

/// Reads the page; the error names the first thing amiss.
pub fn check(page: &str) -> Result<(), String> {
    let page = page.strip_prefix("<!DOCTYPE html>").ok_or("no doctype")?;
    // A script is no markup.
    let (before, script) = page.split_once("<script>").unwrap_or((page, ""));
    let after = script
        .split_once("</script>")
        .map_or("", |(_, after)| after);
    let page = &format!("{before}{after}");
    let mut open: Vec<&str> = Vec::new();
    let mut ids = BTreeSet::new();
    for piece in page.split('<').skip(1) {
        let (tag, text) = piece
            .split_once('>')
            .ok_or_else(|| format!("`<{piece:.40}` never ends"))?;
        if text.contains('>') && open.last() != Some(&"style") && !tag.starts_with("style") {
            return Err(format!("a bare `>` after <{tag}>"));
        }
        if let Some(name) = tag.strip_prefix('/') {
            let expected = open.pop();
            if expected != Some(name) {
                return Err(format!("</{name}> closes {expected:?}"));
            }
            continue;
        }
        let name = tag.split([' ', '/']).next().unwrap_or_default();
        inspect(name, tag, &mut ids)?;
        if !tag.ends_with('/') && !VOID.contains(&name) {
            open.push(name);
        }
    }
    if open.is_empty() {
        Ok(())
    } else {
        Err(format!("left open: {open:?}"))
    }
}

fn inspect(name: &str, tag: &str, ids: &mut BTreeSet<String>) -> Result<(), String> {
    if name == "svg" && !(tag.contains("role=\"img\"") && tag.contains("aria-label=\"")) {
        return Err("a chart without a text".into());
    }
    if name == "th" && !tag.contains("scope=") {
        return Err("a table header without scope".into());
    }
    if let Some((_, after)) = tag.split_once(" id=\"") {
        let id = after.split('"').next().unwrap_or_default().to_owned();
        if !ids.insert(id.clone()) {
            return Err(format!("id {id} used twice"));
        }
    }
    Ok(())
}

/// A label of a chart with the room it takes, in drawing units.
struct Label {
    text: String,
    left: f64,
    right: f64,
    y: f64,
}

/// Pairs of labels of one chart that lie on one another, and labels that leave their chart.
pub fn crowded_labels(page: &str) -> Vec<String> {
    let mut out = Vec::new();
    for chart in page.split("<svg").skip(1) {
        let chart = chart.split("</svg>").next().unwrap_or_default();
        let size = attribute(chart, "viewBox").unwrap_or_default();
        let width: f64 = size
            .split(' ')
            .nth(2)
            .and_then(|w| w.parse().ok())
            .unwrap_or(0.0);
        let labels: Vec<Label> = chart.split("<text").skip(1).filter_map(label).collect();
        for (i, a) in labels.iter().enumerate() {
            if a.left < -2.0 || a.right > width + 2.0 {
                out.push(format!("`{}` leaves the chart", a.text));
            }
            for b in &labels[i + 1..] {
                if a.left < b.right && b.left < a.right && (a.y - b.y).abs() < 20.0 {
                    out.push(format!("`{}` on `{}`", a.text, b.text));
                }
            }
        }
    }
    out
}

fn attribute<'a>(tag: &'a str, name: &str) -> Option<&'a str> {
    tag.split_once(&format!(" {name}=\""))?.1.split('"').next()
}

fn label(piece: &str) -> Option<Label> {
    let (tag, rest) = piece.split_once('>')?;
    let text = rest.split('<').next()?.replace("&apos;", "'");
    let x: f64 = attribute(tag, "x")?.parse().ok()?;
    let y: f64 = attribute(tag, "y")?.parse().ok()?;
    // Half an em a character: 24 units is the size of the text.
    let width = text.chars().count() as f64 * 12.0;
    let left = match attribute(tag, "text-anchor") {
        Some("middle") => x - width / 2.0,
        Some("end") => x - width,
        _ => x,
    };
    Some(Label {
        text,
        left,
        right: left + width,
        y,
    })
}

#[test]
fn the_check_sees_what_it_looks_for() {
    let two = "<svg viewBox=\"0 0 200 100\"><text x=\"10\" y=\"20\">one</text>\
               <text x=\"60\" y=\"30\" text-anchor=\"end\">two</text></svg>";
    assert_eq!(crowded_labels(two), ["`one` on `two`"]);
    let out = "<svg viewBox=\"0 0 20 100\"><text x=\"10\" y=\"20\">one</text></svg>";
    assert_eq!(crowded_labels(out), ["`one` leaves the chart"]);
    assert!(check("<!DOCTYPE html><p><b></p></b>").is_err());
    assert!(check("<!DOCTYPE html><th>a</th>").is_err());
}
