//! The published OpenAPI document is what is served, whole, and every example in it holds.

use std::collections::BTreeSet;

use serde::de::DeserializeOwned;
use serde_json::{Value, json};
use stillroom_tests::{Caller, TestClinic};
use wire::amendments::{DecideAmendment, NewAmendment, Reinstate};
use wire::bench::{NewBatch, NewEntry, NewReview, Submit};
use wire::calculations::alcohol::AlcoholQuestion;
use wire::calculations::cost::CostQuestion;
use wire::calculations::dose::DoseQuestion;
use wire::calculations::emulsion::EmulsionQuestion;
use wire::calculations::extraction::ExtractionQuestion;
use wire::calculations::quantity::QuantityQuestion;
use wire::calculations::skin_limits::SkinLimitsQuestion;
use wire::calculations::strength::StrengthQuestion;
use wire::calculations::use_by::UseByQuestion;
use wire::calculations::weighing::WeighingQuestion;
use wire::formulary::{Decide, FormulaContent, NewFormula, NewLibrary, NewRevision, Withdraw};
use wire::people::{Invite, NewApiClient, PasswordChange, PersonChange, Refresh, SignIn, UseCode};
use wire::policy::PolicyContent;
use wire::recalls::{CloseRecall, NewRecall, NewRecallOutcome};
use wire::recipe::Evaluate;
use wire::safety::Acknowledge;
use wire::teaching::{
    AppealDecision, AssignmentChange, AssignmentContent, Enrol, JoinCohort, MarkChange, NewAllowance,
    NewAnswer, NewAppeal, NewBankQuestion, NewClass, NewCohort, NewCohortCode, NewModerationShare, NewPhrase,
    NewReflection, NewRelation, NewSecondMark, NewSecondMarker, NewSettlement, NewWorkSubmission,
    WithdrawAssignment,
};
use wire::teaching::{NewCompetency, NewRevocation, NewSignOff};

use super::{holds_or_is_rewritten, root};

const FILE: &str = "openapi/stillroom.json";

#[tokio::test(flavor = "multi_thread")]
async fn the_published_document_is_what_is_served() {
    // As text in the order in which the service writes it, so that a change can be read.
    let now = format!("{}\n", api::document().to_pretty_json().unwrap());
    std::fs::create_dir_all(root().join("openapi")).unwrap();
    holds_or_is_rewritten(FILE, &now, "UPDATE_OPENAPI");
    let clinic = TestClinic::start().await;
    let served = clinic.nobody.get("/openapi.json").await.expect(200);
    let published: Value =
        serde_json::from_str(&std::fs::read_to_string(root().join(FILE)).unwrap()).unwrap();
    assert_eq!(served.json, published);
    clinic.stop().await;
}

/// Every operation of the document: its method, its address, itself.
fn operations(document: &Value) -> Vec<(&str, &str, &Value)> {
    document["paths"]
        .as_object()
        .unwrap()
        .iter()
        .flat_map(|(path, item)| {
            item.as_object()
                .unwrap()
                .iter()
                .map(|(method, operation)| (method.as_str(), path.as_str(), operation))
        })
        .collect()
}

fn document() -> Value {
    serde_json::from_str(&api::document().to_json().unwrap()).unwrap()
}

#[test]
fn every_operation_says_what_it_does_and_shows_what_it_takes_and_answers() {
    let document = document();
    let tags: BTreeSet<&str> =
        document["tags"].as_array().unwrap().iter().map(|tag| tag["name"].as_str().unwrap()).collect();
    let mut ids = BTreeSet::new();
    let operations = operations(&document);
    assert!(operations.len() > 50);
    for (method, path, operation) in operations {
        let at = format!("{method} {path}");
        let filled = |value: &Value| value.as_str().is_some_and(|text| !text.trim().is_empty());
        assert!(filled(&operation["summary"]), "{at} has no summary");
        assert!(filled(&operation["operationId"]), "{at} has no operationId");
        assert!(ids.insert(operation["operationId"].as_str().unwrap()), "{at} shares its operationId");
        let named = operation["tags"].as_array().unwrap_or_else(|| panic!("{at} has no tag"));
        assert!(
            !named.is_empty() && named.iter().all(|tag| tags.contains(tag.as_str().unwrap())),
            "{at}: {named:?}"
        );
        for parameter in operation["parameters"].as_array().into_iter().flatten() {
            assert!(filled(&parameter["description"]), "{at}: {} is not described", parameter["name"]);
        }
        if !operation["requestBody"].is_null() {
            assert_eq!(operation["requestBody"]["required"], true, "{at}: a body left out is refused");
            let content = &operation["requestBody"]["content"];
            let of_picture = !content["image/jpeg"].is_null();
            assert!(of_picture || !content["application/json"]["example"].is_null(), "{at}: no example");
        }
        let mut succeeds = false;
        for (status, response) in operation["responses"].as_object().unwrap() {
            let response = match response["$ref"].as_str() {
                Some(reference) => document.pointer(reference.strip_prefix('#').unwrap()).unwrap(),
                None => response,
            };
            assert!(status.parse::<u16>().is_ok(), "{at}: {status}");
            succeeds |= status.starts_with('2') || status.starts_with('3');
            for (kind, content) in response["content"].as_object().into_iter().flatten() {
                // Of a document or an image no example can be read here.
                let of_bytes = ["application/pdf", "application/zip", "image/jpeg", "image/png"]
                    .contains(&kind.as_str());
                let shown = !content["example"].is_null();
                assert!(shown || of_bytes, "{at}: {status} has no example as {kind}");
            }
            let has_body = status.starts_with('2') && status != "204" || status.starts_with('4');
            assert!(
                !has_body || !response["content"].is_null(),
                "{at}: {status} does not say what it answers"
            );
        }
        assert!(succeeds, "{at} never succeeds");
    }
}

#[test]
fn every_reference_in_the_document_leads_somewhere() {
    fn references<'a>(value: &'a Value, found: &mut BTreeSet<&'a str>) {
        match value {
            Value::Object(fields) => {
                found.extend(fields.get("$ref").and_then(Value::as_str));
                fields.values().for_each(|value| references(value, found));
            }
            Value::Array(items) => items.iter().for_each(|value| references(value, found)),
            _ => {}
        }
    }
    let document = document();
    let mut found = BTreeSet::new();
    references(&document, &mut found);
    let lost: Vec<&&str> = found
        .iter()
        .filter(|reference| reference.strip_prefix('#').and_then(|at| document.pointer(at)).is_none())
        .collect();
    assert!(found.len() > 50 && lost.is_empty(), "{lost:?}");
}

#[test]
fn words_stand_in_the_document_as_they_are_sent() {
    let document = document();
    let words = &document["components"]["schemas"];
    let of = |name: &str| words[name]["enum"].as_array().unwrap_or_else(|| panic!("{name}")).clone();
    assert_eq!(of("Role"), wire::people::Role::ALL.iter().map(|word| json!(word)).collect::<Vec<_>>());
    assert_eq!(of("Scope"), wire::people::Scope::ALL.iter().map(|word| json!(word)).collect::<Vec<_>>());
    assert_eq!(
        of("Disposition"),
        wire::bench::Disposition::ALL.iter().map(|word| json!(word)).collect::<Vec<_>>()
    );
    let states = wire::formulary::RevisionState::ALL;
    assert_eq!(of("RevisionState"), states.iter().map(|word| json!(word)).collect::<Vec<_>>());
}

fn read<T: DeserializeOwned>(example: &Value) -> Result<(), String> {
    serde_json::from_value::<T>(example.clone()).map(drop).map_err(|error| error.to_string())
}

/// Reads an example as the request type that the document names.
fn read_as(schema: &str, example: &Value) -> Result<(), String> {
    match schema {
        "Acknowledge" => read::<Acknowledge>(example),
        "Decide" => read::<Decide>(example),
        "Evaluate" => read::<Evaluate>(example),
        "FormulaContent" => read::<FormulaContent>(example),
        "Invite" => read::<Invite>(example),
        "DecideAmendment" => read::<DecideAmendment>(example),
        "NewAmendment" => read::<NewAmendment>(example),
        "Reinstate" => read::<Reinstate>(example),
        "NewApiClient" => read::<NewApiClient>(example),
        "NewBatch" => read::<NewBatch>(example),
        "NewEntry" => read::<NewEntry>(example),
        "NewFormula" => read::<NewFormula>(example),
        "NewLibrary" => read::<NewLibrary>(example),
        "NewReview" => read::<NewReview>(example),
        "NewCompetency" => read::<NewCompetency>(example),
        "NewSignOff" => read::<NewSignOff>(example),
        "NewRevocation" => read::<NewRevocation>(example),
        "NewRevision" => read::<NewRevision>(example),
        "PasswordChange" => read::<PasswordChange>(example),
        "PersonChange" => read::<PersonChange>(example),
        "PolicyContent" => read::<PolicyContent>(example),
        "Refresh" => read::<Refresh>(example),
        "SignIn" => read::<SignIn>(example),
        "Submit" => read::<Submit>(example),
        "UseCode" => read::<UseCode>(example),
        "Withdraw" => read::<Withdraw>(example),
        "AssignmentChange" => read::<AssignmentChange>(example),
        "AssignmentContent" => read::<AssignmentContent>(example),
        "Enrol" => read::<Enrol>(example),
        "JoinCohort" => read::<JoinCohort>(example),
        "NewAnswer" => read::<NewAnswer>(example),
        "NewBankQuestion" => read::<NewBankQuestion>(example),
        "NewClass" => read::<NewClass>(example),
        "NewLot" => read::<wire::stock::NewLot>(example),
        "NewIdentityCheck" => read::<wire::stock::NewIdentityCheck>(example),
        "LotReason" => read::<wire::stock::LotReason>(example),
        "NewCount" => read::<wire::stock::NewCount>(example),
        "NewMadeLot" => read::<wire::stock::NewMadeLot>(example),
        "NewCheck" => read::<wire::checks::NewCheck>(example),
        "NewHoldRelease" => read::<wire::holds::NewHoldRelease>(example),
        "NewAuthorisation" => read::<wire::deviations::NewAuthorisation>(example),
        "NewAdjustment" => read::<wire::adjustments::NewAdjustment>(example),
        "NewJars" => read::<wire::jars::NewJars>(example),
        "NewObservation" => read::<wire::observations::NewObservation>(example),
        "WithdrawPhotograph" => read::<wire::photographs::WithdrawPhotograph>(example),
        "NewHandover" => read::<wire::handovers::NewHandover>(example),
        "NewHandoverAnswer" => read::<wire::handovers::NewHandoverAnswer>(example),
        "NewPause" => read::<wire::long_work::NewPause>(example),
        "NewLookPlan" => read::<wire::long_work::NewLookPlan>(example),
        "NewShortening" => read::<wire::observations::NewShortening>(example),
        "NewRelease" => read::<wire::jars::NewRelease>(example),
        "NewDecanting" => read::<wire::jars::NewDecanting>(example),
        "NewSample" => read::<wire::jars::NewSample>(example),
        "NewHanding" => read::<wire::jars::NewHanding>(example),
        "NewJarReturn" => read::<wire::jars::NewJarReturn>(example),
        "NewJarOutcomes" => read::<wire::recalls::NewJarOutcomes>(example),
        "NewDiscard" => read::<wire::jars::NewDiscard>(example),
        "NewReaction" => read::<wire::reactions::NewReaction>(example),
        "NewReactionNote" => read::<wire::reactions::NewReactionNote>(example),
        "NewJoining" => read::<wire::reactions::NewJoining>(example),
        "NewConclusion" => read::<wire::reactions::NewConclusion>(example),
        "NewErasure" => read::<wire::reactions::NewErasure>(example),
        "NewReservations" => read::<wire::stock::NewReservations>(example),
        "NewThreshold" => read::<wire::stock::NewThreshold>(example),
        "NewCohort" => read::<NewCohort>(example),
        "NewCohortCode" => read::<NewCohortCode>(example),
        "NewAllowance" => read::<NewAllowance>(example),
        "NewRecall" => read::<NewRecall>(example),
        "NewRecallOutcome" => read::<NewRecallOutcome>(example),
        "CloseRecall" => read::<CloseRecall>(example),
        "NewPhrase" => read::<NewPhrase>(example),
        "NewAppeal" => read::<NewAppeal>(example),
        "NewModerationShare" => read::<NewModerationShare>(example),
        "NewSecondMark" => read::<NewSecondMark>(example),
        "NewSecondMarker" => read::<NewSecondMarker>(example),
        "NewSettlement" => read::<NewSettlement>(example),
        "AppealDecision" => read::<AppealDecision>(example),
        "NewRelation" => read::<NewRelation>(example),
        "NewSelfCheck" => read::<wire::self_check::NewSelfCheck>(example),
        "NewWorkLimit" => read::<wire::teaching::NewWorkLimit>(example),
        "MarkChange" => read::<MarkChange>(example),
        "NewReflection" => read::<NewReflection>(example),
        "NewWorkSubmission" => read::<NewWorkSubmission>(example),
        "WithdrawAssignment" => read::<WithdrawAssignment>(example),
        "AlcoholQuestion" => read::<AlcoholQuestion>(example),
        "CostQuestion" => read::<CostQuestion>(example),
        "DoseQuestion" => read::<DoseQuestion>(example),
        "EmulsionQuestion" => read::<EmulsionQuestion>(example),
        "ExtractionQuestion" => read::<ExtractionQuestion>(example),
        "QuantityQuestion" => read::<QuantityQuestion>(example),
        "SkinLimitsQuestion" => read::<SkinLimitsQuestion>(example),
        "StrengthQuestion" => read::<StrengthQuestion>(example),
        "UseByQuestion" => read::<UseByQuestion>(example),
        "WeighingQuestion" => read::<WeighingQuestion>(example),
        other => Err(format!("add {other} to this test")),
    }
}

#[test]
fn every_example_of_a_body_is_one_that_the_service_can_read() {
    let document = document();
    let mut count = 0;
    for (method, path, operation) in operations(&document) {
        let content = &operation["requestBody"]["content"]["application/json"];
        if content.is_null() {
            continue;
        }
        let schema = content["schema"]["$ref"].as_str().unwrap().rsplit('/').next().unwrap();
        read_as(schema, &content["example"])
            .unwrap_or_else(|error| panic!("{method} {path}: {error} in {:#}", content["example"]));
        count += 1;
    }
    assert!(count > 18, "{count}");
}

/// The example of an operation's body.
fn example(document: &Value, method: &str, path: &str) -> Value {
    document["paths"][path][method]["requestBody"]["content"]["application/json"]["example"].clone()
}

#[tokio::test(flavor = "multi_thread")]
async fn sending_the_examples_as_they_stand_does_the_work() {
    let document = document();
    let clinic = TestClinic::start().await;
    let ilse = clinic.person("ilse.brandt", "instructor").await;
    let marek = clinic.person("marek.dvorsky", "instructor").await;
    let post = async |caller: &Caller, path: &str, id: &str| {
        caller.post(&path.replace("{id}", id), example(&document, "post", path)).await
    };
    post(&clinic.administrator, "/v1/invitations", "").await.expect(201);
    let policy = clinic.administrator.get("/v1/policy").await.expect(200);
    let content = example(&document, "put", "/v1/policy");
    clinic.administrator.put("/v1/policy", &policy.etag(), content).await.expect(200);

    let library = post(&ilse, "/v1/libraries", "").await.expect(201).id();
    ilse.put_bare(&format!("/v1/libraries/{library}/members/{}", marek.id)).await.expect(204);
    post(&ilse, "/v1/evaluations", "").await.expect(200);
    let made = post(&ilse, "/v1/libraries/{id}/formulas", &library).await.expect(201);
    let (formula, revision) = (made.id(), made.text_at("/revisions/0/id"));
    let path = format!("/v1/revisions/{revision}/draft");
    let tag = ilse.get(&path).await.expect(200).etag();
    let content = example(&document, "put", "/v1/revisions/{id}/draft");
    let tag = ilse.put(&path, &tag, content).await.expect(200).etag();
    ilse.post_bare(&format!("/v1/revisions/{revision}/proposal"), &[("if-match", &tag)]).await.expect(200);
    marek.acknowledge(&revision).await.expect(201);
    let approval = json!({ "decision": "approve" });
    marek.post(&format!("/v1/revisions/{revision}/decision"), approval).await.expect(200);

    // The batch's example names no revision that exists here; all else in it stands.
    let mut batch = example(&document, "post", "/v1/batches");
    batch["revision"] = revision.clone().into();
    let batch = marek.post("/v1/batches", batch).await.expect(201).id();
    post(&marek, "/v1/batches/{id}/entries", &batch).await.expect(201);
    post(&marek, "/v1/batches/{id}/submissions", &batch).await.expect(201);
    let mut review = example(&document, "post", "/v1/batches/{id}/reviews");
    for comment in review["comments"].as_array_mut().unwrap() {
        comment.as_object_mut().unwrap().remove("entry");
    }
    ilse.acknowledge(&revision).await.expect(201);
    ilse.post(&format!("/v1/batches/{batch}/reviews"), review).await.expect(201);

    post(&ilse, "/v1/formulas/{id}/revisions", &formula).await.expect(201);
    post(&ilse, "/v1/revisions/{id}/withdrawal", &revision).await.expect(200);
    clinic.stop().await;
}
