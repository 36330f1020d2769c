//! Measurements of a batch, or, for a formula without a batch, the values that its method specifies.

use galenics::{Decimal, Sourced, Temperature};

use crate::measured;
use crate::place::Place;
use crate::temperature::StepTemperature;
use crate::written::{Content, Step};

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
    /// A water activity.
    WaterActivity(Decimal),
}

/// What is known of a preparation besides its composition.
pub struct Observed {
    /// The measured pH; always `None` for a formula.
    pub ph: Option<Decimal>,
    /// The water activity: measured with the batch, else as the formula states it with its evidence.
    pub water_activity: Option<Sourced<Decimal>>,
    /// The temperatures at which the phases are combined, the higher first.
    pub phase_temperatures: Option<(Temperature, Temperature)>,
    /// One item for each weighing, in the order of weighing: its line, and the assay of its lot as entered.
    pub assays: Vec<(Place, Option<String>)>,
}

impl Observed {
    /// What the formula states: its water activity with the evidence, and the largest difference between the phases that its
    /// method permits.
    #[must_use]
    pub fn as_written(content: &Content) -> Self {
        // Validated when the draft was saved, and reviewed on approval.
        let stated = content.water_activity.as_ref();
        Self {
            ph: None,
            water_activity: stated
                .and_then(|it| measured::water_activity_on_file(&it.value, &it.source).ok()),
            phase_temperatures: putting_together(&content.method).and_then(|(_, asked)| asked.phases()),
            assays: Vec::new(),
        }
    }

    /// The measurements in `readings`, in the order in which they were recorded: the last pH and water activity, the assays,
    /// and the phase temperatures. With fewer than two temperatures for the combining step, those of the method are used;
    /// without a water activity of its own, the formula's.
    pub fn at_the_bench<'a>(content: &Content, readings: impl IntoIterator<Item = Reading<'a>>) -> Self {
        let combining = putting_together(&content.method).map(|(step, _)| step);
        let (mut ph, mut activity, mut assays, mut temperatures) = (None, None, Vec::new(), Vec::new());
        for reading in readings {
            match reading {
                Reading::Weighing { place, assay } => assays.push((place, assay.map(str::to_owned))),
                Reading::Temperature { step, celsius } if Some(step) == combining => {
                    temperatures.extend(Temperature::celsius(celsius).ok());
                }
                Reading::Temperature { .. } => {}
                Reading::Ph(measured) => ph = Some(measured),
                Reading::WaterActivity(measured) => activity = Some(Sourced::entered(measured)),
            }
        }
        let coldest = temperatures.iter().min_by_key(|reading| reading.c());
        let hottest = temperatures.iter().max_by_key(|reading| reading.c());
        let recorded = coldest.zip(hottest).filter(|_| temperatures.len() > 1);
        let written = Self::as_written(content);
        Self {
            ph,
            water_activity: activity.or(written.water_activity),
            phase_temperatures: recorded
                .map(|(coldest, hottest)| (*hottest, *coldest))
                .or(written.phase_temperatures),
            assays,
        }
    }
}

fn putting_together(method: &[Step]) -> Option<(u32, StepTemperature)> {
    combining(method.iter().map(|step| (step.temperature.as_deref(), step.rescue)))
}

/// The step of a method that combines the phases and its number, counted from 1: the first step that limits their difference and
/// is no rescue. Each step is its temperature and whether it is a rescue.
pub fn combining<'a>(
    method: impl IntoIterator<Item = (Option<&'a str>, bool)>,
) -> Option<(u32, StepTemperature)> {
    (1..).zip(method).find_map(|(number, (temperature, rescue))| {
        let asked = StepTemperature::parse(temperature.filter(|_| !rescue)?).ok()?;
        asked.phases().map(|_| (number, asked))
    })
}
