//! A recipe as a work sheet.

use wire::calculations::use_by::RuleOutcome;
use wire::figure::Figure;
use wire::formulary::RevisionState;
use wire::recipe::{Recipe, RecipeLine};

use super::table::{point_under_point, table};
use super::text::{indented, level};

/// The recipe: purpose, notice, cautions, weighing table, method, label texts, use-by date, and the figures with their
/// explanations.
pub(crate) fn recipe(recipe: &Recipe) -> String {
    let mut out = head(recipe);
    cautions(&mut out, recipe);
    weighing(&mut out, recipe);
    method(&mut out, recipe);
    label(&mut out, recipe);
    use_by(&mut out, recipe);
    figures(&mut out, recipe);
    out
}

fn head(recipe: &Recipe) -> String {
    let mut out = format!("{} ({}, {})\n", recipe.title, recipe.preparation, recipe.route);
    indented(&mut out, 2, &format!("regime: {}", recipe.regime.as_str().replace('_', " ")));
    if let Some(site) = &recipe.site {
        indented(&mut out, 2, &format!("site: {site}"));
    }
    if let Some(youngest) = &recipe.youngest {
        indented(&mut out, 2, &format!("youngest age: {youngest}"));
    }
    indented(&mut out, 2, &format!("quantity: {}", recipe.made_for));
    indented(&mut out, 2, &format!("total to weigh: {}", quantity(&recipe.total)));
    indented(
        &mut out,
        2,
        &format!("revision {} (number {}), {}", recipe.revision, recipe.number, recipe.state),
    );
    indented(&mut out, 2, &format!("digest {}", recipe.digest));
    if let Some(note) = &recipe.approval_note {
        indented(&mut out, 2, note);
    }
    if recipe.state != RevisionState::Approved {
        indented(&mut out, 2, "NOT APPROVED. Do not make this revision.");
    }
    out
}

fn cautions(out: &mut String, recipe: &Recipe) {
    out.push_str("\nNotice\n");
    indented(out, 2, &recipe.caution_set.notice);
    if !recipe.caution_set.cautions.is_empty() {
        out.push_str("\nCautions\n");
    }
    for caution in &recipe.caution_set.cautions {
        indented(out, 2, &format!("{}: {}", level(caution.level), caution.text));
    }
}

fn weighing(out: &mut String, recipe: &Recipe) {
    let lines: Vec<&RecipeLine> = recipe.phases.iter().flat_map(|phase| &phase.lines).collect();
    let column = |of: fn(&RecipeLine) -> Option<&Figure>| {
        let entries: Vec<String> =
            lines.iter().map(|line| of(line).map(quantity).unwrap_or_default()).collect();
        point_under_point(&entries)
    };
    // Aligned across all phases, so that they read as one table.
    let weigh = column(|line| Some(&line.weigh));
    let measure = column(|line| line.measure.as_ref());
    let mut figures = weigh.into_iter().zip(measure);
    for phase in &recipe.phases {
        out.push_str(&format!("\n{}\n", phase.name));
        let rows: Vec<Vec<String>> = phase
            .lines
            .iter()
            .zip(figures.by_ref())
            .map(|(line, (weigh, measure))| {
                let function = line.function.clone().unwrap_or_default();
                vec![line.line.clone(), line.name.clone(), weigh, measure, function, line.as_written.clone()]
            })
            .collect();
        out.push_str(&table(&["line", "material", "weigh", "or measure", "function", "as written"], &rows));
        for line in &phase.lines {
            notes(out, line);
        }
    }
}

fn notes(out: &mut String, line: &RecipeLine) {
    if let Some(note) = &line.weighing_note {
        indented(out, 4, &format!("{}: {note}", line.line));
    }
    if let Some(off) = line.rounding.as_ref().filter(|off| off.value.as_deref() != Some("0")) {
        indented(out, 4, &format!("{}: rounded to the balance by {}", line.line, quantity(off)));
    }
    if let Some(nested) = line.nested_revision {
        indented(out, 4, &format!("{}: prepared from its own formula, revision {nested}", line.line));
    }
}

fn method(out: &mut String, recipe: &Recipe) {
    out.push_str("\nMethod\n");
    for (index, step) in recipe.method.iter().enumerate() {
        let mut text = format!("{}. {}", index + 1, step.do_);
        let about: Vec<&str> =
            [&step.phase, &step.temperature].into_iter().flatten().map(String::as_str).collect();
        if !about.is_empty() {
            text.push_str(&format!(" ({})", about.join(", ")));
        }
        if step.hold {
            text.push_str(if text.ends_with('.') { " " } else { ". " });
            text.push_str("HOLD: confirm before continuing.");
        }
        indented(out, 2, &text);
    }
}

fn label(out: &mut String, recipe: &Recipe) {
    let parts = [
        ("directions", &recipe.label.directions),
        ("storage", &recipe.label.storage),
        ("container", &recipe.label.container),
    ];
    if parts.iter().any(|(_, text)| !text.is_empty()) {
        out.push_str("\nLabel\n");
    }
    for (name, text) in parts.into_iter().filter(|(_, text)| !text.is_empty()) {
        indented(out, 2, &format!("{name}: {text}"));
    }
}

/// The use-by date with the rule that limits it, and the rule sets that the clinic has switched off.
fn use_by(out: &mut String, recipe: &Recipe) {
    let Some(use_by) = &recipe.use_by else { return };
    out.push_str("\nUse by\n");
    let limited = use_by.limited_by.as_ref().map(|by| format!(" ({by})")).unwrap_or_default();
    match use_by.date {
        Some(date) => indented(out, 2, &format!("{date}{limited}")),
        None => indented(out, 2, "No dating rule applies. An instructor must set the use-by date."),
    }
    if use_by.refrigerate {
        indented(out, 2, "Keep refrigerated. The use-by date applies only when refrigerated.");
    }
    for rule in use_by.rules.iter().filter(|rule| rule.outcome == RuleOutcome::SwitchedOff) {
        let reason = rule.reason.as_deref().unwrap_or_default();
        indented(out, 2, &format!("{}: switched off by the clinic: {reason}", rule.by));
    }
}

fn figures(out: &mut String, recipe: &Recipe) {
    out.push_str("\nFigures\n");
    for figure in std::iter::once(&recipe.total).chain(&recipe.figures) {
        indented(out, 2, &format!("{}: {}", figure.name, quantity(figure)));
        if let Some(sentence) = figure.sentence.as_ref().filter(|_| figure.unknown.is_none()) {
            indented(out, 4, sentence);
        }
        if let Some(source) = &figure.source {
            indented(out, 4, &format!("source: {} ({})", source.text, source.status));
        }
    }
    if !recipe.unknown.is_empty() {
        out.push_str("\nUnknown\n");
    }
    for unknown in &recipe.unknown {
        indented(out, 2, unknown);
    }
}

/// A value with its unit, or the missing datum. Never empty, which could be read as zero.
fn quantity(figure: &Figure) -> String {
    match (&figure.value, &figure.unknown) {
        (Some(value), _) if figure.unit.is_empty() => value.clone(),
        (Some(value), _) => format!("{value} {}", figure.unit),
        (None, Some(unknown)) if unknown.starts_with("unknown") => unknown.clone(),
        (None, Some(unknown)) => format!("unknown: {unknown}"),
        (None, None) => "unknown".into(),
    }
}
