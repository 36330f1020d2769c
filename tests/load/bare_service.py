"""The bare service that ours is compared with: the same check and the same bytes, and nothing else.

One statement a request proves the session and the grant (ours gathers requests that come together); a verified token is
remembered by its hash; the bytes of a recipe are kept in memory by the digests that name them, and are fetched from our
service when first asked for. It is tuned: prepared statements (asyncpg keeps them), a pool in each worker that resets
nothing between uses (nothing needs it), answers made of ready bytes, no access log, uvloop and httptools. It leaves out
what ours does besides: request ids, security headers, conditional requests, rate limits, API keys, refusing unknown
parameters, logs.

Environment: DATABASE_URL, SOURCE (the address of our service).
"""

import asyncio
import base64
import contextlib
import datetime
import hashlib
import json
import os
import time
import urllib.request
import uuid

import asyncpg
import fastapi
import jwt

SOURCE = os.environ["SOURCE"]
CONNECTIONS_A_WORKER = 8

PROOF = """
    SELECT release_grant.digest, release_grant.caution_digest, (SELECT max(version) FROM policy)
    FROM session LEFT JOIN release_grant
        ON release_grant.holder_id = session.person_id AND release_grant.revision_id = $1
        AND release_grant.purpose = 'make' AND release_grant.valid_until > $2
    WHERE session.id = $3 AND session.person_id = $4 AND session.ended_at IS NULL
        AND session.idle_expires_at > $2 AND session.valid_until > $2
"""

# Loopback is never behind a proxy.
opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))
keys = {}
tokens = {}
recipes = {}
pool = None


def fetch(path, headers):
    with opener.open(urllib.request.Request(SOURCE + path, headers=headers), timeout=30) as response:
        return response.read()


@contextlib.asynccontextmanager
async def lifespan(_):
    global pool
    for key in json.loads(fetch("/.well-known/jwks.json", {}))["keys"]:
        keys[key["kid"]] = jwt.PyJWK.from_dict(key)
    pool = await asyncpg.create_pool(
        os.environ["DATABASE_URL"],
        min_size=CONNECTIONS_A_WORKER,
        max_size=CONNECTIONS_A_WORKER,
        reset=leave_as_it_is,
        server_settings={"role": "stillroom_service"},
    )
    yield
    await pool.close()


async def leave_as_it_is(_):
    """No statement here leaves anything behind, and a round trip for resetting would halve the rate."""


app = fastapi.FastAPI(lifespan=lifespan, openapi_url=None)


def claim(authorization):
    """Session and person of a token, verified when it is first seen."""
    token = authorization.removeprefix("Bearer ")
    name = hashlib.sha256(token.encode()).digest()
    known = tokens.get(name)
    if known is None:
        key = keys[jwt.get_unverified_header(token)["kid"]]
        fields = jwt.decode(token, key, algorithms=["EdDSA"], audience="stillroom-api")
        known = tokens[name] = (uuid.UUID(fields["sid"]), uuid.UUID(fields["sub"]), fields["exp"])
    session, person, until = known
    if until <= time.time():
        raise fastapi.HTTPException(401)
    return session, person


@app.get("/v1/revisions/{id}/recipe")
async def recipe(id: uuid.UUID, request: fastapi.Request):
    authorization = request.headers["authorization"]
    session, person = claim(authorization)
    now = datetime.datetime.now(datetime.timezone.utc)
    row = await pool.fetchrow(PROOF, id, now, session, person)
    if row is None:
        raise fastapi.HTTPException(401)
    if row[0] is None:
        raise fastapi.HTTPException(403)
    names = (row[0], row[1], row[2])
    kept = recipes.get(names)
    if kept is None:
        body = await asyncio.to_thread(fetch, request.url.path, {"Authorization": authorization})
        tag = base64.urlsafe_b64encode(hashlib.sha256(body).digest()).decode().rstrip("=")
        kept = recipes[names] = (body, {"etag": f'"{tag}"', "content-type": "application/json"})
    return fastapi.Response(kept[0], headers=kept[1])


@app.get("/health/ready")
async def ready():
    return fastapi.Response(b"ok")
