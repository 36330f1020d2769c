//! Measurements of a batch, or, for a formula without a batch, the values that its method specifies.

use galenics::{Decimal, Temperature};

use crate::place::Place;
use crate::temperature::StepTemperature;
use crate::written::Step;

/// A measurement recorded with a batch, of an entry that was not corrected.
#[derive(Clone, Copy, Debug)]
pub enum Reading<'a> {
    /// A weighing.
    Weighing {
        /// The line.
        place: Place,
        /// The assay of its lot, as entered.
        assay: Option<&'a str>,
    },
    /// A temperature.
    Temperature {
        /// The step, counted from 1.
        step: u32,
        /// Degrees Celsius.
        celsius: Decimal,
    },
    /// A pH.
    Ph(Decimal),
}

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

    /// The measurements in `readings`, in the order in which they were recorded: the last pH, the assays, and the phase
    /// temperatures. With fewer than two temperatures for the combining step, those of the method are used.
    pub fn at_the_bench<'a>(method: &[Step], readings: impl IntoIterator<Item = Reading<'a>>) -> Self {
        let combining = putting_together(method).map(|(step, _)| step);
        let (mut ph, mut assays, mut temperatures) = (None, Vec::new(), Vec::new());
        for reading in readings {
            match reading {
                Reading::Weighing { place, assay } => assays.push((place, assay.map(str::to_owned))),
                Reading::Temperature { step, celsius } if Some(step) == combining => {
                    temperatures.extend(Temperature::celsius(celsius).ok());
                }
                Reading::Temperature { .. } => {}
                Reading::Ph(measured) => ph = Some(measured),
            }
        }
        let coldest = temperatures.iter().min_by_key(|reading| reading.c());
        let hottest = temperatures.iter().max_by_key(|reading| reading.c());
        let recorded = coldest.zip(hottest).filter(|_| temperatures.len() > 1);
        Self {
            ph,
            phase_temperatures: recorded
                .map(|(coldest, hottest)| (*hottest, *coldest))
                .or(Self::by_method(method).phase_temperatures),
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
