//! Poisons that a clinic enters itself: stopped by every route and in every regime, and never approved.
//!
//! The stops are house rules. The texts that they rest on stand beside them in the reference data.

use std::collections::BTreeSet;

use serde_json::{Value, json};
use stillroom_tests::TestClinic;

use crate::amendments::{amend, confirm};

/// Stop, botanical name as somebody might write it, kind of material.
const POISONS: &[(&str, &str, &str)] = &[
    ("poison-aconite", "Aconitum carmichaelii", "herb"),
    ("poison-arum", "Arum italicum", "herb"),
    ("poison-belladonna", "Atropa belladonna", "herb"),
    ("poison-birthwort", "Aristolochia clematitis", "herb"),
    ("poison-black-nightshade", "Solanum nigrum", "herb"),
    ("poison-cherry-laurel", "Prunus laurocerasus", "herb"),
    ("poison-croton", "Croton tiglium", "fixed oil"),
    ("poison-false-hellebore", "Veratrum viride", "herb"),
    ("poison-foxglove", "Digitalis x mertonensis", "herb"),
    ("poison-germander", "Teucrium chamaedrys", "herb"),
    ("poison-hemlock", "Conium maculatum", "herb"),
    ("poison-henbane", "Hyoscyamus albus", "herb"),
    ("poison-jaborandi", "Pilocarpus microphyllus", "herb"),
    ("poison-japanese-star-anise", "Illicium religiosum", "herb"),
    ("poison-lily-of-the-valley", "Convallaria majalis", "herb"),
    ("poison-lobelia", "Lobelia inflata", "herb"),
    ("poison-meadow-saffron", "Colchicum speciosum", "herb"),
    ("poison-narcissus", "Narcissus poeticus", "herb"),
    ("poison-oleander", "Nerium oleander", "herb"),
    ("poison-pennyroyal-oil", "Mentha pulegium", "essential oil"),
    ("poison-pheasants-eye", "Adonis vernalis", "herb"),
    ("poison-poke", "Phytolacca americana", "herb"),
    ("poison-rue-oil", "Ruta graveolens", "essential oil"),
    ("poison-sabadilla", "Schoenocaulon officinale", "herb"),
    ("poison-savin", "Juniperus sabina var. tamariscifolia", "essential oil"),
    ("poison-squill", "Urginea maritima", "herb"),
    ("poison-strophanthus", "Strophanthus kombe", "herb"),
    ("poison-strychnos", "Strychnos nux-vomica", "herb"),
    ("poison-tansy-oil", "Tanacetum vulgare", "essential oil"),
    ("poison-thorn-apple", "Brugmansia suaveolens", "herb"),
    ("poison-water-dropwort", "Oenanthe crocata", "herb"),
    ("poison-water-hemlock", "Cicuta maculata", "herb"),
    ("poison-wormseed-oil", "Chenopodium ambrosioides", "essential oil"),
    ("poison-yellow-oleander", "Cascabela thevetia", "herb"),
    ("poison-yew", "Taxus x media", "herb"),
];
/// Stopped where they are swallowed.
const BY_MOUTH: &[(&str, &str, &str)] = &[
    ("poison-greater-celandine", "Chelidonium majus", "herb"),
    ("pyrrolizidine-herb-by-mouth", "Petasites hybridus", "herb"),
];

const ROUTES: &[&str] = &[
    "on intact skin, leave-on",
    "on intact skin, rinse-off",
    "on broken skin",
    "on mucosa",
    "in the eye",
    "inhaled",
    "by mouth",
];
const REGIMES: &[&str] = &["cosmetic", "herbal_medicine", "food", "teaching_only"];

/// An entry whose name and part tell nothing: the botanical name alone does. Author and family are left out where the
/// reference data hold the species.
fn entry(place: usize, botanical: &str, kind: &str, known: bool) -> Value {
    let mut entry = json!({
        "name": format!("delivery {place}"), "kind": kind, "botanical_name": botanical, "part": "leaf",
        "source": "the delivery note", "status": "from memory",
    });
    if kind == "herb" {
        entry["state"] = json!("dried");
    }
    if !known {
        entry["botanical_author"] = json!("auct.");
        entry["family"] = json!("as delivered");
    }
    entry
}

#[tokio::test(flavor = "multi_thread")]
async fn a_poison_that_a_clinic_enters_is_stopped_by_every_route_and_in_every_regime() {
    let clinic = TestClinic::start().await;
    let ilse = clinic.person("ilse.brandt", "instructor").await;
    let marek = clinic.person("marek.dvorsky", "instructor").await;
    let library = clinic.library(&ilse, "Deliveries", &[&marek]).await;
    let all: Vec<_> = POISONS.iter().chain(BY_MOUTH).collect();
    let mut lines = Vec::new();
    for (place, (stop, botanical, kind)) in all.iter().enumerate() {
        let mut made = amend(&ilse, json!({ "add_material": entry(place, botanical, kind, true) })).await;
        if made.status.as_u16() != 201 {
            made = amend(&ilse, json!({ "add_material": entry(place, botanical, kind, false) })).await;
        }
        let made = made.expect(201);
        confirm(&marek, &made.id()).await.expect(200);
        lines.push(json!({ "material": format!("delivery {place}"), "amount": "0.1 g" }));
        assert!(!stop.is_empty());
    }
    lines.push(json!({ "material": "olive oil", "amount": "q.s. 100 g" }));
    let everywhere: BTreeSet<&str> = POISONS.iter().map(|(stop, ..)| *stop).collect();
    let swallowed: BTreeSet<&str> = BY_MOUTH.iter().map(|(stop, ..)| *stop).collect();
    let mut last = String::new();
    for route in ROUTES {
        for regime in REGIMES {
            let content = json!({
                "title": format!("What was delivered, {route}, {regime}"), "preparation": "balm", "route": route,
                "regime": regime, "phases": [{ "name": "all", "lines": lines }], "method": [{ "do": "Mix" }],
            });
            let revision = clinic.proposed(&ilse, &library, content).await;
            let set = ilse.get(&format!("/v1/revisions/{revision}/cautions")).await.expect(200).json;
            let stops: BTreeSet<&str> = set["cautions"]
                .as_array()
                .unwrap()
                .iter()
                .filter(|caution| caution["level"] == "stop")
                .filter_map(|caution| caution["key"].as_str())
                .collect();
            let missing: Vec<&&str> = everywhere.difference(&stops).collect();
            assert!(missing.is_empty(), "{route}, {regime}: {missing:?}");
            if *route == "by mouth" {
                let missing: Vec<&&str> = swallowed.difference(&stops).collect();
                assert!(missing.is_empty(), "{route}, {regime}: {missing:?}");
            }
            last = revision;
        }
    }
    marek.acknowledge(&last).await.expect(201);
    let approve = json!({ "decision": "approve" });
    let refused = marek.post(&format!("/v1/revisions/{last}/decision"), approve).await.expect(409);
    assert!(refused.text.contains("never use aconite by any route"), "{}", refused.text);
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn goldenseal_and_mustard_are_prohibited_in_cosmetics_even_when_they_are_strained_off() {
    let clinic = TestClinic::start().await;
    let ilse = clinic.person("ilse.brandt", "instructor").await;
    let library = clinic.library(&ilse, "Roots", &[]).await;
    for (herb, key) in [
        ("dried goldenseal root", "prohibited-eu-hydrastine"),
        ("dried black mustard seed", "prohibited-eu-allyl-isothiocyanate"),
    ] {
        let oil = |regime: &str| {
            json!({
                "title": format!("Oil of {herb}, {regime}"), "preparation": "infused oil",
                "route": "on intact skin, leave-on", "regime": regime, "yield": "80 g",
                "phases": [{ "name": "maceration", "lines": [
                    { "material": herb, "amount": "20 g", "function": "active" },
                    { "material": "olive oil", "amount": "100 g", "function": "vehicle" } ] }],
                "method": [{ "do": "Warm, strain and press" }],
            })
        };
        for (regime, expected) in [("cosmetic", "stop"), ("teaching_only", "caution")] {
            let revision = clinic.proposed(&ilse, &library, oil(regime)).await;
            let set = ilse.get(&format!("/v1/revisions/{revision}/cautions")).await.expect(200).json;
            let found = set["cautions"].as_array().unwrap().iter().find(|caution| caution["key"] == key);
            assert_eq!(found.unwrap()["level"], expected, "{herb} as {regime}");
        }
    }
    clinic.stop().await;
}

/// Annex III names oils and extracts of lavender and rose alike: an oil that has drawn the flower declares it.
#[tokio::test(flavor = "multi_thread")]
async fn an_extract_of_lavender_flower_is_declared_like_its_oil() {
    let clinic = TestClinic::start().await;
    let ilse = clinic.person("ilse.brandt", "instructor").await;
    for (herb, name) in [
        ("dried lavender flower", Some("Lavandula Oil/Extract")),
        ("dried damask rose petal", Some("Rose Flower Oil/Extract")),
        ("dried dog rose fruit", None),
        ("dried calendula flower", None),
    ] {
        let content = json!({
            "title": "Drawn oil", "preparation": "infused oil", "route": "on intact skin, leave-on",
            "regime": "cosmetic", "yield": "80 g",
            "phases": [{ "name": "maceration", "lines": [
                { "material": herb, "amount": "20 g", "function": "active" },
                { "material": "olive oil", "amount": "100 g", "function": "vehicle" } ] }],
            "method": [{ "do": "Warm, strain and press" }],
        });
        let found = ilse.post("/v1/evaluations", json!({ "content": content })).await.expect(200).json;
        let declared: Vec<&str> = found["allergens"]
            .as_array()
            .unwrap()
            .iter()
            .filter(|allergen| allergen["declare"] != false)
            .filter_map(|allergen| allergen["label_name"].as_str())
            .collect();
        assert_eq!(declared, name.into_iter().collect::<Vec<_>>(), "{herb}: {}", found["allergens"]);
    }
    clinic.stop().await;
}
