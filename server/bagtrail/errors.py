"""Every error a person or a device can meet: one tree, one table of codes, one body.

Pure: domain code raises, one handler (views/failures.py) answers, the command line prints.
The message says what is wrong and where, ``todo`` what to do next, ``details`` the values.
"""

from __future__ import annotations

from typing import Any


class AppError(Exception):
    """An error with a stable code.

    Args:
        message: what is wrong and where, one sentence.
        todo: what to do next, one sentence; the class's own when left out.
        details: values that belong to it, JSON only.
        headers: HTTP headers the reply needs (``Retry-After`` and the like).
        extra: top-level members beside ``error`` (the reset reply of sync carries its proof there).
    """

    code = "internal"
    status = 500
    retry_s = 0  # what ``Retry-After`` says where the headers given do not; 0 for no such header
    todo = "Try again; if it happens again, send the server's log to whoever looks after it."
    doc = "Something broke inside the server; nothing was changed."

    def __init__(
        self,
        message: str = "",
        todo: str = "",
        details: dict[str, Any] | None = None,
        headers: dict[str, str] | None = None,
        extra: dict[str, Any] | None = None,
    ) -> None:
        self.message = message or self.doc
        self.todo = todo or type(self).todo
        self.details = details or {}
        self.headers = headers or {}
        self.extra = extra or {}
        super().__init__(self.message)


class BadRequest(AppError):
    code, status = "bad_request", 400
    todo = "Check the request against /api/openapi.json."
    doc = "The request cannot be read."


class BadFields(AppError):
    code, status = "bad_fields", 422
    todo = "Correct the fields named in details and send it again."
    doc = "Some fields of the request are missing, unknown or out of bounds."


class BadCode(AppError):
    code, status = "bad_code", 422
    todo = "Type the nine symbols under the square again, or scan it."
    doc = "A code of a tag does not check."


class BadLabel(AppError):
    code, status = "bad_label", 422
    todo = "Correct the label named in details."
    doc = "A label cannot be printed as asked."


class WrongFarm(AppError):
    code, status = "wrong_farm", 409
    todo = "Connect to your own farm's server; nothing was taken over."
    doc = "The device belongs to another farm than this server."


class NoDevice(AppError):
    code, status = "no_device", 401
    todo = "Pair this device: ask an owner or manager for a new one-time code."
    doc = "The request carries no device key, or one that is not of this farm."


class Revoked(AppError):
    code, status = "revoked", 403
    todo = "Ask the owner to pair this device again; what waits on it is kept."
    doc = "This device's key was taken back, or it has not been confirmed after a restore."


class Unconfirmed(AppError):
    code, status = "unconfirmed", 403
    todo = (
        "The owner confirms the devices on the farm's computer, by `bagtrail devices --confirm`,"
        " or on a device that was paired since."
    )
    doc = "The farm's log was put back, and the owner has not confirmed this device since."


class NotAllowed(AppError):
    code, status = "not_allowed", 403
    todo = "Ask an owner or manager to do it."
    doc = "The role of this device does not allow this."


class PairingRefused(AppError):
    code, status = "pairing_refused", 403
    todo = "Check the eight symbols, or ask for a new code: codes work once, for 15 minutes."
    doc = "The one-time code is wrong, used or expired."


class TooManyTries(AppError):
    code, status = "too_many_tries", 429
    todo = "Wait a few minutes, then try again with a new code."
    doc = "Too many wrong pairing codes came in a short time."


class PinRefused(AppError):
    code, status = "pin_refused", 403
    todo = "Type the PIN again; a forgotten one is replaced by the owner or a manager."
    doc = "The PIN is not that person's, or the person has none."


class PinWait(AppError):
    code, status = "pin_wait", 429
    todo = "Wait for as long as Retry-After says, or ask the owner for a new PIN."
    doc = "Too many wrong PINs were typed."


class TooFast(AppError):
    code, status = "too_fast", 429
    retry_s = 2
    todo = "Wait for as long as Retry-After says; what waits on the device is kept."
    doc = "This device sends more requests than the server takes from one."


class NotFound(AppError):
    code, status = "not_found", 404
    todo = "Check the address or the code."
    doc = "There is nothing at this address, or no such code on this farm."


class MethodRefused(AppError):
    code, status = "method_refused", 405
    todo = "Use one of the methods named in details."
    doc = "The address exists but not for this method."


class WrongHost(AppError):
    code, status = "wrong_host", 421
    todo = "Open the farm by its own address, or name this one in BAGTRAIL_HOSTS."
    doc = "This server does not answer to the name it was called by."


class NotServed(AppError):
    code, status = "not_served", 409
    todo = "Start the server with --lan: it then makes the farm's own certificate."
    doc = "Phones are not served with the farm's own certificate."


class WrongLog(AppError):
    code, status = "wrong_log", 409
    todo = "Offer every kept record again and pull from the start; nothing is lost."
    doc = "What this device was shown is not on this log: it was put back or replaced."


class TooBig(AppError):
    code, status = "too_big", 413
    todo = "Send fewer records at a time."
    doc = "The body of the request is larger than the server takes."


class BadPhoto(AppError):
    code, status = "bad_photo", 422
    todo = "Send it again from the start; if it is refused again, take the picture anew."
    doc = "What was sent as a photograph is no plain JPEG, or not what its name says."


class PhotosFull(AppError):
    code, status = "photos_full", 413
    todo = "Keep it on the phone; give the farm's computer more room, or raise BAGTRAIL_PHOTOS_GB."
    doc = "There is no room for more photographs; records are taken as ever."


class BadLog(AppError):
    code, status = "bad_log", 422
    todo = "Choose the columns and units by hand, or export the log as CSV and send that."
    doc = "What was sent is no temperature log that can be read; the details say why."


class LogsFull(AppError):
    code, status = "logs_full", 413
    todo = "Keep the file; give the farm's computer more room."
    doc = "There is no room for more temperature logs; records are taken as ever."


class WrongType(AppError):
    code, status = "wrong_type", 415
    todo = "Send application/json, plain or with Content-Encoding: gzip."
    doc = "The body is of a type or encoding that the server does not read."


class Busy(AppError):
    code, status = "busy", 503
    retry_s = 2
    todo = "Keep what waits and try again in a few seconds."
    doc = "The database is busy or cannot be written at this moment; nothing was stored."


class Replica(AppError):
    code, status = "replica", 503
    retry_s = 30
    todo = "Point BAGTRAIL_DATABASE at the primary; a replica may show commits in another order."
    doc = "The database of this server only follows another one; the log is not read from it."


class BadBackup(AppError):
    code, status = "bad_backup", 500
    todo = "Take an older backup; `bagtrail verify FILE` tells which are sound."
    doc = "A backup is damaged, of another farm, or not of this log."


class BadSheet(AppError):
    code, status = "bad_sheet", 500
    todo = "Type the groups of the recovery sheet again; the last symbol of a group checks it."
    doc = "The recovery key does not check, or is not the one of this backup."


class BadSetting(AppError):
    code, status = "bad_setting", 500
    todo = "Correct the setting; `bagtrail --help` and DEVELOPERS.md name them."
    doc = "A setting of the server has a value that cannot be used."


class BadData(AppError):
    code, status = "bad_data", 500
    todo = "Start with another data folder, or put the named file back from a backup."
    doc = "A file in the data folder is missing, damaged or from a newer version."


def _tree(base: type[AppError]) -> list[type[AppError]]:
    found: list[type[AppError]] = []
    for child in base.__subclasses__():
        found += [child, *_tree(child)]
    return found


def codes() -> dict[str, type[AppError]]:
    """Returns every code with its class, sorted by code; DEVELOPERS.md lists them."""
    found: list[type[AppError]] = [AppError, *_tree(AppError)]
    return {c.code: c for c in sorted(found, key=lambda c: c.code)}


def by_status(status: int) -> type[AppError]:
    """Returns the class that speaks for an HTTP status no domain code raised."""
    table: dict[int, type[AppError]] = {
        400: BadRequest, 401: NoDevice, 403: NotAllowed, 404: NotFound, 405: MethodRefused,
        406: WrongType, 409: WrongLog, 411: BadRequest, 413: TooBig, 415: WrongType,
        422: BadFields, 429: TooFast, 503: Busy,
    }  # fmt: skip
    return table.get(status, BadRequest if 400 <= status < 500 else AppError)


def body(error: AppError) -> dict[str, Any]:
    """Returns the one shape in which every error leaves the server."""
    return {
        **error.extra,
        "error": {
            "code": error.code,
            "message": error.message,
            "todo": error.todo,
            "details": error.details,
        },
    }
