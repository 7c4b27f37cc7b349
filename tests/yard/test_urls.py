"""The door of the site, and what it tells every browser."""

from __future__ import annotations

import pytest
from django.test import Client


def test_the_web_process_says_that_it_answers_without_asking_the_database(client: Client) -> None:
    """No database is allowed in this test: asking it would fail."""
    response = client.get("/healthz")
    assert (response.status_code, response.content) == (200, b"ok\n")


def test_the_health_page_is_only_read(client: Client) -> None:
    assert client.post("/healthz").status_code == 405


def test_pages_may_load_from_the_site_alone_and_nothing_inline(client: Client) -> None:
    policy = client.get("/healthz").headers["Content-Security-Policy"]
    directives = dict(directive.split(" ", 1) for directive in policy.split("; "))
    assert directives == {
        "default-src": "'self'",
        "script-src": "'self'",
        "style-src": "'self'",
        "object-src": "'none'",
        "base-uri": "'none'",
        "form-action": "'self'",
        "frame-ancestors": "'none'",
    }


@pytest.mark.parametrize(
    ("header", "value"),
    [
        ("X-Content-Type-Options", "nosniff"),
        ("X-Frame-Options", "DENY"),
        ("Referrer-Policy", "same-origin"),
        ("Cross-Origin-Opener-Policy", "same-origin"),
    ],
)
def test_every_answer_carries_its_guards(client: Client, header: str, value: str) -> None:
    assert client.get("/healthz").headers[header] == value


def test_a_site_name_that_is_not_ours_is_refused(client: Client) -> None:
    assert client.get("/healthz", headers={"host": "elsewhere.example"}).status_code == 400
