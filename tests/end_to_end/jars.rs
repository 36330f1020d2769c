//! What stands on a jar, what on its leaflet, and how strong a tincture says that it is.

use serde_json::{Value, json};
use stillroom_tests::clinic::TeachingClinic;

use crate::labels::with_cream;

/// Texts of the pieces of one part, on the jar or on the leaflet.
fn pieces(layout: &Value, on: &str, part: &str) -> Vec<String> {
    let all = layout[on].as_array().map(Vec::as_slice).unwrap_or_default();
    let of_part = all.iter().filter(|piece| piece["part"] == part);
    of_part.map(|piece| piece["text"].as_str().unwrap().to_owned()).collect()
}

/// On a small label warnings are shortened, what informs moves to the leaflet, and no bar, route or day leaves the jar.
#[tokio::test(flavor = "multi_thread")]
async fn a_jar_keeps_what_harms_most_and_a_leaflet_says_the_rest() {
    let (clinic, revision) = with_cream().await;
    let path = format!("/v1/revisions/{revision}/label");
    let read = async |query: &str| {
        let path = format!("{path}?made_on=2026-03-02&net=30%20g&area={query}");
        clinic.noor.get(&path).await.expect(200).json
    };
    let label = read("60%20x%2040%20mm").await;
    let layout = &label["layout"];
    let bars: Vec<&Value> = label["warnings"]
        .as_array()
        .unwrap()
        .iter()
        .flat_map(|group| group["warnings"].as_array().unwrap())
        .filter(|warning| warning["level"] == "contraindication")
        .collect();
    assert!(!bars.is_empty());
    for bar in bars {
        let short = bar["short"].as_str().unwrap();
        let on_jar = pieces(layout, "jar", "warnings");
        assert!(
            on_jar.iter().any(|text| text.trim_end_matches('.') == short),
            "{short} is not in {on_jar:?}"
        );
        let full = pieces(layout, "leaflet", "warnings").join(" ");
        assert!(full.contains(bar["text"].as_str().unwrap()), "the leaflet says {short} in full: {full}");
    }
    for part in ["name", "route", "use_by", "net_contents", "made_on", "storage", "children"] {
        assert_eq!(pieces(layout, "jar", part).len(), 1, "{part} stays");
    }
    assert_eq!(pieces(layout, "jar", "leaflet"), ["See leaflet."]);
    assert!(!pieces(layout, "leaflet", "notice").is_empty(), "{layout}");
    assert_eq!((&layout["shortened"], &layout["fits"]), (&json!(true), &json!(true)), "{layout}");

    // What must stay needs more than a stamp has: a larger label is required, and nothing that stays is missing.
    let stamp = read("2%20cm2").await;
    assert_eq!(stamp["layout"]["fits"], false);
    assert_eq!(pieces(&stamp["layout"], "jar", "route"), ["For unbroken skin; leave on."]);
    let least = stamp["layout"]["least_area"]["value"].as_str().unwrap();
    assert_eq!(read(&format!("{least}%20cm2")).await["layout"]["fits"], true, "{least} cm2");
    let whole = read("400%20cm2").await;
    assert_eq!(whole["layout"]["leaflet"], json!([]));
    assert_eq!(whole["layout"]["shortened"], false);
    clinic.stop().await;
}

/// A tincture says how strong it is: the alcohol that a label must name, and the ratio as its author wrote it.
#[tokio::test(flavor = "multi_thread")]
async fn a_tincture_states_its_alcohol_and_its_ratio() {
    let clinic = TeachingClinic::start().await;
    let content = json!({
        "title": "Tincture of lemon balm", "preparation": "tincture", "route": "by mouth", "regime": "teaching_only",
        "yield": "90 mL",
        "phases": [{ "name": "all of it", "lines": [
            { "material": "dried lemon balm leaf", "amount": "1:5" },
            { "material": "ethanol 40 %", "amount": "100 mL" } ] }],
        "method": [{ "do": "Macerate and press" }]
    });
    let revision = clinic.approved(content).await;
    let label = clinic.noor.get(&format!("/v1/revisions/{revision}/label")).await.expect(200).json;
    let strength: Vec<&str> =
        label["strength"].as_array().unwrap().iter().map(|fact| fact["text"].as_str().unwrap()).collect();
    assert_eq!(strength.len(), 2, "{strength:?}");
    assert!(strength[0].starts_with("Alcohol ") && strength[0].ends_with(" % vol."), "{strength:?}");
    assert_eq!(strength[1], "Ratio 1:5.");
    clinic.stop().await;
}
