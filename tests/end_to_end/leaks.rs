//! Readers who try to find the amounts of a nested formula that is closed to them, by every answer that depends on those
//! amounts and on something that the reader chooses. DEVELOPERS.md lists the places.
//!
//! Each ladder is climbed by a reader to whom the nested formula is closed, who must learn nothing, and where somebody
//! may know, by a reader whose grants cover every level, who must find the amount: so the ladder is one that works.

mod bench;
mod drafts;
mod ladder;
mod readings;

use serde_json::{Value, json};
use stillroom_tests::{Caller, TestClinic};

/// Grams of sunflower oil in 100 g of the hidden oils.
const SUNFLOWER: f64 = 37.31;

/// Two libraries. What the students' formulas nest lies in the instructors' own.
struct House {
    clinic: TestClinic,
    /// An instructor of both libraries, who holds every grant.
    ilse: Caller,
    marek: Caller,
    /// A student of the outer library, who holds grants for its formulas and for nothing nested.
    noor: Caller,
    /// A member of the outer library without any grant.
    otto: Caller,
    outer_library: String,
    hidden_library: String,
    /// The balm of hidden oils.
    balm: String,
    /// The lotion of hidden water.
    lotion: String,
}

fn of(title: &str, preparation: &str, lines: &Value) -> Value {
    json!({
        "title": title, "preparation": preparation, "route": "on intact skin, leave-on", "regime": "cosmetic",
        "phases": [{ "name": "all", "lines": lines }], "method": [{ "do": "Warm and stir" }],
        "label": { "directions": "Apply thinly.", "storage": "Keep cool." },
    })
}

/// A balm that nests the hidden oils by weight.
fn balm(title: &str) -> Value {
    of(
        title,
        "balm",
        &json!([
            { "formula": "Hidden oils", "amount": "80 g" },
            { "material": "yellow beeswax", "amount": "20 g" } ]),
    )
}

impl House {
    async fn start() -> Self {
        let clinic = TestClinic::start().await;
        let ilse = clinic.person("ilse.brandt", "instructor").await;
        let marek = clinic.person("marek.dvorsky", "instructor").await;
        let noor = clinic.person("noor.haddad", "student").await;
        let otto = clinic.person("otto.lang", "student").await;
        let outer_library = clinic.library(&ilse, "First-year creams", &[&marek, &noor, &otto]).await;
        let hidden_library = clinic.library(&ilse, "Stock of the teachers", &[&marek]).await;
        let oils = of(
            "Hidden oils",
            "infused oil",
            &json!([
                { "material": "sunflower oil", "amount": format!("{SUNFLOWER} g") },
                { "material": "lavender oil", "amount": "0.83 g" },
                { "material": "olive oil", "amount": "61.86 g" } ]),
        );
        let water = of(
            "Hidden water",
            "aromatic water",
            &json!([
                { "material": "potassium sorbate", "amount": "0.83 g" },
                { "material": "lavender water", "amount": "99.17 g" } ]),
        );
        let lotion = of(
            "Lotion of hidden water",
            "lotion",
            &json!([
                { "formula": "Hidden water", "amount": "90 g" },
                { "material": "glycerol", "amount": "10 g" } ]),
        );
        for hidden in [oils, water] {
            let hidden = clinic.approved(&ilse, &marek, &hidden_library, hidden).await;
            ilse.acknowledge(&hidden).await.expect(201);
        }
        let outer = async |content: Value| {
            let revision = clinic.approved(&ilse, &marek, &outer_library, content).await;
            for reader in [&ilse, &noor] {
                reader.acknowledge(&revision).await.expect(201);
            }
            revision
        };
        let balm = outer(balm("Balm of hidden oils")).await;
        let lotion = outer(lotion).await;
        Self { clinic, ilse, marek, noor, otto, outer_library, hidden_library, balm, lotion }
    }

    async fn stop(self) {
        self.clinic.stop().await;
    }
}

/// An answer without what its reader typed, and without ids and times.
fn seen(parts: &[&Value]) -> String {
    parts.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n")
}
