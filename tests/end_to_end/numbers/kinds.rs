//! Every kind of preparation gets a date with the rule that gives it, or says which rule is missing.

use std::collections::BTreeSet;

use serde_json::{Value, json};
use stillroom_tests::TeachingClinic;

use super::{formula, ready, with};

const SKIN: &str = "on intact skin, leave-on";
const MOUTH: &str = "by mouth";
const LIPS: &str = "on the lips";
const BATH: &str = "in the bath";
const GARGLE: &str = "as a gargle or mouthwash";
const STEAM: &str = "inhaled";

/// What a formula made on 2 March 2026 comes to.
enum Is {
    /// Good until this day, by this rule.
    Until(&'static str, &'static str),
    /// No rule dates it, and this one is missing.
    Missing(&'static str),
}
use Is::{Missing, Until};

/// Its kind, route and regime, its lines, and its date.
type Row = (&'static str, &'static str, &'static str, &'static [(&'static str, &'static str)], Is);

const FOOD: &str = "food";
const COSMETIC: &str = "cosmetic";
const MEDICINE: &str = "herbal_medicine";

const BY_2023: &str = "published compounding rules of 2023";
const CEILING: &str = "unpreserved and watery";
const OILY: &str = "remembered keeping time of ointments, liniments, creams and lotions without water";
const SALVES: &str = "remembered keeping time of salves";
const WASHES: &str = "common practice for infusions in bath, gargle and steam";
const DRY: &str = "remembered keeping time of dry herbs, salts and oils for bath and steam";
const EGG: &str = "remembered keeping time of raw egg";

/// Days by the compounding rules of 2023 (USP <795>), of which the day of making is the first: 14 of what is watery and
/// unpreserved, 35 preserved, 90 of oral liquids without water, 180 of all else. The other periods follow the day of making
/// and are those of the reference data, remembered or habits of the trade as their sources say.
const ROWS: &[Row] = &[
    (
        "cream",
        SKIN,
        COSMETIC,
        &[("emulsifying wax", "8 g"), ("olive oil", "30 g"), ("purified water", "62 g")],
        Until("2026-03-15", CEILING),
    ),
    (
        "cream",
        SKIN,
        MEDICINE,
        &[("emulsifying wax", "8 g"), ("olive oil", "30 g"), ("purified water", "62 g")],
        Until("2026-03-15", BY_2023),
    ),
    // Wax and oil alone hold no water, whatever they are called.
    (
        "cream",
        SKIN,
        COSMETIC,
        &[("yellow beeswax", "15 g"), ("olive oil", "85 g")],
        Until("2026-09-02", OILY),
    ),
    (
        "cream",
        SKIN,
        MEDICINE,
        &[("yellow beeswax", "15 g"), ("olive oil", "85 g")],
        Until("2026-08-28", BY_2023),
    ),
    ("cream", SKIN, COSMETIC, &[("egg yolk", "20 g"), ("olive oil", "80 g")], Until("2026-03-04", EGG)),
    (
        "ointment",
        SKIN,
        COSMETIC,
        &[("yellow beeswax", "15 g"), ("olive oil", "85 g")],
        Until("2026-09-02", OILY),
    ),
    (
        "salve",
        SKIN,
        COSMETIC,
        &[("yellow beeswax", "15 g"), ("olive oil", "85 g")],
        Until("2027-03-02", SALVES),
    ),
    (
        "salve",
        SKIN,
        COSMETIC,
        &[("yellow beeswax", "15 g"), ("olive oil", "65 g"), ("rose water", "20 g")],
        Until("2026-03-15", CEILING),
    ),
    (
        "balm",
        SKIN,
        COSMETIC,
        &[("yellow beeswax", "15 g"), ("olive oil", "85 g")],
        Until("2027-03-02", SALVES),
    ),
    ("lotion", SKIN, COSMETIC, &[("rose water", "100 g")], Until("2026-03-15", CEILING)),
    ("lotion", SKIN, COSMETIC, &[("olive oil", "100 g")], Until("2026-09-02", OILY)),
    (
        "liniment",
        SKIN,
        COSMETIC,
        &[("dried rosemary leaf", "10 g"), ("ethanol 45 %", "100 g")],
        Until("2028-03-02", "remembered keeping time of spirituous liniments"),
    ),
    ("liniment", SKIN, COSMETIC, &[("olive oil", "100 g")], Until("2026-09-02", OILY)),
    (
        "infused oil",
        SKIN,
        COSMETIC,
        &[("dried calendula flower", "10 g"), ("olive oil", "100 g")],
        Until("2026-09-02", "remembered keeping time of infused oils"),
    ),
    (
        "tincture",
        MOUTH,
        MEDICINE,
        &[("dried thyme herb", "20 g"), ("ethanol 45 %", "100 g")],
        Until("2028-03-02", "remembered keeping time of tinctures"),
    ),
    (
        "tincture",
        MOUTH,
        MEDICINE,
        &[("dried thyme herb", "20 g"), ("ethanol 45 %", "40 g"), ("purified water", "60 g")],
        Until("2026-03-15", CEILING),
    ),
    (
        "succus",
        MOUTH,
        FOOD,
        &[("fresh cleavers herb", "100 g"), ("ethanol 95 %", "50 g")],
        Until("2027-03-02", "remembered keeping time of juices kept with alcohol"),
    ),
    (
        "succus",
        MOUTH,
        FOOD,
        &[("fresh cleavers herb", "100 g"), ("glycerol", "900 g")],
        Missing("dating rule for succus that is watery and preserved, made as food"),
    ),
    (
        "glycerite",
        MOUTH,
        FOOD,
        &[("dried thyme herb", "20 g"), ("glycerol", "70 g"), ("purified water", "30 g")],
        Until("2027-05-02", "common practice for glycerites"),
    ),
    (
        "glycerite",
        MOUTH,
        FOOD,
        &[("dried thyme herb", "20 g"), ("glycerol", "40 g"), ("purified water", "60 g")],
        Until("2026-03-15", CEILING),
    ),
    (
        "infusion",
        MOUTH,
        FOOD,
        &[("dried thyme herb", "3 g"), ("purified water", "150 g")],
        Until("2026-03-03", "remembered keeping time of infusions and decoctions"),
    ),
    (
        "decoction",
        MOUTH,
        FOOD,
        &[("dried marshmallow root", "10 g"), ("purified water", "300 g")],
        Until("2026-03-03", "remembered keeping time of infusions and decoctions"),
    ),
    ("aromatic water", SKIN, COSMETIC, &[("rose water", "100 g")], Until("2026-03-15", CEILING)),
    // 65 % of sugar keep a syrup by themselves.
    (
        "syrup",
        MOUTH,
        FOOD,
        &[("sucrose", "66 g"), ("purified water", "34 g")],
        Until("2026-09-02", "common practice for syrups by their sugar"),
    ),
    (
        "syrup",
        MOUTH,
        MEDICINE,
        &[("sucrose", "66 g"), ("purified water", "34 g")],
        Until("2026-04-05", BY_2023),
    ),
    ("syrup", MOUTH, FOOD, &[("sucrose", "50 g"), ("purified water", "50 g")], Until("2026-03-15", CEILING)),
    // 500 g of sucrose in a litre leave 411 mL free, which need 74 mL of alcohol: 82 mL are enough, 58 mL are not.
    (
        "syrup",
        MOUTH,
        MEDICINE,
        &[("sucrose", "500 g"), ("purified water", "597 g"), ("ethanol 95 %", "70 g")],
        Until("2026-04-05", BY_2023),
    ),
    (
        "syrup",
        MOUTH,
        FOOD,
        &[("sucrose", "500 g"), ("purified water", "597 g"), ("ethanol 95 %", "70 g")],
        Until("2026-09-02", "common practice for syrups by their sugar"),
    ),
    (
        "syrup",
        MOUTH,
        MEDICINE,
        &[("sucrose", "500 g"), ("purified water", "597 g"), ("ethanol 95 %", "50 g")],
        Until("2026-03-15", BY_2023),
    ),
    (
        "oxymel",
        MOUTH,
        FOOD,
        &[("dried thyme herb", "10 g"), ("honey", "50 g"), ("cider vinegar", "50 g")],
        Until("2026-09-02", "remembered keeping time of oxymels"),
    ),
    (
        "oxymel",
        MOUTH,
        FOOD,
        &[("honey", "30 g"), ("cider vinegar", "30 g"), ("purified water", "40 g")],
        Until("2026-03-15", CEILING),
    ),
    (
        "compress",
        SKIN,
        COSMETIC,
        &[("dried calendula flower", "10 g"), ("purified water", "300 g")],
        Until("2026-03-03", "common practice for compresses and poultices"),
    ),
    (
        "poultice",
        SKIN,
        COSMETIC,
        &[("dried marshmallow root", "50 g"), ("purified water", "100 g")],
        Until("2026-03-03", "common practice for compresses and poultices"),
    ),
    (
        "tea blend",
        MOUTH,
        FOOD,
        &[("dried thyme herb", "1 part"), ("dried calendula flower", "1 part")],
        Until("2027-03-02", "remembered keeping time of dry tea blends"),
    ),
    (
        "tea blend",
        MOUTH,
        MEDICINE,
        &[("dried thyme herb", "1 part"), ("dried calendula flower", "1 part")],
        Until("2026-08-28", BY_2023),
    ),
    (
        "powder",
        SKIN,
        COSMETIC,
        &[("dried marshmallow root", "100 g")],
        Until("2026-09-02", "remembered keeping time of powders and capsules"),
    ),
    ("powder", SKIN, MEDICINE, &[("dried marshmallow root", "100 g")], Until("2026-08-28", BY_2023)),
    (
        "capsule",
        MOUTH,
        FOOD,
        &[("dried thyme herb", "100 g")],
        Until("2026-09-02", "remembered keeping time of powders and capsules"),
    ),
    ("capsule", MOUTH, MEDICINE, &[("dried thyme herb", "100 g")], Until("2026-08-28", BY_2023)),
    (
        "lozenge",
        MOUTH,
        FOOD,
        &[("dried marshmallow root", "10 g"), ("sucrose", "90 g")],
        Until("2026-09-02", "remembered keeping time of lozenges"),
    ),
    (
        "lozenge",
        MOUTH,
        FOOD,
        &[("dried marshmallow root", "30 g"), ("honey", "70 g")],
        Until("2026-09-02", "remembered keeping time of lozenges"),
    ),
    (
        "lozenge",
        MOUTH,
        FOOD,
        &[("dried marshmallow root", "30 g"), ("honey", "30 g"), ("purified water", "40 g")],
        Until("2026-03-15", CEILING),
    ),
    (
        "electuary",
        MOUTH,
        FOOD,
        &[("dried marshmallow root", "30 g"), ("honey", "70 g")],
        Until("2026-09-02", "remembered keeping time of electuaries"),
    ),
    (
        "electuary",
        MOUTH,
        MEDICINE,
        &[("dried marshmallow root", "30 g"), ("honey", "70 g")],
        Until("2026-04-05", BY_2023),
    ),
    // A moist herb in honey: the sugar does not count, though it is more than 65 %.
    (
        "electuary",
        MOUTH,
        FOOD,
        &[("fresh cleavers herb", "10 g"), ("honey", "90 g")],
        Until("2026-03-15", CEILING),
    ),
    (
        "acetum",
        MOUTH,
        FOOD,
        &[("dried thyme herb", "10 g"), ("cider vinegar", "100 g")],
        Until("2026-09-02", "remembered keeping time of herbal vinegars"),
    ),
    (
        "acetum",
        MOUTH,
        FOOD,
        &[("fresh cleavers herb", "100 g"), ("cider vinegar", "100 g")],
        Until("2026-03-15", CEILING),
    ),
    (
        "gel",
        SKIN,
        COSMETIC,
        &[("xanthan gum", "1 g"), ("purified water", "99 g")],
        Until("2026-03-15", CEILING),
    ),
    (
        "gel",
        SKIN,
        MEDICINE,
        &[("xanthan gum", "1 g"), ("ethanol 45 %", "99 g")],
        Until("2026-04-05", BY_2023),
    ),
    (
        "gel",
        SKIN,
        COSMETIC,
        &[("xanthan gum", "1 g"), ("ethanol 45 %", "99 g")],
        Until("2026-03-23", "common practice for gels, as for creams and lotions"),
    ),
    (
        "lip balm",
        LIPS,
        COSMETIC,
        &[("yellow beeswax", "25 g"), ("olive oil", "75 g")],
        Until("2027-03-02", SALVES),
    ),
    (
        "lip balm",
        LIPS,
        MEDICINE,
        &[("yellow beeswax", "25 g"), ("olive oil", "75 g")],
        Until("2026-08-28", BY_2023),
    ),
    (
        "bath",
        BATH,
        COSMETIC,
        &[("dried lavender flower", "50 g"), ("sea salt", "50 g")],
        Until("2026-09-02", DRY),
    ),
    (
        "bath",
        BATH,
        COSMETIC,
        &[("dried lavender flower", "50 g"), ("purified water", "1000 g")],
        Until("2026-03-03", WASHES),
    ),
    (
        "gargle",
        GARGLE,
        COSMETIC,
        &[("dried thyme herb", "5 g"), ("purified water", "100 g")],
        Until("2026-03-03", WASHES),
    ),
    (
        "gargle",
        GARGLE,
        COSMETIC,
        &[("dried thyme herb", "20 g"), ("ethanol 45 %", "100 g")],
        Until("2028-03-02", "remembered keeping time of spirituous gargles"),
    ),
    ("steam", STEAM, COSMETIC, &[("dried thyme herb", "20 g")], Until("2026-09-02", DRY)),
    (
        "steam",
        STEAM,
        COSMETIC,
        &[("dried thyme herb", "20 g"), ("purified water", "500 g")],
        Until("2026-03-03", WASHES),
    ),
];

#[tokio::test(flavor = "multi_thread")]
async fn every_kind_gets_a_date_by_a_rule_with_its_source_or_says_which_is_missing() {
    let reference = materia::Materia::embedded().expect("the reference data");
    let kinds: BTreeSet<&str> = reference.preparations.iter().map(|kind| kind.name.as_str()).collect();
    let dated: BTreeSet<&str> = ROWS.iter().map(|row| row.0).collect();
    assert_eq!(kinds, dated, "a kind without a row, or a row without a kind");

    let clinic = TeachingClinic::start().await;
    let mut wrong = Vec::new();
    for (at, (kind, route, regime, lines, is)) in ROWS.iter().enumerate() {
        let content = with(formula(kind, route, regime, lines), "title", json!(format!("{at}: {kind}")));
        let revision = ready(&clinic, content).await;
        let path = format!("/v1/revisions/{revision}/recipe?explain=true&made_on=2026-03-02");
        let use_by = clinic.noor.get(&path).await.expect(200).json["use_by"].clone();
        if let Err(why) = answers(&use_by, is) {
            wrong.push(format!("{at}: {kind} {lines:?}: {why}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    clinic.stop().await;
}

fn answers(use_by: &Value, is: &Is) -> Result<(), String> {
    let said = || format!("{} by {}, {}", use_by["date"], use_by["limited_by"], use_by["figures"]);
    match is {
        Until(day, by) => {
            if use_by["date"] != *day || use_by["limited_by"] != *by {
                return Err(said());
            }
            let rules = use_by["rules"].as_array().ok_or("no rules")?;
            let rule = rules.iter().find(|rule| rule["by"] == *by).ok_or("the rule is not listed")?;
            let source = rule["source"]["text"].as_str().unwrap_or_default();
            if rule["outcome"] != "dated" || source.is_empty() {
                return Err(format!("without a source: {rule}"));
            }
        }
        Missing(rule) => {
            if !use_by["date"].is_null() || !use_by["figures"].to_string().contains(rule) {
                return Err(said());
            }
        }
    }
    Ok(())
}
