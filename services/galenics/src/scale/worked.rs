//! A formula worked out for a quantity: its whole, its phases and its lines.

use serde::Serialize;

use crate::{Figure, Text};

/// A formula worked out for a quantity.
#[derive(Debug, Clone, Serialize)]
pub struct Worked {
    /// What is to be had in the end, in g; in mL where only the volume of what is made is known.
    pub net: Figure,
    /// The losses together, as a share of what is weighed out.
    pub loss: Figure,
    /// What is to be weighed out, in the unit of the net.
    pub gross: Figure,
    /// How many times the formula.
    pub factor: Figure,
    /// The phases with what to weigh.
    pub phases: Vec<WorkedPhase>,
    /// The lines as weighed, in g.
    pub total: Figure,
}

/// A phase with what to weigh.
#[derive(Debug, Clone, Serialize)]
pub struct WorkedPhase {
    /// Its name.
    pub name: Text,
    /// Its lines.
    pub lines: Vec<WorkedLine>,
}

/// What to weigh or measure of one line.
#[derive(Debug, Clone, Serialize)]
pub struct WorkedLine {
    /// The material or nested formula.
    pub name: Text,
    /// The amount in the formula, as typed.
    pub written: Text,
    /// In the unit in which the formula has it, unrounded, where it has a single one.
    pub in_written_unit: Option<Figure>,
    /// In g, unrounded.
    pub exact: Figure,
    /// In g, to the balance; unrounded where the balance shows too little of it.
    pub weigh: Figure,
    /// What is weighed less what was asked for, in g.
    pub error: Figure,
    /// In mL, where the formula measures it.
    pub volume: Option<Figure>,
    /// Of a q.s. line, what to make up to.
    pub make_up: Option<Figure>,
    /// Whether half a step of the balance is past the tolerance of this amount.
    pub too_small: bool,
    /// Whether it is more than the balance takes at once.
    pub over_capacity: bool,
}
