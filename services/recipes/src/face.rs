//! What stands in a recipe beside the frozen content.

use canonical::Sha;
use formulary::gate::Passed;
use formulary::{Facts, sets};
use policy::Rules;
use store::{Error, Result, Tx};
use wire::recipe::MakeFor;
use wire::safety::CautionSet;

use crate::made_for::{self, Asked};

/// What stands in a recipe beside the frozen content: the open facts of the revision, the cautions and the rules. It
/// never changes under the digests, the number of the set and the version of the policy that it was read under, as long
/// as a grant to make is there: a revision that may be made is approved.
pub(crate) struct Face {
    pub(crate) facts: Facts,
    pub(crate) cautions: CautionSet,
    pub(crate) rules: Rules,
}

/// Reads the face of a revision for the holder of a grant: the caution set that the grant was given for, and the rules in
/// force with their notice.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn face(tx: &mut Tx<'_>, passed: &Passed<'_>) -> Result<Face> {
    let rules = policy::rules(tx).await?;
    let (id, set) = (passed.facts.id, passed.grant.set_number());
    let cautions = sets::numbered(tx, id, set).await?;
    Ok(Face { facts: passed.facts.clone(), cautions, rules })
}

impl Face {
    /// Reads a request by these rules. `prefix` is that of its fields.
    ///
    /// # Errors
    /// As [`made_for::asked`].
    pub(crate) fn asked(&self, ask: &MakeFor, prefix: &'static str) -> Result<Asked> {
        made_for::asked(ask, self.rules.customary, prefix)
    }

    /// The digest of the frozen content.
    ///
    /// # Errors
    /// Returns [`Error::Internal`] for a draft.
    pub(crate) fn digest(&self) -> Result<Sha> {
        self.facts.digest.ok_or_else(|| Error::internal("a recipe of what was never frozen"))
    }

    /// The version of the policy whose rules and notice it holds.
    pub(crate) const fn policy(&self) -> i32 {
        self.rules.version
    }
}
