r"""Holes over gRPC: of one drive, or of a file of any length as a stream.

Debian's packages python3-grpcio, python3-protobuf, protobuf-compiler-grpc and
libprotobuf-dev hold all that is needed. At the top of the repository:

    go run -C proto/tools . ../../.protodeps    # the google/*.proto files that the contract imports
    mkdir -p stubs
    protoc -I proto -I .protodeps --python_out=stubs --grpc_out=stubs \
        --plugin=protoc-gen-grpc=/usr/bin/grpc_python_plugin \
        proto/beltspan/v1/*.proto .protodeps/google/*/*.proto
    export PYTHONPATH=stubs
    /usr/bin/python3 api/examples/grpc_check.py center H5M 36 45 178
    /usr/bin/python3 api/examples/grpc_check.py check testdata/demo/design_batch.csv

Ends with 1 if a drive does not fit or the service refuses, with 2 if what is asked
cannot be read. BELTSPAN_ADDR, BELTSPAN_CA_FILE and BELTSPAN_TOKEN tell of another
service. Start it first: go run ./cmd/beltspan serve
"""
import collections
import csv
import itertools
import os
import sys

import grpc
from beltspan.v1 import drive_pb2, drive_pb2_grpc
from google.rpc import error_details_pb2, status_pb2

ADDRESS = os.environ.get("BELTSPAN_ADDR", "127.0.0.1:9017")
COLUMNS = ["id", "section", "driver_tooth_count", "driven_tooth_count", "belt_tooth_count", "center_distance_mm"]
CHUNK = 10


class Unreadable(Exception):
    """What keeps a question from being asked."""


def connect():
    """A channel; with TLS and a token where a service for a team wants them."""
    authorities = os.environ.get("BELTSPAN_CA_FILE")
    if not authorities:
        return grpc.insecure_channel(ADDRESS)
    with open(authorities, "rb") as file:
        return grpc.secure_channel(ADDRESS, grpc.ssl_channel_credentials(file.read()))


def metadata():
    token = os.environ.get("BELTSPAN_TOKEN")
    return [("authorization", "Bearer " + token)] if token else []


def faults(error):
    """What is wrong with each field, or the text of the status."""
    status = status_pb2.Status.FromString(dict(error.trailing_metadata() or ()).get("grpc-status-details-bin", b""))
    bad = error_details_pb2.BadRequest()
    if any(detail.Unpack(bad) for detail in status.details):
        return [violation.description for violation in bad.field_violations]
    return ["%s: %s" % (error.code().name, error.details())]


def drive(section, driver, driven, belt):
    return drive_pb2.Drive(
        section=section,
        driver=drive_pb2.Pulley(tooth_count=int(driver)),
        driven=drive_pb2.Pulley(tooth_count=int(driven)),
        belt_tooth_count=int(belt),
    )


def say(*words):
    """A line at once, since the questions are made in a thread of their own."""
    print(" ".join(map(str, words)) + "\n", end="")


def center(service, *words):
    try:
        question = drive_pb2.SolveCenterDistanceRequest(drive=drive(*words))
    except ValueError as fault:
        raise Unreadable("give teeth as whole numbers: %s" % fault) from None
    answer = service.SolveCenterDistance(question, timeout=10, metadata=metadata())
    print("second axle at x = %r mm" % answer.geometry.center_distance_mm)
    for note in answer.notes:
        print("note:", note.message)
    return 0


def chunks(rows, counts, broken):
    """The questions, made as the service takes them: the file is never in memory."""
    try:
        while chunk := list(itertools.islice(rows, CHUNK)):
            yield question_of(chunk, counts)
    except (UnicodeDecodeError, csv.Error) as fault:
        broken.append(fault)  # this is no thread to raise it in


def question_of(chunk, counts):
    question = drive_pb2.StreamCheckDrivesRequest()
    for row in chunk:
        try:
            question.items.add(
                id=row["id"],
                drive=drive(row["section"], row["driver_tooth_count"], row["driven_tooth_count"], row["belt_tooth_count"]),
                center_distance_mm=float(row["center_distance_mm"]),
            )
        except (TypeError, ValueError) as fault:
            say(row["id"], "UNREADABLE", fault)
            counts["UNREADABLE"] += 1
    return question


def check(service, path):
    counts, broken = collections.Counter(), []
    with open(path, newline="", encoding="utf-8-sig") as file:
        rows = csv.DictReader(file)
        missing = [name for name in COLUMNS if name not in (rows.fieldnames or [])]
        if missing:
            raise Unreadable("the first line has to name these columns too: " + ", ".join(missing))
        for answer in service.StreamCheckDrives(chunks(rows, counts, broken), metadata=metadata()):
            for result in answer.results:
                verdict = drive_pb2.Verdict.Name(result.verdict)[len("VERDICT_"):]
                counts[verdict] += 1
                if verdict == "INVALID":
                    say(result.id, verdict, result.error.message)
                elif verdict == "REJECTED":
                    print("%s %s %+.2f mm: its belt wants %.4f mm"
                          % (result.id, verdict, result.deviation_mm, result.center_distance_mm))
    if broken:
        raise Unreadable(broken[0])
    if not counts:
        raise Unreadable("the file has no rows: nothing was checked")
    print(", ".join("%d %s" % (n, verdict.lower()) for verdict, n in sorted(counts.items())))
    return 0 if counts.keys() <= {"FITS", "MARGINAL"} else 1


def main(words):
    known = {("center", 5): center, ("check", 2): check}
    ask = known.get((words[0] if words else "", len(words)))
    if ask is None:
        print("usage: grpc_check.py center SECTION DRIVER DRIVEN BELT | check FILE.csv", file=sys.stderr)
        return 2
    try:
        with connect() as channel:
            return ask(drive_pb2_grpc.DriveServiceStub(channel), *words[1:])
    except grpc.RpcError as error:
        for text in faults(error):
            print(text, file=sys.stderr)
        return 1
    except (OSError, UnicodeDecodeError, Unreadable) as fault:
        print(fault, file=sys.stderr)
        return 2


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
