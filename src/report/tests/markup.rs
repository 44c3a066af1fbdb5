//! A strict enough reading of a page: every element closed in order, ids used once, every chart
//! with a text, every table header with a scope.

use std::collections::BTreeSet;

const VOID: [&str; 2] = ["meta", "br"];

/// Reads the page; the error names the first thing amiss.
pub fn check(page: &str) -> Result<(), String> {
    let page = page.strip_prefix("<!DOCTYPE html>").ok_or("no doctype")?;
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
