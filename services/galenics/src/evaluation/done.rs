//! A formula of the graph worked out, for those that nest it.

use super::result::Evaluation;

/// What a leaf is, by its place in the graph.
#[derive(Debug, Clone, Copy)]
pub(super) enum LeafOf {
    Material(usize),
    /// The water that a fresh herb gives off.
    WaterOf(usize),
}

/// A formula of the graph worked out, with the places in the graph of what its evaluation lists, in the same order.
pub(super) struct Done {
    pub(super) evaluation: Evaluation,
    pub(super) leaves: Vec<LeafOf>,
    pub(super) herbs: Vec<usize>,
    pub(super) contains: Vec<usize>,
    pub(super) formulas: Vec<usize>,
}
