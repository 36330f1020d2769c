//! The authorisation table: what every operation answers to everybody.
#![expect(clippy::panic, reason = "a table or a walk that makes no sense is a failure")]

/// Who asks, in the order of the table's columns.
pub(crate) const COLUMNS: [&str; 9] = [
    "nobody",
    "a student who is a member",
    "a student who is not",
    "an instructor who is a member",
    "the instructor who wrote it",
    "an instructor who is not a member",
    "an administrator",
    "an API client with every scope",
    "an API client without scopes",
];

/// One row: the operation, the case, and the status for each of [`COLUMNS`].
///
/// Every member has acknowledged what is approved, so that what decides here is authority and not the gate; the second
/// instructor has acknowledged what is proposed. A batch is its maker's: `own` the student's who is a member,
/// `other's` another student's of the library, `instructor's` the second instructor's. The administrator and the
/// strangers are members of nothing. The API clients are members, and the author answers for them.
const TABLE: &str = "
operation                                  case                  nobody  student     instructor         admin  client
                                                                         memb  strg  memb  auth  strg          all   none
GET    /.well-known/jwks.json              -                     200     200   200   200   200   200    200    200   200
GET    /health/live                        -                     200     200   200   200   200   200    200    200   200
GET    /health/ready                       -                     200     200   200   200   200   200    200    200   200

POST   /v1/sessions                        -                     201     201   201   201   201   201    201    201   201
POST   /v1/sessions/refresh                -                     201     201   201   201   201   201    201    201   201
POST   /v1/one-time-codes/use              -                     204     204   204   204   204   204    204    204   204
GET    /v1/sessions                        -                     401     200   200   200   200   200    200    403   403
DELETE /v1/sessions/current                -                     401     204   204   204   204   204    204    403   403
DELETE /v1/sessions/{id}                   own                   401     204   204   204   204   204    204    403   403
DELETE /v1/sessions/{id}                   other's               401     404   404   404   404   404    404    403   403
GET    /v1/me                              -                     401     200   200   200   200   200    200    200   200
PUT    /v1/me/password                     -                     401     204   204   204   204   204    204    403   403

GET    /v1/people                          -                     401     403   403   200   200   200    200    403   403
GET    /v1/people/{id}                     own                   401     200   200   200   200   200    200    403   403
GET    /v1/people/{id}                     other's               401     404   404   200   200   200    200    403   403
PATCH  /v1/people/{id}                     own                   401     403   403   403   403   403    200    403   403
PATCH  /v1/people/{id}                     other's               401     403   403   403   403   403    200    403   403
POST   /v1/people/{id}/reset               own                   401     403   403   403   403   403    201    403   403
POST   /v1/people/{id}/reset               other's               401     403   403   403   403   403    201    403   403
POST   /v1/invitations                     -                     401     403   403   403   403   403    201    403   403
GET    /v1/api-clients                     -                     401     200   200   200   200   200    200    403   403
POST   /v1/api-clients                     -                     401     403   403   403   403   403    201    403   403
GET    /v1/api-clients/{id}                the author's          401     404   404   404   200   404    200    403   403
DELETE /v1/api-clients/{id}                the author's          401     404   404   404   200   404    200    403   403
GET    /v1/policy                          -                     401     200   200   200   200   200    200    200   200
PUT    /v1/policy                          -                     401     403   403   403   403   403    200    403   403
GET    /v1/events                          everything            401     422   422   422   422   422    200    422   403
GET    /v1/events                          own doings            401     200   200   200   200   200    200    200   403
GET    /v1/events                          other's doings        401     403   403   403   403   403    200    403   403
GET    /v1/events                          draft                 401     404   404   404   200   404    200    404   403
GET    /v1/events                          proposed              401     404   404   200   200   404    200    404   403
GET    /v1/events                          approved              401     200   404   200   200   404    200    200   403
GET    /v1/events                          draft's formula       401     404   404   200   200   404    200    404   403
GET    /v1/events                          library               401     200   404   200   200   404    200    200   403
GET    /v1/events                          own making            401     200   404   200   200   404    200    404   403
GET    /v1/events                          other's making        401     404   404   200   200   404    200    404   403
GET    /v1/events                          client                401     404   404   404   200   404    200    404   403
GET    /v1/security-events                 -                     401     403   403   403   403   403    200    403   403
GET    /v1/materials                       -                     401     200   200   200   200   200    200    200   200
GET    /v1/materials/{id}                  -                     401     200   200   200   200   200    200    200   200
GET    /v1/materials/{id}/entry            -                     401     403   403   200   200   200    200    403   403
GET    /v1/materials.csv                   -                     401     403   403   200   200   200    200    403   403
GET    /v1/amendments                      -                     401     403   403   200   200   200    200    403   403
POST   /v1/amendments                      -                     401     403   403   201   201   201    403    403   403
GET    /v1/amendments/{id}                 awaiting              401     403   403   200   200   200    200    403   403
GET    /v1/amendments/{id}/affected        awaiting              401     403   403   200   200   200    200    403   403
POST   /v1/amendments/{id}/decision        awaiting              401     403   403   200   403   200    403    403   403

POST   /v1/calculations/quantity              -                     401     200   200   200   200   200   200    200   200
POST   /v1/calculations/alcohol               -                     401     200   200   200   200   200   200    200   200
POST   /v1/calculations/strength              -                     401     200   200   200   200   200   200    200   200
POST   /v1/calculations/extraction            -                     401     200   200   200   200   200   200    200   200
POST   /v1/calculations/emulsion              -                     401     200   200   200   200   200   200    200   200
POST   /v1/calculations/weighing              -                     401     200   200   200   200   200   200    200   200
POST   /v1/calculations/skin-limits           -                     401     200   200   200   200   200   200    200   200
POST   /v1/calculations/use-by                -                     401     200   200   200   200   200   200    200   200
POST   /v1/calculations/dose                  -                     401     200   200   200   200   200   200    200   200
POST   /v1/calculations/cost                  -                     401     200   200   200   200   200   200    200   200

GET    /v1/libraries                       -                     401     200   200   200   200   200    200    200   403
POST   /v1/libraries                       -                     401     403   403   201   201   201    403    403   403
GET    /v1/libraries/{id}                  -                     401     200   404   200   200   404    200    200   403
PUT    /v1/libraries/{id}                  -                     401     403   404   200   200   404    200    403   403
GET    /v1/libraries/{id}/members          -                     401     403   404   200   200   404    200    403   403
PUT    /v1/libraries/{id}/members/{holder} -                     401     403   404   204   204   404    204    403   403
DELETE /v1/libraries/{id}/members/{holder} -                     401     403   404   204   204   404    204    403   403
GET    /v1/formulas                        -                     401     200   200   200   200   200    200    200   403
POST   /v1/libraries/{id}/formulas         -                     401     403   404   201   201   404    404    403   403
GET    /v1/formulas/{id}                   draft                 401     404   404   200   200   404    404    404   403
GET    /v1/formulas/{id}                   proposed              401     404   404   200   200   404    404    404   403
GET    /v1/formulas/{id}                   approved              401     200   404   200   200   404    404    200   403
POST   /v1/formulas/{id}/revisions         draft                 401     403   404   409   409   404    404    403   403
POST   /v1/formulas/{id}/revisions         proposed              401     403   404   409   409   404    404    403   403
POST   /v1/formulas/{id}/revisions         approved              401     403   404   201   201   404    404    403   403

GET    /v1/revisions/{id}                  draft                 401     404   404   404   200   404    404    404   403
GET    /v1/revisions/{id}                  proposed              401     404   404   200   200   404    404    404   403
GET    /v1/revisions/{id}                  approved              401     200   404   200   200   404    404    200   403
GET    /v1/revisions/{id}/draft            draft                 401     404   404   404   200   404    404    404   404
GET    /v1/revisions/{id}/draft            proposed              401     404   404   404   409   404    404    404   404
GET    /v1/revisions/{id}/draft            approved              401     403   404   404   409   404    404    403   403
PUT    /v1/revisions/{id}/draft            draft                 401     404   404   404   200   404    404    404   404
PUT    /v1/revisions/{id}/draft            proposed              401     404   404   404   409   404    404    404   404
PUT    /v1/revisions/{id}/draft            approved              401     403   404   404   409   404    404    403   403
GET    /v1/revisions/{id}/draft/evaluation draft                 401     404   404   404   200   404    404    404   404
GET    /v1/revisions/{id}/draft/evaluation proposed              401     404   404   404   409   404    404    404   404
GET    /v1/revisions/{id}/draft/evaluation approved              401     403   404   404   409   404    404    403   403
POST   /v1/revisions/{id}/proposal         draft                 401     404   404   404   200   404    404    404   404
POST   /v1/revisions/{id}/proposal         proposed              401     404   404   403   409   404    404    404   404
POST   /v1/revisions/{id}/proposal         approved              401     403   404   403   409   404    404    403   403
POST   /v1/revisions/{id}/decision         draft                 401     404   404   404   409   404    404    404   404
POST   /v1/revisions/{id}/decision         proposed              401     404   404   200   403   404    404    404   404
POST   /v1/revisions/{id}/decision         approved              401     403   404   409   409   404    404    403   403
POST   /v1/revisions/{id}/withdrawal       draft                 401     404   404   404   409   404    404    404   404
POST   /v1/revisions/{id}/withdrawal       proposed              401     404   404   409   409   404    404    404   404
POST   /v1/revisions/{id}/withdrawal       approved              401     403   404   200   200   404    404    403   403
POST   /v1/revisions/{id}/reinstatement    draft                 401     404   404   404   409   404    404    404   404
POST   /v1/revisions/{id}/reinstatement    proposed              401     404   404   409   409   404    404    404   404
POST   /v1/revisions/{id}/reinstatement    approved              401     403   404   409   409   404    404    403   403
GET    /v1/revisions/{id}/comments         draft                 401     404   404   404   200   404    404    404   404
GET    /v1/revisions/{id}/comments         proposed              401     404   404   200   200   404    404    404   404
GET    /v1/revisions/{id}/comments         approved              401     200   404   200   200   404    404    403   403
POST   /v1/evaluations                     -                     401     200   200   200   200   200    200    200   403

GET    /v1/revisions/{id}/cautions         draft                 401     404   404   404   200   404    404    404   403
GET    /v1/revisions/{id}/cautions         proposed              401     404   404   200   200   404    404    404   403
GET    /v1/revisions/{id}/cautions         approved              401     200   404   200   200   404    404    200   403
GET    /v1/revisions/{id}/cautions/changes draft                 401     404   404   404   409   404    404    404   403
GET    /v1/revisions/{id}/cautions/changes proposed              401     404   404   200   200   404    404    404   403
GET    /v1/revisions/{id}/cautions/changes approved              401     200   404   200   200   404    404    200   403
POST   /v1/revisions/{id}/self-check       draft                 401     404   404   404   200   404    404    403   403
POST   /v1/revisions/{id}/self-check       proposed              401     404   404   200   200   404    404    403   403
POST   /v1/revisions/{id}/self-check       approved              401     200   404   200   200   404    404    403   403
GET    /v1/revisions/{id}/suitability      draft                 401     404   404   404   200   404    404    404   403
GET    /v1/revisions/{id}/suitability      proposed              401     404   404   200   200   404    404    404   403
GET    /v1/revisions/{id}/suitability      approved              401     200   404   200   200   404    404    200   403
GET    /v1/revisions/{id}/label            draft                 401     404   404   404   409   404    404    404   403
GET    /v1/revisions/{id}/label            proposed              401     404   404   200   200   404    404    404   403
GET    /v1/revisions/{id}/label            approved              401     200   404   200   200   404    404    200   403
POST   /v1/revisions/{id}/acknowledgements draft                 401     404   404   404   409   404    404    404   403
POST   /v1/revisions/{id}/acknowledgements proposed              401     404   404   201   201   404    404    404   403
POST   /v1/revisions/{id}/acknowledgements approved              401     201   404   201   201   404    404    201   403
GET    /v1/acknowledgements                -                     401     200   200   200   200   200    200    200   200
GET    /v1/acknowledgements/{id}           the student's         401     200   404   404   404   404    404    404   404
GET    /v1/acknowledgements/{id}           the client's          401     404   404   404   200   404    404    200   404
POST   /v1/acknowledgements/{id}/countersignature the student's  401     403   404   409   409   404    404    403   403
POST   /v1/acknowledgements/{id}/countersignature the client's   401     403   404   409   403   404    404    403   403
GET    /v1/countersignatures/awaited       -                     401     403   403   200   200   200    403    403   403
GET    /v1/revisions/{id}/recipe           draft                 401     404   404   404   409   404    404    404   403
GET    /v1/revisions/{id}/recipe           proposed              401     404   404   200   403   404    404    404   403
GET    /v1/revisions/{id}/recipe           approved              401     200   404   200   200   404    404    200   403
GET    /v1/revisions/{id}/evaluation       draft                 401     404   404   404   409   404    404    404   403
GET    /v1/revisions/{id}/evaluation       proposed              401     404   404   200   403   404    404    404   403
GET    /v1/revisions/{id}/evaluation       approved              401     200   404   200   200   404    404    200   403

GET    /v1/batches                         -                     401     200   200   200   200   200    200    403   403
POST   /v1/batches                         draft                 401     404   404   404   409   404    404    403   403
POST   /v1/batches                         proposed              401     404   404   409   403   404    404    403   403
POST   /v1/batches                         approved              401     201   404   201   201   404    404    403   403
GET    /v1/batches/{id}                    own making            401     200   404   200   200   404    404    403   403
GET    /v1/batches/{id}                    other's making        401     404   404   200   200   404    404    403   403
GET    /v1/batches/{id}                    instructor's making   401     404   404   200   200   404    404    403   403
GET    /v1/batches/{id}/sheet.pdf          own making            401     200   404   200   200   404    404    403   403
GET    /v1/batches/{id}/sheet.pdf          other's making        401     404   404   200   200   404    404    403   403
GET    /v1/batches/{id}/sheet.pdf          instructor's making   401     404   404   200   200   404    404    403   403
GET    /v1/batches/{id}/record.pdf         own making            401     200   404   200   200   404    404    403   403
GET    /v1/batches/{id}/record.pdf         other's making        401     404   404   200   200   404    404    403   403
GET    /v1/batches/{id}/record.pdf         instructor's making   401     404   404   200   200   404    404    403   403
GET    /v1/batches/{id}/record             own making            401     200   404   200   200   404    404    403   403
GET    /v1/batches/{id}/record             other's making        401     404   404   200   200   404    404    403   403
GET    /v1/batches/{id}/record             instructor's making   401     404   404   200   200   404    404    403   403
GET    /v1/batches/{id}/lots               own making            401     200   404   200   200   404    404    403   403
GET    /v1/batches/{id}/lots               other's making        401     404   404   200   200   404    404    403   403
GET    /v1/batches/{id}/lots               instructor's making   401     404   404   200   200   404    404    403   403
GET    /v1/batches/{id}/trace              own making            401     403   403   200   200   404    404    403   403
GET    /v1/batches/{id}/trace              other's making        401     403   403   200   200   404    404    403   403
GET    /v1/batches/{id}/trace              instructor's making   401     403   403   200   200   404    404    403   403
GET    /v1/batches/{id}/reservations       own making            401     200   404   200   200   404    404    403   403
GET    /v1/batches/{id}/reservations       other's making        401     404   404   200   200   404    404    403   403
GET    /v1/batches/{id}/reservations       instructor's making   401     404   404   200   200   404    404    403   403
POST   /v1/batches/{id}/reservations       own planned           401     201   404   403   403   404    404    403   403
POST   /v1/batches/{id}/reservations       own making            401     201   404   403   403   404    404    403   403
POST   /v1/batches/{id}/reservations       own submitted         401     409   404   403   403   404    404    403   403
POST   /v1/batches/{id}/reservations       other's making        401     404   404   403   403   404    404    403   403
POST   /v1/batches/{id}/reservations       instructor's making   401     404   404   201   403   404    404    403   403
DELETE /v1/batches/{id}/reservations       own making            401     204   404   403   403   404    404    403   403
DELETE /v1/batches/{id}/reservations       other's making        401     404   404   403   403   404    404    403   403
DELETE /v1/batches/{id}/reservations       instructor's making   401     404   404   204   403   404    404    403   403
POST   /v1/batches/{id}/made-lots          own making            401     409   404   409   409   404    404    403   403
POST   /v1/batches/{id}/made-lots          own accepted          401     201   404   201   201   404    404    403   403
POST   /v1/batches/{id}/made-lots          other's accepted      401     404   404   201   201   404    404    403   403
POST   /v1/batches/{id}/made-lots          instructor's making   401     404   404   409   409   404    404    403   403
GET    /v1/batches/{id}/jars               own making            401     200   404   200   200   404    404    403   403
GET    /v1/batches/{id}/jars               other's making        401     404   404   200   200   404    404    403   403
GET    /v1/batches/{id}/jars               instructor's making   401     404   404   200   200   404    404    403   403
POST   /v1/batches/{id}/jars               own making            401     409   404   409   409   404    404    403   403
POST   /v1/batches/{id}/jars               own accepted          401     201   404   201   201   404    404    403   403
POST   /v1/batches/{id}/jars               other's accepted      401     404   404   201   201   404    404    403   403
POST   /v1/batches/{id}/jars               instructor's making   401     404   404   409   409   404    404    403   403
GET    /v1/batches/{id}/observations       own filled            401     200   404   200   200   404    404    403   403
GET    /v1/batches/{id}/observations       other's filled        401     404   404   200   200   404    404    403   403
GET    /v1/batches/{id}/observations       instructor's making   401     404   404   200   200   404    404    403   403
POST   /v1/batches/{id}/observations       own making            401     422   404   422   422   404    404    403   403
POST   /v1/batches/{id}/observations       own filled            401     201   404   201   201   404    404    403   403
POST   /v1/batches/{id}/observations       other's filled        401     404   404   201   201   404    404    403   403
POST   /v1/batches/{id}/observations       instructor's filled   401     404   404   201   201   404    404    403   403
POST   /v1/batches/{id}/shortenings        own filled            401     403   404   201   201   404    404    403   403
POST   /v1/batches/{id}/shortenings        other's filled        401     404   404   201   201   404    404    403   403
POST   /v1/batches/{id}/shortenings        instructor's making   401     404   404   422   422   404    404    403   403
GET    /v1/observations                    -                     401     200   200   200   200   200    200    403   403
GET    /v1/batches/{id}/photographs        own making            401     200   404   200   200   404    404    403   403
GET    /v1/batches/{id}/photographs        other's making        401     404   404   200   200   404    404    403   403
GET    /v1/batches/{id}/photographs        instructor's making   401     404   404   200   200   404    404    403   403
POST   /v1/batches/{id}/photographs        own making            401     201   404   403   403   404    404    403   403
POST   /v1/batches/{id}/photographs        own accepted          401     409   404   403   403   404    404    403   403
POST   /v1/batches/{id}/photographs        other's making        401     404   404   403   403   404    404    403   403
POST   /v1/batches/{id}/photographs        instructor's making   401     404   404   201   403   404    404    403   403
GET    /v1/batches/{id}/photographs/{photograph} own making            401     200   404   200   200   404    404    403   403
GET    /v1/batches/{id}/photographs/{photograph} other's making        401     404   404   200   200   404    404    403   403
GET    /v1/batches/{id}/photographs/{photograph} instructor's making   401     404   404   200   200   404    404    403   403
GET    /v1/batches/{id}/photographs/{photograph}/preview own making            401     200   404   200   200   404    404    403   403
GET    /v1/batches/{id}/photographs/{photograph}/preview other's making        401     404   404   200   200   404    404    403   403
GET    /v1/batches/{id}/photographs/{photograph}/preview instructor's making   401     404   404   200   200   404    404    403   403
POST   /v1/batches/{id}/photographs/{photograph}/withdrawal own making            401     201   404   201   201   404    404    403   403
POST   /v1/batches/{id}/photographs/{photograph}/withdrawal own accepted          401     404   404   404   404   404    404    403   403
POST   /v1/batches/{id}/photographs/{photograph}/withdrawal other's making        401     404   404   201   201   404    404    403   403
POST   /v1/batches/{id}/photographs/{photograph}/withdrawal instructor's making   401     404   404   201   201   404    404    403   403
GET    /v1/batches/{id}/release            own accepted          401     403   404   200   200   404    404    403   403
GET    /v1/batches/{id}/release            other's accepted      401     404   404   200   200   404    404    403   403
GET    /v1/batches/{id}/release            instructor's making   401     404   404   200   200   404    404    403   403
POST   /v1/batches/{id}/release            own making            401     403   404   409   409   404    404    403   403
POST   /v1/batches/{id}/release            own accepted          401     403   404   422   422   404    404    403   403
POST   /v1/batches/{id}/release            other's accepted      401     404   404   422   422   404    404    403   403
POST   /v1/batches/{id}/release            instructor's making   401     404   404   403   409   404    404    403   403
POST   /v1/batches/{id}/discard            own accepted          401     403   404   201   201   404    404    403   403
POST   /v1/batches/{id}/discard            other's accepted      401     404   404   201   201   404    404    403   403
POST   /v1/batches/{id}/discard            instructor's making   401     404   404   201   201   404    404    403   403
GET    /v1/batches/{id}/jars/labels.pdf    own making            401     409   404   409   409   404    404    409   403
GET    /v1/batches/{id}/jars/labels.pdf    own filled            401     200   404   200   200   404    404    200   403
GET    /v1/batches/{id}/jars/labels.pdf    other's filled        401     404   404   200   200   404    404    200   403
GET    /v1/batches/{id}/jars/labels.pdf    instructor's filled   401     404   404   200   200   404    404    200   403
GET    /v1/batches/{id}/jars/{number}/label.png own making            401     409   404   409   409   404    404    409   403
GET    /v1/batches/{id}/jars/{number}/label.png own filled            401     200   404   200   200   404    404    200   403
GET    /v1/batches/{id}/jars/{number}/label.png other's filled        401     404   404   200   200   404    404    200   403
GET    /v1/batches/{id}/jars/{number}/label.png instructor's filled   401     404   404   200   200   404    404    200   403
GET    /v1/batches/{id}/jars/leaflet.pdf   own making            401     409   404   409   409   404    404    409   403
GET    /v1/batches/{id}/jars/leaflet.pdf   own filled            401     200   404   200   200   404    404    200   403
GET    /v1/batches/{id}/jars/leaflet.pdf   other's filled        401     404   404   200   200   404    404    200   403
GET    /v1/batches/{id}/jars/leaflet.pdf   instructor's filled   401     404   404   200   200   404    404    200   403
GET    /v1/jars                            -                     401     403   403   200   200   200    403    200   403
GET    /v1/jar-codes/{code}                released              401     403   403   200   200   404    403    200   403
GET    /v1/jars/{id}                       released              401     403   403   200   200   404    403    200   403
POST   /v1/jars/{id}/handing               released              401     403   403   201   201   404    403    403   403
POST   /v1/jars/{id}/decanting             released              401     201   404   201   201   404    404    403   403
POST   /v1/jars/{id}/decanting             handed out            401     409   404   409   409   404    404    403   403
POST   /v1/jars/{id}/sample                released              401     201   404   201   201   404    404    403   403
POST   /v1/jars/{id}/sample                handed out            401     409   404   409   409   404    404    403   403
POST   /v1/jars/{id}/return                handed out            401     403   403   201   201   404    403    403   403
GET    /v1/batches/{id}/label              own making            401     200   404   200   200   404    404    200   403
GET    /v1/batches/{id}/label              other's making        401     404   404   200   200   404    404    200   403
GET    /v1/batches/{id}/label              instructor's making   401     404   404   200   200   404    404    200   403
GET    /v1/batches/{id}/label.pdf          own making            401     200   404   200   200   404    404    200   403
GET    /v1/batches/{id}/label.pdf          other's making        401     404   404   200   200   404    404    200   403
GET    /v1/batches/{id}/label.pdf          instructor's making   401     404   404   200   200   404    404    200   403
GET    /v1/batches/{id}/label.png          own making            401     200   404   200   200   404    404    200   403
GET    /v1/batches/{id}/label.png          other's making        401     404   404   200   200   404    404    200   403
GET    /v1/batches/{id}/label.png          instructor's making   401     404   404   200   200   404    404    200   403
GET    /v1/batches/{id}/leaflet.pdf        own making            401     200   404   200   200   404    404    200   403
GET    /v1/batches/{id}/leaflet.pdf        other's making        401     404   404   200   200   404    404    200   403
GET    /v1/batches/{id}/leaflet.pdf        instructor's making   401     404   404   200   200   404    404    200   403
POST   /v1/batches/{id}/entries            own making            401     201   404   403   403   404    404    403   403
POST   /v1/batches/{id}/entries            other's making        401     404   404   403   403   404    404    403   403
POST   /v1/batches/{id}/entries            instructor's making   401     404   404   201   403   404    404    403   403
POST   /v1/batches/{id}/entries            own submitted         401     409   404   403   403   404    404    403   403
POST   /v1/batches/{id}/checks             own planned           401     201   404   403   403   404    404    403   403
POST   /v1/batches/{id}/checks             own making            401     201   404   403   403   404    404    403   403
POST   /v1/batches/{id}/checks             own submitted         401     409   404   403   403   404    404    403   403
POST   /v1/batches/{id}/checks             other's making        401     404   404   403   403   404    404    403   403
POST   /v1/batches/{id}/checks             instructor's making   401     404   404   201   403   404    404    403   403
GET    /v1/batches/{id}/handovers          own making            401     200   404   200   200   404    404    403   403
GET    /v1/batches/{id}/handovers          other's making        401     404   404   200   200   404    404    403   403
GET    /v1/batches/{id}/handovers          instructor's making   401     404   404   200   200   404    404    403   403
POST   /v1/batches/{id}/handovers          own making            401     201   404   201   201   404    404    403   403
POST   /v1/batches/{id}/handovers          own submitted         401     409   404   409   409   404    404    403   403
POST   /v1/batches/{id}/handovers          other's making        401     404   404   201   201   404    404    403   403
POST   /v1/batches/{id}/handovers          instructor's making   401     404   404   422   422   404    404    403   403
GET    /v1/handovers                       -                     401     200   200   200   200   200    200    403   403
GET    /v1/handovers/{id}                  offered               401     200   404   404   404   404    404    403   403
POST   /v1/handovers/{id}/answer           offered               401     201   404   404   404   404    404    403   403
GET    /v1/batches/{id}/long-work          own making            401     200   404   200   200   404    404    403   403
GET    /v1/batches/{id}/long-work          other's making        401     404   404   200   200   404    404    403   403
GET    /v1/batches/{id}/long-work          instructor's making   401     404   404   200   200   404    404    403   403
POST   /v1/batches/{id}/pauses             own planned           401     409   404   403   403   404    404    403   403
POST   /v1/batches/{id}/pauses             own making            401     201   404   403   403   404    404    403   403
POST   /v1/batches/{id}/pauses             own submitted         401     409   404   403   403   404    404    403   403
POST   /v1/batches/{id}/pauses             other's making        401     404   404   403   403   404    404    403   403
POST   /v1/batches/{id}/pauses             instructor's making   401     404   404   201   403   404    404    403   403
POST   /v1/batches/{id}/resumptions        own making            401     409   404   403   403   404    404    403   403
POST   /v1/batches/{id}/resumptions        own paused            401     201   404   403   403   404    404    403   403
POST   /v1/batches/{id}/resumptions        other's paused        401     404   404   403   403   404    404    403   403
POST   /v1/batches/{id}/resumptions        instructor's paused   401     404   404   201   403   404    404    403   403
POST   /v1/batches/{id}/look-plans         own making            401     201   404   403   403   404    404    403   403
POST   /v1/batches/{id}/look-plans         other's making        401     404   404   403   403   404    404    403   403
POST   /v1/batches/{id}/look-plans         instructor's making   401     404   404   201   403   404    404    403   403
GET    /v1/long-work                       -                     401     200   200   200   200   200    200    403   403
POST   /v1/batches/{id}/hold-releases      own planned           401     403   404   409   409   404    404    403   403
POST   /v1/batches/{id}/hold-releases      own making            401     403   404   422   422   404    404    403   403
POST   /v1/batches/{id}/hold-releases      other's making        401     404   404   422   422   404    404    403   403
POST   /v1/batches/{id}/hold-releases      instructor's making   401     404   404   403   422   404    404    403   403
POST   /v1/batches/{id}/authorisations     own planned           401     403   404   409   409   404    404    403   403
POST   /v1/batches/{id}/authorisations     own making            401     403   404   422   422   404    404    403   403
POST   /v1/batches/{id}/authorisations     other's making        401     404   404   422   422   404    404    403   403
POST   /v1/batches/{id}/authorisations     instructor's making   401     404   404   403   422   404    404    403   403
GET    /v1/batches/{id}/adjustments        own planned           401     409   404   409   409   404    404    403   403
GET    /v1/batches/{id}/adjustments        own making            401     409   404   409   409   404    404    403   403
GET    /v1/batches/{id}/adjustments        other's making        401     404   404   409   409   404    404    403   403
GET    /v1/batches/{id}/adjustments        instructor's making   401     404   404   409   409   404    404    403   403
POST   /v1/batches/{id}/adjustments        own planned           401     409   404   403   403   404    404    403   403
POST   /v1/batches/{id}/adjustments        own making            401     409   404   403   403   404    404    403   403
POST   /v1/batches/{id}/adjustments        other's making        401     404   404   403   403   404    404    403   403
POST   /v1/batches/{id}/adjustments        instructor's making   401     404   404   409   403   404    404    403   403
POST   /v1/batches/{id}/submissions        own planned           401     409   404   403   403   404    404    403   403
POST   /v1/batches/{id}/submissions        own making            401     201   404   403   403   404    404    403   403
POST   /v1/batches/{id}/submissions        other's making        401     404   404   403   403   404    404    403   403
POST   /v1/batches/{id}/submissions        instructor's making   401     404   404   201   403   404    404    403   403
POST   /v1/batches/{id}/reviews            own making            401     403   404   409   409   404    404    403   403
POST   /v1/batches/{id}/reviews            own submitted         401     403   404   201   201   404    404    403   403
POST   /v1/batches/{id}/reviews            other's submitted     401     404   404   201   201   404    404    403   403
POST   /v1/batches/{id}/reviews            instructor's submitted 401    404   404   403   201   404    404    403   403
POST   /v1/batches/{id}/abandonment        own planned           401     200   404   403   403   404    404    403   403
POST   /v1/batches/{id}/abandonment        own making            401     200   404   403   403   404    404    403   403
POST   /v1/batches/{id}/abandonment        own submitted         401     409   404   403   403   404    404    403   403
POST   /v1/batches/{id}/abandonment        other's making        401     404   404   403   403   404    404    403   403
POST   /v1/batches/{id}/abandonment        instructor's making   401     404   404   200   403   404    404    403   403
POST   /v1/lots                            -                     401     403   403   201   201   201    201    403   403
GET    /v1/lots                            -                     401     200   200   200   200   200    200    200   403
GET    /v1/lots/{id}                       received              401     200   200   200   200   200    200    200   403
GET    /v1/lots/{id}/movements             received              401     403   403   200   200   200    200    403   403
POST   /v1/lots/{id}/identity              received              401     403   403   201   201   201    403    403   403
POST   /v1/lots/{id}/identity              usable                401     403   403   409   409   409    403    403   403
POST   /v1/lots/{id}/quarantine            received              401     403   403   409   409   409    409    403   403
POST   /v1/lots/{id}/quarantine            usable                401     403   403   201   201   201    201    403   403
POST   /v1/lots/{id}/discard               received              401     403   403   201   201   201    201    403   403
POST   /v1/lots/{id}/discard               usable                401     403   403   201   201   201    201    403   403
POST   /v1/lots/{id}/counts                received              401     403   403   201   201   201    201    403   403
GET    /v1/lots/{id}/trace                 received              401     403   403   200   200   200    200    403   403
POST   /v1/lots/{id}/counts                usable                401     403   403   201   201   201    201    403   403
POST   /v1/recalls                         received              401     403   403   201   201   201    403    403   403
GET    /v1/recalls                         -                     401     403   403   200   200   200    200    403   403
GET    /v1/recalls/{id}                    recalled              401     403   403   200   200   200    200    403   403
POST   /v1/recalls/{id}/outcomes           recalled              401     403   403   201   201   201    201    403   403
POST   /v1/recalls/{id}/jar-outcomes       called back           401     403   403   201   201   201    201    403   403
POST   /v1/recalls/{id}/close              recalled              401     403   403   201   201   201    403    403   403
POST   /v1/jars/{id}/reactions             released              401     201   404   201   201   404    404    403   403
GET    /v1/reactions                       -                     401     403   403   200   200   200    200    403   403
GET    /v1/reactions/{id}                  reacted               401     403   403   200   200   404    404    403   403
POST   /v1/reactions/{id}/notes            reacted               401     403   403   201   201   404    403    403   403
POST   /v1/reactions/{id}/joining          reacted               401     403   403   201   201   404    403    403   403
POST   /v1/reactions/{id}/conclusion       reacted               401     403   403   201   201   404    403    403   403
POST   /v1/reactions/{id}/erasures         reacted               401     403   403   201   201   404    403    403   403
GET    /v1/stock                           -                     401     403   403   200   200   200    200    403   403
GET    /v1/materials/{id}/threshold        -                     401     403   403   200   200   200    200    403   403
PUT    /v1/materials/{id}/threshold        -                     401     403   403   200   200   200    200    403   403

POST   /v1/cohorts                         -                     401     403   403   201   201   201    403    403   403
GET    /v1/cohorts                         -                     401     200   200   200   200   200    200    403   403
GET    /v1/cohorts/{id}                    -                     401     200   404   200   200   404    200    403   403
PUT    /v1/cohorts/{id}                    -                     401     403   404   200   200   404    200    403   403
GET    /v1/cohorts/{id}/members            -                     401     403   404   200   200   404    200    403   403
POST   /v1/cohorts/{id}/members            -                     401     403   404   201   201   404    201    403   403
DELETE /v1/cohorts/{id}/members/{person}   -                     401     403   404   204   204   404    204    403   403
POST   /v1/cohorts/{id}/class              -                     401     403   404   201   201   404    201    403   403
POST   /v1/cohorts/{id}/codes              -                     401     403   404   201   201   404    201    403   403
GET    /v1/cohorts/{id}/codes              -                     401     403   404   200   200   404    200    403   403
DELETE /v1/cohorts/{id}/codes/{code}       -                     401     403   404   204   204   404    204    403   403
POST   /v1/enrolments                      -                     401     201   201   403   403   403    403    403   403
POST   /v1/cohorts/{id}/questions          -                     401     403   404   201   201   404    404    403   403
GET    /v1/cohorts/{id}/questions          -                     401     403   404   200   200   404    404    403   403
POST   /v1/cohorts/{id}/assignments        -                     401     403   404   201   201   404    404    403   403
GET    /v1/cohorts/{id}/assignments        -                     401     403   404   200   200   404    404    403   403
GET    /v1/assignments                     -                     401     200   200   200   200   200    200    403   403
GET    /v1/assignments/{id}                unpublished           401     404   404   200   200   404    404    403   403
GET    /v1/assignments/{id}                set                   401     200   404   200   200   404    404    403   403
PUT    /v1/assignments/{id}                unpublished           401     404   404   200   200   404    404    403   403
PUT    /v1/assignments/{id}                set                   401     403   404   200   200   404    404    403   403
POST   /v1/assignments/{id}/publication    unpublished           401     404   404   201   201   404    404    403   403
POST   /v1/assignments/{id}/publication    set                   401     403   404   409   409   404    404    403   403
POST   /v1/assignments/{id}/withdrawal     unpublished           401     404   404   201   201   404    404    403   403
POST   /v1/assignments/{id}/withdrawal     set                   401     403   404   201   201   404    404    403   403
GET    /v1/assignments/{id}/students       unpublished           401     404   404   200   200   404    404    403   403
GET    /v1/assignments/{id}/students       set                   401     403   404   200   200   404    404    403   403
GET    /v1/assignments/{id}/students/{person} set                401     403   404   404   404   404    404    403   403
GET    /v1/assignments/{id}/students/{person} begun              401     403   404   200   200   404    404    403   403
POST   /v1/assignments/{id}/questions      unpublished           401     404   404   403   403   404    404    403   403
POST   /v1/assignments/{id}/questions      set                   401     201   404   403   403   404    404    403   403
GET    /v1/assignments/{id}/questions      set                   401     409   404   403   403   404    404    403   403
GET    /v1/assignments/{id}/questions      begun                 401     200   404   403   403   404    404    403   403
POST   /v1/questions/{id}/answers          begun                 401     201   404   404   404   404    404    403   403

GET    /v1/assignments/{id}/work           set                   401     200   404   403   403   404    404    403   403
GET    /v1/assignments/{id}/students/{person}/work set           401     403   404   200   200   404    404    403   403
POST   /v1/assignments/{id}/students/{person}/allowances set     401     403   404   201   201   404    404    403   403
GET    /v1/assignments/{id}/reflection     set                   401     200   404   403   403   404    404    403   403
PUT    /v1/assignments/{id}/reflection     set                   401     409   404   403   403   404    404    403   403
PUT    /v1/assignments/{id}/reflection     practical             401     200   404   403   403   404    404    403   403
POST   /v1/assignments/{id}/submissions    set                   401     409   404   403   403   404    404    403   403
POST   /v1/assignments/{id}/submissions    practical             401     201   404   403   403   404    404    403   403
GET    /v1/submissions                     -                     401     403   403   200   200   200    403    403   403
GET    /v1/submissions/{id}                handed in             401     200   404   200   200   404    404    403   403
GET    /v1/submissions/{id}/notes          handed in             401     403   404   200   200   404    404    403   403
POST   /v1/submissions/{id}/claim          handed in             401     403   404   201   201   404    404    403   403
POST   /v1/submissions/{id}/claim          claimed               401     403   404   409   201   404    404    403   403
DELETE /v1/submissions/{id}/claim          handed in             401     403   404   404   404   404    404    403   403
DELETE /v1/submissions/{id}/claim          claimed               401     403   404   404   204   404    404    403   403
GET    /v1/submissions/{id}/assessment     handed in             401     403   404   200   200   404    404    403   403
GET    /v1/submissions/{id}/marks          handed in             401     200   404   200   200   404    404    403   403
GET    /v1/submissions/{id}/marks          marked                401     200   404   200   200   404    404    403   403
POST   /v1/submissions/{id}/marks          handed in             401     403   404   409   409   404    404    403   403
POST   /v1/submissions/{id}/marks          marked                401     403   404   409   201   404    404    403   403
GET    /v1/cohorts/{id}/grid               -                     401     403   404   200   200   404    404    403   403
GET    /v1/cohorts/{id}/marks.csv          -                     401     403   404   200   200   404    404    403   403
GET    /v1/cohorts/{id}/marks.ndjson       -                     401     403   404   200   200   404    404    403   403
GET    /v1/cohorts/{id}/oneroster.zip      -                     401     403   404   200   200   404    404    403   403
GET    /v1/cohorts/{id}/difficulties       -                     401     403   404   200   200   404    404    403   403
GET    /v1/cohorts/{id}/students/{person}/progress -             401     403   404   200   200   404    404    403   403
GET    /v1/progress                        -                     401     200   200   403   403   403    403    403   403
GET    /v1/cohorts/{id}/charts             -                     401     403   404   200   200   404    404    403   403
GET    /v1/cohorts/{id}/charts/{formula}   -                     401     403   404   200   200   404    404    403   403
GET    /v1/cohorts/{id}/students/{person}/charts -               401     403   404   200   200   404    404    403   403
GET    /v1/competencies                    -                     401     200   200   200   200   200    200    403   403
POST   /v1/competencies                    -                     401     403   403   201   201   201    201    403   403
GET    /v1/progress/competencies           -                     401     200   200   403   403   403    403    403   403
GET    /v1/cohorts/{id}/students/{person}/competencies -         401     403   404   200   200   404    404    403   403
POST   /v1/cohorts/{id}/students/{person}/sign-offs marked       401     403   404   201   201   404    404    403   403
POST   /v1/sign-offs/{id}/revocation       marked                401     403   404   201   201   404    404    403   403
GET    /v1/sign-offs/{id}/credential       marked                401     200   404   404   404   404    404    403   403
GET    /v1/credentials/revoked             -                     200     200   200   200   200   200    200    200   200
GET    /v1/credentials/{id}                marked                200     200   200   200   200   200    200    200   200
GET    /v1/progress/charts                 -                     401     200   200   403   403   403    403    403   403
GET    /v1/progress.ndjson                 -                     401     200   200   403   403   403    403    403   403
GET    /v1/phrases                         -                     401     403   403   200   200   200    403    403   403
POST   /v1/phrases                         -                     401     403   403   201   201   201    403    403   403
DELETE /v1/phrases/{id}                    the author's          401     403   403   404   204   404    403    403   403
GET    /v1/appeals                         -                     401     403   403   200   200   200    403    403   403
GET    /v1/submissions/{id}/appeal         marked                401     200   404   200   200   404    404    403   403
POST   /v1/submissions/{id}/appeal         handed in             401     409   404   403   403   404    404    403   403
POST   /v1/submissions/{id}/appeal         marked                401     201   404   403   403   404    404    403   403
POST   /v1/submissions/{id}/appeal         appealed              401     409   404   403   403   404    404    403   403
POST   /v1/submissions/{id}/appeal/decision marked               401     403   404   404   404   404    404    403   403
POST   /v1/submissions/{id}/appeal/decision appealed             401     403   404   201   403   404    404    403   403
GET    /v1/moderations                     -                     401     403   403   200   200   200    403    403   403
POST   /v1/cohorts/{id}/moderation-shares  -                     401     403   404   201   201   404    404    403   403
GET    /v1/cohorts/{id}/agreement          -                     401     403   404   200   200   404    404    403   403
GET    /v1/cohorts/{id}/moderations        -                     401     403   404   200   200   404    404    403   403
GET    /v1/moderations/{id}/work           drawn                 401     404   404   200   404   404    404    403   403
GET    /v1/moderations/{id}/work           marked twice          401     404   404   409   404   404    404    403   403
GET    /v1/moderations/{id}                drawn                 401     404   404   409   200   404    404    403   403
GET    /v1/moderations/{id}                marked twice          401     404   404   200   200   404    404    403   403
POST   /v1/moderations/{id}/mark           drawn                 401     404   404   201   404   404    404    403   403
POST   /v1/moderations/{id}/mark           marked twice          401     404   404   409   404   404    404    403   403
POST   /v1/moderations/{id}/second-marker  drawn                 401     404   404   409   201   404    404    403   403
POST   /v1/moderations/{id}/second-marker  marked twice          401     404   404   409   409   404    404    403   403
POST   /v1/moderations/{id}/settlement     drawn                 401     404   404   409   409   404    404    403   403
POST   /v1/moderations/{id}/settlement     marked twice          401     404   404   201   403   404    404    403   403
POST   /v1/cohorts/{id}/work-limits        -                     401     201   404   403   403   404    404    403   403
GET    /v1/cohorts/{id}/work-limits        -                     401     200   404   200   200   404    404    403   403
DELETE /v1/cohorts/{id}/work-limits        -                     401     204   404   404   404   404    404    403   403
POST   /v1/relations                       -                     401     403   403   201   201   201    403    403   403
GET    /v1/relations                       -                     401     403   403   200   200   200    403    403   403
";

/// A row of the table, read.
#[derive(Clone, Debug)]
pub(crate) struct Row {
    /// The operation, as "GET /v1/me".
    pub(crate) operation: String,
    /// In what case.
    pub(crate) case: String,
    /// The status for each column.
    pub(crate) expected: Vec<u16>,
}

/// Reads the table. A row that lacks a cell, or has one too many, fails the test.
pub(crate) fn rows() -> Vec<Row> {
    TABLE.lines().skip(3).filter(|line| !line.trim().is_empty()).map(row).collect()
}

fn row(line: &str) -> Row {
    let words: Vec<&str> = line.split_whitespace().collect();
    let is_status = |word: &&&str| word.len() == 3 && word.bytes().all(|byte| byte.is_ascii_digit());
    let cells: Vec<u16> = words
        .iter()
        .rev()
        .take_while(is_status)
        .map(|word| word.parse().unwrap())
        .collect::<Vec<_>>()
        .into_iter()
        .rev()
        .collect();
    assert_eq!(cells.len(), COLUMNS.len(), "a cell is missing, or there is one too many: {line}");
    let named = words.get(..words.len() - cells.len()).unwrap();
    let [method, path, case @ ..] = named else { panic!("no operation: {line}") };
    assert!(!case.is_empty(), "a row names its case, or -: {line}");
    Row { operation: format!("{method} {path}"), case: case.join(" "), expected: cells }
}

/// The cases that an operation must have, by what it is about. A case may go on after these words.
pub(crate) fn cases_needed(operation: &str) -> &'static [&'static str] {
    let path = operation.split_whitespace().nth(1).unwrap_or_default();
    if path.starts_with("/v1/revisions/{id}") || path.starts_with("/v1/formulas/{id}") {
        &["draft", "proposed", "approved"]
    } else if path.starts_with("/v1/batches/{id}") {
        &["own", "other's", "instructor's"]
    } else if path.starts_with("/v1/lots/{id}") {
        &["received"]
    } else if path.starts_with("/v1/assignments/{id}") {
        &["set"]
    } else if path.starts_with("/v1/sessions/{id}") || path.starts_with("/v1/people/{id}") {
        &["own", "other's"]
    } else {
        &[]
    }
}
