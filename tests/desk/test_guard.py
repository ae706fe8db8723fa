"""Nobody talks to a desk without its token, under another name, or from another page."""

import pytest

from .conftest import PORT, TOKEN, Browser

EVIL = {"Origin": "http://evil.example"}


@pytest.mark.parametrize(
    "path",
    [
        *("/", "", "/page/main.js", "/ask/open", "/report/case", f"/{TOKEN[:-1]}/", f"/{TOKEN}x/", "/%00/"),
        *(f"/{TOKEN.upper()}/", f"//{TOKEN}/", f"/x/{TOKEN}/", f"/?token={TOKEN}", "/é/"),
    ],
)
@pytest.mark.parametrize("method", ["GET", "POST", "PUT", "DELETE", "OPTIONS", "HEAD"])
def test_without_the_token_nothing_is_answered(browser: Browser, path: str, method: str) -> None:
    assert browser.request(method, path).status_code == 403


@pytest.mark.parametrize(
    "headers",
    [
        EVIL,
        {"Origin": "null"},
        {"Origin": f"http://localhost:{PORT}"},
        {"Origin": f"https://127.0.0.1:{PORT}"},
        {"Origin": f"http://127.0.0.1:{PORT + 1}"},
        {"Host": f"evil.example:{PORT}"},
        {"Host": "127.0.0.1"},
        {"Host": f"127.0.0.1.evil.example:{PORT}"},
        {"Host": f"evil.example:{PORT}", "Origin": f"http://evil.example:{PORT}"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
        {"Content-Length": "99999999999"},
    ],
)
@pytest.mark.parametrize("path", ["", "page/main.js", "ask/open", "report/case"])
def test_another_page_or_name_is_refused_with_the_token(
    browser: Browser, headers: dict[str, str], path: str
) -> None:
    method = "POST" if path.startswith("ask") else "GET"
    assert browser.request(method, f"/{TOKEN}/{path}", headers=headers).status_code == 403


def test_two_origins_are_one_too_many(browser: Browser) -> None:
    own = f"http://127.0.0.1:{PORT}"
    headers = [("Origin", own), ("Origin", own)]
    assert browser.get(f"/{TOKEN}/", headers=headers).status_code == 403


def test_its_own_page_is_answered_and_told_to_load_nothing_else(browser: Browser) -> None:
    reply = browser.get(f"/{TOKEN}/", headers={"Origin": f"http://127.0.0.1:{PORT}"})
    assert reply.status_code == 200
    assert "default-src 'self'" in reply.headers["content-security-policy"]
    assert reply.headers["referrer-policy"] == "no-referrer"
    assert "access-control-allow-origin" not in reply.headers
    assert browser.get(f"http://localhost:{PORT}/{TOKEN}/page/main.js").status_code == 200


def test_only_json_objects_of_a_page_are_read(browser: Browser) -> None:
    address = f"/{TOKEN}/ask/open"
    assert browser.post(address, content="case=case.toml").status_code == 400
    plain = {"Content-Type": "text/plain"}  # what a form of another page could send without being asked
    assert browser.post(address, content='{"case": "case.toml"}', headers=plain).status_code == 400
    as_json = {"Content-Type": "application/json"}
    for content in ("[]", "{", "[" * 100_000, "1", '"' + "x" * 3_000_000 + '"'):
        assert browser.post(address, content=content, headers=as_json).status_code in (400, 403)
    assert browser.get(address).status_code == 405
    assert browser.post(f"/{TOKEN}/ask/shell", json={}).status_code == 404
