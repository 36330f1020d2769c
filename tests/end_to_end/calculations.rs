//! The calculators through HTTP: published check values with their sources, refusals with pointer and cure.

use serde_json::{Value, json};
use stillroom_tests::{Answer, Caller, TestClinic};

/// Asks a calculator, as other tools do: without an Idempotency-Key.
async fn ask(caller: &Caller, noun: &str, question: Value) -> Answer {
    let body = question.to_string().into_bytes();
    let headers = [("content-type", "application/json")];
    caller.send(reqwest::Method::POST, &format!("/v1/calculations/{noun}"), &headers, Some(body)).await
}

/// The figure of this name.
#[track_caller]
fn figure<'a>(answer: &'a Answer, name: &str) -> &'a Value {
    answer.json["figures"]
        .as_array()
        .unwrap()
        .iter()
        .find(|figure| figure["name"] == name)
        .unwrap_or_else(|| panic!("no figure {name:?} in {}", answer.text))
}

/// The number of the figure of this name.
#[track_caller]
fn number(answer: &Answer, name: &str) -> f64 {
    let figure = figure(answer, name);
    figure["value"]
        .as_str()
        .and_then(|value| value.parse().ok())
        .unwrap_or_else(|| panic!("no number: {figure}"))
}

/// Holds a figure to a published value.
#[track_caller]
fn near(answer: &Answer, name: &str, published: f64, within: f64) {
    let found = number(answer, name);
    assert!((found - published).abs() <= within, "{name} is {found}, published {published}");
}

/// Holds a refusal to one field and to words of its cure.
#[track_caller]
fn refused(answer: Answer, pointer: &str, cure: &str) {
    let answer = answer.fields(&[pointer]);
    let detail = answer.text_at("/errors/0/detail");
    assert!(detail.contains(cure), "{pointer}: {detail}");
}

#[tokio::test(flavor = "multi_thread")]
async fn quantities_convert_by_exact_factors_and_cross_to_mass_only_by_a_density() {
    let clinic = TestClinic::start().await;
    let noor = clinic.person("noor.haddad", "student").await;
    let convert = async |question: Value| ask(&noor, "quantity", question).await;

    // US cup of 236.5882365 mL: NIST unit tables, half a US pint of 28.875 cubic inches.
    let cup = convert(json!({ "quantity": "1 cup", "to": "mL" })).await.expect(200);
    assert_eq!(figure(&cup, "quantity")["value"], "236.5882365");
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
    refused(convert(json!({ "quantity": "NaN", "to": "kg" })).await, "/quantity", "digits");
    refused(convert(json!({ "quantity": "2 mL", "to": "drops" })).await, "/to", "drops at 20 per mL");
    refused(convert(json!({ "quantity": "2 mL", "to": "parsecs" })).await, "/to", "fl oz");
    let nothing = json!({ "quantity": "2 mL", "to": "g", "material": "moonwort dew" });
    refused(convert(nothing).await, "/material", "/v1/materials");
    let both = convert(json!({ "quantity": "x", "to": "y", "density": "z" })).await;
    both.fields(&["/quantity", "/to", "/density"]);
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn alcohol_follows_the_published_tables_and_says_what_a_stock_can_give() {
    let clinic = TestClinic::start().await;
    let noor = clinic.person("noor.haddad", "student").await;
    let work = async |question: Value| ask(&noor, "alcohol", question).await;

    // qualenica.be: 100 g of 40 % vol from 96.2 % vol take 35.36 g by its interpolated table, 100 mL take 41.58 mL.
    let by_mass = json!({ "dilution": { "wanted": "100 g", "strength": "40 %", "stock": "96.2 %" } });
    near(&work(by_mass).await.expect(200), "stock by mass", 35.36, 0.03);
    let by_volume = json!({ "dilution": { "wanted": "100 mL", "strength": "40 % v/v", "stock": "96.2 %" } });
    let made = work(by_volume).await.expect(200);
    near(&made, "stock by volume", 41.58, 0.005);
    // The volumes do not add up: more water is needed than what is missing to 100 mL.
    assert!(number(&made, "water or weaker spirit by volume") > 100.0 - 41.58);
    // USP 29, alcoholometric table (NBS Bulletin, volume 9), at 15.56 C: 20 % v/v is 16.27 % w/w.
    let usp = work(json!({ "strength": { "by_volume": "20 %", "stated_at": "60 F" } })).await.expect(200);
    near(&usp, "by mass", 0.1627, 0.0001);
    // The same table: 30 % w/w is 36.18 % v/v.
    let back = work(json!({ "strength": { "by_mass": "30 %", "stated_at": "15.56 C" } })).await.expect(200);
    near(&back, "by volume", 0.3618, 0.0001);
    // OIML R 22, reference file of an implementation under CC0: half ethanol by mass has 913.7705950 kg/m3 at 20 C.
    let half = work(json!({ "strength": { "by_mass": "50 %", "density_at": "25 C" } })).await.expect(200);
    near(&half, "density", 0.913_770_595, 1e-9);
    assert!(number(&half, "density at the other temperature") < number(&half, "density"));
    // The way back: that density is half ethanol.
    let read = work(json!({ "density": { "density": "0.913770595 g/mL at 20 C" } })).await.expect(200);
    near(&read, "by mass", 0.5, 1e-6);
    // Read at 20 C, an instrument that is marked at 20 C says what is there.
    let cold = work(json!({ "hydrometer": { "reading": "45 %", "temperature": "20 C" } })).await.expect(200);
    near(&cold, "by volume at 20 C", 0.45, 1e-6);
    let warm = work(json!({ "hydrometer": { "reading": "45 %", "temperature": "28 C" } })).await.expect(200);
    assert!(number(&warm, "by volume at 20 C") < 0.45, "a warm spirit seems stronger than it is");
    // Ethanol is conserved: what was diluted and put together again has the strength wanted.
    let (stock, water) = (number(&made, "stock by mass"), number(&made, "water or weaker spirit by mass"));
    let streams = json!({ "mixture": { "streams": [
        { "amount": format!("{stock} g"), "strength": "96.2 %" }, { "amount": format!("{water} g"), "strength": "0 %" } ] } });
    near(&work(streams).await.expect(200), "by volume", 0.40, 1e-6);

    let stronger = json!({ "dilution": { "wanted": "500 mL", "strength": "70 %", "stock": "40 %" } });
    refused(work(stronger).await, "/dilution/strength", "any strength between them");
    let hot = json!({ "strength": { "by_volume": "40 %", "stated_at": "60 C" } });
    refused(work(hot).await, "/strength/stated_at", "-20 to 40 C");
    let past = json!({ "strength": { "by_volume": "140 %" } });
    refused(work(past).await, "/strength/by_volume", "between 0 and 100");
    let bare = json!({ "strength": { "by_volume": "0.4" } });
    refused(work(bare).await, "/strength/by_volume", "like 40 %");
    let twice = json!({ "strength": { "by_volume": "40 %", "by_mass": "33 %" } });
    refused(work(twice).await, "/strength/by_volume", "by_mass");
    let heavy = json!({ "density": { "density": "1.2 g/mL at 20 C" } });
    refused(work(heavy).await, "/density/density", "998.20");
    let none = json!({ "mixture": { "streams": [] } });
    refused(work(none).await, "/mixture/streams", "from 1 to 50");
    let inert = json!({ "mixture": { "streams": [{ "amount": "50 mL" }] } });
    refused(work(inert).await, "/mixture/streams/0/strength", "0 % for water");
    let odd = json!({ "mixture": { "streams": [{ "amount": "NaN mL", "strength": "1e400 %" }] } });
    work(odd).await.fields(&["/mixture/streams/0/amount", "/mixture/streams/0/strength"]);
    work(json!({ "dilution": {}, "strength": {} })).await.problem(422, "invalid-request");
    work(json!({ "brewing": {} })).await.problem(422, "invalid-request");
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn strengths_are_stated_alligated_and_diluted_as_the_textbooks_do() {
    let clinic = TestClinic::start().await;
    let noor = clinic.person("noor.haddad", "student").await;
    let work = async |question: Value| ask(&noor, "strength", question).await;

    // pharmacytutor.com: 1:200 is 0.5 %.
    let said = work(json!({ "statement": { "strength": "1:200" } })).await.expect(200);
    assert_eq!(figure(&said, "per cent")["value"], "0.5");
    assert_eq!(figure(&said, "parts in a million")["value"], "5000");
    let said = work(json!({ "statement": { "strength": "5 mg/mL" } })).await.expect(200);
    assert_eq!(figure(&said, "mg in a mL")["value"], "5");
    // jiskha.com/questions/303970: 95 % and 30 % make 70 % in 40 : 25.
    let parts = json!({ "alligation_alternate": { "one": "95 %", "other": "30 %", "wanted": "70 %", "amount": "65 mL" } });
    let parts = work(parts).await.expect(200);
    near(&parts, "of the stronger", 40.0, 1e-9);
    near(&parts, "of the weaker", 25.0, 1e-9);
    // A textbook problem (gauthmath.com/solution/1986376656796420): 3000 mL of 40 %, 1000 of 60 % and of 70 % are 50 %.
    let portions = json!({ "alligation_medial": { "portions": [
        { "amount": "3000 mL", "strength": "40 %" }, { "amount": "1 L", "strength": "60 %" },
        { "amount": "1000 mL", "strength": "70 %" } ] } });
    assert_eq!(figure(&work(portions).await.expect(200), "mean strength")["value"], "0.5");
    // US Army MD0802, page 98: 20 g of boric acid make 400 mL of 5 % solution.
    let stock =
        json!({ "stock_dilution": { "wanted": "400 mL", "strength": "5 % w/v", "stock": "100 % w/v" } });
    assert_eq!(figure(&work(stock).await.expect(200), "stock")["value"], "20");
    // scribd 389100308: 50 mL of 1:20 diluted to 1000 mL are 0.25 %.
    let diluted = json!({ "made_up": { "stock": "1:20", "stock_amount": "50 mL", "whole": "1000 mL" } });
    assert_eq!(figure(&work(diluted).await.expect(200), "strength")["value"], "0.0025");
    // US Army MD0802, page 100: 120 g of a 20 % paste hold 24 g of zinc oxide, so that 96 g of base take 24 g.
    let paste = json!({ "powder": { "base": "96 g", "wanted": "20 %" } });
    assert_eq!(figure(&work(paste).await.expect(200), "powder")["value"], "24");
    // pharmacalculation.com after USP <1160>: glycerin, 125 g in 99 mL, water 0.997: 1.266, rounded there.
    let glycerin = json!({ "specific_gravity": { "mass": "125 g", "volume": "99 mL" } });
    near(&work(glycerin).await.expect(200), "specific gravity", 1.266, 0.0005);
    // pharmacalculation.com/2022/11: 5 g in 1000 mL are 0.25 g in 50 mL.
    let reduced = json!({ "proportion": { "amount": "5 g", "whole": "1000 mL", "part": "50 mL" } });
    let reduced = work(reduced).await.expect(200);
    assert_eq!(
        (&figure(&reduced, "amount")["value"], &figure(&reduced, "amount")["unit"]),
        (&json!("0.25"), &json!("g"))
    );

    let above =
        json!({ "stock_dilution": { "wanted": "400 mL", "strength": "25 % w/v", "stock": "20 % w/v" } });
    refused(work(above).await, "/stock_dilution/strength", "at most that strength");
    let outside = json!({ "alligation_alternate": { "one": "95 %", "other": "30 %", "wanted": "20 %" } });
    refused(work(outside).await, "/alligation_alternate/wanted", "any strength between them");
    let equal = json!({ "alligation_alternate": { "one": "30 %", "other": "30 %", "wanted": "30 %" } });
    refused(work(equal).await, "/alligation_alternate/other", "make nothing else");
    let mixed = json!({ "alligation_medial": { "portions": [
        { "amount": "30 mL", "strength": "40 %" }, { "amount": "10 g", "strength": "60 %" } ] } });
    refused(work(mixed).await, "/alligation_medial/portions/1/amount", "all portions by mass");
    let apart = json!({ "proportion": { "amount": "5 g", "whole": "1000 mL", "part": "50 g" } });
    refused(work(apart).await, "/proportion/part", "mL");
    let full = json!({ "powder": { "base": "96 g", "present": "30 %", "wanted": "20 %" } });
    refused(work(full).await, "/powder/wanted", "powder can only add");
    refused(work(json!({ "statement": { "strength": "0 %" } })).await, "/statement/strength", "above zero");
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn extractions_name_their_convention_and_never_give_more_herb_than_went_in() {
    let clinic = TestClinic::start().await;
    let noor = clinic.person("noor.haddad", "student").await;
    let work = async |question: Value| ask(&noor, "extraction", question).await;

    // Expanded Commission E convention: 10 mL of a tincture 1:5 = 2 mL of a fluidextract 1:1 = 2 g of dried herb.
    for (extract, ratio) in [("10 mL", "1:5"), ("2 mL", "1:1")] {
        let asked = json!({ "extract": extract, "ratio": ratio, "convention": "drug to product, w/v" });
        let answer = work(json!({ "dried_equivalent": asked })).await.expect(200);
        assert_eq!(figure(&answer, "dried herb")["value"], "2");
    }
    let back = json!({ "herb": "2 g", "ratio": "1:5", "convention": "drug to product, w/v" });
    let back = work(json!({ "extract_for_dried": back })).await.expect(200);
    assert_eq!(
        (&figure(&back, "extract")["value"], &figure(&back, "extract")["unit"]),
        (&json!("10"), &json!("mL"))
    );
    // fphar.2022.981978: with a ratio of drug to native extract of 4:1, 500 mg of it stand for 2 g.
    let native = json!({ "extract": "500 mg", "ratio": "4:1", "convention": "drug to native extract" });
    assert_eq!(
        figure(&work(json!({ "dried_equivalent": native })).await.expect(200), "dried herb")["value"],
        "2"
    );
    // koop-phyto.org: a tincture made 1:5 comes to 1:4 to 1:4.5 when it is pressed.
    let pressed = json!({ "pressed": { "herb": "100 g", "menstruum": "500 g", "pressed": "425 g" } });
    let pressed = work(pressed).await.expect(200);
    near(&pressed, "parts of native extract to one of drug", 4.25, 0.25);
    assert!(number(&pressed, "dried herb carried") < 100.0);
    // Marc that holds back 0.75 of its mass leaves what that page gives, in the first turn of two.
    let twice = json!({ "maceration": { "herb": "100 g", "retained": "0.75", "turns": ["500 g", "300 g"] } });
    let twice = work(twice).await.expect(200);
    assert_eq!(figure(&twice, "pressed in turn 1")["value"], "425");
    assert_eq!(figure(&twice, "pressed altogether")["value"], "725");
    assert!(number(&twice, "share of the herb that comes with it") < 1.0);
    // The fresh herb's water and the stronger menstruum come to what is wanted: put together they are 40 %.
    let fresh = json!({ "herb": "100 g", "water": "80 %", "menstruum": "200 g", "wanted": "40 %" });
    let fresh = work(json!({ "fresh_menstruum": fresh })).await.expect(200);
    assert_eq!(figure(&fresh, "water that the herb brings")["value"], "80");
    let strength = number(&fresh, "strength of the menstruum") * 100.0;
    let streams = json!({ "mixture": { "streams": [
        { "amount": "200 g", "strength": format!("{strength:.9} %") }, { "amount": "80 g", "strength": "0 %" } ] } });
    near(&ask(&noor, "alcohol", streams).await.expect(200), "by volume", 0.40, 1e-6);
    // Solids are the same: 100 g fresh with 80 % of water are 22.22 g dried to 10 %.
    let dried = json!({ "fresh_and_dried": { "fresh": "100 g", "water": "80 %", "dried_water": "10 %" } });
    near(&work(dried).await.expect(200), "dried herb", 20.0 / 0.9, 1e-9);
    // Old USP, where no strength is given: 50 g to 1000 mL, 5 %.
    let decoction = json!({ "herb": "50 g", "water": "1200 mL", "evaporated": "300 mL", "retained": "2", "target": "1000 mL" });
    let decoction = work(json!({ "decoction": decoction })).await.expect(200);
    near(&decoction, "strength", 0.05, 1e-12);
    assert_eq!(figure(&decoction, "dried herb at most")["value"], "50");

    let unnamed = json!({ "dried_equivalent": { "extract": "10 mL", "ratio": "1:5" } });
    refused(work(unnamed).await, "/dried_equivalent/convention", "drug to product, w/v");
    let odd = json!({ "extract": "10 mL", "ratio": "1:5", "convention": "the usual one" });
    refused(
        work(json!({ "dried_equivalent": odd })).await,
        "/dried_equivalent/convention",
        "drug to solvent, w/w",
    );
    let weighed = json!({ "extract": "10 g", "ratio": "1:5", "convention": "drug to product, w/v" });
    refused(work(json!({ "dried_equivalent": weighed })).await, "/dried_equivalent/extract", "as a volume");
    let dry = json!({ "maceration": { "herb": "100 g", "retained": "2", "turns": ["150 g"] } });
    refused(work(dry).await, "/maceration/turns", "200 g");
    let odd =
        json!({ "maceration": { "herb": "100 g", "retained": "2", "turns": ["500 g", "-3 g", "1e400 g"] } });
    work(odd).await.fields(&["/maceration/turns/1", "/maceration/turns/2"]);
    let weak = json!({ "herb": "500 g", "water": "80 %", "menstruum": "100 g", "wanted": "60 %" });
    refused(work(json!({ "fresh_menstruum": weak })).await, "/fresh_menstruum/wanted", "at least");
    let dry = json!({ "herb": "50 g", "water": "100 mL", "retained": "2", "target": "1000 mL" });
    refused(work(json!({ "decoction": dry })).await, "/decoction/water", "more than the 100 mL");
    let more = json!({ "pressed": { "herb": "100 g", "menstruum": "500 g", "pressed": "601 g" } });
    refused(work(more).await, "/pressed/pressed", "weigh again");
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
    refused(work(large).await, "/aliquot/wanted", "can be weighed as it is");
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
    refused(work(json!({ "draws": [] })).await, "/draws", "from 1 to 200");
    let odd = json!({ "currency": "euro", "draws": [{ "name": "oil", "quantity": "1 g" }] });
    refused(work(odd).await, "/currency", "ISO 4217");
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn emulsions_are_worked_out_as_the_tables_print_them() {
    let clinic = TestClinic::start().await;
    let noor = clinic.person("noor.haddad", "student").await;
    let work = async |question: Value| ask(&noor, "emulsion", question).await;

    // OCL 2022, Table 4: three oil phases and the required HLB printed beside them.
    for (stearic, printed) in [("12.5 g", 10.33), ("10.5 g", 10.04), ("8.5 g", 9.71)] {
        let oils = json!([
            { "material": "white beeswax", "amount": "1.5 g" },
            { "material": "isopropyl myristate", "amount": "7.5 g", "hlb": "11.5" },
            { "material": "glyceryl monostearate", "amount": "7.5 g", "hlb": "3.8" },
            { "material": "stearic acid", "amount": stearic },
            { "material": "test oil", "amount": "5 g", "hlb": "6.2" } ]);
        let answer =
            work(json!({ "required_hlb": { "emulsion": "oil-in-water", "oils": oils } })).await.expect(200);
        near(&answer, "required HLB", printed, 0.005);
    }
    // PMC3969497, Table I: polysorbate 80 (15) and sorbitan oleate (4.3), by name; 53.3 % of the higher for 10.
    let pair =
        json!({ "one": "polysorbate 80", "other": "sorbitan oleate", "target": "10", "amount": "50 g" });
    let pair = work(json!({ "blend": pair })).await.expect(200);
    near(&pair, "share of the higher", 0.533, 0.0005);
    near(&pair, "of the higher", 26.65, 0.05);
    // The blend has the HLB that was wanted of it.
    let (high, low) = (number(&pair, "of the higher"), number(&pair, "of the lower"));
    let both = json!({ "emulsifier_hlb": { "emulsifiers": [
        { "material": "polysorbate 80", "amount": format!("{high} g") },
        { "material": "sorbitan oleate", "amount": format!("{low} g") } ] } });
    near(&work(both).await.expect(200), "HLB of the emulsifiers", 10.0, 1e-6);
    // Griffin, HLB = 20 (1 - S/A): half the acid is an HLB of ten. HLB = (E + P)/5: 50 and 25 in the hundred make 15.
    let half = json!({ "griffin_by_saponification": { "saponification": "100", "acid": "200" } });
    assert_eq!(figure(&work(half).await.expect(200), "HLB")["value"], "10");
    let shares = json!({ "griffin_by_composition": { "oxyethylene": "50 %", "alcohol": "25 %" } });
    assert_eq!(figure(&work(shares).await.expect(200), "HLB")["value"], "15");
    let masses = json!({ "griffin_by_mass": { "hydrophilic": "60", "whole": "100" } });
    assert_eq!(figure(&work(masses).await.expect(200), "HLB")["value"], "12");
    // White wax of acid value 17 to 24 (Ph. Eur.), 120 g, against 5 g of borax (381.37 g/mol, two acids each), as in the
    // Rose Water Ointment of USP 30-NF 25, page 3147: 26.2 of 36.4 to 51.3 mmol.
    let soap =
        work(json!({ "soap": { "wax": "120 g", "acid_value": "17", "alkali": "borax", "mass": "5 g" } }))
            .await
            .expect(200);
    near(&soap, "share of the acid neutralised", 0.72, 0.005);
    let soap =
        work(json!({ "soap": { "wax": "120 g", "acid_value": "24", "alkali": "borax", "mass": "5 g" } }))
            .await
            .expect(200);
    near(&soap, "share of the acid neutralised", 0.51, 0.005);

    // An oil without a published value makes the answer unknown, with the share that is known.
    let part = json!({ "emulsion": "water-in-oil", "oils": [
        { "material": "olive oil", "amount": "30 g" }, { "material": "any oil", "amount": "10 g", "hlb": "6" } ] });
    let part = work(json!({ "required_hlb": part })).await.expect(200);
    assert_eq!(figure(&part, "required HLB")["unknown"], "unknown: required HLB of olive oil");
    assert_eq!(figure(&part, "share of which it is known")["value"], "0.25");
    // HLB does not apply to what is dosed by its use rate.
    let wax =
        json!({ "emulsifier_hlb": { "emulsifiers": [{ "material": "emulsifying wax", "amount": "8 g" }] } });
    assert_eq!(figure(&work(wax).await.expect(200), "HLB of the emulsifiers")["value"], "HLB does not apply");

    let ointment = json!({ "lines": [
        { "material": "white beeswax", "amount": "120 g" }, { "material": "sweet almond oil", "amount": "560 g" },
        { "material": "borax", "amount": "5 g" }, { "material": "purified water", "amount": "q.s. 1000 g" } ],
        "oil_phase": "70 C", "water_phase": "60 C" });
    let ointment = work(json!({ "advice": ointment })).await.expect(200);
    assert_eq!(figure(&ointment, "likely type")["value"], "water-in-oil", "{}", ointment.text);
    assert_eq!(figure(&ointment, "phase temperatures apart")["value"], "10");
    assert!(number(&ointment, "share of the acid neutralised") > 0.4);
    let plain = json!({ "lines": [
        { "material": "olive oil", "amount": "300 g" }, { "material": "purified water", "amount": "q.s. 1000 g" } ] });
    let plain = work(json!({ "advice": plain })).await.expect(200);
    assert!(figure(&plain, "no emulsifier")["sentence"].as_str().unwrap().contains("part"), "{}", plain.text);

    // PMC3969497, Table I marks a target of 8 as out of the reach of 16.7 and 8.6.
    let outside = json!({ "blend": { "one": "16.7", "other": "8.6", "target": "8" } });
    refused(work(outside).await, "/blend/target", "from 8.6 to 16.7");
    let equal = json!({ "blend": { "one": "8.6", "other": "8.6", "target": "8.6" } });
    refused(work(equal).await, "/blend/other", "no blend of them");
    let lecithin = json!({ "blend": { "one": "lecithin", "other": "NaN", "target": "-3" } });
    work(lecithin).await.fields(&["/blend/one", "/blend/other", "/blend/target"]);
    let high = json!({ "emulsion": "oil-in-water", "oils": [{ "material": "an oil", "amount": "1 g", "hlb": "57" }] });
    refused(work(json!({ "required_hlb": high })).await, "/required_hlb/oils", "from 0 to 20");
    let odd = json!({ "emulsion": "oil-on-water", "oils": [{ "material": "no such oil", "amount": "0 g" }] });
    let odd = work(json!({ "required_hlb": odd })).await;
    odd.fields(&["/required_hlb/emulsion", "/required_hlb/oils/0/material", "/required_hlb/oils/0/amount"]);
    let ester = json!({ "griffin_by_saponification": { "saponification": "300", "acid": "200" } });
    refused(work(ester).await, "/griffin_by_saponification/saponification", "acid number");
    let bare = json!({ "soap": { "wax": "120 g", "alkali": "borax", "mass": "5 g" } });
    refused(work(bare).await, "/soap/acid_value", "name the material");
    let lye = json!({ "soap": { "wax": "120 g", "acid_value": "900", "alkali": "borax", "mass": "5 g" } });
    refused(work(lye).await, "/soap/acid_value", "0 to 300");
    let half =
        json!({ "advice": { "lines": [{ "material": "olive oil", "amount": "1 g" }], "oil_phase": "70 C" } });
    refused(work(half).await, "/advice/water_phase", "both phases");
    clinic.stop().await;
}

/// The limit on a subject.
#[track_caller]
fn limit<'a>(answer: &'a Answer, subject: &str) -> &'a Value {
    answer.json["limits"]
        .as_array()
        .unwrap()
        .iter()
        .find(|limit| limit["subject"] == subject)
        .unwrap_or_else(|| panic!("no limit on {subject:?} in {}", answer.text))
}

#[tokio::test(flavor = "multi_thread")]
async fn limits_are_compared_exactly_and_what_is_not_known_is_no_pass() {
    let clinic = TestClinic::start().await;
    let noor = clinic.person("noor.haddad", "student").await;
    let work = async |question: Value| ask(&noor, "skin-limits", question).await;
    let in_oil = |material: &str, amount: &str| json!([{ "material": material, "amount": amount }, { "material": "olive oil", "amount": "q.s. 100 g" }]);
    let leave_on = |material: &str, amount: &str| json!({ "regime": "cosmetic", "exposure": "leave-on", "lines": in_oil(material, amount) });

    // Regulation (EC) No 1223/2009, Annex V, entry 29: phenoxyethanol 1.0 %; at the limit is allowed, past it is not.
    let at = work(leave_on("phenoxyethanol", "1 %")).await.expect(200);
    assert_eq!(limit(&at, "2-phenoxyethanol")["outcome"], "within");
    assert_eq!(limit(&at, "2-phenoxyethanol")["force"], "law");
    let past = work(leave_on("phenoxyethanol", "1.0000001 %")).await.expect(200);
    assert_eq!(
        (&past.json["outcome"], &limit(&past, "2-phenoxyethanol")["outcome"]),
        (&json!("exceeded"), &json!("exceeded"))
    );
    let largest =
        limit(&past, "2-phenoxyethanol")["would_pass"][0]["value"].as_str().unwrap().parse::<f64>().unwrap();
    assert!((largest - 0.01).abs() < 1e-9 && largest <= 0.01, "{largest}");
    // Annex V, entry 4: sorbic acid 0.6 % as acid, which is 0.804 % of potassium sorbate (molar masses of the chemicals
    // library 1.5.2: 112.128 and 150.218). The acid itself is counted once.
    for (material, share, outcome) in [
        ("potassium sorbate", "0.803 %", "within"),
        ("potassium sorbate", "0.805 %", "exceeded"),
        ("sorbic acid", "0.6 %", "within"),
        ("sorbic acid", "0.61 %", "exceeded"),
    ] {
        let answer = work(leave_on(material, share)).await.expect(200);
        assert_eq!(limit(&answer, "sorbic acid")["outcome"], outcome, "{material} {share}");
        assert_eq!(limit(&answer, "sorbic acid")["bound"], "at most 0.6 % as acid");
    }
    // Annex V, entry 12: a single paraben 0.4 % as acid: 0.44 % of the methyl ester (138.12 of 152.15 g/mol).
    for (share, outcome) in [("0.44 %", "within"), ("0.45 %", "exceeded")] {
        let answer = work(leave_on("methylparaben", share)).await.expect(200);
        assert_eq!(limit(&answer, "methylparaben")["outcome"], outcome, "{share}");
    }
    // Annex II, entry 1396: borates are prohibited in cosmetics, and are not in what is for teaching only.
    let borax = work(leave_on("borax", "0.5 %")).await.expect(200);
    assert_eq!(borax.json["outcome"], "prohibited");
    assert!(borax.json["limits"][0]["source"]["text"].as_str().unwrap().contains("1396"), "{}", borax.text);
    let taught =
        json!({ "regime": "teaching_only", "exposure": "leave-on", "lines": in_oil("borax", "0.5 %") });
    assert_eq!(work(taught).await.expect(200).json["outcome"], "within");
    // Annex III, entry 324: methyl salicylate not under six years.
    let mut young = leave_on("wintergreen oil", "0.05 %");
    assert!(work(young.clone()).await.expect(200).json["outcome"] != "prohibited");
    young["youngest"] = json!("71 months");
    assert_eq!(work(young.clone()).await.expect(200).json["outcome"], "prohibited");
    young["youngest"] = json!("6 years");
    assert!(work(young).await.expect(200).json["outcome"] != "prohibited");
    // SCCS/1681/25: tea tree oil 0.1 % in a face cream.
    let mut face = leave_on("tea tree oil", "0.2 %");
    assert_eq!(work(face.clone()).await.expect(200).json["outcome"], "within");
    face["site"] = json!("face");
    assert_eq!(work(face).await.expect(200).json["outcome"], "exceeded");
    // Directive 2008/42/EC: an allergen is declared strictly above 0.001 % in leave-on and 0.01 % in rinse-off.
    let declared = async |exposure: &str, amount: &str| {
        let asked =
            json!({ "regime": "cosmetic", "exposure": exposure, "lines": in_oil("lavender oil", amount) });
        let answer = work(asked).await.expect(200);
        let allergens = answer.json["allergens"].as_array().unwrap().clone();
        let found =
            allergens.iter().find(|one| one["label_name"] == "Lavandula Oil/Extract").cloned().unwrap();
        found["declare"].as_bool().unwrap()
    };
    assert!(!declared("leave-on", "0.001 %").await);
    assert!(declared("leave-on", "0.0010001 %").await);
    assert!(!declared("rinse-off", "0.01 %").await);
    // Limits that share an effect are added up: 0.3 of 0.4 % and 1.0 of 2.0 % are 1.25 (remembered, and it says so).
    let citrus = json!({ "regime": "cosmetic", "exposure": "leave-on", "lines": [
        { "material": "bergamot oil", "amount": "0.3 %" }, { "material": "lemon oil", "amount": "1.0 %" },
        { "material": "olive oil", "amount": "q.s. 100 g" } ] });
    let citrus = work(citrus).await.expect(200);
    near(&citrus, "phototoxic limits together", 1.25, 1e-9);
    assert_eq!(citrus.json["outcome"], "exceeded");
    assert_eq!(limit(&citrus, "bergamot oil, expressed")["source"]["status"], "from memory");

    // HMPC statement of 7 July 2021: 1.0 ug of pyrrolizidine alkaloids a day. Untested is unknown and no pass.
    let comfrey = json!({ "regime": "herbal_medicine", "exposure": "leave-on", "used_daily": "5 g",
        "lines": in_oil("dried comfrey root", "10 %") });
    let alkaloids = "unsaturated pyrrolizidine alkaloids with their N-oxides";
    let untested = work(comfrey.clone()).await.expect(200);
    assert_eq!(limit(&untested, alkaloids)["outcome"], "unknown");
    assert_eq!(untested.json["outcome"], "unknown");
    // By hand: 5 g a day x 10 % x 2 ug/g are 1.0 ug, at the limit; with 2.2 ug/g they are 1.1 ug.
    for (assayed, outcome) in [("2", "within"), ("2.2", "exceeded")] {
        let mut asked = comfrey.clone();
        asked["assays"] = json!([{ "material": "dried comfrey root", "substance": "pyrrolizidine-alkaloids", "micrograms_per_gram": assayed }]);
        let answer = work(asked).await.expect(200);
        assert_eq!(limit(&answer, alkaloids)["outcome"], outcome, "{}", answer.text);
    }

    let mut odd = leave_on("moonwort dew", "140 %");
    odd["exposure"] = json!("sideways");
    odd["youngest"] = json!("old");
    odd["site"] = json!("everywhere");
    let fields = ["/lines/0/material", "/lines/0/amount", "/exposure", "/site", "/youngest"];
    work(odd).await.fields(&fields);
    refused(work(leave_on("lavender oil", "1e400 %")).await, "/lines/0/amount", "plain digits");
    let full = json!({ "regime": "cosmetic", "exposure": "leave-on", "lines": [
        { "material": "lavender oil", "amount": "60 %" }, { "material": "lemon oil", "amount": "60 %" } ] });
    refused(work(full).await, "/lines/1/amount", "past 100 %");
    refused(
        work(json!({ "regime": "cosmetic", "exposure": "leave-on", "lines": [] })).await,
        "/lines",
        "from 1 to 200",
    );
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_strictest_rule_dates_a_jar_and_every_rule_is_heard() {
    let clinic = TestClinic::start().await;
    let noor = clinic.person("noor.haddad", "student").await;
    let work = async |question: Value| ask(&noor, "use-by", question).await;
    let jar = |changes: Value| {
        let mut question = json!({ "made_on": "2026-01-01", "regime": "herbal_medicine", "preparation": "cream",
            "route": "skin", "storage": "refrigerator" });
        for (name, value) in changes.as_object().unwrap() {
            question[name] = value.clone();
        }
        question
    };

    // USP <795> in force since 1 November 2023: aqueous, non-preserved, 14 days; a university's procedure counts the day
    // of making as day 1, so that they end on 14 January.
    let bare = work(jar(json!({}))).await.expect(200);
    assert_eq!((&bare.json["date"], &bare.json["refrigerate"]), (&json!("2026-01-14"), &json!(false)));
    assert_eq!(bare.json["limited_by"], "published compounding rules of 2023");
    let said = bare.json["rules"].as_array().unwrap();
    let by = |name: &str| {
        said.iter().find(|rule| rule["by"] == name).unwrap_or_else(|| panic!("{name} in {}", bare.text))
    };
    assert_eq!(by("published compounding rules of 2014")["outcome"], "not in force");
    assert_eq!(by("remembered keeping time of tinctures")["outcome"], "out of scope");
    // Common practice: about three months refrigerated.
    assert_eq!(by("common practice for creams and lotions")["date"], "2026-04-01");
    assert_eq!(by("common practice for creams and lotions")["source"]["status"], "common practice");
    // The same, preserved: 35 days, the last of which is 4 February. Potassium sorbate at pH 4.5, of which by
    // Henderson and Hasselbalch 1 / (1 + 10^(4.5 - 4.76)) = 64.5 % is undissociated.
    let sorbate = json!({ "ph": "4.5", "preservative": { "material": "potassium sorbate", "share": "0.5 %", "enough": "0.2 %" } });
    let preserved = work(jar(json!({ "watery_phase": sorbate }))).await.expect(200);
    assert_eq!(preserved.json["date"], "2026-02-04", "{}", preserved.text);
    assert_eq!(figure(&preserved, "preserved")["value"], "preserved");
    // The same at pH 7 preserves nothing.
    let sorbate = json!({ "ph": "7", "preservative": { "material": "potassium sorbate", "share": "0.5 %", "enough": "0.2 %" } });
    assert_eq!(work(jar(json!({ "watery_phase": sorbate }))).await.expect(200).json["date"], "2026-01-14");
    // The rules of 2014, while they were in force: water-containing topical, 30 days; the ceiling of 14 days of what is
    // unpreserved and watery stays, and no rule set lifts it.
    let earlier = work(jar(json!({ "made_on": "2015-01-01" }))).await.expect(200);
    assert_eq!(
        (&earlier.json["date"], &earlier.json["limited_by"]),
        (&json!("2015-01-15"), &json!("unpreserved and watery"))
    );
    // Non-aqueous, others: 180 days, not six months; below a water activity of 0.60.
    let ointment = jar(
        json!({ "preparation": "ointment", "water_activity": "0.59", "storage": "room temperature", "made_on": "2025-08-31" }),
    );
    assert_eq!(work(ointment).await.expect(200).json["date"], "2026-02-26", "day 1 is the day of making");
    // A warm unpreserved cream must go into the cold for its date to hold.
    let warm = work(jar(json!({ "storage": "room temperature" }))).await.expect(200);
    assert_eq!(warm.json["refrigerate"], true);
    // What it is made of binds it: a month ends with its last day.
    let parts = json!({ "parts": [{ "name": "olive oil", "expiry": "2026-02" }], "watery_phase": { "alcohol": "30 %" } });
    assert_eq!(work(jar(parts)).await.expect(200).json["date"], "2026-02-04");
    let parts = json!({ "parts": [{ "name": "olive oil", "expiry": "2026-01" }], "watery_phase": { "alcohol": "30 %" } });
    let bound = work(jar(parts)).await.expect(200);
    assert_eq!((&bound.json["date"], &bound.json["limited_by"]), (&json!("2026-01-31"), &json!("olive oil")));
    // A rule set is left out only with a reason, which the answer repeats.
    let off = json!({ "switched_off": [{ "rule_set": "compounding-2023", "reason": "not in force here" }] });
    let off = work(jar(off)).await.expect(200);
    assert_eq!(
        (&off.json["date"], &off.json["limited_by"]),
        (&json!("2026-01-15"), &json!("unpreserved and watery"))
    );
    assert!(off.text.contains("not in force here"));
    // Stability evidence lifts the ceiling, and an opened jar lowers the date.
    let filed =
        json!({ "regime": "cosmetic", "stability": { "period": "60 days", "source": "stability file 12" } });
    assert_eq!(work(jar(filed)).await.expect(200).json["date"], "2026-03-02");
    let opened = json!({ "opened": { "on": "2026-01-03", "good_for": "7 days" } });
    assert_eq!(work(jar(opened)).await.expect(200).json["date"], "2026-01-10");

    let bare = json!({ "switched_off": [{ "rule_set": "compounding-2023", "reason": " " }] });
    refused(work(jar(bare)).await, "/switched_off/0/reason", "say why");
    let early = json!({ "opened": { "on": "2025-12-24", "good_for": "7 days" } });
    refused(work(jar(early)).await, "/opened/on", "before it was made");
    refused(work(jar(json!({ "water_activity": "1.2" }))).await, "/water_activity", "from 0 to 1");
    let sour = json!({ "watery_phase": { "ph": "15", "preservative": { "material": "potassium sorbate", "share": "0.5 %", "enough": "0.2 %" } } });
    refused(work(jar(sour)).await, "/watery_phase/ph", "0 to 14");
    let odd = json!({ "preparation": "gravy", "route": "nose", "storage": "attic", "parts": [{ "name": "x", "expiry": "2026-13" }] });
    work(jar(odd)).await.fields(&["/preparation", "/route", "/storage", "/parts/0/expiry"]);
    let oil = json!({ "watery_phase": { "ph": "5", "preservative": { "material": "olive oil", "share": "0.5 %", "enough": "0.2 %" } } });
    refused(work(jar(oil)).await, "/watery_phase/preservative/material", "potassium sorbate");
    refused(work(jar(json!({ "made_on": "soon" }))).await, "/made_on", "");
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
    refused(work(often).await, "/times_a_day", "from 1 to 48");
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn anybody_who_is_known_may_calculate_and_nobody_else() {
    let clinic = TestClinic::start().await;
    let ilse = clinic.person("ilse.brandt", "instructor").await;
    let printer = clinic.api_client(&ilse, &["acknowledge"], &[]).await;
    let question = json!({ "quantity": "1 kg", "to": "g" });
    for caller in [&ilse, &clinic.administrator, &printer] {
        let answer = ask(caller, "quantity", question.clone()).await.expect(200);
        assert_eq!(figure(&answer, "quantity")["value"], "1000");
    }
    ask(&clinic.nobody, "quantity", question.clone()).await.problem(401, "not-known");
    let odd = ask(&ilse, "quantity", json!({ "quantity": "1 kg", "to": "g", "owner_id": 1 })).await;
    odd.fields(&["/owner_id"]);
    ilse.get("/v1/calculations/quantity").await.problem(405, "method-not-allowed");
    clinic.stop().await;
}
