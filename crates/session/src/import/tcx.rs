//! TCX, read by the crate `roxmltree`.
//!
//! Elements are found by their local name, whatever prefix a program gave the extensions'
//! namespace.

use super::error::ImportError;
use super::moment::{self, Began, Moment};
use super::recording::{Format, Recording, Row};
use crate::row::Identity;
use roxmltree::{Document, Node};

const KMH_PER_M_PER_S: f64 = 3.6;

pub(super) fn read(text: &str, name: &str) -> Result<Recording, ImportError> {
    let unreadable = |place: String, reason: String| ImportError::Unreadable {
        name: name.to_owned(),
        place,
        reason,
        remedy: "export the activity again as TCX",
    };
    let document = Document::parse(text).map_err(|error| {
        let place = error.pos();
        unreadable(
            format!("line {}, column {}", place.row, place.col),
            error.to_string(),
        )
    })?;
    if document.root_element().tag_name().name() != "TrainingCenterDatabase" {
        return Err(unreadable(
            format!("element {:?}", document.root_element().tag_name().name()),
            "it is XML, but not TCX".to_owned(),
        ));
    }
    let mut rows = Vec::new();
    let mut began = None;
    let mut without_time = 0_usize;
    for point in document.descendants().filter(|node| is(node, "Trackpoint")) {
        let time = child(point, "Time").and_then(|node| moment::of_text(node.text()?));
        let Some(time) = time else {
            without_time += 1;
            continue;
        };
        began.get_or_insert(time);
        let within = |name: &str| {
            point
                .descendants()
                .find(|node| is(node, name))
                .and_then(|node| number(node.text()?))
        };
        rows.push(Row {
            at_ns: time.nanos(),
            power_w: within("Watts"),
            cadence_rpm: within("Cadence"),
            speed_kmh: within("Speed").map(|speed| speed * KMH_PER_M_PER_S),
        });
    }
    let mut remarks = Vec::new();
    if without_time > 0 {
        remarks.push(format!(
            "{without_time} points have no readable time and were left out"
        ));
    }
    if matches!(began, Some(Moment::Local(_))) {
        remarks.push(
            "the times have no zone; the recorder's clock is placed by alignment alone".to_owned(),
        );
    }
    let began = began.map_or(Began::Unknown, Moment::began);
    let mut recording = Recording::from_rows(name, Format::Tcx, began, &rows, remarks)?;
    recording.identity = identity(&document);
    Ok(recording)
}

fn identity(document: &Document<'_>) -> Identity {
    let Some(creator) = document.descendants().find(|node| is(node, "Creator")) else {
        return Identity::default();
    };
    let text = |name: &str| {
        let text = child(creator, name)?.text()?.trim();
        (!text.is_empty()).then(|| text.to_owned())
    };
    let version = child(creator, "Version").and_then(|version| {
        let part = |name: &str| Some(child(version, name)?.text()?.trim().to_owned());
        Some(format!(
            "{}.{}",
            part("VersionMajor")?,
            part("VersionMinor")?
        ))
    });
    Identity {
        model: text("Name"),
        serial: text("UnitId"),
        firmware: version,
        ..Identity::default()
    }
}

fn is(node: &Node<'_, '_>, name: &str) -> bool {
    node.is_element() && node.tag_name().name() == name
}

fn child<'a, 'i>(node: Node<'a, 'i>, name: &str) -> Option<Node<'a, 'i>> {
    node.children().find(|child| is(child, name))
}

fn number(text: &str) -> Option<f64> {
    text.trim()
        .parse()
        .ok()
        .filter(|value: &f64| value.is_finite())
}
