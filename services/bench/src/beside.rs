//! What stands in a record beside its entries.

use release::Record;
use store::{Result, Tx};
use uuid::Uuid;
use wire::checks::Check;
use wire::deviations::Authorisation;
use wire::holds::HoldRelease;
use wire::long_work::Pause;

use crate::{checked, deviations, holds, makers, pauses};

/// What stands in a record beside its entries.
#[derive(Debug, Default)]
pub(crate) struct Beside {
    /// Whether the record is asked for checks before the start.
    pub(crate) checks_asked: bool,
    /// Its checks, corrected ones too, without names.
    pub(crate) checks: Vec<Check>,
    /// The holds that were released, without names.
    pub(crate) releases: Vec<HoldRelease>,
    /// The deviations that were authorised, without names.
    pub(crate) authorisations: Vec<Authorisation>,
    /// Everybody who made it, the first one first.
    pub(crate) makers: Vec<Uuid>,
    /// For what it was left, without names.
    pub(crate) pauses: Vec<Pause>,
}

impl Beside {
    pub(crate) async fn of<'t>(tx: &mut Tx<'t>, record: &Record<'t>) -> Result<Self> {
        let checks_asked = record.row().checks_asked == Some(true);
        let checks = checked::of_record(tx, record).await?;
        let releases = holds::of_record(tx, record).await?;
        let authorisations = deviations::of_record(tx, record).await?;
        let makers = makers::of_record(tx, record).await?;
        let pauses = pauses::of_record(tx, record).await?;
        Ok(Self { checks_asked, checks, releases, authorisations, makers, pauses })
    }
}
