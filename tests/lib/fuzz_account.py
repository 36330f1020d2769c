"""Signs in a demo account for the fuzzer and prints its access token.

    fuzz_account.py BASE_URL OPENAPI_FILE DEMO_OUTPUT ROLE

Where one signs in is read from the document itself: the POST whose body is a `SignIn`. The account is read from
what `stillroom demo` printed: a line with the role, the sign-in name and, last, the password.
"""

import json
import sys
import urllib.request


def sign_in_path(document):
    for path, operations in document["paths"].items():
        body = operations.get("post", {}).get("requestBody", {}).get("content", {})
        if body.get("application/json", {}).get("schema", {}).get("$ref") == "#/components/schemas/SignIn":
            return path
    sys.exit("The OpenAPI document has no POST that takes a SignIn.")


def account(demo_output, role):
    for line in demo_output.splitlines():
        words = line.split()
        if role in words and len(words) >= 3:
            names = [word for word in words[:-1] if word != role]
            return {"sign_in_name": names[0], "password": words[-1]}
    sys.exit(f"The demo printed no line with '{role}', a sign-in name and a password.")


def main():
    base_url, openapi_file, demo_output, role = sys.argv[1:]
    with open(openapi_file, encoding="utf-8") as file:
        path = sign_in_path(json.load(file))
    with open(demo_output, encoding="utf-8") as file:
        body = json.dumps(account(file.read(), role)).encode()
    request = urllib.request.Request(base_url + path, body, {"Content-Type": "application/json"})
    # Loopback is never behind a proxy.
    opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))
    with opener.open(request, timeout=30) as response:
        print(json.load(response)["access_token"])


main()
