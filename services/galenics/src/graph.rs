//! A formula with all that it contains, as a directed graph in topological order: what is contained stands before what
//! contains it, and stands once, however many ways lead to it.
//!
//! This is the only way to the lines of a nested formula ([`crate::Nested`] keeps them to itself), so that nothing can
//! walk the ways by habit: a formula of a few hundred lines has millions of them. What needs an answer for each nested
//! formula goes through [`Graph`] once and keeps the answers by place.

use std::{collections::HashMap, hash::BuildHasherDefault, slice, sync::Arc};

use crate::{Formula, Ingredient, Line, MaterialFacts, Nested, Phase, ProblemKind, maxima};

/// A formula and all that it contains, each formula and each material once.
pub struct Graph<'a> {
    nodes: Vec<Node<'a>>,
    materials: Vec<&'a Arc<MaterialFacts>>,
    /// How many formulas there are, revisions of one formula counted once.
    formulas: usize,
}

/// A formula in the graph.
pub(crate) struct Node<'a> {
    pub(crate) formula: &'a Formula,
    /// As it is nested; the outermost is not.
    pub(crate) nested: Option<&'a Nested>,
    /// The place of its id among the ids of all formulas.
    pub(crate) id: usize,
    /// For each line in order, what it puts in.
    pub(crate) lines: Vec<Slot>,
    /// How many levels it has, itself included.
    levels: usize,
}

/// What a line puts in, by its place in the graph.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Slot {
    Material(usize),
    Nested(usize),
}

type Lines<'a> =
    std::iter::FlatMap<slice::Iter<'a, Phase>, slice::Iter<'a, Line>, fn(&'a Phase) -> slice::Iter<'a, Line>>;

/// A formula whose lines are being gone through.
struct Open<'a> {
    formula: &'a Formula,
    nested: Option<&'a Nested>,
    rest: Lines<'a>,
    lines: Vec<Slot>,
}

impl<'a> Open<'a> {
    fn new(formula: &'a Formula, nested: Option<&'a Nested>) -> Self {
        let lines: fn(&'a Phase) -> slice::Iter<'a, Line> = |phase| phase.lines.iter();
        let count = formula.phases.iter().map(|phase| phase.lines.len()).sum();
        let rest = formula.phases.iter().flat_map(lines);
        Self { formula, nested, rest, lines: Vec::with_capacity(count) }
    }
}

impl<'a> Graph<'a> {
    /// Arranges a formula. Costs as much as it has lines, each nested formula counted once; nothing recurs, so that no
    /// depth is too much for it.
    #[must_use]
    pub fn of(formula: &'a Formula) -> Self {
        let mut graph = Self { nodes: Vec::new(), materials: Vec::new(), formulas: 0 };
        let lines = formula.phases.iter().map(|phase| phase.lines.len()).sum();
        let mut materials: Places<&'a str> =
            Places::with_capacity_and_hasher(lines, BuildHasherDefault::new());
        let mut ids: Places<&'a str> = Places::default();
        let mut known: Places<usize> = Places::default();
        let mut open = vec![Open::new(formula, None)];
        while let Some(top) = open.last_mut() {
            match top.rest.next().map(|line| &line.ingredient) {
                Some(Ingredient::Material(facts)) => {
                    let next = graph.materials.len();
                    let place = *materials.entry(facts.id.as_str()).or_insert(next);
                    if place == next {
                        graph.materials.push(facts);
                    }
                    top.lines.push(Slot::Material(place));
                }
                Some(Ingredient::Nested(inner)) => match known.get(&inner.address()) {
                    Some(place) => top.lines.push(Slot::Nested(*place)),
                    None => open.push(Open::new(inner.formula(), Some(inner))),
                },
                None => {
                    let Some(done) = open.pop() else { break };
                    let place = graph.nodes.len();
                    let next = ids.len();
                    let id = *ids.entry(done.formula.id.as_str()).or_insert(next);
                    if let (Some(above), Some(nested)) = (open.last_mut(), done.nested) {
                        known.insert(nested.address(), place);
                        above.lines.push(Slot::Nested(place));
                    }
                    let Open { formula, nested, lines, .. } = done;
                    graph.nodes.push(Node { formula, nested, id, lines, levels: 1 });
                }
            }
        }
        graph.formulas = ids.len();
        graph.count_levels();
        graph
    }

    fn count_levels(&mut self) {
        for place in 0..self.nodes.len() {
            let below = self.nested_of(place).filter_map(|nested| Some(self.nodes.get(nested)?.levels)).max();
            if let (Some(below), Some(node)) = (below, self.nodes.get_mut(place)) {
                node.levels = below + 1;
            }
        }
    }

    /// The places of what a formula nests, once for every line that nests it.
    fn nested_of(&self, place: usize) -> impl Iterator<Item = usize> {
        self.nodes.get(place).into_iter().flat_map(|node| &node.lines).filter_map(|slot| match slot {
            Slot::Nested(nested) => Some(*nested),
            Slot::Material(_) => None,
        })
    }

    pub(crate) fn nodes(&self) -> &[Node<'a>] {
        &self.nodes
    }

    /// How many formulas there are, revisions of one formula counted once.
    pub(crate) const fn formulas(&self) -> usize {
        self.formulas
    }

    /// Every material at every level, each once.
    #[must_use]
    pub fn materials(&self) -> &[&'a Arc<MaterialFacts>] {
        &self.materials
    }

    /// Whether it is within what is worked with.
    ///
    /// # Errors
    /// The [maximum](maxima) that is passed, in words that say what to do.
    pub fn within_maxima(&self) -> Result<(), ProblemKind> {
        let levels = self.nodes.last().map_or(0, |node| node.levels);
        let lines: usize = self.nodes.iter().map(|node| node.lines.len()).sum();
        if self.nodes.iter().any(|node| node.lines.len() > maxima::LINES) {
            Err(ProblemKind::TooManyLines(maxima::LINES))
        } else if levels > maxima::LEVELS {
            Err(ProblemKind::TooDeep(maxima::LEVELS))
        } else if lines > maxima::LINES_OF_ALL_LEVELS {
            Err(ProblemKind::TooManyLinesInAll(maxima::LINES_OF_ALL_LEVELS))
        } else if self.nodes.len() > maxima::NESTED + 1 {
            Err(ProblemKind::TooManyNested(maxima::NESTED))
        } else if self.materials.len() > maxima::MATERIALS {
            Err(ProblemKind::TooManyMaterials(maxima::MATERIALS))
        } else {
            Ok(())
        }
    }

    /// For each line of the outermost formula, in order, whether it puts in, at any level, a material that `is` one.
    pub fn lines_with(&self, is: impl Fn(&MaterialFacts) -> bool) -> Vec<bool> {
        let are: Vec<bool> = self.materials.iter().map(|facts| is(facts)).collect();
        let mut have: Vec<bool> = Vec::with_capacity(self.nodes.len());
        let puts_in = |have: &[bool], slot: &Slot| match slot {
            Slot::Material(place) => are.get(*place).copied().unwrap_or_default(),
            Slot::Nested(place) => have.get(*place).copied().unwrap_or_default(),
        };
        for node in &self.nodes {
            let found = node.lines.iter().any(|slot| puts_in(&have, slot));
            have.push(found);
        }
        let outermost = self.nodes.last().into_iter().flat_map(|node| &node.lines);
        outermost.map(|slot| puts_in(&have, slot)).collect()
    }

    /// The way, by titles, on which a formula contains another revision of itself, with the place of the first formula on
    /// it; `None` where it does not.
    pub(crate) fn way_back(&self, place: usize) -> Option<(usize, String)> {
        // Each formula once: nothing can contain another revision of itself.
        if self.formulas == self.nodes.len() {
            return None;
        }
        let start = self.nodes.get(place)?;
        let mut seen = vec![false; self.nodes.len()];
        let mut way = vec![(place, 0)];
        while let Some((at, next)) = way.last_mut() {
            let Some(slot) = self.nodes.get(*at).and_then(|node| node.lines.get(*next)) else {
                way.pop();
                continue;
            };
            *next += 1;
            let Slot::Nested(below) = *slot else { continue };
            let new = seen.get_mut(below).is_some_and(|seen| !std::mem::replace(seen, true));
            if !new {
                continue;
            }
            way.push((below, 0));
            if self.nodes.get(below).is_some_and(|node| node.id == start.id) {
                let titles = way.iter().filter_map(|(at, _)| self.nodes.get(*at));
                let titles: Vec<&str> = titles.map(|node| node.formula.title.as_str()).collect();
                return Some((way.get(1)?.0, titles.join(" > ")));
            }
        }
        None
    }
}

/// Places by key. Keys are ids and addresses of our own, so that nobody can choose them to collide.
type Places<K> = HashMap<K, usize, BuildHasherDefault<Quick>>;

/// A quick hash of ids and addresses.
#[derive(Default)]
struct Quick(u64);

impl Quick {
    const fn mix(&mut self, word: u64) {
        self.0 = (self.0.rotate_left(5) ^ word).wrapping_mul(0x517c_c1b7_2722_0a95);
    }
}

impl std::hash::Hasher for Quick {
    fn finish(&self) -> u64 {
        self.0 ^ (self.0 >> 32)
    }

    fn write(&mut self, bytes: &[u8]) {
        let (words, rest) = bytes.as_chunks::<8>();
        for word in words {
            self.mix(u64::from_le_bytes(*word));
        }
        let mut last = [0; 8];
        for (to, from) in last.iter_mut().zip(rest) {
            *to = *from;
        }
        self.mix(u64::from_le_bytes(last));
    }

    fn write_u8(&mut self, byte: u8) {
        self.mix(u64::from(byte));
    }

    fn write_usize(&mut self, number: usize) {
        self.write(&number.to_le_bytes());
    }
}
