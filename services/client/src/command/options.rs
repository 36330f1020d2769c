//! What can be typed.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand};
use wire::ids::{LibraryId, RevisionId};
use wire::label::LabelQuery;
use wire::recipe::MakeFor;

/// Lists the clinic's approved formulas, acknowledges their cautions and pulls their recipes.
///
/// The key (sk_...) is read from the file named by --key-file, else from the environment variable STILLROOM_KEY; it
/// is never an argument.
///
/// Exit codes: 0 done; 1 refused or not reached; 2 not understood; 3 the gate is closed, the cautions to acknowledge
/// are listed.
#[derive(Debug, Parser)]
#[command(name = "stillroom-client", version)]
pub(crate) struct Options {
    /// The service, such as `https://clinic.example`
    #[arg(long, env = "STILLROOM_URL")]
    pub(crate) url: String,
    /// A file that holds the key and nothing else
    #[arg(long, value_name = "FILE")]
    pub(crate) key_file: Option<PathBuf>,
    /// Let the key travel over plain http to another machine, readable on the way
    #[arg(long)]
    pub(crate) allow_plain_http: bool,
    /// Print what the service answered as JSON
    #[arg(long, global = true)]
    pub(crate) json: bool,
    #[command(subcommand)]
    pub(crate) task: Task,
}

#[derive(Debug, Subcommand)]
pub(crate) enum Task {
    /// List the approved formulas with the revision that may be made
    Formulas {
        /// Only those of this library
        #[arg(long, value_name = "ID")]
        library: Option<LibraryId>,
    },
    /// Show the cautions of a revision
    Cautions {
        /// The revision's id
        revision: RevisionId,
    },
    /// Acknowledge the cautions of a revision, on the authority of the person who answers for this tool
    Acknowledge {
        /// The revision's id
        revision: RevisionId,
        /// The digest of the caution set that was read
        #[arg(long, value_name = "DIGEST")]
        i_have_read: String,
        /// The key of a contraindication, each acknowledged on its own
        #[arg(long, value_name = "KEY")]
        contraindication: Vec<String>,
        /// For whom the preparation is meant, beside everyone: pregnant, age:4, allergy:GROUP and so on
        #[arg(long, value_name = "AUDIENCE")]
        meant_for: Vec<String>,
    },
    /// Show what stands on a jar of a revision
    Label {
        /// The revision's id
        revision: RevisionId,
        #[command(flatten)]
        container: Container,
    },
    /// Work a revision out for a quantity; without one, for the formula's own
    Recipe {
        /// The revision's id
        revision: RevisionId,
        #[command(flatten)]
        quantity: Quantity,
    },
}

/// For what container a label is, as the service takes it.
#[derive(Debug, Args)]
pub(crate) struct Container {
    /// The day of making, for the use-by date, such as 2026-03-21
    #[arg(long)]
    made_on: Option<chrono::NaiveDate>,
    /// How much is in it, such as "30 g"
    #[arg(long)]
    net: Option<String>,
    /// The area of the label, such as "40 cm2": what finds no room on it is named
    #[arg(long)]
    area: Option<String>,
}

impl Container {
    pub(crate) fn query(&self) -> LabelQuery {
        LabelQuery { made_on: self.made_on, net: self.net.clone(), area: self.area.clone() }
    }
}

/// For what quantity, as the service takes it.
#[derive(Debug, Args)]
pub(crate) struct Quantity {
    /// The mass to have in the end, such as "500 g"
    #[arg(long, conflicts_with_all = ["volume", "containers", "line"])]
    mass: Option<String>,
    /// The volume to have in the end, such as "250 mL"
    #[arg(long, conflicts_with_all = ["containers", "line"])]
    volume: Option<String>,
    /// How many containers
    #[arg(long, requires = "fill", conflicts_with = "line")]
    containers: Option<u32>,
    /// What goes into each container, such as "30 g"
    #[arg(long, requires = "containers")]
    fill: Option<String>,
    /// The line that limits the quantity, such as 1.1
    #[arg(long, requires = "line_amount")]
    line: Option<String>,
    /// How much there is of that line, such as "2.5 cups"
    #[arg(long, requires = "line")]
    line_amount: Option<String>,
    /// What stays behind in vessels and tools, such as "4 %"
    #[arg(long)]
    transfer_loss: Option<String>,
    /// What evaporates, such as "1 %"
    #[arg(long)]
    evaporation_loss: Option<String>,
    /// The smallest step the balance shows, such as "0.1 g"
    #[arg(long)]
    readability: Option<String>,
    /// The density of what is made, as measured, such as "0.95 g/mL": for volumes of a cream
    #[arg(long)]
    density: Option<String>,
    /// The day of making, for the use-by date, such as 2026-03-21
    #[arg(long)]
    made_on: Option<chrono::NaiveDate>,
    /// How much is used at once, to see what it brings, such as "2 g", "5 mL" or "teaspoon"
    #[arg(long)]
    application: Option<String>,
}

impl Quantity {
    pub(crate) fn make_for(&self) -> MakeFor {
        let Self {
            mass,
            volume,
            containers,
            fill,
            line,
            line_amount,
            transfer_loss,
            evaporation_loss,
            readability,
            density,
            made_on,
            application,
        } = self;
        MakeFor {
            mass: mass.clone(),
            volume: volume.clone(),
            containers: *containers,
            fill: fill.clone(),
            line: line.clone(),
            line_amount: line_amount.clone(),
            transfer_loss: transfer_loss.clone(),
            evaporation_loss: evaporation_loss.clone(),
            readability: readability.clone(),
            density: density.clone(),
            made_on: *made_on,
            application: application.clone(),
        }
    }
}
