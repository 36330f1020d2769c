//! Quantities, weighing, cost, and what an application brings.

use serde_json::{Value, json};
use stillroom_tests::TestClinic;

use super::{ask, figure, near, refused};

#[tokio::test(flavor = "multi_thread")]
async fn quantities_convert_by_exact_factors_and_cross_to_mass_only_by_a_density() {
    let clinic = TestClinic::start().await;
    let noor = clinic.person("noor.haddad", "student").await;
    let convert = async |question: Value| ask(&noor, "quantity", question).await;

    // US cup of 236.5882365 mL: NIST unit tables, half a US pint of 28.875 cubic inches.
    let cup = convert(json!({ "quantity": "1 cup", "to": "mL" })).await.expect(200);
    assert_eq!(figure(&cup, "quantity")["exact"], "236.5882365");
    assert!(cup.json["notes"][0].as_str().unwrap().contains("US"), "{}", cup.text);
    assert_eq!(cup.header("etag"), "", "what was worked out is not kept");
    // Rose Water Ointment of the USP of about 1890 to 1910: 4 oz av. 102 gr printed beside 120 g.
    let wax = convert(json!({ "quantity": "4 oz 102 gr", "to": "g" })).await.expect(200);
    near(&wax, "quantity", 120.0, 0.05);
    // US Army MD0802: 240 mL of light liquid petrolatum of specific gravity 0.81 weigh 194.4 g.
    let petrolatum = json!({ "quantity": "240 mL", "to": "g", "density": "0.81 g/mL" });
    assert_eq!(figure(&convert(petrolatum).await.expect(200), "quantity")["value"], "194.4");
    // UNC pharmaceutics laboratory: 20 drops of water to the mL.
    let drops = convert(json!({ "quantity": "2 mL", "to": "drops at 20 per mL" })).await.expect(200);
    assert_eq!(figure(&drops, "quantity")["value"], "40");

    // A material lends its own density, with its source; one without makes the answer unknown and never 1.0.
    let oil = convert(json!({ "quantity": "100 mL", "to": "g", "material": "olive oil" })).await.expect(200);
    near(&oil, "quantity", 91.3, 0.3);
    assert!(oil.text.contains("olive oil") || oil.text.contains("SG 20/20"), "{}", oil.text);
    let herb = json!({ "quantity": "100 mL", "to": "g", "material": "dried calendula flower" });
    let unknown = convert(herb).await.expect(200);
    assert_eq!(figure(&unknown, "quantity")["unknown"], "unknown: density of dried calendula flower");

    refused(convert(json!({ "quantity": "1 cup", "to": "g" })).await, "/density", "0.91 g/mL");
    refused(convert(json!({ "quantity": "3 furlongs", "to": "g" })).await, "/quantity", "mL");
    refused(convert(json!({ "quantity": "-3 g", "to": "kg" })).await, "/quantity", "without a minus sign");
    refused(convert(json!({ "quantity": "1e400 g", "to": "kg" })).await, "/quantity", "plain digits");
    refused(convert(json!({ "quantity": "NaN", "to": "kg" })).await, "/quantity", "Write one such as 80");
    refused(convert(json!({ "quantity": "2 mL", "to": "drops" })).await, "/to", "drops at 20 per mL");
    refused(convert(json!({ "quantity": "2 mL", "to": "parsecs" })).await, "/to", "fl oz");
    let nothing = json!({ "quantity": "2 mL", "to": "g", "material": "moonwort dew" });
    refused(convert(nothing).await, "/material", "Search the materials");
    let both = convert(json!({ "quantity": "x", "to": "y", "density": "z" })).await;
    both.fields(&["/quantity", "/to", "/density"]);
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn small_amounts_are_weighed_by_an_aliquot() {
    let clinic = TestClinic::start().await;
    let noor = clinic.person("noor.haddad", "student").await;
    let work = async |question: Value| ask(&noor, "weighing", question).await;

    // basicmedicalkey.com, accurate weighing for prescriptions: 6 mg at 5 % and at 1 %.
    for (error, least) in [("5 %", "0.12"), ("1 %", "0.6")] {
        let answer = work(json!({ "least": { "sensitivity": "6 mg", "error": error } })).await.expect(200);
        assert_eq!(figure(&answer, "least weighable")["value"], least);
    }
    // A balance that shows tenths of a gram is wrong by half a tenth: 1 g at 5 %.
    let shown = work(json!({ "least": { "readability": "0.1 g", "error": "5 %" } })).await.expect(200);
    assert_eq!(figure(&shown, "least weighable")["value"], "1");
    // qammunity 20363669: 50 mg wanted, sensitivity 6 mg, 5 %: weigh 150 mg into 600 mg, of which 200 mg.
    let solid = json!({ "aliquot": { "wanted": "50 mg", "least": "120 mg", "aliquot": "200 mg" } });
    let solid = work(solid).await.expect(200);
    assert_eq!(figure(&solid, "weigh")["value"], "0.15");
    assert_eq!(figure(&solid, "mixture")["value"], "0.6");
    assert_eq!(figure(&solid, "diluent")["value"], "0.45");
    let dissolved = json!({ "aliquot": { "wanted": "50 mg", "least": "120 mg", "aliquot": "5 mL" } });
    assert_eq!(figure(&work(dissolved).await.expect(200), "mixture")["value"], "15");

    let none = json!({ "aliquot": { "wanted": "50 mg", "least": "0 g", "aliquot": "200 mg" } });
    refused(work(none).await, "/aliquot/least", "above zero");
    let large = json!({ "aliquot": { "wanted": "500 mg", "least": "120 mg", "aliquot": "1 g" } });
    refused(work(large).await, "/aliquot/wanted", "can be weighed directly");
    let small = json!({ "aliquot": { "wanted": "50 mg", "least": "120 mg", "aliquot": "100 mg" } });
    refused(work(small).await, "/aliquot/aliquot", "at least 0.12 g");
    refused(
        work(json!({ "least": { "sensitivity": "0 g", "error": "5 %" } })).await,
        "/least/sensitivity",
        "above zero",
    );
    refused(
        work(json!({ "least": { "sensitivity": "6 mg", "error": "0 %" } })).await,
        "/least/error",
        "5 % is usual",
    );
    refused(work(json!({ "least": { "error": "5 %" } })).await, "/least/sensitivity", "0.1 g");
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_cost_is_exact_rounded_once_and_unknown_where_a_price_is() {
    let clinic = TestClinic::start().await;
    let noor = clinic.person("noor.haddad", "student").await;
    let work = async |question: Value| ask(&noor, "cost", question).await;

    // By hand: 300 g at 8.90 for 1 kg are 2.67; a third of 1.00 is 0.33333; with 6.60 they are 9.6033, 0.8003 each.
    let asked = json!({
        "draws": [
            { "name": "olive oil", "quantity": "300 g", "price": "8.90", "per": "1 kg" },
            { "name": "beeswax", "quantity": "100 g", "price": "1.00", "per": "300 g" } ],
        "extras": [{ "name": "jars", "amount": "6.60" }], "containers": 12 });
    let answer = work(asked).await.expect(200);
    assert_eq!(answer.json["currency"], "EUR");
    assert_eq!(figure(&answer, "olive oil")["value"], "2.67");
    assert_eq!(figure(&answer, "total")["value"], "9.6");
    assert_eq!(figure(&answer, "each container")["value"], "0.8");
    // A yen has no smaller unit; half of one is rounded up.
    let yen = json!({ "currency": "JPY", "draws": [{ "name": "oil", "quantity": "50 g", "price": "1", "per": "100 g" }] });
    assert_eq!(figure(&work(yen).await.expect(200), "total")["value"], "1");
    let unpriced = work(json!({ "draws": [{ "name": "rose oil", "quantity": "1 mL" }] })).await.expect(200);
    assert_eq!(figure(&unpriced, "total")["unknown"], "unknown: price of rose oil");
    let apart = json!({ "draws": [{ "name": "rose oil", "quantity": "1 mL", "price": "9", "per": "1 g" }] });
    assert_eq!(figure(&work(apart).await.expect(200), "total")["unknown"], "unknown: density of rose oil");

    let negative = json!({ "draws": [{ "name": "oil", "quantity": "1 g", "price": "-1", "per": "1 g" }] });
    refused(work(negative).await, "/draws/0/price", "without a minus sign");
    let loose = json!({ "draws": [{ "name": "oil", "quantity": "1 g", "price": "1" }] });
    refused(work(loose).await, "/draws/0/per", "1 kg");
    let none = json!({ "draws": [{ "name": "oil", "quantity": "1 g" }], "containers": 0 });
    refused(work(none).await, "/containers", "at least 1");
    refused(work(json!({ "draws": [] })).await, "/draws", "1 to 200 items");
    let odd = json!({ "currency": "euro", "draws": [{ "name": "oil", "quantity": "1 g" }] });
    refused(work(odd).await, "/currency", "ISO 4217");
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn an_application_brings_what_is_in_it() {
    let clinic = TestClinic::start().await;
    let noor = clinic.person("noor.haddad", "student").await;
    let work = async |question: Value| ask(&noor, "dose", question).await;
    let lotion = |application: Value| {
        json!({ "preparation": "lotion", "density": "0.95 g/mL", "times_a_day": 2, "application": application, "lines": [
            { "material": "ethanol 96 %", "amount": "100 g" }, { "material": "dried calendula flower", "amount": "50 g" },
            { "material": "purified water", "amount": "q.s. 1000 g" } ] })
    };

    // By hand: 100 cm2 x 2 mg/cm2 are 0.2 g; 5 % of it are 10 mg of herb. US Navy NAVEDTRA 14295: a teaspoon is 5 mL.
    let film = work(lotion(json!({ "film": { "area": "100 cm2", "film": "2 mg/cm2" } }))).await.expect(200);
    assert_eq!(figure(&film, "one application")["value"], "0.2");
    assert_eq!(figure(&film, "one day")["value"], "0.4");
    near(&film, "dried herb of dried calendula flower", 10.0, 1e-9);
    // 96 % v/v is 93.84 % w/w (OIML R 22; qualenica.be has 94.10 % w/w for 96.2 % v/v): 0.2 g x 10 % x 0.938 are 18.8 mg.
    near(&film, "ethanol", 18.8, 0.05);
    let spoon = work(lotion(json!({ "volume": "1 metric tsp" }))).await.expect(200);
    near(&spoon, "one application", 5.0 * 0.95, 1e-9);
    let weighed = work(lotion(json!({ "mass": "2 g" }))).await.expect(200);
    assert_eq!(figure(&weighed, "one application")["value"], "2");

    let wide = work(lotion(json!({ "film": { "area": "30000 cm2", "film": "2 mg/cm2" } }))).await;
    refused(wide, "/application/film/area", "20000 cm2");
    let bare = work(lotion(json!({ "film": { "area": "NaN", "film": "-2 mg/cm2" } }))).await;
    bare.fields(&["/application/film/area", "/application/film/film"]);
    let mut often = lotion(json!({ "mass": "2 g" }));
    often["times_a_day"] = json!(0);
    refused(work(often).await, "/times_a_day", "1 to 48");
    clinic.stop().await;
}
