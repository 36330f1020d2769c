//! A formula as it is written in a notebook, a text for each line and step, and two of them side by side.

use wire::formulary::{FormulaContent, Line, MeasuredWaterActivity, Step};
use wire::recipe::Recipe;

use crate::figures::spelled;
use crate::texts::{t, t2};

/// A line as it would be written.
pub(crate) fn written(line: &Line) -> String {
    let name = line.material.as_deref().or(line.formula.as_deref()).unwrap_or_default();
    let function = line.function.as_deref().map(|function| format!(", {function}")).unwrap_or_default();
    format!("{} {name}{function}", line.amount).trim().to_owned()
}

pub(crate) fn step_written(step: &Step) -> String {
    let mut text = step.do_.clone();
    if let Some(heat) = &step.temperature {
        text = format!("{text}, {}", spelled(heat).replace('\u{a0}', " "));
    }
    if step.hold {
        text = format!("{text}, hold");
    }
    if step.any_order {
        text = format!("{text}, any order");
    }
    if step.rescue { format!("{text}, rescue") } else { text }
}

/// A measured water activity, and where its measurement is filed.
fn activity(measured: Option<&MeasuredWaterActivity>) -> String {
    measured.map(|it| t2("filed-at", it.value.clone(), it.source.clone())).unwrap_or_default()
}

/// Everything that an author writes of a formula, a text each, for comparing two versions of it.
pub(crate) fn all_of(content: &FormulaContent) -> Vec<String> {
    let given = |name: String, text: &str| (!text.is_empty()).then(|| format!("{name}: {text}"));
    let or = |text: &Option<String>| text.clone().unwrap_or_default();
    let label = &content.label;
    let fields = [
        given(t("title-word"), &content.title),
        given(t("kind-word"), &content.preparation),
        given(t("route-word"), &content.route),
        given(t("regime-word"), &content.regime.as_str().replace('_', " ")),
        given(t("yield-short"), &or(&content.yield_)),
        given(t("site-short"), &or(&content.site)),
        given(t("youngest-short"), &or(&content.youngest)),
        given(t("daily-short"), &or(&content.used_daily)),
        given(t("ph-short"), &or(&content.target_ph)),
        given(t("activity-short"), &activity(content.water_activity.as_ref())),
        given(t("directions-word"), &label.directions),
        given(t("storage-word"), &label.storage),
        given(t("container-word"), &label.container),
        given(t("after-word"), &label.after_opening),
    ];
    let lines = content.phases.iter().flat_map(|phase| phase.lines.iter().map(written));
    let steps = content.method.iter().map(step_written);
    let cautions = content.cautions.iter().map(|caution| caution.text.clone());
    fields
        .into_iter()
        .flatten()
        .chain(lines.map(|line| spelled(&line)))
        .chain(steps)
        .chain(cautions)
        .collect()
}

/// A line in two revisions: what was, and what is.
pub(crate) struct Compared {
    pub(crate) was: String,
    pub(crate) is: String,
}

/// What two lists of lines do not share, side by side, and how many they share. A line that is there twice in one and
/// once in the other differs once.
pub(crate) fn compare(was: &[String], is: &[String]) -> (Vec<Compared>, usize) {
    let mut gone: Vec<&String> = was.iter().collect();
    let mut new: Vec<&String> = Vec::new();
    for line in is {
        match gone.iter().position(|old| *old == line) {
            Some(at) => drop(gone.remove(at)),
            None => new.push(line),
        }
    }
    let same = is.len() - new.len();
    let side = |lines: &[&String], i: usize| lines.get(i).map(|line| (*line).clone()).unwrap_or_default();
    let changed = (0..gone.len().max(new.len())).map(|i| Compared { was: side(&gone, i), is: side(&new, i) });
    (changed.collect(), same)
}

/// What a recipe says of its formula, a text each, as a draft is read too.
pub(crate) fn lines_of(recipe: &Recipe) -> Vec<String> {
    let given = |name: String, text: &str| (!text.is_empty()).then(|| format!("{name}: {text}"));
    let or = |text: &Option<String>| text.clone().unwrap_or_default();
    let label = &recipe.label;
    let fields = [
        given(t("title-word"), &recipe.title),
        given(t("kind-word"), &recipe.preparation),
        given(t("route-word"), &recipe.route),
        given(t("regime-word"), &recipe.regime.as_str().replace('_', " ")),
        given(t("yield-short"), &or(&recipe.yield_)),
        given(t("site-short"), &or(&recipe.site)),
        given(t("youngest-short"), &or(&recipe.youngest)),
        given(t("daily-short"), &or(&recipe.used_daily)),
        given(t("ph-short"), &or(&recipe.target_ph)),
        given(t("activity-short"), &activity(recipe.water_activity.as_ref())),
        given(t("directions-word"), &label.directions),
        given(t("storage-word"), &label.storage),
        given(t("container-word"), &label.container),
        given(t("after-word"), &label.after_opening),
    ];
    let lines = recipe.phases.iter().flat_map(|phase| &phase.lines);
    let lines = lines.map(|line| {
        let function = line.function.as_deref().map(|function| format!(", {function}")).unwrap_or_default();
        spelled(&format!("{} {}{function}", line.as_written, line.name))
    });
    fields.into_iter().flatten().chain(lines).chain(recipe.method.iter().map(step_written)).collect()
}

#[cfg(test)]
mod tests {
    use clinic::formulary::typed;

    use super::*;

    #[test]
    fn a_line_and_a_step_are_written_as_they_are_read() {
        for text in ["50 g emulsifying wax, emulsifier", "q.s. 1000 g purified water"] {
            assert_eq!(written(&typed::line(text)), text);
        }
        for text in ["Melt the wax, 70 °C at most, hold", "Stir"] {
            assert_eq!(step_written(&typed::step(text)), text);
        }
    }

    #[test]
    fn two_revisions_are_compared_line_by_line() {
        let lines = |all: &[&str]| all.iter().map(|line| (*line).to_owned()).collect::<Vec<_>>();
        let (changed, same) =
            compare(&lines(&["40 g wax", "100 g oil"]), &lines(&["50 g wax", "100 g oil", "1 g acid"]));
        let told: Vec<_> = changed.iter().map(|one| (one.was.as_str(), one.is.as_str())).collect();
        assert_eq!((told, same), (vec![("40 g wax", "50 g wax"), ("", "1 g acid")], 1));
    }

    #[test]
    fn a_line_that_stands_twice_differs_where_it_stands_once() {
        let lines = |all: &[&str]| all.iter().map(|line| (*line).to_owned()).collect::<Vec<_>>();
        let (changed, same) = compare(&lines(&["Stir", "Stir"]), &lines(&["Stir"]));
        let told: Vec<_> = changed.iter().map(|one| (one.was.as_str(), one.is.as_str())).collect();
        assert_eq!((told, same), (vec![("Stir", "")], 1));
    }
}
