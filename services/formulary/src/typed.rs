//! A line and a step of a formula as an author types them into one field, as in a notebook.
//!
//! Only takes the text apart: what is in it is read, and refused, where a formula is saved. Never here: a guess at an
//! amount that cannot be read.

use galenics::Amount;
use wire::formulary::{Line, Step};

/// Takes a line apart: `50 g emulsifying wax, emulsifier` is an amount, a name and a function. The amount is the longest
/// beginning that can be read as one. Where none can be read it is what stands before the first word without a digit, so
/// that the refusal of the amount quotes what was meant as one.
#[must_use]
pub fn line(text: &str) -> Line {
    let text = text.trim();
    let words: Vec<&str> = text.split_whitespace().collect();
    let read = (1..words.len()).rev().find(|end| {
        let beginning = words.get(..*end).unwrap_or_default().join(" ");
        Amount::parse(&beginning).is_ok()
    });
    let end = read.unwrap_or_else(|| {
        let first =
            words.iter().position(|word| !word.contains(|c: char| c.is_ascii_digit())).unwrap_or(words.len());
        // The unit belongs to the amount: `30,0 g glycerol`.
        let unit = words.get(first).is_some_and(|word| UNITS.contains(&word.trim_end_matches('.')));
        if unit && first > 0 { first + 1 } else { first }
    });
    let (amount, rest) = words.split_at(end.min(words.len()));
    let rest = rest.join(" ");
    let (name, function) = match rest.rsplit_once(", ") {
        Some((name, function)) => {
            (name.to_owned(), Some(function.trim().to_owned()).filter(|it| !it.is_empty()))
        }
        None => (rest, None),
    };
    Line { material: Some(name), formula: None, amount: amount.join(" "), function }
}

const UNITS: [&str; 12] = ["g", "kg", "mg", "mL", "ml", "L", "l", "%", "oz", "cup", "cups", "drops"];

/// Takes a step apart: `Melt the wax in the oil, 70 °C at most, hold`; `any order` lets it be done before those above it; `rescue` says that it
/// is done only where something goes wrong.
/// What is none of these is what is done.
#[must_use]
pub fn step(text: &str) -> Step {
    let mut parts: Vec<&str> = text.trim().split(", ").collect();
    let (mut hold, mut any_order, mut rescue) = (false, false, false);
    let mut temperature: Vec<String> = Vec::new();
    while parts.len() > 1 {
        let last = parts.last().map_or("", |part| part.trim()).trim_end_matches('.');
        if last.eq_ignore_ascii_case("hold") && !hold {
            hold = true;
        } else if last.eq_ignore_ascii_case("any order") && !any_order {
            any_order = true;
        } else if last.eq_ignore_ascii_case("rescue") && !rescue {
            rescue = true;
        } else if is_temperature(last) {
            temperature.insert(0, last.replace('°', ""));
        } else {
            break;
        }
        parts.pop();
    }
    Step {
        do_: parts.join(", "),
        phase: None,
        temperature: (!temperature.is_empty()).then(|| temperature.join(", ")),
        hold,
        any_order,
        rescue,
    }
}

fn is_temperature(text: &str) -> bool {
    let plain = text.replace('°', "");
    let plain = plain.strip_prefix("phases within ").unwrap_or(&plain);
    let mut words = plain.split_whitespace();
    let number = words.next().is_some_and(|word| word.parse::<f64>().is_ok());
    number
        && words.next() == Some("C")
        && matches!(words.collect::<Vec<_>>().as_slice(), [] | ["at", "most" | "least"])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_is_an_amount_a_name_and_a_function() {
        for (text, amount, name, function) in [
            ("50 g emulsifying wax, emulsifier", "50 g", "emulsifying wax", Some("emulsifier")),
            ("q.s. 1000 g purified water, vehicle", "q.s. 1000 g", "purified water", Some("vehicle")),
            ("0.5 % tea tree oil", "0.5 %", "tea tree oil", None),
            (
                "30 drops at 25 per mL lavender oil, fragrance",
                "30 drops at 25 per mL",
                "lavender oil",
                Some("fragrance"),
            ),
            ("1 cup Infused oil of calendula", "1 cup", "Infused oil of calendula", None),
            ("30,0 g glycerol, humectant", "30,0 g", "glycerol", Some("humectant")),
        ] {
            let read = line(text);
            assert_eq!((read.amount.as_str(), read.material.as_deref()), (amount, Some(name)), "{text}");
            assert_eq!(read.function.as_deref(), function, "{text}");
        }
    }

    #[test]
    fn a_step_is_what_is_done_its_temperature_and_whether_it_holds() {
        let read =
            step("Add the water phase slowly, stirring without pause, 70 °C, phases within 5 °C, hold");
        assert_eq!(read.do_, "Add the water phase slowly, stirring without pause");
        assert_eq!((read.temperature.as_deref(), read.hold), (Some("70 C, phases within 5 C"), true));
        let read = step("Stir until it has set");
        assert_eq!((read.do_.as_str(), read.temperature, read.hold), ("Stir until it has set", None, false));
        let read = step("Label the jars, any order");
        assert_eq!((read.do_.as_str(), read.any_order, read.hold), ("Label the jars", true, false));
        let read = step("If it separates, warm it and stir, 60 C at most, rescue");
        assert_eq!((read.do_.as_str(), read.rescue), ("If it separates, warm it and stir", true));
        assert_eq!(step("Melt it, 70 C at most").temperature.as_deref(), Some("70 C at most"));
    }
}
