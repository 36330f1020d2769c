//! What was measured at the bench, or, of a formula that nobody has made yet, what its method asks for.

use galenics::{Decimal, Temperature};
use wire::bench::{Entry, EntryKind};

use crate::place::{Place, line_index};
use crate::temperature::StepTemperature;
use crate::written::Step;

/// What is known of a preparation besides what is in it.
pub struct Observed {
    /// The pH; a formula has none.
    pub ph: Option<Decimal>,
    /// The temperatures at which the phases are put together.
    pub phase_temperatures: Option<(Temperature, Temperature)>,
    /// What was weighed of each line, in the order of weighing: its assay if the lot was tested.
    pub assays: Vec<(Place, Option<String>)>,
}

impl Observed {
    /// What the method asks for: the phases as far apart as the step that puts them together lets them be.
    pub fn by_method(method: &[Step]) -> Self {
        Self {
            ph: None,
            phase_temperatures: putting_together(method).and_then(|(_, asked)| asked.phases()),
            assays: Vec::new(),
        }
    }

    /// What the entries that count record: the last pH, and the temperatures of the phases where two of them were
    /// recorded for the step that puts them together, else as the method asks.
    pub fn at_the_bench<'a>(method: &[Step], live: impl Iterator<Item = &'a Entry> + Clone) -> Self {
        let number = |text: &Option<String>| text.as_ref().and_then(|text| text.parse::<Decimal>().ok());
        let ph =
            live.clone().filter(|entry| entry.kind == EntryKind::Ph).filter_map(|entry| number(&entry.ph));
        let weighed = live.clone().filter(|entry| entry.kind == EntryKind::Weighing);
        let assays = weighed
            .filter_map(|entry| Some((line_index(entry.line.as_deref()?)?, entry.assay.clone())))
            .collect();
        let recorded = putting_together(method).and_then(|(step, _)| {
            let of_step = live
                .filter(|entry| entry.kind == EntryKind::Temperature && entry.step == Some(step))
                .filter_map(|entry| Temperature::celsius(number(&entry.celsius)?).ok());
            let readings: Vec<Temperature> = of_step.collect();
            let coldest = readings.iter().min_by_key(|reading| reading.c())?;
            let hottest = readings.iter().max_by_key(|reading| reading.c())?;
            (readings.len() > 1).then_some((*hottest, *coldest))
        });
        Self {
            ph: ph.last(),
            phase_temperatures: recorded.or(Self::by_method(method).phase_temperatures),
            assays,
        }
    }
}

/// The step that puts the phases together, counted from 1: the first that says how far apart they may be.
fn putting_together(method: &[Step]) -> Option<(u32, StepTemperature)> {
    (1..).zip(method).find_map(|(number, step)| {
        let asked = StepTemperature::parse(step.temperature.as_deref()?).ok()?;
        asked.phases().map(|_| (number, asked))
    })
}
