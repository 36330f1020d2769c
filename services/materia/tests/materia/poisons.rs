//! Poisons: stopped by every route, under whatever name a clinic enters them; what only sounds like them is not.

use crate::embedded;
use materia::{Entry, Materia, Material, Situation, State};

const HERB: &str = "herb";
const OIL: &str = "essential oil";

/// A material as a clinic enters it.
fn entered(materia: &Materia, name: &str, botanical: Option<&str>, kind: &str) -> Material {
    let known = botanical.and_then(|name| materia.species.iter().find(|one| one.is_named(name)));
    let entry = Entry {
        name: name.into(),
        kind: kind.into(),
        botanical_name: botanical.map(Into::into),
        botanical_author: known.is_none().then(|| "auct.".into()),
        family: known.is_none().then(|| "a family".into()),
        part: botanical.map(|_| "leaf".into()),
        state: botanical.map(|_| State::Dried.word().into()),
        source: "the clinic's own entry".into(),
        status: "from memory".into(),
        ..Entry::default()
    };
    materia.complete(&entry, None).unwrap_or_else(|refused| panic!("{name}: {refused:?}"))
}

fn stops<'m>(materia: &'m Materia, of: &Material, route: &str, preparation: &str) -> Vec<&'m str> {
    let at = Situation { preparation, route, material: Some(of), youngest_months: None };
    let about = materia.stops.iter().filter(|stop| stop.is_of_materials() && stop.applies(&at));
    about.map(|stop| stop.key.as_str()).collect()
}

/// Stop, name as a clinic might write it, botanical name, kind.
const POISONS: &[(&str, &str, Option<&str>, &str)] = &[
    ("poison-aconite", "the blue flower", Some("Aconitum napellus"), HERB),
    ("poison-aconite", "chuan wu", Some("Aconitum carmichaelii Debeaux"), HERB),
    ("poison-aconite", "monkshood liniment, bought", None, "solvent"),
    ("poison-belladonna", "the black cherry", Some("atropa belladonna"), HERB),
    ("poison-belladonna", "Belladonna extract", None, "humectant"),
    ("poison-henbane", "black leaf", Some("Hyoscyamus niger"), HERB),
    ("poison-henbane", "henbane oil", None, "fixed oil"),
    ("poison-thorn-apple", "asthma leaf", Some("Datura stramonium"), HERB),
    ("poison-thorn-apple", "trumpet flower", Some("Brugmansia x candida"), HERB),
    ("poison-thorn-apple", "Jimson-weed tincture", None, "solvent"),
    ("poison-meadow-saffron", "spring leaf", Some("Colchicum autumnale"), HERB),
    ("poison-meadow-saffron", "Autumn crocus corm", None, "thickener"),
    ("poison-hemlock", "ditch parsley", Some("Conium maculatum"), HERB),
    ("poison-hemlock", "Poison hemlock fruit", None, "thickener"),
    ("poison-water-hemlock", "water parsnip", Some("Cicuta virosa"), HERB),
    ("poison-water-hemlock", "cowbane root", None, "thickener"),
    ("poison-water-dropwort", "stream celery", Some("Oenanthe crocata"), HERB),
    ("poison-foxglove", "tall purple leaf", Some("Digitalis purpurea"), HERB),
    ("poison-foxglove", "woolly leaf", Some("Digitalis lanata Ehrh."), HERB),
    ("poison-foxglove", "garden hybrid", Some("Digitalis x mertonensis"), HERB),
    ("poison-foxglove", "garden hybrid", Some("Digitalis \u{d7}mertonensis"), HERB),
    ("poison-foxglove", "Foxglove tincture", None, "solvent"),
    ("poison-false-hellebore", "alpine root", Some("Veratrum album"), HERB),
    ("poison-sabadilla", "lice seed", Some("Schoenocaulon officinale"), HERB),
    ("poison-birthwort", "fang ji", Some("Aristolochia fangchi"), HERB),
    ("poison-birthwort", "Guan mu tong", None, "thickener"),
    ("poison-croton", "purging oil", Some("Croton tiglium"), "fixed oil"),
    ("poison-croton", "croton oil", None, "fixed oil"),
    ("poison-savin", "scaly twigs", Some("Juniperus sabina"), HERB),
    ("poison-savin", "tamarisk juniper oil", Some("Juniperus sabina var. tamariscifolia"), OIL),
    ("poison-oleander", "bay rose", Some("Nerium oleander"), HERB),
    ("poison-yellow-oleander", "weight-loss root", Some("Cascabela thevetia"), HERB),
    ("poison-yellow-oleander", "Tejocote root", None, "thickener"),
    ("poison-yew", "needle tea", Some("Taxus baccata"), HERB),
    ("poison-yew", "hybrid needles", Some("Taxus x media"), HERB),
    ("poison-arum", "spotted leaf", Some("Arum maculatum"), HERB),
    ("poison-lily-of-the-valley", "bells", Some("Convallaria majalis"), HERB),
    ("poison-lily-of-the-valley", "Lily-of-the-Valley spirit", None, "solvent"),
    ("poison-lobelia", "vomit weed", Some("Lobelia inflata"), HERB),
    ("poison-wormseed-oil", "worm oil", Some("Dysphania ambrosioides"), OIL),
    ("poison-wormseed-oil", "oil of wormseed", None, "aromatic substance"),
    ("poison-pennyroyal-oil", "pudding grass oil", Some("Mentha pulegium"), OIL),
    ("poison-tansy-oil", "buttons oil", Some("Tanacetum vulgare"), OIL),
    ("poison-rue-oil", "herb of grace oil", Some("Ruta graveolens"), OIL),
    ("poison-poke", "ink berry", Some("Phytolacca americana"), HERB),
    ("poison-black-nightshade", "garden huckleberry leaf", Some("Solanum nigrum"), HERB),
    ("poison-strychnos", "vomiting nut", Some("Strychnos nux-vomica"), HERB),
    ("poison-strophanthus", "arrow seed", Some("Strophanthus kombe"), HERB),
    ("poison-cherry-laurel", "almond water", Some("Prunus laurocerasus"), "watery base"),
    ("poison-squill", "sea bulb", Some("Urginea maritima"), HERB),
    ("poison-jaborandi", "sweat leaf", Some("Pilocarpus microphyllus"), HERB),
    ("poison-narcissus", "spring bulb", Some("Narcissus pseudonarcissus"), HERB),
    ("poison-japanese-star-anise", "temple star", Some("Illicium anisatum"), HERB),
    ("poison-germander", "wall oak", Some("Teucrium chamaedrys"), HERB),
    ("poison-pheasants-eye", "red eye", Some("Adonis vernalis"), HERB),
];

#[test]
fn a_poison_is_stopped_by_every_route_whatever_it_is_called() {
    let materia = embedded();
    for (stop, name, botanical, kind) in POISONS {
        let of = entered(&materia, name, *botanical, kind);
        for route in &materia.routes {
            for preparation in ["tincture", "infused-oil", "balm", "infusion"] {
                let found = stops(&materia, &of, &route.key, preparation);
                assert!(found.contains(stop), "{name} ({botanical:?}) by {}: {found:?}", route.key);
            }
        }
    }
    let named: Vec<&str> = POISONS.iter().map(|(stop, ..)| *stop).collect();
    for stop in materia.stops.iter().filter(|stop| stop.key.starts_with("poison-") && stop.routes.is_empty())
    {
        assert!(named.contains(&stop.key.as_str()), "{} has no case here", stop.key);
    }
}

#[test]
fn greater_celandine_and_herbs_with_pyrrolizidine_alkaloids_are_stopped_by_mouth_alone() {
    let materia = embedded();
    let by_mouth = |name, botanical, kind| {
        let of = entered(&materia, name, botanical, kind);
        let at = |route| stops(&materia, &of, route, "infusion");
        (at("by-mouth"), at("intact-skin-leave-on"))
    };
    assert_eq!(
        by_mouth("tetterwort", Some("Chelidonium majus"), HERB),
        (vec!["poison-greater-celandine"], vec![])
    );
    for (name, botanical, kind) in [
        ("Russian knitbone", Some("Symphytum x uplandicum"), HERB),
        ("cough leaf", Some("Tussilago farfara"), HERB),
        ("bog rhubarb", Some("Petasites hybridus"), HERB),
        ("starflower leaf", Some("Borago officinalis"), HERB),
        ("stinking willie", Some("Jacobaea vulgaris"), HERB),
        ("stinking willie", Some("Senecio jacobaea"), HERB),
        ("Comfrey tincture", None, "solvent"),
    ] {
        let expected = (vec!["pyrrolizidine-herb-by-mouth"], vec![]);
        assert_eq!(by_mouth(name, botanical, kind), expected, "{name} {botanical:?}");
    }
}

#[test]
fn what_only_sounds_like_a_poison_is_not_stopped() {
    let materia = embedded();
    for (name, botanical, kind) in [
        ("hemlock spruce oil", Some("Tsuga canadensis"), OIL),
        ("blue tansy oil", Some("Tanacetum annuum"), OIL),
        ("germander speedwell", Some("Veronica chamaedrys"), HERB),
        ("dragon's blood", Some("Croton lechleri"), "resin"),
        ("sage-leaved nightcap", Some("Salvia officinalis"), HERB),
        ("pennyroyal herb", Some("Mentha pulegium"), HERB),
        ("tansy herb", Some("Tanacetum vulgare"), HERB),
        ("starflower oil", Some("Borago officinalis"), "fixed oil"),
        ("star anise", Some("Illicium verum"), HERB),
        ("juniper twigs", Some("Juniperus communis"), HERB),
        ("Artemisia arumensis", Some("Artemisia annua"), HERB),
    ] {
        let of = entered(&materia, name, botanical, kind);
        for route in &materia.routes {
            assert!(stops(&materia, &of, &route.key, "balm").is_empty(), "{name} by {}", route.key);
        }
    }
}

/// A stop that reached an ordinary material by its name would be found here.
#[test]
fn of_the_materia_itself_only_these_are_stopped_as_such() {
    let materia = embedded();
    for material in &materia.materials {
        let found = stops(&materia, material, "by-mouth", "tincture");
        let expected: &[&str] = match material.key.as_str() {
            "comfrey-root-dried"
            | "comfrey-leaf-dried"
            | "comfrey-leaf-wilted"
            | "coltsfoot-leaf-dried"
            | "borage-herb-dried" => &["pyrrolizidine-herb-by-mouth"],
            "arnica-flower-dried" => &["arnica-by-mouth"],
            "sodium-borate" => &["borate-by-mouth"],
            _ => &[],
        };
        assert_eq!(found, expected, "{}", material.key);
        assert!(stops(&materia, material, "intact-skin-leave-on", "tincture").is_empty(), "{}", material.key);
    }
}
