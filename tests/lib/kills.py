"""Writes as several people do, kills the service and its Postgres in the middle, and proves that nothing that was
acknowledged is lost. `tests/kills` calls it and says where everything is.

Every writer sends creating requests with an Idempotency-Key and repeats each with the same key until it is answered. A
write counts as acknowledged when its 201 has been read. At the end each of them must be readable with what was written,
once and in the order of writing; its key must answer with the same thing; and `stillroom journal verify` must hold.
"""

import argparse
import http.client
import json
import os
import random
import signal
import subprocess
import sys
import threading
import time

WRITERS = (("student", 2), ("instructor", 2))
ENTRIES_IN_A_BATCH = 12
# Nothing here takes as long as this, however slow the machine: who waits longer waits in vain.
PATIENCE = 90


class Lost(Exception):
    """Something that was acknowledged is not there, or something did not come back."""


def made_by(answer):
    """The id of what a creating request made: of the entry, where it is answered with what follows from it."""
    return answer.get("entry", answer)["id"]


def accounts(path, role):
    """The sign-in names and passwords of a role, as `stillroom demo` printed them."""
    with open(path, encoding="utf-8") as file:
        lines = [line.split() for line in file]
    return [
        ([word for word in words[:-1] if word != role][0], words[-1])
        for words in lines
        if role in words and len(words) >= 3
    ]


class Caller:
    """Somebody who is signed in, and signs in again when the token has run out."""

    def __init__(self, address, account):
        self.address, self.account, self.token = address, account, None

    def send(self, method, path, body=None, key=None):
        """One request. Answers status and body, or raises OSError or HTTPException when no answer came."""
        headers = {"Content-Type": "application/json"}
        if self.token:
            headers["Authorization"] = f"Bearer {self.token}"
        if key:
            headers["Idempotency-Key"] = key
        connection = http.client.HTTPConnection(self.address, timeout=30)
        try:
            connection.request(method, path, None if body is None else json.dumps(body), headers)
            response = connection.getresponse()
            text = response.read()
            return response.status, json.loads(text) if text else None
        finally:
            connection.close()

    def until_answered(self, method, path, body=None, key=None):
        """Sends until there is an answer that is none of 'send it again'."""
        begun = time.monotonic()
        while time.monotonic() - begun < PATIENCE:
            try:
                if self.token is None:
                    self.sign_in()
                status, answer = self.send(method, path, body, key)
            except (OSError, http.client.HTTPException, ValueError):
                time.sleep(0.02)
                continue
            if status == 401:
                self.token = None
            elif status == 503 or (status == 409 and answer["type"] == "/problems/request-in-flight"):
                time.sleep(0.02)
            else:
                return status, answer
        raise Lost(f"{method} {path} is not answered any more")

    def sign_in(self):
        name, password = self.account
        status, answer = self.send("POST", "/v1/sessions", {"sign_in_name": name, "password": password})
        if status == 201:
            self.token = answer["access_token"]
        elif status == 503:
            raise OSError("busy")
        else:
            raise Lost(f"{name} cannot sign in: {status} {answer}")

    def expect(self, status, method, path, body=None, key=None):
        found, answer = self.until_answered(method, path, body, key)
        if found != status:
            raise Lost(f"{method} {path} was answered {found}: {json.dumps(answer)[:400]}")
        return answer


class Writer(threading.Thread):
    """One person who writes until told to stop."""

    def __init__(self, caller, name, begun, stop):
        super().__init__(daemon=True)
        self.caller, self.name, self.begun, self.stop = caller, name, begun, stop
        self.count, self.acknowledged, self.failed = 0, [], None

    def create(self, path, body):
        """Creates once, and notes what was acknowledged."""
        key = f"{self.begun}-{self.name}-{self.count}"
        self.count += 1
        answer = self.caller.expect(201, "POST", path, body, key)
        self.acknowledged.append((path, key, body, made_by(answer)))
        return answer

    def run(self):
        try:
            while not self.stop.is_set():
                self.work()
        except Exception as error:  # pylint: disable=broad-except
            self.failed = error

    def work(self):
        raise NotImplementedError


class Student(Writer):
    """Makes batches, writes down what there is to see, and weighs from a lot that others draw from too."""

    def __init__(self, *arguments):
        super().__init__(*arguments)
        self.revision, self.notes, self.weighed, self.shelf = None, {}, {}, None

    def work(self):
        if self.revision is None:
            self.revision = released(self.caller)
        batch = self.create("/v1/batches", {"revision": self.revision})["id"]
        for number in range(ENTRIES_IN_A_BATCH):
            if self.stop.is_set():
                return
            note = f"Look {number} of {batch}"
            self.create(f"/v1/batches/{batch}/entries", {"kind": "observation", "note": note})
            self.notes.setdefault(batch, []).append(note)
            if self.shelf and self.shelf.revision == self.revision:
                weighing = {"kind": "weighing", "line": self.shelf.line, "lot_id": self.shelf.lot}
                self.create(f"/v1/batches/{batch}/entries", {**weighing, "quantity": "1 g", "reason_later": True})
                self.weighed[batch] = self.weighed.get(batch, 0) + 1

    def missing(self):
        """What is not as it was acknowledged."""
        for batch, notes in self.notes.items():
            entries = self.caller.expect(200, "GET", f"/v1/batches/{batch}")["entries"]
            kept = [entry["note"] for entry in entries if entry["kind"] == "observation"]
            # One more may have been written whose answer never came.
            if kept[: len(notes)] != notes or len(kept) > len(notes) + 1:
                yield f"batch {batch} holds {kept} and not {notes}"
            drawn = sum(1 for entry in entries if entry["kind"] == "weighing")
            if not self.weighed.get(batch, 0) <= drawn <= self.weighed.get(batch, 0) + 1:
                yield f"batch {batch} holds {drawn} weighings and not {self.weighed.get(batch, 0)}"
            if self.shelf:
                self.shelf.drawn += drawn


class Instructor(Writer):
    """Makes libraries, each with a formula."""

    def __init__(self, *arguments):
        super().__init__(*arguments)
        self.made = []

    def work(self):
        name = f"Library {self.name} {self.count}"
        library = self.create("/v1/libraries", {"name": name})["id"]
        self.made.append((f"/v1/libraries/{library}", "name", name))
        content = {
            "title": f"Salve {self.count}",
            "preparation": "salve",
            "route": "on intact skin, leave-on",
            "regime": "teaching_only",
            "phases": [{"name": "oil phase", "lines": [{"material": "beeswax", "amount": "20 g"}]}],
            "method": [{"do": "Melt the wax"}],
        }
        formula = self.create(f"/v1/libraries/{library}/formulas", {"content": content})["id"]
        self.made.append((f"/v1/formulas/{formula}", "title", content["title"]))

    def missing(self):
        """What is not as it was acknowledged."""
        for path, field, value in self.made:
            status, found = self.caller.until_answered("GET", path)
            if status != 200 or found.get(field) != value:
                yield f"{path} is answered {status}, not {value!r}"


class Shelf:
    """A lot that every student weighs from, and what they drew from it, in g."""

    LEAST = 1_000_000

    def __init__(self, instructor, student):
        self.instructor, self.revision, self.drawn = instructor, released(student), 0
        recipe = student.expect(200, "GET", f"/v1/revisions/{self.revision}/recipe")
        lines = [line for phase in recipe["phases"] for line in phase["lines"] if "nested_revision" not in line]
        for line in lines:
            lot = {"material": line["name"], "supplier": "A mill", "supplier_lot": "K-1", "amount": f"{self.LEAST} g"}
            status, made = instructor.until_answered("POST", "/v1/lots", lot, f"lot-{line['line']}")
            if status != 201:
                continue
            check = {"confirmed": True, "organoleptic": "As it should be."}
            path = f"/v1/lots/{made['id']}/identity"
            # A plant asks for more than that; another line will do.
            if instructor.until_answered("POST", path, check, f"identity-{line['line']}")[0] == 201:
                self.line, self.lot = line["line"], made["id"]
                return
        raise Lost("no line of the recipe can be weighed from a lot")

    def missing(self):
        """Whether the lot holds what it must, after every record was counted."""
        lot = self.instructor.expect(200, "GET", f"/v1/lots/{self.lot}")
        if float(lot["on_hand_grams"]) != self.LEAST - self.drawn:
            yield f"the lot holds {lot['on_hand_grams']} g after {self.drawn} g were drawn from {self.LEAST} g"
        if self.drawn == 0:
            yield "nobody drew anything from the lot"


def released(caller):
    """A revision whose cautions this person has acknowledged."""
    formulas = caller.expect(200, "GET", "/v1/formulas?limit=50")["items"]
    for revision in [formula["approved_revision"] for formula in formulas if formula.get("approved_revision")]:
        cautions = caller.expect(200, "GET", f"/v1/revisions/{revision}/cautions")
        own = [one["key"] for one in cautions["cautions"] if one["level"] == "contraindication"]
        body = {"caution_set": cautions["digest"], "contraindications": own}
        status, _ = caller.until_answered(
            "POST", f"/v1/revisions/{revision}/acknowledgements", body, f"open-{revision}"
        )
        if status == 201 and caller.until_answered("GET", f"/v1/revisions/{revision}/recipe")[0] == 200:
            return revision
    raise Lost("no recipe opens for the student")


class House:
    """The service and its Postgres, and the ways in which they die."""

    def __init__(self, arguments):
        self.arguments, self.service = arguments, None

    def start_service(self):
        with open(self.arguments.log, "ab") as log:
            self.service = subprocess.Popen([self.arguments.binary, "serve"], stdout=log, stderr=log)
        begun = time.monotonic()
        while time.monotonic() - begun < PATIENCE:
            if self.service.poll() is not None:
                raise Lost(f"the service does not start again; see {self.arguments.log}")
            try:
                if Caller(self.arguments.address, None).send("GET", "/health/ready")[0] == 200:
                    return
            except (OSError, http.client.HTTPException):
                pass
            time.sleep(0.02)
        raise Lost("the service does not get ready again")

    def kill_service(self):
        self.service.send_signal(signal.SIGKILL)
        self.service.wait()
        self.start_service()

    def stop_postgres(self):
        """At once, without a checkpoint: it recovers from its log."""
        self.run("stop_postgres")
        self.run("start_postgres")

    def kill_postgres(self):
        """The postmaster itself, so that its children find themselves alone."""
        with open(self.arguments.postmaster, encoding="utf-8") as file:
            postmaster = int(file.readline())
        children = children_of(postmaster)
        os.kill(postmaster, signal.SIGKILL)
        begun = time.monotonic()
        while any(os.path.exists(f"/proc/{one}") for one in children):
            if time.monotonic() - begun > PATIENCE:
                raise Lost("processes of the killed Postgres stay")
            time.sleep(0.02)
        os.remove(self.arguments.postmaster)
        self.run("start_postgres")

    def kill_both(self):
        self.service.send_signal(signal.SIGKILL)
        self.service.wait()
        self.stop_postgres()
        self.start_service()

    def run(self, program):
        subprocess.run([os.path.join(self.arguments.programs, program)], check=True)

    def end(self):
        if self.service and self.service.poll() is None:
            self.service.terminate()
            self.service.wait()


def children_of(parent):
    """The processes that a process started."""
    found = []
    for pid in filter(str.isdigit, os.listdir("/proc")):
        try:
            with open(f"/proc/{pid}/stat", encoding="utf-8") as file:
                if int(file.read().rsplit(")", 1)[1].split()[1]) == parent:
                    found.append(int(pid))
        except (OSError, ValueError):
            pass
    return found


def gather(arguments, stop):
    """The writers, several for each account."""
    writers = []
    for role, each in WRITERS:
        kind = Student if role == "student" else Instructor
        for account in accounts(arguments.accounts, role):
            for number in range(each):
                caller = Caller(arguments.address, account)
                writers.append(kind(caller, f"{account[0]}-{number}", arguments.seed, stop))
    return writers


def kill(arguments, house, writers, chance):
    """Kills so often, each time when there has been progress, at a point that chance chooses."""
    ways = [house.kill_service] * 12 + [house.stop_postgres] * 4 + [house.kill_postgres] * 2 + [house.kill_both] * 2
    counts = {}
    for _ in range(arguments.kills):
        wanted = sum(len(one.acknowledged) for one in writers) + chance.randint(5, 60)
        begun = time.monotonic()
        while sum(len(one.acknowledged) for one in writers) < wanted:
            failed = next((one.failed for one in writers if one.failed), None)
            if failed or time.monotonic() - begun > PATIENCE:
                raise failed or Lost("there is no progress any more")
            time.sleep(0.002)
        time.sleep(chance.uniform(0, 0.03))
        way = chance.choice(ways)
        counts[way.__name__] = counts.get(way.__name__, 0) + 1
        way()
    return counts


def faults(arguments, writers):
    """Everything that is not as it was acknowledged."""
    for writer in writers:
        yield from writer.missing()
        for path, key, body, made in writer.acknowledged:
            status, answer = writer.caller.until_answered("POST", path, body, key)
            if status != 201 or made_by(answer) != made:
                yield f"the key {key} of {path} made {made} and now answers {status} {answer.get('id')}"
    verified = subprocess.run([arguments.binary, "journal", "verify"], capture_output=True, text=True, check=False)
    if verified.returncode != 0:
        yield f"the journal does not hold: {verified.stdout} {verified.stderr}"


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    for name in ("binary", "address", "accounts", "programs", "postmaster", "log"):
        parser.add_argument(f"--{name}", required=True)
    parser.add_argument("--kills", type=int, required=True)
    parser.add_argument("--seed", required=True)
    arguments = parser.parse_args()
    print(f"{arguments.kills} kills. Again with the same choices: KILLS_SEED={arguments.seed}", flush=True)
    house, stop = House(arguments), threading.Event()
    found = []
    try:
        house.start_service()
        writers = gather(arguments, stop)
        student, instructor = (next(one.caller for one in writers if isinstance(one, kind)) for kind in (Student, Instructor))
        shelf = Shelf(instructor, student)
        for writer in writers:
            writer.shelf = shelf
        for writer in writers:
            writer.start()
        counts = kill(arguments, house, writers, random.Random(arguments.seed))
        stop.set()
        for writer in writers:
            writer.join(PATIENCE)
            if writer.failed or writer.is_alive():
                raise writer.failed or Lost(f"{writer.name} does not come to an end")
        found = [*faults(arguments, writers), *shelf.missing()]
        total = sum(len(writer.acknowledged) for writer in writers)
        print(", ".join(f"{name.replace('_', ' ')} {count}" for name, count in sorted(counts.items())))
        print(f"{total} acknowledged writes of {len(writers)} writers, {len(found)} faults")
    except Lost as error:
        found.append(str(error))
    finally:
        stop.set()
        house.end()
    for fault in found:
        print(fault)
    sys.exit(1 if found else 0)


main()
