//! The use-by date of a preparation described by its properties.

use chrono::NaiveDate;
use galenics::use_by::{
    AcidPreservative, DatedPart, DatingFacts, Expiry, Period, PreservationFacts, PreservationRules,
    RouteClass, Storage, SugarCounts, preservation, use_by as work_out,
};
use galenics::{
    Decimal, Fraction, Preparation, Source, Sourced, Status, Temperature, Text, alcohol::strength_by_mass,
};
use materia::Materia;
use store::{Credentials, Result, Store, Tx};
use wire::calculations::use_by::{
    AcidPreservative as PreservativeAsked, DatedPart as PartAsked, SwitchedOff, UseByAnswer, UseByQuestion,
    WateryPhase,
};

use super::dose::kind;
use super::form::{Basis, Form, Read, all};
use super::known::{self, Known};
use judgement::answers::use_by_said;
use judgement::kinds::{is_liquid, water};
use judgement::lot;
use judgement::rule_sets::rule_sets;
use judgement::stability::{on_file, period as read_period};

/// The most parts with an expiry date, and the most switched-off rule sets.
const MOST: usize = 200;

/// The use-by date of a preparation, with the outcome of every rule.
///
/// # Errors
/// Returns [`store::Error::Invalid`] with every field that cannot be read or met, and the errors of verifying `claim`.
pub async fn use_by(
    store: &Store,
    credentials: &Credentials,
    question: &UseByQuestion,
) -> Result<UseByAnswer> {
    store
        .read(credentials, async |tx| {
            let form = Form::of(tx).await?;
            let named = question.watery_phase.as_ref().and_then(|phase| phase.preservative.as_ref());
            let place = form.within("watery_phase").within("preservative");
            let acid = known::one(tx, &place, "material", named.map(|named| &named.material)).await??;
            let holds = holds(tx, &form, question).await??;
            Ok(answer(tx.reference, &form, question, acid.as_ref(), holds)?)
        })
        .await
}

/// The keys of the materials that it holds.
async fn holds(tx: &mut Tx<'_>, form: &Form, asked: &UseByQuestion) -> Result<Read<Vec<Text>>> {
    if asked.holds.len() > MOST {
        return Ok(Err(form.refuse("holds", format!("Name at most {MOST} materials."))));
    }
    let names: Vec<&str> = asked.holds.iter().map(String::as_str).collect();
    let found = known::some(tx, &names).await?.into_iter().enumerate();
    let key = |(at, known): (usize, known::Named)| match known {
        Ok(known) => Ok(known.material.key.clone().into()),
        Err(unnamed) => Err(form.within("holds").unnamed(&at.to_string(), unnamed)),
    };
    Ok(found.map(key).collect())
}

fn answer(
    reference: &Materia,
    form: &Form,
    asked: &UseByQuestion,
    acid: Option<&Known>,
    holds: Vec<Text>,
) -> Read<UseByAnswer> {
    let (preparation, route, storage, water_activity, phase, dates) = all((
        kind(reference, form, &asked.preparation),
        form.word::<RouteClass>("route", &asked.route),
        form.word::<Storage>("storage", &asked.storage),
        form.optional(asked.water_activity.as_ref(), |form, text| form.number("water_activity", text)),
        watery_phase(reference, form, asked.watery_phase.as_ref(), acid),
        dates(reference, form, asked),
    ))?;
    let water_activity = water_activity.map(Sourced::entered);
    let mut phase = counted(phase, preparation, asked.watery_phase.as_ref());
    // What is no activity is refused where it was typed, by the dating.
    phase.water_activity = water_activity.clone().filter(|typed| typed.value <= Decimal::ONE);
    let preserved =
        form.within("watery_phase").worked(preservation(&phase, &PreservationRules::remembered()))?;
    let facts = DatingFacts {
        made_on: asked.made_on,
        regime: asked.regime.as_str().replace('_', "-").into(),
        preparation,
        route,
        liquid: asked.liquid.unwrap_or_else(|| is_liquid(preparation)),
        water: water(reference, &asked.preparation, water_activity.clone()),
        preserved: preserved.preserved,
        alcohol: phase.alcohol,
        sugar: phase.sugar,
        holds,
        kept: true,
        storage,
        parts: dates.parts,
        opened: dates.opened,
        stability_evidence: dates.stability,
        switched_off: dates.switched_off,
    };
    let names = [("opened", "opened/on"), ("period", "made_on")];
    let found = form.worked_as(&names, work_out(&facts, &rule_sets(reference)))?;
    Ok(use_by_said(found, &preserved, judgement::figures::Detail::Explained))
}

fn watery_phase(
    reference: &Materia,
    form: &Form,
    asked: Option<&WateryPhase>,
    acid: Option<&Known>,
) -> Read<PreservationFacts> {
    let Some(asked) = asked else { return Ok(PreservationFacts::default()) };
    let form = form.within("watery_phase");
    let preservative = match (&asked.preservative, acid) {
        (Some(asked), Some(known)) => {
            preservative(reference, &form.within("preservative"), asked, known).map(Some)
        }
        (Some(_) | None, _) => Ok(None),
    };
    let (alcohol, glycerol, sugar, vinegar, ph, preservative) = all((
        form.optional(asked.alcohol.as_ref(), |form, text| form.share("alcohol", text, Basis::ByVolume)),
        form.optional(asked.glycerol.as_ref(), |form, text| form.share("glycerol", text, Basis::ByMass)),
        form.optional(asked.sugar.as_ref(), |form, text| form.share("sugar", text, Basis::ByMass)),
        form.optional(asked.acetic_acid.as_ref(), |form, text| {
            form.share("acetic_acid", text, Basis::ByMass)
        }),
        form.optional(asked.ph.as_ref(), |form, text| form.number("ph", text)),
        preservative,
    ))?;
    let acid = ph.is_some_and(|ph| ph < Decimal::from(7));
    Ok(PreservationFacts { alcohol, acid, glycerol, sugar, vinegar, preservative, ph, ..Default::default() })
}

/// How the sugar counts in this kind, and what of the phase is water and ethanol: all that is not sugar or glycerol.
fn counted(
    mut facts: PreservationFacts,
    preparation: Preparation,
    asked: Option<&WateryPhase>,
) -> PreservationFacts {
    facts.sugar_counts = match preparation {
        Preparation::Syrup => SugarCounts::WithAlcohol,
        Preparation::Oxymel => SugarCounts::WithVinegar,
        Preparation::Electuary if asked.and_then(|phase| phase.dry_powder) != Some(true) => {
            SugarCounts::Not("sugar keeps an electuary only with dry powder, which is not stated".into())
        }
        _ => SugarCounts::Alone,
    };
    let of = |share: Option<Fraction>| share.unwrap_or_default().get();
    let rest = (Decimal::ONE - of(facts.sugar) - of(facts.glycerol)).max(Decimal::ZERO);
    let by_mass = facts.alcohol.and_then(|alcohol| strength_by_mass(alcohol, Temperature::TWENTY).ok());
    let ethanol = by_mass.and_then(|at| at.by_mass.value()).unwrap_or_default().saturating_mul(rest);
    facts.ethanol = Fraction::new(ethanol).ok();
    facts.water = Fraction::new(rest - ethanol).ok();
    facts
}

/// An acid preservative or its salt, counted as the least acid that it gives.
fn preservative(
    reference: &Materia,
    form: &Form,
    asked: &PreservativeAsked,
    known: &Known,
) -> Read<AcidPreservative> {
    let (share, enough) = all((
        form.share("share", &asked.share, Basis::ByMass),
        form.share("enough", &asked.enough, Basis::ByMass),
    ))?;
    let acid = known.material.constituents.iter().find_map(|held| {
        let as_acid = reference.substance(&held.substance)?.as_acid.as_ref()?;
        let acid = reference.substance(&as_acid.acid)?;
        Some((acid, acid.pka?, held.low_percent.checked_mul(as_acid.factor)?))
    });
    let (acid, pka, percent) = acid.ok_or_else(|| {
        let says = format!(
            "{} is not an acid preservative with a known pKa. Choose one, such as potassium sorbate.",
            known.facts.name
        );
        form.refuse("material", says)
    })?;
    let given = percent.checked_div(Decimal::ONE_HUNDRED).and_then(|part| share.get().checked_mul(part));
    let given = Fraction::new(given.unwrap_or_default()).map_err(|error| form.refuse("share", error))?;
    Ok(AcidPreservative {
        name: acid.name.clone().into(),
        share: given,
        pka: Sourced::new(
            pka,
            Source::new(format!("pKa of {} in water at 25 C", acid.name), Status::FromMemory),
        ),
        enough: Sourced::entered(enough),
    })
}

/// The parsed dates of a question, and the rule sets that it switches off.
struct Dates {
    parts: Vec<DatedPart>,
    opened: Option<(NaiveDate, Period)>,
    stability: Option<Sourced<Period>>,
    switched_off: Vec<(Text, Text)>,
}

fn dates(reference: &Materia, form: &Form, asked: &UseByQuestion) -> Read<Dates> {
    let parts =
        if asked.parts.is_empty() { Ok(Vec::new()) } else { form.each("parts", &asked.parts, MOST, part) };
    let opened = asked.opened.as_ref().map(|opened| {
        let period = period(&form.within("opened"), "good_for", &opened.good_for)?;
        Ok((opened.on, period))
    });
    let stability = asked.stability.as_ref().map(|evidence| {
        on_file(&evidence.period, &evidence.source)
            .map_err(|(field, cure)| form.within("stability").refuse(field, cure))
    });
    let switched_off = if asked.switched_off.is_empty() {
        Ok(Vec::new())
    } else {
        form.each("switched_off", &asked.switched_off, MOST, |form, off| switched(reference, form, off))
    };
    let (parts, opened, stability, switched_off) =
        all((parts, opened.transpose(), stability.transpose(), switched_off))?;
    Ok(Dates { parts, opened, stability, switched_off })
}

fn part(form: &Form, asked: &PartAsked) -> Read<DatedPart> {
    let (name, expiry) = all((text(form, "name", &asked.name), expiry(form, &asked.expiry)))?;
    Ok(DatedPart { name, expiry, watery: false })
}

fn expiry(form: &Form, text: &str) -> Read<Expiry> {
    lot::expiry(text).map_err(|cure| form.refuse("expiry", cure))
}

fn period(form: &Form, field: &str, text: &str) -> Read<Period> {
    read_period(text).map_err(|cure| form.refuse(field, cure))
}

fn text(form: &Form, field: &str, text: &str) -> Read<Text> {
    let typed = text.trim();
    if !(1..=200).contains(&typed.chars().count()) {
        return Err(form.refuse(field, "Enter 1 to 200 characters."));
    }
    Ok(typed.to_owned().into())
}

fn switched(reference: &Materia, form: &Form, asked: &SwitchedOff) -> Read<(Text, Text)> {
    let known =
        reference.dating.iter().find(|set| set.key == asked.rule_set).map(|set| set.key.clone().into());
    let keys: Vec<&str> = reference.dating.iter().map(|set| set.key.as_str()).collect();
    let known = known.ok_or_else(|| {
        form.refuse("rule_set", format!("Unknown rule set. Accepted rule sets: {}.", keys.join(", ")))
    });
    let reason = text(form, "reason", &asked.reason).map_err(|_| {
        form.refuse("reason", "State why the rule set is switched off, in 1 to 200 characters.")
    });
    all((known, reason))
}
