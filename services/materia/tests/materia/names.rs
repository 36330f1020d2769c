//! Names: materials by every name that people write, and the plants that are mistaken for others.

use crate::embedded;

#[test]
fn materials_are_found_by_every_name() {
    let materia = embedded();
    for (called, key) in [
        ("Purified Water", "purified-water"),
        ("emulsifying wax", "emulsifying-wax"),
        ("dried calendula flower", "calendula-flower-dried"),
        ("calendula flower, dried", "calendula-flower-dried"),
        ("Glycerin", "glycerol"),
        ("vodka 40 %", "ethanol-40"),
        ("sweet almond oil", "almond-oil-sweet"),
        ("stronger rose water", "rose-water-stronger"),
    ] {
        let found = materia.materials_called(called);
        assert_eq!(found.iter().map(|material| material.key.as_str()).collect::<Vec<_>>(), [key], "{called}");
    }
    let pot_marigold = materia.materials_called("pot marigold");
    assert_eq!(pot_marigold.len(), 2, "dried and fresh share a common name");
    assert!(materia.materials_called("unobtainium").is_empty());
}

/// Names as people write them at the bench, each of which must lead to one material.
const WRITTEN: &[(&str, &str)] = &[
    ("elderflower", "elder-flower-dried"),
    ("elderberries", "elder-fruit-dried"),
    ("rosehips", "dog-rose-fruit-dried"),
    ("hawthorn berries", "midland-hawthorn-fruit-dried"),
    ("linseed", "flax-seed-dried"),
    ("marshmallow root", "marshmallow-root-dried"),
    ("comfrey root", "comfrey-root-dried"),
    ("dandelion leaf", "dandelion-leaf-dried"),
    ("nettle root", "nettle-root-dried"),
    ("mullein leaf", "mullein-leaf-dried"),
    ("ashwagandha", "ashwagandha-root-dried"),
    ("tulsi", "holy-basil-leaf-dried"),
    ("uva ursi", "bearberry-leaf-dried"),
    ("milk thistle seed", "milk-thistle-fruit-dried"),
    ("psyllium husk", "psyllium-seed-husk-dried"),
    ("ispaghula husk", "psyllium-seed-husk-dried"),
    ("cramp bark", "cramp-bark-dried"),
    ("California poppy", "california-poppy-herb-dried"),
    ("devil's claw", "devils-claw-root-dried"),
    ("Siberian ginseng", "eleuthero-root-dried"),
    ("saw palmetto", "saw-palmetto-fruit-dried"),
    ("wild cherry bark", "wild-cherry-bark-dried"),
    ("hibiscus flower", "roselle-calyx-dried"),
    ("juniper berries", "juniper-cone-dried"),
    ("cardamom pods", "cardamom-fruit-dried"),
    ("coriander seed", "coriander-fruit-dried"),
    ("lemon verbena", "lemon-verbena-leaf-dried"),
    ("rooibos", "rooibos-leaf-dried"),
    ("green tea", "tea-plant-leaf-dried"),
    ("ramsons", "wild-garlic-leaf-fresh"),
    ("horseradish", "horseradish-root-fresh"),
    ("Irish moss", "irish-moss-dried"),
    ("carrageen", "irish-moss-dried"),
    ("kelp", "bladderwrack-thallus-dried"),
    ("corn silk", "maize-style-dried"),
    ("alfalfa", "lucerne-herb-dried"),
    ("turmeric powder", "turmeric-rhizome-dried"),
    ("cayenne pepper", "cayenne-fruit-dried"),
    ("oats", "oat-meal"),
    ("slippery elm powder", "slippery-elm-inner-bark-dried"),
    ("canola oil", "rapeseed-oil"),
    ("fractionated coconut oil", "mct-oil"),
    ("MCT oil", "mct-oil"),
    ("black cumin seed oil", "black-seed-oil"),
    ("rosehip seed oil", "rose-hip-seed-oil"),
    ("starflower oil", "borage-seed-oil"),
    ("sweet almond oil", "almond-oil-sweet"),
    ("shea", "shea-butter"),
    ("beeswax", "beeswax-yellow"),
    ("petroleum jelly", "soft-paraffin-white"),
    ("wool fat", "lanolin"),
    ("gum arabic", "acacia-gum"),
    ("gum tragacanth", "tragacanth"),
    ("agar-agar", "agar"),
    ("arrowroot powder", "arrowroot-starch"),
    ("tapioca", "tapioca-starch"),
    ("cornflour", "starch-maize"),
    ("talcum", "talc"),
    ("white clay", "kaolin"),
    ("bentonite clay", "bentonite"),
    ("chalk", "calcium-carbonate"),
    ("vitamin E", "tocopherols-mixed"),
    ("vitamin C", "ascorbic-acid"),
    ("propylparaben", "propylparaben"),
    ("glycerine", "glycerol"),
    ("Epsom salts", "magnesium-sulfate"),
    ("lye", "sodium-hydroxide"),
    ("apple cider vinegar", "cider-vinegar"),
    ("vodka 40 %", "ethanol-40"),
    ("alcohol 25 %", "ethanol-25"),
    ("neroli oil", "neroli-oil"),
    ("lavandin oil", "lavandin-oil"),
    ("mandarin oil", "mandarin-oil"),
    ("tangerine oil", "mandarin-oil"),
    ("lime oil", "lime-oil-expressed"),
    ("clove leaf oil", "clove-leaf-oil"),
    ("cinnamon leaf oil", "cinnamon-leaf-oil"),
    ("citronella oil", "citronella-oil"),
    ("palmarosa oil", "palmarosa-oil"),
    ("oregano oil", "oregano-oil"),
    ("basil oil", "basil-oil"),
    ("cajeput oil", "cajeput-oil"),
    ("niaouli oil", "niaouli-oil"),
    ("ginger oil", "ginger-oil"),
    ("black pepper oil", "black-pepper-oil"),
    ("immortelle oil", "helichrysum-oil"),
    ("star anise oil", "star-anise-oil"),
    ("aniseed oil", "anise-oil"),
    ("litsea oil", "may-chang-oil"),
    ("melissa oil", "melissa-oil"),
    ("juniper oil", "juniper-berry-oil"),
    ("orange oil", "orange-oil"),
    ("lavender hydrosol", "lavender-water"),
    ("rose hydrosol", "rose-water"),
    ("peppermint hydrosol", "peppermint-water"),
    ("orange flower water", "orange-flower-water"),
    ("elderflower water", "elder-flower-water"),
    ("Echinacea angustifolia", "narrow-leaved-coneflower-root-dried"),
    ("Cimicifuga racemosa", "black-cohosh-rhizome-dried"),
    ("Agropyron repens", "couch-grass-rhizome-dried"),
    ("Artemisia absinthium", "wormwood-herb-dried"),
];

#[test]
fn every_name_that_people_write_leads_to_its_material() {
    let materia = embedded();
    let mut wrong = Vec::new();
    for (written, key) in WRITTEN {
        let found: Vec<&str> = materia.materials_called(written).iter().map(|one| one.key.as_str()).collect();
        if found != [*key] {
            wrong.push(format!("{written}: {found:?}, not {key}"));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn every_material_is_reached_by_its_name_its_key_and_its_botanical_names() {
    let materia = embedded();
    for material in &materia.materials {
        for called in [&material.name, &material.key, &material.name.to_uppercase()] {
            assert_eq!(materia.materials_called(called), [material], "{called}");
        }
        for botanical in material.botanical.iter().flat_map(|it| it.species.names()) {
            assert!(materia.materials_called(botanical).contains(&material), "{botanical}");
        }
    }
}

/// Mix-ups that have killed or poisoned, as poisons centres and food agencies report them.
#[test]
fn look_alikes_that_have_poisoned_are_named_with_the_plant_that_they_are_taken_for() {
    let materia = embedded();
    for (taken_for, poison) in [
        ("Symphytum officinale", "Digitalis purpurea"),
        ("Borago officinalis", "Digitalis purpurea"),
        ("Plantago lanceolata", "Digitalis lanata"),
        ("Arctium lappa", "Atropa belladonna"),
        ("Apium graveolens", "Conium maculatum"),
        ("Apium graveolens", "Oenanthe crocata"),
        ("Allium ursinum", "Colchicum autumnale"),
        ("Allium ursinum", "Convallaria majalis"),
        ("Gentiana lutea", "Veratrum album"),
        ("Artemisia vulgaris", "Aconitum"),
        ("Illicium verum", "Illicium anisatum"),
        ("Scutellaria lateriflora", "Teucrium"),
        ("Sambucus nigra", "Sambucus ebulus"),
        ("Juniperus communis", "Juniperus sabina"),
        ("Crataegus monogyna", "Thevetia peruviana"),
        ("Sesamum indicum", "Datura stramonium"),
    ] {
        let species = materia.species.iter().find(|one| one.name == taken_for).unwrap();
        let named = species.look_alikes.iter().find(|one| one.name.contains(poison));
        assert!(named.is_some_and(|one| one.poisonous), "{taken_for} does not name {poison}");
    }
    let fruit = materia.species.iter().find(|one| one.name == "Pimpinella anisum").unwrap();
    assert!(fruit.look_alikes[0].text.contains("wavy ribs"), "hemlock fruits have wavy ribs");
}
