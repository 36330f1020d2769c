//! The OpenAPI document. Made from the routes that serve, with the headers and problems that operations share added
//! here, so that no route can forget them. Only `service` and `interactive` use it; nothing below the routes does.

use std::collections::BTreeMap;

use utoipa::openapi::path::{HttpMethod, Operation, ParameterBuilder, ParameterIn};
use utoipa::openapi::schema::{AdditionalProperties, ObjectBuilder, Schema, Type};
use utoipa::openapi::security::{HttpAuthScheme, HttpBuilder, SecurityRequirement, SecurityScheme};
use utoipa::openapi::tag::TagBuilder;
use utoipa::openapi::{
    Components, ContentBuilder, InfoBuilder, LicenseBuilder, OpenApi, OpenApiBuilder, Ref, RefOr, Required,
    Response, ResponseBuilder,
};
use wire::figure::FigureInput;
use wire::problem::Problem;

use crate::example;
use crate::mount::Collected;
use crate::routes;
use wire::kinds::KINDS;

const BEARER: &str = "bearer";

/// Builds the document. Costs milliseconds and megabytes, so callers keep what they derive from it.
#[must_use]
pub fn document() -> OpenApi {
    let mut collected = Collected::default();
    routes::documented(&mut collected);
    let mut components = Components::new();
    components.schemas.extend(collected.schemas);
    for (name, schema) in more_schemas() {
        components.schemas.insert(name, schema);
    }
    components.schemas.values_mut().for_each(close_questions);
    let bearer = SecurityScheme::Http(
        HttpBuilder::new()
            .scheme(HttpAuthScheme::Bearer)
            .description(Some("An access token from *Sign in*, or an API key."))
            .build(),
    );
    components.add_security_scheme(BEARER, bearer);
    components.responses.extend(problem_responses());
    let mut document = OpenApiBuilder::new()
        .info(
            InfoBuilder::new()
                .title("Stillroom")
                .version(env!("CARGO_PKG_VERSION"))
                .description(Some(DESCRIPTION))
                .license(Some(
                    LicenseBuilder::new().name("Apache-2.0").identifier(Some("Apache-2.0")).build(),
                ))
                .build(),
        )
        .tags(Some(TAGS.iter().map(|(name, description)| {
            TagBuilder::new().name(*name).description(Some(*description)).build()
        })))
        .paths(collected.paths)
        .components(Some(components))
        .security(Some([SecurityRequirement::new(BEARER, Vec::<String>::new())]))
        .build();
    complete(&mut document);
    example::add(&mut document);
    document
}

/// Closes the object of each question: a question is an object with exactly one field.
fn close_questions(schema: &mut RefOr<Schema>) {
    let RefOr::T(Schema::OneOf(one)) = schema else { return };
    for item in &mut one.items {
        if let RefOr::T(Schema::Object(object)) = item
            && object.properties.len() == 1
        {
            object.additional_properties = Some(Box::new(AdditionalProperties::FreeForm(false)));
        }
    }
}

/// The subjects, in the order of the work.
const TAGS: [(&str, &str); 17] = [
    ("sessions", "Signing in and out, and your own account."),
    ("libraries", "Shared sets of formulas, and their members."),
    ("formulas", "The formulas of a library: listing and adding."),
    ("revisions", "Writing, evaluating, proposing, deciding and withdrawing revisions."),
    ("amendments", "Changes of materials and cautions, and the formulas that they affect."),
    ("recipes", "Cautions, acknowledgements, and the recipes that an acknowledgement releases."),
    ("batches", "Batch records: opening, writing, submitting and reviewing."),
    ("labels", "The contents of a label. Readable without acknowledgement; never with amounts or method."),
    ("stock", "Lots of materials: receiving, identity, the ledger, and what is left."),
    (
        "reactions",
        "Suspected adverse reactions: reports of a jar, and the cases that follow. Never to whom it happened.",
    ),
    (
        "teaching",
        "Cohorts, the work set to them, and the questions that students answer before a recipe opens.",
    ),
    ("calculations", "Calculators for the bench that need no formula. Nothing is saved."),
    ("materials", "The materia medica."),
    ("people", "Accounts, for administrators."),
    ("API clients", "Keys for other tools, each with a responsible person."),
    ("clinic", "The clinic's policy and its journal of events."),
    ("service", "Health, published keys, and pages about problems."),
];

const DESCRIPTION: &str = "The service of a herbal teaching clinic: shared formulas, scaled to any quantity and \
released once their cautions are acknowledged; batch records, submitted and reviewed.\n\n\
**To start**, send *Sign in*, enter the `access_token` under *Authorize*, and send *Read your account*.\n\n\
Ask a doctor or midwife first in pregnancy, while breast-feeding, for children, or with other medicines. Patch-test \
first. Local law and licensed practice decide what may be made and given.\n\n\
**For programs.** JSON in snake_case. IDs are UUIDv7, times RFC 3339 in UTC, decimals and quantities strings with \
their unit. Unknown fields and parameters are refused. Creating requests must carry an `Idempotency-Key`; changes must \
carry the `ETag` of the last read, in `If-Match`. Lists are paged by `limit` and `after`. Errors are problem details \
(RFC 9457); the `type` is the address of a page that explains the problem. A `traceparent` (W3C Trace Context) is \
written to the service's log with the request ID. Bodies of 1 KiB and more come as gzip or brotli if `Accept-Encoding` \
asks, but for those that hold tokens, codes or keys. `RateLimit` says how many requests you may send now (IETF draft \
ratelimit-headers-10).";

/// Schemas that no route refers to: problems, and the inputs of figures, which contain figures and so are not followed.
fn more_schemas() -> Vec<(String, RefOr<Schema>)> {
    use utoipa::{PartialSchema, ToSchema};
    let mut schemas =
        vec![("Problem".to_owned(), Problem::schema()), ("FigureInput".to_owned(), FigureInput::schema())];
    Problem::schemas(&mut schemas);
    schemas
}

/// Adds the required headers and the possible problems to every operation.
fn complete(document: &mut OpenApi) {
    for (path, item) in &mut document.paths.paths {
        let operations = [
            (HttpMethod::Get, &mut item.get),
            (HttpMethod::Post, &mut item.post),
            (HttpMethod::Put, &mut item.put),
            (HttpMethod::Patch, &mut item.patch),
            (HttpMethod::Delete, &mut item.delete),
        ];
        for (method, operation) in operations {
            if let Some(operation) = operation {
                headers(path, &method, operation);
                problems(path, operation);
                descriptions(operation);
                // Required even if every field of it is optional.
                if let Some(RefOr::T(body)) = &mut operation.request_body {
                    body.required = Some(Required::True);
                }
            }
        }
    }
}

/// Describes the answers whose routes say nothing beyond the status: a description is required.
fn descriptions(operation: &mut Operation) {
    for (status, response) in &mut operation.responses.responses {
        if let RefOr::T(response) = response
            && response.description.is_empty()
        {
            response.description = match status.as_str() {
                "201" => "Created. `Location` is the address of the new resource.",
                "204" => "Done. There is no content.",
                "303" => "Found at the address in `Location`.",
                "304" => "Not modified since the version that `If-None-Match` names.",
                _ => "Success.",
            }
            .into();
        }
    }
}

fn is_open(operation: &Operation) -> bool {
    operation.security.is_some()
}

/// Creating requests of authenticated callers must carry a key, changes the version that they change.
fn headers(path: &str, method: &HttpMethod, operation: &mut Operation) {
    let creates = *method == HttpMethod::Post
        && !is_open(operation)
        && operation.responses.responses.contains_key("201");
    let changes = matches!(method, HttpMethod::Put | HttpMethod::Patch)
        && operation.request_body.is_some()
        && !path.ends_with("/password")
        || path.ends_with("/proposal")
        || path.ends_with("/counts");
    let mut add = |name: &str, description: &str, pattern: &str, example: &str| {
        let parameter = ParameterBuilder::new()
            .name(name)
            .parameter_in(ParameterIn::Header)
            .required(Required::True)
            .description(Some(description))
            .schema(Some(
                ObjectBuilder::new().schema_type(Type::String).max_length(Some(255)).pattern(Some(pattern)),
            ))
            .example(Some(example.into()))
            .build();
        operation.parameters.get_or_insert_default().push(RefOr::T(parameter));
    };
    if creates {
        add(
            "Idempotency-Key",
            "A new key for each new request. Repeating a request with its key creates nothing twice.",
            "^[!-~]+$",
            "8e03978e-40d5-43e8-bc93-6894a57f9324",
        );
    }
    if changes {
        add("If-Match", "The `ETag` of your last read.", "^\"v[0-9]{1,18}([.](br|gzip))?\"$", "\"v1\"");
    }
}

fn problems(path: &str, operation: &mut Operation) {
    if path == "/health/live" {
        return;
    }
    for kind in KINDS {
        let named = |status: u16| kind.status == status;
        // Operations without authentication never answer these.
        if is_open(operation) && (named(403) || named(412) || named(428)) || named(405) {
            continue;
        }
        let response = RefOr::Ref(Ref::from_response_name(response_name(kind.status)));
        operation.responses.responses.entry(kind.status.to_string()).or_insert(response);
    }
}

fn response_name(status: u16) -> String {
    format!("Problem{status}")
}

/// One response for each status, shared by all operations. The example is the first problem of the status.
fn problem_responses() -> BTreeMap<String, RefOr<Response>> {
    let mut responses = BTreeMap::new();
    for kind in KINDS {
        responses.entry(response_name(kind.status)).or_insert_with(|| {
            let titles: Vec<&str> =
                KINDS.iter().filter(|other| other.status == kind.status).map(|other| other.title).collect();
            let content = ContentBuilder::new()
                .schema(Some(Ref::from_schema_name("Problem")))
                .example(Some(example::problem(kind)))
                .build();
            let response = ResponseBuilder::new()
                .description(format!("{} (problem details)", titles.join("; ")))
                .content("application/problem+json", content)
                .build();
            RefOr::T(response)
        });
    }
    responses
}
