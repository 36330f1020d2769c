//! A formula as it is typed in the workshop: lines and steps as in a notebook.

use clinic::formulary::typed;
use clinic::overview;
use wire::formulary::{FormulaContent, LabelText, Line, MeasuredWaterActivity, OwnCaution, Phase, Regime};
use wire::recipe::{Recipe, RecipeLine};
use wire::safety::{CautionLevel, CautionSet};

use crate::form::Form;
use crate::texts::t;
use crate::trouble::Trouble;
use crate::visitor::Visitor;

/// The formula that a form describes. Lines that are empty are left out; several may stand in one field.
pub(super) async fn content(visitor: &Visitor, form: &Form) -> Result<FormulaContent, Trouble> {
    let mut phases: Vec<Phase> = Vec::new();
    let mut steps = Vec::new();
    let mut cautions = Vec::new();
    for (name, value) in form.fields() {
        let texts = value.lines().map(str::trim).filter(|text| !text.is_empty());
        match name.as_str() {
            "phase" => phases.push(Phase { name: value.trim().to_owned(), lines: Vec::new() }),
            "line" => {
                if phases.is_empty() {
                    phases.push(Phase { name: t("first-phase"), lines: Vec::new() });
                }
                if let Some(last) = phases.last_mut() {
                    last.lines.extend(texts.map(typed::line));
                }
            }
            "step" => steps.extend(texts.map(typed::step)),
            "caution" => {
                cautions.extend(texts.map(|text| OwnCaution {
                    level: CautionLevel::Caution,
                    text: text.to_owned(),
                    stage: None,
                    audiences: Vec::new(),
                }));
            }
            _ => {}
        }
    }
    phases.retain(|phase| !phase.lines.is_empty());
    let names: Vec<String> =
        phases.iter().flat_map(|phase| &phase.lines).filter_map(|line| line.material.clone()).collect();
    let titles = overview::titles(visitor.clinic(), visitor.credentials(), &names).await?;
    for line in phases.iter_mut().flat_map(|phase| phase.lines.iter_mut()) {
        if line.material.as_ref().is_some_and(|name| titles.contains(&name.to_lowercase())) {
            line.formula = line.material.take();
        }
    }
    Ok(FormulaContent {
        title: form.text("title"),
        preparation: form.text("preparation"),
        route: form.text("route"),
        regime: form.text("regime").parse().unwrap_or(Regime::TeachingOnly),
        site: form.given("site"),
        youngest: form.given("youngest"),
        used_daily: form.given("used_daily"),
        serving: None,
        target_ph: form.given("target_ph"),
        stability: None,
        water_activity: water_activity(form),
        yield_: form.given("yield"),
        phases,
        method: steps,
        cautions,
        label: LabelText {
            directions: form.text("directions"),
            storage: form.text("storage"),
            container: form.text("container"),
            after_opening: form.text("after_opening"),
        },
    })
}

/// A measured water activity: either field alone is kept, and refused with what is missing.
fn water_activity(form: &Form) -> Option<MeasuredWaterActivity> {
    let (value, source) = (form.text("water_activity"), form.text("water_activity_source"));
    (!value.is_empty() || !source.is_empty()).then_some(MeasuredWaterActivity { value, source })
}

/// What the page does not show of a draft stays as it is: evidence of stability, the serving, the phase of a step and the
/// level of a caution, each with the words that it belongs to.
pub(super) fn carry_over(content: &mut FormulaContent, earlier: FormulaContent) {
    content.stability = earlier.stability;
    content.serving = earlier.serving;
    for step in &mut content.method {
        step.phase = earlier.method.iter().find(|old| old.do_ == step.do_).and_then(|old| old.phase.clone());
    }
    for caution in &mut content.cautions {
        if let Some(old) = earlier.cautions.iter().find(|old| old.text == caution.text) {
            caution.level = old.level;
            caution.stage = old.stage;
            caution.audiences.clone_from(&old.audiences);
        }
    }
}

pub(super) fn empty() -> FormulaContent {
    FormulaContent {
        title: String::new(),
        preparation: String::new(),
        route: "on intact skin, leave-on".into(),
        regime: Regime::Cosmetic,
        site: None,
        youngest: None,
        used_daily: None,
        serving: None,
        target_ph: None,
        stability: None,
        water_activity: None,
        yield_: None,
        phases: vec![Phase { name: "oil phase".into(), lines: Vec::new() }],
        method: Vec::new(),
        cautions: Vec::new(),
        label: LabelText::default(),
    }
}

/// A further revision's first draft: what the recipe and the cautions tell of the one before.
pub(super) fn copied(recipe: Recipe, set: &CautionSet) -> FormulaContent {
    let lines = |lines: Vec<RecipeLine>| {
        let line = |line: RecipeLine| {
            let nested = line.nested_revision.is_some();
            let name = Some(line.name);
            Line {
                material: name.clone().filter(|_| !nested),
                formula: name.filter(|_| nested),
                amount: line.as_written,
                function: line.function,
            }
        };
        lines.into_iter().map(line).collect()
    };
    let own = set.cautions.iter().filter(|caution| caution.origins.iter().any(|origin| origin == OWN));
    let cautions = own.map(|caution| OwnCaution {
        level: caution.level,
        text: caution.text.clone(),
        stage: Some(caution.stage),
        audiences: caution.audiences.iter().filter(|one| *one != "everyone").cloned().collect(),
    });
    FormulaContent {
        title: recipe.title,
        preparation: recipe.preparation,
        route: recipe.route,
        regime: recipe.regime,
        site: recipe.site,
        youngest: recipe.youngest,
        used_daily: recipe.used_daily,
        serving: recipe.serving,
        target_ph: recipe.target_ph,
        stability: recipe.stability,
        water_activity: recipe.water_activity,
        yield_: recipe.yield_,
        phases: recipe
            .phases
            .into_iter()
            .map(|phase| Phase { name: phase.name, lines: lines(phase.lines) })
            .collect(),
        method: recipe.method,
        cautions: cautions.collect(),
        label: recipe.label,
    }
}

/// From where a caution comes that the formula's author entered.
const OWN: &str = "this formula";
