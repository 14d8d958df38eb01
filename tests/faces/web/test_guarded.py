"""What must not get in: other names, other sites' forms, too much, odd paths and methods, and scripts in texts."""

import io
import zipfile

import pytest
from starlette.testclient import TestClient
from visitor import AT, HOST, OWN, Visitor, filled, seen

from asflown.faces.web.application import application
from asflown.faces.wiring import kept_store, workplace

SCRIPT = "<script>alert(1)</script>"
ATTRIBUTE = '" onfocus="alert(1)" autofocus="'


def form_of(visitor: Visitor, path: str, act: str) -> dict[str, str]:
    return filled(visitor.get(path).form(act))


@pytest.mark.parametrize(
    "host", ["evil.example", f"evil.example:{HOST.split(':')[1]}", "127.0.0.1", "localhost:1", ""]
)
def test_another_name_for_this_machine_is_refused(small, host):
    """DNS rebinding: another site's name that leads here."""
    assert small.raw("/", headers={"host": host}).status_code == 421


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": AT, "sec-fetch-site": "cross-site"},
        {"origin": AT, "sec-fetch-site": "same-site"},
        {"sec-fetch-site": "none"},
        {"origin": AT.replace("http:", "https:")},
        {},
    ],
)
def test_a_form_of_another_site_is_refused(small, headers):
    data = form_of(small, "/new-aircraft", "new") | {"id": "wren"}
    assert small.client.post("/new-aircraft", data=data, headers=headers).status_code == 403
    assert [one["id"] for one in small.json("/aircraft.json")["aircraft"]] == ["plover"]


@pytest.mark.parametrize("token", ["", "0" * 64, "x", None])
def test_a_form_without_its_token_is_refused(small, token):
    data = form_of(small, "/new-aircraft", "new") | {"id": "wren", "token": token or ""}
    if token is None:
        del data["token"]
    assert small.client.post("/new-aircraft", data=data, headers=OWN).status_code == 403
    assert len(small.json("/aircraft.json")["aircraft"]) == 1


def test_the_token_of_another_browser_is_refused(small):
    data = form_of(Visitor(small.store), "/new-aircraft", "new") | {"id": "wren"}
    small.get("/")
    assert small.client.post("/new-aircraft", data=data, headers=OWN).status_code == 403


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"])
def test_other_methods_are_refused(small, method):
    assert small.client.request(method, "/", headers=OWN).status_code == 405


@pytest.mark.parametrize(
    "path",
    [
        "/assets/../pages.py",
        "/assets/%2e%2e/pages.py",
        "/assets/..%2fpages.py",
        "/assets/fonts/../../pages.py",
        "/assets/%2fetc%2fpasswd",
        "/assets/..%5cpages.py",
        "/assets//sheet.css",
        "/assets/",
        "/assets/sheet.css%00.js",
        "/record/..%2f..%2fasflown.db",
        "/aircraft/..%2f..%2fetc",
        "/aircraft/%00",
        "/flight/%2e%2e",
        "/nowhere",
        "/aircraft/plover/card/..%2f..%2fx",
    ],
)
def test_odd_paths_lead_nowhere(planned, path):
    answer = planned.raw(path)
    assert answer.status_code in (404, 409), answer.text[:300]
    assert "Traceback" not in answer.text
    assert "root:" not in answer.text


def test_too_much_is_stopped_while_it_arrives(tmp_path):
    app = application(
        lambda said: workplace(tmp_path / "store", said or "ines"), frozenset({HOST}), most_bytes=5000
    )
    client = TestClient(app, base_url=AT)
    page = seen(client.get("/new-aircraft"), 200)
    data = filled(page.form("file"))
    sent = client.post("/new-aircraft", data=data, files={"file": ("a.toml", b"x" * 6000)}, headers=OWN)
    assert sent.status_code == 413

    def pieces():
        for _ in range(100):
            yield b"y" * 1000

    # told no length at all: counted as it comes
    kind = {"content-type": "application/x-www-form-urlencoded", **OWN}
    assert client.post("/new-aircraft", content=pieces(), headers=kind).status_code == 413
    assert (
        client.post("/new-aircraft", content=b"", headers={**OWN, "content-length": "-1"}).status_code == 413
    )


def test_a_form_with_too_many_fields_is_refused(small):
    token = form_of(small, "/new-aircraft", "new")["token"]
    body = f"token={token}&act=new&id=wren" + "".join(f"&f{n}=1" for n in range(6000))
    kind = {"content-type": "application/x-www-form-urlencoded", **OWN}
    assert small.client.post("/new-aircraft", content=body, headers=kind).status_code == 400


@pytest.mark.parametrize(
    "body", [b"\xff\xfe", b"--x", b"token", b"%zz=%", b"--x\r\nContent-Disposition: form-data\r\n\r\n"]
)
@pytest.mark.parametrize(
    "kind",
    [
        "multipart/form-data; boundary=x",
        "multipart/form-data",
        "text/plain",
        "application/x-www-form-urlencoded; charset=utf-16",
    ],
)
def test_what_is_no_form_is_refused_without_a_fault(small, body, kind):
    small.get("/")
    answer = small.client.post("/new-aircraft", content=body, headers={"content-type": kind, **OWN})
    assert answer.status_code in (400, 403)
    assert "Traceback" not in answer.text


def zipped(**files: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        for name, data in files.items():
            made.writestr(name.replace("__", "/"), data)
    return out.getvalue()


@pytest.mark.parametrize(
    "data",
    [
        zipped(**{"..__..__outside.txt": b"x"}),
        zipped(__etc__passwd=b"x"),
        zipped(
            **{
                "bag__manifest-sha256.txt": b"0" * 64 + b"  data/../../x\n",
                "bag__bagit.txt": b"BagIt-Version: 1.0\n",
            }
        ),
        zipped(big=b"\0" * 300_000_000),
        b"PK\x03\x04 cut off",
        b"",
    ],
    ids=["up", "root", "named up", "bomb", "cut", "nothing"],
)
def test_tricks_in_hand_overs_are_refused(small, data):
    page = small.get("/hand-over")
    answer = small.sent(page, "take", files={"bag": ("x.zip", data)})
    assert answer.status_code in (400, 409), answer.status_code
    assert "Traceback" not in answer.text
    assert not (small.store.parent / "outside.txt").exists()
    assert len(small.json("/aircraft.json")["aircraft"]) == 1


def no_script(page) -> None:
    assert SCRIPT not in page.text
    for one in page.soup.find_all(True):
        assert not any(name.startswith("on") for name in one.attrs), one
    assert [
        one
        for one in page.soup.select("script")
        if not one.get("src") and one.get("type") != "application/json"
    ] == []


@pytest.mark.parametrize(
    "text",
    [
        SCRIPT,
        ATTRIBUTE,
        "'><img src=x onerror=alert(1)>",
        "{{ 7*7 }}",
        "</textarea><script>alert(1)</script>",
    ],
)
def test_a_script_in_every_text_of_a_refit_stays_text(small, text):
    listing = f"lost.wait = 1.5\nlost.do = 2\nidle.speed = 0.05\ntilt.max = 50\nlamp.hue = 120\n# {text}\n"
    visitor = small
    who = visitor.send(visitor.get("/who"), "who", who=text[:80])
    no_script(who)
    about = visitor.send(visitor.get("/aircraft/plover/about"), "change", facts=f"title={text}\nboard={text}")
    no_script(about)
    shown = visitor.send(
        visitor.get("/aircraft/plover/take"), "look", files={"listing": (f"{text}.txt", listing.encode())}
    )
    no_script(shown)
    if shown.form("keep").select_one("[name=set_aside]"):
        kept = visitor.send(shown, "keep", set_aside="all")
        no_script(kept)
    page = visitor.send(visitor.get("/aircraft/plover/plan"), "plan", to="marl-2.0")
    act = next(act for act in page.acts if act.startswith("decide:"))
    way = str(page.form(act).select_one("input[type=radio]")["value"])
    no_script(visitor.send(page, act, option=way, why=text))
    no_script(
        visitor.send(
            visitor.get("/aircraft/plover/gates"), "answer", gate="second reading", answer="passed", why=text
        )
    )
    for path in (
        "/",
        "/aircraft/plover",
        "/aircraft/plover/plan?show=all",
        "/aircraft/plover/records",
        "/aircraft/plover/cards",
        "/aircraft/plover/sign",
        "/verify",
    ):
        again = visitor.get(path)
        no_script(again)
        assert "49" not in again.title
    assert any(text[:80] in entry.who for entry in kept_store(visitor.store).book("plover"))


@pytest.mark.parametrize(
    "path",
    [
        f"/aircraft/{SCRIPT}",
        f"/record/{ATTRIBUTE}",
        f"/?done={SCRIPT}",
        f"/aircraft/plover?done={ATTRIBUTE}",
        f"/compare?first={SCRIPT}&second=x",
        f"/aircraft/plover/plan?show={SCRIPT}",
    ],
)
def test_a_script_in_an_address_stays_text(planned, path):
    answer = planned.raw(path)
    page = seen(answer, answer.status_code)
    no_script(page)


def test_answers_forbid_everything_from_elsewhere(planned):
    for path in ("/", "/aircraft/plover", "/aircraft/plover.json", "/nowhere", "/assets/sheet.css"):
        headers = planned.raw(path).headers
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert headers["x-content-type-options"] == "nosniff"
        assert "frame-ancestors 'none'" in policy


def test_no_page_names_anything_outside(planned):
    """No address of another host in any page, style or script of ours."""
    for path in ("/", "/aircraft/plover", "/aircraft/plover/plan", "/sources"):
        page = planned.get(path)
        for one in page.soup.select("[src], link[href], form[action]"):
            address = str(one.get("src") or one.get("href") or one.get("action"))
            assert address.startswith(("/", "data:")), address


def test_a_csv_cell_is_no_formula(planned):
    for path in ("/aircraft/plover/plan.csv?show=all", "/aircraft/plover.csv", "/aircraft.csv"):
        text = planned.raw(path).text
        assert not any(cell[:1] in "=@" for line in text.splitlines() for cell in line.split(","))
