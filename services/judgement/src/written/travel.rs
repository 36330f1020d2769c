//! Conversion of stored content from requests and to answers, without loss. Texts of requests are normalised to Unicode
//! form C.
//!
//! Each conversion destructures its source by field name, so that a new field on either side fails to compile until it
//! is converted.

use canonical::nfc;
use wire::formulary::{self, MeasuredWaterActivity, StabilityEvidence};

use super::content::{Content, LabelText, Line, OwnCaution, Phase, Serving, Stability, Step, WaterActivity};

fn each<'a, T: 'a, U: From<&'a T>>(all: &'a [T]) -> Vec<U> {
    all.iter().map(U::from).collect()
}

fn given(text: Option<&String>) -> Option<String> {
    text.map(|text| nfc(text))
}

impl From<&formulary::FormulaContent> for Content {
    fn from(content: &formulary::FormulaContent) -> Self {
        let formulary::FormulaContent {
            title,
            preparation,
            route,
            regime,
            site,
            youngest,
            used_daily,
            serving,
            target_ph,
            stability,
            water_activity,
            yield_,
            phases,
            method,
            cautions,
            label,
        } = content;
        Self {
            title: nfc(title),
            preparation: nfc(preparation),
            route: nfc(route),
            regime: (*regime).into(),
            site: given(site.as_ref()),
            youngest: given(youngest.as_ref()),
            used_daily: given(used_daily.as_ref()),
            serving: serving.as_ref().map(Serving::from),
            target_ph: given(target_ph.as_ref()),
            stability: stability.as_ref().map(Stability::from),
            water_activity: water_activity.as_ref().map(WaterActivity::from),
            yield_: given(yield_.as_ref()),
            phases: each(phases),
            method: each(method),
            cautions: each(cautions),
            label: label.into(),
        }
    }
}

impl From<&formulary::Phase> for Phase {
    fn from(formulary::Phase { name, lines }: &formulary::Phase) -> Self {
        Self { name: nfc(name), lines: each(lines) }
    }
}

impl From<&formulary::Line> for Line {
    fn from(formulary::Line { material, formula, amount, function }: &formulary::Line) -> Self {
        Self {
            material: given(material.as_ref()),
            formula: given(formula.as_ref()),
            amount: nfc(amount),
            function: given(function.as_ref()),
        }
    }
}

impl From<&formulary::Step> for Step {
    fn from(formulary::Step { do_, phase, temperature, hold, any_order, rescue }: &formulary::Step) -> Self {
        Self {
            do_: nfc(do_),
            phase: given(phase.as_ref()),
            temperature: given(temperature.as_ref()),
            hold: *hold,
            any_order: *any_order,
            rescue: *rescue,
        }
    }
}

impl From<&formulary::OwnCaution> for OwnCaution {
    fn from(own: &formulary::OwnCaution) -> Self {
        let formulary::OwnCaution { level, text, stage, audiences } = own;
        Self {
            level: (*level).into(),
            text: nfc(text),
            stage: stage.map(Into::into),
            audiences: audiences.iter().map(|audience| audience.trim().to_lowercase()).collect(),
        }
    }
}

impl From<&formulary::LabelText> for LabelText {
    fn from(label: &formulary::LabelText) -> Self {
        let formulary::LabelText { directions, storage, container, after_opening } = label;
        Self {
            directions: nfc(directions),
            storage: nfc(storage),
            container: nfc(container),
            after_opening: nfc(after_opening),
        }
    }
}

impl From<&formulary::Serving> for Serving {
    fn from(formulary::Serving { amount, to, a_day }: &formulary::Serving) -> Self {
        Self { amount: nfc(amount), to: given(to.as_ref()), a_day: *a_day }
    }
}

impl From<Serving> for formulary::Serving {
    fn from(Serving { amount, to, a_day }: Serving) -> Self {
        Self { amount, to, a_day }
    }
}

impl From<&StabilityEvidence> for Stability {
    fn from(StabilityEvidence { period, source }: &StabilityEvidence) -> Self {
        Self { period: nfc(period), source: nfc(source) }
    }
}

impl From<&MeasuredWaterActivity> for WaterActivity {
    fn from(MeasuredWaterActivity { value, source }: &MeasuredWaterActivity) -> Self {
        Self { value: nfc(value), source: nfc(source) }
    }
}

impl From<WaterActivity> for MeasuredWaterActivity {
    fn from(WaterActivity { value, source }: WaterActivity) -> Self {
        Self { value, source }
    }
}

fn every<T, U: From<T>>(all: Vec<T>) -> Vec<U> {
    all.into_iter().map(U::from).collect()
}

impl From<Content> for formulary::FormulaContent {
    fn from(content: Content) -> Self {
        let Content {
            title,
            preparation,
            route,
            regime,
            site,
            youngest,
            used_daily,
            serving,
            target_ph,
            stability,
            water_activity,
            yield_,
            phases,
            method,
            cautions,
            label,
        } = content;
        Self {
            title,
            preparation,
            route,
            regime: regime.into(),
            site,
            youngest,
            used_daily,
            serving: serving.map(formulary::Serving::from),
            target_ph,
            stability: stability.map(StabilityEvidence::from),
            water_activity: water_activity.map(MeasuredWaterActivity::from),
            yield_,
            phases: every(phases),
            method: every(method),
            cautions: every(cautions),
            label: label.into(),
        }
    }
}

impl From<Phase> for formulary::Phase {
    fn from(Phase { name, lines }: Phase) -> Self {
        Self { name, lines: every(lines) }
    }
}

impl From<Line> for formulary::Line {
    fn from(Line { material, formula, amount, function }: Line) -> Self {
        Self { material, formula, amount, function }
    }
}

impl From<Step> for formulary::Step {
    fn from(Step { do_, phase, temperature, hold, any_order, rescue }: Step) -> Self {
        Self { do_, phase, temperature, hold, any_order, rescue }
    }
}

impl From<OwnCaution> for formulary::OwnCaution {
    fn from(OwnCaution { level, text, stage, audiences }: OwnCaution) -> Self {
        Self { level: level.into(), text, stage: stage.map(Into::into), audiences }
    }
}

impl From<LabelText> for formulary::LabelText {
    fn from(LabelText { directions, storage, container, after_opening }: LabelText) -> Self {
        Self { directions, storage, container, after_opening }
    }
}

impl From<Stability> for StabilityEvidence {
    fn from(Stability { period, source }: Stability) -> Self {
        Self { period, source }
    }
}
