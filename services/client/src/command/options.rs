//! Arguments of the command.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand};
use client::{FormulaQuery, TraceParent};
use wire::formulary::Regime;
use wire::ids::{BatchId, LibraryId, RevisionId};
use wire::jars::{JarQuery, JarsOf};
use wire::label::LabelQuery;
use wire::recipe::MakeFor;
use wire::stock::{LotQuery, LotState};

/// Lists the clinic's approved formulas, acknowledges their cautions and reads their recipes.
///
/// The key (sk_...) is read from the file named by --key-file, else from the environment variable STILLROOM_KEY; it
/// is never an argument.
///
/// Exit codes: 0 success; 1 refused or not reached; 2 invalid arguments or settings; 3 the cautions must be
/// acknowledged first and are listed.
#[derive(Debug, Parser)]
#[command(name = "stillroom-client", version)]
pub(crate) struct Options {
    /// The service, such as `https://clinic.example`
    #[arg(long, env = "STILLROOM_URL")]
    pub(crate) url: String,
    /// A file that contains only the key
    #[arg(long, value_name = "FILE")]
    pub(crate) key_file: Option<PathBuf>,
    /// Send the key unencrypted over plain http, also to another machine
    #[arg(long)]
    pub(crate) allow_plain_http: bool,
    /// The trace that the calls belong to, such as `00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01`
    #[arg(long, env = "TRACEPARENT", value_name = "TRACEPARENT")]
    pub(crate) traceparent: Option<TraceParent>,
    /// Print the service's response as JSON
    #[arg(long, global = true)]
    pub(crate) json: bool,
    #[command(subcommand)]
    pub(crate) task: Task,
}

#[derive(Debug, Subcommand)]
pub(crate) enum Task {
    /// List the approved formulas and their approved revisions, all or those that meet every condition
    Formulas {
        #[command(flatten)]
        search: Search,
    },
    /// Show the cautions of a revision
    Cautions {
        /// The revision's id
        revision: RevisionId,
    },
    /// Acknowledge the cautions of a revision, on the authority of the responsible person
    Acknowledge {
        /// The revision's id
        revision: RevisionId,
        /// The digest of the caution set that you read
        #[arg(long, value_name = "DIGEST")]
        i_have_read: String,
        /// The key of a contraindication; repeat the option for each
        #[arg(long, value_name = "KEY")]
        contraindication: Vec<String>,
        /// An audience that the preparation is meant for, such as pregnant, age:4 or allergy:GROUP
        #[arg(long, value_name = "AUDIENCE")]
        meant_for: Vec<String>,
    },
    /// Show the label of a revision
    Label {
        /// The revision's id
        revision: RevisionId,
        #[command(flatten)]
        container: Container,
    },
    /// Show the label for the jars of a batch
    BatchLabel {
        /// The batch's id
        batch: BatchId,
        /// The net contents, such as "30 g"; by default as the batch was opened for
        #[arg(long)]
        net: Option<String>,
        /// The area of the label, such as "40 cm2"; parts that do not fit are named
        #[arg(long)]
        area: Option<String>,
    },
    /// List the lots of the shelf: what expires first comes first
    Lots {
        #[command(flatten)]
        of: OfLots,
    },
    /// List the jars on the shelf: what must be used first comes first
    Jars {
        #[command(flatten)]
        of: OfJars,
    },
    /// Show whether a jar may be handed out, and what is told then
    Jar {
        /// The code on the jar, or the address that a scanner reads from it
        code: String,
    },
    /// Show the recipe for a quantity; by default for the formula's own
    Recipe {
        /// The revision's id
        revision: RevisionId,
        #[command(flatten)]
        quantity: Quantity,
    },
}

/// Which formulas are listed.
#[derive(Debug, Args)]
pub(crate) struct Search {
    /// Only formulas of this library
    #[arg(long, value_name = "ID")]
    library: Option<LibraryId>,
    /// Only formulas whose title contains this
    #[arg(long)]
    title: Option<String>,
    /// Only formulas that contain this material at any level: its id, or a part of one of its names
    #[arg(long)]
    material: Option<String>,
    /// Only this kind of preparation, such as cream
    #[arg(long)]
    kind: Option<String>,
    /// Only what is made as cosmetic, herbal_medicine, food or teaching_only
    #[arg(long)]
    regime: Option<Regime>,
}

impl Search {
    pub(crate) fn query(&self) -> FormulaQuery {
        let Self { library, title, material, kind, regime } = self;
        FormulaQuery {
            library: *library,
            title: title.clone(),
            material: material.clone(),
            kind: kind.clone(),
            regime: *regime,
            limit: Some(100),
            after: None,
        }
    }
}

/// Which lots are listed.
#[derive(Debug, Args)]
pub(crate) struct OfLots {
    /// Only lots that are quarantine, usable or discarded; all but discarded ones by default
    #[arg(long)]
    state: Option<LotState>,
    /// Only lots of this material: its id or a name
    #[arg(long)]
    material: Option<String>,
    /// Only lots with something left that keep for at most so many days
    #[arg(long, value_name = "DAYS")]
    expiring_within: Option<u16>,
}

impl OfLots {
    pub(crate) fn query(&self) -> LotQuery {
        LotQuery {
            state: self.state,
            material: self.material.clone(),
            expiring_within_days: self.expiring_within,
            limit: Some(100),
            ..LotQuery::default()
        }
    }
}

/// Which jars are listed.
#[derive(Debug, Args)]
pub(crate) struct OfJars {
    /// Only jars that are ready to be handed out, in quarantine, or past their last day
    #[arg(long)]
    of: Option<JarsOf>,
    /// Only jars of this library
    #[arg(long, value_name = "ID")]
    library: Option<LibraryId>,
    /// Only jars of this batch
    #[arg(long, value_name = "ID")]
    batch: Option<BatchId>,
    /// Only jars whose last day comes within so many days
    #[arg(long, value_name = "DAYS")]
    use_by_within: Option<u16>,
}

impl OfJars {
    pub(crate) fn query(&self) -> JarQuery {
        JarQuery {
            of: self.of,
            library: self.library,
            batch: self.batch,
            use_by_within_days: self.use_by_within,
            limit: Some(100),
            after: None,
        }
    }
}

/// The container that a label is for.
#[derive(Debug, Args)]
pub(crate) struct Container {
    /// The day of making, for the use-by date, such as 2026-03-21
    #[arg(long)]
    made_on: Option<chrono::NaiveDate>,
    /// The net contents, such as "30 g"
    #[arg(long)]
    net: Option<String>,
    /// The area of the label, such as "40 cm2"; parts that do not fit are named
    #[arg(long)]
    area: Option<String>,
}

impl Container {
    pub(crate) fn query(&self) -> LabelQuery {
        LabelQuery { made_on: self.made_on, net: self.net.clone(), area: self.area.clone() }
    }
}

/// The quantity of a recipe.
#[derive(Debug, Args)]
pub(crate) struct Quantity {
    /// The mass of the product, such as "500 g"
    #[arg(long, conflicts_with_all = ["volume", "containers", "line"])]
    mass: Option<String>,
    /// The volume of the product, such as "250 mL"
    #[arg(long, conflicts_with_all = ["containers", "line"])]
    volume: Option<String>,
    /// The number of containers
    #[arg(long, requires = "fill", conflicts_with = "line")]
    containers: Option<u32>,
    /// The contents of each container, such as "30 g"
    #[arg(long, requires = "containers")]
    fill: Option<String>,
    /// The line that limits the quantity, such as 1.1
    #[arg(long, requires = "line_amount")]
    line: Option<String>,
    /// The amount available for that line, such as "2.5 cups"
    #[arg(long, requires = "line")]
    line_amount: Option<String>,
    /// The loss in vessels and tools, such as "4 %"
    #[arg(long)]
    transfer_loss: Option<String>,
    /// The loss by evaporation, such as "1 %"
    #[arg(long)]
    evaporation_loss: Option<String>,
    /// The readability of the balance, such as "0.1 g"
    #[arg(long)]
    readability: Option<String>,
    /// The measured density of the product, such as "0.95 g/mL", for volumes of a cream
    #[arg(long)]
    density: Option<String>,
    /// The day of making, for the use-by date, such as 2026-03-21
    #[arg(long)]
    made_on: Option<chrono::NaiveDate>,
    /// The amount of one application, such as "2 g", "5 mL" or "teaspoon", for the dose
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
