//! What a reader is told by each page, as text: a snapshot a page in `snapshots/`, a block a line.
//! After a change that is meant: `INSTA_UPDATE=always cargo test --release --test cli`, and read
//! what changed.

use html5ever::tendril::TendrilSink;
use markup5ever_rcdom::{Handle, NodeData, RcDom};

use super::book::Book;
use super::run;

/// Elements that hold nothing for a reader.
const UNSEEN: [&str; 4] = ["script", "style", "head", "#comment"];

/// Elements whose children stand in one line.
const LINES: [&str; 11] = [
    "h1",
    "h2",
    "h3",
    "p",
    "li",
    "caption",
    "figcaption",
    "tr",
    "dt",
    "dd",
    "a",
];

/// The text of a page, a heading, paragraph, row or chart a line.
fn text_of(html: &str) -> String {
    let page = html5ever::parse_document(RcDom::default(), Default::default()).one(html);
    let mut lines = Vec::new();
    blocks(&page.document, &mut lines);
    lines.join("\n")
}

fn name(node: &Handle) -> &str {
    match &node.data {
        NodeData::Element { name, .. } => &name.local,
        NodeData::Comment { .. } => "#comment",
        _ => "",
    }
}

fn attribute(node: &Handle, wanted: &str) -> Option<String> {
    let NodeData::Element { attrs, .. } = &node.data else {
        return None;
    };
    let attrs = attrs.borrow();
    let found = attrs.iter().find(|a| &*a.name.local == wanted);
    found.map(|a| a.value.to_string())
}

/// One space where the page has any number of them; a fixed space is a space.
fn plain(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn blocks(node: &Handle, lines: &mut Vec<String>) {
    let tag = name(node);
    if UNSEEN.contains(&tag) {
        return;
    }
    // A chart is drawn for a desk and for a phone; the one for a phone is seen where the other is not.
    if attribute(node, "class").as_deref() == Some("narrow") {
        return;
    }
    if tag == "svg" {
        let alt =
            attribute(node, "aria-label").expect("a chart has a text for those who do not see it");
        lines.push(format!("[chart] {}", plain(&alt)));
    } else if LINES.contains(&tag) {
        let before = match tag {
            "h1" => "# ",
            "h2" => "\n## ",
            "h3" => "### ",
            "li" => "- ",
            "dd" => "  ",
            "caption" => "[table] ",
            "figcaption" => "[figure] ",
            _ => "",
        };
        let between = if tag == "tr" { " | " } else { "" };
        let text = inline(node, between);
        if !text.is_empty() {
            lines.push(format!("{before}{text}"));
        }
    } else if let NodeData::Text { contents } = &node.data {
        let text = plain(&contents.borrow());
        if !text.is_empty() {
            lines.push(text);
        }
    } else {
        for child in node.children.borrow().iter() {
            blocks(child, lines);
        }
    }
}

/// What an element says in one line; its children parted by `between`.
fn inline(node: &Handle, between: &str) -> String {
    let children = node.children.borrow();
    let parts = children
        .iter()
        .map(words)
        .filter(|part| between.is_empty() || !part.trim().is_empty());
    plain(&parts.collect::<Vec<_>>().join(between))
}

fn words(node: &Handle) -> String {
    let inner = || node.children.borrow().iter().map(words).collect::<String>();
    match (&node.data, name(node)) {
        (NodeData::Text { contents }, _) => contents.borrow().to_string(),
        // Small print stands on a line of its own.
        (_, "small") => format!(" ({})", inner()),
        (_, "br" | "span" | "code") => format!(" {} ", inner()),
        _ => inner(),
    }
}

#[test]
fn the_pages_of_the_demo_as_text() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("demo");
    let (code, _, stderr) = run(folder.path(), &["demo", "--out", out.to_str().unwrap()]);
    assert_eq!(code, 0, "{stderr}");
    for page in [
        "comparison",
        "sessions",
        "limits",
        "season",
        "plan",
        "stack",
    ] {
        let html = std::fs::read_to_string(out.join(page).with_extension("html")).unwrap();
        insta::assert_snapshot!(format!("page_{page}"), text_of(&html));
    }
}

/// The page of one session, in US units.
#[test]
fn the_page_of_a_session_as_text() {
    let book = Book::empty();
    book.import(&super::book::index()[0]);
    let page = book.folder().join("session.html");
    book.answer(&["fit", "--units", "us", "--html", page.to_str().unwrap()]);
    let html = std::fs::read_to_string(page).unwrap();
    insta::assert_snapshot!("page_session_us", text_of(&html));
}

/// The reading of a page, on one that is known.
#[test]
fn text_of_a_page_leaves_nothing_out_and_takes_no_script() {
    let html = "<!DOCTYPE html><html><head><title>t</title><style>p{}</style></head><body>\
        <h1>A &amp; b</h1><p>one <b>two</b>\u{a0}K</p><script>let x;</script>loose\
        <div class=narrow><svg aria-label=phone></svg></div><svg aria-label=seen><text>5</text></svg>\
        <table><caption><span>c</span></caption><thead><tr><th>h</th><th>i</th></tr></thead>\
        <tr><th>1</th><td>2<small>note</small></td></tr></table></body></html>";
    let said = "# A & b\none two K\nloose\n[chart] seen\n[table] c\nh | i\n1 | 2 (note)";
    assert_eq!(text_of(html), said);
}
