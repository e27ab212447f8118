"""Does the service say how it is, and answer this machine only?"""

from __future__ import annotations

import os
import re
import signal
from html.parser import HTMLParser

import pytest

from plafond.errors import ReleaseError, SettingsError
from plafond.settings import Settings
from plafond.views.rest.home import PLACES
from plafond.web import require_loopback


class Page(HTMLParser):
    """What a page is made of."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def named(self, tag: str) -> list[dict[str, str | None]]:
        return [attributes for name, attributes in self.tags if name == tag]


@pytest.mark.parametrize("host", ["127.0.0.1", "127.8.8.8", "::1", "localhost", "LOCALHOST"])
def test_this_machine_may_be_listened_on(host):
    assert require_loopback(host) == host


@pytest.mark.parametrize(
    "host",
    ["0.0.0.0", "::", "", "192.168.1.7", "10.0.0.1", "8.8.8.8", "plafond.example", "localhost.x",
     "127.0.0.1.example", "127.0.0.1:80", "0x7f.1", "::ffff:8.8.8.8", "fe80::1"],
)  # fmt: skip
def test_no_other_address_may_be_and_the_reason_is_said(host):
    with pytest.raises(SettingsError, match="callers cannot be authenticated yet"):
        require_loopback(host)


@pytest.mark.parametrize(
    ("host", "status"),
    [
        ("localhost", 200),
        ("localhost:8321", 200),
        ("127.0.0.1:8321", 200),
        ("[::1]:8321", 200),
        ("testserver", 200),
        ("rebound.example", 421),
        ("rebound.example:8321", 421),
        ("localhost.rebound.example", 421),
        ("127.0.0.1.rebound.example", 421),
        ("192.168.1.7:8321", 421),
        ("0.0.0.0:8321", 421),
        ("", 421),
    ],
)
def test_a_request_that_names_another_host_is_refused(service, host, status):
    for path in ("/healthz", "/", "/v1/rules", "/v1/nothing"):
        answered = service.get(path, headers={"host": host}).status_code
        assert (answered == 421) == (status == 421), path


def test_a_request_that_came_in_by_another_address_is_refused(service):
    """As where somebody started the application on every address without asking us."""
    import asyncio

    async def ask(server: tuple[str, int]) -> int:
        scope = {
            "type": "http", "http_version": "1.1", "method": "GET", "path": "/healthz",
            "raw_path": b"/healthz", "query_string": b"", "scheme": "http", "root_path": "",
            "headers": [(b"host", b"localhost")], "client": ("192.168.1.9", 1), "server": server,
        }  # fmt: skip
        sent = []

        async def receive():
            return {"type": "http.request", "body": b"", "more_body": False}

        async def send(message):
            sent.append(message)

        await service.app(scope, receive, send)
        return sent[0]["status"]

    assert asyncio.run(ask(("192.168.1.7", 8321))) == 421
    assert asyncio.run(ask(("127.0.0.1", 8321))) == 200


def test_a_service_that_can_answer_says_so(service, rulebook):
    response = service.get("/readyz")
    assert response.status_code == 200
    assert response.json() == {
        "ready": True, "release": rulebook.version, "engine": "", "archive": "", "alarms": 0,
    }  # fmt: skip


def test_an_engine_that_died_while_nobody_asked_is_started_by_asking_whether_all_is_well(
    several, start
):
    with start(several) as client:
        engine = client.app.state.desk.live._engine
        before = engine.pid
        os.kill(before, signal.SIGKILL)
        assert client.get("/readyz").status_code == 200
        assert engine.pid not in (None, before)
        assert client.get("/readyz").json()["alarms"] == 0


def test_the_engine_ends_with_the_service(several, start):
    with start(several) as client:
        client.get("/readyz")
        pid = client.app.state.desk.live._engine.pid
        assert pid is not None
    with pytest.raises(ProcessLookupError):
        os.kill(pid, 0)


def test_a_service_without_a_release_does_not_start(tmp_path, start):
    settings = Settings(knowledge=tmp_path, release="", archive="memory:")
    with pytest.raises(ReleaseError, match="there is no release yet"), start(settings):
        pass


def test_a_service_told_to_serve_a_release_that_is_not_there_does_not_start(several, start):
    settings = several.model_copy(update={"release": "2098.1.0"})
    with pytest.raises(ReleaseError, match=r"2098\.1\.0"), start(settings):
        pass


# -- the page at the root -------------------------------------------------------------


def test_the_page_says_what_this_is_which_release_and_what_to_beware_of(service, rulebook):
    text = service.get("/").text
    assert "keyhole surgery of the foot and ankle" in text
    assert rulebook.version in text
    assert rulebook.digest in text
    assert "It does not decide" in text
    assert rulebook.notice.split(".")[0] in text
    assert "not signed" in text


def test_every_link_of_the_page_leads_somewhere(service):
    links = [link["href"] for link in Page(service.get("/").text).named("a")]
    assert len(links) == len(PLACES)
    for link in links:
        assert service.get(link).status_code == 200, link


def test_the_page_can_be_read_by_everybody(service):
    page = Page(service.get("/").text)
    assert page.named("html") == [{"lang": "en"}]
    assert {"name": "viewport", "content": "width=device-width, initial-scale=1"} in page.named(
        "meta"
    )
    assert [len(page.named(tag)) for tag in ("title", "main", "h1")] == [1, 1, 1]
    assert "color-scheme: light dark" in service.get("/").text
    for area in page.named("aside") + page.named("pre"):
        assert area["aria-label"]


def test_the_page_runs_no_script_and_loads_nothing(service):
    response = service.get("/")
    page = Page(response.text)
    for tag in ("script", "link", "img", "iframe", "form", "object"):
        assert page.named(tag) == []
    assert not any(key.startswith("on") for _, attributes in page.tags for key in attributes)
    assert not re.search(r"url\(|@import", response.text)
    policy = response.headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "script-src" not in policy
    assert response.headers["x-content-type-options"] == "nosniff"


@pytest.mark.parametrize("mode", ["light", "dark"])
def test_text_and_links_stand_out_from_the_page_in_light_and_dark(service, mode):
    """WCAG 2.2 AA asks for a contrast of 4.5 to 1 for text, 3 to 1 for borders."""
    schemes = re.findall(r":root \{([^}]*)\}", service.get("/").text)
    colours = dict(re.findall(r"--(\w+): (#\w+)", schemes[("light", "dark").index(mode)]))
    for name, least in (("ink", 4.5), ("link", 4.5), ("line", 3)):
        assert contrast(colours[name], colours["paper"]) >= least, name


def contrast(one: str, other: str) -> float:
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def luminance(colour: str) -> float:
    digits = colour[1:] if len(colour) == 7 else "".join(2 * digit for digit in colour[1:])
    parts = [int(digits[at : at + 2], 16) / 255 for at in (0, 2, 4)]
    linear = [
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    ]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
