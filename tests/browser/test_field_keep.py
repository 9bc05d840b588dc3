"""What the phone keeps: dead connections, old stores, torn journals, lost entries, and every way a hand-in can end."""

import pytest
from django.test import Client
from playwright.sync_api import expect

from equipment.models import Change
from outings.models import Contact, FieldEntry, Outing
from tests import browsing, making
from tests.browser.test_field import hand_in, kept, log, opened
from tests.browser.test_field_losses import LOSE_STORE
from tests.browsing import says

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.anywhere]  # it is about what the phone keeps

USE = """async () => {
  const {Keep, uuid} = await import("/static/field/keep.js");
  const handing = await import("/static/field/hand_in.js");
  const outing = "00000000-0000-4000-8000-000000000001";
  const contact = (call) => ({kind: "contact", subject: uuid(), outing, base: 0, values: {outing, call}});
  const json = (status, body) => async () => new Response(JSON.stringify(body), {status});
  const hello = (more) => json(200, {now: new Date().toISOString(), version: 1, token: "t", ...more})();
  return (WORK)({Keep, uuid, handing, contact, json, hello, outing});
}"""


@pytest.fixture
def bare_page(signed_in_page):
    """The field page with nothing on board, to use its modules in."""
    page = signed_in_page(making.an_operator(), "/field/", viewport=browsing.PHONE)
    page.wait_for_selector("body[data-ready=yes]")
    return page


def use(page, work):
    """Run an async function of the modules of the page, given as text; what it returns."""
    return page.evaluate(USE.replace("WORK", work))


def test_a_write_on_a_dead_connection_is_tried_on_a_new_one_and_kept_once(bare_page):
    found = use(bare_page, """async ({Keep, contact, outing}) => {
      const keep = new Keep({name: "dead", patience: 300});
      const told = [];
      keep.onTrouble((words) => told.push(words));
      await keep.write([contact("Q1AAA")]);
      const usual = IDBDatabase.prototype.transaction;
      const dead = keep.connection;
      IDBDatabase.prototype.transaction = function (...given) {
        const found = usual.apply(this, given);
        if (this === dead || !globalThis.revived) found.addEventListener = () => {};
        return found;
      };
      const closing = IDBDatabase.prototype.close;
      IDBDatabase.prototype.close = function () { globalThis.revived = true; return closing.call(this); };
      const begun = performance.now();
      await keep.write([contact("Q2BBB")]);
      const took = performance.now() - begun;
      IDBDatabase.prototype.transaction = usual;
      IDBDatabase.prototype.close = closing;
      const entries = await keep.entries(outing);
      return {calls: entries.map((one) => one.values.call), told, took, adrift: keep.adrift.size};
    }""")
    assert found["calls"] == ["Q1AAA", "Q2BBB"] and found["told"] == [] and found["adrift"] == 0
    assert found["took"] >= 300


def test_a_store_that_never_answers_is_told_of_and_the_journal_has_it(bare_page):
    found = use(bare_page, """async ({Keep, contact, outing}) => {
      const keep = new Keep({name: "mute", patience: 150});
      const told = [];
      keep.onTrouble((words) => told.push(words));
      await keep.write([contact("Q1AAA")]);
      const usual = IDBDatabase.prototype.transaction;
      IDBDatabase.prototype.transaction = function (...given) {
        const found = usual.apply(this, given);
        found.addEventListener = () => {};
        return found;
      };
      let refused = null;
      try { await keep.write([contact("Q2BBB")]); } catch (problem) { refused = problem.name ?? String(problem); }
      IDBDatabase.prototype.transaction = usual;
      const journal = [...keep.journalled().values()].map((one) => one.values.call);
      const waiting = await keep.waitingCount();
      const rescued = await keep.rescue();
      const calls = (await keep.entries(outing)).map((one) => one.values.call);
      return {told, refused, journal, waiting, rescued, calls};
    }""")
    assert "does not answer" in found["told"][0] and found["refused"] and "Q2BBB" in found["journal"]
    assert found["waiting"] >= 2 and found["rescued"] and found["calls"] == ["Q1AAA", "Q2BBB"]


def test_a_queue_in_the_first_shape_of_the_store_is_brought_over_and_handed_in(bare_page):
    found = use(bare_page, """async ({Keep, uuid, handing, hello, outing}) => {
      const ids = [uuid(), uuid(), uuid()];
      await new Promise((resolve, reject) => {
        const asked = indexedDB.open("first-shape", 1);
        asked.onupgradeneeded = () => {
          asked.result.createObjectStore("boards", {keyPath: "uuid"});
          asked.result.createObjectStore("entries", {keyPath: "id"}).createIndex("outing", "outing");
          asked.result.createObjectStore("rows", {keyPath: "subject"});
          asked.result.createObjectStore("facts", {keyPath: "name"});
        };
        asked.onerror = () => reject(asked.error);
        asked.onsuccess = () => {
          const transaction = asked.result.transaction("entries", "readwrite");
          ids.forEach((id, number) => transaction.objectStore("entries").put({
            id, kind: "contact", action: "put", subject: uuid(), seq: 1, base: 0, made: number + 1, outing,
            edited_at: "2026-05-01T14:05:00.000Z", values: {outing, call: `Q${number}OLD`},
          }));
          transaction.oncomplete = () => { asked.result.close(); resolve(); };
        };
      });
      const keep = new Keep({name: "first-shape", storage: null});
      const before = await keep.waitingCount();
      const sent = [];
      const fetcher = async (address, options) => {
        if (address !== "/field/hand-in/") return hello();
        const {entries} = JSON.parse(options.body);
        sent.push(...entries.map((one) => one.id));
        return new Response(JSON.stringify({answers: entries.map(({id}) => ({id, outcome: "taken", revision: 1}))}));
      };
      await handing.handIn(keep, {fetcher});
      return {before, same: JSON.stringify(sent) === JSON.stringify(ids), after: await keep.waitingCount()};
    }""")
    assert found == {"before": 3, "same": True, "after": 0}


ENDINGS = {
    "login": ("json(401, {})", "The login has expired"),
    "full": ("json(507, {})", "disk is full"),
    "server": ("json(500, {})", "has a problem"),
    "cut off": ("async () => new Response('{\"answers\": [')", "broke off"),
    "gone": ("async () => { throw new TypeError('no network'); }", "cannot be reached"),
    "too large": ("json(400, {reason: 'the request is too large'})", "too large"),
    "silent": ("json(200, {})", None),
    "of others": ("json(200, {answers: [{id: 'x', outcome: 'taken'}]})", None),
    "undecided": ("async (address, {body}) => new Response(JSON.stringify({answers: JSON.parse(body).entries.map("
                  "({id}) => ({id, outcome: 'perhaps'}))}))", None),
}


def test_however_a_hand_in_ends_the_queue_stays_and_the_reason_is_said(bare_page):
    found = use(bare_page, """async ({Keep, handing, contact, json, hello}) => {
      const endings = {%s};
      const found = {};
      for (const [name, post] of Object.entries(endings)) {
        const keep = new Keep({name: `ending-${name}`, storage: null});
        await keep.write([contact("Q1AAA"), contact("Q2BBB")]);
        const fetcher = (...given) => (given[0] === "/field/hand-in/" ? post(...given) : hello());
        let words = null;
        try { await handing.handIn(keep, {fetcher}); } catch (problem) { words = problem.message; }
        found[name] = [await keep.waitingCount(), words];
      }
      const keep = new Keep({name: "newer", storage: null});
      await keep.write([contact("Q1AAA"), contact("Q2BBB")]);
      try {
        await handing.handIn(keep, {fetcher: () => hello({version: 2})});
      } catch (problem) { found.newer = [await keep.waitingCount(), problem.message]; }
      let tokens = 0;
      const changed = async (address, options) => {
        if (address !== "/field/hand-in/") { tokens += 1; return hello({token: `token ${tokens}`}); }
        if (options.headers["X-CSRFToken"] !== "token 2") return json(403, {})();
        return json(200, {answers: JSON.parse(options.body).entries.map(({id}) => ({id, outcome: "taken"}))})();
      };
      await handing.handIn(keep, {fetcher: changed});
      found.token = [await keep.waitingCount(), null];
      return found;
    }""" % ", ".join(f"'{name}': {post}" for name, (post, _) in ENDINGS.items()))  # noqa: UP031 - braces abound
    for name, (_, words) in ENDINGS.items():
        assert found[name][0] == 2, name
        assert (words in found[name][1]) if words else found[name][1] is None, (name, found[name])
    assert found["newer"][0] == 2 and "server is newer than this page" in found["newer"][1]
    assert found["token"] == [0, None]


def test_two_thousand_entries_go_in_one_sitting_and_leave_on_their_answers_alone(bare_page):
    found = use(bare_page, """async ({Keep, handing, contact, hello}) => {
      const keep = new Keep({name: "many"});
      for (let part = 0; part < 8; part += 1) {
        await keep.write(Array.from({length: 250}, (_, at) => contact(`Q${part}A${at}`)));
      }
      const steps = [];
      const posts = [];
      const fetcher = async (address, options) => {
        if (address !== "/field/hand-in/") return hello();
        const {entries} = JSON.parse(options.body);
        posts.push(entries.length);
        const answers = entries.map(({id, values}) => (
          values.call === "Q7A249" ? {id, outcome: "refused", reason: "no"} : {id, outcome: "taken", revision: 1}
        ));
        return new Response(JSON.stringify({answers}));
      };
      const before = keep.journalled().size;
      const result = await handing.handIn(keep, {fetcher, tell: ({done, total}) => steps.push(done / total)});
      return {
        before, posts: posts.length, most: Math.max(...posts), end: steps.at(-1), done: result.done,
        rising: steps.every((one, at) => !at || one >= steps[at - 1]), refused: result.refused,
        waiting: await keep.waitingCount(), journal: keep.journalled().size,
      };
    }""")
    assert found == {
        "before": 2000, "posts": 20, "most": 100, "rising": True, "end": 1, "done": 1999, "refused": 1, "waiting": 1,
        "journal": 1,
    }


def filled(page, count, age="0"):
    """Keep so many contacts in the page's own store, as if typed so many milliseconds ago; then open it anew."""
    use(page, f"""async ({{Keep, uuid}}) => {{
      const keep = new Keep();
      const outing = await keep.fact("open");
      const contact = (at) => ({{
        kind: "contact", subject: uuid(), outing, base: 0, values: {{
          outing, call: `Q${{at % 10}}A${{String.fromCharCode(65 + at)}}`, started_at: "2026-11-30T10:00:00Z",
          mode: "SSB", band: "20m", seconds_known: true,
        }},
      }});
      await keep.write(Array.from({{length: {count}}}, (_, at) => contact(at)), new Date(Date.now() - {age}));
    }}""")
    page.reload()
    page.wait_for_selector("body[data-ready=yes]")


@pytest.fixture
def phone(signed_in_page):
    """A phone with an outing on board and no network."""
    page = opened(signed_in_page, making.an_outing(making.an_operator(), start=making.tomorrow()))
    kept(page)
    page.reload()
    page.wait_for_selector("body[data-ready=yes]")
    page.context.set_offline(True)
    return page


def test_a_copy_is_asked_for_every_25_contacts_and_after_an_hour(phone):
    remind = phone.locator("#standing")
    filled(phone, 24)
    expect(remind).not_to_contain_text("Save a copy")
    filled(phone, 1)
    expect(remind).to_contain_text("25 contacts are on this phone only. Save a copy")
    phone.click("[data-part=home]")
    with phone.expect_download():
        phone.click("#copy")
    expect(remind).not_to_contain_text("Save a copy")
    filled(phone, 1)
    expect(remind).not_to_contain_text("Save a copy")
    use(phone, """async ({Keep}) => {
      await new Keep().setFact("copy", {count: 25, at: Date.now() - 3_700_000});
    }""")
    phone.reload()
    expect(remind).not_to_contain_text("Save a copy")  # the one that is new is not an hour old
    phone.wait_for_selector("body[data-ready=yes]")


def test_contacts_of_an_hour_ago_that_were_never_copied_are_reminded_of(phone):
    filled(phone, 1, "3_700_000")
    expect(phone.locator("#standing")).to_contain_text("1 contact is on this phone only. Save a copy")


def test_entries_that_the_phone_cleared_away_are_missed_and_a_torn_journal_stops_nothing(phone):
    log(phone, "Q0XYZ")
    browsing.until(phone, "localStorage.getItem('stationlog-field/waiting') === '1'")  # noted after it is said
    phone.evaluate("""() => {
      const mine = Object.keys(localStorage).filter((key) => key.includes("/entry/"));
      localStorage.setItem(mine[0], localStorage.getItem(mine[0]).slice(0, 40));
      localStorage.setItem("stationlog-field/entry/torn", "{");
      localStorage.setItem("stationlog-field/waiting", "4");
    }""")
    phone.reload()
    phone.wait_for_selector("body[data-ready=yes]")
    says(phone, "#standing", "3 entries that waited here are gone")
    phone.context.set_offline(False)
    hand_in(phone)
    assert Contact.objects.get().call == "Q0XYZ" and FieldEntry.objects.count() == 1


def test_a_phone_that_lost_its_store_still_has_the_outing_and_what_is_changed_then_counts(signed_in_page):
    outing = making.an_outing(making.an_operator(), start=making.tomorrow())
    phone = opened(signed_in_page, outing)
    kept(phone)
    phone.reload()
    for call in ("Q1AAA", "Q2BBB"):
        log(phone, call)
    hand_in(phone)
    expect(phone.locator("#progress")).to_be_hidden()
    phone.context.set_offline(True)
    phone.evaluate(LOSE_STORE)
    phone.goto("/field/")
    phone.click("#aboard button")
    expect(phone.locator("#contacts .call")).to_have_text(["Q2BBB", "Q1AAA"])
    phone.click("#contacts button[aria-label^='Edit Q2BBB']")
    phone.fill("#sheet [name=call]", "Q2BBX")
    phone.click("#sheet-ok")
    says(phone, "#kept", "Q2BBX changed. 1 on this phone only")
    log(phone, "Q3CCC")
    phone.evaluate(LOSE_STORE)
    phone.reload()
    says(phone, "#standing", "2 entries came back from the journal")
    phone.click("#aboard button")
    expect(phone.locator("#contacts .call")).to_have_text(["Q3CCC", "Q2BBX", "Q1AAA"])
    phone.context.set_offline(False)
    hand_in(phone)
    assert sorted(Contact.objects.values_list("call", flat=True)) == ["Q1AAA", "Q2BBX", "Q3CCC"]
    assert {entry.outcome for entry in FieldEntry.objects.all()} == {"taken"}


def test_an_outing_of_long_ago_stays_until_the_server_has_told_the_time(phone):
    phone.reload()  # since the page before may have heard from the server
    phone.wait_for_selector("body[data-ready=yes]")
    use(phone, """async ({Keep}) => {
      const outing = {uuid: "00000000-0000-4000-8000-000000000009", window_start: "2026-01-01T10:00:00Z"};
      await new Keep().keepBoard({outing});
    }""")
    boards = """async () => {
      const {Keep} = await import("/static/field/keep.js");
      return (await new Keep().boards()).length;
    }"""
    phone.reload()
    phone.wait_for_selector("body[data-ready=yes]")
    phone.click("[data-part=home]")
    phone.click("#hand-in")
    says(phone, "#handed", "cannot be reached")
    assert phone.evaluate(boards) == 2
    phone.context.set_offline(False)
    phone.click("#hand-in")
    says(phone, "#handed", "0 handed in.")
    browsing.until(phone, f"async () => await ({boards})() === 1")


@pytest.fixture
def handed_in(signed_in_page):
    """A phone that has handed two contacts in, and the outing."""
    outing = making.an_outing(making.an_operator(), start=making.tomorrow())
    phone = opened(signed_in_page, outing)
    for call in ("Q1AAA", "Q2BBB"):
        log(phone, call)
    hand_in(phone)
    expect(phone.locator("#progress")).to_be_hidden()
    return phone, outing


def nothing_is_here_any_more(*outings):
    """What an older backup leaves of what a phone has handed in, and of outings that were planned after it was made."""
    FieldEntry.objects.all().delete()
    Contact._base_manager.all().delete()
    Change.objects.filter(kind="outings.contact").delete()
    for outing in outings:
        Outing._base_manager.filter(pk=outing.pk).delete()


def test_what_an_older_backup_does_not_have_is_handed_in_once_more(handed_in):
    phone, _ = handed_in
    nothing_is_here_any_more()
    phone.click("#hand-in")
    says(phone, "#handed", "2 handed in; the server had lost some of them, perhaps by an older backup.")
    assert sorted(Contact.objects.values_list("call", flat=True)) == ["Q1AAA", "Q2BBB"]
    expect(phone.locator("#progress")).to_be_hidden()
    phone.click("#hand-in")
    says(phone, "#handed", "0 handed in.")
    assert FieldEntry.objects.count() == 2


def test_entries_of_an_outing_that_an_older_backup_does_not_have_are_told_of_and_in_the_copy(handed_in):
    phone, outing = handed_in
    nothing_is_here_any_more(outing)
    phone.click("#hand-in")
    says(phone, "#standing", f"The server had taken 2 entries of {outing}")
    says(phone, "#kept", "All handed in")
    with phone.expect_download() as download:
        phone.click("#copy")
    text = download.value.path().read_text()
    assert "<CALL:5>Q1AAA" in text and "<CALL:5>Q2BBB" in text
    phone.reload()
    phone.click("[data-part=home]")
    phone.click("#hand-in")
    says(phone, "#handed", "0 handed in.")
    expect(phone.locator("#standing")).not_to_contain_text("had taken")


def test_what_was_handed_in_to_the_log_of_another_is_not_looked_for_in_this_one(handed_in, live_server):
    phone, _ = handed_in
    other = Client()
    other.force_login(making.an_operator("Q2DEF"))
    phone.context.add_cookies([{
        "name": "sessionid", "value": other.cookies["sessionid"].value, "url": live_server.url,
    }])
    phone.click("#hand-in")
    says(phone, "#handed", "0 handed in.")
    expect(phone.locator("#standing")).not_to_contain_text("had taken")
    assert FieldEntry.objects.count() == 2


def test_outings_of_long_ago_leave_the_phone_once_nothing_of_them_waits(bare_page):
    found = use(bare_page, """async ({Keep, contact, uuid}) => {
      const keep = new Keep({name: "tidied"});
      const begun = "2026-01-01T10:00:00Z";
      const board = (title, end) => ({outing: {uuid: uuid(), title, window_start: begun, window_end: end}});
      const boards = [
        board("over", "2026-01-01T12:00:00Z"), board("without an end", null), board("waits", "2026-01-01T12:00:00Z"),
        board("open", "2026-01-01T12:00:00Z"), board("lasts", "2026-11-01T12:00:00Z"),
      ];
      for (const one of boards) await keep.keepBoard(one);
      await keep.write([{...contact("Q1AAA"), outing: boards[2].outing.uuid}]);
      await keep.setFact("open", boards[3].outing.uuid);
      await keep.tidy("2026-10-01T00:00:00Z");
      const here = async () => (await keep.boards()).map((one) => one.outing.title).sort();
      const tidied = await here();
      await keep.reconcileBoards();
      const same = await here();
      await keep.run((db) => db.clear("boards"));
      await keep.reconcileBoards();
      const back = await here();
      await caches.delete("boards-of-tidied");
      await keep.reconcileBoards();
      await keep.run((db) => db.clear("boards"));
      await keep.reconcileBoards();
      return [tidied, same, back, await here()];
    }""")
    assert found == [["lasts", "open", "waits"]] * 4


def test_what_waited_no_longer_stands_in_the_way_once_it_is_handed_in(phone):
    log(phone, "Q0XYZ")
    phone.click("[data-part=home]")
    says(phone, "#ready", "1 entry waits. Hand in first.")
    phone.context.set_offline(False)  # which it notices by itself
    phone.click("#hand-in")
    says(phone, "#kept", "All handed in")
    expect(phone.locator("#ready")).not_to_contain_text("Hand in first")


def test_what_the_server_refuses_is_listed_with_the_reason_and_can_be_tried_again(phone):
    log(phone, "Q0XYZ")
    use(phone, """async ({Keep, uuid}) => {
      const keep = new Keep();
      await keep.write([{kind: "reading", subject: uuid(), outing: await keep.fact("open"), base: 0,
        values: {pack: 999, at: "2026-11-30T10:00:00Z", voltage_v: 13}}]);
    }""")
    phone.context.set_offline(False)
    phone.click("[data-part=home]")
    phone.click("#hand-in")
    says(phone, "#handed", "refused, see below")
    says(phone, "#refused", "reading: that pack is not known here")
    assert "1 on this phone only" in phone.inner_text("#kept") and Contact.objects.count() == 1
    assert not browsing.axe_serious(phone)
    making.a_pack(Contact.objects.get().owner, pk=999)
    phone.click("#refused button")
    says(phone, "#kept", "All handed in")
    assert phone.inner_text("#refused") == ""


def test_without_a_secure_context_everything_is_kept_while_the_page_stays_open(signed_in_page):
    outing = making.an_outing(making.an_operator(), start=making.tomorrow())
    page = signed_in_page(None, "/login/", viewport=browsing.PHONE)
    page.context.add_init_script("""
      Object.defineProperty(globalThis, "isSecureContext", {value: false});
      delete Crypto.prototype.randomUUID;
      for (const name of ["serviceWorker", "storage", "wakeLock"]) delete Navigator.prototype[name];
    """)
    page.context.add_cookies(opened(signed_in_page, outing).context.cookies())
    page.goto(f"/field/?outing={outing.uuid}")
    page.wait_for_selector("#day:not([hidden])")
    says(page, "#standing", "No secure context")
    page.context.set_offline(True)
    log(page, "Q0XYZ")
    page.click("[data-part=home]")
    says(page, "#verdict", "Not ready")
    says(page, "#ready", "This browser makes no such promise")
    page.context.set_offline(False)
    hand_in(page)
    assert Contact.objects.get().call == "Q0XYZ"
