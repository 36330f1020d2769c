//! Ethanol and water, strengths, extractions.

use serde_json::{Value, json};
use stillroom_tests::TestClinic;

use super::{ask, figure, near, number, refused};

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
    // Each figure is told by what was read: there was no density to tell of.
    let told = figure(&cold, "by mass")["sentence"].as_str().unwrap();
    assert!(told.contains("read at") && !told.contains("density"), "{told}");
    let warm = work(json!({ "hydrometer": { "reading": "45 %", "temperature": "28 C" } })).await.expect(200);
    assert!(number(&warm, "by volume at 20 C") < 0.45, "a warm spirit seems stronger than it is");
    // Ethanol is conserved: what was diluted and put together again has the strength wanted.
    let (stock, water) = (number(&made, "stock by mass"), number(&made, "water or weaker spirit by mass"));
    let streams = json!({ "mixture": { "streams": [
        { "amount": format!("{stock} g"), "strength": "96.2 %" }, { "amount": format!("{water} g"), "strength": "0 %" } ] } });
    near(&work(streams).await.expect(200), "by volume", 0.40, 1e-6);

    let stronger = json!({ "dilution": { "wanted": "500 mL", "strength": "70 %", "stock": "40 %" } });
    refused(work(stronger).await, "/dilution/strength", "make only strengths between them");
    let hot = json!({ "strength": { "by_volume": "40 %", "stated_at": "60 C" } });
    refused(work(hot).await, "/strength/stated_at", "-20 to 40 °C");
    let past = json!({ "strength": { "by_volume": "140 %" } });
    refused(work(past).await, "/strength/by_volume", "0 to 100 %");
    let bare = json!({ "strength": { "by_volume": "0.4" } });
    refused(work(bare).await, "/strength/by_volume", "such as 40 %");
    let twice = json!({ "strength": { "by_volume": "40 %", "by_mass": "33 %" } });
    refused(work(twice).await, "/strength/by_volume", "by_mass");
    let heavy = json!({ "density": { "density": "1.2 g/mL at 20 C" } });
    refused(work(heavy).await, "/density/density", "998.20");
    let none = json!({ "mixture": { "streams": [] } });
    refused(work(none).await, "/mixture/streams", "1 to 50 items");
    let inert = json!({ "mixture": { "streams": [{ "amount": "50 mL" }] } });
    refused(work(inert).await, "/mixture/streams/0/strength", "0 % for water");
    let odd = json!({ "mixture": { "streams": [{ "amount": "NaN mL", "strength": "1e400 %" }] } });
    work(odd).await.fields(&["/mixture/streams/0/amount", "/mixture/streams/0/strength"]);
    work(json!({ "brewing": {} })).await.fields(&["/brewing"]);
    work(json!({ "strength": { "by_volume": "40 %" }, "owner_id": 1 })).await.fields(&["/owner_id"]);
    let two = json!({ "strength": { "by_volume": "40 %" }, "mixture": { "streams": [] } });
    refused(work(two).await, "", "exactly one question of: dilution strength mixture hydrometer density");
    refused(work(json!({})).await, "", "exactly one question");
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
    assert_eq!(figure(&work(portions).await.expect(200), "mean strength")["value"], "50");
    // US Army MD0802, page 98: 20 g of boric acid make 400 mL of 5 % solution.
    let stock =
        json!({ "stock_dilution": { "wanted": "400 mL", "strength": "5 % w/v", "stock": "100 % w/v" } });
    assert_eq!(figure(&work(stock).await.expect(200), "stock")["value"], "20");
    // scribd 389100308: 50 mL of 1:20 diluted to 1000 mL are 0.25 %.
    let diluted = json!({ "made_up": { "stock": "1:20", "stock_amount": "50 mL", "whole": "1000 mL" } });
    assert_eq!(figure(&work(diluted).await.expect(200), "strength")["value"], "0.25");
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
    refused(work(outside).await, "/alligation_alternate/wanted", "make only strengths between them");
    let equal = json!({ "alligation_alternate": { "one": "30 %", "other": "30 %", "wanted": "30 %" } });
    refused(work(equal).await, "/alligation_alternate/other", "the same strength");
    let mixed = json!({ "alligation_medial": { "portions": [
        { "amount": "30 mL", "strength": "40 %" }, { "amount": "10 g", "strength": "60 %" } ] } });
    refused(work(mixed).await, "/alligation_medial/portions/1/amount", "all portions by mass");
    let apart = json!({ "proportion": { "amount": "5 g", "whole": "1000 mL", "part": "50 g" } });
    refused(work(apart).await, "/proportion/part", "mL");
    let full = json!({ "powder": { "base": "96 g", "present": "30 %", "wanted": "20 %" } });
    refused(work(full).await, "/powder/wanted", "Powder can only raise it");
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
    refused(work(json!({ "decoction": dry })).await, "/decoction/water", "exceeds the 100 mL");
    let more = json!({ "pressed": { "herb": "100 g", "menstruum": "500 g", "pressed": "601 g" } });
    refused(work(more).await, "/pressed/pressed", "Weigh again");
    clinic.stop().await;
}
