//! What gathers the quick reads of one worker: a queue for each kind, and one connection for all.

use std::sync::Arc;

use formulary::{CurrentCautions, FormulaPage, OneFormula};
use release::lookup::{MakeGrant, RecordState};
use store::Store;
use store::gather::{Line, Queue};

/// The gathered reads of one worker. Whoever answers requests hands it to a use case, and can do nothing else with it.
pub struct Reader {
    /// For searches, which are planned for what they look for and so are not gathered.
    pub(crate) store: Arc<Store>,
    pub(crate) grants: Queue<MakeGrant>,
    pub(crate) formulas: Queue<FormulaPage>,
    pub(crate) formula: Queue<OneFormula>,
    pub(crate) cautions: Queue<CurrentCautions>,
    pub(crate) records: Queue<RecordState>,
}

impl Reader {
    pub(crate) fn new(store: &Arc<Store>) -> Self {
        let line = Line::default();
        Self {
            store: Arc::clone(store),
            grants: Queue::new(Arc::clone(store), line.clone()),
            formulas: Queue::new(Arc::clone(store), line.clone()),
            formula: Queue::new(Arc::clone(store), line.clone()),
            cautions: Queue::new(Arc::clone(store), line.clone()),
            records: Queue::new(Arc::clone(store), line),
        }
    }
}
