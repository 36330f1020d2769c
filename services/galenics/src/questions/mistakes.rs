//! Errors that learners commonly make, by name.

use rust_decimal::Decimal;

use crate::words::words;

words! {
    /// An error that learners commonly make.
    CommonError, "common error" {
        LossAsMarkup = "loss_as_markup",
        LossForgotten = "loss_forgotten",
        OneForgotten = "one_forgotten",
        OneOnly = "one_only",
        TareCounted = "tare_counted",
        WeightInVolume = "weight_in_volume",
        VolumesAdded = "volumes_added",
        Swapped = "swapped",
        VolumeForMass = "volume_for_mass",
        MassForVolume = "mass_for_volume",
        DecimalPoint = "decimal_point",
    }
}

impl CommonError {
    /// What went wrong, and the cure.
    #[must_use]
    pub const fn says(self) -> &'static str {
        match self {
            Self::LossAsMarkup => {
                "The loss was added as a share of the contents. It is a share of the whole that is made. Divide by 1 - loss."
            }
            Self::LossForgotten => "The loss was left out. Divide the contents by 1 - loss.",
            Self::OneForgotten => "One container is missing. Count them again.",
            Self::OneOnly => "This is for one container. Multiply by their number.",
            Self::TareCounted => {
                "The container was weighed with its contents. Subtract the empty weight first."
            }
            Self::WeightInVolume => {
                "The share was taken as grams in 100 mL (w/v). It is a share by mass (w/w). Multiply the volume by the \
                 density first."
            }
            Self::VolumesAdded => {
                "The volumes were added up. Spirit and water contract when they are mixed. Find the water through the masses."
            }
            Self::Swapped => "Spirit and water are swapped.",
            Self::VolumeForMass => {
                "The answer is a volume and the question asks for a mass. A cup of oil and a cup of wax weigh differently. \
                 Weigh in grams."
            }
            Self::MassForVolume => {
                "The answer is a mass and the question asks for a volume. Divide by the density."
            }
            Self::DecimalPoint => "The digits are right and the decimal point is in another place.",
        }
    }
}

/// What a common error would give.
pub type Mistake = (CommonError, Decimal);

/// By how many per cent two answers differ at least when they can be told apart: more than twice the tolerance.
const APART: Decimal = Decimal::from_parts(6, 0, 0, false, 1);

/// Whether the right answer and each mistake are so far apart that no answer fits both.
pub(super) fn told_apart(right: Decimal, mistakes: &[Mistake]) -> bool {
    mistakes.iter().all(|(_, wrong)| {
        let off = (*wrong - right).abs().checked_mul(Decimal::ONE_HUNDRED);
        off.and_then(|off| off.checked_div(right)).is_some_and(|off| off > APART)
    })
}
