//! Use-by dates follow what a thing is now: its water, what preserves it, evidence that is shorter, and what is nested only
//! where it is kept as it is.

use serde_json::{Value, json};
use stillroom_tests::TeachingClinic;

use super::{formula, opened, ready, weighed, with};

const SKIN: &str = "on intact skin, leave-on";
const MOUTH: &str = "by mouth";

fn infusion() -> Value {
    let lines = [("dried calendula flower", "20 g"), ("purified water", "1000 g")];
    with(formula("infusion", SKIN, "cosmetic", &lines), "title", json!("Infusion of calendula"))
}

/// A formula that nests another beside lines of its own.
fn nesting(mut content: Value, title: &str, amount: &str) -> Value {
    let lines = content["phases"][0]["lines"].as_array_mut().unwrap();
    lines.push(json!({ "formula": title, "amount": amount }));
    content
}

/// The date of a revision made on 2 March 2026, as its maker reads it.
async fn date(clinic: &TeachingClinic, revision: &str) -> Value {
    let path = format!("/v1/revisions/{revision}/recipe?explain=true&made_on=2026-03-02");
    clinic.noor.get(&path).await.expect(200).json["use_by"].clone()
}

#[track_caller]
fn said<'a>(use_by: &'a Value, by: &str) -> &'a Value {
    let rules = use_by["rules"].as_array().unwrap();
    rules.iter().find(|rule| rule["by"] == by).unwrap_or_else(|| panic!("{by} is not in {use_by}"))
}

/// 65 g of sugar in 100 g keep a syrup; 50 g do not, and the infusion in it ends after its one day.
#[tokio::test(flavor = "multi_thread")]
async fn an_infusion_stops_governing_only_in_what_preserves_itself() {
    let clinic = TeachingClinic::start().await;
    let inner = ready(&clinic, infusion()).await;
    clinic.ilse.acknowledge(&inner).await.expect(201);
    assert_eq!(date(&clinic, &inner).await["date"], "2026-03-03");

    let syrup = |sugar: &str, infusion: &str| {
        nesting(
            formula("syrup", MOUTH, "herbal_medicine", &[("sucrose", sugar)]),
            "Infusion of calendula",
            infusion,
        )
    };
    let strong = ready(&clinic, syrup("66 g", "34 g")).await;
    let strong = date(&clinic, &strong).await;
    // Watery and preserved: 35 days, of which the day of making is the first.
    assert_eq!(strong["date"], "2026-04-05", "{strong}");
    let weak = ready(&clinic, syrup("50 g", "50 g")).await;
    assert_eq!(date(&clinic, &weak).await["date"], "2026-03-03");

    // The rules are listed where every level is open; there is nothing closed to this reader in a batch of their own.
    let cream = [("emulsifying wax", "80 g"), ("olive oil", "300 g"), ("potassium sorbate", "8 g")];
    let cream = nesting(formula("cream", SKIN, "cosmetic", &cream), "Infusion of calendula", "612 g");
    let cream = ready(&clinic, cream).await;
    let entries = opened(&clinic, &cream, json!({ "mass": "1000 g", "made_on": "2026-03-02" })).await;
    let record =
        weighed(&clinic, &entries, &[("1.1", "80 g"), ("1.2", "300 g"), ("1.3", "8 g"), ("1.4", "612 g")])
            .await;
    assert_eq!(record["as_made"]["use_by"]["date"], "2026-03-03", "boiling and wax preserve nothing");
    let sour = clinic.noor.entered(&entries, json!({ "kind": "ph", "quantity": "4.5" })).await.json;
    let use_by = &sour["as_made"]["use_by"];
    assert_eq!(use_by["date"], "2026-03-23", "{use_by}");
    let infused = said(use_by, "Infusion of calendula");
    assert_eq!(infused["outcome"], "no longer governs");
    assert!(
        infused["reason"].as_str().unwrap().contains("the finished preparation is preserved"),
        "{infused}"
    );
    clinic.stop().await;
}

/// An oil turns rancid wherever it is: its six months bind a salve, which keeps twelve by itself.
#[tokio::test(flavor = "multi_thread")]
async fn what_keeps_as_it_is_binds_what_it_goes_into() {
    let clinic = TeachingClinic::start().await;
    let lines = [("dried calendula flower", "100 g"), ("olive oil", "1000 g")];
    let oil = with(formula("infused oil", SKIN, "cosmetic", &lines), "title", json!("Oil of calendula"));
    let oil = ready(&clinic, oil).await;
    clinic.ilse.acknowledge(&oil).await.expect(201);
    let salve = formula("salve", SKIN, "cosmetic", &[("yellow beeswax", "20 g")]);
    let salve = ready(&clinic, nesting(salve, "Oil of calendula", "80 g")).await;
    assert_eq!(date(&clinic, &salve).await["date"], "2026-09-02");
    // A salve with water in it is watery, whatever salves are.
    let lines = [("yellow beeswax", "20 g"), ("olive oil", "50 g"), ("rose water", "30 g")];
    let wet = ready(&clinic, formula("salve", SKIN, "cosmetic", &lines)).await;
    assert_eq!(date(&clinic, &wet).await["date"], "2026-03-15");
    clinic.stop().await;
}

/// A kind, its route and its lines.
type Kind<'a> = (&'a str, &'a str, &'a [(&'a str, &'a str)]);

#[tokio::test(flavor = "multi_thread")]
async fn evidence_that_is_shorter_than_the_rules_binds_in_every_kind() {
    let clinic = TeachingClinic::start().await;
    let filed = json!({ "period": "10 days", "source": "folder S, sheet 4" });
    let kinds: [Kind<'_>; 4] = [
        ("salve", SKIN, &[("yellow beeswax", "20 g"), ("olive oil", "80 g")]),
        ("tincture", MOUTH, &[("dried thyme herb", "20 g"), ("ethanol 45 %", "100 g")]),
        ("syrup", MOUTH, &[("sucrose", "66 g"), ("purified water", "34 g")]),
        ("cream", SKIN, &[("emulsifying wax", "8 g"), ("olive oil", "30 g"), ("purified water", "62 g")]),
    ];
    for (kind, route, lines) in kinds {
        let content = formula(kind, route, "herbal_medicine", lines);
        let revision = ready(&clinic, with(content, "stability", filed.clone())).await;
        let use_by = date(&clinic, &revision).await;
        assert_eq!(use_by["date"], "2026-03-12", "{kind}: {use_by}");
        assert_eq!(said(&use_by, "stability evidence")["source"]["text"], "folder S, sheet 4", "{kind}");
    }
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_compress_is_dated_by_its_water_and_used_on_the_day_where_its_author_says_at_once() {
    let clinic = TeachingClinic::start().await;
    let lines = [("dried calendula flower", "20 g"), ("purified water", "500 g")];
    let compress = formula("compress", SKIN, "cosmetic", &lines);
    let kept = ready(&clinic, with(compress.clone(), "title", json!("Compress to keep"))).await;
    assert_eq!(date(&clinic, &kept).await["date"], "2026-03-03");
    let at_once = with(compress, "label", json!({ "storage": "Use at once." }));
    let at_once = ready(&clinic, at_once).await;
    assert_eq!(date(&clinic, &at_once).await["date"], "2026-03-02");
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_kind_without_a_rule_says_which_is_missing() {
    let clinic = TeachingClinic::start().await;
    let lines = [("fresh cleavers herb", "100 g"), ("glycerol", "900 g")];
    let succus = ready(&clinic, formula("succus", MOUTH, "food", &lines)).await;
    let use_by = date(&clinic, &succus).await;
    assert!(use_by["date"].is_null(), "{use_by}");
    let figure = use_by["figures"].to_string();
    assert!(figure.contains("dating rule for succus that is watery and preserved, made as food"), "{figure}");
    clinic.stop().await;
}
