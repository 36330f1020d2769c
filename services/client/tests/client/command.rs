//! The command as it is typed.

use std::path::PathBuf;
use std::process::{Command, Output};

use serde_json::{Value, json};

use crate::answers::{
    AWKWARD, DIGEST, FORMULA, LIBRARY, NESTED, NOTICE, REVISION, acknowledgement, caution_set, closed_gate,
    created, label, ok, problem, recipe,
};
use crate::server::Server;

const KEY: &str = "sk_5Jb2forTestsOnly";
const PROGRAM: &str = env!("CARGO_BIN_EXE_stillroom-client");

/// On a machine without certificates, with a proxy that would see the key if it were asked.
fn command(url: &str) -> Command {
    let mut command = Command::new(PROGRAM);
    command.env_clear().env("STILLROOM_KEY", KEY).args(["--url", url]);
    command.env("SSL_CERT_FILE", "/nowhere").env("SSL_CERT_DIR", "/nowhere");
    command.env("http_proxy", "http://127.0.0.2:9").env("all_proxy", "http://127.0.0.2:9");
    command
}

fn run(server: &Server, arguments: &[&str]) -> Output {
    command(&server.url).args(arguments).output().unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

#[test]
fn formulas_are_listed_through_all_pages() {
    let formula = |title: &str| {
        json!({ "id": FORMULA, "library": LIBRARY, "title": title, "preparation": "salve",
                "approved_revision": REVISION })
    };
    let server = Server::answering(vec![
        ok(&json!({ "items": [formula("Arnica salve")], "next": "n1" })),
        ok(&json!({ "items": [formula("Calendula salve")] })),
    ]);
    let out = run(&server, &["formulas"]);
    assert_eq!(out.status.code(), Some(0));
    let expected = format!(
        "  revision                              kind   title\n  {REVISION}  salve  Arnica salve\n  {REVISION}  salve  Calendula salve\n"
    );
    assert_eq!(text(&out.stdout), expected);
    assert_eq!(server.received()[1].target, "GET /v1/formulas?approved=true&limit=100&after=n1");
}

#[test]
fn formulas_are_searched_by_every_condition_that_is_typed() {
    let server = Server::answering(vec![ok(&json!({ "items": [] }))]);
    let typed = ["formulas", "--title", "cream", "--material", "olive oil", "--kind", "cream"];
    let out = run(&server, &[&typed[..], &["--regime", "cosmetic", "--library", LIBRARY]].concat());
    assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
    assert_eq!(
        server.received()[0].target,
        format!(
            "GET /v1/formulas?approved=true&library={LIBRARY}&title=cream&material=olive+oil&kind=cream&regime=cosmetic&limit=100"
        )
    );
}

#[test]
fn the_label_of_a_batch_is_asked_for_by_its_id() {
    let server = Server::answering(vec![ok(&label())]);
    let out = run(&server, &["batch-label", REVISION, "--net", "30 g", "--area", "40 cm2"]);
    assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
    assert_eq!(server.received()[0].target, format!("GET /v1/batches/{REVISION}/label?net=30+g&area=40+cm2"));
}

#[test]
fn a_recipe_is_a_sheet_to_work_from() {
    let server = Server::answering(vec![ok(&recipe())]);
    let asked = ["recipe", REVISION, "--containers", "12", "--fill", "30 g", "--transfer-loss", "4 %"];
    let out = run(&server, &[&asked[..], &["--readability", "0.1 g", "--application", "2 g"]].concat());
    assert_eq!(out.status.code(), Some(0));
    let sheet = text(&out.stdout);
    let wanted = format!(
        "
oil phase
  line  material                  weigh    or measure                       function     as written
  1.1   yellow beeswax             75   g                                   consistency  20 %
  1.2   infused oil of calendula  299.3 g  unknown: density of infused oil               79.8 %
  1.3   rosemary extract            0.8 g                                                0.2 %
    1.2: rounded to the balance by 0.05 g
    1.2: prepared from its own formula, revision {NESTED}
    1.3: use a finer balance

Method
  1. Melt the wax in the oil (oil phase, 70 C at most)
  2. Pour into jars. HOLD: confirm before continuing.
"
    );
    assert!(sheet.contains(&wanted), "{sheet}");
    for part in [
        NOTICE,
        "CONTRAINDICATION",
        "total to weigh: 375 g",
        "approved by its author",
        "teaching only",
        "site: face",
        "youngest age: 3 years",
        "2027-03-21 (remembered keeping time of infused oils)",
        "Keep refrigerated.",
        "remembered keeping time of salves: switched off by the clinic: Dated by their oil.",
    ] {
        assert!(sheet.contains(part), "{part} in:\n{sheet}");
    }
    assert_eq!(
        server.received()[0].target,
        format!(
            "GET /v1/revisions/{REVISION}/recipe?explain=true&containers=12&fill=30+g&transfer_loss=4+%25&readability=0.1+g&application=2+g"
        )
    );
}

#[test]
fn json_is_what_the_service_answered() {
    let server = Server::answering(vec![ok(&recipe())]);
    let out = run(&server, &["recipe", REVISION, "--json"]);
    let printed: Value = serde_json::from_slice(&out.stdout).unwrap();
    assert_eq!(printed["phases"][0]["lines"][1]["weigh"]["value"], "299.3");
    let server = Server::answering(vec![closed_gate()]);
    let out = run(&server, &["recipe", REVISION, "--json"]);
    assert_eq!((out.status.code(), out.stdout.len()), (Some(3), 0));
    let printed: Value = serde_json::from_slice(&out.stderr).unwrap();
    assert_eq!(printed["outstanding"]["caution_set"]["digest"], DIGEST);
}

/// The command that a closed gate prints is put to a shell as it stands: it acknowledges what was shown, and a key that
/// looks like a command stays a word.
#[test]
fn a_closed_gate_prints_the_command_that_acknowledges() {
    let server = Server::answering(vec![closed_gate(), created(&acknowledgement())]);
    let out = run(&server, &["recipe", REVISION]);
    assert_eq!((out.status.code(), out.stdout.len()), (Some(3), 0));
    let said = text(&out.stderr);
    for part in [
        "CONTRAINDICATION (must be acknowledged individually)",
        "Not on broken skin.",
        "origin: calendula cream > borax",
        "CAUTION\n",
        "Note\n",
        NOTICE,
    ] {
        assert!(said.contains(part), "{part} in:\n{said}");
    }
    let (_, typed) = said.split_once("  stillroom-client").unwrap();
    let path = PathBuf::from(PROGRAM);
    let out = Command::new("/bin/sh")
        .args(["-c", &format!("stillroom-client{typed}")])
        .env_clear()
        .env("PATH", path.parent().unwrap())
        .env("STILLROOM_KEY", KEY)
        .output()
        .unwrap();
    assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
    assert!(text(&out.stdout).contains("valid until 2026-08-28 08:00 UTC"));
    let request = &server.received()[1];
    assert_eq!(request.target, format!("POST /v1/revisions/{REVISION}/acknowledgements"));
    let body: Value = serde_json::from_str(&request.body).unwrap();
    assert_eq!(body, json!({ "caution_set": DIGEST, "contraindications": [AWKWARD] }));
}

#[test]
fn cautions_are_shown_and_give_a_terminal_no_orders() {
    let server = Server::answering(vec![ok(&caution_set())]);
    let out = run(&server, &["cautions", REVISION]);
    assert_eq!(out.status.code(), Some(0));
    let said = text(&out.stdout);
    assert!(said.contains("Patch-test\u{fffd}[2J first."), "{said}");
    assert!(!said.contains('\u{1b}'));
    assert!(said.contains(&format!("--i-have-read {DIGEST}")));
}

#[test]
fn a_refusal_names_the_field() {
    let server = Server::answering(vec![problem(
        "422 Unprocessable Content",
        &[],
        &json!({ "type": "/problems/invalid-request", "title": "Not accepted", "status": 422,
            "detail": "A field was not accepted.", "request_id": "r-2",
            "errors": [{ "pointer": "?mass", "detail": "3 furlongs is no mass" }] }),
    )]);
    let out = run(&server, &["recipe", REVISION, "--mass", "3 furlongs"]);
    assert_eq!(out.status.code(), Some(1));
    let said = text(&out.stderr);
    assert!(said.contains("?mass: 3 furlongs is no mass") && said.contains("request r-2"), "{said}");
}

#[test]
fn the_key_comes_from_a_file_before_the_environment_and_never_from_an_argument() {
    let file = std::env::temp_dir().join(format!("stillroom-client-key-{}", std::process::id()));
    std::fs::write(&file, "sk_fromTheFile\n").unwrap();
    let server = Server::answering(vec![ok(&json!({ "items": [] }))]);
    let out = command(&server.url).arg("--key-file").arg(&file).arg("formulas").output().unwrap();
    std::fs::remove_file(&file).unwrap();
    assert_eq!(out.status.code(), Some(0));
    assert_eq!(server.received()[0].header("authorization"), Some("Bearer sk_fromTheFile"));

    let out = run(&server, &["--key", KEY, "formulas"]);
    assert_eq!(out.status.code(), Some(2));
    let out = command(&server.url).env_remove("STILLROOM_KEY").arg("formulas").output().unwrap();
    assert_eq!(out.status.code(), Some(2));
    assert!(text(&out.stderr).contains("STILLROOM_KEY"));
    assert_eq!(server.received().len(), 1);
}

#[test]
fn what_cannot_be_meant_is_refused_before_the_service_is_asked() {
    let server = Server::answering(vec![ok(&recipe())]);
    for arguments in [
        &["recipe", REVISION, "--containers", "12"][..],
        &["recipe", REVISION, "--mass", "5 g", "--volume", "5 mL"],
        &["recipe", REVISION, "--mass", "5 g", "--line", "1.1", "--line-amount", "5 g"],
        &["recipe", "not-an-id"],
        &["acknowledge", REVISION],
    ] {
        assert_eq!(run(&server, arguments).status.code(), Some(2), "{arguments:?}");
    }
    for (url, cure) in [("http://clinic.example", "use https"), ("https://clinic.example", "ca-certificates")]
    {
        let out = command(url).arg("formulas").output().unwrap();
        assert_eq!(out.status.code(), Some(2));
        assert!(text(&out.stderr).contains(cure), "{}", text(&out.stderr));
    }
    assert_eq!(server.received().len(), 0);
}

#[test]
fn a_label_is_printed_part_by_part_with_what_finds_no_room() {
    let server = Server::answering(vec![ok(&label())]);
    let out = run(&server, &["label", REVISION, "--net", "30 g", "--area", "4 cm2"]);
    assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
    let expected = format!(
        "Calendula salve (salve)
  FOR PRACTICE, NOT FOR USE.

Net contents
  30 g

Made on
  2026-03-21

Use by
  2026-04-25 (published rules)

Keeping
  Keep cool.
  Once opened: six weeks.
  Keep out of the reach of children.

Use
  Teaching only.
  For unbroken skin; leave on.
  From 3 years on.

Allergy: daisy family (Asteraceae)
  Contains a daisy.

Directions
  Apply thinly.
  One week at most.

Ingredients
  Olea Europaea Fruit Oil (olive oil)
  emulsifying wax, amount unknown
  Calendula Officinalis Flower (dried calendula flower), drawn out

Allergens
  Linalool (unknown: share of lavender oil)

Aldergrove Teaching Clinic
  {NOTICE}

Missing
  ingredients: no INCI name of emulsifying wax is known

Space on 4 cm2
  380 characters at 40 on a square centimetre need 9.5 cm2
  notice: 12 of 41 characters do not fit

On the jar
  Calendula salve
  Daisy family: not if allergic.

On the leaflet
  {NOTICE}

Too small
  Use a label of at least 5.2 cm2.
"
    );
    assert_eq!(text(&out.stdout), expected);
    assert_eq!(
        server.received()[0].target,
        format!("GET /v1/revisions/{REVISION}/label?net=30+g&area=4+cm2")
    );
}

#[test]
fn a_traceparent_of_the_environment_is_passed_on_and_an_invalid_one_refused() {
    let server = Server::answering(vec![ok(&json!({ "items": [] }))]);
    let traceparent = "00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-00";
    let out = command(&server.url).env("TRACEPARENT", traceparent).arg("formulas").output().unwrap();
    assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
    assert_eq!(server.received()[0].header("traceparent"), Some(traceparent));
    let out = run(&server, &["--traceparent", "00-nonsense", "formulas"]);
    assert_eq!(out.status.code(), Some(2));
    assert!(text(&out.stderr).contains("such as 00-4bf9"), "{}", text(&out.stderr));
    assert_eq!(server.received().len(), 1);
}
