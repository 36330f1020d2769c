//! What the demo clinic gave out: jars of a powder, a sample that was looked at, a jar that was handed out, the reaction to it
//! that somebody told, and a jar that was decanted into two.

use clinic::{Clinic, Credentials, jars, observations, reactions};
use wire::ids::BatchId;
use wire::jars::{DecantInto, NewDecanting, NewHanding, NewJars, NewRelease};
use wire::observations::NewObservation;
use wire::reactions::{NewReaction, ReactionOutcome};

use super::requests::once;
use crate::error::StartError;

/// Fills jars from an accepted batch and keeps one as a sample. Somebody who did not make it releases them, hands one out, and
/// writes down what was told of it. The maker decants the next one into two.
pub(super) async fn given_out(
    clinic: &Clinic,
    maker: &Credentials,
    instructor: &Credentials,
    batch: BatchId,
) -> Result<(), StartError> {
    let request = NewJars { jars: 6, fill: "30 g".into(), density: None, use_by: None, samples: Some(1) };
    let filled = jars::fill(clinic, maker, &once(clinic), batch, &request).await?;
    let sheet = jars::release_sheet(clinic, instructor, batch).await?;
    let confirmed = sheet.cautions.into_iter().map(|caution| caution.id).collect();
    let request = NewRelease { confirmed, reason: None };
    jars::release(clinic, instructor, &once(clinic), batch, &request).await?;
    for sample in filled.jars.iter().filter(|jar| jar.sample) {
        let request = NewObservation {
            jar: sample.number,
            seen: Vec::new(),
            note: Some("Dry and loose, pale green, smells of sage.".into()),
            corrects: None,
            reason: None,
        };
        observations::observe(clinic, maker, &once(clinic), batch, &request).await?;
    }
    for jar in filled.jars.iter().filter(|jar| !jar.sample).take(1) {
        let request = NewHanding {
            reference: "C-0917".into(),
            suitability_asked: true,
            cautions_told: true,
            opening_told: true,
        };
        jars::hand(clinic, instructor, &once(clinic), jar.id, &request).await?;
        let request = NewReaction {
            what:
                "The skin between two toes reddened after the first use. It was calm again the next morning."
                    .into(),
            began_on: None,
            outcome: ReactionOutcome::Recovered,
            serious: Vec::new(),
        };
        reactions::tell_at_clinic(clinic, instructor, &once(clinic), jar.id, &request).await?;
    }
    for jar in filled.jars.iter().filter(|jar| !jar.sample).skip(1).take(1) {
        let into = vec![DecantInto { jars: 2, fill: "15 g".into(), density: None }];
        let request = NewDecanting { into, reason: "Two small jars are needed for travelling.".into() };
        Box::pin(jars::decant(clinic, maker, &once(clinic), jar.id, &request)).await?;
    }
    Ok(())
}
