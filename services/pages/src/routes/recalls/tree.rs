//! The trace of a lot or batch, drawn as a tree.

use std::collections::{HashMap, HashSet};

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::{Path, Query};
use askama::Template;
use clinic::recalls;
use serde::Deserialize;
use uuid::Uuid;
use wire::people::Role;
use wire::recalls::{Trace, TraceDirection, TraceKind, TraceNode};

use super::said::{address, stands};
use crate::answer::page;
use crate::frame::Frame;
use crate::mount::Mount;
use crate::texts::{t, t1};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/shelf/lots/{id}/trace", of_lot);
    mount.get("/batches/{id}/trace", of_batch);
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct Asked {
    direction: String,
}

/// A line of the tree: what stands there, and how many lists end after it.
struct Line {
    node: TraceNode,
    address: String,
    stands: String,
    /// It stands above already, with everything below it.
    again: bool,
    deeper: bool,
    ends: usize,
}

#[derive(Template)]
#[template(path = "trace.html")]
struct TracePage {
    frame: Frame,
    title: String,
    of: TraceNode,
    lines: Vec<Line>,
    /// The address and the words of the other direction.
    other: (String, String),
    none: String,
    /// Where it can be recalled.
    recall: String,
}

async fn of_lot(visitor: Visitor, id: Path<String>, asked: Query<Asked>) -> Result<HttpResponse, Trouble> {
    let id = id.parse().map_err(|_| Trouble::NoPage)?;
    let direction = asked.direction.parse().unwrap_or(TraceDirection::Onward);
    let trace = recalls::lot_trace(visitor.clinic(), visitor.credentials(), id, direction).await?;
    shown(&visitor, trace)
}

async fn of_batch(visitor: Visitor, id: Path<String>, asked: Query<Asked>) -> Result<HttpResponse, Trouble> {
    let id = id.parse().map_err(|_| Trouble::NoPage)?;
    let direction = asked.direction.parse().unwrap_or(TraceDirection::Back);
    let trace = recalls::batch_trace(visitor.clinic(), visitor.credentials(), id, direction).await?;
    shown(&visitor, trace)
}

fn shown(visitor: &Visitor, trace: Trace) -> Result<HttpResponse, Trouble> {
    let of = trace.nodes.first().cloned().ok_or(Trouble::NoPage)?;
    let called = format!("{} {}", of.name, of.number);
    let own = match of.kind {
        TraceKind::Lot => format!("/shelf/lots/{}/trace", of.id),
        TraceKind::Batch => format!("/batches/{}/trace", of.id),
    };
    let (title, other, none) = match trace.direction {
        TraceDirection::Onward => ("trace-onward", ("back", "trace-see-back"), "trace-none-onward"),
        TraceDirection::Back => ("trace-back", ("onward", "trace-see-onward"), "trace-none-back"),
    };
    let instructor = visitor.role() == Role::Instructor;
    let recall = if instructor { format!("/recall?cause={}&id={}", of.kind, of.id) } else { String::new() };
    let page_of = TracePage {
        frame: visitor.frame(t1(title, called.clone())),
        // word("trace")
        title: t1(title, called),
        lines: lines(&trace),
        other: (format!("{own}?direction={}", other.0), t(other.1)),
        none: t(none),
        recall,
        of,
    };
    page(StatusCode::OK, &page_of)
}

/// The lines of the tree in the order of reading: what one step leads to stands below it. What is reached twice is drawn
/// where it is reached first, and named elsewhere.
fn lines(trace: &Trace) -> Vec<Line> {
    let nodes: HashMap<Uuid, &TraceNode> = trace.nodes.iter().map(|node| (node.id, node)).collect();
    let mut leads: HashMap<Uuid, Vec<Uuid>> = HashMap::new();
    for step in &trace.steps {
        leads.entry(step.from).or_default().push(step.to);
    }
    let mut drawn = HashSet::new();
    let mut found: Vec<(&TraceNode, usize, bool)> = Vec::new();
    let first = trace.nodes.first().map(|node| node.id);
    let below = |id: Uuid| leads.get(&id).map(Vec::as_slice).unwrap_or_default();
    let mut waiting: Vec<(Uuid, usize)> =
        first.iter().flat_map(|id| below(*id)).rev().map(|id| (*id, 0)).collect();
    while let Some((id, depth)) = waiting.pop() {
        let Some(node) = nodes.get(&id) else { continue };
        let again = !drawn.insert(id);
        found.push((node, depth, again && !below(id).is_empty()));
        if !again {
            waiting.extend(below(id).iter().rev().map(|next| (*next, depth + 1)));
        }
    }
    let depths: Vec<usize> = found.iter().map(|(_, depth, _)| *depth).collect();
    let line = |(at, (node, depth, again)): (usize, (&TraceNode, usize, bool))| {
        let next = depths.get(at + 1).copied().unwrap_or(0);
        Line {
            node: node.clone(),
            address: address(node),
            stands: stands(node),
            again,
            deeper: next > depth,
            ends: depth.saturating_sub(next),
        }
    };
    found.into_iter().enumerate().map(line).collect()
}

#[cfg(test)]
mod tests {
    use wire::recalls::TraceStep;

    use super::*;

    fn node(kind: TraceKind, id: u128) -> TraceNode {
        TraceNode {
            kind,
            id: Uuid::from_u128(id),
            number: id.to_string(),
            name: String::new(),
            lot_state: None,
            on_hand_grams: None,
            batch_state: None,
            disposition: None,
            maker_name: None,
            on: chrono::NaiveDate::MIN,
        }
    }

    #[test]
    fn a_tree_is_read_from_above_and_closes_what_it_opens() {
        use TraceKind::{Batch, Lot};
        let step = |from, to| TraceStep { from: Uuid::from_u128(from), to: Uuid::from_u128(to) };
        let trace = Trace {
            direction: TraceDirection::Onward,
            nodes: vec![node(Lot, 1), node(Batch, 2), node(Batch, 3), node(Lot, 4), node(Batch, 5)],
            steps: vec![step(1, 2), step(1, 3), step(2, 4), step(4, 3), step(4, 5), step(3, 5)],
        };
        let told: Vec<(String, bool, usize, bool)> = lines(&trace)
            .into_iter()
            .map(|line| (line.node.number, line.deeper, line.ends, line.again))
            .collect();
        let told: Vec<(&str, bool, usize, bool)> = told
            .iter()
            .map(|(number, deeper, ends, again)| (number.as_str(), *deeper, *ends, *again))
            .collect();
        assert_eq!(
            told,
            [
                ("2", true, 0, false),
                ("4", true, 0, false),
                ("3", true, 0, false),
                ("5", false, 1, false),
                ("5", false, 2, false),
                ("3", false, 0, true),
            ]
        );
    }
}
