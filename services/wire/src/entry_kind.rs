//! What an entry of a batch record is about.

use crate::words::words;

words! {
    /// The kind of an entry.
    EntryKind {
        /// What was really weighed of a line: `line`, `quantity`, `lot`, and of the lot
        /// `lot_expires`, `assay` and `price` if known.
        Weighing = "weighing",
        /// A temperature: `step`, `quantity`.
        Temperature = "temperature",
        /// What it looked like: `note`, with `step` or `line` if wanted.
        Observation = "observation",
        /// A step was done: `step`.
        StepDone = "step_done",
        /// The yield: `quantity`.
        Yield = "yield",
        /// A measured pH: `quantity`, from 0 to 14; the instrument may stand in `note`.
        Ph = "ph",
        /// A measured water activity: `quantity`, from 0 to 1; the instrument may stand in `note`.
        WaterActivity = "water_activity",
        /// What went otherwise than the method asks, besides a weighing, and why: `note`, with `step` or `line` if wanted.
        Deviation = "deviation",
        /// What evaporated: `quantity`.
        EvaporationLoss = "evaporation_loss",
        /// What stayed in pots and on tools: `quantity`.
        TransferLoss = "transfer_loss",
        /// What was spilt: `quantity`.
        SpillLoss = "spill_loss",
        /// The pressed marc, weighed: `quantity`.
        MarcLoss = "marc_loss",
        /// A sample that is kept: `quantity`; where it is kept may stand in `note`.
        Sample = "sample",
        /// How the marc was disposed of: `note`.
        MarcDisposal = "marc_disposal",
        /// How cloths and paper soaked with oil were disposed of: `note`. They can catch fire by themselves.
        ClothDisposal = "cloth_disposal",
        /// How spirit was disposed of: `note`.
        SpiritDisposal = "spirit_disposal",
        /// Labels that were printed: how many, in `quantity`.
        LabelsPrinted = "labels_printed",
        /// Labels that were put on jars: how many, in `quantity`.
        LabelsUsed = "labels_used",
        /// Labels that were destroyed: how many, in `quantity`; why may stand in `note`.
        LabelsDestroyed = "labels_destroyed",
        /// What it looked like: `note`, with `step` or `line` if wanted.
        Appearance = "appearance",
        /// What it smelt of: `note`, with `step` or `line` if wanted.
        Smell = "smell",
        /// Whether it separated: `note`, with `step` or `line` if wanted.
        Separation = "separation",
        /// The making ended; a remark may stand in `note`.
        Ended = "ended",
        /// More of the batch is made, so that a `line` of which too much was weighed is right: its `quantity` as weighed, and why in
        /// `note`. It is proposed by a request of its own, and counts once a second person has authorised it.
        Adjustment = "adjustment",
    }
}

impl EntryKind {
    /// Whether its `quantity` is a mass besides what a line asks for: a yield, a loss, a sample.
    #[must_use]
    pub const fn is_outcome(self) -> bool {
        self.is_loss() || matches!(self, Self::Yield | Self::Sample)
    }

    /// Whether its `quantity` is a number of labels.
    #[must_use]
    pub const fn is_count(self) -> bool {
        matches!(self, Self::LabelsPrinted | Self::LabelsUsed | Self::LabelsDestroyed)
    }

    /// Whether it says what was lost.
    #[must_use]
    pub const fn is_loss(self) -> bool {
        matches!(self, Self::EvaporationLoss | Self::TransferLoss | Self::SpillLoss | Self::MarcLoss)
    }

    /// Whether it is told in its `note`.
    #[must_use]
    pub const fn is_told(self) -> bool {
        self.is_seen()
            || matches!(
                self,
                Self::Deviation | Self::MarcDisposal | Self::ClothDisposal | Self::SpiritDisposal
            )
    }

    /// Whether it is an observation, which may belong to a line or a step.
    #[must_use]
    pub const fn is_seen(self) -> bool {
        matches!(self, Self::Observation | Self::Appearance | Self::Smell | Self::Separation)
    }
}
