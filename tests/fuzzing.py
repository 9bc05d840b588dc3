"""Rubbish for every door that takes something from outside: files of real shape, changed at random.

A target takes bytes and either reads them or refuses them by its own named error; anything else is a finding. A change
is one of those that files suffer and attackers try: bits turned, pieces cut out, doubled, moved or exchanged with
another file, numbers made huge, bytes that end a string, deep nesting, an end that is missing.
"""

import datetime
import io
import json
import random
import time
import zipfile

from PIL import Image

from equipment import pictures, typed_quantities
from equipment.physics import log_files, sweep, sweep_files
from outings import calls, clock, geography, markdown, reception_files
from outings.adif.records import NotADIF
from outings.field import entries
from outings.intake.logs import Log, kind_of

DAY = datetime.date(2026, 5, 1)
NOW = datetime.datetime(2026, 5, 1, 18, tzinfo=datetime.UTC)
SLOW_S = 5.0  # an input of some kilobytes that takes longer holds up a server
ODD = (
    b"\x00", b"\xff", b"\xfe\xff", b"\r", b"\n\n", b"<", b">", b"<EOR>", b"<EOH>", b":", b"-", b"1e999", b"NaN", b"inf",
    b"99999999999999999999", b"-1", b"0", b'"', b"'", b",", b";", b"\t", b"\xef\xbb\xbf", "Ω".encode(),
    "\u202e".encode(),
    b"<!DOCTYPE x [<!ENTITY a 'aaaa'>]>", b"&a;", b"{", b"}", b"[" * 60, b"=cmd|'/c calc'!A1", b"\\", b"%00", b"../",
)


# --- files of real shape ----------------------------------------------------------------------------------------------


def adi_files():
    record = (
        "<CALL:6>Q1ABC/<QSO_DATE:8>20260501<TIME_ON:6>131415<BAND:3>20m<MODE:3>SSB<SUBMODE:3>USB<FREQ:6>14.285"
        "<RST_SENT:2>59<GRIDSQUARE:6>JO62qm<MY_GRIDSQUARE:6>JN58td<NAME:6>Jürgen<COMMENT:9>a > b < c<TX_PWR:2>10"
        "<STATE:2>BY<DXCC:3>230<APP_STATIONLOG_UUID:36>6fa459ea-ee8a-3ca4-894e-db77e160355e<EOR>\r\n"
    )
    yield ("Log of an outing\r\n<ADIF_VER:5>3.1.7<PROGRAMID:10>stationlog<EOH>\r\n" + record * 5).encode()
    yield record.replace("Jürgen", "Juergen").encode("ascii") * 3
    yield ("\ufeff" + "<eoh>" + record.lower()).encode("utf-8")
    yield ("<USERDEF1:4:N>ROWS\n<EOH>" + record.replace("\r", "")).encode("cp1252")


def adx_files():
    record = (
        "<RECORD><CALL>Q1ABC</CALL><QSO_DATE>20260501</QSO_DATE><TIME_ON>1314</TIME_ON><BAND>20m</BAND><MODE>CW</MODE>"
        "<NAME_INTL>Zoë &amp; Ω</NAME_INTL><APP PROGRAMID='stationlog' FIELDNAME='UUID' TYPE='S'>6fa4</APP></RECORD>"
    )
    yield (
        '<?xml version="1.0" encoding="UTF-8"?><ADX><HEADER><ADIF_VER>3.1.7</ADIF_VER></HEADER><RECORDS>'
        + record * 4 + "</RECORDS></ADX>"
    ).encode()
    yield ('<?xml version="1.0" encoding="UTF-16"?><ADX><RECORDS>' + record + "</RECORDS></ADX>").encode("utf-16")


def sweep_texts():
    yield b"! swept at the feedpoint\n# MHZ S RI R 50\n" + b"".join(
        f"{14 + step / 50:.3f} {0.3 - step / 40:.4f} {step / 30 - 0.3:.4f}\n".encode() for step in range(20)
    )
    yield b"# hz s ma r 75\r\n7000000 0.5 -90\r\n7100000 0.3 180 ! dip\r\n7200000 0.5 90\r\n"
    yield b"Frequency (MHz);SWR\n14,0;2,1\n14,1;1,3\n14,2;1,9\n"
    yield b"freq,R,X\n7000000,42.1,-11\n7050000,48.0,0.5\n7100000,55.2,14\n"


def pack_log_texts():
    yield b"time (s),voltage (V),current (A)\n" + b"".join(
        f"{s * 60},{13.3 - s / 99:.3f},2.0\n".encode() for s in range(40)
    )
    yield b"Zeit;Spannung mV;Strom mA\n10:00:00;13300;2000\n10:01:00;13290;2001\n10:02:00;13281;1999\n"
    yield b"Date and time\tVoltage\tCurrent\n2026-05-01 10:00:00\t13,30\t-2,0\n2026-05-01 10:01:00\t13,28\t-2,0\n"


def reception_texts():
    yield b"time,receiver,frequency,snr\n" + b"".join(
        f"2026-05-01 13:{minute:02d}:00,Q{minute % 10}ABC,14.0956,{-minute}\n".encode() for minute in range(20)
    )
    yield b"UTC;Grid;MHz;dB\n1300;JO62;7,0386;-12\n1302;IO91wm;7,0386;-19\n"


def phone_bodies():
    entry = {
        "id": "6fa459ea-ee8a-3ca4-894e-db77e160355e", "kind": "contact", "action": "put", "seq": 1, "base": 0,
        "subject": "7fa459ea-ee8a-3ca4-894e-db77e160355e", "edited_at": "2026-05-01T13:10:00Z", "values": {
            "outing": "8fa459ea-ee8a-3ca4-894e-db77e160355e", "call": "Q4ABC", "started_at": "2026-05-01T13:10:00Z",
            "mode": "CW", "band": "20m", "seconds_known": True, "their_grid": "JO62", "comment": "Ω",
        },
    }
    yield json.dumps({
        "phone": "9fa459ea-ee8a-3ca4-894e-db77e160355e", "now": "2026-05-01T13:11:00Z", "clock_error_s": 0.2,
        "entries": [entry, {**entry, "kind": "stint"}, {**entry, "action": "delete"}],
    }).encode()


def positions():
    yield "N 48° 08.800' E 11° 36.500'".encode()
    yield from (b"48.1467, 11.6083", b"48 08 48 N 11 36 30 E", b"JO62qm", b"-33.9,18.4", b"1314", b"5.2 m")
    yield b"F/Q1ABC/P"


def images():
    for form, mode in (("JPEG", "RGB"), ("PNG", "RGBA"), ("GIF", "P"), ("WEBP", "RGB")):
        out = io.BytesIO()
        Image.effect_noise((48, 36), 60).convert(mode).save(out, form)
        yield out.getvalue()


def notes():
    yield b"# Wire\n\n**Better** [here](https://example.org) <script>alert(1)</script>\n\n| a |\n|---|\n| 1 |\n"
    yield b"> quote\n\n- a\n  - b\n\n![x](javascript:alert(1)) `code` ~~gone~~\n" + b"*" * 50


def zips():
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        packed.writestr("list.json", json.dumps({
            "form": 1, "made_at": "2026-05-01", "database": "rows", "migrations": [], "rows": {}, "files": {},
        }))
        packed.writestr("rows.jsonl", '{"model": "outings.site", "pk": 1, "fields": {}}\n')
    yield out.getvalue()


# --- what takes them --------------------------------------------------------------------------------------------------


def take_adif(data):
    if not data:
        return
    kind = kind_of(data[:4096])
    log = Log(data if kind == "adi" else io.BytesIO(data), kind)
    for _, lost, _ in log.batches(1000, "Q1ABC"):
        assert all(loss.reason for _, loss in lost)


def take_sweep(data):
    found = sweep_files.read(data, "a.csv")
    sweep.in_band(found.curve, 14e6, 14.35e6)
    if found.curve.phase_known:
        sweep_files.write_touchstone(found.curve)


def take_phone(data):
    for one in entries.read_request(data).entries:
        str(one)


def take_typed(data):
    text = data.decode("utf-8", "replace")
    for read in (
        geography.parse_position, calls.read, lambda typed: clock.read(typed, NOW), geography.canonical_grid,
        lambda typed: typed_quantities.read(typed, typed_quantities.LENGTH),
    ):
        try:
            read(text)
        except ValueError as refusal:
            assert str(refusal)


def take_note(data):
    html = markdown.to_html(data.decode("utf-8", "replace"))
    low = html.lower()
    assert "<script" not in low and 'href="javascript:' not in low and "<img" not in low and " on" + "error=" not in low


def take_zip(data):
    from stationlog.backups import archive

    with archive.opened(io.BytesIO(data)) as (packed, contents):
        for name in contents.files:
            archive.copied(packed, name)


def backup_refusals():
    from stationlog.backups import archive

    return (archive.Damaged,)


TARGETS = {  # name: (files of real shape, what takes them, errors by which it refuses)
    "ADI": (adi_files, take_adif, (NotADIF,)),
    "ADX": (adx_files, take_adif, (NotADIF,)),
    "sweeps": (sweep_texts, take_sweep, (sweep_files.BadSweep,)),
    "pack logs": (pack_log_texts, log_files.read, (log_files.BadLog,)),
    "reception reports": (reception_texts, lambda data: reception_files.read(data, DAY), (reception_files.BadFile,)),
    "phone": (phone_bodies, take_phone, (entries.BadEntry,)),
    "what is typed": (positions, take_typed, ()),
    "pictures": (
        images, lambda data: pictures.recoded(io.BytesIO(data), max_bytes=1_000_000), (pictures.PictureRefused,)
    ),
    "notes": (notes, take_note, ()),
    "backups": (zips, take_zip, backup_refusals),
}


# --- changes ----------------------------------------------------------------------------------------------------------


def mutated(data, others, dice):
    """A file changed in one to six ways."""
    data = bytearray(data)
    for _ in range(dice.randint(1, 6)):
        at = dice.randrange(len(data) + 1)
        end = min(len(data), at + int(dice.expovariate(1 / 12)))
        way = dice.randrange(9)
        if way == 0 and data:
            data[dice.randrange(len(data))] ^= 1 << dice.randrange(8)
        elif way == 1:
            del data[at:end]
        elif way == 2:
            data[at:at] = dice.choice(ODD)
        elif way == 3:
            data[at:end] = dice.choice(ODD)
        elif way == 4:
            data[at:at] = data[at:end] * dice.choice((2, 3, 200))
        elif way == 5:
            del data[at:]
        elif way == 6:
            other = dice.choice(others)
            start = dice.randrange(len(other) + 1)
            data[at:end] = other[start:start + 40]
        elif way == 7:
            digits = [place for place, byte in enumerate(data) if 48 <= byte <= 57]
            if digits:
                data[dice.choice(digits)] = dice.choice(b"0123456789-.eE+")
        else:
            data[at:end] = bytes(dice.randrange(256) for _ in range(dice.randint(1, 8)))
    return bytes(data[:60_000])


def inputs(name, seed):
    """Changed files for a target, without end; the same for the same seed."""
    dice = random.Random(f"{name} {seed}")
    seeds = list(TARGETS[name][0]())
    while True:
        yield mutated(dice.choice(seeds), seeds, dice)


def tried(name, data):
    """Hand an input to its target: whether it was read, not refused in words. AssertionError for anything else."""
    _, take, refusals = TARGETS[name]
    refusals = refusals() if callable(refusals) else refusals
    began = time.process_time()
    try:
        take(data)
        read = True
    except refusals as refusal:
        assert str(refusal).strip(), f"{name} is refused without a word: {data[:300]!r}"
        read = False
    except Exception as error:
        raise AssertionError(f"{name}: {type(error).__name__}: {error}; input {data[:2000]!r}") from error
    took_s = time.process_time() - began
    assert took_s < SLOW_S, f"{name} took {took_s:.1f} s: {data[:300]!r}"
    return read
