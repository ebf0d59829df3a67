//! A page of the report read back strictly, by somebody else's reader.

use roxmltree::{Document, Node, ParsingOptions};
use std::collections::BTreeSet;

/// The page as XML.
pub fn parse(page: &str) -> Document<'_> {
    let options = ParsingOptions {
        allow_dtd: true,
        ..ParsingOptions::default()
    };
    Document::parse_with_options(page, options).expect("the page is well-formed XML")
}

/// The text in a node.
pub fn text_of(node: Node<'_, '_>) -> String {
    node.descendants()
        .filter(Node::is_text)
        .filter_map(|node| node.text())
        .collect()
}

/// A page is well-formed, its ids are unique, its links lead to places in it, nothing is fetched,
/// nothing runs, and every picture has a text alternative.
pub fn check_page(page: &str) {
    let document = parse(page);
    let mut ids = BTreeSet::new();
    let mut links = Vec::new();
    for node in document.descendants().filter(Node::is_element) {
        let name = node.tag_name().name();
        assert!(!["script", "iframe", "link", "object", "base", "form"].contains(&name));
        for attribute in node.attributes() {
            let (key, value) = (attribute.name(), attribute.value());
            let is_photo = name == "img" && key == "src" && value.starts_with("data:image/");
            assert!(
                !key.starts_with("on") && (key != "src" || is_photo) && key != "style",
                "{key}={value}"
            );
            if key == "id" {
                assert!(ids.insert(value.to_owned()), "{value} is there twice");
            }
            if key == "href" {
                links.push(
                    value
                        .strip_prefix('#')
                        .expect("only links within the page")
                        .to_owned(),
                );
            }
            if key == "aria-labelledby" {
                links.extend(value.split(' ').map(str::to_owned));
            }
            if let Some(id) = value
                .strip_prefix("url(#")
                .and_then(|rest| rest.strip_suffix(')'))
            {
                links.push(id.to_owned());
            }
        }
        if name == "svg" {
            let child = |name: &str| {
                let found = node.children().find(|child| child.has_tag_name(name));
                found
                    .and_then(|child| child.text())
                    .unwrap_or_default()
                    .trim()
                    .len()
            };
            assert!(
                child("title") > 3 && child("desc") > 10,
                "a picture without words"
            );
            check_numbers(node);
        }
    }
    for link in links {
        assert!(ids.contains(&link), "{link} leads nowhere");
    }
    let style = document
        .descendants()
        .find(|node| node.has_tag_name("style"))
        .expect("the page has a style sheet");
    for address in text_of(style).split("url(").skip(1) {
        assert!(
            address.starts_with("data:font/otf;base64,"),
            "the style sheet fetches something"
        );
    }
    assert!(!page.contains("http:") && !page.contains("https:") && !page.contains("@import"));
}

/// Every number in the geometry of a picture is finite and near the picture.
pub fn check_numbers(svg: Node<'_, '_>) {
    let geometry = [
        "x", "y", "x1", "x2", "y1", "y2", "cx", "cy", "r", "width", "height", "d", "viewBox",
    ];
    for node in svg.descendants().filter(Node::is_element) {
        for attribute in node.attributes().filter(|a| geometry.contains(&a.name())) {
            let words = attribute
                .value()
                .split(|c: char| c.is_ascii_alphabetic() || c == ' ');
            for word in words.filter(|word| !word.is_empty()) {
                let number: f64 = word.parse().unwrap_or(f64::NAN);
                assert!(
                    number.abs() < 1e5,
                    "{}=\"{}\"",
                    attribute.name(),
                    attribute.value()
                );
            }
        }
    }
}

/// Every key of a document.
pub fn collect(value: &serde_json::Value, keys: &mut BTreeSet<String>) {
    match value {
        serde_json::Value::Object(fields) => {
            for (key, value) in fields {
                keys.insert(key.clone());
                collect(value, keys);
            }
        }
        serde_json::Value::Array(values) => values.iter().for_each(|value| collect(value, keys)),
        _ => {}
    }
}
