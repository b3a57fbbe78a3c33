"""Static files are addressed with a hash of their content, and so may be kept for a year."""

import hashlib
from pathlib import Path
from typing import Any

from flask import Flask, Response, request

HASH_LENGTH = 12


def init_app(app: Flask) -> None:
    """Add the content hash to each static address, and long keeping to an answer that matches its hash."""
    folder = Path(str(app.static_folder))
    hashes = {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()[:HASH_LENGTH]
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }

    @app.url_defaults
    def add_hash(endpoint: str, values: dict[str, Any]) -> None:
        if endpoint == "static" and values.get("filename") in hashes:
            values["v"] = hashes[values["filename"]]

    @app.after_request
    def keep_long(response: Response) -> Response:
        name = (request.view_args or {}).get("filename")
        if request.endpoint == "static" and name in hashes and request.args.get("v") == hashes[name]:
            response.cache_control.no_cache = None
            response.cache_control.public = True
            response.cache_control.max_age = 365 * 24 * 3600
            response.cache_control.immutable = True
        return response
