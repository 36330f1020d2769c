//! Measurements of a batch, or, for a formula without a batch, the values that its method specifies.

use galenics::{Decimal, Temperature};
use wire::bench::{Entry, EntryKind};

use crate::place::{Place, line_index};
use crate::temperature::StepTemperature;
use crate::written::Step;

/// What is known of a preparation besides its composition.
pub struct Observed {
    /// The measured pH; always `None` for a formula.
    pub ph: Option<Decimal>,
    /// The temperatures at which the phases are combined, the higher first.
    pub phase_temperatures: Option<(Temperature, Temperature)>,
    /// One item for each weighing, in the order of weighing: its line, and the assay of its lot as entered.
    pub assays: Vec<(Place, Option<String>)>,
}

impl Observed {
    /// The values that the method specifies, with the largest difference between the phases that it permits.
    #[must_use]
    pub fn by_method(method: &[Step]) -> Self {
        Self {
            ph: None,
            phase_temperatures: putting_together(method).and_then(|(_, asked)| asked.phases()),
            assays: Vec::new(),
        }
    }

    /// The measurements in `live`, the entries that were not struck out: the last pH, the assays, and the phase
    /// temperatures. With fewer than two temperatures for the combining step, those of the method are used.
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

/// The step that combines the phases and its number, counted from 1: the first step that limits their difference.
fn putting_together(method: &[Step]) -> Option<(u32, StepTemperature)> {
    (1..).zip(method).find_map(|(number, step)| {
        let asked = StepTemperature::parse(step.temperature.as_deref()?).ok()?;
        asked.phases().map(|_| (number, asked))
    })
}
