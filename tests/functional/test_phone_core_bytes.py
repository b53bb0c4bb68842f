"""What the phone's pages cost the link, and a server that is killed: as an operation runs it.

Bytes are counted on the wire with their headers, the worker's own fetches included.
"""

import pytest

from tests.functional import phone as phones

pytestmark = pytest.mark.browser

LINES = 200
FIRST_LOAD_MOST = 60 * 1024
ONE_CHECK_MOST = 1.3 * 1024
FIFTY_CHECKS_MOST = 9 * 1024
MAKE = f"""
from tests.factories import leaks, operation, woods
operation.operation()
operation.crew("sol")
for number in range(4):
    lot = woods.woodlot(name=f"Woodlot {{number}}")
    for label in range({LINES} // 4):
        woods.line(lot, f"L{{label}}", planned_taps=120)
"""
SESSION = """
from django.test import Client
from apps.operation.models import CrewMember
client = Client()
client.force_login(CrewMember.objects.get(username="sol"))
print(client.cookies["sessionid"].value)
"""


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    """Hashed and compressed files, a database of its own with 200 lines, the production server."""
    made = phones.Server(tmp_path_factory.mktemp("server"), collected=True)
    made.prepare(MAKE)
    made.start()
    yield made
    made.kill()


@pytest.fixture
def wire(server):
    if server.process is None:
        server.start()
    with phones.wired(server.port) as link:
        yield link


@pytest.fixture
def page(make_phone, wire, server):
    phone = make_phone(wire.url)
    page = phone.boot()
    session = server.manage("shell", "--no-imports", text=SESSION).split()[-1]
    phone.context.add_cookies([{"name": "sessionid", "value": session, "url": wire.url}])
    phones.until_ready(phone.visit(page))
    page.phone = phone
    return page


def down(exchanges):
    return sum(it.down for it in exchanges)


def test_the_first_load_fits_the_budget(page, wire):
    page.wait_for_timeout(500)
    kinds = {it.path.partition("?")[0].rpartition(".")[2] for it in wire.exchanges}
    assert {"json", "js", "css"} <= kinds
    asked = [it.path for it in wire.exchanges]
    assert any(path.startswith("/field/data.json") for path in asked)
    assert any(path.endswith("worker.js") for path in asked)
    assert not any("htmx" in path or "plotly" in path for path in asked)
    assert down(wire.exchanges) <= FIRST_LOAD_MOST, sorted(
        ((it.down, it.path) for it in wire.exchanges), reverse=True
    )


def test_hashed_files_cross_the_wire_once(page, wire):
    files = [it.path for it in wire.asked("GET", "/static/js/field/")]
    assert len(files) > 10
    assert sorted(files) == sorted(set(files))


def test_every_file_comes_compressed_and_under_a_hashed_name(page, wire):
    for it in wire.asked("GET", "/static/js/field/"):
        assert it.status == 200
        name = it.path.rpartition("/")[2]
        assert len(name.split(".")) == 3, name


def line_ids(page):
    return phones.run(
        page, "(await load('data')).cached().then((it) => it.data.lines.map(([id]) => id))"
    )


def log(page, ids):
    for at, line in enumerate(ids):
        state = ("tight", "leak_fixed", "leak_left", "frozen")[at % 4]
        phones.save(page, kind="check", line=line, state=state)


def test_one_check_fits_a_breath_of_signal(page, wire):
    (line, *_) = line_ids(page)
    asked = len(wire.exchanges)
    log(page, [line])
    phones.until(page, "(await load('outbox')).counts().then((it) => it.waiting === 0)")
    (post,) = wire.exchanges[asked:]
    assert post.path == "/field/records/"
    assert post.up <= ONE_CHECK_MOST


def test_fifty_checks_fit_one_post_of_nine_kilobytes(page, wire):
    ids = line_ids(page)
    wire.stop()
    log(page, ids[:50])
    wire.start()
    asked = len(wire.exchanges)
    phones.until(page, "(await load('sync')).sync('touch').then((it) => it.why === 'ok')")
    posts = [it for it in wire.exchanges[asked:] if it.method == "POST"]
    assert sum(it.up for it in wire.exchanges[asked:]) <= FIFTY_CHECKS_MOST
    assert len(posts) == 1


def checks_in(server):
    script = "from apps.leaks.models import LeakCheck\nprint(LeakCheck.objects.count())\n"
    return int(server.manage("shell", "--no-imports", text=script).split()[-1])


def test_killed_server_rebooted_phone_and_started_again_all_arrive_once(page, wire, server):
    before = checks_in(server)
    ids = line_ids(page)
    server.kill()
    wire.stop()
    again = page.phone.visit(page.phone.reboot())
    log(again, ids[:20])
    again = page.phone.visit(page.phone.reboot())
    assert phones.statuses(again)[-20:] == ["waiting"] * 20
    server.start()
    wire.start()
    phones.sync(again)
    phones.until(again, "(await load('outbox')).counts().then((it) => it.waiting === 0)")
    assert checks_in(server) == before + 20
