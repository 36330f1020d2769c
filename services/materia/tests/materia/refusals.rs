//! What the reader refuses, and how it says so.

use materia::{Audience, Error, Files, Materia};

/// Reads the embedded files with the first occurrence of some text replaced in one of them.
fn refused(file: &str, from: &str, to: &str) -> Error {
    let files = Files::embedded();
    let text = files.text(file);
    assert!(text.contains(from), "{file} no longer holds {from:?}");
    let changed = text.replacen(from, to, 1);
    let error = Materia::read(&files.with(file, changed)).expect_err("the file should be refused");
    assert_eq!(error.file, file, "{error}");
    error
}

#[track_caller]
fn tells(error: &Error, field: &str, words: &[&str]) {
    assert_eq!(error.field.as_deref(), Some(field), "{error}");
    let shown = error.to_string();
    assert!(shown.contains(&error.file) && shown.contains(field) && !error.cure.is_empty(), "{shown}");
    for word in words {
        assert!(shown.contains(word), "{word:?} is not in {shown:?}");
    }
}

const WAX: &str = "beeswax-yellow,yellow beeswax,wax,,,,,Cera Alba,beeswax; yellow wax; bees wax,,by-soap,from-memory,,from_memory";

#[test]
fn a_row_without_a_source() {
    let error = refused("materials.csv", WAX, &WAX.replace("from-memory,,from_memory", ",,from_memory"));
    tells(&error, "source", &["no source", "common-practice or from-memory"]);
    let line = error.line.unwrap();
    let text = Files::embedded().text("materials.csv").to_owned();
    let row = text.lines().nth(usize::try_from(line).unwrap() - 1).unwrap();
    assert_eq!(row, WAX, "the line named is the line that is wrong");
}

#[test]
fn a_source_that_does_not_exist() {
    let error = refused("materials.csv", WAX, &WAX.replace("from-memory", "hearsay"));
    tells(&error, "source", &["\"hearsay\" is not in sources.csv"]);
}

#[test]
fn memory_that_calls_itself_verified() {
    let error = refused("materials.csv", WAX, &WAX.replace("from_memory", "verified"));
    tells(&error, "status", &["verified does not fit"]);
}

#[test]
fn a_status_that_is_not_one_of_the_four() {
    let error = refused("materials.csv", WAX, &WAX.replace("from_memory", "certain"));
    tells(&error, "status", &["\"certain\"", "verified, secondary, from_memory, common_practice"]);
}

#[test]
fn a_density_without_unit_or_with_a_wrong_one() {
    let row = "almond-oil-sweet,density,0.910,,0.915,SG 25/25,,";
    let error = refused("properties.csv", row, &row.replace("SG 25/25", ""));
    tells(&error, "unit", &["empty"]);
    let error = refused("properties.csv", row, &row.replace("SG 25/25", "C"));
    tells(&error, "unit", &["density is not stated in C", "g/mL"]);
    let error = refused("properties.csv", row, &row.replace("SG 25/25", "lb/gal"));
    tells(&error, "unit", &["\"lb/gal\"", "g/mL"]);
}

#[test]
fn a_density_without_temperature() {
    let row = "macadamia-oil,density,0.908,,0.918,g/mL,20,";
    let error = refused("properties.csv", row, &row.replace("g/mL,20,", "g/mL,,"));
    tells(&error, "at_celsius", &["without its temperature"]);
}

#[test]
fn figures_that_are_no_figures() {
    let row = "macadamia-oil,density,0.908,,0.918,g/mL,20,";
    for nonsense in ["-0.952", "NaN", "1e3", "0,9", "about 0.95"] {
        let error = refused("properties.csv", row, &row.replace("0.908", &format!("\"{nonsense}\"")));
        tells(&error, "low", &[nonsense, "plain number"]);
    }
    let error = refused("properties.csv", row, &row.replace("0.908", "0.985"));
    tells(&error, "value", &["outside its range"]);
    let error = refused("properties.csv", row, &row.replace("0.908,,0.918", "908,,918"));
    tells(&error, "value", &["Check the unit"]);
}

#[test]
fn a_property_stated_twice() {
    let row = "macadamia-oil,density,0.908,,0.918,g/mL,20,from-memory,,from_memory\n";
    let error = refused("properties.csv", row, &row.repeat(2));
    tells(&error, "property", &["earlier row"]);
}

#[test]
fn references_to_what_does_not_exist() {
    for (file, from, to, field) in [
        (
            "constituents.csv",
            "potassium-sorbate,potassium-sorbate",
            "potassium-sorbate,kryptonite",
            "substance",
        ),
        (
            "constituents.csv",
            "potassium-sorbate,potassium-sorbate",
            "kryptonite,potassium-sorbate",
            "material",
        ),
        (
            "materials.csv",
            "calendula-flower-dried,dried calendula flower,herb,calendula-officinalis",
            "calendula-flower-dried,dried calendula flower,herb,calendula-vulgaris",
            "species",
        ),
        ("cautions.csv", "group:asteraceae", "group:orchids", "targets"),
        ("cautions.csv", "family:Apiaceae", "family:Umbelliferae", "targets"),
        ("cautions.csv", "allergy:asteraceae", "allergy:orchids", "audiences"),
        ("stops.csv", ",eye,", ",ear,", "routes"),
        ("limits.csv", "substance:sorbic-acid", "substance:kryptonite", "subject"),
        ("limits.csv", "eu-sorbic-acid,cosmetic", "eu-sorbic-acid,lotion", "regime"),
        ("allergens.csv", "substance:linalool", "linalool", "subject"),
        ("evidence.csv", "known-harm,by-mouth", "known-harm,by-ear", "routes"),
        ("forms.csv", "calendula-flower-dried,infused-oil", "calendula-flower-dried,pie", "preparation"),
        ("look_alikes.csv", "symphytum-officinale,", "symphytum-album,", "species"),
        ("allergies.csv", "bee-products,", "birds,", "group"),
    ] {
        tells(&refused(file, from, to), field, &[]);
    }
}

#[test]
fn a_limit_without_unit() {
    let error = refused("limits.csv", "0.6,% w/w,as-acid", "0.6,,as-acid");
    tells(&error, "unit", &["% w/w, ug/day or ug/kg/day"]);
}

#[test]
fn a_jurisdiction_that_is_none() {
    tells(&refused("limits.csv", "cosmetic,EU,law", "cosmetic,Europe,law"), "jurisdiction", &["two capital"]);
}

#[test]
fn a_finding_on_the_same_people_and_route_twice() {
    let row = "kind:wax,pregnant,ordinary-use,,common-practice,,common_practice\n";
    let twice = format!("{row}{}", row.replace("ordinary-use", "no-data"));
    tells(&refused("evidence.csv", row, &twice), "target", &["earlier row"]);
}

#[test]
fn audiences_that_are_none() {
    for text in [
        "",
        "pregnant ",
        "under:",
        "under:0y",
        "under:6",
        "under:-1y",
        "under:101y",
        "under:99999999999m",
        "allergy:",
        "condition:vertigo",
        "under:six",
    ] {
        assert!(text.parse::<Audience>().is_err(), "{text:?}");
    }
    for text in
        ["everyone", "under:100y", "under:12m", "under:2y", "under:30m", "allergy:latex", "condition:g6pd"]
    {
        assert_eq!(text.parse::<Audience>().unwrap().to_string(), text);
    }
    assert_eq!("under:1y".parse::<Audience>().unwrap(), Audience::UnderMonths(12));
}

#[test]
fn a_key_used_twice_and_a_name_used_twice() {
    let error = refused("materials.csv", WAX, &format!("{WAX}\n{WAX}"));
    tells(&error, "key", &["earlier row"]);
    let error =
        refused("materials.csv", WAX, &format!("{WAX}\n{}", WAX.replace("beeswax-yellow", "beeswax-gold")));
    tells(&error, "name", &["earlier row"]);
}

#[test]
fn a_herb_without_species_or_state() {
    let row = "oat-meal,oatmeal,herb,avena-sativa,meal,dried,";
    tells(
        &refused("materials.csv", row, &row.replace(",dried,", ",,")),
        "state",
        &["fresh, wilted or dried"],
    );
    tells(
        &refused("materials.csv", row, &row.replace("avena-sativa", "")),
        "species",
        &["without its species"],
    );
}

#[test]
fn a_cas_number_with_a_slipped_digit() {
    tells(&refused("substances.csv", "110-44-1", "110-45-1"), "cas", &["check digit"]);
}

#[test]
fn a_material_about_which_pregnancy_says_nothing() {
    let files = Files::embedded();
    let text =
        files.text("materials.csv").to_owned() + "naphtha,naphtha,solvent,,,,,,,,,from-memory,,from_memory\n";
    let error = Materia::read(&files.with("materials.csv", text)).unwrap_err();
    tells(&error, "target", &["has no finding for", "no-data"]);
}

#[test]
fn wording_for_a_finding_must_exist() {
    let error = refused("cautions.csv", "evidence:pregnant:no-data", "evidence:pregnant:ordinary-use");
    tells(&error, "targets", &["no wording for evidence:pregnant:no-data"]);
}

#[test]
fn headings_and_field_counts() {
    let error = refused("routes.csv", "key,name", "name,key");
    assert!(error.cure.contains("key,name,also"), "{error}");
    let error = refused("routes.csv", "in the eye,eye,", "in the eye,eye,,");
    assert!(error.line.is_some() && error.cure.contains("7 fields"), "{error}");
}

#[test]
fn a_caution_that_hides_a_warning_from_whoever_uses_it_or_is_for_nobody() {
    let note = "preservative-ph,for-the-maker,making,note,everyone,";
    let error = refused("cautions.csv", note, "preservative-ph,for-somebody,making,note,everyone,");
    tells(&error, "group", &["\"for-somebody\"", "must-not, ask-first"]);
    for (level, audience) in [("contraindication", "everyone"), ("note", "pregnant")] {
        let row = format!("preservative-ph,for-the-maker,making,{level},{audience},");
        tells(&refused("cautions.csv", note, &row), "group", &["keep a warning from the label"]);
    }
    let kept = "preservative-ph,how-to-keep,making,note,everyone,";
    tells(&refused("cautions.csv", note, kept), "stage", &["making does not go with the group how-to-keep"]);
}

/// The set with a row of its own, and the same with the columns that a test changes.
fn with_caution(
    key: &str,
    level: &str,
    audiences: &str,
    amount: &str,
    replaces: &str,
) -> Result<Materia, Error> {
    let files = Files::embedded();
    let row = format!(
        "{key},ask-first,use,{level},{audiences},,,,material:olive-oil,{amount},{replaces},,Ask first.,,from-memory,,from_memory\n"
    );
    let text = files.text("cautions.csv").to_owned() + &row;
    Materia::read(&files.with("cautions.csv", text))
}

#[test]
fn a_caution_replaces_only_what_following_it_obeys() {
    let refused =
        |level, audiences, replaces| with_caution("a-row", level, audiences, "any", replaces).unwrap_err();
    assert!(with_caution("a-row", "caution", "pregnant", "any", "pregnancy-no-data").is_ok());
    tells(&refused("note", "pregnant", "pregnancy-no-data"), "replaces", &["does not obey"]);
    tells(&refused("caution", "under:3y", "pregnancy-no-data"), "replaces", &["does not obey"]);
    tells(&refused("caution", "everyone", "a-row"), "replaces", &["no other caution"]);
    tells(&refused("caution", "everyone", "nothing-such"), "replaces", &["no other caution"]);
}

#[test]
fn a_joint_caution_replaces_what_it_joins() {
    let joint = |replaces: &str| {
        let files = Files::embedded();
        let row = format!(
            "a-row,ask-first,use,caution,pregnant; breast-feeding,,,,together:pregnancy-no-data+breast-feeding-no-data,any,{replaces},,Ask first.,,from-memory,,from_memory\n"
        );
        let text = files.text("cautions.csv").to_owned() + &row;
        Materia::read(&files.with("cautions.csv", text))
    };
    assert!(joint("pregnancy-no-data; breast-feeding-no-data").is_ok());
    tells(
        &joint("pregnancy-no-data").unwrap_err(),
        "replaces",
        &["breast-feeding-no-data", "does not replace"],
    );
}

#[test]
fn a_threshold_rests_on_a_source_that_was_read_and_on_a_caution_that_asks_for_it() {
    let error = with_caution("a-row", "note", "everyone", "threshold", "").unwrap_err();
    tells(&error, "amount", &["thresholds.csv says otherwise"]);
    let rows = |row: &str| {
        let files = Files::embedded();
        let text = files.text("thresholds.csv").to_owned() + row;
        Materia::read(&files.with("thresholds.csv", text)).unwrap_err()
    };
    let error = rows("patch-test,material:olive-oil,share,1,any,from-memory,,from_memory\n");
    tells(&error, "status", &["would silence a caution"]);
    let error = rows("nothing-such,material:olive-oil,share,1,any,hmpc-fennel,,secondary\n");
    tells(&error, "caution", &["no caution"]);
}

#[test]
fn a_date_that_is_none_and_an_age_that_is_none() {
    tells(&refused("sources.csv", "2021-07-07", "7 July 2021"), "date", &["2024-05-13"]);
    tells(&refused("cautions.csv", "under:18y", "under:eighteen"), "audiences", &["under:6y"]);
}

#[test]
fn an_unknown_setting_in_the_data_sets_own_file() {
    let error =
        Materia::read(&Files::embedded().with("dataset.toml", "number = 1\ndate = \"2026-11-25\"\nx = 1"));
    assert_eq!(error.unwrap_err().file, "dataset.toml");
}

#[test]
fn the_fingerprint_tells_two_data_sets_apart() {
    let files = Files::embedded();
    let same = Materia::read(&files).unwrap().version;
    assert_eq!(same, Materia::embedded().unwrap().version);
    let changed = files.text("routes.csv").replace("in the eye,eye", "in the eye,eyes");
    let other = Materia::read(&files.with("routes.csv", changed)).unwrap().version;
    assert_eq!(other.number, same.number);
    assert_ne!(other.fingerprint, same.fingerprint);
}

/// Broken files are refused, never a panic: every embedded file is damaged in a few places in turn.
#[test]
fn damage_anywhere_is_a_refusal_or_harmless() {
    let files = Files::embedded();
    let names =
        ["sources.csv", "species.csv", "materials.csv", "properties.csv", "cautions.csv", "limits.csv"];
    for (name, damage) in
        names.iter().flat_map(|name| ["\"", "\n", ",", ";", ":", "@", "\u{fffd}"].map(|bad| (name, bad)))
    {
        let text = files.text(name);
        let (at, _) = text.char_indices().nth(text.chars().count() * 2 / 3).unwrap();
        let broken = format!("{}{damage}{}", &text[..at], &text[at + 1..]);
        if let Err(error) = Materia::read(&files.clone().with(name, broken)) {
            assert!(!error.problem.is_empty() && !error.cure.is_empty(), "{error}");
        }
    }
}

#[test]
fn a_dating_rule_of_no_set_or_of_no_period() {
    let row = "common-creams,cold,yes,,,,,,,,,refrigerator,3 months,";
    let error = refused("dating_rules.csv", row, &row.replace("common-creams", "uncommon-creams"));
    tells(&error, "set", &["\"uncommon-creams\" is not in dating_sets.csv"]);
    let error = refused("dating_rules.csv", row, &row.replace("3 months", "3 moons"));
    tells(&error, "period", &["14 days or 6 months"]);
    let error = refused("dating_rules.csv", row, &row.replace("refrigerator", "cellar"));
    tells(&error, "kept", &["refrigerator, room temperature"]);
    let error = refused("dating_rules.csv", "20,% v/v", "20,");
    assert!(error.to_string().contains("dating_rules.csv"), "{error}");
    let error = refused("dating_rules.csv", "65,% w/w", "65,% v/v");
    tells(&error, "sugar_unit", &["% w/w for sugar"]);
    let error = refused("dating_rules.csv", ",egg-yolk,,2 days", ",egg-yoke,,2 days");
    tells(&error, "holds", &["\"egg-yoke\" is not in materials.csv"]);
    let error = refused("dating_sets.csv", "2023-11-01,,", "2023-11,,");
    tells(&error, "from", &["2024-05-13"]);
    let error = refused("dating_sets.csv", "cream; lotion", "cream; lotions");
    tells(&error, "preparations", &["\"lotions\" is not in preparations.csv"]);
}
