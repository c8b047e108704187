"""`nightstoke firing`: begin, end or list firings; the running service does the first two."""

import argparse
import json
import sys
import urllib.error
import urllib.request
from datetime import UTC, datetime
from http.client import HTTPException
from pathlib import Path

from monitor.address import Address, read_address
from monitor.exits import DONE, NOT_AVAILABLE, CommandError
from monitor.store.errors import StoreError
from monitor.store.opening import open_reader
from monitor.tls import trust_of

ANSWER_LIMIT_S = 10.0


def run(options: argparse.Namespace) -> int:
    """Do what was asked with the firings of a data directory."""
    directory = Path(options.data)
    if options.action == "list":
        _list(directory)
        return DONE
    firing = _ask_service(directory, options.action)
    word = "begun" if options.action == "start" else "ended"
    print(f"firing {firing} {word}")
    return DONE


def _list(directory: Path) -> None:
    try:
        reader = open_reader(directory)
        try:
            rows = [(f.id, f.begun, f.ended, reader.scan_count(f.id)) for f in reader.firings()]
        finally:
            reader.close()
    except StoreError as error:
        raise CommandError(NOT_AVAILABLE, str(error)) from error
    for firing, begun, ended, scans in rows:
        end = "open" if ended is None else f"to {_utc(ended)}"
        print(f"{firing}  {_utc(begun)} {end}  {scans} scans")
    if not rows:
        print(f"no firing in {directory} yet", file=sys.stderr)


def _utc(time: float) -> str:
    return datetime.fromtimestamp(time, UTC).strftime("%Y-%m-%d %H:%M UTC")


def _ask_service(directory: Path, action: str) -> str:
    address = read_address(directory)
    if address is None:
        raise CommandError(
            NOT_AVAILABLE, f"no service runs on {directory}; start it with 'nightstoke serve --data {directory}'"
        )
    url = address.url
    request = urllib.request.Request(f"{url}api/firing/{action}", data=b"", method="POST")  # noqa: S310
    try:
        with _opener(address).open(request, timeout=ANSWER_LIMIT_S) as answer:
            return str(json.load(answer)["id"])
    except urllib.error.HTTPError as error:
        raise CommandError(NOT_AVAILABLE, f"the service at {url} refused: {_reason(error)}") from error
    except (OSError, HTTPException, ValueError, KeyError, TypeError) as error:
        raise CommandError(
            NOT_AVAILABLE, f"the service at {url} does not answer; is it running? 'nightstoke serve' starts it"
        ) from error


def _opener(address: Address) -> urllib.request.OpenerDirector:
    """Return what opens the service's address: no proxy on the way, and its own certificate trusted."""
    direct = urllib.request.ProxyHandler({})
    if address.certificate is None:
        return urllib.request.build_opener(direct)
    return urllib.request.build_opener(direct, urllib.request.HTTPSHandler(context=trust_of(address.certificate)))


def _reason(error: urllib.error.HTTPError) -> str:
    with error:
        try:
            return str(json.load(error)["detail"])
        except (ValueError, KeyError, TypeError):
            return error.reason
