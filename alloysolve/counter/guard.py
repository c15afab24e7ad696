"""Who is answered: only the page of this very run of the program, in a browser on this machine."""

from __future__ import annotations

from urllib.parse import urlsplit

from flask import Flask, Response, abort, request

HOSTS = ("127.0.0.1", "localhost")
MOST_BYTES = 64_000  # of one request; a name of 10 kB in which every byte is escaped takes half of it
POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src data:; connect-src 'self'; frame-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
SHEET_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; frame-ancestors 'self'"
HEADERS = {
    "Cache-Control": "no-store",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Referrer-Policy": "same-origin",  # with "no-referrer" a browser would hide the origin from us too
    "X-Content-Type-Options": "nosniff",
}


def guard(app: Flask, port: int) -> None:
    """Makes an app refuse requests under another host name, from another origin, or of another form than ours."""
    hosts = {f"{name}:{port}" for name in HOSTS}
    app.config["MAX_CONTENT_LENGTH"] = app.config["MAX_FORM_MEMORY_SIZE"] = MOST_BYTES

    @app.before_request
    def check() -> None:
        if request.host not in hosts:  # a name that leads here although it is not ours (DNS rebinding)
            abort(403, "host")
        if request.method == "POST":
            # a browser always names the origin of a POST; without it, the page that sent it will do
            sender = urlsplit(request.headers.get("Origin") or request.headers.get("Referer") or "")
            ours = sender.scheme == "http" and sender.netloc == request.host
            if not ours or request.mimetype != "application/x-www-form-urlencoded":
                abort(403, "origin")

    @app.after_request
    def harden(reply: Response) -> Response:
        reply.headers.setdefault("Content-Security-Policy", POLICY)
        for name, value in HEADERS.items():
            reply.headers[name] = value
        return reply
