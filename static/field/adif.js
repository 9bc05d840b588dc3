// A copy of the outing as a standard ADIF file (ADI, version 3.1.7), made on the phone itself without any server.
//
// ADI is ASCII: letters beyond it are written as their nearest ASCII, and the whole contact as it was typed goes along
// in an application field of ours, so that the laptop loses nothing when it reads the copy.

import {handedIn} from "./hand_in.js";

// As the server writes them (outings/adif/ascii.py), so that it knows the copy of what it has.
const NEAREST = {
  "ß": "ss", "ẞ": "SS", "æ": "ae", "Æ": "AE", "œ": "oe", "Œ": "OE", "ø": "o", "Ø": "O", "đ": "d", "Đ": "D", "ð": "d",
  "Ð": "D", "þ": "th", "Þ": "Th", "ł": "l", "Ł": "L", "ħ": "h", "Ħ": "H", "ı": "i", "ŋ": "ng", "Ŋ": "Ng", "ŧ": "t",
  "Ŧ": "T", "‘": "'", "’": "'", "‚": "'", "‛": "'", "“": '"', "”": '"', "„": '"', "«": '"', "»": '"', "‹": "'",
  "›": "'", "–": "-", "—": "-", "―": "-", "‐": "-", "‑": "-", "−": "-", "…": "...", "•": "*", "·": ".", "×": "x",
  "÷": "/", "°": "deg", "\u03a9": "ohm", "\u2126": "ohm", "\u00b5": "u", "\u03bc": "u", "€": "EUR", "£": "GBP",
  "¥": "JPY", "©": "(c)", "®": "(r)", "¿": "?", "¡": "!", "´": "'", "ʹ": "'", "′": "'", "″": '"', "\t": " ",
  "→": "->", "←": "<-",
};
const likened = (text) => [...text].map((letter) => NEAREST[letter] ?? letter).join("");

export function ascii(text) {
  const apart = likened(likened(text).normalize("NFKD")).replace(/(?![\u034f\ufe00-\ufe0f])\p{Mn}/gu, "");
  return [...apart].map((letter) => (letter >= " " && letter <= "~" ? letter : "?")).join("");
}

function field(name, value) {
  if (value === null || value === undefined || value === "") return "";
  const text = ascii(String(value).replace(/[\r\n]+/gu, " ").trim());
  return text ? `<${name}:${text.length}>${text} ` : "";
}

function application(name, text) {
  return `<APP_STATIONLOG_${name}:${text.length}:S>${text} `;
}

// JSON with every letter beyond ASCII as an escape.
function plainJson(value) {
  return JSON.stringify(value).replace(/[^ -~]/gu, (letter) => letter.split("").map(
    (unit) => `\\u${unit.charCodeAt(0).toString(16).padStart(4, "0")}`).join(""));
}

function megahertz(hertz) {
  return hertz ? String(Number((hertz / 1e6).toFixed(9))) : "";
}

// One contact as a record; `names` gives the names of the gear by kind and key.
export function record(contact, day, names) {
  const stint = day.stints.find((one) => one.uuid === contact.stint);
  const time = contact.started_at.replace(/[-:TZ]/gu, "");
  const [ours] = day.outing.references ?? [];
  return [
    field("CALL", contact.call), field("QSO_DATE", time.slice(0, 8)),
    field("TIME_ON", time.slice(8, contact.seconds_known === false ? 12 : 14)),
    field("BAND", contact.band), field("FREQ", megahertz(contact.frequency_hz)), field("MODE", contact.mode),
    field("SUBMODE", contact.submode), field("RST_SENT", contact.rst_sent), field("RST_RCVD", contact.rst_rcvd),
    field("STATION_CALLSIGN", contact.station_call || day.outing.station_call), field("OPERATOR", contact.operator_call),
    field("TX_PWR", contact.power_w ?? stint?.power_w), field("GRIDSQUARE", (contact.their_grid ?? "").slice(0, 8)),
    field("SIG", contact.their_programme), field("SIG_INFO", contact.their_reference), field("NAME", contact.name),
    field("QTH", contact.qth), field("COMMENT", contact.comment), field("STX", contact.serial_sent),
    field("SRX", contact.serial_rcvd), field("STX_STRING", contact.exchange_sent), field("SRX_STRING", contact.exchange_rcvd),
    field("MY_GRIDSQUARE", (day.outing.site.grid ?? "").slice(0, 8)), field("MY_SIG", ours?.programme),
    field("MY_SIG_INFO", ours?.reference), field("MY_RIG", names.radio(stint?.radio)),
    field("MY_ANTENNA", names.arrangement(stint?.arrangement)), field("APP_STATIONLOG_PACK", names.pack(stint?.pack)),
    application("UUID", contact.uuid),
    contact.revision ? application("REVISION", String(contact.revision)) : "",
    contact.pending ? application("DOUBTFUL", "Y") : "", application("TYPED", plainJson(contact)), "<EOR>",
  ].join("");
}

// The whole file as text. `outings` are {day, names}; `waiting` are entries that the server does not have yet: they go
// along as they are, in a field of the header that is ours, so that the laptop can take them in as the phone would hand
// them in.
export function file(outings, {madeAt, version, phone, waiting = []}) {
  const stamp = madeAt.toISOString().replace(/[-:T]/gu, "").slice(0, 14);
  const whole = waiting.filter((entry) => entry.seq).map(handedIn); // of what only the journal took, the records tell
  const head = [
    " A copy made on the phone.", field("ADIF_VER", "3.1.7"), field("CREATED_TIMESTAMP", `${stamp.slice(0, 8)} ${stamp.slice(8)}`),
    field("PROGRAMID", "stationlog"), field("PROGRAMVERSION", version),
    ...(whole.length ? [application("PHONE", phone), application("ENTRIES", plainJson(whole))] : []), "<EOH>",
  ].join("\r\n");
  const records = outings.flatMap(({day, names}) => day.contacts.map((contact) => record(contact, day, names)));
  return `${head}\r\n${records.join("\r\n")}\r\n`;
}

// A file name that every system takes: Q1ABC-P_2026-05-01_copy.adi.
export function fileName(day, madeAt) {
  const call = (day?.outing.station_call || "log").replaceAll("/", "-").replace(/[^A-Z0-9-]/giu, "");
  return `${call}_${(day?.outing.window_start ?? madeAt.toISOString()).slice(0, 10)}_copy.adi`;
}
