//! How figures are written for people. The values come as they are; here they only get their digits and units.

use rust_decimal::Decimal;
use wire::figure::{Figure, FigureInput, FigureSource};

use crate::texts::{t, t1};

/// A figure as it stands on the pillar.
#[derive(Clone, Debug, Default)]
pub(crate) struct Shown {
    /// The number, or a word.
    pub(crate) number: String,
    /// Its unit, empty for a pure number.
    pub(crate) unit: String,
    /// What is missing, where it is not known.
    pub(crate) unknown: String,
    /// The value as it came, for tools.
    pub(crate) exact: String,
    /// Spaces as wide as digits, behind the unit, so that a column stands by its decimal points.
    pub(crate) pad: String,
}

impl Shown {
    /// Number and unit in one.
    pub(crate) fn whole(&self) -> String {
        if !self.unknown.is_empty() {
            return self.unknown.clone();
        }
        match self.unit.as_str() {
            "" => self.number.clone(),
            unit => format!("{}\u{a0}{unit}", self.number),
        }
    }

    pub(crate) fn known(&self) -> bool {
        self.unknown.is_empty()
    }

    /// Whether it is a number. A word or a date is read in its sentence, and has no place left of the pillar.
    pub(crate) fn is_number(&self) -> bool {
        self.known() && self.exact.parse::<Decimal>().is_ok()
    }
}

/// A line of a sum: a figure, what made it, and where that comes from.
#[derive(Clone, Debug)]
pub(crate) struct Sum {
    pub(crate) figure: Shown,
    pub(crate) sentence: String,
    pub(crate) source: String,
}

fn unit_of(unit: &str) -> String {
    if unit == "C" { "°C".to_owned() } else { unit.to_owned() }
}

/// A figure for people.
pub(crate) fn shown(figure: &Figure) -> Shown {
    match (&figure.value, &figure.unknown) {
        (Some(value), None) => {
            let exact = figure.exact.as_ref().unwrap_or(value).clone();
            Shown { number: value.clone(), unit: unit_of(&figure.unit), exact, ..Shown::default() }
        }
        (_, unknown) => {
            Shown { unknown: unknown.clone().unwrap_or_else(|| t("figure-unknown")), ..Shown::default() }
        }
    }
}

/// Weights as one balance shows them: every one with the decimals of the coarsest that has any.
pub(crate) fn on_one_balance(figures: &mut [&mut Shown]) {
    let behind = |figure: &Shown| figure.number.split_once('.').map(|(_, behind)| behind.len());
    let Some(places) = figures.iter().filter_map(|figure| behind(figure)).min() else { return };
    for figure in figures.iter_mut().filter(|figure| behind(figure).is_none()) {
        if let Ok(value) = figure.number.parse::<Decimal>() {
            figure.number = format!("{value:.places$}");
        }
    }
}

/// Weights in one column, by their decimal points. What is weighed more finely than the rest stands out: zeros behind the
/// others would claim that their balance shows them, so spaces as wide as digits follow their unit.
pub(crate) fn one_column(figures: &mut [&mut Shown]) {
    on_one_balance(figures);
    let behind = |figure: &Shown| figure.number.split_once('.').map_or(0, |(_, behind)| behind.len());
    let places = figures.iter().map(|figure| behind(figure)).max().unwrap_or(0);
    for figure in figures {
        let missing = places.saturating_sub(behind(figure));
        if figure.number.contains('.') {
            figure.pad = "\u{2007}".repeat(missing);
        }
    }
}

/// A text of ours with its signs as people write them: degrees and the space before a unit.
pub(crate) fn spelled(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 8);
    let words: Vec<&str> = text.split(' ').collect();
    for (i, word) in words.iter().enumerate() {
        let number = |word: &str| word.ends_with(|c: char| c.is_ascii_digit());
        let after_number =
            i.checked_sub(1).and_then(|before| words.get(before)).is_some_and(|before| number(before));
        let plain = word.trim_end_matches([',', '.', ';', ':']);
        let behind = word.get(plain.len()..).unwrap_or_default();
        let word = if after_number && plain == "C" { format!("°C{behind}") } else { (*word).to_owned() };
        if i > 0 {
            let unit = after_number
                && ["°C", "g", "mL", "mg", "%", "kg", "L"]
                    .contains(&word.trim_end_matches([',', '.', ';', ':']));
            out.push(if unit { '\u{a0}' } else { ' ' });
        }
        out.push_str(&word);
    }
    out
}

/// What made a figure, to stand beside it: its sentence without the figure itself at the end.
pub(crate) fn beside(figure: &Figure) -> String {
    let sentence = figure.sentence.as_deref().map(spelled).unwrap_or_default();
    let own = format!(": {}", shown(figure).whole());
    sentence.strip_suffix(own.as_str()).map_or(sentence.clone(), str::to_owned)
}

/// A deviation as people say it: its share with two digits that count, `0.05 g over (0.089 %)`.
pub(crate) fn brief(text: &str) -> String {
    let Some((before, rest)) = text.split_once('(') else { return text.to_owned() };
    let Some((share, after)) = rest.split_once('%') else { return text.to_owned() };
    let Some(value) = share.trim().parse::<Decimal>().ok().and_then(|share| share.round_sf(2)) else {
        return text.to_owned();
    };
    format!("{}({}\u{a0}%{after}", brief_mass(before), value.normalize())
}

/// The mass at the beginning with the digits that count: three from ten grams on, else two.
fn brief_mass(text: &str) -> String {
    let Some((number, rest)) = text.split_once([' ', '\u{a0}']) else { return text.to_owned() };
    let Ok(value) = number.parse::<Decimal>() else { return text.to_owned() };
    let digits = if value >= Decimal::TEN { 3 } else { 2 };
    match value.round_sf(digits) {
        Some(value) => format!("{}\u{a0}{rest}", value.normalize()),
        None => text.to_owned(),
    }
}

/// A temperature as it stands left of a step: the figure, and what is said of it.
pub(crate) fn heat(text: &str) -> (String, String) {
    let whole = spelled(text);
    match whole.find("°C") {
        Some(at) => {
            let end = at + "°C".len();
            let rest = whole.get(end..).unwrap_or_default().trim_start_matches([',', ' ']).to_owned();
            (whole.get(..end).unwrap_or_default().to_owned(), rest)
        }
        None => (whole, String::new()),
    }
}

/// Where something comes from, and how far it can be trusted.
pub(crate) fn source(source: &FigureSource) -> String {
    sourced(&source.text, &source.status)
}

/// As [`source`], of texts.
pub(crate) fn sourced(text: &str, status: &str) -> String {
    match status {
        "verified" => t1("source-verified", text.to_owned()),
        "secondary" => t1("source-copy", text.to_owned()),
        "from memory" => t("source-memory"),
        "common practice" => t("source-practice"),
        "definition" => t1("source-definition", text.to_owned()),
        _ => text.to_owned(),
    }
}

/// The sum behind a figure: what it was made from, in order, and the figure itself last.
pub(crate) fn why(figure: &Figure) -> Vec<Sum> {
    let mut sums = Vec::new();
    walk(figure, &mut sums, 0);
    sums
}

/// As deep as a person reads.
const DEEPEST: usize = 6;

fn walk(figure: &Figure, sums: &mut Vec<Sum>, depth: usize) {
    if depth > DEEPEST {
        return;
    }
    for input in &figure.inputs {
        match &input.figure {
            Some(inner) => walk(inner, sums, depth + 1),
            None => constant(input, sums),
        }
    }
    sums.push(Sum {
        figure: shown(figure),
        sentence: spelled(figure.sentence.as_deref().unwrap_or(&figure.name)),
        source: figure.source.as_ref().map(source).unwrap_or_default(),
    });
}

/// A constant stands in the sum where it has a source of its own; what a person typed stands in the sentence.
fn constant(input: &FigureInput, sums: &mut Vec<Sum>) {
    let (Some(value), Some(from)) = (&input.value, &input.source) else { return };
    let unit = unit_of(input.unit.as_deref().unwrap_or_default());
    sums.push(Sum {
        figure: Shown { number: value.clone(), unit, exact: value.clone(), ..Shown::default() },
        sentence: input.name.clone(),
        source: source(from),
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn degrees_and_units_are_written_as_people_write_them() {
        assert_eq!(spelled("70 C at most, phases within 5 C"), "70\u{a0}°C at most, phases within 5\u{a0}°C");
        assert_eq!(spelled("30 g of olive oil"), "30\u{a0}g of olive oil");
    }

    #[test]
    fn a_temperature_is_told_apart_from_what_is_said_about_it() {
        let (degrees, words) = heat("70 C at most, phases within 5 C");
        assert_eq!((degrees.as_str(), words.as_str()), ("70\u{a0}°C", "at most, phases within 5\u{a0}°C"));
    }

    #[test]
    fn a_deviation_is_said_with_digits_that_count() {
        assert_eq!(brief("0.05\u{a0}g over (0.08889\u{a0}%)"), "0.05\u{a0}g over (0.089\u{a0}%)");
        assert_eq!(brief("1.9\u{a0}g over (6.333 %)"), "1.9\u{a0}g over (6.3\u{a0}%)");
        assert_eq!(brief("4.383 g over (6.011 %)"), "4.4\u{a0}g over (6\u{a0}%)");
        assert_eq!(brief("12.37 g under (6.011 %)"), "12.4\u{a0}g under (6\u{a0}%)");
        assert_eq!(brief("as asked"), "as asked");
    }

    #[test]
    fn a_column_stands_by_its_decimal_points_without_digits_that_nobody_weighs() {
        let mut lines: Vec<Shown> = ["375", "22.1", "0.9375"]
            .iter()
            .map(|text| Shown { number: (*text).into(), ..Shown::default() })
            .collect();
        one_column(&mut lines.iter_mut().collect::<Vec<_>>());
        let numbers: Vec<(&str, usize)> =
            lines.iter().map(|line| (line.number.as_str(), line.pad.chars().count())).collect();
        assert_eq!(numbers, [("375.0", 3), ("22.1", 3), ("0.9375", 0)]);
    }
}
