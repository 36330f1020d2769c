//! The revisions nested in a formula, as a directed graph in topological order.
//!
//! There is no look-up from a line to the revision that it nests: what is asked of every nested revision is answered in one
//! pass, each revision once. The ways that lead to a revision are listed up to [`MOST_WAYS`], for the origins of cautions.
//! Never here: a walk along every way, whose number grows with the product of the lines of all levels.

use std::collections::{HashMap, HashSet};

use uuid::Uuid;

use crate::error::{Error, Result};
use crate::written::{Ingredient, Written};

/// The most ways that are named to one nested revision: the first ones, in the order of the lines.
pub const MOST_WAYS: usize = 8;

/// Every revision nested in a formula at any level, each once. A revision stands before what it nests.
#[derive(Clone, Debug, Default)]
pub struct NestedRevisions {
    order: Vec<Uuid>,
    written: HashMap<Uuid, Written>,
}

/// A way from the outermost formula to a nested revision.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Way<'a> {
    /// For each level, the line that leads on, counted from 1. Ways in this order follow the formula from top to bottom.
    pub(crate) lines: Vec<usize>,
    /// For each level, the title of the revision that the line nests.
    pub(crate) titles: Vec<&'a str>,
}

impl NestedRevisions {
    /// Arranges the revisions that `outermost` nests. Each is read once.
    ///
    /// # Errors
    /// Returns [`Error::Internal`] if one is missing, or if a revision nests itself, which frozen revisions cannot.
    pub fn of(outermost: &Written, mut written: HashMap<Uuid, Written>) -> Result<Self> {
        let missing = |id: Uuid| Error::internal(format!("nested revision {id} is missing"));
        // Depth first; what is finished is nested by nothing that is still open, so that the reverse is the order.
        let mut finished: Vec<Uuid> = Vec::with_capacity(written.len());
        let (mut met, mut done) = (HashSet::new(), HashSet::new());
        let mut open: Vec<(Option<Uuid>, Vec<Uuid>)> = vec![(None, nested_by(outermost))];
        while let Some((id, below)) = open.last_mut() {
            match below.pop() {
                Some(next) if met.insert(next) => {
                    let nested = nested_by(written.get(&next).ok_or_else(|| missing(next))?);
                    open.push((Some(next), nested));
                }
                Some(next) if done.contains(&next) => {}
                Some(next) => return Err(Error::internal(format!("nested revision {next} nests itself"))),
                None => {
                    finished.extend(*id);
                    done.extend(*id);
                    open.pop();
                }
            }
        }
        finished.reverse();
        written.retain(|id, _| done.contains(id));
        Ok(Self { order: finished, written })
    }

    /// Whether nothing is nested.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.order.is_empty()
    }

    /// Their IDs.
    pub fn keys(&self) -> impl Iterator<Item = &Uuid> {
        self.order.iter()
    }

    /// What was written in each.
    pub fn values(&self) -> impl Iterator<Item = &Written> {
        self.outermost_first().map(|(_, written)| written)
    }

    /// Every revision before what it nests.
    pub fn outermost_first(&self) -> impl DoubleEndedIterator<Item = (Uuid, &Written)> {
        self.order.iter().filter_map(|id| Some((*id, self.written.get(id)?)))
    }

    /// Every revision after what it nests.
    pub fn innermost_first(&self) -> impl Iterator<Item = (Uuid, &Written)> {
        self.outermost_first().rev()
    }

    /// The first [`MOST_WAYS`] ways to each revision, from top to bottom. At least one leads to each.
    pub(crate) fn ways<'a>(&'a self, outermost: &'a Written) -> HashMap<Uuid, Vec<Way<'a>>> {
        let mut found: HashMap<Uuid, Vec<Way<'a>>> = HashMap::with_capacity(self.order.len());
        lead_on(&mut found, outermost, &[Way::default()]);
        for (id, written) in self.outermost_first() {
            // All that nest it stand before it, so that no further way comes.
            let mut ways = found.remove(&id).unwrap_or_default();
            ways.sort();
            ways.truncate(MOST_WAYS);
            lead_on(&mut found, written, &ways);
            found.insert(id, ways);
        }
        found
    }
}

impl From<NestedRevisions> for HashMap<Uuid, Written> {
    fn from(nested: NestedRevisions) -> Self {
        nested.written
    }
}

/// Carries the ways to a formula on to what it nests. Several lines that nest one revision are one way: it reads the same.
fn lead_on<'a>(found: &mut HashMap<Uuid, Vec<Way<'a>>>, written: &'a Written, ways: &[Way<'a>]) {
    let mut met = HashSet::new();
    for (line, ingredient) in written.ingredients.iter().flatten().enumerate() {
        let Ingredient::Revision { id, title, .. } = ingredient else { continue };
        if met.insert(*id) {
            found.entry(*id).or_default().extend(ways.iter().map(|way| Way {
                lines: way.lines.iter().copied().chain([line + 1]).collect(),
                titles: way.titles.iter().copied().chain([title.as_str()]).collect(),
            }));
        }
    }
}

/// The revisions on a formula's own lines, the last line first, each once.
fn nested_by(written: &Written) -> Vec<Uuid> {
    let mut met = HashSet::new();
    let mut ids: Vec<Uuid> = written.nested().map(|id| id.0).filter(|id| met.insert(*id)).collect();
    ids.reverse();
    ids
}
