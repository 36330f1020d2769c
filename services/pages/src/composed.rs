//! How a formula comes out, as the workshop and whoever decides see it: composition, limits, emulsion, preservation.

use wire::calculations::use_by::UseByAnswer;
use wire::figure::Figure;
use wire::recipe::{AllergenVerdict, Evaluation, LimitOutcome, LimitVerdict};

use crate::dated;
use crate::figures::{self, Sum, source, spelled, why};
use crate::frame::Frame;
use crate::texts::{t, t1, text};

/// A share of the composition, with its place in the picture.
pub(crate) struct Share {
    pub(crate) name: String,
    pub(crate) share: String,
    /// Where its part of the vessel begins, and how high it is, in hundredths.
    pub(crate) y: String,
    pub(crate) height: String,
    /// Where it is in the vessel, and where its name stands.
    pub(crate) middle: String,
    pub(crate) label: String,
    pub(crate) fill: &'static str,
}

/// A limit with the room that is left under it.
pub(crate) struct Limit {
    pub(crate) sentence: String,
    pub(crate) strong: bool,
    pub(crate) source: String,
    /// The bar, in a picture of 320 with the post at 200; empty where nothing can be drawn.
    pub(crate) bar: String,
    pub(crate) over: String,
    pub(crate) would_pass: Vec<String>,
}

/// A pair of name and answer.
pub(crate) struct Pair {
    pub(crate) name: String,
    pub(crate) value: String,
    pub(crate) why: Vec<Sum>,
}

/// Fragrance allergens of which the label says the same.
pub(crate) struct Allergens {
    pub(crate) sentence: String,
    /// Whether the label must name them, or that is not known.
    pub(crate) strong: bool,
    /// Each with its source.
    pub(crate) sources: Vec<String>,
}

/// Everything that is shown of an evaluation.
pub(crate) struct Composed {
    pub(crate) shares: Vec<Share>,
    /// How high the picture is.
    pub(crate) high: u32,
    pub(crate) picture: String,
    pub(crate) limits: Vec<Limit>,
    /// Fragrance allergens, those that the label must name first.
    pub(crate) allergens: Vec<Allergens>,
    /// What an author looks at first.
    pub(crate) pairs: Vec<Pair>,
    /// The other figures.
    pub(crate) others: Vec<Pair>,
    pub(crate) unknown: Vec<String>,
    pub(crate) total: String,
    /// Where prices can be entered.
    pub(crate) cost: String,
}

/// In the picture: top and bottom of the vessel, and how far names stand apart.
const TOP: f64 = 24.0;
const APART: f64 = 25.0;
/// More than these are told together.
const MOST: usize = 12;

fn exact(figure: &Figure) -> f64 {
    figure.exact.as_deref().or(figure.value.as_deref()).and_then(|text| text.parse().ok()).unwrap_or(0.0)
}

/// A share as it stands beside the vessel, where there is room for few signs.
fn in_picture(share: f64) -> String {
    if share > 0.0 && share < 0.05 { "<\u{2009}0.1\u{a0}%".to_owned() } else { format!("{share:.1}\u{a0}%") }
}

fn fill(name: &str) -> &'static str {
    let has = |words: &[&str]| words.iter().any(|word| name.to_lowercase().contains(word));
    if has(&["water", "infusion", "decoction", "glycerol", "ethanol", "vinegar", "juice"]) {
        "w"
    } else if has(&[" oil", "butter", "lanolin"]) {
        "o"
    } else {
        "x"
    }
}

/// Makes an evaluation ready to be shown.
pub(crate) fn composed(evaluation: &Evaluation) -> Composed {
    let mut parts: Vec<(String, f64, String)> = evaluation
        .composition
        .iter()
        .map(|one| (one.name.clone(), exact(&one.share), in_picture(exact(&one.share))))
        .collect();
    let named =
        parts.iter().take(3).map(|(name, _, share)| format!("{name} {share}")).collect::<Vec<_>>().join(", ");
    if parts.len() > MOST {
        let rest = parts.split_off(MOST - 1);
        let sum: f64 = rest.iter().map(|(_, share, _)| share).sum();
        let others = text("others-count", &[("a", i64::try_from(rest.len()).unwrap_or(0).into())]);
        parts.push((others, sum, in_picture(sum)));
    }
    // The smallest on top: a vessel is filled from below.
    parts.reverse();
    let tall = (APART * f64::from(u32::try_from(parts.len()).unwrap_or(12))).max(160.0) + 20.0;
    let mut at = TOP;
    let mut label = TOP + 5.0;
    let mut shares = Vec::new();
    for (name, share, words) in parts {
        let height = (share / 100.0 * tall).max(0.6);
        let middle = at + height / 2.0;
        label = if shares.is_empty() { label } else { (label + APART).max((middle + 5.0).min(TOP + tall)) };
        shares.push(Share {
            fill: fill(&name),
            name,
            share: words,
            y: format!("{at:.1}"),
            height: format!("{height:.1}"),
            middle: format!("{middle:.1}"),
            label: format!("{label:.1}"),
        });
        at += height;
    }
    let bottom = (at.max(label) + 12.0).ceil();
    let mut pairs = Vec::new();
    if let Some(emulsion) = &evaluation.emulsion {
        pairs.push(pair(t("emulsion-word"), &emulsion.likely_type));
        pairs.extend(emulsion.advice.iter().map(|figure| pair(figure.name.clone(), figure)));
    }
    if let Some(preservation) = &evaluation.preservation {
        pairs.push(pair(t("preserved-word"), preservation));
    }
    // What is not in it at all needs no line; the rest folds away.
    let figures = evaluation.figures.iter().filter(|figure| figure.value.as_deref() != Some("0"));
    let others = figures.map(|figure| pair(figure.name.clone(), figure)).collect();
    Composed {
        high: format!("{bottom:.0}").parse().unwrap_or(268),
        picture: text("picture-says", &[("a", named.into())]),
        shares,
        limits: evaluation.limits.iter().map(limit).collect(),
        allergens: allergens(&evaluation.allergens),
        pairs,
        others,
        unknown: evaluation.unknown.clone(),
        total: figures::shown(&evaluation.total).whole(),
        cost: COST.to_owned(),
    }
}

/// The calculator of costs.
const COST: &str = "/calculators/cost";

impl Composed {
    /// The same, whose calculator of costs begins with these lines, for the author who wrote them: the prices are left to
    /// be entered.
    pub(crate) fn priced(mut self, evaluation: &Evaluation) -> Self {
        let lines = evaluation.phases.iter().flat_map(|phase| &phase.lines);
        let draws = lines.filter_map(|line| {
            let mass = line.mass.exact.as_deref().or(line.mass.value.as_deref())?;
            // Behind the name stand the mass, the price and for how much it is.
            Some(format!("{}; {mass} g", line.name.replace(';', ",")))
        });
        let draws: Vec<String> = draws.collect();
        if let Ok(question) = serde_urlencoded::to_string([("draws", draws.join("\n"))]) {
            self.cost = format!("{COST}?{question}");
        }
        self
    }

    /// The same with the date of what would be made today.
    pub(crate) fn dated(mut self, frame: &Frame, use_by: &UseByAnswer) -> Self {
        let date = dated::date(frame, use_by);
        let value = format!("{} {}", t1("if-made-today", date.value), date.sentence);
        self.pairs.push(Pair { name: t("use-by"), value: value.trim().to_owned(), why: date.why });
        self
    }
}

fn allergens(all: &[AllergenVerdict]) -> Vec<Allergens> {
    // word("allergens")
    let groups =
        [(Some(true), "allergens-named"), (None, "allergens-unknown"), (Some(false), "allergens-below")];
    let group = |(declare, id): (Option<bool>, &str)| {
        let of: Vec<&AllergenVerdict> = all.iter().filter(|one| one.declare == declare).collect();
        let named = of.iter().map(|one| match one.declare {
            Some(_) => format!("{} {}", one.label_name, percent(&one.share)),
            None => one.label_name.clone(),
        });
        let names = named.collect::<Vec<_>>().join(", ");
        let sources = of.iter().map(|one| format!("{}: {}", one.label_name, source(&one.source))).collect();
        (!of.is_empty()).then(|| Allergens {
            sentence: t1(id, names),
            strong: declare != Some(false),
            sources,
        })
    };
    groups.into_iter().filter_map(group).collect()
}

/// A share without the words for its basis.
fn percent(figure: &Figure) -> String {
    let shown = figures::shown(figure).whole();
    shown.split_once('%').map_or(shown.clone(), |(before, _)| format!("{before}%"))
}

fn pair(name: String, figure: &Figure) -> Pair {
    let value = figures::shown(figure);
    // A word says what it means in its sentence; a number stands for itself.
    let number = value.exact.parse::<f64>().is_ok();
    let words = match (&figure.sentence, number) {
        (Some(sentence), false) => spelled(sentence),
        _ => value.whole(),
    };
    Pair { name, value: words, why: why(figure) }
}

/// How much of a limit is used up, as a fraction. Some rules answer it in per cent.
fn used_up(verdict: &LimitVerdict) -> Option<f64> {
    verdict.of_limit.as_ref().map(exact).map(|of| if of > 5.0 { of / 100.0 } else { of })
}

/// What a limit asks and what came of it.
pub(crate) fn limit_sentence(verdict: &LimitVerdict) -> String {
    let share = verdict.share.as_ref().map(|figure| figures::shown(figure).whole()).unwrap_or_default();
    let left = used_up(verdict).map(|of| format!("{:.0}", ((1.0 - of) * 100.0).max(0.0))).unwrap_or_default();
    let name = match verdict.outcome {
        LimitOutcome::Within => "limit-within",
        LimitOutcome::Unknown => "limit-unknown",
        LimitOutcome::NotCovered => "limit-not-covered",
        LimitOutcome::Exceeded => "limit-exceeded",
        LimitOutcome::Prohibited => "limit-prohibited",
    };
    // word("limit")
    text(
        name,
        &[
            ("a", verdict.subject.clone().into()),
            ("b", share.into()),
            ("c", spelled(&verdict.bound).into()),
            ("d", format!("{} {}", verdict.jurisdiction, verdict.force).into()),
            ("e", left.into()),
        ],
    )
}

fn limit(verdict: &LimitVerdict) -> Limit {
    let sentence = limit_sentence(verdict);
    let wide = used_up(verdict).map(|of| (of * 200.0).clamp(0.5, 300.0));
    Limit {
        sentence,
        strong: matches!(verdict.outcome, LimitOutcome::Exceeded | LimitOutcome::Prohibited),
        source: source(&verdict.source),
        bar: wide.map(|wide| format!("{:.1}", wide.min(200.0))).unwrap_or_default(),
        over: wide
            .filter(|wide| *wide > 200.0)
            .map(|wide| format!("{:.1}", wide - 200.0))
            .unwrap_or_default(),
        would_pass: verdict
            .would_pass
            .iter()
            .map(|figure| figure.sentence.as_deref().map_or_else(|| figures::shown(figure).whole(), spelled))
            .collect(),
    }
}
