"""Checks the published OpenAPI document against the specification, and every example in it against its schema.

    openapi_check.py OPENAPI_FILE

Prints what it checked, or each fault, and ends with an error when there is one.
"""

import json
import sys

from jsonschema import Draft202012Validator
from openapi_spec_validator import OpenAPIV31SpecValidator
from referencing import Registry, Resource
from referencing.jsonschema import DRAFT202012

BASE = "urn:stillroom"


def resolved(document, part):
    """A part of the document, where it is a reference what that leads to."""
    reference = part.get("$ref")
    if reference is None:
        return part
    for name in reference.removeprefix("#/").split("/"):
        document = document[name.replace("~1", "/").replace("~0", "~")]
    return document


def contents(document):
    """Every body of a request or an answer: where it stands, as what it is sent, and its media type object."""
    for path, operations in document["paths"].items():
        for method, operation in operations.items():
            at = f"{method} {path}"
            body = resolved(document, operation.get("requestBody", {}))
            for kind, content in body.get("content", {}).items():
                yield f"{at}, request", kind, content
            for status, response in operation["responses"].items():
                for kind, content in resolved(document, response).get("content", {}).items():
                    yield f"{at}, {status}", kind, content


def examples(content):
    """Every example of a media type object."""
    if "example" in content:
        yield content["example"]
    for example in content.get("examples", {}).values():
        if "value" in example:
            yield example["value"]


def rebased(value):
    """The same with every reference leading into the whole document, so that a part of it can stand alone."""
    if isinstance(value, dict):
        return {
            key: BASE + inner if key == "$ref" and isinstance(inner, str) else rebased(inner)
            for key, inner in value.items()
        }
    return [rebased(inner) for inner in value] if isinstance(value, list) else value


def main():
    with open(sys.argv[1], encoding="utf-8") as file:
        document = json.load(file)
    faults = [f"document: {error.message}" for error in OpenAPIV31SpecValidator(document).iter_errors()]
    registry = Registry().with_resource(BASE, Resource.from_contents(document, default_specification=DRAFT202012))
    answers = requests = 0
    for at, kind, content in contents(document):
        schema = content.get("schema")
        if schema is None:
            continue
        validator = Draft202012Validator(
            rebased(schema), registry=registry, format_checker=Draft202012Validator.FORMAT_CHECKER
        )
        for example in examples(content):
            if at.endswith("request"):
                requests += 1
            else:
                answers += 1
            faults += [
                f"{at} as {kind}, example{''.join(f'/{part}' for part in error.absolute_path)}: {error.message}"
                for error in validator.iter_errors(example)
            ]
    if answers < 100 or requests < 30:
        faults.append(f"only {answers} examples of answers and {requests} of requests were found")
    for fault in faults:
        print(fault)
    print(f"{answers} examples of answers and {requests} of requests checked, {len(faults)} faults")
    sys.exit(1 if faults else 0)


main()
