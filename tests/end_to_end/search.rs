//! Searching formulas: by title, by what they contain at any level, by kind and by regime, through the reader's own
//! libraries.

use diesel_async::{RunQueryDsl, SimpleAsyncConnection};
use serde_json::{Value, json};
use stillroom_tests::clinic::serve;
use stillroom_tests::{Caller, TeachingClinic, database};

use crate::amendments::{amend, confirm, material, of_lines};
use crate::formulas::{cream, infused_oil};

/// The titles that a search finds, and whether there are more.
async fn found(caller: &Caller, query: &str) -> (Vec<String>, Option<String>) {
    let page = caller.get(&format!("/v1/formulas?{query}")).await.expect(200).json;
    let titles =
        page["items"].as_array().unwrap().iter().map(|one| one["title"].as_str().unwrap().to_owned());
    (titles.collect(), page["next"].as_str().map(str::to_owned))
}

async fn titles(caller: &Caller, query: &str) -> Vec<String> {
    found(caller, query).await.0
}

/// A tea as a food, and a salve for teaching only.
fn others() -> [Value; 2] {
    let plain = |title: &str, preparation: &str, route: &str, regime: &str, material: &str| {
        json!({
            "title": title, "preparation": preparation, "route": route, "regime": regime,
            "phases": [{ "name": "all", "lines": [{ "material": material, "amount": "100 g" }] }],
            "method": [{ "do": "Mix" }],
        })
    };
    [
        plain("Lime flower 50 % tea", "tea blend", "by mouth", "food", "dried small-leaved lime flower"),
        plain("Salve of soft oil", "salve", "on intact skin, leave-on", "teaching_only", "olive oil"),
    ]
}

/// The oil, the cream that nests it, a tea and a salve; approved.
async fn stocked() -> TeachingClinic {
    let room = TeachingClinic::start().await;
    let oil = room.approved(infused_oil()).await;
    room.ilse.acknowledge(&oil).await.expect(201);
    for content in [vec![cream()], others().to_vec()].concat() {
        room.approved(content).await;
    }
    room
}

#[tokio::test(flavor = "multi_thread")]
async fn a_formula_is_found_by_title_material_kind_and_regime_and_by_all_together() {
    let room = stocked().await;
    let noor = &room.noor;
    let (cream, oil, tea, salve) =
        ("Calendula cream", "Infused oil of calendula", "Lime flower 50 % tea", "Salve of soft oil");

    assert_eq!(titles(noor, "title=CALENDULA").await, [cream, oil]);
    // What has a meaning in a pattern means itself.
    assert_eq!(titles(noor, "title=50%20%25").await, [tea]);
    assert_eq!(titles(noor, "title=__").await, Vec::<String>::new());
    // The cream holds olive oil and the flower through the infused oil alone.
    assert_eq!(titles(noor, "material=olive%20oil").await, [cream, oil, salve]);
    assert_eq!(titles(noor, "material=Calendula").await, [cream, oil]);
    assert_eq!(titles(noor, "material=sorbate").await, [cream]);
    let olive = material(&room.ilse, "olive oil").await;
    assert_eq!(titles(noor, &format!("material={olive}")).await, [cream, oil, salve]);
    assert_eq!(titles(noor, "kind=tea%20blend").await, [tea]);
    // A kind has synonyms.
    assert_eq!(titles(noor, "kind=oil%20extract").await, [oil]);
    assert_eq!(titles(noor, "regime=food").await, [tea]);
    assert_eq!(titles(noor, "regime=teaching_only").await, [salve]);
    assert_eq!(titles(noor, "material=olive%20oil&regime=cosmetic&title=oil").await, [oil]);
    assert_eq!(titles(noor, "material=olive%20oil&kind=tea%20blend").await, Vec::<String>::new());
    assert_eq!(titles(noor, &format!("kind=salve&library={}", room.library)).await, [salve]);
    let nowhere = "0192d5c8-6f3a-7c41-9a3e-5b1d2f4c6e80";
    assert_eq!(titles(noor, &format!("material={nowhere}")).await, Vec::<String>::new());
    assert_eq!(titles(noor, &format!("kind=salve&library={nowhere}")).await, Vec::<String>::new());

    // Page by page, in the order of the list.
    let (first, next) = found(noor, "material=olive%20oil&limit=2").await;
    assert_eq!(first, [cream, oil]);
    let (second, next) = found(noor, &format!("material=olive%20oil&limit=2&after={}", next.unwrap())).await;
    assert_eq!((second, next), (vec![salve.to_owned()], None));

    noor.get("/v1/formulas?title=a").await.fields(&["?title"]);
    noor.get("/v1/formulas?material=a").await.fields(&["?material"]);
    noor.get("/v1/formulas?regime=magic").await.fields(&["?regime"]);
    let unknown = noor.get("/v1/formulas?kind=pie").await.fields(&["?kind"]);
    assert!(
        unknown.text_at("/errors/0/detail").contains("Accepted values: cream; ointment"),
        "{}",
        unknown.text
    );
    room.clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_search_finds_in_the_readers_own_libraries_and_what_they_may_see_there() {
    let room = stocked().await;
    let tomas = room.clinic.person("tomas.lind", "student").await;
    assert_eq!(titles(&tomas, "material=olive").await, Vec::<String>::new(), "a member of no library");

    // A proposed formula is for the instructors of the library, also where an approved one is looked for.
    let mut waiting = cream();
    waiting["title"] = json!("Waiting cream");
    room.clinic.proposed(&room.ilse, &room.library, waiting).await;
    assert_eq!(titles(&room.marek, "material=olive&kind=cream").await, ["Calendula cream", "Waiting cream"]);
    assert_eq!(titles(&room.marek, "regime=cosmetic&title=waiting").await, ["Waiting cream"]);
    assert_eq!(titles(&room.marek, "material=olive&kind=cream&approved=true").await, ["Calendula cream"]);
    assert_eq!(titles(&room.noor, "material=olive&kind=cream").await, ["Calendula cream"]);

    let shop = room.clinic.api_client(&room.ilse, &["formulas:read"], &[&room.library]).await;
    assert_eq!(titles(&shop, "material=olive&kind=cream").await, ["Calendula cream"]);
    let other = room.clinic.api_client(&room.ilse, &["recipes:read"], &[&room.library]).await;
    let refused = other.get("/v1/formulas?kind=cream").await.problem(403, "forbidden");
    assert!(refused.text.contains("formulas:read"), "{}", refused.text);

    room.clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_merged_material_is_found_by_either_name_and_id() {
    let room = TeachingClinic::start().await;
    let entry = json!({ "name": "wax of the hill hives", "kind": "wax", "source": "the beekeeper", "status": "common practice" });
    let added = amend(&room.ilse, json!({ "add_material": entry })).await.expect(201);
    confirm(&room.marek, &added.id()).await.expect(200);
    let balm = |title: &str, wax: &str| {
        let lines =
            json!([{ "material": wax, "amount": "20 g" }, { "material": "olive oil", "amount": "80 g" }]);
        of_lines(title, "balm", &lines)
    };
    room.approved(balm("Hill balm", "wax of the hill hives")).await;
    room.approved(balm("Plain balm", "yellow beeswax")).await;
    let hill = material(&room.ilse, "wax of the hill hives").await;
    let wax = material(&room.ilse, "yellow beeswax").await;
    assert_eq!(titles(&room.noor, "material=hill%20hives").await, ["Hill balm"]);
    let merge = json!({ "merge_materials": { "merged": hill, "into": wax } });
    let merge = amend(&room.ilse, merge).await.expect(201);
    confirm(&room.marek, &merge.id()).await.expect(200);
    for named in ["hill%20hives", "yellow%20beeswax", &hill, &wax] {
        let found = titles(&room.noor, &format!("material={named}")).await;
        assert_eq!(found, ["Hill balm", "Plain balm"], "{named}");
    }
    room.clinic.stop().await;
}

/// Twenty thousand approved ointments of olive oil; of three of them lanolin is a part, and one is a food.
const MANY: &str = "
    WITH planned AS MATERIALIZED (
        SELECT gen_random_uuid() AS formula_id, gen_random_uuid() AS revision_id, n AS number,
            'Ointment ' || to_char(n, 'FM000000') AS title, f.library_id, f.created_at, r.author_id, r.decided_by
        FROM generate_series(1, 20000) AS n, formula f JOIN revision r ON r.id = f.approved_revision_id
        WHERE f.title = 'Calendula cream'
    ), formulas AS (
        INSERT INTO formula (id, library_id, title, preparation, approved_revision_id, last_number, created_by, created_at)
        SELECT formula_id, library_id, title, CASE number WHEN 7000 THEN 'acetum' ELSE 'ointment' END, revision_id, 1,
               author_id, created_at FROM planned
    ), revisions AS (
        INSERT INTO revision (id, formula_id, number, state, title, preparation, route, regime, version, author_id,
            created_at, proposed_at, digest, decided_by, decided_at)
        SELECT revision_id, formula_id, 1, 'approved', title, 'ointment', 'on intact skin, leave-on',
            CASE number WHEN 9000 THEN 'food' ELSE 'cosmetic' END, 3, author_id, created_at, created_at,
            sha256(revision_id::text::bytea), decided_by, created_at
        FROM planned
    )
    INSERT INTO revision_material (revision_id, material_id)
    SELECT revision_id, m.id FROM planned, material m
    WHERE m.name = 'olive oil' OR (m.name = 'lanolin' AND number IN (11, 10000, 19999));";

#[derive(diesel::QueryableByName)]
struct Rows {
    #[diesel(sql_type = diesel::sql_types::BigInt)]
    read: i64,
}

/// How many rows of the tables that a search reads were read in this database so far, one by one or by an index.
async fn rows_read(owner: &mut diesel_async::AsyncPgConnection) -> i64 {
    let sql = "SELECT sum(coalesce(seq_tup_read, 0) + coalesce(idx_tup_fetch, 0))::bigint AS read
               FROM pg_stat_user_tables WHERE relname IN ('formula', 'revision', 'revision_material')";
    diesel::sql_query(sql).get_result::<Rows>(owner).await.unwrap().read
}

/// Searches through a service of its own. What a connection read is counted for certain once it is closed.
async fn cost(room: &TeachingClinic, query: &str) -> (Vec<String>, i64) {
    let mut owner = database::owner(&room.clinic.database).await;
    let close = "SELECT pg_terminate_backend(pid, 10000) FROM pg_stat_activity
                 WHERE datname = current_database() AND pid <> pg_backend_pid()";
    owner.batch_execute(close).await.unwrap();
    let before = rows_read(&mut owner).await;
    let service = serve(&room.clinic.database, &[]).await;
    let nobody = Caller::nobody(&format!("http://{}", service.address));
    let noor = nobody.with(room.noor.token.as_deref().unwrap(), &room.noor.id);
    let found = titles(&noor, query).await;
    service.stop().await.unwrap();
    owner.batch_execute(close).await.unwrap();
    (found, rows_read(&mut owner).await - before)
}

#[tokio::test(flavor = "multi_thread")]
async fn a_search_in_twenty_thousand_formulas_reads_what_it_shows_and_little_more() {
    let room = stocked().await;
    let mut owner = database::owner(&room.clinic.database).await;
    owner.batch_execute(MANY).await.unwrap();
    owner.batch_execute("VACUUM (ANALYZE) formula, revision, revision_material").await.unwrap();

    // The cursor of a deep page is that of any list of formulas.
    let (_, deep) = found(&room.noor, "title=Ointment%20019&limit=50").await;
    let deep = format!("kind=ointment&limit=10&after={}", deep.unwrap());
    let few: [(&str, &[&str]); 6] = [
        ("title=ointment%20012345", &["Ointment 012345"]),
        ("material=lanolin", &["Ointment 000011", "Ointment 010000", "Ointment 019999"]),
        ("kind=acetum", &["Ointment 007000"]),
        ("regime=food&kind=ointment", &["Ointment 009000"]),
        ("kind=cream&material=olive%20oil", &["Calendula cream"]),
        ("regime=food&title=tea", &["Lime flower 50 % tea"]),
    ];
    for (query, expected) in few {
        let (found, read) = cost(&room, query).await;
        assert_eq!(found, expected, "{query}");
        assert!(read < 500, "{query} read {read} rows");
    }
    for (query, first) in [
        ("material=olive%20oil&limit=10", "Calendula cream"),
        ("kind=ointment&limit=10", "Ointment 000001"),
        ("title=ointment&limit=10", "Ointment 000001"),
        ("regime=cosmetic&material=olive%20oil&limit=10", "Calendula cream"),
        (deep.as_str(), "Ointment 019050"),
    ] {
        let (found, read) = cost(&room, query).await;
        assert_eq!((found.len(), found[0].as_str()), (10, first), "{query}");
        assert!(read < 500, "{query} read {read} rows");
    }
    room.clinic.stop().await;
}
