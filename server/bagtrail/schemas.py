"""marshmallow schemas: one a kind, made from the catalogue, and those of requests and replies.

The schema of a kind says in OpenAPI's words what ``catalogue.check_fields`` tests; a test holds
them together. Whole numbers are strict (5.0, "5" and true are refused) and unknown fields raise.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from marshmallow import EXCLUDE, RAISE, Schema, ValidationError, fields, validate

from .catalogue import KINDS, Field, Kind
from .catalogue import model as m
from .catalogue.check import _fits  # the one test of a field; the catalogue shows it to nobody else
from .trade import csvlayout

AnyField = fields.Field[Any]

CODE_PATTERN = "^[BGPSHMKWX][0-9A-HJKMNP-TV-Z]{8}$"
PROOF = re.compile(r"^(e[0-9a-z]{11}\.[0-9]{1,15}\.[0-9a-f]{0,32})?$")
PLAIN = re.compile(r"^[^\u0000-\u001f\u007f]*$")
MOST_LOG = 64 << 20  # bytes; see trade/csvlog.py
MOST_PHOTO = 2 << 20  # bytes; 1,600 px of a good JPEG are about 0.5 MB
MAX_PIECE = 64 * 1024  # longer texts than a record may have still get their own answer, ``big``


class Exactly(validate.Regexp):
    """A pattern that fits the whole value; Python's own ``$`` would let a line break pass."""

    def __call__(self, value: Any) -> Any:
        if self.regex.fullmatch(value) is None:
            raise ValidationError(self.error or self.default_message)
        return value


class Whole(fields.Integer):
    """A whole number; nothing that merely looks like one."""

    def __init__(self, least: int = 0, most: int = m.MAX_SAFE, **more: Any) -> None:
        super().__init__(strict=True, validate=validate.Range(least, most), **more)


class Flag(fields.Boolean):
    """true or false; not 1, not "yes"."""

    def _deserialize(self, value: Any, attr: Any, data: Any, **more: Any) -> bool:
        if not isinstance(value, bool):
            raise self.make_error("invalid", input=value)
        return value


def _has_bytes(value: str) -> None:
    try:
        value.encode()
    except UnicodeEncodeError as half:
        raise ValidationError("Half of a surrogate pair.") from half


def words(most: int, least: int = 0, **more: Any) -> fields.String:
    """Returns a field for one line of text; NUL and control characters are refused."""
    return fields.String(
        validate=[
            validate.Length(least, most),
            Exactly(PLAIN, error="Control characters."),
            _has_bytes,
        ],
        **more,
    )


# Kinds


def _fit(f: Field) -> Callable[[Any], None]:
    """Returns the catalogue's own test as a validator."""

    def test(value: Any) -> None:
        if not _fits(f, value):
            raise ValidationError(f"Not a valid {f.type}.")

    return test


def _int(f: Field, **more: Any) -> AnyField:
    return Whole(f.min, f.max, **more)


def _text(f: Field, **more: Any) -> AnyField:
    length = validate.Length(1 if f.required else 0, f.max)
    return fields.String(validate=[length, _fit(f)], **more)


def _choice(f: Field, **more: Any) -> AnyField:
    return fields.String(validate=validate.OneOf(f.choices), **more)


def _flag(f: Field, **more: Any) -> AnyField:
    return Flag(**more)


def _string(f: Field, **more: Any) -> AnyField:
    return fields.String(validate=_fit(f), **more)


def _time(f: Field, **more: Any) -> AnyField:
    return Whole(0, m.MAX_MS, **more)


def _codes(f: Field, **more: Any) -> AnyField:
    return fields.List(
        fields.String(), validate=[validate.Length(f.min, min(f.max, 1000)), _fit(f)], **more
    )


def _raw(f: Field, **more: Any) -> AnyField:
    return fields.Raw(validate=_fit(f), **more)


_MAKERS: dict[str, Callable[..., AnyField]] = {
    m.INT: _int, m.TEXT: _text, m.CODE: _string, m.CODES: _codes, m.CHOICE: _choice,
    m.FLAG: _flag, m.TIME: _time, m.ID: _string, m.PARTS: _raw, m.OF: _raw, m.FIELDS: _raw,
    m.WAS: _raw, m.ROWS: _raw,
}  # fmt: skip


def schema_name(kind: str) -> str:
    """Returns the name of a kind's schema: bag.moved is BagMoved."""
    return "".join(part.capitalize() for part in re.split(r"[._]", kind))


def for_kind(kind: Kind) -> type[Schema]:
    """Returns the marshmallow schema of a kind's data field ``d``."""
    made: dict[str, Any] = {}
    for f in kind.fields:
        about = {"x-type": f.type} | ({"x-unit": f.unit} if f.unit else {})
        made[f.name] = _MAKERS[f.type](f, required=f.required, metadata=about)
    meta = type("Meta", (), {"unknown": RAISE})
    return type(schema_name(kind.name), (Schema,), {**made, "Meta": meta, "__doc__": kind.doc})


def all_kinds() -> dict[str, type[Schema]]:
    """Returns the schema of every kind by its name."""
    return {name: for_kind(kind) for name, kind in sorted(KINDS.items())}


# Requests


class PairIn(Schema):
    """A one-time code as typed, and what the device is to be called."""

    code = words(40, 1, required=True)
    name = words(60, 1, required=True)
    person = words(60, load_default="")


class CodeIn(Schema):
    """Which role a new device gets, and whose it will be (W...)."""

    role = fields.String(required=True, validate=validate.OneOf(("owner", "manager", "worker")))
    person = fields.String(load_default="", validate=Exactly(f"({CODE_PATTERN})|^$"))


class Records(fields.List[Any]):
    """Sent records; a good list is seen at one look, a bad one goes the slow way to its errors.

    The slow way took a twelfth of a push.
    """

    def _deserialize(self, value: Any, attr: Any, data: Any, **kw: Any) -> Any:
        if type(value) is list and all(
            type(record) is list
            and len(record) in (2, 4)
            and all(type(piece) is str and len(piece) <= MAX_PIECE for piece in record)
            for record in value
        ):
            return value
        return super()._deserialize(value, attr, data, **kw)


class Exchange(Schema):
    """What a phone says of itself. Members unknown here are ignored: a newer phone must get in."""

    class Meta:
        unknown = EXCLUDE

    farm = words(64, required=True)
    proof = fields.String(load_default="", validate=Exactly(PROOF))
    nonce = words(64, required=True)
    st = fields.String(required=True, validate=Exactly("^[0-9a-f]{16}$"))


class Push(Exchange):
    """Records a phone sends."""

    now = Whole(0, m.MAX_MS, required=True)
    pending = Whole(0, 2**40, load_default=0)
    oldest = Whole(0, m.MAX_MS, load_default=0, allow_none=True)
    records = Records(
        fields.List(
            fields.String(validate=validate.Length(0, MAX_PIECE)),
            validate=[validate.Length(2, 4), lambda r: _two_or_four(r)],
        ),
        required=True,
        validate=validate.Length(0, 500),
        metadata={"description": "[text, mac] or [text, mac, receipt, rmac]"},
    )


class Offer(Exchange):
    """Ids of records a phone keeps, so that a log that was put back gets what it lacks."""

    ids = fields.List(
        fields.String(validate=Exactly("^[0-9a-f-]{36}$")),
        required=True,
        validate=validate.Length(0, 5_000),
        metadata={"description": "the id in its receipt, where a record has one"},
    )


class LinesIn(Exchange):
    """Batches, or records of batches, whose lines a phone lacks, and its cursor's place."""

    pos = fields.Integer(
        required=True,
        validate=validate.Range(0, 10**15),
        metadata={"description": "lines of later records are left out: pull brings them"},
    )
    units = fields.List(
        fields.String(validate=Exactly("^M[0-9A-Z]{8}$")),
        load_default=list,
        validate=validate.Length(0, 500),
    )
    records = fields.List(
        fields.String(validate=Exactly("^[0-9a-f-]{36}$")),
        load_default=list,
        validate=validate.Length(0, 1_000),
    )


class ConfirmIn(Schema):
    """Which devices may pull again after the log was put back; all that wait when left out."""

    devices = fields.List(
        fields.String(validate=Exactly("^d[0-9a-f]{16}$")), validate=validate.Length(0, 1_000)
    )


class RevokeIn(Schema):
    """Which device's key is taken back, and why."""

    dev = fields.String(required=True, validate=Exactly("^d[0-9a-f]{16}$"))
    why = words(200, load_default="")


class PinIn(Schema):
    """Whose PIN it is, and the PIN: four to eight digits."""

    person = fields.String(required=True, validate=Exactly("^W[0-9A-Z]{8}$"))
    pin = fields.String(required=True, validate=Exactly("^[0-9]{4,8}$"))


class EnteredOut(Schema):
    """Who stands at the shared tablet now."""

    person = fields.String(required=True)
    name = fields.String(required=True)
    role = fields.String(required=True, metadata={"description": "the person's, or empty"})
    pass_ = fields.String(
        required=True, data_key="pass", attribute="pass",
        metadata={"description": "for X-Bagtrail-Pass, good for minutes at this device"},
    )  # fmt: skip


class StayOut(Schema):
    """The pass made anew."""

    pass_ = fields.String(required=True, data_key="pass", attribute="pass")


class PinsOut(Schema):
    """Who has a PIN."""

    pins = fields.List(fields.String(), required=True)


class AwayIn(Schema):
    """Which backup was copied away from this computer."""

    name = words(80, 1, required=True)


def _two_or_four(record: list[str]) -> None:
    if len(record) == 3:
        raise ValidationError("A record is [text, mac] or [text, mac, receipt, rmac].")


class PullArgs(Schema):
    """Where the phone's cursor stands, how much it takes, and a nonce to echo."""

    class Meta:
        unknown = EXCLUDE

    c = fields.String(load_default="", validate=Exactly(PROOF))
    limit = fields.Integer(load_default=1000, validate=validate.Range(1, 1000))
    nonce = words(64, load_default="")
    st = fields.String(load_default="", validate=Exactly("^([0-9a-f]{16})?$"))
    back = fields.Integer(
        load_default=None,
        validate=validate.Range(0, 10**15),
        metadata={"description": "read again after this place, which the cursor is past"},
    )


class WaitArgs(Schema):
    """Where the phone's cursor stands, and a nonce to echo."""

    class Meta:
        unknown = EXCLUDE

    epoch = words(40, load_default="")
    pos = fields.Integer(load_default=0, validate=validate.Range(0, 10**15))
    nonce = words(64, load_default="")


class Number(fields.Float):
    """A number that is one in JSON: not "1.5", not true."""

    def __init__(self, least: float, most: float, **more: Any) -> None:
        super().__init__(allow_nan=False, validate=validate.Range(least, most), **more)

    def _deserialize(self, value: Any, attr: Any, data: Any, **more: Any) -> Any:
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise self.make_error("invalid", input=value)
        return super()._deserialize(value, attr, data, **more)


def _is_stock(value: Any) -> None:
    """A stock's name or its measures; which ones there are and fit the labels' package says."""
    if isinstance(value, str) and 1 <= len(value) <= 40:
        return
    measures = isinstance(value, dict) and 1 <= len(value) <= 20
    if not measures or not all(isinstance(x, (int, float, str)) for x in value.values()):
        raise ValidationError("Give the name of a stock, or an object of its measures in mm.")
    if any(isinstance(x, str) and len(x) > 40 for x in value.values()):
        raise ValidationError("The name of a stock has 40 characters at most.")


class StockField(fields.Raw):
    """The name of a stock, or the measures of one in millimetres."""

    def __init__(self, **more: Any) -> None:
        text = {"type": "string", "minLength": 1, "maxLength": 40}
        measures = {"type": "object", "minProperties": 1, "maxProperties": 20}
        super().__init__(
            validate=_is_stock,
            metadata={"oneOf": [text, measures], "description": self.__class__.__doc__},
            **more,
        )


class PartIn(Schema):
    """One field of a label: its size by name, the lines it may take, and whether it is bold."""

    field = words(20, 1, required=True)
    size = words(20, 1)
    lines = Whole(1, 4)
    bold = Flag()


class LabelIn(Schema):
    """One label: its code, and the words for people printed beside it."""

    code = fields.String(required=True, validate=Exactly(CODE_PATTERN))
    batch = words(40, load_default="")
    number = words(12, load_default="")
    what = words(60, load_default="")
    day = words(20, load_default="")
    free = words(80, load_default="")
    title = words(60, load_default="")
    word = words(40, load_default="")
    sort = words(10, load_default="")


class PrinterIn(Schema):
    """A stock in a printer: dots per inch, and mm by which all is moved right and down."""

    stock = StockField()
    dpi = Number(150, 2400)
    nudge_x = Number(-100, 100)
    nudge_y = Number(-100, 100)
    language = words(35)


class LabelsIn(PrinterIn):
    """A job of labels; what it leaves out is as the farm chose. Either ``labels`` with their words
    or ``codes`` of what the farm knows; ``start`` is how many cells of the first sheet are used."""

    start = Whole(0, 1000, load_default=0)
    labels = fields.List(fields.Nested(LabelIn), validate=validate.Length(1, 2000))
    codes = fields.List(
        fields.String(validate=Exactly(CODE_PATTERN)), validate=validate.Length(1, 2000)
    )
    layouts = fields.Dict(
        keys=fields.String(validate=validate.OneOf(tuple("BGPSHMKW"))),
        values=fields.List(fields.Nested(PartIn), validate=validate.Length(0, 10)),
    )


class CalibrationIn(PrinterIn):
    """A page of outlines and rulers; ``words`` is a line in the farm's language."""

    words = words(80, load_default="")


class SheetIn(Schema):
    """A batch's page for the file."""

    batch = fields.String(required=True, validate=Exactly(CODE_PATTERN))
    paper = fields.String(load_default="a4", validate=validate.OneOf(("a4", "letter")))
    dpi = Number(150, 2400, load_default=300)


class CommandIn(Schema):
    """One command tag: its code, and its word in the language of who prints it."""

    code = fields.String(required=True, validate=Exactly(r"^X[0-9A-HJKMNP-TV-Z]{8}$"))
    text = words(60, 1, required=True)


class CommandGroupIn(Schema):
    """Commands under one heading."""

    title = words(60, required=True)
    tags = fields.List(fields.Nested(CommandIn), required=True, validate=validate.Length(1, 100))


class PaperIn(Schema):
    """What every printed form has: its title, a line of use, paper, and language of its words."""

    title = words(120, 1, required=True)
    paper = fields.String(load_default="a4", validate=validate.OneOf(("a4", "letter")))
    language = words(35, load_default="")
    words = words(300, load_default="")  # the last: the name hides the function from here on


class CardIn(PaperIn):
    """The command card, in the words of the phone that asks for it."""

    groups = fields.List(
        fields.Nested(CommandGroupIn), required=True, validate=validate.Length(1, 30)
    )


class DaySheetIn(PaperIn):
    """The paper day sheet: the words of its head, columns and foot."""

    date = words(40, 1, required=True)
    by = words(40, 1, required=True)
    columns = fields.List(words(40, 1), required=True, validate=validate.Length(7, 7))
    acts = words(400, load_default="")


class MixRowIn(Schema):
    """One thing to weigh, as it is printed."""

    name = words(60, 1, required=True)
    about = words(120, load_default="")
    amount = words(40, 1, required=True)


class MixChargeIn(Schema):
    """One mixer charge, or one bag, of a mix sheet."""

    title = words(80, load_default="")
    rows = fields.List(fields.Nested(MixRowIn), required=True, validate=validate.Length(1, 45))
    total = words(40, load_default="")
    total_amount = words(40, load_default="")


class MixFactIn(Schema):
    """A fact in the head of a mix sheet."""

    name = words(60, 1, required=True)
    value = words(300, 1, required=True)


class MixSheetIn(PaperIn):
    """The mix sheet of a plan, in the words and units of the phone that asks for it."""

    code = fields.String(load_default="", validate=validate.Regexp("^(M[0-9A-Z]{8})?$"))
    heads = fields.List(words(40, 1), required=True, validate=validate.Length(3, 3))
    charges = fields.List(
        fields.Nested(MixChargeIn), required=True, validate=validate.Length(1, 100)
    )
    facts = fields.List(
        fields.Nested(MixFactIn), load_default=list, validate=validate.Length(0, 14)
    )
    blanks = fields.List(words(80, 1), load_default=list, validate=validate.Length(0, 8))
    cautions = fields.List(words(400, 1), load_default=list, validate=validate.Length(0, 12))


class FindArgs(Schema):
    """What to look for: a code, a batch name, a strain, a place, or any part of such a word."""

    class Meta:
        unknown = EXCLUDE

    q = words(80, load_default="")
    limit = fields.Integer(load_default=100, validate=validate.Range(1, 1000))


# Replies


class ErrorBody(Schema):
    """What is wrong and what to do."""

    code = fields.String()
    message = fields.String()
    todo = fields.String()
    details = fields.Dict()


class ErrorOut(Schema):
    """The one shape of every error."""

    error = fields.Nested(ErrorBody)


class FarmOut(Schema):
    """Which farm answers here; public, so that a phone can tell it before it is paired."""

    k = fields.String()
    farm = fields.String()
    tag = fields.String()
    name = fields.String()
    zone = fields.String()
    now = fields.Integer()
    version = fields.String()


class PairOut(Schema):
    """A paired device's key and place on the farm."""

    k = fields.String()
    farm = fields.String()
    tag = fields.String()
    name = fields.String()
    zone = fields.String()
    dev = fields.String()
    gen = fields.Integer()
    key = fields.String()
    role = fields.String()
    by = fields.String()
    letter = fields.String()


class CodeOut(Schema):
    """A one-time code, and the address that carries it in its fragment."""

    code = fields.String()
    expires = fields.Integer()
    url = fields.String()
    invitation = fields.Dict(
        allow_none=True,
        metadata={"description": "what a phone opens first: url, qr (rows of 0 and 1), check"},
    )


class DevicesOut(Schema):
    """Every device: what it is called, whose it is, and what is known of what waits on it."""

    devices = fields.List(fields.Dict())


class ConfirmOut(Schema):
    """The devices that were confirmed."""

    confirmed = fields.List(fields.String())


class WaitOut(Schema):
    """Whether there is something to pull; ``full``: it could not be waited for now."""

    k = fields.String()
    farm = fields.String()
    nonce = fields.String()
    news = fields.Boolean()
    full = fields.Boolean()


class StateOut(Schema):
    """How safe the log is, and what came back after it was put back."""

    k = fields.String()
    epoch = fields.String()
    head = fields.Integer()
    durable = fields.Integer()
    put_back = fields.Dict(allow_none=True)
    two_servers = fields.Dict(allow_none=True)
    devices = fields.List(fields.Dict())
    backups = fields.List(fields.Dict())
    sentences = fields.List(fields.String())


class PingOut(Schema):
    """Which farm's https answered, and the port of its plain page, 0 where it has none."""

    k = fields.String()
    tag = fields.String()
    welcome = fields.Integer()


class NetworkOut(Schema):
    """How phones reach this farm."""

    k = fields.String()
    certificate = fields.Dict(allow_none=True)
    addresses = fields.List(fields.String())
    invitation = fields.Dict(
        allow_none=True, metadata={"description": "url, qr (rows of 0 and 1), check"}
    )


class HealthOut(Schema):
    """How everything does; ``ok`` when there is nothing to say."""

    k = fields.String()
    ok = fields.Boolean()
    at = fields.Integer()
    version = fields.String()
    farm = fields.String()
    tag = fields.String()
    certificate = fields.Dict(allow_none=True)
    addresses = fields.List(fields.String())
    phones = fields.List(fields.Dict())
    backups = fields.List(fields.Dict())
    durable = fields.Integer()
    head = fields.Integer()
    disk = fields.Dict()
    chain = fields.Dict()
    sentences = fields.List(fields.String())


class PhotoPart(Schema):
    """A piece of a photograph: where it begins and its bytes in base64; "" only asks."""

    class Meta:
        unknown = RAISE

    sha256 = fields.String(required=True, validate=Exactly("^[0-9a-f]{64}$"))
    bytes = Whole(1, MOST_PHOTO, required=True)
    offset = Whole(0, MOST_PHOTO, required=True)
    data = fields.String(required=True, validate=validate.Length(max=512 * 1024))


class PhotoPartOut(Schema):
    """How much of a photograph is here, and whether that is all of it."""

    k = fields.String()
    sha256 = fields.String()
    have = fields.Integer()
    whole = fields.Boolean()


class PhotosAsked(Schema):
    """Photographs a phone holds."""

    class Meta:
        unknown = RAISE

    sha256 = fields.List(
        fields.String(validate=Exactly("^[0-9a-f]{64}$")),
        required=True,
        validate=validate.Length(max=1_000),
    )


class PhotosStanding(Schema):
    """Which of them are missing here, and which lie in a backup that counts."""

    k = fields.String()
    missing = fields.List(fields.String())
    safe = fields.List(fields.String())


class LogPart(PhotoPart):
    """A piece of a temperature log: where it begins and its bytes in base64; "" only asks."""

    bytes = Whole(1, MOST_LOG, required=True)
    offset = Whole(0, MOST_LOG, required=True)


class LogProbe(Schema):
    """A column that is read as temperatures; "?" leaves its unit to the readings."""

    class Meta:
        unknown = RAISE

    column = Whole(0, 1_000, required=True)
    name = words(200, required=True)
    unit = fields.String(required=True, validate=validate.OneOf(("C", "F", "?")))


class LogLayout(Schema):
    """How a temperature log is written, as guessed here or as a person corrected it."""

    class Meta:
        unknown = RAISE

    encoding = fields.String(
        required=True, validate=validate.OneOf(("utf-8", "latin-1", "utf-16-le", "utf-16-be"))
    )
    delimiter = fields.String(required=True, validate=validate.OneOf(csvlayout.DELIMITERS))
    decimal = fields.String(required=True, validate=validate.OneOf((".", ",")))
    skip = Whole(0, 100_000, required=True)
    kind = fields.String(
        required=True,
        validate=validate.OneOf(("moment", "clock", "elapsed", "number", "every")),
    )
    columns = fields.List(Whole(0, 1_000), required=True, validate=validate.Length(max=2))
    order = fields.String(required=True, validate=validate.OneOf(csvlayout.ORDERS))
    unit_ms = Whole(1, 86_400_000, required=True)
    probes = fields.List(
        fields.Nested(LogProbe),
        required=True,
        validate=validate.Length(1, csvlayout.MOST_PROBES),
    )


class LogAsked(Schema):
    """Which log is to be scored, and how; temperatures 0.01 °C. Nothing is bridged unasked."""

    class Meta:
        unknown = RAISE

    sha256 = fields.String(required=True, validate=Exactly("^[0-9a-f]{64}$"))
    layout = fields.Nested(LogLayout, load_default=None, allow_none=True)
    ref = Whole(5_000, 20_000, required=True)
    z = Whole(100, 10_000, required=True)
    limit = Whole(0, 20_000, required=True)
    longest_ms = Whole(1, 86_400_000, load_default=None, allow_none=True)
    accept = fields.List(
        Whole(1, 1_000_000), load_default=list, validate=validate.Length(max=1_000)
    )
    fill = Flag(load_default=False)


class LogOut(Schema):
    """A log's layout, its first rows, and what it was worth; see trade/score.py."""

    k = fields.String()
    sha256 = fields.String()
    layout = fields.Dict()
    names = fields.List(fields.String())
    rows = fields.List(fields.List(fields.String()))
    score = fields.Dict()


class ScaleArgs(Schema):
    """The number of the last line a desk has; -1 for one that only begins."""

    after = fields.Integer(load_default=-1, validate=validate.Range(-1, m.MAX_SAFE))


class ScaleOut(Schema):
    """Whether the scale is there, and its lines as they came."""

    k = fields.String()
    state = fields.String()
    n = fields.Integer()
    lines = fields.List(fields.List(fields.Raw()))


class ExchangeOut(Schema):
    """What every reply to a phone says of the log."""

    k = fields.String()
    farm = fields.String()
    nonce = fields.String()
    epoch = fields.String()
    now = fields.Integer()
    head = fields.String()
    durable = fields.Integer()
    min_app = fields.String()


class OfferOut(ExchangeOut):
    """Which of the offered records are wanted: push them with their receipts."""

    want = fields.List(fields.String())


class LinesOut(ExchangeOut):
    """Lines of batches; what is missing did not fit and is asked for again."""

    lines = fields.List(fields.Raw(metadata={"description": "[unit, [line, ...]]"}))
    leads = fields.List(
        fields.String(), metadata={"description": "the batches that the records lead to"}
    )


class AdmittedOut(Schema):
    """How many of another farm's records count since, and how many still wait."""

    k = fields.String()
    done = fields.Integer()
    left = fields.Integer()


class PushOut(ExchangeOut):
    """The reply to a push; only records named in ``r`` are dealt with."""

    contig = fields.Dict(keys=fields.String(), values=fields.Integer())
    r = fields.List(
        fields.List(fields.Raw()), metadata={"description": "[id, code, pos, receipt, rmac]"}
    )


class PullOut(ExchangeOut):
    """One page of the log."""

    epochs = fields.List(fields.String())
    from_ = fields.Integer(data_key="from", attribute="from")
    to = fields.Integer()
    h = fields.String()
    more = fields.Boolean()
    records = fields.List(
        fields.List(fields.Raw()), metadata={"description": "[text, mac, receipt, rmac, pos]"}
    )


class SnapshotArgs(Schema):
    """How the rows of a snapshot are wanted."""

    rows = fields.String(load_default="", validate=validate.OneOf(["", "text"]))
    scope = fields.String(
        load_default="",
        validate=validate.OneOf(["", "live"]),
        metadata={"description": "live: of batches long ended only summaries; rows are texts"},
    )


class SnapshotOut(Schema):
    """The whole farm's folded state at one place of the log; rows as objects, or as JSON texts."""

    k = fields.String()
    farm = fields.String()
    epoch = fields.String()
    epochs = fields.List(fields.String())
    pos = fields.Integer()
    h = fields.String()
    rows = fields.List(fields.Raw())
    archived = fields.List(
        fields.Raw(),
        metadata={"description": "[summary row as a JSON text, find row] of each archived batch"},
    )
